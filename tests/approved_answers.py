"""Approved answers: what the program says in whole small scenes, kept as plain text and compared line by line.

A scene is a test in `tests/answers`: it makes a small batch, asks commands and shows files, and its text is held
against `tests/approved/answers/<scene>.txt`. A text is written again only after its difference was read as a decorator
would read it, and its sums were reckoned by hand (`tests/approve.py`). What differs from run to run (versions, times,
hashes, the codes of batches, folders) is replaced by a word in angle brackets, the same word for the same thing.
"""

from __future__ import annotations

import csv
import io
import json
import os
import re
import shlex
import sqlite3
import struct
import zlib
from collections.abc import Callable, Sequence
from datetime import date, timedelta
from difflib import unified_diff
from pathlib import Path
from typing import Any

import numpy as np
from PIL import Image

from art import pngbytes

APPROVED = Path(__file__).parent / "approved" / "answers"
WRITING = "APPROVED_ANSWERS"
_WIDTH = 180

_VOLATILE = (
    ("hash", re.compile(r"\b[0-9a-f]{64}\b")),
    ("time", re.compile(r"\b20\d\d-\d\d-\d\d[T ]\d\d:\d\d(?::\d\d(?:\.\d+)?)?(?:Z|[+-]\d\d:\d\d)?")),
    ("mark", re.compile(r"\b[0-9a-f]{16}(?=-?\b)")),
    ("job", re.compile(r"(?<= mm )[0-9a-f]{6}(?=-\d+\b)")),
    ("uuid", re.compile(r"\b[0-9a-f]{8}(?:-[0-9a-f]{4}){3}-[0-9a-f]{12}\b")),
)  # fmt: skip
_LINE = re.compile(r'("h": 3\.2, "w": |"w": 3\.2, "h": )(\d+\.\d+)')
"""How wide the line of a sheet is, which has the batch's code in it; what stands beside it begins 3 mm further on."""
_OF_THE_DISK = ("identity", "part", "mtime_ns", "grouping", "folded")


class Told:
    """What was asked and answered in a scene, in the order of it, in a folder of the scene's own."""

    def __init__(self, name: str, folder: Path, run: Callable[..., tuple[int, str, str]]) -> None:
        self.name, self.folder, self._run = name, folder, run
        self._parts: list[str] = []
        self._names: dict[str, dict[str, str]] = {}
        self._plain: list[tuple[str, str]] = [(str(folder), "<folder>")]

    # What the scene is made of

    def draw(self, name: str, picture: Image.Image, *chunks: tuple[bytes, bytes]) -> Path:
        """Write a picture as a PNG whose bytes depend on no library."""
        path = self.folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(encode_png(picture, *chunks))
        return path

    def write(self, name: str, text: str) -> Path:
        """Write a file of text, its lines stripped of the indent of the first."""
        path = self.folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        lines = text.strip("\n").split("\n")
        indent = len(lines[0]) - len(lines[0].lstrip())
        path.write_text("\n".join(line[indent:] for line in lines) + "\n", "utf-8")
        return path

    # What is asked of it

    def ask(self, command: str, *more: str, shown: bool = True) -> str:
        """Run a command as typed: its exit code and what it prints are told. What it printed is returned."""
        words = [*shlex.split(command), *more]
        code, out, err = self._run(*words)
        self._learn_codes()
        if shown:
            self._parts.append(f"$ impose {shlex.join(words)}")
            self._parts.append(f"exit {code}" if code else "done")
            for mark, text in (("", out), ("! ", err)):
                lines = self._word_output(text).splitlines()
                self._parts += [re.sub(r"(?<=\S) {3,}", "   ", f"{mark}{line}".rstrip()) for line in lines]
        return out

    def show(self, title: str, value: Any) -> None:
        """Tell a value: text as it is, anything else as JSON."""
        self._parts.append(f"# {title}")
        self._parts += (value if isinstance(value, str) else lay_out_json(value)).splitlines()

    def show_file(self, name: str, *without: str) -> None:
        """Tell a text or JSON file, of JSON without some keys."""
        path = self.folder / name
        text = path.read_text("utf-8") if path.exists() else "is not there"
        if not path.exists():
            name = name.replace(".json", " ")
        self.show(name, drop_keys(json.loads(text), without) if name.endswith(".json") else text)
        self._learn_codes()

    def show_record(self, folder: str, *without: str) -> None:
        """Tell a record without what the command has said of it already, nor a few parts more."""
        self.show_file(f"{folder}/batch.json", "approval", "files", "findings", "warnings", "options", *without)

    def list_files(self, name: str = ".") -> None:
        """Tell which files lie in a folder."""
        root = self.folder / name
        found: dict[str, list[str]] = {}
        for path in sorted(root.rglob("*")):
            if path.is_file():
                found.setdefault(path.parent.relative_to(root).as_posix(), []).append(path.name)
        self.show(f"files in {name}", "\n".join(f"{at}: {', '.join(names)}" for at, names in sorted(found.items())))

    def show_tables(self, name: str, *tables: str) -> None:
        """Tell the rows of a ledger's tables; all of them, unless some are named."""
        with sqlite3.connect(f"file:{self.folder / name}?mode=ro", uri=True) as db:
            listed = [row[0] for row in db.execute("SELECT name FROM sqlite_master WHERE type = 'table' ORDER BY name")]
            for table in tables or listed:
                cursor = db.execute(f"SELECT * FROM {table} ORDER BY rowid")
                out = io.StringIO()
                writer = csv.writer(out, lineterminator="\n")
                kept = [at for at, column in enumerate(cursor.description) if column[0] not in _OF_THE_DISK]
                writer.writerow([cursor.description[at][0] for at in kept])
                writer.writerows([_flatten(row[at]) for at in kept] for row in cursor)
                self.show(f"{name}: {table}", out.getvalue())
        db.close()

    def call(self, volatile: str, name: str) -> None:
        """From here on a text that differs from run to run is told as `<name>`."""
        self._plain.append((volatile, f"<{name}>"))

    # What came of it

    @property
    def text(self) -> str:
        """All that was told, with words for what differs from run to run."""
        import impose

        self._learn_codes()
        text = "\n".join(self._parts) + "\n"
        for volatile, word in sorted(self._plain, key=lambda pair: -len(pair[0])):
            text = text.replace(volatile, word)
        text = re.sub(rf"\b{re.escape(impose.__version__)}(?![\d.])", "<version>", text)
        for day in (date.today() + timedelta(days) for days in (-1, 0, 1)):
            text = re.sub(rf"\b{day}\b(?![T ]\d\d:)", "<today>", text)
        text = re.sub(r"process \d+ on \S+", "process <number> on <host>", text)
        text = re.sub(r'"host": "[^"]*", "pid": \d+', '"host": <host>, "pid": <number>', text)
        text = re.sub(r'"codec": "[^"]*"', '"codec": <codec>', text)
        for width in {found[2] for found in _LINE.finditer(text)}:
            beside = round(float(width) + 3, 4)
            text = text.replace(f'"x": {beside},', '"x": <beside the line>,')
        text = _LINE.sub(r"\1<line>", text)
        for kind, pattern in _VOLATILE:
            text = pattern.sub(lambda found, kind=kind: self._name_volatile(kind, found[0]), text)  # type: ignore[misc]
        return text

    def compare(self) -> None:
        """Fail where the text is not the approved one, naming its file and the first lines that differ."""
        path = APPROVED / f"{self.name}.txt"
        text = self.text
        if os.environ.get(WRITING):
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_text(text, "utf-8")
            return
        kept = path.read_text("utf-8") if path.exists() else ""
        if text != kept:
            told = list(unified_diff(kept.splitlines(), text.splitlines(), "approved", "now", lineterm="", n=1))[2:]
            raise AssertionError(f"{path.name} differs:\n" + "\n".join(line[:400] for line in told[:24]))

    def _name_volatile(self, kind: str, found: str) -> str:
        if kind == "time":
            return "<time>"
        names = self._names.setdefault(kind, {})
        return f"<{kind} {names.setdefault(found, str(len(names) + 1))}>"

    def _word_output(self, text: str) -> str:
        try:
            return lay_out_json(json.loads(text)) if text.startswith(("{", "[")) else text
        except ValueError:
            return text

    def _learn_codes(self) -> None:
        """A batch's code comes of its bytes and of the version."""
        known = {volatile for volatile, _ in self._plain}
        for path in sorted(self.folder.rglob("batch.json")):
            code = json.loads(path.read_text("utf-8")).get("code")
            if code and code not in known:
                known.add(code)
                self.call(code, f"code {sum(word.startswith('<code') for _, word in self._plain) + 1}")


