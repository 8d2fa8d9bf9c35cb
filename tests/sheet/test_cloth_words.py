"""What is said of cloth: its share, its part and its rows in words, each thing once for the rows it is true of."""

from __future__ import annotations

import pytest

from impose import files
from impose.errors import Finding, Severity
from impose.orders.batch import BatchRow
from impose.profiles.profiles import load_profiles
from impose.sheet.cloth_findings import find_cloth_findings
from impose.values import replace
from sheet.test_job_label import make_piece

PROFILES = load_profiles(files.find_shipped_profiles())
STOP, WARN = Severity.STOP, Severity.WARN


def make_row(cloth: str = "", colour: str = "", placement: str | None = "left-chest", **more: object) -> BatchRow:
    read = PROFILES.wardrobe.cloth_words.read_cloth(cloth, colour)
    return replace(make_piece(50.0, 50.0).row, **{"cloth": read, "placement": placement, "row": 4, **more})


def look(*rows: BatchRow) -> list[Finding]:
    return find_cloth_findings(rows, PROFILES)


@pytest.mark.parametrize(
    ("cloth", "severity", "words"),
    [
        ("100% polyester", None, ""),
        ("polyester", None, ""),
        ("99% polyester 1% elastane", WARN, "99 % polyester: the other 1 % of the cloth takes no dye"),
        ("65% polyester 35% cotton", WARN, "65 % polyester: the other 35 % of the cloth takes no dye"),
        ("64.5% polyester 35.5% cotton", STOP, "64.5 % polyester, under 65 %: the dye does not hold on the rest"),
        ("1% polyester 99% cotton", STOP, "1 % polyester, under 65 %: the dye does not hold on the rest"),
        ("cotton", STOP, "no polyester: the dye does not hold on the rest"),
        ("polycotton", STOP, "a blend that does not say its share of polyester"),
        ("90% polyester 10% nylon", STOP, "nylon can melt in the press"),
        ("polypropylene", STOP, "polypropylene can melt in the press"),
        ("50% acrylic 50% polypropylene", STOP, "acrylic and polypropylene can melt in the press"),
    ],
)
def test_what_the_fibres_mean_is_told_with_their_shares(cloth, severity, words) -> None:
    found = look(make_row(cloth))
    assert [finding.severity for finding in found] == ([severity] if severity else [])
    for finding in found:
        assert finding.what.startswith(words)
        assert (finding.column, finding.read, finding.row) == ("cloth", cloth, 4)
        assert finding.kind == ("cloth-blend" if severity is WARN else "cloth")


@pytest.mark.parametrize(
    ("colour", "placement", "words"),
    [
        ("white", "left-chest", []),
        ("navy", "left-chest", ["the cloth is dark (“navy”)"]),
        ("navy", None, ["the cloth is dark (“navy”)"]),
        ("cream", "full-back", ["the cloth is not white (“cream”)"]),
        ("white with navy sleeves", "left-chest", ["coloured sleeves"]),
        ("white with navy sleeves", None, ["coloured sleeves"]),
        ("white with navy sleeves", "left-short-sleeve", ["the cloth of the sleeves is dark", "coloured sleeves"]),
        ("white with navy sleeves", "right-long-sleeve", ["the cloth of the sleeves is dark", "coloured sleeves"]),
        ("white, cream hood", "hood", ["the cloth of the hood is not white", "coloured hood"]),
        ("navy, white hood", "hood", []),
        ("navy, white hood", "full-front", ["the cloth is dark"]),
        ("navy", "hood", ["the cloth is dark"]),
    ],
)
def test_the_colour_told_is_that_of_the_part_that_is_printed_on(colour, placement, words) -> None:
    found = look(make_row(colour=colour, placement=placement))
    if "coloured" not in "".join(words):  # the rest of the garment may be dyed: that is told elsewhere
        found = [finding for finding in found if finding.kind != "dyed-cloth"]
    assert [finding.what[: len(word)] for finding, word in zip(found, words, strict=True)] == words
    for finding in found:
        assert (finding.column, finding.read) == ("cloth_colour", colour)
        assert finding.severity is (STOP if finding.kind == "dark-cloth" else WARN)
        assert finding.kind == ("dyed-cloth" if "coloured" in finding.what else
                                "dark-cloth" if "dark" in finding.what else "light-cloth")  # fmt: skip


def test_each_is_told_once_for_the_rows_of_an_order_and_apart_where_one_accepts_it() -> None:
    same = [make_row("cotton", order="A", row=row) for row in (2, 3, 3, 5)]
    other = make_row("cotton", order="B", row=6)
    accepting = make_row("cotton", order="A", row=7, accept=frozenset({"cloth"}))
    found = look(*same, other, accepting, make_row("polyester", row=8), make_row(row=9))
    assert [(finding.row, finding.also) for finding in found] == [(2, (3, 5)), (6, ()), (7, ())]


def test_words_that_are_not_known_are_quoted_with_what_is() -> None:
    fibre, colour = look(make_row("hemp mix", "taupe"))[:2]
    assert "is not a fibre on file" in fibre.what
    assert "hemp" in fibre.what
    assert "polyester" in fibre.remedy
    assert "cotton" in fibre.remedy
    assert (fibre.kind, fibre.severity, fibre.column) == ("cloth-unknown", WARN, "cloth")
    assert colour.what == "“taupe” is not a colour of cloth on file; taken as white"
    assert (colour.kind, colour.severity, colour.column) == ("cloth-unknown", WARN, "cloth_colour")
