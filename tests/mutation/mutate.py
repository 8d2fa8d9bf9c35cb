"""Faults made at random in the rooms, to see whether the tests notice them. Not run by the suite.

    python tests/mutation/mutate.py --seed 1 --count 60 [--data .coverage --times junit.xml]

A fault is a comparison, a sum, a constant or a condition turned over, a statement left out, or two like arguments
exchanged. For each the tests of its module run (`OWN_TESTS`; without them it is passed over), or, with contexts
of a coverage file, those that touch its line, the quickest first:

    python -m pytest --cov=impose --cov-context=test --cov-report= --junitxml=junit.xml tests

Survivors are printed with their line, to be judged by hand: a fault without effect is no fault.
"""

from __future__ import annotations

import argparse
import ast
import random
import re
import sqlite3
import tempfile
from collections import Counter
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path
from queue import Queue
from xml.etree import ElementTree

from copies import HOUSE, Answer, HouseCopy

ROOMS = {
    "sheet": "impose/sheet/*.py",
    "tickets": "impose/pages/tickets/*.py",
    "proof": "impose/pages/proof/*.py",
    "run": "impose/run/*.py",
    "ledger": "impose/ledger/*.py",
    "desk": "impose/desk/*.py",
    "nest": "impose/nest/*.py",
    "orders": "impose/orders/*.py",
    "profiles": "impose/profiles/*.py",
    "art": "impose/art/**/*.py",
}

OWN_TESTS = {
    "impose/sheet/costs.py": "tests/sheet/test_bill.py tests/sheet/test_cost_shares.py",
    "impose/sheet/money.py": "tests/sheet/test_bill.py tests/sheet/test_money_shown.py",
    "impose/sheet/marks.py": "tests/sheet/test_join_ticks.py tests/pages/test_sheets.py tests/sheet/test_panels.py",
    "impose/sheet/panels.py": "tests/sheet/test_panels.py tests/sheet/test_join_ticks.py",
    "impose/sheet/press_steps.py": "tests/pages/test_folds_and_sides.py tests/sheet/test_laid.py "
    "tests/sheet/test_pressing.py tests/pages/test_tickets.py",
    "impose/sheet/press_heats.py": "tests/sheet/test_heats.py tests/sheet/test_pressing.py",
    "impose/pages/tickets/sentences.py": "tests/pages/test_folds_and_sides.py tests/pages/test_tickets.py",
    "impose/pages/tickets/views.py": "tests/pages/test_folds_and_sides.py tests/pages/test_tickets.py",
    "impose/pages/csv_list.py": "tests/pages/test_for_spreadsheets.py",
    "impose/pages/proof/filenames.py": "tests/pages/proof/test_approval.py",
    "impose/run/quote.py": "tests/run/test_best_offer.py tests/run/test_no_cost.py tests/test_cli.py",
    "impose/run/straight_cut_cost.py": "tests/run/test_straight_price.py",
    "impose/ledger/stock.py": "tests/ledger/test_returned.py tests/run/test_shelf.py tests/run/test_stock.py",
    "impose/ledger/store.py": "tests/ledger/test_store.py",
    "impose/desk/recover.py": "tests/desk/test_kept_while_needed.py tests/desk/test_awake.py",
    "impose/desk/lock.py": "tests/desk/test_kept_while_needed.py tests/desk/test_troubles.py",
    "impose/nest/prove.py": "tests/nest/test_proof_sees.py tests/nest/test_nest.py tests/nest/test_large.py",
    "impose/nest/model.py": "tests/nest/test_proof_sees.py tests/nest/test_nest.py tests/nest/test_roll.py",
    "impose/nest/bounds.py": "tests/nest/test_bounds.py tests/nest/test_nest.py",
    "impose/orders/code_pages.py": "tests/shop/test_codepages.py",
    "impose/orders/csv_text.py": "tests/shop/test_read.py tests/shop/test_limits.py tests/shop/test_codepages.py",
    "impose/orders/cells.py": "tests/shop/test_read.py tests/shop/test_codepages.py",
    "impose/orders/garment_groups.py": "tests/shop/test_assign.py tests/sheet/test_bill.py",
    "impose/profiles/settings.py": "tests/shop/test_profiles.py",
    "impose/profiles/paper.py": "tests/shop/test_papers.py tests/shop/test_profiles.py",
    "impose/art/ink.py": "tests/art/test_ink.py",
    "impose/art/specks.py": "tests/art/test_ink.py tests/art/test_findings.py",
}
"""The tests of a module, the quickest first."""

