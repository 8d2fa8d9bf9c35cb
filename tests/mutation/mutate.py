"""Faults made at random in the rooms, to see whether the tests notice them. Not run by the suite.

    python tests/mutation/mutate.py --seed 1 --count 60 [--rooms sheet,nest] [--measured FOLDER]

A fault is a comparison, a sum, a constant or a condition turned over, a statement left out, or two like arguments
exchanged. First the tests of each room run once, with coverage, so that it is known which of them touch a line and how
long each takes; with `--measured` that is kept in a folder and read from there the next time. Then each fault is tried
by the tests that touch its line, the quickest first. Five times the processor time of a right run, and twenty seconds,
is the limit: who takes longer does not end, and was noticed.

Survivors are printed with their line, to be judged by hand: a fault without effect is no fault.
"""

from __future__ import annotations

import argparse
import ast
import json
import random
import sqlite3
import tempfile
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import islice
from pathlib import Path

from copies import HOUSE, HouseCopy

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

_WHOLE = "tests/test_run.py tests/test_truth_on_paper.py tests/test_options_heard.py"
ROOM_TESTS = {
    "sheet": "tests/sheet tests/pages/test_sheets.py tests/pages/test_tickets.py tests/pages/test_folds_and_sides.py "
    f"tests/pages/test_cutting.py tests/shop/test_figures.py tests/run/test_reprint.py {_WHOLE}",
    "tickets": "tests/pages/test_tickets.py tests/pages/test_folds_and_sides.py tests/pages/test_drawings.py "
    "tests/pages/test_cutting.py tests/sheet/test_alike.py tests/sheet/test_pressing.py",
    "proof": "tests/pages/proof",
    "run": f"tests/run {_WHOLE} tests/test_cli.py tests/test_library.py --deselect tests/run/test_cluster.py",
    "ledger": "tests/ledger tests/run/test_stock.py tests/run/test_shelf.py tests/run/test_shortage.py "
    "tests/desk/test_kept_while_needed.py tests/desk/test_again.py tests/desk/test_taken.py",
    "desk": "tests/desk tests/ledger",
    "nest": "tests/nest",
    "orders": "tests/shop tests/test_hostile.py",
    "profiles": "tests/shop",
    "art": "tests/art",
}
"""What the tests of a room are: those of its own folder, and those that look at what it makes."""

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


def make_fault(room: str, module: Path, node: ast.expr | ast.stmt, kind: str, after: str) -> Fault | None:
    """The fault that puts `after` in the place of a node, None where that is no program."""
    text = module.read_text("utf-8")
    start, end = _offset(text, node.lineno, node.col_offset), _offset(text, node.end_lineno, node.end_col_offset)
    changed = text[:start] + after + text[end:]
    try:
        ast.parse(changed)
    except SyntaxError:
        return None
    return Fault(room, _name_module(module), node.lineno, kind, text[start:end], after, changed)


def _name_module(path: Path) -> str:
    return path.relative_to(HOUSE).as_posix()


def _offset(text: str, line: int | None, column: int | None) -> int:
    """The place in a text of a node's line and its column, which is counted in bytes."""
    assert line is not None
    assert column is not None
    lines = text.split("\n")
    return sum(len(before) + 1 for before in lines[: line - 1]) + len(lines[line - 1].encode()[:column].decode())


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
        isinstance(part, ast.JoinedStr) or (isinstance(part, ast.Constant) and isinstance(part.value, str | bytes))
        for part in ast.walk(node)
    )


def _like_arguments(node: ast.Call) -> bool:
    """Two names, attributes or numbers stand first: likely of one type."""
    simple = (ast.Name, ast.Attribute)
    return (
        len(node.args) >= 2
        and all(isinstance(argument, simple) for argument in node.args[:2])
        and not isinstance(node.func, ast.Name)
        | (isinstance(node.func, ast.Name) and node.func.id in ("isinstance", "getattr", "min", "max", "zip"))
    )


