"""Who does what on a desk, put together for one opening of its ledger and forgotten at the next trouble."""

from __future__ import annotations

from collections.abc import Callable, Iterator

from impose.desk.bench import Bench
from impose.desk.calls import Calls
from impose.desk.claim import Claimer
from impose.desk.deliver import Deliverer
from impose.desk.habits import Habits
from impose.desk.intake import Intake
from impose.desk.maker import Maker
from impose.desk.paper import draw
from impose.desk.places import Places
from impose.desk.printing import PrintFolder
from impose.desk.prune import SteadyClock
from impose.desk.refuse import Refuser
from impose.desk.world import World
from impose.ledger.drops import Delivery, Drops
from impose.ledger.store import Ledger
from impose.shop.profiles import Profiles

ONCE_WAIT_S = 8.0


class Crew:
    """Everything that lives between opening the ledger and the next trouble."""

    def __init__(
        self,
        ledger: Ledger,
        places: Places,
        habits: Habits,
        world: World,
        profiles: Profiles,
        maker: Maker,
        say: Callable[[str], None],
        tell: Callable[[Delivery], None] | None,
    ) -> None:
        self.ledger = ledger
        self.drops = drops = Drops(ledger)
        mark = places.identity() or ""
        self.refuser = Refuser(places, drops, world.fault, world.wall, say)
        self.claimer = Claimer(places, drops, self.refuser, world.fault, say)
        self.intake = Intake(places, world, habits.rules(), profiles, self.claimer, maker, habits.options.columns, say)
        self.bench = Bench(places, drops, world, self.refuser, maker, habits.options, habits.customs(), say)
        folder = habits.print_folder
        self.prints = None if folder is None else PrintFolder(folder, places, drops, world.fault, say)
        self.deliverer = Deliverer(
            places,
            drops,
            world.fault,
            world.wall,
            say,
            self.prints,
            bool(habits.command),
            draw(places.sheets, world.wall),
            tell,
        )
        self.calls = Calls(habits.command, places, drops, mark, world.fault, say) if habits.command else None
        self.later: dict[int, tuple[float, float, str]] = {}
        self.closing: dict[int, Iterator[None]] = {}
        self.pruning: Iterator[None] | None = None
        self.steady = SteadyClock(drops)
        self.unfinished = True

    def stuck(self) -> bool:
        """Whether all that is unfinished has failed more than once and waits for its next try."""
        return bool(self.later) and all(wait >= ONCE_WAIT_S for wait, *_ in self.later.values())

    @property
    def trouble(self) -> str:
        """What keeps deliveries from being made, or from being finished."""
        return self.bench.trouble or next((why for *_, why in self.later.values()), "")
