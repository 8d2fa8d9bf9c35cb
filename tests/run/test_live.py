"""Live planning: plans that keep up with a table, each of them whole, sound and made as it was shown."""

from __future__ import annotations

import contextlib
import csv
import json
import random
import textwrap
import threading
from pathlib import Path
from typing import Any

import pytest

import papercheck
from conftest import draw
from impose.errors import Exit, Severity, Trouble
from impose.nest.prove import prove_nesting
from impose.run import Options, plan, produce
from impose.run import live_planner as planning
from impose.run.handling_choice import choose_rates
from impose.run.live import Live
from impose.run.load_batch import load_profiles_in_force
from impose.run.nest_batch import make_rectangles, make_stocks
from impose.run.reuse_sheets import OntoRequest
from impose.values import replace
from waiting import LONGEST_S, wait_until

WAIT_S = LONGEST_S


@pytest.fixture(autouse=True)
def _cache(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))


@pytest.fixture
def art(tmp_path: Path) -> Path:
    folder = tmp_path / "table"
    folder.mkdir()
    for seed, kind in enumerate(("ellipse", "words", "gradient")):
        draw(kind, 160 + 20 * seed, 200, seed).save(folder / f"{kind}.png", compress_level=1)
    return folder


def row(art: str = "ellipse.png", width: str = "60 mm", **cells: Any) -> dict[str, Any]:
    return {"order": "Owl", "wearer": "Ada", "art": art, "garment": "T-shirt adult L", "width": width, **cells}


class Heard:
    """What was told, in order."""

    def __init__(self) -> None:
        self.plans: list[tuple[Any, bool]] = []
        self.first = threading.Event()

    def __call__(self, told: Any, final: bool) -> None:
        self.plans.append((told, final))
        self.first.set()


def live(art: Path, heard: Heard | None = None, **options: Any) -> Live:
    # Few steps: these tests look at soundness, not at how good the sheets are.
    return Live(Options(art_root=art, workers=1, **{"steps": 300, **options}), heard, papers=["a4"])


def replace_preparing(planned: Live, tmp_path: Path, before: str) -> None:
    """Let the processes that prepare pictures run some lines, which may look at `path`, before each."""
    script = tmp_path / "child.py"
    script.write_text(
        "import impose.run.artwork_worker as child\n"
        "real = child.prepare_in_cache\n"
        "def prepare(path, recipe, cache):\n"
        f"{textwrap.indent(textwrap.dedent(before).strip(), '    ')}\n"
        "    return real(path, recipe, cache)\n"
        "child.prepare_in_cache = prepare\n"
        "child.main()\n"
    )
    planned._planner.art.script = (str(script),)


def ids(told: Any) -> list[str]:
    return sorted(placed.transfer.id for sheet in told.layout.sheets for placed in sheet.placed)


def places(told: Any) -> dict[tuple[int, int], tuple[int, float, float, int]]:
    return {
        (one.transfer.piece.row.row, one.transfer.copy): (sheet.number, one.x, one.y, one.turned)
        for sheet in told.layout.sheets
        for one in sheet.placed
    }


def assert_whole(told: Any, rows: list[dict[str, Any]]) -> None:
    """Every copy of every row lies on the sheets once, and nothing overlaps: by the cells on paper, not by the nest."""
    wanted = sum(int(one.get("copies", 1)) for one in rows)
    assert len(ids(told)) == len(set(ids(told))) == wanted == told.transfer_count
    for sheet in told.layout.sheets:
        cells = [one.cell for one in sheet.placed]
        for at, one in enumerate(cells):
            for other in cells[at + 1 :]:
                across = min(one.right, other.right) - max(one.x, other.x)
                down = min(one.bottom, other.bottom) - max(one.y, other.y)
                assert across < 1e-6 or down < 1e-6
        for placed in sheet.placed:
            # What prints lies on what the printer prints.
            assert sheet.area.x - 1e-6 <= placed.ink.x
            assert placed.ink.right <= sheet.area.right + 1e-6


