"""Fonts for lettering: where the faces come from, and how they are embedded in a PDF.

The faces are those that ship inside PyMuPDF: Noto (SIL Open Font License 1.1) for all scripts but Chinese,
Japanese and Korean, and Droid Sans Fallback (Apache License 2.0) for those. A shop's own font files may be
put before them.
"""

from __future__ import annotations

import struct
import unicodedata
from collections.abc import Iterable, Iterator, Sequence
from contextlib import ExitStack
from functools import lru_cache
from importlib import resources
from pathlib import Path
from typing import Any
from weakref import WeakKeyDictionary

from impose.errors import Exit, Finding, Trouble
from impose.pages.pdf import LIBRARY
from impose.pages.pdf.pdf_file import PdfFile
from impose.pages.pdf.type0 import encode_width_number, write_font
from impose.type.lettering import GlyphRun, ShapedGlyph, ShapedLine, TextShaper
from impose.type.shaping import FontFace

# A package of Noto fonts (SIL Open Font License 1.1); the emoji inside PyMuPDF end with Unicode 6.1 (2012).
_EMOJI_PACKAGE = "manimgx_fonts"
_EMOJI_FILE = "NotoEmoji[wght].ttf"
_READING_PACKAGE = "font_source_sans_pro"
_READING_FILES = ("SourceSansPro-Regular.ttf", "SourceSansPro-Bold.ttf")
_OPENTYPE = (b"OTTO", b"\x00\x01\x00\x00", b"true")
_DIRECTIONS = {0: "1 0 0 1", 90: "0 1 -1 0", 180: "-1 0 0 -1", 270: "0 -1 1 0"}
_KEPT_MOST = 4096
_PLAIN: WeakKeyDictionary[FontFace, dict[GlyphRun, str]] = WeakKeyDictionary()
"""What draws the runs of a face that came up last, the same whatever the document."""


class ShippedFonts:
    """A `FontSource` of the faces inside PyMuPDF, with the shop's own font files before them.

    Noto Serif comes first for everyday text. At 5 to 7 pt with ink spread it keeps I, l, 1, O and 0 apart and
    its counters open where the sans faces at hand close up; it has Latin with every diacritic, Greek and
    Cyrillic.
    """

    def __init__(self, own: Sequence[Path | FontFace] = (), own_first: bool = False, newer_emoji: bool = True) -> None:
        """`own` are OpenType files or open faces, tried for what Noto Serif lacks, or before it with `own_first`.

        `newer_emoji` lets the optional package of a newer Noto Emoji, if it is installed, draw what is left.
        Raises `Trouble` naming every file that cannot be read or is not a font that can be embedded.
        """
        self._own = _open_faces(own)
        with LIBRARY:
            self._open_fonts(own_first, newer_emoji)

    def _open_fonts(self, own_first: bool, newer_emoji: bool) -> None:
        import pymupdf

        # The owning wrapper: the library's loader of fallback fonts hands out references it does not count.
        self._base = pymupdf.Font(script=pymupdf.mupdf.UCDN_SCRIPT_LATIN).this
        self._files: dict[str, bytes] = {}
        self._found: dict[str, str | None] = {}
        shipped = self._keep_font(self._base)
        if shipped is None:
            raise RuntimeError("PyMuPDF came without its Noto fonts")
        self._last: tuple[FontFace, ...] | None = None if newer_emoji else ()
        self._files.update({face.name: face.data for face in self._own})
        self.primary = self._own[0].name if own_first and self._own else shipped

    def face_for(self, char: str) -> str | None:
        """A face that has this character: the shop's own in order, then the shipped one for its script."""
        if char not in self._found:
            with LIBRARY:
                self._found[char] = (
                    _find_face_with(char, self._own) or self._shipped_face(char) or self._emoji_face(char)
                )
        return self._found[char]

    def font_data(self, face: str) -> bytes:
        """The OpenType file of a face that `primary` or `face_for` has named."""
        return self._files[face]

    def _shipped_face(self, char: str) -> str | None:
        from pymupdf import mupdf

        gid, font = mupdf.fz_encode_character_with_fallback(self._base, ord(char), 0, 0)
        return self._keep_font(font) if gid else None

    def _emoji_face(self, char: str) -> str | None:
        """The newer emoji's face if it has the character; opened here, since hardly a batch asks for it."""
        if self._last is None:
            self._last = _find_newer_emoji()
            self._files.update({face.name: face.data for face in self._last})
        return _find_face_with(char, self._last)

    def _keep_font(self, font: Any) -> str | None:
        """Remember a MuPDF font by its name; None for those of its fonts that are not OpenType files."""
        from pymupdf import mupdf

        name = str(mupdf.fz_font_name(font))
        if name not in self._files:
            data = _read_font_bytes(font)
            if not data.startswith(_OPENTYPE):
                return None
            self._files[name] = data
        return name


