"""One picture, once: from the bytes of a PNG to deflated rows ready for the page, its ink bounds and its facts.

Nothing decoded outlives the call. The frame is walked in bands of 128 rows, so the memory is that of the decoded
frame (at most four bytes a pixel) and the compressed result.
"""

from __future__ import annotations

import hashlib
from typing import TYPE_CHECKING, Any, Literal, Protocol

from impose.art.codec import best_codec
from impose.art.colour import ColourDescription, read_colours
from impose.art.decode import DecodedFrame, decode_png, turn_frame
from impose.art.faults.inspect import InspectionOptions, PictureFacts, inspect_picture, name_findings
from impose.art.gamut import find_out_of_gamut
from impose.art.icc import uses_tables
from impose.art.ink import PixelBox
from impose.art.orientation import TURNS
from impose.art.output_profile import ColourConversion, OutputProfile, make_conversion
from impose.art.png import AGAIN, PIXEL_LIMIT, PngFile, read_png
from impose.art.recolour import recolour_frame
from impose.art.scanlines import deflate_ink, deflate_quickly, is_well_packed, measure_rows
from impose.art.small_pictures import (
    MODES,
    OPAQUE_MODES,
    WORN_PX,
    RowReducer,
    SmallCopies,
    SquareAverages,
    choose_worn_side,
    make_copies,
)
from impose.errors import Finding, Severity, Trouble
from impose.file_types import ColourChange
from impose.remedies import Remedy
from impose.values import FrozenStruct, field, replace

if TYPE_CHECKING:
    import numpy as np
    from PIL import Image

    Array = np.ndarray[Any, np.dtype[Any]]

Orientation = Literal["ask", "apply", "ignore"]


class PreparationOptions(FrozenStruct):
    """Everything besides the file itself that changes the prepared picture.

    `tint` is the least share of full colour that counts as ink; `orientation` what to do about a turned camera
    picture; `keep_specks` takes lonely specks for ink; `pixel_limit` refuses larger pictures from their header;
    `output` is the printer's profile to turn colours into, None to leave them as they are. `clean_haze` takes away
    faint alpha and off-white grounds, `drop_specks` all lonely specks, inside the picture too, `ground` makes a light
    ground white. Of a drawing `page` is the one to print and `drawn_mm` the size of its ink in print, either of them
    None where the other decides. Without `rows` the picture is only examined, and has no `data`. `recolour` are flat
    colours and what takes their place.
    """

    tint: float = 0.02
    orientation: Orientation = "ask"
    keep_specks: bool = False
    pixel_limit: int = PIXEL_LIMIT
    output: OutputProfile | None = None
    clean_haze: bool = False
    drop_specks: bool = False
    rows: bool = True
    ground: bool = False
    page: int | None = None
    drawn_mm: tuple[float | None, float | None] | None = None
    recolour: tuple[ColourChange, ...] = ()

    def __post_init__(self) -> None:
        if not 0 <= self.tint <= 1:
            raise ValueError(f"tint is a share from 0 to 1, not {self.tint}")


class DeflatedRows(Protocol):
    """DeflatedRows rows, held or kept elsewhere: `bytes()` of them is what they are, `len()` is known without."""

    def __bytes__(self) -> bytes: ...

    def __len__(self) -> int: ...


