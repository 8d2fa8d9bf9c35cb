"""Paper names and sizes against ISO 216, PWG 5101.1 and the North American sizes."""

from __future__ import annotations

import csv
from decimal import Decimal
from pathlib import Path

import pytest

from each_case import try_each
from impose.errors import Exit, Trouble
from impose.profiles.paper import PaperNameError, compute_iso_size, make_custom_name, parse_media_name
from impose.profiles.profiles import Profiles
from impose.values import replace

SHARED = Path(__file__).parent.parent.parent / "shared"

# ISO 216:2007, tables of the A and B series, width x height in mm.
ISO_216 = {
    "a": [(841, 1189), (594, 841), (420, 594), (297, 420), (210, 297), (148, 210), (105, 148), (74, 105), (52, 74),
          (37, 52), (26, 37)],
    "b": [(1000, 1414), (707, 1000), (500, 707), (353, 500), (250, 353), (176, 250), (125, 176)],
}  # fmt: skip


def _pwg() -> list[dict[str, str]]:
    with (SHARED / "pwg_sizes.csv").open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def test_iso_216_table_equals_the_formula() -> None:
    for series, sizes in ISO_216.items():
        assert [compute_iso_size(series, n) for n in range(len(sizes))] == sizes


def test_iso_216_geometric_rule() -> None:
    """ISO 216, 4.1: A0 is one square metre, B0's short side one metre, each size the larger one halved."""
    for n in range(10):
        for series in "ab":
            short, long = compute_iso_size(series, n)
            assert compute_iso_size(series, n + 1) in {(long // 2, short), (long // 2 + 1, short)}
    assert abs(841 * 1189 - 1_000_000) < 1000
    assert compute_iso_size("b", 0)[0] == 1000


def test_all_219_pwg_names_read_as_their_table_says() -> None:
    """PWG 5101.1 names and sizes as listed by OpenPrinting libcups; the one disc is no paper."""
    rows = _pwg()
    assert len(rows) == 219
    for row in rows:
        if row["name"].startswith("disc_"):
            with pytest.raises(PaperNameError):
                parse_media_name(row["name"])
            # The grammar's disc-dim is inner-dim x outer-dim; libcups lists Disc as 118 x 118.
            assert (row["name"], row["width_mm"], row["height_mm"]) == ("disc_standard_40x118mm", "118.0", "118.0")
            continue
        media = parse_media_name(row["name"])
        assert (media.width_mm, media.height_mm) == pytest.approx((float(row["width_mm"]), float(row["height_mm"])))


def test_iso_names_in_the_pwg_table_equal_the_formula() -> None:
    checked = 0
    for row in _pwg():
        parts = row["name"].split("_")
        if parts[0] == "iso" and parts[1][0] in "ab" and parts[1][1:].isdigit():
            assert compute_iso_size(parts[1][0], int(parts[1][1:])) == (float(row["width_mm"]), float(row["height_mm"]))
            checked += 1
    assert checked == 22


def _abnf_accepts(name: str) -> bool:
    """The grammar of `pwg_abnf.txt`, written out again by hand, with lower case as IPP asks and without discs.

    An independent reading to compare the program's with: it walks the rule, it uses no regular expression.
    """
    parts = name.split("_")
    if len(parts) != 3:
        return False
    kind, size, dims = parts
    unit = dims[-2:]
    kinds = {"in": "custom na asme roc oe roll", "mm": "custom iso jis jpn prc om roll"}.get(unit, "").split()
    sides = dims[:-2].split("x")
    return (
        kind in kinds
        and size[:1].isalnum()
        and all(c in "abcdefghijklmnopqrstuvwxyz0123456789-." for c in size)
        and len(sides) == 2
        and _dim(sides[0])
        and (sides[1] == "0" or _dim(sides[1]))
    )


def _dim(text: str) -> bool:
    whole, point, fraction = text.partition(".")
    digits = set("0123456789")
    if not whole or not set(whole + fraction) <= digits or bool(point) != bool(fraction):
        return False
    if fraction and fraction[-1] == "0":
        return False
    return whole[0] != "0" or (whole == "0" and bool(fraction))


@try_each(
    "name",
    [
        "iso_a4_210x297mm",
        "na_letter_8.5x11in",
        "roll_max_13x0in",
        "roll_24in_24x0in",
        "custom_mine_329x483mm",
        "custom_x.y-z_100.25x200mm",
        "iso_a4_210x297in",
        "na_letter_216x279mm",
        "na_letter_8.50x11in",
        "na_letter_08.5x11in",
        "na_letter_8.x11in",
        "na_letter_.5x11in",
        "na_letter_8.5x11",
        "na_letter_8.5x11in_extra",
        "na_Letter_8.5x11in",
        "na__8.5x11in",
        "na_-a_8.5x11in",
        "iso_a4_210X297mm",
        "iso_a4_210x297cm",
        "foo_a4_210x297mm",
        "a4",
        "",
        "custom_x_100x200mm\n",
        "custom_x_٣00x200mm",
    ],
)
def test_the_grammar_of_pwg_5101_1(name: str) -> None:
    try:
        parse_media_name(name)
        taken = True
    except PaperNameError:
        taken = False
    assert taken == _abnf_accepts(name)


def test_the_independent_reading_of_the_grammar_takes_the_whole_table() -> None:
    assert [r["name"] for r in _pwg() if not _abnf_accepts(r["name"])] == ["disc_standard_40x118mm"]


def test_an_iso_name_with_another_size_is_refused() -> None:
    with pytest.raises(PaperNameError, match="210 x 297"):
        parse_media_name("iso_a4_211x297mm")


@pytest.mark.parametrize("name", ["custom_x_10x200mm", "custom_x_100x6000mm", "roll_x_300x0in"])
def test_no_paper_is_that_small_or_large(name: str) -> None:
    """The PDF page limit of 14,400 units is 5,080 mm (PDF Reference 1.7, appendix C)."""
    with pytest.raises(PaperNameError):
        parse_media_name(name)


@pytest.mark.parametrize(
    ("alias", "width_in", "height_in"),
    [("letter", 8.5, 11), ("Legal", 8.5, 14), ("tabloid", 11, 17), ("ledger", 11, 17), ("13x19", 13, 19)],
)
def test_north_american_sizes(profiles: Profiles, alias: str, width_in: float, height_in: float) -> None:
    """ANSI/ASME Y14.1 A and B, and the sizes that PWG 5101.1 lists for legal and 13 x 19 in."""
    paper = profiles.find_paper(alias)
    assert paper.height_mm is not None
    assert (paper.width_mm, paper.height_mm) == pytest.approx((width_in * 25.4, height_in * 25.4))


def test_every_shipped_paper_is_in_the_pwg_table(profiles: Profiles) -> None:
    table = {row["name"] for row in _pwg()}
    sheets = [p for p in profiles.papers.values() if not p.is_roll]
    assert {p.name for p in sheets} <= table
    assert len(sheets) >= 12
    assert sum(p.is_roll for p in profiles.papers.values()) >= 3


def test_sra_sizes_of_iso_217(profiles: Profiles) -> None:
    """ISO 217:2013: SRA3 is 320 x 450 mm, SRA4 is 225 x 320 mm."""
    assert (profiles.find_paper("sra3").width_mm, profiles.find_paper("sra3").height_mm) == (320, 450)
    assert (profiles.find_paper("SRA4").width_mm, profiles.find_paper("SRA4").height_mm) == (225, 320)


@pytest.mark.parametrize("name", ["A3+", "a3 plus", "Super B", "superb", "SUPER-B", "Super A3", "A4+"])
def test_names_that_mean_several_sizes_need_a_size(profiles: Profiles, name: str) -> None:
    """PWG 5101.1 lists super-b as 13 x 19 in; the legacy name SuperB in the same table is 12 x 19.17 in."""
    with pytest.raises(Trouble) as caught:
        profiles.find_paper(name)
    assert caught.value.exit is Exit.USAGE
    assert "size" in str(caught.value)


@pytest.mark.parametrize(
    ("name", "width", "height"),
    [
        ("A3+ 329x483mm", 329, 483),
        ("A3+ (305 x 457 mm)", 305, 457),
        ("Super B 13x19in", 330.2, 482.6),
        ('13" x 19"', 330.2, 482.6),
        ("21 x 29,7 cm", 210, 297),
        ("custom_mine_300x400mm", 300, 400),
        ("iso_b2_500x707mm", 500, 707),
    ],
)
def test_a_size_says_everything(profiles: Profiles, name: str, width: float, height: float) -> None:
    paper = profiles.find_paper(name)
    assert paper.height_mm is not None
    assert (paper.width_mm, paper.height_mm) == pytest.approx((width, height))
    assert parse_media_name(paper.name).width_mm == paper.width_mm


def test_a_paper_not_on_file_costs_nothing_and_says_so(profiles: Profiles) -> None:
    paper = profiles.find_paper("iso_b2_500x707mm")
    assert paper.cost == Decimal(0)
    assert "cost" in paper.note
    assert profiles.find_paper("210x297mm").cost > 0, "the same size as a paper on file is that paper"


def test_a_roll_by_its_own_name(profiles: Profiles) -> None:
    paper = profiles.find_paper("roll_wide_50x0in")
    assert paper.is_roll
    assert paper.width_mm == 1270
    assert paper.max_length_mm == 5000


def test_near_misses_are_named(profiles: Profiles) -> None:
    with pytest.raises(Trouble, match="letter"):
        profiles.find_paper("leter")
    with pytest.raises(Trouble, match="careful"):
        profiles.find_printer("carefull")
    with pytest.raises(Trouble, match="left-chest"):
        profiles.require_placement("left-chst")


@pytest.mark.parametrize("text", ["a4", "13x", "x19in", "13inx19mm", "8.5x11", "-1x2in"])
def test_what_is_no_size(text: str) -> None:
    name = make_custom_name(text)
    assert name is None or "-1" not in name


def test_a_paper_offered_twice_under_any_name_is_one(profiles: Profiles) -> None:
    settings = profiles.settings.lay_over({"papers": ["a4", "A4", "letter", "iso_a4_210x297mm", "a4"]}, "option")
    offered = replace(profiles, settings=settings).offered_papers
    assert [paper.name for paper in offered] == ["iso_a4_210x297mm", "na_letter_8.5x11in"]
