"""The inside of a PNG: its data inflated against what the header promises, its pixels right at every depth.

Pillow undoes the row filters, which nothing in Python could do fast enough, but it is not given the file. It takes
data that are cut short or carry a wrong checksum, clips 16-bit grey to white and compares transparent colours at the
wrong depth. So the file is inflated here, with every length and checksum proven on the way, and Pillow is fed a plain
PNG made up on the fly: the same rows in stored (uncompressed) blocks, under a header it cannot get wrong.

- A palette picture goes in as grey of the same depth: what comes out are the numbers, and the colours are ours.
- A 16-bit picture goes in as its high bytes. Filters work byte by byte on the byte one whole pixel to the left
  (section 9.2), so every second byte of the filtered rows is itself a well-formed picture of 8 bits.

Pillow's own way through a PNG inflates row by row; whole blocks are faster, by more than the checks cost.
"""

from __future__ import annotations

import struct
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING

from impose.art.codec import Inflater, codec
from impose.art.png import AGAIN, SIGNATURE, Header, Png
from impose.errors import Finding, Trouble

if TYPE_CHECKING:
    from PIL import Image

_READ = 1 << 18
_STEP = _READ - 64  # with the headers of its stored blocks, one read of Pillow's
_SLICE = 1 << 16
_STORED = 65535  # the longest stored block, RFC 1951 section 3.2.4
BAND = 64
"""Rows handled at a time wherever a picture is walked through; a multiple of 8."""


@dataclass(frozen=True)
class Frame:
    """A decoded picture: mode L, LA, RGB or RGBA at 8 bits, and for L maybe a table of what each level stands for.

    `table` holds 256 grey levels or 256 colours of 3 bytes, over white already. `grey` says how the file saw itself;
    `surplus` counts bytes found in the picture's data after their end.
    """

    image: Image.Image
    table: bytes | None
    grey: bool
    surplus: int = 0


def decode(png: Png, name: str = "") -> Frame:
    """Decode all of `png`; raises `Trouble` where its data are damaged, too short or too long.

    Every pixel is right over white to one level in 255. Samples of 16 bits are cut to their high byte, which is less
    than a level off; with alpha two such errors could add up, so there they are rounded, which needs both bytes and
    so twice the time and memory.
    Transparent colours are compared at the file's own depth, before any of that.
    """
    _check_plausible(png, name)
    header, clear = png.header, png.transparency
    if header.depth == 16:
        image, surplus = _paint(png, header, name, lane=0)
        if header.alpha:
            _round_deep(image, _paint(png, header, name, lane=1)[0])
        if clear is not None:
            _clear_deep(image, png, clear, name)
    else:
        image, surplus = _paint(png, header, name)
    if image.mode == "1":
        image = image.convert("L")
    if header.palette:
        return Frame(image, _palette_table(png, image, name), False, surplus)
    if clear is None or header.depth == 16:
        return Frame(image, None, header.grey, surplus)
    if header.grey:
        return Frame(image, _grey_table(header.depth, clear), True, surplus)
    _blank_where(image, lambda box: _equal(image.crop(box), [clear[1], clear[3], clear[5]]))
    return Frame(image, None, False, surplus)


def _check_plausible(png: Png, name: str) -> None:
    """Refuse a header that promises more than deflate could ever hold, before memory is taken for it.

    One bit of deflate yields at most 258 bytes after the first (RFC 1951), so 1 byte at most 1,032 and a half.
    """
    held = sum(len(part) for part in png.idat())
    if png.header.raw_length > 1040 * held + 4096:
        raise Trouble(_damage("The picture data are far too short for the size in the header", name))


def _damage(what: str, name: str) -> Finding:
    return Finding(what, AGAIN, kind="damaged", file=name)


