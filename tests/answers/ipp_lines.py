# ruff: noqa: E501 - tables of attributes
"""Messages of the Internet Printing Protocol and PWG Raster written and read by the standards, without the product.

RFC 8010, 3.1 and 3.5 (layout and tags), 3.9 (syntaxes); PWG 5102.4, 4.3 (page header) and 4.4 (packed lines).
"""

from __future__ import annotations

import struct
from collections.abc import Iterator
from typing import Any

GROUPS = {1: "operation", 2: "job", 4: "printer", 5: "unsupported"}
OUT_OF_BAND = {"unsupported": 0x10, "unknown": 0x12, "no-value": 0x13}
SYNTAXES = {
    "integer": 0x21, "boolean": 0x22, "enum": 0x23, "octetString": 0x30, "dateTime": 0x31, "resolution": 0x32,
    "rangeOfInteger": 0x33, "textWithLanguage": 0x35, "nameWithLanguage": 0x36, "text": 0x41, "name": 0x42,
    "keyword": 0x44, "uri": 0x45, "uriScheme": 0x46, "charset": 0x47, "naturalLanguage": 0x48, "mimeMediaType": 0x49,
    **OUT_OF_BAND,
}  # fmt: skip
_NAMES = {tag: name for name, tag in SYNTAXES.items()}


def pack_value(tag: int, name: str, body: bytes) -> bytes:
    """One field: tag, name and content with their lengths."""
    return struct.pack(">BH", tag, len(name)) + name.encode() + struct.pack(">H", len(body)) + body


def encode_value(syntax: str, value: Any) -> bytes:
    """A value's content by its syntax."""
    if syntax in ("integer", "enum"):
        return struct.pack(">i", value)
    if syntax == "boolean":
        return b"\1" if value else b"\0"
    if syntax == "rangeOfInteger":
        return struct.pack(">ii", *value)
    if syntax == "resolution":  # across, along, unit (3: dots an inch, 4: dots a centimetre)
        return struct.pack(">iib", *value)
    if syntax.endswith("WithLanguage"):
        return b"".join(struct.pack(">H", len(part.encode())) + part.encode() for part in value)
    if syntax in OUT_OF_BAND:
        return b""
    return value if isinstance(value, bytes) else value.encode()


def encode_attribute(name: str, syntax: str, *values: Any) -> bytes:
    """An attribute; of syntax `collection` each value is a list of (name, syntax, values...)."""
    parts = []
    for value in values:
        if syntax == "collection":
            parts.append(pack_value(0x34, name, b""))
            for member, kind, *inner in value:
                parts.append(pack_value(0x4A, "", member.encode()))
                parts.append(encode_attribute("", kind, *inner))
            parts.append(pack_value(0x37, "", b""))
        else:
            parts.append(pack_value(SYNTAXES[syntax], name, encode_value(syntax, value)))
        name = ""
    return b"".join(parts)


def encode_answer(status: int, *groups: tuple[int, list[tuple[Any, ...]]], number: int = 1) -> bytes:
    """An answer whose operation group says charset and language (RFC 8011, 4.1.4)."""
    first = encode_attribute("attributes-charset", "charset", "utf-8")
    first += encode_attribute("attributes-natural-language", "naturalLanguage", "en")
    content = struct.pack(">BBHI", 2, 0, status, number)
    operation = next((rows for tag, rows in groups if tag == 1), [])
    content += b"\1" + first + b"".join(encode_attribute(*row) for row in operation)
    for tag, rows in groups:
        if tag != 1:
            content += bytes([tag]) + b"".join(encode_attribute(*row) for row in rows)
    return content + b"\3"


def show_message(content: bytes) -> tuple[list[str], bytes]:
    """A message as lines, and the document behind it."""
    major, minor, code, number = struct.unpack(">BBHI", content[:8])
    lines, at = [f"version {major}.{minor} code 0x{code:04x}"], 8
    del number
    deep, label = 0, ""
    while (tag := content[at]) != 3:
        at += 1
        if tag < 0x10:
            lines.append(f"group {GROUPS.get(tag, tag)}")
            continue
        (length,) = struct.unpack_from(">H", content, at)
        name, at = content[at + 2 : at + 2 + length].decode(), at + 2 + length
        (length,) = struct.unpack_from(">H", content, at)
        body, at = content[at + 2 : at + 2 + length], at + 2 + length
        label = name or label
        if tag == 0x34:
            lines.append(f"{'  ' * (deep + 1)}{name or label} collection")
            deep += 1
        elif tag == 0x37:
            deep -= 1
        elif tag == 0x4A:
            label = body.decode()
        else:
            mark = name or (label if deep else "and")
            lines.append(f"{'  ' * (deep + 1)}{mark} {_NAMES.get(tag, hex(tag))} {_show_value(tag, body)}")
    return lines, content[at + 1 :]


