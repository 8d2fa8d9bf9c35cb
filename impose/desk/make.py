"""Claimed drops become deliveries: they are put together, given to the worker, and what comes back is judged."""

from __future__ import annotations

import os
import shutil
from collections.abc import Callable, Iterable, Iterator, Sequence
from pathlib import Path
from typing import Any

from impose.desk.batch import BatchChooser, DropContent, Shares, inbox_of
from impose.desk.claim import Refuser, list_names_below
from impose.desk.deliver import OUT
from impose.desk.desk_stock import read_paper_left
from impose.desk.environment import DeskEnvironment
from impose.desk.file_integrity import hash_drop
from impose.desk.folders import DeskFolders, find_free_name
from impose.desk.inbox_rules import make_safe_name, strip_brackets
from impose.desk.reprint_lists import ReprintFolders
from impose.desk.time_slices import Steps, advance_steps
from impose.desk.worker import WorkerClient
from impose.desk.worker_jobs import FailedJob, MadeDelivery, MakeJob, Reply
from impose.errors import count_noun, quote_for_shell
from impose.ledger.drops import Drop, DropLedger
from impose.orders.batch import RowDefaults
from impose.remedies import Remedy
from impose.run.options import Options
from impose.values import FrozenStruct, replace

MOST_DROPS = 100
"""Drops in one delivery: bounds memory, and what one fault holds up."""

MOST_WAITING = 2_000
"""Waiting drops looked at in one turn: those that wait for paper or a disk must not keep the others out of sight."""

MOST_TRIES = 3
FIRST_WAIT_S, LONGEST_WAIT_S = 5.0, 300.0


class ProductionRules(FrozenStruct):
    """How deliveries are put together. `ask` lets those with warnings wait for a person; `once` refuses repeats."""

    settle_s: float
    fill: float = 1.0
    ask: bool = False
    once: bool = False


