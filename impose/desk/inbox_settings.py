"""Folders under `in/` that stay: the root, one for each placement, and those with a `desk.toml` of their own."""

from __future__ import annotations

import re
import stat
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from impose.desk.file_names import SETTINGS
from impose.errors import Exit, Finding, Trouble, raise_stops
from impose.files import open_plain
from impose.profiles.profiles import Profiles
from impose.profiles.toml_limits import parse_toml

LONGEST_HOLD_S = 31 * 86400.0  # whoever can drop a file can write a desk.toml, and what is held is not made

_LARGEST = 4 * 1024  # four keys; what a parser can be made to do with a longer one takes too long
_KEYS = ("papers", "printer", "placement", "hold")
_SPAN = re.compile(r"([0-9]+(?:\.[0-9]+)?)\s*(s|sec|m|min|h|d)?", re.IGNORECASE)
_SECONDS = {"s": 1.0, "sec": 1.0, "m": 60.0, "min": 60.0, "h": 3600.0, "d": 86400.0}


@dataclass(frozen=True, slots=True)
class InboxSettings:
    """What a folder says for what is dropped in it; None where it says nothing. `fault` makes it unusable."""

    placement: str | None = None
    papers: tuple[str, ...] | None = None
    printer: str | None = None
    hold_s: float | None = None
    fault: str = ""


def parse_span(text: str, most_s: float = 3660 * 86400.0) -> float:
    """Seconds of `90`, `90s`, `30m`, `2h` or `7d`, at most ten years. Raises `ValueError` with what is wrong."""
    found = _SPAN.fullmatch(text.strip())
    if found is None:
        raise ValueError("not a time: write a number and s, m, h or d, such as 30m")
    seconds = float(found[1]) * _SECONDS[(found[2] or "s").lower()]
    if seconds > most_s:
        raise ValueError(f"longer than {most_s / 86400:.0f} days")
    return seconds


def parse_share(text: str) -> float:
    """A share of 1 from `85%` or `0.85`. Raises `ValueError` with what is wrong."""
    try:
        value = float(text.strip().removesuffix("%")) / (100 if text.strip().endswith("%") else 1)
    except ValueError:
        value = -1.0
    if not 0.0 < value <= 1.0:
        raise ValueError("not a share: write a percentage such as 85%")
    return value


def parse_size(text: str) -> int:
    """Bytes of `500MB`, `20GB` or `1TB` (powers of 1000). Raises `ValueError` with what is wrong."""
    found = re.fullmatch(r"([0-9]+(?:\.[0-9]+)?)\s*(MB|GB|TB)", text.strip(), re.IGNORECASE)
    if found is None:
        raise ValueError("not a size: write MB, GB or TB, such as 20GB")
    return int(float(found[1]) * {"MB": 1e6, "GB": 1e9, "TB": 1e12}[found[2].upper()])


def read_inbox(folder: Path, name: str, profiles: Profiles) -> InboxSettings | None:
    """The settings of a folder under `in/` (`name` is "" for the root), None if it is a batch and not an inbox."""
    placement = profiles.find_placement(name) if name else None
    base = InboxSettings(placement=placement.name if placement else None)
    path = folder / SETTINGS
    try:
        facts = path.lstat()
    except (FileNotFoundError, NotADirectoryError):
        return base if placement or not name else None
    except OSError as error:
        return replace(base, fault=f"{SETTINGS} in this folder cannot be read: {error.strerror}")
    if not stat.S_ISREG(facts.st_mode):
        return replace(base, fault=f"{SETTINGS} in this folder is a link or no file; put a plain file there")
    try:
        with open_plain(path) as file:
            return _read_settings(base, file.read(_LARGEST + 1), path, profiles)
    except OSError as error:
        return replace(base, fault=f"{SETTINGS} in this folder cannot be read: {error.strerror or error}")
    except Trouble as trouble:
        return replace(base, fault=f"{SETTINGS} in this folder cannot be used. {trouble}")
    except Exception as error:
        # Anybody who drops can write one: whatever it makes a parser do, it is that folder's fault alone.
        return replace(base, fault=f"{SETTINGS} in this folder cannot be used ({type(error).__name__}). Write it anew.")


def _read_settings(base: InboxSettings, content: bytes, path: Path, profiles: Profiles) -> InboxSettings:
    if len(content) > _LARGEST:
        raise _make_fault(f"larger than {_LARGEST >> 10} KB", "Write no more than papers, printer, placement and hold.")
    table, faults = parse_toml(content, path.name)
    raise_stops(faults)
    strange = sorted(set(table) - set(_KEYS))
    if strange:
        # Whoever can drop a file can write this one: nothing here may name a command or a place.
        raise _make_fault(f"“{strange[0]}” may not be said here", f"Only {', '.join(_KEYS)} may.")
    said: dict[str, Any] = {}
    if "papers" in table:
        names = [table["papers"]] if isinstance(table["papers"], str) else table["papers"]
        if not isinstance(names, list) or not names or not all(isinstance(n, str) for n in names):
            raise _make_fault("papers is not a list of names", 'Write papers = ["a4"].')
        said["papers"] = tuple(profiles.find_paper(n).name for n in names)
    for key, find in (("printer", profiles.find_printer), ("placement", profiles.require_placement)):
        if key in table:
            if not isinstance(table[key], str):
                raise _make_fault(f"{key} is not a name", f'Write {key} = "…".')
            said[key] = find(table[key]).name
    if "hold" in table:
        try:
            said["hold_s"] = parse_span(str(table["hold"]), LONGEST_HOLD_S)
        except ValueError as error:
            raise _make_fault(f"hold is {error}", 'Write hold = "30m".') from None
    return replace(base, **said)


def _make_fault(what: str, remedy: str) -> Trouble:
    return Trouble(Finding(what, remedy, kind="desk-toml", exit=Exit.REFUSED))
