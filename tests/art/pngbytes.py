"""Writes PNG bytes, valid and not, from plain samples: small, plain, and independent of the code under test.

Layout after the W3C PNG Recommendation (Third Edition): 5.3 chunks, 7 and 8 packing and passes, 9 filters.
"""

from __future__ import annotations

import struct
import zlib
from collections.abc import Sequence

import numpy as np

SIGNATURE = b"\x89PNG\r\n\x1a\n"
CHANNELS = {0: 1, 2: 3, 3: 1, 4: 2, 6: 4}
DEPTHS = {0: (1, 2, 4, 8, 16), 2: (8, 16), 3: (1, 2, 4, 8), 4: (8, 16), 6: (8, 16)}
ADAM7 = ((0, 0, 8, 8), (4, 0, 8, 8), (0, 4, 4, 8), (2, 0, 4, 4), (0, 2, 2, 4), (1, 0, 2, 2), (0, 1, 1, 2))
CYCLE = (0, 1, 2, 3, 4)


def chunk(name: bytes, data: bytes = b"", crc: int | None = None) -> bytes:
    check = zlib.crc32(name + data) if crc is None else crc
    return len(data).to_bytes(4, "big") + name + data + check.to_bytes(4, "big")


def ihdr(width: int, height: int, depth: int, colour: int, interlace: int = 0, method: int = 0, kind: int = 0) -> bytes:
    return chunk(b"IHDR", struct.pack(">IIBBBBB", width, height, depth, colour, method, kind, interlace))


def idat(stream: bytes, sizes: Sequence[int] = ()) -> bytes:
    """The stream in chunks of the given sizes, the last taking the rest."""
    out, at = b"", 0
    for size in sizes:
        out += chunk(b"IDAT", stream[at : at + size])
        at += size
    return out + chunk(b"IDAT", stream[at:])


def rows(samples: np.ndarray, depth: int, filters: Sequence[int] = CYCLE, interlaced: bool = False) -> bytes:
    """Filtered rows of samples[height, width, channel], the filters taken in turn."""
    _height, _width, channels = samples.shape
    step = max(1, channels * depth // 8)
    out, count = b"", 0
    for x, y, dx, dy in ADAM7 if interlaced else ((0, 0, 1, 1),):
        part = samples[y::dy, x::dx]
        if not part.size:
            continue
        packed = np.frombuffer(b"".join(pack(line.reshape(-1), depth) for line in part), np.uint8)
        kinds = np.array([filters[(count + at) % len(filters)] for at in range(len(part))], np.uint8)
        out += filtered(packed.reshape(len(part), -1), step, kinds).tobytes()
        count += len(part)
    return out


def pack(values: np.ndarray, depth: int) -> bytes:
    if depth == 16:
        return values.astype(">u2").tobytes()
    if depth == 8:
        return values.astype(np.uint8).tobytes()
    bits = "".join(format(int(v), f"0{depth}b") for v in values)
    bits += "0" * (-len(bits) % 8)
    return bytes(int(bits[i : i + 8], 2) for i in range(0, len(bits), 8))


def filtered(packed: np.ndarray, step: int, kinds: np.ndarray) -> np.ndarray:
    """Rows of bytes, each behind the number of its filter, which is taken against what stood there before."""
    row = packed.astype(np.int16)
    a, b, c = np.zeros_like(row), np.zeros_like(row), np.zeros_like(row)  # to the left, above, above to the left
    a[:, step:] = row[:, :-step]
    b[1:] = row[:-1]
    c[1:, step:] = row[:-1, :-step]
    kind = kinds[:, None]
    taken = np.select([kind == 1, kind == 2, kind == 3, kind == 4], [a, b, (a + b) // 2, paeth(a, b, c)], 0)
    return np.hstack([kind, ((row - taken) % 256).astype(np.uint8)])


def paeth(a: np.ndarray, b: np.ndarray, c: np.ndarray) -> np.ndarray:
    p = a + b - c
    pa, pb, pc = abs(p - a), abs(p - b), abs(p - c)
    return np.where((pa <= pb) & (pa <= pc), a, np.where(pb <= pc, b, c))


def png(
    samples: np.ndarray,
    depth: int = 8,
    colour: int | None = None,
    *,
    interlaced: bool = False,
    filters: Sequence[int] = CYCLE,
    before: bytes = b"",
    after: bytes = b"",
    sizes: Sequence[int] = (),
    level: int = 9,
    stream: bytes | None = None,
) -> bytes:
    """A whole file. `before` and `after` are chunks around the picture data; `stream` replaces the deflated rows."""
    if samples.ndim == 2:
        samples = samples[:, :, None]
    height, width, channels = samples.shape
    if colour is None:
        colour = {1: 0, 2: 4, 3: 2, 4: 6}[channels]
    if stream is None:
        stream = zlib.compress(rows(samples, depth, filters, interlaced), level)
    head = ihdr(width, height, depth, colour, int(interlaced))
    return SIGNATURE + head + before + idat(stream, sizes) + after + chunk(b"IEND")


def samples_of(width: int, height: int, depth: int, channels: int, seed: int = 0) -> np.ndarray:
    """Smooth, random and extreme values together, so that every filter and every level has something to do."""
    rng = np.random.default_rng(seed)
    top = 2**depth - 1
    y, x = np.mgrid[0:height, 0:width]
    planes = [
        (x * (k + 2) * top // max(1, 2 * width - 1) + y * top // max(1, height)) % (top + 1) for k in range(channels)
    ]
    values = np.stack(planes, axis=-1)
    wild = rng.random((height, width)) < 0.3
    values[wild] = rng.integers(0, top + 1, (int(wild.sum()), channels))
    values[rng.random((height, width)) < 0.1] = top
    values[rng.random((height, width)) < 0.1] = 0
    return values.astype(np.int64)