class _WithFirst:
    """The faces of a source, with another of them first."""

    def __init__(self, source: ShippedFonts, primary: str) -> None:
        self._source, self.primary = source, primary

    def face_for(self, char: str) -> str | None:
        return self._source.face_for(char)

    def font_data(self, face: str) -> bytes:
        return self._source.font_data(face)


@lru_cache(maxsize=1)
def open_reading_faces() -> tuple[TextShaper, TextShaper]:
    """Lettering for pages that are read at arm's length, regular and bold: Source Sans (SIL Open Font License 1.1).

    What it lacks comes from the shipped faces. Kept, since opening fonts takes longer than writing a page.
    """
    folder = resources.files(_READING_PACKAGE) / "files"
    with ExitStack() as held:
        files = [held.enter_context(resources.as_file(folder / name)) for name in _READING_FILES]
        source = ShippedFonts(files, own_first=True)
    return TextShaper(source), TextShaper(_WithFirst(source, Path(_READING_FILES[1]).stem))


def _read_font_bytes(font: Any) -> bytes:
    from pymupdf import mupdf

    buffer = mupdf.FzBuffer(mupdf.ll_fz_keep_buffer(font.m_internal.buffer))
    return bytes(mupdf.fz_buffer_extract_copy(buffer))


def _find_face_with(char: str, faces: Iterable[FontFace]) -> str | None:
    return next((face.name for face in faces if char in face.coverage), None)


def _find_newer_emoji() -> tuple[FontFace, ...]:
    """The one-colour Noto Emoji of the optional package, if it is there; never a reason to fail."""
    try:
        file = resources.files(_EMOJI_PACKAGE) / _EMOJI_FILE
        return (FontFace("Noto Emoji newer", file.read_bytes()),)
    except (ImportError, OSError, ValueError):
        return ()


def _open_faces(paths: Sequence[Path | FontFace]) -> tuple[FontFace, ...]:
    faces: list[FontFace] = []
    troubles: list[Finding] = []
    for path in paths:
        if isinstance(path, FontFace):
            faces.append(path)
            continue
        again = sum(face.name.split("#")[0] == path.stem for face in faces)
        try:
            face = FontFace(f"{path.stem}#{again + 1}" if again else path.stem, path.read_bytes())
        except OSError as error:
            troubles.append(_make_refusal(path, f"the font file cannot be read: {error.strerror}", Exit.SYSTEM))
        except ValueError:
            troubles.append(_make_refusal(path, "the file is not a TrueType or OpenType font", Exit.USAGE))
        else:
            rights = _read_rights(face)
            if rights is None:
                troubles.append(_make_refusal(path, "the font file is damaged: its table OS/2 ends early", Exit.USAGE))
            elif rights & 0xF == 2:  # Restricted License embedding (OpenType, OS/2 table, fsType bits 0-3)
                troubles.append(_make_refusal(path, "the font's licence forbids embedding it", Exit.USAGE))
            faces.append(face)
    if troubles:
        raise Trouble(troubles)
    return tuple(faces)


def _read_rights(face: FontFace) -> int | None:
    """What the font says of embedding (OS/2 table, fsType); 0, all rights, without the table; None if it is cut."""
    if "OS/2" not in face.tables:
        return 0
    found = face.read_table("OS/2")[8:10]
    return int(struct.unpack(">H", found)[0]) if len(found) == 2 else None


def _make_refusal(path: Path, what: str, exit_code: Exit) -> Finding:
    remedy = "Give a .ttf or .otf file that may be embedded, or none to use the shipped fonts."
    return Finding(what, remedy, kind="font", file=str(path), exit=exit_code)


