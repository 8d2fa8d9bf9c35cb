"""A part of a prepared picture as a picture of its own, made from what is kept of it."""

from __future__ import annotations

import io
from collections.abc import Iterator
from typing import TYPE_CHECKING, Any

from impose.art.codec import best_codec
from impose.art.decode import split_into_bands
from impose.art.ink import PixelBox
from impose.art.orientation import turn_upright
from impose.art.png import PngHeader
from impose.art.png_writer import wrap_rows
from impose.art.prepare import PreparedPicture
from impose.art.vector_drawing import Drawing
from impose.values import replace

if TYPE_CHECKING:
    import numpy as np
    from PIL import Image

    Array = np.ndarray[Any, np.dtype[np.uint8]]

_BAND_BYTES = 4 << 20


def crop_picture(picture: PreparedPicture, box: PixelBox) -> PreparedPicture:
    """The picture of `box`, pixels of the canvas within the ink bounds; what is known of the whole is kept.

    Its rows hold the very pixels that the whole has there.
    """
    left, _, right, _ = picture.ink
    if not (left <= box[0] < box[2] <= right and picture.ink[1] <= box[1] < box[3] <= picture.ink[3]):
        raise ValueError(f"{box} is not within the ink bounds {picture.ink}")
    if isinstance(picture, Drawing):
        return replace(picture, ink=box)
    # Mirrored: the first pixel of a row is the rightmost of the canvas.
    first, last = (right - box[2]) * picture.components, (right - box[0]) * picture.components
    deflater = best_codec().make_deflater("repeats")
    parts = [deflater.compress(rows) for rows in _filter_scanlines(picture, box[1], box[3], first, last)]
    parts.append(deflater.flush())
    return replace(picture, ink=box, data=b"".join(parts), codec=best_codec().name, small=None, kept="", stored=1)


def _filter_scanlines(picture: PreparedPicture, top: int, bottom: int, first: int, last: int) -> Iterator[memoryview]:
    """The wanted columns of the wanted rows, filtered with Up anew (PNG, section 9.2)."""
    import numpy as np

    above = np.zeros(last - first, np.uint8)
    y = picture.ink[1]
    for band in read_picture_rows(picture):
        wanted = band[max(0, top - y) : max(0, bottom - y), first:last]
        y += band.shape[0]
        if not wanted.shape[0]:
            continue
        out = np.empty((wanted.shape[0], last - first + 1), np.uint8)
        out[:, 0] = 2
        np.subtract(wanted[1:], wanted[:-1], out=out[1:, 1:])
        np.subtract(wanted[0], above, out=out[0, 1:])
        above = wanted[-1].copy()
        yield out.data.cast("B")


def read_picture_rows(picture: PreparedPicture) -> Iterator[Array]:
    """The unfiltered rows of the whole, mirrored, in bands."""
    yield from _decode_canvas(picture) if picture.kept else _unfilter_scanlines(picture)


def _decode_canvas(picture: PreparedPicture) -> Iterator[Array]:
    import numpy as np
    from PIL.Image import Transpose

    image = turn_upright(_open_canvas(picture), picture.stored)
    left, first, right, last = picture.ink
    for top, bottom in split_into_bands(right - left, last - first, first):
        band = image.crop((left, top, right, bottom)).transpose(Transpose.FLIP_LEFT_RIGHT)
        yield np.frombuffer(band.tobytes(), np.uint8).reshape(band.height, -1)


def _open_canvas(picture: PreparedPicture) -> Image.Image:
    """The canvas as it is stored; not by `Image.open`, whose process-wide pixel limit is not ours."""
    if picture.kept == "jpeg":
        from PIL.JpegImagePlugin import JpegImageFile

        return JpegImageFile(io.BytesIO(bytes(picture.data)))
    from PIL.PngImagePlugin import PngImageFile

    size = (picture.width, picture.height)
    width, height = size[::-1] if picture.stored > 4 else size
    header = PngHeader(width, height, 8, 0 if picture.components == 1 else 2, False)
    return PngImageFile(io.BytesIO(wrap_rows(header, bytes(picture.data))))


def _unfilter_scanlines(picture: PreparedPicture) -> Iterator[Array]:
    import numpy as np

    row = (picture.ink[2] - picture.ink[0]) * picture.components + 1
    inflater, above = best_codec().make_inflater(), np.zeros(row - 1, np.uint8)
    size, held = max(1, _BAND_BYTES // row) * row, bytearray()
    tail: bytes | memoryview = bytes(picture.data)
    while not inflater.eof:
        piece = inflater.decompress(tail, size - len(held))
        tail = inflater.unconsumed_tail
        held += piece
        if not piece and not tail:
            break
        if len(held) == size or inflater.eof:
            rows = np.frombuffer(bytes(held), np.uint8).reshape(-1, row)[:, 1:].copy()
            held.clear()
            rows[0] += above  # modulo 256, as the filter means it
            np.add.accumulate(rows, axis=0, dtype=np.uint8, out=rows)
            above = rows[-1]
            yield rows
