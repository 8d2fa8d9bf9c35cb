"""What a caller of the library door may choose."""

from __future__ import annotations

from collections.abc import Mapping
from concurrent.futures import Executor
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

from impose.errors import Exit, Finding, Trouble
from impose.kinds import ACCEPTABLE, KINDS
from impose.orders.batch import RowDefaults
from impose.profiles.placement import TearMargin
from impose.profiles.toml_tables import suggest_word
from impose.values import FrozenStruct, field

if TYPE_CHECKING:
    from impose.run.reuse_sheets import OntoRequest


class Options(FrozenStruct):
    """What a caller may choose; what is None or empty is left to the settings.

    `settings` are laid over the profiles' settings by name (see `impose.profiles.settings.Settings`), `environment`
    beneath them, `batch_settings` between the two (what the batch folder says, see `impose.run.batch_choices`).
    `columns` is a column map for the batch file (see `impose.orders.column_map`). Lengths are
    millimetres.
    `tear` wins over rows and placements. `workers` and `cache` change how fast the result comes, never the result.
    `executor` does the work instead of processes of our own, `scheduler` is the address of a Dask scheduler that does
    (see `impose.run.cluster`); they change nothing else either. `part_sheets` writes files of so many sheets, with
    memory that does not grow with the sheets' drawings; labels stay what they are. `limits` is the paper left by its
    full name, in sheets or in micrometres of a roll; it changes nothing while there is enough. `first` puts one garment
    of each run on sheets of its own (see `impose.run.first_off`). Raises `Trouble` (wrong use) if `accept` names what
    is no kind of warning or note, or `first` and `onto` are both asked for.
    """

    settings: Mapping[str, Any] = field(default_factory=dict)
    environment: Mapping[str, Any] = field(default_factory=dict)
    batch_settings: Mapping[str, Any] = field(default_factory=dict)
    profiles_dir: Path | None = None
    art_root: Path | None = None
    columns: Path | None = None
    blanks: RowDefaults = field(default_factory=RowDefaults)
    bare: Literal["mm", "in"] | None = None
    tear: TearMargin | None = None
    oversize: Literal["refuse", "shrink", "panels"] | None = None
    steps: int | None = None
    seconds: float | None = None
    skip_bad: bool = False
    strict: bool = False
    accept: frozenset[str] = frozenset()
    workers: int | None = None
    cache: bool = True
    executor: Executor | None = None
    scheduler: str | None = None
    part_sheets: int | None = None
    limits: Mapping[str, int] = field(default_factory=dict)
    onto: OntoRequest | None = None
    first: bool = False

    @property
    def oversize_way(self) -> Literal["refuse", "shrink", "panels"]:
        """What becomes of a print too large for every paper: it is refused where nobody says otherwise."""
        return self.oversize or "refuse"

    def __post_init__(self) -> None:
        if self.part_sheets is not None and self.part_sheets < 1:
            what = "sheets in a part: a part has one sheet or more"
            raise Trouble(Finding(what, kind="bad-option", read=str(self.part_sheets), exit=Exit.USAGE))
        if self.first and self.onto is not None:
            what = "first ones off and printed sheets are both asked for: the first ones get new sheets of their own"
            raise Trouble(Finding(what, "Leave out one of them.", kind="bad-option", exit=Exit.USAGE))
        unknown = [kind for kind in sorted(self.accept) if kind not in ACCEPTABLE]
        if unknown:
            raise Trouble([_make_unaccepted_finding(kind) for kind in unknown])


def _make_unaccepted_finding(kind: str) -> Finding:
    if kind in KINDS:
        what, remedy = f"{kind} cannot be accepted: that is a refusal, which nothing can make print", "Mend its cause."
    else:
        what, remedy = f"{kind} cannot be accepted: there is no such kind of finding", suggest_word(kind, ACCEPTABLE)
    return Finding(what, remedy, kind="bad-kind", read=kind, exit=Exit.USAGE)
