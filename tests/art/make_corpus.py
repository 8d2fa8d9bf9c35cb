"""Writes `corpus/valid` and `corpus/damaged`, one small file for each thing that can differ in a PNG.

    python tests/art/make_corpus.py

The files are kept beside this script, because another zlib would write other bytes. A damaged file's name begins with
the kind of finding it must be refused with. Chunks and rules: W3C PNG Recommendation, Third Edition, 24 June 2025.
"""

from __future__ import annotations

import struct
import sys
import zlib
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

from art.pngbytes import CHANNELS, CYCLE, DEPTHS, SIGNATURE, chunk, idat, ihdr, png, rows, samples_of

HERE = Path(__file__).resolve().parent / "corpus"
NAMES = {0: "grey", 2: "rgb", 3: "palette", 4: "grey-alpha", 6: "rgba"}


def palette(entries: int, seed: int = 5) -> bytes:
    return np.random.default_rng(seed).integers(0, 256, 3 * entries).astype(np.uint8).tobytes()


def transparency(colour: int, depth: int, samples: np.ndarray) -> bytes:
    """tRNS: for a palette, short of its entries; else the colour of a pixel that is there, so that it shows."""
    if colour == 3:
        return bytes((i * 97) % 256 for i in range(max(1, 2**depth * 3 // 4)))
    return b"".join(int(v).to_bytes(2, "big") for v in samples[0, 0])


def near_misses(samples: np.ndarray, depth: int) -> np.ndarray:
    """Pixels that differ from the transparent colour in the last bit only, or in one channel only."""
    samples = samples.copy()
    samples[1, 1:4] = samples[0, 0]
    samples[2, 1:4] = samples[0, 0] ^ 1
    samples[3, 1:4] = samples[0, 0]
    samples[3, 1:4, -1] ^= 1
    return samples


def every_type() -> dict[str, bytes]:
    found = {}
    for colour, depths in DEPTHS.items():
        for depth in depths:
            samples = near_misses(samples_of(19, 13, depth, CHANNELS[colour], seed=depth), depth)
            plte = chunk(b"PLTE", palette(2**depth)) if colour == 3 else b""
            for interlaced in (False, True):
                name = f"{NAMES[colour]}-{depth:02}" + ("-interlaced" if interlaced else "")
                found[name] = png(samples, depth, colour, interlaced=interlaced, before=plte)
                if colour in (0, 2, 3):
                    clear = chunk(b"tRNS", transparency(colour, depth, samples))
                    found[name + "-trns"] = png(samples, depth, colour, interlaced=interlaced, before=plte + clear)
    return found


def every_size() -> dict[str, bytes]:
    found = {}
    for width, height in (
        (1, 1),
        (1, 9),
        (2, 3),
        (3, 2),
        (4, 4),
        (5, 1),
        (6, 7),
        (7, 5),
        (8, 8),
        (9, 6),
        (33, 1),
        (1, 70),
    ):
        for interlaced in (False, True):
            name = f"size-{width:02}x{height:02}" + ("-interlaced" if interlaced else "")
            found[name] = png(samples_of(width, height, 8, 3, width), interlaced=interlaced)
            plte = chunk(b"PLTE", palette(4))
            found[name + "-palette-02"] = png(
                samples_of(width, height, 2, 1, width), 2, 3, interlaced=interlaced, before=plte
            )
    return found


def every_filter() -> dict[str, bytes]:
    names = ("none", "sub", "up", "average", "paeth")
    found = {}
    for i, name in enumerate(names):
        for colour, depth in ((0, 4), (2, 8), (6, 16)):
            samples = samples_of(17, 9, depth, CHANNELS[colour], 3)
            found[f"filter-{name}-{NAMES[colour]}-{depth:02}"] = png(samples, depth, colour, filters=(i,))
    return found


def every_stream() -> dict[str, bytes]:
    samples = samples_of(21, 12, 8, 3, 8)
    raw = rows(samples, 8)
    small_window = zlib.compressobj(9, zlib.DEFLATED, 9)
    fixed = zlib.compressobj(9, zlib.DEFLATED, 15, 9, zlib.Z_FIXED)
    stream = zlib.compress(raw)
    return {
        "stream-stored": png(samples, level=0),
        "stream-level-1": png(samples, level=1),
        "stream-small-window": png(samples, stream=small_window.compress(raw) + small_window.flush()),
        "stream-fixed-codes": png(samples, stream=fixed.compress(raw) + fixed.flush()),
        "idat-of-one-byte": png(samples, sizes=[1] * (len(stream) - 1), stream=stream),
        "idat-of-no-bytes": png(samples, sizes=[0, 2, 0, 0, 5, 0], stream=stream, after=chunk(b"IDAT")),
        "idat-splits-checksum": png(samples, sizes=[len(stream) - 2], stream=stream),
        "idat-with-bytes-after-stream": png(samples, stream=stream + b"surplus"),
    }


def every_chunk() -> dict[str, bytes]:
    samples = samples_of(11, 7, 8, 3, 2)
    indexed = samples_of(11, 7, 4, 1, 2) % 5
    exif = b"MM\0*\0\0\0\x08\0\x01\x01\x12\0\x03\0\0\0\x01\0\x01\0\0\0\0\0\0"
    actl = chunk(b"acTL", struct.pack(">II", 1, 0)) + chunk(
        b"fcTL", struct.pack(">IIIIIHHBB", 0, 11, 7, 0, 0, 1, 10, 0, 0)
    )
    extras = {
        "bkgd": chunk(b"bKGD", bytes(6)),
        "chrm-gama": chunk(b"gAMA", (45455).to_bytes(4, "big"))
        + chunk(b"cHRM", struct.pack(">8I", 31270, 32900, 64000, 33000, 30000, 60000, 15000, 6000)),
        "cicp-srgb": chunk(b"cICP", bytes((1, 13, 0, 1))),
        "cicp-wide": chunk(b"cICP", bytes((9, 16, 0, 1))),
        "exif-upright": chunk(b"eXIf", exif),
        "gama-linear": chunk(b"gAMA", (100000).to_bytes(4, "big")),
        "iccp-junk": chunk(b"iCCP", b"junk\0\0" + zlib.compress(b"notaprofile")),
        "iccp-damaged": chunk(b"iCCP", b"junk\0\0" + b"\x78\x9cnonsense"),
        "itxt": chunk(b"iTXt", b"Title\0\1\0\0\0" + zlib.compress(b"x" * 100)),
        "phys": chunk(b"pHYs", struct.pack(">IIB", 11811, 11811, 1)),
        "phys-zero": chunk(b"pHYs", bytes(9)),
        "sbit": chunk(b"sBIT", bytes((5, 6, 5))),
        "splt": chunk(b"sPLT", b"six\0\x08" + bytes(12)),
        "srgb": chunk(b"sRGB", b"\0"),
        "text": chunk(b"tEXt", b"Author\0nobody"),
        "time": chunk(b"tIME", struct.pack(">HBBBBB", 2024, 2, 29, 23, 59, 60)),
        "unknown": chunk(b"prVt", b"anything"),
        "ztxt-damaged": chunk(b"zTXt", b"Comment\0\0not deflated"),
        "suggested-palette": chunk(b"PLTE", palette(7)),
        "animated": actl,
    }
    found = {f"chunk-{name}": png(samples, before=data) for name, data in extras.items()}
    short = chunk(b"PLTE", palette(5))
    return found | {
        "chunk-exif-after-picture": png(samples, after=chunk(b"eXIf", exif)),
        "chunk-text-after-picture": png(samples, after=chunk(b"tEXt", b"Comment\0later")),
        "palette-shorter-than-depth": png(indexed, 4, 3, before=short),
        "palette-longer-than-depth": png(indexed % 4, 2, 3, before=chunk(b"PLTE", palette(9))),
        "palette-trns-of-one": png(indexed, 4, 3, before=short + chunk(b"tRNS", b"\0")),
        "palette-hist": png(indexed, 4, 3, before=short + chunk(b"hIST", bytes(10))),
        "odd-palette-in-grey": png(indexed * 16, 8, 0, before=short),
        "odd-trns-beside-alpha": png(samples_of(5, 5, 8, 4), before=chunk(b"tRNS", bytes(2))),
        "odd-data-after-end": png(samples) + b"PK\3\4 and more",
        "trns-high-bits-set": png(indexed, 4, 0, before=chunk(b"tRNS", b"\xff\xf3")),
    }


def damaged() -> dict[str, bytes]:
    samples = samples_of(16, 12, 8, 3, 1)
    good = png(samples)
    raw = rows(samples, 8)
    stream = zlib.compress(raw, 9)
    head = ihdr(16, 12, 8, 2)
    end = chunk(b"IEND")
    grey4 = samples_of(16, 12, 4, 1, 1)

    def file(*parts: bytes) -> bytes:
        return SIGNATURE + b"".join(parts)

    def flipped(name: bytes, into: int) -> bytes:
        """One bit wrong, `into` bytes after the beginning of that chunk's name."""
        at = good.index(name) + into
        return good[:at] + bytes([good[at] ^ 1]) + good[at + 1 :]

    bad_filter = bytearray(raw)
    bad_filter[49] = 5
    cuts = {f"cut-at-{share:02}-percent": good[: len(good) * share // 100] for share in (5, 15, 40, 60, 80, 95, 99)}
    found = {
        "signature-high-bit": b"\x09" + good[1:],
        "signature-letter": good.replace(b"PNG", b"QNG", 1),
        "signature-lower-case": good.replace(b"PNG", b"pNG", 1),
        "signature-no-control-z": good.replace(b"\x1a", b" ", 1),
        "line-ends-cr": good.replace(b"\n", b"\r\n"),
        "line-ends-lf": good.replace(b"\r\n", b"\n"),
        "header-checksum": flipped(b"IHDR", 17),
        "header-size": flipped(b"IHDR", 7),
        "header-missing": file(idat(stream), end),
        "header-twice": file(head, head, idat(stream), end),
        "header-short": file(chunk(b"IHDR", bytes(12)), idat(stream), end),
        "header-width-0": file(ihdr(0, 12, 8, 2), idat(stream), end),
        "header-height-0": file(ihdr(16, 0, 8, 2), idat(stream), end),
        "header-colour-1": file(ihdr(16, 12, 8, 1), idat(stream), end),
        "header-colour-9": file(ihdr(16, 12, 8, 9), idat(stream), end),
        "header-depth-0": file(ihdr(16, 12, 0, 2), idat(stream), end),
        "header-depth-3": file(ihdr(16, 12, 3, 0), idat(stream), end),
        "header-depth-99": file(ihdr(16, 12, 99, 2), idat(stream), end),
        "header-depth-4-rgb": file(ihdr(16, 12, 4, 2), idat(stream), end),
        "header-depth-16-palette": png(grey4, 16, 3, before=chunk(b"PLTE", palette(16))),
        "header-compression-1": file(ihdr(16, 12, 8, 2, method=1), idat(stream), end),
        "header-filter-1": file(ihdr(16, 12, 8, 2, kind=1), idat(stream), end),
        "header-interlace-2": file(ihdr(16, 12, 8, 2, interlace=2), idat(stream), end),
        "idat-checksum": flipped(b"IDAT", 4 + len(stream)),
        "idat-bit": flipped(b"IDAT", 40),
        "idat-missing": file(head, end),
        "idat-empty": file(head, chunk(b"IDAT"), end),
        "idat-interrupted": file(
            head, chunk(b"IDAT", stream[:50]), chunk(b"tEXt", b"a\0b"), chunk(b"IDAT", stream[50:]), end
        ),
        "idat-rows-missing": png(samples, stream=zlib.compress(raw[:-49])),
        "idat-byte-missing": png(samples, stream=zlib.compress(raw[:-1])),
        "idat-byte-too-many": png(samples, stream=zlib.compress(raw + b"\0")),
        "idat-twice-the-rows": png(samples, stream=zlib.compress(raw + raw)),
        "idat-bomb": png(samples, stream=zlib.compress(bytes(4 << 20), 9)),
        "idat-adler": png(samples, stream=stream[:-1] + bytes([stream[-1] ^ 1])),
        "idat-adler-missing": png(samples, stream=stream[:-4]),
        "idat-adler-half": png(samples, stream=stream[:-2]),
        "idat-cut-inside": png(samples, stream=stream[: len(stream) // 2]),
        "idat-not-zlib": png(samples, stream=b"\x12\x34" + stream[2:]),
        "idat-raw-deflate": png(samples, stream=stream[2:-4]),
        "idat-preset-dictionary": png(samples, stream=b"\x78\xbb" + b"\0\0\0\1" + stream[2:]),
        "idat-filter-5": png(samples, stream=zlib.compress(bytes(bad_filter))),
        "idat-filter-5-last-row": png(samples, stream=zlib.compress(raw[:-49] + b"\5" + raw[-48:])),
        "end-missing": good[:-12],
        "end-checksum": good[:-1] + bytes([good[-1] ^ 1]),
        "chunk-checksum-text": file(head, chunk(b"tEXt", b"a\0b", crc=1), idat(stream), end),
        "chunk-checksum-phys": file(head, chunk(b"pHYs", bytes(9), crc=1), idat(stream), end),
        "chunk-length-beyond-file": file(head, b"\x7f\xff\xff\xfftEXt", idat(stream), end),
        "chunk-length-over-limit": file(head, b"\xff\xff\xff\xfftEXt", idat(stream), end),
        "chunk-name-not-letters": file(head, chunk(b"tE1t", b"a\0b"), idat(stream), end),
        "chunk-critical-unknown": file(head, chunk(b"PrVt", b"?"), idat(stream), end),
        "palette-missing": png(grey4, 4, 3),
        "palette-empty": png(grey4, 4, 3, before=chunk(b"PLTE")),
        "palette-not-threes": png(grey4, 4, 3, before=chunk(b"PLTE", bytes(47))),
        "palette-257": png(samples_of(16, 12, 8, 1), 8, 3, before=chunk(b"PLTE", bytes(771))),
        "palette-twice": png(grey4, 4, 3, before=chunk(b"PLTE", palette(16)) * 2),
        "palette-after-picture": png(grey4, 4, 3, after=chunk(b"PLTE", palette(16))),
        "palette-too-short": png(np.full((4, 4), 9), 4, 3, before=chunk(b"PLTE", palette(9))),
        "trns-longer-than-palette": png(grey4, 4, 3, before=chunk(b"PLTE", palette(16)) + chunk(b"tRNS", bytes(17))),
        "trns-before-palette-only": png(grey4, 4, 3, before=chunk(b"tRNS", bytes(3))),
        "trns-wrong-length-grey": png(grey4, 4, 0, before=chunk(b"tRNS", bytes(3))),
        "trns-wrong-length-rgb": png(samples, before=chunk(b"tRNS", bytes(2))),
        "trns-after-picture": png(samples, after=chunk(b"tRNS", bytes(6))),
        "trns-twice": png(samples, before=chunk(b"tRNS", bytes(6)) * 2),
        "signature-only": SIGNATURE,
        "signature-and-header": file(head),
        "phone-rewritten": file(chunk(b"CgBI", b"\x50\0\x20\2"), head, idat(stream), end),
        **cuts,
    }
    kinds = {"phone-rewritten": "foreign-format"}
    return {f"{kinds.get(name, 'damaged')}--{name}": data for name, data in found.items()}


def main() -> None:
    valid = every_type() | every_size() | every_filter() | every_stream() | every_chunk()
    for folder, files in (("valid", valid), ("damaged", damaged())):
        (HERE / folder).mkdir(parents=True, exist_ok=True)
        for name, data in files.items():
            (HERE / folder / f"{name}.png").write_bytes(data)
    print(len(CYCLE), "filters,", len(valid), "valid,", len(damaged()), "damaged")


if __name__ == "__main__":
    main()
