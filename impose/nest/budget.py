"""How much may be tried: counted in steps, so that answers repeat, or by a clock."""

from __future__ import annotations

from dataclasses import dataclass
from time import monotonic


@dataclass
class Budget:
    """How much more may be tried: sheets filled, or a clock."""

    steps: int | None
    seconds: float | None = None
    done: int = 0

    def __post_init__(self) -> None:
        self.end = None if self.seconds is None else monotonic() + self.seconds

    def spend(self) -> bool:
        """Take one step; False once there are none left."""
        if self.spent:
            return False
        self.done += 1
        return True

    @property
    def spent(self) -> bool:
        """Whether nothing is left."""
        return (self.steps is not None and self.done >= self.steps) or (
            self.end is not None and monotonic() >= self.end
        )

    @property
    def remaining(self) -> float | None:
        """Seconds left; None where steps are what counts."""
        return None if self.end is None else max(0.0, self.end - monotonic())

    def share(self, parts: int, most_steps: int | None = None) -> Budget:
        """A part of what is left, to be spent apart and then counted in with `add`."""
        if self.end is not None:
            return Budget(None, max(0.0, self.end - monotonic()) / parts)
        left = max(0, (self.steps or 0) - self.done) // parts
        return Budget(left if most_steps is None else min(left, most_steps))

    def add(self, steps: int) -> None:
        """Count steps that were done apart."""
        self.done += steps
