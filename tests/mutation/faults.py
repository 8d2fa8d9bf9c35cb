"""Faults that can be made in a room's modules, and the drawing of some of them by a seed."""

from __future__ import annotations

import ast
import random
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from itertools import islice
from pathlib import Path
from typing import Any

from c_faults import list_c_places
from copies import HOUSE

ROOMS = {
    "sheet": "impose/sheet/*.py",
    "tickets": "impose/pages/tickets/*.py",
    "proof": "impose/pages/proof/*.py",
    "pages": "impose/pages/*.py",
    "pdf": "impose/pages/pdf/*.py",
    "type": "impose/type/*.py",
    "run": "impose/run/*.py",
    "ledger": "impose/ledger/*.py",
    "desk": "impose/desk/*.py",
    "nest": "impose/nest/*.py",
    "orders": "impose/orders/*.py",
    "printing": "impose/printing/*.py",
    "page": "impose/page/*.py",
    "profiles": "impose/profiles/*.py",
    "art": "impose/art/**/*.py",
    "formats": "impose/formats/*.py",
    "native": "impose/native/*.c",
    "cli": "impose/cli/*.py",
    "top": "impose/*.py",
}

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
    """One change: where, of which kind, from which text to which, and the module's whole text with it.

    `lines` are those of the statement that holds it: a line of its own may never be told as reached.
    """

    room: str
    module: str
    line: int
    lines: tuple[int, int]
    kind: str
    before: str
    after: str
    source: str
    text: str

    @property
    def mark(self) -> tuple[str, ...]:
        """What tells this fault from others, also after the lines above it have changed."""
        return self.module, self.kind, self.before, self.after, self.source

    def list_values(self) -> dict[str, Any]:
        """The fault as it is kept in a file, without the module's text."""
        names = ("room", "module", "line", "kind", "before", "after", "source")
        return {name: getattr(self, name) for name in names}


def draw_faults(seed: int, count: int, rooms: Iterable[str]) -> dict[str, list[Fault]]:
    """Faults drawn by the seed, from each room in proportion to its lines, and one at the least."""
    drawn = {}
    modules = {room: sorted(HOUSE.glob(ROOMS[room])) for room in rooms}
    lines = {room: sum(path.read_text("utf-8").count("\n") for path in paths) for room, paths in modules.items()}
    for room, paths in modules.items():
        places = list(_list_places(paths))
        random.Random(f"{seed} {room}").shuffle(places)
        made = (_make_fault(room, path, text, place) for path, text, place in places)
        share = max(1, round(count * lines[room] / sum(lines.values())))
        drawn[room] = list(islice((fault for fault in made if fault), share))
    return drawn


def find_fault(kept: dict[str, Any]) -> Fault | None:
    """A kept fault in the house as it stands, the one nearest to the line that it had; None where it is gone."""
    made = [_make_fault(kept["room"], *place) for place in _list_places([HOUSE / kept["module"]])]
    mark = tuple(kept[name] for name in ("module", "kind", "before", "after", "source"))
    like = [fault for fault in made if fault and fault.mark == mark]
    return min(like, key=lambda fault: abs(fault.line - kept["line"]), default=None)


def _list_places(paths: Iterable[Path]) -> Iterator[tuple[Path, str, Any]]:
    """A module, its text and a place in it: of a Python module as of `_walk_nodes`, of a C source as of `c_faults`."""
    for path in paths:
        if path.exists():
            text = path.read_text("utf-8")
            for place in list_c_places(text) if path.suffix == ".c" else _walk_nodes(ast.parse(text)):
                yield path, text, place


def _make_fault(room: str, path: Path, text: str, place: Any) -> Fault | None:
    """The fault at a place, None where that is no program."""
    module = path.relative_to(HOUSE).as_posix()
    if path.suffix == ".c":
        line, kind, before, after, changed = place
        return Fault(room, module, line, (line, line), kind, before, after, text.split("\n")[line - 1].strip(), changed)
    node, within, kind, after = place
    start, end = (
        _find_offset(text, node.lineno, node.col_offset),
        _find_offset(text, node.end_lineno, node.end_col_offset),
    )
    changed = text[:start] + after + text[end:]
    try:
        ast.parse(changed)
    except SyntaxError:
        return None
    source = text.split("\n")[node.lineno - 1].strip()
    lines = (within.lineno, node.end_lineno or node.lineno)
    return Fault(room, module, node.lineno, lines, kind, text[start:end], after, source, changed)


