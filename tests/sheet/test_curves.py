"""Curves of letters, point by point as their formulas have them (Bernstein's polynomials), worked out here by numpy."""

from __future__ import annotations

import math

import numpy as np
import pytest

from impose.type.outlines import bend_contours, cut_at_extremes, make_arc, move_contours
from impose.type.shaping import _OutlinePen

TIMES = np.linspace(0, 1, 201)[:, None]
# A letter-like ring: straight, bulging to one side, an S, and a loop beyond its ends along both axes.
RING = (
    (0.0, 0.0),
    (1.0, 0.2),
    (1.9, 0.4, 1.9, 1.0, 1.0, 1.2),
    (1.0, 1.8, 0.2, 0.6, 0.2, 1.4),
    (-1.5, 2.9, -0.9, -1.7, 0.0, 0.0),
)


def follow(contour) -> list[np.ndarray]:
    """The points of each segment."""
    found, at = [], np.array(contour[0][-2:])
    for segment in contour[1:]:
        rest = [np.array(segment[index : index + 2]) for index in range(0, len(segment), 2)]
        points = [at, *rest]
        degree = len(points) - 1
        found.append(
            sum(math.comb(degree, k) * (1 - TIMES) ** (degree - k) * TIMES**k * p for k, p in enumerate(points))
        )
        at = rest[-1]
    return found


def farthest(points: np.ndarray, line: np.ndarray) -> float:
    """How far any of the points lies from the nearest of a fine line's."""
    return max(float(np.hypot(*(line - point).T).min()) for point in points)


def test_cut_at_its_extremes_a_contour_is_the_same_and_its_ends_hold_it() -> None:
    cut = cut_at_extremes(RING)
    assert len(cut) > len(RING)
    for segment in follow(cut):
        low, high = np.minimum(segment[0], segment[-1]), np.maximum(segment[0], segment[-1])
        assert (segment >= low - 1e-6).all()
        assert (segment <= high + 1e-6).all()
    before, after = np.vstack(follow(RING)), np.vstack(follow(cut))
    assert max(farthest(before, after), farthest(after, before)) < 0.02
    assert np.allclose([before.min(0), before.max(0)], [after.min(0), after.max(0)], atol=1e-3)


def test_a_quadratic_curve_is_the_same_with_a_degree_more() -> None:
    pen = _OutlinePen()
    pen.moveTo((1.0, 2.0))
    pen.qCurveTo((3.0, 7.0), (6.0, -1.0))
    pen.lineTo((2.0, 2.0))
    pen.closePath()
    (made,) = pen.list_contours()
    plain = ((1.0, 2.0), (3.0, 7.0, 6.0, -1.0), (2.0, 2.0))
    for cubic, quadratic in zip(follow(made), follow(plain), strict=True):
        assert np.allclose(cubic, quadratic)


def test_points_that_enclose_nothing_are_left_out() -> None:
    pen = _OutlinePen()
    pen.moveTo((1.0, 1.0))
    pen.moveTo((0.0, 0.0))
    pen.lineTo((1.0, 0.0))
    pen.moveTo((0.0, 0.0))
    pen.curveTo((0.0, 1.0), (1.0, 1.0), (0.0, 0.0))
    assert len(list(pen.list_contours())) == 1


@pytest.mark.parametrize("angle", [1.2, -1.2, 0.3, math.pi])
def test_bent_each_point_lies_where_the_arc_puts_it(angle: float) -> None:
    """Letters stand on the circle: what is at x stands there by x / radius, as far out as it is high."""
    run, letter = 8.0, tuple(tuple(value + 0.5 * (index % 2 == 0) for index, value in enumerate(s)) for s in RING)
    radius = run / abs(angle)
    (bent,) = bend_contours([letter], make_arc(angle, run), radius)
    straight = np.vstack([*follow(letter), np.linspace(letter[-1][-2:], letter[0], 50)])
    turn, out = straight[:, 0] / radius, radius + np.sign(angle) * straight[:, 1]
    wanted = np.stack([out * np.sin(turn), np.sign(angle) * (out * np.cos(turn) - radius)], axis=1)
    made = np.vstack(follow(bent))
    assert farthest(wanted[::7], made) < 0.02
    assert farthest(made[::7], wanted) < 0.02
    # Straight sides become arcs: as even along as they were.
    first = np.array(bent[0])
    assert np.allclose(first, wanted[0], atol=1e-6)


def test_moved_every_point_is_scaled_and_shifted() -> None:
    (made,) = move_contours([RING], 3.0, 10.0, -4.0)
    assert np.allclose(np.vstack(follow(made)), np.vstack(follow(RING)) * 3 + (10, -4))
