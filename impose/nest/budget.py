"""How much may be tried: counted in steps, so that answers repeat, or by a clock."""

from __future__ import annotations

from dataclasses import dataclass
from time import monotonic

STEPS = 20_000  # sheets filled before giving up: a third of a second for a hundred pieces in plain Python


@dataclass
class SearchBudget:
    """How much more may be tried: sheets filled, or a clock; less if `patience` steps go by without any gain."""

    steps: int | None
    seconds: float | None = None
    patience: int | None = None
    done: int = 0
    gain: int = 0  # steps done when something was last gained

    def __post_init__(self) -> None:
        self.end = None if self.seconds is None else monotonic() + self.seconds

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
        return self.end is not None and monotonic() >= self.end

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
            return SearchBudget(None, max(0.0, self.end - monotonic()) / parts)
        left = max(0, (self.steps or 0) - self.done) // parts
        return SearchBudget(left if most_steps is None else min(left, most_steps), None, self.patience)

    def split_round(self, parts: int) -> SearchBudget:
        """A part of the whole as far as it is left, and at most half of the patience, to be counted in with `add`."""
        if self.seconds is not None:
            return SearchBudget(None, min(self.seconds / parts, self.remaining or 0.0))
        most = [(self.steps or 0) // parts, (self.steps or 0) - self.done]
        return SearchBudget(max(1, min(most if self.patience is None else [*most, self.patience // 2])))

    def add_steps(self, steps: int) -> None:
        """Count steps that were done apart."""
        self.done += steps


def usual_budget(pieces: int) -> SearchBudget:
    """The budget of a call that names none. Of the searches over published classes and trade batches that gained
    anything after a pause, none paused for longer than this."""
    return SearchBudget(STEPS, None, 1000 + 100 * pieces)
