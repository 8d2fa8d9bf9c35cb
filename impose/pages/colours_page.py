"""The page of colours: numbered patches around chosen ones, to press, look at and choose from.

All of it is mirrored, so that it reads once it is pressed; one line is not, and says so on the paper. Patches go the
way of artwork: they are pictures in the artwork's own profile, prepared as artwork is, so that they print as it does.
Their size is no measure: the printer's scale is not corrected.
"""

from __future__ import annotations

import io
from collections.abc import Iterator, Sequence
from pathlib import Path

from impose.art.cielab import parse_hex
from impose.art.colour_patches import ACROSS, BLOCKS, COLUMNS, ROWS, list_patches, locate_patch, make_grid
from impose.art.output_profile import OutputProfile
from impose.art.prepare import PreparationOptions, PreparedPicture, prepare_picture
from impose.art.recolour import ColourNumbers
from impose.pages.own_page import is_own_page
from impose.pages.pdf.canvas import PdfCanvas, PdfPages
from impose.pages.pdf.pdf_file import PdfFile
from impose.pages.pdf.picture_objects import (
    PictureObjects,
    compute_picture_matrix,
    locate_canvas,
    make_output_intent,
    map_stored,
)
from impose.pages.tickets.text_blocks import PITCH, draw_paragraph, measure_height
from impose.type.lettering import TextShaper
from impose.units import Box
from impose.values import FrozenStruct

TITLE, LABEL = "colours", "P-"

_PATCH_MM, _GAP_MM = 11.4, 3.0
_UNDER_MM = 4.2  # a number below its patch
_BLOCK_MM = 4.0  # more between blocks of hue
_HEAD_MM = 6.0  # the line above a colour's patches
_APART_MM = 3.0
_NUMBER_MM, _LINE_MM, _WORDS_MM = 2.8, 3.0, 2.6
_PER_MM = 5  # pixels
_FAINTEST = 0.004  # one level of 255

_STEP_X, _STEP_Y = _PATCH_MM + _GAP_MM, _PATCH_MM + _UNDER_MM
WIDE_MM = ACROSS * _STEP_X - _GAP_MM + (BLOCKS - 1) * _BLOCK_MM
HIGH_MM = _HEAD_MM + ROWS * _STEP_Y
"""What the patches around one colour take."""


class ChosenColour(FrozenStruct):
    """A colour, where it is from (in words), and the profile of the artwork it is of."""

    colour: str
    source: str = ""
    icc: bytes | None = None


class PatchPaper(FrozenStruct):
    """What is printed on: its size, the box that the printer reaches, millimetres, and its everyday name."""

    width: float
    height: float
    area: Box
    name: str


def is_colours_page(path: Path) -> bool:
    """Whether a file is a page of colours as we wrote it."""
    return is_own_page(path, TITLE, LABEL)


