"""Measure delivered sheets as a person with a loupe would: from the record and the PDFs, by other renderers.

Nothing of the program is used here. The record says where everything shall lie; pdfium and poppler, which did not
write the file, say where it does.
"""

from __future__ import annotations

import json
import math
import subprocess
import tempfile
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import pikepdf
import pypdfium2
import pypdfium2.raw as pdfium_c
from PIL import Image, ImageDraw, ImageFilter, ImageFont

POINT_MM = 25.4 / 72  # ISO 32000-1, 8.3.2.3: the default user space unit is 1/72 inch
DARK = 128
PIXEL_MM = 0.01  # as fine as the edges of outlines are looked at
EDGE_MM = 0.1
LETTERS_PX = 3000  # along the longer side of words, so that half a pixel more or less is next to nothing
Box = dict[str, float]
Raster = np.ndarray[tuple[int, ...], np.dtype[np.uint8]]


class Crops:
    """Parts of the pages of one PDF, each cut out exactly by moving the page's MediaBox, rendered by two renderers."""

    def __init__(self, pdf: Path, scratch: Path) -> None:
        self._source = pikepdf.open(pdf)
        self._out = pikepdf.open(pdf)
        self._scratch = scratch / f"crops-{pdf.stem}.pdf"
        self._count = len(self._out.pages)

    def add(self, page: int, box: Box) -> int:
        """Cut a box (millimetres from the page's top left) out of a page (from 1); returns the crop's number."""
        self._out.pages.append(self._out.pages[page - 1])
        crop = self._out.pages[-1]
        height = float(crop.MediaBox[3])
        left, top = box["x"] / POINT_MM, height - box["y"] / POINT_MM
        edges = [left, top - box["h"] / POINT_MM, left + box["w"] / POINT_MM, top]
        for name in ("/MediaBox", "/CropBox", "/TrimBox", "/BleedBox"):
            crop[name] = pikepdf.Array([round(edge, 6) for edge in edges])
        return len(self._out.pages)

    def save(self) -> None:
        """Write the crops; `add` no more afterwards."""
        self._out.save(self._scratch)
        self._document = pypdfium2.PdfDocument(self._scratch)

    def pdfium(self, crop: int, dpi: float) -> Raster:
        """The crop as RGB, by pdfium.

        Through its matrix, since its plain call rounds the page up to whole pixels and stretches it to fill them.
        """
        page = self._document[crop - 1]
        scale = dpi / 72
        width, height = (math.ceil(points * scale - 1e-3) for points in page.get_size())
        bitmap = pypdfium2.PdfBitmap.new_native(width, height, pdfium_c.FPDFBitmap_BGR)
        bitmap.fill_rect((255, 255, 255, 255), 0, 0, width, height)
        matrix = pdfium_c.FS_MATRIX(scale, 0, 0, scale, 0, 0)
        clip = pdfium_c.FS_RECTF(0, 0, width, height)
        pdfium_c.FPDF_RenderPageBitmapWithMatrix(bitmap, page, matrix, clip, pdfium_c.FPDF_RENDER_NO_SMOOTHIMAGE)
        return bitmap.to_numpy()[..., ::-1]

    def poppler(self, crop: int, dpi: float) -> Raster:
        """The crop as RGB, by poppler."""
        command = ["pdftoppm", "-r", f"{dpi:.6f}", "-f", str(crop), "-l", str(crop), str(self._scratch)]
        done = subprocess.run(command, check=True, capture_output=True)
        kind, width, height, most = done.stdout[:64].split(maxsplit=4)[:4]
        assert (kind, most) == (b"P6", b"255"), done.stdout[:64]
        size = int(width) * int(height) * 3
        return np.frombuffer(done.stdout[-size:], np.uint8).reshape(int(height), int(width), 3)


def darkest_channel(raster: Raster) -> Raster:
    """The least of red, green and blue of each pixel; numpy takes ten times as long to do it along the last axis."""
    return np.minimum(np.minimum(raster[..., 0], raster[..., 1]), raster[..., 2])


@dataclass
class Measured:
    """The largest errors seen."""

    pixel: int = 0  # levels of 255
    size_mm: float = 0.0
    tick_mm: float = 0.0
    edge_mm: float = 0.0  # of words drawn as outlines: from the box of the record to the ink
    overlap: float = 1.0  # of words: ink that both we and FreeType have, of ink that either has; the least seen


