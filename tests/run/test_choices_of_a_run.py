"""What a run decides by itself, case by case: which findings stop it, what stays where it lay, what is advised."""

from __future__ import annotations

import itertools
import random
from pathlib import Path
from types import SimpleNamespace
from typing import Any, cast

import pytest

from impose import files
from impose.errors import Finding, Severity, Trouble
from impose.orders.batch import Batch, BatchRow
from impose.profiles.profiles import load_profiles
from impose.run import Options, reuse_sheets, size_advice
from impose.run.carry_over import carry_sheets, match_prints
from impose.run.finding_mends import list_mends
from impose.run.first_questions import _press_changes, _printer_changes
from impose.run.paper_amounts import format_paper_amount, is_roll_name
from impose.run.severity_policy import accept_agreed_stops, judge_findings, remove_stopped_orders, weigh_findings
from impose.units import Box
from impose.values import replace

PROFILES = load_profiles(files.find_shipped_profiles())
ROW = BatchRow(2, "A", "Ada", "owl.png", Path("owl.png"), "left-chest",
               PROFILES.wardrobe.read_garment("T-shirt adult M").garment, 1, 80.0, None)  # fmt: skip
STOP, WARN, NOTE = Severity.STOP, Severity.WARN, Severity.NOTE


def make_batch(*accepted: set[str], kits: tuple[int, ...] = (), left: frozenset[int] = frozenset()) -> Batch:
    """Rows from 2 on, each an order of its own; with `kits` all are prints of row 2, by the row of the kit."""
    rows = [
        replace(ROW, row=2 if kits else n, kit="team" if kits else "", kit_row=kits[n - 2] if kits else 0,
                order=f"O{n}", accept=frozenset(kinds))
        for n, kinds in enumerate(accepted, 2)
    ]  # fmt: skip
    return Batch("evening", "evening.csv", Path(), tuple(rows), left=left)


def told(finding: Finding, batch: Batch, stops: tuple[str, ...] = (), **options: Any) -> Severity:
    ((now, was),) = weigh_findings([finding], batch, Options(**options), stops)
    assert was is finding.severity
    assert now.file == (finding.file or "evening.csv")
    return now.severity


HAZE = Finding("haze", severity=WARN, kind="haze", row=2)


@pytest.mark.parametrize(
    ("finding", "batch", "stops", "options", "severity"),
    [
        # A warning warns; --strict makes every warning stop, the setting `stops` those of its kinds, notes too.
        (HAZE, make_batch(set()), (), {}, WARN), (HAZE, make_batch(set()), (), {"strict": True}, STOP),
        (HAZE, make_batch(set()), ("haze",), {}, STOP), (HAZE, make_batch(set()), ("speck",), {}, WARN),
        (replace(HAZE, severity=NOTE), make_batch(set()), (), {"strict": True}, NOTE),
        (replace(HAZE, severity=NOTE), make_batch(set()), ("haze",), {}, STOP),
        (replace(HAZE, severity=STOP), make_batch(set()), (), {}, STOP),
        # What a row has agreed to, or the command for all, does not.
        (HAZE, make_batch({"haze"}), ("haze",), {"strict": True}, WARN),
        (HAZE, make_batch(set()), ("haze",), {"strict": True, "accept": frozenset({"haze"})}, WARN),
        (HAZE, make_batch({"speck"}), ("haze",), {}, STOP),
        # Of several rows all have to agree.
        (replace(HAZE, also=(3,)), make_batch({"haze"}, {"haze"}), ("haze",), {}, WARN),
        (replace(HAZE, also=(3,)), make_batch({"haze"}, set()), ("haze",), {}, STOP),
        (replace(HAZE, also=(3,)), make_batch(set(), {"haze"}), ("haze",), {}, STOP),
        # What is said of rows that have left stops nothing; of no row, only the command agrees.
        (HAZE, make_batch(set(), left=frozenset({2})), ("haze",), {"strict": True}, WARN),
        (replace(HAZE, also=(3,)), make_batch(set(), {"haze"}, left=frozenset({2})), ("haze",), {}, WARN),
        (replace(HAZE, row=None), make_batch({"haze"}), ("haze",), {}, STOP),
        (replace(HAZE, row=None), make_batch(set()), ("haze",), {"accept": frozenset({"haze"})}, WARN),
        # That orders were left out is no warning to stop at.
        (Finding("x", severity=WARN, kind="left-out"), make_batch(set()), (), {"strict": True}, WARN),
        # Whoever agrees to few pixels has agreed to very few, and not the other way round.
        (replace(HAZE, kind="very-low-resolution"), make_batch({"low-resolution"}), (), {"strict": True}, WARN),
        (replace(HAZE, kind="low-resolution"), make_batch({"very-low-resolution"}), (), {"strict": True}, STOP),
        # A refusal is no kind that a setting can name.
        (replace(HAZE, kind="bad-copies"), make_batch(set()), ("bad-copies",), {}, WARN),
        # Of one print of a kit its own row of the kit decides; of all of them, all.
        (replace(HAZE, kit_row=5), make_batch({"haze"}, set(), kits=(5, 6)), ("haze",), {}, WARN),
        (replace(HAZE, kit_row=6), make_batch({"haze"}, set(), kits=(5, 6)), ("haze",), {}, STOP),
        (HAZE, make_batch({"haze"}, set(), kits=(5, 6)), ("haze",), {}, STOP),
        (HAZE, make_batch({"haze"}, {"haze"}, kits=(5, 6)), ("haze",), {}, WARN),
    ],
)  # fmt: skip
def test_which_findings_stop(finding: Finding, batch: Batch, stops: Any, options: Any, severity: Severity) -> None:
    assert told(finding, batch, stops, **options) is severity


