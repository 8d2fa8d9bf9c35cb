"""The written file read again: pages, boxes and every picture's place compared with the layout.

What is delivered is what was read back, not what was meant to be written. A difference is never repaired, only
refused: the garment and the paper are dearer than the run.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from impose.art.vector_drawing import Drawing
from impose.errors import Exit, Finding, Trouble
from impose.pages.pdf.outline_readback import TOLERANCE_PT, PathsRead, find_drawing_faults
from impose.pages.pdf.picture_objects import (
    INSET_PT,
    is_clipped,
    locate_canvas,
    map_stored,
    measure_clip,
    measure_stored,
)
from impose.profiles.profiles import Printer
from impose.sheet.layout import PlacedSwatch, PlacedTransfer, SheetLayout
from impose.units import POINTS_PER_MM

MOST_HELD = 16 << 20  # bytes of pictures the reader may keep: it would keep 256 MB, and we hold the same ones already
_DRAWN = re.compile(rb"/(\w+) Do\b")
_CLIP = re.compile(rb"\bq ([-\d. ]+) re W n [-\d. ]* ?(?:cm )?")


def check_sheets(path: Path, sheets: Sequence[SheetLayout], printer: Printer) -> None:
    """Read `path` back and raise `Trouble` with `Exit.SELF_CHECK` if anything is not as laid out."""
    import pymupdf

    with _leave_colours_alone(), pymupdf.open(str(path)) as document:
        faults = list(_find_faults(document, sheets, printer))
    if faults:
        raise Trouble(
            Finding(
                f"the written file failed its own check: {what}",
                "Nothing was delivered. This is a fault in the program: please report it with the batch.",
                kind="self-check",
                file=path.name,
                exit=Exit.SELF_CHECK,
            )
            for what in faults
        )


@contextmanager
def _leave_colours_alone() -> Iterator[None]:
    """No colours are looked at here: the library would work out what profiles make of black, anew for each sheet."""
    import pymupdf

    pymupdf.TOOLS.set_icc(False)
    try:
        yield
    finally:
        pymupdf.TOOLS.set_icc(True)


def _find_faults(document: Any, sheets: Sequence[SheetLayout], printer: Printer) -> Iterator[str]:
    import pymupdf

    if document.page_count != len(sheets):
        yield f"{document.page_count} pages instead of {len(sheets)}"
        return
    same: dict[tuple[int, int], bool] = {}
    held: dict[int, int] = {}
    for index, sheet in enumerate(sheets):
        page = document[index]
        yield from _find_box_faults(page, sheet)
        drawn = _list_drawn(page.read_contents())
        objects = _list_drawn_objects(page, [name for _, name in drawn])
        drawings = [isinstance(placed.picture, Drawing) for placed in sheet.pictures]
        found, paths = iter(page.get_image_info()), PathsRead(page if any(drawings) else None)
        if len(objects) != len(sheet.pictures):
            yield f"sheet {sheet.number} holds {len(objects)} pictures instead of {len(sheet.pictures)}"
            continue
        held |= {id(placed.picture): len(placed.picture.data) for placed in sheet.pictures}
        if sum(held.values()) > MOST_HELD:
            pymupdf.TOOLS.store_shrink(100)
            held.clear()
        for xref, drawing, placed, (clip, _) in zip(objects, drawings, sheet.pictures, drawn, strict=True):
            yield from _find_clip_faults(clip, placed, sheet)
            if drawing:
                yield from find_drawing_faults(document, xref, paths, placed, sheet, printer, same)
            elif (info := next(found, None)) is None:
                yield f"{placed.name} on sheet {sheet.number} is no picture"
            else:
                yield from _find_picture_faults(document, info | {"xref": xref}, placed, sheet, printer, same)
        if next(found, None) is not None or not paths.all_read:
            yield f"sheet {sheet.number} shows more than its pictures"


def _list_drawn(content: bytes) -> list[tuple[bytes, bytes]]:
    """What a page draws, in order: the rectangle that clips it, nothing where none does, and its name.

    Names are looked for and then what stands before them: a page is mostly codes of glyphs.
    """
    found = []
    for drawn in _DRAWN.finditer(content):
        clip = _CLIP.fullmatch(content, max(0, content.rfind(b"q ", 0, drawn.start())), drawn.start())
        found.append((clip[1] if clip else b"", drawn[1]))
    return found


def _list_drawn_objects(page: Any, names: Sequence[bytes]) -> list[int]:
    """The picture objects a page draws, in order, as often as it draws them; 0 for a name it does not explain.

    From the page itself: the library can only tell them apart by unpacking every one, at every place it is drawn.
    """
    by_name = {item[7]: item[0] for item in page.get_images()} | {item[1]: item[0] for item in page.get_xobjects()}
    return [by_name.get(name.decode("ascii"), 0) for name in names]


def _find_box_faults(page: Any, sheet: SheetLayout) -> Iterator[str]:
    want = (sheet.width_mm * POINTS_PER_MM, sheet.height_mm * POINTS_PER_MM)
    for name in ("mediabox", "cropbox", "trimbox"):
        box = getattr(page, name)
        if abs(box.width - want[0]) > TOLERANCE_PT or abs(box.height - want[1]) > TOLERANCE_PT:
            size = f"{box.width:.3f} x {box.height:.3f} pt"
            yield f"sheet {sheet.number}: {name} is {size} instead of {want[0]:.3f} x {want[1]:.3f}"


def _find_clip_faults(clip: bytes, placed: PlacedTransfer | PlacedSwatch, sheet: SheetLayout) -> Iterator[str]:
    """Whether a picture is drawn under the clip it needs, and under no other; `clip` is as the page has it."""
    want = measure_clip(placed.ink, sheet.height_mm) if is_clipped(placed.picture) else ()
    found = tuple(float(value) for value in clip.split())
    if len(found) != len(want) or any(abs(a - b) > TOLERANCE_PT for a, b in zip(found, want, strict=True)):
        yield f"{placed.name} on sheet {sheet.number} is cut to {found} pt instead of {want}"


def _find_picture_faults(
    document: Any,
    info: dict[str, Any],
    placed: PlacedTransfer | PlacedSwatch,
    sheet: SheetLayout,
    printer: Printer,
    same: dict[tuple[int, int], bool],
) -> Iterator[str]:
    name, picture = placed.name, placed.picture
    width, height = measure_stored(picture)
    if (info["width"], info["height"]) != (width, height):
        yield f"{name}: {info['width']} x {info['height']} pixels instead of {width} x {height}"
    want, ink = [], locate_canvas(picture, placed.ink, placed.turned)
    for value, scale in zip((ink.x, ink.y, ink.right, ink.bottom), (printer.scale_x, printer.scale_y) * 2, strict=True):
        want.append(value * POINTS_PER_MM / scale)
    if any(abs(a - b) > TOLERANCE_PT + INSET_PT for a, b in zip(info["bbox"], want, strict=True)):
        yield f"{name} on sheet {sheet.number} lies at {info['bbox']} pt instead of {want}"
    signs = tuple((value > 0) - (value < 0) for value in info["transform"][:4])
    if signs != map_stored(picture, placed.turned):
        yield f"{name} on sheet {sheet.number} is not turned by {placed.turned} degrees"
    # A picture is drawn as often as it is ordered, and its bytes need comparing once.
    key = (info["xref"], id(picture))
    if key not in same:
        same[key] = info["xref"] > 0 and _holds_stream(document, info["xref"], bytes(picture.data))
    if not same[key]:
        yield f"{name} on sheet {sheet.number} shows another picture"


def _holds_stream(document: Any, xref: int, want: bytes) -> bool:
    """Whether the stream of an object is `want`, deflated as both are: compared where it lies, without a copy."""
    from pymupdf import mupdf

    stored = mupdf.pdf_load_raw_stream_number(mupdf.PdfDocument(document.this), xref)
    found = mupdf.fz_buffer_storage_memoryview(stored)
    return len(found) == len(want) and want.startswith(found)
