"""Preparing one picture: mirrored rows, centre of mass, orientation, colour profiles, refusals, bombs."""

from __future__ import annotations

import functools
import io
import pickle
import struct
import tracemalloc
import zlib

import numpy as np
import pytest
from PIL import Image, ImageCms, ImageDraw, ImageOps

from art.pngbytes import SIGNATURE, chunk, idat, ihdr, png, samples_of
from art.rebuilt import printed
from each_case import try_each
from impose.art import prepare as room
from impose.art.codec import best_codec, make_standard_codec
from impose.art.colour import PROFILE_LIMIT
from impose.art.png import read_png
from impose.art.prepare import PreparationOptions, prepare_picture
from impose.errors import Exit, Severity, Trouble
from impose.pages.proof.gallery import picture_key


def saved(image: Image.Image, **options) -> bytes:
    file = io.BytesIO()
    image.save(file, "PNG", **options)
    return file.getvalue()


def arrow(mode: str = "RGB") -> Image.Image:
    """A picture whose eight turns all differ."""
    image = Image.new("RGB", (37, 23), "white")
    draw = ImageDraw.Draw(image)
    draw.polygon([(2, 3), (30, 3), (30, 9)], fill="red")
    draw.rectangle((5, 12, 9, 20), fill="blue")
    return image.convert(mode)


def test_prepared_rows_are_the_picture_mirrored():
    image = arrow()
    picture = prepare_picture(saved(image.convert("RGBA")))
    assert picture.ink == ImageOps.invert(image.convert("L")).getbbox()
    assert (printed(picture) == np.asarray(image)).all()
    width = picture.ink[2] - picture.ink[0]
    first = np.frombuffer(zlib.decompress(picture.data), np.uint8)[1 : 1 + 3 * width]
    row = np.asarray(image)[picture.ink[1], picture.ink[0] : picture.ink[2]]
    assert (first.reshape(-1, 3) == row[::-1]).all()


def test_tall_pictures_cross_the_bands():
    rng = np.random.default_rng(1)
    for height in (63, 64, 65, 128, 200):
        grey = rng.integers(0, 200, (height, 11)).astype(np.uint8)
        assert (printed(prepare_picture(saved(Image.fromarray(grey))))[:, :, 0] == grey).all()


@try_each("size", [(30, 20), (200, 150), (700, 1100)])
@try_each("mode", ["L", "RGB", "RGBA"])
def test_centre_of_mass_is_that_of_the_darkness(size, mode):
    rng = np.random.default_rng(size[0])
    small = Image.fromarray(rng.integers(0, 256, (5, 7, 4)).astype(np.uint8), "RGBA")
    image = small.resize(size, Image.Resampling.BICUBIC).convert(mode)
    picture = prepare_picture(saved(image), PreparationOptions(keep_specks=True))
    dark = 255.0 - printed(picture).mean(axis=2)
    y, x = np.mgrid[0 : size[1], 0 : size[0]] + 0.5
    assert picture.mass == pytest.approx(((dark * x).sum() / dark.sum(), (dark * y).sum() / dark.sum()), abs=0.25)


def test_centre_of_mass_of_a_plain_box_is_its_middle():
    image = Image.new("L", (400, 300), 255)
    image.paste(0, (41, 60, 142, 261))
    assert prepare_picture(saved(image)).mass == pytest.approx((91.5, 160.5), abs=0.01)


def exif_of(orientation: int, order: str = ">") -> bytes:
    mark = b"MM\0*" if order == ">" else b"II*\0"
    return mark + struct.pack(f"{order}IHHHIHHI", 8, 1, 0x0112, 3, 1, orientation, 0, 0)


def turned_file(orientation: int, order: str = ">", mode: str = "RGB") -> bytes:
    content = saved(arrow(mode))
    return content[:33] + chunk(b"eXIf", exif_of(orientation, order)) + content[33:]


@try_each("order", "<>")
@try_each("orientation", range(2, 9))
def test_a_turned_picture_stops_and_asks(orientation, order):
    content = turned_file(orientation, order)
    with pytest.raises(Trouble, match="turned or printed as stored") as stop:
        prepare_picture(content, name="camera.png")
    assert stop.value.findings[0].kind == "orientation"
    ignored = prepare_picture(content, PreparationOptions(orientation="ignore"))
    assert (printed(ignored) == np.asarray(arrow())).all()
    applied = prepare_picture(content, PreparationOptions(orientation="apply"))
    # Pillow's own turning of the same file is the judge.
    upright = ImageOps.exif_transpose(Image.open(io.BytesIO(content)))
    assert (applied.width, applied.height) == upright.size
    assert (printed(applied) == np.asarray(upright)).all()
    assert [f.severity for f in applied.findings + ignored.findings] == [Severity.NOTE] * 2


