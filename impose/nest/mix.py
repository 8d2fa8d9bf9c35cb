"""Several papers, limits and rolls: the least total cost, by filling what is cheapest for its area and re-covering.

A nesting is built sheet by sheet: of all papers the one is taken whose filling costs least for the area it holds.
Then a few sheets at a time are taken apart and covered anew, and the change is kept if it costs less.
"""

from __future__ import annotations

import random
from collections.abc import Sequence
from dataclasses import replace

from impose.nest.bounds import bound_sheets
from impose.nest.budget import SearchBudget
from impose.nest.chunks import Spread
from impose.nest.compiled import find_loops
from impose.nest.compiled_cover import CompiledMix, CoveredPapers
from impose.nest.counted_paper import fit_within_limits
from impose.nest.cover import SheetCover, compute_floor_price
from impose.nest.exact_mix import MixSearch
from impose.nest.exact_sets import count_nodes
from impose.nest.instance import FilledSheet, NestingInstance
from impose.nest.large_jobs import solve_paper
from impose.nest.roll import SolvePaper, shorten_rolls, solve_roll
from impose.nest.search import choose_filler, used_area

Alone = dict[int, tuple[list[FilledSheet], int]]  # by paper: sheets of it alone, and what they cost at least

PART = 400  # pieces covered together at first
HURRIED_PART = 100  # where the clock leaves less than a second for
HURRIED = 8000  # pieces
GREEDY_PART = 0.3  # of the budget goes into the greedy mix with many tries
SIMPLE_TRIES = 8  # fillings that the simple greedy mix tries for each paper and sheet
DEALT_MOST = 24  # pieces that every way to deal is tried for, for about a tenth of the time that the budget takes
MIX_PATIENCE = 3  # times a single paper's: mixes gain after longer pauses, and with this none came out dearer


def find_cheapest_mix(
    job: NestingInstance,
    bound: int,
    budget: SearchBudget,
    seed: int,
    straight: bool,
    spread: Spread,
    alone: Alone | None = None,
) -> tuple[list[FilledSheet], int]:
    """Sheets for all pieces, or as many as the limits allow; and what they cost at least, more if that was seen.

    `alone` are sheets of single papers, where these were searched already.
    """
    cover = SheetCover(job, choose_filler(straight))
    best: list[FilledSheet] = []
    left = job.list_pieces()
    plain_roll = len(job.stocks) == 1 and job.stocks[0].height is None and job.stocks[0].limit is None
    if not plain_roll or job.piece_count <= PART:  # else it is laid as a roll below, and all of it fits
        best, left = _make_greedy_mixes(cover, budget, seed)
    if not left:
        budget.report_better(best)
    if left and best:
        best, left, bound = _nest_counted(cover, best, left, bound, budget, seed, straight)
    early = _proves_early(budget, straight)
    if early:  # a proof in a moment spares the search on each paper alone; with steps that comes first
        best, bound = _improve_by_exact_mix(job, best, left, bound, budget, straight)
        if job.total_cost(best) == bound and not left:
            return best, bound
    known = best if not left else None
    singles = list((alone or {}).values()) or _solve_single_papers(job, known, budget, seed, straight, spread)
    for sheets, least in singles:
        bound = max(bound, least) if len(job.stocks) == 1 else bound
        placed_all = sum(len(sheet.spots) for sheet in sheets) == job.piece_count
        if placed_all and (left or job.total_cost(sheets) < job.total_cost(best)):
            best, left = sheets, []
            budget.report_better(best)
    if not early:
        best, bound = _improve_by_exact_mix(job, best, left, bound, budget, straight)
    if best and not left:
        best = _recover_mix(cover, best, bound, budget, seed, straight)
    return best, bound


def _recover_mix(
    cover: SheetCover, best: list[FilledSheet], bound: int, budget: SearchBudget, seed: int, straight: bool
) -> list[FilledSheet]:
    """Sheets a few at a time taken apart and covered anew; one roll is done, since other pieces of it cost no less."""
    job = cover.job
    if len(job.stocks) == 1 and job.stocks[0].height is None:
        return best
    patience = None if budget.patience is None else MIX_PATIENCE * budget.patience
    part = budget.share_budget(budget.steps, budget.remaining, patience)
    part.tell = budget.tell
    best = recover_paper(cover, best, bound, part, random.Random(seed))
    budget.add_steps(part.done)
    return best if straight else shorten_rolls(job, best, seed, budget)


def _proves_early(budget: SearchBudget, straight: bool) -> bool:
    """Whether a clock runs and every way to deal is tried so fast that it comes first."""
    return budget.remaining is not None and not straight and find_loops() is not None


