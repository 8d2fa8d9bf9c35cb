"""The largest sizes a paper takes, against sums by hand: A4 is 210 x 297 mm (ISO 216)."""

from __future__ import annotations

import re
from decimal import Decimal

import pytest

from impose.profiles.paper import Paper, Printer
from impose.profiles.placement import split_tear
from impose.run import Options, check, plan
from impose.sheet.largest_size import describe_largest, find_largest_with_tight, find_shrunk_width
from impose.sheet.margins import SizeRequest, print_area

A4 = print_area(Paper("iso_a4_210x297mm", "a4", (), 210.0, 297.0, Decimal(0)), Printer("p", 3.0, 3.0, 3.0, 14.0))


def _wanted(width, height, least=0.0):
    return SizeRequest(width, height, split_tear(14.0), least, False)


def test_both_sizes_are_said_and_shrinking_takes_the_first():
    """Tight is 10 mm a side, of which 1 mm is slack and may hang over the edge: 210 - 6 + 2 - 20 = 186 mm.

    Bare sides leave the 204 mm that the printer reaches.
    """
    wanted = _wanted(300.0, 200.0)
    assert find_largest_with_tight(wanted, A4)[0] == pytest.approx(186.0, abs=0.01)
    assert describe_largest(wanted, A4, "mm") == (
        "a4 takes 186 mm × 124 mm with the tight margin, up to 204 mm × 136 mm with bare sides"
    )
    assert find_shrunk_width(wanted, [A4]) == pytest.approx(186.0, abs=0.01)


def test_where_sides_give_no_more_one_size_is_said():
    assert describe_largest(_wanted(100.0, 400.0), A4, "mm").endswith("with the tight margin")


def test_what_is_told_of_a_lone_print_is_what_shrinking_prints(batch, tmp_path):
    """Turned, 297 - 3 - 14 + 2 - 20 = 262 mm: the slack may hang over the edges, since nothing else is there."""
    path = batch(["Ada,a.png,full-back,300 mm"], {"a.png": ("ellipse", 300, 200)}, "wearer,art,placement,width")
    options = {"papers": ["a4"]}
    (stop,) = [one for one in check([path], Options(settings=options, cache=False)).findings if one.kind == "no-room"]
    made = plan([path], Options(settings=options, oversize="shrink", steps=5, workers=1, cache=False))
    width = max(made.record["sheets"][0]["transfers"][0]["ink_mm"][side] for side in "wh")
    (told,) = re.findall(r"a4 takes ([\d.]+) mm × [\d.]+ mm with the tight margin", stop.what)
    assert float(told) == pytest.approx(262.0)
    assert width == pytest.approx(262.0, abs=0.1)
