"""The artwork of a batch folder: what lies in `art/`, by content; and uploads, written aside and named when whole."""

from __future__ import annotations

import contextlib
import hashlib
import os
import re
import tempfile
import threading
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import BinaryIO

from impose.errors import Finding
from impose.file_types import describe_foreign_file, is_readable
from impose.files import FileMark, is_reserved, read_file_mark, sync_path
from impose.folder_exchange import hash_whole_file
from impose.page.batch_files import UMASK
from impose.page.refusal import Refusal
from impose.values import FrozenStruct

FOLDER = "art"
MOST_FILE = 512 << 20
MOST_BATCH = 4 << 30
LONGEST = 100


class ArtFile(FrozenStruct):
    """A file of the artwork: its name as rows write it, and what it holds."""

    art: str
    path: Path
    sha: str


@dataclass(slots=True)
class ArtworkStore:
    """The artwork of one batch; used by threads, one after the other."""

    root: Path
    _known: dict[Path, tuple[FileMark, str]] = field(default_factory=dict)
    _lock: threading.Lock = field(default_factory=threading.Lock)
    _coming: int = 0
    _listed: bool = False

    @property
    def folder(self) -> Path:
        """Where pictures lie."""
        return self.root / FOLDER

    def list_files(self) -> list[ArtFile]:
        """What lies there, by name. Links are passed over: they may lead anywhere."""
        with self._lock:
            return list(self._list_known())

    def _list_known(self) -> Iterator[ArtFile]:
        for path in sorted(self.folder.iterdir()) if self.folder.is_dir() else []:
            if path.name.startswith(".") or path.is_symlink() or not path.is_file():
                continue
            sha = self._read_sum(path)
            if sha:
                yield ArtFile(f"{FOLDER}/{path.name}", path, sha)

    def _read_sum(self, path: Path) -> str:
        """What a file holds; looked at again only when it has changed."""
        mark = read_file_mark(path)
        known = self._known.get(path)
        if known is None or known[0] != mark:
            try:
                known = (mark, hash_whole_file(path))
            except OSError:
                return ""
            self._known[path] = known
        return known[1]

    def find_file(self, sha: str) -> Path:
        """The file that holds this. Raises `Refusal`."""
        for file in self.list_files():
            if file.sha == sha:
                return file.path
        raise Refusal(404, "gone", "This picture is not there any more.")

    def reserve_space(self, size: int) -> None:
        """Make sure that so much more may come. Raises `Refusal`."""
        with self._lock:
            here = (
                sum(path.stat().st_size for path in self.folder.iterdir() if path.is_file())
                if (self.folder.is_dir())
                else 0
            )
            if here + self._coming + size > MOST_BATCH:
                what = "The pictures of this batch take more than 4 GB."
                raise Refusal(413, "too-large", what, "Take out what is not needed, or begin another batch.")
            self._coming += size

    def free_space(self, size: int) -> None:
        """What was reserved has come, or will not."""
        with self._lock:
            self._coming -= size

    def keep_upload(self, upload: Upload, name: str) -> tuple[ArtFile, str | None]:
        """Name a whole upload; the file, and the name of one that held the same. Raises `Refusal`, `OSError`."""
        with self._lock:
            same = self._find_same(upload.sha)
            if same is not None:
                upload.drop_file()
                return same, same.art
            path = self._free_name(clean_file_name(name))
            upload.put_in_place(path)
            self._known[path] = (read_file_mark(path), upload.sha)
            return ArtFile(f"{FOLDER}/{path.name}", path, upload.sha), None

    def _find_same(self, sha: str) -> ArtFile | None:
        """A file that holds this, by what is known; all are looked at once, so that many uploads stay quick."""
        if not self._listed:
            list(self._list_known())
            self._listed = True
        for path, (mark, known) in self._known.items():
            if known == sha and mark is not None and read_file_mark(path) == mark:
                return ArtFile(f"{FOLDER}/{path.name}", path, sha)
        return None

    def _free_name(self, name: str) -> Path:
        stem, dot, ending = name.rpartition(".")
        taken = {path.name.casefold() for path in self.folder.iterdir()}
        number, found = 1, name
        while found.casefold() in taken:
            number += 1
            found = f"{stem}-{number}{dot}{ending}"
        return self.folder / found


class Upload:
    """A file on its way: written aside, hashed as it comes. Raises `OSError` where the disk refuses it."""

    def __init__(self, folder: Path) -> None:
        folder.mkdir(exist_ok=True)
        handle, name = tempfile.mkstemp(prefix=".coming-", suffix=".part", dir=folder)
        self.path = Path(name)
        self._file: BinaryIO | None = os.fdopen(handle, "wb")
        self._hash = hashlib.sha256()
        self.size = 0
        self.head = b""

    @property
    def sha(self) -> str:
        """What has come so far."""
        return self._hash.hexdigest()

    def write_part(self, chunk: bytes) -> None:
        """Take a part in."""
        assert self._file is not None
        self._file.write(chunk)
        self._hash.update(chunk)
        self.size += len(chunk)
        if len(self.head) < 4096:
            self.head += chunk[: 4096 - len(self.head)]

    def finish_file(self) -> None:
        """All has come. Raises `OSError`."""
        if self._file is not None:
            file, self._file = self._file, None
            file.close()

    def put_in_place(self, path: Path) -> None:
        """Give it its name, on the disk."""
        with contextlib.suppress(OSError):
            self.path.chmod(0o666 & ~UMASK)
        sync_path(self.path)
        self.path.rename(path)
        sync_path(path.parent)

    def drop_file(self) -> None:
        """Take it away again."""
        with contextlib.suppress(OSError):
            self.finish_file()
        with contextlib.suppress(OSError):
            self.path.unlink()


def refuse_foreign(head: bytes, name: str) -> None:
    """Raise `Refusal` for what is no artwork that is read."""
    if is_readable(head):
        return
    finding: Finding = describe_foreign_file(head, name)
    what = finding.what[:1].upper() + finding.what[1:]
    raise Refusal(415, "foreign-format", f"{what}.", str(finding.remedy))


def clean_file_name(name: str) -> str:
    """A name as a file can have it on every system: no path, nothing hidden, nothing that steers text."""
    last = re.split(r"[\\/]", name)[-1]
    plain = re.sub(
        r'[\x00-\x1f\x7f-\x9f<>:"|?*\ud800-\udfff\u061c\u200e\u200f\u2028-\u202e\u2066-\u2069\ufeff]', "", last
    )
    plain = " ".join(plain.split()).rstrip(". ")
    stem, dot, ending = plain.rpartition(".")
    if not dot or not re.fullmatch(r"[A-Za-z0-9]{1,5}", ending):
        stem, ending = plain, "png"
    stem = stem.strip(". ")
    while len(stem.encode("utf-8")) > LONGEST:
        stem = stem[:-1]
    stem = stem.strip(". ") or "picture"
    found = f"{stem}.{ending.lower()}"
    return f"picture-{found}" if is_reserved(found) else found


def sweep_uploads(folder: Path) -> None:
    """Remove what a killed server left half written."""
    with contextlib.suppress(OSError):
        for path in folder.glob(".coming-*.part"):
            with contextlib.suppress(OSError):
                path.unlink()
