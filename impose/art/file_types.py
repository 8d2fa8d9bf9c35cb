"""Names what a file is when it is not a PNG, and says how to make a PNG of it."""

from __future__ import annotations

from impose.errors import Finding

EXPORT = "Open it in the program that made it and export a PNG with a transparent background."
RESAVE = "Open it in an image editor and save it as PNG; saving cannot bring back what the format has already lost."
DRAWING = "Export it from a drawing program as PNG, large enough for 300 pixels an inch at the printed size."

# First bytes as the formats' own specifications and the IANA media type registrations give them.
_SIGNATURES: tuple[tuple[bytes, str, str], ...] = (
    (b"\xff\xd8\xff", "a JPEG photograph", RESAVE),
    (b"GIF87a", "a GIF picture", RESAVE),
    (b"GIF89a", "a GIF picture", RESAVE),
    (b"%PDF-", "a PDF document", DRAWING),
    (b"%!PS", "a PostScript file", DRAWING),
    (b"\xc5\xd0\xd3\xc6", "an EPS file", DRAWING),
    (b"8BPS", "a layered PSD document", EXPORT),
    (b"II*\0", "a TIFF picture", RESAVE),
    (b"MM\0*", "a TIFF picture", RESAVE),
    (b"II+\0", "a BigTIFF picture", RESAVE),
    (b"MM\0+", "a BigTIFF picture", RESAVE),
    (b"\0\0\x01\0", "an icon file", RESAVE),
    (b"\x8aMNG\r\n\x1a\n", "an MNG animation", RESAVE),
    (b"\x8bJNG\r\n\x1a\n", "a JNG picture", RESAVE),
    (b"\0\0\0\x0cjP  \r\n\x87\n", "a JPEG 2000 picture", RESAVE),
    (b"\xff\x0a", "a JPEG XL picture", RESAVE),
    (b"\0\0\0\x0cJXL \r\n\x87\n", "a JPEG XL picture", RESAVE),
    (b"gimp xcf ", "a layered XCF document", EXPORT),
    (b"BM", "a BMP picture", RESAVE),
    (b"PK\x03\x04", "a ZIP archive or an office or layered-picture document", "Take the PNG out of it first."),
    (b"\x1f\x8b", "a gzip archive", "Unpack it first."),
    (b"Rar!", "a RAR archive", "Take the PNG out of it first."),
    (b"7z\xbc\xaf\x27\x1c", "a 7z archive", "Take the PNG out of it first."),
)

_BRANDS = {b"heic": "a HEIC photograph", b"heix": "a HEIC photograph", b"mif1": "a HEIF photograph"}


def describe_foreign_file(content: bytes, name: str = "") -> Finding:
    """The finding for a file without a PNG's first eight bytes: what it is, and how to convert it."""
    what, remedy = _identify_bytes(content)
    kind = "damaged" if what.startswith("a PNG") else "foreign-format"
    return Finding(f"this is {what}, and artwork must be PNG", remedy, kind=kind, file=name)


def _identify_bytes(content: bytes) -> tuple[str, str]:
    if not content:
        return "an empty file", "Save or copy the artwork again."
    if b"PNG" in content[:5] or b"IHDR" in content[:24]:
        return "a PNG whose first bytes were changed on the way", "Copy or send it again as a binary file."
    for signature, what, remedy in _SIGNATURES:
        if content.startswith(signature):
            return what, remedy
    if content[:4] == b"RIFF" and content[8:12] == b"WEBP":
        return "a WebP picture", RESAVE
    if content[4:8] == b"ftyp":
        brand = bytes(content[8:12])
        return ("an AVIF picture" if brand in (b"avif", b"avis") else _BRANDS.get(brand, "a film")), RESAVE
    return _identify_text(content)


def _identify_text(content: bytes) -> tuple[str, str]:
    start = content[:2000].lstrip(b"\xef\xbb\xbf \t\r\n").lower()
    if b"<svg" in start and start.startswith(b"<"):
        return "an SVG drawing", DRAWING
    if start.startswith((b"<!doctype html", b"<html")):
        return "a web page", "Download the picture itself, not the page that shows it."
    if start and all(c in b"\t\r\n\f" or 32 <= c < 127 for c in content[:2000]):
        return "a text file", "Give the picture's own file."
    return "not a picture this program knows", "Export the artwork as PNG."
