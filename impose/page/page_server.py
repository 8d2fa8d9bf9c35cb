"""The server of the page: which batches are open, who listens, what is at work; and when it ends."""

from __future__ import annotations

import asyncio
import contextlib
import secrets
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from impose.page.batch_list import BatchList
from impose.page.events import EventHub
from impose.page.guard import AccessKeys
from impose.page.jobs import JobList, say_progress
from impose.page.open_batch import OpenBatch
from impose.page.planner_client import CHILD, HelperEnded, PlannerClient
from impose.page.planner_messages import PlanFault, PlannerSetup, PlanRequest, PlanTold, ProgressTold
from impose.page.print_values import PrintKeeper
from impose.page.refusal import Refusal
from impose.run.options import Options
from impose.run.own_profiles import use_own_profiles

LOOK_S = 1.0
"""How often the files of open batches are looked at."""
LONELY_S = 24 * 3600.0
"""Without anybody for so long, and it ends by itself."""


@dataclass(slots=True)
class PageSetup:
    """What a server is started with.

    `headers_s` is how long the headers of a request may take, and the rest between two on one connection; `body_s` how
    long a body may: 512 MB at 1 MB a second.
    """

    options: Options
    ledger: Path
    state_folder: Path
    home: Path
    own_profiles: Path
    desk: Path | None = None
    planner_script: Sequence[str] = CHILD
    headers_s: float = 10.0
    body_s: float = 600.0


@dataclass(slots=True)
class PageServer:
    """Everything that answers share. All of it belongs to one event loop."""

    setup: PageSetup
    keys: AccessKeys
    batches: BatchList = field(init=False)
    prints: PrintKeeper = field(init=False)
    events: EventHub = field(default_factory=EventHub)
    jobs: JobList = field(init=False)
    open: dict[str, OpenBatch] = field(default_factory=dict)
    planners: dict[str, PlannerClient] = field(default_factory=dict)
    current: str = ""
    name: str = field(default_factory=lambda: f"s{secrets.token_hex(4)}")
    ended: asyncio.Event = field(default_factory=asyncio.Event)
    last_seen: float = field(default_factory=time.monotonic)
    imports: dict[str, Any] = field(default_factory=dict)
    ticking: asyncio.Lock = field(default_factory=asyncio.Lock)
    clock: Callable[[], float] = time.monotonic
    _desk_mark: tuple[float, ...] = ()

    def __post_init__(self) -> None:
        self.batches = BatchList(self.setup.state_folder / "batches.json", self.setup.home)
        self.jobs = JobList(self.events.tell)
        self.prints = PrintKeeper(self.setup.ledger)

    @property
    def options(self) -> Options:
        """What everything is done with, the shop's own profiles as soon as there are some."""
        return use_own_profiles(self.setup.options, self.setup.own_profiles)

    def shop_changed(self) -> None:
        """The shop's values are others now: tell it, and plan anew."""
        self.events.tell("shop")
        for ident, batch in self.open.items():
            self.planners[ident].change_profiles(PlanRequest(batch.revision, batch.state), self.options)

    def note_visit(self) -> None:
        """Somebody is there."""
        self.last_seen = self.clock()

    # -- batches

    def open_folder(self, folder: Path) -> str:
        """Open a batch folder; its name on the page. Raises `Refusal`."""
        ident = self.batches.add_batch(folder)
        self.current = ident
        self.find_batch(ident)
        return ident

    def open_last(self) -> str:
        """The batch that was opened last; the example where there is none."""
        known = [ident for ident, folder in self.batches.folders.items() if folder.is_dir()]
        self.current = known[-1] if known else self.batches.begin_example()
        self.find_batch(self.current)
        return self.current

    def made_something(self, batch: OpenBatch, made: dict[str, Any]) -> None:
        """Tell that an output is there; the paper it took is planned with."""
        batch.tell("made", made=made["id"])
        self.events.tell("shop")
        self._plan_batch(batch)

    def plan_anew(self, batch: OpenBatch) -> None:
        """Plan a batch once more: what it is planned with has changed."""
        self._plan_batch(batch)

    def first_answered(self) -> bool:
        """Whether the first questions are answered, or passed over."""
        return (self.setup.state_folder / "first.json").exists()

    def can_print(self) -> bool:
        """Whether there is a way to a printer."""
        return True

    def find_batch(self, ident: str) -> OpenBatch:
        """A batch by its name, opened if it is not. Raises `Refusal`."""
        if ident not in self.open:
            folder = self.batches.find_batch(ident)
            try:
                batch = OpenBatch(ident, folder, lambda kind, **values: self.events.tell(kind, ident, **values))
            except OSError as error:
                what = f"This batch cannot be read: {error.strerror}."
                raise Refusal(500, "system", what, "See to the folder and its rights.") from None
            batch.example = self.batches.is_example(ident)
            batch.changed = self._plan_batch
            self.open[ident] = batch
            self._start_planner(batch)
        return self.open[ident]

    def find_planner(self, ident: str) -> PlannerClient:
        """The process that plans a batch. Raises `Refusal`."""
        self.find_batch(ident)
        return self.planners[ident]

    def _start_planner(self, batch: OpenBatch) -> None:
        setup = PlannerSetup(batch.id, batch.folder, self.options, self.setup.ledger)
        client = PlannerClient(setup, lambda message: self._pass_on(batch, message), self.setup.planner_script)
        self.planners[batch.id] = client
        self._plan_batch(batch)

    def _plan_batch(self, batch: OpenBatch) -> None:
        self.planners[batch.id].change(PlanRequest(batch.revision, batch.state))

    def _pass_on(self, batch: OpenBatch, message: Any) -> None:
        """Pass on what a planner tells."""
        if isinstance(message, PlanTold):
            batch.tell("plan", plan=message.number, revision=message.revision, final=message.final)
            if message.final:
                batch.tell("progress", stage="", done=0, of=0, says="")
        elif isinstance(message, PlanFault):
            batch.tell("plan", plan=0, revision=message.revision, final=True)
        elif isinstance(message, ProgressTold):
            says = say_progress(message.stage, message.done, message.of)
            batch.tell("progress", stage=message.stage, done=message.done, of=message.of, says=says)
        elif isinstance(message, HelperEnded):
            what, remedy = message.words
            batch.tell("helper", what=what, remedy=remedy)

    # -- the end

    async def watch_files(self) -> None:
        """Look at the files of open batches, and at whether anybody is there, until the end."""
        while not self.ended.is_set():
            with contextlib.suppress(TimeoutError):
                await asyncio.wait_for(self.ended.wait(), LOOK_S)
            for batch in list(self.open.values()):
                with contextlib.suppress(OSError):
                    await batch.look()
            await self._look_at_desk()
            if self.events.listeners:
                self.note_visit()
            elif self.clock() - self.last_seen > LONELY_S:
                self.ended.set()

    async def _look_at_desk(self) -> None:
        """Tell those who look on that the desk did something."""
        if self.setup.desk is None or not self.events.listeners:
            return
        from impose.page.desk_page import read_desk_mark

        mark = await asyncio.to_thread(read_desk_mark, self.setup.desk)
        if mark != self._desk_mark:
            self._desk_mark = mark
            self.events.tell("desk")

    async def close(self) -> None:
        """Save everything, end every process, say goodbye."""
        self.events.tell("goodbye", what="The program was ended.")
        for batch in self.open.values():
            await batch.close()
        self.jobs.close()
        self.events.close()
        for client in self.planners.values():
            client.close()
