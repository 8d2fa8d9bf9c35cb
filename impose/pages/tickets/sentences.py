"""What a ticket says beside a drawing, a few words a line: size, place, fold, and whatever is not as usual."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import TYPE_CHECKING, Literal, NamedTuple

from impose.orders.garment_groups import GarmentPrints
from impose.profiles.placement import PlacementOffset, PlacementRule
from impose.profiles.press import HeatPress
from impose.sheet.garment_faces import FaceShape, PrintSpot
from impose.sheet.margins import has_marks
from impose.sheet.piece import Piece
from impose.units import show_at_most, show_on_ruler

if TYPE_CHECKING:
    from impose.sheet.press_steps import PressStep, PressTicket

Units = Literal["mm", "in"]

FACES = {
    "front": "FRONT",
    "back": "BACK",
    "left sleeve": "WEARER'S LEFT SLEEVE",
    "right sleeve": "WEARER'S RIGHT SLEEVE",
    "hood": "SIDE OF THE HOOD",
    "other": "PLACE NOT NAMED",
}

BOTH_PRACTICES = (
    "Some papers are lifted at once, hot, others after a rest. Both are practised; the paper's maker decides."
)
STARTING_POINT = "STARTING POINTS, NOT SETTINGS: test on scrap of the same cloth. The makers' instructions go first."


class StepSentences(NamedTuple):
    """One line beside a drawing; `heavy` must not be overlooked."""

    text: str
    heavy: bool = False


def name_garment(worn: GarmentPrints) -> str:
    """The garment in the customer's words, or in ours where the row names none."""
    return worn.garment.text or f"{worn.garment.group} {worn.garment.kind} (not named)"


def describe_garment(worn: GarmentPrints) -> str:
    """The garment and its cloth."""
    return f"{name_garment(worn)}   cloth: {worn.cloth.words}"


def make_heading(tickets: Sequence[PressTicket]) -> str:
    """Whose garments these are: the wearer, where there is one, else the order."""
    worn = tickets[0].worn
    names = {ticket.worn.wearer for ticket in tickets}
    return (worn.wearer if len(names) == 1 else "") or worn.order or worn.wearer or "no name"


def describe_print_step(steps: Sequence[PressStep]) -> str:
    """Which print: its place in the shop's words, and which of its panels where they are not all here."""
    step = steps[0]
    title = step.placement.title if step.placement else "print without a placement"
    panel = step.transfer.piece.panel
    if panel is not None:
        title += f", {_name_panels(steps) if _lacks_panels(steps) else f'{panel.of} panels'}"
    return f"{title[:1].upper()}{title[1:]}"


def _lacks_panels(steps: Sequence[PressStep]) -> bool:
    """Whether some panels of the print are made again and the others are not here."""
    panel = steps[0].transfer.piece.panel
    return panel is not None and len(steps) < panel.of


def _name_panels(steps: Sequence[PressStep]) -> str:
    """Those made again of a print in panels: "panel 2 of 4"."""
    panels = [step.transfer.piece.panel for step in steps if step.transfer.piece.panel is not None]
    numbers = " and ".join(str(number) for number in sorted(panel.number for panel in panels))
    return f"{'panel' if len(panels) == 1 else 'panels'} {numbers} of {panels[0].of}"


def size_line(step: PressStep, units: Units, like: Sequence[PressStep] = ()) -> str:
    """Ink size on paper, and what of it is allowed for the cloth; of words that differ, from the least to the most."""
    piece = step.transfer.piece
    sizes = [_ink_size(each) for each in like or (step,)]
    size = " × ".join(_show_span([size[axis] for size in sizes], units) for axis in (0, 1))
    if (piece.cloth_x, piece.cloth_y) == (1.0, 1.0):
        return size
    return f"{size} on paper, with {piece.cloth_x:.4g} × {piece.cloth_y:.4g} for the cloth"


def _ink_size(step: PressStep) -> tuple[float, float]:
    piece = step.transfer.piece
    return piece.panel.whole if piece.panel else (piece.ink_w_mm, piece.ink_h_mm)


