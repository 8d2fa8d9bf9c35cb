"""What a printer says of itself, in our terms. Pure; every attribute may be missing, of a wrong kind or contradictory.

Beside each attribute stands what defines it: RFC 8011 with its section, PWG 5100.7 (Job Extensions: media-col and its
members), PWG 5100.13 (Driver Replacement Extensions), PWG 5100.14 (IPP Everywhere), PWG 5102.4 (PWG Raster), PWG 5101.1
(names of papers). Sections are cited from memory. Lengths come in hundredths of a millimetre and leave as millimetres.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import TypeVar

from impose.printing.ipp_encoding import (
    Attribute,
    Collection,
    Group,
    IntegerRange,
    LocalText,
    Resolution,
    Tag,
    make_attribute,
)
from impose.profiles.paper import PaperNameError, parse_media_name
from impose.values import FrozenStruct

SAME_SIZE = 50  # hundredths of a millimetre: sizes closer than half a millimetre are one paper (our own bound)
MOST_MARGIN = 10_000
_NOT_SAID = (0x10, 0x12)
T = TypeVar("T")

# Asked for by name, since `all` leaves out media-col-database (PWG 5100.7) and a few printers know no `all`.
ASKED = ("all", "media-col-database")


class PrinterEdges(FrozenStruct):
    """What a printer cannot print on, in mm, as the sheet is fed."""

    left_mm: float
    top_mm: float
    right_mm: float
    bottom_mm: float


class MediaSize(FrozenStruct):
    """A size a printer takes: across and along, in hundredths of a millimetre; ranges for custom sizes and rolls."""

    across: IntegerRange
    along: IntegerRange

    def holds_paper(self, width_mm: float, height_mm: float) -> bool:
        """Whether a paper has this size, or one within its ranges."""
        return _is_near(self.across, width_mm) and _is_near(self.along, height_mm)


class MediaEntry(FrozenStruct):
    """One row of media-col-database or media-col-ready (PWG 5100.7)."""

    size: MediaSize
    edges: PrinterEdges | None
    media_type: str
    source: str


class InkLevel(FrozenStruct):
    """A supply: its name and how full it is in per cent; None where the printer does not know."""

    name: str
    percent: int | None
    low: bool


class PrinterReport(FrozenStruct):
    """What one printer, or one queue of a spooler, says of itself."""

    name: str
    model: str
    state: str  # idle, printing, stopped, unknown
    reasons: tuple[str, ...]
    accepting: bool
    formats: frozenset[str]
    operations: frozenset[int]
    job_attributes: frozenset[str] | None  # None where it does not say
    scalings: frozenset[str]
    media_members: frozenset[str]
    media_types: tuple[str, ...]
    sources: tuple[str, ...]
    qualities: frozenset[int]
    sides: frozenset[str]
    colour_modes: frozenset[str]
    intents: frozenset[str]
    sizes: tuple[MediaSize, ...]
    entries: tuple[MediaEntry, ...]
    loaded: tuple[MediaEntry, ...] | None  # None where it does not say
    ink: tuple[InkLevel, ...]
    raster_resolutions: tuple[Resolution, ...]
    raster_types: frozenset[str]
    device: str  # where a spooler's queue sends to; empty for a printer
    is_queue: bool

    def takes_attribute(self, job_attribute: str) -> bool:
        """Whether a job may ask for something; a printer that does not say is asked, and may answer no."""
        return self.job_attributes is None or job_attribute in self.job_attributes

    def knows_size(self, width_mm: float, height_mm: float) -> bool:
        """Whether the printer takes paper of that size."""
        known = (*self.sizes, *(entry.size for entry in self.entries))
        return any(size.holds_paper(width_mm, height_mm) for size in known)

    def find_edges(self, width_mm: float, height_mm: float) -> PrinterEdges | None:
        """The narrowest edges of a size that are not borderless, which enlarges; None where it does not say."""
        found = [e.edges for e in self.entries if e.edges is not None and e.size.holds_paper(width_mm, height_mm)]
        kept = [edges for edges in found if _sum_edges(edges) > 0]
        return min(kept, key=lambda edges: (_sum_edges(edges), edges.left_mm, edges.top_mm)) if kept else None

    def offers_borderless(self, width_mm: float, height_mm: float) -> bool:
        """Whether the printer also offers to print the size to its edges."""
        return any(
            e.edges is not None and _sum_edges(e.edges) == 0
            for e in self.entries
            if e.size.holds_paper(width_mm, height_mm)
        )

    def loaded_entry(self, width_mm: float, height_mm: float) -> MediaEntry | None:
        """The paper of that size that lies in the printer."""
        return next((e for e in self.loaded or () if e.size.holds_paper(width_mm, height_mm)), None)


def list_asked() -> Attribute:
    """The attributes to be asked of a printer (RFC 8011, 4.2.5.1)."""
    return make_attribute("requested-attributes", Tag.KEYWORD, *ASKED)


def read_report(group: Group) -> PrinterReport:
    """The report in a printer's answer to Get-Printer-Attributes (RFC 8011, 4.2.5). Never raises."""
    said = _Said(group)
    device = said.find_text("device-uri")  # a spooler's own extension: only a queue has one
    is_queue = bool(device) or bool(said.find_whole("printer-type"))
    return PrinterReport(
        name=said.find_text("printer-name") or said.find_text("printer-info"),  # RFC 8011, 5.4.4, 5.4.6
        model=said.find_text("printer-make-and-model"),  # RFC 8011, 5.4.9
        state={3: "idle", 4: "printing", 5: "stopped"}.get(said.find_whole("printer-state") or 0, "unknown"),  # 5.4.11
        reasons=tuple(sorted(set(said.find_words("printer-state-reasons")) - {"none"})),  # RFC 8011, 5.4.12
        accepting=group.find_first("printer-is-accepting-jobs") is not False,  # RFC 8011, 5.4.23
        formats=frozenset(said.find_words("document-format-supported")),  # RFC 8011, 5.4.22
        operations=frozenset(said.find_all("operations-supported", int)),  # RFC 8011, 5.4.15
        job_attributes=frozenset(said.find_words("job-creation-attributes-supported")) or None,  # PWG 5100.13
        scalings=frozenset(said.find_words("print-scaling-supported")),  # PWG 5100.13
        media_members=frozenset(said.find_words("media-col-supported")),  # PWG 5100.7
        media_types=tuple(said.find_words("media-type-supported")),  # PWG 5100.7
        sources=tuple(said.find_words("media-source-supported")),  # PWG 5100.7
        qualities=frozenset(said.find_all("print-quality-supported", int)),  # RFC 8011, 5.2.13
        sides=frozenset(said.find_words("sides-supported")),  # RFC 8011, 5.2.8
        colour_modes=frozenset(said.find_words("print-color-mode-supported")),  # PWG 5100.13
        intents=frozenset(said.find_words("print-rendering-intent-supported")),  # PWG 5100.13
        sizes=tuple(said.list_sizes()),
        entries=tuple(said.list_entries("media-col-database")),  # PWG 5100.7
        loaded=None if is_queue else said.list_loaded(),
        ink=tuple(said.list_ink()),
        raster_resolutions=tuple(said.find_all("pwg-raster-document-resolution-supported", Resolution)),  # PWG 5102.4
        raster_types=frozenset(said.find_words("pwg-raster-document-type-supported")),  # PWG 5102.4
        device=device,
        is_queue=is_queue,
    )