def faults(
    out: Path,
    art_root: Path,
    renderer: str = "pdfium",
    measured: Measured | None = None,
    only: str = "sheets-",
    faces: Mapping[str, Path] | None = None,
    finer: int = 1,
) -> list[str]:
    """Everything on the delivered sheets that is not as the record says; empty if all is well.

    Pictures are rendered `finer` times as fine as their pixels: 1 where their edges fall on whole pixels of the crop,
    5 where a number in the PDF may be rounded, since renderers stretch a picture over every pixel that it touches.
    `only` is what the names of the PDFs to look at begin with. `faces` are the font files of words by what their rows
    have in the column font: words in them, straight and without an outline, are compared with FreeType's.
    """
    record = json.loads((out / "batch.json").read_text("utf-8"))
    measured = measured or Measured()
    found: list[str] = []
    with tempfile.TemporaryDirectory() as scratch:
        for file in sorted({sheet["file"] for sheet in record["sheets"] if sheet["file"].startswith(only)}):
            sheets = [sheet for sheet in record["sheets"] if sheet["file"] == file]
            found += _file_faults(
                out / file, sheets, art_root, renderer, Path(scratch), measured, faces or {}, finer,
                record.get("swatches", []),
            )  # fmt: skip
    return found


def _file_faults(
    pdf: Path, sheets: list[dict[str, Any]], art_root: Path, renderer: str, scratch: Path, measured: Measured,
    faces: Mapping[str, Path], finer: int, swatches: list[dict[str, Any]],
) -> list[str]:  # fmt: skip
    crops = Crops(pdf, scratch)
    checks: list[Callable[[], Iterator[str]]] = []
    found: list[str] = []
    render = getattr(crops, renderer)
    for sheet in sheets:
        for transfer in sheet["transfers"]:
            ink = crops.add(sheet["page"], transfer["ink_mm"])
            cell = crops.add(sheet["page"], transfer["cell_mm"])
            if transfer["ink_px"] is None:
                sides = {side: crops.add(sheet["page"], box) for side, box in _edges(transfer["ink_mm"]).items()}
                face = faces.get(transfer["font"])
                checks.append(lambda t=transfer, n=ink, s=sides: _edge_faults(render, n, s, t, measured))
                if face is not None:
                    checks.append(lambda t=transfer, n=ink, f=face: _letter_faults(render, n, t, f, measured))
            else:
                checks.append(lambda t=transfer, n=ink: _artwork_faults(render, n, t, art_root, measured, finer))
            checks.append(lambda t=transfer, n=cell: _margin_faults(render, n, t, measured))
        for swatch in swatches:
            if swatch["sheet"] == sheet["sheet"]:
                found += _swatch_place_faults(swatch, sheet)
                checks += _swatch_checks(crops, swatch, render, art_root, measured, finer)
    crops.save()
    return [*found, *_page_faults(pdf, sheets, measured), *(fault for check in checks for fault in check())]


SWATCH_MM = 25.0  # the least side of what is drawn, where the print is as large
CLEAR_MM = 2.0  # from a cell's edge, which is as far from its neighbour's marks


def _swatch_place_faults(swatch: dict[str, Any], sheet: dict[str, Any]) -> Iterator[str]:
    """A swatch lies in what is printed on, clear of every cell, slug, ruler and other swatch."""
    place, ink, area = swatch["place_mm"], swatch["ink_mm"], sheet["printable_mm"]
    if not _lies_within(place, area, 0.0) or not _lies_within(ink, place, CLEAR_MM):
        yield f"{swatch['id']}: outside what is printed on, or its ink at the edge of its place"
    for transfer in sheet["transfers"]:
        if _overlap(place, transfer["cell_mm"]) or _overlap(_grow(ink, CLEAR_MM), transfer["cell_mm"]):
            yield f"{swatch['id']}: lies over the cell of {transfer['id']}"
    if sum(_overlap(place, mark) for mark in sheet["marks_mm"]) != 1:  # itself
        yield f"{swatch['id']}: lies over slug, ruler or another swatch, or is not among what is printed"
    for x1, y1, x2, y2 in sheet.get("cuts_mm", []):
        if _overlap(place, {"x": min(x1, x2), "y": min(y1, y2), "w": abs(x2 - x1), "h": abs(y2 - y1)}):
            yield f"{swatch['id']}: a straight cut goes through it"


