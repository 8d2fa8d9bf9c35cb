"""JPEG and WebP decoded by Pillow into memory that numpy sees, so that no pixel is copied once more."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    import numpy as np
    from PIL import Image

    Array = np.ndarray[Any, np.dtype[Any]]

IN_PLACE = {"L": "L", "RGB": "RGBX"}
"""Modes of a JPEG, and those in which an image may lie in memory that is ours."""


def decode_in_place(content: bytes, mode: str, size: tuple[int, int]) -> tuple[Image.Image, Array]:
    """The picture, and its pixels as an array of rows, columns and channels; raises ValueError for damaged data.

    The decoder is the one that opening the file would use, and so are the pixels.
    """
    import numpy as np
    from PIL import Image

    width, height = size
    held = IN_PLACE[mode]
    memory = np.empty((height, width, len(held)), np.uint8)
    image = Image.frombuffer(held, size, memory, "raw", held, 0, 1)
    image.frombytes(content, "jpeg", mode, "")
    return image, memory


def take_frame(image: Any) -> tuple[Image.Image, Array] | None:
    """The first frame of a WebP that was opened and not loaded, in the memory that its decoder made; None if it cannot.

    The decoder is reached by a name that Pillow does not promise; the frame comes as four bytes a pixel.
    """
    import numpy as np
    from PIL import Image

    held = {"RGB": "RGBX", "RGBA": "RGBA"}.get(image.mode)
    decoder = getattr(image, "_decoder", None)
    if held is None or decoder is None:
        return None
    frame = decoder.get_next()
    if frame is None:
        raise OSError("its picture cannot be decoded")
    width, height = image.size
    if len(frame[0]) != width * height * 4:
        decoder.reset()
        return None
    memory = np.frombuffer(frame[0], np.uint8).reshape(height, width, 4)
    return Image.frombuffer(held, image.size, memory, "raw", held, 0, 1), memory