def test_any_sequence_of_changes_ends_in_plans_as_sound_as_planning_afresh(art, monkeypatch):
    proven = []
    real = planning.make_nested_batch

    def proving(made: Any, areas: Any, nesting: Any, *rest: Any) -> Any:
        rates = choose_rates(load_profiles_in_force(Options()).settings, True)
        prove_nesting(nesting, make_rectangles(made), make_stocks(areas, made.slack_mm, rates), rates.change)
        proven.append(nesting)
        return real(made, areas, nesting, *rest)

    monkeypatch.setattr(planning, "make_nested_batch", proving)
    chance = random.Random(7)
    names = ["ellipse.png", "words.png", "gradient.png"]
    rows = [row(chance.choice(names), f"{chance.randint(40, 150)} mm") for _ in range(8)]
    heard = Heard()
    with live(art, heard) as planned:
        for _ in range(5):
            change = chance.choice(("size", "add", "take", "copies", "swap"))
            at = chance.randrange(len(rows))
            if change == "size":
                rows[at] = row(rows[at]["art"], f"{chance.randint(40, 150)} mm")
            elif change == "add":
                rows.insert(at, row(chance.choice(names), f"{chance.randint(40, 150)} mm"))
            elif change == "take" and len(rows) > 2:
                del rows[at]
            elif change == "copies":
                rows[at] = {**rows[at], "copies": chance.randint(1, 3)}
            else:
                rows[0], rows[at] = rows[at], rows[0]
            heard.plans.clear()
            planned.change(rows)
            last = planned.plan(WAIT_S)
            for told, _ in heard.plans:
                assert_whole(told, rows)
            assert [final for _, final in heard.plans] == [False] * (len(heard.plans) - 1) + [True]
            assert heard.plans[-1][0] is last
            costs = [sum(sheet.cost for sheet in told.layout.sheets) for told, _ in heard.plans]
            assert costs == sorted(costs, reverse=True)
            with (art / "orders.csv").open("w", newline="") as file:
                table = csv.DictWriter(file, ["order", "wearer", "art", "garment", "width", "copies"])
                table.writeheader()
                table.writerows(rows)
            afresh = plan([art / "orders.csv"], Options({"papers": ["a4"]}, workers=1, steps=300, cache=False))
            assert ids(afresh) == ids(last)
            assert sorted(str(f) for f in afresh.findings if f.kind == "garment-assumed") == []
            assert last.fewest.cost <= sum(sheet.cost for sheet in afresh.layout.sheets)
    assert proven


def test_what_did_not_change_stays_where_it_lay(art):
    # Each of the three fills more than half of a sheet across and down, so no arrangement takes fewer than three.
    rows = [row("ellipse.png", "140 mm"), row("words.png", "140 mm"), row("gradient.png", "140 mm")]
    with live(art) as planned:
        planned.change(rows)
        before = planned.plan(WAIT_S)
        rows[1]["wearer"] = "Bea"
        planned.change([row("ellipse.png", "30 mm"), *rows])  # all the others have another number and id now
        after = planned.plan(WAIT_S)
    there = {number: place for (number, _), place in places(after).items()}
    for (number, _), place in places(before).items():
        assert there[number + 1][1:] == place[1:]
    assert len(after.layout.sheets) == len(before.layout.sheets) == 3


def test_a_wrong_row_is_told_under_its_number_and_the_others_are_planned(art):
    (art / "broken.png").write_bytes((art / "words.png").read_bytes()[:300])
    rows = [
        row(row=41),
        row(width="60", row=42),
        row(art="none.png", row=43),
        row(art="broken.png", row=44),
        row(width="900 mm", row=45),
        row("words.png", row=7),
    ]
    with live(art) as planned:
        planned.change(rows)
        told = planned.plan(WAIT_S)
    stops = {f.row: (f.column, f.kind) for f in told.findings if f.severity is Severity.STOP}
    assert stops[42] == ("width", "bad-width")
    assert stops[43] == ("art", "art-missing")
    assert stops[44] == ("art", "damaged")
    assert stops[45][1] == "no-room"
    assert set(stops) == {42, 43, 44, 45}
    assert {number for number, _ in places(told)} == {41, 7}
    assert told.exit == 3


def test_rows_without_a_number_have_that_of_their_line(art, tmp_path):
    with live(art) as planned:
        planned.change([row(), row(width="wide")])
        told = planned.plan(WAIT_S)
    assert [f.row for f in told.findings if f.severity is Severity.STOP] == [3]


@pytest.mark.parametrize("rows", [[row(row=2), row(row=2)], [row(row=0)], [row(row="2")], [row(row=2), row(row=3.5)]])
def test_numbers_that_name_no_row_are_refused_at_once(art, rows):
    with live(art) as planned, pytest.raises(ValueError, match="row"):
        planned.change(rows)


def test_a_table_without_rows_is_an_empty_plan_and_the_next_one_is_planned(art):
    with live(art) as planned:
        planned.change([])
        assert planned.plan(WAIT_S).layout.sheets == ()
        planned.change([row()])
        assert planned.plan(WAIT_S).transfer_count == 1