def _flatten(value: Any) -> Any:
    return value.replace("\n", "/") if isinstance(value, str) else value


def encode_png(picture: Image.Image, *chunks: tuple[bytes, bytes]) -> bytes:
    """A PNG of stored blocks (RFC 1951, 3.2.4), so that no version of a library gives other bytes."""
    samples = np.asarray(picture)
    rows = pngbytes.rows(samples.reshape(*samples.shape[:2], -1), 8, filters=(0,))
    blocks = [rows[at : at + 65_535] for at in range(0, len(rows), 65_535)]
    stored = b"".join(
        struct.pack("<BHH", at == len(blocks) - 1, len(block), len(block) ^ 0xFFFF) + block
        for at, block in enumerate(blocks)
    )
    stream = b"\x78\x01" + stored + struct.pack(">I", zlib.adler32(rows))
    return pngbytes.png(samples, before=b"".join(pngbytes.chunk(*given) for given in chunks), stream=stream)


def drop_keys(value: Any, keys: Sequence[str]) -> Any:
    """The same JSON without some keys, wherever they stand."""
    if isinstance(value, dict):
        return {name: drop_keys(held, keys) for name, held in value.items() if name not in keys}
    return [drop_keys(held, keys) for held in value] if isinstance(value, list) else value


def lay_out_json(value: Any, indent: str = "") -> str:
    """JSON in which whatever fits one line takes one."""
    flat = json.dumps(value, ensure_ascii=False, default=list)
    if len(indent) + len(flat) <= _WIDTH or not isinstance(value, dict | list) or not value:
        return flat
    inner = indent + " "
    if isinstance(value, dict):
        named = ((f"{json.dumps(name, ensure_ascii=False)}: ", held) for name, held in value.items())
        parts = [inner + name + lay_out_json(held, inner) for name, held in named]
        return "{\n" + ",\n".join(parts) + f"\n{indent}}}"
    return "[\n" + ",\n".join(inner + lay_out_json(held, inner) for held in value) + f"\n{indent}]"