class _Rows:
    """The filtered rows in pieces of at most 256 KiB, proven in number and by their checksum.

    `surplus` is, once they have ended, how many bytes of the IDAT chunks come after the compressed stream.
    """

    def __init__(self, png: Png, name: str) -> None:
        self._png, self._name = png, name
        self.surplus = 0

    def __iter__(self) -> Iterator[bytes]:
        left = self._png.header.raw_length
        for piece in self._inflated():
            left -= len(piece)
            if left < 0:
                raise Trouble(_damage("There are more picture data than the header has room for", self._name))
            yield piece
        if left:
            raise Trouble(_damage(f"The picture data end early: {left:,} bytes of rows are missing", self._name))

    def _inflated(self) -> Iterator[bytes]:
        """What the IDAT chunks inflate to, as far as it is asked for; raises unless the stream ends whole."""
        inflater = codec().inflater()
        try:
            for part in self._png.idat():
                # In slices: the inflater hands back what it has not used yet as a copy.
                for at in range(0, len(part), _SLICE):
                    yield from self._slice(inflater, part[at : at + _SLICE])
            while not inflater.eof and (piece := inflater.decompress(b"", _STEP)):
                yield piece
        except codec().error as error:
            raise Trouble(_damage(f"The picture data are damaged ({error})", self._name)) from None
        if not inflater.eof:
            raise Trouble(_damage("The picture data end early: their checksum is missing", self._name))
        self.surplus += len(inflater.unused_data)

    def _slice(self, inflater: Inflater, tail: bytes | memoryview) -> Iterator[bytes]:
        if inflater.eof:
            self.surplus += len(tail)
            return
        while len(tail) and not inflater.eof:
            if piece := inflater.decompress(tail, _STEP):
                yield piece
            tail = inflater.unconsumed_tail