_COMPARE: dict[type[ast.cmpop], type[ast.cmpop]] = {
    ast.Lt: ast.LtE, ast.LtE: ast.Lt, ast.Gt: ast.GtE, ast.GtE: ast.Gt, ast.Eq: ast.NotEq, ast.NotEq: ast.Eq,
    ast.In: ast.NotIn, ast.NotIn: ast.In, ast.Is: ast.IsNot, ast.IsNot: ast.Is,
}  # fmt: skip
_SUM: dict[type[ast.operator], type[ast.operator]] = {
    ast.Add: ast.Sub, ast.Sub: ast.Add, ast.Mult: ast.Div, ast.Div: ast.Mult, ast.FloorDiv: ast.Mult,
    ast.Mod: ast.Mult,
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Fault:
    """One change: where, of which kind, from which text to which, and the module's whole text with it."""

    room: str
    module: str
    line: int
    kind: str
    before: str
    after: str
    text: str


def list_faults(room: str, module: Path) -> list[Fault]:
    """Every fault that can be made in a module, in the order of its lines."""
    text = module.read_text("utf-8")
    found = []
    for node, kind, after in _walk(ast.parse(text)):
        start, end = _offset(text, node.lineno, node.col_offset), _offset(text, node.end_lineno, node.end_col_offset)
        before = text[start:end]
        changed = text[:start] + after + text[end:]
        try:
            ast.parse(changed)
        except SyntaxError:
            continue
        found.append(Fault(room, _name_module(module), node.lineno, kind, before, after, changed))
    return found


def _name_module(path: Path) -> str:
    return path.relative_to(HOUSE).as_posix()


def _offset(text: str, line: int | None, column: int | None) -> int:
    """The place in a text of a node's line and its column, which is counted in bytes."""
    assert line is not None
    assert column is not None
    lines = text.split("\n")
    return sum(len(one) + 1 for one in lines[: line - 1]) + len(lines[line - 1].encode()[:column].decode())


def _walk(tree: ast.AST) -> Iterator[tuple[ast.expr | ast.stmt, str, str]]:  # noqa: C901 - one line a kind
    """Each node that can be made wrong, the kind of the fault and the text that takes its place."""
    for node in _within_functions(tree):
        if isinstance(node, ast.Compare) and type(node.ops[0]) in _COMPARE:
            ops = [_COMPARE[type(node.ops[0])](), *node.ops[1:]]
            yield node, "comparison", f"({ast.unparse(ast.Compare(node.left, ops, node.comparators))})"
        elif isinstance(node, ast.BinOp) and type(node.op) in _SUM and not _has_text(node):
            yield node, "sum", f"({ast.unparse(ast.BinOp(node.left, _SUM[type(node.op)](), node.right))})"
        elif isinstance(node, ast.BoolOp):
            other: ast.boolop = ast.And() if isinstance(node.op, ast.Or) else ast.Or()
            yield node, "and/or", f"({ast.unparse(ast.BoolOp(other, node.values))})"
        elif isinstance(node, ast.UnaryOp) and isinstance(node.op, ast.Not):
            yield node, "not", f"({ast.unparse(node.operand)})"
        elif isinstance(node, ast.Constant) and isinstance(node.value, bool):
            yield node, "constant", str(not node.value)
        elif isinstance(node, ast.Constant) and isinstance(node.value, int | float):
            yield node, "constant", repr(node.value + 1)
        elif isinstance(node, ast.If | ast.IfExp):
            yield node.test, "condition", f"(not ({ast.unparse(node.test)}))"
        elif (isinstance(node, ast.Expr) and isinstance(node.value, ast.Call)) or isinstance(node, ast.AugAssign):
            yield node, "left out", "pass"
        elif isinstance(node, ast.Call) and _like_arguments(node):
            first, second, *rest = node.args
            call = ast.Call(node.func, [second, first, *rest], node.keywords)
            yield node, "exchanged", ast.unparse(call)


def _within_functions(tree: ast.AST) -> Iterator[ast.AST]:
    """The nodes of all bodies of functions, without docstrings, annotations, assertions and what is in an f-string."""
    for function in ast.walk(tree):
        if isinstance(function, ast.FunctionDef):
            for statement in function.body:
                yield from _descend(statement)


def _descend(node: ast.AST) -> Iterator[ast.AST]:
    if isinstance(node, ast.FunctionDef | ast.ClassDef | ast.Assert | ast.JoinedStr | ast.Import | ast.ImportFrom):
        return
    if isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant):
        return
    yield node
    for name, value in ast.iter_fields(node):
        if name in ("annotation", "returns"):
            continue
        for child in value if isinstance(value, list) else [value]:
            if isinstance(child, ast.AST):
                yield from _descend(child)


