"""Killed at every change of state, then started again: each drop is in exactly one delivery or among the refused."""

from __future__ import annotations

import hashlib
import os
from pathlib import Path

import pytest

from desk import runner
from desk.fake import delivered, png, refused
from impose.desk.environment import FAULT_POINTS

SPOILED = "id,spoiled\nTEST-T001,x\n"


def run(desk: Path, *arguments: str) -> int:
    """One watch in a process of its own, forked so that nothing is imported anew; minus the signal that ended it."""
    (desk.parent / "calls").mkdir(exist_ok=True)
    (desk.parent / "print").mkdir(exist_ok=True)
    command = f"sh -c 'echo x >> \"$0/$1\"' {desk.parent / 'calls'}"
    words = [str(desk), "--fake", "--once", "--settle", "0.02", "--print-folder", str(desk.parent / "print")]
    child = os.fork()
    if child == 0:
        code = 99
        try:
            code = runner.main([*words, "--then", command, *arguments])
        finally:
            os._exit(code)
    return os.waitstatus_to_exitcode(os.waitpid(child, 0)[1])


@pytest.fixture
def desk(tmp_path: Path) -> Path:
    """A desk with every kind of drop: loose, in a placement's folder, a batch with its art, a folder, two to refuse."""
    desk = tmp_path / "desk"
    inbox = desk / "in"
    (inbox / "left-chest").mkdir(parents=True)
    (inbox / "club").mkdir()
    (inbox / "owl (2 copies, 90 mm).png").write_bytes(png(1))
    (inbox / "left-chest" / "fox.png").write_bytes(png(2))
    (inbox / "evening.csv").write_text("art,width\nhen.png,80mm\nbat.png,80mm\n", "utf-8")
    (inbox / "hen.png").write_bytes(png(3))
    (inbox / "bat.png").write_bytes(png(4))
    (inbox / "club" / "crest.png").write_bytes(png(5))
    (inbox / "club" / "club.csv").write_text("art,width\ncrest.png,80mm\n", "utf-8")
    (inbox / "left-chest" / "blank.png").write_bytes(png(6))
    (inbox / "notes.txt").write_text("not for printing", "utf-8")
    (inbox / "reprint.csv").write_text(SPOILED, "utf-8")
    return desk


def check(desk: Path) -> None:
    """By the folders alone, not by the ledger."""
    made, gone = delivered(desk), refused(desk)
    for number in range(1, 6):
        sha256 = hashlib.sha256(png(number)).hexdigest()
        assert len(made.get(sha256, [])) == 1, f"picture {number} is in {made.get(sha256)}"
        assert sha256 not in gone
    assert made.get(hashlib.sha256(SPOILED.encode()).hexdigest()) == ["reprint TEST"], "a list of spoiled prints, once"
    blank = hashlib.sha256(png(6)).hexdigest()
    assert blank not in made
    assert gone == [blank]
    assert {path.name for path in desk.glob("refused/*")} == {
        "blank.png", "blank.png.txt", "notes.txt", "notes.txt.txt",
    }  # fmt: skip
    assert [path for path in (desk / "in").rglob("*") if path.is_file()] == []
    names = sorted(path.name for path in (desk / "sheets").iterdir())
    originals = {hashlib.sha256(path.read_bytes()).hexdigest() for path in desk.glob("done/**/*.png")}
    assert originals == {hashlib.sha256(png(number)).hexdigest() for number in range(1, 6)}
    printed = sorted(path.read_bytes() for path in (desk.parent / "print").glob("*/*.pdf"))
    assert printed == sorted(b"%PDF-2.0 " + name.encode() for name in names), "each sheets PDF once, nothing else"
    assert len(list((desk.parent / "calls").iterdir())) == len(names), "every delivery was called for at least once"
    assert [path for path in (desk / "work").iterdir() if path.name.startswith(("drop-", "make-"))] == []


@pytest.mark.skipif(not hasattr(os, "fork"), reason="there is no SIGKILL")
@pytest.mark.parametrize("point", FAULT_POINTS)
def test_killed_at_a_change_of_state(desk, point):
    assert run(desk, "--die-at", point) == -9, f"the run never came to {point}"
    # Now it is killed in the same place once more if it comes there, this time on the way back.
    run(desk, "--die-at", point)
    assert run(desk) in (0, 3)
    check(desk)
