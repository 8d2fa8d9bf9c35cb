"""What a caller of the library door may choose, and how progress is told."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Literal

from impose.shop.orders import Blanks
from impose.shop.placement import Tear

Progress = Callable[[str, int, int], None]
"""Called with a stage ("artwork", "nesting", "sheets", "writing"), how much is done, and of how much."""


def silent(stage: str, done: int, of: int) -> None:
    """Tell nobody."""


@dataclass(frozen=True, slots=True)
class Options:
    """What a caller may choose; what is None or empty is left to the settings.

    `settings` are laid over the profiles' settings by name (see `impose.shop.settings.Settings`), `environment`
    beneath them. `columns` is a column map for the batch file (see `impose.shop.export`). Lengths are millimetres.
    `tear` wins over rows and placements. `workers` and `cache` change how fast the result comes, never the result.
    `limits` is the paper left by its full name, in sheets or in micrometres of a roll; it changes nothing while there
    is enough.
    """

    settings: Mapping[str, Any] = field(default_factory=dict)
    environment: Mapping[str, Any] = field(default_factory=dict)
    profiles_dir: Path | None = None
    art_root: Path | None = None
    columns: Path | None = None
    blanks: Blanks = field(default_factory=Blanks)
    bare: Literal["mm", "in"] | None = None
    tear: Tear | None = None
    oversize: Literal["refuse", "shrink"] = "refuse"
    steps: int | None = None
    seconds: float | None = None
    skip_bad: bool = False
    strict: bool = False
    accept: frozenset[str] = frozenset()
    workers: int | None = None
    cache: bool = True
    limits: Mapping[str, int] = field(default_factory=dict)
