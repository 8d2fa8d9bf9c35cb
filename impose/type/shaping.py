"""One font face opened for shaping: what it covers, how it sets a run, how it is cut to the glyphs used.

HarfBuzz does the work (uharfbuzz, Apache 2.0). Everything here is measured in em, so that a value holds at
any size.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from functools import cached_property, lru_cache
from typing import TYPE_CHECKING, NamedTuple

if TYPE_CHECKING:
    import uharfbuzz as hb

# Shown by nothing and so needing no glyph: the joiners and the variation selectors (Unicode,
# Default_Ignorable).
INVISIBLE = frozenset("\u200c\u200d" + "".join(map(chr, range(0xFE00, 0xFE10))))
_NOT_DRAWN = (
    "GSUB",
    "GPOS",
    "GDEF",
    "kern",
    "cmap",
    "name",
    "post",
    "OS/2",
    "vmtx",
    "vhea",
    "VORG",
    "DSIG",
    "STAT",
    "gasp",
)


Point = tuple[float, float]
Contour = tuple[tuple[float, ...], ...]
"""A closed curve: its start (x, y), then lines to (x, y) and Bézier curves (two control points and the end)."""


class ShapedGlyph(NamedTuple):
    """One glyph of a run, in the order drawn from left to right; lengths in em.

    The pen moves on by `advance`; the glyph is drawn `dx`, `dy` from the pen. `text` is what it stands for:
    the whole of a ligature's characters on the first glyph of its cluster, and nothing on the others.
    """

    gid: int
    advance: float
    dx: float
    dy: float
    text: str


class ShapedRun(NamedTuple):
    """A run as shaped: its glyphs, width, and how far its ink reaches above and below the baseline, in em."""

    glyphs: tuple[ShapedGlyph, ...]
    width: float
    top: float
    bottom: float


class _OutlinePen:
    """Notes what HarfBuzz draws. Its quadratic curves (glyf table) are the same curves with a degree more."""

    def __init__(self) -> None:
        self._made: list[list[tuple[float, ...]]] = []

    def list_contours(self) -> Iterator[Contour]:
        """The curves that enclose something; fonts keep lone points as anchors."""
        return (tuple(contour) for contour in self._made if len(contour) > 2 or len(contour[-1]) > 2)

    def moveTo(self, point: Point) -> None:  # noqa: N802  (the names that HarfBuzz calls)
        self._made.append([point])

    def lineTo(self, point: Point) -> None:  # noqa: N802
        self._made[-1].append(point)

    def qCurveTo(self, control: Point, end: Point) -> None:  # noqa: N802
        x, y = self._made[-1][-1][-2:]
        first = (x + (control[0] - x) * 2 / 3, y + (control[1] - y) * 2 / 3)
        second = (end[0] + (control[0] - end[0]) * 2 / 3, end[1] + (control[1] - end[1]) * 2 / 3)
        self._made[-1].append((*first, *second, *end))

    def curveTo(self, first: Point, second: Point, end: Point) -> None:  # noqa: N802
        self._made[-1].append((*first, *second, *end))

    def closePath(self) -> None:  # noqa: N802
        """A path that is filled closes itself."""


class FontFace:
    """A font face: TrueType or CFF outlines in an OpenType file."""

    def __init__(self, name: str, data: bytes) -> None:
        """Open `data`, an OpenType font file. Raises `ValueError` when it is none or has no outlines."""
        import uharfbuzz as hb

        self.name = name
        self.data = data
        self._face = hb.Face(data)
        self.tables = frozenset(self._face.table_tags) if self._face.glyph_count else frozenset()
        if not self.tables & {"glyf", "CFF "} or "head" not in self.tables:
            raise ValueError(f"{name}: not an OpenType font with TrueType or CFF outlines")
        self._font = hb.Font(self._face)
        self._scale: float = 1.0 / self._face.upem
        self._chars: dict[int, str] | None = None
        self._glyphs: dict[tuple[int, tuple[int, int, int, int], str], tuple[ShapedGlyph, float, float]] = {}
        self._outlines: dict[int, tuple[Contour, ...]] = {}

    @cached_property
    def ascent(self) -> float:
        """How far the tallest plain letters reach above the line, in em."""
        return self._measure_reach("bdhklAEHM")

    @cached_property
    def descent(self) -> float:
        """How far the deepest plain letters reach below the line, in em."""
        return self._measure_reach("gjpqy", below=True)

    @cached_property
    def coverage(self) -> frozenset[str]:
        """The characters that the face has; of a large one they take longer to list than a page to letter."""
        return frozenset(map(chr, self._face.unicodes))

    @property
    def units_per_em(self) -> int:
        """The font's own units in one em."""
        return int(self._face.upem)

    def read_table(self, tag: str) -> bytes:
        """One raw table of the font file."""
        return bytes(self._face.reference_table(tag).data)

    def advance_width(self, gid: int) -> float:
        """The advance of one glyph by itself, in em."""
        advance: int = self._font.get_glyph_h_advance(gid)
        return advance * self._scale

    def glyph_of(self, char: str) -> int | None:
        """The plain picture of a character, before shaping; None when the face has none."""
        gid: int | None = self._font.get_nominal_glyph(ord(char))
        return gid

    def char_of(self, gid: int) -> str:
        """The character this glyph is the plain picture of; "" for a shaped form that has none of its own."""
        if self._chars is None:
            nominal = self._font.get_nominal_glyph
            self._chars = {nominal(ord(char)): char for char in sorted(self.coverage, reverse=True)}
        return self._chars.get(gid, "")

    def covers_text(self, text: str) -> bool:
        """Whether every visible character of `text` has a glyph here."""
        return all(c in self.coverage or c in INVISIBLE for c in text)

    def shape_run(self, text: str, right_to_left: bool, script: str | None) -> ShapedRun:
        """Set one run: one direction, one script (ISO 15924, None for characters common to all)."""
        import uharfbuzz as hb

        if not text:
            return ShapedRun((), 0.0, 0.0, 0.0)
        buffer = hb.Buffer()
        buffer.add_str(text)
        buffer.direction = "rtl" if right_to_left else "ltr"
        buffer.script = script or "Zyyy"
        # No language: the same label looks the same whatever the machine's locale.
        buffer.language = "und"
        buffer.cluster_level = hb.BufferClusterLevel.MONOTONE_CHARACTERS
        buffer.flags = hb.BufferFlags.REMOVE_DEFAULT_IGNORABLES
        hb.shape(self._font, buffer, {})
        return self._read_buffer(buffer, text)

    def read_outline(self, gid: int) -> tuple[Contour, ...]:
        """The closed curves of one glyph, in the font's own units, y up; none for a space or a coloured picture."""
        if gid not in self._outlines:
            pen = _OutlinePen()
            self._font.draw_glyph_with_pen(gid, pen)
            self._outlines[gid] = tuple(pen.list_contours())
        return self._outlines[gid]

    def _read_buffer(self, buffer: hb.Buffer, text: str) -> ShapedRun:
        infos, positions = buffer.glyph_infos or [], buffer.glyph_positions or []
        starts = [info.cluster for info in infos]
        pieces: Sequence[str] = text
        if starts != list(range(len(text))) or not INVISIBLE.isdisjoint(text):
            texts = _group_by_cluster(text, sorted(set(starts)))
            pieces = [texts.pop(start, "") for start in starts]
        known = self._glyphs
        glyphs: list[ShapedGlyph] = []
        width = top = bottom = 0.0
        for info, place, piece in zip(infos, positions, pieces, strict=True):
            key = (info.codepoint, place.position, piece)
            glyph, up, down = known.get(key) or self._place_glyph(*key)
            glyphs.append(glyph)
            width += glyph.advance
            top = up if up > top else top
            bottom = down if down > bottom else bottom
        return ShapedRun(tuple(glyphs), width, top, bottom)

    def _place_glyph(
        self, gid: int, position: tuple[int, int, int, int], text: str
    ) -> tuple[ShapedGlyph, float, float]:
        """A placed glyph and how far its ink reaches above and below the baseline, in em; made once.

        Ten thousand labels are some hundred different glyphs over and over: shared, they cost little to keep.
        """
        dx, dy, advance, _ = (value * self._scale for value in position)
        box = self._font.get_glyph_extents(gid)
        up = down = 0.0
        if box is not None and box.height:
            up = dy + box.y_bearing * self._scale
            down = -dy - (box.y_bearing + box.height) * self._scale
        made = (ShapedGlyph(gid, advance, dx, dy, text), up, down)
        self._glyphs[gid, position, text] = made
        return made

    def _measure_reach(self, letters: str, below: bool = False) -> float:
        """How far these letters reach above the baseline (or below it), in em; 0 without any of them."""
        shaped = self.shape_run("".join(c for c in letters if c in self.coverage), False, "Latn")
        return shaped.bottom if below else shaped.top

    def subset_font(self, gids: Iterable[int]) -> bytes:
        """An OpenType font with the outlines of `gids` alone, under their old numbers; no layout, no hints.

        Old numbers, so that a page can be written before it is known what the other pages need. The glyphs
        left out cost a byte or two each and deflate to nothing.
        """
        import uharfbuzz as hb

        plan = hb.SubsetInput()
        plan.glyph_set.update(sorted(set(gids)))
        if "fvar" in self.tables:
            plan.pin_all_axes_to_default(self._face)  # a PDF holds no variable font
        plan.flags = hb.SubsetFlags.RETAIN_GIDS | hb.SubsetFlags.NO_HINTING | hb.SubsetFlags.NO_LAYOUT_CLOSURE
        plan.drop_table_tag_set.update(int.from_bytes(tag.encode("ascii"), "big") for tag in _NOT_DRAWN)
        return bytes(hb.subset(self._face, plan).blob.data)


