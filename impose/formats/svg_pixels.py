"""SVG to pixels by resvg, in the renderers' process: the only user of resvg."""

from __future__ import annotations

from functools import cache
from typing import Any

_CSS_DPI = 96
"""CSS pixels in an inch, by which mm, cm, in and pt are measured (CSS Values and Units 3, section 6.2); the library
takes none by itself, so that a drawing "80mm" wide would have no size."""

_NONE = "no typeface has this name"
_PROBE = (
    '<svg xmlns="http://www.w3.org/2000/svg" width="64" height="32"><text x="2" y="26" font-size="24" '
    'font-family="{}">Hamburg</text></svg>'
)
_STANDING_IN = {
    "serif_family": ("Times New Roman", "Liberation Serif", "DejaVu Serif", "Noto Serif", "Georgia", "Times"),
    "sans_serif_family": ("Arial", "Liberation Sans", "DejaVu Sans", "Noto Sans", "Helvetica", "Segoe UI"),
    "monospace_family": ("Courier New", "Liberation Mono", "DejaVu Sans Mono", "Noto Sans Mono", "Courier"),
    "cursive_family": ("Comic Sans MS", "Apple Chancery", "DejaVu Serif"),
    "fantasy_family": ("Impact", "Papyrus", "DejaVu Sans"),
}
GENERIC = {
    "serif": "serif_family",
    "sans-serif": "sans_serif_family",
    "monospace": "monospace_family",
    "cursive": "cursive_family",
    "fantasy": "fantasy_family",
}


def draw_svg(blob: bytes, side: int, lettered: bool) -> tuple[None, bytes]:
    """A PNG of the drawing, its longer side so many pixels; fonts are looked for only where it is lettered."""
    import resvg_py

    fonts: dict[str, Any] = {"skip_system_fonts": True}
    if lettered:
        families = _find_stand_ins()
        fonts = {**families, "font_family": families.get("sans_serif_family")}
    drawn = resvg_py.svg_to_bytes(svg_string=blob.decode(), width=side, height=side, dpi=_CSS_DPI, **fonts)
    return None, bytes(drawn)


def find_missing_families(families: list[str]) -> tuple[dict[str, Any], bytes]:
    """Those of the typefaces that are `missing` here, and what is `standing_in` for them ("" for nothing)."""
    found = _find_stand_ins()
    missing = [name for name in families if not (found.get(GENERIC[name]) if name in GENERIC else _is_there(name))]
    return {"missing": missing, "standing_in": found.get("sans_serif_family", "")}, b""


@cache
def _find_stand_ins() -> dict[str, str]:
    """For each generic family the first of its usual typefaces that is installed."""
    found = {}
    for generic, names in _STANDING_IN.items():
        name = next((family for family in names if _is_there(family)), None)
        if name is not None:
            found[generic] = name
    return found


@cache
def _is_there(family: str) -> bool:
    """Whether a typeface is installed: letters set in it, with nothing to stand in, show something."""
    import resvg_py

    quoted = family.replace("&", "&amp;").replace('"', "&quot;").replace("<", "&lt;").replace("'", "")
    drawn = bytes(resvg_py.svg_to_bytes(svg_string=_PROBE.format(f"'{quoted}'"), font_family=_NONE))
    return drawn != _draw_nothing()


@cache
def _draw_nothing() -> bytes:
    import resvg_py

    return bytes(resvg_py.svg_to_bytes(svg_string=_PROBE.format(f"'{_NONE}'"), font_family=_NONE))
