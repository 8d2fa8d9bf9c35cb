"""An SVG as artwork: walked through, then rendered as finely as it is printed."""

from __future__ import annotations

from impose.art.decode import decode_png
from impose.art.png import read_png
from impose.errors import Finding, Severity
from impose.formats.conversion import Converted, make_note, make_refusal
from impose.formats.png_bytes import mark_srgb
from impose.formats.renderer import RENDERER
from impose.formats.resolution import MOST_PIXELS, Size, choose_zoom, find_drawn_ink, limit_zoom
from impose.formats.svg_guard import Walked, walk_svg

_UNITS = 1000.0
"""The longer side of the canvas, whatever the file says of its size, which nobody prints by."""


def convert_svg(content: bytes, name: str, size: Size, tint: float, keep_specks: bool, pixel_limit: int) -> Converted:
    """The PNG of a drawing. Raises `Trouble` for what may not or cannot be drawn."""
    walked = walk_svg(content, name)
    findings = list(_report_not_drawn(walked, name))
    findings += _report_missing_fonts(walked, name)

    def render_drawing(zoom: float, large: bool = False) -> bytes:
        side = max(1, round(_UNITS * zoom))
        blob = walked.text.encode()
        return RENDERER.ask("svg", name, blob, large, side=side, lettered=walked.lettered)[1]

    first = render_drawing(1.0)
    width, height = int.from_bytes(first[16:20], "big"), int.from_bytes(first[20:24], "big")
    ink = find_drawn_ink(
        lambda zoom: decode_png(read_png(first if zoom == 1.0 else render_drawing(zoom))),
        width,
        height,
        tint,
        keep_specks,
    )
    if ink is None:
        raise make_refusal("there is nothing to print in the drawing", "Give what should show a colour.", name, "blank")
    zoom = min(choose_zoom(ink, size), limit_zoom(width, height, min(pixel_limit, MOST_PIXELS)))
    return Converted(mark_srgb(render_drawing(zoom, large=True)), tuple(findings))


def _report_not_drawn(walked: Walked, name: str) -> list[Finding]:
    if not walked.not_drawn:
        return []
    what = f"not drawn of the SVG: {', '.join(sorted(walked.not_drawn))}"
    remedy = "Look at the proof; export a PNG or PDF if something is missing."
    return [make_note(what, name, "not-drawn", remedy, Severity.WARN)]


def _report_missing_fonts(walked: Walked, name: str) -> list[Finding]:
    """A typeface that is not installed here: another one never takes its place in silence."""
    if not walked.lettered:
        return []
    told, _ = RENDERER.ask("svg-families", name, families=sorted(walked.families or {"sans-serif"})[:200])
    missing, standing_in = told["missing"], told["standing_in"]
    if not missing:
        return []
    instead = f"{standing_in} stands in for" if standing_in else "nothing is drawn for"
    names = ", ".join(missing[:5]) + (f" and {len(missing) - 5} more" if len(missing) > 5 else "")
    single = len(missing) == 1
    what = (
        f"the drawing's typeface{'' if single else 's'} {names} {'is' if single else 'are'} not installed here; "
        f"{instead} {'it' if single else 'them'}"
    )
    remedy = "Ask for the drawing with its letters turned into outlines, or install the typeface."
    return [make_note(what, name, "missing-font", remedy, Severity.WARN)]