def test_what_stops_is_raised_unless_its_orders_may_leave() -> None:
    batch, dark = make_batch(set(), set()), Finding("dark", kind="dark-cloth", row=3)
    assert judge_findings([HAZE], batch, Options()) == (replace(HAZE, file="evening.csv"),)
    for options in (Options(strict=True), Options(strict=True, skip_bad=True)):
        with pytest.raises(Trouble):
            judge_findings([HAZE], batch, options)
    with pytest.raises(Trouble):
        judge_findings([dark], batch, Options())
    assert judge_findings([dark], batch, Options(skip_bad=True)) == (replace(dark, file="evening.csv"),)
    assert remove_stopped_orders([HAZE], batch, Options()) is None
    rest = remove_stopped_orders([HAZE], batch, Options(strict=True))
    assert rest is not None
    assert [row.order for row in rest.rows] == ["O3"]
    assert remove_stopped_orders([dark], batch, Options()) is None, "a refusal leaves by the rule of refusals"


def test_a_refusal_that_may_be_agreed_to_is_a_warning_where_all_agree() -> None:
    dark = Finding("dark", kind="dark-cloth", row=2, also=(3,))
    for batch, severity in (
        (make_batch({"dark-cloth"}, {"dark-cloth"}), WARN), (make_batch({"dark-cloth"}, set()), STOP),
        (make_batch(set(), set()), STOP),
    ):  # fmt: skip
        assert [found.severity for found in accept_agreed_stops([dark], batch, Options())] == [severity]
    accepted = Options(accept=frozenset({"dark-cloth", "haze"}))
    assert [f.severity for f in accept_agreed_stops([dark, HAZE], make_batch(set(), set()), accepted)] == [WARN, WARN]
    never = replace(dark, kind="bad-copies")
    assert accept_agreed_stops([never], make_batch({"bad-copies"}, {"bad-copies"}), Options()) == [never]


def make_print(row: BatchRow, copy: int = 1, wide: float = 90.0, panel: Any = None, may_turn: bool = True) -> Any:
    box = None if panel is None else SimpleNamespace(box=panel)
    return SimpleNamespace(
        piece=SimpleNamespace(row=row, cell_w_mm=wide, cell_h_mm=70.0, may_turn=may_turn, panel=box), copy=copy
    )