class _Said:
    """Attributes by name, with whatever is of a wrong kind passed over."""

    def __init__(self, group: Group) -> None:
        self.group = group

    def find_all(self, name: str, kind: type[T]) -> list[T]:
        values = [value.data for value in self.group.find_values(name)]
        return [data for data in values if isinstance(data, kind) and not (kind is int and isinstance(data, bool))]

    def _is_said(self, name: str) -> bool:
        """Whether an attribute is there and known (RFC 8010, 3.8: unsupported, unknown)."""
        return any(value.tag not in _NOT_SAID for value in self.group.find_values(name))

    def find_words(self, name: str) -> list[str]:
        return [word[:255] for word in self.find_all(name, str)]

    def find_text(self, name: str) -> str:
        """The first text or name; either may come with its language (RFC 8011, 5.1.2 and 5.1.3)."""
        data = self.group.find_first(name)
        text = data.text if isinstance(data, LocalText) else data
        return text[:255] if isinstance(text, str) else ""

    def find_whole(self, name: str) -> int | None:
        return next(iter(self.find_all(name, int)), None)

    def list_sizes(self) -> Iterator[MediaSize]:
        """media-size-supported (PWG 5100.7), and the names of media-supported (RFC 8011, 5.2.11) as PWG 5101.1."""
        for values in self.find_all("media-size-supported", Collection):
            size = _read_size(values)
            if size is not None:
                yield size
        corners: dict[str, tuple[float, float]] = {}
        for name in self.find_words("media-supported"):
            try:
                media = parse_media_name(name)
            except PaperNameError:
                continue
            height = media.height_mm or 0.0
            if media.size in ("min", "max") or media.size.startswith(("min-", "max-", "min_", "max_")):
                corners[media.kind + media.size[:3]] = (media.width_mm, height)
            elif media.height_mm is not None:
                yield MediaSize(_make_exact(media.width_mm), _make_exact(media.height_mm))
        for kind in ("custom", "roll"):  # custom_min_…, custom_max_…: PWG 5101.1, custom ranges
            if kind + "min" in corners and kind + "max" in corners:
                (w1, h1), (w2, h2) = corners[kind + "min"], corners[kind + "max"]
                yield MediaSize(_make_range(w1, w2), _make_range(h1, h2))

    def list_entries(self, name: str) -> Iterator[MediaEntry]:
        for values in self.find_all(name, Collection):
            inner = values.find_first("media-size")
            size = _read_size(inner) if isinstance(inner, Collection) else None
            if size is not None:
                yield MediaEntry(
                    size, _read_edges(values), _read_word(values, "media-type"), _read_word(values, "media-source")
                )

    def list_loaded(self) -> tuple[MediaEntry, ...] | None:
        """media-col-ready (PWG 5100.7), or the names of media-ready (RFC 8011, 5.2.11) where it is missing."""
        if self._is_said("media-col-ready"):
            return tuple(self.list_entries("media-col-ready"))
        if not self._is_said("media-ready"):
            return None
        found = []
        for name in self.find_words("media-ready"):
            try:
                media = parse_media_name(name)
            except PaperNameError:
                continue
            along = _make_exact(media.height_mm) if media.height_mm is not None else IntegerRange(0, 1 << 30)
            found.append(MediaEntry(MediaSize(_make_exact(media.width_mm), along), None, "", ""))
        return tuple(found)

    def list_ink(self) -> Iterator[InkLevel]:
        """marker-names, marker-levels, marker-low-levels: of the spooler, and of most printers besides."""
        levels, lows = self.find_all("marker-levels", int), self.find_all("marker-low-levels", int)
        for index, name in enumerate(self.find_words("marker-names")[:32]):
            level = levels[index] if index < len(levels) else -1
            known = level if 0 <= level <= 100 else None
            low = lows[index] if index < len(lows) else 10
            yield InkLevel(name, known, known is not None and known <= low)