def _find_offset(text: str, line: int | None, column: int | None) -> int:
    """The place in a text of a node's line and its column, which is counted in bytes."""
    assert line is not None
    assert column is not None
    lines = text.split("\n")
    return sum(len(before) + 1 for before in lines[: line - 1]) + len(lines[line - 1].encode()[:column].decode())


def _walk_nodes(tree: ast.AST) -> Iterator[tuple[ast.expr | ast.stmt, ast.stmt, str, str]]:  # noqa: C901 - a line a kind
    """Each node that can be made wrong, its statement, the kind of the fault and the text that takes its place."""
    takes_like = {node.name for node in ast.walk(tree) if isinstance(node, ast.FunctionDef) and _takes_like(node)}
    for node, within in _list_nodes(tree):
        if isinstance(node, ast.Compare) and type(node.ops[0]) in _COMPARE:
            ops = [_COMPARE[type(node.ops[0])](), *node.ops[1:]]
            yield node, within, "comparison", f"({ast.unparse(ast.Compare(node.left, ops, node.comparators))})"
        elif isinstance(node, ast.BinOp) and type(node.op) in _SUM and not _has_text(node):
            yield node, within, "sum", f"({ast.unparse(ast.BinOp(node.left, _SUM[type(node.op)](), node.right))})"
        elif isinstance(node, ast.BoolOp):
            other: ast.boolop = ast.And() if isinstance(node.op, ast.Or) else ast.Or()
            yield node, within, "and/or", f"({ast.unparse(ast.BoolOp(other, node.values))})"
        elif isinstance(node, ast.UnaryOp) and isinstance(node.op, ast.Not):
            yield node, within, "not", f"({ast.unparse(node.operand)})"
        elif isinstance(node, ast.Constant) and isinstance(node.value, bool):
            yield node, within, "constant", str(not node.value)
        elif isinstance(node, ast.Constant) and isinstance(node.value, int | float):
            yield node, within, "constant", repr(node.value + 1)
        elif isinstance(node, ast.If | ast.IfExp):
            yield node.test, within, "condition", f"(not ({ast.unparse(node.test)}))"
        elif (isinstance(node, ast.Expr) and isinstance(node.value, ast.Call)) or isinstance(node, ast.AugAssign):
            yield node, within, "left out", "pass"
        elif isinstance(node, ast.Call) and _has_like_arguments(node, takes_like):
            first, second, *rest = node.args
            call = ast.Call(node.func, [second, first, *rest], node.keywords)
            yield node, within, "exchanged", ast.unparse(call)


def _list_nodes(tree: ast.AST) -> Iterator[tuple[ast.AST, ast.stmt]]:
    """The nodes of all bodies of functions, without docstrings, annotations, assertions and what is in an f-string."""
    for function in ast.walk(tree):
        if isinstance(function, ast.FunctionDef):
            for statement in function.body:
                yield from _descend_from(statement, statement)


def _descend_from(node: ast.AST, within: ast.stmt) -> Iterator[tuple[ast.AST, ast.stmt]]:
    if isinstance(node, ast.FunctionDef | ast.ClassDef | ast.Assert | ast.JoinedStr | ast.Import | ast.ImportFrom):
        return
    if isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant):
        return
    within = node if isinstance(node, ast.stmt) else within
    yield node, within
    for name, value in ast.iter_fields(node):
        if name in ("annotation", "returns"):
            continue
        for child in value if isinstance(value, list) else [value]:
            if isinstance(child, ast.AST):
                yield from _descend_from(child, within)


def _has_text(node: ast.AST) -> bool:
    return any(
        isinstance(part, ast.JoinedStr) or (isinstance(part, ast.Constant) and isinstance(part.value, str | bytes))
        for part in ast.walk(node)
    )


def _has_like_arguments(node: ast.Call, takes_like: set[str]) -> bool:
    """Two names or attributes stand first, and both are of one type as far as the module tells: others fail anyway."""
    simple = (ast.Name, ast.Attribute)
    if isinstance(node.func, ast.Name) and node.func.id not in takes_like:
        return False
    return len(node.args) >= 2 and all(isinstance(argument, simple) for argument in node.args[:2])


def _takes_like(function: ast.FunctionDef) -> bool:
    first = [argument.annotation for argument in function.args.args[:2]]
    return len(first) == 2 and all(first) and len({ast.unparse(kind) for kind in first if kind}) == 1
