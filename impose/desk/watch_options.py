"""What `impose watch` was told, in one record."""

from __future__ import annotations

import os
from pathlib import Path

from impose.desk.drop_rules import DropRules
from impose.desk.make import ProductionRules
from impose.desk.scan import compute_long_rest
from impose.errors import Exit, Finding, Trouble, raise_stops
from impose.orders.column_map import read_column_map
from impose.printing.printer_access import find_named_printer
from impose.run.executors import refuse_workers_and_scheduler
from impose.run.load_batch import load_profiles_in_force
from impose.run.options import Options
from impose.run.output_profile_choice import choose_output_profile
from impose.sheet.sizing import check_cloth_scales
from impose.values import FrozenStruct, field

PATIENCE_S = 60.0


class WatchOptions(FrozenStruct):
    """What `impose watch` was told. Seconds; `patience_s` None is a minute, or as short as may be with `once`."""

    settle_s: float = 2.0
    once: bool = False
    ledger: Path | None = None
    adopt: bool = False
    patience_s: float | None = None
    hold_s: float = 0.0
    fill: float = 1.0
    print_folder: Path | None = None
    print_to: str | None = None
    command: tuple[str, ...] = ()
    ask: bool = False
    keep_done_s: float | None = None
    keep_done_bytes: int | None = None
    options: Options = field(default_factory=Options)

    def check_options(self) -> None:
        """Raise `Trouble` for options that make no sense: said at the start, they refuse no drop."""
        refuse_workers_and_scheduler(self.options)
        if self.print_folder is not None and self.print_to is not None:
            what = "a print folder and a printer are both given"
            raise Trouble(Finding(what, "Sheets go one way or the other.", exit=Exit.USAGE))
        profiles = load_profiles_in_force(self.options)
        raise_stops([*check_cloth_scales(profiles)])
        _ = profiles.offered_papers
        if self.print_to is not None:
            find_named_printer(self.print_to, profiles, os.environ)
        choose_output_profile(profiles, profiles.find_printer(profiles.settings.printer))
        if self.options.blanks.placement is not None:
            profiles.require_placement(self.options.blanks.placement)
        if self.options.columns is not None:
            read_column_map(self.options.columns)

    def drop_rules(self) -> DropRules:
        """What decides when something is taken."""
        patience = self.patience_s
        if patience is None:
            patience = (
                compute_long_rest(self.settle_s) if self.once else max(PATIENCE_S, compute_long_rest(self.settle_s))
            )
        return DropRules(self.settle_s, patience, self.options.blanks, hold_s=self.hold_s)

    def production_rules(self) -> ProductionRules:
        """How deliveries are put together."""
        return ProductionRules(self.settle_s, self.fill, self.ask, self.once)
