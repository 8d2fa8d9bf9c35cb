"""What a shop keeps on file: papers, printers, placements, garments, presses, pads, lettering, settings and texts.

The shipped files are laid first, the shop's own over them, key by key. All faults of all files are raised
together, each with file, table and key.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from decimal import Decimal
from functools import lru_cache
from importlib.resources.abc import Traversable
from pathlib import Path
from typing import Any, TypeVar

from impose.errors import Exit, Finding, Severity, Trouble, quote_text, raise_stops
from impose.profiles.customer_texts import CustomerTexts
from impose.profiles.garment import Garment, GarmentCatalogue
from impose.profiles.pads import PressPad
from impose.profiles.paper import (
    MediaName,
    Paper,
    PaperNameError,
    Printer,
    explain_name_trap,
    fold_name,
    make_custom_name,
    parse_media_name,
)
from impose.profiles.placement import PlacementOffset, PlacementRule, SizeRule, TearMargin, split_tear
from impose.profiles.press import HeatPress
from impose.profiles.prices import ShopPrices
from impose.profiles.profile_parser import KINDS, parse_profiles
from impose.profiles.settings import Settings
from impose.profiles.toml_limits import parse_toml
from impose.profiles.toml_tables import ProfileLayers, find_near_word, suggest_word
from impose.profiles.word_styles import WordStyle
from impose.remedies import Remedy
from impose.values import FrozenStruct, field, replace

__all__ = [
    "Garment",
    "GarmentCatalogue",
    "HeatPress",
    "Paper",
    "PlacementOffset",
    "PlacementRule",
    "Printer",
    "Profiles",
    "Settings",
    "SizeRule",
    "TearMargin",
    "load_profiles",
    "split_tear",
]

_SHIPPED = {f"shipped {kind}.toml": kind for kind in KINDS}
"""Our own files by the names that they are told by, which no file of a shop's own can have."""

T = TypeVar("T", Printer, PlacementRule, HeatPress)


class Profiles(FrozenStruct):
    """All profiles in force. `origins` names the file of every key, as in `papers.a4.cost`."""

    papers: Mapping[str, Paper]
    printers: Mapping[str, Printer]
    placements: Mapping[str, PlacementRule]
    wardrobe: GarmentCatalogue
    presses: Mapping[str, HeatPress]
    pads: Mapping[str, PressPad]
    lettering: Mapping[str, WordStyle]
    settings: Settings
    texts: CustomerTexts
    prices: ShopPrices = field(default_factory=ShopPrices)
    origins: Mapping[str, str] = field(default_factory=dict)
    findings: tuple[Finding, ...] = ()

    @property
    def offered_papers(self) -> tuple[Paper, ...]:
        """The papers of the settings, each once, under whichever names it stands there. Raises `Trouble`."""
        found = {paper.name: paper for paper in map(self.find_paper, self.settings.papers)}
        return tuple(found.values())

    def find_paper(self, name: str) -> Paper:
        """A paper by alias, PWG 5101.1 name, or size (`13x19in`); raises `Trouble` with the near misses.

        A name that sellers use for several sizes (A3+, Super B) is taken only together with a size.
        """
        wanted = fold_name(name)
        for paper in self.papers.values():
            if wanted in {fold_name(n) for n in (paper.alias, paper.name, *paper.aliases)}:
                return paper
        trap = explain_name_trap(name)
        if trap:
            raise _make_usage_trouble(
                f"{trap}, so the name alone is not taken",
                f"Measure a sheet and give its size with the name: “{name.strip()} 329x483mm”.",
                name,
            )
        return self._describe_paper(name)

    def _describe_paper(self, name: str) -> Paper:
        """A paper not on file, described by its own name or size."""
        described = name.strip() if "_" in name else make_custom_name(name) or name.strip()
        try:
            media = parse_media_name(described)
        except PaperNameError as error:
            if "_" in name or described != name.strip():
                raise _make_usage_trouble(error.what, error.remedy, name) from None
            known = [n for p in self.papers.values() for n in (p.alias, *p.aliases)]
            raise _make_usage_trouble(
                "not a paper on file", f"{_suggest_near(name, known)} {error.remedy}", name
            ) from None
        return self._find_same_size(media) or _make_unpriced(media)

    def _find_same_size(self, media: MediaName) -> Paper | None:
        """The paper on file that measures the same, so that its cost is known."""
        for paper in self.papers.values():
            if paper.width_mm == media.width_mm and paper.height_mm == media.height_mm:
                return paper
        return None

    def find_printer(self, name: str) -> Printer:
        """A printer by name; raises `Trouble` with the near misses."""
        return _find_named(self.printers, name, "printer")

    def find_press(self, name: str) -> HeatPress:
        """A press by name; raises `Trouble` with the near misses."""
        return _find_named(self.presses, name, "press")

    def require_placement(self, name: str) -> PlacementRule:
        """A placement by name or alias, spaces and hyphens alike; raises `Trouble` with the near misses."""
        found = self.find_placement(name)
        if found is None:
            raise _make_usage_trouble("not a placement on file", suggest_word(_make_slug(name), self.placements), name)
        return found

    def find_placement(self, name: str) -> PlacementRule | None:
        """A placement by name or alias, or None."""
        wanted = fold_name(name)
        for placement in self.placements.values():
            if wanted in {fold_name(n) for n in (placement.name, *placement.aliases)}:
                return placement
        return None


