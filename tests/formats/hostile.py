"""Sound files changed where it hurts, seeded: bytes and lengths of any format, or by a format's own grammar."""

from __future__ import annotations

import random
import re
import struct
import zlib
from collections.abc import Callable

_NUMBERS = (0, 1, 2, 7, 127, 128, 255, 256, 32767, 65535, 2**31 - 1, 2**31, 2**32 - 1)


def changed(chance: random.Random, content: bytes) -> bytes:
    """One to four changes of bytes: flipped, set, cut, doubled, moved; numbers of two and four bytes made extreme."""
    data = bytearray(content)
    for _ in range(chance.randint(1, 4)):
        if len(data) < 16:
            break
        # The front, where headers and tables are, is hit as often as all the rest.
        at = chance.randrange(min(len(data), 200) if chance.random() < 0.5 else len(data))
        how = chance.randrange(8)
        if how == 0:
            data[at] ^= 1 << chance.randrange(8)
        elif how == 1:
            data[at] = chance.choice((0, 1, 0x7F, 0x80, 0xFF))
        elif how == 2:
            data[at : at + 4] = struct.pack(chance.choice((">I", "<I")), chance.choice(_NUMBERS))
        elif how == 3:
            data[at : at + 2] = struct.pack(chance.choice((">H", "<H")), chance.choice(_NUMBERS) & 0xFFFF)
        elif how == 4:
            del data[at : at + chance.randint(1, 64)]
        elif how == 5:
            data[at:at] = data[at : at + chance.randint(1, 64)] * chance.choice((1, 1, 50))
        elif how == 6:
            del data[chance.randrange(len(data)) :]
        else:
            data[at:at] = chance.randbytes(chance.randint(1, 32))
    return bytes(data)


def changed_jpeg(chance: random.Random, content: bytes) -> bytes:
    """Segments doubled, swapped or resized, sizes made huge, scans repeated."""
    if chance.random() < 0.5:
        return changed(chance, content)
    marks = [found.start() for found in re.finditer(rb"\xff[\xc0-\xfe]", content)]
    at = chance.choice(marks)
    length = int.from_bytes(content[at + 2 : at + 4], "big")
    how = chance.randrange(4)
    if how == 0:
        return content[:at] + content[at : at + 2 + length] * chance.choice((2, 90)) + content[at + 2 + length :]
    if how == 1:
        frame = content.find(b"\xff\xc0") if b"\xff\xc0" in content else content.find(b"\xff\xc2")
        size = struct.pack(">HH", chance.choice((1, 2000, 65500)), chance.choice((1, 2000, 65500)))
        return content[: frame + 5] + size + content[frame + 9 :]
    if how == 2:
        scan = content.find(b"\xff\xda")
        return content[:-2] + content[scan:-2] * chance.choice((1, 20, 100)) + b"\xff\xd9"
    return changed(chance, content[:at] + content[at + 2 + length :])


_INNER = (
    '<image href="{out}" width="300" height="300"/>',
    '<image xlink:href="data:image/png;base64,AAAA" width="9" height="9"/>',
    '<use href="{out}"/>',
    "<style>@import url({out});</style>",
    '<rect width="9" height="9" style="fill:url({out})"/>',
    '<g id="a"><use href="#a"/></g>',
    '<filter id="f" x="-1000" y="-1000" width="3000" height="3000"><feGaussianBlur stdDeviation="{n}"/></filter>'
    '<rect width="300" height="300" filter="url(#f)"/>',
    '<pattern id="p" width="0.01" height="0.01" patternUnits="userSpaceOnUse"><rect width="{n}" height="1"/></pattern>'
    '<rect width="300" height="300" fill="url(#p)"/>',
    '<path d="M{n} {n}L-{n} 5 {n} 1z" stroke="#000" stroke-width="{n}" stroke-dasharray="0.001"/>',
    '<text x="9" y="99" font-size="{n}">A</text>',
    '<foreignObject width="9" height="9"><p>x</p></foreignObject>',
    "<script>while(1);</script>",
    '<mask id="m"><rect width="9" height="9" mask="url(#m)"/></mask><rect width="9" height="9" mask="url(#m)"/>',
    "{deep}",
)
_QUICK = tuple(inner for inner in _INNER if "{n}" not in inner)
_OUT = (
    "file:///etc/hostname",
    "/etc/hostname",
    "http://127.0.0.1:9/x",
    "../x.png",
    "//127.0.0.1/x",
    "FILE:///etc/passwd",
)
_ENTITIES = '<!DOCTYPE svg [<!ENTITY a "aaaa"><!ENTITY b "&a;&a;&a;">{}]>'


