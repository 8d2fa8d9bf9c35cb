"""Who does what on a desk, put together for one opening of its ledger and forgotten at the next trouble."""

from __future__ import annotations

from collections.abc import Callable, Iterator

from impose.desk.claim import Claimer
from impose.desk.deliver import Deliverer
from impose.desk.desk_stock import make_draw_step
from impose.desk.environment import DeskEnvironment
from impose.desk.folders import DeskFolders
from impose.desk.intake import Intake
from impose.desk.post_commands import PostCommands
from impose.desk.printer_sink import PrinterSink
from impose.desk.printing import PrintFolder
from impose.desk.production import Production
from impose.desk.prune import SteadyClock
from impose.desk.refuse import Refuser
from impose.desk.watch_options import WatchOptions
from impose.desk.worker_client import WorkerClient
from impose.ledger.drops import DeskDelivery, DropLedger
from impose.ledger.store import Ledger
from impose.profiles.profiles import Profiles

ONCE_WAIT_S = 8.0


class DeskParts:
    """Everything that lives between opening the ledger and the next trouble."""

    def __init__(
        self,
        ledger: Ledger,
        places: DeskFolders,
        habits: WatchOptions,
        world: DeskEnvironment,
        profiles: Profiles,
        maker: WorkerClient,
        say: Callable[[str], None],
        tell: Callable[[DeskDelivery], None] | None,
    ) -> None:
        self.ledger = ledger
        self.drops = drops = DropLedger(ledger)
        mark = places.read_identity() or ""
        self.refuser = Refuser(places, drops, world.fault, world.wall, say)
        self.claimer = Claimer(places, drops, self.refuser, world.fault, say)
        self.intake = Intake(
            places, world, habits.drop_rules(), profiles, self.claimer, maker, habits.options.columns, say
        )
        self.bench = Production(
            places, drops, world, self.refuser, maker, habits.options, habits.production_rules(), say
        )
        folder = habits.print_folder
        self.prints = None if folder is None else PrintFolder(folder, places, drops, world.fault, say)
        self.sink = None
        if habits.print_to is not None:
            accepted = habits.options.accept
            self.sink = PrinterSink(habits.print_to, places.root, profiles, drops, accepted, say, world.fault)
        self.deliverer = Deliverer(
            places,
            drops,
            world.fault,
            world.wall,
            say,
            self.prints or self.sink,
            bool(habits.command),
            make_draw_step(places.sheets, world.wall),
            tell,
        )
        self.calls = PostCommands(habits.command, places, drops, mark, world.fault, say) if habits.command else None
        self.later: dict[int, tuple[float, float, str]] = {}
        self.closing: dict[int, Iterator[None]] = {}
        self.pruning: Iterator[None] | None = None
        self.steady = SteadyClock(drops)
        self.unfinished = True

    def is_stuck(self) -> bool:
        """Whether all that is unfinished has failed more than once and waits for its next try."""
        return bool(self.later) and all(wait >= ONCE_WAIT_S for wait, *_ in self.later.values())

    @property
    def trouble(self) -> str:
        """What keeps deliveries from being made, or from being finished."""
        return self.bench.trouble or next((why for *_, why in self.later.values()), "")
