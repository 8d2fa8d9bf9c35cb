"""When the papers on offer do not last: the cheapest other paper that does."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from decimal import Decimal
from itertools import islice

from impose.errors import Exit, Finding, Trouble
from impose.run.job import Job
from impose.run.offer import Nested, nest_on
from impose.run.options import Options, silent
from impose.run.owned import owned_papers
from impose.run.shortage import StockTrouble
from impose.sheet.money import show_money
from impose.shop.paper import Paper

CANDIDATES = 6
STEPS = 500
"""An answer to weigh, not to print: a small part of the steps that a batch is nested with."""


def second_best(short: StockTrouble, job: Job, options: Options) -> Iterator[Finding]:
    """What the cheapest other paper costs, alone and with what is left of those on offer; says so if there is none."""
    small = replace(options, steps=STEPS, seconds=None)
    made = list(islice(_made(job, small), CANDIDATES))
    if not made:
        what = "no other paper in a papers.toml of the shop's own takes the whole batch"
        yield _note(what, "Buy paper, or make some of the orders now.")
        return
    paper, cost, sheets = min(made, key=lambda entry: (entry[1], entry[0].name))
    price = f"{show_money(cost)} {job.profiles.settings.currency}"
    noun = "sheet" if paper.height_mm else "piece"
    said = f"{paper.alias} takes the whole batch: {sheets} {noun}{'' if sheets == 1 else 's'}, {price} of paper"
    yield _note(said, f"Offer it with -p {paper.alias}{_mixed(paper, cost, job, small)}.")


def _made(job: Job, options: Options) -> Iterator[tuple[Paper, int, int]]:
    for paper in _others(job):
        costed = _cost((paper,), job, options)
        if costed is not None:
            yield paper, *costed


def _others(job: Job) -> list[Paper]:
    """The shop's papers that are not on offer, the cheapest by area first; one without a price is no comparison."""
    others = [paper for paper in owned_papers(job) if paper.cost > 0]
    return sorted(others, key=lambda paper: (paper.cost / Decimal(paper.width_mm * _length_mm(paper)), paper.name))


def _length_mm(paper: Paper) -> float:
    """The length that the price is for: a sheet's, or a metre of a roll."""
    return paper.height_mm or 1000.0


def _cost(papers: tuple[Paper, ...], job: Job, options: Options) -> tuple[int, int] | None:
    """Paper cost in whole millionths, and sheets."""
    nested = _nested(papers, job, options)
    if nested is None:
        return None
    charges = nested.charges()
    return sum(charge.cost for charge in charges), len(charges)


def _nested(papers: tuple[Paper, ...], job: Job, options: Options) -> Nested | None:
    try:
        return nest_on(papers, job, options, silent)
    except Trouble:  # it fits no sheet of it, or of this one too little is left
        return None


def _mixed(paper: Paper, alone: int, job: Job, options: Options) -> str:
    """What it comes to beside what is left of the papers on offer, where that is cheaper."""
    costed = _cost((*job.papers, paper), job, options)
    names = " ".join(f"-p {one.alias}" for one in (*job.papers, paper))
    return (
        ""
        if costed is None or costed[0] >= alone
        else f", or beside what is left with {names} ({show_money(costed[0])})"
    )


def _note(what: str, remedy: str) -> Finding:
    return Finding(what, remedy, kind="stock", exit=Exit.NO_ROOM)