def _has_text(node: ast.AST) -> bool:
    return any(
        isinstance(one, ast.JoinedStr) or (isinstance(one, ast.Constant) and isinstance(one.value, str | bytes))
        for one in ast.walk(node)
    )


def _like_arguments(node: ast.Call) -> bool:
    """Two names, attributes or numbers stand first: likely of one type."""
    simple = (ast.Name, ast.Attribute)
    return (
        len(node.args) >= 2
        and all(isinstance(one, simple) for one in node.args[:2])
        and not isinstance(node.func, ast.Name)
        | (isinstance(node.func, ast.Name) and node.func.id in ("isinstance", "getattr", "min", "max", "zip"))
    )


class TestChoice:
    """Which tests touch a line, by the contexts of a coverage file, and how long each takes."""

    __test__ = False

    def __init__(self, data: Path, times: Path | None) -> None:
        self._db = sqlite3.connect(f"file:{data}?mode=ro", uri=True, check_same_thread=False)
        self._files = {
            Path(path).as_posix().partition("/impose/")[2]: number
            for number, path in self._db.execute("SELECT id, path FROM file")
        }
        self._times = _read_times(times) if times else {}

    def tests_of(self, module: str, line: int, most: int) -> list[str]:
        """The quickest tests that touch a line, `most` at the most; for a line never touched none."""
        number = self._files.get(module.removeprefix("impose/"))
        found = set()
        for context, bits in self._db.execute(
            "SELECT context.context, numbits FROM line_bits JOIN context ON context.id = context_id WHERE file_id = ?",
            (number,),
        ):
            if context and line // 8 < len(bits) and bits[line // 8] >> line % 8 & 1:
                found.add(re.sub(r"\|(setup|call|run|teardown)$", "", context))
        return sorted(found, key=lambda one: (self._times.get(one, 1.0), one))[:most]


def _read_times(path: Path) -> dict[str, float]:
    """Seconds by test id, as JUnit's XML has them."""
    found = {}
    for case in ElementTree.parse(path).iter("testcase"):
        *folders, _ = case.attrib["classname"].split("."), ""
        file = "/".join(folders[0]) + ".py"
        found[f"{file}::{case.attrib['name']}"] = float(case.attrib["time"])
    return found


def choose_faults(seed: int, count: int, rooms: list[str], choice: TestChoice | None) -> list[Fault]:
    """As many faults from each room, drawn by the seed; without coverage only from modules whose tests are named."""
    drawn = []
    for room in rooms:
        paths = [path for path in sorted(HOUSE.glob(ROOMS[room])) if choice or _name_module(path) in OWN_TESTS]
        faults = [one for path in paths for one in list_faults(room, path)]
        drawn += random.Random(f"{seed} {room}").sample(faults, min(len(faults), -(-count // len(rooms))))
    return drawn


def main() -> None:
    """Draw, try and tell."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--data", type=Path)
    parser.add_argument("--times", type=Path)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--count", type=int, default=60)
    parser.add_argument("--rooms", default=",".join(ROOMS))
    parser.add_argument("--workers", type=int, default=2)
    parser.add_argument("--tests", type=int, default=60, help="the quickest tests of a line, at most")
    parser.add_argument("--seconds", type=float, default=120.0, help="the limit of one fault")
    given = parser.parse_args()
    choice = TestChoice(given.data, given.times) if given.data else None
    faults = choose_faults(given.seed, given.count, given.rooms.split(","), choice)
    told: dict[str, Counter[str]] = {}
    with tempfile.TemporaryDirectory(prefix="mutants-") as folder, ThreadPoolExecutor(given.workers) as pool:
        free: Queue[HouseCopy] = Queue()
        for number in range(given.workers):
            free.put(HouseCopy(Path(folder) / str(number)))

        def attempt(fault: Fault) -> tuple[Fault, Answer]:
            copy = free.get()
            try:
                own = OWN_TESTS.get(fault.module, "").split()
                tests = choice.tests_of(fault.module, fault.line, given.tests) if choice else own
                return fault, copy.try_fault(fault.module, fault.text, tests, given.seconds)
            finally:
                free.put(copy)

        for fault, answer in pool.map(attempt, faults):
            told.setdefault(fault.room, Counter())[answer.state] += 1
            where = f"{fault.module}:{fault.line}"
            print(f"{answer.state:9} {where} {fault.kind}: {_short(fault.before)} -> {_short(fault.after)} {answer.by}",
                  flush=True)  # fmt: skip
    for room, counts in told.items():
        print(f"{room:10} {dict(counts)}")


def _short(text: str) -> str:
    return " ".join(text.split())[:90]


if __name__ == "__main__":
    main()
