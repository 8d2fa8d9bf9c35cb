"""Block letters and numerals of our own: straight strokes of one weight, corners cut off, for names and numbers.

Each letter is the paths that a broad pen is led along, a polygon, or both; what they cover together is the letter.
Small letters are the capitals again, as such alphabets have it. In units of the em: capitals are 700 of 1000 high.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from functools import lru_cache

from impose.type.truetype_writer import GlyphOutline, build_font

NAME = "Block"

Path = Sequence[tuple[float, float]]

_EM, _PEN, _CUT = 1000, 150, 105
_HALF = _PEN // 2
_SIDE = 36  # blank paper on either side of a letter
_SPACE = 260

# The middle of the pen on the grid: right side, half height, height; edges of the letter lie half a pen farther out.
_W, _M, _H = 330, 275, 550
_C = _CUT
_UP, _DOWN, _OUT, _IN = _H + _HALF, -_HALF, _W + _HALF, -_HALF
_HOOK = 165  # how far an end is turned in

_TOP_LEFT: Path = [(0, _H - _C), (_C, _H)]
_RING: Path = [
    (_C, 0), (0, _C), (0, _H - _C), (_C, _H), (_W - _C, _H), (_W, _H - _C), (_W, _C), (_W - _C, 0)
]  # fmt: skip
_OPEN_RIGHT: Path = [
    (_W, _H - _HOOK), (_W, _H - _C), (_W - _C, _H), (_C, _H), (0, _H - _C), (0, _C), (_C, 0), (_W - _C, 0), (_W, _C),
]  # fmt: skip
_SIX: Path = [*_OPEN_RIGHT, (_W, _M - _C + 20), (_W - _C, _M + 20), (0, _M + 20)]

# Open paths, closed paths, polygons.
_LETTERS: dict[str, tuple[Sequence[Path], Sequence[Path], Sequence[Path]]] = {
    "0": ([], [_RING], []),
    "1": ([[(150, _UP), (150, _DOWN)], [(-30, 0), (330, 0)]], [],
          [[(95, _UP), (-30, _UP - 125), (-30, _UP - 290), (95, _UP - 190)]]),
    "2": ([[(0, _H - _HOOK), (0, _H - _C), (_C, _H), (_W - _C, _H), (_W, _H - _C), (_W, _M + _C), (_W - _C, _M),
            (_C, _M), (0, _M - _C), (0, 0), (_OUT, 0)]], [], []),
    "3": ([[(0, _H - _HOOK), (0, _H - _C), (_C, _H), (_W - _C, _H), (_W, _H - _C), (_W, _M + 90), (_W - 90, _M),
            (90, _M)],
           [(_W - 90, _M), (_W, _M - 90), (_W, _C), (_W - _C, 0), (_C, 0), (0, _C), (0, _HOOK)]], [], []),
    "4": ([[(0, _UP), (0, 150), (_OUT + 30, 150)], [(_W - 40, _UP), (_W - 40, _DOWN)]], [], []),
    "5": ([[(_OUT, _H), (0, _H), (0, _M + 10), (_W - _C, _M + 10), (_W, _M + 10 - _C), (_W, _C), (_W - _C, 0), (_C, 0),
            (0, _C), (0, _HOOK)]], [], []),
    "6": ([_SIX], [], []),
    "7": ([[(_IN, _H), (_W, _H), (_W, _M + 100), (130, _M - 130), (130, _DOWN)]], [], []),
    "8": ([], [[(_C, 0), (0, _C), (0, _M - 85), (85, _M), (_W - 85, _M), (_W, _M - 85), (_W, _C), (_W - _C, 0)],
               [(_C, _H), (_W - _C, _H), (_W, _H - _C), (_W, _M + 85), (_W - 85, _M), (85, _M), (0, _M + 85),
                (0, _H - _C)]], []),
    "9": ([[(_W - x, _H - y) for x, y in _SIX]], [], []),
    "A": ([[(0, _DOWN), (0, _H - _C), (_C, _H), (_W - _C, _H), (_W, _H - _C), (_W, _DOWN)],
           [(0, _M - 60), (_W, _M - 60)]], [], []),
    "B": ([], [[(0, 0), (0, _M), (_W - 90, _M), (_W, _M - 90), (_W, _C), (_W - _C, 0)],
               [(0, _M), (0, _H), (_W - _C, _H), (_W, _H - _C), (_W, _M + 90), (_W - 90, _M)]], []),
    "C": ([[*_OPEN_RIGHT, (_W, _HOOK)]], [], []),
    "D": ([], [[(0, 0), (0, _H), (_W - _C, _H), (_W, _H - _C), (_W, _C), (_W - _C, 0)]], []),
    "E": ([[(_OUT, _H), (0, _H), (0, 0), (_OUT, 0)], [(0, _M), (_W, _M)]], [], []),
    "F": ([[(_OUT, _H), (0, _H), (0, _DOWN)], [(0, _M), (_W, _M)]], [], []),
    "G": ([[*_OPEN_RIGHT, (_W, _M - 10), (150, _M - 10)]], [], []),
    "H": ([[(0, _UP), (0, _DOWN)], [(_W, _UP), (_W, _DOWN)], [(0, _M), (_W, _M)]], [], []),
    "I": ([[(0, _UP), (0, _DOWN)]], [], []),
    "J": ([[(_W, _UP), (_W, _C), (_W - _C, 0), (_C, 0), (0, _C), (0, _HOOK + 30)]], [], []),
    "K": ([[(0, _UP), (0, _DOWN)], [(_W, _UP), (_W, _M + 110), (_W - 110, _M), (0, _M)],
           [(_W - 110, _M), (_W, _M - 110), (_W, _DOWN)]], [], []),
    "L": ([[(0, _UP), (0, 0), (_OUT, 0)]], [], []),
    "M": ([[(0, _UP), (0, _DOWN)], [(440, _UP), (440, _DOWN)]], [],
          [[(_IN, _UP), (_HALF + 20, _UP), (220, 330), (365 - 20, _UP), (440 + _HALF, _UP), (440, 360), (220, 60),
            (0, 360)]]),
    "N": ([[(0, _UP), (0, _DOWN)], [(_W, _UP), (_W, _DOWN)]], [],
          [[(_IN, _UP), (_HALF + 15, _UP), (_OUT, _DOWN), (_W - _HALF - 15, _DOWN)]]),
    "O": ([], [_RING], []),
    "P": ([[(0, _M), (0, _DOWN)]], [[(0, _M - 30), (0, _H), (_W - _C, _H), (_W, _H - _C), (_W, _M - 30 + _C),
            (_W - _C, _M - 30)]], []),
    "Q": ([], [_RING], [[(150, 130), (250, 230), (_OUT + 25, 10), (_OUT - 75, -90)]]),
    "R": ([[(0, _M), (0, _DOWN)], [(_W - 110, _M), (_W, _M - 110), (_W, _DOWN)]],
          [[(0, _M), (0, _H), (_W - _C, _H), (_W, _H - _C), (_W, _M + 90), (_W - 90, _M)]], []),
    "S": ([[(_W, _H - _HOOK), (_W, _H - _C), (_W - _C, _H), (_C, _H), (0, _H - _C), (0, _M + 95), (95, _M),
            (_W - 95, _M), (_W, _M - 95), (_W, _C), (_W - _C, 0), (_C, 0), (0, _C), (0, _HOOK)]], [], []),
    "T": ([[(_IN, _H), (_OUT, _H)], [(_W / 2, _H), (_W / 2, _DOWN)]], [], []),
    "U": ([[(0, _UP), (0, _C), (_C, 0), (_W - _C, 0), (_W, _C), (_W, _UP)]], [], []),
    "V": ([], [], [[(_IN, _UP), (_HALF, _UP), (_W / 2, 190), (_W - _HALF, _UP), (_OUT, _UP), (_OUT, 330),
                    (_W / 2 + 90, _DOWN), (_W / 2 - 90, _DOWN), (_IN, 330)]]),
    "W": ([[(0, _UP), (0, _DOWN)], [(440, _UP), (440, _DOWN)]], [],
          [[(_IN, _DOWN), (_HALF + 20, _DOWN), (220, 220), (365 - 20, _DOWN), (440 + _HALF, _DOWN), (440, 190),
            (220, 490), (0, 190)]]),
    "X": ([], [], [[(_IN, _UP), (_HALF + 20, _UP), (_OUT, _DOWN), (_W - _HALF - 20, _DOWN)],
                   [(_W - _HALF - 20, _UP), (_OUT, _UP), (_HALF + 20, _DOWN), (_IN, _DOWN)]]),
    "Y": ([[(0, _UP), (0, _M + 95), (95, _M), (_W - 95, _M), (_W, _M + 95), (_W, _UP)],
           [(_W / 2, _M), (_W / 2, _DOWN)]], [], []),
    "Z": ([[(_IN, _H), (_OUT, _H)], [(_IN, 0), (_OUT, 0)]], [],
          [[(_OUT - 190, _UP), (_OUT, _UP), (_OUT, _UP - 130), (_IN + 190, _DOWN), (_IN, _DOWN), (_IN, _DOWN + 130)]]),
    "-": ([[(_IN, _M), (150, _M)]], [], []),
    ".": ([[(0, _DOWN), (0, _HALF)]], [], []),
    "'": ([[(0, _UP), (0, _UP - 210)]], [], []),
}  # fmt: skip
_SAME = {"’": "'", "‐": "-", "‑": "-"}


@lru_cache(maxsize=1)
def block_font() -> bytes:
    """The alphabet as an OpenType file."""
    glyphs = [_draw_glyph("0"), GlyphOutline(_SPACE)]
    chars = {" ": 1}
    for char in _LETTERS:
        chars[char] = len(glyphs)
        chars.setdefault(char.lower(), len(glyphs))
        glyphs.append(_draw_glyph(char))
    chars |= {char: chars[like] for char, like in _SAME.items()}
    return build_font(_EM, glyphs, chars)


def _draw_glyph(char: str) -> GlyphOutline:
    lines, rings, polygons = _LETTERS[char]
    contours = [outline for line in lines for outline in _outline_path(line, closed=False)]
    contours += [outline for ring in rings for outline in _outline_path(ring, closed=True)]
    contours += [_turn_clockwise(polygon) for polygon in polygons]
    left = min(x for contour in contours for x, _ in contour)
    right = max(x for contour in contours for x, _ in contour)
    moved = [[(round(x - left + _SIDE), round(y + _HALF)) for x, y in contour] for contour in contours]
    return GlyphOutline(round(right - left) + 2 * _SIDE, tuple(moved))


def _outline_path(path: Path, closed: bool) -> Iterator[Path]:
    """What a pen covers that is led along a path: one contour, or of a closed path the outer and the inner one."""
    left, right = _offset_path(path, _HALF, closed), _offset_path(path, -_HALF, closed)
    if not closed:
        yield _turn_clockwise([*left, *reversed(right)])
        return
    outer, inner = sorted((left, right), key=lambda side: -abs(_compute_area(side)))
    yield _turn_clockwise(outer)
    yield list(reversed(_turn_clockwise(inner)))


def _offset_path(path: Path, away: float, closed: bool) -> list[tuple[float, float]]:
    """The path moved sideways, its corners mitred, its ends cut square."""
    count = len(path)
    found = []
    for index, (x, y) in enumerate(path):
        before = path[index - 1] if closed or index else None
        after = path[(index + 1) % count] if closed or index + 1 < count else None
        normal = _compute_normal(before, (x, y)) if before else _compute_normal((x, y), after or (x, y))
        two = _compute_normal((x, y), after) if after else normal
        share = away / (1 + normal[0] * two[0] + normal[1] * two[1])
        found.append((x + (normal[0] + two[0]) * share, y + (normal[1] + two[1]) * share))
    return found


def _compute_normal(start: tuple[float, float], end: tuple[float, float]) -> tuple[float, float]:
    dx, dy = end[0] - start[0], end[1] - start[1]
    long = math.hypot(dx, dy)
    return -dy / long, dx / long


def _turn_clockwise(points: Path) -> Path:
    return list(points) if _compute_area(points) < 0 else list(reversed(points))


def _compute_area(points: Path) -> float:
    """Positive for what runs anticlockwise."""
    return sum(a[0] * b[1] - b[0] * a[1] for a, b in zip(points, [*points[1:], points[0]], strict=True)) / 2
