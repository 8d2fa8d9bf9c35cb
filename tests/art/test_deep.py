"""16 bits with alpha over white, against float64 on the file's own samples (PNG Third Edition, 13.16: alpha)."""

from __future__ import annotations

import tracemalloc
import zlib

import numpy as np
import pytest

from art.pngbytes import chunk, png
from impose.art.decode import decode_png
from impose.art.ink import composite_over_white
from impose.art.png import read_png
from impose.art.scanlines import flatten_quickly


def _frame(samples: np.ndarray, colour: int, interlaced: bool = False):
    return decode_png(read_png(png(samples, 16, colour, interlaced=interlaced)))


def _samples(channels: int, seed: int) -> np.ndarray:
    """Random ones, and every meeting of the values at which rounding turns."""
    random = np.random.default_rng(seed)
    edges = [0, 1, 127, 128, 129, 255, 256, 257, 385, 32767, 32768, 65278, 65407, 65534, 65535]
    met = np.array(np.meshgrid(edges, edges)).reshape(2, -1).T
    some = random.integers(0, 65536, (120, 90, channels))
    some[0, 0] = 65535
    some.reshape(-1, channels)[: len(met), 0], some.reshape(-1, channels)[: len(met), -1] = met[:, 0], met[:, 1]
    some[60:, :, -1] = random.integers(0, 2000, (60, 90))  # faint
    return some


@pytest.mark.parametrize("interlaced", [False, True])
@pytest.mark.parametrize(("colour", "channels"), [(6, 4), (4, 2)])
def test_every_pixel_is_the_nearest_level_of_the_true_value(colour, channels, interlaced):
    samples = _samples(channels, colour)
    share = samples[..., -1:] / 65535
    true = 255 * (1 - share * (1 - samples[..., :-1] / 65535))
    frame = _frame(samples, colour, interlaced)
    box = (0, 0, samples.shape[1], samples.shape[0])
    for made in (composite_over_white(frame, box), flatten_quickly(frame, box)):
        printed = np.asarray(made, np.float64).reshape(*samples.shape[:2], -1)[..., : channels - 1]
        assert np.abs(printed - true).max() <= 0.5
    alpha = np.asarray(frame.image.getchannel("A"), np.float64)
    assert np.abs(alpha - 255 * share[..., 0]).max() <= 0.5


@pytest.mark.parametrize("colour", [0, 2])
def test_a_transparent_colour_is_compared_in_all_16_bits(colour):
    samples = np.full((2, 2, 1 if colour == 0 else 3), 0x1234)
    samples[1, 1] = 0x1235
    clear = b"\x12\x34" * samples.shape[2]
    frame = decode_png(read_png(png(samples, 16, colour, before=chunk(b"tRNS", clear))))
    printed = np.asarray(composite_over_white(frame, (0, 0, 2, 2))).reshape(2, 2, -1)
    assert (printed[0] == 255).all()
    assert (printed[1, 0] == 255).all()
    assert (printed[1, 1] == 0x12).all()


def test_memory_is_8_bytes_a_pixel():
    """Beside a fixed part for the rows under way; Pillow's own memory is not traced, but none of it is used here."""
    row = b"\0" + bytes(range(1, 241)) * 100  # 3,000 pixels, no filter
    file = png(np.zeros((1000, 3000, 4)), 16, 6, stream=zlib.compress(row * 1000, 1))
    decode_png(read_png(png(np.zeros((8, 8, 4)), 16, 6)))  # loads what is loaded once
    tracemalloc.start()
    decode_png(read_png(file))
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert peak <= 8 * 3_000_000 + 8e6
