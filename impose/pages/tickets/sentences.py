"""What a ticket says, in whole sentences: place, folds, platen, cautions for one print; settings for one press."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Literal

from impose.sheet.margins import has_marks
from impose.sheet.panels import Panel
from impose.sheet.pressing import Step, Ticket
from impose.shop.assign import Worn
from impose.shop.placement import Offset
from impose.shop.press import Press
from impose.units import MM_PER_INCH, show_at_most, show_length

Units = Literal["mm", "in"]

FACES = {
    "front": "FRONT",
    "back": "BACK",
    "left sleeve": "WEARER'S LEFT SLEEVE",
    "right sleeve": "WEARER'S RIGHT SLEEVE",
    "hood": "SIDE OF THE HOOD",
    "other": "PLACE NOT NAMED",
}

STANDING_STEP = (
    "Before every press: clean sheet inside the garment. The layers beneath are heated too, and dye comes through."
)


def garment_line(worn: Worn) -> str:
    """The garment in the customer's words, or in ours where the row names none; and its cloth."""
    garment = worn.garment.text or f"{worn.garment.group} {worn.garment.kind} (not named)"
    return f"{garment}   cloth: {worn.cloth.words}"


def step_title(step: Step, code: str) -> str:
    """Which print: its place, its id, and what artwork it is."""
    piece = step.transfer.piece
    title = step.placement.title if step.placement else "print without a placement"
    if piece.panel is not None:
        title += f", {piece.panel.words}"
    return f"{title[:1].upper()}{title[1:]}   {code}-{step.transfer.id}   sheet {step.sheet}   {piece.row.art}"


def step_size(step: Step, units: Units) -> str:
    """Ink size on paper, and what of it is allowed for the cloth."""
    piece = step.transfer.piece
    size = f"{_about(piece.ink_w_mm, units)} × {_about(piece.ink_h_mm, units)}"
    if (piece.cloth_x, piece.cloth_y) == (1.0, 1.0):
        return size
    return f"{size} on paper, with {piece.cloth_x:.4g} × {piece.cloth_y:.4g} for what the cloth does in the press"


def _about(mm: float, units: Units) -> str:
    """A length as a ruler shows it: tenths of a millimetre, hundredths of an inch."""
    return show_length(round(mm, 1) if units == "mm" else round(mm / MM_PER_INCH, 2) * MM_PER_INCH, units)


def place(step: Step, units: Units) -> str:
    """Where the print goes, measured from what, and what is usual."""
    placement, spot = step.placement, step.spot
    if placement is None:
        return "The order does not say where it goes: ask before pressing."
    parts = [_drop(step, units)]
    if spot.across is not None:
        parts.append(_offset(spot.across, _from(spot.across, step), units, "middle", _side_words(step)))
    elif spot.midway:
        parts.append(f"midway from centre line to sleeve seam on the wearer's {placement.side}: measure")
    elif step.shape.face in ("front", "back") and step.transfer.piece.panel is None:
        parts.append("middle on the centre line" if step.shape.pocket is None else "")
    return f"{'; '.join(part for part in parts if part)}."


def _side_words(step: Step) -> str:
    placement, across = step.placement, step.spot.across
    if placement is None or across is None or across.measured_from == "hood edge":
        return ""
    word = "on" if across.measured_from == "sleeve seam" else "towards"
    return f"{word} the wearer's {placement.side}"


def measured(step: Step) -> str:
    """A line to write the measured distances on."""
    names = {"top of print": "top", "centre of print": "middle", "bottom of print": "lower edge"}
    parts = [f"{names[one.measured_to]} {_from(one, step)} ________" for one in step.spot.measured]
    return f"Measured: {'; '.join(parts)}." if parts else ""


def _from(offset: Offset, step: Step) -> str:
    if offset.measured_from == "centre line" and step.shape.zip:
        return "from the zip"
    if offset.measured_from == "neck seam" and step.shape.face == "hood":
        return "above the hood's neck seam"
    return _FROM[offset.measured_from]


def _drop(step: Step, units: Units) -> str:
    face, drop, panel = step.shape.face, step.spot.drop, step.transfer.piece.panel
    if panel is not None and drop is None:
        return "Placed by its folds" if panel.press == 1 else "Placed by the panels before it"
    if drop is not None:
        return _offset(drop, _from(drop, step), units, drop.measured_to.removesuffix(" of print"), "")
    if step.shape.pocket is not None:
        return "Centred on the pocket"
    if face in ("left sleeve", "right sleeve"):
        return "Drawn in the middle of the sleeve; no distance is known: measure, and keep off cuff and seam"
    if face == "hood":
        return "Words along the side of the hood; no distance is known: measure"
    if face == "back" and step.shape.kind == "hoodie":
        return "No drop is known for a hoodie: measure how far the hood hangs, and press below it"
    return "No drop is known for this garment: measure"