def _grow(box: Box, by: float) -> Box:
    return {"x": box["x"] - by, "y": box["y"] - by, "w": box["w"] + 2 * by, "h": box["h"] + 2 * by}


def _lies_within(box: Box, outer: Box, clear: float) -> bool:
    inner = _grow(box, clear - 1e-5)
    return (
        inner["x"] >= outer["x"]
        and inner["y"] >= outer["y"]
        and inner["x"] + inner["w"] <= outer["x"] + outer["w"]
        and inner["y"] + inner["h"] <= outer["y"] + outer["h"]
    )


def _overlap(a: Box, b: Box) -> bool:
    return all(a[x] + a[w] > b[x] + 1e-5 and b[x] + b[w] > a[x] + 1e-5 for x, w in (("x", "w"), ("y", "h")))


def _swatch_checks(
    crops: Crops, swatch: dict[str, Any], render: Callable[[int, float], Raster], art_root: Path, measured: Measured,
    finer: int,
) -> Iterator[Callable[[], Iterator[str]]]:  # fmt: skip
    """Its pixels are the artwork's own; around them is blank paper; its label is there and not mirrored away."""
    ink = crops.add(swatch["page"], swatch["ink_mm"])
    place = crops.add(swatch["page"], swatch["place_mm"])
    if swatch["ink_px"] is not None:
        yield lambda: _artwork_faults(render, ink, {**swatch, "turned": 0}, art_root, measured, finer)
    yield lambda: _swatch_rim_faults(render, place, swatch)


def _swatch_rim_faults(render: Callable[[int, float], Raster], crop: int, swatch: dict[str, Any]) -> Iterator[str]:
    raster = darkest_channel(render(crop, 254.0))  # ten pixels to a millimetre
    rim = np.concatenate([raster[:17].ravel(), raster[:, :17].ravel(), raster[:, -17:].ravel()])
    if rim.min() < 250:
        yield f"{swatch['id']}: something is printed in the clear paper around it"
    below = raster[round((swatch["ink_mm"]["y"] + swatch["ink_mm"]["h"] - swatch["place_mm"]["y"]) * 10) + 5 :]
    if below.min() > 150:
        yield f"{swatch['id']}: no label"


def _page_faults(pdf: Path, sheets: list[dict[str, Any]], measured: Measured) -> Iterator[str]:
    document = pypdfium2.PdfDocument(pdf)
    if len(document) != len(sheets):
        yield f"{pdf.name}: {len(document)} pages, {len(sheets)} sheets in the record"
    for sheet in sheets:
        width, height = (points * POINT_MM for points in document[sheet["page"] - 1].get_size())
        error = max(abs(width - sheet["width_mm"]), abs(height - sheet["height_mm"]))
        measured.size_mm = max(measured.size_mm, error)
        if error > 0.05:
            yield f"{pdf.name} page {sheet['page']}: {width:.3f} x {height:.3f} mm"


def expected_artwork(path: Path, ink_px: list[int], turned: int) -> Raster:
    """The artwork as it shall lie: trimmed, over white, mirrored once, then turned clockwise."""
    rgba = np.asarray(Image.open(path).convert("RGBA").crop(tuple(ink_px))).astype(np.float64)
    alpha = rgba[..., 3:] / 255
    over_white = rgba[..., :3] * alpha + 255 * (1 - alpha)
    mirrored = np.rint(over_white).astype(np.uint8)[:, ::-1]
    return np.rot90(mirrored, -1) if turned else mirrored


def recoloured(path: Path, transfer: dict[str, Any], plain: Raster) -> tuple[Raster, np.ndarray[Any, Any]]:
    """The artwork with the colours of the record exchanged, for artwork in sRGB; and where that can be told from here:
    wherever a colour is whole, and farther from it than an edge is wide.
    """
    rgba = np.asarray(Image.open(path).convert("RGBA").crop(tuple(transfer["ink_px"])))
    made, near, whole = plain.copy(), np.zeros(plain.shape[:2], np.bool_), np.zeros(plain.shape[:2], np.bool_)
    for change in transfer["recolour"]:
        before, after = ([int(change[end][at : at + 2], 16) for at in (1, 3, 5)] for end in ("from", "to"))
        there = (np.abs(rgba[..., :3].astype(np.int16) - np.array(before)).max(axis=2) <= 3) & (rgba[..., 3] == 255)
        there = there[:, ::-1]
        there = np.rot90(there, -1) if transfer["turned"] else there
        made[there] = after
        whole |= there
        near |= np.asarray(Image.fromarray(there).convert("L").filter(ImageFilter.MaxFilter(7))) > 0
    return made, whole | ~near


