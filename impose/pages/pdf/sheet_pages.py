"""Sheets to PDF: one document per paper, one content stream a page, everything drawn at its place to the micrometre.

Page geometry and settings follow ISO 32000: user space is 1/72 in (8.3.2.3), the boxes nest (14.11.2), and the viewer
preferences (12.2, PrintScaling enforced as of PDF 2.0) ask for actual size on one side of the paper that fits. Layers
are optional content (8.11), all on, and carry no processing-step metadata: marks and labels must print.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterator, Sequence
from pathlib import Path

from impose.art.output_profile import OutputProfile
from impose.art.vector_drawing import Drawing
from impose.pages.pdf.font_book import FontBook
from impose.pages.pdf.outline_objects import compute_form_matrix
from impose.pages.pdf.pdf_file import VIEWING, PdfFile, encode_boxes, encode_dictionary, encode_number, encode_text
from impose.pages.pdf.picture_objects import (
    PictureObjects,
    compute_picture_matrix,
    is_clipped,
    locate_canvas,
    make_output_intent,
    map_stored,
    measure_clip,
)
from impose.profiles.profiles import Printer
from impose.sheet.layout import BatchLayout, PlacedSwatch, PlacedTransfer, SheetLayout
from impose.sheet.marks import STROKE_MM, MarkShape, MarkStroke, PlacedWords
from impose.type.lettering import TextShaper
from impose.units import POINTS_PER_MM

LAYERS = ("Artwork", "Ticks", "Labels", "Slug")


def write_sheets(
    path: Path,
    layout: BatchLayout,
    sheets: Sequence[SheetLayout],
    printer: Printer,
    lettering: TextShaper,
    output: tuple[str, OutputProfile] | None = None,
) -> Iterator[SheetLayout]:
    """Write the sheets of one paper to `path`, one page each, for the printer's measured scale.

    Yields each sheet once its page is drawn; the file is there when all of them have been taken. `output` is the
    profile whose colours the pictures are in, with its name, where they were turned.
    """
    with PdfFile() as document:
        yield from _SheetWriter(document, layout, printer, lettering, output).write_document(path, sheets)


class _SheetWriter:
    """The document under construction."""

    def __init__(
        self,
        document: PdfFile,
        layout: BatchLayout,
        printer: Printer,
        lettering: TextShaper,
        output: tuple[str, OutputProfile] | None,
    ) -> None:
        self.document, self.layout, self.printer, self.output = document, layout, printer, output
        self.pictures = PictureObjects(document)
        self.fonts = FontBook(document, lettering)
        self.content = hashlib.sha256()

    def write_document(self, path: Path, sheets: Sequence[SheetLayout]) -> Iterator[SheetLayout]:
        layers = [self.document.add_object(f"<</Type/OCG/Name{encode_text(name)}>>") for name in LAYERS]
        fonts = self.document.reserve_object()
        properties = encode_dictionary({f"L{index}": layer for index, layer in enumerate(layers)})
        shared = f"/Font {fonts} 0 R/Properties{properties}"
        for sheet in sheets:
            self._add_page(sheet, shared)
            yield sheet
        self.document.put_object(fonts, f"<<{self.fonts.embed_fonts()}>>")
        ident = self.content.hexdigest()[:32]
        self.document.save_document(
            path, self._catalog_keys(sheets, layers), f"{self.layout.name} {self.layout.code}", ident
        )

    def _add_page(self, sheet: SheetLayout, shared: str) -> None:
        names: dict[int, str] = {}
        stream = self._page_content(sheet, names)
        contents = self.document.add_stream("", stream)
        page = encode_boxes(sheet.width_mm, sheet.height_mm)
        pictures = encode_dictionary({name: xref for xref, name in names.items()})
        self.document.add_page(f"{page}/Contents {contents} 0 R/Resources<</XObject{pictures}{shared}>>")
        self.content.update(stream)

    def _page_content(self, sheet: SheetLayout, names: dict[int, str]) -> bytes:
        """The page's content, layer by layer."""
        artwork = [self._draw_picture(sheet, placed, names) for placed in sheet.pictures]
        ticks = [_encode_strokes(sheet.ticks, sheet.height_mm)]
        labels = [
            self._draw_words((*sheet.labels, *(word for swatch in sheet.swatches for word in swatch.words)), sheet),
            *(_encode_shape(arrow, sheet.height_mm) for arrow in sheet.arrows),
        ]
        slug = [_encode_strokes(sheet.rulers, sheet.height_mm), self._draw_words(sheet.slug, sheet)]
        parts = [
            b"/OC /L%d BDC\n%s\nEMC\n" % (index, b"\n".join(part for part in layer if part))
            for index, layer in enumerate((artwork, ticks, labels, slug))
        ]
        return self._scale_correction(sheet) + b"".join(parts)

    def _scale_correction(self, sheet: SheetLayout) -> bytes:
        """The printer's measured scale undone, about the page's top left corner, where feeding begins."""
        if self.printer.scale_x == 1 and self.printer.scale_y == 1:
            return b""
        sx, sy = 1 / self.printer.scale_x, 1 / self.printer.scale_y
        drop = sheet.height_mm * POINTS_PER_MM * (1 - sy)
        return f"{encode_number(sx)} 0 0 {encode_number(sy)} 0 {encode_number(drop)} cm\n".encode()

    def _draw_picture(self, sheet: SheetLayout, placed: PlacedTransfer | PlacedSwatch, names: dict[int, str]) -> bytes:
        picture = placed.picture
        xref = self.pictures.object_of(picture)
        name = names.setdefault(xref, f"P{len(names) + 1}")
        self.content.update(picture.sha256.encode())
        if isinstance(picture, Drawing):
            matrix = compute_form_matrix(picture, placed.ink, sheet.height_mm, placed.turned)
        else:
            canvas = locate_canvas(picture, placed.ink, placed.turned)
            matrix = compute_picture_matrix(canvas, sheet.height_mm, map_stored(picture, placed.turned))
        clip = f"{_encode_numbers(measure_clip(placed.ink, sheet.height_mm))} re W n " if is_clipped(picture) else ""
        return f"q {clip}{_encode_numbers(matrix)} cm /{name} Do Q".encode()

    def _draw_words(self, words: Sequence[PlacedWords], sheet: SheetLayout) -> bytes:
        """Text in the order it was laid; the page writer's angles run anticlockwise, ours clockwise."""
        return b"\n".join(
            self.fonts.text_operators(
                word.line,
                word.x * POINTS_PER_MM,
                (sheet.height_mm - word.y) * POINTS_PER_MM,
                word.size_mm * POINTS_PER_MM,
                -word.angle % 360,
            )
            for word in words
        )

    def _catalog_keys(self, sheets: Sequence[SheetLayout], layers: Sequence[int]) -> str:
        """How the document is to be viewed and printed: all layers on, pages numbered as the sheets are."""
        every = "".join(f"{layer} 0 R " for layer in layers)
        labels = f"/S/D/P{encode_text(f'{self.layout.code}-')}/St {sheets[0].number}"
        return (
            f"/OCProperties<</OCGs[{every}]/D<</ON[{every}]/OFF[]/Order[{every}]/RBGroups[]>>>>"
            f"/ViewerPreferences<<{VIEWING}>>/PageLabels<</Nums[0<<{labels}>>]>>/PageLayout/SinglePage"
            f"{make_output_intent(self.pictures, self.output)}"
        )


def _encode_numbers(values: Sequence[float]) -> str:
    return " ".join(encode_number(value) for value in values)


def _encode_point(x: float, y: float, height_mm: float) -> str:
    return f"{encode_number(x * POINTS_PER_MM)} {encode_number((height_mm - y) * POINTS_PER_MM)}"


def _encode_strokes(strokes: Sequence[MarkStroke], height_mm: float) -> bytes:
    if not strokes:
        return b""
    lines = [f"{_encode_point(s.x1, s.y1, height_mm)} m {_encode_point(s.x2, s.y2, height_mm)} l" for s in strokes]
    return f"0 G {encode_number(STROKE_MM * POINTS_PER_MM)} w 0 J\n{chr(10).join(lines)}\nS".encode()


def _encode_shape(shape: MarkShape, height_mm: float) -> bytes:
    first, *rest = (_encode_point(x, y, height_mm) for x, y in shape.points)
    return f"0 g {first} m {' '.join(f'{point} l' for point in rest)} h f".encode()
