"""Which of the shop's pads goes inside a garment under a print.

A pad is larger than the ink all round and smaller than the room between the seams of its place; the smallest such is
taken. Rooms are those of a usual garment of the group, as drawn, since nobody measured this one.
"""

from __future__ import annotations

from collections.abc import Iterable
from functools import lru_cache

from impose.profiles.pads import PressPad
from impose.sheet.garment_faces import RIB, ZIP_MM, FaceShape, measure_pouch
from impose.units import Box
from impose.values import FrozenStruct

LEAST_MARGIN_MM = 6.35
"""1/4 in, the least by which a pad is larger than the ink all round (common practice, no source)."""

ARMPIT, SHOULDER_DROP = 0.34, 0.09  # of length and of shoulders: where the drawn seams run
CUFF = 0.56  # of a long sleeve's width: its end, as drawn
SHORT_END = 0.88
_HEM_MM = 22.0
_SEAM_MM = 10.0  # an armhole's seam runs in by that much from the shoulder's tip


class PadChoice(FrozenStruct):
    """The pad for a print: None where no pad of the shop does. `least` is the smallest that would, `room` the place's.

    `box` is where it lies on the face; `folded` says that a card is folded once, `cut` that it is cut to the place too.
    """

    pad: PressPad | None
    least: tuple[float, float]
    room: tuple[float, float]
    box: Box | None = None
    folded: bool = False
    cut: bool = False

    @property
    def crowded(self) -> bool:
        """Whether the place itself is too small for any pad: the print with its margin reaches a seam."""
        return self.least[0] > self.room[0] + 1e-6 or self.least[1] > self.room[1] + 1e-6


@lru_cache(maxsize=4096)
def choose_pad(shape: FaceShape, ink: Box, pads: tuple[PressPad, ...]) -> PadChoice | None:
    """The smallest pad that carries `ink` with its margin on a face and clears its seams; None on a face not known."""
    if shape.face == "other":
        return None
    need = ink.inset_by(*(-LEAST_MARGIN_MM,) * 4)
    room = _clear_of_zip(shape, ink, find_room(shape, need))
    least = (need.w, need.h)
    if shape.zip:
        # Beside a zip the pad ends where the zip begins, and so may be closer to the ink than elsewhere.
        need = _overlap(need, room)
    # Where no room is left, as for a print across a zip, nothing is needed either, and a card could be cut to nothing.
    owned = [pad for pad in pads if pad.owned and min(room.w, room.h) > 0]
    found = [choice for pad in owned for choice in _lay_pad(pad, shape, need, room)]
    if not found:
        return PadChoice(None, least, (max(0.0, room.w), max(0.0, room.h)))
    best = min(found, key=_rank_choice)
    pad, box, folded, cut = best.pad, best.box, best.folded, best.cut
    return PadChoice(pad, least, (room.w, room.h), box, folded, cut)


def _rank_choice(choice: PadChoice) -> tuple[bool, bool, bool, float, float]:
    """Pads before cards, whole cards before cut ones, folded before flat, since that lifts; then by the longer side."""
    box, card = choice.box or Box(0, 0, 0, 0), choice.pad is not None and choice.pad.card
    return card, choice.cut, card and not choice.folded, max(box.w, box.h), box.w * box.h


def _lay_pad(pad: PressPad, shape: FaceShape, need: Box, room: Box) -> Iterable[PadChoice]:
    """The ways in which a pad carries what is needed within the room: as it is, turned; a card folded, or cut too."""
    w, h = pad.width_mm, pad.height_mm
    ways = [(w, h, False), (h, w, False)]
    if pad.card:
        ways += [(w / 2, h, True), (h, w / 2, True), (w, h / 2, True), (h / 2, w, True)]
    for wide, high, folded in ways:
        for cut in (False, True) if pad.card else (False,):
            across, down = _cut_card(shape, need, room, wide, high) if cut else (wide, high)
            box = _place_in_room(shape, need, room, across, down)
            if box is not None:
                yield PadChoice(pad, (need.w, need.h), (room.w, room.h), box, folded, cut)


_TOUCH, _CURVE = 1e-6, 1e-3  # float noise, and that of searching a curve


def _cut_card(shape: FaceShape, need: Box, room: Box, wide: float, high: float) -> tuple[float, float]:
    """A card cut to its place: in a sleeve to the print's length, and as narrow as the sleeve is at its ends."""
    if shape.face in ("left sleeve", "right sleeve"):
        narrowest = min(measure_half_sleeve(shape, need.y), measure_half_sleeve(shape, need.bottom))
        return min(wide, 2 * narrowest), min(high, need.h)
    return min(wide, room.w), min(high, room.h)


