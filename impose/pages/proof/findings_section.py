"""The findings of a proof: worst first, those of one kind together, each with its place and maybe a picture."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import PurePosixPath

from impose.errors import Finding, Severity, quote_text
from impose.kinds import KINDS
from impose.pages.proof.gallery import crop_as_worn, pack_small
from impose.pages.proof.markup import Content, Markup, join_markup, make_data_uri, make_element, name_element
from impose.pages.proof.order_lots import GroupedFinding, OrderLots, format_ranges
from impose.pages.proof.proof_model import WORDS, Proof, link_transfers
from impose.pages.proof.sheet_drawing import draw_spot
from impose.sheet.layout import PlacedTransfer
from impose.units import Box, format_length
from impose.values import FrozenStruct

Numbered = tuple[int, GroupedFinding]

_WHOLE = 0.95  # of a print: a finding that covers as much covers it all
CROP_MM = 30.0
"""Of a print that is shown at its size beside a finding."""

ROWS_MOST = 60
"""Rows, or runs of them, that are listed of one finding; the record has them all."""


class RowPlaces(FrozenStruct):
    """Of each row, and of each row of its kit, the ids of its transfers and the first of them as it lies."""

    ids: Mapping[tuple[int, int], list[str]]
    prints: Mapping[tuple[int, int], PlacedTransfer]


def findings_section(
    proof: Proof, orders: Sequence[OrderLots], said: Sequence[GroupedFinding], most: int | None = None
) -> Markup | None:
    """The section, or nothing where nothing was found; of one kind no more than `most` are shown, the rest counted."""
    if not said:
        return None
    ids: dict[tuple[int, int], list[str]] = {}
    prints: dict[tuple[int, int], PlacedTransfer] = {}
    for order in orders:
        for lot in order.lots:
            for key in dict.fromkeys(((lot.row.row, 0), lot.row.key)):
                ids.setdefault(key, []).extend(lot.ids)
                prints.setdefault(key, lot.placed[0][1])
    where = RowPlaces(ids, prints)
    alike: dict[tuple[Severity, str], list[Numbered]] = {}
    for number, cause in enumerate(said, 1):
        alike.setdefault((cause.first.severity, cause.first.kind or str(number)), []).append((number, cause))
    cards = [_finding_card(proof, group, where, most) for group in alike.values()]
    return make_element(
        "section", make_element("h2", "Findings"), make_element("ul", cards, class_="said"), id="findings"
    )


def _finding_card(proof: Proof, group: Sequence[Numbered], where: RowPlaces, most: int | None) -> Markup:
    """Findings of one kind: what they have in common is said once."""
    first = group[0][1].first
    mark = make_element("span", WORDS[first.severity], class_=f"mark {first.severity}")
    if len(group) == 1:
        number, cause = group[0]
        body = make_element(
            "div",
            mark,
            make_element("h3", _finding_words(cause), dir="auto"),
            _write_why(first.why),
            _finding_remedy_and_places(proof, cause, where, None),
        )
        return make_element(
            "li", body, _finding_view(proof, cause, where), id=f"finding-{number}", class_=str(first.severity)
        )
    title = KINDS[first.kind].says if first.kind in KINDS else first.kind.replace("-", " ")
    whys = {cause.first.why for _, cause in group}
    remedies = {cause.first.remedy for _, cause in group}
    remedy = first.remedy if len(remedies) == 1 else None
    body = make_element(
        "div",
        mark,
        make_element("h3", f"{_capitalise_first(title)} ({len(group)})"),
        _write_why(first.why) if len(whys) == 1 else None,
        _remedy_paragraph(remedy) if remedy else None,
    )
    items = [_finding_item(proof, number, cause, where, remedy, len(whys) > 1) for number, cause in group[:most]]
    if len(items) < len(group):
        more = f"and {len(group) - len(items):,} more: the proof of each part shows its own, the record has all"
        items.append(make_element("li", more))
    return make_element("li", body, make_element("ul", items, class_="items"), class_=f"{first.severity} several")


def _finding_item(
    proof: Proof, number: int, said: GroupedFinding, where: RowPlaces, remedy: str | None, why: bool
) -> Markup:
    body = make_element(
        "div",
        make_element("b", _finding_words(said), dir="auto"),
        _write_why(said.first.why) if why else None,
        _finding_remedy_and_places(proof, said, where, remedy),
    )
    return make_element("li", body, _finding_view(proof, said, where), id=f"finding-{number}")


def _finding_remedy_and_places(proof: Proof, said: GroupedFinding, where: RowPlaces, remedy: str | None) -> Markup:
    """How to mend it, unless that was said already, and where it is."""
    own = _remedy_paragraph(said.first.remedy) if said.first.remedy and said.first.remedy != remedy else None
    return join_markup(own, make_element("p", _finding_places(proof, said, where), class_="quiet small"))


def _remedy_paragraph(words: str) -> Markup:
    return make_element("p", make_element("b", "To mend it: "), words)


def _write_why(words: str) -> Markup | None:
    return make_element("p", words) if words else None


def _finding_words(said: GroupedFinding) -> str:
    read = f" (read: {quote_text(said.first.read)})" if said.first.read is not None else ""
    return f"{_capitalise_first(said.first.what)}{read}"


def _capitalise_first(words: str) -> str:
    return words[:1].upper() + words[1:]


def _finding_view(proof: Proof, said: GroupedFinding, where: RowPlaces) -> Markup | None:
    """The finding's own picture; else the print with a frame around the spot, where there is one."""
    finding = said.first
    if finding.view:
        return make_element("img", src=make_data_uri(finding.view, "image/png"), alt=f"Close view: {finding.what}")
    placed = where.prints.get(finding.keys[0]) if finding.keys else None
    if finding.kind.endswith("low-resolution") and placed is not None:
        return _draw_at_size(placed)
    if finding.mm is None or placed is None or placed.transfer.piece.panel is not None:
        return None
    left, top, right, bottom = finding.mm
    return draw_spot(proof.gallery, placed, Box(left, top, right - left, bottom - top))