def _show_value(tag: int, body: bytes) -> str:
    kind = _NAMES.get(tag, "")
    if kind in ("integer", "enum"):
        return str(struct.unpack(">i", body)[0])
    if kind == "boolean":
        return {b"\0": "false", b"\1": "true"}[body]
    if kind == "rangeOfInteger":
        return "{} to {}".format(*struct.unpack(">ii", body))
    if kind == "resolution":
        return "{} x {} unit {}".format(*struct.unpack(">iib", body))
    if kind in OUT_OF_BAND:
        return ""
    return body.hex() if kind in ("octetString", "dateTime") else body.decode()


_HEADER = (
    ("PwgRaster", 0, "text"), ("MediaColor", 64, "text"), ("MediaType", 128, "text"), ("PrintContentOptimize", 192, "text"),
    ("CutMedia", 268, 1), ("Duplex", 272, 1), ("HWResolution", 276, 2), ("InsertSheet", 300, 1), ("Jog", 304, 1),
    ("LeadingEdge", 308, 1), ("MediaPosition", 324, 1), ("MediaWeight", 328, 1), ("NumCopies", 340, 1),
    ("Orientation", 344, 1), ("PageSize", 352, 2), ("Tumble", 368, 1), ("Width Height", 372, 2),
    ("BitsPerColor BitsPerPixel BytesPerLine", 384, 3), ("ColorOrder ColorSpace", 396, 2), ("NumColors", 420, 1),
    ("TotalPageCount", 452, 1), ("CrossFeedTransform FeedTransform", 456, 2), ("ImageBox", 464, 4),
    ("AlternatePrimary", 480, 1), ("PrintQuality", 484, 1), ("VendorIdentifier VendorLength", 508, 2),
    ("RenderingIntent", 1668, "text"), ("PageSizeName", 1732, "text"),
)  # fmt: skip


def show_raster(content: bytes) -> Iterator[str]:
    """A file of PWG Raster as lines: headers field by field, and of each page its runs of lines by colours."""
    yield f"sync {content[:4].decode()}"
    at = 4
    while at < len(content):
        header = content[at : at + 1796]
        at += 1796
        for name, place, kind in _HEADER:
            if kind == "text":
                yield f"  {name}: {header[place : place + 64].rstrip(bytes(1)).decode()}"
            else:
                yield f"  {name}: {' '.join(map(str, struct.unpack_from(f'>{kind}I', header, place)))}"
        wide, high = struct.unpack_from(">2I", header, 372)
        done, sums = 0, [0, 0, 0]
        inked: list[int] = []
        left = wide
        while done < high:
            times, at = content[at] + 1, at + 1
            line, at = unpack_line(content, at, wide)
            if line != b"\xff" * len(line):
                inked += [done, done + times - 1]
                bare = line.lstrip(b"\xff")
                left = min(left, (len(line) - len(bare)) // 3)
            for channel in range(3):
                sums[channel] += times * sum(line[channel::3])
            done += times
        # How wide the line of a sheet is depends on the batch's code.
        yield f"  lines {done}; ink from {left},{inked[0]}"
        yield "  means " + " ".join(f"{total / (wide * high):.0f}" for total in sums)


def unpack_line(content: bytes, at: int, wide: int) -> tuple[bytes, int]:
    """A line of so many dots of three bytes, and where the next one begins."""
    parts, dots = [], 0
    while dots < wide:
        code, at = content[at], at + 1
        if code < 128:
            parts.append(content[at : at + 3] * (code + 1))
            dots, at = dots + code + 1, at + 3
        else:
            parts.append(content[at : at + 3 * (257 - code)])
            dots, at = dots + 257 - code, at + 3 * (257 - code)
    if dots != wide:
        raise ValueError(f"a line of {dots} dots, not {wide}")
    return b"".join(parts), at
