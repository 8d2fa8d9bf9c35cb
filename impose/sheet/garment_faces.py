"""Where a print lies on its garment: the faces of a garment as flat planes, and the box of a print on one of them.

A face is what lies up in the press, seen from outside: front, back, a sleeve with its shoulder up, the side of a hood.
Coordinates are millimetres of cloth: x from the centre line to the viewer's right, y down from the highest point of the
shoulder (from the shoulder seam on a sleeve). Prints and offsets are true; the garment around them is a usual one of
its group, since nobody measured this one.
"""

from __future__ import annotations

from collections.abc import Iterable

from impose.profiles.garment import Garment, GarmentCatalogue, GarmentFigure
from impose.profiles.placement import Face, PlacementOffset, PlacementRule
from impose.units import Box
from impose.values import FrozenStruct, replace

# The shape of a collar in shares of the shoulders' width, read off flat garments (common practice, no source).
_NECK, _FRONT_DROP, _BACK_DROP = 0.38, 0.235, 0.055
_NAPE_DROP_MM = 40.0  # the same for words between the shoulders
_UNKNOWN_DROP_MM = 75.0  # where a print is drawn, with a question mark, when its drop is not known
RIB = 0.085  # of the length: the ribs of cuff and hem
HOOD_SEAM = 0.92  # of a hood's length: where its neck seam meets the opening
_PANEL_MM = 60.0  # cloth drawn around a print whose place on the garment is not known

LONG_SLEEVED = frozenset({"long-sleeve", "sweatshirt", "hoodie"})
ZIP_MM = 10.0  # half of what a zip with its tape takes across (common practice, no source)
PAD_MM = 9.5  # a pad is 1/4 to 1/2 in larger than the ink all round (common practice, no source)

DRAWN = ("hoodie", "sweatshirt", "polo", "long-sleeve", "t-shirt")


class FaceShape(FrozenStruct):
    """One face of a garment: `kind` is the drawing it takes, `width` and `length` what it measures flat.

    `neck` is the collar's half width; `collar_y` its seam on the centre line. `pocket` is the pocket that a print is
    centred on, if it is. `zip` says that a zip runs down the face on its centre line.
    """

    kind: str
    face: Face
    width: float
    length: float
    shoulders: float
    neck: float
    collar_y: float
    long_sleeves: bool
    pocket: Box | None = None
    zip: bool = False


class PrintSpot(FrozenStruct):
    """Where a print lies: its box, how far it is turned clockwise as seen on the face, and what is known of the place.

    `drop` and `across` are the offsets that it was laid by; None means that the place has to be measured, unless the
    print is centred. `midway` says that it is drawn midway from the centre line to the sleeve seam. `pad` is the pad
    inside the garment that lifts the cloth clear of a zip, where there is one.
    """

    box: Box
    turned: int
    drop: PlacementOffset | None
    across: PlacementOffset | None
    midway: bool
    anchor_y: float
    pad: Box | None = None

    @property
    def measured(self) -> tuple[PlacementOffset, ...]:
        """What the presser measures, and may write down on the ticket."""
        return tuple(offset for offset in (self.drop, self.across) if offset is not None)


def choose_drawing(garment: Garment, wardrobe: GarmentCatalogue) -> str:
    """The drawing for a kind: its own, or that of the kind it is like; a T-shirt where there is none."""
    return next((name for name in wardrobe.list_kind_lineage(garment.kind) if name in DRAWN), "t-shirt")


def make_face_shape(
    face: Face,
    garment: Garment,
    placement: PlacementRule | None,
    wardrobe: GarmentCatalogue,
    around: Box,
    smallest: bool = False,
) -> FaceShape:
    """The face of a garment that a placement is on; `around` is the size of the print, for a face not known.

    With `smallest` it is the face of the smallest garment of its group.
    """
    kind = choose_drawing(garment, wardrobe)
    figure = wardrobe.find_figure(garment.group, smallest)
    if face == "other" or figure is None:
        width, length = around.w + 2 * _PANEL_MM, around.h + 2 * _PANEL_MM
        return FaceShape(kind, "other", width, length, width, 0.0, 0.0, False)
    name = placement.name if placement else ""
    long = "long" in name or (kind in LONG_SLEEVED and "short" not in name)
    neck, drop = figure.shoulders * _NECK / 2, figure.shoulders * (_BACK_DROP if face == "back" else _FRONT_DROP)
    if face in ("left sleeve", "right sleeve"):
        length, width = _sleeve_size(figure, long)
        return FaceShape(kind, face, width, length, figure.shoulders, 0.0, 0.0, long)
    if face == "hood":
        return FaceShape(kind, face, figure.shoulders * 0.56, figure.shoulders * 0.74, figure.shoulders, 0.0, 0.0, long)
    parted = face == "front" and wardrobe.has_zip(garment.kind)
    pocket = None
    if name == "pocket":
        pocket = _pouch_of(figure, parted) if kind == "hoodie" else _chest_pocket(figure, drop)
    return FaceShape(kind, face, figure.width, figure.length, figure.shoulders, neck, drop, long, pocket, parted)


def _sleeve_size(figure: GarmentFigure, long: bool) -> tuple[float, float]:
    if long:
        return figure.long_sleeve, figure.long_sleeve_width
    return figure.short_sleeve, figure.short_sleeve_width


def _chest_pocket(figure: GarmentFigure, collar_y: float) -> Box:
    """A patch pocket on the wearer's left chest, in its usual proportion (common practice, no source)."""
    wide = figure.width * 0.2
    return Box(figure.shoulders / 4 - wide / 2 + 10, collar_y + 60, wide, wide * 1.15)


