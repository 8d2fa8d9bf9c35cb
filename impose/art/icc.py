"""ICC profiles as bytes: whether one is whole and for what, and small ones made exactly of published numbers.

Layout after ICC.1:2022 (the same in ICC.1:2010, version 4.3, which is what is written, since older readers know it).
The bytes made here depend on nothing but the numbers given: no clock, no library version.
"""

from __future__ import annotations

import hashlib
import struct

from impose.values import FrozenStruct

HEADER = 128  # 7.2: length at 0, class at 12, colour space at 16, connection space at 20, "acsp" at 36
_MOST_TAGS = 1000  # profiles have 9 to 60 (common practice, no source)

Curve = tuple[float, ...]
"""Parameters of a parametric curve (10.18): (g,) is Y = X^g; (g, a, b, c, d) is (aX + b)^g from d on, below it cX."""

Point = tuple[float, float]
"""CIE 1931 chromaticity x, y."""

SRGB_CURVE: Curve = (2.4, 1 / 1.055, 0.055 / 1.055, 1 / 12.92, 0.04045)  # IEC 61966-2-1:1999, 5.2
D65: Point = (0.3127, 0.3290)  # the same, 4.1, and ITU-R BT.709-6, item 1.4
BT709: tuple[Point, Point, Point] = ((0.64, 0.33), (0.30, 0.60), (0.15, 0.06))  # ITU-R BT.709-6, item 1.3

_D50 = (0x0000F6D6, 0x00010000, 0x0000D32D)  # 7.2.16, s15Fixed16: 0.9642, 1, 0.8249
_BRADFORD = ((0.8951, 0.2664, -0.1614), (-0.7502, 1.7135, 0.0367), (0.0389, -0.0685, 1.0296))  # annex E

Row = tuple[float, float, float]
Matrix = tuple[Row, Row, Row]


class ProfileFault(FrozenStruct):
    """Why a profile cannot be used: in words that go on from "the profile ..."."""

    what: str


_SPACES = {b"RGB ": "RGB", b"GRAY": "grey", b"CMYK": "CMYK", b"Lab ": "Lab", b"XYZ ": "XYZ"}
_CLASSES = {
    b"link": "links two devices instead of describing one",
    b"abst": "is an abstract effect, no device's description",
    b"nmcl": "is a list of named colours, no device's description",
}


def describe_colour_space(profile: bytes) -> str:
    """The colour space a whole profile is for, in words: RGB, grey, CMYK."""
    return _SPACES.get(profile[16:20], profile[16:20].decode("latin-1").strip())


def is_printers(profile: bytes) -> bool:
    """Whether it is the profile of a printer: class prtr (ICC.1:2022, 7.2.5)."""
    return profile[12:16] == b"prtr"


def find_profile_fault(profile: bytes, wanted: str = "", output: bool = False) -> ProfileFault | None:
    """What keeps a profile from describing pixels of the `wanted` colour space ("RGB", "grey", "CMYK"), if anything.

    With `output` it must also be able to turn colours into those pixels. Outside: sizes, signature, class, tag table,
    the tags without which nothing can be computed. What is inside the tags only a colour engine can tell.
    """
    if len(profile) < HEADER + 4 or profile[36:40] != b"acsp":
        return ProfileFault("is damaged")
    if int.from_bytes(profile[:4], "big") != len(profile):
        return ProfileFault("is cut short or padded")
    kind = profile[12:16]
    if kind in _CLASSES:
        return ProfileFault(_CLASSES[kind])
    if output and kind == b"scnr":
        return ProfileFault("describes a scanner or a camera, which brings colours in and prints none")
    if profile[20:24] not in (b"XYZ ", b"Lab "):
        return ProfileFault("is damaged")
    if wanted and describe_colour_space(profile) != wanted:
        return ProfileFault(f"is for {describe_colour_space(profile)} and the picture is {wanted}")
    tags = _read_tag_table(profile)
    if tags is None:
        return ProfileFault("is damaged: its table of contents points outside it")
    needed = _find_missing_tag(profile[16:20], tags, output)
    return ProfileFault(f"is damaged: its part {needed} is missing") if needed else None


