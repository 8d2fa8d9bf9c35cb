# ruff: noqa: E501 - tables of files
"""One small file of every kind and mode that is taken, and of every reason for which one is refused.

Beside what the room makes of a file stands what Pillow or pdfium shows of it, where they read it.
"""

from __future__ import annotations

import base64
import io
import re
from typing import Any
from unittest.mock import patch

import numpy as np
import pymupdf
import pypdfium2
import pytest
from PIL import Image, ImageCms

from approved_answers import Told
from art.iccbytes import model_profile
from art.rebuilt import printed
from formats import samples
from formats.test_modes import KINDS as TIFFS
from formats.test_modes import tiff
from impose.art.prepare import PreparationOptions
from impose.errors import Trouble
from impose.file_types import identify_file
from impose.formats import pdf, raster, resolution, svg
from impose.formats import prepare_file as prepare_module
from impose.formats.completeness import find_missing_end
from impose.formats.file_colours import list_file_colours
from impose.formats.jpeg_markers import find_scan_fault, strip_jpeg
from impose.formats.prepare_file import convert_file, prepare_file
from impose.formats.raster import read_webp_size
from impose.formats.resolution import choose_first_zoom, choose_zoom, limit_zoom
from impose.formats.svg_guard import walk_svg

pytestmark = pytest.mark.usefixtures("sheets_alone")
LOOSE = {"keep_specks": True}
LOSSY = ("JPEG", "AVIF", "PDF", "SVG")


