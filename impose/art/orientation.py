"""The eight ways in which a picture can be stored, and how each is undone: Exif 2.32, 4.6.4 A, tag Orientation.

A linear map is (a, b, c, d) on the unit square, origin top left, y down: x' = a x + c y, y' = b x + d y, each less than
nothing moved back by one (ISO 32000-1, 8.3.3, writes matrices so, with y up).
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    import numpy as np
    from PIL import Image

    Array = np.ndarray[Any, np.dtype[Any]]

LinearMap = tuple[int, int, int, int]

# The name of Pillow's operation, what a file so stored looks like, and what undoes it.
TURNS: dict[int, tuple[str, str, LinearMap]] = {
    2: ("FLIP_LEFT_RIGHT", "mirrored", (-1, 0, 0, 1)),
    3: ("ROTATE_180", "upside down", (-1, 0, 0, -1)),
    4: ("FLIP_TOP_BOTTOM", "mirrored and upside down", (1, 0, 0, -1)),
    5: ("TRANSPOSE", "mirrored and on its side", (0, 1, 1, 0)),
    6: ("ROTATE_270", "on its side", (0, 1, -1, 0)),
    7: ("TRANSVERSE", "mirrored and on its side", (0, -1, -1, 0)),
    8: ("ROTATE_90", "on its side", (0, -1, 1, 0)),
}

UPRIGHT: LinearMap = (1, 0, 0, 1)
MIRRORED: LinearMap = (-1, 0, 0, 1)
TURNED_CLOCKWISE: LinearMap = (0, 1, -1, 0)


def turn_upright(image: Image.Image, orientation: int) -> Image.Image:
    """The picture as it is meant, stored by an Exif orientation."""
    if orientation == 1:
        return image
    from PIL.Image import Transpose

    return image.transpose(Transpose[TURNS[orientation][0]])


def turn_pixels(pixels: Array, orientation: int) -> Array:
    """The same for an array of rows, columns and 1 or 4 channels of 8 bits."""
    import numpy as np

    a, b, c, d = find_map(orientation)
    # Four channels as one number, which is moved at once.
    words = pixels[:, :, 0] if pixels.shape[2] == 1 else pixels.view("<u4")[:, :, 0]
    turned = words if a else words.T
    turned = turned[:: -1 if b + d < 0 else 1, :: -1 if a + c < 0 else 1]
    return np.ascontiguousarray(turned)[:, :, None].view(np.uint8)


def turn_view(pixels: Array, orientation: int) -> Array:
    """The same as a view: rows, columns and any channels of the memory as it is."""
    a, b, c, d = find_map(orientation)
    turned = pixels if a else pixels.swapaxes(0, 1)
    return turned[:: -1 if b + d < 0 else 1, :: -1 if a + c < 0 else 1]


def find_map(orientation: int) -> LinearMap:
    """The map that undoes an Exif orientation."""
    return UPRIGHT if orientation == 1 else TURNS[orientation][2]


def chain_maps(first: LinearMap, then: LinearMap) -> LinearMap:
    """One map after the other."""
    a, b, c, d = first
    e, f, g, h = then
    return a * e + b * g, a * f + b * h, c * e + d * g, c * f + d * h
