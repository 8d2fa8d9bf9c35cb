"""Light grounds on pictures whose truth is known: a few of those that the benchmark `grounds` counts."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).resolve().parent.parent / "bench"))

import grounds

SOME = [case for case in grounds.cases() if case.name.startswith(("disc, ", "outline, flat", "outline, vignette"))]
NONE = [case for case in grounds.without_grounds() if not case.name.startswith(("lantern", "carp"))]


@pytest.mark.parametrize("case", SOME, ids=lambda case: case.name)
def test_a_ground_is_found_and_made_white_where_that_is_safe(case):
    assert grounds.found(case) in ("ground", "off-white")
    white = grounds.mended(case)
    assert (white is not None) == case.mendable
    if white is not None:
        assert grounds.misses_of_bounds(case, white) <= 6
        assert grounds.moved_colours(case, white) <= 1


@pytest.mark.parametrize("case", NONE[::2], ids=lambda case: case.name)
def test_no_ground_is_seen_where_there_is_none(case):
    assert grounds.found(case) == ""
    white = grounds.mended(case)
    assert white is None
