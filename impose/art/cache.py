"""Prepared pictures kept on disk across runs: bounded, proven when read, safe with several processes.

An entry is one file named by its key; the key holds everything that decides its content: the hash of the artwork, the
recipe, the codec, and the program that would make it. An entry is written under a temporary name and renamed, so that
a reader sees all of it or none, and carries a checksum of itself (CRC-32, as PNGs do: only its owner may write there),
so that a damaged one counts as absent and is made anew. Nothing in an entry is executed on reading. No trouble with the
cache is ever trouble for the work: a full disk or a missing folder only means that pictures are prepared again.
"""

from __future__ import annotations

import contextlib
import hashlib
import json
import os
import tempfile
import time
from base64 import b64decode, b64encode
from collections.abc import Iterable
from functools import cache
from pathlib import Path
from typing import Any

import platformdirs

from impose import __version__
from impose.art.codec import best_codec
from impose.art.faults.inspect import PictureFacts
from impose.art.faults.thin import ThinPart
from impose.art.prepare import PreparationOptions, PreparedPicture
from impose.art.small_pictures import SmallCopies, SmallFile
from impose.errors import Finding, Severity
from impose.file_types import ColourChange
from impose.remedies import Remedy
from impose.source_files import hash_code
from impose.values import replace, unfold_value

LIMIT = 2 << 30
"""Bytes the folder may hold by default: some two thousand prepared pictures."""

_MAGIC = b"impose picture 2\n"
_CHECKSUM = 4  # bytes
_STALE_S = 3600.0  # a temporary this old was left by a process that died


class PictureCache:
    """Prepared pictures in `folder`, at most `limit` bytes of them after `trim`; the least recently used go first."""

    def __init__(self, folder: Path | None = None, limit: int = LIMIT) -> None:
        self.folder = default_cache_folder() if folder is None else folder
        self.limit = limit

    def get_picture(self, sha256: str, recipe: PreparationOptions, made_by: str = "") -> PreparedPicture | None:
        """The picture made of that artwork by that recipe and converter, or None. A damaged entry is removed."""
        path = self._entry_path(sha256, recipe, made_by)
        try:
            entry = path.read_bytes()
        except OSError:
            return None
        picture = _unpack_picture(entry, sha256)
        with contextlib.suppress(OSError):
            if picture is None:
                path.unlink()
            else:
                os.utime(path)
        return picture

    def keep_picture(self, picture: PreparedPicture, recipe: PreparationOptions, made_by: str = "") -> None:
        """Keep a picture; says nothing if that fails."""
        path = self._entry_path(picture.sha256, recipe, made_by)
        part: Path | None = None
        try:
            self.folder.mkdir(parents=True, exist_ok=True, mode=0o700)
            handle, name = tempfile.mkstemp(suffix=".part", dir=self.folder)
            part = Path(name)
            with os.fdopen(handle, "wb") as file:
                file.writelines(_pack_picture(picture))
            part.replace(path)
        except OSError:
            if part is not None:
                with contextlib.suppress(OSError):
                    part.unlink()
        except BaseException:
            if part is not None:
                part.unlink(missing_ok=True)
            raise

    def remove_oldest(self) -> None:
        """Remove the least recently used entries over the limit, and what dead processes left half written."""
        entries: list[tuple[float, str, int]] = []
        total = 0
        try:
            for entry in os.scandir(self.folder):
                with contextlib.suppress(OSError):
                    facts = entry.stat(follow_symlinks=False)
                    if entry.name.endswith(".part"):
                        if time.time() - facts.st_mtime > _STALE_S:
                            Path(entry.path).unlink()
                    elif entry.name.endswith(".picture"):
                        entries.append((facts.st_mtime, entry.path, facts.st_size))
                        total += facts.st_size
        except OSError:
            return
        for _, path, size in sorted(entries):
            if total <= self.limit:
                return
            with contextlib.suppress(OSError):
                Path(path).unlink()
            total -= size

    def _entry_path(self, sha256: str, recipe: PreparationOptions, made_by: str) -> Path:
        key = json.dumps(
            [sha256, unfold_value(recipe), best_codec().name, compute_code_fingerprint(), made_by],
            sort_keys=True,
            default=_hash_output_profile,
        )
        return self.folder / f"{hashlib.sha256(key.encode()).hexdigest()}.picture"


def _hash_output_profile(content: bytes) -> str:
    """An output profile in a recipe, by its content."""
    return hashlib.sha256(content).hexdigest()


