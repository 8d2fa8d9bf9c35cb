"""What a proof says of findings, orders, sizes and parts, piece by piece, as another parser reads the markup."""

from __future__ import annotations

from decimal import Decimal
from pathlib import Path
from types import SimpleNamespace
from typing import Any, cast

import pytest

from impose import files
from impose.errors import Finding, Severity
from impose.orders.batch import BatchRow
from impose.pages.proof import findings_section, part_pages, print_sentences
from impose.pages.proof.findings_section import ROWS_MOST
from impose.pages.proof.markup import join_markup, make_document
from impose.pages.proof.order_lots import GroupedFinding, OrderLots, RowLot, group_findings, list_orders
from impose.pages.proof.proof_model import LINKS_MOST, Proof, count_words, format_money, link_transfers
from impose.profiles.profiles import load_profiles
from impose.sheet.finding_causes import gather_causes, group_by_cause
from impose.sheet.layout import BatchLayout
from pages.proof.reading import parsed

PROFILES = load_profiles(files.find_shipped_profiles())
ROW = BatchRow(2, "A-1", "Ada", "art/owl.png", Path("owl.png"), "left-chest",
               PROFILES.wardrobe.read_garment("T-shirt adult M").garment, 2, 80.0, None)  # fmt: skip
PROOF = cast(
    Proof,
    SimpleNamespace(
        units="mm", profiles=PROFILES, currency="EUR",
        format_size=lambda w, h: f"{w:g} × {h:g} mm",
        format_for_customer=lambda w, h: PROFILES.texts.format_size(w, h, "mm"),
    ),
)  # fmt: skip


def make_orders(*rows: tuple[int, int, tuple[str, ...]]) -> list[OrderLots]:
    """Orders of rows: the row, that of the kit, the ids of its transfers; each print is 80 × 60 mm."""
    lots = []
    for row, kit_row, names in rows:
        piece = SimpleNamespace(
            row=SimpleNamespace(row=row, key=(row, kit_row)), ink_w_mm=80.0, ink_h_mm=60.0, panel=SimpleNamespace()
        )
        placed = [(SimpleNamespace(number=1), SimpleNamespace(transfer=SimpleNamespace(id=name, piece=piece)))
                  for name in names]  # fmt: skip
        lots.append(RowLot(cast(Any, piece), cast(Any, placed)))
    return [OrderLots(1, "A-1", tuple(lots))]


def read_cards(found: list[Finding], orders: list[OrderLots], most: int | None = None) -> list[Any]:
    """The cards of a section of findings."""
    section = findings_section.findings_section(PROOF, orders, group_findings(found), most)
    assert section is not None
    return list(parsed(make_document("x", "", section, "y").decode("utf-8")).all("li"))


ORDERS = make_orders((2, 0, ("T001", "T002")), (3, 0, ("T003",)), (4, 7, ("T004",)), (4, 8, ("T005",)))
HAZE = Finding("faint alpha all over", "Ask for another file.", Severity.WARN, "haze", "It prints grey.",
               "orders/evening.csv", 2, column="art", read="owl.png")  # fmt: skip


def test_nothing_found_is_no_section() -> None:
    assert findings_section.findings_section(PROOF, ORDERS, []) is None


def test_a_finding_alone_has_its_words_reason_remedy_and_place() -> None:
    (card,) = read_cards([HAZE], ORDERS)
    assert card.attributes["id"] == "finding-1"
    assert card.all("h3")[0].text == "Faint alpha all over (read: “owl.png”)"
    words = [node.text for node in card.all("p")]
    assert words == [
        "It prints grey.", "To mend it: Ask for another file.",
        "evening.csv, row 2, column art, transfers T001 T002",
    ]  # fmt: skip
    assert card.all("span")[0].text == "Warning"


