"""How large a print is: by its row, its placement and garment, or the smallest garment of its run; and what is added
on paper for what the cloth does in the press.

Two corrections never meet under one name: the cloth's, here, makes the print on paper larger or smaller than it shall
be worn; the printer's, in the page writer, makes the paper show what was asked for.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from impose.art.prepare import PreparedPicture
from impose.errors import Exit, Finding, Severity
from impose.orders.batch import BatchRow
from impose.profiles.profiles import Profiles
from impose.units import show_size
from impose.values import FrozenStruct

LEAST_SCALE, MOST_SCALE = 0.95, 1.06
"""Corrections beyond these are slips, not cloth: a published guard for prints that have to be true to size."""

Size = tuple[float, float]


class PrintSize(FrozenStruct):
    """A print's size as worn, and by how much it is larger on paper, along the artwork's own width and height."""

    worn_w_mm: float
    worn_h_mm: float
    cloth_x: float = 1.0
    cloth_y: float = 1.0

    @property
    def size_on_paper(self) -> Size:
        """Width and height on paper."""
        return self.worn_w_mm * self.cloth_x, self.worn_h_mm * self.cloth_y


def compute_sizes(
    rows: Sequence[BatchRow], pictures: Sequence[PreparedPicture], profiles: Profiles
) -> tuple[list[PrintSize], list[Finding]]:
    """The size of every row's print, and what is worth saying about how it came about."""
    sizes = [compute_ink_size(row, picture, profiles) for row, picture in zip(rows, pictures, strict=True)]
    findings: list[Finding] = []
    if profiles.settings.smallest_decides:
        sizes = _use_smallest(rows, sizes, profiles, findings)
    return [
        PrintSize(*size, *find_cloth_allowance(row, profiles)) for row, size in zip(rows, sizes, strict=True)
    ], findings


def compute_ink_size(row: BatchRow, picture: PreparedPicture, profiles: Profiles) -> Size:
    """Width and height of the ink as worn, in millimetres, proportions kept.

    An explicit width or height wins over the placement; both together are a box to fit inside. Words whose letters
    have a height of their own are as wide as they come out.
    """
    if row.set_mm is not None:
        return _fit_inside(picture, row.set_mm, None)
    return _fit_inside(picture, *find_asked_size(row, profiles))


def find_asked_size(row: BatchRow, profiles: Profiles) -> tuple[float | None, float | None]:
    """The width and height as worn that a row's ink is to fit inside, either of them None, whatever its picture."""
    if row.width_mm is not None or row.height_mm is not None:
        return row.width_mm, row.height_mm
    assert row.placement is not None  # the reader refuses a row without any of the three
    found = profiles.require_placement(row.placement).find_size(row.garment, profiles.wardrobe)
    assert found is not None  # the reader refuses a placement whose size for the garment is not known
    rule, _ = found
    return rule.width_mm, rule.height_mm


def size_on_paper(row: BatchRow, profiles: Profiles) -> tuple[float | None, float | None]:
    """The same with what is added for the cloth."""
    pairs = zip(find_asked_size(row, profiles), find_cloth_allowance(row, profiles), strict=True)
    width, height = (None if mm is None else mm * cloth for mm, cloth in pairs)
    return width, height


def _fit_inside(picture: PreparedPicture, width_mm: float | None, height_mm: float | None) -> Size:
    left, top, right, bottom = picture.ink
    wide, high = right - left, bottom - top
    scale = min(mm / px for mm, px in ((width_mm, wide), (height_mm, high)) if mm is not None)
    return wide * scale, high * scale


def _use_smallest(
    rows: Sequence[BatchRow], sizes: Sequence[Size], profiles: Profiles, findings: list[Finding]
) -> list[Size]:
    """One size for a run, that of its smallest garment; a run is one artwork at one placement in one order.

    Rows that give a size of their own keep it and decide nothing.
    """
    runs: dict[object, list[int]] = {}
    for index, row in enumerate(rows):
        if row.width_mm is None and row.height_mm is None and row.set_mm is None:
            runs.setdefault((row.order, row.path, row.placement), []).append(index)
    result = list(sizes)
    for run in runs.values():
        least = min(run, key=lambda index: sizes[index][0])
        larger = [index for index in run if sizes[index][0] > sizes[least][0] + 1e-9]
        if larger:
            for index in larger:
                result[index] = sizes[least]
            findings.append(_report_one_size(rows, sizes, least, larger, profiles))
    return result


def _report_one_size(
    rows: Sequence[BatchRow], sizes: Sequence[Size], least: int, larger: Sequence[int], profiles: Profiles
) -> Finding:
    units = profiles.settings.units
    others = ", ".join(str(rows[index].row) for index in larger)
    garment = rows[least].garment
    what = garment.text or f"{garment.group} {garment.kind}"
    return Finding(
        f"printed {show_size(sizes[least][0], units)} wide on every garment of the run (rows {others} as well), as "
        f"the smallest of them, {what}, takes it",
        "Give a row a width of its own, or leave smallest_decides off, to print it larger on larger garments.",
        Severity.NOTE,
        kind="smallest-decides",
        row=rows[least].row,
    )


def find_cloth_allowance(row: BatchRow, profiles: Profiles) -> Size:
    """What is allowed for the cloth along the artwork's width and height; on a sleeve the width runs along it."""
    across, along = compute_cloth_scale(row.garment.kind, profiles)
    placement = profiles.require_placement(row.placement) if row.placement is not None else None
    sideways = placement is not None and placement.reading != "upright"
    return (along, across) if sideways else (across, along)


def compute_cloth_scale(kind: str, profiles: Profiles) -> Size:
    """The kind's and the press's allowance together, across the garment and along it."""
    press = profiles.find_press(profiles.settings.press)
    of_kind = profiles.wardrobe.find_cloth_allowance(kind)
    return of_kind[0] * press.scale_x, of_kind[1] * press.scale_y


def check_cloth_scales(profiles: Profiles) -> Iterator[Finding]:
    """A refusal for every kind of garment whose allowance, with the press's and the printer's, is beyond reason."""
    press, printer = (profiles.find_press(profiles.settings.press), profiles.find_printer(profiles.settings.printer))
    for kind in profiles.wardrobe.kinds:
        cloth = compute_cloth_scale(kind, profiles)
        for axis, of_cloth, of_printer in zip("xy", cloth, (printer.scale_x, printer.scale_y), strict=True):
            total = of_cloth / of_printer
            if all(LEAST_SCALE - 1e-9 <= value <= MOST_SCALE + 1e-9 for value in (of_cloth, total)):
                continue
            yield Finding(
                f"scale_{axis} of {kind} times that of the press {press.name} is {of_cloth:.4f}, and with the printer "
                f"{printer.name} corrected for {of_printer:.4f} it is {total:.4f}: outside {LEAST_SCALE:g} to "
                f"{MOST_SCALE:g}",
                "Measure the cloth and the printer again: scaling cannot correct a print this far off.",
                kind="profile",
                exit=Exit.USAGE,
            )