def default_cache_folder() -> Path:
    """Where the system keeps caches: on Linux by the XDG Base Directory Specification 0.8, else its own place."""
    return platformdirs.user_cache_path("impose", appauthor=False)


@cache
def compute_code_fingerprint() -> str:
    """What makes the pictures: version, decoder, and this room's own source, so that no edit meets an old entry."""
    import PIL

    try:
        from PIL._imagingcms import littlecms_version as cms  # what `features.version` says, which loads all of Pillow
    except ImportError:
        cms = None
    return f"{__version__} {PIL.__version__} {cms} {hash_code(Path(__file__).parent)}"


def _pack_picture(picture: PreparedPicture) -> list[bytes]:
    """The parts of an entry, one after another: joined, the rows would be copied."""
    facts = unfold_value(replace(picture, data=b""))
    icc = facts.pop("icc")
    del facts["data"]
    for found in facts["findings"]:
        found["remedy"] = _pack_remedy(found["remedy"])
    lengths = {"icc": None if icc is None else len(icc)}
    head = json.dumps(facts | lengths, sort_keys=True, default=lambda view: b64encode(view).decode()).encode()
    body = [len(head).to_bytes(4, "big") + head + (icc or b""), bytes(picture.data)]
    return [_MAGIC, _compute_checksum(body), *body]


def _compute_checksum(parts: Iterable[bytes | memoryview]) -> bytes:
    value = 0
    for part in parts:
        value = best_codec().crc32(part, value)
    return value.to_bytes(_CHECKSUM, "big")


def _pack_remedy(remedy: str) -> str | list[Any]:
    """A remedy with its code and arguments, so that each door finds its own words for it; words as they are."""
    if not isinstance(remedy, Remedy):
        return remedy
    return [remedy.code, {name: _pack_remedy(value) for name, value in remedy.arguments.items()}]


def _read_remedy(value: str | list[Any]) -> str:
    if isinstance(value, str):
        return value
    code, arguments = value
    return Remedy(code, **{name: _read_remedy(argument) for name, argument in arguments.items()})


def _unpack_picture(entry: bytes, sha256: str) -> PreparedPicture | None:
    """The picture of an entry, None if the entry is not whole or not of this artwork."""
    start = len(_MAGIC) + _CHECKSUM
    body = memoryview(entry)[start:]
    if entry[: len(_MAGIC)] != _MAGIC or _compute_checksum([body]) != entry[len(_MAGIC) : start]:
        return None
    size = int.from_bytes(body[:4], "big")
    facts: dict[str, Any] = json.loads(bytes(body[4 : 4 + size]))
    rest = body[4 + size :]
    if facts["sha256"] != sha256:
        return None
    icc = None if facts["icc"] is None else bytes(rest[: facts["icc"]])
    left, top, right, bottom = facts["ink"]
    x, y = facts["mass"]
    try:
        findings = tuple(_read_finding(found) for found in facts["findings"])
    except KeyError:  # it names a remedy that is no longer known
        return None
    own = {
        "icc": icc,
        "data": bytes(rest[len(icc or b"") :]),
        "findings": findings,
        "small": _read_small(facts["small"]),
        "facts": _read_facts(facts["facts"]),
        "recolour": tuple(ColourChange(*change) for change in facts["recolour"]),
    }
    return PreparedPicture(**(facts | own | {"ink": (left, top, right, bottom), "mass": (x, y)}))


def _read_facts(values: dict[str, Any]) -> PictureFacts:
    strokes, gaps = (
        tuple(ThinPart(thin["width"], thin["length"], tuple(thin["box"])) for thin in values[name])
        for name in ("strokes", "gaps")
    )
    return PictureFacts(strokes, gaps, tuple(values["straight"]))


def _read_small(values: dict[str, Any] | None) -> SmallCopies | None:
    if values is None:
        return None
    files = {name: SmallFile(**(file | {"content": b64decode(file["content"])})) for name, file in values.items()}
    return SmallCopies(**files)


def _read_finding(facts: dict[str, Any]) -> Finding:
    # JSON has lists where findings have tuples.
    own: dict[str, Any] = {name: tuple(value) if isinstance(value, list) else value for name, value in facts.items()}
    own["severity"] = Severity(facts["severity"])
    own["remedy"] = _read_remedy(facts["remedy"])
    own["view"] = None if facts["view"] is None else b64decode(facts["view"])
    return Finding(**own)
