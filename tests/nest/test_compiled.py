"""The loops in C give what their twins in Python give, piece for piece, and leave the generator where they would.

The plain search is the reference: it is held to rectpack, published packings and CP-SAT by the other tests here, and
the generator is Python's own.
"""

from __future__ import annotations

import importlib.util
import random
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from conftest import draw
from impose.native.library import FOLDER, load_library
from impose.nest import Rectangle, Stock, compiled, compiled_exact, nest
from impose.nest.bounds import (
    MOST_PAIRS,
    bound_cost,
    choose_dual_pairs,
    compute_worths,
    forget_bounds,
    list_oriented_lengths,
)
from impose.nest.budget import SearchBudget
from impose.nest.chunks import ChunkTask, nest_chunk
from impose.nest.exact_mix import MixSearch
from impose.nest.exact_roll import StripFitting
from impose.nest.exact_sets import NodeBudget
from impose.nest.exact_sheet import pack_one_sheet
from impose.nest.exact_sheets import SheetCountSearch
from impose.nest.finish import find_offcut
from impose.nest.free_rectangles import RULES, choose_area_grain, fill_sheet
from impose.nest.guillotine import fill_with_straight_cuts
from impose.nest.instance import PieceSize, PlacedSpot, make_instance
from impose.nest.model import LONGEST
from impose.nest.search import SheetEmptying, fill_all_sheets, list_orders, list_orientations, used_area
from impose.values import replace

ROOT = Path(__file__).resolve().parents[2]
compared = pytest.mark.skipif(
    load_library() is None, reason="there is no library of compiled loops: nothing to compare"
)


@pytest.fixture
def plain(monkeypatch):
    """A function that takes the library away."""
    return lambda: monkeypatch.setattr(compiled, "load_library", lambda: None)


class FailingLoops:
    """A library without memory: it spoils what it is given and says so."""

    def absorb_pool(self, *given):
        return -1

    nest_chunk = fill_sheet = fill_all_sheets = fit_box = part_pieces = deal_pieces = absorb_pool

    def pack_sheet(self, *given):  # needs no memory
        return compiled._declare_loops(load_library()).pack_sheet(*given)


@pytest.fixture
def exhausted(monkeypatch):
    """A function that leaves the library no memory."""
    return lambda: [monkeypatch.setattr(module, "find_loops", FailingLoops) for module in (compiled, compiled_exact)]


def cut(count, seed, most=97, least=8):
    chance = random.Random(seed)
    return [
        Rectangle(str(i), chance.randint(least, most), chance.randint(least, most), chance.random() < 0.8)
        for i in range(count)
    ]


def test_the_library_is_there_where_a_compiler_is():
    """An install from source makes it; run `python .ci/build_native.py` after a change of the sources."""
    if not any(FOLDER.glob("*.c")) or not any(map(shutil.which, ("cc", "gcc", "clang"))):
        pytest.skip("no sources or no C compiler here")
    assert load_library() is not None


@compared
@pytest.mark.parametrize("seed", range(12))
@pytest.mark.parametrize("rule", RULES, ids=lambda rule: rule.__name__)
@pytest.mark.parametrize("filler", [fill_sheet, fill_with_straight_cuts])
def test_sheets_are_filled_alike(plain, rule, filler, seed):
    chance = random.Random(seed)
    pieces = [Rectangle(str(i), chance.randint(1, 30), chance.randint(1, 30), chance.random() < 0.5) for i in range(90)]
    job = make_instance(pieces, range(90), [Stock("sheet", 100, 90, cost=1)])
    order = list_orders(job, job.list_pieces())[seed % 4]
    chance.shuffle(order[: seed * 8])
    ways = list_orientations(job, 0)
    quick = [fill_all_sheets(job, 0, order, rule, filler, turn) for turn in ways]
    plain()
    assert [fill_all_sheets(job, 0, order, rule, filler, turn) for turn in ways] == quick


@compared
@pytest.mark.parametrize("filler", [fill_sheet, fill_with_straight_cuts])
@pytest.mark.parametrize("seed", range(12))
def test_a_sheet_is_filled_alike(plain, seed, filler):
    chance = random.Random(seed)
    kinds = [PieceSize(chance.randint(1, 30), chance.randint(1, 30), chance.random() < 0.5) for _ in range(15)]
    order = chance.choices(range(15), k=60)
    asked = [(rule, least) for rule in RULES for least in (None, 4)]
    quick = [filler(kinds, 100, 90, order, rule, None, least)[:2] for rule, least in asked]
    plain()
    assert [filler(kinds, 100, 90, order, rule, None, least)[:2] for rule, least in asked] == quick