def test_places_are_told_where_they_tell_anything() -> None:
    """A box of 95 hundredths of the print is all of it: no numbers then."""
    for mm, told in (
        ((10.0, 5.0, 30.0, 25.0), "20 × 20 mm at 10 mm from the left, 5 mm from the top of the print"),
        ((0.0, 0.0, 80.0, 56.9), "80 × 56.9 mm at 0 mm from the left, 0 mm from the top of the print"),
        ((0.0, 0.0, 80.0, 57.0), ""),
        ((0.0, 0.0, 80.0, 60.0), ""),
    ):
        finding = Finding("a", "b", Severity.NOTE, "k", row=3, px=(1, 2, 30, 40), mm=mm)
        (card,) = read_cards([finding], ORDERS)
        place = card.all("p")[-1].text
        assert told in place
        assert (" of the print" in place) == bool(told)
        assert ("pixels 1, 2 to 30, 40 of the artwork" in place) == bool(told)
        assert place.endswith("transfer T003")
        assert place.startswith("row 3, " if told else "row 3, transfer")
    assert read_cards([Finding("a", "b", Severity.STOP, "k")], ORDERS)[0].all("p")[-1].text == ""


def test_of_a_row_with_a_kit_only_the_print_that_is_meant_is_named() -> None:
    for kit_row, named in ((0, "transfers T004 T005"), (7, "transfer T004"), (8, "transfer T005")):
        (card,) = read_cards([Finding("a", "b", Severity.NOTE, "k", row=4, kit_row=kit_row)], ORDERS)
        assert card.all("p")[-1].text == f"row 4, {named}"


def test_findings_of_one_kind_are_one_card_and_say_once_what_they_share() -> None:
    def make(what: str, row: int, why: str = "Why.", remedy: str = "Mend.") -> Finding:
        return Finding(what, remedy, Severity.WARN, "haze", why, row=row, column="art", read=f"{row}.png")

    card, *items = read_cards([make("a", 2), make("b", 3)], ORDERS)
    assert card.all("h3")[0].text.endswith("(2)")
    assert [node.text for node in card.all("p")][:2] == ["Why.", "To mend it: Mend."]
    assert [item.attributes["id"] for item in items] == ["finding-1", "finding-2"]
    assert [node.text for item in items for node in item.all("p")] == ["row 2, column art, transfers T001 T002",
                                                                     "row 3, column art, transfer T003"]  # fmt: skip
    card, *items = read_cards([make("a", 2), make("b", 3, remedy="Other.")], ORDERS)
    assert [card.text.count(words) for words in ("To mend it: Mend.", "To mend it: Other.")] == [1, 1]
    assert ["To mend it: Mend." in items[0].text, "To mend it: Other." in items[1].text] == [True, True]
    card, *items = read_cards([make("a", 2), make("b", 3, why="Because.")], ORDERS)
    assert [items[0].text.count("Why."), items[1].text.count("Because.")] == [1, 1]
    assert card.text.count("Why.") == 1
    # A kind is told apart by how bad it is, and what has no kind stands alone.
    found = [Finding("a", "x", Severity.WARN, "k", row=2), Finding("b", "x", Severity.NOTE, "k", row=3)]
    assert len(read_cards(found, ORDERS)) == 2
    assert len(read_cards([Finding("a", "x", Severity.WARN), Finding("b", "x", Severity.WARN)], ORDERS)) == 2


def test_of_a_kind_no_more_than_asked_are_shown_and_the_rest_counted() -> None:
    found = [Finding(f"what {'abc'[n]}", "x", Severity.WARN, "k", row=n + 2) for n in range(3)]
    for most, shown, more in ((None, 3, ""), (3, 3, ""), (2, 2, "and 1 more"), (1, 1, "and 2 more")):
        card, *items = read_cards(found, ORDERS, most)
        assert len([item for item in items if "id" in item.attributes]) == shown
        assert (items[-1].text.startswith(more) and "id" not in items[-1].attributes) == bool(more)
        assert card.all("h3")[0].text == "K (3)"


def test_many_rows_are_told_in_runs_up_to_a_limit() -> None:
    rows = tuple(range(3, 2 * ROWS_MOST + 3, 2))
    (card,) = read_cards([Finding("a", "b", Severity.NOTE, "k", row=rows[0], also=rows[1:])], [])
    assert card.all("p")[-1].text == f"rows {', '.join(map(str, rows))}"
    (card,) = read_cards([Finding("a", "b", Severity.NOTE, "k", row=1, also=rows)], [])
    assert card.all("p")[-1].text.endswith(" and 1 more")


