"""Plain pages: lines, shapes, words and small pictures drawn in millimetres from the top left corner.

For pages that are read, not pressed: tickets and the calibration page. One content stream a page, page size exactly,
printed at actual size (ISO 32000, 12.2 and 14.11.2, as for sheets), and the same bytes for the same calls. What is
drawn again and again is drawn once, as a form (ISO 32000-2, 8.10), and stamped.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import contextmanager
from functools import lru_cache
from pathlib import Path
from typing import Literal

from impose.art.png import read_png
from impose.art.small_pictures import SmallFile
from impose.formats.jpeg_markers import count_components
from impose.pages.pdf.font_book import FontBook
from impose.pages.pdf.pdf_file import VIEWING, PdfFile, encode_boxes, encode_dictionary, encode_number, encode_text
from impose.type.lettering import ShapedLine, TextShaper
from impose.units import POINTS_PER_MM, Box

Align = Literal["left", "centre", "right"]
Segment = tuple[str, tuple[float, ...]]
"""A part of an outline: "m" and "l" with x, y; "c" with two control points and the end; "h" with nothing."""


class PdfPages:
    """A document of plain pages under construction; `save` writes it.

    `bold` is lettering over the same faces with a bold one first; without it heavy words are stroked as well.
    """

    def __init__(self, document: PdfFile, lettering: TextShaper, bold: TextShaper | None = None) -> None:
        self.document = document
        self.lettering = lettering
        self.bold = bold
        self.fonts = FontBook(self.document, lettering)
        self._shared, self._fonts = self.document.reserve_object(), self.document.reserve_object()
        self._resources: dict[str, int] = {}
        self._by_key: dict[object, str] = {}
        self._content = hashlib.sha256()

    def choose_weight(self, heavy: bool) -> TextShaper:
        """What words of a weight are shaped with."""
        return self.bold if heavy and self.bold is not None else self.lettering

    def new_page(self, width_mm: float, height_mm: float) -> PdfCanvas:
        """A new page; it is written when `add` is called with its canvas."""
        return PdfCanvas(self, width_mm, height_mm)

    def add_page(self, canvas: PdfCanvas) -> None:
        """Write a page that has been drawn."""
        stream = canvas.content_stream()
        contents = self.document.add_stream("", stream)
        page = encode_boxes(canvas.width, canvas.height)
        self.document.add_page(f"{page}/Contents {contents} 0 R/Resources {self._shared} 0 R")
        self._content.update(stream)

    def add_form(self, key: object, width_mm: float, height_mm: float, draw: Callable[[PdfCanvas], None]) -> str:
        """The resource of a drawing that is stamped many times, drawn at the first call with its key."""
        if key not in self._by_key:
            canvas = PdfCanvas(self, width_mm, height_mm)
            draw(canvas)
            box = f"[0 0 {encode_number(width_mm * POINTS_PER_MM)} {encode_number(height_mm * POINTS_PER_MM)}]"
            head = f"/Type/XObject/Subtype/Form/BBox{box}/Resources {self._shared} 0 R"
            stream = canvas.content_stream()
            self._content.update(stream)
            self._name_resource(key, self.document.add_stream(head, stream))
        return self._by_key[key]

    def add_picture(self, key: object, file: SmallFile) -> str:
        """The resource of a small picture, grey or RGB, as it is filed: nothing is unpacked, nothing deflated again."""
        if key not in self._by_key:
            keys, content, packed = _list_png_parts(file) if file.media == "image/png" else _list_jpeg_parts(file)
            self._content.update(content)
            self._name_resource(key, self.document.add_deflated_stream(keys, content, packed))
        return self._by_key[key]

    def add_object(self, key: object, make: Callable[[], int]) -> str:
        """The resource of an object of the document, made at the first call with its key."""
        if key not in self._by_key:
            self._name_resource(key, make())
        return self._by_key[key]

    def _name_resource(self, key: object, resource: int) -> None:
        self._by_key[key] = name = f"X{len(self._resources) + 1}"
        self._resources[name] = resource

    def save_document(self, path: Path, title: str, label: str = "", more: str = "") -> None:
        """Write the document; pages are numbered after `label`, and `more` stands in its catalog."""
        self.document.put_object(self._fonts, f"<<{self.fonts.embed_fonts()}>>")
        self.document.put_object(
            self._shared, f"<</Font {self._fonts} 0 R/XObject{encode_dictionary(self._resources)}>>"
        )
        labels = f"/S/D/P{encode_text(label)}/St 1"
        catalog = f"/ViewerPreferences<<{VIEWING}>>/PageLabels<</Nums[0<<{labels}>>]>>{more}"
        self.document.save_document(path, catalog, title, self._content.hexdigest()[:32])


def _list_jpeg_parts(file: SmallFile) -> tuple[str, bytes, str]:
    """Keys, stream and filter of a JPEG (ISO 32000-2, 7.4.8): deflated it would be several times larger."""
    return _encode_image_keys(file, count_components(file.content) == 1), file.content, "DCTDecode"


def _list_png_parts(file: SmallFile) -> tuple[str, bytes, str]:
    """Keys, stream and filter of a PNG: its rows stay filtered and deflated as they are (ISO 32000-2, 7.4.4.4)."""
    png = read_png(file.content)
    header = png.header
    if header.depth != 8 or header.palette or header.alpha or header.interlaced:
        raise ValueError(f"a small picture is grey or RGB of 8 bits, row by row, not {header}")
    rows = f"/Predictor 15/Colors {header.channels}/BitsPerComponent 8/Columns {header.width}"
    return f"{_encode_image_keys(file, header.grey)}/DecodeParms<<{rows}>>", b"".join(png.list_idat()), "FlateDecode"


def _encode_image_keys(file: SmallFile, grey: bool) -> str:
    size = f"/Width {file.width}/Height {file.height}"
    space = "/DeviceGray" if grey else "/DeviceRGB"
    return f"/Type/XObject/Subtype/Image{size}/BitsPerComponent 8/ColorSpace {space}"


class PdfCanvas:
    """One page, or one form, being drawn."""

    def __init__(self, pages: PdfPages, width_mm: float, height_mm: float) -> None:
        self.pages, self.width, self.height = pages, width_mm, height_mm
        self._parts: list[bytes] = []

    def content_stream(self) -> bytes:
        """The content drawn so far."""
        return b"\n".join(self._parts)

    def draw_path(
        self,
        segments: Iterable[Segment],
        width_mm: float | None = 0.2,
        grey: float = 0.0,
        fill: float | None = None,
        dash: Sequence[float] = (),
    ) -> None:
        """An outline: stroked `width_mm` wide (None: not at all), filled where `fill` is a grey from 0 to 1."""
        kinds: list[str] = []
        values: list[float] = []
        for kind, points in segments:
            kinds.append(kind)
            values += points
        self._paint_path(kinds, values, width_mm, grey, fill, dash)

    def _paint_path(
        self, kinds: Sequence[str], values: Sequence[float], width_mm: float | None, grey: float, fill: float | None,
        dash: Sequence[float],
    ) -> None:  # fmt: skip
        # All numbers at once: a garment's drawing has hundreds, a batch of tickets millions.
        points = [0.0] * len(values)
        points[0::2] = [x * POINTS_PER_MM for x in values[0::2]]
        points[1::2] = [(self.height - y) * POINTS_PER_MM for y in values[1::2]]
        body = _path_template(tuple(kinds)) % tuple(points)
        state = []
        if fill is not None:
            state.append(f"{encode_number(fill)} g")
        if width_mm is not None:
            state.append(f"{encode_number(grey)} G {encode_number(width_mm * POINTS_PER_MM)} w 1 j 1 J")
            if dash:
                state.append(f"[{' '.join(encode_number(mm * POINTS_PER_MM) for mm in dash)}] 0 d")
        paint = {(True, True): "B", (True, False): "f", (False, True): "S"}[fill is not None, width_mm is not None]
        self._parts.append(f"q {' '.join(state)} {body} {paint} Q".encode())

    def draw_line(
        self, x1: float, y1: float, x2: float, y2: float, width_mm: float = 0.2, grey: float = 0.0,
        dash: Sequence[float] = (),
    ) -> None:  # fmt: skip
        """A straight line."""
        self._paint_path(("m", "l"), (x1, y1, x2, y2), width_mm, grey, None, dash)

    def draw_polygon(
        self, points: Sequence[tuple[float, float]], width_mm: float | None = 0.2, grey: float = 0.0,
        fill: float | None = None, dash: Sequence[float] = (),
    ) -> None:  # fmt: skip
        """A closed outline of straight lines."""
        kinds = ("m", *("l",) * (len(points) - 1), "h")
        self._paint_path(kinds, [value for point in points for value in point], width_mm, grey, fill, dash)

    def draw_box(
        self, box: Box, width_mm: float | None = 0.2, grey: float = 0.0, fill: float | None = None,
        dash: Sequence[float] = (),
    ) -> None:  # fmt: skip
        """A rectangle."""
        corners = [(box.x, box.y), (box.right, box.y), (box.right, box.bottom), (box.x, box.bottom)]
        self.draw_polygon(corners, width_mm, grey, fill, dash)

    def draw_words(
        self, text: str | ShapedLine, x: float, y: float, size_mm: float, *, align: Align = "left", angle: int = 0,
        grey: float = 0.0, heavy: bool = False,
    ) -> float:  # fmt: skip
        """A line of text with its baseline at `y`; returns its length in mm.

        `angle` turns it anticlockwise by 0, 90, 180 or 270 degrees about that point. `heavy` sets it in the bold face;
        a line that is shaped already has its faces.
        """
        line = self.pages.choose_weight(heavy).shape_line([text]) if isinstance(text, str) else text
        length = line.width * size_mm
        back = {"left": 0.0, "centre": length / 2, "right": length}[align]
        dx, dy = {0: (-1, 0), 90: (0, 1), 180: (1, 0), 270: (0, -1)}[angle]
        x, y = x + dx * back, y + dy * back
        operators = self.pages.fonts.text_operators(
            line, x * POINTS_PER_MM, (self.height - y) * POINTS_PER_MM, size_mm * POINTS_PER_MM, angle
        )
        state = f"{encode_number(grey)} g"
        if heavy and self.pages.bold is None:
            state += f" {encode_number(grey)} G {encode_number(size_mm * 0.035 * POINTS_PER_MM)} w 2 Tr"
        self._parts.append(b"q %s\n%sQ" % (state.encode(), operators))
        return length

    @contextmanager
    def mirror_page(self) -> Iterator[None]:
        """Whatever is drawn meanwhile is mirrored about the page's upright middle: it reads once it is pressed."""
        self._parts.append(f"q -1 0 0 1 {encode_number(self.width * POINTS_PER_MM)} 0 cm".encode())
        yield
        self._parts.append(b"Q")

    def draw_object(self, name: str, matrix: Sequence[float]) -> None:
        """An object of the document by the matrix that its kind is drawn with."""
        self._parts.append(f"q {' '.join(encode_number(value) for value in matrix)} cm /{name} Do Q".encode())

    def draw_form(self, form: str, x: float, y: float, height_mm: float) -> None:
        """A form of that height with its top left corner at `x`, `y`."""
        left, bottom = x * POINTS_PER_MM, (self.height - y - height_mm) * POINTS_PER_MM
        self._parts.append(f"q 1 0 0 1 {encode_number(left)} {encode_number(bottom)} cm /{form} Do Q".encode())

    def draw_picture(self, image: str, box: Box, turned: int = 0, mirrored: bool = False) -> None:
        """A picture stretched over a box, mirrored about its upright axis, then turned clockwise by 0, 90 or 270."""
        left, bottom = box.x * POINTS_PER_MM, (self.height - box.bottom) * POINTS_PER_MM
        w, h = box.w * POINTS_PER_MM, box.h * POINTS_PER_MM
        a, b, c, d, e, f = {  # what the unit square becomes: x' = a x + c y + e, y' = b x + d y + f
            0: (w, 0.0, 0.0, h, left, bottom),
            90: (0.0, -h, w, 0.0, left, bottom + h),
            270: (0.0, h, -w, 0.0, left + w, bottom),
        }[turned]
        if mirrored:
            a, b, e, f = -a, -b, e + a, f + b
        self._parts.append(f"q {' '.join(encode_number(v) for v in (a, b, c, d, e, f))} cm /{image} Do Q".encode())


_OPERANDS = {"m": "%.3f %.3f m", "l": "%.3f %.3f l", "c": "%.3f %.3f %.3f %.3f %.3f %.3f c", "h": "h"}


@lru_cache(maxsize=512)
def _path_template(kinds: tuple[str, ...]) -> str:
    """The operators of an outline with room for its numbers: a thousandth of a point is a third of a micrometre."""
    return " ".join([_OPERANDS[kind] for kind in kinds])
