"""Lettering: order, faces, measures, cutting short, and what becomes of characters nobody can draw."""

from __future__ import annotations

import pickle
import re
import subprocess
import sys
import unicodedata
from pathlib import Path

import pytest
import uharfbuzz as hb
from hypothesis import given
from hypothesis import strategies as st

from impose.pages.pdf.font_book import ShippedFonts
from impose.type import bidi
from impose.type.lettering import REPLACEMENT, ShapedLine, TextShaper, clean_text, format_code_points
from impose.type.shaping import split_clusters

UNICODE = Path(__file__).parent / "unicode"
# Debian's package unicode-data; with it the whole of Unicode's own files is run.
DEBIAN = Path("/usr/share/unicode")
EXPLICIT = {"LRE", "RLE", "LRO", "RLO", "PDF", "LRI", "RLI", "FSI", "PDI", "B"}
EXPLICIT_CODES = "\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069\u2029\n\r\x85\x1c\x1d\x1e"
SOURCE = ShippedFonts(newer_emoji=False)  # the same with and without the optional package
LETTERING = TextShaper(SOURCE)
SERIF = SOURCE.primary


def rows(path: Path) -> list[str]:
    found = [line.split("#")[0].strip() for line in path.read_text("utf-8").splitlines()]
    assert any(found), f"{path} is empty"
    return [line for line in found if line]


def text_of(numbers: str) -> str:
    return "".join(chr(int(number, 16)) for number in numbers.split())


def seen(line: ShapedLine) -> str:
    """The text as a reader's eye meets it, from left to right."""
    return "".join(glyph.text for run in line.runs for glyph in run.glyphs)


# --- the bidirectional algorithm, by Unicode's own conformance files (UAX 9, revision 46) ---


def check_classes(classes: list[str], bits: int, levels: list[str], order: list[int]) -> None:
    for bit, base in ((1, None), (2, 0), (4, 1)):
        if not bits & bit:
            continue
        found = bidi.resolve_levels(classes, "", base)
        known = [(want, got) for want, got in zip(levels, found, strict=True) if want != "x"]
        assert all(int(want) == got for want, got in known), (classes, base, levels, found)
        drawn = [i for i in bidi.find_visual_order(found) if classes[i] != "BN"]
        assert drawn == order, (classes, base)


def check_characters(line: str) -> None:
    numbers, direction, _, levels, order = line.split(";")
    text = text_of(numbers)
    found = bidi.find_levels(text, {"0": 0, "1": 1, "2": None}[direction])
    known = [(int(want), got) for want, got in zip(levels.split(), found, strict=True) if want != "x"]
    assert all(want == got for want, got in known), (line, found)
    drawn = [i for i in bidi.find_visual_order(found) if levels.split()[i] != "x"]
    assert drawn == [int(at) for at in order.split()], line


def test_levels_of_classes_are_unicodes() -> None:
    """BidiTest.txt 15.0.0, every 31st line without explicit codes."""
    for row in rows(UNICODE / "bidi_classes.txt"):
        classes, bits, levels, order = (part.strip() for part in row.split(";"))
        check_classes(classes.split(), int(bits), levels.split(), [int(at) for at in order.split()])


def test_levels_of_characters_are_unicodes() -> None:
    """BidiCharacterTest.txt 15.0.0: brackets, numbers, real characters."""
    for row in rows(UNICODE / "bidi_characters.txt"):
        check_characters(row)


@pytest.mark.skipif(not (DEBIAN / "BidiTest.txt").exists(), reason="needs Debian's unicode-data")
@pytest.mark.parametrize("every", [40, pytest.param(1, marks=pytest.mark.long)])
def test_levels_are_unicodes_in_every_line(every: int) -> None:
    """Every line of both files, or one of 40, but for lines with explicit codes: some 92,000 and 91,000 cases."""
    levels: list[str] = []
    order: list[int] = []
    count = 0
    for at, row in enumerate(rows(DEBIAN / "BidiTest.txt")):
        if row.startswith("@Levels:"):
            levels = row[8:].split()
        elif row.startswith("@Reorder:"):
            order = [int(at) for at in row[9:].split()]
        elif at % every == 0 and not row.startswith("@"):
            classes, bits = row.split(";")
            if not EXPLICIT.intersection(classes.split()):
                count += 1
                check_classes(classes.split(), int(bits, 16), levels, order)
    for row in rows(DEBIAN / "BidiCharacterTest.txt")[::every]:
        if not set(EXPLICIT_CODES).intersection(text_of(row.split(";")[0])):
            count += 1
            check_characters(row)
    assert count > 140_000 / every


