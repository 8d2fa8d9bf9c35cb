"""TOML files to data: whatever stands in one is data or a finding, at a cost in proportion to the file.

The parser of the standard library takes time in the square of a key's parts (30,000 dots: 25 s and 1.4 GB), recurses
into brackets, and lets the number types raise what they like. So depth and length are held to limits before it is
asked. Anybody who can drop a file into a desk's inbox can write one.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterator
from decimal import Decimal
from typing import Any

from impose.errors import Exit, Finding, quote_text

MOST_BYTES = 1 << 20
MOST_DEPTH = 32
"""Tables within tables, dots and brackets both: a profile has four."""
MOST_LETTERS = 200
"""Of a number or a bare key: a 64-bit number has 19 digits."""

_HELP = 'Tables are [in brackets], keys are name = value, texts stand in "quotes".'
# A text that is never closed reaches to the end: looked at once, where the parser stops too.
_TEXTS = re.compile(
    r'"""(?:\\.|[^\\])*?(?:"{3,5}|\Z)|"(?:\\.|[^"\\\n])*+"?' r"|'''.*?(?:'{3,5}|\Z)|'[^'\n]*+'?|\#[^\n]*", re.DOTALL
)
_LONG = re.compile(rf"(?<![\w.+-])[\w.+-]{{{MOST_LETTERS + 1}}}")
_LEAST, _MOST = -(2**63), 2**63 - 1


def parse_toml(content: bytes, file: str, trusted: bool = False) -> tuple[dict[str, Any], list[Finding]]:
    """The data of a TOML file, numbers as decimals; or what is wrong with it, by line where that is known.

    A `trusted` file is one that ships with the program, which need not be held to limits.
    """
    if len(content) > MOST_BYTES:
        return {}, [
            _make_broken(file, f"larger than {MOST_BYTES >> 20} MB", "A file of settings is far smaller.", None)
        ]
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = content.count(b"\n", 0, error.start) + 1
        return {}, [_make_broken(file, "not UTF-8 text", "Save the file as UTF-8.", line)]
    faults = [] if trusted else list(_report_beyond_limits(text, file))
    return ({}, faults[:1]) if faults else _parse_text(text, file)


def _report_beyond_limits(text: str, file: str) -> Iterator[Finding]:
    """What no file of settings has and the parser would choke on; texts and comments may hold anything."""
    # Line ends stay, so that lines can be counted.
    bare = _TEXTS.sub(lambda found: "s" + "\n" * found[0].count("\n"), text)
    if found := _LONG.search(bare):
        what = f"a number or a name of more than {MOST_LETTERS} characters"
        yield _make_broken(file, what, "Shorten it, or put a text in quotes.", bare.count("\n", 0, found.start()) + 1)
    if not _may_be_deep(bare):
        return
    line, depth = 1, 0
    for part in re.split(r"([\[\]{}\n=,])", bare):
        line += part == "\n"
        depth = max(0, depth + (part in ("[", "{")) - (part in ("]", "}")))
        if depth + part.count(".") > MOST_DEPTH:
            yield _make_broken(file, "nested too deeply", _HELP, line)
            return


def _may_be_deep(bare: str) -> bool:
    """Whether its deepest bracket and the most dots between two signs could come to more than the limit together."""
    depth = deepest = 0
    for bracket in re.sub(r"[^\[\]{}]+", "", bare):
        depth = max(0, depth + (1 if bracket in "[{" else -1))
        deepest = max(deepest, depth)
    dots = MOST_DEPTH - deepest + 1
    return dots <= 0 or re.search(rf"(?:\.[^\[\]{{}}\n=,.]*){{{dots}}}", bare) is not None


def _parse_text(text: str, file: str) -> tuple[dict[str, Any], list[Finding]]:
    try:
        data = tomllib.loads(text, parse_float=Decimal)
    except tomllib.TOMLDecodeError as error:
        match = re.search(r"\(at line ([0-9]+), column ([0-9]+)\)", str(error))
        what = re.sub(r"\s*\(at .*\)", "", str(error))
        return {}, [
            _make_broken(file, f"not TOML: {quote_text(what, 200)[1:-1]}", _HELP, int(match[1]) if match else None)
        ]
    except (ValueError, ArithmeticError):  # a number type's own complaint: a decimal's exponent beyond its range
        return {}, [_make_broken(file, "a number that is beyond reckoning", "Mend the value.", None)]
    except RecursionError:
        return {}, [_make_broken(file, "nested too deeply", _HELP, None)]
    faults = list(_find_strange(data, file))
    return ({}, faults) if faults else (data, [])


def _find_strange(data: dict[str, Any], file: str) -> Iterator[Finding]:
    """Tables nested beyond the limit, and whole numbers beyond 64 bits, which TOML 1.0 does not promise to hold."""
    waiting: list[tuple[tuple[str, ...], Any]] = [((), data)]
    for path, value in waiting:
        if len(path) > MOST_DEPTH:
            yield _make_broken(file, "nested too deeply", _HELP, None)
            return
        if isinstance(value, dict):
            waiting += [((*path, key), below) for key, below in value.items()]
        elif isinstance(value, list):
            waiting += [((*path, f"[{index}]"), below) for index, below in enumerate(value)]
        elif isinstance(value, int) and not _LEAST <= value <= _MOST:
            what = f"key {quote_text('.'.join(path))}: a whole number beyond 64 bits"
            yield _make_broken(file, what, "Mend the value.", None)


def _make_broken(file: str, what: str, remedy: str, line: int | None) -> Finding:
    return Finding(what, remedy, kind="profile", file=file, row=line, exit=Exit.USAGE)
