"""One face embedded in a PDF: a Type 0 font whose codes are glyph numbers (ISO 32000-2, 9.7).

Identity-H, so that shaped text is drawn exactly as measured; outlines subset to the glyphs used; a ToUnicode
map for search and copy. Everything is ordered by glyph number, so the same glyphs give the same bytes.
"""

from __future__ import annotations

import hashlib
import re
import struct
from collections.abc import Mapping, Sequence

from impose.pages.pdf.pdf_file import PdfFile
from impose.type.shaping import FontFace


def write_font(document: PdfFile, face: FontFace, widths: Mapping[int, float], texts: Mapping[int, str]) -> int:
    """Write the Type 0 font with its descendant, descriptor, outlines and ToUnicode map; returns its object.

    `widths` are the glyphs used, with their advances in thousandths of an em as the page's positions assume
    them; `texts` what each reads as.
    """
    program, subtype = _choose_font_program(face.subset_font(widths))
    bare = subtype == "CIDFontType0C"
    name = f"{_subset_tag(program)}+{re.sub('[^A-Za-z0-9-]', '', face.name) or 'Face'}"
    file = document.add_stream(f"/Subtype /{subtype}" if bare else f"/Length1 {len(program)}", program)
    descriptor = document.add_object(
        _encode_descriptor(name, face, f"/{'FontFile3' if bare else 'FontFile2'} {file} 0 R")
    )
    kind = "CIDFontType0" if bare else "CIDFontType2 /CIDToGIDMap /Identity"
    descendant = document.add_object(
        f"<</Type /Font /Subtype /{kind} /BaseFont /{name} /FontDescriptor {descriptor} 0 R "
        "/CIDSystemInfo <</Registry (Adobe) /Ordering (Identity) /Supplement 0>> "
        f"/DW 1000 /W [{_encode_widths(sorted(widths.items()))}]>>",
    )
    to_unicode = document.add_stream("", _encode_to_unicode(texts))
    # 9.7.6.2: the name of a Type 0 font over a CFF descendant takes the CMap's name after it.
    return document.add_object(
        f"<</Type /Font /Subtype /Type0 /BaseFont /{name}{'-Identity-H' if bare else ''} "
        f"/Encoding /Identity-H /DescendantFonts [{descendant} 0 R] /ToUnicode {to_unicode} 0 R>>",
    )


def encode_width_number(value: float) -> str:
    """A PDF number with at most four decimals: a ten-thousandth of a point is 35 nanometres."""
    text = f"{value:.4f}".rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text


def _choose_font_program(subset: bytes) -> tuple[bytes, str]:
    """What the PDF embeds of an OpenType file: the bare CFF table, or the TrueType file as it is."""
    count = struct.unpack(">H", subset[4:6])[0]
    for i in range(count):
        tag, _, offset, length = struct.unpack(">4sIII", subset[12 + 16 * i : 28 + 16 * i])
        if tag == b"CFF ":
            return subset[offset : offset + length], "CIDFontType0C"
    return subset, "TrueType"


def _subset_tag(program: bytes) -> str:
    """Six letters for the subset, from its content: same glyphs, same name (ISO 32000-2, 9.9.2)."""
    number = int.from_bytes(hashlib.sha256(program).digest()[:8], "big")
    letters = ""
    for _ in range(6):
        number, digit = divmod(number, 26)
        letters += chr(65 + digit)
    return letters


def _encode_descriptor(name: str, face: FontFace, file: str) -> str:
    box = [round(v * 1000 / face.units_per_em) for v in struct.unpack(">4h", face.read_table("head")[36:44])]
    serif = 2 if "Serif" in face.name else 0
    # Symbolic (4): the codes are glyph numbers. StemV is not known from the file; 80 is a usual value of a
    # regular weight (common practice, no source) and counts only where a reader substitutes another font.
    return (
        f"<</Type /FontDescriptor /FontName /{name} /Flags {4 | serif} /FontBBox [{' '.join(map(str, box))}] "
        f"/ItalicAngle 0 /Ascent {box[3]} /Descent {box[1]} /CapHeight {round(face.ascent * 1000)} "
        f"/StemV 80 {file}>>"
    )


def _encode_widths(pairs: Sequence[tuple[int, float]]) -> str:
    """The W array: runs of neighbouring glyph numbers with their widths (ISO 32000-2, 9.7.4.3)."""
    parts: list[str] = []
    for i, (gid, width) in enumerate(pairs):
        if i == 0 or pairs[i - 1][0] != gid - 1:
            parts.append(f"{'] ' if parts else ''}{gid} [")
        else:
            parts.append(" ")
        parts.append(encode_width_number(width))
    return "".join(parts) + "]"


def _encode_to_unicode(texts: Mapping[int, str]) -> bytes:
    """The ToUnicode map (ISO 32000-2, 9.10.3); at most 100 entries a block, as the CMap format asks."""
    # A part of a letter reads as nothing; without an entry a reader would make up a character from the code.
    entries = [(gid, text or "\u200b") for gid, text in sorted(texts.items())]
    blocks: list[str] = []
    for start in range(0, len(entries), 100):
        part = entries[start : start + 100]
        rows = "\n".join(f"<{gid:04x}> <{text.encode('utf-16-be').hex()}>" for gid, text in part)
        blocks.append(f"{len(part)} beginbfchar\n{rows}\nendbfchar\n")
    return (
        "/CIDInit /ProcSet findresource begin\n12 dict begin\nbegincmap\n"
        "/CIDSystemInfo <</Registry (Adobe) /Ordering (UCS) /Supplement 0>> def\n"
        "/CMapName /Adobe-Identity-UCS def\n/CMapType 2 def\n"
        "1 begincodespacerange\n<0000> <ffff>\nendcodespacerange\n"
        f"{''.join(blocks)}endcmap\nCMapName currentdict /CMap defineresource pop\nend\nend\n"
    ).encode("ascii")
