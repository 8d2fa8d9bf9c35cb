"""A batch in parts holds one part's drawings, and of the whole one order's garments: counted as objects alive."""

from __future__ import annotations

import ctypes
import gc
import sys
from collections.abc import Callable
from importlib import import_module
from pathlib import Path

import pytest
from PIL import Image, ImageDraw

from impose.pages.proof import approval_page
from impose.pages.tickets import ticket_file
from impose.run import Options, Plan, plan, produce
from impose.run.free_memory import give_back_memory
from impose.sheet.layout import SheetLayout
from impose.sheet.press_steps import PressStep

ORDERS, WEARERS, PART = 15, 2, 4


@pytest.fixture(scope="module")
def planned(tmp_path_factory) -> Plan:
    folder = tmp_path_factory.mktemp("batch")
    image = Image.new("RGBA", (300, 300))
    ImageDraw.Draw(image).ellipse((9, 9, 290, 290), fill=(20, 90, 200, 255))
    image.save(folder / "crest.png")
    rows = [
        f"Order {order},Wearer {order}-{wearer},crest.png,{place},{width} mm,t-shirt adult L"
        for order in range(ORDERS)
        for wearer in range(WEARERS)
        for place, width in (("left-chest", 80 + order), ("full-back", 180 + order))
    ]
    (folder / "orders.csv").write_text("\n".join(["order,wearer,art,placement,width,garment", *rows]))
    options = Options({"papers": ["a4"]}, steps=0, workers=1, cache=False, part_sheets=PART)
    return plan([folder / "orders.csv"], options)


@pytest.fixture(scope="module")
def counted(planned, tmp_path_factory) -> dict[str, list[int]]:
    """What is alive while the batch is written: drawn sheets after each part, laid prints at each page for approval.

    And how often each thing that all tickets have in common is looked for.
    """
    produced, common = import_module("impose.run.produce"), ("group_alike", "find_usual_setting", "time_evening")
    found: dict[str, list[int]] = {name: [] for name in ("drawn", "laid", *common)}

    def watch(room: object, function_name: str, told: str, count: Callable[[], int]) -> None:
        function = getattr(room, function_name)

        def count_and_do(*arguments: object) -> object:
            found[told].append(count())
            return function(*arguments)

        watched.setattr(room, function_name, count_and_do)

    with pytest.MonkeyPatch.context() as watched:
        watch(produced, "give_back_memory", "drawn", lambda: count_drawn(planned))
        watch(approval_page, "write_approval", "laid", lambda: count_laid(planned))
        for name in common:
            watch(ticket_file, name, name, lambda: 1)
        out = produce(planned, tmp_path_factory.mktemp("out") / "out")
    assert len(list(out.glob("sheets-*.pdf"))) == len(list(out.glob("tickets-*.pdf"))) > 5
    return found


def count_drawn(plan: Plan) -> int:
    """The drawn sheets of this plan that are alive: they hold the very transfers of its layout."""
    own = {id(sheet.placed) for sheet in plan.layout.sheets}
    sheets = (value for value in gc.get_objects() if type(value) is SheetLayout)
    return sum(id(sheet.placed) in own and bool(sheet.ticks) for sheet in sheets)


def count_laid(plan: Plan) -> int:
    """The prints of this plan that lie on garments and are alive."""
    own = {id(placed.transfer) for sheet in plan.layout.sheets for placed in sheet.placed}
    return sum(type(value) is PressStep and id(value.transfer) in own for value in gc.get_objects())


def test_nothing_drawn_outlives_its_part(planned, counted):
    """What malloc holds free is given back just then, once a part, and once more when the whole is written."""
    assert counted["drawn"] == [0] * (-(-len(planned.layout.sheets) // PART) + 1)


def test_garments_of_one_order_at_a_time_are_laid_out_for_approval(counted):
    """Those of all orders took 150 MB of 100,000 transfers. An order has a garment of two prints for each wearer."""
    assert len(counted["laid"]) == ORDERS
    assert 0 < max(counted["laid"]) <= 2 * WEARERS * 2  # those of the order before go once the next are there


def test_what_all_tickets_have_in_common_is_found_once(counted):
    """Found anew for each file it grew with the square of the batch, and took 60 MB more of 100,000 transfers."""
    assert [counted[name] for name in ("group_alike", "find_usual_setting", "time_evening")] == [[1]] * 3


@pytest.mark.skipif(sys.platform != "linux", reason="malloc_trim is glibc's, and resident sets are read from /proc")
def test_what_malloc_holds_free_is_given_back():
    """Blocks below a last one that stays cannot be given back from the top: by proc(5) they stay resident."""
    libc = ctypes.CDLL(None)
    if not hasattr(libc, "malloc_trim"):
        pytest.skip("no glibc")
    libc.malloc.restype, libc.free.argtypes = ctypes.c_void_p, [ctypes.c_void_p]
    blocks = [libc.malloc(100_000) for _ in range(400)]
    for block in blocks:
        ctypes.memset(block, 1, 100_000)
    *freed, last = blocks
    for block in freed:
        libc.free(block)
    before = measure_resident()
    give_back_memory()
    after = measure_resident()
    libc.free(last)
    assert before - after > 30_000_000


def measure_resident() -> int:
    return int(Path("/proc/self/statm").read_text().split()[1]) * 4096