@pytest.mark.skipif(not (DEBIAN / "BidiBrackets.txt").exists(), reason="needs Debian's unicode-data")
def test_the_bracket_table_is_unicodes() -> None:
    pairs = {}
    for row in rows(DEBIAN / "BidiBrackets.txt"):
        number, other, kind = (part.strip() for part in row.split(";"))
        if kind == "o":
            opening, closing = (unicodedata.normalize("NFC", text_of(n)) for n in (number, other))
            pairs[opening] = closing
    assert pairs == bidi._CLOSING


# HarfBuzz's clusters against UAX 29: where they differ. A prepended number sign stands for itself; a joiner holds
# together also what is not two emoji. Neither cuts a letter from its mark.
DIFFERENT = re.compile(r"0600 ×|÷ 200D ÷ 231A|0061 × 200D ÷ 1F6D1|2701 × 200D × 2701")


def test_characters_as_read_are_unicodes() -> None:
    """GraphemeBreakTest.txt 15.0.0 (UAX 29)."""
    compared = 0
    for row in rows(UNICODE / "grapheme_breaks.txt"):
        if DIFFERENT.search(row):
            continue
        want = [text_of(piece.replace("×", " ")) for piece in row.strip("÷ ").split("÷")]
        assert split_clusters("".join(want)) == want, row
        compared += 1
    assert compared > 200


# --- fields, faces, order ---


def test_each_field_is_its_own_paragraph() -> None:
    """As one paragraph the digits of the next field would jump to the left of the name."""
    line = LETTERING.shape_line(["T001", "محمد", "12", "M"])
    assert seen(line) == "T001   " + "محمد"[::-1] + "   12   M"
    assert bidi.find_levels("محمد   12")[-1] == 2  # what would happen: the digits belong to the Arabic run


@pytest.mark.parametrize(
    ("name", "as_seen"),
    [
        ("שרה (3)", "(3) הרש"),  # a bracket shows its mirror image; the digits keep their order
        ("دانا 2XL", "2XL اناد"),
        ("Ana שרה", "Ana הרש"),
    ],
)
def test_mixed_names_are_laid_as_they_are_read(name: str, as_seen: str) -> None:
    """Worked out by hand from UAX 9: paragraph by the first strong letter, numbers left to right."""
    pictures = "".join(
        LETTERING.open_face(run.face).char_of(glyph.gid) if unicodedata.mirrored(glyph.text) else glyph.text
        for run in LETTERING.shape_line([name]).runs
        for glyph in run.glyphs
    )
    assert pictures == as_seen


def test_digits_and_spaces_stay_in_the_primary_face() -> None:
    for name in ("王小明 12", "สมชาย 12", "आरव 12", "محمد 12"):
        runs = LETTERING.shape_line([name]).runs
        ours = [run for run in runs if set(run.text) & set(" 12")]
        assert ours
        assert {run.face for run in ours} == {SERIF}, name


def test_a_word_is_set_in_one_face() -> None:
    """The shop's font has no ễ: the whole word goes to a face that has it, not one letter of it."""

    class Narrow:
        primary = "narrow"

        def face_for(self, char: str) -> str | None:
            return SERIF

        def font_data(self, face: str) -> bytes:
            return NARROW if face == "narrow" else SOURCE.font_data(SERIF)

    lettering = TextShaper(Narrow())
    faces = {run.text.strip(): run.face for run in lettering.shape_line(["Linh Nguyễn"]).runs}
    assert faces == {"Linh": "narrow", "Nguyễn": SERIF}


