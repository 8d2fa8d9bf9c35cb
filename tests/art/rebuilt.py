"""What a prepared picture would print, and what it ought to: the first undone step by step, the second by pypng."""

from __future__ import annotations

import struct
import zlib

import numpy as np
import png

from art.fuzz import joined, pieces
from impose.art.prepare import PreparedPicture


def printed(picture: PreparedPicture) -> np.ndarray:
    """The canvas as it prints, unmirrored: white, with the picture's rows in its ink bounds. (height, width, 1 or 3)"""
    left, top, right, bottom = picture.ink
    if picture.kept:
        canvas = np.full((picture.height, picture.width, picture.components), 255, np.uint8)
        canvas[top:bottom, left:right] = _read_own_rows(picture)[top:bottom, left:right]
        return canvas
    width, height, channels = right - left, bottom - top, picture.components
    raw = np.frombuffer(zlib.decompress(picture.data), np.uint8).reshape(height, width * channels + 1)
    assert (raw[:, 0] == 2).all(), "every row is filtered Up"
    rows = np.cumsum(raw[:, 1:], axis=0, dtype=np.uint8).reshape(height, width, channels)
    canvas = np.full((picture.height, picture.width, channels), 255, np.uint8)
    canvas[top:bottom, left:right] = rows[:, ::-1]
    return canvas


def _read_own_rows(picture: PreparedPicture) -> np.ndarray:
    """The canvas of rows that are the file's own, as pypng reads them, turned upright (Exif 2.32, 4.6.4 A)."""
    size = (picture.width, picture.height)
    width, height = size[::-1] if picture.stored > 4 else size
    head = struct.pack(">IIBBBBB", width, height, 8, 0 if picture.components == 1 else 2, 0, 0, 0)
    stored = expected(joined([(b"IHDR", head), (b"IDAT", picture.data), (b"IEND", b"")])).astype(np.uint8)
    across = stored.swapaxes(0, 1)
    turns = (stored, stored[:, ::-1], stored[::-1, ::-1], stored[::-1])
    turns += (across, across[:, ::-1], across[::-1, ::-1], across[::-1])
    return turns[picture.stored - 1]


def expected(content: bytes) -> np.ndarray:
    """The picture over white as pypng reads it, rounded to levels of 255. (height, width, 1 or 3)

    pypng (PyPI, MIT licence) is an independent decoder in plain Python, applying palette and tRNS at full depth.
    """
    width, height, rows, info = png.Reader(bytes=tidied(content)).asDirect()
    channels = info["planes"]
    samples = np.vstack([np.asarray(row, np.float64) for row in rows]).reshape(height, width, channels)
    samples /= 2 ** info["bitdepth"] - 1
    if not info["alpha"]:
        return np.round(255 * samples)
    alpha = samples[:, :, -1:]
    return np.round(255 * (1 - alpha * (1 - samples[:, :, :-1])))


def tidied(content: bytes) -> bytes:
    """The file without what pypng refuses or takes otherwise than the W3C PNG Recommendation (Third Edition) says.

    sBIT is no reason to change samples (11.3.2.5); tRNS is not for types with alpha, and its high bits are masked
    off (11.3.1.1); entries of PLTE beyond the depth can never be asked for (11.2.2).
    """
    chunks = pieces(content)
    depth, colour = chunks[0][1][8:10]
    kept = []
    for name, data in chunks:
        if name == b"sBIT" or (name == b"tRNS" and colour in (4, 6)):
            continue
        if name == b"PLTE" and colour == 3:
            data = data[: 3 * 2**depth]
        if name == b"tRNS" and colour == 0 and depth < 16:
            data = (int.from_bytes(data, "big") % 2**depth).to_bytes(2, "big")
        kept.append((name, data))
    return joined(kept)
