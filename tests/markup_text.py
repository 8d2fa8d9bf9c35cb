"""What an HTML page says, a line an element or a text, to be kept, looked at and compared. Nothing of the program.

Numbers of drawings come before the words. Pictures are told by their size and their mean colour, long paths by their
sums, styles and scripts by their length and a hash.
"""

from __future__ import annotations

import base64
import hashlib
import io
import re
from html.parser import HTMLParser

import numpy as np
from PIL import Image

from drawn_text import format_number

_DRAWN = (
    "x", "y", "x1", "y1", "x2", "y2", "cx", "cy", "r", "width", "height", "d", "points", "transform", "viewbox", "dx",
    "dy",
)  # fmt: skip
_NUMBER = re.compile(r"-?\d+(?:\.\d+)?(?:e-?\d+)?")
_MOST_NUMBERS = 16
_USUAL = ("dir=auto", "lengthadjust=spacingAndGlyphs", "focusable=false")


def describe_html(text: str) -> list[str]:
    """The lines of a page."""
    reader = _MarkupReader()
    reader.feed(text)
    reader.close()
    return reader.lines


class _MarkupReader(HTMLParser):
    def __init__(self) -> None:
        super().__init__()
        self.lines: list[str] = []
        self._raw = ""

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self._raw = tag if tag in ("style", "script") else ""
        drawn = [f"{name}={_describe_drawn(value or '')}" for name, value in attrs if name in _DRAWN]
        said = [
            name if value is None else f"{name}={_describe_said(value)}" for name, value in attrs if name not in _DRAWN
        ]
        said = [part for part in said if part not in _USUAL]
        words = f'"{" ".join(said)}' if said else ""
        if tag != "br":
            self.lines.append(" ".join(filter(None, [tag, *drawn, words])))

    def handle_endtag(self, tag: str) -> None:
        if tag in ("section", "article", "table", "tr", "figure", "main", "header", "footer", "nav", "details"):
            self.lines.append(f"/{tag}")

    def handle_data(self, data: str) -> None:
        if self._raw:
            self.lines.append(f'{self._raw} {len(data)} characters "{_hash_text(data)}')
            self._raw = ""
        elif data.strip():
            self.lines.append('"' + data.replace("\n", " / "))


def _describe_drawn(value: str) -> str:
    numbers = [float(number) for number in _NUMBER.findall(value)]
    words = re.sub(r"[\s,]+", " ", _NUMBER.sub(lambda found: f" {format_number(float(found[0]))} ", value)).strip()
    if len(numbers) <= _MOST_NUMBERS:
        return words
    sums = " ".join(format_number(sum(numbers[start::2])) for start in (0, 1))
    kinds = re.sub(r"[\s,]+", "", _NUMBER.sub("", value))
    return f"{len(kinds)} kinds {_hash_text(kinds)} {len(numbers)} numbers of {sums}"


def _describe_said(value: str) -> str:
    value = re.sub(r"sha256-[A-Za-z0-9+/=]+", "sha256-...", value)
    return re.sub(r"data:([a-z/+-]+);base64,([A-Za-z0-9+/=]+)", _describe_data, value)


def _describe_data(found: re.Match[str]) -> str:
    content = base64.b64decode(found[2])
    if not found[1].startswith("image/"):
        return f"{found[1]} {_hash_text(found[2])}"
    image = Image.open(io.BytesIO(content))
    size = f"{image.width}x{image.height}"
    means = np.asarray(image.convert("RGBA"), float).mean(axis=(0, 1)) / 16
    return f"{found[1]} {size} {' '.join(str(round(mean)) for mean in means)}"


def _hash_text(text: str) -> str:
    # Letters alone: a number would be compared with a tolerance.
    return hashlib.sha256(text.encode()).hexdigest()[:12].translate(str.maketrans("0123456789", "ghijklmnop"))
