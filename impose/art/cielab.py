"""CIE L*a*b* and L*C*h of sRGB colours, and how far two colours are apart by CIEDE2000.

The white is D50 by the Bradford adaptation, as in the connection space of ICC profiles (ICC.1:2022, 6.3 and annex E).
sRGB is that of IEC 61966-2-1; L*a*b* and L*C*h are CIE 015:2018, 8.2.1; the difference is ISO/CIE 11664-6. Plain
numbers: nothing is loaded, and a colour by its number is the same in every command.
"""

from __future__ import annotations

import math

from impose.art.icc import SRGB_CURVE

Triple = tuple[float, float, float]

# Linear sRGB to XYZ and back, D65 brought to D50 by Bradford; the rows of the first add up to the white.
_TO_XYZ = (
    (0.4360747, 0.3850649, 0.1430804),
    (0.2225045, 0.7168786, 0.0606169),
    (0.0139322, 0.0971045, 0.7141733),
)
_WHITE = tuple(sum(row) for row in _TO_XYZ)
_FROM_XYZ = (
    (3.1338561, -1.6168667, -0.4906146),
    (-0.9787684, 1.9161415, 0.0334540),
    (0.0719453, -0.2289914, 1.4052427),
)
_LOW, _SLOPE = 216 / 24389, 24389 / 27  # CIE 015:2018, 8.2.1.1
_INSIDE = 0.0005  # of full light: a number that far out of range is still the colour at its edge


def parse_hex(colour: str) -> tuple[int, int, int]:
    """The three numbers of `#RRGGBB`."""
    return int(colour[1:3], 16), int(colour[3:5], 16), int(colour[5:7], 16)


def format_hex(levels: tuple[int, ...]) -> str:
    """Three numbers as `#RRGGBB`."""
    return f"#{levels[0]:02X}{levels[1]:02X}{levels[2]:02X}"


def to_lab(levels: tuple[int, ...]) -> Triple:
    """L*, a*, b* of three sRGB numbers from 0 to 255."""
    light = [_decode_level(level / 255) for level in levels]
    x, y, z = (
        _to_response(sum(a * b for a, b in zip(row, light, strict=True)) / white)
        for row, white in zip(_TO_XYZ, _WHITE, strict=True)
    )
    return 116 * y - 16, 500 * (x - y), 200 * (y - z)


def to_lch(levels: tuple[int, ...]) -> Triple:
    """L*, C*ab and the hue angle in degrees of three sRGB numbers from 0 to 255."""
    lightness, a, b = to_lab(levels)
    return lightness, math.hypot(a, b), math.degrees(math.atan2(b, a)) % 360


def from_lab(lab: Triple) -> tuple[int, int, int] | None:
    """The nearest sRGB numbers of L*, a*, b*; None where sRGB has no such colour."""
    y = (lab[0] + 16) / 116
    responses = (y + lab[1] / 500, y, y - lab[2] / 200)
    xyz = [_from_response(value) * white for value, white in zip(responses, _WHITE, strict=True)]
    light = [sum(a * b for a, b in zip(row, xyz, strict=True)) for row in _FROM_XYZ]
    if not all(-_INSIDE <= value <= 1 + _INSIDE for value in light):
        return None
    red, green, blue = (round(255 * _encode_level(min(1.0, max(0.0, value)))) for value in light)
    return red, green, blue


def _decode_level(value: float) -> float:
    gamma, a, b, c, start = SRGB_CURVE
    return (a * value + b) ** gamma if value >= start else c * value


def _encode_level(value: float) -> float:
    gamma, a, b, c, start = SRGB_CURVE
    return (value ** (1 / gamma) - b) / a if value >= c * start else value / c


def _to_response(value: float) -> float:
    return math.cbrt(value) if value > _LOW else (_SLOPE * value + 16) / 116


def _from_response(value: float) -> float:
    return value**3 if value**3 > _LOW else (116 * value - 16) / _SLOPE


def measure_difference(first: Triple, second: Triple) -> float:
    """How far two colours in L*, a*, b* are apart by CIEDE2000 (ISO/CIE 11664-6), all weights 1."""
    mean = (math.hypot(*first[1:]) + math.hypot(*second[1:])) / 2
    stretch = 1.5 - 0.5 * math.sqrt(mean**7 / (mean**7 + 25**7))
    chroma1, hue1 = _measure_hue(first[1] * stretch, first[2])
    chroma2, hue2 = _measure_hue(second[1] * stretch, second[2])
    turn, hue = _compare_hues(hue1, hue2, grey=chroma1 * chroma2 == 0)
    chroma, light = (chroma1 + chroma2) / 2, ((first[0] + second[0]) / 2 - 50) ** 2
    wave = 1 - 0.17 * _cosine(hue - 30) + 0.24 * _cosine(2 * hue)
    wave += 0.32 * _cosine(3 * hue + 6) - 0.20 * _cosine(4 * hue - 63)
    by_light = (second[0] - first[0]) / (1 + 0.015 * light / math.sqrt(20 + light))
    by_chroma = (chroma2 - chroma1) / (1 + 0.045 * chroma)
    by_hue = 2 * math.sqrt(chroma1 * chroma2) * math.sin(math.radians(turn / 2)) / (1 + 0.015 * chroma * wave)
    spread = 2 * math.sqrt(chroma**7 / (chroma**7 + 25**7))
    bend = -math.sin(math.radians(60 * math.exp(-(((hue - 275) / 25) ** 2)))) * spread
    return math.sqrt(by_light**2 + by_chroma**2 + by_hue**2 + bend * by_chroma * by_hue)


def _measure_hue(a: float, b: float) -> tuple[float, float]:
    return math.hypot(a, b), math.degrees(math.atan2(b, a)) % 360


def _compare_hues(first: float, second: float, grey: bool) -> tuple[float, float]:
    """From the first hue to the second the short way round, and the middle of that way; degrees."""
    if grey:
        return 0.0, first + second
    turn, middle = second - first, (first + second) / 2
    # Rounded: hues exactly opposite are so in a table of numbers, and a last bit must not decide between two ways.
    if round(abs(turn), 9) <= 180:
        return turn, middle
    return turn - math.copysign(360, turn), middle + (180 if middle < 180 else -180)


def _cosine(degrees: float) -> float:
    return math.cos(math.radians(degrees))
