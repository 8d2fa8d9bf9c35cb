"""A paper without a price is not the cheapest: quoting calls best what making takes, the least area of paper."""

from __future__ import annotations

from conftest import draw
from impose.run import Options, plan, quote


def test_a_quote_calls_best_what_would_be_made(tmp_path):
    draw("ellipse", 60, 50, 1).save(tmp_path / "owl.png")
    (tmp_path / "batch.csv").write_text("art,width\nowl.png,90 mm\n", "utf-8")
    options = Options(settings={"papers": ["A3+ 329x483mm", "a4"]}, steps=20)
    made = plan([tmp_path / "batch.csv"], options).layout.sheets
    best = quote([tmp_path / "batch.csv"], options).best_offer
    assert [sheet.paper.alias for sheet in made] == ["a4"], "the smaller of the two, whatever the other costs"
    assert best is not None
    assert {name: count for name, count in best.sheets.items() if count} == {"a4": 1}
