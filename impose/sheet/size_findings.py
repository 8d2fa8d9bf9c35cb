"""Whether a picture suits the size and the place it is printed at: what only the final size can tell.

Limits are common practice without a source, except where one is named. All boxes in mm are of the finished print as
worn, from the ink's top left corner.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from itertools import combinations
from typing import Literal

from impose.art.faults.thin import ThinPart
from impose.errors import Finding, Severity
from impose.profiles.placement import NAMED_TEARS
from impose.profiles.profiles import Profiles
from impose.sheet.transfer import Piece, describe_ordered_garment
from impose.sheet.words_over_edge import find_words_over_edge
from impose.units import MM_PER_INCH, format_length, show_at_most, show_size
from impose.values import replace

THIN_MM = 0.5
"""Dye spreads as it turns to vapour: finer strokes break up or fade and finer gaps close."""

VERY_THIN = 0.6  # of that: not merely at risk
THIN_LENGTH_MM = 4.0  # less of it is a serif or the tip of a leaf
MUCH_MM = 20.0  # less of it may be a few fine tips
TINY_MM = 10.0  # our own choice, no source: no placement on file is nearly as small
FAR_OVER, FAR_UNDER = 1.25, 1.5  # times the most a placement takes; times under the least
SAME = 0.01  # sizes less than this apart are one size


def find_size_findings(pieces: Sequence[Piece], profiles: Profiles) -> list[Finding]:
    """Findings on every piece's size, strokes, edges and press, then on sizes that disagree; all with their rows."""
    # A print in panels is judged once, as a whole.
    pieces = [piece for piece in pieces if piece.panel is None or piece.panel.number == 1]
    found = [finding for piece in pieces for finding in _find_piece_findings(piece, profiles)]
    return found + list(_check_two_sizes(pieces, profiles))


def _find_piece_findings(piece: Piece, profiles: Profiles) -> Iterator[Finding]:
    units = profiles.settings.units
    yield from _check_resolution(piece, profiles)
    yield from _check_thin_parts(piece, "thin-stroke", piece.picture.facts.strokes, units)
    yield from _check_thin_parts(piece, "thin-gap", piece.picture.facts.gaps, units)
    yield from _check_straight_edges(piece, units)
    yield from _check_size_range(piece, profiles)
    yield from find_words_over_edge(piece, profiles)
    yield from _check_platen(piece, profiles)


def place_on_print(finding: Finding, piece: Piece) -> Finding:
    """A finding on artwork with its box in millimetres on the finished print, as far as it lies on the print at all."""
    if finding.px is None or finding.mm is not None:
        return finding
    left, top, right, bottom = piece.picture.ink
    box = (
        max(finding.px[0], left),
        max(finding.px[1], top),
        min(finding.px[2], right),
        min(finding.px[3], bottom),
    )
    if box[0] >= box[2] or box[1] >= box[3]:
        return finding
    return replace(finding, mm=_box_mm(piece, box))


def place_findings(findings: Sequence[Finding], pieces: Sequence[Piece]) -> list[Finding]:
    """All findings, those of a row with a piece placed on its print."""
    by_row: dict[int, list[Piece]] = {}
    for piece in pieces:
        by_row.setdefault(piece.row.row, []).append(piece)
    return [_place_finding(finding, by_row.get(finding.row or 0, [])) for finding in findings]


def _place_finding(finding: Finding, pieces: Sequence[Piece]) -> Finding:
    """A finding on the print of its row; of a kit's prints, on its own or the one whose artwork it is about."""
    mine = [piece for piece in pieces if piece.row.kit_row == finding.kit_row] or pieces
    meant = [piece for piece in mine if finding.read in (piece.row.art, piece.row.words)] or mine
    return place_on_print(finding, meant[-1]) if meant else finding


def _box_mm(piece: Piece, box: tuple[int, int, int, int]) -> tuple[float, float, float, float]:
    left, top, right, bottom = piece.picture.ink
    across, down = piece.ink_w_mm / (right - left), piece.ink_h_mm / (bottom - top)
    return (
        round((box[0] - left) * across, 2),
        round((box[1] - top) * down, 2),
        round((box[2] - left) * across, 2),
        round((box[3] - top) * down, 2),
    )