def _show_span(lengths: Sequence[float], units: Units) -> str:
    """One length, or the least and the most of several."""
    return " to ".join(dict.fromkeys(show_on_ruler(mm, units) for mm in (min(lengths), max(lengths))))


def describe_steps(
    steps: Sequence[PressStep],
    press: HeatPress,
    usual: HeatPress,
    units: Units,
    numbers: Mapping[str, int],
    like: Sequence[PressStep] = (),
) -> list[StepSentences]:
    """All that is said of a print, or of the panels of one, below its title: the usual first, then what is not.

    `numbers` are the turns of the garment's prints by id, since a ticket is for several garments; `like` are the prints
    at this place on all of them.
    """
    step = steps[0]
    lines = []
    most = max(like, key=_measure_need) if like else step
    if len({each.transfer.piece.row.words for each in like}) > 1:
        lines.append(StepSentences("Each its own: see the names below", True))
    whole = "whole print " if _lacks_panels(steps) else ""
    lines += [
        StepSentences(f"{whole}{size_line(step, units, like)}{name_pad(most)}"),
        *map(StepSentences, describe_place(step, units)),
        *map(StepSentences, describe_folds(step, units)),
    ]
    if write := make_measuring_line(step):
        lines.append(StepSentences(write))
    lines += describe_shields(most, units)
    lines += [StepSentences(text, True) for text in list_exceptions(steps, press, usual, units, numbers)]
    row = step.transfer.piece.row
    notes = [row.note, *(f"{heading}: {text}" for heading, text in row.extra)]
    if any(notes):
        lines.append(StepSentences(f"Note: {'; '.join(text for text in notes if text)}", True))
    return lines


def describe_place(step: PressStep, units: Units) -> Iterator[str]:
    """Where the print goes, measured from what, and what is usual."""
    if step.placement is None:
        yield "The order does not say where it goes: ask before pressing."
        return
    yield from describe_offsets(step.placement, step.spot, step.shape, units, step.transfer.piece.panel is not None)


def describe_offsets(
    placement: PlacementRule, spot: PrintSpot, shape: FaceShape, units: Units, panel: bool = False
) -> Iterator[str]:
    """Where a print of a place goes on a face; a `panel` is placed by its folds."""
    yield from _describe_drop(spot, shape, panel, units)
    if spot.across is not None:
        side = _side_words(placement, spot.across)
        yield from _describe_offset(spot.across, _name_reference(spot.across, shape), units, "middle", side)
    elif spot.midway:
        yield f"midway from centre line to sleeve seam, wearer's {placement.side}: measure"
    elif shape.face in ("front", "back") and not panel and shape.pocket is None:
        yield "middle on the centre line"


def _side_words(placement: PlacementRule, across: PlacementOffset) -> str:
    if across.measured_from == "hood edge":
        return ""
    word = "on" if across.measured_from == "sleeve seam" else "towards"
    return f"{word} the wearer's {placement.side}"


def make_measuring_line(step: PressStep) -> str:
    """A line to write the measured distances on."""
    titles = {"top of print": "top", "centre of print": "middle", "bottom of print": "lower edge"}
    names = [titles[offset.measured_to] for offset in step.spot.measured]
    if len(names) > len(set(names)):  # both to the middle: one down from a seam, one across
        names = [f"{name} {way}" for name, way in zip(names, ("down", "across"), strict=True)]
    parts = [f"{name}\N{NO-BREAK SPACE}________" for name in names]
    return f"measured: {', '.join(parts)}" if parts else ""


def _name_reference(offset: PlacementOffset, shape: FaceShape) -> str:
    if offset.measured_from == "centre line" and shape.zip:
        return "from the zip"
    if offset.measured_from == "neck seam" and shape.face == "hood":
        return "above the hood's neck seam"
    return _FROM[offset.measured_from]


