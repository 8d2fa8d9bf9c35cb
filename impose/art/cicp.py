"""Video's coding-independent code points as far as a printable profile can say the same.

Numbers after ITU-T H.273 (table 2 for primaries, table 3 for transfer), which repeats those of the standards named.
"""

from __future__ import annotations

from impose.art.icc import BT709, D65, SRGB_CURVE, Curve, Point, make_grey_profile, make_rgb_profile

_DCI_WHITE: Point = (0.314, 0.351)
_P3: tuple[Point, Point, Point] = ((0.680, 0.320), (0.265, 0.690), (0.150, 0.060))
_SMPTE_C: tuple[Point, Point, Point] = ((0.630, 0.340), (0.310, 0.595), (0.155, 0.070))

_PRIMARIES: dict[int, tuple[str, tuple[Point, Point, Point], Point]] = {
    1: ("BT.709", BT709, D65),
    5: ("BT.470 B/G", ((0.64, 0.33), (0.29, 0.60), (0.15, 0.06)), D65),
    6: ("SMPTE 170M", _SMPTE_C, D65),
    7: ("SMPTE 240M", _SMPTE_C, D65),
    9: ("BT.2020", ((0.708, 0.292), (0.170, 0.797), (0.131, 0.046)), D65),
    11: ("DCI-P3", _P3, _DCI_WHITE),
    12: ("Display P3", _P3, D65),
}

# BT.709-6, item 1.2, undone: V = 1.099 L^0.45 - 0.099 from L = 0.018 on, 4.5 L below.
_BT709_CURVE: Curve = (1 / 0.45, 1 / 1.099, 0.099 / 1.099, 1 / 4.5, 0.081)
_CURVES: dict[int, tuple[str, Curve]] = {
    1: ("BT.709 curve", _BT709_CURVE),
    4: ("gamma 2.2", (2.2,)),
    5: ("gamma 2.8", (2.8,)),
    6: ("BT.601 curve", _BT709_CURVE),
    8: ("linear", (1.0,)),
    13: ("sRGB curve", SRGB_CURVE),
    14: ("BT.2020 curve", _BT709_CURVE),
    15: ("BT.2020 curve", _BT709_CURVE),
}
_BRIGHTER_THAN_WHITE = {16: "PQ", 18: "HLG"}


def make_cicp_profile(points: bytes, grey: bool) -> bytes | str:
    """The profile that says the same as the four code points, or, in words, why there is none."""
    if len(points) != 4:
        return f"holds {len(points)} bytes instead of 4"
    primaries, transfer, matrix, full_range = points
    if transfer in _BRIGHTER_THAN_WHITE:
        return f"asks for high dynamic range ({_BRIGHTER_THAN_WHITE[transfer]}), which paper has not"
    if matrix != 0 or full_range not in (0, 1):
        return "is not one that PNG allows"
    if not full_range:
        return "uses video's narrow range of levels, where black and white are not the ends"
    if primaries not in _PRIMARIES or transfer not in _CURVES:
        return "is not one that a profile can be made of"
    name, corners, white = _PRIMARIES[primaries]
    title, curve = _CURVES[transfer]
    return (
        make_grey_profile(title, curve, white) if grey else make_rgb_profile(f"{name}, {title}", curve, corners, white)
    )
