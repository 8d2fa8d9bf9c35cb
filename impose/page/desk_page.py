"""The desk as the page shows it: what `impose desk` tells, its questions with what answers them."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from impose.desk.folders import DeskFolders
from impose.desk.monitor import KINDS, leave_request, read_status
from impose.page.finding_values import say_sentence
from impose.page.refusal import Refusal
from impose.run.delivery_documents import PROOF_NAME

_STATES = {
    "watching": "Somebody watches it.",
    "stopping": "It is about to stop.",
    "in trouble": "It cannot go on for now.",
    "silent": "Nothing was heard of it for a while.",
    "stopped": "Nobody watches it. Start it by its icon.",
}


def desk_values(desk: Path, wall: float) -> dict[str, Any]:
    """What it is doing. Raises `Trouble` where there is no desk."""
    values = read_status(DeskFolders(desk), None, wall).values
    watcher = values["watcher"]
    return {
        "name": desk.name,
        "state": watcher["state"],
        "says": _STATES.get(watcher["state"], ""),
        "trouble": say_sentence(str(watcher.get("trouble") or "")) or None,
        "asking": [
            {
                "number": entry["number"],
                "name": entry["name"],
                "warnings": [say_sentence(str(text)) for text in entry["warnings"]],
                "proof": f"/api/desk/{entry['number']}/proof",
            }
            for entry in values["asking"]
        ],
        "making": values["making"],
        "inbox": [{"name": entry["path"], "why": say_sentence(str(entry["why"]))} for entry in values["inbox"]],
        "waiting": [{"name": entry["path"], "why": say_sentence(str(entry["why"]))} for entry in values["waiting"]],
        "unprinted": values["unprinted"],
        "refused": [{"name": entry["path"], "why": say_sentence(str(entry["why"]))} for entry in values["refused"]],
        "delivered": [
            {
                key: entry.get(key)
                for key in ("number", "name", "code", "transfers", "sheets", "cost", "currency", "warnings")
            }
            for entry in values["delivered"]
        ],
        "counts": values["counts"],
        "paper": [{"paper": entry["paper"], "shown": entry["shown"]} for entry in values["paper"]],
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
        return "The watcher does it at its next turn."
    return "Nobody watches the desk." if kind == "stop" else "The next watcher does it."


def desk_proof(desk: Path, number: int, wall: float) -> bytes:
    """The proof of a delivery that waits. Raises `Refusal`."""
    for entry in read_status(DeskFolders(desk), None, wall).values["asking"]:
        if entry["number"] == number:
            path = Path(entry["folder"]) / PROOF_NAME
            if path.is_file() and not path.is_symlink():
                return path.read_bytes()
    raise Refusal(404, "gone", "This delivery does not wait any more.")
