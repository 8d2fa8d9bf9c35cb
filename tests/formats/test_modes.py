"""TIFFs of every kind of sample, written here by TIFF 6.0, and what a file's header says before its pixels are read."""

from __future__ import annotations

import io
import struct
from typing import Any

import numpy as np
import pytest
from PIL import Image, ImageOps

from each_case import try_each
from formats import samples
from formats.test_pictures import end_of
from impose.art.crop import read_picture_rows
from impose.art.prepare import PreparationOptions, prepare_picture
from impose.errors import Trouble
from impose.file_types import JPEG, TIFF, WEBP, identify_file
from impose.formats.prepare_file import convert_file, describe_converter, prepare_file
from impose.formats.raster import read_webp_size

WIDE, HIGH = 6, 4
GREY = np.arange(WIDE * HIGH, dtype=np.uint8).reshape(HIGH, WIDE) * 9 + 20
RGB = np.dstack([GREY, 255 - GREY, np.full_like(GREY, 90)])
ALPHA = np.where(np.arange(WIDE) < 2, 0, 255 - 20 * np.arange(WIDE)).astype(np.uint8) * np.ones((HIGH, 1), np.uint8)


def tiff(
    data: np.ndarray, photometric: int, extra: int | None = None, order: str = "<", pages: int = 1, **more: Any
) -> bytes:
    """A TIFF of one strip a page, uncompressed (TIFF 6.0, sections 2, 8 and 18); `more` are entries by their tags."""
    high, wide = data.shape[:2]
    count = data.shape[2] if data.ndim == 3 else 1
    bits = 1 if data.dtype == bool else data.dtype.itemsize * 8
    raw = np.packbits(data, axis=1).tobytes() if bits == 1 else data.astype(data.dtype.newbyteorder(order)).tobytes()
    kinds = {"f": 3, "i": 2, "u": 1, "b": 1}
    entries: dict[int, tuple[int, tuple[int, ...]]] = {
        256: (3, (wide,)), 257: (3, (high,)), 258: (3, (bits,) * count), 259: (3, (1,)), 262: (3, (photometric,)),
        273: (4, (0,)), 277: (3, (count,)), 278: (3, (high,)), 279: (4, (len(raw),)),
        339: (3, (kinds[data.dtype.kind],) * count),
    }  # fmt: skip
    if extra is not None:
        entries[338] = (3, (extra,))
    entries |= {int(tag.removeprefix("tag")): (3, value) for tag, value in more.items()}
    made = (b"II*\0" if order == "<" else b"MM\0*") + struct.pack(order + "I", 8)
    for page in range(pages):
        start = len(made)
        table = 2 + 12 * len(entries) + 4
        at = start + table + sum(
            struct.calcsize(f"{len(v)}{'H' if kind == 3 else 'I'}") for kind, v in entries.values()
            if struct.calcsize(f"{len(v)}{'H' if kind == 3 else 'I'}") > 4
        )  # fmt: skip
        entries[273] = (4, (at,))
        head, behind, place = struct.pack(order + "H", len(entries)), b"", start + table
        for tag, (kind, values) in sorted(entries.items()):
            packed = struct.pack(f"{order}{len(values)}{'H' if kind == 3 else 'I'}", *values)
            if len(packed) > 4:
                packed, behind = struct.pack(order + "I", place + len(behind)), behind + packed
            head += struct.pack(order + "HHI", tag, kind, len(values)) + packed.ljust(4, b"\0")
        following = at + len(raw) if page + 1 < pages else 0
        made += head + struct.pack(order + "I", following) + behind + raw
    return made


def read(content: bytes, **recipe: Any) -> np.ndarray:
    """The pixels that a file is converted to, as they are: grey, colours, with alpha where there is some."""
    kind = identify_file(content)
    frame = convert_file(content, kind, PreparationOptions(**recipe), "art").make_frame()
    return np.asarray(frame.image)