@compared
@pytest.mark.parametrize("seed", range(12))
def test_the_largest_clean_rectangle_is_found_alike(plain, seed):
    """Small whole sizes, so that many are equally large; and a full sheet, which has none."""
    chance = random.Random(seed)
    kinds = [PieceSize(chance.randint(1, 6), chance.randint(1, 6), True) for _ in range(9)]
    spots = fill_sheet(kinds, 20, 24, chance.choices(range(9), k=2 * seed), RULES[seed % 4])[0]
    asked = [(20, 24, spots), (20, 24, [PlacedSpot(0, 0, 0, 20, 24)]), (LONGEST, LONGEST, spots)]
    quick = [find_offcut(*sheet) for sheet in asked]
    assert quick[1] is None
    plain()
    assert [find_offcut(*sheet) for sheet in asked] == quick


def empty_weakest(job, sheets, seed, patience, filler):
    budget, chance = SearchBudget(150, None, patience), random.Random(seed)
    emptying = SheetEmptying(job, 0, budget, chance, filler)
    kept, pool = emptying.absorb_pool(sheets[1:], sheets[0].kinds)
    return kept, pool, budget.done, budget.gain, chance.getstate()


@compared
@pytest.mark.parametrize("seed", range(8))
@pytest.mark.parametrize("patience", [None, 40])
@pytest.mark.parametrize("pause", [1, 1 << 40])
@pytest.mark.parametrize("filler", [fill_sheet, fill_with_straight_cuts])
def test_the_weakest_sheet_is_emptied_alike(plain, exhausted, monkeypatch, seed, patience, pause, filler):
    monkeypatch.setattr(compiled, "PAUSE", pause)  # whether asked after every move or never
    job = make_instance(cut(30, seed), range(30), [Stock("sheet", 150, 140, cost=1)])
    first = fill_all_sheets(job, 0, job.list_pieces(), RULES[0], filler)
    sheets = sorted(first, key=lambda s: used_area(job, s))
    quick = empty_weakest(job, sheets, seed, patience, filler)
    exhausted()
    assert empty_weakest(job, sheets, seed, patience, filler) == quick
    plain()
    assert empty_weakest(job, sheets, seed, patience, filler) == quick


@compared
@pytest.mark.parametrize("pairs", [False, True])
@pytest.mark.parametrize("size", [(200, 150), (100, 100)])
@pytest.mark.parametrize("pause", [1, 1 << 40])
@pytest.mark.parametrize("straight", [False, True])
def test_a_chunk_is_nested_alike(plain, exhausted, monkeypatch, size, pairs, pause, straight):
    monkeypatch.setattr(compiled, "PAUSE", pause)
    paper = Stock("sheet", *size, cost=1)
    job = make_instance(cut(40, 3), range(40), [paper])
    task = ChunkTask(job.kinds, paper, 11, straight, tuple(job.list_pieces()), tries=5, pairs=pairs)
    quick = nest_chunk(task).sheets
    exhausted()
    assert nest_chunk(task).sheets == quick
    plain()
    assert nest_chunk(task).sheets == quick


@compared
@pytest.mark.parametrize("given_up", [False, True])
def test_a_chunk_that_nobody_waits_for_is_filled_once_or_given_up(monkeypatch, given_up):
    """The compiled loop ran through all its tries, minutes of them, and never asked."""
    paper = Stock("sheet", 100, 100, cost=1)
    job = make_instance(cut(40, 3), range(40), [paper])
    asked = []
    task = ChunkTask(job.kinds, paper, 11, False, tuple(job.list_pieces()), tries=10**9, given_up=given_up)
    task = task._replace(stop=lambda: asked.append(1) or True)
    monkeypatch.setattr(compiled, "PAUSE", 5)
    made = nest_chunk(task).sheets
    assert asked
    assert sorted(k for sheet in made for k in sheet.kinds) == ([] if given_up else job.list_pieces())


@compared
def test_compiled_answers_are_the_plain_ones(plain):
    """The whole way: small and large, one worker, and two that are threads where the loops are."""
    mm = 1000
    papers = [Stock("a4", 206 * mm, 282 * mm, cost=450_000), Stock("a3", 293 * mm, 404 * mm, cost=800_000)]
    pieces = [Rectangle(p.id, p.width * mm * 2, p.height * mm * 2) for p in cut(160, 1, 95, 25)]
    asked = [(pieces[:12], papers), (pieces[:30], papers[:1]), (pieces, papers[:1])]
    quick = [nest(some, stocks, steps=400) for some, stocks in asked]
    assert nest(pieces, papers[:1], steps=400, workers=2) == quick[-1]
    straight = nest(pieces[:40], papers, steps=200, straight_cuts=True)
    plain()
    assert [nest(some, stocks, steps=400) for some, stocks in asked] == quick
    assert nest(pieces[:40], papers, steps=200, straight_cuts=True) == straight


