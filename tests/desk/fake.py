"""What the desk's tests share: small PNGs, a maker that makes only a record, a world whose time is set by hand."""

from __future__ import annotations

import hashlib
import json
import struct
import zlib
from collections import deque
from pathlib import Path
from typing import Any

from impose.desk.environment import DeskEnvironment
from impose.desk.scan import scan_inbox
from impose.desk.worker_jobs import FailedJob, MadeDelivery, MakeJob, answer_request
from impose.values import replace


def png(number: int, side: int = 24, mark: bytes = b"", white: bool = False) -> bytes:
    """A small opaque PNG, different for each number (W3C PNG 3rd edition: signature, IHDR, IDAT, IEND)."""

    def chunk(name: bytes, data: bytes) -> bytes:
        return struct.pack(">I", len(data)) + name + data + struct.pack(">I", zlib.crc32(name + data))

    colour = b"\xff\xff\xff" if white else bytes([number % 200, number // 200 % 200, 80])
    rows = b"".join(b"\0" + colour * side for _ in range(side))
    head = struct.pack(">IIBBBBB", side, side, 8, 2, 0, 0, 0)
    text = chunk(b"tEXt", b"Comment\0" + mark) if mark else b""
    return (
        b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + text + chunk(b"IDAT", zlib.compress(rows)) + chunk(b"IEND", b"")
    )


class FakeMaker:
    """Answers at the second poll. Names with `crash` take the process down, `error` raise, `blank` are refused."""

    def __init__(self) -> None:
        self._queue: deque[tuple[Any, Any]] = deque()
        self._rested = False
        self.made: list[MakeJob] = []
        self.trouble: str = ""
        self.warnings: list[str] = []
        self.yields = 0.5

    @property
    def open_count(self) -> int:
        return len(self._queue)

    def queue_request(self, request: Any, then: Any, urgent: bool = False) -> None:
        (self._queue.appendleft if urgent else self._queue.append)((request, then))

    def hand_out_replies(self, now: float) -> bool:
        if not self._queue:
            return False
        self._rested = not self._rested
        if self._rested:
            return False
        request, then = self._queue.popleft()
        then(self._make(request) if isinstance(request, MakeJob) else answer_request(request))
        return True

    def _make(self, request: MakeJob) -> Any:
        if self.trouble:
            return FailedJob("system", common=self.trouble)
        names = [parcel.shown for parcel in request.parcels]
        if any("crash" in name for name in names):
            return FailedJob("error", common="died: signal 11")
        if any("error" in name for name in names):
            return FailedJob("error", common="ValueError: no")
        blank = {parcel.number: "nothing to print" for parcel in request.parcels if "blank" in parcel.shown}
        if blank:
            return FailedJob("refused", blank)
        transfers: list[Any] = [
            {"art": file.name, "art_sha256": hashlib.sha256(file.read_bytes()).hexdigest(), "copies": 1, "copy": 1}
            for parcel in request.parcels
            for file in sorted(parcel.folder.rglob("*.csv" if parcel.listed else "*.png"))
        ]
        if request.out is not None:
            self.made.append(request)
            request.out.mkdir()
            record = {
                "format": "impose-record/1",
                "desk": {
                    "delivery": f"{request.mark}-{request.delivery}",
                    "drops": [{"drop": parcel.number, "name": parcel.shown} for parcel in request.parcels],
                },
                "sheets": [{"sheet": 1, "transfers": transfers}],
            }
            (request.out / "batch.json").write_text(json.dumps(record), "utf-8")
            (request.out / "sheets-a4.pdf").write_bytes(b"%PDF-2.0 " + request.name.encode("utf-8", "replace"))
            (request.out / "tickets.pdf").write_bytes(b"%PDF-2.0")
        facts = {
            "code": "TEST", "sheets": 1, "transfers": len(transfers), "files": {"sheets-a4.pdf": "a4"},
            "warnings": self.warnings or [f"{name}: thin lines" for name in names if "warn" in name],
            "paper": [{"name": "iso_a4_210x297mm", "sheets": 1}],
        }  # fmt: skip
        return MadeDelivery(facts, ((self.yields, frozenset(parcel.number for parcel in request.parcels)),))

    def forget_requests(self) -> None:
        self._queue.clear()

    def end_process(self) -> None:
        self._queue.clear()


class InlineMaker(FakeMaker):
    """Makes in truth, but in this process and at the second poll."""

    def _make(self, request: MakeJob) -> Any:
        return answer_request(request)


def make_inline(monkeypatch: Any) -> None:
    """Let every watch make in this process and look again at once: for tests whose promise is not of processes."""
    monkeypatch.setattr("impose.desk.watch.ProcessWorkerClient", lambda wake: InlineMaker())
    monkeypatch.setattr("impose.desk.watch.IDLE_S", 0.05)
    monkeypatch.setattr("impose.desk.watch.BUSY_S", 0.01)


class Time:
    """A clock that goes on by being slept, and a wall clock that can be set."""

    def __init__(self) -> None:
        self.now = 1000.0
        self.wall = 1_700_000_000.0

    def sleep(self, seconds: float) -> None:
        self.now += seconds
        self.wall += seconds

    def world(self, **more: Any) -> DeskEnvironment:
        return replace(
            DeskEnvironment(clock=lambda: self.now, wall=lambda: self.wall, sleep=self.sleep, listing=scan_inbox),
            **more,
        )


def delivered(desk: Path) -> dict[str, list[str]]:
    """Hash of each artwork → the deliveries it is in, from the records alone; reprints repeat it and are left out."""
    found: dict[str, list[str]] = {}
    for record in sorted(desk.glob("sheets/*/batch.json")):
        values = json.loads(record.read_text("utf-8"))
        if "reprint_of" in values:
            continue
        hashes = {t["art_sha256"] for sheet in values["sheets"] for t in sheet["transfers"]}
        for sha256 in hashes:
            found.setdefault(sha256, []).append(record.parent.name)
    return found


def refused(desk: Path) -> list[str]:
    """Hashes of the PNGs among the refused."""
    return [hashlib.sha256(path.read_bytes()).hexdigest() for path in sorted(desk.glob("refused/**/*.png"))]
