"""What the names of files and folders in `in/` say, and the `desk.toml` of a folder.

A name says to leave a file alone, or copies and size, as in `owl (12 copies, 90 mm).png`. Folders stay: the root, one
for each placement, and those with a `desk.toml` of their own.
"""

from __future__ import annotations

import re
import stat
from pathlib import Path
from typing import Any

from impose.errors import Exit, Finding, Trouble, raise_stops
from impose.files import is_reserved, open_plain
from impose.orders.batch import RowDefaults
from impose.orders.kits import FILE as KITS_FILE
from impose.orders.table_file import TABLES
from impose.profiles.profiles import Profiles
from impose.profiles.toml_limits import parse_toml
from impose.units import LengthError, parse_length
from impose.values import FrozenStruct, replace

SETTINGS = "desk.toml"

# What programs leave behind or write while they are not finished: common practice, no source.
_PASSING = {"thumbs.db", "desktop.ini", "$recycle.bin", "system volume information", "lost+found", "__macosx"}
_PARTIAL = (
    ".tmp", ".temp", ".part", ".partial", ".crdownload", ".download", ".filepart", ".opdownload", ".!ut", ".swp",
    ".swx", ".lock", ".bak",
)  # fmt: skip
_NOTE = re.compile(r"\s*\(([^()]*)\)")
_MEANT = re.compile(r"[0-9]\s*(cop(y|ies)\b|mm\b|cm\b|in\b|inch|[\"″”])", re.IGNORECASE)
_PAGE = re.compile(r"page\s*([1-9][0-9]{0,3})", re.IGNORECASE)
_COPIES = re.compile(r"([0-9]{1,9})\s*cop(?:y|ies)", re.IGNORECASE)
_SIDE = re.compile(r"(.*?)\s*\b(wide|high|tall|width|height)", re.IGNORECASE)
_BOTH = re.compile(r"(.+?)\s*[x×]\s*(.+)", re.IGNORECASE)


def is_temporary_name(name: str) -> bool:
    """Whether a name belongs to a hidden, temporary or half-written file, which is not looked at."""
    folded = name.casefold()
    return (
        folded.startswith((".", "~"))
        or folded.endswith(("~", *_PARTIAL))
        or folded in _PASSING
        or folded.startswith(("._", ".~lock"))
    )


def is_table_name(name: str) -> bool:
    """Whether a name is a batch CSV's."""
    return name.casefold().endswith(TABLES) and not is_kits(name)


def is_kits(name: str) -> bool:
    """Whether a name is that of the kits beside a batch CSV, which are no batch of their own."""
    return name.rpartition("/")[2].casefold() == KITS_FILE


class NamedSpec(FrozenStruct):
    """What a name says, lengths in millimetres; None where it says nothing. The page is that of a PDF."""

    copies: int | None = None
    width_mm: float | None = None
    height_mm: float | None = None
    page: int | None = None

    @property
    def has_size(self) -> bool:
        """Whether a size is said."""
        return self.width_mm is not None or self.height_mm is not None


def read_file_name(name: str) -> NamedSpec:
    """Copies and size from the brackets in a file's name.

    `90 mm` is the width; `90 mm high`, `90 x 120 mm` (fit inside) say otherwise. Brackets that hold nothing of the
    kind, such as the (1) that a second download has behind them, belong to the name. Half understood is not understood:
    raises `Trouble` where one part is a size or a number of copies and another cannot be read.
    """
    notes = [found[1] for found in _find_brackets(re.sub(r"\.[^.]*$", "", name), _has_pages(name))]
    if not notes:
        return NamedSpec()
    said: dict[str, float] = {}
    for part in (part for note in notes for part in re.split(r"[,;](?![0-9])", note)):
        values = _read_bracket_part(part.strip(), name, _has_pages(name))
        if values.keys() & said.keys():
            raise _make_fault("says something twice in its name", name)
        said |= values
    copies = int(said["copies"]) if "copies" in said else None
    try:
        RowDefaults(None, said.get("width_mm"), said.get("height_mm"), copies)
    except Trouble as trouble:
        what = trouble.findings[0]
        raise _make_fault(f"asks in its name for something that cannot be made: {what.what.removeprefix('--')}", name,
                     what.remedy) from None  # fmt: skip
    page = int(said["page"]) if "page" in said else None
    return NamedSpec(copies, said.get("width_mm"), said.get("height_mm"), page)


def strip_brackets(name: str) -> str:
    """A file's name without the brackets that `read_file_name` reads, and without its ending."""
    stem = name.rpartition(".")[0] or name
    for found in reversed(_find_brackets(stem, _has_pages(name))):
        stem = stem[: found.start()] + stem[found.end() :]
    return stem.strip()


