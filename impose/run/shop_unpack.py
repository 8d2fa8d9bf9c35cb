"""A packed shop put into the folder of a shop's own profiles. The file may have been made to do harm.

Nothing is written before all of it is known to be good: names, sizes and sums first, then the profiles as they would
be, read as at every start. What is there is never overwritten unasked; asked, it is kept in a folder beside.
"""

from __future__ import annotations

import hashlib
import json
import struct
import zipfile
import zlib
from collections.abc import Mapping
from pathlib import Path

from impose.errors import Exit, Finding, Trouble, list_texts, quote_text
from impose.files import open_scratch_folder, write_new_file
from impose.profiles.profile_parser import KINDS
from impose.profiles.toml_limits import MOST_BYTES as MOST_TOML
from impose.remedies import Remedy
from impose.run.format_versions import is_newer
from impose.run.load_batch import load_profiles_in_force
from impose.run.options import Options
from impose.run.packed_names import MOST_BYTES, MOST_FILES, MOST_TOGETHER, find_name_fault
from impose.run.shop_pack import ENDINGS, FORMAT, MANIFEST

_AGAIN = "Pack the shop again on the other computer, and bring that file."
_PLAIN_KINDS = (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED)
_ENCRYPTED = 0x1  # general purpose bit flag 0: PKWARE, APPNOTE 6.3.10, 4.4.4
_LINK, _KIND = 0o120000, 0o170000  # of a file's mode in the upper half of its external attributes
# ICC.1:2022, 7.2.9; OpenType 1.9.1, "Organization of an OpenType Font".
_STARTS = {".icc": (36, (b"acsp",)), ".icm": (36, (b"acsp",))} | dict.fromkeys(
    (".ttf", ".otf"), (0, (b"\0\1\0\0", b"OTTO", b"true", b"ttcf"))
)


def unpack_shop(path: Path, folder: Path, options: Options, replace: bool = False) -> tuple[list[str], Path | None]:
    """Put a packed shop into the folder of own profiles: the names written, and where what was there is kept.

    Raises `Trouble`, and has written nothing then, where the file is none of ours, damaged, newer, or made to do harm;
    where its profiles cannot be read; where something else is there and is not to be replaced.
    """
    packed = read_packed_shop(path)
    changed = {name: content for name, content in packed.items() if not _is_same(folder / name, content)}
    taken = [name for name in changed if (folder / name).exists() or (folder / name).is_symlink()]
    if taken and not replace:
        what = f"{folder} holds {list_texts(taken)} already, and nothing is overwritten"
        raise Trouble(Finding(what, Remedy("replace-profiles"), kind="profile", exit=Exit.USAGE))
    _check_together(packed, folder, options)
    kept = _keep_before(folder, taken) if taken else None
    for name, content in changed.items():
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        with write_new_file(folder / name) as part:
            part.write_bytes(content)
    return list(changed), kept


def read_packed_shop(path: Path) -> dict[str, bytes]:
    """The files of a packed shop by name. Raises `Trouble` with what is wrong with it."""
    try:
        with zipfile.ZipFile(path) as packed:
            return _read_entries(packed, path)
    except (zipfile.BadZipFile, zlib.error, EOFError, struct.error, NotImplementedError, UnicodeError) as error:
        raise _make_fault(path, f"no packed shop, or a damaged one ({type(error).__name__})") from None
    except (ValueError, RuntimeError, OverflowError) as error:
        raise _make_fault(path, f"a damaged file ({type(error).__name__})") from None
    except OSError as error:
        what = f"cannot be read: {error.strerror or error}"
        finding = Finding(what, "Check the name.", kind="profile", file=str(path), exit=Exit.SYSTEM)
        raise Trouble(finding) from None


def _read_entries(packed: zipfile.ZipFile, path: Path) -> dict[str, bytes]:
    entries = packed.infolist()
    if len(entries) > MOST_FILES + 1:
        raise _make_fault(path, f"{len(entries)} files, which is more than a shop has")
    names = [entry.filename for entry in entries]
    if len({name.casefold() for name in names}) < len(names):
        raise _make_fault(path, "a name twice")
    if MANIFEST not in names:
        raise _make_fault(path, f"no packed shop: it holds no {MANIFEST}")
    left = MOST_TOGETHER
    read: dict[str, bytes] = {}
    for entry in entries:
        _check_entry(entry, path)
        read[entry.filename] = _read_entry(packed, entry, min(left, _find_limit(entry.filename)), path)
        left -= len(read[entry.filename])
    manifest = read.pop(MANIFEST)
    _check_manifest(manifest, read, path)
    return {name: read[name] for name in sorted(read)}


