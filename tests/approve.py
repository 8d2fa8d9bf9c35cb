"""Approve anew what the program draws and says, after a person has looked at it.

    python tests/approve.py drawings FOLDER [BATCH...]    what is drawn on the pages of `approved_batches`
    python tests/approve.py answers [WORD]                what the scenes of `answers` say whose names hold WORD

Drawings are left in FOLDER, a folder for each batch. Look at every page that the difference of `tests/approved`
(`git diff`) names before you commit it: pdftoppm -r 80 -png FOLDER/evening/out/tickets.pdf page. A text is approved
only after its difference was read as a decorator would read it, and its sums were reckoned by hand.
"""

from __future__ import annotations

import os
import shutil
import sys
from collections.abc import Sequence
from pathlib import Path

import pytest

TESTS = Path(__file__).resolve().parent


def approve_drawings(folder: Path, batches: Sequence[str]) -> int:
    """Make the batches in the folder and write their drawings into `tests/approved`."""
    for made in [folder / batch for batch in batches] or [path for path in folder.glob("*") if path.is_dir()]:
        shutil.rmtree(made, ignore_errors=True)
    folder.mkdir(parents=True, exist_ok=True)
    os.environ["APPROVE"] = str(folder.resolve())
    return _run_tests(TESTS / "test_approved.py", batches)


def approve_answers(words: Sequence[str]) -> int:
    """Write the texts of the scenes into `tests/approved/answers`."""
    os.environ["APPROVED_ANSWERS"] = "yes"
    return _run_tests(TESTS / "answers", words)


def _run_tests(path: Path, words: Sequence[str]) -> int:
    named = ["-k", " or ".join(words)] if words else []
    return int(pytest.main(["-q", "-n", "0", "-p", "no:cacheprovider", str(path), *named]))


if __name__ == "__main__":
    match sys.argv[1:]:
        case ["drawings", folder, *batches]:
            sys.exit(approve_drawings(Path(folder), batches))
        case ["answers", *words]:
            sys.exit(approve_answers(words))
    sys.exit(__doc__)