def _lane(pieces: Iterable[bytes], header: Header, lane: int) -> Iterator[bytes]:
    """Of 16-bit rows, the rows of their high (0) or low (1) bytes, filter bytes kept."""
    import numpy as np

    held = bytearray()
    source = iter(pieces)
    for row, rows in header.passes():
        done = 0
        while done < rows:
            while len(held) <= row:
                held += next(source, b"") or _ended()
            count = min(rows - done, len(held) // (row + 1))
            block = np.frombuffer(bytes(held[: count * (row + 1)]), np.uint8).reshape(count, row + 1)
            half = np.empty((count, row // 2 + 1), np.uint8)
            half[:, 0] = block[:, 0]
            half[:, 1:] = block[:, 1 + lane :: 2]
            yield half.tobytes()
            del held[: count * (row + 1)]
            done += count
    for _ in source:
        pass


def _ended() -> bytes:
    raise EOFError("the rows ended although their number was proven")


class _Feed:
    """A file, as far as Pillow looks: a plain PNG of one picture made up as it is read, and never held whole."""

    def __init__(self, header: bytes, rows: Iterable[bytes]) -> None:
        self._head = SIGNATURE + b"".join(_chunk(b"IHDR", header))
        self._parts = self._made(rows)
        self._rest = memoryview(b"")
        self._at = 0

    @staticmethod
    def _made(rows: Iterable[bytes]) -> Iterator[bytes]:
        check = 1
        yield from _chunk(b"IDAT", b"\x78\x01")
        for piece in rows:
            check = codec().adler32(piece, check)
            yield from _chunk(b"IDAT", b"".join(_stored(piece)))
        yield from _chunk(b"IDAT", b"\1\0\0\xff\xff" + check.to_bytes(4, "big"))
        yield from _chunk(b"IEND", b"")

    def read(self, size: int) -> bytes:
        """The next `size` bytes, fewer only at the end."""
        if self._at >= len(self._head) and not len(self._rest):
            part = next(self._parts, b"")
            if len(part) == size:  # the common case, a chunk's data: handed on without a copy
                self._at += size
                return part
            self._rest = memoryview(part)
        found: list[bytes | memoryview] = [self._head[self._at : self._at + size]]
        left = size - len(found[0])
        while left:
            if not len(self._rest):
                self._rest = memoryview(next(self._parts, b""))
                if not len(self._rest):
                    break
            found.append(self._rest[:left])
            self._rest = self._rest[left:]
            left -= len(found[-1])
        data = b"".join(found)
        self._at += len(data)
        return data

    def tell(self) -> int:
        """Where reading goes on."""
        return self._at

    def seek(self, at: int, whence: int = 0) -> int:
        """Back only within the header, which is held; else to where it stands."""
        if whence or (at != self._at and max(at, self._at) > len(self._head)):
            raise OSError("the made-up PNG can only be read forward")
        self._at = at
        return at

    def finish(self) -> None:
        """Read what Pillow left, so that the last lengths and checksums are proven too."""
        for _ in self._parts:
            pass


def _chunk(name: bytes, data: bytes) -> Iterator[bytes]:
    check = codec().crc32(data, codec().crc32(name))
    yield len(data).to_bytes(4, "big") + name
    if data:
        yield data
    yield check.to_bytes(4, "big")


def _stored(piece: bytes) -> Iterator[bytes | memoryview]:
    whole = memoryview(piece)
    for at in range(0, len(piece), _STORED):
        block = whole[at : at + _STORED]
        yield struct.pack("<BHH", 0, len(block), len(block) ^ 0xFFFF)
        yield block


def _paint(png: Png, header: Header, name: str, lane: int | None = None) -> tuple[Image.Image, int]:
    """Pillow's picture of the rows, or of one byte lane of them, and the bytes after their stream."""
    from PIL.PngImagePlugin import PngImageFile

    rows = _Rows(png, name)
    depth = 8 if lane is not None else header.depth
    colour = 0 if header.palette else header.colour
    made = struct.pack(">IIBBBBB", header.width, header.height, depth, colour, 0, 0, header.interlaced)
    feed = _Feed(made, rows if lane is None else _lane(rows, header, lane))
    try:
        # Not Image.open: its process-wide pixel limit is not ours, and this one file is known to be a PNG.
        image = PngImageFile(feed)  # type: ignore[arg-type]
        image.decodermaxblock = _READ
        image.load()
        feed.finish()
    except OSError as error:
        raise Trouble(_damage(f"The picture's rows are damaged ({error})", name)) from None
    return image, rows.surplus


def _palette_table(png: Png, image: Image.Image, name: str) -> bytes:
    """256 colours over white, one for each level Pillow made of a palette number."""
    step = 255 // (2**png.header.depth - 1)
    colours, alphas = png.palette, png.transparency or b""
    highest = image.getextrema()[1]
    if not isinstance(highest, int) or highest // step >= len(colours) // 3:
        raise Trouble(_damage(f"A pixel asks for a colour beyond the {len(colours) // 3} of the palette", name))
    table = bytearray(b"\xff" * 768)
    for i in range(min(len(colours) // 3, 255 // step + 1)):
        alpha = alphas[i] if i < len(alphas) else 255
        over = bytes((255 * (255 - alpha) + alpha * c + 127) // 255 for c in colours[3 * i : 3 * i + 3])
        table[3 * i * step : 3 * i * step + 3] = over
    return bytes(table)


def _grey_table(depth: int, clear: bytes) -> bytes:
    """Levels over white where one level, given at the file's own depth, is transparent."""
    highest = 2**depth - 1
    table = bytearray(range(256))
    table[(int.from_bytes(clear, "big") & highest) * 255 // highest] = 255
    return bytes(table)


def _equal(band: Image.Image, key: list[int]) -> Image.Image:
    """A mask, 255 where every channel of `band` equals its value in `key`."""
    from PIL import ImageChops

    masks = [
        channel.point([255 * (level == value) for level in range(256)])
        for channel, value in zip(band.split(), key, strict=True)
    ]
    mask = masks[0]
    for other in masks[1:]:
        mask = ImageChops.darker(mask, other)
    return mask


def _blank_where(image: Image.Image, mask_of: Callable[[tuple[int, int, int, int]], Image.Image]) -> None:
    white = (255,) * len(image.getbands())
    for box in _boxes(image):
        image.paste(white if len(white) > 1 else 255, box, mask_of(box))


def _round_deep(high: Image.Image, low: Image.Image) -> None:
    """Make each high byte the nearest level of 255: (256 h + l) / 257 = h + (l - h) / 257."""
    from PIL import Image, ImageChops

    # ImageChops clips at 0 and 255, so each difference is seen from its own side.
    over = [int(d > 128) for d in range(256)]
    for box in _boxes(high):
        channels = []
        for h, low_byte in zip(high.crop(box).split(), low.crop(box).split(), strict=True):
            up, down = ImageChops.subtract(low_byte, h).point(over), ImageChops.subtract(h, low_byte).point(over)
            channels.append(ImageChops.subtract(ImageChops.add(h, up), down))
        high.paste(Image.merge(high.mode, channels), box)


def _boxes(image: Image.Image) -> Iterator[tuple[int, int, int, int]]:
    for top in range(0, image.height, BAND):
        yield 0, top, image.width, min(top + BAND, image.height)


def _clear_deep(image: Image.Image, png: Png, clear: bytes, name: str) -> None:
    """Whiten the pixels of a 16-bit picture that equal its transparent colour in all 16 bits."""
    from PIL import ImageChops

    low, _ = _paint(png, png.header, name, lane=1)

    def mask(box: tuple[int, int, int, int]) -> Image.Image:
        high_match = _equal(image.crop(box), list(clear[0::2]))
        return ImageChops.darker(high_match, _equal(low.crop(box), list(clear[1::2])))

    _blank_where(image, mask)