def _nest_counted(
    cover: SheetCover,
    best: list[FilledSheet],
    left: list[int],
    bound: int,
    budget: SearchBudget,
    seed: int,
    straight: bool,
) -> tuple[list[FilledSheet], list[int], int]:
    """Where the greedy mix left some over: every deal of few pieces, then the search; and what they cost at least."""
    job = cover.job
    if job.piece_count <= DEALT_MOST and all(stock.height is not None for stock in job.stocks):
        dealing = MixSearch(
            job, straight, count_nodes(budget, job.piece_count, straight), _most_cost(job), budget.ends_bounds
        )
        sheets = dealing.find_sheets()
        if sheets is not None:
            return sheets, [], bound if dealing.open else job.total_cost(sheets)
    part = budget.share_budget(budget.steps, None if budget.remaining is None else budget.remaining / 2)
    best, left = fit_within_limits(cover, best, left, part, seed, straight)
    budget.add_steps(part.done)
    budget.note_gain()
    return best, left, bound


def _most_cost(job: NestingInstance) -> int:
    """More than any sheets for all pieces can cost, none of them empty."""
    return job.piece_count * max(stock.cost for stock in job.stocks) + 1


def _improve_by_exact_mix(
    job: NestingInstance, best: list[FilledSheet], left: list[int], bound: int, budget: SearchBudget, straight: bool
) -> tuple[list[FilledSheet], int]:
    """Cheaper sheets or a higher bound, where trying every way to deal few pieces tells and none is `left` over."""
    if (
        not best
        or left
        or job.piece_count > DEALT_MOST
        or job.total_cost(best) == bound
        or any(stock.height is None for stock in job.stocks)
    ):
        return best, bound
    dealing = MixSearch(
        job, straight, count_nodes(budget, job.piece_count, straight), job.total_cost(best), budget.ends_bounds
    )
    best = dealing.find_sheets() or best
    budget.report_better(best)
    return best, bound if dealing.open else job.total_cost(best)


def _solve_single_papers(
    job: NestingInstance,
    known: list[FilledSheet] | None,
    budget: SearchBudget,
    seed: int,
    straight: bool,
    spread: Spread,
) -> list[tuple[list[FilledSheet], int]]:
    """The best on each paper that takes every piece, has enough of it, and may cost less than what is known.

    Each with what all pieces cost on that paper at least, as far as the search saw it.
    """
    least = job.total_cost(known) if known is not None else None
    found: list[tuple[list[FilledSheet], int]] = []
    fit = [i for i in range(len(job.stocks)) if all(job.list_fitting_kinds(i))]
    fit.sort(key=lambda i: (compute_floor_price(job.stocks[i]), i))
    for number, index in enumerate(fit):
        stock = job.stocks[index]
        if (known is not None and budget.is_spent) or (found and budget.over):
            break
        if not _may_hold_all(job, index):
            continue
        # Each paper has the whole budget of steps, as if it were alone: so a mix is never worse than one paper.
        # Of the clock each has a part, and the mix that comes after them; a roll on its own has all of it.
        parts = len(fit) - number + (len(job.stocks) > 1 or stock.height is not None)
        seconds = None if budget.remaining is None else budget.remaining / parts
        part = replace(budget.share_budget(budget.steps, seconds, budget.patience), tell=budget.tell)
        if stock.height is None:
            solved = solve_roll(job, index, part, seed, straight, _bind_spread(spread))
            sheets, bound = (None, 0) if solved is None else solved
        else:
            fewest = bound_sheets(job, index, budget.ends_bounds)
            if least is not None and fewest * stock.cost >= least:
                continue
            if stock.limit is not None and fewest > stock.limit:
                continue
            sheets, fewest = solve_paper(job, index, fewest, part, seed, straight, spread)
            bound = fewest * stock.cost
            if stock.limit is not None and len(sheets) > stock.limit:
                sheets = None
        if sheets is not None:
            found.append((sheets, bound))
            least = job.total_cost(sheets) if least is None else min(least, job.total_cost(sheets))
    return found


def _may_hold_all(job: NestingInstance, index: int) -> bool:
    """Whether there is paper enough by its area alone."""
    stock = job.stocks[index]
    if stock.limit is None:
        return True
    room = stock.limit * (stock.width if stock.height is None else stock.width * stock.height)
    return sum(job.piece_area(k) * count for k, count in enumerate(job.counts)) <= room


def _bind_spread(spread: Spread) -> SolvePaper:
    """`solve_paper` with its work spread as given."""

    def solve(
        job: NestingInstance, stock: int, fewest: int, budget: SearchBudget, seed: int, straight: bool
    ) -> list[FilledSheet]:
        return solve_paper(job, stock, fewest, budget, seed, straight, spread)[0]

    return solve


def _make_greedy_mixes(cover: SheetCover, budget: SearchBudget, seed: int) -> tuple[list[FilledSheet], list[int]]:
    """The better of two greedy mixes of all pieces: by the simple orders, and with as many tries as a part allows."""
    before, count = budget.remaining, budget.share_budget(None, budget.remaining)
    best, left = _make_greedy_mix(cover, count)
    if not left:
        budget.report_better(best)
    if before is not None and budget.remaining is not None:
        tries = int(GREEDY_PART * budget.remaining * SIMPLE_TRIES / max(1e-9, before - budget.remaining))
    else:
        tries = int(GREEDY_PART * ((budget.steps or 0) - budget.done) / max(1, count.done))
    if tries > 1 and not left and len(cover.job.stocks) > 1:
        made, over = _make_greedy_mix(cover, budget, random.Random(seed), tries)
        budget.note_gain()  # nothing was searched yet that patience could be lost with
        if not over and cover.job.total_cost(made) < cover.job.total_cost(best):
            best = made
    return best, left