class _UsedFace:
    """What a document uses of one face: resource name, glyphs, their widths, what they read as."""

    def __init__(self, face: FontFace, resource: str) -> None:
        self.face = face
        self.resource = resource
        self.texts: dict[int, str] = {}
        self.widths: dict[int, float] = {}

    def note_cluster(self, glyphs: Sequence[ShapedGlyph]) -> str:
        """Note the glyphs of one cluster, and give what they read as: a glyph keeps the first text it had."""
        for glyph in glyphs:
            if glyph.gid not in self.texts:
                # As the W array will say it: positions are worked out against the rounded width.
                self.widths[glyph.gid] = round(self.face.advance_width(glyph.gid) * 1000, 2)
                self.texts[glyph.gid] = self._choose_reading(glyph.gid, glyphs[0].text, alone=len(glyphs) == 1)
        return "".join([self.texts[glyph.gid] for glyph in glyphs])

    def reads_plainly(self, glyphs: Sequence[ShapedGlyph]) -> bool:
        """Whether every glyph is known to read as the text it stands for, one by one."""
        texts = self.texts
        for gid, _, _, _, text in glyphs:  # noqa: SIM110 - hot: a generator takes twice as long
            if texts.get(gid) != text:
                return False
        return True

    def _choose_reading(self, gid: int, text: str, alone: bool) -> str:
        """The character it pictures, if it is one of the text; the text, if it says that alone; else nothing.

        A bracket in a run from right to left pictures its mirror image, and reads as what is seen.
        """
        for char in text:
            if self.face.glyph_of(char) == gid:
                return char
        mirrored = any(unicodedata.mirrored(c) for c in text)
        return text if alone and not mirrored else self.face.char_of(gid)


class FontBook:
    """The fonts of one PDF document: draws lines now, embeds what they used at the end.

    Faces get their names and objects in order of first use, so the same calls give the same bytes.
    """

    def __init__(self, document: PdfFile, lettering: TextShaper) -> None:
        self._document = document
        self._lettering = lettering
        self._faces: dict[str, _UsedFace] = {}
        # The operators of a run, with the run and its font, by size and the run itself. Lettering hands out the same
        # run for the same words, so most of a label is written once; by identity, since comparing long runs costs
        # what it saves.
        self._written: dict[float, dict[int, tuple[GlyphRun, str, str]]] = {}
        # Whole lines, too: on a ticket every second line is one that was drawn before.
        self._lines: dict[tuple[float, int], tuple[ShapedLine, str]] = {}
        self._done = False

    def text_operators(self, line: ShapedLine, x_pt: float, y_pt: float, size_pt: float, angle: int = 0) -> bytes:
        """Content-stream operators that draw `line`, in the current fill colour.

        `x_pt`, `y_pt` is the start of the baseline in points, y upwards; `size_pt` one em; `angle` (0, 90,
        180 or 270) turns the text counter-clockwise about that start. Draws nothing for an empty line.
        """
        if angle not in _DIRECTIONS:
            raise ValueError(f"text is set at 0, 90, 180 or 270 degrees, not {angle}")
        if not line.runs:
            return b""
        if len(self._lines) >= _KEPT_MOST:
            self._lines.clear()
        key = (size_pt, id(line))
        if key not in self._lines:
            self._lines[key] = line, self._encode_runs(line, size_pt)
        return f"BT {_DIRECTIONS[angle]} {x_pt:.4f} {y_pt:.4f} Tm\n{self._lines[key][1]}".encode("ascii")

    def _encode_runs(self, line: ShapedLine, size_pt: float) -> str:
        """What draws the line once its start is set, and ends the text object."""
        parts: list[str] = []
        known = self._written.setdefault(size_pt, {})
        font = ""
        for run in line.runs:
            _, resource, operators = known.get(id(run)) or self._draw_run(run, size_pt)
            if resource != font:
                font = resource
                parts.append(f"/{font} {encode_width_number(size_pt)} Tf")
            parts.append(operators)
        parts.append("ET\n")
        return "\n".join(parts)

    def embed_fonts(self) -> str:
        """Write every face used, once, when all pages are drawn.

        Returns the entries of the /Font resource dictionary: '/L1 7 0 R /L2 9 0 R', or nothing.
        """
        self._done = True
        entries = []
        for used in self._faces.values():
            xref = write_font(self._document, used.face, used.widths, used.texts)
            entries.append(f"/{used.resource} {xref} 0 R")
        return " ".join(entries)

    def _use_face(self, name: str) -> _UsedFace:
        if self._done:
            raise RuntimeError("a line was drawn after the fonts were embedded")
        if name not in self._faces:
            self._faces[name] = _UsedFace(self._lettering.open_face(name), f"L{len(self._faces) + 1}")
        return self._faces[name]

    def _draw_run(self, run: GlyphRun, size_pt: float) -> tuple[GlyphRun, str, str]:
        used = self._use_face(run.face)
        operators = _encode_plainly(used, run) if used.reads_plainly(run.glyphs) else ""
        made = (run, used.resource, operators or _RunWriter(used, size_pt).write_run(run))
        self._written[size_pt][id(run)] = made
        return made