def test_a_print_is_the_same_by_what_it_is_and_not_by_its_id() -> None:
    """The unchanged row under its number, then wherever it stands, then the same row changed but for its size."""
    other = replace(ROW, art="fox.png")
    before = {"T1": make_print(ROW), "T2": make_print(ROW, 2), "T3": make_print(replace(other, row=3))}
    assert match_prints(before, before) == {"T1": "T1", "T2": "T2", "T3": "T3"}
    # A row put in before them: all numbers are new.
    moved = {"T1": make_print(replace(other, row=2)), "T2": make_print(replace(ROW, row=3)),
             "T3": make_print(replace(ROW, row=3), 2)}  # fmt: skip
    assert match_prints(before, moved) == {"T1": "T2", "T2": "T3", "T3": "T1"}
    # A note was added: it is the same print. Another size, a panel, a print that may not turn, are none.
    noted = {"N1": make_print(replace(ROW, note="fold twice"))}
    assert match_prints(before, noted) == {"T1": "N1"}
    for changed in (
        make_print(ROW, wide=91.0),
        make_print(ROW, panel=Box(0, 0, 1, 1)),
        make_print(ROW, may_turn=False),
    ):
        assert match_prints({"T1": make_print(ROW)}, {"N1": changed}) == {}
    assert match_prints({"T1": make_print(ROW, 2)}, {"N1": make_print(ROW)}) == {}
    # Of two alike rows each keeps its own, and none is given twice.
    twice = {"A": make_print(ROW), "B": make_print(replace(ROW, row=3))}
    assert match_prints(twice, {"Z": twice["B"], "Y": twice["A"]}) == {"A": "Y", "B": "Z"}
    assert match_prints(twice, {"Z": make_print(replace(ROW, row=9))}) == {"A": "Z"}


def test_sheets_keep_what_is_still_asked_for() -> None:
    from impose.nest import NestedSheet, Placement

    sheets = (
        NestedSheet("a4", 10, 10, 1, (Placement("T1", 0, 0, 5, 5, False), Placement("T2", 5, 0, 5, 5, True))),
        NestedSheet("a4", 10, 10, 1, (Placement("T3", 0, 0, 5, 5, False),)),
    )
    before = SimpleNamespace(
        transfers={"T1": make_print(ROW), "T2": make_print(ROW, 2), "T3": make_print(replace(ROW, art="x"))},
        nesting=SimpleNamespace(sheets=sheets),
    )
    (kept,) = carry_sheets(cast(Any, before), {"N7": make_print(ROW, 2)})
    assert kept == replace(sheets[0], placements=(replace(sheets[0].placements[1], id="N7"),))


def test_amounts_of_paper_in_words() -> None:
    """Sheets are counted, rolls measured; names by PWG 5101.1, where a roll has the length 0."""
    a4, roll = "iso_a4_210x297mm", "roll_mine_24x0in"
    assert (is_roll_name(a4), is_roll_name(roll), is_roll_name("yesterday")) == (False, True, False)
    for amount, name, units, words in (
        (1, a4, "mm", "1 sheet"), (-1, a4, "mm", "-1 sheet"), (0, a4, "mm", "0 sheets"), (12, a4, "in", "12 sheets"),
        (1_500_000, roll, "mm", "1.5 m"), (12_000_000, roll, "mm", "12 m"), (1_234, roll, "mm", "0.001 m"),
        (25_400, roll, "in", "1 in"), (5, "yesterday", "mm", "5 sheets"),
    ):  # fmt: skip
        assert format_paper_amount(amount, name, units) == words


def test_the_fewest_steps_that_reach_a_goal() -> None:
    """Against trying every one; the more steps, the less it costs."""
    chance = random.Random(5)
    for _ in range(40):
        costs = sorted((chance.randint(0, 9) for _ in range(chance.randint(2, 20))), reverse=True)
        last = len(costs) - 1
        found = size_advice._SizeAdvisor._find_least(costs.__getitem__, last, costs[last])
        assert found == max(1, costs.index(costs[last]))


