"""`quote`: what a batch takes of each paper alone and of the best mix, without writing anything."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from impose.errors import Exit, Finding, Trouble
from impose.run.job import Job, begin
from impose.run.offer import Nested, nest_on
from impose.run.options import Options, Progress, silent
from impose.sheet.money import sheet_cost, to_decimal
from impose.shop.orders import Batch
from impose.shop.paper import Paper


@dataclass(frozen=True, slots=True)
class Offer:
    """The batch on one paper, or on a mix: sheets, yield and cost, or why it cannot be made on it."""

    papers: tuple[Paper, ...]
    sheets: Mapping[str, int]  # by paper alias
    yield_: float
    cost: int  # whole millionths
    fewest: int | None
    proven: bool
    findings: tuple[Finding, ...] = ()
    refused: tuple[Finding, ...] = ()


@dataclass(frozen=True, slots=True)
class Quote:
    """Every paper offered alone, then all of them together where there are several."""

    batch: Batch
    transfers: int
    offers: tuple[Offer, ...]
    currency: str

    @property
    def best(self) -> Offer | None:
        """The cheapest offer that can be made; of equals the first."""
        made = [offer for offer in self.offers if not offer.refused]
        return min(made, key=lambda offer: offer.cost, default=None)

    @property
    def exit(self) -> Exit:
        """Done if the batch can be made on what is offered together."""
        return Exit.DONE if self.best else Exit.NO_ROOM

    def values(self) -> dict[str, Any]:
        """Plain values for JSON."""
        return {
            "batch": self.batch.name,
            "transfers": self.transfers,
            "currency": self.currency,
            "offers": [_values(offer, offer is self.best) for offer in self.offers],
        }


def quote(sources: Sequence[Path], options: Options | None = None, progress: Progress = silent) -> Quote:
    """Nest a batch on each paper alone and on all together. Raises `Trouble` if the batch itself is at fault."""
    options = options or Options()
    job = begin(sources, options, progress)
    mixes = [(paper,) for paper in job.papers] + ([job.papers] if len(job.papers) > 1 else [])
    offers = [_offer(mix, job, options, progress) for mix in mixes]
    transfers = sum(row.copies for row in job.batch.rows)
    return Quote(job.batch, transfers, tuple(offers), job.profiles.settings.currency)


def _offer(papers: Sequence[Paper], job: Job, options: Options, progress: Progress) -> Offer:
    try:
        nested = nest_on(papers, job, options, progress)
    except Trouble as trouble:
        if trouble.exit is not Exit.NO_ROOM:
            raise
        return Offer(tuple(papers), {}, 0.0, 0, None, False, refused=trouble.findings)
    return _measured(papers, nested)


def _measured(papers: Sequence[Paper], nested: Nested) -> Offer:
    by_name = {paper.name: paper for paper in papers}
    counts = {paper.alias: 0 for paper in papers}
    cost, area = 0, 0.0
    for sheet in nested.nesting.sheets:
        paper = by_name[sheet.stock]
        length = paper.height_mm or sheet.height / 1000
        counts[paper.alias] += 1
        cost += sheet_cost(paper, length)
        area += paper.width_mm * length
    used = sum(one.piece.cell_w_mm * one.piece.cell_h_mm for one in nested.transfers.values())
    share = used / area if area else 0.0
    fewest = nested.fewest
    return Offer(tuple(papers), counts, share, cost, fewest.sheets, fewest.proven, nested.findings)


def _values(offer: Offer, best: bool) -> dict[str, Any]:
    return {
        "papers": [paper.name for paper in offer.papers],
        "sheets": dict(offer.sheets),
        "yield": round(offer.yield_, 4),
        "cost": f"{to_decimal(offer.cost):f}",
        "fewest": offer.fewest,
        "proven": offer.proven,
        "best": best,
        "refused": [str(finding) for finding in offer.refused],
    }
