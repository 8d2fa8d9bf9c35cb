"""Every valid PNG reads right to one level in 255, judged by another decoder (pypng)."""

from __future__ import annotations

import functools
import io
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from art.pngbytes import png, samples_of
from art.rebuilt import expected, printed
from each_case import try_each
from impose.art.decode import decode_png, split_into_bands
from impose.art.ink import composite_over_white
from impose.art.png import read_png
from impose.art.prepare import PreparationOptions, prepare_picture
from impose.errors import Severity

VALID = sorted((Path(__file__).parent / "corpus" / "valid").glob("*.png"))
NOTHING_TO_PRINT = [path for path in VALID if path.stem.startswith("grey-01") and "trns" in path.stem]
"""Black is their transparent colour."""


def test_the_collection_is_there():
    assert len(VALID) >= 150
    assert len(NOTHING_TO_PRINT) == 2


@try_each("path", VALID)
def test_every_pixel_is_right(path, painter):
    content = path.read_bytes()
    frame = decode_png(read_png(content))
    ours = np.asarray(composite_over_white(frame, (0, 0, *frame.image.size)), np.float64)
    theirs = expected(content)
    assert np.abs(ours.reshape(theirs.shape) - theirs).max() <= 1.0


@try_each("path", [path for path in VALID if path not in NOTHING_TO_PRINT])
def test_what_is_prepared_is_the_picture_mirrored_and_cropped(path):
    content = path.read_bytes()
    picture = prepare_picture(content, PreparationOptions(tint=0, keep_specks=True), path.name)
    theirs = expected(content)
    assert np.abs(printed(picture) - theirs).max() <= 1.0
    # With a least tint of one level, what lies outside the ink is white to the level.
    left, top, right, bottom = picture.ink
    inked = np.argwhere((printed(picture) < 255).any(axis=2))
    assert (*inked.min(axis=0), *(inked.max(axis=0) + 1)) == (top, left, bottom, right)
    assert picture.components == theirs.shape[2]
    header = read_png(content).header
    assert (header.width, header.height) == (picture.width, picture.height)


@try_each("path", [path for path in VALID if path not in NOTHING_TO_PRINT])
def test_surprises_are_named_and_nothing_else_is(path):
    """Kinds of finding by the file's name; all other valid files have none."""
    kinds = {
        "idat-with-bytes-after-stream": ["trailing-data"],
        "odd-data-after-end": ["trailing-data"],
        "odd-palette-in-grey": ["odd-png"],
        "odd-trns-beside-alpha": ["odd-png"],
        "chunk-animated": ["animated"],
        "chunk-cicp-wide": ["video-colour"],
        "chunk-iccp-junk": ["profile-unusable"],
        "chunk-iccp-damaged": ["profile-unusable"],
    }
    findings = prepare_picture(path.read_bytes(), PreparationOptions(keep_specks=True), path.name).findings
    assert [f.kind for f in findings] == kinds.get(path.stem, [])
    assert all(f.severity is not Severity.STOP and f.file == path.name for f in findings)


@functools.cache
def strips(mode: str, size: tuple[int, int]) -> tuple[bytes, np.ndarray]:
    """A file written by Pillow with a filter chosen for each row, and its pixels."""
    rng = np.random.default_rng(4)
    width, height = size
    y, x = np.mgrid[0:height, 0:width]
    smooth = np.stack([(x // 3 + y) % 251, (x + 2 * y) % 241, (3 * x + y // 2) % 239], axis=-1)
    noise = rng.integers(0, 3, smooth.shape) * ((x // 64 + y // 64) % 2)[:, :, None]
    image = Image.fromarray((smooth + noise).astype(np.uint8)).convert(mode)
    file = io.BytesIO()
    image.save(file, "PNG", compress_level=1)
    return file.getvalue(), np.asarray(image.convert("L" if mode in ("L", "LA") else "RGB"))


@pytest.mark.parametrize(
    ("size", "mode"),
    [
        *(((901, 700), mode) for mode in ("L", "P", "LA", "RGB", "RGBA")),
        *((size, mode) for size in ((1, 70_000), (40_000, 40)) for mode in ("L", "RGBA")),
        *(
            pytest.param(size, mode, marks=pytest.mark.long)
            for size in ((1, 70_000), (40_000, 40))
            for mode in ("P", "LA", "RGB")
        ),
    ],
)
def test_pictures_of_many_strips(mode, size, painter):
    """Exact, since all is 8 bits and opaque."""
    content, theirs = strips(mode, size)
    ours = np.asarray(composite_over_white(decode_png(read_png(content)), (0, 0, *size)))
    assert (ours == theirs).all()


@try_each("width", [1, 7, 64, 1000, 1024, 2000, 16_384, 20_000, 1_000_000])
@try_each("top", [0, 13])
def test_bands_cover_a_picture_of_any_shape_in_few_steps_and_little_memory(width, top):
    height = min(1_000_000, 200_000_000 // width)
    found = list(split_into_bands(width, height, top))
    assert [start for start, _ in found] == [top, *(end for _, end in found[:-1])]
    assert found[-1][1] == top + height
    assert all((end - start) % 8 == 0 for start, end in found[:-1])
    assert len(found) <= 16_000
    assert max(end - start for start, end in found) * width <= max(8 * width, 1 << 20)


@pytest.mark.parametrize("size", [(1, 15_000), (3, 6_000), (15_000, 3)])
@pytest.mark.parametrize("depth", [8, 16])
def test_narrow_and_wide_pictures(size, depth):
    """As right as all others, findings included; by row and by column alike."""
    content = png(samples_of(*size, depth, 4, seed=9), depth, 6, filters=(4, 1))
    picture = prepare_picture(content, PreparationOptions(tint=0, keep_specks=True))
    assert np.abs(printed(picture) - expected(content)).max() <= 1.0
