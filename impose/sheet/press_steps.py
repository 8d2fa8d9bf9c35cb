"""How a garment is pressed: its prints in order, on which face each lies, whether the platen holds it, what is heated
again.

Everything is reckoned on the faces of `impose.sheet.garment_faces`. A print pressed before on the same face is heated
again when a later one's platen reaches over it, and dye that is heated again turns to gas again: it ghosts and blurs.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from functools import lru_cache
from types import MappingProxyType
from typing import Literal

from impose.orders.batch import BatchRow
from impose.orders.garment_groups import GarmentPrints, assign_garments
from impose.profiles.placement import Face, PlacementRule, spell_offset
from impose.profiles.press import HeatPress, PressSetting
from impose.profiles.profiles import Profiles
from impose.sheet.garment_faces import FaceShape, PrintSpot, locate_print, lower_spot, make_face_shape, measure_lowering
from impose.sheet.heat_shields import HeatShield, PressedPrint, find_shields
from impose.sheet.layout import BatchLayout, SheetLayout
from impose.sheet.pad_choice import PadChoice, choose_pad
from impose.sheet.press_heats import HeatJoin, count_closings, find_heat_joins
from impose.sheet.transfer import Piece, Transfer
from impose.units import Box
from impose.values import FrozenStruct, replace

CopyKey = tuple[tuple[int, int], int]

Fit = Literal["straight", "turned", "several"]
Pair = tuple[Transfer, SheetLayout]
ByCopy = Mapping[CopyKey, list[Pair]]
"""The transfers of a copy of a row, each with its sheet, by the row's key and the copy."""

_CHEST: dict[Face, str] = {"front": "chest", "left sleeve": "sleeve", "right sleeve": "sleeve"}


class PressStep(FrozenStruct):
    """One print of a garment: where it lies, how the platen takes it, and what it heats again.

    `pressings` is how many times the platen has to close for it. `again` are the prints, by transfer id, that the
    platen would heat again; `avoidable` says that the garment can be laid so that it does not, `together` that both lie
    on the platen at once. `joins` are where one heat may end and the next begin. `butted` says that the panels of this
    print lie on the platen together, edge to edge, and are pressed at once. `setting` is that of the sheet's paper.
    `pad` is the pad inside the garment, None where the place is not known; `shields` is what is kept from its heat.
    """

    transfer: Transfer
    sheet: int
    placement: PlacementRule | None
    shape: FaceShape
    spot: PrintSpot
    fit: Fit
    pressings: int
    again: tuple[str, ...] = ()
    avoidable: bool = False
    together: bool = False
    joins: tuple[HeatJoin, ...] = ()
    butted: bool = False
    paper: str = ""
    setting: PressSetting | None = None
    pad: PadChoice | None = None
    shields: tuple[HeatShield, ...] = ()

    @property
    def print(self) -> tuple[tuple[int, int], int]:
        """Row, that of the kit too, and copy: what the panels of one print share."""
        return self.transfer.piece.row.key, self.transfer.copy

    @property
    def setup(self) -> str:
        """What the platen is set up for: back, chest, sleeve, hood or other."""
        return find_setup(self.shape.face)


class PressTicket(FrozenStruct):
    """A garment with its prints in pressing order; `setup` names the one it is for where tickets go by set-up.

    `first` says that it is pressed and looked at before the rest is printed.
    """

    worn: GarmentPrints
    steps: tuple[PressStep, ...]
    setup: str = ""
    first: bool = False

    @property
    def faces(self) -> list[tuple[Face, list[PressStep]]]:
        """The steps by face, in order."""
        found: dict[Face, list[PressStep]] = {}
        for step in self.steps:
            found.setdefault(step.shape.face, []).append(step)
        return list(found.items())


def find_setup(face: Face) -> str:
    """The set-up a face is pressed in, in the words of the setting."""
    return _CHEST.get(face, str(face))


class PressedGarments(FrozenStruct):
    """The garments of a batch that have a print in its layout, those of the first ones off before all others.

    `found` are the transfers of their prints, `first` the ids of those that are pressed and looked at first.
    """

    garments: list[GarmentPrints]
    found: ByCopy
    first: frozenset[str]


