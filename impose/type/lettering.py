"""Text to shaped, measured lines: job labels, slugs, names in any script. Nothing is drawn here.

A line is made of fields (id, order, wearer ...), which follow one another from left to right. Each field is
its own bidirectional paragraph, so that an Arabic name cannot carry the digits of the next field to its other
side. A font is chosen for each character as read (a letter with its marks); the primary face first, and a
word in one face where any has all of it. What no face can write is replaced by U+FFFD and reported, and what
is not text (control characters, directional overrides and isolates) is taken out and reported.

All lengths are in em: multiply by the size in millimetres. Lines are plain values and may be kept, compared,
pickled.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable, Sequence
from functools import lru_cache
from typing import NamedTuple, Protocol

from impose.type import bidi
from impose.type.sanitise import clean_text, format_code_points
from impose.type.shaping import INVISIBLE, FontFace, ShapedGlyph, find_script, split_clusters
from impose.values import FrozenStruct

__all__ = [
    "FontSource",
    "GlyphRun",
    "ShapedGlyph",
    "ShapedLine",
    "TextShaper",
    "clean_text",
    "describe_unwritten",
    "format_code_points",
]

GAP = "   "
ELLIPSIS = "…"
# What stands for a character no face can write. Unicode made it for that; it is one character wide, cannot be
# read as part of the name, and leaves the label room for the rest. Which character it was, the line's
# `missing` says.
REPLACEMENT = "\ufffd"
_REMEMBERED = 4096
"""Lines and fields, some 1 KB each. A batch's labels differ; words, titles and what one sheet tries again come soon."""
# Where Latin letters with their diacritics end (Unicode 16, blocks Latin-1 Supplement to Latin Extended-B), and with
# them the signs that measures and sentences of this program are written with.
_PLAIN_MOST = "\u024f"
_PLAIN = frozenset(map(chr, range(0x20, 0x250))) - {"\xad"} | frozenset("–—‘’“”•…′″−")
# Skin tones and keycaps: an emoji is still itself without them.
_EMOJI_DRESS = frozenset("\U0001f3fb\U0001f3fc\U0001f3fd\U0001f3fe\U0001f3ff\u20e3") | INVISIBLE


class FontSource(Protocol):
    """Where font faces come from; implemented where files may be read."""

    @property
    def primary(self) -> str:
        """The name of the face to try first."""

    def face_for(self, char: str) -> str | None:
        """The name of another face that has this character, or None."""

    def font_data(self, face: str) -> bytes:
        """The OpenType font file of a face named by this source."""


class GlyphRun(FrozenStruct):
    """Glyphs of one face, left to right. `text` is what they say, in reading order."""

    face: str
    glyphs: tuple[ShapedGlyph, ...]
    text: str
    right_to_left: bool = False


class ShapedLine(FrozenStruct):
    """One line of shaped text, from left to right; lengths in em.

    `ascent` and `descent` hold all its ink, and are never less than what the primary face's own letters
    reach, so that lines of everyday text share one height. `fields` are the texts as drawn. `missing` are the
    characters no face has (drawn as U+FFFD, or an emoji without what it wore), `removed` those that were no
    text and were left out; each once, in order. `shortened` says that `TextShaper.fit_line` cut it.
    """

    width: float
    ascent: float
    descent: float
    runs: tuple[GlyphRun, ...]
    fields: tuple[str, ...]
    missing: tuple[str, ...] = ()
    removed: tuple[str, ...] = ()
    shortened: bool = False

    @property
    def faces(self) -> tuple[str, ...]:
        """The faces it is drawn with, each once, in order of appearance."""
        return tuple(dict.fromkeys(run.face for run in self.runs))


class _ShapedField(NamedTuple):
    """One field, shaped."""

    text: str
    width: float
    top: float
    bottom: float
    runs: tuple[GlyphRun, ...]
    missing: tuple[str, ...]
    removed: tuple[str, ...]


class _ReadCharacter(NamedTuple):
    """One character as read, the face that draws it, its script."""

    text: str
    face: str
    script: str | None


def describe_unwritten(lines: Iterable[ShapedLine]) -> tuple[str, str]:
    """The code points of what no font could write in these lines, and of what was no text; each once, "" for none."""
    lines = tuple(lines)
    missing = _list_distinct(character for line in lines for character in line.missing)
    removed = _list_distinct(character for line in lines for character in line.removed)
    return ", ".join(map(format_code_points, missing)), ", ".join(map(format_code_points, removed))


