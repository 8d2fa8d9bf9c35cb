"""Line drawings of garments: what is sewn on lies on the garment, and its left is its right's mirror image.

Garments are cut in mirrored halves (common practice, no source). Curves are those of ISO 32000-2, 8.5.2.2.
"""

from __future__ import annotations

import itertools

import numpy as np
import pytest

from each_case import try_each
from impose.pages.tickets.garment_outlines import draw_outline, outline_extent
from impose.sheet.garment_faces import FaceShape

SEWN_MM = 8.0  # a rib stands over the edge of the neck by its thickness
KINDS = ("t-shirt", "polo", "hoodie", "sweatshirt")
FACES = ("front", "back", "left sleeve", "right sleeve")
FIGURES = ((530, 720, 460), (460, 650, 390), (670, 800, 560), (430, 560, 370), (310, 410, 270), (250, 320, 220))
"""Width, length and shoulders of usual garments lying flat, from adult to infant (profiles/garments.toml)."""
SHAPES = [
    FaceShape(kind, face, *((530, 720) if face in ("front", "back") else (190, 620 if long else 230)), 460, 90,
              25 if face == "back" else 95, long, zip=kind == "hoodie" and zipped and face == "front")
    for kind, face, long, zipped in itertools.product(KINDS, FACES, (False, True), (False, True))
    if not zipped or kind == "hoodie"
]  # fmt: skip


def trace(segments) -> np.ndarray:
    """Points along a stroke, the ends of each of its parts among them."""
    points: list[np.ndarray] = []
    for kind, values in segments:
        ends = np.array(values, float).reshape(-1, 2)
        if kind == "m":
            points.append(ends)
            continue
        if kind == "h":
            ends = points[0][:1]
        corners = np.vstack([points[-1][-1], ends])
        t = np.linspace(0, 1, 17)[:, None]
        while len(corners) > 1 and corners.ndim == 2:  # de Casteljau, first step
            corners = corners[:-1, None] + t[None] * (corners[1:, None] - corners[:-1, None])
        while len(corners) > 1:
            corners = corners[:-1] + t[None] * (corners[1:] - corners[:-1])
        points.append(corners[0])
    return np.vstack(points)


def strokes(shape: FaceShape, role: str) -> list[np.ndarray]:
    return [trace(stroke.segments) for stroke in draw_outline(shape) if stroke.role == role]


def beside(points: np.ndarray, outline: np.ndarray) -> np.ndarray:
    """How far each point lies from a closed outline."""
    way = np.roll(outline, -1, axis=0) - outline
    to = points[:, None] - outline[None]
    share = np.clip((to * way).sum(2) / np.maximum((way * way).sum(1), 1e-12), 0, 1)
    far: np.ndarray = np.hypot(*np.moveaxis(to - share[..., None] * way, 2, 0)).min(1)
    return far


def outside(points: np.ndarray, outlines: list[np.ndarray]) -> np.ndarray:
    """How far each point lies outside of all closed outlines, 0 inside of one."""
    far = np.full(len(points), np.inf)
    for outline in outlines:
        a, b = outline, np.roll(outline, -1, axis=0)
        way = b - a
        above = (a[None, :, 1] > points[:, None, 1]) != (b[None, :, 1] > points[:, None, 1])
        with np.errstate(divide="ignore", invalid="ignore"):
            cross = a[None, :, 0] + (points[:, None, 1] - a[None, :, 1]) / way[None, :, 1] * way[None, :, 0]
        inside = (above & (points[:, None, 0] < cross)).sum(1) % 2 == 1
        far = np.minimum(far, np.where(inside, 0.0, beside(points, outline)))
    return far


@try_each("shape", SHAPES)
def test_what_is_sewn_on_lies_on_the_garment(shape: FaceShape) -> None:
    edges = strokes(shape, "edge")
    seams = strokes(shape, "seam")
    assert seams
    if "sleeve" not in shape.face:  # a collar lies in the hole of the neck
        n, y = shape.neck, shape.collar_y
        edges.append(np.array([(-n, 0.0), (n, 0.0), (n, y), (-n, y)]))
    for seam in seams:
        assert outside(seam, edges).max() <= SEWN_MM
    box = outline_extent(shape)
    for stroke in strokes(shape, "edge"):
        assert (stroke >= (box.x - 1e-6, box.y - 1e-6)).all()
        assert (stroke <= (box.right + 1e-6, box.bottom + 1e-6)).all()


@try_each("shape", SHAPES)
def test_left_and_right_are_mirror_images(shape: FaceShape) -> None:
    points = np.vstack([*strokes(shape, "edge"), *strokes(shape, "seam")])
    held = {(round(x, 3), round(y, 3)) for x, y in points}
    # Both ways round a stroke: 17 places along it are the same from either end.
    lost = [(x, y) for x, y in held if not np.hypot(points[:, 0] + x, points[:, 1] - y).min() < 0.05]
    assert lost == []


@pytest.mark.parametrize("long", [False, True])
def test_the_seam_of_a_cuff_lies_across_the_whole_sleeve(long: bool) -> None:
    """From one edge of the sleeve to the other, as far from its opening at either."""
    shape = FaceShape("t-shirt", "front", 530, 720, 460, 90, 95, long)
    (body,) = strokes(shape, "edge")
    lines = [seam for seam in strokes(shape, "seam") if len(seam) == 18 and abs(seam[0][0]) > 265]
    assert len(lines) == 2
    for line in lines:
        assert beside(line[[0, -1]], body).max() < 0.01, "an end of the seam is not on the sleeve's edge"


@try_each("figure", FIGURES)
def test_a_sleeve_leaves_the_body_at_the_armpit_and_crosses_nothing(figure: tuple[float, float, float]) -> None:
    """Spread flat, a sleeve lies beside the body: its opening ends outside of the side seam, no wider than the armhole.

    Common practice, no source.
    """
    width, length, shoulders = figure
    for kind, long in itertools.product(KINDS, (False, True)):
        shape = FaceShape(kind, "front", width, length, shoulders, width * 0.17, width * 0.18, long)
        (body, *_) = strokes(shape, "edge")
        corners = body[np.insert(np.hypot(*np.diff(body, axis=0).T) > 1e-9, 0, True)]
        crossed = find_crossings(corners)
        assert not len(crossed), f"{kind} of {width} mm, sleeves {'long' if long else 'short'}: {crossed[0]}"


def find_crossings(corners: np.ndarray) -> np.ndarray:
    """Where parts of a line cross, less those that meet at their ends."""
    starts, ways = corners[:-1], np.diff(corners, axis=0)
    first, second = np.triu_indices(len(starts), 1)
    between = starts[second] - starts[first]
    turn = cross(ways[first], ways[second])
    level = np.abs(turn) < 1e-9
    turn[level] = 1.0
    along, other = cross(between, ways[second]) / turn, cross(between, ways[first]) / turn
    within = [(share > 1e-6) & (share < 1 - 1e-6) for share in (along, other)]
    found: np.ndarray = starts[first[~level & within[0] & within[1]]]
    return found


def cross(way: np.ndarray, other: np.ndarray) -> np.ndarray:
    product: np.ndarray = way[:, 0] * other[:, 1] - way[:, 1] * other[:, 0]
    return product
