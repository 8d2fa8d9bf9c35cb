"""A JPEG's markers walked: where its data end, and how often its picture is gone through.

A progressive JPEG may go through all of its picture again for a few bytes more, so that a small file would take hours.
"""

from __future__ import annotations

import re

from impose.art.pixel_loops import load_pixel_loops

MOST_SCANS = 64
"""Encoders write about ten (common practice, no source); of the largest pictures so many take some seconds."""

_MARKER = re.compile(rb"\xff[\x01-\xcf\xd8-\xfe]")  # no stuffed zero, no restart mark, no fill byte
_ALONE = {0x01, 0xD8}
_SOS, _EOI = 0xDA, 0xD9


def find_marker(content: bytes, at: int) -> int | None:
    """Where the next marker begins, from a place on; None if there is none."""
    if (loops := load_pixel_loops()) is None:
        return search_marker(content, at)
    place = int(loops.find_marker(content, at, len(content)))
    return None if place < 0 else place


def search_marker(content: bytes, at: int) -> int | None:
    """The same without the compiled loops."""
    found = _MARKER.search(content, at)
    return None if found is None else found.start()


def find_scan_fault(content: bytes) -> str:
    """What is wrong with the markers of a whole JPEG (ITU-T T.81, annex B), "" if nothing."""
    at, scans = 2, 0
    while True:
        # Within a scan, data of any length come before the next marker; behind a segment the marker follows at once.
        place = find_marker(content, at)
        if place is None:
            return "the JPEG is cut off: its end mark is missing"
        marker, at = content[place + 1], place + 2
        if marker == _EOI:
            return "" if scans else "the JPEG holds no picture"
        if marker in _ALONE:
            continue
        length = int.from_bytes(content[at : at + 2], "big")
        if length < 2 or at + length > len(content):
            return "the JPEG is cut off in the middle of a part"
        at += length
        if marker == _SOS:
            scans += 1
            if scans > MOST_SCANS:
                return f"the JPEG goes through its picture more than {MOST_SCANS} times, which no program writes"


_KEPT = {0xDB, 0xC0, 0xC1, 0xC2, 0xC4, 0xDA, 0xDD}
"""DQT, SOF0 to SOF2, DHT, SOS, DRI: what decoding of a sequential or progressive JPEG needs (T.81, B.2)."""
_FRAMES = {0xC0, 0xC1, 0xC2}
_UNUSUAL = set(range(0xC3, 0xD0)) - {0xC4, 0xC8, 0xCC}
_SOF2, _ADOBE = 0xC2, 0xEE
_COEFFICIENTS = 64


def strip_jpeg(content: bytes) -> bytes | None:
    """A sound JPEG without notes, thumbnails and what lies behind it; None unless any reader of PDFs decodes it alike.

    That is one of 8 bits, sequential or wholly progressive, grey or of three components that stand for Y'CbCr: what is
    meant where nothing is said (ISO 32000-1, 7.4.8, ColorTransform; progressive since PDF 1.3).
    """
    parts, at = [content[:2]], 2
    missing: set[tuple[int, int]] = set()
    while (place := find_marker(content, at)) is not None:
        marker, start = content[place + 1], place + 2
        if marker == _EOI:
            return None if missing else b"".join([*parts, b"\xff\xd9"])
        length = 0 if marker in _ALONE else int.from_bytes(content[start : start + 2], "big")
        segment, at = content[start : start + length], start + length
        if marker in _UNUSUAL or (marker in _FRAMES and not _is_usual_frame(segment)):
            return None
        if marker == _SOF2:
            missing = {(component, i) for component in segment[8::3] for i in range(_COEFFICIENTS)}
        if marker == _ADOBE and segment[2:7] == b"Adobe" and segment[13:14] != b"\x01":
            return None
        if marker == _SOS:
            missing -= _list_finished(segment)
            following = find_marker(content, at)
            at = len(content) if following is None else following
            segment = content[start:at]
        if marker in _KEPT:
            parts += [content[place:start], segment]
    return None


def count_components(content: bytes) -> int:
    """The components of a whole JPEG, 1 of a grey one, by its frame header (T.81, B.2.2). Raises `ValueError`."""
    at = 2
    while (place := find_marker(content, at)) is not None:
        marker, at = content[place + 1], place + 2
        if marker in _FRAMES:
            return content[at + 7]
        at += 0 if marker in _ALONE else int.from_bytes(content[at : at + 2], "big")
    raise ValueError("a JPEG without a frame")


def _list_finished(header: bytes) -> set[tuple[int, int]]:
    """Components and coefficients that have all their bits after a scan, by its header (T.81, B.2.3: Ss, Se, Al).

    What never gets them is smoothed by some readers and left blocky by others.
    """
    if len(header) < 6 or header[-1] & 15:
        return set()
    first, last = header[-3], header[-2]
    return {(component, i) for component in header[3:-3:2] for i in range(first, last + 1)}


def _is_usual_frame(segment: bytes) -> bool:
    """Whether a frame header (T.81, B.2.2) says 8 bits and grey, or three components not named R, G and B."""
    return segment[2] == 8 and (segment[7] == 1 or (segment[7] == 3 and segment[8::3] != b"RGB"))