class Production:
    """At most one delivery is being made at a time; drops of one grouping share sheets."""

    def __init__(
        self,
        places: DeskFolders,
        drops: DropLedger,
        world: DeskEnvironment,
        refuser: Refuser,
        maker: WorkerClient,
        options: Options,
        customs: ProductionRules,
        say: Callable[[str], None],
    ) -> None:
        self._places, self._drops, self._world, self._refuser = places, drops, world, refuser
        self._maker, self._options, self._customs, self._say = maker, options, customs, say
        self._mark = places.read_identity() or ""
        self._chooser = BatchChooser(customs.settle_s, customs.fill, MOST_DROPS, self._weigh_sheets)
        self._later: dict[int, tuple[float, float]] = {}
        self._coming: dict[int, Sequence[Any]] = {}
        self._judging: Iterator[None] | None = None
        self.failures = 0
        self.making: int | None = None
        self.trouble = ""

    def begin_next(self, unsure: set[str]) -> bool:
        """Begin a delivery if there is something to make; `unsure` are inboxes where more is just arriving."""
        if self.making is not None or self._maker.open_count:
            return False
        now = self._world.clock()
        drops = self._drops.list_drops("waiting", limit=MOST_WAITING)
        self._chooser.note_waiting(drops, now, self._world.wall())
        self._later = {drop.id: self._later[drop.id] for drop in drops if drop.id in self._later}
        self._coming = {drop.id: self._coming[drop.id] for drop in drops if drop.id in self._coming}
        due = [drop for drop in drops if self._later.get(drop.id, (0.0, 0.0))[1] <= now]
        group = self._chooser.choose_drops(due, unsure, now)
        if not group:
            return False
        group = [drop for drop in group if self._is_usable(drop)]
        if group:
            self._begin_delivery(group)
        return True

    def judge_made(self) -> bool:
        """Go on with looking at what the maker made; whether there was anything to look at."""
        if self._judging is None:
            return False
        try:
            done = advance_steps(self._judging, self._world.clock)
        except BaseException:
            self._judging = self.making = None
            raise
        if done:
            self._judging = self.making = None
        return True

    def release_held(self) -> None:
        """What is held now is not held any longer."""
        self._chooser.release_now(self._drops.list_drops("waiting", limit=MOST_WAITING))

    def _weigh_sheets(self, mates: Sequence[Drop], then: Callable[[Shares | None], None]) -> None:
        """How full the sheets of these would be; None if that cannot be known, because one of them has a fault."""

        def weigh(reply: Reply) -> None:
            if isinstance(reply, MadeDelivery):
                then(reply.sheets)
            elif isinstance(reply, FailedJob):
                then([] if reply.kind in ("system", "short") else None)

        if all(self._is_usable(drop) for drop in mates):
            self._maker.queue_request(self._make_request(0, "trial", mates, None, None), weigh)

    # -- making ---------------------------------------------------------------------------------------------------

    def _is_usable(self, drop: Drop) -> bool:
        home = self._places.drop_folder(drop.id)
        if not all(os.path.lexists(home / held.name) for held in self._drops.list_files(drop.id)):
            self._places.require_present()
            self._refuse_drop(drop, "Its files vanished from the desk's work folder. Drop it again.")
            return False
        if self._customs.once:
            earlier = self._drops.find_earlier(drop)
            if earlier is not None and earlier[2]:
                why = f"The same was made already, in delivery {earlier[0]} ({earlier[1]}). {Remedy('repeat-later')}"
                self._refuse_drop(drop, why)
                return False
        return True

    def _begin_delivery(self, group: Sequence[Drop]) -> None:
        name = self._name_delivery(group)
        number = self._drops.begin_delivery([drop.id for drop in group], name, name, self._world.wall())
        self.making = number
        self._world.fault("delivery:begun")
        home = self._places.make_folder(number)
        home.mkdir(exist_ok=True)
        paths = ", ".join(drop.path for drop in group[:5])
        self._say(f"making {name} (number {number}) of {count_noun(len(group), 'drop')}: {paths}")
        request = self._make_request(number, name, group, home / OUT, self._places.done / name)
        self._maker.queue_request(request, lambda reply: self._judge_reply(number, reply))

    def _make_request(
        self, number: int, name: str, group: Sequence[Drop], out: Path | None, art_root: Path | None
    ) -> MakeJob:
        wish = group[0].wish
        own = {key: wish[key] for key in ("papers", "printer") if wish.get(key)}
        options = replace(
            self._options,
            settings={**self._options.settings, **own},
            workers=self._options.workers or (None if self._options.scheduler else 1),
            limits=read_paper_left(self._drops.ledger, self._coming.get(group[0].id, ())),
        )
        parcels = tuple(self._make_drop_content(drop) for drop in group)
        shelves = ReprintFolders(self._places.sheets, self._places.done)
        return MakeJob(number, self._mark, name, parcels, options, out, art_root, shelves, own)

    def _make_drop_content(self, drop: Drop) -> DropContent:
        wish, general = drop.wish, self._options.blanks
        sized = wish["width_mm"] is not None or wish["height_mm"] is not None
        blanks = RowDefaults(
            wish["placement"] or general.placement,
            wish["width_mm"] if sized else general.width_mm,
            wish["height_mm"] if sized else general.height_mm,
            wish["copies"] if wish["copies"] is not None else general.copies,
            general.mend,
            wish.get("page"),
        )
        earlier = self._drops.find_earlier(drop)
        again = f"delivery {earlier[0]} ({earlier[1]})" if earlier else ""
        home = self._places.drop_folder(drop.id)
        return DropContent(drop.id, drop.path, home, wish["main"], blanks, again, "reprint" in wish)

    def _name_delivery(self, group: Sequence[Drop]) -> str:
        """What the delivery is called: after its drop, or after the folder that its drops lay in."""
        if len(group) == 1:
            last = group[0].path.rpartition("/")[2]
            wanted = last if group[0].kind == "folder" else last.rpartition(".")[0] or last
            if group[0].kind == "png":
                wanted = strip_brackets(last) or wanted
            code = group[0].wish.get("reprint")
            if code and code not in wanted:
                wanted = f"{wanted} {code}"
        else:
            inboxes = {inbox_of(drop) for drop in group}
            wanted = inboxes.pop() if len(inboxes) == 1 else ""
        here = self._places
        return find_free_name(
            here.sheets,
            make_safe_name(wanted),
            lambda candidate: (here.done / candidate).exists() or self._is_name_bound(candidate),
        )

    def _is_name_bound(self, name: str) -> bool:
        return self._drops.name_is_bound(name)

    # -- judging ----------------------------------------------------------------------------------------------------

    def _judge_reply(self, delivery: int, reply: Reply) -> None:
        drops = self._drops.list_delivery_drops(delivery)
        if isinstance(reply, MadeDelivery):
            self._judging = self._accept_made(delivery, drops, reply)
        elif isinstance(reply, FailedJob):
            self.making = None
            self._release_drops(delivery)
            self._handle_failure(drops, reply)

    def _accept_made(self, delivery: int, drops: Sequence[Drop], reply: MadeDelivery) -> Steps[None]:
        self._world.fault("delivery:built")
        self.failures, self.trouble = 0, ""
        same = {}
        for drop in drops:
            same[drop.id] = yield from self._is_unchanged(drop)
        changed = [drop for drop in drops if not same[drop.id]]
        if changed or not (self._places.make_folder(delivery) / OUT).is_dir():
            self._places.require_present()
            self._release_drops(delivery)
            for drop in changed:
                self._refuse_drop(drop, "It was written to after it was taken. Drop it again once it is finished.")
            return
        asking = self._customs.ask and bool(reply.facts["warnings"])
        self._drops.record_made(delivery, reply.facts, asking)
        self._world.fault("delivery:made")
        if asking:
            self._say(
                f"delivery {delivery} waits for a person, because of: {'; '.join(reply.facts['warnings'][:3])} "
                f"({Remedy('answer-delivery', desk=quote_for_shell(str(self._places.root)), number=str(delivery))})"
            )

    def _is_unchanged(self, drop: Drop) -> Steps[bool]:
        """Whether what was made of is what was claimed; read again only where size or time say otherwise."""
        home = self._places.drop_folder(drop.id)
        held = self._drops.list_files(drop.id)
        try:
            if held[-1].name != ".":
                facts = [(home / file.name).lstat() for file in held]
                pairs = zip(facts, held, strict=True)
                if all((f.st_size, f.st_mtime_ns) == (file.size, file.mtime_ns) for f, file in pairs):
                    return True
            return (yield from hash_drop(home, list_names_below(home))) == drop.sha256
        except OSError:
            self._places.require_present()
            return False  # taken away, or made unreadable

    def _handle_failure(self, drops: Sequence[Drop], reply: FailedJob) -> None:
        numbers = [drop.id for drop in drops]
        if reply.kind == "refused" and reply.faults:
            for drop in drops:
                if drop.id in reply.faults:
                    self._refuse_drop(drop, reply.faults[drop.id])
            return
        why = reply.common or "; ".join(reply.faults.values())
        if reply.kind == "short":
            # Paper that a list of spoiled prints itself gives back is known only now.
            came = self._coming.get(drops[0].id, [])
            self._coming[drops[0].id] = list(reply.coming)
            self.trouble = "" if list(reply.coming) != came else why
            self._make_wait(numbers, why)
        elif len(drops) > 1 and (reply.kind != "system" or self.failures >= 2):
            # Nobody can say whose fault it is: each is made by itself, and the fault meets its own file.
            self._say(f"{len(drops)} drops could not be made together and are made one by one: {why}")
            self._drops.separate_drops(numbers)
            self.failures = 0
        elif reply.kind == "refused":
            self._refuse_drop(drops[0], why)
        elif reply.kind == "system":
            self.failures += 1
            self.trouble = why
            self._make_wait(numbers, why)
        else:
            self._drops.count_try(numbers)
            tries = drops[0].tries + 1
            if tries >= MOST_TRIES:
                what = f"Making it failed {tries} times: {why}. Save the artwork anew with another program."
                self._refuse_drop(drops[0], what)
            else:
                self._make_wait(numbers, f"try {tries} of {MOST_TRIES} failed: {why}")

    def _make_wait(self, numbers: Iterable[int], why: str) -> None:
        now = self._world.clock()
        for number in numbers:
            wait = min(LONGEST_WAIT_S, 2 * self._later.get(number, (FIRST_WAIT_S / 2, 0.0))[0])
            self._later[number] = (wait, now + wait)
            self._say(f"drop {number} is tried again in {wait:.0f} s: {why}")

    def _refuse_drop(self, drop: Drop, why: str) -> None:
        self._refuser.refuse_drop(drop, why)

    def _release_drops(self, delivery: int) -> None:
        self._drops.release_delivery(delivery)
        self._world.fault("putback:written")
        shutil.rmtree(self._places.make_folder(delivery), ignore_errors=True)

    def release_all(self) -> None:
        """What is being made waits again: after a crash, or because the watch ends."""
        self.making = self._judging = None
        for delivery in self._drops.list_deliveries("making"):
            self._release_drops(delivery.id)

    def has_work_soon(self) -> bool:
        """Whether a drop waits that is not held, nor for a person: for a run that is to end when all is made."""
        asked = {
            drop.id
            for delivery in self._drops.list_deliveries("asking")
            for drop in self._drops.list_delivery_drops(delivery.id)
        }
        drops = self._drops.list_drops("waiting", "making", limit=MOST_WAITING + len(asked))
        return any(
            not (drop.wish.get("hold_s") or 0.0) or drop.state == "making" for drop in drops if drop.id not in asked
        )

    def reject_delivery(self, number: int) -> None:
        """A person does not want a delivery that asks."""
        found = self._drops.read_delivery(number)
        if found is None or found.state != "asking":
            return
        drops = self._drops.list_delivery_drops(number)
        self._release_drops(number)
        for drop in drops:
            self._refuse_drop(drop, f"It was looked at and rejected. Warnings: {'; '.join(found.made['warnings'])}")