def _check_resolution(piece: Piece, profiles: Profiles) -> Iterator[Finding]:
    """Too few pixels at the final size; the limits are settings."""
    settings, ppi = profiles.settings, piece.ppi
    if ppi is None:
        return
    limits = (settings.ppi_serious, settings.ppi_warn, settings.ppi_note)
    limit = next((limit for limit in limits if ppi < limit - 1e-6), None)
    if limit is None:
        return
    serious = limit == settings.ppi_serious
    # What would be enough for a note in place of a warning.
    wide = piece.finished_size[0]
    largest = wide * ppi / max(limit, settings.ppi_warn)
    shows = "; single pixels will show" if serious else ""
    # Inches are no round number of millimetres in binary: 3.5 in at 120 an inch are 420 pixels, and not a little more.
    enough = math.ceil(round(wide * piece.cloth_x / MM_PER_INCH * max(limit, settings.ppi_warn) / 10, 6)) * 10
    yield Finding(
        f"{ppi:.0f} pixels an inch at {show_size(wide, settings.units)} wide, under {limit}{shows}",
        f"Ask for a larger picture, its ink {enough:,} pixels wide or more, or print it at most "
        f"{show_at_most(largest, settings.units)} wide.",
        Severity.NOTE if limit == settings.ppi_note else Severity.WARN,
        kind="very-low-resolution" if serious else "low-resolution",
        why="Edges print soft or in steps.",
        row=piece.row.row,
        kit_row=piece.row.kit_row,
        column="art",
        read=piece.row.art,
    )


def _check_thin_parts(
    piece: Piece, kind: str, parts: Sequence[ThinPart], units: Literal["mm", "in"]
) -> Iterator[Finding]:
    """The narrowest width under the limit of which there is more than a little."""
    px_per_mm = piece.per_mm
    for part in parts:
        if part.width >= 0.98 * THIN_MM * px_per_mm:  # what rounds to the limit is not under it
            return
        if part.length >= THIN_LENGTH_MM * px_per_mm:
            break
    else:
        return
    width = part.width / px_per_mm
    much = part.length >= MUCH_MM * px_per_mm
    stroke = kind == "thin-stroke"
    yield place_on_print(
        Finding(
            f"{'strokes' if stroke else 'gaps between strokes'} of {format_length(width, units)} at the final size; "
            f"under {format_length(THIN_MM, units)} is too {'thin' if stroke else 'narrow'} to trust",
            "Draw them bolder or print it larger." if stroke else "Open them up or print it larger.",
            Severity.WARN if much and width < THIN_MM * VERY_THIN else Severity.NOTE,
            kind=kind,
            why="The dye spreads: fine strokes fade or break." if stroke else "The dye spreads: fine gaps close.",
            row=piece.row.row,
            kit_row=piece.row.kit_row,
            column="words" if piece.row.words else "art",
            read=piece.row.words or piece.row.art,
            px=part.box,
        ),
        piece,
    )


def _check_straight_edges(piece: Piece, units: Literal["mm", "in"]) -> Iterator[Finding]:
    """Straight dark edges, worse the less paper is kept outside them. Sides swap in mirroring."""
    sides = piece.picture.facts.straight
    if not sides or piece.row.words:  # the stems of letters end where they end
        return
    kept = {
        "left": piece.sides.right.kept_mm,
        "top": piece.sides.top.kept_mm,
        "right": piece.sides.left.kept_mm,
        "bottom": piece.sides.bottom.kept_mm,
    }
    least = min(kept[side] for side in sides)
    close = least < NAMED_TEARS["normal"].kept_mm
    yield Finding(
        f"straight dark edges ({', '.join(sides)}) with {format_length(least, units)} of paper kept around them",
        "Tear well away from the edge and pad the press under it, or soften the edge in the artwork.",
        Severity.WARN if close else Severity.NOTE,
        kind="straight-edge",
        why="Where paper ends beside solid ink, the press can leave a line.",
        row=piece.row.row,
        kit_row=piece.row.kit_row,
        column="art",
        read=piece.row.art,
        mm=(0.0, 0.0, round(piece.ink_w_mm, 2), round(piece.ink_h_mm, 2)),
    )