@pytest.mark.parametrize("mode", ["P", "L", "LA", "RGBA", "1"])
def test_every_kind_can_be_turned(mode):
    content = turned_file(6, mode=mode)
    applied = prepare_picture(content, PreparationOptions(orientation="apply"))
    upright = ImageOps.exif_transpose(Image.open(io.BytesIO(content))).convert("RGB")
    assert (printed(applied) == np.asarray(upright)[:, :, : applied.components]).all()


@pytest.mark.parametrize("orientation", [0, 1, 9, 65535])
def test_no_turn_no_question(orientation):
    assert not prepare_picture(turned_file(orientation)).findings


@pytest.mark.parametrize(
    "exif", [b"", b"MM", b"MM\0*\0\0\0\x08", b"MM\0*\xff\xff\xff\xff", b"JUNKJUNKJUNK", b"II*\0" + b"\xff" * 40]
)
def test_unreadable_exif_is_no_question(exif):
    content = saved(arrow())
    assert not prepare_picture(content[:33] + chunk(b"eXIf", exif) + content[33:]).findings


@functools.cache  # it holds the second in which it was made
def profile(space: str = "RGB") -> bytes:
    """A real profile made by Little CMS; CMYK has its header alone changed, and grey the curve of red as its own."""
    data = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
    if space == "GRAY":
        data = data.replace(b"rTRC", b"kTRC")
    return data if space == "RGB" else data[:16] + space.ljust(4).encode() + data[20:]


def with_profile(content: bytes, data: bytes) -> bytes:
    return content[:33] + chunk(b"iCCP", b"name\0\0" + zlib.compress(data)) + content[33:]


def test_profiles_are_kept_byte_for_byte():
    picture = prepare_picture(with_profile(saved(arrow()), profile()))
    assert picture.icc == profile()
    assert (picture.colour, picture.findings) == ("icc", ())
    assert prepare_picture(with_profile(saved(arrow("L")), profile("GRAY"))).icc == profile("GRAY")
    assert prepare_picture(with_profile(saved(arrow("P")), profile())).icc == profile()


@pytest.mark.parametrize(
    ("mode", "data"),
    [
        ("L", profile()),
        ("RGB", profile("GRAY")),
        ("RGB", profile("CMYK")),
        ("RGB", profile()[:-1]),
        ("RGB", profile() + b"\0"),
        ("RGB", b""),
        ("RGB", b"notaprofile" * 20),
    ],
)
def test_profiles_that_do_not_fit_are_left_out_and_said(mode, data):
    picture = prepare_picture(with_profile(saved(arrow(mode)), data))
    assert picture.icc is None
    (finding,) = picture.findings
    assert (finding.kind, finding.severity) == ("profile-unusable", Severity.WARN)


def test_grey_stays_grey_and_colour_stays_colour():
    components = {mode: prepare_picture(saved(arrow(mode))).components for mode in ("1", "L", "LA", "P", "RGB", "RGBA")}
    assert components == {"1": 1, "L": 1, "LA": 1, "P": 3, "RGB": 3, "RGBA": 3}


@pytest.mark.parametrize(
    "image",
    [
        Image.new("RGB", (50, 40), "white"),
        Image.new("RGBA", (50, 40), (0, 0, 0, 0)),
        Image.new("RGBA", (50, 40), (0, 0, 0, 4)),
        Image.new("L", (1, 1), 251),
        Image.new("RGBA", (9, 9), "white"),
    ],
)
def test_blank_artwork_is_refused_with_the_reason(image):
    with pytest.raises(Trouble, match="no white") as refusal:
        prepare_picture(saved(image), name="blank.png")
    assert refusal.value.findings[0].kind == "blank"
    assert refusal.value.exit is Exit.REFUSED


