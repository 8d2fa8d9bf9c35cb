"""The desk's disk goes away at any step of the work, and comes back: nothing is refused for it, and nothing lost."""

from __future__ import annotations

import shutil
from pathlib import Path
from typing import Any

import pytest

from desk.fake import delivered, png

STEPS = (
    "claim:written", "claim:moved", "claim:closed", "delivery:begun", "delivery:built", "delivery:made",
    "delivery:renamed", "delivery:written", "delivery:tidied", "delivery:closed", "refusal:written", "refusal:told",
    "refusal:moved", "refusal:closed", "print:copied", "print:dropped", "print:written", "print:closed",
)  # fmt: skip


@pytest.mark.parametrize(
    ("step", "local"), [(step, n % 2 == 0) for n, step in enumerate(STEPS)] + [("claim:moved", True)]
)
def test_a_disk_that_goes_away_at_a_step_of_the_work_loses_nothing(
    bed: Any, tmp_path: Path, step: str, local: bool
) -> None:
    away, armed, gone = bed.root.with_name("away"), [], []

    def leave(name: str) -> None:
        if name in armed and not gone:
            gone.append(name)
            bed.root.rename(away)

    bed.world = bed.time.world(fault=leave)
    (tmp_path / "print").mkdir()
    bed.start(print_folder=tmp_path / "print", **({"ledger": tmp_path / "local.db"} if local else {}))
    armed.append(step)
    bed.drop("left-chest/owl.png", png(1))
    bed.drop("left-chest/fox.png", png(2))
    bed.drop("left-chest/0 (0 copies).png", png(3))
    bed.turns(20)
    assert gone == [step], "the step was never reached"
    if bed.root.exists():  # the folder of the mount, with nothing in it
        assert not [path for path in bed.root.rglob("*") if path.is_file()]
        shutil.rmtree(bed.root)
    away.rename(bed.root)
    bed.turns(60)
    assert sorted(len(names) for names in delivered(bed.root).values()) == [1, 1]
    assert bed.refused == ["0 (0 copies).png"]
    assert bed.inbox == []
    assert len(list((tmp_path / "print").rglob("*.pdf"))) == len(bed.sheets)
    assert [path.name for path in bed.places.work.rglob("*.png")] == [], "nothing is left half way"