def list_pressed_garments(rows: Sequence[BatchRow], layout: BatchLayout) -> PressedGarments:
    """The garments to be pressed; a garment none of whose transfers is laid out is none of them."""
    found = _group_by_copy(layout)
    first = frozenset(placed.transfer.id for sheet in layout.sheets if sheet.first for placed in sheet.placed)
    garments = _list_garments(rows, found)
    if first:
        pressed_first = {key for key, pairs in found.items() if any(transfer.id in first for transfer, _ in pairs)}
        garments.sort(key=lambda worn: all((row.key, copy) not in pressed_first for row, copy in worn.prints))
    return PressedGarments(garments, found, first)


def make_tickets(rows: Sequence[BatchRow], layout: BatchLayout, profiles: Profiles) -> list[PressTicket]:
    """A ticket for each garment of the batch, in pressing order; grouped by set-up where the settings say so.

    Every transfer of the layout is on one of them, and a garment none of whose transfers is laid out has none: of a
    reprint only what is made again.
    """
    settings = profiles.settings
    pressed = list_pressed_garments(rows, layout)
    made = [make_garment_ticket(worn, pressed, profiles) for worn in pressed.garments]
    if settings.ticket_grouping == "garment":
        return made
    setups = sorted(
        {step.setup for ticket in made for step in ticket.steps},
        key=lambda name: _setup_rank(name, settings.press_order),
    )
    return [
        PressTicket(ticket.worn, tuple(step for step in ticket.steps if step.setup == setup), setup, ticket.first)
        for setup in setups
        for ticket in made
        if any(step.setup == setup for step in ticket.steps)
    ]


def _list_garments(rows: Sequence[BatchRow], found: ByCopy) -> list[GarmentPrints]:
    """The garments that have a print in the layout; what cannot be laid on garments in one way stands alone."""
    by_key = {row.key: row for row in rows}
    worn = []
    left = dict.fromkeys(found)
    for assigned in assign_garments(rows)[0]:
        prints = tuple((row, copy) for row, copy in assigned.prints if (row.key, copy) in found)
        for row, copy in prints:
            left.pop((row.key, copy), None)
        if prints:
            worn.append(assigned if prints == assigned.prints else replace(assigned, prints=prints))
    for key, copy in left:
        row = by_key.get(key) or found[key, copy][0][0].piece.row
        worn.append(GarmentPrints(row.order, row.wearer, row.garment, 1, 1, ((row, copy),)))
    return worn


def _group_by_copy(layout: BatchLayout) -> dict[CopyKey, list[Pair]]:
    """The transfers of every copy of every row, each with its sheet; panels of one print together, in order."""
    found: dict[CopyKey, list[Pair]] = {}
    for sheet in layout.sheets:
        for placed in sheet.placed:
            transfer = placed.transfer
            found.setdefault((transfer.piece.row.key, transfer.copy), []).append((transfer, sheet))
    for pairs in found.values():
        pairs.sort(key=_panel_turn)
    return found


def _panel_turn(pair: Pair) -> tuple[int, str]:
    """Panels in the order they are pressed in."""
    panel = pair[0].piece.panel
    return (panel.press if panel else 0, pair[0].id)


def make_garment_ticket(worn: GarmentPrints, pressed: PressedGarments, profiles: Profiles) -> PressTicket:
    """The ticket of one garment, with all its prints."""
    order = profiles.settings.press_order
    pairs = [pair for row, copy in worn.prints for pair in pressed.found.get((row.key, copy), ())]
    steps = _lower_stacked([_make_step(transfer, sheet, profiles) for transfer, sheet in pairs])
    steps.sort(key=lambda step: (_setup_rank(step.setup, order), step.shape.face))
    press = profiles.find_press(profiles.settings.press)
    shielded = _shield_prints(_lay_pads(_find_heated_prints(steps, press), profiles), press)
    return PressTicket(worn, tuple(shielded), first=any(transfer.id in pressed.first for transfer, _ in pairs))


def _lay_pads(steps: Sequence[PressStep], profiles: Profiles) -> list[PressStep]:
    """The steps, each with the pad for its print: of panels, for the whole."""
    pads, found = tuple(profiles.pads.values()), []
    for step in steps:
        boxes = [step.spot.box]
        if step.transfer.piece.panel is not None:
            boxes = [each.spot.box for each in steps if each.print == step.print]
        pad = choose_pad(step.shape, _enclosing_box(boxes), pads)
        spot = step.spot if pad is None or pad.box is None else replace(step.spot, pad=pad.box)
        found.append(replace(step, pad=pad, spot=spot))
    return found


