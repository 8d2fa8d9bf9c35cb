"""Texts that customers see come from one file, which a shop replaces sentence by sentence."""

from __future__ import annotations

import re
import tomllib
from datetime import date
from decimal import Decimal
from pathlib import Path

import pytest

from impose.errors import Trouble
from impose.profiles.customer_texts import CustomerTexts
from impose.profiles.profiles import load_profiles

SAMPLES = Path(__file__).parent.parent / "samples" / "texts"
IMPOSE = Path(__file__).parent.parent.parent / "impose"


def laid(shipped: Path, own: Path, text: str) -> CustomerTexts:
    (own / "texts.toml").write_text(text, "utf-8")
    return load_profiles(shipped, own).texts


def faults(shipped: Path, own: Path, text: str) -> list[tuple[str, str]]:
    with pytest.raises(Trouble) as caught:
        laid(shipped, own, text)
    assert {finding.file for finding in caught.value.findings} == {str(own / "texts.toml")}
    return [(finding.what, str(finding.remedy)) for finding in caught.value.findings]


def test_german(shipped: Path, own: Path) -> None:
    """Decimal comma, point between thousands, day.month.year: DIN 5008 and CLDR `de` (from memory)."""
    texts = laid(shipped, own, (SAMPLES / "de.toml").read_text("utf-8"))
    assert texts.format_number(1234567) == "1.234.567"
    assert texts.format_number(Decimal("1234.565"), 2) == "1.234,57"
    assert texts.format_money(Decimal("1234.5"), "EUR") == "1.234,50 EUR"
    assert texts.format_date(date(2026, 3, 7)) == "07.03.2026"
    assert texts.format_length(88.94, "mm") == "88,9 mm"
    assert texts.format_size(88.9, 50.8, "in") == "3 1/2 Zoll × 2 Zoll"
    assert texts.name_place("left-chest") == "Brust links"
    assert texts.fill_sentence("approval", "look", number=2, count=1) == "2. Ein Kleidungsstück"
    assert texts.fill_sentence("approval", "look", number=2, count=1200) == "2. 1.200 Kleidungsstücke"


def test_german_has_every_sentence_of_the_approval(shipped: Path) -> None:
    german = tomllib.loads((SAMPLES / "de.toml").read_text("utf-8"))
    english = tomllib.loads((shipped / "texts.toml").read_text("utf-8"))
    for table in ("faces", "places", "approval"):
        assert set(german[table]) == set(english[table])


def test_hebrew(shipped: Path, own: Path) -> None:
    texts = laid(shipped, own, (SAMPLES / "he.toml").read_text("utf-8"))
    assert texts.custom.right_to_left
    assert texts.fill_sentence("approval", "look", number=1, count=2) == "1. שני בגדים"
    assert texts.fill_sentence("approval", "look", number=1, count=7) == "1. 7 בגדים"
    assert texts.format_size(80, 90, "mm") == "80 מ״מ × 90 מ״מ"
    # What the file leaves out stays as it is shipped.
    assert texts.fill_sentence("approval", "both", first="a", second="b") == "a and b"
    assert texts.name_place("nape") == "nape"


def test_arabic_digits_and_marks(shipped: Path, own: Path) -> None:
    """U+0660 to U+0669, U+066B and U+066C: The Unicode Standard, chapter 9.2."""
    texts = laid(shipped, own, '[custom]\ndigits = "٠١٢٣٤٥٦٧٨٩"\ndecimal = "٫"\nthousands = "٬"\n')
    assert texts.format_number(Decimal("1234.5"), 1) == "١٬٢٣٤٫٥"
    assert texts.format_date(date(2026, 11, 28)) == "٢٨ November ٢٠٢٦"
    assert texts.format_on_ruler(88.9, "in") == "٣ ١/٢ in"


def test_months_by_name(shipped: Path, own: Path) -> None:
    texts = laid(shipped, own, '[custom]\ndate = "{month_name} {day}, {year}"\n')
    assert texts.format_date(date(2026, 7, 4)) == "July 4, 2026"


