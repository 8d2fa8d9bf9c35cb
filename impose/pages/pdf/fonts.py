"""Fonts for lettering: where the faces come from, and how they are embedded in a PDF.

The faces are those that ship inside PyMuPDF: Noto (SIL Open Font License 1.1) for all scripts but Chinese,
Japanese and Korean, and Droid Sans Fallback (Apache License 2.0) for those. A shop's own font files may be
put before them.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable, Iterator, Sequence
from pathlib import Path
from typing import Any

from impose.errors import Exit, Finding, Trouble
from impose.pages.pdf.type0 import number, write_font
from impose.sheet.lettering import Glyph, Lettering, Line, Run
from impose.sheet.shaping import INVISIBLE, Face

_OPENTYPE = (b"OTTO", b"\x00\x01\x00\x00", b"true")
_DIRECTIONS = {0: (1, 0, 0, 1), 90: (0, 1, -1, 0), 180: (-1, 0, 0, -1), 270: (0, -1, 1, 0)}


class ShippedFonts:
    """A `FontSource` of the faces inside PyMuPDF, with the shop's own font files before them.

    Noto Serif comes first for everyday text. At 5 to 7 pt with ink spread it keeps I, l, 1, O and 0 apart and
    its counters open where the sans faces at hand close up; it has Latin with every diacritic, Greek and
    Cyrillic.
    """

    def __init__(self, own: Sequence[Path] = (), own_first: bool = False) -> None:
        """`own` are OpenType files, tried for what Noto Serif lacks, or before it with `own_first`.

        Raises `Trouble` naming every file that cannot be read or is not a font that can be embedded.
        """
        self._files: dict[str, bytes] = {}
        self._fonts: dict[str, Any] = {}
        self._found: dict[str, str | None] = {}
        self._own = _opened(own)
        self._base = _noto_serif()
        shipped = self._keep(self._base)
        if shipped is None:
            raise RuntimeError("PyMuPDF came without its Noto fonts")
        self._files.update({face.name: face.data for face in self._own})
        self.primary = self._own[0].name if own_first and self._own else shipped
        self._shipped = shipped

    def face_for(self, char: str) -> str | None:
        """A face that has this character: the shop's own in order, then the shipped one for its script."""
        if char not in self._found:
            own = next((face.name for face in self._own if char in face.coverage), None)
            self._found[char] = own or self._shipped_face(char)
        return self._found[char]

    def data(self, face: str) -> bytes:
        """The OpenType file of a face that `primary` or `face_for` has named."""
        if face not in self._files:
            self._files[face] = _bytes_of(self._fonts[face])
        return self._files[face]

    def _shipped_face(self, char: str) -> str | None:
        from pymupdf import mupdf

        gid, font = mupdf.fz_encode_character_with_fallback(self._base, ord(char), 0, 0)
        return self._keep(font) if gid else None

    def _keep(self, font: Any) -> str | None:
        """Remember a MuPDF font by its name; None for those of its fonts that are not OpenType files."""
        from pymupdf import mupdf

        name = str(mupdf.fz_font_name(font))
        if name not in self._fonts:
            data = _bytes_of(font)
            if not data.startswith(_OPENTYPE):
                return None
            self._fonts[name], self._files[name] = font, data
        return name


def _noto_serif() -> Any:
    from pymupdf import mupdf

    return mupdf.fz_load_fallback_font(mupdf.UCDN_SCRIPT_LATIN, mupdf.FZ_LANG_UNSET, 1, 0, 0)


def _bytes_of(font: Any) -> bytes:
    from pymupdf import mupdf

    buffer = mupdf.FzBuffer(mupdf.ll_fz_keep_buffer(font.m_internal.buffer))
    return bytes(mupdf.fz_buffer_extract_copy(buffer))


def _opened(paths: Sequence[Path]) -> tuple[Face, ...]:
    faces: list[Face] = []
    troubles: list[Finding] = []
    for path in paths:
        try:
            faces.append(Face(path.stem, path.read_bytes()))
        except OSError as error:
            troubles.append(_refused(path, f"The font file cannot be read: {error.strerror}", Exit.SYSTEM))
        except ValueError:
            troubles.append(_refused(path, "The file is not a font that can be embedded", Exit.USAGE))
    if troubles:
        raise Trouble(troubles)
    return tuple(faces)


def _refused(path: Path, what: str, exit_code: Exit) -> Finding:
    remedy = "Give a .ttf or .otf file whose licence allows embedding, or none to use the shipped fonts."
    return Finding(what, remedy, kind="font", file=str(path), exit=exit_code)


class _Used:
    """What a document uses of one face: resource name, glyphs, their widths, what they read as."""

    def __init__(self, face: Face, resource: str) -> None:
        self.face = face
        self.resource = resource
        self.texts: dict[int, str] = {}
        self.widths: dict[int, float] = {}

    def width(self, gid: int) -> float:
        """Note that a glyph is drawn; its width in thousandths of an em, as the embedded font will give it."""
        if gid not in self.widths:
            self.widths[gid] = round(self.face.width(gid) * 1000, 2)
        return self.widths[gid]

    def reads(self, glyphs: Sequence[Glyph]) -> str:
        """What the glyphs of one cluster read as, glyph by glyph: a glyph keeps the first text it stood for."""
        text = "".join(c for c in glyphs[0].text if c not in INVISIBLE)
        for gid, *_ in glyphs:
            if gid not in self.texts:
                self.texts[gid] = self._reading(gid, text, alone=len(glyphs) == 1)
        return "".join(self.texts[glyph.gid] for glyph in glyphs)

    def _reading(self, gid: int, text: str, alone: bool) -> str:
        """The character it pictures, if it is one of the text; the text, if it says that alone; else nothing.

        A bracket in a run from right to left pictures its mirror image, and reads as what is seen.
        """
        if self.face.is_picture_of(gid, text):
            return next(c for c in text if self.face.is_picture_of(gid, c))
        mirrored = any(unicodedata.mirrored(c) for c in text)
        return text if alone and not mirrored else self.face.char_of(gid)