def premultiply(colours: np.ndarray) -> np.ndarray:
    return np.rint(colours.astype(float) * (ALPHA[..., None] if colours.ndim == 3 else ALPHA) / 255.0).astype(np.uint8)


KINDS = {
    "bilevel, black is zero": (tiff(GREY > 120, 1), (GREY > 120) * np.uint8(255)),
    "bilevel, white is zero": (tiff(GREY > 120, 0), (GREY <= 120) * np.uint8(255)),
    "grey": (tiff(GREY, 1), GREY),
    "grey of a big-endian file": (tiff(GREY, 1, order=">"), GREY),
    "grey, white is zero": (tiff(GREY, 0), 255 - GREY),
    # As the PNG reader does it: by the high byte.
    "grey of 16 bits": (tiff(GREY.astype(np.uint16) * 256 + 255, 1), GREY),
    "grey of 16 bits, big-endian": (tiff(GREY.astype(np.uint16) * 256 + 200, 1, order=">"), GREY),
    "grey with alpha": (tiff(np.dstack([GREY, ALPHA]), 1, 2), np.dstack([GREY, ALPHA])),
    "colours": (tiff(RGB, 2), RGB),
    "colours of 16 bits": (tiff(RGB.astype(np.uint16) * 257, 2), RGB),
    "colours with something beside them": (tiff(np.dstack([RGB, 0 * ALPHA]), 2, 0), RGB),
    "colours with alpha": (tiff(np.dstack([RGB, ALPHA]), 2, 2), np.dstack([RGB, ALPHA])),
    "a palette": (
        tiff(GREY, 3, tag320=tuple(int(257 * v) for channel in (255 - np.arange(256), np.arange(256), [7] * 256)
                                   for v in channel)),
        np.dstack([255 - GREY, GREY, np.full_like(GREY, 7)]),
    ),
}  # fmt: skip


@try_each("name", KINDS)
def test_samples_are_read_as_the_standard_means_them(name):
    content, want = KINDS[name]
    got = read(content)
    assert got.shape == want.shape
    assert np.array_equal(got, want)


@try_each("name, colours", [("grey", GREY), ("colours", RGB)])
def test_colours_that_carry_their_alpha_are_freed_of_it(name, colours):
    """ExtraSamples 1, "associated alpha": premultiplied (TIFF 6.0, section 18). Rounded once, so a few levels."""
    got = read(tiff(np.dstack([premultiply(colours), ALPHA]), 1 if name == "grey" else 2, 1))
    assert np.array_equal(got[..., -1], ALPHA)
    shown = ALPHA > 0
    off = got[..., :-1].astype(int) - np.atleast_3d(colours).astype(int)
    assert np.abs(off[shown]).max() <= 2


@try_each(
    "content, kind, words",
    [
        (tiff(GREY.astype(np.float32), 1), "foreign-format", "the TIFF keeps its colours as fractions"),
        (tiff(GREY.astype(np.int32), 1), "foreign-format", "the TIFF keeps its colours as 32-bit numbers"),
        (tiff(RGB, 8), "foreign-format", "the TIFF keeps its colours as L*a*b*"),
        (tiff(np.dstack([RGB, GREY]), 5), "cmyk-unknown", "process inks (CMYK) without a profile"),
        (tiff(GREY, 1)[:60], "damaged", "the TIFF is damaged or cut short"),
    ],
)
def test_what_cannot_be_printed_is_told_by_what_it_is(content, kind, words):
    with pytest.raises(Trouble) as caught:
        prepare_file(content, None, "art.tif")
    (stop,) = [one for one in caught.value.findings if one.severity == "stop"]
    assert (stop.kind, stop.file) == (kind, "art.tif")
    assert words in stop.what


def notes(content: bytes, **recipe: Any) -> dict[str, str]:
    made = convert_file(content, identify_file(content), PreparationOptions(**recipe), "art")
    return {str(finding.kind): finding.what for finding in made.findings}


