"""The output folders of a batch: found beside its orders, listed with what is in them, read from their records."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterator, Mapping
from datetime import datetime
from pathlib import Path
from typing import Any

from impose import files
from impose.folder_exchange import RECORD_NAME, record_in
from impose.page.refusal import Refusal
from impose.run.delivery_documents import describe_document
from impose.values import FrozenStruct

SHEETS = "sheets"

MEDIA = {
    ".pdf": "application/pdf",
    ".html": "text/html; charset=utf-8",
    ".csv": "text/csv; charset=utf-8",
    ".json": "application/json; charset=utf-8",
    ".png": "image/png",
}
"""What is ever served of an output folder, by the end of its name."""


class MadeFolder(FrozenStruct):
    """One output folder; `id` is its name on the page."""

    id: str
    path: Path
    record: Mapping[str, Any]

    @property
    def code(self) -> str:
        """The batch's code."""
        return str(self.record.get("code", ""))

    def list_names(self) -> list[str]:
        """The files that may be served: those that the record names, which we wrote, and the record."""
        named = self.record.get("files")
        names = [*named] if isinstance(named, dict) else []
        return [name for name in (*names, RECORD_NAME) if _is_servable(name) and (self.path / name).is_file()]

    def find_file(self, name: str) -> Path:
        """A file by its name. Raises `Refusal` for one that is not listed, or leads elsewhere."""
        if name not in self.list_names():
            raise Refusal(404, "gone", "This file is not there.")
        path = self.path / name
        if path.is_symlink() or not path.resolve().is_relative_to(self.path.resolve()):
            raise Refusal(404, "gone", "This file is not there.")
        return path

    def values(self, base: str) -> dict[str, Any]:
        """As the page lists it."""
        record = self.record
        sheets = record.get("sheets", [])
        when = datetime.fromtimestamp((self.path / RECORD_NAME).stat().st_mtime)
        again = record.get("reprint_of")
        return {
            "id": self.id,
            "name": self.path.name,
            "code": self.code,
            "live": record.get("live") is True,
            "when": when.strftime("%Y-%m-%d %H:%M"),
            "transfers": sum(len(sheet.get("transfers", ())) for sheet in sheets),
            "sheets": len(sheets),
            "cost": record.get("cost"),
            "currency": record.get("currency"),
            "reprint_of": again.get("code") if isinstance(again, dict) else None,
            "printed": record.get("printed"),
            "feed": _list_feeding(record),
            "approval": _list_approvals(record),
            "files": [self._describe_entry(name, f"{base}/made/{self.id}/file/{name}") for name in self.list_names()],
        }

    def _describe_entry(self, name: str, address: str) -> dict[str, Any]:
        kind, title = describe_document(name, self.record)
        size = (self.path / name).stat().st_size
        return {"name": name, "kind": kind, "title": title, "url": address, "bytes": size}


def _find_onto(record: Mapping[str, Any]) -> Iterator[dict[str, Any]]:
    """The sheets that are printed on printed ones: the file, and which one it is."""
    for sheet in record.get("sheets", []):
        if isinstance(sheet.get("onto"), dict):
            yield {**sheet["onto"], "file": sheet.get("file")}


def _list_feeding(record: Mapping[str, Any]) -> list[str]:
    """How sheets that are printed already go into the printer; or why none does, where that was asked for."""
    found = [str(told.get("feed", "")) for told in _find_onto(record)]
    asked = record.get("options", {}).get("onto")
    if asked and not found:
        found = [f"No free place on the sheets of {asked.get('code')} saves paper: all of it is on new paper."]
    return found


def _list_approvals(record: Mapping[str, Any]) -> list[dict[str, Any]]:
    """The orders that a customer can agree to: what they are called, and by what they are named to us."""
    pages = [page for page in record.get("approval") or [] if isinstance(page, dict)]
    return [
        {"file": page.get("file"), "order": page.get("order") or str(page.get("row")), "title": page.get("order") or ""}
        for page in pages
    ]


def _is_servable(name: str) -> bool:
    return Path(name).suffix.lower() in MEDIA and not name.startswith(("/", ".")) and ".." not in name.split("/")


def list_made_folders(folder: Path) -> list[MadeFolder]:
    """The outputs in a batch folder, newest first. Folders that are links are passed over."""
    found = list(_find_folders(folder))
    return sorted(found, key=lambda entry: (entry.path / RECORD_NAME).stat().st_mtime, reverse=True)


def _find_folders(folder: Path) -> Iterator[MadeFolder]:
    for path in sorted(folder.iterdir()) if folder.is_dir() else []:
        if path.is_dir() and not path.is_symlink() and not path.name.startswith("."):
            record = read_known(path)
            if record is not None:
                yield MadeFolder(make_id(path), path, record)


def make_id(path: Path) -> str:
    """A folder's name on the page: letters that need no escaping."""
    return f"m{hashlib.sha256(path.name.encode('utf-8', 'surrogateescape')).hexdigest()[:10]}"


def find_made(folder: Path, ident: str) -> MadeFolder:
    """An output by its name on the page. Raises `Refusal` where it is not there."""
    for entry in _find_folders(folder):
        if entry.id == ident:
            return entry
    raise Refusal(404, "gone", "This output is not there any more.", "It was moved or taken away.")


_records: dict[Path, tuple[tuple[int, int], dict[str, Any]]] = {}


def read_known(path: Path) -> dict[str, Any] | None:
    """The record of a folder, read again only when it has changed."""
    try:
        facts = (path / RECORD_NAME).stat()
    except OSError:
        return None
    mark = (facts.st_mtime_ns, facts.st_size)
    if path not in _records or _records[path][0] != mark:
        record = record_in(path)
        if record is None:
            return None
        if len(_records) > 200:
            _records.clear()
        _records[path] = (mark, record)
    return _records[path][1]


def free_output(folder: Path, name: str = SHEETS) -> Path:
    """The next free name for an output."""
    return files.find_free_name(folder / name)


def encode_json(values: Any) -> bytes:
    """Values as they are sent."""
    return json.dumps(values, ensure_ascii=False, separators=(",", ":")).encode("utf-8")
