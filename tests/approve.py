"""Write down anew what is drawn on the pages of `approved_batches`, after a person has looked at them.

    python tests/approve.py FOLDER [BATCH...]

The documents are left in FOLDER, a folder for each batch. Look at every page that the difference of `tests/approved`
(`git diff`) names before you commit it: pdftoppm -r 80 -png FOLDER/evening/out/tickets.pdf page
"""

from __future__ import annotations

import os
import shutil
import sys
from pathlib import Path

import pytest

TESTS = Path(__file__).resolve().parent


def main(folder: Path, batches: list[str]) -> int:
    """Make the batches in the folder and write their drawings into `tests/approved`."""
    for made in [folder / batch for batch in batches] or [path for path in folder.glob("*") if path.is_dir()]:
        shutil.rmtree(made, ignore_errors=True)
    folder.mkdir(parents=True, exist_ok=True)
    os.environ["APPROVE"] = str(folder.resolve())
    named = ["-k", " or ".join(batches)] if batches else []
    return pytest.main(["-q", "-n", "0", "-p", "no:cacheprovider", f"{TESTS}/test_approved.py", *named])


if __name__ == "__main__":
    if len(sys.argv) < 2:
        sys.exit(__doc__)
    sys.exit(main(Path(sys.argv[1]), sys.argv[2:]))