def _describe_drop(spot: PrintSpot, shape: FaceShape, panel: bool, units: Units) -> Iterator[str]:
    face, drop = shape.face, spot.drop
    if panel and drop is None:
        yield "placed by its folds"
    elif drop is not None:
        edge = drop.measured_to.removesuffix(" of print")
        yield from _describe_offset(drop, _name_reference(drop, shape), units, edge, "")
    elif shape.pocket is not None:
        yield "centred on the pocket"
    else:
        yield _UNKNOWN.get(face, "no drop is known: measure")
        if face == "back" and shape.kind == "hoodie":
            yield "measure how far the hood hangs, and press below it"
        yield f"measured: _______ {units}"


_UNKNOWN = {
    "left sleeve": "no distance is known: measure, off cuff and seam",
    "right sleeve": "no distance is known: measure, off cuff and seam",
    "hood": "no distance is known: measure",
}


def _describe_offset(offset: PlacementOffset, where: str, units: Units, edge: str, side: str) -> Iterator[str]:
    named = {"top": "top", "bottom": "bottom edge", "centre": "middle", "middle": "middle"}[edge]
    words = (named, show_on_ruler(offset.usual_mm, units), where, side)
    yield " ".join(part for part in words if part)
    if offset.own:
        yield "(your own figure)"
    if offset.least_mm is not None and offset.most_mm is not None and offset.least_mm < offset.most_mm:
        yield f"(usual {show_on_ruler(offset.least_mm, units)} to {show_on_ruler(offset.most_mm, units)})"


_FROM = {
    "collar": "below the collar",
    "neck seam": "below the neck seam",
    "sleeve seam": "in from the sleeve seam",
    "shoulder seam": "below the shoulder seam",
    "hem seam": "above the hem seam",
    "cuff": "above the cuff",
    "centre line": "from the centre line",
    "pocket top": "below the pocket's top",
    "hood edge": "from the hood's edge",
}


def describe_folds(step: PressStep, units: Units = "mm") -> Iterator[str]:
    """Which crease of the paper lies on which crease of the garment, and which edge is up."""
    piece, face = step.transfer.piece, step.shape.face
    up = "SHOULDER edge to the shoulder" if piece.up_word == "SHOULDER" else "UP edge to the collar"
    if face in ("left sleeve", "right sleeve"):
        yield "long fold on the sleeve's fold line"
    elif face == "hood":
        yield "fold square to the hood's edge"
        up = "UP edge to the crown"
    elif face == "other" or step.placement is None:
        yield "folds on creases pressed into the cloth"
        up = "UP edge up"
    elif step.placement.side == "centre":
        beside = _measure_fold_beside(piece)
        join = f"fold on the join line, {show_on_ruler(beside, units)} beside the centre {face} crease: see the drawing"
        yield f"fold on the centre {face} crease" if beside < 0.5 else join
    else:
        yield f"fold on a crease of its own, parallel to the {'zip' if step.shape.zip else 'centre'}"
    yield up
    if piece.row.centre != "ink":
        yield f"folds are at the {_CENTRES[piece.row.centre]}"
    if not has_marks(piece.sides.left):
        yield "no tick left and right: fold up and down only"


def _measure_fold_beside(piece: Piece) -> float:
    """How far the fold of a panel lies from the middle of its whole, as worn, where the panel does not hold that."""
    if piece.panel is None:
        return 0.0
    fold = piece.panel.box.x + piece.ink_w_mm - piece.crease_x_mm
    return abs(piece.panel.whole[0] / 2 - fold) / piece.cloth_x


_CENTRES = {"canvas": "picture's middle, not the ink's", "mass": "ink's centre of weight"}


def list_exceptions(
    steps: Sequence[PressStep], press: HeatPress, usual: HeatPress, units: Units, numbers: Mapping[str, int]
) -> Iterator[str]:
    """What is not as with every print: another setting, the platen, panels, heat on what is pressed, a thin margin."""
    step = steps[0]
    own = press.set_for(step.setting)
    if own != usual:
        yield f"PAPER {step.paper}: {setting_words(own)}"
    yield from _describe_platen(step, press)
    if step.transfer.piece.panel is not None:
        yield from _describe_panels(steps)
    if step.again:
        yield _describe_second_heat(step, numbers)
    if step.transfer.piece.level == "thin":
        yield "Hardly any paper left and right: a hard edge can mark the cloth. Pad it, test on scrap."
    elif step.transfer.piece.level == "tight":
        yield f"Tear margin only {show_at_most(step.transfer.piece.sides.top.total_mm, units)}: tear with care."