def measure_pouch(width: float, length: float) -> Box:
    """The front pocket of a hoodie, above its ribbed hem (common practice, no source)."""
    wide, high = width * 0.6, length * 0.27
    return Box(-wide / 2, length * (1 - RIB) - high, wide, high)


def _pouch_of(figure: GarmentFigure, parted: bool) -> Box:
    """The front pocket; where a zip parts it, the half on the wearer's left."""
    whole = measure_pouch(figure.width, figure.length)
    return Box(ZIP_MM, whole.y, whole.right - ZIP_MM, whole.h) if parted else whole


def locate_print(
    placement: PlacementRule | None,
    garment: Garment,
    wardrobe: GarmentCatalogue,
    shape: FaceShape,
    ink_w: float,
    ink_h: float,
) -> PrintSpot:
    """Where a print of `ink_w` × `ink_h`, as the artwork reads, lies on its face."""
    reading = placement.reading if placement else "upright"
    turned = {"upright": 0, "shoulder-down": 90, "cuff-up": 270}[reading]
    w, h = (ink_h, ink_w) if turned else (ink_w, ink_h)
    if placement is None or shape.face == "other":
        return PrintSpot(Box(-w / 2, (shape.length - h) / 2, w, h), turned, None, None, False, 0.0)
    if shape.pocket is not None:
        x, y = shape.pocket.centre
        box = Box(x - w / 2, y - h / 2, w, h)
        return PrintSpot(box, turned, None, None, False, shape.pocket.y, _make_pad(shape, box))
    drop, across = placement.find_drop(garment, wardrobe), placement.find_across(garment, wardrobe)
    if shape.face == "hood" and (drop is None or across is None):
        return PrintSpot(Box(-w / 2, (shape.length - h) / 2, w, h), turned, None, None, False, 0.0)
    centre = _centre_x(placement, shape, across)
    top, anchor = _find_top(shape, drop, h, placement.name in ("upper-back", "nape"))
    midway = placement.side != "centre" and across is None
    box = Box(centre - w / 2, top, w, h)
    return PrintSpot(box, turned, drop, across, midway, anchor, _make_pad(shape, box))


BETWEEN_MM = 25.4
"""Between a print and the one above it on the same face (common practice, no source)."""


def measure_lowering(
    placement: PlacementRule, spot: PrintSpot, others: Iterable[tuple[PlacementRule, PrintSpot]]
) -> float:
    """By how much a print has to lie lower, because of prints on its garment and face that it belongs below."""
    above = [other.box.bottom + BETWEEN_MM for rule, other in others if rule.name in placement.below]
    return max(0.0, max(above) - spot.box.y) if above and spot.drop is not None else 0.0


def lower_spot(spot: PrintSpot, by_mm: float) -> PrintSpot:
    """A print laid lower than is usual; its drop says how far."""
    drop = spot.drop
    if drop is not None:
        down = -by_mm if drop.measured_from in ("hem seam", "cuff") else by_mm
        source = f"{drop.source}; lowered below the print above it"
        drop = replace(drop, usual_mm=drop.usual_mm + down, least_mm=None, most_mm=None, source=source, own=False)
    pad = spot.pad.move_by(0.0, by_mm) if spot.pad else None
    return replace(spot, box=spot.box.move_by(0.0, by_mm), drop=drop, pad=pad)


def _make_pad(shape: FaceShape, box: Box) -> Box | None:
    """The pad under a print beside a zip: larger than the ink, and cut off where the zip begins."""
    if not shape.zip:
        return None
    wide = box.inset_by(-PAD_MM, -PAD_MM, -PAD_MM, -PAD_MM)
    if box.x >= ZIP_MM:
        return wide.inset_by(max(0.0, ZIP_MM - wide.x), 0.0, 0.0, 0.0)
    return wide.inset_by(0.0, 0.0, max(0.0, wide.right + ZIP_MM), 0.0) if box.right <= -ZIP_MM else wide


def _centre_x(placement: PlacementRule, shape: FaceShape, across: PlacementOffset | None) -> float:
    """The print's middle: the wearer's left is on the viewer's right in front and on the viewer's left behind."""
    if across is not None and across.measured_from == "hood edge":
        return across.usual_mm - shape.width / 2
    if placement.side == "centre":
        return 0.0
    away = across.usual_mm if across else shape.shoulders / 4
    if across is not None and across.measured_from == "sleeve seam":
        away = shape.shoulders / 2 - across.usual_mm
    rightwards = (placement.side == "left") == (shape.face == "front")
    return away if rightwards else -away


def _find_top(shape: FaceShape, drop: PlacementOffset | None, height: float, nape: bool) -> tuple[float, float]:
    """The print's upper edge, and the y that its drop is measured from."""
    if drop is None:
        if shape.face in ("left sleeve", "right sleeve"):
            return (shape.length - height) / 2, 0.0
        return shape.collar_y + (_NAPE_DROP_MM if nape else _UNKNOWN_DROP_MM), shape.collar_y
    on_hood = shape.face == "hood"
    upwards = on_hood or drop.measured_from in ("hem seam", "cuff")
    neck = shape.length * HOOD_SEAM if on_hood else shape.collar_y
    anchors = {"collar": neck, "neck seam": neck, "hem seam": shape.length, "cuff": shape.length}
    anchor = anchors.get(drop.measured_from, 0.0)
    at = anchor - drop.usual_mm if upwards else anchor + drop.usual_mm
    share = {"top of print": 0.0, "centre of print": 0.5, "bottom of print": 1.0}[drop.measured_to]
    return at - share * height, anchor