def _shield_prints(steps: Sequence[PressStep], press: HeatPress) -> list[PressStep]:
    """The steps, each with what is pressed before it and has to be kept from its heat."""
    before: list[PressedPrint] = []
    found = []
    for step in steps:
        covered = () if step.together or step.avoidable else step.again
        shields = find_shields(step.shape.face, _platen_box(step, press), before, covered)
        found.append(replace(step, shields=shields) if shields else step)
        title = step.placement.title if step.placement else "print"
        before.append(PressedPrint(step.transfer.id, title, step.shape.face, step.spot.box))
    return found


def describe_place(row: BatchRow, profiles: Profiles) -> Mapping[str, str] | None:
    """Where a row's print is measured to, as the columns of a batch say it; None without a placement."""
    if row.placement is None:
        return None
    placement = profiles.require_placement(row.placement).pin_place(row.drop, row.across)
    drop, across = (find(row.garment, profiles.wardrobe) for find in (placement.find_drop, placement.find_across))
    return _share_place(spell_offset(drop), spell_offset(across))


@lru_cache(maxsize=1024)
def _share_place(drop: str, across: str) -> Mapping[str, str]:
    """Thousands of rows are measured to few places; each is one object."""
    return MappingProxyType({"drop": drop, "across": across})


def _lower_stacked(steps: Sequence[PressStep]) -> list[PressStep]:
    """The steps, those lowered that belong below another print of their face."""
    placed = [(step.placement, step.spot, step.shape.face) for step in steps if step.placement is not None]
    found = []
    for step in steps:
        others = [(rule, spot) for rule, spot, face in placed if face == step.shape.face]
        own = [spot for rule, spot in others if step.placement is not None and rule.name == step.placement.name]
        # Of a print in panels the uppermost says how far all of them go.
        top = min(own, key=lambda spot: spot.box.y, default=step.spot)
        by = measure_lowering(step.placement, top, others) if step.placement is not None else 0.0
        found.append(replace(step, spot=lower_spot(step.spot, by)) if by else step)
    return found


def _setup_rank(setup: str, order: Sequence[str]) -> tuple[int, str]:
    return (order.index(setup) if setup in order else len(order), setup)


def _make_step(transfer: Transfer, sheet: SheetLayout, profiles: Profiles) -> PressStep:
    piece = transfer.piece
    placement, shape, spot = lay_on_garment(piece, profiles)
    press = profiles.find_press(profiles.settings.press)
    around = _measure_whole(piece, placement)
    butted = piece.panel is not None and press.holds_print(around.w, around.h)
    w, h = (around.w, around.h) if butted else (spot.box.w, spot.box.h)
    fit, pressings, joins = _fit_platen(press, w, h)
    paper = sheet.paper
    return PressStep(
        transfer, sheet.number, placement, shape, spot, fit, pressings, joins=joins, butted=butted, paper=paper.alias,
        setting=paper.setting,
    )  # fmt: skip


def _measure_whole(piece: Piece, placement: PlacementRule | None) -> Box:
    """The finished print as it lies on the face; of a panel the whole print."""
    w, h = piece.finished_size
    return Box(0, 0, h, w) if placement is not None and placement.reading != "upright" else Box(0, 0, w, h)


def lay_on_garment(
    piece: Piece, profiles: Profiles, smallest: bool = False
) -> tuple[PlacementRule | None, FaceShape, PrintSpot]:
    """The placement of a print, the face it is on and where it lies there; on the smallest of the group if asked."""
    row, wardrobe = piece.row, profiles.wardrobe
    placement = profiles.require_placement(row.placement) if row.placement is not None else None
    placement = placement and placement.pin_place(row.drop, row.across)
    # Of a panel, the whole print is laid on the face, and the panel within it.
    w, h = piece.finished_size
    around = _measure_whole(piece, placement)
    shape = _share_shape(
        make_face_shape(placement.face if placement else "other", row.garment, placement, wardrobe, around, smallest)
    )
    spot = locate_print(placement, row.garment, wardrobe, shape, w, h)
    return placement, shape, _move_to_crease(piece, spot) if piece.panel is None else _locate_panel(piece, spot)


@lru_cache(maxsize=256)
def _share_shape(shape: FaceShape) -> FaceShape:
    """Thousands of prints lie on few faces; each is one object."""
    return shape


def _move_to_crease(piece: Piece, spot: PrintSpot) -> PrintSpot:
    """The print moved sideways so that its fold, not its middle, lies where its middle was: crease on crease."""
    x, _ = find_crease(piece, spot)
    return replace(spot, box=spot.box.move_by(spot.box.centre[0] - x, 0.0))