def test_kits_are_read_by_the_grammar_of_their_file(art):
    kits = [
        {"kit": "home", "art": "ellipse.png", "placement": "left-chest"},
        {"kit": "home", "words": "{number}", "placement": "full-back"},
    ]
    roster = [
        {"order": "Owl", "wearer": name, "kit": "home", "number": number, "garment": "T-shirt adult L"}
        for name, number in (("Ada", "07"), ("Bea", "9"))
    ]
    (art / "kits.csv").write_text("kit,art,words,placement\nhome,ellipse.png,,left-chest\nhome,,{number},full-back\n")
    lines = ["order,wearer,kit,number,garment"]
    lines += [f"Owl,{one['wearer']},home,{one['number']},T-shirt adult L" for one in roster]
    (art / "orders.csv").write_text("\n".join(lines) + "\n")
    afresh = plan([art / "orders.csv"], Options({"papers": ["a4"]}, workers=1, steps=300, cache=False))
    with live(art) as planned:
        planned.change(roster, kits)
        told = planned.plan(WAIT_S)

    def prints(one: Any) -> list[tuple[int, str, str]]:
        rows = [placed.transfer.piece.row for sheet in one.layout.sheets for placed in sheet.placed]
        return sorted((row.row, row.wearer, row.words or row.art) for row in rows)

    assert prints(told) == prints(afresh)
    assert (2, "Ada", "07") in prints(told)


def test_what_is_made_is_what_was_shown(art, tmp_path, run):
    rows = [row("ellipse.png", "90 mm", copies=2), row("words.png", "50 mm"), row("gradient.png", "70 mm")]
    with live(art) as planned:
        planned.change(rows)
        planned.plan(WAIT_S)
        planned.change([*rows, row("words.png", "40 mm")])
        told = planned.plan(WAIT_S)
    held = {len(bytes(one.picture.data)) for one in (p.transfer.piece for s in told.layout.sheets for p in s.placed)}
    assert 0 not in held
    out = produce(told, tmp_path / "sheets")  # the planning is over: what it kept is still there
    record = json.loads((out / "batch.json").read_text("utf-8"))
    assert record["live"] is True
    found = {
        (one["row"], one["copy"]): (sheet["sheet"], one["cell_mm"]["x"], one["cell_mm"]["y"], one["turned"])
        for sheet in record["sheets"]
        for one in sheet["transfers"]
    }
    assert found == {key: (s, pytest.approx(x), pytest.approx(y), t) for key, (s, x, y, t) in places(told).items()}
    assert papercheck.faults(out, art) == []
    code, _, said = run("reprint", out, "--only", "T001", "-o", tmp_path / "again")
    assert code == 0, said


def test_artwork_changed_after_it_was_shown_is_never_printed(art, tmp_path, monkeypatch):
    with live(art) as planned:
        planned.change([row()])
        told = planned.plan(WAIT_S)
    for entry in (tmp_path / "cache").rglob("*.picture"):
        entry.unlink()
    assert produce(told, tmp_path / "from-artwork").is_dir()  # what the cache let go is prepared again
    for entry in (tmp_path / "cache").rglob("*.picture"):
        entry.unlink()
    draw("noise", 160, 200, 9).save(art / "ellipse.png")
    with pytest.raises(Trouble) as trouble:
        produce(told, tmp_path / "changed")
    assert trouble.value.findings[0].kind == "art-changed"
    assert not (tmp_path / "changed").exists()


def test_changed_artwork_is_prepared_again(art):
    with live(art) as planned:
        planned.change([row(width="60 mm")])
        before = planned.plan(WAIT_S)
        draw("ellipse", 160, 400, 3).save(art / "ellipse.png")
        planned.change([row(width="60 mm")])
        after = planned.plan(WAIT_S)

    def tall(told: Any) -> float:
        return told.layout.sheets[0].placed[0].transfer.piece.ink_h_mm

    assert tall(before) == pytest.approx(75, abs=0.5)
    assert tall(after) == pytest.approx(150, abs=0.5)


