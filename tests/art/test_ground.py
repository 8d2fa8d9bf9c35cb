"""Light grounds on pictures whose truth is known: a few of those that the benchmark `grounds` counts."""

from __future__ import annotations

import functools
import sys
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).resolve().parent.parent / "bench"))

import grounds

SOME = ["disc, flat 240", "disc, lamplight", "outline, flat 240"]
MORE = ["disc, grey card", "disc, lit from the left", "disc, vignette", "disc, shadow of a hand", "outline, vignette"]
NONE = ["letters on white, JPEG", "photograph to the edge", "light wall, dark floor", "pink block", "strong vignette"]
NEITHER = [
    "disc on white, JPEG",
    "strokes on white, JPEG",
    "wash on white, JPEG",
    "even grey",
    "yellow block",
    "clouds",
]


def also(names: list[str]) -> list:
    """More of the same, run by .ci/long: each takes a second."""
    return [pytest.param(name, marks=pytest.mark.long) for name in names]


@functools.cache
def read_cases() -> dict[str, grounds.Case]:
    return {c.name: c for c in (*grounds.with_grounds("disc"), *grounds.enclosed(), *grounds.without_grounds())}


@pytest.mark.parametrize("name", SOME + also(MORE))
def test_a_ground_is_found_and_made_white_where_that_is_safe(name):
    case = read_cases()[name]
    assert grounds.found(case) in ("ground", "off-white")
    white = grounds.mended(case)
    assert (white is not None) == case.mendable
    if white is not None:
        assert grounds.misses_of_bounds(case, white) <= 6
        assert grounds.moved_colours(case, white) <= 1


@pytest.mark.parametrize("name", NONE + also(NEITHER))
def test_no_ground_is_seen_where_there_is_none(name):
    case = read_cases()[name]
    assert grounds.found(case) == ""
    white = grounds.mended(case)
    assert white is None
