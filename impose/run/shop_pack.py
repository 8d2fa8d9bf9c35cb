"""A shop's own profiles packed into one file, to be taken to another computer.

What goes along is named here, kind by kind: the profile files, the colour profiles and fonts beside them. Nothing else
does: no ledger, no record, no customer, no printer's certificate. What an address holds before an @ or behind a ? is a
secret of a printer's and stays behind, in comments too.
"""

from __future__ import annotations

import hashlib
import json
import re
import zipfile
from collections.abc import Mapping
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

from impose import __version__
from impose.errors import Exit, Finding, Trouble
from impose.files import write_new_file
from impose.profiles.profile_parser import KINDS
from impose.profiles.toml_limits import parse_toml
from impose.remedies import Remedy
from impose.run.load_batch import load_profiles_in_force
from impose.run.options import Options
from impose.run.packed_names import MOST_BYTES, MOST_FILES, MOST_FOLDERS, find_name_fault

MANIFEST = "impose-shop.json"
FORMAT = "impose-shop/1"
ENDINGS = (".icc", ".icm", ".ttf", ".otf")
"""What lies beside profiles and is named by them: colour profiles and fonts."""

_SECRET = re.compile(rb"([a-z][a-z0-9+.-]{1,10}://)[^\s/@\"'<>]*@", re.IGNORECASE)
_ASKED = re.compile(rb"(ipps?://[^\s?\"'<>]*)\?[^\s\"'<>]*", re.IGNORECASE)
_DATE = (1980, 1, 1, 0, 0, 0)


def pack_shop(folder: Path, path: Path, options: Options, replace: bool = False) -> list[str]:
    """Pack the profiles of a folder into a file; the names packed, in order. The same profiles give the same bytes.

    Raises `Trouble` where there are none, where they cannot be read, or where the file is there and not to be replaced.
    """
    if not folder.is_dir():
        what = f"there are no profiles of your own in {folder}"
        raise Trouble(Finding(what, Remedy("copy-profiles"), kind="profile", exit=Exit.USAGE))
    if path.exists() and not replace:
        what = f"{path} is there already, and nothing is overwritten"
        raise Trouble(Finding(what, "Choose another name, or have it replaced.", exit=Exit.USAGE))
    load_profiles_in_force(Options(profiles_dir=folder, environment=options.environment))
    packed = {name: _read_packed(folder / name, name) for name in list_packed(folder)}
    if not packed:
        what = f"{folder} holds no profile of ours"
        raise Trouble(Finding(what, Remedy("copy-profiles"), kind="profile", exit=Exit.USAGE))
    with write_new_file(path) as part, zipfile.ZipFile(part, "w", zipfile.ZIP_DEFLATED) as out:
        for name, content in {MANIFEST: _make_manifest(packed), **packed}.items():
            entry = zipfile.ZipInfo(name, _DATE)
            entry.compress_type = zipfile.ZIP_DEFLATED
            entry.external_attr = 0o644 << 16
            out.writestr(entry, content)
    return list(packed)


def list_packed(folder: Path) -> list[str]:
    """The files of a folder that belong to a shop, by their names below it. Raises `Trouble` for a name or too many."""
    names = [f"{kind}.toml" for kind in KINDS if (folder / f"{kind}.toml").is_file()]
    for path in sorted(folder.rglob("*"), key=Path.as_posix):
        name = path.relative_to(folder).as_posix()
        beside = path.suffix.casefold() in ENDINGS and path.is_file() and name.count("/") <= MOST_FOLDERS
        if beside and not name.startswith((".", "before-")):
            if fault := find_name_fault(name):
                raise Trouble(Finding(fault, "Give it a plain name.", kind="profile", file=str(path), exit=Exit.USAGE))
            names.append(name)
    if len(names) > MOST_FILES:
        what = f"more than {MOST_FILES} files"
        raise Trouble(Finding(what, "Move what is no profile elsewhere.", file=str(folder), exit=Exit.USAGE))
    return names


def _read_packed(path: Path, name: str) -> bytes:
    content = path.read_bytes()
    if len(content) > MOST_BYTES:
        what = f"larger than {MOST_BYTES >> 20} MB"
        raise Trouble(Finding(what, "Keep it elsewhere.", kind="profile", file=str(path), exit=Exit.USAGE))
    return leave_secrets(content, str(path)) if name.endswith(".toml") else content


def leave_secrets(content: bytes, file: str) -> bytes:
    """A profile file without what its addresses hold beside the place. Raises `Trouble` where that cannot be told."""
    plain = _ASKED.sub(rb"\1", _SECRET.sub(rb"\1", content))
    for address in _list_addresses(parse_toml(plain, file)[0]):
        parts = urlsplit(address)
        if "@" in parts.netloc or parts.query:
            what = "an address whose secret cannot be told from the rest"
            remedy = 'Write it plainly, as in address = "ipp://printer.local/ipp/print", and pack again.'
            raise Trouble(Finding(what, remedy, kind="profile", file=file, exit=Exit.USAGE))
    return plain


def _list_addresses(values: Mapping[str, Any]) -> list[str]:
    found = []
    for key, value in values.items():
        if isinstance(value, Mapping):
            found += _list_addresses(value)
        elif key == "address" and isinstance(value, str):
            found.append(value)
    return found


def _make_manifest(packed: Mapping[str, bytes]) -> bytes:
    digests = {name: hashlib.sha256(content).hexdigest() for name, content in packed.items()}
    values = {"format": FORMAT, "version": __version__, "files": digests}
    return json.dumps(values, ensure_ascii=False, indent=1, sort_keys=True).encode() + b"\n"
