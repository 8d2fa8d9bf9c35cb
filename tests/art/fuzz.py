"""Damages valid PNGs in many ways and sees that reading them ends well.

    python tests/art/fuzz.py [files] [seed]

Each file must be read or refused with `Trouble`, within 2 s; if it is read, a check of its own, written against the
W3C PNG Recommendation and RFC 1950 with nothing but the standard library, must find every checksum right.
"""

from __future__ import annotations

import random
import sys
import time
import zlib
from collections import Counter
from collections.abc import Iterator
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent.parent.parent))

from impose.art.prepare import PreparationOptions, prepare_picture
from impose.errors import Trouble

VALID = Path(__file__).resolve().parent / "corpus" / "valid"
LONGEST_S = 2.0
RECIPE = PreparationOptions(pixel_limit=4_000_000, orientation="ignore")


def pieces(content: bytes) -> list[tuple[bytes, bytes]]:
    """(name, data) of each chunk of a valid file."""
    found, at = [], 8
    while at < len(content):
        size = int.from_bytes(content[at : at + 4], "big")
        found.append((content[at + 4 : at + 8], content[at + 8 : at + 8 + size]))
        at += 12 + size
        if found[-1][0] == b"IEND":
            break
    return found


def joined(chunks: list[tuple[bytes, bytes]]) -> bytes:
    out = b"\x89PNG\r\n\x1a\n"
    for name, data in chunks:
        out += len(data).to_bytes(4, "big") + name + data + zlib.crc32(name + data).to_bytes(4, "big")
    return out


def flip(rng: random.Random, data: bytes, times: int = 1) -> bytes:
    changed = bytearray(data)
    for _ in range(times if data else 0):
        changed[rng.randrange(len(changed))] ^= 1 << rng.randrange(8)
    return bytes(changed)


def damage(rng: random.Random, content: bytes) -> bytes:
    """One damaged file: of the bytes as they are, or of the chunks with their checksums made good again."""
    way = rng.randrange(9)
    if way == 0:
        return flip(rng, content, rng.choice((1, 1, 2, 5, 40)))
    if way == 1:
        return content[: rng.randrange(len(content))]
    if way == 2:
        a, b = sorted(rng.randrange(len(content)) for _ in range(2))
        return content[:a] + content[b:]
    if way == 3:
        a = rng.randrange(len(content))
        return content[:a] + rng.randbytes(rng.choice((1, 4, 100))) + content[a:]
    chunks = pieces(content)
    i = rng.randrange(len(chunks))
    name, data = chunks[i]
    if way == 4:
        chunks[i] = (name, flip(rng, data, rng.choice((1, 2, 8))))
    elif way == 5:
        chunks[i] = (flip(rng, name), data) if rng.random() < 0.5 else (name, data[: rng.randrange(len(data) + 1)])
    elif way == 6:
        chunks.insert(rng.randrange(len(chunks) + 1), chunks[i])
    elif way == 7:
        del chunks[i]
    else:
        raw = reinflated(chunks)
        changed = rng.choice((flip(rng, raw, 3), raw[: rng.randrange(len(raw) + 1)], raw + rng.randbytes(9), raw * 3))
        first = next(n for n, c in enumerate(chunks) if c[0] == b"IDAT")
        chunks = [c for c in chunks if c[0] != b"IDAT"]
        chunks.insert(first, (b"IDAT", zlib.compress(changed)))
    return joined(chunks)


def reinflated(chunks: list[tuple[bytes, bytes]]) -> bytes:
    return zlib.decompressobj().decompress(b"".join(data for name, data in chunks if name == b"IDAT"))


def sound(content: bytes) -> bool:
    """Whether every checksum up to the end mark is right, by a reading of our own."""
    if content[:8] != b"\x89PNG\r\n\x1a\n":
        return False
    at, stream = 8, b""
    while True:
        size = int.from_bytes(content[at : at + 4], "big")
        body = content[at + 4 : at + 8 + size]
        check = content[at + 8 + size : at + 12 + size]
        if len(check) < 4 or zlib.crc32(body).to_bytes(4, "big") != check:
            return False
        if body[:4] == b"IDAT":
            stream += body[4:]
        if body[:4] == b"IEND":
            break
        at += 12 + size
    inflater = zlib.decompressobj()
    try:
        inflater.decompress(stream)
    except zlib.error:
        return False
    return inflater.eof


def cases(count: int, seed: int) -> Iterator[bytes]:
    rng = random.Random(seed)
    sources = [path.read_bytes() for path in sorted(VALID.glob("*.png"))]
    for _ in range(count):
        yield damage(rng, rng.choice(sources))


def run(count: int, seed: int) -> Counter[str]:
    """Read `count` damaged files; returns how many ended how. Raises on the first that ends badly."""
    tally: Counter[str] = Counter()
    for number, content in enumerate(cases(count, seed)):
        start = time.perf_counter()
        try:
            prepare_picture(content, RECIPE, "fuzz.png")
        except Trouble as trouble:
            kind = trouble.findings[0].kind if all(f.what for f in trouble.findings) else ""
            tally[kind or "refused without a reason"] += 1
        except Exception as error:
            raise AssertionError(f"file {number} of seed {seed} ended in {error!r}: {content.hex()}") from error
        else:
            assert sound(content), f"file {number} of seed {seed} was read despite a wrong checksum: {content.hex()}"
            tally["read"] += 1
        assert "refused without a reason" not in tally, f"file {number} of seed {seed}: {content.hex()}"
        took = time.perf_counter() - start
        assert took < LONGEST_S, f"file {number} of seed {seed} took {took:.1f} s"
    return tally


if __name__ == "__main__":
    files = int(sys.argv[1]) if len(sys.argv) > 1 else 20_000
    print(dict(run(files, int(sys.argv[2]) if len(sys.argv) > 2 else 1)))
