"""Pictures in a PDF: image objects made by hand from bytes that are deflated already.

The library's own way of inserting a picture keeps it uncompressed until saving, changes the colours of soft edges and
tags untagged artwork. An image object is a dictionary and a stream; the stream is what `impose.art.prepare` made
(PNG predictor, so that photographs halve), stored as it is and once however often it is drawn. A JPEG and the rows of
an opaque PNG in their own colours stay what they were: turned upright and mirrored by the matrix that draws them, and
clipped where less than all of the canvas prints.
"""

from __future__ import annotations

from impose.art.icc import is_printers, uses_tables
from impose.art.orientation import MIRRORED, TURNED_CLOCKWISE, UPRIGHT, LinearMap, chain_maps, find_map
from impose.art.output_profile import OutputProfile
from impose.art.prepare import PreparedPicture
from impose.art.vector_drawing import Drawing
from impose.pages.pdf.outline_objects import write_form_content, write_form_keys
from impose.pages.pdf.pdf_file import PdfFile, encode_text
from impose.units import POINTS_PER_MM, Box

# An edge that falls on a whole pixel in theory lands a hair outside it in floating point, and two of three renderers
# then resample the whole picture. Drawn this much smaller on every side, all of them are exact to the pixel.
INSET_PT = 0.0001

# The space that stands in for a profile; in DeviceCMYK as in our pixels 0 is no ink (ISO 32000-1, 8.6.4.4).
_DEVICES = {1: "/DeviceGray", 3: "/DeviceRGB", 4: "/DeviceCMYK"}

# What no ink is, as a range to leave unpainted (ISO 32000-1, 8.9.6.4). A reader's arithmetic through a profile's tables
# can miss white by a level (poppler makes 254 253 253 of it), and that prints a pale box on the cloth.
_BLANK = {1: "[255 255]", 3: "[255 255 255 255 255 255]", 4: "[0 0 0 0 0 0 0 0]"}


class PictureObjects:
    """The image objects of one document: each picture once, each colour profile once."""

    def __init__(self, document: PdfFile) -> None:
        self._document = document
        self._pictures: dict[tuple[object, ...], int] = {}
        self._profiles: dict[bytes, int] = {}

    def object_of(self, picture: PreparedPicture) -> int:
        """The object of a picture, made at its first use."""
        key = _picture_identity(picture)
        if key not in self._pictures:
            self._pictures[key] = (
                self._make_form(picture) if isinstance(picture, Drawing) else self._add_picture(picture)
            )
        return self._pictures[key]

    def _make_form(self, drawing: Drawing) -> int:
        space = None if drawing.icc is None else self._colour_space(drawing)
        return self._document.add_stream(write_form_keys(drawing, space), write_form_content(drawing))

    def _add_picture(self, picture: PreparedPicture) -> int:
        width, height = measure_stored(picture)
        if picture.kept == "jpeg":
            keys = f"/Type/XObject/Subtype/Image/Width {width}/Height {height}/BitsPerComponent 8"
            keys += f"/ColorSpace {self._colour_space(picture)}"
            return self._document.add_deflated_stream(keys, bytes(picture.data), "DCTDecode")
        parameters = f"/Predictor 15/Colors {picture.components}/BitsPerComponent 8/Columns {width}"
        keys = (
            f"/Type/XObject/Subtype/Image/Width {width}/Height {height}/BitsPerComponent 8"
            f"/ColorSpace {self._colour_space(picture)}/DecodeParms<<{parameters}>>"
        )
        if picture.icc is not None and uses_tables(picture.icc):
            keys += f"/Mask {_BLANK[picture.components]}"
        return self._document.add_deflated_stream(keys, bytes(picture.data))

    def _colour_space(self, picture: PreparedPicture) -> str:
        """The profile of the picture's pixels byte for byte, or the plain device space: untagged art stays untagged."""
        if picture.icc is None:
            return _DEVICES[picture.components]
        return f"[/ICCBased {self.make_profile(picture.icc, picture.components)} 0 R]"

    def make_profile(self, icc: bytes, components: int) -> int:
        """The object of a colour profile, made at its first use."""
        if icc not in self._profiles:
            keys = f"/N {components}/Alternate {_DEVICES[components]}"
            self._profiles[icc] = self._document.add_stream(keys, icc)
        return self._profiles[icc]