def spell(pixels: np.ndarray, step: int = 1) -> str:
    """Corner and centre colours, to steps where libraries may round otherwise."""
    high, wide = pixels.shape[:2]
    found = [pixels[at] for at in ((0, 0), (0, wide - 1), (high - 1, 0), (high // 2, wide // 2))]
    return " ".join(",".join(str(round(int(v) / step) * step) for v in np.atleast_1d(one)) for one in found)


def describe_file(content: bytes, name: str = "art", step: int = 1, **how: Any) -> str:
    """The whole of what a file becomes, line by line."""
    recipe = PreparationOptions(**LOOSE | how)
    kind = identify_file(content)
    lines = [f"kind {kind.name}"]

    def convert(*given: Any) -> Any:
        made = convert_file(*given)
        frame = made.make_frame()
        pixels = np.asarray(frame.image)
        jpeg = ", kept as a JPEG" if made.jpeg is not None else ""
        lines.append(f"converted {frame.image.mode} {pixels.shape[1]}x{pixels.shape[0]} {spell(pixels, step)}{jpeg}")
        return made

    try:
        # What it is converted to is told on the way: to convert it twice would take twice as long.
        with patch.object(prepare_module, "convert_file", convert):
            picture = prepare_file(content, recipe, name)
    except Trouble as trouble:
        said = "\n".join(f"{one.severity.value} {one.kind} exit {int(one.exit)}: {one}" for one in trouble.findings)
        # What a library says of a broken file is its own.
        return "\n".join([*lines, re.sub(r"(cut short|be drawn) \(.*\)\.", r"\1 (<words>).", said)])
    mass = " ".join(f"{value:.0f}" for value in picture.mass)
    lines.append(
        f"{picture.width}x{picture.height} ink {picture.ink} mass {mass} {picture.components} of {picture.colour}"
        f"{f' icc of {len(picture.icc)}' if picture.icc else ''} dark {picture.coverage:.2f} kept {picture.kept or 'as rows'} "
        f"stored {picture.stored}"
    )
    if step == 1:
        lines.append(f"prints {spell(printed(picture))}")
    lines += [f"{one.severity.value} {one.kind} exit {int(one.exit)}: {one}" for one in picture.findings]
    return "\n".join(lines)


def save(image: Image.Image, kind: str, **how: Any) -> bytes:
    return samples.saved(image, kind, **how)


def turn(number: int) -> bytes:
    exif = Image.Exif()
    exif[0x112] = number
    return exif.tobytes()


def list_pictures() -> dict[str, tuple[bytes, int]]:
    """Files of pixels by name, each with how exact its colours are."""
    art = samples.drawn(24, 16)
    white = samples.flat(art)
    grey = white.convert("L")
    cmyk = Image.merge("CMYK", [grey, grey.point(lambda v: 255 - v), grey, grey.point(lambda v: v // 3)])
    srgb = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
    again = [art.transpose(Image.Transpose.ROTATE_180)]
    deep = (np.asarray(grey).astype(np.uint32) << 16).astype(np.int32)
    found = {f"TIFF: {name}": (content, 1) for name, (content, _) in TIFFS.items()}
    found |= {
        "JPEG": (save(white, "JPEG", quality=90), 8),
        "JPEG of grey": (save(grey, "JPEG", quality=90), 8),
        "JPEG, progressive": (save(white, "JPEG", quality=90, progressive=True), 8),
        "JPEG with its profile": (save(white, "JPEG", quality=90, icc_profile=model_profile("RGB")), 8),
        "JPEG turned by its note": (save(white, "JPEG", quality=90, exif=turn(6)), 8),
        "JPEG with a note that turns nothing": (save(white, "JPEG", quality=90, exif=turn(1)), 8),
        "JPEG with a note that is none": (save(white, "JPEG", quality=90, exif=turn(9)), 8),
        "JPEG of inks": (save(cmyk, "JPEG", quality=90), 8),
        "JPEG of inks with their profile": (save(cmyk, "JPEG", quality=90, icc_profile=model_profile("CMYK")), 8),
        "JPEG of inks with another's profile": (save(cmyk, "JPEG", quality=90, icc_profile=model_profile("RGB")), 8),
        "JPEG of inks with half a profile": (
            save(cmyk, "JPEG", quality=90, icc_profile=model_profile("CMYK")[:300]),
            8,
        ),
        "JPEG with something behind it": (save(white, "JPEG", quality=90) + b"more", 8),
        "WebP": (save(art, "WEBP", lossless=True, exact=True), 1),
        "WebP, opaque": (save(white, "WEBP", lossless=True), 1),
        "WebP, turned": (save(white, "WEBP", lossless=True, exif=turn(3)), 1),
        "WebP that moves": (save(art, "WEBP", save_all=True, append_images=again, lossless=True), 1),
        "TIFF of several": (save(white, "TIFF", save_all=True, append_images=[white, white]), 1),
        "TIFF turned": (save(white, "TIFF", tiffinfo={0x112: 8}), 1),
        "TIFF of inks with their profile": (save(cmyk, "TIFF", icc_profile=model_profile("CMYK")), 8),
        "TIFF of L*a*b*": (save(white.convert("LAB"), "TIFF"), 1),
        "TIFF of fractions": (save(grey.convert("F"), "TIFF"), 1),
        "TIFF of 32-bit numbers": (save(Image.fromarray(deep), "TIFF"), 1),
        "TIFF of one bit by fax": (save(white.convert("1"), "TIFF", compression="group4"), 1),
        "TIFF with its profile": (save(white, "TIFF", icc_profile=srgb), 1),
        "AVIF": (save(art, "AVIF", quality=90), 16),
        "AVIF, opaque": (save(white, "AVIF", quality=90), 16),
        "PSD": (samples.psd(art), 1),
        "PSD, opaque": (samples.psd(white), 1),
        "PSD of grey": (samples.psd(grey), 1),
        "PNG": (save(art, "PNG"), 1),
        "GIF": (save(white, "GIF"), 1),
        "BMP": (save(white, "BMP"), 1),
    }
    return found


def show_other(content: bytes, step: int) -> str:
    """What Pillow itself shows of a file."""
    try:
        with Image.open(io.BytesIO(content)) as image:
            image.load()
            mode, pixels = image.mode, np.asarray(image.convert("RGB") if image.mode in ("P", "CMYK") else image)
    except Exception as error:
        return f"Pillow: {type(error).__name__}"
    if mode in ("F", "I", "LAB", "CMYK"):
        return f"Pillow {mode} {pixels.shape[1]}x{pixels.shape[0]}"
    return f"Pillow {mode} {pixels.shape[1]}x{pixels.shape[0]} {spell(pixels.astype(np.int64), step)}"


def test_files_of_every_kind(told: Told) -> None:
    for name, (content, step) in list_pictures().items():
        told.show(name, f"{show_other(content, step)}\n{describe_file(content, 'art', step)}")
    for orientation in ("apply", "ignore"):
        for kind in ("JPEG", "WEBP", "TIFF"):
            white = samples.flat(samples.drawn(24, 16))
            how = {"tiffinfo": {0x112: 6}} if kind == "TIFF" else {"exif": turn(6)}
            content = save(white, kind, **how)
            told.show(f"{kind} turned, {orientation}", describe_file(content, "art", 8, orientation=orientation))


@pytest.fixture
def few(monkeypatch: pytest.MonkeyPatch) -> None:
    """Renderings have a fifteenth of the pixels that they may have, so that the scene is quick."""
    for module in (resolution, svg, pdf):
        monkeypatch.setattr(module, "MOST_PIXELS", 4_000_000)


@pytest.mark.usefixtures("few")
def test_files_that_are_refused(told: Told, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(raster, "has_heic", lambda: False)
    white = samples.flat(samples.drawn(24, 16))
    jpeg, webp, avif = save(white, "JPEG"), save(white, "WEBP", lossless=True), save(white, "AVIF")
    frame = jpeg.index(b"\xff\xc0")
    scan = jpeg.index(b"\xff\xda")
    files = {
        "nothing": b"", "text": b"not a picture", "a page": b"<!DOCTYPE html><html></html>", "an archive": b"PK\3\4" + bytes(40),
        "a JPEG without an end": jpeg[:-2], "a JPEG cut in a part": jpeg[:30], "a JPEG of its first bytes": jpeg[:3],
        "a JPEG without a picture": jpeg[:2] + b"\xff\xd9", "a JPEG without its frame": jpeg[:frame] + jpeg[scan:],
        "a JPEG of many scans": jpeg[:scan] + jpeg[scan:-2] * 65 + b"\xff\xd9",
        "a JPEG of no height": jpeg[: frame + 5] + bytes(2) + jpeg[frame + 7 :],
        "a JPEG of another system": jpeg[: frame + 1] + b"\xc3" + jpeg[frame + 2 :],
        "a WebP without a size": webp[:12] + b"VP8?" + webp[16:], "a WebP cut": webp[:-40],
        "a WebP of a vast canvas": webp[:12] + b"VP8X\x0a\0\0\0\0\0\0\0" + b"\xff\xff\xff" * 2 + webp[12:],
        "an AVIF cut": avif[:-60], "a TIFF cut": save(white, "TIFF")[:60], "a TIFF of nothing": b"II*\0" + bytes(4),
        "a PSD cut": samples.psd(white)[:80], "a PSD of no kind known": b"8BPS\0\1" + bytes(40),
        "a blank JPEG": save(Image.new("RGB", (20, 20), "white"), "JPEG"), "a HEIC": b"\0\0\0\x18ftypheic" + bytes(40),
        "an SVG that is none": b"<svg></svg>", "an empty SVG": samples.svg(""), "a PDF that is none": b"%PDF-1.7\nnothing",
        "a locked PDF": samples.pdf(1, True), "a PDF of several pages": samples.pdf(3),
    }  # fmt: skip
    for name, content in files.items():
        told.show(name, describe_file(content, "art.file"))
    told.show("page 4 of three", describe_file(samples.pdf(3), "art.pdf", page=4))
    told.show("page 2 of one", describe_file(samples.pdf(), "art.pdf", page=2))
    for limit in (383, 384):
        for kind, content in (
            ("JPEG", jpeg),
            ("WebP", webp),
            ("AVIF", avif),
            ("PSD", samples.psd(white)),
            ("TIFF", save(white, "TIFF")),
        ):
            told.show(
                f"{kind} of 384 pixels where {limit} may be", describe_file(content, "art", 16, pixel_limit=limit)
            )


def draw_pdf(*draw: Any, width: float = 72, height: float = 48, **how: Any) -> bytes:
    with pymupdf.open() as document:
        page = document.new_page(width=width, height=height)
        for one in draw:
            one(page)
        return document.tobytes(no_new_id=True, **how)


@pytest.mark.usefixtures("few")
def test_drawings_that_are_rendered(told: Told) -> None:
    small = {"drawn_mm": (6.35, None)}  # a hundred pixels at 400 to the inch
    for name in ("clip", "mask", "css"):
        inner = samples.SVGS[name]
        told.show(f"SVG: {name}", describe_file(samples.svg(inner), "art.svg", 16, **small))
    file = (b'<?xml version="1.0" encoding="UTF-8"?><!DOCTYPE svg PUBLIC "-//W3C//DTD SVG 1.1//EN" "x.dtd">'
            b'<svg xmlns="http://www.w3.org/2000/svg" width="40mm" height="20mm"><path d="M9 9h40v20h-40z"/><script/></svg>')  # fmt: skip
    told.show("SVG with a head and a script", describe_file(file, "art.svg", 16, drawn_mm=(None, 6.35)))
    told.show(
        "SVG, a dot",
        describe_file(samples.svg('<circle cx="150" cy="150" r=".4" fill="#c00"/>'), "art.svg", 16, drawn_mm=(5, 5)),
    )
    pages = {
        "a box": draw_pdf(lambda page: page.draw_rect((9, 9, 40, 30), fill=(0.8, 0.1, 0.2), color=None)),
        "a box at the corner": draw_pdf(lambda page: page.draw_rect((0, 0, 40, 30), fill=(0, 0, 0.5), color=None)),
        "inks": draw_pdf(lambda page: page.draw_rect((9, 9, 40, 30), fill=(0.8, 0.1, 0.2, 0), color=None)),
        "letters": draw_pdf(lambda page: page.insert_text((9, 30), "Owl", fontsize=20)),
        "nothing": draw_pdf(),
        "a vast page": draw_pdf(width=14_401, height=20),
    }
    for name, content in pages.items():
        with pypdfium2.PdfDocument(content) as document:
            shown = document[0].render(scale=1).to_numpy() if name != "a vast page" else np.zeros((1, 1, 3))
        told.show(
            f"PDF: {name}",
            f"pdfium {shown.shape[1]}x{shown.shape[0]} {spell(shown[..., ::-1].astype(int), 16)}\n"
            + describe_file(content, "art.pdf", 16, **small),
        )
    told.show("PDF: page 2 of three", describe_file(samples.pdf(3), "art.pdf", 16, page=2, **small))
    halves = np.repeat(np.uint8([[[200, 30, 40]] * 20 + [[20, 60, 120]] * 12 + [[255, 255, 255]] * 8]), 40, axis=0)
    files = {
        "SVG": samples.svg(samples.SVGS["clip"]),
        "TIFF": tiff(halves, 2),
        "PNG": save(Image.fromarray(halves), "PNG"),
    }
    for name, content in files.items():
        found = list_file_colours(content, PreparationOptions(drawn_mm=(6.35, None)))
        lines = [f"{one.colour} {one.share:.2f}, profile of {len(one.icc or b'')} bytes" for one in found]
        told.show(f"colours of a {name}", "\n".join(lines))


def test_drawings_that_are_walked(told: Told) -> None:
    inside = base64.b64encode(samples.svg("<rect/>")).decode()
    nested = samples.svg("<rect/>")
    drawings: dict[str, bytes] = {}
    for deep in range(1, 5):
        nested = samples.svg(f'<image href="data:image/svg+xml;base64,{base64.b64encode(nested).decode()}"/>')
        drawings[f"drawings {deep} deep"] = nested
    for name, inner in {
        "plain": "<rect/>", "a link": '<a href="http://x.y/"><rect/></a>', "a part of its own": '<use href="#a"/>', "a picture outside": '<image href="a.png"/>',
        "a picture outside, by another name": '<image xlink:href="http://x.y/a.png"/>', "a picture inside": '<image href="data:image/png;base64,AAAA"/>',
        "a drawing inside": f'<image href="data:image/svg+xml;base64,{inside}"/>', "a drawing inside, plain": '<image href="data:image/svg+xml,%3Csvg/%3E"/>',
        "a broken drawing inside": '<image href="data:image/svg+xml;base64,A"/>', "a style": "<style>rect{fill:url(#a);font-family:'Owl Sans', serif}</style><text>a</text>",
        "a style from outside": "<style>@import 'a.css';</style>", "a style that refers": "<style>rect{fill:url( 'a.svg#b' )}</style>",
        "a style in letters of escape": "<style>rect{fill:u\\72l(a.svg)}</style>", "a style with a remark": "<style>rect{fi/* url(a) */ll:red}</style>",
        "an expression": '<rect style="width:expression(1)"/>', "a short font": '<text style="font:bold 12px/1.5 Owl, serif">a</text>',
        "typefaces": '<text font-family="Owl">a<tspan font-family="MONOSPACE">b</tspan><tspan font-family="inherit">c</tspan></text>',
        "what is not drawn": "<foreignObject/><animate/><set/><script/><video/><audio/><iframe/><canvas/>", "notes of a program": '<x:a xmlns:x="y" href="http://z/"/>',
        "a sheet outside": "<?xml-stylesheet href='a.css'?>", "another remark": "<?other a?>", "a filter from outside": '<rect filter="url(a.svg#b)"/>',
        "deep": "<g>" * 199 + "</g>" * 199, "too deep": "<g>" * 200 + "</g>" * 200, "not closed": "<g>", "an unknown word": "&owl;",
    }.items():  # fmt: skip
        drawings[name] = samples.svg(inner)
    plain = samples.SVG % "<text>ü</text>"
    drawings |= {
        "entities": b'<!DOCTYPE svg [<!ENTITY a "b">]>' + samples.svg("&a;"), "a list of nothing": b"<!DOCTYPE svg []>" + samples.svg(""),
        "UTF-16": plain.encode("utf-16"), "UTF-8 with a mark": plain.encode("utf-8-sig"), "Latin 1": b'<?xml version="1.0" encoding="iso-8859-1"?>' + plain.encode("latin-1"),
        "an encoding unheard of": b'<?xml version="1.0" encoding="owl"?>' + plain.encode(), "not its encoding": plain.encode("latin-1"),
        "another outermost part": b'<x xmlns="http://www.w3.org/2000/svg"/>', "of no kind": b"<svg/>", "nothing": b"",
    }  # fmt: skip
    for name, content in drawings.items():
        try:
            walked = walk_svg(content, "art.svg")
        except Trouble as trouble:
            told.show(
                name,
                "\n".join(f"{one.severity.value} {one.kind} exit {int(one.exit)}: {one}" for one in trouble.findings),
            )
            continue
        told.show(
            name,
            f"lettered {walked.lettered}, typefaces {sorted(walked.families)}, not drawn {sorted(walked.not_drawn)}, {len(walked.text)} letters: {walked.text[:60]}",
        )


def test_files_that_are_still_arriving(told: Told) -> None:
    white = samples.flat(samples.drawn(24, 16))
    files = {
        "PDF": samples.pdf(),
        "SVG": samples.svg(samples.SVGS["clip"]),
        "PSD": samples.psd(white),
        "PNG": save(white, "PNG"),
    }
    files |= {kind: save(white, kind) for kind in ("JPEG", "WEBP", "TIFF", "AVIF")}
    files["TIFF, the other way round"] = tiff(np.asarray(white), 2, order=">", pages=2)
    files["TIFF of several"] = save(white, "TIFF", save_all=True, append_images=[white])
    files["JPEG with much behind it"] = files["JPEG"] + bytes(3000)
    for name, content in files.items():
        lines = []
        kind = identify_file(content)
        for share in (1, 0.999, 0.9, 0.6, 0.3, 0.05):
            part = content[: int(len(content) * share)]
            look = find_missing_end(io.BytesIO(part), len(part), kind)
            said, steps = "", 0
            while True:
                try:
                    next(look)
                    steps += 1
                except StopIteration as stop:
                    said = stop.value
                    break
            # How long an encoder's file is depends on its version.
            lines.append(f"{share}: {said.replace(f'{len(part):,}', 'so many') or 'whole'}; {steps} steps")
        told.show(name, "\n".join(lines))


def test_marks_and_sizes(told: Told) -> None:
    def segment(mark: int, body: bytes) -> bytes:
        return bytes([0xFF, mark]) + (len(body) + 2).to_bytes(2, "big") + body

    grey, three = b"\x08\0\1\0\1\1\1\x11\0", b"\x08\0\1\0\1\3\1\x11\0\2\x11\0\3\x11\0"
    scan = segment(0xDA, b"\1\1\0\0\x3f\0") + b"data\xff\0\xff\xd0more"
    files = {
        "grey": segment(0xC0, grey) + scan, "three": segment(0xC1, three) + scan, "R, G and B": segment(0xC0, three.replace(b"\3\1\x11\0\2\x11\0\3\x11\0", b"\3R\x11\0G\x11\0B\x11\0")) + scan,
        "twelve bits": segment(0xC0, b"\x0c" + grey[1:]) + scan, "four": segment(0xC0, b"\x08\0\1\0\1\4" + b"\1\x11\0" * 4) + scan,
        "without loss": segment(0xC3, grey) + scan, "Y'CbCr by its note": segment(0xEE, b"Adobe\0\x64\0\0\0\0\1") + segment(0xC0, three) + scan,
        "RGB by its note": segment(0xEE, b"Adobe\0\x64\0\0\0\0\0") + segment(0xC0, three) + scan, "another note": segment(0xEE, b"Owls!\0\x64\0\0\0\0\0") + segment(0xC0, three) + scan,
        "progressive in part": segment(0xC2, grey) + scan.replace(b"\0\0\x3f\0", b"\0\0\0\0"), "progressive": segment(0xC2, grey) + scan,
        "progressive, last bits missing": segment(0xC2, grey) + scan.replace(b"\0\0\x3f\0", b"\0\0\x3f\1"),
        "remarks": segment(0xFE, b"hidden") + segment(0xE1, b"Exif") + segment(0xC0, grey) + segment(0xDD, b"\0\1") + scan, "no scan": segment(0xC0, grey),
        "64 scans": segment(0xC0, grey) + scan * 64, "65 scans": segment(0xC0, grey) + scan * 65, "a part of one": b"\xff\xe1\0\1",
    }  # fmt: skip
    for name, inner in files.items():
        content = b"\xff\xd8" + inner + b"\xff\xd9behind"
        kept = strip_jpeg(content)
        told.show(
            name,
            f"fault: {find_scan_fault(content) or 'none'}; kept: {kept.hex() if kept and len(kept) < 90 else kept and len(kept)}",
        )
    for chunk, data in ((b"VP8X", bytes(4) + b"\1\2\0\3\4\0"), (b"VP8X", bytes(9)), (b"VP8L", b"\x2f\xff\xc1\x3f\0"), (b"VP8L", b"\x2e" + bytes(4)),
                        (b"VP8L", b"\x2f\0\0\0"), (b"VP8 ", bytes(3) + b"\x9d\1\x2a\x10\x40\x20\x80"), (b"VP8 ", bytes(10)), (b"ALPH", bytes(20))):  # fmt: skip
        told.show(f"{chunk.decode()} {data.hex()}", str(read_webp_size(b"RIFF\0\0\0\0WEBP" + chunk + bytes(4) + data)))
    for wide, high in ((10, 20), (4000, 10)):
        told.show(
            f"{wide} by {high}",
            f"first zoom {choose_first_zoom(wide, high):.4f}, limit {limit_zoom(wide, high, 1e6):.4f}",
        )
    for size in ((100, None), (None, 100), (100, 100), (30, 100)):
        told.show(f"ink of 30 by 40 in {size}", f"zoom {choose_zoom((10, 20, 40, 60), size):.4f}")
