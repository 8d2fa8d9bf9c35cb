"""The desk as the page shows it: what `impose desk` tells, its questions with what answers them."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

from impose.desk.folders import DeskFolders
from impose.desk.inbox_rules import is_table_name
from impose.desk.monitor import KINDS, leave_request, list_requests, read_status
from impose.errors import count_noun
from impose.file_types import is_artwork
from impose.page.finding_values import end_sentence, list_shipped_papers, say_sentence, title_papers
from impose.page.refusal import Refusal
from impose.profiles.paper import make_title
from impose.run.delivery_documents import PROOF_NAME

_STATES = {
    "watching": "At work",
    "stopping": "About to stop",
    "in trouble": "Cannot go on for now",
    "silent": "Nothing heard for a while: look at its computer",
    "stopped": "Not started: start it by its icon",
}
_PLACE = re.compile(r"^(?P<name>[^:]+?)(?P<cell>(?:, row \d+)?(?:, column [\w-]+)?): (?P<what>.*)$", re.DOTALL)
_READ = re.compile(r" \(read: “[^”]*”\)")
_OPTION = re.compile(r",? (?:or )?[^,.;:]*--[a-z][^,.;]*")
"""What the desk wrote for its log: the name of a working copy, options of its command."""


def say_of_drop(words: str) -> str:
    """What the desk says of a drop: a picture by its name and folder, a list with the cell that is meant."""
    words = _OPTION.sub("", _READ.sub("", " ".join(words.split())))
    place = ""
    found = _PLACE.match(words)
    if found is not None and is_artwork(found["name"]):
        place, words = _name_drop(found["name"]), found["what"]
    elif found is not None and is_table_name(found["name"]):
        place, words = f"{_name_drop(found['name'])}{found['cell']}", found["what"]
    elif found is not None and found["cell"]:  # a list that the desk made for itself
        words = found["what"]
    said = title_papers(words, list_shipped_papers())
    return end_sentence(f"{place}: {said}") if place else say_sentence(said)


def _name_drop(path: str) -> str:
    """A drop by its own name, and the folder it was put into."""
    folder, _, name = path.rpartition("/")
    return f"{name}, in {folder}" if folder else name


def list_wishes(places: DeskFolders) -> set[tuple[str, int]]:
    """What was asked for, and is not done yet."""
    return {(kind, number) for kind, number, _ in list_requests(places)}


def read_desk_mark(desk: Path) -> tuple[float, ...]:
    """What changes when the desk does something, read at no cost: the times of its files."""
    places = DeskFolders(desk)
    found = []
    for path in (places.heartbeat, places.ledger, Path(f"{places.ledger}-wal"), places.requests):
        try:
            found.append(path.stat().st_mtime)
        except OSError:
            found.append(0.0)
    return tuple(found)


def list_desk_values(desk: Path, wall: float) -> dict[str, Any]:
    """What it is doing. Raises `Trouble` where there is no desk."""
    values = read_status(DeskFolders(desk), None, wall).values
    watcher, wishes = values["watcher"], list_wishes(DeskFolders(desk))
    return {
        "name": desk.name,
        "state": watcher["state"],
        "says": _STATES.get(watcher["state"], ""),
        "trouble": say_sentence(str(watcher.get("trouble") or "")) or None,
        "asking": [
            {
                "number": entry["number"],
                "name": entry["name"],
                "warnings": [say_of_drop(str(text)) for text in entry["warnings"]],
                "answered": next((kind for kind in ("accept", "reject") if (kind, entry["number"]) in wishes), None),
                "proof": f"/api/desk/{entry['number']}/proof",
            }
            for entry in values["asking"]
        ],
        "making": values["making"],
        "inbox": [_describe_drop(entry) for entry in values["inbox"]],
        "waiting": [_describe_drop(entry) for entry in values["waiting"]],
        "stopping": ("stop", 0) in wishes,
        "unprinted": values["unprinted"],
        "refused": [_describe_drop(entry) for entry in values["refused"]],
        "delivered": [_describe_delivery(entry, wishes) for entry in values["delivered"]],
        "counts": values["counts"],
        "paper": [{"paper": make_title(entry["paper"]), "shown": entry["shown"]} for entry in values["paper"]],
    }


def _describe_drop(entry: dict[str, Any]) -> dict[str, Any]:
    return {"name": _name_drop(str(entry["path"])), "why": say_of_drop(str(entry["why"]))}


def _describe_delivery(entry: dict[str, Any], wishes: set[tuple[str, int]]) -> dict[str, Any]:
    counted = (("transfers", "print"), ("sheets", "sheet"))
    told = [
        " on ".join(count_noun(entry[key], noun) for key, noun in counted if entry.get(key) is not None),
        f"{entry['cost']} {entry.get('currency') or ''}".strip() if entry.get("cost") else "",
        f"batch {entry['code']}" if entry.get("code") else "",
    ]
    asked = next((kind for kind in ("printed", "print-again") if (kind, entry["number"]) in wishes), None)
    return {
        "number": entry["number"],
        "name": entry["name"],
        "says": ", ".join(part for part in told if part),
        "warnings": len(entry.get("warnings") or []),
        "asked": asked,
    }


def ask_desk(desk: Path, kind: str, number: Any, wall: float) -> str:
    """Leave a wish; what becomes of it, in words. Raises `Refusal`, `Trouble`, `OSError`."""
    if kind not in KINDS:
        raise Refusal(400, "malformed", "The page sent something that cannot be read: ask.", "Reload the page.")
    values = read_status(DeskFolders(desk), None, wall).values
    wanted = 0
    if kind in ("accept", "reject"):
        wanted = number if isinstance(number, int) else -1
        if wanted not in {entry["number"] for entry in values["asking"]}:
            raise Refusal(409, "gone", "This delivery does not wait for an answer any more.", "Look again.")
    if kind in ("printed", "print-again"):
        if not isinstance(number, int) or number < 1:
            raise Refusal(400, "malformed", "The page sent something that cannot be read: number.", "Reload the page.")
        wanted = number
    leave_request(DeskFolders(desk), kind, wanted)
    if values["watcher"]["state"] != "stopped":
        return "The desk does it in a moment."
    return "The desk is not started." if kind == "stop" else "It is done once the desk is started."


def read_desk_proof(desk: Path, number: int, wall: float) -> bytes:
    """The proof of a delivery that waits. Raises `Refusal`."""
    for entry in read_status(DeskFolders(desk), None, wall).values["asking"]:
        if entry["number"] == number:
            path = Path(entry["folder"]) / PROOF_NAME
            if path.is_file() and not path.is_symlink():
                return path.read_bytes()
    raise Refusal(404, "gone", "This delivery does not wait any more.")