def _check_entry(entry: zipfile.ZipInfo, path: Path) -> None:
    name = entry.filename
    shown = quote_text(name[:120])
    # The library ends a name at a NUL.
    if fault := find_name_fault(entry.orig_filename if "\0" in entry.orig_filename else name):
        raise _make_fault(path, fault)
    if (entry.external_attr >> 16) & _KIND == _LINK or entry.is_dir():
        raise _make_fault(path, f"{shown} is a link or a folder, and a shop has plain files alone")
    if entry.flag_bits & _ENCRYPTED:
        raise _make_fault(path, f"{shown} is encrypted")
    if entry.compress_type not in _PLAIN_KINDS:
        raise _make_fault(path, f"{shown} is packed in a way that is not taken")
    ending = Path(name).suffix.casefold()
    if name != MANIFEST and name.removesuffix(".toml") not in KINDS and ending not in ENDINGS:
        raise _make_fault(path, f"{shown} is nothing that a shop has")


def _find_limit(name: str) -> int:
    return MOST_BYTES if Path(name).suffix.casefold() in ENDINGS else MOST_TOML


def _read_entry(packed: zipfile.ZipFile, entry: zipfile.ZipInfo, limit: int, path: Path) -> bytes:
    """The bytes of an entry, counted as they come: what it says of its own size is not believed."""
    with packed.open(entry) as file:
        content = file.read(limit + 1)
    if len(content) > limit:
        raise _make_fault(path, f"{quote_text(entry.filename)} unpacks to more than is allowed")
    start, wanted = _STARTS.get(Path(entry.filename).suffix.casefold(), (0, (b"",)))
    if not content[start:].startswith(wanted):
        raise _make_fault(path, f"{quote_text(entry.filename)} is not what its name says")
    return content


def _check_manifest(manifest: bytes, read: Mapping[str, bytes], path: Path) -> None:
    try:
        values = json.loads(manifest.decode("utf-8"))
        written, digests = str(values["format"]), dict(values["files"])
    except (ValueError, KeyError, TypeError, RecursionError):
        raise _make_fault(path, f"no packed shop: its {MANIFEST} cannot be read") from None
    if is_newer(written, FORMAT):
        what = "a newer version of this program packed it"
        remedy = "Use that version here too, or pack the shop with this one."
        raise Trouble(Finding(what, remedy, kind="profile", file=str(path), exit=Exit.USAGE))
    if written != FORMAT:
        raise _make_fault(path, f"no packed shop: its format is {quote_text(written)}")
    if digests != {name: hashlib.sha256(content).hexdigest() for name, content in read.items()}:
        raise _make_fault(path, "its files are not those that were packed")


def _check_together(packed: Mapping[str, bytes], folder: Path, options: Options) -> None:
    """Read the profiles as they would be, with what stays of those that are there. Raises `Trouble`."""
    with open_scratch_folder() as trial:
        for own in folder.glob("*.toml") if folder.is_dir() else ():
            if own.is_file():
                (trial / own.name).write_bytes(own.read_bytes())
        for file, content in packed.items():
            (trial / file).parent.mkdir(parents=True, exist_ok=True)
            (trial / file).write_bytes(content)
        load_profiles_in_force(Options(profiles_dir=trial, environment=options.environment))


def _keep_before(folder: Path, names: list[str]) -> Path:
    """A copy of what is about to be replaced, in a folder of its own that is read by nothing."""
    number = 1
    while (folder / f"before-{number}").exists():
        number += 1
    kept = folder / f"before-{number}"
    for name in names:
        (kept / name).parent.mkdir(parents=True, exist_ok=True)
        with write_new_file(kept / name) as part:
            part.write_bytes((folder / name).read_bytes())
    return kept


def _is_same(path: Path, content: bytes) -> bool:
    try:
        return not path.is_symlink() and path.read_bytes() == content
    except OSError:
        return False


def _make_fault(path: Path, what: str) -> Trouble:
    return Trouble(Finding(what, _AGAIN, kind="profile", file=str(path), exit=Exit.USAGE))
