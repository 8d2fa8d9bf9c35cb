"""The compiled loops over pixels against their twins in numpy and against Pillow, on odd and on seeded pictures."""

from __future__ import annotations

import heapq
import zlib
from collections import Counter
from collections.abc import Iterator
from itertools import product

import numpy as np
import pytest
from PIL import Image

from impose.art import unfilter
from impose.art.codec import RunDeflater, best_codec
from impose.art.faults.survey import mark_with_numpy
from impose.art.faults.thin import count_all_runs
from impose.art.ink import map_with_numpy
from impose.art.pixel_loops import (
    BitMask,
    RowFilter,
    RowUnfilter,
    SquareSums,
    average_with_loops,
    count_with_loops,
    load_pixel_loops,
    sum_with_loops,
    survey_with_loops,
)
from impose.art.png import PngHeader
from impose.art.small_pictures import sum_with_numpy
from impose.art.unfilter import FilterError, unfilter_scanlines
from impose.formats.jpeg_markers import find_marker, search_marker

LOOPS = load_pixel_loops()
pytestmark = pytest.mark.skipif(LOOPS is None, reason="no compiled loops here")

SIZES = ((1, 1), (1, 70), (70, 1), (7, 9), (8, 8), (17, 64), (33, 50), (40, 129))


def list_pictures() -> Iterator[np.ndarray]:
    """Of each size and number of channels: noise, nothing but white, all clear, all opaque, hardly any ink."""
    rng = np.random.default_rng(1)
    for height, width in SIZES:
        for channels in (1, 2, 4):
            noise = rng.integers(0, 256, (height, width, channels), dtype=np.uint8)
            clear, opaque, pale = noise.copy(), noise.copy(), noise.copy()
            clear[:, :, -1], opaque[:, :, -1] = 0, 255
            pale[pale < 200] = 255
            yield from (noise, np.full_like(noise, 255), clear, opaque, pale)


def turn_all_ways(pixels: np.ndarray) -> Iterator[np.ndarray]:
    """Views of the same memory as the eight ways in which a picture can be stored."""
    for rows in (pixels, pixels.swapaxes(0, 1)):
        yield from (rows, rows[::-1], rows[:, ::-1], rows[::-1, ::-1])


@pytest.mark.parametrize("levels", [1, 5, 60])
def test_blocks_and_clear_ink_are_those_of_numpy(levels):
    for pixels in list_pictures():
        for alpha in {2: (True,), 4: (False, True)}.get(pixels.shape[2], (False,)):
            for view in turn_all_ways(pixels):
                for step in (1, 2, 4):
                    blocks, solid, _ = survey_with_loops(LOOPS, view, alpha, levels, step)
                    plain = np.ascontiguousarray(view)
                    assert np.array_equal(blocks, map_with_numpy(plain, alpha, levels))
                    assert np.array_equal(solid.unpack_bits(), mark_with_numpy(plain[::step, ::step], alpha))


def test_rows_before_the_first_of_a_step_are_passed_over():
    pixels = np.random.default_rng(2).integers(0, 256, (8, 20, 4), dtype=np.uint8)
    for step, offset in ((4, 3), (16, 12), (16, 0)):
        solid = survey_with_loops(LOOPS, pixels, True, 5, step, offset)[1]
        assert np.array_equal(solid.unpack_bits(), mark_with_numpy(pixels[offset::step, ::step], True))


@pytest.mark.parametrize("side", [1, 2, 3, 4, 5, 7, 16, 17, 256])
def test_averages_are_those_of_pillow(side):
    """Pillow 13, `Image.reduce`; each way up, so that the narrower squares come first in memory too."""
    for pixels in (picture for picture in list_pictures() if picture.shape[2] != 2):
        for view in turn_all_ways(pixels):
            plain = np.ascontiguousarray(view)
            mode = "L" if plain.shape[2] == 1 else "RGBX"
            image = Image.frombuffer(mode, (plain.shape[1], plain.shape[0]), plain, "raw", mode, 0, 1)
            assert average_with_loops(LOOPS, view, side).tobytes() == image.reduce(side).tobytes()


