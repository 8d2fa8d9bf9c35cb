"""What passes between a running watch and other commands: its log, its heartbeat, requests to it, and the desk's
status.

A request is a small file in the work folder, so that one process alone writes the ledger. The status is read from the
ledger, the folders and the heartbeat.
"""

from __future__ import annotations

import contextlib
import json
import logging
import os
import re
import socket
import time
from collections.abc import Callable, Iterator
from logging.handlers import RotatingFileHandler
from pathlib import Path
from typing import Any

from impose.desk.desk_stock import read_paper_left
from impose.desk.folders import DeskFolders
from impose.desk.printer_sink import describe_printing
from impose.errors import Exit, Finding, Trouble, count_noun, quote_for_shell
from impose.files import write_new_file
from impose.ledger.drops import DROPS, Drop, DropLedger
from impose.ledger.stock import STOCK
from impose.ledger.store import open_ledger
from impose.remedies import Remedy
from impose.run.paper_amounts import format_paper_amount
from impose.values import FrozenStruct

LOG_BYTES, LOG_FILES = 1_000_000, 5
BEAT_S = 5.0


class WatchLog:
    """Lines for people, with the time, in `work/watch.log` and four older ones; and to `also`."""

    def __init__(self, places: DeskFolders, also: Callable[[str], object] | None = None) -> None:
        # delay: with the desk's disk away there is nothing to open, and a log is no reason to stop.
        self._handler = RotatingFileHandler(
            places.log, maxBytes=LOG_BYTES, backupCount=LOG_FILES - 1, encoding="utf-8", delay=True, errors="replace"
        )
        self._handler.handleError = lambda record: None  # type: ignore[method-assign]
        self._handler.setFormatter(logging.Formatter("%(asctime)s %(message)s", "%Y-%m-%d %H:%M:%S"))
        self._places, self._also = places, also
        self._last = ""

    def __call__(self, text: str) -> None:
        """Say something; the same again at once is said once."""
        line = " ".join(text.split())
        if line == self._last:
            return
        self._last = line
        if self._places.read_identity() is None:  # its disk is away: nothing is to be made in its place
            self.close()
        else:
            self._handler.emit(logging.LogRecord("desk", logging.INFO, "", 0, line.replace("%", "%%"), (), None))
        if self._also is not None:
            self._also(line)

    def close(self) -> None:
        """Let go of the file."""
        with contextlib.suppress(OSError):
            self._handler.close()


class Heartbeat:
    """A small JSON file, written every few seconds by rename: who watches, how it is, what it waits for."""

    def __init__(self, places: DeskFolders, ledger: str) -> None:
        self._places, self._ledger = places, ledger
        self._next = 0.0

    def write_beat(self, now: float, wall: float, state: Callable[[], dict[str, Any]], force: bool = False) -> None:
        """Write it if it is time. A disk that fails is told elsewhere."""
        if (now < self._next and not force) or self._places.read_identity() is None:
            return
        self._next = now + BEAT_S
        told = {
            "at": round(wall, 1),
            "when": time.strftime("%Y-%m-%d %H:%M:%S", time.localtime(wall)),
            "pid": os.getpid(),
            "host": socket.gethostname(),
            "ledger": self._ledger,
            **state(),
        }
        part = self._places.work / ".heartbeat.part"
        with contextlib.suppress(OSError):
            part.write_text(json.dumps(told, ensure_ascii=True, indent=1) + "\n", "utf-8")
            part.replace(self._places.heartbeat)


KINDS = ("make-now", "accept", "reject", "printed", "print-again", "stop")
_NAME = re.compile(rf"({'|'.join(KINDS)})-([0-9]+)")


def leave_request(places: DeskFolders, kind: str, number: int = 0) -> None:
    """Ask for something. Raises `OSError` where the desk cannot be written."""
    assert kind in KINDS
    places.requests.mkdir(exist_ok=True)
    with write_new_file(places.requests / f"{kind}-{number}") as part:
        part.write_bytes(b"")


def list_requests(places: DeskFolders) -> Iterator[tuple[str, int, Path]]:
    """What is asked for: kind, number, and the file to be removed once it is done."""
    for path in sorted(places.requests.iterdir()) if places.requests.is_dir() else []:
        found = _NAME.fullmatch(path.name)
        if found:
            yield found[1], int(found[2]), path