def _read_tag_table(profile: bytes) -> dict[bytes, tuple[int, int]] | None:
    """Offset and size of every tag, None if one is not inside the profile (7.3)."""
    count = int.from_bytes(profile[HEADER : HEADER + 4], "big")
    end = HEADER + 4 + 12 * count
    if not 0 < count <= _MOST_TAGS or end > len(profile):
        return None
    tags = {}
    for name, start, size in struct.iter_unpack(">4sII", profile[HEADER + 4 : end]):
        if start < end or size < 8 or start + size > len(profile):
            return None
        tags[name] = (start, size)
    return tags


def _find_missing_tag(space: bytes, tags: dict[bytes, tuple[int, int]], output: bool) -> str:
    """The first tag that is missing (8.3 to 8.5), or nothing: tables, or a curve for each channel and their colours."""
    if any(name in tags for name in (b"A2B0", b"D2B0")) and (not output or b"B2A0" in tags or b"D2B0" in tags):
        return ""
    model = {b"RGB ": (b"rXYZ", b"gXYZ", b"bXYZ", b"rTRC", b"gTRC", b"bTRC"), b"GRAY": (b"kTRC",)}
    wanted = model.get(space, (b"A2B0", b"B2A0") if output else (b"A2B0",))
    return next((name.decode() for name in wanted if name not in tags), "")


def uses_tables(profile: bytes) -> bool:
    """Whether colours are looked up in tables (8.3 to 8.5) and not computed by curves and a matrix."""
    return bool(_A2B & set(_read_tag_table(profile) or {}))


_A2B = {b"A2B0", b"A2B1", b"A2B2", b"D2B0", b"D2B1", b"D2B2", b"D2B3"}


def lacks_intent(profile: bytes, intent: int) -> bool:
    """Whether a profile that works by tables has none for an intent (7.2.15), so that table 0 stands in (8.2)."""
    tags = _read_tag_table(profile) or {}
    table = (b"B2A0", b"B2A1", b"B2A2", b"B2A1")[intent]
    return b"B2A0" in tags and table not in tags


def make_rgb_profile(
    name: str, curve: Curve, primaries: tuple[Point, Point, Point] = BT709, white: Point = D65
) -> bytes:
    """A matrix profile (8.4.3) of three primaries, a white and one curve. Raises `ValueError` if they span no colours.

    Colours are adapted to the connection space's white by the linear Bradford transform, as annex E recommends.
    """
    adapt = _make_bradford_adaptation(_to_tristimulus(white))
    columns = _adapt_primaries(adapt, primaries, white)
    marks = [(b"rXYZ", columns[0]), (b"gXYZ", columns[1]), (b"bXYZ", columns[2])]
    tags = [(mark, b"XYZ \0\0\0\0" + struct.pack(">3i", *column)) for mark, column in marks]
    tags += [(mark, _encode_parametric_curve(curve)) for mark in (b"rTRC", b"gTRC", b"bTRC")]
    return _assemble_profile(b"RGB ", name, adapt, tags)


def make_grey_profile(name: str, curve: Curve, white: Point = D65) -> bytes:
    """A monochrome profile (8.4.4) of one curve."""
    return _assemble_profile(
        b"GRAY", name, _make_bradford_adaptation(_to_tristimulus(white)), [(b"kTRC", _encode_parametric_curve(curve))]
    )


def _adapt_primaries(adapt: Matrix, primaries: tuple[Point, Point, Point], white: Point) -> list[list[int]]:
    """The adapted primaries in s15Fixed16; the last takes up the rounding, so that white is the connection white."""
    corners = [_to_tristimulus(point) for point in primaries]
    upright: Matrix = tuple(tuple(corner[i] for corner in corners) for i in range(3))  # type: ignore[assignment]
    shares = _multiply_matrix(_invert_matrix(upright), _to_tristimulus(white))
    if min(shares) <= 0:
        raise ValueError("white is not inside the primaries")
    columns = [
        [_to_s15fixed16(v) for v in _multiply_matrix(adapt, tuple(share * v for v in corner))]  # type: ignore[arg-type]
        for corner, share in zip(corners, shares, strict=True)
    ]
    columns[2] = [d50 - r - g for d50, r, g in zip(_D50, columns[0], columns[1], strict=True)]
    return columns