def _read_size(values: Collection) -> MediaSize | None:
    across, along = _read_range(values.find_first("x-dimension")), _read_range(values.find_first("y-dimension"))
    return None if across is None or along is None else MediaSize(across, along)


def _read_range(data: object) -> IntegerRange | None:
    if isinstance(data, IntegerRange):
        return data if 0 <= data.low <= data.high else None
    if isinstance(data, int) and not isinstance(data, bool) and data > 0:
        return IntegerRange(data, data)
    return None


def _read_edges(values: Collection) -> PrinterEdges | None:
    found = [values.find_first(f"media-{side}-margin") for side in ("left", "top", "right", "bottom")]
    lengths = [data for data in found if isinstance(data, int) and not isinstance(data, bool)]
    if len(lengths) < 4 or not all(0 <= length <= MOST_MARGIN for length in lengths):
        return None
    return PrinterEdges(*(length / 100 for length in lengths))


def _read_word(values: Collection, name: str) -> str:
    data = values.find_first(name)
    return data[:255] if isinstance(data, str) else ""


def _is_near(found: IntegerRange, length_mm: float) -> bool:
    length = round(length_mm * 100)
    return found.low - SAME_SIZE <= length <= found.high + SAME_SIZE


def _make_exact(length_mm: float) -> IntegerRange:
    return IntegerRange(round(length_mm * 100), round(length_mm * 100))


def _make_range(low_mm: float, high_mm: float) -> IntegerRange:
    return IntegerRange(round(low_mm * 100), round(high_mm * 100))


def _sum_edges(edges: PrinterEdges) -> float:
    return edges.left_mm + edges.top_mm + edges.right_mm + edges.bottom_mm