def test_depth_and_pages_are_told():
    assert notes(tiff(GREY, 1)) == {}
    for deep in (tiff(GREY.astype(np.uint16), 1), tiff(RGB.astype(np.uint16), 2)):
        assert notes(deep) == {"odd-file": "its 16 bits a channel print as 8, as every printer takes them"}
    for pages, told in ((2, 2), (3, 3), (100, 100), (130, 100)):
        said = f"the file holds {told} pictures; the first one prints"
        assert notes(tiff(GREY, 1, pages=pages)) == {"several-pages": said}
    assert np.array_equal(read(tiff(GREY, 1, pages=3)), GREY)
    white = samples.flat(samples.drawn())
    more = [white.transpose(Image.Transpose.ROTATE_180), white.transpose(Image.Transpose.FLIP_TOP_BOTTOM)]
    moving = samples.saved(white, "WEBP", save_all=True, append_images=more, lossless=True)
    assert notes(moving) == {"animated": "the WebP is animated (3 frames); its first one prints"}
    assert notes(samples.psd(white)).keys() == {"flattened"}


@pytest.mark.parametrize("orientation", range(10))
def test_turning_is_for_the_shop_to_say_in_every_format(orientation: int):
    """Exif's eight orientations (TIFF 6.0, page 36), as Pillow itself undoes them; other numbers turn nothing."""
    art = Image.fromarray(np.kron(RGB, np.ones((8, 8, 1), np.uint8)))
    exif = Image.Exif()
    exif[0x112] = orientation
    for kind, how in (("WEBP", {"lossless": True}), ("TIFF", {}), ("JPEG", {"quality": 95, "subsampling": 0})):
        content = samples.saved(art, kind, exif=exif.tobytes() if kind != "TIFF" else exif, **how)
        made = convert_file(content, identify_file(content), PreparationOptions(), "art")
        assert np.abs(np.asarray(made.make_frame().image)[..., :3].astype(int) - np.asarray(art)).max() <= 8, kind
        turned = prepare_file(content, PreparationOptions(orientation="apply", rows=False))
        want = ImageOps.exif_transpose(Image.open(io.BytesIO(samples.saved(art, "PNG", exif=exif.tobytes()))))
        assert (turned.width, turned.height) == want.size, kind


def test_a_webp_says_its_size_before_it_is_opened():
    """RFC 9649, 2.5 to 2.7: three kinds of first chunk, each with its own numbers; Pillow's for comparison."""
    art, white = samples.drawn(130, 59), samples.flat(samples.drawn(130, 59))
    for content in (
        samples.saved(art, "WEBP", lossless=True), samples.saved(white, "WEBP", quality=60),
        samples.saved(art, "WEBP", quality=60), samples.saved(white, "WEBP", save_all=True, append_images=[art]),
    ):  # fmt: skip
        assert read_webp_size(content) == Image.open(io.BytesIO(content)).size == (130, 59)
        assert read_webp_size(content[:22]) is None
    largest = b"RIFF\0\0\0\0WEBPVP8X\x0a\0\0\0" + bytes(4) + b"\xff\xff\xff" * 2
    assert read_webp_size(largest) == (1 << 24, 1 << 24)
    lossless = b"RIFF\0\0\0\0WEBPVP8L\x05\0\0\0\x2f" + (0x3FFF | 0x3FFF << 14).to_bytes(4, "little")
    assert read_webp_size(lossless) == (1 << 14, 1 << 14)
    lossy = b"RIFF\0\0\0\0WEBPVP8 \x0a\0\0\0" + bytes(3) + b"\x9d\x01\x2a" + b"\xff\xff\xff\xff"  # scales in two bits
    assert read_webp_size(lossy) == (0x3FFF, 0x3FFF)
    for wrong in (lossless.replace(b"\x2f", b"\x2e"), lossy.replace(b"\x9d", b"\x9c"), b"RIFF" + bytes(30)):
        assert read_webp_size(wrong) is None