def test_artwork_that_changes_while_it_is_prepared_is_prepared_again(art, tmp_path):
    begun, go_on = tmp_path / "begun", tmp_path / "go-on"
    planned = live(art)
    replace_preparing(
        planned,
        tmp_path,
        f"""
        import pathlib, time
        pathlib.Path({str(begun)!r}).touch()
        while not pathlib.Path({str(go_on)!r}).exists():
            time.sleep(0.005)
        """,
    )
    with planned:
        planned.change([row(width="60 mm")])
        wait_until(begun.exists, "the picture is begun")
        draw("ellipse", 160, 400, 3).save(art / "ellipse.png")
        number = planned.change([row(width="60 mm")])
        wait_until(lambda: planned.planning == number, "the newer table is under way")
        go_on.touch()
        told = planned.plan(WAIT_S)
    assert told.layout.sheets[0].placed[0].transfer.piece.ink_h_mm == pytest.approx(150, abs=0.5)


def test_a_picture_that_takes_its_process_down_costs_only_itself(art, tmp_path):
    planned = live(art)
    replace_preparing(planned, tmp_path, "import os\nif path.name == 'words.png':\n    os._exit(9)")
    with planned:
        planned.change([row(), row("words.png"), row("gradient.png")])
        told = planned.plan(WAIT_S)
    (stop,) = [f for f in told.findings if f.severity is Severity.STOP]
    assert (stop.row, stop.column, stop.kind) == (3, "art", "damaged")
    assert "code 9" in stop.what
    assert {number for number, _ in places(told)} == {2, 4}


def test_a_stop_keeps_the_best_and_the_next_change_is_planned(art):
    heard = Heard()
    rows = [row("ellipse.png", f"{40 + 7 * n} mm") for n in range(14)]
    with live(art, heard, steps=10_000_000) as planned:
        planned.change(rows)
        assert heard.first.wait(WAIT_S)
        planned.stop()
        told = planned.plan(WAIT_S)
        assert_whole(told, rows)
        assert heard.plans[-1][0] is told
        assert heard.plans[-1][1] is True
        planned.change(rows[:2])
        planned.stop()
        assert planned.plan(WAIT_S).transfer_count == 2


def test_the_newest_table_wins(art):
    heard = Heard()
    with live(art, heard, steps=10_000_000) as planned:
        for size in range(40, 60):
            planned.change([row(width=f"{size} mm"), *(row("words.png", f"{60 + 5 * n} mm") for n in range(12))])
        planned.stop()
        told = planned.plan(WAIT_S)
    assert 59.0 in [round(p.transfer.piece.ink_w_mm, 3) for s in told.layout.sheets for p in s.placed]
    assert [final for _, final in heard.plans].count(True) == 1


def test_paper_that_does_not_last_is_told_and_the_sheets_are_shown(art):
    name = "iso_a4_210x297mm"
    rows = [row("ellipse.png", "140 mm"), row("words.png", "140 mm"), row("gradient.png", "140 mm")]
    with live(art, limits={name: 2}) as planned:
        planned.change(rows)
        told = planned.plan(WAIT_S)
        assert [f.kind for f in told.findings if f.severity is Severity.STOP] == ["stock"]
        assert told.transfer_count == 3
        planned.change(rows[:2])
        assert [f.kind for f in planned.plan(WAIT_S).findings if f.severity is Severity.STOP] == []


@pytest.mark.parametrize("moved", [False, True])
def test_the_plan_told_is_of_the_sheets_found_last_and_the_same_sheets_are_drawn_once(art, monkeypatch, moved):
    real, drawn = planning.nest, []

    def nest(*given, told, **more):
        """First the sheets that are found in the end, or with their pieces 10 mm from there; then those."""
        found = real(*given, told=None, **more)
        by = 10_000 if moved else 0
        told(replace(found, sheets=tuple(
            replace(sheet, placements=tuple(replace(p, x=p.x + by, y=p.y + by) for p in sheet.placements))
            for sheet in found.sheets)))  # fmt: skip
        return found

    monkeypatch.setattr(planning, "nest", nest)
    draw_plan = planning.draw_plan
    monkeypatch.setattr(planning, "draw_plan", lambda *given, **more: drawn.append(1) or draw_plan(*given, **more))
    heard = Heard()
    with live(art, heard) as planned:
        planned.change([row()])
        last = planned.plan(WAIT_S)
    (first, _), (told, final) = heard.plans
    assert final
    assert told is last
    ((before,), (after,)) = (places(first).values(), places(last).values())
    assert before[1] - after[1] == pytest.approx(10 if moved else 0)
    assert len(drawn) == (2 if moved else 1)


