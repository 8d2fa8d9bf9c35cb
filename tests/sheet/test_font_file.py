"""The font file of letters drawn in code, read by the tables of the OpenType specification (1.9.1, "Font file")."""

from __future__ import annotations

import io
import struct

import pytest
from PIL import ImageFont

from impose.type.truetype_writer import GlyphOutline, build_font

SQUARE = GlyphOutline(600, (((50, 0), (50, 700), (500, 700), (500, 0)),))
BAR = GlyphOutline(300, (((20, -200), (20, 100), (120, 100), (120, -200)), ((150, 0), (150, 9), (160, 9))))
CHARS = {"A": 1, "é": 2, "\U0001f600": 1}
FONT = build_font(1000, [GlyphOutline(400), SQUARE, BAR], CHARS)


def read_tables(font: bytes) -> dict[str, tuple[int, int, int]]:
    count = struct.unpack_from(">H", font, 4)[0]
    entries = (struct.unpack_from(">4sIII", font, 12 + 16 * n) for n in range(count))
    return {tag.decode("ascii"): (check, at, long) for tag, check, at, long in entries}


def read_table(tag: str) -> bytes:
    _, at, long = read_tables(FONT)[tag]
    return FONT[at : at + long]


def test_the_directory_is_as_it_has_to_be() -> None:
    """searchRange: 16 times the greatest power of two not above the number; entrySelector: its exponent; the rest."""
    version, count, search, selector, shift = struct.unpack_from(">IHHHH", FONT)
    tables = read_tables(FONT)
    assert (version, count) == (0x10000, len(tables)) == (0x10000, 7)
    assert (search, selector, shift) == (4 * 16, 2, 7 * 16 - 4 * 16)
    assert list(tables) == sorted(tables)
    ends = 12 + 16 * count
    for check, at, long in sorted(tables.values(), key=lambda entry: entry[1]):
        assert at == ends
        assert at % 4 == 0
        padded = FONT[at : at + long] + b"\0" * (-long % 4)
        assert check == sum(struct.unpack(f">{len(padded) // 4}I", padded)) % 2**32
        ends = at + len(padded)
    assert ends == len(FONT)


def test_heads_have_the_measures_of_the_outlines() -> None:
    assert struct.unpack_from(">HH", read_table("head"), 16) == (3, 1000)
    # Versions: 1.0, also of maxp for TrueType outlines (0.5 is for CFF). The mark of head, and long offsets.
    assert struct.unpack_from(">I", read_table("head")) == struct.unpack_from(">I", read_table("hhea")) == (0x10000,)
    assert struct.unpack_from(">I", read_table("maxp")) == (0x10000,)
    assert struct.unpack_from(">I", read_table("head"), 12) == (0x5F0F3CF5,)
    assert struct.unpack_from(">Hhhh", read_table("head"), 46) == (8, 2, 1, 0)
    # Two zones (the twilight zone is not used), no hints, and no glyph of parts.
    assert struct.unpack_from(">2H", read_table("maxp"), 10) == (0, 0)
    assert struct.unpack_from(">9H", read_table("maxp"), 14) == (2, *[0] * 8)
    assert [len(read_table(tag)) for tag in ("head", "hhea", "maxp")] == [54, 36, 32]
    assert struct.unpack_from(">4h", read_table("head"), 36) == (20, -200, 500, 700)
    assert struct.unpack_from(">hhhH", read_table("hhea"), 4) == (700, -200, 0, 600)
    assert struct.unpack_from(">H", read_table("hhea"), 34) == (3,)
    assert struct.unpack_from(">HHH", read_table("maxp"), 4) == (3, 7, 2)
    assert struct.unpack(">HhHhHh", read_table("hmtx")) == (400, 0, 600, 50, 300, 20)


def test_each_glyph_has_its_points_where_they_were() -> None:
    offsets = struct.unpack(">4I", read_table("loca"))
    assert offsets[0] == offsets[1] == 0
    assert offsets[3] == len(read_table("glyf"))
    for glyph, start in ((SQUARE, offsets[1]), (BAR, offsets[2])):
        data = read_table("glyf")[start:]
        points = [point for contour in glyph.contours for point in contour]
        count, *box = struct.unpack_from(">5h", data)
        xs, ys = zip(*points, strict=True)
        assert (count, box) == (len(glyph.contours), [min(xs), min(ys), max(xs), max(ys)])
        ends = struct.unpack_from(f">{count}H", data, 10)
        assert [end + 1 for end in ends] == [sum(map(len, glyph.contours[: n + 1])) for n in range(len(glyph.contours))]
        at = 10 + 2 * count + 2 + len(points)
        steps = struct.unpack_from(f">{2 * len(points)}h", data, at)
        assert [sum(steps[: n + 1]) for n in range(len(points))] == list(xs)
        assert [sum(steps[len(points) :][: n + 1]) for n in range(len(points))] == list(ys)


@pytest.mark.parametrize(("text", "wide"), [("A", 600), ("é", 300), ("\U0001f600", 600), ("x", 400), ("Aé", 900)])
def test_freetype_takes_it_and_finds_each_character(text: str, wide: int) -> None:
    assert ImageFont.truetype(io.BytesIO(FONT), 1000, layout_engine=ImageFont.Layout.BASIC).getlength(text) == wide