class PreparedPicture(FrozenStruct):
    """A picture ready for the page.

    `width`, `height`, `ink` (left, top, right, bottom, half open) and `mass` (x, y of the ink's centre of mass, where
    a pixel's weight is how much darker than white it prints) are pixels of the canvas as supplied, or as turned by an
    applied orientation; not mirrored. `data` are the rows of the ink bounds alone, over white, mirrored left to right,
    8 bits, `components` (1 grey, 3 RGB, 4 CMYK) a pixel, each row with the PNG filter Up, in one zlib stream: in a PDF,
    FlateDecode with Predictor 15. `icc` is the profile of those pixels: the embedded one byte for byte, one that
    says exactly what the file says, or the recipe's output profile; None for untagged. `colour` is where the file's
    colours are described ("icc", "srgb", "gamma", "cicp", "untagged"). `coverage` is how dark the ink bounds are on
    average over the three colours, 0 for white and 1 for solid black, to within 0.2 %: what ink is counted by.
    `facts` are those that only the size in print can judge; `small` shows the ink bounds on a screen. With `kept`,
    `data` are what the file itself held of the whole canvas instead, not mirrored and stored by the Exif orientation
    `stored`: a JPEG file ("jpeg"), in a PDF DCTDecode, or the rows of a PNG ("png"), each under a filter of its own, in
    a PDF as above; either under a clip of the ink bounds. `recolour` are the flat colours that were exchanged in it.
    """

    sha256: str
    width: int
    height: int
    ink: PixelBox
    mass: tuple[float, float]
    components: int
    icc: bytes | None
    data: DeflatedRows
    codec: str
    colour: str = "untagged"
    findings: tuple[Finding, ...] = ()
    coverage: float = 0.0
    facts: PictureFacts = field(default_factory=PictureFacts)
    small: SmallCopies | None = None
    kept: Literal["", "jpeg", "png"] = ""
    stored: int = 1
    recolour: tuple[ColourChange, ...] = ()

    @property
    def look(self) -> tuple[object, ...]:
        """What tells it from every picture that shows something else: its artwork, its part, colours exchanged."""
        return self.sha256, self.ink, *self.recolour


def prepare_picture(
    content: bytes,
    recipe: PreparationOptions | None = None,
    name: str = "",
    sha256: str | None = None,
    image: Image.Image | None = None,
    jpeg: bytes | None = None,
    pixels: Array | None = None,
) -> PreparedPicture:
    """Read a PNG whole and prepare it for printing by `recipe` (the default one if None).

    `name` is the file as it is called in findings, `sha256` the content's hash where it is known. With an `image`, of
    mode L, LA, RGB, RGBX or RGBA, its pixels are decoded already, `pixels` is its memory where numpy sees it, and
    `content` is a PNG without any. `jpeg` are the same pixels as a plain JPEG, which goes onto the page as it is where
    no colour was changed. Raises `Trouble` if the file is not a PNG, is damaged anywhere, is larger than the recipe's
    limit, is turned by an Exif orientation nobody decided about, or holds no ink.
    """
    recipe = recipe or PreparationOptions()
    png = read_png(content, name, recipe.pixel_limit)
    findings = list(png.findings)
    turn = _choose_orientation(png, recipe, name, findings)
    colours = read_colours(png, name)
    findings += colours.findings
    decoded = decode_png(png, name) if image is None else DecodedFrame(image, None, png.header.grey, 0, pixels)
    turned = turn_frame(decoded, turn)
    frame, icc = turned, colours.icc
    if recipe.recolour:
        frame, icc, said = recolour_frame(frame, colours, recipe.recolour, name)
        findings += said
    if decoded.surplus:
        what = f"{decoded.surplus:,} bytes after the end of the picture's data were ignored"
        findings.append(Finding(what, AGAIN, Severity.WARN, "trailing-data", file=name))
    side = choose_worn_side(*frame.size) if recipe.rows and image is not None else 0
    looked = inspect_picture(
        frame,
        png,
        InspectionOptions(recipe.tint, recipe.keep_specks, recipe.clean_haze, recipe.drop_specks, recipe.ground, side),
    )
    frame, ink = looked.frame, looked.ink
    findings += name_findings(looked.findings, name)
    if ink is None:
        raise Trouble(_make_blank_finding(recipe, name))
    output, conversion = recipe.output, None
    if output is not None:
        conversion = make_conversion(icc, frame.grey, output, name)
        findings += _report_conversion(conversion, frame, ink.bounds, recipe, colours, name)
    middle = ((ink.bounds[0] + ink.bounds[2]) / 2, (ink.bounds[1] + ink.bounds[3]) / 2)
    data, mass, coverage = b"", middle, 0.0
    components = output.components if output else 1 if frame.grey else 3
    left, top, right, bottom = ink.bounds
    small: RowReducer | SquareAverages | None = None
    own = None
    if recipe.rows and frame is turned and _keeps_colours(icc, conversion):
        own = _find_own_rows(png, frame, ink.bounds) if image is None else jpeg
    if recipe.rows and image is not None and conversion is None and frame.mode in OPAQUE_MODES:
        small = SquareAverages(frame, ink.bounds, looked.averages)
        data = deflate_quickly(frame, ink.bounds) if own is None else own
        mass, coverage = small.measure_ink()
    elif recipe.rows:
        small = RowReducer(right - left, bottom - top, MODES[components], WORN_PX)
        if own is None:
            data, mass, coverage = deflate_ink(frame, ink.bounds, conversion, small)
        else:
            data, (mass, coverage) = own, measure_rows(frame, ink.bounds, small)
    picture = PreparedPicture(
        sha256=sha256 or hashlib.sha256(content).hexdigest(),
        width=frame.size[0],
        height=frame.size[1],
        ink=ink.bounds,
        mass=mass,
        components=components,
        icc=output.icc if output else icc,
        data=data,
        codec=best_codec().name,
        colour=colours.source,
        findings=tuple(findings),
        coverage=coverage,
        facts=looked.facts,
        kept="" if own is None else "png" if image is None else "jpeg",
        stored=1 if own is None else turn,
        recolour=recipe.recolour,
    )
    return picture if small is None else replace(picture, small=make_copies(small.make_image(), picture))


