"""Rows whose words are set by us: the same words in one style become one drawing, sized for each row."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from pathlib import Path

from impose.art.gamut import VISIBLE, measure_distance
from impose.art.output_profile import OutputProfile, make_conversion
from impose.art.vector_drawing import Drawing
from impose.errors import Exit, Finding, Severity, Trouble, quote_text
from impose.orders.batch import Batch, BatchRow
from impose.orders.cells import format_recolour
from impose.profiles.profiles import Profiles
from impose.profiles.word_styles import WordStyle
from impose.run.progress import Progress, Stage, report_stage
from impose.run.recoloured_words import find_style_faults, recolour_style, report_exchange
from impose.sheet.word_art import COLOURED, FittedWords, NoOutline, WordSize, draw_words, fit_words
from impose.type import block_letters as block
from impose.type.lettering import TextShaper, describe_unwritten
from impose.type.shaping import FontFace
from impose.units import format_length, show_size
from impose.values import ChangingStruct, field, replace

_GROUPS = ("fonts_ttf", "fonts_otf")  # what font packages on PyPI announce their faces under
BOLD = "SourceSansPro-Black"
"""The bold sans that comes with the plain install (SIL Open Font License 1.1)."""

_AS_ASKED = 0.995  # of the height asked for: what rounds to it
_FIX = "Write them in another way, or name a font that has them."


class Typesetter(ChangingStruct):
    """Sets the words of a batch: a face is opened once, and the same words in the same style are drawn once."""

    profiles: Profiles
    output: OutputProfile | None = None
    findings: list[Finding] = field(default_factory=list)
    drawings: dict[Path, Drawing] = field(default_factory=dict)
    _faces: dict[tuple[str, str], TextShaper | Finding] = field(default_factory=dict)
    _drawn: dict[tuple[str, WordStyle], Path | Finding] = field(default_factory=dict)

    def set_row(self, row: BatchRow) -> BatchRow:
        """The row with its drawing's name as `path`, and its width where the letters' height decides it."""
        assert row.style is not None  # the reader refuses words whose style is not known
        lettering = self._find_lettering(row.style)
        if isinstance(lettering, Finding):
            self.findings.append(replace(lettering, row=row.row, kit_row=row.kit_row, column="font", read=row.font))
            return row
        self.findings += _report_unwritable(row, lettering)
        # How high the letters are changes nothing about their outlines.
        plain = replace(row.style, letter_height_mm=1.0, letters_said=False)
        style = recolour_style(plain, row.recolour)
        faults = list(find_style_faults(plain, row.recolour))
        if faults:
            self.findings += [self._place_exchange(row, fault) for fault in faults]
            return row
        key = (row.words, style)
        if key not in self._drawn:
            self._drawn[key] = self._make_picture(row.words, style, lettering)
        path = self._drawn[key]
        if isinstance(path, Finding):
            self.findings.append(replace(path, row=row.row, kit_row=row.kit_row, read=row.words))
            return row
        if row.recolour:
            before = draw_words(row.words.split("\n"), plain, lettering, self.profiles.settings.tint)
            after = draw_words(row.words.split("\n"), style, lettering, self.profiles.settings.tint)
            self.findings.append(self._place_exchange(row, report_exchange(row.recolour, before, after)))
        size = self._find_room(row, row.style)
        if size.fill:
            return replace(row, path=path)
        fitted = fit_words(self.drawings[path], row.style, size, lettering)
        self.findings += self._report_smaller(row, row.style, fitted)
        return replace(row, path=path, set_mm=fitted.width_mm)

    def _place_exchange(self, row: BatchRow, finding: Finding) -> Finding:
        read = format_recolour(row.recolour)
        return replace(finding, row=row.row, kit_row=row.kit_row, column="recolour", read=read)

    def _find_room(self, row: BatchRow, style: WordStyle) -> WordSize:
        """An explicit size is filled, unless the row says how high its letters are: then it is a limit.

        A placement's size is only ever a limit, so that short names do not grow huge.
        """
        if row.width_mm is not None or row.height_mm is not None:
            return WordSize(row.width_mm, row.height_mm, fill=not style.letters_said)
        placement = None if row.placement is None else self.profiles.require_placement(row.placement)
        found = placement and placement.find_size(row.garment, self.profiles.wardrobe)
        return (
            WordSize(found[0].width_mm, found[0].height_mm, fill=False) if found else WordSize(None, None, fill=False)
        )

    def _report_smaller(self, row: BatchRow, style: WordStyle, fitted: FittedWords) -> Iterator[Finding]:
        """Letters that come out lower than they should, because the words are too long for their room."""
        if fitted.letters_mm > style.letter_height_mm * _AS_ASKED:
            return
        units = self.profiles.settings.units
        asked, got = format_length(style.letter_height_mm, units), format_length(fitted.letters_mm, units)
        wide = show_size(fitted.width_mm, units)
        own = row.width_mm is not None or row.height_mm is not None
        room = "the size of the row" if own else "the placement"
        yield Finding(
            f"letters come out {got} high, not {asked}: {room} takes no more, and the words are {wide} wide",
            f"Give a wider size or a narrower typeface, or give the whole team letters of {got}.",
            Severity.WARN if style.letters_said else Severity.NOTE,
            "letters-smaller",
            "Names side by side in letters of unlike height look like a mistake.",
            row=row.row,
            kit_row=row.kit_row,
            column="words",
            read=row.words,
        )

    def _make_picture(self, words: str, style: WordStyle, lettering: TextShaper) -> Path | Finding:
        try:
            drawing = draw_words(words.split("\n"), style, lettering, self.profiles.settings.tint, self.output)
        except NoOutline as error:
            what = f"the typeface draws {error.text} as a coloured picture, not as an outline"
            remedy = "Take it out of the words, name another typeface, or set it as an artwork in a row of its own."
            return Finding(what, remedy, kind="words", column="words")
        except ValueError:
            return Finding("the words show nothing", _FIX, kind="words", column="words")
        # Named by what is drawn: the same words in two faces that draw them alike are one drawing.
        path = Path("words") / drawing.sha256
        if self.output is not None:
            drawing = replace(drawing, findings=tuple(_report_out_of_gamut(style, self.output)))
        self.drawings[path] = drawing
        return path

    def _find_lettering(self, style: WordStyle) -> TextShaper | Finding:
        key = (style.font, style.folder)
        if key not in self._faces:
            self._faces[key] = self._open_lettering(style)
        return self._faces[key]

    def _open_lettering(self, style: WordStyle) -> TextShaper | Finding:
        from impose.pages.pdf.font_book import ShippedFonts

        if not style.font:
            return TextShaper(ShippedFonts())
        if _fold_name(style.font) == _fold_name(block.NAME):
            # What the block alphabet lacks, letters with accents above all, comes from the bold face first.
            bold = [path] if (path := _find_installed_font(BOLD)) else []
            return TextShaper(ShippedFonts([FontFace(block.NAME, block.block_font()), *bold], own_first=True))
        path = _find_font_file(style) if style.is_file else _find_installed_font(style.font)
        if path is None:
            faces = ", ".join(sorted({block.NAME, *(name for name, _ in _list_packaged_fonts())}))
            what = f"the typeface {quote_text(style.font)} is not installed"
            return Finding(what, f"Installed are: {faces}. Or name a file that ends in .ttf or .otf.", kind="bad-font")
        try:
            return TextShaper(ShippedFonts([path], own_first=True))
        except Trouble as trouble:
            return replace(trouble.findings[0], kind="bad-font", exit=Exit.REFUSED)


def set_rows(
    batch: Batch, profiles: Profiles, progress: Progress, output: OutputProfile | None = None
) -> tuple[Batch, Mapping[Path, Drawing], list[Finding]]:
    """The batch with every row of words given a drawing: its rows, the drawings by path, and what was found.

    With `output` the drawings are in the printer's own colours.
    """
    total = sum(bool(row.words) for row in batch.rows)
    if not total:
        return batch, {}, []
    setter = Typesetter(profiles, output)
    rows: list[BatchRow] = []
    done = 0
    for row in batch.rows:
        if row.words:
            done += 1
            row = setter.set_row(row)
            report_stage(progress, Stage.WORDS, done, total)
        rows.append(row)
    return replace(batch, rows=tuple(rows)), setter.drawings, setter.findings


def _report_unwritable(row: BatchRow, lettering: TextShaper) -> Iterator[Finding]:
    """A name with a hole in it is never printed; one whose letters come from another typeface is said."""
    lines = [lettering.shape_line((line,)) for line in row.words.split("\n")]
    missing, removed = describe_unwritten(lines)
    if missing:
        what = f"no font at hand can write {missing}"
        yield _make_words_finding(row, what, _FIX)
    if removed:
        what = f"not text, and cannot be set: {removed}"
        yield _make_words_finding(row, what, "Type the words again.")
    coloured = [face for line in lines for face in line.faces if lettering.open_face(face).tables & COLOURED]
    if coloured:
        what = "the typeface has letters in colours of its own; they are set in the style's colour"
        remedy = "Look at the proof; draw the words as an artwork to have them in their own colours."
        yield _make_words_finding(row, what, remedy, "other-typeface", Severity.WARN)
    primary = lettering.primary
    others = {c for line in lines for run in line.runs if run.face != primary.name for c in run.text if not c.isspace()}
    # The tool's own face is of no moment for a line of words; on a team's garments one of another look stands out.
    if others and row.style is not None and (row.style.font or row.kit):
        lacking = sorted(letter for letter in others if not primary.covers_text(letter)) or sorted(others)
        # A word is set in one face, so letters that the typeface has may be in another one for a neighbour's sake.
        whole = "the whole word" if len(lacking) < len(others) else "it" if len(lacking) == 1 else "them"
        what = f"the typeface has no {' '.join(lacking)}, so that another one sets {whole}"
        remedy = "Look at the proof, or name a typeface that has them."
        yield _make_words_finding(row, what, remedy, "other-typeface", Severity.WARN)


def _make_words_finding(
    row: BatchRow, what: str, remedy: str, kind: str = "words", severity: Severity = Severity.STOP
) -> Finding:
    return Finding(what, remedy, severity, kind, row=row.row, kit_row=row.kit_row, column="words", read=row.words)


def _report_out_of_gamut(style: WordStyle, output: OutputProfile) -> Iterator[Finding]:
    """Colours of a style that the printer cannot make, by the measure that pictures are held to."""
    from PIL import Image

    conversion = make_conversion(None, False, output)
    for colour in dict.fromkeys(shade for shade in (style.outline, style.colour) if shade):
        missed = float(measure_distance(Image.new("RGB", (1, 1), colour), conversion)[0, 0])
        if missed > VISIBLE:
            yield Finding(
                f"the printer cannot make {colour}; it misses by {missed:.0f}",
                "Look at the soft proof; keep it, choose another intent, or give another colour.",
                Severity.WARN,
                "out-of-gamut",
                "It prints as the nearest that the profile has (a difference in CIE 1976 units; 5 is plainly seen).",
            )


def _find_font_file(style: WordStyle) -> Path:
    """A font file: where the reader found it, or beside the profile that names it."""
    folder = Path(style.folder)
    return folder if folder.suffix.lower() == Path(style.font).suffix.lower() else folder.parent / style.font


def _list_packaged_fonts() -> Iterator[tuple[str, Path]]:
    """The faces of installed font packages, by file name without its ending."""
    # Loaded late: it brings the mail parser and the network along, and few batches name such a font.
    from importlib.metadata import entry_points

    for group in _GROUPS:
        for point in sorted(entry_points(group=group), key=lambda point: point.name):
            try:
                faces = point.load()
            except Exception:  # a broken package of somebody else's is as good as none
                continue
            for file in dict(faces).values():
                yield Path(str(file)).stem, Path(str(file))


def _find_installed_font(name: str) -> Path | None:
    found = (path for face, path in _list_packaged_fonts() if _fold_name(face) == _fold_name(name))
    return next(found, None)


def _fold_name(name: str) -> str:
    return name.casefold().replace(" ", "").replace("-", "")