@pytest.mark.parametrize("side", [2, 5, 70])
def test_averages_made_while_ink_is_looked_for_are_the_same(side):
    """Of pictures of more than one band, in the eight ways they can be stored."""
    rng = np.random.default_rng(7)
    for pixels in (rng.integers(0, 256, (150, 67, channels), dtype=np.uint8) for channels in (1, 4)):
        for view in turn_all_ways(pixels):
            for step in (1, 4):
                alone = survey_with_loops(LOOPS, view, False, 5, step)
                found = survey_with_loops(LOOPS, view, False, 5, step, side=side)
                assert found.averages is not None
                assert np.array_equal(found.averages, average_with_loops(LOOPS, view, side))
                assert np.array_equal(found.blocks, alone.blocks)
                assert np.array_equal(found.solid.unpack_bits(), alone.solid.unpack_bits())


def test_sums_of_levels_are_those_of_numpy():
    for pixels in (picture for picture in list_pictures() if picture.shape[2] != 2):
        for ours, plain in zip(sum_with_loops(LOOPS, pixels), sum_with_numpy(pixels), strict=True):
            assert np.array_equal(ours, plain)


def test_markers_are_found_where_the_expression_finds_them():
    """Of bytes that markers, stuffing, restarts and filling are made of (ITU-T T.81, B.1.1.2)."""
    rng = np.random.default_rng(8)
    found = 0
    for length in range(200):
        content = rng.choice([0, 1, 0xCF, 0xD0, 0xD7, 0xD8, 0xFE, 0xFF, 0xFF], length % 40).astype(np.uint8).tobytes()
        for at in range(length % 40 + 2):
            assert find_marker(content, at) == search_marker(content, at)
            found += find_marker(content, at) is not None
    assert 1000 < found < 4000


def draw_strokes(rng: np.random.Generator, height: int, width: int, kind: int) -> np.ndarray:
    """A mask of noise, of bars, or of waves."""
    if kind == 0:
        return rng.random((height, width)) < rng.random()
    if kind == 1:
        mask = np.zeros((height, width), np.bool_)
        for y, x, high, wide in rng.integers(0, 60, (12, 4)):
            mask[y : y + high, x : x + wide] ^= True
        return mask
    y, x = np.mgrid[:height, :width]
    turn = rng.random() * 6
    return (y * np.sin(turn) + x * np.cos(turn) + 3 * np.sin(y / 20)) // rng.integers(1, 26) % 2 == 0


def pack_mask(mask: np.ndarray, transposed: bool) -> BitMask:
    """The mask as bits; those beyond its lines are set."""
    lines = mask.T if transposed else mask
    padded = np.ascontiguousarray(np.pad(lines, ((0, 0), (0, -lines.shape[1] % 64)), constant_values=True))
    return BitMask(np.packbits(padded, axis=1, bitorder="little").view("<u8"), lines.shape[1], transposed)


