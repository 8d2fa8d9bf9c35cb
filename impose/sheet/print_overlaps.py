"""Whether the prints of a garment can be on it together: none over another, none across a zip.

Prints are laid at their drawn sizes and offsets on the smallest garment of the group, where there is the least room.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from itertools import combinations

from impose.errors import Finding
from impose.orders.batch import BatchRow
from impose.orders.findings_log import format_spans
from impose.orders.garment_groups import assign_garments
from impose.profiles.placement import Face, PlacementRule
from impose.profiles.profiles import Profiles
from impose.remedies import Remedy
from impose.sheet.garment_faces import ZIP_MM, PrintSpot, measure_lowering
from impose.sheet.press_steps import lay_on_garment
from impose.sheet.transfer import Piece, describe_ordered_garment
from impose.units import Box, format_length
from impose.values import FrozenStruct, replace

TOUCH_MM = 1.0
"""Prints that lie over each other by less are said to touch: hands are no truer (our own choice)."""

_BESIDE = "Choose a place beside it, such as left-chest, or the back; or name a pullover."

Key = tuple[int, int]


def find_print_overlaps(pieces: Sequence[Piece], profiles: Profiles) -> list[Finding]:
    """Stops for prints that would be pressed over one another, and for those across a zip."""
    found = {piece.row.key: piece for piece in reversed(pieces)}
    spots = {key: spot for key, piece in found.items() if (spot := _find_spot(piece, profiles)) is not None}
    rows = [piece.row for piece in found.values()]
    return [
        *_find_over_zip(found.values(), profiles),
        *_list_overlaps(sorted(rows, key=lambda row: row.key), spots, profiles),
    ]


class LyingPrint(FrozenStruct):
    """A whole print on its face of the smallest garment."""

    placement: PlacementRule
    face: Face
    spot: PrintSpot


def _find_spot(piece: Piece, profiles: Profiles) -> LyingPrint | None:
    """Where a whole print lies; None where its place is not known, so that it can be laid elsewhere."""
    placement, shape, spot = lay_on_garment(_make_whole(piece), profiles, smallest=True)
    known = spot.drop is not None or shape.pocket is not None
    return LyingPrint(placement, shape.face, spot) if placement is not None and known else None


def _make_whole(piece: Piece) -> Piece:
    """A print that was parted, as if it had not been."""
    if piece.panel is None:
        return piece
    w, h = piece.panel.whole
    return replace(piece, panel=None, ink_w_mm=w, ink_h_mm=h, crease_x_mm=w / 2, crease_y_mm=h / 2)


def _find_over_zip(pieces: Iterable[Piece], profiles: Profiles) -> Iterator[Finding]:
    for piece in sorted(pieces, key=lambda candidate: candidate.row.key):
        placement, shape, spot = lay_on_garment(_make_whole(piece), profiles, smallest=True)
        if placement is None or not shape.zip or not (spot.box.x < ZIP_MM and spot.box.right > -ZIP_MM):
            continue
        size = format_length(spot.box.w, profiles.settings.units)
        yield Finding(
            f"a print {size} wide at {placement.title} lies across the zip of {describe_ordered_garment(piece.row)}",
            _BESIDE,
            kind="across-zip",
            why="A zip holds no dye, marks the cloth and the platen, and parts the picture when it is opened.",
            row=piece.row.row,
            kit_row=piece.row.kit_row,
            column="placement",
            read=piece.row.placement,
        )


def _list_overlaps(rows: Sequence[BatchRow], spots: Mapping[Key, LyingPrint], profiles: Profiles) -> Iterator[Finding]:
    """Each pair of rows that meets on some garment, once."""
    seen: set[tuple[Key, Key]] = set()
    for worn in assign_garments(rows)[0]:
        here = [row for row, _ in worn.prints if row.key in spots]
        boxes = _list_boxes(here, spots)
        for first, other in combinations(here, 2):
            pair = (first.key, other.key)
            if pair in seen or spots[first.key].face != spots[other.key].face:
                continue
            seen.add(pair)
            wide, high = _measure_common(boxes[first.key], boxes[other.key])
            if wide > TOUCH_MM and high > TOUCH_MM:
                yield _report_overlap(first, other, wide, high, profiles)


def _list_boxes(rows: Sequence[BatchRow], spots: Mapping[Key, LyingPrint]) -> dict[Key, Box]:
    """Where the prints of one garment lie, those lowered that belong below another."""
    boxes = {}
    for row in rows:
        own = spots[row.key]
        others = [
            (spots[candidate.key].placement, spots[candidate.key].spot)
            for candidate in rows
            if spots[candidate.key].face == own.face
        ]
        boxes[row.key] = own.spot.box.move_by(0.0, measure_lowering(own.placement, own.spot, others))
    return boxes


def _measure_common(box: Box, other: Box) -> tuple[float, float]:
    """Width and height of what two boxes have in common; negative where they are apart."""
    return min(box.right, other.right) - max(box.x, other.x), min(box.bottom, other.bottom) - max(box.y, other.y)


def _report_overlap(first: BatchRow, other: BatchRow, wide: float, high: float, profiles: Profiles) -> Finding:
    units = profiles.settings.units
    names = [_name_print(row, profiles) for row in (first, other)]
    told = format_spans([first.row, other.row])
    named = first.wearer or other.wearer
    whose = f"for {named}" if named else "without a wearer, so for one and the same garment"
    size = f"{format_length(round(wide), units)} × {format_length(round(high), units)}"
    rows = f"rows {told} are" if first.row != other.row else f"row {told} is"
    where = (
        ""
        if first.row != other.row
        else f" (rows {format_spans([first.kit_row, other.kit_row])} of the kit “{first.kit}”)"
    )
    return Finding(
        f"{names[1]} would be pressed over {names[0]} by {size} on {describe_ordered_garment(first)}{where}: "
        f"{rows} {whose}",
        Remedy("move-overlapping") if named else Remedy("move-or-name-wearers"),
        kind="prints-overlap",
        why="Dye on dye is mud, and a spoiled garment needs a new blank and all its prints again.",
        row=other.row,
        kit_row=other.kit_row,
        column="wearer",
    )


def _name_print(row: BatchRow, profiles: Profiles) -> str:
    assert row.placement is not None  # a row without a placement has no known place
    return f"{profiles.require_placement(row.placement).title} (row {row.row})"
