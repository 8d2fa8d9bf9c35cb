"""When the papers on offer do not last: the cheapest other paper that does."""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal
from itertools import islice

from impose.errors import Exit, Finding, Trouble, count_noun
from impose.profiles.paper import Paper
from impose.remedies import Remedy
from impose.run.load_batch import LoadedBatch
from impose.run.nest_batch import NestedBatch, nest_on
from impose.run.options import Options
from impose.run.owned_papers import list_owned_papers
from impose.run.progress import report_nothing
from impose.run.shortage import StockShortage
from impose.sheet.money import show_money
from impose.values import replace

CANDIDATES = 6
STEPS = 500
"""An answer to weigh, not to print: a small part of the steps that a batch is nested with."""


def suggest_other_paper(short: StockShortage, job: LoadedBatch, options: Options) -> Iterator[Finding]:
    """What the cheapest other paper costs, alone and with what is left of those on offer; says so if there is none."""
    small = replace(options, steps=STEPS, seconds=None)
    made = list(islice(_list_alternatives(job, small), CANDIDATES))
    if not made:
        what = "no other paper in a papers.toml of the shop's own takes the whole batch"
        yield _make_note(what, "Buy paper, or make some of the orders now.")
        return
    paper, cost, sheets = min(made, key=lambda entry: (entry[1], entry[0].name))
    price = f"{show_money(cost)} {job.profiles.settings.currency}"
    noun = "sheet" if paper.height_mm else "piece"
    said = f"{paper.alias} takes the whole batch: {count_noun(sheets, noun)}, {price} of paper"
    yield _make_note(said, _make_remedy(paper, cost, job, small))


def _list_alternatives(job: LoadedBatch, options: Options) -> Iterator[tuple[Paper, int, int]]:
    for paper in _list_other_papers(job):
        costed = _compute_cost((paper,), job, options)
        if costed is not None:
            yield paper, *costed


def _list_other_papers(job: LoadedBatch) -> list[Paper]:
    """The shop's papers that are not on offer, the cheapest by area first; one without a price is no comparison."""
    others = [paper for paper in list_owned_papers(job) if paper.cost > 0]
    return sorted(
        others, key=lambda paper: (paper.cost / Decimal(paper.width_mm * _priced_length_mm(paper)), paper.name)
    )


def _priced_length_mm(paper: Paper) -> float:
    """The length that the price is for: a sheet's, or a metre of a roll."""
    return paper.height_mm or 1000.0


def _compute_cost(papers: tuple[Paper, ...], job: LoadedBatch, options: Options) -> tuple[int, int] | None:
    """Paper cost in whole millionths, and sheets."""
    nested = _nest_on(papers, job, options)
    if nested is None:
        return None
    charges = nested.list_charges()
    return sum(charge.cost for charge in charges), len(charges)


def _nest_on(papers: tuple[Paper, ...], job: LoadedBatch, options: Options) -> NestedBatch | None:
    try:
        return nest_on(papers, job, options, report_nothing)
    except Trouble:  # it fits no sheet of it, or of this one too little is left
        return None


def _make_remedy(paper: Paper, alone: int, job: LoadedBatch, options: Options) -> Remedy:
    """To offer it; and what it comes to beside what is left of the papers on offer, where that is cheaper."""
    costed = _compute_cost((*job.papers, paper), job, options)
    if costed is None or costed[0] >= alone:
        return Remedy("offer-paper", paper=paper.alias)
    names = " ".join(named.alias for named in (*job.papers, paper))
    return Remedy("offer-papers", paper=paper.alias, papers=names, cost=show_money(costed[0]))


def _make_note(what: str, remedy: str) -> Finding:
    return Finding(what, remedy, kind="stock", exit=Exit.NO_ROOM)