@compared
def test_a_batch_is_the_same_files_with_and_without_the_library(run, tmp_path, monkeypatch, request):
    """Papers, pictures, tickets, the record: the same bytes, whoever makes them where."""
    for seed, shape in enumerate(("ellipse", "noise")):
        draw(shape, 90 + 20 * seed, 70, seed).save(tmp_path / f"{shape}.png")
    rows = [f"R-{i % 5},{('ellipse', 'noise')[i % 2]}.png,{40 + 7 * i} mm,{1 + i % 3}" for i in range(16)]
    (tmp_path / "batch.csv").write_text("\n".join(["order,art,width,copies", *rows]), "utf-8")
    request.addfinalizer(load_library.cache_clear)
    made = []
    for plain in ("0", "1"):
        monkeypatch.setenv("IMPOSE_PLAIN", plain)
        load_library.cache_clear()
        out = tmp_path / "out"
        code, _, said = run(
            "sheets", tmp_path / "batch.csv", "-p", "a4", "-p", "a3", "--steps", "300", "-o", out, "-q", "--no-cache"
        )
        assert (code, load_library() is None) == (0, plain == "1"), said
        made.append({path.relative_to(out): path.read_bytes() for path in out.rglob("*") if path.is_file()})
        shutil.rmtree(out)
    assert len(made[0]) > 3
    assert made[0] == made[1]


def compute_bounds(seed):
    """What random pieces are worth on up to three papers and rolls, and the pairs of functions that say so."""
    chance = random.Random(seed)
    sizes = [(chance.randint(30, 300), chance.randint(30, 300), chance.randint(1, 900_000)) for _ in range(3)]
    papers = [Stock(str(i), width, height, cost=cost) for i, (width, height, cost) in enumerate(sizes)]
    if seed % 3 == 0:
        papers[2] = replace(papers[2], height=None)
    kinds = chance.choice((3, 20, 200))  # of more than `FEW_LENGTHS`, numpy weighs them
    pieces = [Rectangle("", chance.randint(1, 30), chance.randint(1, 30), chance.random() < 0.5) for _ in range(kinds)]
    large = Rectangle("", papers[0].width, papers[0].height, may_turn=False)  # the others may not take it
    given = [*pieces, *pieces[:5], large]
    job = make_instance(given, range(len(given)), papers[: 1 + seed % 4])
    forget_bounds()
    pairs = [choose_dual_pairs(job, list_oriented_lengths(job, s), MOST_PAIRS) for s in range(len(job.stocks))]
    weighed = [[[(x.whole, *map(x.weigh, range(31))) for x in pair] for pair in some] for some in pairs]
    return weighed, bound_cost(job), compute_worths(job)


@compared
@pytest.mark.parametrize("seed", range(24))
def test_bounds_are_alike(plain, seed):
    quick = compute_bounds(seed)
    plain()
    assert compute_bounds(seed) == quick


def test_burdens_stay_within_machine_numbers():
    for side in (10, 300, 300_000, 5_000_000, LONGEST):
        assert ((side * side) >> choose_area_grain(side, side)) ** 2 <= 1 << 48
    assert LONGEST**2 < 1 << 62


def test_filling_loads_no_numpy():
    """It takes longer to load than small commands take."""
    code = (
        "import sys; from impose.nest.chunks import *; from impose.nest.instance import *; "
        "print(len(nest_chunk(ChunkTask((PieceSize(60, 70, True),), Stock('s', 99, 99, 1), 0, False, (0, 0)))[0])); "
        "assert not {'numpy', 'concurrent.futures.thread'} & set(sys.modules)"
    )
    assert subprocess.run([sys.executable, "-c", code], check=True, capture_output=True).stdout == b"2\n"


@pytest.mark.skipif(importlib.util.find_spec("ziglang") is None, reason="the package ziglang is not installed")
@pytest.mark.long  # compiling for every system takes seconds
def test_a_library_for_every_system_is_the_same_each_time(tmp_path):
    spec = importlib.util.spec_from_file_location("build_native", ROOT / ".ci/build_native.py")
    building = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(building)
    made = []
    for name in "ab":
        (tmp_path / name).mkdir()
        made.append([path.read_bytes() for path in building.build_everywhere(tmp_path / name)])
    assert made[0] == made[1]
    assert len(set(made[0])) == len(building.TARGETS)