class TestChoice:
    """Which tests touch a line, by the contexts of a coverage file, and the seconds of processor time each takes."""

    __test__ = False

    def __init__(self, data: Path, times: Path) -> None:
        self._db = sqlite3.connect(f"file:{data}?mode=ro", uri=True, check_same_thread=False)
        self._files = {
            Path(path).as_posix().rpartition("/impose/")[2]: number
            for number, path in self._db.execute("SELECT id, path FROM file")
        }
        self.times: dict[str, float] = json.loads(times.read_text("utf-8"))

    def list_tests(self, module: str, line: int, most: int) -> list[str]:
        """The quickest tests that touch a line, `most` at the most; for a line never touched none.

        What only makes ready for a test may have done so for others too: then the whole file is asked, last.
        """
        number = self._files.get(module.removeprefix("impose/"))
        found, files = set(), set()
        for context, bits in self._db.execute(
            "SELECT context.context, numbits FROM line_bits JOIN context ON context.id = context_id WHERE file_id = ?",
            (number,),
        ):
            if context and line // 8 < len(bits) and bits[line // 8] >> line % 8 & 1:
                test, _, phase = context.rpartition("|")
                found.add(test)
                if phase == "setup":
                    files.add(test.partition("::")[0])
        return [*sorted(found, key=lambda test: (self.times.get(test, 1.0), test))[:most], *sorted(files)]

    def add_up(self, tests: list[str]) -> float:
        """Seconds of processor time that these tests, or files of tests, take."""
        wanted = set(tests)
        return sum(time for test, time in self.times.items() if test in wanted or test.partition("::")[0] in wanted)


def measure_room(copy: HouseCopy, room: str, folder: Path) -> TestChoice:
    """Run the tests of a room once, with coverage, unless a folder has what came of it."""
    data, times = folder / f"{room}.coverage", folder / f"{room}.json"
    if not times.exists():
        copy.measure_tests(ROOM_TESTS[room].split(), data, times)
    return TestChoice(data, times)


def choose_faults(seed: int, count: int, rooms: list[str]) -> dict[str, list[Fault]]:
    """As many faults from each room, drawn by the seed."""
    drawn = {}
    for room in rooms:
        paths = sorted(HOUSE.glob(ROOMS[room]))
        places = [(path, *place) for path in paths for place in _walk(ast.parse(path.read_text("utf-8")))]
        random.Random(f"{seed} {room}").shuffle(places)
        made = (make_fault(room, *place) for place in places)
        drawn[room] = list(islice((fault for fault in made if fault), -(-count // len(rooms))))
    return drawn


def main() -> None:
    """Draw, try and tell."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--count", type=int, default=60)
    parser.add_argument("--rooms", default=",".join(ROOMS))
    parser.add_argument("--measured", type=Path, help="a folder for what the tests touch")
    parser.add_argument("--tests", type=int, default=60, help="the quickest tests of a line, at most")
    given = parser.parse_args()
    told: dict[str, Counter[str]] = {}
    with tempfile.TemporaryDirectory(prefix="mutants-") as folder:
        measured = given.measured or Path(folder)
        measured.mkdir(parents=True, exist_ok=True)
        copy = HouseCopy(Path(folder) / "copy")
        for room, faults in choose_faults(given.seed, given.count, given.rooms.split(",")).items():
            choice = measure_room(copy, room, measured.resolve())
            counts = told.setdefault(room, Counter())
            for fault in faults:
                tests = choice.list_tests(fault.module, fault.line, given.tests)
                answer = copy.try_fault(fault.module, fault.text, tests, 20 + 5 * choice.add_up(tests))
                counts[answer.state] += 1
                print(f"{answer.state:9} {fault.module}:{fault.line} {fault.kind}: "
                      f"{_short(fault.before)} -> {_short(fault.after)} {answer.by}", flush=True)  # fmt: skip
    for room, counts in told.items():
        print(f"{room:10} {dict(counts)}")


def _short(text: str) -> str:
    return " ".join(text.split())[:90]


if __name__ == "__main__":
    main()
