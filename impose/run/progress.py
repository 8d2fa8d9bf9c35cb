"""How far a call of the library door is: the stages it names, and the only place that tells its caller."""

from __future__ import annotations

from collections.abc import Callable
from enum import StrEnum

Progress = Callable[[str, int, int], None]
"""Called with a stage, how much of it is done, and of how much."""


class Stage(StrEnum):
    """What a call is at, in the order in which they come."""

    WORDS = "words"
    ARTWORK = "artwork"
    NESTING = "nesting"
    SHEETS = "sheets"
    WRITING = "writing"


def report_nothing(stage: str, done: int, of: int) -> None:
    """Tell nobody."""


def report_stage(progress: Progress, stage: Stage, done: int, of: int) -> None:
    """Tell a caller how much of a stage is done."""
    progress(stage.value, done, of)
