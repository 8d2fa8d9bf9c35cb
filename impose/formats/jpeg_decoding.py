"""A JPEG decoded by Pillow into memory of our own, so that numpy sees the pixels without copying them once more."""

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