class TextShaper:
    """Shapes and measures text with the faces of a source, remembering what it has shaped."""

    def __init__(self, source: FontSource) -> None:
        self._source = source
        self._faces: dict[str, FontFace] = {}
        self._field = lru_cache(maxsize=_REMEMBERED)(self._shape_field)
        self._line = lru_cache(maxsize=_REMEMBERED)(self._join_fields)
        self._spacer = lru_cache(maxsize=16)(self._shape_gap)
        self._fit = lru_cache(maxsize=_REMEMBERED)(self._shorten_text)

    @property
    def primary(self) -> FontFace:
        """The face everyday text is set in."""
        return self.open_face(self._source.primary)

    def open_face(self, name: str) -> FontFace:
        """A face by the name a run gives. Raises `ValueError` when its file is no font that can be used."""
        if name not in self._faces:
            self._faces[name] = FontFace(name, self._source.font_data(name))
        return self._faces[name]

    def shape_line(self, fields: Iterable[str], gap: str = GAP) -> ShapedLine:
        """The fields in one line, from left to right, `gap` between them; empty fields take no room."""
        return self._line(tuple(fields), gap)

    def shape_sentence(self, text: str) -> ShapedLine:
        """A line of running text, word by word where nothing runs from right to left: words come again, lines do not.

        Letters are not kerned against spaces.
        """
        return self.shape_line((text,)) if _may_run_right_to_left(text) else self.shape_line(text.split(" "), " ")

    def shape_paragraph_line(self, text: str, right_to_left: bool) -> ShapedLine:
        """A line of a paragraph whose direction is known: a word of the other direction in front does not turn it."""
        if right_to_left or _may_run_right_to_left(text):
            return self._join_shaped((self._shape_field(text, int(right_to_left)),), "")
        return self.shape_sentence(text)

    def fit_line(self, text: str, width_em: float, base: int | None = None) -> ShapedLine:
        """The text as one field no wider than `width_em`, its end replaced by an ellipsis where it must be.

        It is cut between characters as read, never inside one. Where not even the ellipsis fits, the line is
        empty. `base` is the level of a line whose direction is known, 0 from left to right; else its letters tell.
        """
        return self._fit(text, width_em, base if _may_run_right_to_left(text) else None)

    def _join_fields(self, fields: tuple[str, ...], gap: str) -> ShapedLine:
        shaped = tuple(map(self._field, fields))
        if len(shaped) > 1 or not shaped or not shaped[0].text:
            return self._join_shaped(shaped, gap)
        field, primary = shaped[0], self.primary  # as most lines are
        ascent, descent = max(primary.ascent, field.top), max(primary.descent, field.bottom)
        return ShapedLine(field.width, ascent, descent, field.runs, (field.text,), field.missing, field.removed)

    def _join_shaped(self, fields: Sequence[_ShapedField], gap: str) -> ShapedLine:
        shaped = [field for field in fields if field.text or field.removed]
        seen = [field for field in shaped if field.text]
        spacer, space = self._spacer(gap)
        runs: list[GlyphRun] = []
        for field in seen:
            if runs and gap:
                runs.append(spacer)
            runs += field.runs
        primary = self.primary
        return ShapedLine(
            width=sum([field.width for field in seen]) + space * max(0, len(seen) - 1),
            ascent=max([primary.ascent, *[field.top for field in seen]]),
            descent=max([primary.descent, *[field.bottom for field in seen]]),
            runs=tuple(runs),
            fields=tuple([field.text for field in seen]),
            missing=_list_distinct([char for field in shaped for char in field.missing]),
            removed=_list_distinct([char for field in shaped for char in field.removed]),
        )

    def _shape_gap(self, gap: str) -> tuple[GlyphRun, float]:
        glyphs = self.primary.shape_run(gap, False, None).glyphs
        return GlyphRun(self.primary.name, glyphs, gap), sum(glyph.advance for glyph in glyphs)

    def _shorten_text(self, text: str, width_em: float, base: int | None) -> ShapedLine:
        whole = self._shape_whole(text, base)
        if whole.width <= width_em:
            return whole
        pieces = split_clusters(clean_text(text)[0])
        low, high = 0, len(pieces)  # the answer keeps `low` pieces; `high` are known not to fit
        while high - low > 1:
            middle = (low + high) // 2
            if self._shape_field(_cut_text(pieces, middle), base).width <= width_em:
                low = middle
            else:
                high = middle
        best = self._shape_whole(_cut_text(pieces, low), base)
        if best.width > width_em:
            best = self._join_fields((), "")
        return ShapedLine(
            best.width,
            best.ascent,
            best.descent,
            best.runs,
            best.fields,
            whole.missing,
            whole.removed,
            shortened=True,
        )

    def _shape_whole(self, text: str, base: int | None) -> ShapedLine:
        return self.shape_line((text,)) if base is None else self._join_shaped((self._shape_field(text, base),), "")

    def _shape_field(self, raw: str, base: int | None = None) -> _ShapedField:
        """A text as a bidirectional paragraph; `base` is its level (UAX #9, HL1), else told by its letters."""
        cleaned, removed = clean_text(raw)
        primary = self.primary
        if base is None and cleaned and primary.coverage.issuperset(cleaned) and _is_plain(cleaned):
            whole = primary.shape_run(cleaned, False, "Latn")
            run = GlyphRun(primary.name, whole.glyphs, cleaned)
            return _ShapedField(cleaned, whole.width, whole.top, whole.bottom, (run,), (), removed)
        pieces, missing = self._split_characters(cleaned)
        text = "".join(piece.text for piece in pieces)
        turns = base is not None or _may_run_right_to_left(text)
        spans = list(_join_spans(pieces, bidi.find_levels(text, base) if turns else [0] * len(text)))
        runs: list[GlyphRun] = []
        width = top = bottom = 0.0
        for at in bidi.find_visual_order([level for _, level in spans]):
            piece, level = spans[at]
            shaped = self.open_face(piece.face).shape_run(piece.text, bool(level % 2), piece.script)
            runs.append(GlyphRun(piece.face, shaped.glyphs, piece.text, bool(level % 2)))
            width += shaped.width
            top, bottom = max(top, shaped.top), max(bottom, shaped.bottom)
        return _ShapedField(text, width, top, bottom, tuple(runs), _list_distinct(missing), removed)

    def _split_characters(self, text: str) -> tuple[list[_ReadCharacter], list[str]]:
        """The text by characters as read, each with its face; and those that no face has."""
        primary = self.primary
        if primary.coverage.issuperset(text) and _is_plain(text):
            return [_ReadCharacter(text, primary.name, "Latn")] if text else [], []
        missing: list[str] = []
        pieces: list[_ReadCharacter] = []
        script: str | None = None
        for word, own in _split_words(split_clusters(text)):
            script = own or script
            whole = self._find_word_face("".join(word)) if own else None
            for cluster in word:
                if whole:
                    pieces.append(_ReadCharacter(cluster, whole.name, script))
                    continue
                drawn, face = self._choose_cluster_face(cluster)
                if drawn != cluster:
                    missing.append(cluster)
                pieces.append(_ReadCharacter(drawn, face.name, script))
        return pieces, missing

    def _find_word_face(self, word: str) -> FontFace | None:
        """The first face that has the whole of a word."""
        return next((face for face in self._candidate_faces(word) if face.covers_text(word)), None)

    def _candidate_faces(self, text: str) -> Iterable[FontFace]:
        yield self.primary
        for char in dict.fromkeys(text):
            name = self._source.face_for(char) if char not in INVISIBLE else None
            if name is not None:
                yield self.open_face(name)

    def _choose_cluster_face(self, cluster: str) -> tuple[str, FontFace]:
        """What to draw for one character as read, and with which face."""
        bare = "".join(c for c in cluster if c not in _EMOJI_DRESS)
        emoji = bare[:1] if _is_emoji(bare) else bare
        for drawn in dict.fromkeys((cluster, bare, emoji, REPLACEMENT)):
            face = self._find_word_face(drawn) if drawn else None
            if face is not None:
                return drawn, face
        return "?", self.primary