def count_on_page(paper: PatchPaper, lettering: TextShaper) -> int:
    """How many colours a page holds; 0 where it is too small for any."""
    if paper.area.w < WIDE_MM:
        return 0
    room = paper.area.h - _measure_head(paper, lettering) - _WORDS_MM * 2
    return int((room + _APART_MM) // (HIGH_MM + _APART_MM))


def write_colours_page(
    path: Path,
    colours: Sequence[ChosenColour],
    paper: PatchPaper,
    lettering: TextShaper,
    output: tuple[str, OutputProfile] | None = None,
) -> int:
    """Write the pages to `path`, as many as the colours take, and return how many; `output` as for sheets."""
    most = count_on_page(paper, lettering)
    with PdfFile() as document:
        pages, pictures = PdfPages(document, lettering), PictureObjects(document)
        runs = [colours[at : at + most] for at in range(0, len(colours), most)]
        for number, run in enumerate(runs, 1):
            canvas = pages.new_page(paper.width, paper.height)
            _draw_page(canvas, pictures, run, paper, None if output is None else output[1])
            _draw_foot(canvas, paper, f"page {number} of {len(runs)}")
            pages.add_page(canvas)
        intent = make_output_intent(pictures, output)
        pages.save_document(path, f"{TITLE} {' '.join(colour.colour for colour in colours)}", LABEL, intent)
    return len(runs)


_SAYS = (
    "Press this page on scrap as you press your transfers: same paper, cloth, time and heat. Look at it cool, in "
    "daylight, and choose. Then write the number behind its colour into the column recolour of the row, such as: "
)


def _measure_head(paper: PatchPaper, lettering: TextShaper) -> float:
    return measure_height(lettering, f"{_SAYS}#AABBCC > 17", paper.area.w, _WORDS_MM) + _APART_MM


def _draw_page(
    canvas: PdfCanvas,
    pictures: PictureObjects,
    colours: Sequence[ChosenColour],
    paper: PatchPaper,
    output: OutputProfile | None,
) -> None:
    """The colours of a page, one below the other, laid out as they read once they are pressed."""
    area = Box(paper.width - paper.area.right, paper.area.y, paper.area.w, paper.area.h)
    y = area.y
    with canvas.mirror_page():
        y = draw_paragraph(canvas, f"{_SAYS}{colours[0].colour} > 17", area.x, y, area.w, _WORDS_MM) + _APART_MM
    for chosen in colours:
        _draw_colour(canvas, pictures, chosen, (area.x, y), output)
        y += HIGH_MM + _APART_MM


def _draw_colour(
    canvas: PdfCanvas,
    pictures: PictureObjects,
    chosen: ChosenColour,
    at: tuple[float, float],
    output: OutputProfile | None,
) -> None:
    x, y = at[0], at[1] + _HEAD_MM
    picture = make_patch_picture(chosen, output)
    left, top, right, bottom = picture.ink
    box = Box(x + left / _PER_MM, y + top / _PER_MM, (right - left) / _PER_MM, (bottom - top) / _PER_MM)
    printed = Box(canvas.width - box.right, box.y, box.w, box.h)
    key = "patches", chosen.colour, chosen.icc
    name = canvas.pages.add_object(key, lambda: pictures.object_of(picture))
    # Where it holds more than the patches, that is white.
    whole = locate_canvas(picture, printed, 0)
    canvas.draw_object(name, compute_picture_matrix(whole, canvas.height, map_stored(picture, 0)))
    with canvas.mirror_page():
        source = f"   {chosen.source}" if chosen.source else ""
        canvas.draw_words(f"{chosen.colour}{source}   (framed: as it is)", x, y - _HEAD_MM + _LINE_MM, _LINE_MM)
        for number in list_patches(chosen.colour):
            patch = _place_patch(number).move_by(x, y)
            if number == make_grid(chosen.colour).middle:
                canvas.draw_box(patch.inset_by(*[-0.6] * 4), 0.3)
            base = patch.bottom + 0.75 * _NUMBER_MM + 0.7
            canvas.draw_words(str(number), patch.centre[0], base, _NUMBER_MM, align="centre")


def _place_patch(number: int) -> Box:
    """A patch's place from the top left of its colour's patches, as pressed."""
    row, block, column = locate_patch(number)
    x = (block * COLUMNS + column) * _STEP_X + block * _BLOCK_MM
    return Box(x, row * _STEP_Y, _PATCH_MM, _PATCH_MM)


def make_patch_picture(chosen: ChosenColour, output: OutputProfile | None) -> PreparedPicture:
    """All patches around a colour as a picture in the artwork's own numbers and profile, prepared as artwork is."""
    from PIL import Image

    numbers = ColourNumbers(chosen.icc)
    image = Image.new("RGB", (round(WIDE_MM * _PER_MM), round(ROWS * _STEP_Y * _PER_MM)), "white")
    for number, colour in list_patches(chosen.colour).items():
        box = _place_patch(number)
        left, top, right, bottom = (round(edge * _PER_MM) for edge in (box.x, box.y, box.right, box.bottom))
        image.paste(numbers.from_srgb(parse_hex(colour)), (left, top, right, bottom))
    file = io.BytesIO()
    image.save(file, "PNG", **({} if chosen.icc is None else {"icc_profile": chosen.icc}))
    recipe = PreparationOptions(tint=_FAINTEST, keep_specks=True, output=output)
    return prepare_picture(file.getvalue(), recipe, chosen.colour)


def _draw_foot(canvas: PdfCanvas, paper: PatchPaper, page: str) -> None:
    """The only line that is not mirrored."""
    words = (
        f"{paper.name}, {page}: print on the coated side, driver mirroring off. This line reads; all else is backwards."
    )
    lettering = canvas.pages.lettering
    line = lettering.fit_line(words, paper.area.w / (_WORDS_MM * 0.9))
    canvas.draw_words(line, paper.area.x, paper.area.bottom - _WORDS_MM * (PITCH - 0.9), _WORDS_MM * 0.9)


def list_patch_numbers(colours: Sequence[ChosenColour]) -> Iterator[tuple[ChosenColour, dict[int, str]]]:
    """Each colour with what its numbers stand for."""
    for chosen in colours:
        yield chosen, list_patches(chosen.colour)