class FontBook:
    """The fonts of one PDF document: draws lines now, embeds what they used at the end.

    Faces get their names and objects in order of first use, so the same calls give the same bytes.
    """

    def __init__(self, document: Any, lettering: Lettering) -> None:
        self._document = document
        self._lettering = lettering
        self._faces: dict[str, _Used] = {}
        self._done = False

    def text_operators(self, line: Line, x_pt: float, y_pt: float, size_pt: float, angle: int = 0) -> bytes:
        """Content-stream operators that draw `line`, in the current fill colour.

        `x_pt`, `y_pt` is the start of the baseline in points, y upwards; `size_pt` one em; `angle` (0, 90,
        180 or 270) turns the text counter-clockwise about that start. Draws nothing for an empty line.
        """
        if angle not in _DIRECTIONS:
            raise ValueError(f"text is set at 0, 90, 180 or 270 degrees, not {angle}")
        if not line.runs:
            return b""
        a, b, c, d = _DIRECTIONS[angle]
        parts = [f"BT {a} {b} {c} {d} {number(x_pt)} {number(y_pt)} Tm"]
        pen = _Pen(size_pt)
        for run in line.runs:
            parts += pen.run(self._face(run.face), run)
        parts.append(pen.end())
        return "\n".join(parts).encode("ascii")

    def embed(self) -> str:
        """Write every face used, once, when all pages are drawn.

        Returns the entries of the /Font resource dictionary: '/L1 7 0 R /L2 9 0 R', or nothing.
        """
        self._done = True
        entries = []
        for used in self._faces.values():
            xref = write_font(self._document, used.face, used.widths, used.texts)
            entries.append(f"/{used.resource} {xref} 0 R")
        return " ".join(entries)

    def _face(self, name: str) -> _Used:
        if self._done:
            raise RuntimeError("a line was drawn after the fonts were embedded")
        if name not in self._faces:
            self._faces[name] = _Used(self._lettering.face(name), f"L{len(self._faces) + 1}")
        return self._faces[name]


class _Pen:
    """Turns glyphs into show operators, keeping every glyph where shaping put it.

    Glyphs that do not read as their text by themselves (Indic vowel signs that change places) are marked with it
    as ActualText (ISO 32000-2, 14.9.4). Not in a run from right to left, where readers turn it round.
    """

    def __init__(self, size_pt: float) -> None:
        self._size = size_pt
        self._font = ""
        self._rise = 0.0
        self._shown: list[str] = []
        self._ahead = 0.0  # how far the PDF's pen is ahead of the shaped one, in thousandths of an em

    def run(self, face: _Used, run: Run) -> list[str]:
        """The operators for one run."""
        parts: list[str] = []
        if face.resource != self._font:
            parts.append(f"/{face.resource} {number(self._size)} Tf")
            self._font = face.resource
        for cluster in _clusters(run.glyphs):
            text = "".join(c for c in cluster[0].text if c not in INVISIBLE)
            if face.reads(cluster) == text or (run.right_to_left and _turned_by_readers(text)):
                self._draw(parts, face, cluster)
            else:
                self._flush(parts)
                parts.append(f"/Span <</ActualText <feff{text.encode('utf-16-be').hex()}>>> BDC")
                self._draw(parts, face, cluster)
                self._flush(parts)
                parts.append("EMC")
        self._flush(parts)
        return parts

    def end(self) -> str:
        """The end of the text object; the rise would outlast it, so it is put back."""
        return "0 Ts ET\n" if self._rise else "ET\n"

    def _draw(self, parts: list[str], face: _Used, glyphs: Iterable[Glyph]) -> None:
        for glyph in glyphs:
            if glyph.dy != self._rise:
                self._flush(parts)
                parts.append(f"{number(glyph.dy * self._size)} Ts")
                self._rise = glyph.dy
            step = round(self._ahead - glyph.dx * 1000)
            if step:
                self._shown.append(f"> {step} <")
            self._shown.append(f"{glyph.gid:04x}")
            self._ahead += face.width(glyph.gid) - glyph.advance * 1000 - step

    def _flush(self, parts: list[str]) -> None:
        """A TJ array of what waits: glyph codes in hexadecimal strings, moves between them."""
        if self._shown:
            parts.append(f"[<{''.join(self._shown)}>] TJ".replace("<>", ""))
            self._shown = []


def _turned_by_readers(text: str) -> bool:
    """What a reader would turn round, were it given as the text of a run from right to left."""
    return len(text) > 1 or any(unicodedata.mirrored(c) for c in text)


def _clusters(glyphs: Sequence[Glyph]) -> Iterator[Sequence[Glyph]]:
    """Glyphs that stand for one piece of text together: the first carries it, the rest carry none."""
    start = 0
    for end in range(1, len(glyphs) + 1):
        if end == len(glyphs) or glyphs[end].text:
            yield glyphs[start:end]
            start = end