def _choose_orientation(png: PngFile, recipe: PreparationOptions, name: str, findings: list[Finding]) -> int:
    """The orientation to apply (1 for none); stops where nobody has decided."""
    value = png.orientation
    if value == 1:
        return 1
    said = f"an Exif note (orientation {value}) says that the artwork is stored {TURNS[value][1]}"
    if recipe.orientation == "ask":
        why = "Programs disagree on whether to follow such a note, so it may look different from what you saw."
        remedy = Remedy("decide-orientation")
        raise Trouble(Finding(said, remedy, kind="orientation", why=why, file=name))
    if recipe.orientation == "apply":
        findings.append(Finding(f"{said}; it was turned", "", Severity.NOTE, "orientation", file=name))
        return value
    findings.append(Finding(f"{said}; that was ignored", "", Severity.NOTE, "orientation", file=name))
    return 1


def _find_own_rows(png: PngFile, frame: DecodedFrame, bounds: PixelBox) -> bytes | None:
    """The deflated rows of a PNG if a PDF can show them as they are: opaque, of 8 bits a channel, and nothing after.

    None also where they are so loosely packed that those of the ink bounds would be much less.
    """
    header = png.header
    if header.depth != 8 or header.alpha or header.palette or header.interlaced or png.transparency is not None:
        return None
    own = b"".join(png.list_idat())
    return None if frame.surplus or not is_well_packed(frame, bounds, len(own)) else own


def _keeps_colours(icc: bytes | None, conversion: ColourConversion | None) -> bool:
    """Whether a picture prints in its own colours, none of them through a profile's tables.

    Readers may make a tint of white by tables, so that such pictures need a mask, and a JPEG's white is not exact.
    """
    return conversion is None and not (icc is not None and uses_tables(icc))


def _report_conversion(
    conversion: ColourConversion,
    frame: DecodedFrame,
    bounds: PixelBox,
    recipe: PreparationOptions,
    colours: ColourDescription,
    name: str,
) -> list[Finding]:
    """What is worth knowing of a conversion: what its colours were taken for, and what the printer cannot make."""
    found = []
    if colours.icc is None:
        what = "the artwork does not say what its colours mean; they were taken for sRGB to convert them"
        found.append(Finding(what, "", Severity.NOTE, "assumed-srgb", file=name))
    lost = find_out_of_gamut(frame, bounds, recipe.tint, conversion, name)
    return found if lost is None else [*found, lost]


def _make_blank_finding(recipe: PreparationOptions, name: str) -> Finding:
    return Finding(
        f"there is nothing to print: no pixel has a tint of {recipe.tint:.3g} or more over white",
        "Give what should show a colour.",
        kind="blank",
        why="Sublimation has no white: white and transparent both leave the cloth as it is.",
        file=name,
    )
