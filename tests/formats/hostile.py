"""Sound files changed where it hurts, seeded: bytes and lengths of any format, or by a format's own grammar."""

from __future__ import annotations

import base64
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
    '<image href="data:image/svg+xml;base64,{nested}" width="99" height="99"/>',
    '<feImage href="{out}"/>',
    '<filter id="i"><feImage href="{out}"/></filter><rect width="99" height="99" filter="url(#i)"/>',
    '<text font-family="x" style="font:12px url({out})">A</text>',
    '<?xml-stylesheet href="{out}"?>',
    '<svg width="{n}" height="{n}" viewBox="0 0 {n} {n}"><circle r="9"/></svg>',
    '<rect width="300" height="300" style="fill:u\\72l({out})"/>',
    '<linearGradient id="x" href="#y"/><linearGradient id="y" href="#x"/><rect width="99" height="9" fill="url(#x)"/>',
    '<clipPath id="k"><rect width="9" height="9" clip-path="url(#k)"/></clipPath><rect width="9" clip-path="url(#k)"/>',
    '<marker id="w"><path d="M0 0h9" marker-end="url(#w)"/></marker><path d="M0 0h99" marker-end="url(#w)"/>',
)
_QUICK = tuple(inner for inner in _INNER if "{n}" not in inner)
OUT = [
    "file:///etc/hostname",
    "/etc/hostname",
    "http://127.0.0.1:9/x",
    "../x.png",
    "//127.0.0.1/x",
    "FILE:///etc/passwd",
]
"""What lies outside a file; the benchmark puts its own bait in."""
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
        system = f'<!ENTITY c SYSTEM "{chance.choice(OUT)}">'
        return (_ENTITIES.format(system) + text.replace("</svg>", "<text>&b;&c;</text></svg>")).encode()
    deep = chance.choice((50, 300, 2000))
    number = chance.choice(("1", "40", "1000", "1e7"))
    groups = "<g opacity='.9'>" * deep + "</g>" * deep
    # What runs into the limit of time takes seconds each: enough of them, and no more.
    nested = base64.b64encode(
        f'<svg xmlns="http://www.w3.org/2000/svg"><image href="{chance.choice(OUT)}"/></svg>'.encode()
    )
    inner = chance.choice(_INNER if chance.random() < 0.02 else _QUICK).format(
        out=chance.choice(OUT), n=number, deep=groups, nested=nested.decode()
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


_ACTIONS = (
    "/OpenAction<</S/URI/URI({out})>>",
    "/OpenAction<</S/Launch/F({out})>>",
    "/OpenAction<</S/GoToR/F({out})/D[0/Fit]>>",
    "/OpenAction<</S/JavaScript/JS(app.launchURL\\('{out}'\\))>>",
    "/AcroForm<</XFA[(a)({out})]>>",
    "/Names<</EmbeddedFiles<</Names[(a)<</F({out})>>]>>>>",
)
_IMAGES = (
    "/Type/XObject/Subtype/Image/Width 9/Height 9/BitsPerComponent 8/ColorSpace/DeviceRGB/F({out})/Length 0",
    "/Type/XObject/Subtype/Image/Width 60000/Height 60000/BitsPerComponent 16/ColorSpace/DeviceCMYK/Length 0",
    "/Type/XObject/Subtype/Image/Width 9/Height 9/BitsPerComponent 8/ColorSpace/DeviceRGB/Filter/{filter}/Length 9",
    "/Type/XObject/Subtype/Form/BBox[0 0 300 200]/Resources<</XObject<</A 5 0 R>>>>/Length 5",
    "/Type/Pattern/PatternType 1/PaintType 1/TilingType 1/BBox[0 0 1 1]/XStep 1e-4/YStep 1e-4/Resources<<>>/Length 0",
    "/ShadingType 4/ColorSpace/DeviceRGB/BitsPerCoordinate 32/BitsPerComponent 16/BitsPerFlag 8/Length 9",
)
_FILTERS = ("JBIG2Decode", "JPXDecode", "DCTDecode", "CCITTFaxDecode", "LZWDecode", "ASCII85Decode", "RunLengthDecode")


def grown_pdf(chance: random.Random) -> bytes:
    """A PDF written from its grammar (ISO 32000-1, 7.5): trees, pages, objects and actions that no program writes."""
    out = chance.choice(OUT)
    box = chance.choice(("0 0 300 200", "0 0 1e9 1e9", "-5 -5 5 5", "0 0 0 0", "0 0 300 200", "0 0 14400 14400"))
    kids = chance.choice(("3 0 R", "2 0 R", "3 0 R 3 0 R", "9 0 R 3 0 R"))
    used = chance.choice((b"/A Do", b"/Pattern cs /A scn 0 0 300 200 re f", b"/A sh", b"q /A Do Q " * 300))
    content = b"q 90 0 0 90 9 9 cm " + used + b" Q " + b" ".join(chance.choices(_OPERATORS, k=2))
    image = chance.choice(_IMAGES).format(out=out, filter=chance.choice(_FILTERS))
    body = chance.choice((b"/A Do", b"", chance.randbytes(40)))
    parts = [
        f"<</Type/Catalog/Pages 2 0 R{chance.choice(_ACTIONS).format(out=out)}>>".encode(),
        f"<</Type/Pages/Kids[{kids}]/Count {chance.choice((1, 1, 2, -1, 10**9))}>>".encode(),
        f"<</Type/Page/Parent 2 0 R/MediaBox[{box}]/Rotate {chance.choice((0, 90, 45))}"
        f"/UserUnit {chance.choice((1, 9e9))}"
        "/Resources<</XObject<</A 5 0 R>>/Pattern<</A 5 0 R>>/Shading<</A 5 0 R>>>>/Contents 4 0 R>>".encode(),
        b"<</Length %d>>stream\n%b\nendstream" % (len(content), content),
        b"<<%b>>stream\n%b\nendstream" % (image.encode(), body),
    ]
    made, places = bytearray(b"%PDF-1.7\n"), []
    for number, part in enumerate(parts, 1):
        places.append(len(made))
        made += b"%d 0 obj\n%b\nendobj\n" % (number, part)
    table = "".join(f"{place:010d} 00000 n \n" for place in places)
    start = chance.choice((len(made), len(made), 0, 10**9))
    made += (
        f"xref\n0 {len(parts) + 1}\n0000000000 65535 f \n{table}trailer<</Size {len(parts) + 1}/Root 1 0 R>>\n".encode()
    )
    return bytes(made) + f"startxref\n{start}\n%%EOF\n".encode()


def changed_pdf(chance: random.Random, content: bytes) -> bytes:
    """Boxes, counts and references made extreme, streams exchanged; or plain changes of bytes."""
    how = chance.randrange(6)
    if how > 3:
        return grown_pdf(chance)
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
