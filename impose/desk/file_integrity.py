"""Whether artwork is all there, hashes of what is claimed, and what a file is that is neither artwork nor a batch file.

Both checks run in steps of a megabyte. Of a PNG every chunk up to IEND with its checksum, of others what
`impose.formats.completeness` can tell: nothing that a copy still under way could add. What the chunks say is read by
the worker, in a process of its own, since a picture made to break a decoder must break nothing else.
"""

from __future__ import annotations

import hashlib
import json
import os
import zlib
from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Any, BinaryIO

from impose.art.png import AGAIN, SIGNATURE
from impose.desk.drop_rules import NEITHER
from impose.desk.inbox_rules import is_kits
from impose.desk.time_slices import SLICE, Steps
from impose.errors import Finding
from impose.file_types import HEAD, PNG, describe_foreign_file, identify_file
from impose.files import open_plain
from impose.formats.completeness import find_missing_end
from impose.profiles.word_styles import is_font_file

LARGEST = 1 << 30  # bytes of one file: far above any artwork, below what would exhaust a small computer
TOO_LARGE = f"larger than {LARGEST >> 20} MB. Save it smaller."

_LONGEST = 2**31 - 1  # W3C PNG, third edition, 5.3: the length of a chunk
_MANY = 1_000  # chunks walked in one step


def find_png_fault(path: Path) -> Steps[str]:
    """Why an artwork is not whole, in words; "" if it is. Raises `OSError` where it cannot be read.

    A font is opened by the maker alone, and so are kits: their formats do not say where they end.
    """
    with open_plain(path) as file:
        size = os.fstat(file.fileno()).st_size
        if size > LARGEST:
            return f"The file is {TOO_LARGE}"
        if is_font_file(path.name) or is_kits(path.name):
            return ""
        head = file.read(HEAD)
        kind = identify_file(head)
        if not kind.taken:
            return str(describe_foreign_file(head, path.name))
        what = yield from _find_chunk_fault(file, size) if kind is PNG else find_missing_end(file, size, kind)
    return str(Finding(what, AGAIN, kind="damaged", file=path.name)) if what else ""


def _find_chunk_fault(file: BinaryIO, size: int) -> Steps[str]:
    """What is wrong with the chunks of a PNG, "" if nothing. (W3C PNG, third edition, 5.3: length, name, data, CRC.)"""
    at, count = len(SIGNATURE), 0
    file.seek(at)
    while True:
        head = file.read(8)
        if len(head) < 8:
            return f"the file is cut off after {size:,} bytes: its end mark is missing"
        length, name = int.from_bytes(head[:4], "big"), head[4:]
        if not name.isalpha() or length > _LONGEST:
            return f"the file is damaged at byte {at:,}: no chunk begins there"
        said = name.decode("ascii", "replace")
        missing = at + 12 + length - size
        if missing > 0:
            return f"the file is cut off: {missing:,} bytes of its {said} part are missing"
        found = yield from _compute_checksum(file, name, length)
        if file.read(4) != found:
            return f"the file is damaged: the checksum of its {said} part is wrong"
        if name == b"IEND":
            return ""
        at += 12 + length
        count += 1
        if count % _MANY == 0:
            yield


def _compute_checksum(file: BinaryIO, name: bytes, length: int) -> Steps[bytes]:
    """The CRC of a chunk's name and data."""
    checksum = zlib.crc32(name)
    while length > 0:
        block = file.read(min(length, SLICE))
        if not block:
            break  # cut off this instant: the checksum will not fit
        checksum = zlib.crc32(block, checksum)
        length -= len(block)
        if length > 0:
            yield
    return checksum.to_bytes(4, "big")


def hash_file(path: Path) -> Steps[str]:
    """SHA-256 of a plain file, in hexadecimal."""
    digest = hashlib.sha256()
    with open_plain(path) as file:
        while block := file.read(SLICE):
            digest.update(block)
            yield
    return digest.hexdigest()


def hash_drop(folder: Path, names: Iterable[str]) -> Steps[str]:
    """One hash for the files of a drop: a lone file's own, else that of all names and hashes."""
    hashes = {}
    for name in sorted(names):
        hashes[name] = yield from hash_file(folder / name)
    if len(hashes) == 1:
        return next(iter(hashes.values()))
    return hashlib.sha256(json.dumps(list(hashes.items())).encode("utf-8", "surrogateescape")).hexdigest()


def hash_request(sha256: str, wish: Mapping[str, Any]) -> str:
    """What two drops share that ask for the same thing of the same content, whatever the file is called."""
    asked = {key: value for key, value in wish.items() if key not in ("main", "hold_s")}
    return hashlib.sha256(json.dumps([sha256, asked], sort_keys=True).encode()).hexdigest()


_HEAD = 2048


def explain_foreign_file(path: Path) -> str:
    """Why it is refused, in words: what it is and how to make artwork of it, as `impose check` says of artwork."""
    head = _read_head(path)
    if not head:
        return NEITHER
    finding = describe_foreign_file(head)
    if "not a picture" in finding.what or "text file" in finding.what:
        return NEITHER
    return f"{finding.what[:1].upper()}{finding.what[1:]}. {finding.remedy}"


def _read_head(path: Path) -> bytes:
    """The first bytes; none where they cannot be had, nor of what was exchanged for a pipe or a link meanwhile."""
    try:
        with open_plain(path) as file:
            return file.read(_HEAD)
    except OSError:
        return b""