@try_each("kind", [JPEG, TIFF, WEBP])
def test_as_many_pixels_as_are_allowed_are_read_and_no_more(kind):
    art = samples.flat(samples.drawn(50, 40))
    content = samples.saved(art, kind.name.upper())
    assert convert_file(content, kind, PreparationOptions(pixel_limit=2000), "a")
    with pytest.raises(Trouble) as caught:
        convert_file(content, kind, PreparationOptions(pixel_limit=1999), "a")
    (stop,) = caught.value.findings
    assert (stop.kind, stop.what) == ("too-large", "the picture has 50 × 40 pixels; the limit is 1,999 in all")


def test_a_jpeg_is_walked_to_its_end():
    """ITU-T T.81, annex B: segments with their length, a scan, then the end."""
    whole = samples.saved(samples.flat(samples.drawn()), "JPEG")
    scan = whole.index(b"\xff\xda")
    for content, words in (
        (whole[:-2], "the JPEG is cut off: its end mark is missing"),
        (whole[: scan + 5], "the JPEG is cut off in the middle of a part"),
        (whole[:scan] + b"\xff\xd9", "the JPEG holds no picture"),
        (whole[:-2] + whole[scan:-2] * 64 + b"\xff\xd9",
         "the JPEG goes through its picture more than 64 times, which no program writes"),
    ):  # fmt: skip
        with pytest.raises(Trouble) as caught:
            convert_file(content, JPEG, PreparationOptions(), "a.jpg")
        assert caught.value.findings[0].what == words


def test_kept_pictures_of_other_formats_are_known_by_what_made_them():
    assert describe_converter(samples.saved(samples.drawn(), "PNG")) == ""
    told = [
        describe_converter(content).split()[:2] for content in (samples.of("JPEG")[0], samples.svg(""), samples.pdf())
    ]
    assert told == [["JPEG", "pillow"], ["SVG", "resvg-py"], ["PDF", "pymupdf"]]
    png = samples.saved(samples.drawn(), "PNG")
    assert prepare_file(png).data == prepare_picture(png).data


@try_each(
    "content, whole",
    [
        (tiff(GREY, 1), True),
        (tiff(GREY, 1)[:-1], False),
        (tiff(GREY, 1, order=">", pages=3), True),
        (tiff(GREY, 1, order=">", pages=3)[:-1], False),
        (samples.saved(samples.flat(samples.drawn()), "JPEG") + bytes(3000), True),
        (samples.saved(samples.flat(samples.drawn()), "JPEG")[:-2] + bytes(3000), False),
        # Long behind a thumbnail that has an end mark of its own, the picture has begun and not ended.
        (b"\xff\xd8\xff\xe1\x10\0" + b"Exif\xff\xd9" + bytes(4088) + b"\xff\xda\0\x02" + bytes(9), False),
        (b"\xff\xd8\xff\xe1\x10\0" + b"Exif\xff\xd9" + bytes(4088) + b"\xff\xda\0\x02\xff\xd9" + bytes(2100), True),
        # Close behind it too; in the segment, before the scan, fill bytes before a marker (ITU-T T.81, B.1.1.2).
        (b"\xff\xd8\xff\xe1\0\x0aExif\xff\xd9\0\0\xff\xda\0\x02" + bytes(9), False),
        (b"\xff\xd8\xff\xe1\0\x0aExif\xff\xd9\0\0", False),
        (b"\xff\xd8\xff\xe1\0\x0aExif\xff\xd9", False),
        (b"\xff\xd8\xff\xff\xff\xe1\0\x0aExif\xff\xd9\0\0\xff\xff\xda\0\x02\0\xff\xd9", True),
        # Bytes that are no marker are passed over by decoders, and what follows is not known.
        (b"\xff\xd8\xff\xe1\0\x04ab\0\0\xff\xda\0\x02\0\xff\xd9", True),
        (b"\xff\xd8\xff\xe1\0\x04ab\0\0\xff\xda\0\x02\0", False),
        (b"\xff\xd8\xff\xd9", True),
        (samples.psd(samples.drawn()), True),
        (samples.psd(samples.drawn())[:-1], False),
        (samples.pdf() + b"\n" * 1000, True),
        (samples.pdf()[:-7], False),
        (b'<svg xmlns="http://www.w3.org/2000/svg"><g></g></svg>\n<!-- more -->', True),
        (b'<svg xmlns="http://www.w3.org/2000/svg"><g></g>', False),
        (b'<!DOCTYPE svg [<!ENTITY a "b">]><svg xmlns="http://www.w3.org/2000/svg">', True),  # refused later
        # ISO/IEC 14496-12, 4.2: a length of 1 stands for 64 bits behind it, of 0 for the rest of the file.
        (b"\0\0\0\x10ftypavif\0\0\0\0" + b"\0\0\0\x01mdat" + struct.pack(">Q", 24) + bytes(8), True),
        (b"\0\0\0\x10ftypavif\0\0\0\0" + b"\0\0\0\x01mdat" + struct.pack(">Q", 24) + bytes(7), False),
        (b"\0\0\0\x10ftypavif\0\0\0\0" + b"\0\0\0\0mdat" + bytes(9), True),
        (b"\0\0\0\x10ftypavif\0\0\0\0" + b"\0\0\0\x07mdat" + bytes(9), False),
    ],
)
def test_a_file_is_whole_up_to_its_last_byte(content, whole):
    assert (end_of(content) == "") is whole


