"""Live planning with artwork of any format: the same pictures, pages and sizes as the command's own."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from formats import samples
from impose.run import Options, Plan, produce
from impose.run import plan as plan_batch
from impose.run.live import Live
from waiting import LONGEST_S

ROWS = [
    {"art": "a.jpg", "width": "40mm", "mend": "ground"},
    {"art": "b.svg", "width": "30mm"},
    {"art": "c.pdf#2", "width": "50mm"},
]


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))
    white = samples.flat(samples.drawn(300, 240), "#e6e4e0")
    (tmp_path / "a.jpg").write_bytes(samples.saved(white, "JPEG", quality=90))
    (tmp_path / "b.svg").write_bytes(samples.svg(samples.SVGS["shapes"]))
    (tmp_path / "c.pdf").write_bytes(samples.pdf(2))
    lines = [",".join(row.get(name, "") for name in ("art", "width", "mend")) for row in ROWS]
    (tmp_path / "orders.csv").write_text("art,width,mend\n" + "\n".join(lines) + "\n")
    return tmp_path


def facts(plan: Plan, out: Path) -> list[tuple[object, ...]]:
    """Of every transfer that is made: what it shows and how large."""
    produce(plan, out)
    record = json.loads((out / "batch.json").read_text())
    made = [one for sheet in record["sheets"] for one in sheet["transfers"]]
    keys = ("art", "art_sha256", "ink_px", "page", "mend", "drawn_mm")
    return sorted(tuple(str(one.get(key)) for key in keys) for one in made)


def test_a_live_plan_has_what_the_command_has(folder):
    options = Options({"papers": ["a4"]}, art_root=folder, steps=20)
    with Live(options) as live:
        live.change(ROWS)
        seen = facts(live.plan(LONGEST_S), folder / "live")
    assert len(seen) == 3
    assert seen == facts(plan_batch([folder / "orders.csv"], options), folder / "plain")