def test_runs_that_last_are_those_of_numpy():
    rng = np.random.default_rng(3)
    lasting = 0
    for number in range(120):
        height, width = (int(length) for length in rng.integers(1, 200, 2))
        height = 1 if number % 10 == 0 else height
        mask = draw_strokes(rng, height, 2 if number % 11 == 0 else width, number % 3)
        for transposed in (False, True):
            clear = rng.random([-(-length // 64) for length in mask.shape]) < 0.8
            bits = pack_mask(mask, transposed)
            assert np.array_equal(bits.unpack_bits(), mask)
            ours, plain = count_with_loops(LOOPS, bits, clear), count_all_runs(mask, clear)
            assert all(np.array_equal(found, known) for found, known in zip(ours, plain, strict=True))
            lasting += int(ours[0].sum() + ours[1].sum())
    assert lasting > 10_000


def test_a_mask_of_bits_is_cut_as_one_of_truth_values_is():
    mask = draw_strokes(np.random.default_rng(6), 150, 210, 0)
    for transposed in (False, True):
        for top, left, bottom, right in ((0, 0, 150, 210), (1, 2, 149, 200), (2, 0, 400, 400), (0, 1, 70, 90)):
            part = pack_mask(mask, transposed).cut_tiles(top, left, bottom, right)
            known = mask[64 * top : bottom, 64 * left : right]
            assert part.shape == known.shape
            assert np.array_equal(part.unpack_bits(), known)
            clear = np.ones([-(-length // 64) for length in known.shape], np.bool_)
            ours, plain = count_with_loops(LOOPS, part, clear), count_all_runs(known, clear)
            assert all(np.array_equal(found, known) for found, known in zip(ours, plain, strict=True))


@pytest.mark.parametrize("side", [1, 3, 8])
def test_averages_are_the_same_however_rows_are_cut(side):
    pixels = np.random.default_rng(4).integers(0, 256, (37, 29, 4), dtype=np.uint8)
    whole = average_with_loops(LOOPS, pixels[:, ::-1], side)
    sums = SquareSums(LOOPS, 29, 37, 4, side)
    for top, bottom in ((0, 1), (1, 12), (12, 13), (13, 37)):
        sums.add_rows(pixels[top:bottom], mirrored=True)
    assert np.array_equal(sums.averages, whole)


def filter_by_definition(pixels: np.ndarray, alpha: bool) -> tuple[np.ndarray, np.ndarray]:
    """Over white, 255 - alpha (255 - colour) / 255 to the nearest (Porter and Duff, 1984), and mirrored under Up: each
    byte less the one above (PNG, third edition, 9.2)."""
    flat = pixels[:, :, : min(3, pixels.shape[2])].astype(np.int64)
    if alpha:
        flat = np.floor(255 - pixels[:, :, 3:].astype(np.int64) * (255 - flat) / 255 + 0.5).astype(np.int64)
    rows = flat[:, ::-1].reshape(len(flat), -1)
    changes = np.diff(rows, axis=0, prepend=np.zeros((1, rows.shape[1]), np.int64)) % 256
    return flat, np.concatenate([np.full((len(rows), 1), 2), changes], axis=1)


def test_rows_for_the_page_are_those_of_the_definition():
    for pixels in (picture for picture in list_pictures() if picture.shape[2] != 2):
        height, width, channels = pixels.shape
        for alpha in (False, True)[: 1 + (channels == 4)]:
            flat, changes = filter_by_definition(pixels, alpha)
            rows = RowFilter(LOOPS, width, channels, alpha)
            # A box of a wider picture, in two parts.
            wide = np.pad(pixels, ((0, 0), (2, 3), (0, 0)))[:, 2:-3]
            made = [rows.filter_rows(part) for part in (wide[: height // 2], wide[height // 2 :]) if len(part)]
            assert np.array_equal(np.concatenate([over for over, _ in made])[:, :, : flat.shape[2]], flat)
            assert np.array_equal(np.concatenate([filtered for _, filtered in made]), changes)
            assert np.array_equal(rows.columns, flat.sum(axis=(0, 2)))
            assert np.array_equal(np.concatenate(rows.sums), flat.sum(axis=(1, 2)))


def test_every_level_under_every_alpha_is_the_nearest_over_white():
    level, alpha = np.divmod(np.arange(1 << 16), 256)
    pixels = np.stack([level, level, level, alpha], axis=-1).astype(np.uint8).reshape(256, 256, 4)
    made = RowFilter(LOOPS, 256, 4, True).filter_rows(pixels)[0]
    assert np.array_equal(made[:, :, :3], filter_by_definition(pixels, True)[0])
    assert (made[:, :, 3] == 255).all()


@pytest.mark.parametrize(("channels", "colour"), [(1, 0), (3, 2), (4, 6)])
def test_filters_are_undone_as_pillow_does(channels, colour):
    """Of noise, and of rows that hardly change, as those of flat artwork."""
    rng = np.random.default_rng(channels)
    for (height, width), still in product(SIZES, (0, 0.9, 0.99)):
        rows = rng.integers(0, 256, (height, width * channels + 1), dtype=np.uint8)
        rows[rng.random(rows.shape) < still] = 0
        rows[:, 0] = rng.integers(0, 5, height)
        data = rows.tobytes()
        step = int(rng.integers(1, len(data) + 1))
        header = PngHeader(width, height, 8, colour, False)
        made = unfilter_scanlines(header, [data[at : at + step] for at in range(0, len(data), step)])
        assert made.pixels is not None
        known = np.asarray(unfilter._decode_by_pillow(header, [data])).reshape(height, width, channels)
        assert np.array_equal(made.pixels[:, :, :channels], known)
        assert channels != 3 or (made.pixels[:, :, 3] == 255).all()


def test_a_filter_that_png_has_not_is_refused_in_any_row():
    header = PngHeader(3, 4, 8, 2, False)
    for row in range(4):
        rows = np.zeros((4, 10), np.uint8)
        rows[row, 0] = 5
        with pytest.raises(FilterError):
            unfilter_scanlines(header, [rows.tobytes()])


def list_bytes() -> Iterator[bytes]:
    """Noise, runs of every length up to some that take several codes, few bytes among many alike, bytes so unevenly
    frequent that their shortest codes would be too long (Fibonacci numbers of them), and more than a block holds."""
    rng = np.random.default_rng(11)
    for length in (*range(20), 257, 258, 259, 70_000, 200_000):
        yield rng.integers(0, 256, length, dtype=np.uint8).tobytes()
        yield bytes(length)
        few = rng.integers(0, 256, length, dtype=np.uint8)
        few[rng.random(length) < 0.98] = 7
        yield few.tobytes()
    yield b"".join(bytes([length % 251]) * length for length in range(800))
    often, before, uneven = 1, 1, b""
    for byte in range(20):
        uneven += bytes([byte]) * often
        often, before = often + before, often
    yield bytes(np.insert(rng.permutation(np.frombuffer(uneven, np.uint8)), range(len(uneven)), 255))  # no runs


def test_zlib_inflates_what_was_deflated_and_finds_it_hardly_longer_than_its_own():
    """By the standard library's zlib, whose checksum holds every byte, against its own strategy for runs (RFC 1950 and
    1951). A block takes 150 bytes more than the bytes it holds."""
    for content in list_bytes():
        cut = len(content) // 3
        for pieces in ((content,), (content[:cut], content[cut:]), (content, b"")):
            deflater = best_codec().make_deflater("runs")
            assert isinstance(deflater, RunDeflater)
            made = b"".join([*map(deflater.compress, pieces), deflater.flush()])
            inflater = zlib.decompressobj()
            assert inflater.decompress(made) == content
            assert inflater.eof
            assert not inflater.unused_data
            own = zlib.compressobj(9, strategy=zlib.Z_RLE)
            known = len(own.compress(content) + own.flush())
            assert len(made) <= 1.02 * known + 160 * (len(content) // 65_536 + 1) * len(pieces)


def test_no_shorter_codes_there_are():
    """Of bytes that never follow themselves, so that there are no runs: as many bits as by Huffman's own way (1952),
    with a heap, for as long as no code has more than 15."""
    rng = np.random.default_rng(12)
    for kinds in (2, 3, 10, 100):
        steps = np.minimum(rng.geometric(0.3, 3000), kinds)
        content = bytes((np.cumsum(steps) % (kinds + 1)).tolist())
        counts = [*Counter(content).values(), 1]
        heap, bits = sorted(counts), 0
        while len(heap) > 1:
            both = heapq.heappop(heap) + heapq.heappop(heap)
            heapq.heappush(heap, both)
            bits += both
        head = 3 + 14 + 19 * 3 + 288 * 4  # RFC 1951, section 3.2.7
        made = best_codec().make_deflater("runs").compress(content)
        assert len(made) == 2 + (head + bits) // 8


def test_more_rows_than_there_is_room_for_never_reach_the_loops():
    for pieces in ([26], [13, 13], [12, 14], [25, 1]):
        undone = RowUnfilter(LOOPS, 1, 3, 4)
        with pytest.raises(ValueError, match="more rows"):
            for length in pieces:
                undone.add_piece(bytes(length))
