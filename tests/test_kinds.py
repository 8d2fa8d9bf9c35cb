"""The table of kinds holds what the code says and what the document explains."""

from __future__ import annotations

import ast
import functools
import re
from collections import defaultdict
from pathlib import Path

import pytest

from impose.errors import Exit, Trouble
from impose.kinds import ACCEPTABLE, KINDS
from impose.orders.headings import COLUMNS
from impose.run import Options
from sources import list_modules, read_nodes

ROOT = Path(__file__).resolve().parent.parent
DOCUMENT = (ROOT / "shared" / "docs" / "reference" / "findings.md").read_text("utf-8")


def called(node: ast.Call) -> str:
    return getattr(node.func, "id", "") or getattr(node.func, "attr", "")


def given(call: ast.Call, place: int) -> list[ast.expr]:
    """What a call hands over as `kind`, by name or by place."""
    return [word.value for word in call.keywords if word.arg == "kind"] or call.args[place : place + 1]


@functools.cache
def makers() -> dict[str, int]:
    """Every function that makes a finding of a kind it is given, and where among its arguments that stands."""
    taking = []
    for path in list_modules():
        for function in read_nodes(path):
            if isinstance(function, ast.FunctionDef):
                names = [argument.arg for argument in (*function.args.args, *function.args.kwonlyargs)]
                names = names[1:] if names[:1] in (["self"], ["cls"]) else names
                if "kind" in names:
                    calls = [node for node in ast.walk(function) if isinstance(node, ast.Call)]
                    taking.append((function.name, names.index("kind"), calls))
    found = {"Finding": 3}
    while True:
        before = len(found)
        for name, place, calls in taking:
            if any(
                isinstance(value, ast.Name) and value.id == "kind"
                for call in calls
                if called(call) in found
                for value in given(call, found[called(call)])
            ):
                found[name] = place
        if len(found) == before:
            return found


def used() -> dict[str, set[str]]:
    """Kinds written out in the code, and where."""
    found = defaultdict(set)
    places = makers()
    for path in list_modules():
        for call in read_nodes(path):
            if isinstance(call, ast.Call) and called(call) in places:
                for value in given(call, places[called(call)]):
                    for part in _constants(value):
                        found[part].add(f"{path.relative_to(ROOT)}:{call.lineno}")
    return found


def _constants(value: ast.expr) -> list[str]:
    if isinstance(value, ast.Constant) and isinstance(value.value, str):
        return [value.value]
    if isinstance(value, ast.IfExp):
        return _constants(value.body) + _constants(value.orelse)
    return []


def test_every_kind_in_the_code_is_in_the_table():
    found = used()
    assert {"haze", "low-resolution", "damaged", "trailing-data", "ragged-row"} <= set(found)
    assert {kind: places for kind, places in found.items() if kind and kind not in KINDS} == {}


def test_cells_that_cannot_be_read_have_a_kind_for_each_column():
    """A cell's reader names its kind after the column, so none is written out: the columns are from the code."""
    nodes = read_nodes(ROOT / "impose" / "orders" / "row_reader.py")
    calls = [node for node in nodes if isinstance(node, ast.Call) and called(node) == "_read_cell"]
    cells = {part for call in calls for part in _constants(call.args[0])} | {
        "width",
        "height",
    }  # _read_length
    assert {"order", "copies", "tear"} <= cells <= set(COLUMNS)
    assert {f"bad-{name.replace('_', '-')}" for name in cells} <= set(KINDS)


def test_no_other_kind_is_put_together():
    """Whatever is not written out could be missing from the table unseen."""
    places = makers()
    found = [
        f"{path.relative_to(ROOT)}:{call.lineno}"
        for path in list_modules()
        for call in read_nodes(path)
        if isinstance(call, ast.Call) and called(call) in places
        for value in given(call, places[called(call)])
        if isinstance(value, (ast.JoinedStr, ast.BinOp))
    ]
    files = {place.split(":")[0] for place in found} - {"impose/ledger/stock.py"}  # its kinds are of ledger lines
    assert files == {"impose/orders/row_reader.py"}


def test_every_kind_is_explained_and_no_other():
    rows = re.findall(r"^\| (`[a-z][a-z0-9-]*`(?:, `[a-z0-9-]+`)*) \|", DOCUMENT, re.M)
    explained = [kind for row in rows for kind in re.findall(r"`([a-z0-9-]+)`", row)]
    assert not set(KINDS) - set(explained), "write a line for each in reference/findings.md"
    assert sorted(explained) == sorted(KINDS)
    refusals = DOCUMENT[DOCUMENT.index("## Refusals") :]
    assert {kind for kind in KINDS if f"`{kind}`" in refusals} == set(KINDS) - ACCEPTABLE


def test_a_misspelt_kind_is_refused_with_the_near_one_named():
    with pytest.raises(Trouble, match="low-resolution") as caught:
        Options(accept=frozenset({"low-resolutoin"}))
    assert caught.value.exit is Exit.USAGE
    with pytest.raises(Trouble, match="refusal"):
        Options(accept=frozenset({"damaged"}))
    assert Options(accept=frozenset({"haze"})).accept == {"haze"}
