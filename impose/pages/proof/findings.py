"""The findings of a proof: worst first, those of one kind together, each with its place and maybe a picture."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import PurePosixPath

from impose.errors import Severity, shown
from impose.kinds import KINDS
from impose.pages.proof.contents import Order, Said, ranges
from impose.pages.proof.drawing import spot_picture
from impose.pages.proof.markup import Content, Markup, data_uri, join, name, tag
from impose.pages.proof.small import crop_as_worn, packed
from impose.pages.proof.subject import WORDS, Proof, links
from impose.sheet.layout import Placed
from impose.units import Box, show_length

Numbered = tuple[int, Said]

CROP_MM = 30.0
"""Of a print that is shown at its size beside a finding."""

ROWS_MOST = 60
"""Rows, or runs of them, that are listed of one finding; the record has them all."""


@dataclass(frozen=True, slots=True)
class Where:
    """Of each row, the ids of its transfers and the first of them as it lies on its sheet."""

    ids: Mapping[int, list[str]]
    prints: Mapping[int, Placed]


def findings_section(
    proof: Proof, orders: Sequence[Order], said: Sequence[Said], most: int | None = None
) -> Markup | None:
    """The section, or nothing where nothing was found; of one kind no more than `most` are shown, the rest counted."""
    if not said:
        return None
    ids: dict[int, list[str]] = {}
    prints: dict[int, Placed] = {}
    for order in orders:
        for lot in order.lots:
            ids.setdefault(lot.row.row, []).extend(lot.ids)
            prints.setdefault(lot.row.row, lot.placed[0][1])
    where = Where(ids, prints)
    alike: dict[tuple[Severity, str], list[Numbered]] = {}
    for number, one in enumerate(said, 1):
        alike.setdefault((one.first.severity, one.first.kind or str(number)), []).append((number, one))
    cards = [_card(proof, group, where, most) for group in alike.values()]
    return tag("section", tag("h2", "Findings"), tag("ul", cards, class_="said"), id="findings")


def _card(proof: Proof, group: Sequence[Numbered], where: Where, most: int | None) -> Markup:
    """Findings of one kind: what they have in common is said once."""
    first = group[0][1].first
    mark = tag("span", WORDS[first.severity], class_=f"mark {first.severity}")
    if len(group) == 1:
        number, one = group[0]
        body = tag("div", mark, tag("h3", _words(one), dir="auto"), _why(first.why), _rest(proof, one, where, None))
        return tag("li", body, _view(proof, one, where), id=f"finding-{number}", class_=str(first.severity))
    title = KINDS[first.kind].says if first.kind in KINDS else first.kind.replace("-", " ")
    whys = {one.first.why for _, one in group}
    remedies = {one.first.remedy for _, one in group}
    remedy = first.remedy if len(remedies) == 1 else None
    body = tag(
        "div",
        mark,
        tag("h3", f"{_capital(title)} ({len(group)})"),
        _why(first.why) if len(whys) == 1 else None,
        _remedy(remedy) if remedy else None,
    )
    items = [_item(proof, number, one, where, remedy, len(whys) > 1) for number, one in group[:most]]
    if len(items) < len(group):
        more = f"and {len(group) - len(items):,} more: the proof of each part shows its own, the record has all"
        items.append(tag("li", more))
    return tag("li", body, tag("ul", items, class_="items"), class_=f"{first.severity} several")


def _item(proof: Proof, number: int, said: Said, where: Where, remedy: str | None, why: bool) -> Markup:
    body = tag(
        "div",
        tag("b", _words(said), dir="auto"),
        _why(said.first.why) if why else None,
        _rest(proof, said, where, remedy),
    )
    return tag("li", body, _view(proof, said, where), id=f"finding-{number}")


def _rest(proof: Proof, said: Said, where: Where, remedy: str | None) -> Markup:
    """How to mend it, unless that was said already, and where it is."""
    own = _remedy(said.first.remedy) if said.first.remedy and said.first.remedy != remedy else None
    return join(own, tag("p", _places(proof, said, where.ids), class_="quiet small"))


def _remedy(words: str) -> Markup:
    return tag("p", tag("b", "To mend it: "), words)


def _why(words: str) -> Markup | None:
    return tag("p", words) if words else None


def _words(said: Said) -> str:
    read = f" (read: {shown(said.first.read)})" if said.first.read is not None else ""
    return f"{_capital(said.first.what)}{read}"


def _capital(words: str) -> str:
    return words[:1].upper() + words[1:]


def _view(proof: Proof, said: Said, where: Where) -> Markup | None:
    """The finding's own picture; else the print with a frame around the spot, where there is one."""
    one = said.first
    if one.view:
        return tag("img", src=data_uri(one.view, "image/png"), alt=f"Close view: {one.what}")
    placed = None if one.row is None else where.prints.get(one.row)
    if one.kind.endswith("low-resolution") and placed is not None:
        return _at_size(placed)
    if one.mm is None or placed is None or placed.transfer.piece.panel is not None:
        return None
    left, top, right, bottom = one.mm
    return spot_picture(proof.gallery, placed, Box(left, top, right - left, bottom - top))


def _at_size(placed: Placed) -> Markup:
    """The middle of the print, pixel by pixel, as large as it will be: what few pixels look like needs no number.

    True to size on paper at 100 %; on a screen as nearly as the browser knows its millimetres.
    """
    piece = placed.transfer.piece
    wide, high = piece.picture.ink[2] - piece.picture.ink[0], piece.picture.ink[3] - piece.picture.ink[1]
    per_mm = wide / piece.ink_w_mm
    across, down = (max(1, min(side, round(CROP_MM * per_mm))) for side in (wide, high))
    left, top = (wide - across) // 2, (high - down) // 2
    small = packed(crop_as_worn(piece.picture, (left, top, left + across, top + down)))
    caption = f"The middle {CROP_MM:g} mm at print size"
    image = tag("image", href=small.uri, width=across, height=down, preserveAspectRatio="none")
    drawing = tag(
        "svg", image, viewBox=f"0 0 {across} {down}", width=f"{across / per_mm:.2f}mm",
        height=f"{down / per_mm:.2f}mm", aria_hidden="true", focusable="false",
    )  # fmt: skip
    return tag("figure", drawing, tag("figcaption", caption, class_="quiet small"), class_="crop")


def _places(proof: Proof, said: Said, ids: Mapping[int, list[str]]) -> Markup:
    """File, rows, column; where on the print and in the picture; and the transfers concerned."""
    one = said.first
    parts: list[Content] = []
    if one.file:
        parts.append(name(PurePosixPath(one.file.replace("\\", "/")).name))
    if said.rows:
        parts.append(f"row{'s' if len(said.rows) > 1 else ''} {ranges(said.rows, ROWS_MOST)}")
    if one.column:
        parts.append(f"column {one.column}")
    if one.mm is not None:
        left, top, right, bottom = one.mm
        at = (
            f"{show_length(left, proof.units)} from the left, {show_length(top, proof.units)} from the top of the print"
        )
        parts.append(f"{proof.size(right - left, bottom - top)} at {at}")
    if one.px is not None:
        parts.append(f"pixels {one.px[0]}, {one.px[1]} to {one.px[2]}, {one.px[3]} of the artwork")
    named = [ident for row in said.rows for ident in ids.get(row, [])]
    if named:
        parts.append(["transfers " if len(named) > 1 else "transfer ", links(named)])
    return join(*(join(", " if n else None, part) for n, part in enumerate(parts)))