def _has_pages(name: str) -> bool:
    """Only a PDF has pages; in other names brackets such as (page 2) belong to the name."""
    return name.casefold().endswith(".pdf")


def _find_brackets(stem: str, paged: bool) -> list[re.Match[str]]:
    return [found for found in _NOTE.finditer(stem) if _MEANT.search(found[1]) or (paged and _PAGE.search(found[1]))]


def _read_bracket_part(text: str, name: str, paged: bool) -> dict[str, float]:
    page = _PAGE.fullmatch(text) if paged else None
    if page:
        return {"page": int(page[1])}
    copies = _COPIES.fullmatch(text)
    if copies:
        return {"copies": int(copies[1])}
    both = _BOTH.fullmatch(text)
    if both:
        second = _read_length(both[2], name)
        unit = re.search(r"[^0-9.,/\s½¼¾]+.*$", both[2])
        first = both[1] if re.search(r"[a-z\"″”]", both[1], re.IGNORECASE) else f"{both[1]} {unit[0] if unit else ''}"
        return {"width_mm": _read_length(first, name), "height_mm": second}
    side = _SIDE.fullmatch(text)
    if side:
        key = "width_mm" if side[2].casefold().startswith("wid") else "height_mm"
        return {key: _read_length(side[1], name)}
    return {"width_mm": _read_length(text, name)}


def _read_length(text: str, name: str) -> float:
    try:
        return parse_length(text)
    except LengthError as error:
        raise _make_fault(f"has brackets that cannot be read whole: {error.what}", name, read=text) from None


def _make_fault(
    what: str, name: str, remedy: str = "Write copies and width as in “owl (12 copies, 90 mm).png”.", read: str = ""
) -> Trouble:
    return Trouble(Finding(what, remedy, kind="drop-name", file=name, read=read or None, exit=Exit.REFUSED))


def make_safe_name(text: str, most: int = 80) -> str:
    """A folder's name that every system takes, as near to `text` as can be."""
    plain = text.encode("utf-8", "replace").decode("utf-8")
    plain = "".join(c if c.isprintable() and c not in '<>:"/\\|?*' else "-" for c in plain)
    plain = plain.lstrip(".~ ")
    while len(plain.encode("utf-8")) > most:
        plain = plain[:-1]
    plain = plain.rstrip(". ")
    return f"_{plain}" if is_reserved(plain) else plain or "prints"


LONGEST_HOLD_S = 31 * 86400.0  # whoever can drop a file can write a desk.toml, and what is held is not made

_LARGEST = 4 * 1024  # four keys; what a parser can be made to do with a longer one takes too long
_KEYS = ("papers", "printer", "placement", "hold")
_SPAN = re.compile(r"([0-9]+(?:\.[0-9]+)?)\s*(s|sec|m|min|h|d)?", re.IGNORECASE)
_SECONDS = {"s": 1.0, "sec": 1.0, "m": 60.0, "min": 60.0, "h": 3600.0, "d": 86400.0}


class InboxSettings(FrozenStruct):
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
        raise _make_settings_fault(
            f"larger than {_LARGEST >> 10} KB", "Write no more than papers, printer, placement and hold."
        )
    table, faults = parse_toml(content, path.name)
    raise_stops(faults)
    strange = sorted(set(table) - set(_KEYS))
    if strange:
        # Whoever can drop a file can write this one: nothing here may name a command or a place.
        raise _make_settings_fault(f"“{strange[0]}” may not be said here", f"Only {', '.join(_KEYS)} may.")
    said: dict[str, Any] = {}
    if "papers" in table:
        names = [table["papers"]] if isinstance(table["papers"], str) else table["papers"]
        if not isinstance(names, list) or not names or not all(isinstance(n, str) for n in names):
            raise _make_settings_fault("papers is not a list of names", 'Write papers = ["a4"].')
        said["papers"] = tuple(profiles.find_paper(n).name for n in names)
    for key, find in (("printer", profiles.find_printer), ("placement", profiles.require_placement)):
        if key in table:
            if not isinstance(table[key], str):
                raise _make_settings_fault(f"{key} is not a name", f'Write {key} = "…".')
            said[key] = find(table[key]).name
    if "hold" in table:
        try:
            said["hold_s"] = parse_span(str(table["hold"]), LONGEST_HOLD_S)
        except ValueError as error:
            raise _make_settings_fault(f"hold is {error}", 'Write hold = "30m".') from None
    return replace(base, **said)


def _make_settings_fault(what: str, remedy: str) -> Trouble:
    return Trouble(Finding(what, remedy, kind="desk-toml", exit=Exit.REFUSED))
