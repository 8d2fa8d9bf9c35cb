"""A quote's best is the cheapest that can be made, by prices and counts that a clerk adds up."""

from __future__ import annotations

import json
from decimal import Decimal
from pathlib import Path

import pytest

from conftest import draw


@pytest.mark.parametrize(
    ("dear", "cheap"),
    [({"a4": "0.90", "a3": "0.20"}, "a3"), ({"a4": "0.10", "a3": "0.90"}, "a4")],
)
def test_the_best_offer_costs_the_least(run, tmp_path: Path, dear: dict[str, str], cheap: str) -> None:
    """One print of 100 mm fits one sheet of either: the sheet of the lower price is the best, larger or not."""
    draw("ellipse", 100, 100).save(tmp_path / "owl.png")
    own = tmp_path / "own"
    own.mkdir()
    (own / "papers.toml").write_text("".join(f"[{name}]\ncost = {cost}\n" for name, cost in dear.items()), "utf-8")
    given = [argument for name in dear for argument in ("-p", name)]
    command = ["quote", tmp_path / "owl.png", "--width", "100 mm", *given, "--profiles", own, "--json"]
    code, out, _ = run(*command)
    assert code == 0
    offers = json.loads(out)["offers"]
    assert len(offers) == 3, "each alone, and both together"
    costs = [Decimal(offer["cost"]) for offer in offers]
    best = [number for number, offer in enumerate(offers) if offer["best"]]
    assert len(best) == 1
    assert costs[best[0]] == min(costs) == Decimal(dear[cheap])
    assert {name for name, count in offers[best[0]]["sheets"].items() if count} == {cheap}
