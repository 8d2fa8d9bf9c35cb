"""A JPEG's markers walked: where its data end, and how often its picture is gone through.

A progressive JPEG may go through all of its picture again for a few bytes more, so that a small file would take hours.
"""

from __future__ import annotations

import re

MOST_SCANS = 64
"""Encoders write about ten (common practice, no source); of the largest pictures so many take some seconds."""

_MARKER = re.compile(rb"\xff+([^\x00\xff\xd0-\xd7])")
_ALONE = {0x01, 0xD8}
_SOS, _EOI = 0xDA, 0xD9


def find_scan_fault(content: bytes) -> str:
    """What is wrong with the markers of a whole JPEG (ITU-T T.81, annex B), "" if nothing."""
    at, scans = 2, 0
    while True:
        # Within a scan, data of any length come before the next marker; behind a segment the marker follows at once.
        found = _MARKER.search(content, at)
        if found is None:
            return "the JPEG is cut off: its end mark is missing"
        marker, at = found[1][0], found.end()
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