def test_papers_may_change_and_an_unknown_one_is_refused(art):
    with live(art) as planned:
        planned.change([row()], papers=["a3"])
        assert [paper["name"] for paper in planned.plan(WAIT_S).record["paper"]] == ["iso_a3_297x420mm"]
        planned.change([row()], papers=["no-such"])
        with pytest.raises(Trouble):
            planned.plan(WAIT_S)
        planned.change([row()], papers=["a4"])
        assert planned.plan(WAIT_S).transfer_count == 1


def test_who_waits_for_nothing_is_told(art):
    with live(art) as planned:
        with pytest.raises(LookupError):
            planned.plan(0)
        planned.change([row()])
        planned.plan(WAIT_S)
    with pytest.raises(Trouble):
        Live(Options({"papers": ["no-such"]}, art_root=art))


def test_a_fault_of_the_listener_reaches_who_waits(art):
    def told(_: Any, __: bool) -> None:
        raise KeyError("mine")

    with Live(Options(art_root=art, workers=1, steps=0), told, papers=["a4"]) as planned:
        planned.change([row()])
        with pytest.raises(KeyError, match="mine"):
            planned.plan(WAIT_S)


@pytest.mark.parametrize("leaving", [SystemExit(3), KeyboardInterrupt()])
def test_a_listener_that_exits_neither_ends_the_planning_nor_keeps_anyone_waiting(art, leaving):
    said = [leaving]

    def told(_: Any, __: bool) -> None:
        if said:
            raise said.pop()

    with Live(Options(art_root=art, workers=1, steps=0), told, papers=["a4"]) as planned:
        planned.change([row()])
        with pytest.raises(type(leaving)):
            planned.plan(WAIT_S)
        planned.change([row(), row("words.png")])
        assert planned.plan(WAIT_S).transfer_count == 2


def test_who_would_wait_for_ever_is_refused(art):
    heard: list[BaseException] = []

    def told(_: Any, __: bool) -> None:
        try:
            planned.plan()
        except RuntimeError as error:
            heard.append(error)

    planned = Live(Options(art_root=art, workers=1, steps=0), told, papers=["a4"])
    planned.change([row()])
    with pytest.raises(RuntimeError, match="with block"):
        planned.plan()
    with planned:
        assert planned.plan(WAIT_S).transfer_count == 1
    assert heard
    assert planned.plan().transfer_count == 1, "what was told stays good after the end"
    with pytest.raises(RuntimeError, match="ended"):
        planned.change([row()])


# `csv.DictReader` gives the cells beyond the headings under None.
@pytest.mark.parametrize("key", [None, 1, ("art",)])
def test_a_key_that_is_no_column_is_refused_at_once(art, key):
    with live(art) as planned:
        for given in (([{**row(), key: ["beyond"]}],), ([row()], [{"kit": "home", key: "beyond"}])):
            with pytest.raises(ValueError, match="names of columns"):
                planned.change(*given)


def test_half_of_a_character_is_refused_in_its_row(art, tmp_path):
    """JSON may hold one, "\\ud83e" (RFC 8259, section 8.2), and no file in UTF-8 can."""
    with live(art) as planned:
        planned.change([row(order="Owl \ud83e"), row(wearer="\udd89")])
        told = planned.plan(WAIT_S)
        assert [(f.row, f.column, f.kind) for f in told.findings if f.severity is Severity.STOP] == [
            (2, "order", "damaged-cell"), (3, "wearer", "damaged-cell")]  # fmt: skip
        planned.change([row(order="Owl \U0001f989"), row(colour="\ud83e")])
        assert produce(planned.plan(WAIT_S), tmp_path / "sheets").is_dir()


@pytest.mark.parametrize("broken", [False, True])
def test_who_leaves_a_live_plan_leaves_no_thread_and_no_process_behind(art, broken):
    before = set(threading.enumerate())
    with contextlib.suppress(ZeroDivisionError), live(art) as planned:
        planned.change([row()])
        planned.plan(WAIT_S)
        assert set(threading.enumerate()) - before
        processes = [child.process for child in planned._planner.art._children]
        assert [process.poll() for process in processes] == [None], "artwork is prepared in a process of its own"
        if broken:
            raise ZeroDivisionError
    wait_until(lambda: set(threading.enumerate()) <= before, "the threads end")
    assert None not in [process.poll() for process in processes]


@pytest.mark.parametrize("asked", [{"cache": False}, {"onto": OntoRequest(Path("batch.json"))}])
def test_what_a_live_plan_cannot_keep_to_is_refused(art, asked):
    with pytest.raises(Trouble) as raised:
        Live(Options(art_root=art, **asked))
    assert raised.value.exit is Exit.USAGE
    assert "live planning" in str(raised.value)