def make_output_intent(pictures: PictureObjects, output: tuple[str, OutputProfile] | None) -> str:
    """The printer's profile as the document's output intent (ISO 32000-2, 14.11.5), so that others can prove it.

    The subtype is that of ISO 15930, since the condition is a printer's; no conformance to PDF/X is claimed. There
    it has to be a profile of class prtr: a screen's, such as sRGB, is none, and the document names none then.
    """
    if output is None or not is_printers(output[1].icc):
        return ""
    name, printed = output
    profile = pictures.make_profile(printed.icc, printed.components)
    named = f"/OutputConditionIdentifier{encode_text('Custom')}/Info{encode_text(name)}"
    return f"/OutputIntents[<</Type/OutputIntent/S/GTS_PDFX{named}/DestOutputProfile {profile} 0 R>>]"


def _picture_identity(picture: PreparedPicture) -> tuple[object, ...]:
    """What makes two pictures the same object: content and everything done to it."""
    return type(picture), *picture.look, picture.components, picture.icc, picture.codec, len(picture.data)


def measure_stored(picture: PreparedPicture) -> tuple[int, int]:
    """Width and height of the image object: of the ink bounds, or of a whole canvas as it is stored."""
    left, top, right, bottom = picture.ink
    if not picture.kept:
        return right - left, bottom - top
    return (picture.height, picture.width) if picture.stored > 4 else (picture.width, picture.height)


def locate_canvas(picture: PreparedPicture, ink: Box, turned: int) -> Box:
    """Where all that the image object holds would lie, so that the ink bounds fill `ink`, mirrored and turned."""
    if not is_clipped(picture):
        return ink
    left, top, right, bottom = picture.ink
    # Mirrored, what was right of the ink is left of it; turned clockwise, what was below is left.
    before = (picture.height - bottom, picture.width - right) if turned else (picture.width - right, top)
    canvas = (picture.height, picture.width) if turned else (picture.width, picture.height)
    wide, high = (bottom - top, right - left) if turned else (right - left, bottom - top)
    across, down = ink.w / wide, ink.h / high
    return Box(ink.x - before[0] * across, ink.y - before[1] * down, canvas[0] * across, canvas[1] * down)


def is_clipped(picture: PreparedPicture) -> bool:
    """Whether the image object holds more than the ink bounds, so that it has to be drawn under a clip of them."""
    return bool(picture.kept) and picture.ink != (0, 0, picture.width, picture.height)


def measure_clip(ink: Box, page_height_mm: float) -> tuple[float, float, float, float]:
    """The rectangle of a clip, in points: left, bottom, width, height."""
    return (
        ink.x * POINTS_PER_MM + INSET_PT,
        (page_height_mm - ink.bottom) * POINTS_PER_MM + INSET_PT,
        ink.w * POINTS_PER_MM - 2 * INSET_PT,
        ink.h * POINTS_PER_MM - 2 * INSET_PT,
    )


def map_stored(picture: PreparedPicture, turned: int) -> LinearMap:
    """What the page does to a picture's rows as they are stored; `turned` is by 0 or 90 degrees clockwise."""
    stored = chain_maps(find_map(picture.stored), MIRRORED) if picture.kept else UPRIGHT
    return chain_maps(stored, TURNED_CLOCKWISE) if turned else stored


def compute_picture_matrix(
    box: Box, page_height_mm: float, stored: LinearMap
) -> tuple[float, float, float, float, float, float]:
    """The PDF matrix that draws a picture in `box` (millimetres, origin top left) by the map of its rows.

    In points, y up, as ISO 32000-1, 8.3.3 writes it: x' = a x + c y + e, y' = b x + d y + f.
    """
    left = box.x * POINTS_PER_MM + INSET_PT
    bottom = (page_height_mm - box.bottom) * POINTS_PER_MM + INSET_PT
    width = box.w * POINTS_PER_MM - 2 * INSET_PT
    height = box.h * POINTS_PER_MM - 2 * INSET_PT
    a, b, c, d = stored
    b, c = -b, -c  # y up
    left += width * ((a < 0) + (c < 0))
    bottom += height * ((b < 0) + (d < 0))
    return a * width, b * height, c * width, d * height, left, bottom
