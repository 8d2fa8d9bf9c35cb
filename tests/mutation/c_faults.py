"""Faults that can be made in the compiled loops: found by the look of a line, since no parser of C is at hand.

The sources have one statement a line and a space on each side of an operator; what is no C after all is told by the
compiler, and is no fault.
"""

from __future__ import annotations

import re
from collections.abc import Iterator

_COMPARE = {"<": "<=", "<=": "<", ">": ">=", ">=": ">", "==": "!=", "!=": "=="}
_SUM = {"+": "-", "-": "+", "*": "+", "/": "*", "%": "*", "+=": "-=", "-=": "+="}
_JOINED = {"&&": "||", "||": "&&"}
_OPERATOR = re.compile(r"(?<= )(?:[<>]=?|[!=]=|[-+*/%]=?|&&|\|\|)(?= )")
_NUMBER = re.compile(r"(?<![\w.])\d+(?![\w.])")
_CONDITION = re.compile(r"\bif \((.*)\)(?= \{| [a-z].*;$|$)")
_STATEMENT = re.compile(r"(?:[A-Za-z_][\w\[\]>.-]*(?: [-+*|&]?= |\+\+|--)|[a-z_]\w*\().*;$|(?:break|continue);$")
_COMMENT = re.compile(r"//.*|/\*.*?\*/")


def list_c_places(text: str) -> Iterator[tuple[int, str, str, str, str]]:
    """Of each place: its line, the kind of fault, what stands there, what takes its place, and the whole new text."""
    lines = text.split("\n")
    in_comment = False
    for number, line in enumerate(lines):
        was_in_comment, in_comment = in_comment, "/*" in _COMMENT.sub("", line) or (in_comment and "*/" not in line)
        if was_in_comment or in_comment or not line.startswith("    ") or line.lstrip().startswith("#"):
            continue
        for start, end, kind, after in _list_spots(_COMMENT.sub(lambda found: " " * len(found[0]), line).rstrip()):
            changed = [*lines[:number], line[:start] + after + line[end:], *lines[number + 1 :]]
            yield number + 1, kind, line[start:end], after, "\n".join(changed)


def _list_spots(line: str) -> Iterator[tuple[int, int, str, str]]:
    for found in _OPERATOR.finditer(line):
        for kind, others in (("comparison", _COMPARE), ("sum", _SUM), ("and/or", _JOINED)):
            if found[0] in others:
                yield *found.span(), kind, others[found[0]]
    for found in _NUMBER.finditer(line):
        yield *found.span(), "constant", str(int(found[0]) + 1)
    for found in _CONDITION.finditer(line):
        yield *found.span(1), "condition", f"!({found[1]})"
    begin = len(line) - len(line.lstrip())
    if _STATEMENT.match(line, begin):
        yield begin, len(line), "left out", ";"
