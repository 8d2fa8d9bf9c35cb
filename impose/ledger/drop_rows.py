"""The lines of the desk's part of a ledger: its tables, and their rows as plain values."""

from __future__ import annotations

import json
import os
import sqlite3
from collections.abc import Mapping
from typing import Any

from impose.ledger.store import LedgerPart
from impose.values import FrozenStruct

DROPS = LedgerPart(
    "desk",
    steps=(
        (
            "CREATE TABLE desk_fact (name TEXT PRIMARY KEY, value TEXT NOT NULL) STRICT",
            """CREATE TABLE drops (
                id INTEGER PRIMARY KEY AUTOINCREMENT, path BLOB NOT NULL, kind TEXT NOT NULL, state TEXT NOT NULL,
                wish TEXT NOT NULL, grouping TEXT NOT NULL, sha256 TEXT, same TEXT, delivery INTEGER,
                tries INTEGER NOT NULL DEFAULT 0, alone INTEGER NOT NULL DEFAULT 0, why TEXT NOT NULL DEFAULT '',
                target BLOB, claimed_at REAL NOT NULL, closed_at REAL) STRICT""",
            "CREATE INDEX drops_state ON drops (state, id)",
            "CREATE INDEX drops_delivery ON drops (delivery)",
            "CREATE INDEX drops_sha256 ON drops (sha256)",
            "CREATE INDEX drops_same ON drops (same)",
            """CREATE TABLE drop_files (
                drop_id INTEGER NOT NULL REFERENCES drops (id) ON DELETE CASCADE, source BLOB NOT NULL,
                name BLOB NOT NULL, copied INTEGER NOT NULL, size INTEGER NOT NULL, mtime_ns INTEGER NOT NULL,
                PRIMARY KEY (drop_id, name)) STRICT""",
            """CREATE TABLE deliveries (
                id INTEGER PRIMARY KEY AUTOINCREMENT, name TEXT NOT NULL, done TEXT NOT NULL, state TEXT NOT NULL,
                made TEXT NOT NULL DEFAULT '{}', accepted INTEGER NOT NULL DEFAULT 0, begun_at REAL NOT NULL,
                delivered_at REAL) STRICT""",
            "CREATE INDEX deliveries_state ON deliveries (state, id)",
            """CREATE TABLE prints (
                delivery INTEGER NOT NULL REFERENCES deliveries (id) ON DELETE CASCADE, file TEXT NOT NULL,
                paper TEXT NOT NULL, name TEXT NOT NULL, state TEXT NOT NULL, PRIMARY KEY (delivery, file)) STRICT""",
            """CREATE TABLE calls (
                delivery INTEGER PRIMARY KEY REFERENCES deliveries (id) ON DELETE CASCADE, state TEXT NOT NULL,
                tries INTEGER NOT NULL DEFAULT 0, why TEXT NOT NULL DEFAULT '') STRICT""",
            "CREATE INDEX calls_state ON calls (state)",
        ),
    ),
)


class HeldFile(FrozenStruct):
    """One file of a drop: where it was under `in/`, its name in the drop's own folder ("." for a whole folder)."""

    source: str
    name: str
    copied: bool = False
    size: int = 0
    mtime_ns: int = 0


class WantedDrop(FrozenStruct):
    """A drop that is to be claimed. `wish` says how to make it; those of one `grouping` may share sheets.

    With `why` it is claimed only to be refused.
    """

    path: str
    kind: str
    files: tuple[HeldFile, ...]
    wish: Mapping[str, Any]
    grouping: str = ""
    why: str = ""


class Drop(FrozenStruct):
    """A line of the ledger."""

    id: int
    path: str
    kind: str
    state: str
    wish: dict[str, Any]
    grouping: str
    sha256: str | None
    same: str | None
    delivery: int | None
    tries: int
    alone: bool
    why: str
    target: str | None
    claimed_at: float


class DeskDelivery(FrozenStruct):
    """A delivery: `name` its folder's name, `done` that of its originals, `made` the facts of what was made."""

    id: int
    name: str
    done: str
    state: str
    made: dict[str, Any]
    accepted: bool
    delivered_at: float | None


class PrintJob(FrozenStruct):
    """A PDF on its way into the print folder: `file` in the delivery, `name` in the folder of `paper`."""

    delivery: int
    file: str
    paper: str
    name: str
    state: str


OPEN_DELIVERIES = ("making", "made", "asking", "delivered")


def encode_path(path: str) -> bytes:
    """A path as the system's own bytes, since not every name is text."""
    return os.fsencode(path)


def decode_path(kept: bytes) -> str:
    """A path again."""
    return os.fsdecode(kept)


def read_drop_row(row: sqlite3.Row) -> Drop:
    """A row of the table drops."""
    return Drop(
        row["id"], decode_path(row["path"]), row["kind"], row["state"], json.loads(row["wish"]), row["grouping"],
        row["sha256"], row["same"], row["delivery"], row["tries"], bool(row["alone"]), row["why"],
        None if row["target"] is None else decode_path(row["target"]), row["claimed_at"],
    )  # fmt: skip


def read_delivery_row(row: sqlite3.Row) -> DeskDelivery:
    """A row of the table deliveries."""
    return DeskDelivery(
        row["id"], row["name"], row["done"], row["state"], json.loads(row["made"]), bool(row["accepted"]),
        row["delivered_at"],
    )  # fmt: skip
