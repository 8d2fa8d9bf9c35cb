"""What happens at the borders: ink cut off by the canvas, straight dark edges, and the looks of a screenshot."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Literal

from impose.art.decode import DecodedFrame
from impose.art.faults.areas import TintSamples
from impose.art.ink import PixelBox, measure_tint
from impose.art.png import PngFile

if TYPE_CHECKING:
    import numpy as np

    Array = np.ndarray[Any, np.dtype[Any]]

Side = Literal["left", "top", "right", "bottom"]
SIDES: tuple[Side, ...] = ("left", "top", "right", "bottom")

DARK = 128  # least tint of a dark edge
STRAIGHT_SHARE = 0.85  # of a side's length, so that rounded corners are straight too
LONG_SHARE = 0.5  # of the longer side: less is the stem of a letter
DEEP_SHARE = 0.3  # of the longer side: the stems of letters are thinner
STEM_SHARE = 0.35  # of its height: an upright bar that is no wider is an I or a 1
SOLID_SHARE, INK_TINT = 0.8, 32  # so much of a line so deep is inked: of a black E three fifths are
CLEAR_TINT = 64
TOUCH_SHARE, TOUCH_PX = 0.01, 8
DEPTH = 6  # pixels inwards, where a curve that only touches the canvas has grown wide
GROWN = 1.6
MARGIN_SHARE = 0.02

# Screens of the last fifteen years, wider than high (from memory, no source); both ways up are meant.
_SCREENS = frozenset(
    {
        (1280, 720), (1280, 800), (1366, 768), (1440, 900), (1600, 900), (1680, 1050), (1920, 1080), (1920, 1200),
        (2160, 1440), (2560, 1080), (2560, 1440), (2560, 1600), (2880, 1620), (2880, 1800), (3000, 2000), (3024, 1964),
        (3072, 1920), (3440, 1440), (3456, 2234), (3840, 2160), (5120, 2880), (1136, 640), (1334, 750), (1792, 828),
        (2208, 1242), (2436, 1125), (2532, 1170), (2556, 1179), (2622, 1206), (2688, 1242), (2778, 1284), (2796, 1290),
        (2868, 1320), (2160, 1080), (2220, 1080), (2280, 1080), (2340, 1080), (2400, 1080), (2960, 1440), (3040, 1440),
        (3088, 1440), (3120, 1440), (3200, 1440), (2048, 1536), (2224, 1668), (2360, 1640), (2388, 1668), (2732, 2048),
    }
)  # fmt: skip
# Pixels a metre of 72, 96 and 144 an inch, as screens are said to have (PNG section 11.3.4.3 counts in metres).
_SCREEN_PHYS = frozenset({2834, 2835, 3779, 3780, 5669, 5670})


def find_straight_edges(frame: DecodedFrame, ink: PixelBox) -> tuple[Side, ...]:
    """The sides of the ink that are straight and dark over nearly their whole length."""
    left, top, right, bottom = ink
    if min(right - left, bottom - top) < 16:
        return ()
    # Two pixels in from the border, which may be smoothed.
    strips = (
        (left + 2, top, left + 3, bottom),
        (left, top + 2, right, top + 3),
        (right - 3, top, right - 2, bottom),
        (left, bottom - 3, right, bottom - 2),
    )
    longest = max(right - left, bottom - top)
    return tuple(
        side
        for side, strip in zip(SIDES, strips, strict=True)
        if max(strip[2] - strip[0], strip[3] - strip[1]) >= LONG_SHARE * longest
        and (measure_tint(frame, strip) >= DARK).mean() >= STRAIGHT_SHARE
        and _is_solid_behind(frame, ink, side)
    )


def _is_solid_behind(frame: DecodedFrame, ink: PixelBox, side: Side) -> bool:
    """Whether a straight side is that of an area: ink lies further in as well, where a stem or a frame has ended.

    An upright bar may be a letter or a digit, so it has to be wider than a stem is; one that lies is none of both.
    """
    left, top, right, bottom = ink
    upright = side in ("left", "right")
    across = right - left if upright else bottom - top
    depth = int(DEEP_SHARE * max(right - left, bottom - top))
    if depth >= across:
        if upright:
            return False
        depth = across // 2
    if not upright and right - left < STEM_SHARE * (bottom - top):
        return False
    line = {
        "left": (left + depth, top, left + depth + 1, bottom),
        "right": (right - depth - 1, top, right - depth, bottom),
        "top": (left, top + depth, right, top + depth + 1),
        "bottom": (left, bottom - depth - 1, right, bottom - depth),
    }[side]
    return bool((measure_tint(frame, line) >= INK_TINT).mean() >= SOLID_SHARE)


def find_cut_sides(frame: DecodedFrame, ink: PixelBox) -> tuple[Side, ...]:
    """The sides where the canvas seems to have cut the ink off.

    Ink that reaches all four sides is a picture trimmed to its ink or a full rectangle. A curve that only touches the
    canvas is much wider a few pixels further in than at the very edge, and is no cut either.
    """
    width, height = frame.size
    margins = (ink[0] / width, ink[1] / height, 1 - ink[2] / width, 1 - ink[3] / height)
    if min(width, height) <= 2 * DEPTH or max(margins) < MARGIN_SHARE:
        return ()
    found = []
    for side, margin in zip(SIDES, margins, strict=True):
        if margin > 0:
            continue
        at_edge, further_in = (
            int((measure_tint(frame, _edge_line_box(side, depth, width, height)) >= CLEAR_TINT).sum())
            for depth in (0, DEPTH)
        )
        length = height if side in ("left", "right") else width
        if at_edge >= max(TOUCH_PX, TOUCH_SHARE * length) and further_in <= GROWN * at_edge:
            found.append(side)
    return tuple(found)


def _edge_line_box(side: Side, depth: int, width: int, height: int) -> PixelBox:
    return {
        "left": (depth, 0, depth + 1, height),
        "top": (0, depth, width, depth + 1),
        "right": (width - 1 - depth, 0, width - depth, height),
        "bottom": (0, height - 1 - depth, width, height - depth),
    }[side]


def recognise_screenshot(png: PngFile, samples: TintSamples) -> list[str]:
    """Why this looks like a screenshot, in words; empty unless enough signs are there and the picture is opaque."""
    if samples.alpha is not None and (samples.alpha < 255).any():
        return []
    reasons = []
    weight = 0
    width, height = png.header.width, png.header.height
    if (max(width, height), min(width, height)) in _SCREENS:
        reasons.append(f"{width} × {height} px is the size of a screen")
        weight += 2
    if any(b"creenshot" in png.content[c.start : c.end] for c in png.chunks if c.name in (b"tEXt", b"iTXt")):
        reasons.append("the file calls itself one")
        weight += 3
    bars = [name for name, rows in (("top", samples.tint), ("foot", samples.tint[::-1])) if _has_flat_bar(rows)]
    if bars:
        reasons.append(f"a flat bar runs along its {' and '.join(bars)}")
        weight += 1
    density = png.find_chunk_data(b"pHYs")
    if density is not None and len(density) == 9 and int.from_bytes(density[:4], "big") in _SCREEN_PHYS:
        reasons.append("it gives a screen's resolution")
        weight += 1
    return reasons if weight >= 3 else []


def _has_flat_bar(rows: Array) -> bool:
    """Whether the first rows are one flat tint from side to side, and soon something else."""
    if len(rows) < 32:
        return False
    first = int(rows[0, 0])
    flat = (abs(rows.astype("int16") - first) <= 2).all(axis=1)
    thick = int(flat.argmin()) if not flat.all() else len(rows)
    return first >= 8 and 1 <= thick <= len(rows) // 8