def _encode_plainly(used: _UsedFace, run: GlyphRun) -> str:
    """The operators of a run whose glyphs read as their text: the same in every document, and at every size.

    Nothing where a glyph is raised, which is said in points.
    """
    known = _PLAIN.setdefault(used.face, {})
    made = known.get(run)  # asked once: its hash is that of all its glyphs
    if made is None:
        if len(known) >= _KEPT_MOST:
            known.clear()
        raised = any(dy for _, _, _, dy, _ in run.glyphs)
        made = known[run] = "" if raised else _RunWriter(used, 1.0).write_run(run)
    return made


class _RunWriter:
    """Turns one run into show operators, keeping every glyph where shaping put it.

    Glyphs that do not read as their text by themselves (Indic vowel signs that change places) are marked with
    it as ActualText (ISO 32000-2, 14.9.4). Not in a run from right to left: readers then give the whole word
    backwards. There a form that two letters share (final heh and ae) reads as the one it was first used for.
    """

    def __init__(self, used: _UsedFace, size_pt: float) -> None:
        self._used = used
        self._size = size_pt
        self._parts: list[str] = []
        self._shown: list[str] = []
        self._rise = 0.0
        self._ahead = 0.0  # how far the PDF's pen is ahead of the shaped one, in thousandths of an em

    def write_run(self, run: GlyphRun) -> str:
        """The operators; they leave the pen where the shaped run ends, to 0.0005 em, and no rise."""
        used, clusters = self._used, _group_clusters(run.glyphs)
        if used.reads_plainly(run.glyphs) or all(
            used.note_cluster(cluster) == cluster[0].text or run.right_to_left for cluster in clusters
        ):
            self._write_glyphs(run.glyphs)
        else:
            self._write_marked(run)
        if step := round(self._ahead):
            self._shown.append(f"> {step} <")
        self._flush_codes()
        if self._rise:  # it would outlast the text object
            self._parts.append("0 Ts")
        return "\n".join(self._parts)

    def _write_marked(self, run: GlyphRun) -> None:
        for cluster in _group_clusters(run.glyphs):
            text = cluster[0].text
            if self._used.note_cluster(cluster) == text or run.right_to_left:
                self._write_glyphs(cluster)
            else:
                self._flush_codes()
                self._parts.append(f"/Span <</ActualText <feff{text.encode('utf-16-be').hex()}>>> BDC")
                self._write_glyphs(cluster)
                self._flush_codes()
                self._parts.append("EMC")

    def _write_glyphs(self, glyphs: Iterable[ShapedGlyph]) -> None:
        widths, shown, rise, ahead = self._used.widths, self._shown, self._rise, self._ahead
        for gid, advance, dx, dy, _ in glyphs:
            if dy != rise:
                self._flush_codes()
                self._parts.append(f"{encode_width_number(dy * self._size)} Ts")
                rise = dy
            step = round(ahead - dx * 1000)
            if step:
                shown.append(f"> {step} <")
            shown.append(f"{gid:04x}")
            ahead += widths[gid] - advance * 1000 - step
        self._rise, self._ahead = rise, ahead

    def _flush_codes(self) -> None:
        """A TJ array of what waits: glyph codes in hexadecimal strings, moves between them."""
        if self._shown:
            self._parts.append(f"[<{''.join(self._shown)}>] TJ".replace("<>", ""))
            self._shown.clear()


def _group_clusters(glyphs: Sequence[ShapedGlyph]) -> Iterator[Sequence[ShapedGlyph]]:
    """Glyphs that stand for one piece of text together: the first carries it, the rest carry none."""
    start = 0
    for end in range(1, len(glyphs) + 1):
        if end == len(glyphs) or glyphs[end].text:
            yield glyphs[start:end]
            start = end
