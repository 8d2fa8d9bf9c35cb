"""The watch: turn after turn, look, claim, make, deliver; through outages, until asked to stop.

Nothing in memory matters: after any trouble the ledger is opened again, and what was begun is finished or undone from
what ledger and folders say.
"""

from __future__ import annotations

import contextlib
from collections.abc import Callable, Iterator
from typing import Any

from impose.desk.claim import Claimer, Refuser
from impose.desk.deliver import Deliverer, PrintFolder
from impose.desk.desk_stock import make_draw_step
from impose.desk.environment import DeskEnvironment
from impose.desk.folders import DeskFolders
from impose.desk.intake import Intake
from impose.desk.lock import DeskLock
from impose.desk.make import Production
from impose.desk.monitor import Heartbeat, forget_requests, list_requests, remove_request
from impose.desk.post_commands import PostCommands
from impose.desk.printer_sink import PrinterSink, StillPrinting
from impose.desk.recover import SteadyClock, prune_done, recover_desk
from impose.desk.remedies import WORDINGS
from impose.desk.time_slices import advance_steps
from impose.desk.watch_options import WatchOptions
from impose.desk.worker import ProcessWorkerClient, WorkerClient
from impose.errors import Exit, Finding, Trouble, describe_system_error
from impose.ledger.drops import DROPS, DeskDelivery, DropLedger
from impose.ledger.made_records import MADE_RECORDS
from impose.ledger.print_jobs import PRINT_JOBS
from impose.ledger.stock import STOCK
from impose.ledger.store import Ledger, open_ledger
from impose.profiles.profiles import Profiles
from impose.remedies import Remedy, word_remedies
from impose.run.load_batch import load_profiles_in_force

ONCE_WAIT_S = 8.0


class DeskParts:
    """Everything that is open from the opening of the ledger to the next trouble."""

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
        return self.bench.trouble or next((why for *_, why in self.later.values() if why), "")


GRACE_S = 10.0
LONGEST_STEP_S = 0.5
PRUNE_EVERY_S = 600.0
IDLE_S, BUSY_S = 1.0, 0.1
LONGEST_OUTAGE_WAIT_S = 30.0
ONCE_TRIES = 3


