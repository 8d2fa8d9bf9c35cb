"""What a file became: the bytes of a PNG, and what is worth knowing about how."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from impose.art.decode import DecodedFrame, decode_png
from impose.art.png import read_png
from impose.errors import Finding, Severity, Trouble
from impose.values import FrozenStruct

if TYPE_CHECKING:
    import numpy as np
    from PIL import Image

    Array = np.ndarray[Any, np.dtype[Any]]


class Converted(FrozenStruct):
    """A PNG made of a file, and what was found on the way.

    Where an `image` is given (mode L, LA, RGB, RGBX or RGBA), the pixels are there, and `png` is a PNG without any: to
    write and read them once more would take longer than to decode a JPEG. `pixels` is the image's memory, where numpy
    sees it. `jpeg` is the file itself without its notes, where every reader of PDFs decodes it as we do.
    """

    png: bytes
    findings: tuple[Finding, ...] = ()
    image: Image.Image | None = None
    jpeg: bytes | None = None
    pixels: Array | None = None

    def make_frame(self) -> DecodedFrame:
        """The decoded picture, before it is turned."""
        png = read_png(self.png)
        return (
            decode_png(png) if self.image is None else DecodedFrame(self.image, None, png.header.grey, 0, self.pixels)
        )


def make_refusal(what: str, remedy: str, name: str, kind: str = "damaged", why: str = "") -> Trouble:
    """The one `Trouble` that stops this file."""
    return Trouble(Finding(what, remedy, kind=kind, why=why, file=name))


def make_note(what: str, name: str, kind: str, remedy: str = "", severity: Severity = Severity.NOTE) -> Finding:
    """Something worth knowing about a file that is taken."""
    return Finding(what, remedy, severity, kind, file=name)


def make_size_refusal(width: int, height: int, limit: int, name: str) -> Trouble:
    """The refusal of a picture of more pixels than the limit, known from its header."""
    return make_refusal(
        f"the picture has {width:,} × {height:,} pixels; the limit is {limit:,} in all",
        "Make it smaller (300 pixels an inch at the printed size are plenty) or raise the pixel limit.",
        name,
        "too-large",
    )