def _artwork_faults(
    render: Callable[[int, float], Raster], crop: int, transfer: dict[str, Any], art_root: Path, measured: Measured,
    finer: int,
) -> Iterator[str]:  # fmt: skip
    expected = expected_artwork(art_root / transfer["art"], transfer["ink_px"], transfer["turned"])
    high, wide = expected.shape[:2]
    dpi = wide / transfer["ink_mm"]["w"] * 25.4
    other = high / transfer["ink_mm"]["h"] * 25.4
    measured.size_mm = max(measured.size_mm, abs(high / dpi - high / other) * 25.4)
    if abs(high / dpi - high / other) * 25.4 > 0.05:
        yield f"{transfer['id']}: proportions changed, {dpi:.3f} across and {other:.3f} pixels an inch down"
    raster = render(crop, dpi * finer)[finer // 2 :: finer, finer // 2 :: finer][:high, :wide]
    if raster.shape != expected.shape:
        yield f"{transfer['id']}: drawn {raster.shape}, expected {expected.shape} pixels"
        return
    judged = np.ones(expected.shape[:2], np.bool_)
    if transfer.get("recolour"):
        expected, judged = recoloured(art_root / transfer["art"], transfer, expected)
    error = int(np.abs(raster.astype(np.int16) - expected.astype(np.int16))[judged].max())
    measured.pixel = max(measured.pixel, error)
    if error > 1:
        yield f"{transfer['id']}: pixels differ by up to {error} levels of 255"


def _edges(ink: Box) -> dict[str, Box]:
    """A narrow box along each side of the ink, half in and half out."""
    x, y, w, h = (ink[name] for name in "xywh")
    near, thick = EDGE_MM, 2 * EDGE_MM
    return {
        "left": {"x": x - near, "y": y, "w": thick, "h": h},
        "top": {"x": x, "y": y - near, "w": w, "h": thick},
        "right": {"x": x + w - near, "y": y, "w": thick, "h": h},
        "bottom": {"x": x, "y": y + h - near, "w": w, "h": thick},
    }


def _edge_faults(
    render: Callable[[int, float], Raster], crop: int, sides: dict[str, int], transfer: dict[str, Any],
    measured: Measured,
) -> Iterator[str]:  # fmt: skip
    """Outlines have no pixels to compare; their ink fills the record's box, to a hundredth of a millimetre."""
    dpi = 25.4 / PIXEL_MM
    if render(crop, 100).min() > 200:
        yield f"{transfer['id']}: no ink"
        return
    for side, number in sides.items():
        raster = darkest_channel(render(number, dpi))
        lines = raster.min(axis=0 if side in ("left", "right") else 1)
        if side in ("right", "bottom"):
            lines = lines[::-1]
        # Half dark is where the edge runs; a round letter darkens its last pixels only in part.
        dark = np.flatnonzero(lines < (255 + int(lines.min())) / 2)
        where = dark[0] * PIXEL_MM if len(dark) else math.inf
        # A panel is cut from the whole: ink may end within it, never beyond it.
        error = max(0.0, EDGE_MM - where) if transfer["panel"] else abs(where - EDGE_MM)
        measured.edge_mm = max(measured.edge_mm, error)
        if error > 1.5 * PIXEL_MM:
            yield f"{transfer['id']}: the ink ends {where - EDGE_MM:.3f} mm from the {side} of its box"


def expected_letters(words: str, face: Path, width: int, height: int) -> Raster:
    """FreeType's letters (shaped by HarfBuzz through Raqm), cut to their ink, mirrored: how dark each pixel is."""
    font = ImageFont.truetype(str(face), 3000, layout_engine=ImageFont.Layout.RAQM)
    left, top, right, bottom = font.getbbox(words)
    canvas = Image.new("L", (right - left + 400, bottom - top + 400))
    ImageDraw.Draw(canvas).text((200 - left, 200 - top), words, 255, font)
    ink = canvas.crop(canvas.getbbox()).transpose(Image.Transpose.FLIP_LEFT_RIGHT)
    return np.asarray(ink.resize((width, height), Image.Resampling.BOX))


def _letter_faults(
    render: Callable[[int, float], Raster], crop: int, transfer: dict[str, Any], face: Path, measured: Measured
) -> Iterator[str]:
    """The letters are FreeType's, mirrored once: holes, joined scripts and the order of letters included."""
    ink = transfer["ink_mm"]
    raster = darkest_channel(render(crop, LETTERS_PX * 25.4 / max(ink["w"], ink["h"])))
    upright = np.rot90(raster, 1) if transfer["turned"] else raster
    ours = upright < (255 + int(raster.min())) / 2
    # Cut to the ink, whose place is looked at elsewhere: a crop is rounded up to whole pixels.
    rows, columns = (np.flatnonzero(ours.any(axis=axis)) for axis in (1, 0))
    ours = ours[rows[0] : rows[-1] + 1, columns[0] : columns[-1] + 1]
    theirs = expected_letters(transfer["words"], face, ours.shape[1], ours.shape[0]) > 127
    overlap = float((ours & theirs).sum() / (ours | theirs).sum())
    measured.overlap = min(measured.overlap, overlap)
    if overlap < 0.99:
        yield f"{transfer['id']}: {overlap:.1%} of the letters are where FreeType has them"


def _margin_faults(
    render: Callable[[int, float], Raster], crop: int, transfer: dict[str, Any], measured: Measured
) -> Iterator[str]:
    """Blank kept paper and tear zone, and every tick on its crease line."""
    dpi = 600.0
    raster = darkest_channel(render(crop, dpi))
    px = dpi / 25.4
    cell, ink = transfer["cell_mm"], transfer["ink_mm"]
    tear = _as_lying(transfer)
    inner = (ink["x"] - cell["x"], ink["y"] - cell["y"])
    # The ring between band and ink. A pixel that an edge only touches may hold a share of either side.
    band = {side: tear[side][2] if tear[side][2] >= 3 else -1 / px for side in tear}
    left, top = (math.ceil(band[side] * px) + 1 for side in ("left", "top"))
    right = math.floor((cell["w"] - band["right"]) * px) - 1
    bottom = math.floor((cell["h"] - band["bottom"]) * px) - 1
    ring = raster[top:bottom, left:right].copy()
    x0, y0 = int(inner[0] * px) - 1 - left, int(inner[1] * px) - 1 - top
    x1, y1 = int((inner[0] + ink["w"]) * px) + 2 - left, int((inner[1] + ink["h"]) * px) + 2 - top
    ring[max(0, y0) : max(0, y1), max(0, x0) : max(0, x1)] = 255
    if ring.min() < 250:
        yield f"{transfer['id']}: something is printed in kept paper or tear zone"
    yield from _tick_faults(raster, px, transfer, tear, measured)


def _as_lying(transfer: dict[str, Any]) -> dict[str, list[float]]:
    """The tear margin by side of the sheet: a cell turned clockwise has its left side on top."""
    tear = transfer["tear_mm"]
    if not transfer["turned"]:
        return dict(tear)
    return {"top": tear["left"], "right": tear["top"], "bottom": tear["right"], "left": tear["bottom"]}


def _tick_faults(
    raster: Raster, px: float, transfer: dict[str, Any], tear: dict[str, list[float]], measured: Measured
) -> Iterator[str]:
    cell, crease = transfer["cell_mm"], transfer["crease_mm"]
    for side in ("top", "bottom", "left", "right"):
        band = tear[side][2]
        if band < 3:
            continue
        across = side in ("top", "bottom")
        lines = raster if across else raster.T
        near = lines if side in ("top", "left") else lines[::-1]
        # Two thirds of a tick, well within its 3 mm, where a whole column is dark: no letter is that tall.
        strip = near[round((band - 2.8) * px) : round((band - 0.2) * px)]
        dark = 255.0 - strip.mean(axis=0)
        at = (crease["x"] - cell["x"]) if across else (crease["y"] - cell["y"])
        window = slice(max(0, round((at - 0.9) * px)), round((at + 0.9) * px))
        weights = dark[window]
        if weights.sum() < 100:
            yield f"{transfer['id']}: no tick on the {side} side"
            continue
        centre = (np.arange(len(weights)) + 0.5 + window.start) @ weights / weights.sum() / px
        error = abs(float(centre) - at)
        measured.tick_mm = max(measured.tick_mm, error)
        if error > 0.1:
            yield f"{transfer['id']}: the {side} tick is {error:.2f} mm off its centre line"
