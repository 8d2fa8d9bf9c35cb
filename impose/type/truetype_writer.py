"""A TrueType font put together from straight outlines: what letters drawn in code need to be shaped like any others.

The tables are those that OpenType 1.9.1 requires for shaping and drawing (head, hhea, maxp, hmtx, cmap, loca, glyf);
names and hints are left out, since the font never leaves the program.
"""

from __future__ import annotations

import struct
from collections.abc import Mapping, Sequence

from impose.values import FrozenStruct

Points = Sequence[tuple[int, int]]

_MAGIC = 0x5F0F3CF5


class GlyphOutline(FrozenStruct):
    """One glyph: its advance, and its closed contours of straight lines, y up, outer ones clockwise."""

    advance: int
    contours: tuple[Points, ...] = ()


def build_font(units_per_em: int, glyphs: Sequence[GlyphOutline], chars: Mapping[str, int]) -> bytes:
    """An OpenType file of `glyphs` (the first stands for what is missing), reached by the characters of `chars`."""
    drawn = [_encode_glyph(glyph) for glyph in glyphs]
    offsets = [0]
    for data in drawn:
        offsets.append(offsets[-1] + len(data))
    points = [point for glyph in glyphs for contour in glyph.contours for point in contour]
    xs, ys = [x for x, _ in points], [y for _, y in points]
    box = (min(xs), min(ys), max(xs), max(ys))
    count = len(glyphs)
    most_points = max(sum(map(len, glyph.contours)) for glyph in glyphs)
    most_contours = max(len(glyph.contours) for glyph in glyphs)
    widest = max(glyph.advance for glyph in glyphs)
    metrics = b"".join(struct.pack(">Hh", outline.advance, _measure_left(outline)) for outline in glyphs)
    return _assemble_file(
        {
            "cmap": _encode_cmap(chars),
            "glyf": b"".join(drawn),
            "head": struct.pack(
                ">IIIIHHQQ4hHHhhh", 0x10000, 0x10000, 0, _MAGIC, 3, units_per_em, 0, 0, *box, 0, 8, 2, 1, 0
            ),
            "hhea": struct.pack(">I3hH11hH", 0x10000, box[3], box[1], 0, widest, *[0] * 3, 1, *[0] * 7, count),
            "hmtx": metrics,
            "loca": struct.pack(f">{count + 1}I", *offsets),
            "maxp": struct.pack(">I14H", 0x10000, count, most_points, most_contours, 0, 0, 2, *[0] * 8),
        }
    )


def _measure_left(glyph: GlyphOutline) -> int:
    return min((x for contour in glyph.contours for x, _ in contour), default=0)


def _encode_glyph(glyph: GlyphOutline) -> bytes:
    """The glyf entry of an outline: every point on the curve, coordinates as 16-bit steps."""
    if not glyph.contours:
        return b""
    points = [point for contour in glyph.contours for point in contour]
    xs, ys = [x for x, _ in points], [y for _, y in points]
    ends, last = [], -1
    for contour in glyph.contours:
        last += len(contour)
        ends.append(last)
    head = struct.pack(">5h", len(ends), min(xs), min(ys), max(xs), max(ys))
    steps = [b - a for values in (xs, ys) for a, b in zip([0, *values], values, strict=False)]
    body = struct.pack(f">{len(ends)}HH", *ends, 0) + b"\x01" * len(points) + struct.pack(f">{len(steps)}h", *steps)
    return (head + body) + b"\0" * (-(len(head) + len(body)) % 4)


def _encode_cmap(chars: Mapping[str, int]) -> bytes:
    """Format 12, a group for each character."""
    pairs = sorted((ord(char), gid) for char, gid in chars.items())
    groups = b"".join(struct.pack(">III", code, code, gid) for code, gid in pairs)
    table = struct.pack(">HHIII", 12, 0, 16 + len(groups), 0, len(pairs)) + groups
    return struct.pack(">HHHHI", 0, 1, 3, 10, 12) + table


def _assemble_file(tables: Mapping[str, bytes]) -> bytes:
    """The tables under their directory, each at a multiple of four."""
    count = len(tables)
    power = 1 << (count.bit_length() - 1)
    head = struct.pack(">IHHHH", 0x10000, count, power * 16, power.bit_length() - 1, count * 16 - power * 16)
    at, directory, body = 12 + 16 * count, b"", b""
    for tag, data in sorted(tables.items()):
        padded = data + b"\0" * (-len(data) % 4)
        check = sum(struct.unpack(f">{len(padded) // 4}I", padded)) & 0xFFFFFFFF
        directory += struct.pack(">4sIII", tag.encode("ascii"), check, at + len(body), len(data))
        body += padded
    return head + directory + body
