"""Bands of a picture over white, the quick way: where the pixels lie in memory as numbers, most need no arithmetic.

Artwork is mostly all there or not there at all. A pixel that is opaque is its own colour and one that is clear is
white; only the few in between, at smoothed edges, are mixed. The result is that of `over_white` to the level.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from impose.art.decode import DecodedFrame
from impose.art.ink import PixelBox, composite_over_white

if TYPE_CHECKING:
    import numpy as np
    from PIL import Image

    Array = np.ndarray[Any, np.dtype[Any]]

_OPAQUE = 0xFF000000
_MOST_MIXED = 0.05  # beyond, as in a glow, Pillow's own loop over all pixels is quicker


def flatten_quickly(frame: DecodedFrame, box: PixelBox) -> Image.Image:
    """The pixels of `box` over white: as `over_white`, but maybe in mode RGBX where that says RGB."""
    if frame.pixels is None or frame.pixels.shape[2] != 4:
        return composite_over_white(frame, box)
    import numpy as np
    from PIL import Image

    left, top, right, bottom = box
    # Four channels as one number, alpha its highest byte.
    words = frame.pixels[top:bottom, left:right].view("<u4")[:, :, 0]
    flat = np.ascontiguousarray(words) if frame.image.mode == "RGBX" else _blend_words(words)
    if flat is None:
        return composite_over_white(frame, box)
    return Image.frombuffer("RGBX", (right - left, bottom - top), flat, "raw", "RGBX", 0, 1)


def _blend_words(words: Array) -> Array | None:
    """Pixels over white, None if too many of them are neither opaque nor clear."""
    import numpy as np

    # Less one, a clear pixel's alpha goes round to the highest, and an opaque one's is next to it.
    between = words - np.uint32(1 << 24) < np.uint32(0xFE << 24)
    if np.count_nonzero(between) > _MOST_MIXED * between.size:
        return None
    # All bits of what is not opaque are set, and that is white.
    flat: Array = np.negative((words < np.uint32(_OPAQUE)).astype(np.uint32))
    flat |= words
    at = np.flatnonzero(between)
    if len(at):
        pixels = words[np.divmod(at, words.shape[1])].astype("<u4").view(np.uint8).reshape(-1, 4).astype(np.uint32)
        alpha = pixels[:, 3:]
        # 255 - alpha (255 - colour) / 255, to the nearest.
        pixels[:, :3] = 255 - (alpha * (255 - pixels[:, :3]) + 127) // 255
        flat.ravel()[at] = pixels.astype(np.uint8).view("<u4")[:, 0]
    return flat