def test_rows_that_change_together_and_by_how_much_at_most() -> None:
    """A tenth of the width, 20 mm at the most, and never below the least of the placement."""
    rows = [
        ROW, replace(ROW, row=3), replace(ROW, row=4, placement=None, width_mm=300.0),
        replace(ROW, row=5, placement=None, width_mm=150.0),
        replace(ROW, row=6, placement=None, words="A", width_mm=None),
        replace(ROW, row=7, placement=None, kit="team", kit_row=2, width_mm=90.0),
        replace(ROW, row=8, placement=None, kit="team", kit_row=3, width_mm=90.0),
        replace(ROW, row=9, placement="full-back", width_mm=300.0, copies=3),
    ]  # fmt: skip
    keys = [size_advice._group_key(row) for row in rows]
    assert [keys.index(key) for key in keys] == [0, 0, 2, 3, 4, 5, 6, 7]
    advisor = size_advice._SizeAdvisor.__new__(size_advice._SizeAdvisor)
    advisor.step_mm, advisor.rows = 1.0, cast(Any, rows)
    advisor.job = cast(Any, SimpleNamespace(profiles=PROFILES))
    advisor.sizes = cast(Any, [SimpleNamespace(worn_w_mm=row.width_mm or 50.0, worn_h_mm=50.0) for row in rows])
    least = PROFILES.require_placement("left-chest").find_size(ROW.garment, PROFILES.wardrobe)
    assert least is not None
    held = 80.0 - (least[0].least_mm or 0.0)
    wanted = [int(min(8.0, held)), int(min(8.0, held)), 20, 15, 0 if rows[4].fitted else 5, 9, 9]
    assert [max(0, advisor._count_steps(index)) for index in range(7)] == [max(0, steps) for steps in wanted]
    groups = list(advisor.list_groups())
    areas = [sum(advisor.sizes[i].worn_w_mm * 50 * rows[i].copies for i in group.members) for group in groups]
    assert areas == sorted(areas, reverse=True)
    assert len(groups) <= size_advice.MOST_GROUPS


def test_places_on_a_printed_sheet_hold_a_cell_and_meet_neither_ink_nor_each_other() -> None:
    """Drawn at random: boxes that are taken, cells of three sizes."""
    chance = random.Random(3)
    room = Box(3.2, 3.0, 200.0, 280.0)
    for _ in range(12):
        taken = [Box(chance.uniform(0, 150), chance.uniform(0, 200), chance.uniform(5, 90), chance.uniform(5, 90))
                 for _ in range(3)]  # fmt: skip
        cells = [(chance.uniform(15, 40), chance.uniform(15, 60)) for _ in range(3)]
        places = reuse_sheets._part_free_paper(room, taken, cells)
        for place in places:
            assert room.contains_box(place)
            assert not any(place.overlaps_box(box) for box in taken)
            assert any(reuse_sheets._count_cells(place, cell) for cell in cells)
            for mm in (place.x - room.x, place.y - room.y, place.w, place.h):
                assert mm * 1000 == pytest.approx(round(mm * 1000), abs=1e-4), "whole micrometres from the corner"
        assert not any(one.overlaps_box(other) for one, other in itertools.combinations(places, 2))
    assert reuse_sheets._count_cells(Box(0, 0, 100, 50), (30, 20)) == 6
    assert reuse_sheets._count_cells(Box(0, 0, 60, 90), (30, 20)) == 9, "turned: 3 × 3"
    assert reuse_sheets._count_cells(Box(0, 0, 29.9, 19.9), (30, 20)) == 0


def test_the_edge_that_goes_first_is_told_by_the_prints_along_it() -> None:
    def lie(name: str, x: float, y: float) -> Any:
        return SimpleNamespace(id=name, cell=Box(x, y, 50, 50))

    row = [lie("T3", 120, 12), lie("T1", 5, 5), lie("T2", 60, 24.9), lie("T4", 5, 80)]
    for some, named in ((row, ["T1", "T3"]), (row[1:2], ["T1"]), ([], []), ([row[1], lie("T5", 70, 25)], ["T1"])):
        assert [found.id for found in reuse_sheets._find_top_transfers(some)] == named


