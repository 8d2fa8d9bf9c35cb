"""Exports as web shops write them, read through a column map.

The damage is that of CSV exports from shops and spreadsheets (common practice, no source): an order's number on its
first line only, lines of quantity 0, refunded lines, wrappers and dates made by the spreadsheet.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from impose.errors import Exit, Finding, Severity, Trouble
from impose.orders.batch import Batch
from impose.orders.batch_reader import read_batch
from impose.orders.column_map import read_column_map
from impose.profiles.profiles import Profiles

DOCUMENT = Path(__file__).parent.parent.parent / "shared" / "docs" / "orders.md"
# The map that the document shows is the one under test.
MAP = DOCUMENT.read_text(encoding="utf-8").split("<!-- column map -->\n```toml\n")[1].split("```")[0]

HEAD = "Order number;Payment;Ship to;Item;Variant;Item code;Quantity;Print width;Gift message;Country\n"


def _batch(folder: Path, profiles: Profiles, rows: str, rules: str = MAP, head: str = HEAD) -> Batch:
    (folder / "export.csv").write_text(head + rows, encoding="utf-8")
    (folder / "columns.toml").write_text(rules, encoding="utf-8")
    return read_batch(folder / "export.csv", profiles, column_map=read_column_map(folder / "columns.toml"))


def _faults(folder: Path, profiles: Profiles, rows: str, rules: str = MAP, head: str = HEAD) -> tuple[Finding, ...]:
    with pytest.raises(Trouble) as caught:
        _batch(folder, profiles, rows, rules, head)
    assert all(f.what and f.remedy and f.file for f in caught.value.findings)
    return caught.value.findings


def test_an_export_becomes_rows(desk: Path, profiles: Profiles) -> None:
    batch = _batch(
        desk,
        profiles,
        "#1001;paid;Ana;Tee;Youth M;owl;2;;with love;PT\n"
        ";;;hoodie;L;fox;;3,5;;\n"
        '="0042";paid;Ben;TEE;youth  m;owl;1;;;\n'
        "#1003;Refunded;Cleo;Tee;Youth M;owl;1;;;\n"
        "#1004;paid;Dan;Tee;Youth M;owl;0;;;\n",
    )
    first, second, third = batch.rows
    assert (first.order, first.wearer, first.art, first.placement) == ("#1001", "Ana", "art/owl.png", "left-chest")
    assert (first.garment.group, first.garment.size, first.copies, first.width_mm) == ("youth", "M", 2, None)
    assert first.extra == (("Gift message", "with love"),)
    assert (second.order, second.wearer, second.copies, second.width_mm) == ("#1001", "Ana", 1, 88.9)
    assert (second.row, second.garment.kind) == (3, "hoodie")
    assert (third.order, third.wearer, third.garment.group) == ("0042", "Ben", "youth")
    said = [f for f in batch.findings if f.kind == "row-skipped"]
    assert ["refunded" in f.what.casefold() or "Quantity: 0" in f.what for f in said] == [True, True]
    assert [f.row for f in said] == [5, 6]
    unused = next(f for f in batch.findings if f.kind == "unknown-column")
    assert unused.what.endswith("are not read: Country"), "what is named is read, and a blank heading is nothing"


def test_of_unread_columns_only_those_with_a_heading_are_told(desk: Path, profiles: Profiles) -> None:
    head = HEAD.replace(";Country", ";;Country;Colour")
    batch = _batch(desk, profiles, "1;paid;Ana;Tee;Youth M;owl;2;;with love;;PT;\n", head=head)
    (unused,) = [f.what for f in batch.findings if f.kind == "unknown-column"]
    assert unused == "columns that the column map does not name are not read: Country, Colour"


def test_a_wearer_is_filled_within_its_order_only(desk: Path, profiles: Profiles) -> None:
    batch = _batch(desk, profiles, "1;;Ana;Tee;Youth M;owl;;;;\n2;;;Tee;Youth M;owl;;;;\n")
    assert [row.wearer for row in batch.rows] == ["Ana", ""]


def test_a_value_that_is_not_listed_is_refused_with_the_near_miss(desk: Path, profiles: Profiles) -> None:
    (fault,) = _faults(desk, profiles, "1;;Ana;Tee;Youth L;owl;;;;\n")
    assert (fault.row, fault.column, fault.read, fault.kind) == (2, "Item + Variant", "Tee Youth L", "unlisted-value")
    assert "“Tee Youth M”" in fault.remedy
    kept = MAP.replace("[garment.values]", 'unlisted = "keep"\n[garment.values]')
    assert _batch(desk, profiles, "1;;Ana;T-shirt;Youth L;owl;;;;\n", kept).rows[0].garment.size == "L"


def test_headings_that_are_missing_or_doubled_stop_the_file(desk: Path, profiles: Profiles) -> None:
    renamed = _faults(desk, profiles, "", head=HEAD.replace("Item code", "Item-codes"))
    assert "“Item code”" in renamed[0].what
    assert "Item-codes" in renamed[0].remedy
    (doubled,) = _faults(desk, profiles, "", head=HEAD.replace("Country", "Variant"))
    assert "2 times" in doubled.what


def test_a_map_that_passes_over_everything_says_so(desk: Path, profiles: Profiles) -> None:
    found = _faults(desk, profiles, "1;refunded;Ana;Tee;Youth M;owl;1;;;\n")
    assert "passes over every row" in found[0].what


def test_a_folder_is_no_column_map(tmp_path: Path) -> None:
    with pytest.raises(Trouble, match="a folder, not a column map") as caught:
        read_column_map(tmp_path)
    assert caught.value.exit is Exit.USAGE


def test_damage_in_a_joined_cell_is_found(desk: Path, profiles: Profiles) -> None:
    (fault,) = [f for f in _faults(desk, profiles, "1;;Ana;Tee;#REF!;owl;;;;\n") if f.kind == "damaged-cell"]
    assert (fault.row, fault.column, fault.read) == (2, "Item + Variant", "#REF!")


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "no table is named"),
        ('[art]\nfrom = "A"\nalways = "B"', "either from or always"),
        ("[art]\nbefore = 1", "has to be a text"),
        ('[artt]\nfrom = "A"', "not a key that is known here"),
        ('[art]\nfrom = "A"\nunit = "in"', "only width, height and tear"),
        ('[width]\nfrom = "A"\nunit = "ft"', "not one of the choices"),
        ('[art]\nfrom = "A"\nunlisted = "maybe"', "not one of the choices"),
        ('[art]\nfrom = "A"\n[art.values]\na = 1', "has to be a text"),
        ('[art]\nfrom = ["A", 2]', "list of texts"),
        ('[art]\nfrom = "A"\n[skip]\nB = "x"', "list of texts"),
        ("art =", "not TOML"),
    ],
)
def test_a_faulty_map_says_where(tmp_path: Path, text: str, said: str) -> None:
    path = tmp_path / "columns.toml"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(Trouble) as caught:
        read_column_map(path)
    assert any(said in finding.what for finding in caught.value.findings), caught.value
    assert caught.value.exit is Exit.USAGE


def test_left_out_orders_still_leave_whole_under_a_map(desk: Path, profiles: Profiles) -> None:
    (desk / "export.csv").write_text(
        HEAD + "1;;Ana;Tee;Youth L;owl;;;;\n;;;Tee;Youth M;owl;;;;\n2;;;Tee;Youth M;owl;;;;\n"
    )
    (desk / "columns.toml").write_text(MAP)
    rules = read_column_map(desk / "columns.toml")
    batch = read_batch(desk / "export.csv", profiles, column_map=rules, skip_bad=True)
    assert [row.order for row in batch.rows] == ["2"]
    assert any(f.severity is Severity.STOP and f.row == 2 for f in batch.findings)