def _describe_platen(step: PressStep, press: HeatPress) -> Iterator[str]:
    """Whether the platen takes it in one press."""
    if step.fit == "turned":
        yield "Lay the garment CROSSWISE on the platen."
    elif step.fit == "several":
        yield f"LARGER THAN THE {press.title} PLATEN: {step.pressings} heats, the paper not lifted between them."
        yield "Join the heats at the dashed line, where ink is least: dye heated twice may ghost."


def _describe_panels(steps: Sequence[PressStep]) -> Iterator[str]:
    """How panels are cut, laid and pressed, and that it shows."""
    yield "Joining edges: cut with knife and rule between the double ticks. Outer edges: torn."
    if _lacks_panels(steps):
        them = "it" if len(steps) == 1 else "them"
        yield f"Only {_name_panels(steps)}: lay {them} cut edge to cut edge with the rest of the print."
        yield "Is the rest pressed already? Then it is heated again: cover it; it may ghost there."
    elif steps[0].butted:
        yield f"Butt all {len(steps)} edge to edge, tape them, press at once."
    else:
        order = [f"{step.transfer.piece.panel.number}" for step in steps if step.transfer.piece.panel is not None]
        yield f"Too large to press at once. One by one: panel {', '.join(order)}, cut edge to cut edge."
        yield "Each heats its neighbours again: cover what is pressed; it may ghost there."
    yield "A SEAM SHOWS where panels meet."


def _describe_second_heat(step: PressStep, numbers: Mapping[str, int]) -> str:
    if step.together:
        cure = "Both lie on one platen: tape and press them together."
    elif step.avoidable:
        cure = "Lay the garment so that the platen's edge runs between them."
    else:
        cure = "It cannot be kept off this platen: use a smaller one, or cover it and expect it to change."
    names = " and ".join(str(number) for number in sorted({numbers[again] for again in step.again}))
    return f"HEATS {names} AGAIN, pressed before on this side. {cure}"


def _measure_need(step: PressStep) -> float:
    return 0.0 if step.pad is None else step.pad.least[0] * step.pad.least[1]


def name_pad(step: PressStep) -> str:
    """The pad inside the garment, behind the size; nothing where none of the shop's goes."""
    choice = step.pad
    if choice is None or choice.pad is None:
        return ""
    how = (", folded once" if choice.folded else "") + (", cut to fit" if choice.cut else "")
    return f"; pad {choice.pad.title}{how}"


def describe_shields(step: PressStep, units: Units) -> Iterator[StepSentences]:
    """Why no pad of the shop's will do; and what is shielded from this heat."""
    choice = step.pad
    if choice is not None and choice.pad is None:
        least = " × ".join(show_on_ruler(mm, units) for mm in choice.least)
        why = "the print with its margin reaches a seam: press clear of it" if choice.crowded else f"it takes {least}"
        yield StepSentences(f"No pad of yours fits; {why}.", True)
    beneath = list(dict.fromkeys(shield.title for shield in step.shields if shield.beneath))
    if beneath:
        named = " and ".join(filter(None, (", ".join(beneath[:-1]), beneath[-1])))
        yield StepSentences(f"{named} beneath (hatched): pad or card between the layers", True)


def setting_words(press: HeatPress) -> str:
    """Heat, time, pressure and lifting in one phrase, temperature on both scales."""
    heat = f"{press.temperature_c} °C ({press.temperature_f} °F), {press.seconds} s, {press.pressure} pressure"
    return f"{heat}; {describe_lifting(press)}"


def describe_lifting(press: HeatPress) -> str:
    """When the transfer is lifted: the shop's words, or after its rest."""
    if press.cool_down:
        return press.cool_down
    if press.rest_seconds:
        return f"cover off, rest {press.rest_seconds} s or more, lift in one move"
    return "cover off, lift at once, hot, in one move"