def test_a_webp_may_lack_the_last_byte_of_its_padding_and_no_more():
    """RFC 9649, 2.3 and 2.4: RIFF counts what follows its length, and chunks are padded to even sizes."""
    for length in range(40, 47, 2):
        content = b"RIFF" + length.to_bytes(4, "little") + b"WEBP" + bytes(length - 4)
        assert [end_of(content[: len(content) - cut]) == "" for cut in range(5)] == [True, True, False, False, False]


def test_a_packed_psd_is_whole_by_the_lengths_of_its_rows():
    """Adobe Photoshop File Formats, 2019, Image Data Section: the byte counts of all rows, channel by channel."""
    head = b"8BPS" + struct.pack(">H6xHIIHH", 1, 3, 4, 6, 8, 3) + struct.pack(">III", 0, 0, 0)
    rows = [2, 3, 4, 5] * 3
    content = head + struct.pack(">H12H", 1, *rows) + bytes(sum(rows))
    assert end_of(content) == ""
    assert end_of(content[:-1]) == f"the file is cut off after {len(content) - 1:,} bytes"


@pytest.mark.parametrize("orientation", [1, 3, 6])
def test_the_rows_of_a_jpeg_are_those_of_its_ink_and_no_more(orientation: int):
    """What panels and proofs are drawn from: the file as Pillow decodes it, upright, mirrored, cut to its ink."""
    art = Image.new("RGB", (90, 300), "white")
    art.paste((160, 30, 40), (20, 60, 70, 250))
    exif = Image.Exif()
    exif[0x112] = orientation
    content = samples.saved(art, "JPEG", quality=95, exif=exif.tobytes())
    picture = prepare_file(content, PreparationOptions(orientation="apply"))
    assert picture.kept == "jpeg"
    left, top, right, bottom = picture.ink
    upright = ImageOps.exif_transpose(Image.open(io.BytesIO(content)))
    want = np.asarray(upright.crop(picture.ink).transpose(Image.Transpose.FLIP_LEFT_RIGHT))
    rows = np.concatenate(list(read_picture_rows(picture)))
    assert rows.shape == (bottom - top, (right - left) * 3)
    assert np.array_equal(rows.reshape(want.shape), want)
