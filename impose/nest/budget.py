"""How much may be tried: counted in steps, so that answers repeat, or by a clock."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from time import monotonic
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from impose.nest.instance import FilledSheet

BOUND_LEAST = 0.12  # seconds that the first bounds may take, however little the clock allows, where pieces are few
BOUND_PAST = 0.05  # but no longer than so much past the clock
BOUND_PART = 0.5  # of the clock, otherwise
FILLING = 0.03e-3  # seconds for each piece and paper that the simplest answer takes
FINISHING = 0.04e-3  # seconds for each piece to name what lies where and to prove it
SEARCHING_PART = 0.3  # of the clock, at least, is left for what comes before that
GRACE = 0.03  # seconds past its clock after which a bound worked out within a search is given up
STEPS = 20_000  # sheets filled before giving up: a third of a second for a hundred pieces in plain Python
STRAIGHT_STEPS = 40_000  # for straight cuts, where filling a sheet takes less than half as long


@dataclass
class SearchBudget:
    """How much more may be tried: sheets filled, or a clock; less if `patience` steps go by without any gain.

    `stop` is asked often and ends the search at once; `tell` hears of sheets that hold all pieces of the whole job.
    """

    steps: int | None
    seconds: float | None = None
    patience: int | None = None
    done: int = 0
    gain: int = 0  # steps done when something was last gained
    stop: Callable[[], bool] | None = None
    tell: Callable[[list[FilledSheet]], None] | None = None
    bounding: float | None = None  # seconds that the first bounds may take

    def __post_init__(self) -> None:
        self.begun = monotonic()
        self.end = None if self.seconds is None else self.begun + self.seconds

    def spend_step(self) -> bool:
        """Take one step; False once there are none left."""
        if self.is_spent:
            return False
        self.done += 1
        return True

    @property
    def is_spent(self) -> bool:
        """Whether nothing is left, or no more gain is likely."""
        if self.steps is not None and self.done >= self.steps:
            return True
        if self.patience is not None and self.done - self.gain >= self.patience:
            return True
        return self.over

    @property
    def over(self) -> bool:
        """Whether the clock has run out or the caller wants no more, whatever steps are left."""
        if self.end is not None and monotonic() >= self.end:
            return True
        return self.stop is not None and self.stop()

    @property
    def stopped(self) -> bool:
        """Whether the caller wants no more."""
        return self.stop is not None and self.stop()

    def ends_first_bounds(self) -> bool:
        """Whether the bounds worked out before any search have had their part of the clock."""
        if self.bounding is not None and monotonic() - self.begun >= self.bounding:
            return True
        return self.stop is not None and self.stop()

    def ends_bounds(self) -> bool:
        """Whether even a bound worked out within a search has to end."""
        if self.end is not None and monotonic() >= self.end + GRACE:
            return True
        return self.stop is not None and self.stop()

    def report_better(self, sheets: list[FilledSheet]) -> None:
        """Hand on sheets that hold all pieces of the whole job, to whoever is to be told of them."""
        if self.tell is not None:
            self.tell(sheets)

    def share_budget(
        self, steps: int | None, seconds: float | None = None, patience: int | None = None
    ) -> SearchBudget:
        """Another budget that the same caller can stop."""
        return SearchBudget(steps, seconds, patience, stop=self.stop)

    def extend_clock(self, seconds: float) -> SearchBudget:
        """A budget without steps that ends so much later than this one, which may be over for longer than that."""
        longer = self.share_budget(None)
        longer.end = None if self.end is None else self.end + seconds
        return longer

    def note_gain(self) -> None:
        """Something was gained: patience begins anew."""
        self.gain = self.done

    @property
    def remaining(self) -> float | None:
        """Seconds left; None where steps are what counts."""
        return None if self.end is None else max(0.0, self.end - monotonic())

    def split_off(self, parts: int, most_steps: int | None = None) -> SearchBudget:
        """A part of what is left, to be spent apart and then counted in with `add`."""
        if self.end is not None:
            return self.share_budget(None, max(0.0, self.end - monotonic()) / parts)
        left = max(0, (self.steps or 0) - self.done) // parts
        return self.share_budget(left if most_steps is None else min(left, most_steps), None, self.patience)

    def split_round(self, parts: int) -> SearchBudget:
        """A part of the whole as far as it is left, and at most half of the patience, to be counted in with `add`."""
        if self.seconds is not None:
            return replace(self.share_budget(None, min(self.seconds / parts, self.remaining or 0.0)), tell=self.tell)
        most = [(self.steps or 0) // parts, (self.steps or 0) - self.done]
        steps = max(1, min(most if self.patience is None else [*most, self.patience // 2]))
        return replace(self.share_budget(steps), tell=self.tell)

    def add_steps(self, steps: int) -> None:
        """Count steps that were done apart."""
        self.done += steps


def make_budget(
    steps: int | None, seconds: float | None, pieces: int, papers: int = 1, straight: bool = False
) -> SearchBudget:
    """The budget of a call. The clock is less by what comes after the search, which grows with the pieces.

    A call that names none has so many steps that, of the searches over published classes and trade batches that gained
    anything after a pause, none paused for longer than its patience.
    """
    if seconds is None:
        most = STRAIGHT_STEPS if straight else STEPS
        return SearchBudget(most, None, 1000 + 100 * pieces) if steps is None else SearchBudget(steps)
    searching = max(SEARCHING_PART * seconds, seconds - FINISHING * pieces)
    filling = FILLING * pieces * papers
    least = min(BOUND_LEAST, searching + BOUND_PAST) - 2 * filling
    return SearchBudget(None, searching, bounding=max(least, BOUND_PART * (searching - filling)))
