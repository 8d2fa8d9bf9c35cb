"""The rows of an opaque PNG go onto the page as the file has them: by its own bytes and by Pillow."""

from __future__ import annotations

import io
import zlib

import numpy as np
import pytest
from PIL import Image, ImageOps

from formats import samples
from impose.art.crop import crop_picture, read_picture_rows
from impose.art.png import read_png
from impose.art.prepare import PreparationOptions, PreparedPicture, prepare_picture


def photograph(mode: str = "RGB") -> Image.Image:
    """Soft colours without white and some grain, unlike when mirrored or turned."""
    y, x = np.mgrid[0:120, 0:160]
    grain = np.random.default_rng(5).integers(0, 12, (120, 160))
    rgb = np.stack([40 + 180 * x / 160, 30 + 160 * y / 120, 90 + 60 * np.sin(x / 9)], axis=-1) + grain[:, :, None]
    return Image.fromarray(rgb.astype(np.uint8)).convert(mode)


def saved(image: Image.Image, **how) -> bytes:
    return samples.saved(image, "PNG", **how)


def prepared(content: bytes, **how) -> PreparedPicture:
    return prepare_picture(content, PreparationOptions(orientation="apply", **how))


def join_rows(picture: PreparedPicture) -> np.ndarray:
    return np.concatenate(list(read_picture_rows(picture)))


@pytest.mark.parametrize("mode", ["RGB", "L"])
@pytest.mark.parametrize("value", range(1, 9))
def test_they_are_the_bytes_of_the_file_however_it_is_stored(mode, value):
    """Each orientation of Exif 2.32, 4.6.4 A, as Pillow's `exif_transpose` undoes it."""
    exif = Image.Exif()
    exif[0x0112] = value
    content = saved(photograph(mode), exif=exif.tobytes())
    picture = prepared(content)
    assert picture.kept == "png"
    assert picture.data == b"".join(read_png(content).list_idat())
    upright = ImageOps.exif_transpose(Image.open(io.BytesIO(content)))
    assert (picture.width, picture.height) == upright.size
    mirrored = np.asarray(ImageOps.mirror(upright)).reshape(upright.height, -1)
    assert np.array_equal(join_rows(picture), mirrored)
    # What is made of the same pixels with alpha, which is deflated anew, is the same.
    plain = prepared(saved(upright.convert(f"{mode}A")))
    assert not plain.kept
    assert picture.ink == plain.ink
    assert picture.coverage == pytest.approx(plain.coverage, abs=0.5 / 255)
    assert picture.mass == pytest.approx(plain.mass, abs=0.02)
    part = (10, 20, 90, 70)
    assert crop_picture(picture, part).data == crop_picture(plain, part).data


def with_more_after_its_rows() -> bytes:
    """Bytes after the stream of the rows, within their chunk."""
    content = saved(photograph())
    (chunk,) = (one for one in read_png(content).chunks if one.name == b"IDAT")
    data = content[chunk.start : chunk.end] + b"SECRET"
    whole = len(data).to_bytes(4, "big") + b"IDAT" + data + zlib.crc32(b"IDAT" + data).to_bytes(4, "big")
    return content[: chunk.start - 8] + whole + content[chunk.end + 4 :]


@pytest.mark.parametrize(
    ("content", "how"),
    [
        (saved(photograph("RGBA")), {}),
        (saved(photograph("LA")), {}),
        (saved(photograph("P")), {}),
        (saved(photograph(), transparency=(1, 2, 3)), {}),
        (saved(Image.fromarray(np.asarray(photograph("L")).astype(np.uint16) * 257)), {}),
        (with_more_after_its_rows(), {}),
        (saved(photograph(), compress_level=0), {}),
        (saved(photograph()), {"rows": False}),
    ],
    ids=["alpha", "grey and alpha", "palette", "a clear colour", "16 bits", "more after", "loosely packed", "examined"],
)
def test_what_a_page_cannot_show_as_it_is_is_deflated_anew(content, how):
    picture = prepared(content, **how)
    assert not picture.kept
    assert b"SECRET" not in picture.data