def find_crease(piece: Piece, spot: PrintSpot) -> tuple[float, float]:
    """Where a print's folds cross, on the face: seen from behind the paper, so that the printed left is right."""
    x, y = (piece.ink_w_mm - piece.crease_x_mm) / piece.cloth_x, piece.crease_y_mm / piece.cloth_y
    if spot.turned == 90:
        return spot.box.right - y, spot.box.y + x
    if spot.turned == 270:
        return spot.box.x + y, spot.box.bottom - x
    return spot.box.x + x, spot.box.y + y


def _locate_panel(piece: Piece, spot: PrintSpot) -> PrintSpot:
    """A panel's own place. The whole's drop and sideways distance are the first panel's, where it has that edge."""
    box, whole = _panel_box(piece, spot), spot.box
    first = piece.panel is not None and piece.panel.press == 1
    edges = {"top of print": box.y - whole.y, "bottom of print": whole.bottom - box.bottom}
    has_edge = spot.drop is not None and edges.get(spot.drop.measured_to, 1.0) < 1e-6
    return replace(spot, box=box, drop=spot.drop if first and has_edge else None, across=None, midway=False)


def _panel_box(piece: Piece, spot: PrintSpot) -> Box:
    """A panel's place on the face: within the whole's box, turned with it."""
    assert piece.panel is not None
    place, whole = piece.panel.box, spot.box
    x, y = place.x / piece.cloth_x, place.y / piece.cloth_y
    w, h = place.w / piece.cloth_x, place.h / piece.cloth_y
    if spot.turned == 90:
        return Box(whole.right - y - h, whole.y + x, h, w)
    if spot.turned == 270:
        return Box(whole.x + y, whole.bottom - x - w, h, w)
    return Box(whole.x + x, whole.y + y, w, h)


def _fit_platen(press: HeatPress, w: float, h: float) -> tuple[Fit, int, tuple[HeatJoin, ...]]:
    """How the platen takes a print: as the garment lies, with the garment turned, or in several heats, joined where."""
    room_w, room_h = press.platen_width_mm - 2 * press.border_mm, press.platen_height_mm - 2 * press.border_mm
    straight, turned = count_closings(w, h, room_w, room_h), count_closings(w, h, room_h, room_w)
    if straight <= turned:
        return ("straight" if straight == 1 else "several"), straight, find_heat_joins(w, h, room_w, room_h)
    return ("turned" if turned == 1 else "several"), turned, find_heat_joins(w, h, room_h, room_w)


def _find_heated_prints(steps: Iterable[PressStep], press: HeatPress) -> list[PressStep]:
    """The steps, each with the earlier prints of its face that its platen reaches over."""
    done: list[PressStep] = []
    for step in steps:
        before = [
            earlier for earlier in done if earlier.shape.face == step.shape.face and earlier.shape.face != "other"
        ]
        before = [
            earlier for earlier in before if earlier.print != step.print
        ]  # that panels heat each other is said of them all
        over = [earlier for earlier in before if _platen_box(step, press).overlaps_box(earlier.spot.box)]
        if over:
            boxes = [earlier.spot.box for earlier in over]
            avoidable = all(_can_separate(step.spot.box, box, press.border_mm) for box in boxes)
            apart = not any(step.spot.box.overlaps_box(box) for box in boxes)
            around = _enclosing_box([step.spot.box, *boxes])
            together = apart and press.holds_print(around.w, around.h)
            again = tuple(earlier.transfer.id for earlier in over)
            step = replace(step, again=again, avoidable=avoidable, together=together)
        done.append(step)
    return done


def _platen_box(step: PressStep, press: HeatPress) -> Box:
    """The platen on the cloth when it is centred on a print."""
    w, h = press.platen_width_mm, press.platen_height_mm
    if step.fit == "turned":
        w, h = h, w
    x, y = step.spot.box.centre
    return Box(x - w / 2, y - h / 2, w, h)


def _can_separate(box: Box, other: Box, border: float) -> bool:
    """Whether a platen's edge, `border` clear of one print, can run between the two."""
    return (
        box.x - other.right >= border
        or other.x - box.right >= border
        or box.y - other.bottom >= border
        or other.y - box.bottom >= border
    )


def _enclosing_box(boxes: Sequence[Box]) -> Box:
    if len(boxes) == 1:
        return boxes[0]
    x, y = min(box.x for box in boxes), min(box.y for box in boxes)
    return Box(x, y, max(box.right for box in boxes) - x, max(box.bottom for box in boxes) - y)
