"""Remedies: a code everywhere, words at each door, and no flag or command named below the doors."""

from __future__ import annotations

import ast
import inspect
import pickle
import re
import string
from collections.abc import Iterator
from pathlib import Path

import pytest

from impose.cli import cli
from impose.cli.remedies import WORDINGS as COMMAND_LINE
from impose.desk.remedies import WORDINGS as DESK
from impose.errors import Finding
from impose.remedies import PLAIN, Remedy, word_remedies
from impose.sheet.record import list_finding_values
from sources import PACKAGE, list_modules, read_nodes

DOORS = ("cli/", "desk/remedies.py", "desk/new_desk.py", "page/icon.py")
"""Where words of a door stand: its tables, and the files that start a desk."""


def _flags() -> re.Pattern[str]:
    """Every option that some command has, -p alone, and the program's name with a command's behind it."""
    names = {name for one in cli.commands.values() for parameter in one.params for name in parameter.opts}
    flags = sorted(name for name in names if name.startswith("-"))
    options = "|".join(re.escape(flag) for flag in flags)
    return re.compile(rf"(?<![\w(-])(?:{options})(?![\w:-])|\bimpose (?:{'|'.join(cli.commands)})\b")


def _strings(path: Path) -> Iterator[tuple[int, str]]:
    """The strings of a module that are no docstrings, with their lines."""
    nodes = read_nodes(path)
    statements = {id(node.value) for node in nodes if isinstance(node, ast.Expr)}
    for node in nodes:
        if isinstance(node, ast.Constant) and isinstance(node.value, str) and id(node) not in statements:
            yield node.lineno, node.value


def test_no_flag_and_no_command_is_named_below_the_doors():
    flags, found = _flags(), []
    for path in list_modules():
        name = path.relative_to(PACKAGE).as_posix()
        if not name.startswith(DOORS):
            found += [f"{name}:{line}: {text}" for line, text in _strings(path) if flags.search(text)]
    assert found == []


def test_flags_are_seen_where_they_are():
    flags = _flags()
    assert all(flags.search(text) for text in ("Use --drop-specks, or", "offer -p a4", "with -o.", "impose stock a4"))
    assert not any(flags.search(text) for text in ("A –p", "it has no impose that", "var(--quiet)", "--stop:#b3261e"))


def test_every_code_is_used_and_every_used_code_has_words():
    used = set()
    for path in list_modules():
        used |= set(re.findall(r"Remedy\(\s*['\"]([a-z-]+)['\"]", path.read_text("utf-8")))
    indirect = {code for code in PLAIN if code.startswith("smaller-or-")}
    assert used | indirect == set(PLAIN)


@pytest.mark.parametrize("table", [COMMAND_LINE, DESK], ids=["command line", "desk"])
def test_a_door_has_words_for_known_codes_and_asks_for_no_other_arguments(table):
    assert set(table) <= set(PLAIN)
    given = {}  # the names of arguments by code, as the code of the program gives them
    for path in list_modules():
        for node in read_nodes(path):
            if isinstance(node, ast.Call) and getattr(node.func, "id", "") == "Remedy" and node.args:
                code = getattr(node.args[0], "value", None)
                given.setdefault(code, set()).update(one.arg for one in node.keywords)
    for code, wording in {**PLAIN, **table}.items():
        asked = (
            {name for _, name, _, _ in string.Formatter().parse(wording) if name}
            if isinstance(wording, str)
            else set(inspect.signature(wording).parameters)
        )
        assert asked <= given.get(code, set()), code


def test_the_command_line_names_options_that_there_are():
    known = {name for one in cli.commands.values() for parameter in one.params for name in parameter.opts}
    for code, wording in COMMAND_LINE.items():
        text = wording if isinstance(wording, str) else wording("a4", "a4 a3", "1.00")
        assert set(re.findall(r"(?<![\w-])--[a-z][\w-]*", text)) <= known, code


def test_a_finding_speaks_as_the_door_does_and_plainly_without_one():
    finding = Finding("a lonely speck", Remedy("erase-speck"))
    plain = "a lonely speck. Have specks dropped if that is dirt."
    assert str(finding) == plain
    with word_remedies(COMMAND_LINE):
        assert str(finding) == "a lonely speck. Use --drop-specks if that is dirt."
        assert list_finding_values(finding)["remedy"] == "Use --drop-specks if that is dirt."
        with word_remedies(DESK):
            assert str(finding).endswith("or start the desk with --drop-specks.")
        assert "--drop-specks if" in str(finding)
    assert str(finding) == plain


def test_a_remedy_keeps_code_and_arguments_on_its_way_from_another_process():
    first = Remedy("map-columns", first=Remedy("count-first", paper="a4 {x}"))
    again = pickle.loads(pickle.dumps(first))
    assert (again.code, again, hash(again)) == ("map-columns", first, hash(first))
    assert again.word_remedy(COMMAND_LINE).startswith("Count it first: impose stock a4 {x} --set N Or leave the file")
    assert str(again).startswith("Count a4 {x} first. Or leave")


def test_a_code_that_nobody_knows_is_refused_at_once():
    with pytest.raises(KeyError):
        Remedy("no-such-code")
    with pytest.raises(KeyError):
        Remedy("count-first")
