"""Rows whose words are set by us: each distinct line becomes a picture, at the size its row will have."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path

from impose.errors import Exit, Finding, Severity, Trouble
from impose.run.options import Progress
from impose.sheet.lettering import Lettering, unwritten
from impose.sheet.words import Size, set_words
from impose.shop.orders import Batch, Row
from impose.shop.profiles import Profiles
from impose.shop.styles import Style

_GROUPS = ("fonts_ttf", "fonts_otf")  # what font packages on PyPI announce their faces under
_FIX = "Write them in another way, or name a font that has them."


@dataclass(slots=True)
class Typesetter:
    """Sets the words of a batch: a face is opened once, and what is asked twice is set once."""

    profiles: Profiles
    findings: list[Finding] = field(default_factory=list)
    contents: dict[Path, bytes] = field(default_factory=dict)
    _faces: dict[tuple[str, str], Lettering | Finding] = field(default_factory=dict)
    _set: dict[tuple[str, Style, Size], tuple[Path, float] | Finding] = field(default_factory=dict)

    def row(self, row: Row) -> Row:
        """The row with its picture's name as `path`, and a width where the letters' height decides it."""
        assert row.style is not None  # the reader refuses words whose style is not known
        lettering = self._lettering(row.style)
        if isinstance(lettering, Finding):
            self.findings.append(replace(lettering, row=row.row, column="font", read=row.font))
            return row
        self.findings += _unwritable(row, lettering)
        size = self._room(row)
        key = (row.words, row.style, size)
        if key not in self._set:
            self._set[key] = self._made(row.words, row.style, size, lettering)
        made = self._set[key]
        if isinstance(made, Finding):
            self.findings.append(replace(made, row=row.row))
            return row
        path, width = made
        return replace(row, path=path) if size.fill else replace(row, path=path, width_mm=width, fitted=True)

    def _room(self, row: Row) -> Size:
        """An explicit size is filled; a placement's is only a limit, so that short names do not grow huge."""
        if row.width_mm is not None or row.height_mm is not None:
            return Size(row.width_mm, row.height_mm, fill=True)
        assert row.placement is not None  # the reader refuses a row without any size
        found = self.profiles.placement(row.placement).size_for(row.garment, self.profiles.wardrobe)
        assert found is not None
        return Size(found[0].width_mm, found[0].height_mm, fill=False)

    def _made(self, words: str, style: Style, size: Size, lettering: Lettering) -> tuple[Path, float] | Finding:
        try:
            content, width, _ = set_words(words.split("\n"), style, size, lettering)
        except ValueError:
            return Finding("the words show nothing", _FIX, kind="words", column="words", read=words)
        path = Path("words") / f"{hashlib.sha256(content).hexdigest()}.png"
        self.contents[path] = content
        return path, width

    def _lettering(self, style: Style) -> Lettering | Finding:
        key = (style.font, style.folder)
        if key not in self._faces:
            self._faces[key] = self._opened(style)
        return self._faces[key]

    def _opened(self, style: Style) -> Lettering | Finding:
        from impose.pages.pdf.fonts import ShippedFonts

        if not style.font:
            return Lettering(ShippedFonts())
        path = _beside(style) if style.is_file else _installed(style.font)
        if path is None:
            faces = ", ".join(sorted(name for name, _ in _packaged())) or "none"
            what = f"the typeface “{style.font}” is not installed"
            return Finding(what, f"Installed are: {faces}. Or name a file that ends in .ttf or .otf.", kind="bad-font")
        try:
            return Lettering(ShippedFonts([path], own_first=True))
        except Trouble as trouble:
            return replace(trouble.findings[0], kind="bad-font", exit=Exit.REFUSED)


def set_rows(batch: Batch, profiles: Profiles, progress: Progress) -> tuple[Batch, Mapping[Path, bytes], list[Finding]]:
    """The batch with every row of words given a picture: its rows, the pictures by path, and what was found."""
    total = sum(bool(row.words) for row in batch.rows)
    if not total:
        return batch, {}, []
    setter = Typesetter(profiles)
    rows: list[Row] = []
    done = 0
    for row in batch.rows:
        if row.words:
            done += 1
            row = setter.row(row)
            progress("words", done, total)
        rows.append(row)
    return replace(batch, rows=tuple(rows)), setter.contents, setter.findings


def _unwritable(row: Row, lettering: Lettering) -> Iterator[Finding]:
    """A name with a hole in it is never printed; one whose letters come from another typeface is said."""
    lines = [lettering.line((line,)) for line in row.words.split("\n")]
    missing, removed = unwritten(lines)
    if missing:
        what = f"no font at hand can write {missing}"
        yield Finding(what, _FIX, kind="words", row=row.row, column="words", read=row.words)
    if removed:
        what = f"not text, and cannot be set: {removed}"
        yield Finding(what, "Type the words again.", kind="words", row=row.row, column="words", read=row.words)
    primary = lettering.primary
    others = {c for line in lines for run in line.runs if run.face != primary.name for c in run.text if not c.isspace()}
    if others and row.style is not None and row.style.font:
        letters = " ".join(sorted(others))
        what = f"the typeface has no {letters}, so that another one sets them"
        remedy = "Look at the proof, or name a typeface that has them."
        yield Finding(what, remedy, Severity.WARN, "other-typeface", row=row.row, column="words", read=row.words)


def _beside(style: Style) -> Path:
    """A font file: where the reader found it, or beside the profile that names it."""
    folder = Path(style.folder)
    return folder if folder.suffix.lower() == Path(style.font).suffix.lower() else folder.parent / style.font


def _packaged() -> Iterator[tuple[str, Path]]:
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


def _installed(name: str) -> Path | None:
    wanted = name.casefold().replace(" ", "").replace("-", "")
    found = (path for face, path in _packaged() if face.casefold().replace("-", "") == wanted)
    return next(found, None)