def forget_requests(places: DeskFolders, kind: str) -> None:
    """Forget all wishes of a kind."""
    for path in [path for request, _, path in list_requests(places) if request == kind]:
        remove_request(path)


def remove_request(path: Path) -> None:
    """Forget a wish."""
    with contextlib.suppress(FileNotFoundError):
        path.unlink()


def _describe_delivered(entry: dict[str, Any]) -> str:
    """A delivery in one line, with what is known of it."""
    code = f", batch {entry['code']}" if entry["code"] else ""
    named = f"delivered: {entry['name']}, number {entry['number']}{code}"
    counts = ", ".join(f"{what} {entry[what]}" for what in ("transfers", "sheets") if entry[what] is not None)
    return f"{named}: {counts}" if counts else named


SILENT_S = 60.0
SHOWN = 20


class DeskStatus(FrozenStruct):
    """Plain values, as `--json` prints them."""

    values: dict[str, Any]

    def list_lines(self) -> list[str]:
        """For a person, most urgent first."""
        v = self.values
        lines = [f"{v['desk']}: {_describe_watcher(v['watcher'], v['desk'])}"]
        if v["watcher"].get("trouble"):
            lines.append(f"TROUBLE: {' '.join(v['watcher']['trouble'].splitlines())}")
        for entry in v["asking"]:
            lines.append(f"asks: delivery {entry['number']} ({entry['name']}): {'; '.join(entry['warnings'][:3])}")
            accept = Remedy("accept-delivery", desk=quote_for_shell(v["desk"]), number=str(entry["number"]))
            lines.append(f"      look at {entry['folder']}, then: {accept}")
        lines += [f"being made: {entry['name']}, number {entry['number']}" for entry in v["making"]]
        lines += [f"in the inbox: {entry['path']}: {entry['why']}" for entry in v["inbox"]]
        lines += [f"waiting: {entry['path']} ({entry['why']})" for entry in v["waiting"]]
        counts = v["counts"]
        if counts["waiting"] > len(v["waiting"]):
            lines.append(f"waiting: {counts['waiting'] - len(v['waiting'])} more")
        lines += [f"to be printed: {entry}" for entry in v["unprinted"]]
        lines += [f"command for delivery {entry['delivery']}: {entry['why'] or 'due'}" for entry in v["commands"]]
        lines += [f"refused: {entry['path']}: {_shorten_reasons(entry)}" for entry in v["refused"]]
        lines += [_describe_delivered(entry) for entry in v["delivered"]]
        lines.append(f"in all: {count_noun(counts['delivered'], 'drop')} made, {counts['refused']} refused")
        lines += [f"paper left: {entry['shown']} of {entry['paper']}" for entry in v["paper"]]
        return lines


def read_status(places: DeskFolders, ledger: Path | None, wall: float) -> DeskStatus:
    """Read a desk's status. Raises `Trouble` if there is no desk or its ledger cannot be read."""
    if places.read_identity() is None:
        raise Trouble(
            Finding(
                f"{places.root} is not a desk",
                Remedy("new-desk", desk=quote_for_shell(str(places.root))),
                exit=Exit.USAGE,
            )
        )
    beat = _read_heartbeat(places)
    path = ledger or (Path(beat["ledger"]) if beat.get("ledger") else places.ledger)
    values: dict[str, Any] = {"desk": str(places.root), "ledger": str(path), "watcher": _judge_heartbeat(beat, wall)}
    values["inbox"] = beat.get("inbox", []) if values["watcher"]["state"] == "watching" else []
    if path.exists():
        with open_ledger(path, [DROPS, STOCK]) as opened:
            values |= _read_from_ledger(DropLedger(opened), places)
            left = read_paper_left(opened)
        paper = [{"paper": n, "left": a, "shown": format_paper_amount(a, n)} for n, a in left.items()]
    else:
        values |= _EMPTY
        paper = []
    return DeskStatus(values | {"paper": paper})


