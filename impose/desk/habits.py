"""What `impose watch` was told, in one record."""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path

from impose.desk.bench import Customs
from impose.desk.settle import long_rest
from impose.desk.want import Rules
from impose.errors import raise_stops
from impose.run.conversion import chosen_output
from impose.run.job import load
from impose.run.options import Options
from impose.run.workforce import refuse_both
from impose.sheet.sizing import scale_faults
from impose.shop.export import read_column_map

PATIENCE_S = 60.0


@dataclass(frozen=True, slots=True)
class Habits:
    """What `impose watch` was told. Seconds; `patience_s` None is a minute, or as short as may be with `once`."""

    settle_s: float = 2.0
    once: bool = False
    ledger: Path | None = None
    adopt: bool = False
    patience_s: float | None = None
    hold_s: float = 0.0
    fill: float = 1.0
    print_folder: Path | None = None
    command: tuple[str, ...] = ()
    ask: bool = False
    keep_done_s: float | None = None
    keep_done_bytes: int | None = None
    options: Options = field(default_factory=Options)

    def prove(self) -> None:
        """Raise `Trouble` for options that make no sense: said at the start, they refuse no drop."""
        refuse_both(self.options)
        profiles = load(self.options)
        raise_stops([*scale_faults(profiles)])
        _ = profiles.offered
        chosen_output(profiles, profiles.printer(profiles.settings.printer))
        if self.options.blanks.placement is not None:
            profiles.placement(self.options.blanks.placement)
        if self.options.columns is not None:
            read_column_map(self.options.columns)

    def rules(self) -> Rules:
        """What decides when something is taken."""
        patience = self.patience_s
        if patience is None:
            patience = long_rest(self.settle_s) if self.once else max(PATIENCE_S, long_rest(self.settle_s))
        return Rules(self.settle_s, patience, self.options.blanks, hold_s=self.hold_s)

    def customs(self) -> Customs:
        """How deliveries are put together."""
        return Customs(self.settle_s, self.fill, self.ask, self.once)