def test_transfers_are_linked_one_by_one_up_to_a_limit() -> None:
    names = [f"T{n:03}" for n in range(1, LINKS_MOST + 2)]

    def read(some: list[str]) -> Any:
        section = join_markup(link_transfers(some))
        return parsed(make_document("x", "", section, "y").decode("utf-8")).all("body")[0].text

    assert read(names[:LINKS_MOST]) == " ".join(names[:LINKS_MOST])
    assert read(names) == f"{' '.join(names[:LINKS_MOST])} and 1 more"
    assert (count_words(1, "sheet"), count_words(0, "sheet"), count_words(1200, "sheet")) == (
        "1 sheet", "0 sheets", "1,200 sheets"
    )  # fmt: skip
    assert (format_money(Decimal("1.005"), "EUR"), format_money(Decimal("2"))) == ("1.01 EUR", "2.00")


def test_a_part_has_the_findings_of_all_its_rows_also_where_another_row_is_named_first() -> None:
    """A finding that many rows share names its first row; each part has some of them."""
    shared = Finding("no garment is named", "", Severity.NOTE, "garment-assumed", row=2, also=(3, 9))
    alone, other = Finding("a", row=9), Finding("b", row=7)
    sheets = [{"transfers": [{"row": row, "ink_cost": "0.1"}], "cost": "0.25"} for row in (2, 9)]
    layouts = [SimpleNamespace(number=n, placed=(), swatches=()) for n in (1, 2)]
    proof = Proof(
        BatchLayout("3F7K", "evening", cast(Any, layouts), ()), {"sheets": sheets}, cast(Any, None), PROFILES,
        cast(Any, None), [shared, alone, other], cast(Any, None), cast(Any, SimpleNamespace(select_pictures=list)),
    )  # fmt: skip
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(part_pages, "list_files", lambda _: [("a.pdf", ()), ("b.pdf", ())])
        first = part_pages.select_proof_part(proof, 1, "a.pdf", cast(Any, layouts[:1]))
        second = part_pages.select_proof_part(proof, 2, "b.pdf", cast(Any, layouts[1:]))
    assert first.findings == [shared]
    assert second.findings == [shared, alone]
    assert first.record["money"] == {"paper": "0.25", "ink": "0.1", "total": "0.35"}
    assert first.part is not None
    assert (first.part.number, first.part.of, first.part.of_sheets, first.sheets) == (1, 2, 2, 2)
    assert [part_pages.part_file_name(7, of) for of in (9, 999, 1000)] == [
        "proof-007.html", "proof-007.html", "proof-0007.html"
    ]  # fmt: skip


def test_findings_with_one_cause_are_told_once_the_worst_first() -> None:
    """One picture, one act: a larger file mends every row that has it."""

    def low(row: int, pixels: int, severity: Severity = Severity.WARN, kind: str = "low-resolution") -> Finding:
        return Finding(f"{pixels} ppi at this size", "Send a larger picture, or print smaller.", severity, kind,
                       row=row, column="art", read="art/owl.png")  # fmt: skip

    found = [low(2, 110), low(3, 90), low(4, 40, kind="very-low-resolution"), HAZE]
    first, second = group_by_cause(found)
    assert [finding.row for finding in first] == [4, 3, 2]
    assert second == [HAZE]
    told, haze = gather_causes(found)
    assert (told.what, told.row, told.file) == (
        "40 ppi at this size (so of row 4; alike in the others)",
        None,
        "rows 2-4",
    )
    assert "a larger picture of owl.png (for rows 2-4)," in told.remedy
    assert haze == HAZE
    # Stops are told each by itself, and so is what has no row; other words are another cause.
    stops = [Finding("a", "", Severity.STOP, "k", row=2), Finding("b", "", Severity.STOP, "k", row=3)]
    assert len(group_by_cause(stops)) == 2
    notes = [Finding(what, "", Severity.NOTE, "k", row=row) for row, what in ((2, "5 mm"), (3, "7 mm"), (4, "x"))]
    assert [len(group) for group in group_by_cause(notes)] == [2, 1]
    worst = gather_causes([notes[2], stops[0]])
    assert [finding.severity for finding in worst] == [Severity.STOP, Severity.NOTE]