_EMPTY: dict[str, Any] = {
    "asking": [], "making": [], "waiting": [], "unprinted": [], "commands": [], "refused": [], "delivered": [],
    "counts": {"waiting": 0, "making": 0, "delivered": 0, "refused": 0},
}  # fmt: skip


def _read_heartbeat(places: DeskFolders) -> dict[str, Any]:
    try:
        found = json.loads(places.heartbeat.read_text("utf-8"))
    except (OSError, ValueError, RecursionError):
        return {}
    if not isinstance(found, dict) or not isinstance(found.get("at", 0.0), int | float):
        return {}
    return found


def _judge_heartbeat(beat: dict[str, Any], wall: float) -> dict[str, Any]:
    """Who watches: `watching`, `stopping`, `in trouble`, `stopped`; `silent` if it has not been heard of lately."""
    if not beat:
        return {"state": "stopped"}
    state = str(beat.get("state", "stopped"))
    if state != "stopped" and abs(wall - float(beat.get("at", 0.0))) > SILENT_S:
        state = "silent"
    return {"state": state, **{key: beat[key] for key in ("pid", "host", "when", "trouble") if beat.get(key)}}


def _describe_watcher(seen: dict[str, Any], desk: str) -> str:
    who = f"process {seen.get('pid')} on {seen.get('host')}"
    return {
        "watching": f"watched by {who}",
        "stopping": f"{who} is about to stop",
        "in trouble": f"{who} cannot go on for now",
        "silent": f"nothing heard of {who} since {seen.get('when')}; "
        f"{Remedy('start-desk-again', desk=quote_for_shell(desk))}",
    }.get(seen["state"], f"nobody watches it; {Remedy('start-desk', desk=quote_for_shell(desk))}")


def _read_from_ledger(drops: DropLedger, places: DeskFolders) -> dict[str, Any]:
    asking = drops.list_deliveries("asking", limit=SHOWN)
    making = drops.list_deliveries("making", "made", limit=SHOWN)
    recent = drops.list_deliveries("delivered", "closed", limit=SHOWN, newest=True)
    return {
        "asking": [
            {
                "number": delivery.id,
                "name": delivery.name,
                "warnings": delivery.made["warnings"],
                "folder": str(places.make_folder(delivery.id) / "out"),
            }
            for delivery in asking
        ],
        "making": [{"number": delivery.id, "name": delivery.name} for delivery in making],
        "waiting": [
            {"drop": drop.id, "path": drop.path, "why": _explain_drop(drop)}
            for drop in drops.list_drops("waiting", limit=SHOWN)
        ],
        "unprinted": [
            f"{delivery.name}, number {delivery.id}, on {pdf.paper}"
            + (f": {words}" if (words := describe_printing(drops, delivery.id)) else "")
            for delivery in drops.list_deliveries("delivered")
            for pdf in drops.list_prints(delivery.id)
        ],
        "commands": [
            {"delivery": d, "tries": tries, "why": why} for d, tries, why in drops.list_commands(given_up=True)
        ],
        "refused": [
            {"drop": d.id, "path": d.path, "why": d.why, "told": f"refused/{d.target}.txt"}
            for d in drops.list_newest("refused", SHOWN)
        ],
        "delivered": [
            {
                "number": delivery.id,
                "name": delivery.name,
                "folder": str(places.sheets / delivery.name),
                **{key: delivery.made.get(key) for key in ("code", "transfers", "sheets", "cost", "currency")},
                "warnings": delivery.made.get("warnings", []),
            }
            for delivery in recent
        ],
        "counts": {state: drops.count_drops(state) for state in ("waiting", "making", "delivered", "refused")},
    }


def _shorten_reasons(refused: dict[str, Any]) -> str:
    """The first of several reasons, and where the others stand."""
    first, *more = str(refused["why"]).splitlines() or [""]
    return f"{first} … and {len(more)} more: {refused['told']}" if more else first


def _explain_drop(drop: Drop) -> str:
    hold_s = drop.wish.get("hold_s") or 0.0
    tries = f", {drop.tries} tries failed" if drop.tries else ""
    held = f"{hold_s:g} s" if hold_s < 60 else f"{hold_s / 60:.4g} min"
    return (f"held up to {held} for others to share its sheets" if hold_s else "its turn comes") + tries
