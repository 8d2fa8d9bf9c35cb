"""What a desk is doing, read from its ledger, its folders and the heartbeat of its watcher."""

from __future__ import annotations

import json
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from impose.desk.desk_stock import read_paper_left
from impose.desk.folders import DeskFolders
from impose.desk.printer_sink import printing_words
from impose.errors import Exit, Finding, Trouble, quote_for_shell
from impose.ledger.drops import DROPS, Drop, DropLedger
from impose.ledger.stock import STOCK
from impose.ledger.store import open_ledger
from impose.run.paper_amounts import format_paper_amount

SILENT_S = 60.0
SHOWN = 20


@dataclass(frozen=True, slots=True)
class DeskStatus:
    """Plain values, as `--json` prints them."""

    values: dict[str, Any]

    def list_lines(self) -> list[str]:
        """For a person, most urgent first."""
        v = self.values
        lines = [f"{v['desk']}: {_describe_watcher(v['watcher'], v['desk'])}"]
        if v["watcher"].get("trouble"):
            lines.append(f"TROUBLE: {v['watcher']['trouble']}")
        for one in v["asking"]:
            lines.append(f"asks: delivery {one['number']} ({one['name']}): {'; '.join(one['warnings'][:3])}")
            desk = quote_for_shell(v["desk"])
            lines.append(f"      look at {one['folder']}, then: impose desk {desk} --accept {one['number']}")
        lines += [f"being made: {one['name']}, number {one['number']}" for one in v["making"]]
        lines += [f"in the inbox: {one['path']}: {one['why']}" for one in v["inbox"]]
        lines += [f"waiting: {one['path']} ({one['why']})" for one in v["waiting"]]
        counts = v["counts"]
        if counts["waiting"] > len(v["waiting"]):
            lines.append(f"waiting: {counts['waiting'] - len(v['waiting'])} more")
        lines += [f"to be printed: {one}" for one in v["unprinted"]]
        lines += [f"command for delivery {one['delivery']}: {one['why'] or 'due'}" for one in v["commands"]]
        lines += [f"refused: {one['path']}: {_shorten_reasons(one)}" for one in v["refused"]]
        lines += [
            f"delivered: {one['name']}, number {one['number']}, batch {one['code']}: transfers {one['transfers']}, "
            f"sheets {one['sheets']}"
            for one in v["delivered"]
        ]
        lines.append(f"in all: {counts['delivered']} drops made, {counts['refused']} refused")
        lines += [f"paper left: {one['shown']} of {one['paper']}" for one in v["paper"]]
        return lines


def read_status(places: DeskFolders, ledger: Path | None, wall: float) -> DeskStatus:
    """Read a desk's status. Raises `Trouble` if there is no desk or its ledger cannot be read."""
    if places.read_identity() is None:
        raise Trouble(
            Finding(
                f"{places.root} is not a desk",
                f"Make one with: impose desk --new {quote_for_shell(str(places.root))}",
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
    except (OSError, ValueError):
        return {}
    return found if isinstance(found, dict) else {}


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
        f"start it again with: impose watch {quote_for_shell(desk)}",
    }.get(seen["state"], f"nobody watches it; start with: impose watch {quote_for_shell(desk)}")


def _read_from_ledger(drops: DropLedger, places: DeskFolders) -> dict[str, Any]:
    asking = drops.list_deliveries("asking", limit=SHOWN)
    making = drops.list_deliveries("making", "made", limit=SHOWN)
    recent = drops.list_deliveries("delivered", "closed", limit=SHOWN, newest=True)
    return {
        "asking": [
            {
                "number": one.id,
                "name": one.name,
                "warnings": one.made["warnings"],
                "folder": str(places.make_folder(one.id) / "out"),
            }
            for one in asking
        ],
        "making": [{"number": one.id, "name": one.name} for one in making],
        "waiting": [
            {"drop": drop.id, "path": drop.path, "why": _explain_drop(drop)}
            for drop in drops.list_drops("waiting", limit=SHOWN)
        ],
        "unprinted": [
            f"{one.name}, number {one.id}, on {pdf.paper}"
            + (f": {words}" if (words := printing_words(drops, one.id)) else "")
            for one in drops.list_deliveries("delivered")
            for pdf in drops.list_prints(one.id)
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
                "number": one.id,
                "name": one.name,
                "folder": str(places.sheets / one.name),
                **{key: one.made.get(key) for key in ("code", "transfers", "sheets", "cost", "currency")},
                "warnings": one.made.get("warnings", []),
            }
            for one in recent
        ],
        "counts": {state: drops.count_drops(state) for state in ("waiting", "making", "delivered", "refused")},
    }


def _shorten_reasons(one: dict[str, Any]) -> str:
    """The first of several reasons, and where the others stand."""
    first, *more = str(one["why"]).splitlines() or [""]
    return f"{first} … and {len(more)} more: {one['told']}" if more else first


def _explain_drop(drop: Drop) -> str:
    hold_s = drop.wish.get("hold_s") or 0.0
    tries = f", {drop.tries} tries failed" if drop.tries else ""
    return (f"held up to {hold_s / 60:g} min for others to share its sheets" if hold_s else "its turn comes") + tries
