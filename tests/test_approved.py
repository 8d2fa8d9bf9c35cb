"""Every page that is printed on paper, and every page for a customer, is the one that a person looked at and approved.

`tests/approved` holds what pdfium reads from them: each stroke, shape, picture and word with its place. Positions may
differ by 0.02 mm; words may not. `tests/approve.py` writes it anew, after somebody has looked at the pages.
"""

from __future__ import annotations

import difflib
import os
import re
import tomllib
from collections.abc import Iterator
from fnmatch import fnmatch
from itertools import zip_longest
from pathlib import Path

import pytest

from approved_batches import BATCHES
from drawn_text import describe_pdf
from markup_text import describe_html

APPROVED = Path(__file__).parent / "approved"
LEFT_OUT: dict[str, list[str]] = tomllib.loads((APPROVED / "left-out.toml").read_text("utf-8"))
TOLERANCE_MM = 0.021
_SECTION = re.compile(r'(?:section|article) "(?:.* )?id=(\S+)')
_NUMBER = re.compile(r"-?\d+(?:\.\d+)?")


def describe_folder(folder: Path) -> Iterator[tuple[str, list[str]]]:
    """The name and the lines of every page of a folder's documents."""
    for path in sorted(folder.rglob("*")):
        name = path.relative_to(folder).as_posix()
        if path.suffix == ".pdf":
            for number, lines in enumerate(describe_pdf(path), 1):
                yield f"{name} page {number}", lines
        elif path.suffix == ".html":
            yield from split_sections(name, describe_html(path.read_text("utf-8")))
        elif path.suffix == ".csv":
            yield name, [f'"{line}' for line in path.read_text("utf-8-sig").splitlines()]


def split_sections(name: str, lines: list[str]) -> Iterator[tuple[str, list[str]]]:
    """A page's sections and sheets, each by its name."""
    part: list[str] = []
    told = name
    for line in lines:
        begun = _SECTION.match(line)
        if begun:
            yield told, part
            told, part = f"{name} {begun[1]}", []
        part.append(line)
    yield told, part


def format_pages(pages: dict[str, list[str]]) -> str:
    """All pages as one text."""
    return "".join(f"## {name}\n" + "".join(f"{line}\n" for line in lines) for name, lines in pages.items())


def parse_pages(text: str) -> dict[str, list[str]]:
    """The pages of such a text."""
    pages: dict[str, list[str]] = {}
    for line in text.removesuffix("\n").split("\n"):
        if line.startswith("## "):
            pages[line[3:]] = []
        else:
            list(pages.values())[-1].append(line)
    return pages


def differ(found: str, approved: str) -> bool:
    """Whether two lines differ: numbers by more than the tolerance, or anything else."""
    if found == approved:
        return False
    (drawn, _, words), (drawn_too, _, words_too) = found.partition('"'), approved.partition('"')
    if words != words_too or _NUMBER.sub("0", drawn) != _NUMBER.sub("0", drawn_too):
        return True
    pairs = zip(_NUMBER.findall(drawn), _NUMBER.findall(drawn_too), strict=True)
    return any(abs(float(a) - float(b)) > TOLERANCE_MM for a, b in pairs)


def tell_difference(found: list[str], approved: list[str], most: int = 12) -> str:
    """The first lines that differ."""
    pairs = list(zip_longest(found, approved, fillvalue=""))
    # Whatever is near enough is as it was approved; what is left is told as a person compares two texts.
    near = [a if not differ(b, a) else b for b, a in pairs]
    told = [line for line in difflib.unified_diff(approved, near, lineterm="", n=1) if line[:3] not in ("---", "+++")]
    return "\n".join(told[:most])


@pytest.mark.parametrize("batch", BATCHES)
def test_pages_are_as_they_were_approved(batch: str, tmp_path: Path) -> None:
    looked_at = os.environ.get("APPROVE")  # set by approve.py: where the pages are left to be looked at
    folder = Path(looked_at) / batch if looked_at else tmp_path
    folder.mkdir(exist_ok=True)
    pages = describe_folder(BATCHES[batch](folder))
    found = {name: lines for name, lines in pages if not any(fnmatch(name, left) for left in LEFT_OUT.get(batch, ()))}
    kept = APPROVED / f"{batch}.txt"
    if looked_at:
        kept.write_text(format_pages(found), "utf-8")
    approved = parse_pages(kept.read_text("utf-8"))
    differing = {
        name: tell_difference(found[name], approved[name])
        for name in approved
        if name in found and (len(found[name]) != len(approved[name]) or any(map(differ, found[name], approved[name])))
    }
    assert not differing, "\n".join(f"{name}\n{told}" for name, told in list(differing.items())[:3])
    assert list(found) == list(approved)


def test_a_thing_moved_by_a_tenth_of_a_millimetre_differs() -> None:
    line = 'plain 0 3.4 16 148.07 66.89 "1 Full back: 269 mm'
    assert not differ(line.replace("148.07", "148.09"), line)
    for wrong in (line.replace("148.07", "148.17"), line.replace("269", "270"), line.replace("plain", "bold"), ""):
        assert differ(wrong, line)
    shown = tell_difference(["page 1 210 297", "box 1 2 3 4"], ["page 1 210 297", "box 1 2.5 3 4"])
    assert shown.splitlines()[-2:] == ["-box 1 2.5 3 4", "+box 1 2 3 4"]