def sweep_boxes(seed, over=None):
    """What is found for random boxes of a few pieces, and the nodes left."""
    chance, answers = random.Random(seed), []
    for _ in range(12):
        lie = [[(chance.randint(1, 9), chance.randint(1, 9))] for _ in range(chance.randint(1, 9))]
        lie = [ways + [(h, w) for w, h in ways if chance.random() < 0.7] for ways in lie + lie[: chance.randint(0, 2)]]
        area, width = sum(ways[0][0] * ways[0][1] for ways in lie), chance.randint(9, 16)
        fitting = StripFitting(lie, width, chance.choice((20, 400, 4000)), over)
        answers.append((fitting.find_within(area // width + chance.randint(0, 4)), fitting.nodes))
    return answers


@compared
@pytest.mark.parametrize("seed", range(25))
def test_a_box_is_swept_alike(plain, seed):
    quick = sweep_boxes(seed)
    plain()
    assert sweep_boxes(seed) == quick


def pack_sheets(seed):
    chance, answers = random.Random(seed), []
    for _ in range(8):
        kinds = [PieceSize(chance.randint(1, 12), chance.randint(1, 9), chance.random() < 0.6) for _ in range(7)]
        wanted, width = chance.choices(range(7), k=chance.randint(1, 14)), chance.randint(12, 25)
        height = sum(kinds[k].width * kinds[k].height for k in wanted) // width + chance.randint(0, 3)
        answers.append(pack_one_sheet(kinds, wanted, width, height, chance.choice((1, 64, 3000))))
    return answers


@compared
@pytest.mark.parametrize("seed", range(25))
def test_a_sheet_is_packed_alike(plain, seed):
    quick = pack_sheets(seed)
    plain()
    assert pack_sheets(seed) == quick


@compared
def test_what_the_caller_raises_when_asked_comes_back_to_it():
    asked = []

    def refuse():
        asked.append(1)
        raise KeyError("no more")

    lie = [[(7 + i % 3, 5 + i % 4)] for i in range(12)]
    with pytest.raises(KeyError, match="no more"):
        StripFitting(lie, 31, 10**9, refuse).find_within(22)
    assert len(asked) == 1
    stopped = StripFitting(lie, 31, 10**9, lambda: True)
    assert stopped.find_within(22) is None
    assert stopped.nodes < 0


def part_pieces(seed, nodes):
    """What is found for random pieces on so many sheets, whether it is open, and the nodes left."""
    chance = random.Random(seed)
    least, most = (4, 12) if seed % 2 else (20, 60)  # of few units, so that some fill a sheet to its very edge
    width, height = chance.randint(least, most), chance.randint(least, most)
    count = chance.randint(3, chance.choice((8, 14, 20)))
    smallest = least // 4
    sizes = [
        (chance.randint(smallest, width * 2 // 3), chance.randint(smallest, height * 2 // 3)) for _ in range(count)
    ]
    pieces = [Rectangle(str(i), *chance.choice(sizes), chance.random() < 0.7) for i in range(count)]
    job = make_instance(pieces, range(count), [Stock("sheet", width, height, cost=1)])
    sheets = sum(piece.width * piece.height for piece in pieces) // (width * height) + chance.randint(0, 2)
    search = SheetCountSearch(job, 0, False, nodes, chance.choice((200, 4000)))
    return search.find_sheets(sheets), search.open, nodes.left


@compared
@pytest.mark.parametrize("seed", range(40))
def test_pieces_are_parted_alike(plain, exhausted, seed):
    """So are the nodes counted; and laying sets early, which only a clock asks for, finds no other answer."""
    quick = part_pieces(seed, NodeBudget(4000))
    early, open_still, _ = part_pieces(seed, NodeBudget(100_000, early=True))
    assert open_still or quick[1] or (early is None) == (quick[0] is None)
    if seed % 4 == 0:
        exhausted()
        assert part_pieces(seed, NodeBudget(4000)) == quick
    plain()
    assert part_pieces(seed, NodeBudget(4000)) == quick


def deal_pieces(seed, nodes):
    """The cheapest sheets found for random pieces on up to three papers, counted or not."""
    chance, count = random.Random(seed), 2 + seed % 12
    least, most = (4, 12) if seed % 2 else (20, 60)
    papers = [
        Stock(
            f"{i}", chance.randint(least, most), chance.randint(least, most),
            cost=chance.choice((0, 1, 450_000, 951_300)), limit=chance.choice((None, None, 0, 2, 1 << 70)),
        )
        for i in range(chance.randint(1, 3))
    ]  # fmt: skip
    wide, high = papers[0].width, papers[0].height
    sizes = [(chance.randint(least // 4, wide), chance.randint(least // 4, high)) for _ in range(count)]
    pieces = [Rectangle(str(i), *chance.choice(sizes), chance.random() < 0.7) for i in range(count)]
    job = make_instance(pieces, range(count), papers)
    search = MixSearch(job, False, nodes, count * max(paper.cost for paper in papers) + 1)
    return search.find_sheets(), search.open, nodes.left


@compared
@pytest.mark.parametrize("seed", range(40))
def test_pieces_are_dealt_alike(plain, exhausted, seed):
    quick = deal_pieces(seed, NodeBudget(2000))
    if seed % 4 == 0:
        exhausted()
        assert deal_pieces(seed, NodeBudget(2000)) == quick
    plain()
    assert deal_pieces(seed, NodeBudget(2000)) == quick