def _place_in_room(shape: FaceShape, need: Box, room: Box, w: float, h: float) -> Box | None:
    """A pad of `w` × `h` about the print, moved as little as the room asks; None where it does not go."""
    if w < need.w - _TOUCH or h < need.h - _TOUCH or w > room.w + _TOUCH or h > room.h + _TOUCH:
        return None
    x = min(max(need.centre[0] - w / 2, room.x), room.right - w)
    y = min(max(need.centre[1] - h / 2, room.y), room.bottom - h)
    if shape.face in ("left sleeve", "right sleeve"):
        # As far up as it goes, since a sleeve narrows towards its cuff.
        y = max(_find_cap_top(shape, 2 * max(-x, x + w)), need.bottom - h)
        if y > need.y + _CURVE or max(-x, x + w) > measure_half_sleeve(shape, y + h) + _CURVE:
            return None
        y = min(y, need.y)
    return Box(x, y, w, h)


def find_room(shape: FaceShape, need: Box) -> Box:
    """The box around a print that is clear of the seams of its place."""
    if shape.pocket is not None:
        return shape.pocket
    if shape.face in ("left sleeve", "right sleeve"):
        back = 60.0 if shape.kind in ("hoodie", "sweatshirt") and shape.long_sleeves else _HEM_MM
        half = measure_half_sleeve(shape, need.bottom)
        return Box(-half, 0.0, 2 * half, shape.length - back)
    if shape.face == "hood":
        w, h = shape.width / 2, shape.length
        return Box(-w + 28, h * 0.12, 2 * w - 56, h * 0.7)
    return _body_room(shape, need)


def measure_half_sleeve(shape: FaceShape, y: float) -> float:
    """Half of how wide a sleeve lies flat at `y`: its cap, full at the underarm, then narrowing evenly, as drawn."""
    half = shape.width / 2
    end, cap = half * (CUFF if shape.long_sleeves else SHORT_END), min(shape.length * 0.32, half * 1.3)
    if y <= cap:
        return half * _cap_share(max(0.0, y) / cap)
    return half - (half - end) * min(1.0, (y - cap) / (shape.length - cap))


def _find_cap_point(t: float) -> tuple[float, float]:
    """A point of a cap's drawn curve, from the underarm (0) to the top of the shoulder (1): width and height left."""
    u = 1 - t
    return u**3 + 3 * u * u * t * 0.72 + 3 * u * t * t * 0.4, u**3 + 3 * u * u * t * 0.42


def _search_cap(axis: int, value: float) -> tuple[float, float]:
    """The point of a cap's curve at a width (axis 0) or a height (1), in shares of the cap's."""
    low, high = 0.0, 1.0
    for _ in range(24):
        t = (low + high) / 2
        low, high = (t, high) if _find_cap_point(t)[axis] > value else (low, t)
    return _find_cap_point(low)


def _cap_share(down: float) -> float:
    """The width of a sleeve's cap in shares of the sleeve's, `down` in shares of its height."""
    return _search_cap(1, down)[0]


def _find_cap_top(shape: FaceShape, w: float) -> float:
    """The highest y at which a pad of that width is within the cap."""
    half = shape.width / 2
    cap = min(shape.length * 0.32, half * 1.3)
    return cap if w / 2 >= half else cap * _search_cap(0, w / 2 / half)[1]


def _body_room(shape: FaceShape, need: Box) -> Box:
    """Between armholes or sides, below collar and shoulder seams, above hem and pouch."""
    armpit = shape.length * ARMPIT
    high = need.y < armpit
    half = shape.shoulders / 2 - _SEAM_MM if high else shape.width / 2 - _SEAM_MM
    top = _find_upper_seam(shape, need) if high else armpit
    ribbed = shape.kind in ("hoodie", "sweatshirt")
    bottom = shape.length * (1 - RIB) if ribbed else shape.length - _HEM_MM
    if shape.kind == "hoodie" and shape.face == "front":
        pouch = measure_pouch(shape.width, shape.length)
        bottom = min(bottom, pouch.y) if need.centre[1] < pouch.y else bottom
    return Box(-half, top, 2 * half, bottom - top)


def _find_upper_seam(shape: FaceShape, need: Box) -> float:
    """The lowest of collar and shoulder seams over a print's width."""
    over_neck = need.x < shape.neck and need.right > -shape.neck
    outer = max(abs(need.x), abs(need.right))
    slope = shape.shoulders * SHOULDER_DROP / (shape.shoulders / 2 - shape.neck) if shape.shoulders else 0.0
    return max(shape.collar_y if over_neck else 0.0, max(0.0, outer - shape.neck) * slope)


def _clear_of_zip(shape: FaceShape, ink: Box, room: Box) -> Box:
    """The room on the print's own side of a zip; a print across it has none."""
    if not shape.zip:
        return room
    if ink.x >= ZIP_MM - _TOUCH:
        return room.inset_by(max(0.0, ZIP_MM - room.x), 0.0, 0.0, 0.0)
    if ink.right <= -ZIP_MM + _TOUCH:
        return room.inset_by(0.0, 0.0, max(0.0, room.right + ZIP_MM), 0.0)
    return Box(ink.x, ink.y, 0.0, 0.0)


def _overlap(box: Box, room: Box) -> Box:
    x, y = max(box.x, room.x), max(box.y, room.y)
    return Box(x, y, max(0.0, min(box.right, room.right) - x), max(0.0, min(box.bottom, room.bottom) - y))