class DeskWatch:
    """A watcher of one desk. `tell` is told of each delivery, `wake` when the maker has an answer."""

    def __init__(
        self,
        places: DeskFolders,
        habits: WatchOptions,
        say: Callable[[str], None],
        world: DeskEnvironment | None = None,
        maker: WorkerClient | None = None,
        wake: Callable[[], None] | None = None,
        tell: Callable[[DeskDelivery], None] | None = None,
    ) -> None:
        self.places, self.habits, self.say = places, habits, say
        self.world, self.tell = world or DeskEnvironment(), tell
        self.profiles: Profiles = load_profiles_in_force(habits.options)
        self._ledger_path = habits.ledger or places.ledger
        self.maker: WorkerClient = maker or ProcessWorkerClient(wake)
        self._heart = Heartbeat(places, str(self._ledger_path))
        self._desk: DeskParts | None = None
        self._lock: DeskLock | None = None
        self._adopt = habits.adopt
        self._stop_at: float | None = None
        self._outage = ""
        self._pruned = float("-inf")
        self._before = 0

    # -- life ---------------------------------------------------------------------------------------------------------

    def ask_to_stop(self) -> None:
        """Ask the watch to end: soon, with the delivery at hand if that can be."""
        if self._stop_at is None:
            self._stop_at = self.world.clock() + GRACE_S

    @property
    def refused_count(self) -> int:
        """Drops refused since the start."""
        return self._before + (self._desk.refuser.count if self._desk else 0)

    def run_watch(self, lock: DeskLock) -> Exit:
        """Watch until stopped, or, with `once`, until nothing more can be done now."""
        with word_remedies(WORDINGS):
            return self._watch_locked(lock)

    def _watch_locked(self, lock: DeskLock) -> Exit:
        wait = BUSY_S
        try:
            self._open_desk(lock)
            forget_requests(self.places, "stop")  # asked while nobody watched, it would end the next watcher at once
            while not self._has_ended():
                try:
                    if self._desk is None:
                        self._open_desk(lock)
                    began = self.world.clock()
                    busy = self.run_turn()
                    if self._outage:
                        self.say("the desk can be reached again")
                        self._outage, wait = "", BUSY_S
                    if self.habits.once and not busy and self._is_finished():
                        return self._once_exit()
                    # A long inbox takes long to list: no more than half of the time is spent on it.
                    self.world.sleep(max(BUSY_S, min(IDLE_S, self.world.clock() - began)) if busy else IDLE_S)
                except (OSError, Trouble) as error:
                    if isinstance(error, Trouble) and error.exit is not Exit.SYSTEM:
                        raise
                    self._handle_lost_desk(error)
                    if self.habits.once and wait >= LONGEST_OUTAGE_WAIT_S:
                        return Exit.SYSTEM
                    self.world.sleep(wait)
                    wait = min(LONGEST_OUTAGE_WAIT_S, 2 * wait)
            return Exit.DONE
        finally:
            self._close_all()

    def _open_desk(self, lock: DeskLock) -> None:
        self.places.restore_folders()
        if not lock.still_held():
            lock.release_lock()
            lock.take_lock()
        self._lock = lock
        if self.habits.ledger is not None and not self._adopt:
            self.places.require_ledger(self._ledger_path)
        ledger = open_ledger(self._ledger_path, [DROPS, STOCK, PRINT_JOBS, MADE_RECORDS])
        try:
            self._check_same_desk(DropLedger(ledger))
            self._desk = desk = DeskParts(
                ledger, self.places, self.habits, self.world, self.profiles, self.maker, self.say, self.tell
            )
            if desk.prints is not None:
                desk.prints.identify_folder(self._adopt)
            self.maker.forget_requests()
            recover_desk(self.places, desk.drops, desk.intake, desk.refuser, desk.bench, self.say)
            self._adopt = False
        except BaseException:
            self._desk = None
            ledger.close()
            raise

    def _check_same_desk(self, drops: DropLedger) -> None:
        """A ledger kept elsewhere must be this desk's: another's would say of drops here that they never were."""
        mark, known = self.places.read_identity() or "", drops.read_fact("desk")
        if known == mark:
            return
        if known is not None and self.habits.ledger is not None:
            raise Trouble(
                Finding(
                    f"the ledger {self._ledger_path} belongs to another desk",
                    Remedy("own-ledger"),
                    kind="desk",
                    exit=Exit.USAGE,
                )
            )
        drops.write_fact("desk", mark)
        if self.habits.ledger is not None:
            self.places.note_ledger(self._ledger_path)

    def _handle_lost_desk(self, error: OSError | Trouble) -> None:
        """Something cannot be reached: forget everything, begin again from what is written down."""
        why = describe_system_error(error) if isinstance(error, OSError) else str(error)
        if why != self._outage:
            self.say(f"the desk cannot go on and tries again: {why}")
        self._outage = why
        self._close_desk()
        self._heart.write_beat(self.world.clock(), self.world.wall(), lambda: {"state": "in trouble", "trouble": why})

    def _close_desk(self) -> None:
        desk, self._desk = self._desk, None
        self.maker.forget_requests()
        if desk is not None:
            self._before += desk.refuser.count
            if desk.calls is not None:
                with contextlib.suppress(OSError, Trouble):
                    desk.calls.close()
            desk.ledger.close()

    def _close_all(self) -> None:
        if self._desk is not None:
            with contextlib.suppress(OSError, Trouble):
                self.maker.forget_requests()
                self._desk.bench.release_all()
        self._close_desk()
        self.maker.end_process()
        self._heart.write_beat(self.world.clock(), self.world.wall(), lambda: {"state": "stopped"}, force=True)

    # -- one turn -----------------------------------------------------------------------------------------------------

    def run_turn(self) -> bool:
        """Everything that can be done now; whether the next turn should come soon."""
        desk = self._desk
        assert desk is not None
        self.places.require_present()
        self._require_lock()
        now = self.world.clock()
        self._handle_requests(desk)
        moved = self.maker.hand_out_replies(now)
        judged = desk.bench.judge_made()
        stopping = self._stop_at is not None
        claimed = 0 if stopping else desk.intake.take_in()
        begun = False if stopping else desk.bench.begin_next(desk.intake.last.unsure)
        if moved or judged or claimed or desk.unfinished:
            self._finish_deliveries(desk, now)
        if desk.calls is not None:
            desk.calls.run_due(now)
        self._prune_done(desk, now)
        self._heart.write_beat(now, self.world.wall(), lambda: self._describe_state(desk))
        working = moved or judged or claimed or begun or desk.intake.busy or desk.closing
        return bool(working or self.maker.open_count or desk.intake.last.unsure)

    def _require_lock(self) -> None:
        """Raise `OSError` where the lock's file was taken away, so that another watcher could start beside this one."""
        if self._lock is not None and not self._lock.still_held():
            raise FileNotFoundError(2, "the lock was taken away", str(self._lock.path))

    def _handle_requests(self, desk: DeskParts) -> None:
        for kind, number, path in list_requests(self.places):
            if kind == "make-now":
                desk.bench.release_held()
            elif kind == "accept":
                desk.drops.accept_warnings(number)
                desk.unfinished = True
            elif kind == "reject":
                desk.bench.reject_delivery(number)
            elif kind in ("printed", "print-again"):
                self._answer_print(desk, number, kind == "printed")
            else:
                self.ask_to_stop()
            remove_request(path)

    def _answer_print(self, desk: DeskParts, number: int, printed: bool) -> None:
        """What a person says of a delivery that asks whether it came out of the printer."""
        if desk.sink is not None:
            desk.sink.answer_print(number, self.places.sheets, printed)
            desk.later.pop(number, None)
            desk.unfinished = True

    def _finish_deliveries(self, desk: DeskParts, now: float) -> None:
        """Deliveries that are made, and those that are delivered but not closed; a failing one stops no other."""
        left = False
        for state in ("made", "delivered"):
            for delivery in desk.drops.list_deliveries(state, limit=100):
                wait, until, _ = desk.later.get(delivery.id, (0.0, 0.0, ""))
                if until > now or self.world.clock() - now > LONGEST_STEP_S:
                    left = True
                    continue
                try:
                    left = not self._finish_one(desk, state, delivery) or left
                    desk.later.pop(delivery.id, None)
                except StillPrinting as printing:
                    desk.closing.pop(delivery.id, None)
                    why = printing.words if printing.wait_s >= ONCE_WAIT_S else ""  # a job at work is no trouble
                    desk.later[delivery.id] = (printing.wait_s, now + printing.wait_s, why)
                    left = True
                except OSError as error:
                    self.places.restore_folders()
                    desk.closing.pop(delivery.id, None)
                    wait, why = min(300.0, max(2.0, 2 * wait)), describe_system_error(error)
                    desk.later[delivery.id] = (wait, now + wait, why)
                    self.say(f"delivery {delivery.id} is tried again in {wait:.0f} s: {why}")
                    left = True
        desk.unfinished = left

    def _finish_one(self, desk: DeskParts, state: str, delivery: DeskDelivery) -> bool:
        """Go on with one delivery; whether this part of it is done."""
        if state == "made":
            desk.deliverer.deliver_folder(delivery)
            return True
        steps = desk.closing.setdefault(delivery.id, desk.deliverer.close_delivery(delivery))
        if not advance_steps(steps, self.world.clock):
            return False
        del desk.closing[delivery.id]
        return True

    def _prune_done(self, desk: DeskParts, now: float) -> None:
        habits, wall = self.habits, self.world.wall()
        desk.steady.compare_clocks(now, wall)
        if desk.pruning is not None:
            if advance_steps(desk.pruning, self.world.clock):
                desk.pruning = None
            return
        if (habits.keep_done_s is None and habits.keep_done_bytes is None) or now - self._pruned < PRUNE_EVERY_S:
            return
        self._pruned = now
        keep_s = habits.keep_done_s
        if keep_s is not None and not desk.steady.is_steady(wall):
            keep_s = None
        if keep_s is not None:
            desk.drops.forget_closed(wall - keep_s)
        busy = desk.drops.name_is_bound
        desk.pruning = prune_done(self.places.done, wall, keep_s, habits.keep_done_bytes, busy, self.say)

    def _describe_state(self, desk: DeskParts) -> dict[str, Any]:
        """What the heartbeat says; sizes bounded, since a backlog may be long."""
        last = desk.intake.last
        return {
            "state": "stopping" if self._stop_at is not None else "watching",
            "trouble": desk.trouble,
            "making": desk.bench.making,
            "inbox": [
                {"path": w.path, "why": w.why, "refused_in_s": None if w.within_s is None else round(w.within_s)}
                for w in last.waiting[:20]
            ],
            "inbox_count": len(last.waiting),
        }

    # -- ends ---------------------------------------------------------------------------------------------------------

    def _has_ended(self) -> bool:
        if self._stop_at is None:
            return False
        making = self._desk is not None and self._desk.bench.making is not None
        return not making or self.world.clock() >= self._stop_at

    def _is_finished(self) -> bool:
        """Whether a run with `once` has nothing more to do: what is held or asks waits for another run.

        What a full or read-only disk keeps from being done is tried a few times and then left for another run too.
        """
        desk = self._desk
        assert desk is not None
        if desk.intake.busy or (desk.intake.last.waiting and not desk.intake.only_stuck):
            return False
        if desk.bench.has_work_soon() and desk.bench.failures < ONCE_TRIES:
            return False
        if desk.unfinished and not desk.is_stuck():
            return False
        return not (desk.calls is not None and desk.calls.is_running)

    def _once_exit(self) -> Exit:
        desk = self._desk
        if desk is not None and (desk.bench.trouble or desk.unfinished or desk.intake.last.waiting):
            return Exit.SYSTEM
        return Exit.REFUSED if self.refused_count else Exit.DONE