def _offset(offset: Offset, where: str, units: Units, edge: str, side: str) -> str:
    usual = " (your own figure)" if offset.own else ""
    if offset.least_mm is not None and offset.most_mm is not None and offset.least_mm < offset.most_mm:
        usual += f" (usual {show_length(offset.least_mm, units)} to {show_length(offset.most_mm, units)})"
    named = {"top": "Top", "bottom": "Bottom edge", "centre": "Middle", "middle": "middle"}[edge]
    return " ".join(part for part in (named, show_length(offset.usual_mm, units), where, side) if part) + usual


_FROM = {
    "collar": "below the collar",
    "neck seam": "below the neck seam",
    "sleeve seam": "in from the sleeve seam",
    "shoulder seam": "below the shoulder seam at the collar",
    "hem seam": "above the hem seam",
    "cuff": "above the cuff",
    "centre line": "from the centre line",
    "pocket top": "below the pocket's top",
    "hood edge": "from the hood's edge",
}


def folds(step: Step) -> str:
    """Which crease of the paper lies on which crease of the garment."""
    piece, face = step.transfer.piece, step.shape.face
    off = "" if piece.row.centre == "ink" else f" (folds are at the {_CENTRES[piece.row.centre]})"
    up = "SHOULDER edge to the shoulder" if piece.up_word == "SHOULDER" else "UP edge to the collar"
    if face in ("left sleeve", "right sleeve"):
        crease = "paper's lengthwise fold on the sleeve's own fold line"
    elif face == "hood":
        crease, up = "paper's upright fold square to the hood's edge", "UP edge to the crown"
    elif face == "other" or step.placement is None:
        crease, up = "paper's folds on creases pressed into the cloth", "UP edge up"
    elif step.placement.side == "centre":
        crease = f"paper's upright fold on the garment's centre {face} crease"
    else:
        line = "zip" if step.shape.zip else "centre"
        crease = f"paper's upright fold on a crease through the print's middle, parallel to the {line}"
    unticked = "" if has_marks(piece.sides.left) else "; no tick left and right: fold only up and down"
    return f"Face down, {crease}; {up}{off}{unticked}."


_CENTRES = {"canvas": "picture's middle, not the ink's", "mass": "ink's centre of weight"}


def platen(step: Step, press: Press, units: Units) -> str:
    """Whether the platen takes it in one press."""
    name = press.title
    if step.fit == "straight":
        return f"Fits the {name} platen with {show_length(press.border_mm, units)} clear."
    if step.fit == "turned":
        return f"Fits the {name} platen only with the garment laid crosswise."
    return (
        f"LARGER THAN THE {name} PLATEN with its border: {step.pressings} presses. Where they overlap the dye is "
        "heated twice and may ghost; do not let the paper move between them. A larger platen does it in one."
    )


def warnings(step: Step, units: Units) -> Iterator[str]:
    """What to look out for with this print."""
    panel = step.transfer.piece.panel
    if panel is not None:
        yield _panel(panel)
    if step.again:
        yield _again(step)
    if step.transfer.piece.level == "thin":
        yield "Hardly any paper left and right: its hard edge can mark the cloth. Pad under the print, test on scrap."
    elif step.transfer.piece.level == "tight":
        yield f"Tear margin only {show_at_most(step.transfer.piece.sides.top.total_mm, units)}: tear with care."
    row = step.transfer.piece.row
    told = [row.note, *(f"{heading}: {text}" for heading, text in row.extra)]
    if any(told):
        yield f"Note: {'; '.join(text for text in told if text)}"


def _panel(panel: Panel) -> str:
    """When a panel is pressed, by what it is laid, and that it shows."""
    turn = "first" if panel.press == 1 else f"number {panel.press}"
    lay = (
        "its folds lie on the garment's creases"
        if panel.press == 1
        else "crease it at the double ticks and lay that line on the neighbour's, pressed before, so that they meet"
    )
    return f"Panel {panel.number} of {panel.of}, pressed {turn}: {lay}. A SEAM SHOWS where panels meet."


def _again(step: Step) -> str:
    names = ", ".join(step.again)
    if step.together:
        cure = "Both lie on one platen: tape and press them together."
    elif step.avoidable:
        cure = "Lay the garment so that the platen's edge runs between them."
    else:
        cure = "It cannot be kept off this platen: use a smaller one, or cover it and expect it to change."
    return f"HEATS {names} AGAIN, pressed before on this side. {cure}"


def settings_line(press: Press) -> str:
    """The press in one sentence, temperature on both scales."""
    return (
        f"Press {press.title}: {press.temperature_c} °C ({press.temperature_f} °F), {press.seconds} s, "
        f"{press.pressure} pressure. Pre-press {press.prepress_seconds} s, let cool. Cover: {press.cover}. Cool-down: "
        f"{press.cool_down}."
    )


STARTING_POINT = "STARTING POINTS, NOT SETTINGS: test on scrap of the same cloth. The makers' instructions go first."


def heading(ticket: Ticket) -> str:
    """Whose garment it is."""
    worn = ticket.worn
    return worn.wearer or worn.order or "no name"