def test_sizes_of_a_look_are_one_a_range_or_the_heights_of_its_words() -> None:
    def tell(words: str, *sizes: tuple[float, float]) -> str:
        shown = SimpleNamespace(row=SimpleNamespace(words=words))
        look = SimpleNamespace(list_sizes=lambda index: list(sizes), first=SimpleNamespace(prints=[shown]))
        return print_sentences.tell_sizes(PROOF, cast(Any, look), 0)

    assert tell("", (80, 60), (80.2, 60)) == "80 mm × 60 mm"
    assert tell("", (80, 60), (100, 75)) == PROFILES.texts.fill_sentence(
        "approval", "size_range", least="80 mm × 60 mm", most="100 mm × 75 mm"
    )
    assert tell("ADA", (80, 40), (100, 40)) == PROFILES.texts.fill_sentence("approval", "words_high", height="40 mm")
    assert tell("ADA", (80, 50), (100, 40)) == PROFILES.texts.fill_sentence(
        "approval", "words_high_range", least="40 mm", most="50 mm"
    )
    for garments, wearer, key in ((1, "", "drawn"), (1, "Ada", "drawn_for"), (2, "", "drawn_first"),
                                  (2, "Ada", "drawn_first_for")):  # fmt: skip
        look = SimpleNamespace(garments=[0] * garments, first=SimpleNamespace(wearer=wearer))
        assert print_sentences.choose_drawn_key(cast(Any, look)) == key


def test_orders_are_in_the_order_of_the_batch_with_their_rows_copies_and_costs() -> None:
    """A row of two sizes (its garments differ) is two lots; T010 comes after T9."""

    def place(row: int, order: str, name: str, wide: float = 80.0, art: str = "a") -> Any:
        piece = SimpleNamespace(
            row=SimpleNamespace(row=row, key=(row, 0), order_key=(order, 0 if order else row), order=order),
            ink_w_mm=wide, ink_h_mm=60.0, picture=SimpleNamespace(sha256=art),
        )  # fmt: skip
        return SimpleNamespace(transfer=SimpleNamespace(id=name, piece=piece))

    sheets = [
        SimpleNamespace(number=1, placed=[place(3, "B", "T010"), place(2, "A", "T2"), place(3, "B", "T9")]),
        SimpleNamespace(number=2, placed=[place(4, "A", "T3"), place(3, "B", "T011", 90.0), place(5, "", "T4")]),
    ]
    record = {"sheets": [{"transfers": [
        {"id": placed.transfer.id, "cost": "0.10", "ink_cost": "0.02"} for placed in sheet.placed
    ]} for sheet in sheets]}  # fmt: skip
    orders = list_orders(cast(Any, SimpleNamespace(sheets=sheets)), record)
    assert [(order.number, order.name, order.title) for order in orders] == [
        (1, "A", "A"), (2, "B", "B"), (3, "", "Row 5, no order name")
    ]  # fmt: skip
    assert [[lot.ids for lot in order.lots] for order in orders] == [
        [["T2"], ["T3"]],
        [["T9", "T010"], ["T011"]],
        [["T4"]],
    ]
    assert (orders[1].count, orders[1].paper, orders[1].ink) == (3, Decimal("0.30"), Decimal("0.06"))
    assert [OrderLots(n, "", ()).hue for n in (1, 8, 9, 10)] == [0, 7, 0, 1]


def test_a_group_names_each_row_once_with_those_of_its_kits() -> None:
    both = (Finding("a", row=4, also=(2,)), Finding("a", row=2, kit_row=5), Finding("a", row=4))
    grouped = GroupedFinding(both[0], both)
    assert grouped.row_numbers == [2, 4]
    assert grouped.keys == [(2, 0), (2, 5), (4, 0)]