def _group_by_cluster(text: str, starts: Sequence[int]) -> dict[int, str]:
    """What each cluster stands for, without what is invisible."""
    pieces = {at: text[at:end] for at, end in zip(starts, [*starts[1:], len(text)], strict=False)}
    return {at: "".join(c for c in piece if c not in INVISIBLE) for at, piece in pieces.items()}


@lru_cache(maxsize=4096)
def find_script(char: str) -> str | None:
    """The ISO 15924 script of a character; None for what is common to all or goes with its neighbour."""
    import uharfbuzz as hb

    buffer = hb.Buffer()
    buffer.add_str(char)
    buffer.guess_segment_properties()
    return None if buffer.script is None else str(buffer.script)


@lru_cache(maxsize=1)
def _make_empty_font() -> hb.Font:
    import uharfbuzz as hb

    return hb.Font(hb.Face(b""))


def split_clusters(text: str) -> list[str]:
    """The text in pieces a reader takes for one character: a letter with its marks, a joined emoji, a flag.

    HarfBuzz's own grapheme clusters, taken from shaping with an empty font. They agree with Unicode's (UAX
    29) except for control characters and conjoining jamo, neither of which is left in a cleaned, composed
    text.
    """
    import uharfbuzz as hb

    if text.isascii():
        return list(text)
    buffer = hb.Buffer()
    buffer.add_str(text)
    buffer.direction, buffer.script, buffer.language = "ltr", "Zyyy", "und"
    buffer.cluster_level = hb.BufferClusterLevel.MONOTONE_GRAPHEMES
    buffer.flags = hb.BufferFlags.PRESERVE_DEFAULT_IGNORABLES
    hb.shape(_make_empty_font(), buffer, {})
    starts = sorted({info.cluster for info in buffer.glyph_infos})
    return [text[a:b] for a, b in zip(starts, [*starts[1:], len(text)], strict=True)]
