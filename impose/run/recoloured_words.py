"""Words in other colours than their style's, as a row asks for it: what is exchanged, and how it looks."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from impose.art.faults.thumbnails import PANE, encode_png, join_side_by_side
from impose.art.rasterise import rasterise_picture
from impose.art.recolour import describe_nearest
from impose.art.small_pictures import mirror_image
from impose.art.vector_drawing import Drawing
from impose.errors import Finding, Severity
from impose.file_types import ColourChange
from impose.profiles.word_styles import WordStyle
from impose.values import replace


def recolour_style(style: WordStyle, changes: Sequence[ColourChange]) -> WordStyle:
    """The style with its colour and its outline exchanged."""
    after = {change.before: change.after for change in changes}
    return replace(style, colour=after.get(style.colour, style.colour), outline=after.get(style.outline, style.outline))


def find_style_faults(style: WordStyle, changes: Sequence[ColourChange]) -> Iterator[Finding]:
    """The colours to be exchanged that the words have not got."""
    there = [colour for colour in (style.colour, style.outline) if colour]
    for change in changes:
        if change.before not in there:
            remedy = f"Nearest of those that are: {describe_nearest(change.before, there)}."
            yield Finding(f"{change.before} is no colour of the words", remedy, kind="recolour-absent")


def report_exchange(changes: Sequence[ColourChange], before: Drawing, after: Drawing) -> Finding:
    """What was exchanged, with the words before and after; both in the same colours of screen or printer."""
    said = [
        f"{change.before} became {change.after}{f' (patch {change.patch})' if change.patch else ''}"
        for change in changes
    ]
    panes = [mirror_image(rasterise_picture(drawing, PANE)).convert("RGB") for drawing in (before, after)]
    view = encode_png(join_side_by_side(*panes))
    remedy = "Look at the words before and after."
    return Finding(f"{'; '.join(said)} in the words", remedy, Severity.NOTE, "recolour", view=view)
