"""Which files are artwork: by their names and by their first bytes, in one table for all who ask.

First bytes are as the formats' own specifications and the IANA media type registrations give them.
"""

from __future__ import annotations

import re
from pathlib import Path
from typing import NamedTuple

from impose.errors import Finding
from impose.values import FrozenStruct

EXPORT = "Open it in the program that made it and export a PNG with a transparent background."
RESAVE = "Open it in an image editor and save it as PNG; saving cannot bring back what the format has already lost."
DRAWING = "Export it from a drawing program as PDF, SVG or PNG."

HEIC_REMEDY = (
    "Send it as JPEG: on the phone choose “Most Compatible” (iPhone: Settings, Camera, Formats) or share it as JPEG. "
    "Or install the reader: pip install pillow-heif."
)


class FileType(FrozenStruct):
    """A kind of file: its short `name`, what it is called, its endings, and how to make artwork of what is not taken.

    `taken` ones are converted; a `drawing` has no pixels of its own and is rendered at the size it is printed in.
    """

    name: str
    title: str
    endings: tuple[str, ...] = ()
    remedy: str = RESAVE
    taken: bool = False
    drawing: bool = False


PNG = FileType("PNG", "a PNG picture", (".png",), "", True)
JPEG = FileType("JPEG", "a JPEG photograph", (".jpg", ".jpeg", ".jpe", ".jfif"), RESAVE, True)
WEBP = FileType("WebP", "a WebP picture", (".webp",), RESAVE, True)
TIFF = FileType("TIFF", "a TIFF picture", (".tif", ".tiff"), RESAVE, True)
AVIF = FileType("AVIF", "an AVIF picture", (".avif",), RESAVE, True)
HEIC = FileType("HEIC", "a HEIC photograph", (".heic", ".heif", ".hif"), HEIC_REMEDY, True)
PSD = FileType("PSD", "a layered PSD document", (".psd",), EXPORT, True)
SVG = FileType("SVG", "an SVG drawing", (".svg",), DRAWING, True, True)
PDF = FileType("PDF", "a PDF document", (".pdf",), DRAWING, True, True)

TAKEN = (PNG, JPEG, WEBP, TIFF, AVIF, HEIC, PSD, SVG, PDF)
ENDINGS = tuple(ending for kind in TAKEN for ending in kind.endings)
"""How names of artwork end."""

IN_WORDS = f"{', '.join(kind.name for kind in TAKEN[:-1])} or {TAKEN[-1].name}"

