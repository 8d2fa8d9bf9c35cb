"""A decoded picture examined: its ink, what is wrong with it, and the facts that only its final size can judge."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from impose.art.decode import DecodedFrame
from impose.art.faults import thumbnails as views
from impose.art.faults.areas import FaintArea, TintSamples, find_enclosed_white, find_haze, find_off_white
from impose.art.faults.borders import Side, find_cut_sides, find_straight_edges, recognise_screenshot
from impose.art.faults.ground import Ground, find_ground, whiten_ground
from impose.art.faults.mend import remove_haze, remove_off_white, remove_specks
from impose.art.faults.survey import PixelSurvey
from impose.art.faults.thin import ThinPart, find_thin_parts
from impose.art.ink import InkBounds, PixelBox, count_tint_levels, find_ink
from impose.art.png import PngFile
from impose.art.specks import PATTERN
from impose.errors import Finding, Severity
from impose.remedies import Remedy
from impose.values import FrozenStruct, field, replace

if TYPE_CHECKING:
    import numpy as np

    Array = np.ndarray[Any, np.dtype[Any]]

MOST_INSIDE = 12
"""Specks inside; more are taken for a pattern, as outside."""

LEAST_SIDE = 48
"""Pixels; of less there is no saying what is ground and what is drawn."""


class PictureFacts(FrozenStruct):
    """What of a picture matters once its size is known: thin strokes and gaps, and sides that are straight and dark."""

    strokes: tuple[ThinPart, ...] = ()
    gaps: tuple[ThinPart, ...] = ()
    straight: tuple[Side, ...] = ()


class InspectionOptions(FrozenStruct):
    """How to look at a picture, and what to mend: see `impose.art.prepare.PreparationOptions`.

    With a `side`, opaque pixels are averaged over squares of so many while they are looked at, where that is of use.
    """

    tint: float
    keep_specks: bool = False
    clean_haze: bool = False
    drop_specks: bool = False
    ground: bool = False
    side: int = 0


class Inspection(FrozenStruct):
    """A picture after mending, with its ink (None if it has none), its facts and its findings.

    `averages` are those of the canvas, where they were asked for and its ink reaches all four sides.
    """

    frame: DecodedFrame
    ink: InkBounds | None
    facts: PictureFacts = field(default_factory=PictureFacts)
    findings: tuple[Finding, ...] = ()
    averages: Array | None = None


def inspect_picture(frame: DecodedFrame, png: PngFile, wish: InspectionOptions) -> Inspection:
    """Find the ink of a decoded picture and everything that is wrong with it, in one walk; mend what was asked."""
    ink, survey, samples = _survey_picture(frame, wish)
    findings: list[Finding] = []
    mended = frame
    if wish.ground:
        mended = _whiten_light_ground(mended, findings)
        samples = samples if mended is frame else _survey_picture(mended, wish)[2]
    if wish.clean_haze:
        mended = _remove_haze_and_off_white(mended, samples, findings)
    if wish.drop_specks:
        mended = _drop_specks(mended, wish, findings)
    if mended is not frame:
        ink, survey, samples = _survey_picture(mended, wish)
    if ink is None:
        return Inspection(mended, None, findings=tuple(findings))
    if min(mended.size) >= LEAST_SIDE:
        findings += _find_areas(mended, samples, wish, findings)
    findings += _report_specks(mended, ink)
    findings += _inspect_borders(mended, png, samples, ink)
    strokes, gaps = find_thin_parts(survey.solid, samples.mask_unclear(), survey.step, survey.stride, ink.bounds)
    facts = PictureFacts(strokes, gaps, find_straight_edges(mended, ink.bounds))
    return Inspection(mended, ink, facts, tuple(findings), survey.averages)


def _survey_picture(frame: DecodedFrame, wish: InspectionOptions) -> tuple[InkBounds | None, PixelSurvey, TintSamples]:
    alpha = frame.mode.endswith("A")
    survey = PixelSurvey(*frame.size, alpha, 0 if alpha or frame.pixels is None else wish.side)
    ink = find_ink(frame, wish.tint, wish.keep_specks, survey)
    return ink, survey, TintSamples(survey)


def _remove_haze_and_off_white(frame: DecodedFrame, samples: TintSamples, findings: list[Finding]) -> DecodedFrame:
    """The picture without haze and without an off-white ground, each said."""
    area = find_haze(samples)
    if area is not None:
        clean = remove_haze(frame, area)
        what = f"{_describe_haze(area)}; it was taken away"
        findings.append(_make_cleaning_finding("haze", what, area, frame, clean))
        frame = clean
    area = find_off_white(samples)
    if area is not None:
        clean = remove_off_white(frame, area)
        what = f"{_describe_off_white(area)}; it was made white"
        findings.append(_make_cleaning_finding("off-white", what, area, frame, clean))
        frame = clean
    return frame


def _whiten_light_ground(frame: DecodedFrame, findings: list[Finding]) -> DecodedFrame:
    """The picture with its light ground white, which is said; as it is where what is drawn would suffer."""
    ground = find_ground(frame)
    if ground is None:
        return frame
    if not ground.mendable:
        findings.append(_make_ground_warning(frame, ground, wished=True))
        return frame
    clean: DecodedFrame = whiten_ground(frame, ground)
    pair = views.join_side_by_side(*(views.draw_plain(image, views.PANE) for image in (frame, clean)))
    what = f"{_describe_ground(ground)}; it was made white"
    remedy = "Look at the picture before and after: what is shut in by ink keeps its colour, pale parts beside it go."
    box = (0, 0, *frame.size)
    findings.append(Finding(what, remedy, Severity.NOTE, "ground", px=box, view=views.encode_png(pair)))
    return clean


def _describe_ground(ground: Ground) -> str:
    return f"a light ground ({_describe_levels(ground.low, ground.high)}) covers {ground.share:.0%} of the picture"


def _make_ground_warning(frame: DecodedFrame, ground: Ground, wished: bool) -> Finding:
    """The warning about a ground; with `wished`, that it was not made white and why."""
    what, remedy = _describe_ground(ground), Remedy("mend-ground")
    if not ground.mendable:
        inside = f"{ground.inside:.0%} of it lies inside the outline of what is drawn"
        what = f"{what}; it was not made white, because {inside}" if wished else what
        remedy = Remedy("erase-ground")
    why = "It prints as a tinted box on the cloth, and its edge counts as the picture's."
    box = (0, 0, *frame.size)
    return Finding(
        what, remedy, Severity.WARN, "ground", why, px=box, view=views.encode_png(views.draw_exaggerated(frame))
    )


def _make_cleaning_finding(kind: str, what: str, area: FaintArea, before: DecodedFrame, after: DecodedFrame) -> Finding:
    pair = views.join_side_by_side(*(views.draw_exaggerated(image, views.PANE) for image in (before, after)))
    return Finding(
        what,
        "Look at the picture before and after: soft edges end a little sooner.",
        Severity.NOTE,
        kind,
        px=area.box,
        view=views.encode_png(pair),
    )


def _drop_specks(frame: DecodedFrame, wish: InspectionOptions, findings: list[Finding]) -> DecodedFrame:
    clean, boxes = remove_specks(frame, wish.tint)
    if not boxes:
        return frame
    count = f"{len(boxes):,} specks were" if len(boxes) > 1 else "a speck was"
    pair = views.join_side_by_side(
        views.draw_ringed(frame, boxes[:200], views.PANE), views.draw_plain(clean, views.PANE)
    )
    findings.append(
        Finding(
            f"{count} dropped",
            "Look at the picture before and after: stars and spray may be gone with the dirt.",
            Severity.NOTE,
            "speck",
            px=_enclose_boxes(boxes),
            view=views.encode_png(pair),
        )
    )
    return clean


def _enclose_boxes(boxes: tuple[PixelBox, ...]) -> PixelBox:
    lefts, tops, rights, bottoms = zip(*boxes, strict=True)
    return min(lefts), min(tops), max(rights), max(bottoms)


def _describe_haze(area: FaintArea) -> str:
    return f"haze: faint alpha ({_describe_levels(area.low, area.high)}) lies on {area.share:.0%} of the picture"


def _describe_off_white(area: FaintArea) -> str:
    return f"the ground is nearly but not quite white ({_describe_levels(255 - area.high, 255 - area.low)})"


def _describe_levels(low: int, high: int) -> str:
    return f"{low} to {high} of 255" if low < high else f"{low} of 255"


def _find_areas(
    frame: DecodedFrame, samples: TintSamples, wish: InspectionOptions, said: list[Finding]
) -> list[Finding]:
    found: list[Finding] = []
    area = find_haze(samples)
    if area is not None:
        found.append(
            Finding(
                _describe_haze(area),
                Remedy("erase-haze"),
                Severity.WARN,
                "haze",
                "It prints as a grey or coloured film around the design.",
                px=area.box,
                view=views.encode_png(views.draw_exaggerated(frame)),
            )
        )
    area = find_off_white(samples)
    if area is not None:
        found.append(
            Finding(
                _describe_off_white(area),
                Remedy("clear-ground"),
                Severity.WARN,
                "off-white",
                "The ground prints as a tinted box on the cloth, and its edge counts as the picture's.",
                px=area.box,
                view=views.encode_png(views.draw_exaggerated(frame)),
            )
        )
    elif samples.light_rim() and not (wish.ground and any(finding.kind == "ground" for finding in said)):
        ground = find_ground(frame)
        found += [] if ground is None else [_make_ground_warning(frame, ground, wished=False)]
    area = find_enclosed_white(samples, count_tint_levels(wish.tint))
    if area is not None:
        found.append(
            Finding(
                f"white inside the picture, {area.share:.0%} of it, stays cloth",
                "Nothing to do if the cloth is white; else give those parts a colour.",
                Severity.NOTE,
                "white-inside",
                "Sublimation has no white.",
                px=area.box,
                view=views.encode_png(views.draw_framed(frame, area.box)),
            )
        )
    return found


def _report_specks(frame: DecodedFrame, ink: InkBounds) -> list[Finding]:
    found = [
        Finding(
            f"a speck of {_describe_size(box)} at ({box[0]}, {box[1]}), far from the rest, was cut off",
            "Nothing to do if it is dirt; if it belongs to the design, draw it larger or closer.",
            Severity.WARN,
            "speck",
            px=box,
            view=views.encode_png(views.draw_ringed(frame, [box])),
        )
        for box in ink.specks
    ]
    if ink.pattern:
        found.append(
            Finding(
                f"{ink.pattern} tiny spots lie far from the rest and print as drawn",
                Remedy("erase-spots"),
                Severity.WARN,
                "spots",
                px=ink.bounds,
                view=views.encode_png(views.draw_plain(frame)),
            )
        )
    found += _report_far_dots(frame, ink.dots)
    if 0 < len(ink.inside) <= MOST_INSIDE:
        single = f"a lonely speck of {_describe_size(ink.inside[0])}"
        count = single if len(ink.inside) == 1 else f"{len(ink.inside)} lonely specks"
        found.append(
            Finding(
                f"{count} inside the picture, at {_list_places(ink.inside)}, will print",
                Remedy("erase-speck"),
                Severity.WARN,
                "speck-inside",
                "A dot where there should be none shows on plain cloth.",
                px=_enclose_boxes(ink.inside),
                view=views.encode_png(views.draw_ringed(frame, ink.inside)),
            )
        )
    return found


def _report_far_dots(frame: DecodedFrame, dots: tuple[PixelBox, ...]) -> list[Finding]:
    if not 0 < len(dots) <= PATTERN:
        return []
    size = max(max(box[2] - box[0], box[3] - box[1]) for box in dots)
    named = f"a dot of {size} px" if len(dots) == 1 else f"{len(dots)} dots of up to {size} px"
    return [
        Finding(
            f"{named} at {_list_places(dots)}, far from the rest, will print and make the print larger",
            Remedy("erase-far-dots"),
            Severity.WARN,
            "far-dots",
            px=_enclose_boxes(dots),
            view=views.encode_png(views.draw_ringed(frame, dots)),
        )
    ]


def _list_places(boxes: Sequence[PixelBox]) -> str:
    places = ", ".join(f"({box[0]}, {box[1]})" for box in boxes[:3])
    return places + (f" and {len(boxes) - 3} more" if len(boxes) > 3 else "")


def _describe_size(box: PixelBox) -> str:
    return f"{box[2] - box[0]} × {box[3] - box[1]} px"


def _inspect_borders(frame: DecodedFrame, png: PngFile, samples: TintSamples, ink: InkBounds) -> list[Finding]:
    found = []
    sides = find_cut_sides(frame, ink.bounds)
    if sides:
        edges = "edge" if len(sides) == 1 else "edges"
        found.append(
            Finding(
                f"the ink runs into the canvas's {' and '.join(sides)} {edges}, as if it were cut off there",
                "Ask for the whole picture, or accept it if it ends there on purpose.",
                Severity.WARN,
                "cut-off",
                "A design that stops at a straight line looks like a mistake.",
                px=_side_box(ink.bounds, sides[0]),
                view=views.encode_png(views.draw_framed(frame, _side_box(ink.bounds, sides[0]))),
            )
        )
    reasons = recognise_screenshot(png, samples)
    if reasons:
        found.append(
            Finding(
                f"this looks like a screenshot: {'; '.join(reasons)}",
                "Ask for the artwork itself; accept it if this is the artwork.",
                Severity.WARN,
                "screenshot",
                "Screens have few pixels, and their frames and buttons print too.",
                px=(0, 0, *frame.size),
                view=views.encode_png(views.draw_plain(frame)),
            )
        )
    return found


def _side_box(ink: PixelBox, side: Side) -> PixelBox:
    """A strip along one side of the ink, wide enough to see."""
    left, top, right, bottom = ink
    deep = max(1, max(right - left, bottom - top) // 40)
    return {
        "left": (left, top, left + deep, bottom),
        "top": (left, top, right, top + deep),
        "right": (right - deep, top, right, bottom),
        "bottom": (left, bottom - deep, right, bottom),
    }[side]


def name_findings(findings: tuple[Finding, ...], name: str) -> list[Finding]:
    """The findings as those of the file called `name`."""
    return [replace(finding, file=name) for finding in findings]