def _is_plain(text: str) -> bool:
    """Latin letters, digits and the signs of a typist: characters that never join, turn or change their script."""
    return text.isascii() or (max(text) <= _PLAIN_MOST and "\xad" not in text) or _PLAIN.issuperset(text)


def _list_distinct(items: Iterable[str]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(items))


def _cut_text(pieces: Sequence[str], count: int) -> str:
    return "".join(pieces[:count]).rstrip() + ELLIPSIS


def _may_run_right_to_left(text: str) -> bool:
    """Whether anything in it could run right to left; without that every level is 0."""
    return not text.isascii() and any(unicodedata.bidirectional(c) in ("R", "AL", "AN") for c in text)


def _is_emoji(cluster: str) -> bool:
    return unicodedata.category(cluster[0]) == "So" if cluster else False


def _split_words(pieces: Sequence[str]) -> Iterable[tuple[list[str], str | None]]:
    """Stretches of letters of one script, with it; everything else one at a time, with None or its script."""
    word: list[str] = []
    current: str | None = None
    for piece in pieces:
        script = find_script(piece[0])
        letter = unicodedata.category(piece[0])[0] in "LM"
        if word and not (letter and script in (current, None)):
            yield word, current
            word = []
        if letter and script is not None:
            word.append(piece)
            current = script
        elif word:
            word.append(piece)
        else:
            yield [piece], script
    if word:
        yield word, current


def _join_spans(pieces: Sequence[_ReadCharacter], levels: Sequence[int]) -> Iterable[tuple[_ReadCharacter, int]]:
    """Neighbours of one face, one script and one level joined, in reading order."""
    at = 0
    held: list[str] = []
    key: tuple[str, str | None, int] | None = None
    for piece in pieces:
        mine = (piece.face, piece.script, levels[at])
        if key is not None and mine != key:
            yield _ReadCharacter("".join(held), key[0], key[1]), key[2]
            held = []
        key = mine
        held.append(piece.text)
        at += len(piece.text)
    if key is not None:
        yield _ReadCharacter("".join(held), key[0], key[1]), key[2]