def _check_size_range(piece: Piece, profiles: Profiles) -> Iterator[Finding]:
    """A size of the row's own, far from what its placement takes, or too small for any."""
    row = piece.row
    if row.width_mm is None and row.height_mm is None and not row.fitted:
        return
    if row.fitted and row.style is not None and row.style.letter_height_mm >= TINY_MM:
        return  # words have their style's letters, however short the name is
    if row.placement is None or row.fitted:
        yield from _check_tiny(piece, profiles)
        return
    placement = profiles.require_placement(row.placement)
    found = placement.find_size(row.garment, profiles.wardrobe)
    if found is None:
        return
    rule = found[0]
    width, height = piece.finished_size
    longer = max(width, height)
    units = profiles.settings.units
    if rule.most_mm is not None and width > rule.most_mm * FAR_OVER:
        what, limit = "wide, far over", rule.most_mm
    elif rule.least_mm is not None and longer < rule.least_mm / FAR_UNDER:
        what, limit = "at its longest, far under", rule.least_mm
    else:
        return
    size = longer if "longest" in what else width
    yield Finding(
        f"{show_size(size, units)} {what} the {show_size(limit, units)} usual for {placement.title}",
        "Check the unit and the placement; accept size-unusual if it is meant.",
        Severity.WARN,
        kind="size-unusual",
        why="A slip between inches and millimetres looks like this.",
        row=row.row,
        kit_row=row.kit_row,
        column="width" if row.width_mm is not None else "height",
    )


def _check_tiny(piece: Piece, profiles: Profiles) -> Iterator[Finding]:
    """A print of no use anywhere: without a placement there is nothing to judge it by but its size."""
    longer = max(piece.finished_size)
    if longer >= TINY_MM:
        return
    units = profiles.settings.units
    yield Finding(
        f"{format_length(longer, units)} at its longest, under {format_length(TINY_MM, units)}",
        "Check the unit; accept size-unusual if it is meant.",
        Severity.WARN,
        kind="size-unusual",
        why="A slip between inches and millimetres looks like this, and so small a print is hard to see and to place.",
        row=piece.row.row,
        kit_row=piece.row.kit_row,
        column="width" if piece.row.width_mm is not None else "height",
    )


def _check_platen(piece: Piece, profiles: Profiles) -> Iterator[Finding]:
    press = profiles.find_press(profiles.settings.press)
    if press.holds_print(piece.ink_w_mm, piece.ink_h_mm):
        return
    units = profiles.settings.units
    bare = replace(press, border_mm=0.0).holds_print(piece.ink_w_mm, piece.ink_h_mm)
    size = f"{format_length(piece.ink_w_mm, units)} × {format_length(piece.ink_h_mm, units)}"
    where = f"within the {format_length(press.border_mm, units)} border of" if bare else "over the edge of"
    yield Finding(
        f"a print of {size} reaches {where} the platen of {press.title}",
        "Use a larger press (setting press), or print it smaller; two presses leave a line where they overlap.",
        Severity.NOTE if bare else Severity.WARN,
        kind="platen",
        why="Heat and pressure fall off at the platen's edge, and the edge itself marks the cloth.",
        row=piece.row.row,
        kit_row=piece.row.kit_row,
    )


def _check_two_sizes(pieces: Sequence[Piece], profiles: Profiles) -> Iterator[Finding]:
    """The same artwork, placement and garment group at different sizes; said once, at the later row."""
    alike: dict[tuple[str, str | None, str], list[Piece]] = {}
    for piece in pieces:
        alike.setdefault((piece.picture.sha256, piece.row.placement, piece.row.garment.group), []).append(piece)
    for group in alike.values():
        pair = _find_different_sizes(group)
        if pair is None:
            continue
        first, second = pair
        sizes = " and ".join(format_length(piece.finished_size[0], profiles.settings.units) for piece in pair)
        same = first.row.order_key == second.row.order_key and describe_ordered_garment(
            first.row
        ) == describe_ordered_garment(second.row)
        yield Finding(
            f"the same artwork is {sizes} wide in rows {first.row.row} and {second.row.row}",
            "Give both the same size, or accept two-sizes if it is meant.",
            Severity.WARN if same else Severity.NOTE,
            kind="two-sizes",
            why="Worn side by side, like garments with unlike prints look like a mistake.",
            row=second.row.row,
            kit_row=second.row.kit_row,
            column="width",
        )


def _find_different_sizes(group: Sequence[Piece]) -> tuple[Piece, Piece] | None:
    """The first two pieces of different size; those of one order and garment before all others."""
    by_size: dict[int, Piece] = {}
    for piece in group:
        by_size.setdefault(round(piece.finished_size[0] * 1000), piece)
    pairs = [
        (by_size[a], by_size[b])
        for a, b in combinations(list(by_size)[:20], 2)
        if abs(a - b) > SAME * max(a, b)  # in micrometres
    ]
    if not pairs:
        return None
    return min(
        pairs,
        key=lambda pair: (
            pair[0].row.order_key != pair[1].row.order_key,
            describe_ordered_garment(pair[0].row) != describe_ordered_garment(pair[1].row),
            pair[1].row.row,
        ),
    )