def _make_slug(name: str) -> str:
    return re.sub(r"[\s_-]+", "-", name.strip().casefold())


def _find_named(table: Mapping[str, T], name: str, what: str) -> T:
    if name.strip().casefold() in table:
        return table[name.strip().casefold()]
    raise _make_usage_trouble(f"not a {what} on file", suggest_word(name, table), name)


def _suggest_near(name: str, known: Iterable[str]) -> str:
    close = find_near_word(name.casefold(), list(known))
    return f"Did you mean {quote_text(close)}?" if close else Remedy("list-profiles")


def _make_usage_trouble(what: str, remedy: str, read: str) -> Trouble:
    return Trouble(Finding(what, remedy, kind="profile", read=read, exit=Exit.USAGE))


def _make_unpriced(media: MediaName) -> Paper:
    """A paper known by nothing but its name: it costs nothing until the shop says what it costs."""
    roll = media.height_mm is None
    label, _, size = media.name.removeprefix("custom_").rpartition("_")
    return Paper(
        name=media.name,
        alias=media.name if roll else size if label == size else f"{label}_{size}",
        aliases=(),
        width_mm=media.width_mm,
        height_mm=media.height_mm,
        cost=Decimal(0),
        max_length_mm=5000.0 if roll else None,
        note="Not on file: its cost is taken as 0. Put it into papers.toml of your own profiles.",
    )


def load_profiles(shipped: Traversable, own: Path | None = None) -> Profiles:
    """The shipped profiles with the shop's own folder laid over them.

    Raises `Trouble` with every fault of every file: wrong keys, values and tables by file, table and key
    (wrong use), files and folders that cannot be read (a system error).
    """
    findings: list[Finding] = []
    files = [(kind, shipped / f"{kind}.toml", name) for name, kind in _SHIPPED.items()]
    if own is not None:
        files += [(path.stem, path, str(path)) for path in _list_own_files(own, findings)]
    contents = []
    for kind, file, origin in files:
        if (content := _read_content(file, origin, findings)) is not None:
            contents.append((kind, origin, content))
    if any(finding.severity is Severity.STOP for finding in findings):
        # What is there is still looked at, but not taken together: what is missing would be missed in every table.
        raise_stops(
            [*findings, *(fault for _, origin, content in contents for fault in parse_toml(content, origin)[1])]
        )
    made, faults = _parse_contents(tuple(contents))
    findings += faults
    raise_stops(findings)
    assert made is not None
    return replace(made, findings=tuple(findings))


@lru_cache(maxsize=4)
def _parse_contents(contents: tuple[tuple[str, str, bytes], ...]) -> tuple[Profiles | None, tuple[Finding, ...]]:
    """Profiles out of files (kind, origin, content), None if there was any fault; the same files are parsed once.

    A desk reads its profiles anew for every batch, and mostly finds the same. Nothing ever changes a `Profiles`.
    """
    findings: list[Finding] = []
    shelves = {kind: ProfileLayers() for kind in KINDS}
    for kind, origin, content in contents:
        data, faults = _parse_file(content, origin)
        findings += faults
        shelves[kind].lay_file(data, origin)
    if any(finding.severity is Severity.STOP for finding in findings):
        return None, tuple(findings)
    read = parse_profiles(shelves, findings)
    if read is None:
        return None, tuple(findings)
    origins = {".".join((kind, *path)): o for kind in KINDS for path, o in shelves[kind].origins.items()}
    return Profiles(**read, origins=origins), tuple(findings)


@lru_cache(maxsize=32)
def _parse_file(content: bytes, origin: str) -> tuple[Mapping[str, Any], tuple[Finding, ...]]:
    """The data of one file, which nothing changes: with one value entered the shop's other files are as they were."""
    data, faults = parse_toml(content, origin, origin in _SHIPPED)
    return data, tuple(faults)


def _read_content(file: Traversable, origin: str, findings: list[Finding]) -> bytes | None:
    try:
        return file.read_bytes()
    except OSError as error:
        why = error.strerror or type(error).__name__
        findings.append(
            Finding(
                f"could not be read: {why}",
                "Check the file and its rights.",
                kind="profile",
                file=origin,
                exit=Exit.SYSTEM,
            )
        )
        return None


def _list_own_files(own: Path, findings: list[Finding]) -> list[Path]:
    """The shop's profile files, by name; another TOML file is a fault, since it would do nothing."""
    try:
        paths = sorted(path for path in own.iterdir() if path.suffix.casefold() == ".toml")
    except OSError as error:
        why = "is not a folder" if isinstance(error, NotADirectoryError | FileNotFoundError) else "cannot be read"
        findings.append(
            Finding(
                f"the folder of your own profiles {why}",
                Remedy("copy-profiles"),
                kind="profile",
                file=str(own),
                exit=Exit.USAGE if "not" in why and "read" not in why else Exit.SYSTEM,
            )
        )
        return []
    names = {f"{kind}.toml" for kind in KINDS}
    for path in paths:
        if path.name not in names:
            remedy = suggest_word(path.name, names)
            findings.append(Finding("not a profile file", remedy, kind="profile", file=str(path), exit=Exit.USAGE))
    if not paths:
        findings.append(
            Finding(
                "the folder of your own profiles holds none",
                f"It may hold {', '.join(sorted(names))}.",
                severity=Severity.NOTE,
                kind="profile",
                file=str(own),
            )
        )
    return [path for path in paths if path.name in names]