def _assemble_profile(space: bytes, name: str, adapt: Matrix, own: list[tuple[bytes, bytes]]) -> bytes:
    """Header, tag table and tags; equal tags are stored once."""
    chad = struct.pack(">9i", *(_to_s15fixed16(v) for row in adapt for v in row))
    tags = [
        (b"desc", _encode_text(name)),
        (b"cprt", _encode_text("No copyright, use freely")),
        (b"wtpt", b"XYZ \0\0\0\0" + struct.pack(">3I", *_D50)),
        (b"chad", b"sf32\0\0\0\0" + chad),
        *own,
    ]
    body, table, seen = b"", b"", {}
    start = HEADER + 4 + 12 * len(tags)
    for mark, data in tags:
        if data not in seen:
            seen[data] = start + len(body)
            body += data + bytes(-len(data) % 4)
        table += mark + struct.pack(">II", seen[data], len(data))
    rest = len(tags).to_bytes(4, "big") + table + body
    head = _make_header(space, HEADER + len(rest))
    return head[:84] + hashlib.md5(head + rest, usedforsecurity=False).digest() + head[100:] + rest  # 7.2.18


def _make_header(space: bytes, length: int) -> bytes:
    """7.2, the identifier left out. The date is that of the first release of what made it, not the clock's."""
    head = struct.pack(">I4sI4s4s4s6H", length, bytes(4), 0x04300000, b"mntr", space, b"XYZ ", 2026, 1, 1, 0, 0, 0)
    return (head + b"acsp").ljust(68, b"\0") + struct.pack(">3I", *_D50) + bytes(48)


def _encode_text(words: str) -> bytes:
    """A multiLocalizedUnicodeType (10.15) with one text."""
    text = words.encode("utf-16-be")
    return b"mluc\0\0\0\0" + struct.pack(">II2s2sII", 1, 12, b"en", b"US", len(text), 28) + text


def _encode_parametric_curve(curve: Curve) -> bytes:
    """A parametricCurveType (10.18): function 0 or 3."""
    kind = {1: 0, 5: 3}[len(curve)]
    return b"para\0\0\0\0" + struct.pack(f">HH{len(curve)}i", kind, 0, *(_to_s15fixed16(v) for v in curve))


def _to_s15fixed16(value: float) -> int:
    """s15Fixed16Number (4.7)."""
    return round(value * 65536)


def _to_tristimulus(point: Point) -> Row:
    """Tristimulus values of a chromaticity at Y = 1."""
    x, y = point
    if y <= 0:
        raise ValueError("a chromaticity without light")
    return x / y, 1.0, (1 - x - y) / y


def _make_bradford_adaptation(white: Row) -> Matrix:
    """The linear Bradford transform from a white to D50 (annex E.3)."""
    ours, theirs = _multiply_matrix(_BRADFORD, white), _multiply_matrix(_BRADFORD, _from_s15fixed16(_D50))
    scaled = [[row[i] * theirs[k] / ours[k] for i in range(3)] for k, row in enumerate(_BRADFORD)]
    back = _invert_matrix(_BRADFORD)
    rows = [[sum(back[i][k] * scaled[k][j] for k in range(3)) for j in range(3)] for i in range(3)]
    return tuple(tuple(row) for row in rows)  # type: ignore[return-value]


def _from_s15fixed16(fixed: tuple[int, int, int]) -> Row:
    return fixed[0] / 65536, fixed[1] / 65536, fixed[2] / 65536


def _multiply_matrix(matrix: Matrix, vector: Row) -> Row:
    a, b, c = (sum(m * v for m, v in zip(row, vector, strict=True)) for row in matrix)
    return a, b, c


def _invert_matrix(m: Matrix) -> Matrix:
    """By cofactors; raises `ValueError` if there is none."""
    cofactors = [
        [
            m[(j + 1) % 3][(i + 1) % 3] * m[(j + 2) % 3][(i + 2) % 3]
            - m[(j + 1) % 3][(i + 2) % 3] * m[(j + 2) % 3][(i + 1) % 3]
            for j in range(3)
        ]
        for i in range(3)
    ]
    whole = sum(m[0][i] * cofactors[i][0] for i in range(3))
    if abs(whole) < 1e-9:
        raise ValueError("the primaries lie on a line")
    return tuple(tuple(value / whole for value in row) for row in cofactors)  # type: ignore[return-value]