def changed_svg(chance: random.Random, content: bytes) -> bytes:
    """Parts put in that lead outside, grow or nest without end; numbers made extreme; or plain changes of bytes."""
    how = chance.randrange(5)
    if how == 0:
        return changed(chance, content)
    text = content.decode()
    if how == 1:
        number = chance.choice(("1e9", "-1e9", "0", "nan", "1e-9", "1e39", "99999999999999999999"))
        found = chance.choice(list(re.finditer(r"[0-9.]+", text)))
        return (text[: found.start()] + number + text[found.end() :]).encode()
    if how == 2 and chance.random() < 0.3:
        system = f'<!ENTITY c SYSTEM "{chance.choice(_OUT)}">'
        return (_ENTITIES.format(system) + text.replace("</svg>", "<text>&b;&c;</text></svg>")).encode()
    deep = chance.choice((50, 300, 2000))
    number = chance.choice(("1", "40", "1000", "1e7"))
    groups = "<g opacity='.9'>" * deep + "</g>" * deep
    # What runs into the limit of time takes seconds each: enough of them, and no more.
    inner = chance.choice(_INNER if chance.random() < 0.02 else _QUICK).format(
        out=chance.choice(_OUT), n=number, deep=groups
    )
    return text.replace("</svg>", inner * chance.choice((1, 1, 30)) + "</svg>").encode()


_OPERATORS = (
    b"q 1e9 0 0 1e9 0 0 cm 0 0 1 1 re f Q",
    b"0 0 0 0 k 1 1 5 5 re f",
    b"/None gs /None Do",
    b"BT /F1 1e6 Tf (x) Tj ET",
    b"q " * 600,
    b"0 0 m 1e30 1e30 l S",
    b"BI /W 60000 /H 60000 /BPC 8 /CS /RGB ID x EI",
    b"[0.0001] 0 d 0 0 m 300 200 l S",
)


def changed_pdf(chance: random.Random, content: bytes) -> bytes:
    """Boxes, counts and references made extreme, streams exchanged; or plain changes of bytes."""
    how = chance.randrange(4)
    if how == 0:
        return changed(chance, content)
    if how == 1:
        found = chance.choice(list(re.finditer(rb"[0-9]+", content)))
        number = chance.choice((b"0", b"-1", b"999999999", b"14400", b"1e9", b"2147483648"))
        return content[: found.start()] + number + content[found.end() :]
    if how == 2:
        names = (b"/Type", b"/Kids", b"/Count", b"/MediaBox", b"/Length", b"/Filter", b"/Contents", b"/Root")
        return content.replace(chance.choice(names), chance.choice((b"/X", *names)), 1)
    stream = zlib.compress(b" ".join(chance.choices(_OPERATORS, k=3)))
    start = content.find(b"stream\n")
    end = content.find(b"\nendstream")
    return content[: start + 7] + stream + content[end:] if 0 <= start < end else changed(chance, content)


CHANGES: dict[str, Callable[[random.Random, bytes], bytes]] = {
    "JPEG": changed_jpeg,
    "SVG": changed_svg,
    "PDF": changed_pdf,
}