def test_what_is_filled_in_is_not_read_again(profiles) -> None:
    said = profiles.texts.fill_sentence("approval", "drawn_for", garment="{wearer} {0}", wearer="{garment}%s")
    assert said == "Drawn to scale: {wearer} {0} for {garment}%s."


@pytest.mark.parametrize(
    ("text", "what", "remedy"),
    [
        ('[approval]\nreference = "{refrence}"', "nothing is filled in for {refrence}", "Known here: {reference}."),
        ('[approval]\nreference = "Hier"', "{reference} is missing", "Put it where it belongs in the sentence."),
        ('[approval]\nlead = "{reference}"', "nothing is filled in for {reference}", "This sentence has none."),
        ('[approval]\nlead = " "', "an empty sentence", "take the key out"),
        ('[approval]\nlead = "a } b"', "a brace that belongs to no name", "Braces stand around names alone."),
        ('[approval]\nlead = "{}"', "a brace that belongs to no name", "Braces stand around names alone."),
        ('[approval]\nlead = "{reference!r}"', "a brace that belongs to no name", "Braces stand around names alone."),
        ('[approval]\nlead = "a\\u202eb"', "no text to be read: U+202E", "direction in [custom]"),
        (f'[approval]\nlead = "{"a" * 1001}"', "longer than 1000 characters", "Shorten it."),
        ("[approval]\nlead = 3", "has to be a text in quotes", ""),
        ('[approval]\nleed = "x"', "not a key that is known here", "lead"),
        ('[aproval]\nlead = "x"', "no document that customers get", "approval"),
        ('[approval]\nlead = { 1 = "a", other = "b" }', "nothing is counted in it", "Write one sentence"),
        ('[approval]\nlook = { 1 = "{number}" }', "no form for all other numbers", 'Add other = "…".'),
        ('[approval]\nlook = { 01 = "{number}", other = "{number} {count}" }', "neither a number nor other", "Forms"),
        ('[approval]\nlook = { other = "{number}" }', "{count} is missing", "Put it where"),
        ('[places]\nleft-chst = "x"', "not a key that is known here", "left-chest"),
        ('[places]\nnape = "{place}"', "nothing is filled in for {place}", "This sentence has none."),
        ('[custom]\ndirection = "left"', "not one of the choices", ""),
        ('[custom]\nlanguage = "deutsch!"', "no tag of a language", "BCP 47"),
        ('[custom]\ndecimal = ""', "no mark in a number", "Write one sign"),
        ('[custom]\ndecimal = ","', "the same sign before decimals", "Change either"),
        ('[custom]\ndigits = "012345678"', "not ten digits", "Write them in order"),
        ('[custom]\ndigits = "0123456798"', "not ten digits", "Write them in order"),
        ('[custom]\ndate = "{day}.{month}."', "without its day, month or year", "As in"),
        ('[custom]\nmonths = ["a"]', "has 1 names", "Name the twelve months"),
        ('[custom]\nmm = "mm"', "{number} is missing", "Put it where"),
        ('[custom]\nmetre = "m"', "not a key that is known here", ""),
    ],
)
def test_faults_by_file_key_and_remedy(shipped: Path, own: Path, text: str, what: str, remedy: str) -> None:
    found = faults(shipped, own, text)
    assert any(what in said and remedy in told for said, told in found), found
    table = text[1 : text.index("]")]
    assert all(f"[{table}" in said for said, _ in found)


def test_every_sentence_that_is_shipped_is_used(shipped: Path) -> None:
    """A sentence that nothing says is a translator's lost work."""
    code = "\n".join(path.read_text("utf-8") for path in IMPOSE.rglob("*.py"))
    put_together = r"drawn(_first)?(_for)?|roster_(for|garment|sizes|right)|answer_(name|date)"
    for document, sentences in tomllib.loads((shipped / "texts.toml").read_text("utf-8")).items():
        if document not in ("custom", "places", "faces"):
            for key in sentences:
                assert f'"{key}"' in code or re.fullmatch(put_together, key), (document, key)


def test_every_shipped_placement_has_its_words(shipped: Path, profiles) -> None:
    assert set(tomllib.loads((shipped / "texts.toml").read_text("utf-8"))["places"]) == set(profiles.placements)