def _covers_print(finding: Finding, where: RowPlaces) -> bool:
    """Whether a finding's box is as good as the whole print: its numbers tell nothing then."""
    placed = where.prints.get(finding.keys[0]) if finding.keys else None
    if finding.mm is None or placed is None:
        return False
    piece, (left, top, right, bottom) = placed.transfer.piece, finding.mm
    return (right - left) * (bottom - top) >= _WHOLE * piece.ink_w_mm * piece.ink_h_mm


def _draw_at_size(placed: PlacedTransfer) -> Markup:
    """The middle of the print, pixel by pixel, as large as it will be: what few pixels look like needs no number.

    True to size on paper at 100 %; on a screen as nearly as the browser knows its millimetres.
    """
    piece = placed.transfer.piece
    wide, high = piece.picture.ink[2] - piece.picture.ink[0], piece.picture.ink[3] - piece.picture.ink[1]
    per_mm = wide / piece.ink_w_mm
    across, down = (max(1, min(side, round(CROP_MM * per_mm))) for side in (wide, high))
    left, top = (wide - across) // 2, (high - down) // 2
    small = pack_small(crop_as_worn(piece.picture, (left, top, left + across, top + down)))
    caption = f"The middle {CROP_MM:g} mm at print size"
    image = make_element("image", href=small.data_uri, width=across, height=down, preserveAspectRatio="none")
    drawing = make_element(
        "svg", image, viewBox=f"0 0 {across} {down}", width=f"{across / per_mm:.2f}mm",
        height=f"{down / per_mm:.2f}mm", aria_hidden="true", focusable="false",
    )  # fmt: skip
    return make_element("figure", drawing, make_element("figcaption", caption, class_="quiet small"), class_="crop")


def _finding_places(proof: Proof, said: GroupedFinding, where: RowPlaces) -> Markup:
    """File, rows, column; where on the print and in the picture, if not all over it; and the transfers concerned."""
    finding = said.first
    parts: list[Content] = []
    if finding.file:
        parts.append(name_element(PurePosixPath(finding.file.replace("\\", "/")).name))
    if said.row_numbers:
        parts.append(f"row{'s' if len(said.row_numbers) > 1 else ''} {format_ranges(said.row_numbers, ROWS_MOST)}")
    if finding.column:
        parts.append(f"column {finding.column}")
    whole = _covers_print(finding, where)
    if finding.mm is not None and not whole:
        left, top, right, bottom = finding.mm
        across, down = format_length(left, proof.units), format_length(top, proof.units)
        at = f"{across} from the left, {down} from the top of the print"
        parts.append(f"{proof.format_size(right - left, bottom - top)} at {at}")
    if finding.px is not None and not whole:
        parts.append(f"pixels {finding.px[0]}, {finding.px[1]} to {finding.px[2]}, {finding.px[3]} of the artwork")
    named = list(dict.fromkeys(ident for key in said.keys for ident in where.ids.get(key, [])))
    if named:
        parts.append(["transfers " if len(named) > 1 else "transfer ", link_transfers(named)])
    return join_markup(*(join_markup(", " if n else None, part) for n, part in enumerate(parts)))