FOREIGN = {
    "JPEG": ("JPEG", "JPEG"),
    "GIF": ("GIF", "GIF"),
    "WEBP": ("WEBP", "WebP"),
    "TIFF": ("TIFF", "TIFF"),
    "BMP": ("BMP", "BMP"),
    "PDF": ("PDF", "PDF"),
    "ICO": ("ICO", "icon"),
    "JPEG2000": ("JPEG2000", "JPEG 2000"),
}


@try_each("form, word", FOREIGN.values())
def test_other_formats_are_named(form, word):
    """Files written by Pillow in the other formats."""
    file = io.BytesIO()
    arrow().save(file, form)
    with pytest.raises(Trouble, match=word) as refusal:
        prepare_picture(file.getvalue(), name="art.png")
    (finding,) = refusal.value.findings
    assert finding.kind == "foreign-format"
    assert "PNG" in finding.remedy


@try_each(
    "content, word",
    [
        (b"", "empty"),
        (b'<?xml version="1.0"?><svg xmlns="http://www.w3.org/2000/svg"/>', "SVG"),
        (b"8BPS\0\1", "PSD"),
        (b"%!PS-Adobe-3.0 EPSF-3.0", "PostScript"),
        (b"PK\3\4", "ZIP"),
        (b"\0\0\0\x20ftypavif", "AVIF"),
        (b"\0\0\0\x20ftypheic", "HEIC"),
        (b"<!DOCTYPE html><html>", "web page"),
        (b"order,art\n1,owl.png\n", "text"),
        (b"\0" * 100, "not a picture"),
    ],
)
def test_other_things_are_named(content, word):
    with pytest.raises(Trouble, match=word):
        prepare_picture(content)


def test_the_limit_is_taken_from_the_header():
    """A few hundred bytes that promise 3.6 thousand million pixels."""
    content = SIGNATURE + ihdr(60_000, 60_000, 8, 6) + idat(zlib.compress(b"\0" * 100)) + chunk(b"IEND")
    with pytest.raises(Trouble, match="60,000 × 60,000") as refusal:
        read_png(content, "big.png")
    assert refusal.value.findings[0].kind == "too-large"
    # From the header alone: were anything behind it looked at first, the cut would be what is said.
    with pytest.raises(Trouble, match="limit"):
        prepare_picture(content[:40])
    assert read_png(content, pixel_limit=2**40).header.pixels == 3_600_000_000
    image = saved(arrow())
    with pytest.raises(Trouble, match="limit is 850"):
        prepare_picture(image, PreparationOptions(pixel_limit=850))
    assert prepare_picture(image, PreparationOptions(pixel_limit=851)).width == 37


def bomb(size: int) -> bytes:
    squeezer = zlib.compressobj(9)
    million = bytes(1 << 20)
    return b"".join(squeezer.compress(million) for _ in range(size >> 20)) + squeezer.flush()


def test_bombs_are_not_unpacked():
    """128 MB behind a few kilobytes, in each place that can be compressed: memory stays at a few MB."""
    packed = bomb(128 << 20)
    small = png(samples_of(16, 12, 8, 3))
    made_of = {
        "zTXt": chunk(b"zTXt", b"Comment\0\0" + packed),
        "iTXt": chunk(b"iTXt", b"Comment\0\1\0\0\0" + packed),
        "iCCP": chunk(b"iCCP", b"name\0\0" + packed),
    }
    prepare_picture(small)
    tracemalloc.start()
    try:
        for part in made_of.values():
            prepare_picture(small[:33] + part + small[33:])
        for header in (ihdr(16, 12, 8, 3 - 1), ihdr(14_000, 14_000, 8, 6)):
            with pytest.raises(Trouble):
                prepare_picture(SIGNATURE + header + idat(packed) + chunk(b"IEND"))
        assert tracemalloc.get_traced_memory()[1] < 3 * PROFILE_LIMIT
    finally:
        tracemalloc.stop()


def test_a_header_far_larger_than_its_data_is_refused_before_memory_is_taken():
    with pytest.raises(Trouble, match="far too short"):
        prepare_picture(SIGNATURE + ihdr(14_000, 14_000, 8, 6) + idat(zlib.compress(bytes(1000))) + chunk(b"IEND"))


def test_a_large_plain_picture_is_no_bomb():
    """The best that deflate can do is still taken: 20 megapixels in some 60 KB."""
    image = Image.new("RGB", (5000, 4000), "navy")
    picture = prepare_picture(saved(image))
    assert picture.ink == (0, 0, 5000, 4000)