def test_a_press_on_file_of_that_size_is_chosen_and_one_of_another_size_is_added() -> None:
    chosen = [{"op": "setting", "name": "press", "value": "16x20"}]
    own = {"op": "press", "press": "own press", "values": {"platen_width": "15 in", "platen_height": "23 in"}}
    added = [own, {"op": "setting", "name": "press", "value": "own-press"}]
    for said, wanted in (
        (None, []), ({}, []), ({"width": "16 in"}, []), ({"name": "16x20"}, chosen),
        ({"name": "none", "width": "16 in", "height": "20 in"}, chosen),
        ({"width": "406.4 mm", "height": "50.8 cm"}, chosen), ({"width": "15 in", "height": "23 in"}, added),
        # As wide as one on file, and not as high.
        ({"width": "16 in", "height": "23 in"},
         [own | {"values": {"platen_width": "16 in", "platen_height": "23 in"}}, added[1]]),
        ({"width": "wide", "height": "high"},
         [own | {"values": {"platen_width": "wide", "platen_height": "high"}}, added[1]]),
    ):  # fmt: skip
        assert list(_press_changes(said, PROFILES)) == wanted


def test_a_printer_of_the_shops_own_is_named_by_letters_and_as_wide_as_its_widest_paper() -> None:
    assert _printer_changes(None, PROFILES) == ("", [])
    assert _printer_changes({"address": "ipp://x"}, PROFILES) == ("", [])
    name, (entry, setting) = _printer_changes(
        {"name": "Épson  WF-7720", "widest": "a3", "address": "ipp://x"}, PROFILES
    )
    assert name == "pson-wf-7720"
    assert entry["values"] == {"feed_width": "297 mm", "address": "ipp://x", "sublimation_ink": "true"}
    assert setting == {"op": "setting", "name": "printer", "value": name}
    assert _printer_changes({"name": "??"}, PROFILES)[0] == "own-printer"
    name, (entry, _) = _printer_changes({"widest": "a4"}, PROFILES)
    assert (name, entry["values"]) == ("own-printer", {"feed_width": "210 mm"})


def test_a_picture_with_too_few_pixels_is_offered_at_the_size_that_has_enough() -> None:
    """90 pixels an inch at 100 mm are 120 at 75 mm; nothing is offered below 10 mm."""
    low = Finding("90 ppi", severity=WARN, kind="low-resolution", row=3)
    for ppi, wide, label in ((90.0, 100.0, "Print it 75 mm wide"), (91.0, 100.0, "Print it 75 mm wide"),
                             (130.0, 100.0, "Print it 86 mm wide"), (11.0, 100.0, ""), (150.0, 100.0, "")):  # fmt: skip
        piece: Any = SimpleNamespace(ppi=ppi, finished_size=(wide, 50.0), row=ROW)
        names = {mend.name: mend for mend in list_mends(low, piece, PROFILES)}
        assert ("smaller" in names) == bool(label)
        if label:
            assert names["smaller"].label == label
            assert names["smaller"].cells == {"width": label.removeprefix("Print it ").removesuffix(" wide")}
        assert names["accept"].cells == {"accept": "low-resolution"}
    batch_wide = list_mends(Finding("x", severity=WARN, kind="haze"), None, PROFILES)
    assert [(mend.name, dict(mend.choices)) for mend in batch_wide] == [("clean-haze", {"clean_haze": True})]
    assert list_mends(Finding("x", severity=WARN, kind="ground"), None, PROFILES) == []
    assert list_mends(Finding("x", severity=NOTE, kind="ground", row=2), None, PROFILES) == []
    usual: Any = SimpleNamespace(ppi=None, finished_size=(1, 1), row=ROW)
    named = [mend.name for mend in list_mends(Finding("x", severity=WARN, kind="size-unusual", row=2), usual, PROFILES)]
    assert named == ["usual-size", "accept"]
    assert [m.name for m in list_mends(Finding("x", kind="no-room"), None, PROFILES)] == ["shrink", "panels"]
    assert [m.name for m in list_mends(Finding("x", kind="orientation"), None, PROFILES)] == ["turn", "as-stored"]
    assert list_mends(Finding("x", severity=NOTE, kind="orientation"), None, PROFILES) == []