def only(chars: str) -> bytes:
    plan = hb.SubsetInput()
    plan.unicode_set.update(map(ord, chars))
    return bytes(hb.subset(hb.Face(SOURCE.font_data(SERIF)), plan).blob.data)


NARROW = only("".join(map(chr, range(32, 127))))


# --- measures ---


@pytest.mark.parametrize("text", ["AVATAR To.", "Ελένη", "Қайрат", "office"])
def test_width_is_harfbuzzs(text: str) -> None:
    """The same text shaped straight by HarfBuzz, in font units."""
    face = hb.Face(SOURCE.font_data(SERIF))
    buffer = hb.Buffer()
    buffer.add_str(text)
    buffer.guess_segment_properties()
    hb.shape(hb.Font(face), buffer)
    assert LETTERING.shape_line([text]).width * face.upem == pytest.approx(
        sum(place.x_advance for place in buffer.glyph_positions), abs=1e-6
    )


def test_a_line_is_its_fields_and_gaps() -> None:
    one, two = LETTERING.shape_line(["Zoë"]), LETTERING.shape_line(["Adult M"])
    gap = LETTERING.shape_line(["x x"]).width - 2 * LETTERING.shape_line(["x"]).width
    both = LETTERING.shape_line(["Zoë", "", "  ", "Adult M"], gap="  ")
    assert both.fields == ("Zoë", "Adult M")
    assert both.width == pytest.approx(one.width + two.width + 2 * gap)
    assert both.width == pytest.approx(sum(glyph.advance for run in both.runs for glyph in run.glyphs))


def test_everyday_lines_share_one_height_and_tall_ones_say_so() -> None:
    low, high = LETTERING.shape_line(["ace"]), LETTERING.shape_line(["bag Hp"])
    assert (low.ascent, low.descent) == (high.ascent, high.descent)
    tall = LETTERING.shape_line(["བོད་ཡིག"])
    assert tall.descent > high.descent
    assert LETTERING.shape_line([]).width == 0


def test_the_same_text_gives_equal_plain_values() -> None:
    fields = ["T001", "محمد", "क्षितिज"]
    one, two = LETTERING.shape_line(fields), TextShaper(ShippedFonts(newer_emoji=False)).shape_line(fields)
    assert one == two
    assert pickle.loads(pickle.dumps(one)) == one
    assert LETTERING.shape_line(fields) is one  # remembered


# --- what is no text, and what no face has ---


def test_what_is_no_text_is_taken_out_and_said() -> None:
    assert clean_text("Zo\u0308e\x00\u202eabc\u2066\ud800\u00ad\u200e") == (
        "Zöeabc",
        ("\x00", "\u202e", "\u2066", "\ud800", "\u00ad", "\u200e"),
    )
    assert clean_text("  a\tb\r\nc\u00a0d\u2028e ") == ("a b  c d e", ())
    assert clean_text("می\u200cخواهم") == ("می\u200cخواهم", ())  # Persian is spelt with it
    line = LETTERING.shape_line(["\u202eT001", "\x07"])
    assert (line.fields, line.removed) == (("T001",), ("\u202e", "\x07"))


def test_an_override_cannot_turn_the_label_round() -> None:
    assert seen(LETTERING.shape_line(["\u202eMia", "T001"])) == "Mia   T001"


def test_a_pile_of_marks_stays_near_its_letter() -> None:
    piled = LETTERING.shape_line(["Z" + "\u0335\u0323\u0301\u0302\u0303\u0304\u0306" * 8 + "oe"])
    assert len(piled.fields[0]) == 3 + 4
    assert "\u0306" in piled.removed
    assert piled.ascent < 1.6


def test_uncovered_characters_are_named_and_stood_in_for() -> None:
    line = LETTERING.shape_line(["Zoë \U0001fae8 Ltd", "\U00017000"])  # shaking face (2022), Tangut
    assert line.missing == ("\U0001fae8", "\U00017000")
    assert line.fields == (f"Zoë {REPLACEMENT} Ltd", REPLACEMENT)
    drawn = [glyph.gid for run in line.runs for glyph in run.glyphs]
    assert 0 not in drawn  # glyph 0 is the empty box
    assert format_code_points("\U0001f44d\U0001f3fd") == "U+1F44D U+1F3FD"