_ARCHIVE = "Take the artwork out of it first; save a table as .xlsx or as CSV UTF-8."
_SIGNATURES: tuple[tuple[bytes, FileType], ...] = (
    (b"\x89PNG\r\n\x1a\n", PNG),
    (b"\xff\xd8\xff", JPEG),
    (b"II*\0", TIFF),
    (b"MM\0*", TIFF),
    (b"8BPS\0\1", PSD),
    (b"%PDF-", PDF),
    (b"GIF87a", FileType("GIF", "a GIF picture")),
    (b"GIF89a", FileType("GIF", "a GIF picture")),
    (b"%!PS", FileType("PostScript", "a PostScript file", (), DRAWING)),
    (b"\xc5\xd0\xd3\xc6", FileType("EPS", "an EPS file", (), DRAWING)),
    (b"8BPS\0\2", FileType("PSB", "a layered PSB document", (), EXPORT)),
    (b"II+\0", FileType("BigTIFF", "a BigTIFF picture")),
    (b"MM\0+", FileType("BigTIFF", "a BigTIFF picture")),
    (b"\0\0\x01\0", FileType("icon", "an icon file")),
    (b"\x8aMNG\r\n\x1a\n", FileType("MNG", "an MNG animation")),
    (b"\x8bJNG\r\n\x1a\n", FileType("JNG", "a JNG picture")),
    (b"\0\0\0\x0cjP  \r\n\x87\n", FileType("JPEG 2000", "a JPEG 2000 picture")),
    (b"\xff\x0a", FileType("JPEG XL", "a JPEG XL picture")),
    (b"\0\0\0\x0cJXL \r\n\x87\n", FileType("JPEG XL", "a JPEG XL picture")),
    (b"gimp xcf ", FileType("XCF", "a layered XCF document", (), EXPORT)),
    (b"BM", FileType("BMP", "a BMP picture")),
    (b"PK\x03\x04", FileType("ZIP", "a ZIP archive or an office or layered-picture document", (), _ARCHIVE)),
    (b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1", FileType("office", "an office document of an old format", (), _ARCHIVE)),
    (b"\x1f\x8b", FileType("gzip", "a gzip archive", (), "Unpack it first.")),
    (b"Rar!", FileType("RAR", "a RAR archive", (), _ARCHIVE)),
    (b"7z\xbc\xaf\x27\x1c", FileType("7z", "a 7z archive", (), _ARCHIVE)),
)
# Major brands: AVIF 1.1, section 6; ISO/IEC 23008-12, annex B.4.
_BRANDS = {b"avif": AVIF, b"avis": AVIF, b"heic": HEIC, b"heix": HEIC, b"heim": HEIC, b"heis": HEIC, b"hevc": HEIC}
_EMPTY = FileType("empty", "an empty file", (), "Save or copy the artwork again.")
_CHANGED = FileType(
    "changed PNG", "a PNG whose first bytes were changed on the way", (), "Copy or send it again as a binary file."
)
_PAGE = FileType("web page", "a web page", (), "Download the picture itself, not the page that shows it.")
_TEXT = FileType("text", "a text file", (), "Give the picture's own file.")
_UNKNOWN = FileType("unknown", "not a picture this program knows", (), "Export the artwork as PNG.")

HEAD = 4096
"""Bytes at a file's start that tell its kind; an SVG may open with a comment."""


def is_artwork(name: str) -> bool:
    """Whether a file's name is that of artwork."""
    return name.casefold().endswith(ENDINGS)


def is_readable(head: bytes) -> bool:
    """Whether a file that begins so is of a kind that is read."""
    return identify_file(head).taken


def identify_file(content: bytes) -> FileType:
    """What a file is, by its first bytes."""
    head = bytes(content[:HEAD])
    if not head:
        return _EMPTY
    for signature, found in _SIGNATURES:
        if head.startswith(signature):
            return found
    if b"PNG" in head[:5] or b"IHDR" in head[:24]:
        return _CHANGED
    if head[:4] == b"RIFF" and head[8:12] == b"WEBP":
        return WEBP
    if head[4:8] == b"ftyp":
        return _identify_by_brand(head)
    return PDF if b"%PDF-" in head[:1024] else _identify_by_text(head)


def _identify_by_brand(head: bytes) -> FileType:
    """By the major brand; the structural brands `mif1` and `msf1` leave it to the compatible ones."""
    length = min(int.from_bytes(head[:4], "big"), len(head))
    brands = [head[8:12], *(head[at : at + 4] for at in range(16, length - 3, 4))]
    if head[8:12] in (b"mif1", b"msf1", b"miaf"):
        return next((_BRANDS[brand] for brand in brands if brand in _BRANDS), HEIC)
    return _BRANDS.get(head[8:12], FileType("film", "a film", (), RESAVE))


_ROOT = re.compile(r"<(?:[\w.-]+:)?svg[\s>/]", re.IGNORECASE)


def _identify_by_text(head: bytes) -> FileType:
    start = head
    if head.startswith((b"\xff\xfe", b"\xfe\xff")):
        start = head[: len(head) // 2 * 2].decode("utf-16", "replace").encode()
    start = start.lstrip(b"\xef\xbb\xbf \t\r\n").lower()
    if start.startswith((b"<!doctype html", b"<html")):
        return _PAGE
    if start.startswith((b"<?xml", b"<!--", b"<!doctype svg", b"<")) and _ROOT.search(start.decode("latin-1")):
        return SVG
    if start and all(c in b"\t\r\n\f" or 32 <= c < 127 for c in head[:2000]):
        return _TEXT
    return _UNKNOWN


MENDS = ("clean-haze", "drop-specks", "ground")
"""What may be mended in a picture, as the column and the option `mend` name it."""


class ColourChange(NamedTuple):
    """A flat colour and what takes its place, both sRGB as `#RRGGBB`; `patch` is the number it was chosen by, or 0."""

    before: str
    after: str
    patch: int = 0


class Asked(NamedTuple):
    """What is asked of one file of artwork: its page, its mends, and of a drawing the size of its ink, millimetres.

    `drawn_mm` are a width and a height to fit inside, either of them None where the other decides; `recolour` are the
    flat colours that others take the place of.
    """

    path: Path
    page: int | None = None
    mend: frozenset[str] = frozenset()
    drawn_mm: tuple[float | None, float | None] | None = None
    recolour: tuple[ColourChange, ...] = ()


MOST_PAGE = 9999
"""The highest page that a name can ask for."""


def parse_page_name(name: str) -> tuple[str, int] | None:
    """The file and the page of a name such as `poster.pdf#2`; None where none is named.

    Only after `.pdf`: elsewhere `#2` is part of a name.
    """
    found = re.fullmatch(r"(.*\.pdf)#([1-9][0-9]{0,3})", name, re.IGNORECASE | re.DOTALL)
    return (found[1], int(found[2])) if found else None


def describe_foreign_file(content: bytes, name: str = "") -> Finding:
    """The finding for a file without a PNG's first eight bytes: what it is, and how to convert it."""
    found = identify_file(content)
    if found.title.startswith("a PNG"):
        return Finding(f"this is {found.title}", found.remedy, kind="damaged", file=name)
    what = f"this is {found.title}, {'not a PNG' if found.taken else f'and artwork must be {IN_WORDS}'}"
    return Finding(what, found.remedy, kind="foreign-format", file=name)