def test_one_large_data_chunk_takes_no_longer():
    """Some programs write all data in one chunk; what the inflater has not used must not be copied each time."""
    samples = np.random.default_rng(1).integers(0, 256, (700, 900, 3))
    stream = zlib.compress(b"".join(b"\0" + row.astype(np.uint8).tobytes() for row in samples), 1)
    whole = SIGNATURE + ihdr(900, 700, 8, 2) + idat(stream) + chunk(b"IEND")
    assert (printed(prepare_picture(whole)) == samples).all()


def test_patterns_that_repeat_along_the_row_stay_small():
    """A woven tile, twenty times across: four hundred times the tile's own pixels take little more than the tile."""
    tile = np.random.default_rng(2).integers(0, 200, (40, 40)).astype(np.uint8)
    picture = prepare_picture(saved(Image.fromarray(np.tile(tile, (20, 20)))))
    assert (printed(picture)[:, :, 0] == np.tile(tile, (20, 20))).all()
    assert len(picture.data) < 40 * 800 * 2
    noise = np.random.default_rng(2).integers(0, 200, (800, 800)).astype(np.uint8)
    assert len(prepare_picture(saved(Image.fromarray(noise))).data) < 800 * 800 * 1.02


def test_the_same_bytes_each_time_and_by_way_of_pickle():
    content = turned_file(6)
    recipe = PreparationOptions(orientation="apply")
    first = prepare_picture(content, recipe, "a.png")
    assert prepare_picture(content, recipe, "a.png") == first
    assert pickle.loads(pickle.dumps(first)) == first
    assert pickle.loads(pickle.dumps(recipe)) == recipe


def test_the_standard_library_alone_gives_the_same_pixels(monkeypatch):
    contents = [saved(arrow(mode)) for mode in ("1", "L", "LA", "P", "RGB", "RGBA")]
    contents.append(png(samples_of(50, 40, 16, 4), 16))
    best = [prepare_picture(content) for content in contents]
    for module in ("codec", "png", "inflate", "png_writer", "colour", "scanlines", "prepare"):
        monkeypatch.setattr(f"impose.art.{module}.best_codec", make_standard_codec)
    plain = [prepare_picture(content) for content in contents]
    for one, other in zip(best, plain, strict=True):
        assert other.codec == "zlib 1"
        assert zlib.decompress(one.data) == zlib.decompress(other.data)
        assert (one.ink, one.mass) == (other.ink, other.mass)
        # A customer's agreement is to what is seen, whatever library wrote it.
        assert picture_key(one) == picture_key(other)
    with pytest.raises(Trouble, match="their checksum is wrong"):
        stream = zlib.compress(bytes([0, 9]))
        prepare_picture(png(np.zeros((1, 1), int), stream=stream[:-1] + b"\7"))
    monkeypatch.undo()
    assert room.best_codec().name == best_codec().name


@pytest.mark.parametrize("tint", [-0.1, 1.5, float("nan")])
def test_a_tint_outside_its_range_is_wrong_use(tint):
    with pytest.raises(ValueError, match="tint"):
        PreparationOptions(tint=tint)


@pytest.mark.parametrize("shape", [(517, 130, 3), (1200, 700, 1), (9, 2000, 3)])
def test_the_centre_of_mass_is_exact(shape):
    """The mean of the pixels' middles weighed by darkness, in whole numbers; stripes are what steps get wrong."""
    pixels = np.random.default_rng(5).integers(0, 256, shape, dtype=np.uint8)
    pixels[np.arange(shape[0]) % 8 > 0] = 250
    pixels[:, 0] = pixels[:, -1] = pixels[0] = pixels[-1] = 0
    picture = prepare_picture(
        png((pixels if shape[2] == 3 else pixels[:, :, 0]).astype(np.int64)),
        PreparationOptions(tint=0, keep_specks=True),
    )
    dark = (255 * shape[2] - pixels.sum(axis=2, dtype=np.int64)).astype(object)
    total = int(dark.sum())
    x = float((dark.sum(axis=0) * (2 * np.arange(shape[1]) + 1)).sum() / (2 * total))
    y = float((dark.sum(axis=1) * (2 * np.arange(shape[0]) + 1)).sum() / (2 * total))
    assert picture.mass == pytest.approx((x, y), abs=1e-6)