def test_an_emoji_survives_without_its_skin_tone() -> None:
    line = LETTERING.shape_line(["👍🏽 ❤️ 👨‍👩‍👧"])
    assert line.fields == ("👍 ❤️ 👨‍👩‍👧",)
    assert line.missing == ("👍🏽",)


def test_without_a_replacement_character_a_question_mark_stands_in() -> None:
    class Poor:
        primary = "narrow"

        def face_for(self, char: str) -> str | None:
            return None

        def font_data(self, face: str) -> bytes:
            return NARROW

    line = TextShaper(Poor()).shape_line(["Zoë"])
    assert (line.fields, line.missing) == (("Zo?",), ("ë",))


NAMES = st.text(
    st.one_of(
        st.characters(codec="utf-8"), st.sampled_from("אבגמحمدक्षिกำ王あ김🇩🇪👨‍👩‍👧\u0301\u0323é (1)-/\u200d\u202e")
    ),
    max_size=30,
)


@given(st.lists(NAMES, max_size=4))
def test_any_text_at_all_is_drawn_or_reported(fields: list[str]) -> None:
    line = LETTERING.shape_line(fields)
    assert all(glyph.gid for run in line.runs for glyph in run.glyphs if glyph.text.strip())
    assert line.width == pytest.approx(sum(g.advance for run in line.runs for g in run.glyphs))
    for raw in fields:
        kept, removed = clean_text(raw)
        assert clean_text(kept) == (kept, ())
        assert set(removed) <= set(line.removed)
        for cluster in split_clusters(kept):
            told = any(set(cluster) & set(gone) for gone in line.missing)
            assert told or any(cluster in field for field in line.fields), cluster


# --- cutting short ---


@given(NAMES, st.floats(0, 20))
def test_a_cut_text_fits_and_ends_between_characters(text: str, width: float) -> None:
    line = LETTERING.fit_line(text, width)
    assert line.width <= width
    whole = LETTERING.shape_line([text])
    if whole.width <= width:
        assert line == whole
        return
    assert line.shortened
    assert line.missing == whole.missing
    if line.fields:
        pieces = split_clusters(clean_text(text)[0])
        starts = {"".join(pieces[:n]).rstrip() + "…" for n in range(len(pieces))}
        assert line.fields[0] in {LETTERING.shape_line([start]).fields[0] for start in starts}


def test_a_cut_keeps_as_much_as_there_is_room_for() -> None:
    name = "Wolfeschlegelsteinhausen"
    room = LETTERING.shape_line(["Wolfeschlegel…"]).width
    assert LETTERING.fit_line(name, room).fields == ("Wolfeschlegel…",)
    assert LETTERING.fit_line(name, room - 0.01).fields == ("Wolfeschlege…",)
    assert LETTERING.fit_line("क्षितिज", 2.0).fields[0] in ("क्षि…", "क्षिति…")  # never क् or क्ष without its vowel
    assert LETTERING.fit_line(name, 0.1).fields == ()


def test_the_library_is_loaded_late() -> None:
    code = "import sys, impose.type.lettering; sys.exit('uharfbuzz' in sys.modules)"
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0


def test_a_line_of_known_direction_is_not_turned_by_the_name_it_begins_with() -> None:
    """UAX #9, HL1: at level 0 a Hebrew name keeps its place before the words that follow it, cut short or not."""
    told = "דנה: left chest"
    for line in (LETTERING.shape_paragraph_line(told, right_to_left=False), LETTERING.fit_line(told, 50, 0),
                 LETTERING.fit_line(f"{told} and full back", 6, 0)):  # fmt: skip
        assert line.runs[0].right_to_left
        assert not line.runs[-1].right_to_left
    assert not LETTERING.shape_line([told]).runs[0].right_to_left
