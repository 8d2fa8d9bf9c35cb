"""The batch folders that the page knows: those opened by a command, and those begun on the page in the person's own
folder. Names never become paths but through here.
"""

from __future__ import annotations

import contextlib
import hashlib
import json
import re
import shutil
from dataclasses import dataclass, field
from importlib.resources.abc import Traversable
from pathlib import Path

from impose.files import find_shipped_example, is_reserved, write_new_file
from impose.page.refusal import Refusal

MOST_KNOWN = 200
LONGEST = 80
EXAMPLE = "Lantern Night (example)"


@dataclass(slots=True)
class BatchList:
    """Known folders by the page's name for each, kept in a file of the user's; `home` is where new ones are made."""

    file: Path
    home: Path
    folders: dict[str, Path] = field(default_factory=dict)

    def __post_init__(self) -> None:
        with contextlib.suppress(OSError, ValueError, TypeError, KeyError):
            for text in json.loads(self.file.read_text("utf-8"))["folders"]:
                path = Path(str(text))
                if path.is_dir():
                    self.folders[make_batch_id(path)] = path

    def add_batch(self, folder: Path) -> str:
        """Know a folder; its name on the page."""
        folder = folder.resolve()
        ident = make_batch_id(folder)
        self.folders.pop(ident, None)
        self.folders[ident] = folder
        while len(self.folders) > MOST_KNOWN:
            self.folders.pop(next(iter(self.folders)))
        self._write_list()
        return ident

    def _write_list(self) -> None:
        self.file.parent.mkdir(parents=True, exist_ok=True)
        with contextlib.suppress(OSError), write_new_file(self.file) as part:
            part.write_text(json.dumps({"folders": [str(path) for path in self.folders.values()]}, indent=1), "utf-8")

    def find_batch(self, ident: str) -> Path:
        """The folder of a name. Raises `Refusal`."""
        path = self.folders.get(ident)
        if path is None or not path.is_dir():
            raise Refusal(
                404, "gone", "This batch is not there any more.", "It was moved, or its disk is not connected."
            )
        return path

    def begin_batch(self, name: str) -> str:
        """Make a folder for a new batch in the person's own folder; its name on the page. Raises `Refusal`."""
        folder = self.free_folder(name)
        (folder / "art").mkdir(parents=True)
        return self.add_batch(folder)

    def free_folder(self, name: str) -> Path:
        """A folder of that name in the person's own folder that is not there yet. Raises `Refusal`."""
        clean = clean_folder_name(name)
        if not clean:
            what = f"“{name.strip()}” is no name for a folder." if name.strip() else "A batch needs a name."
            raise Refusal(422, "name", what, "Write one, such as Saturday.")
        folder = self.home / clean
        number = 1
        while folder.exists():
            number += 1
            folder = self.home / f"{clean} {number}"
        return folder

    def begin_example(self) -> str:
        """A copy of the example, made once, that may be changed at will."""
        folder = self.file.parent / EXAMPLE
        if not (folder / "orders.csv").exists():
            part = folder.with_name(f".{folder.name}.part")
            shutil.rmtree(part, ignore_errors=True)
            _copy_example(find_shipped_example(), part)
            with contextlib.suppress(OSError):
                part.rename(folder)
        return self.add_batch(folder)

    def is_example(self, ident: str) -> bool:
        """Whether it is the example."""
        return self.folders.get(ident) == (self.file.parent / EXAMPLE).resolve()


def make_batch_id(folder: Path) -> str:
    """A folder's name on the page: the same for as long as it stays where it is."""
    return f"b{hashlib.sha256(str(folder.resolve()).encode('utf-8', 'surrogateescape')).hexdigest()[:10]}"


def clean_folder_name(name: str) -> str:
    """A name as a folder can have it on every system; empty where nothing is left."""
    plain = re.sub(r'[\x00-\x1f\x7f-\x9f<>:"/\\|?*\u200e\u200f\u2028-\u202e\u2066-\u2069]', " ", name)
    plain = " ".join(plain.split()).strip(". ")[:LONGEST].strip(". ")
    return "" if is_reserved(plain) else plain


def _copy_example(source: Traversable, target: Path) -> None:
    """What the example is made of, without its other tables."""
    target.mkdir(parents=True)
    (target / "orders.csv").write_bytes((source / "orders.csv").read_bytes())
    (target / "kits.csv").write_bytes((source / "kits.csv").read_bytes())
    (target / "art").mkdir()
    for entry in (source / "art").iterdir():
        if entry.is_file():
            (target / "art" / entry.name).write_bytes(entry.read_bytes())