def _make_greedy_mix(
    cover: SheetCover, budget: SearchBudget, chance: random.Random | None = None, tries: int = 1
) -> tuple[list[FilledSheet], list[int]]:
    """A greedy mix of all pieces; many are dealt into parts, so that the work does not grow with their square."""
    kinds = cover.job.list_pieces()
    limits = cover.job.remaining_limits([])
    hurried = budget.remaining is not None and len(kinds) > HURRIED * budget.remaining
    waiting = _deal_parts(kinds, HURRIED_PART if hurried else PART)
    sheets: list[FilledSheet] = []
    left: list[int] = []
    while waiting:
        if budget.over:
            if chance is not None:
                return sheets, kinds  # the other mix is taken
            if len(waiting[0]) > HURRIED_PART:
                waiting[:1] = _deal_parts(waiting[0], HURRIED_PART)
        part = sorted([*waiting.pop(0), *left])
        useless = chance is not None and bool(waiting)  # once it is over, as nothing comes after it
        made, left = cover.cover_greedily(part, limits, budget, chance, tries, useless)
        # the last sheet is rarely full: the next part may fill it; not a roll that would hold part after part
        if waiting and made and len(made[-1].spots) <= PART:
            last = made.pop()
            limits[last.stock] = cover.job.limit_after(limits[last.stock], last, back=True)
            left += last.kinds
        sheets += made
    return sheets, left


def _deal_parts(kinds: list[int], most: int) -> list[list[int]]:
    """The pieces in as few parts of at most so many as can be, each with its share of large and small."""
    parts = -(-len(kinds) // most)
    return [kinds[i::parts] for i in range(parts)]


def recover_paper(
    cover: SheetCover, sheets: list[FilledSheet], bound: int, budget: SearchBudget, chance: random.Random
) -> list[FilledSheet]:
    """The mix covered anew a few sheets at a time, until it costs no more than the bound or the budget is spent."""
    if cover.compiled is not None:
        done = _recover_compiled(cover.compiled, cover.job, sheets, bound, budget, chance)
        if done is not None:
            return done
    mixed = _MixImprover(cover, sheets, chance)
    while mixed.total > bound and not budget.is_spent:
        if mixed.recover_sheets(budget):
            budget.report_better(list(mixed.sheets))
    return mixed.sheets


def _recover_compiled(
    papers: CoveredPapers,
    job: NestingInstance,
    sheets: list[FilledSheet],
    bound: int,
    budget: SearchBudget,
    chance: random.Random,
) -> list[FilledSheet] | None:
    """`recover_paper` by the compiled loop, which gives the same; None without memory, as if nothing had been done."""
    state, done, gain = chance.getstate(), budget.done, budget.gain
    mixed = CompiledMix(papers, sheets, job.remaining_limits(sheets), job.total_cost(sheets))
    while mixed.total > bound and not budget.is_spent:
        saved = mixed.recover_sheets(bound, budget, chance)
        if saved is None:
            chance.setstate(state)
            budget.done, budget.gain = done, gain
            return None
        if saved and budget.tell is not None:
            budget.report_better(mixed.list_sheets())
    return mixed.list_sheets()


class _MixImprover:
    """A mix and its cost, covered anew a few sheets at a time."""

    def __init__(self, cover: SheetCover, sheets: list[FilledSheet], chance: random.Random) -> None:
        self.cover, self.job, self.sheets, self.chance = cover, cover.job, list(sheets), chance
        self.total = self.job.total_cost(sheets)
        self.limits = self.job.remaining_limits(sheets)

    def recover_sheets(self, budget: SearchBudget) -> bool:
        """Take a few sheets apart and cover them anew; kept if cheaper, or as cheap with the waste more in one place.

        Waste that gathers on few sheets is what makes the next saving possible. Returns whether it is cheaper.
        """
        count = min(len(self.sheets), self.chance.choice((1, 2, 2, 3, 3, 4)))
        apart = self.chance.sample(range(len(self.sheets)), count)
        old = [self.sheets[index] for index in apart]
        limits = list(self.limits)
        for sheet in old:
            limits[sheet.stock] = self.job.limit_after(limits[sheet.stock], sheet, back=True)
        kinds = sorted(k for sheet in old for k in sheet.kinds)
        fresh, left = self.cover.cover_greedily(kinds, limits, budget, self.chance)
        gain = self.job.total_cost(old) - self.job.total_cost(fresh)
        if left or gain < 0 or (gain == 0 and self._gather_sheets(fresh) < self._gather_sheets(old)):
            return False
        self.limits = limits
        self.total -= gain
        if gain:
            budget.note_gain()
        for index in sorted(apart, reverse=True):
            self.sheets[index] = self.sheets[-1]
            self.sheets.pop()
        self.sheets += fresh
        return gain > 0

    def _gather_sheets(self, sheets: Sequence[FilledSheet]) -> int:
        return sum(used_area(self.job, sheet) ** 2 for sheet in sheets)
