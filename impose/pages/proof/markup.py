"""HTML and SVG from values, escaped by type: plain text cannot become markup by being forgotten.

Text from outside (names, file names, notes) is shown as text whatever it holds. Characters that steer rather than
show (controls, directional overrides and isolates, lone surrogates) become U+FFFD, so that no name can turn its
neighbours around, and every name stands in an isolate of its own (`name`), as Unicode Technical Report 36, section
2.6, and the HTML standard's `bdi` element advise.
"""

from __future__ import annotations

import base64
import hashlib
import unicodedata
from collections.abc import Iterable

from impose.sheet.cleaning import clean

REPLACEMENT = "\ufffd"
_STEERING = frozenset("\u061c\u200e\u200f\u2028\u2029\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069\ufeff")
_ESCAPES = str.maketrans({"&": "&amp;", "<": "&lt;", ">": "&gt;", '"': "&quot;", "'": "&#39;"})
_VOID = frozenset(("br", "img", "input", "meta"))


class Markup(str):
    """Markup made here; any other text is escaped where it enters."""

    __slots__ = ()


Content = str | Markup | Iterable["Content"] | None


def escape(text: str) -> Markup:
    """Text as it shall be read, safe in content and in quoted attributes."""
    if isinstance(text, Markup):
        return text
    if not (text.isascii() and text.isprintable()):
        text = "".join(REPLACEMENT if _steers(c) else c for c in text)
    return Markup(text.translate(_ESCAPES))


def _steers(char: str) -> bool:
    return char in _STEERING or (unicodedata.category(char) in ("Cc", "Cs") and char not in "\n\t")


def join(*parts: Content) -> Markup:
    """Parts one after the other: markup as it is, text escaped, None left out, lists taken apart."""
    done: list[str] = []
    for part in parts:
        if isinstance(part, str):
            done.append(part if isinstance(part, Markup) else escape(part))
        elif part is not None:
            done.append(join(*part))
    return Markup("".join(done))


def tag(element: str, *content: Content, **attributes: str | float | bool | None) -> Markup:
    """One element; `class_` stands for class and `aria_label` for aria-label; what is None or False is left out."""
    head = [element]
    for key, value in attributes.items():
        if value is None or value is False:
            continue
        attribute = key.rstrip("_").replace("_", "-")
        if value is True:
            head.append(attribute)
        else:
            head.append(f'{attribute}="{escape(value if isinstance(value, str) else number(value))}"')
    opening = " ".join(head)
    if element in _VOID:
        return Markup(f"<{opening}>")
    return Markup(f"<{opening}>{join(*content)}</{element}>")


def name(text: str, class_: str | None = None) -> Markup:
    """A name from outside, cleaned as labels are, in an isolate that takes its own direction."""
    return tag("bdi", clean(text)[0], dir="auto", class_=class_)


def number(value: float) -> str:
    """A number of a drawing in mm: to the tenth of a micrometre, no exponent, no trailing zeros."""
    text = f"{value:.4f}".rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text


def data_uri(content: bytes, media: str) -> Markup:
    """A picture that needs no file beside the page."""
    return Markup(f"data:{media};base64,{base64.b64encode(content).decode('ascii')}")


def page(title: str, style: str, body: Content, description: str = "") -> bytes:
    """A whole HTML document that can fetch nothing and run nothing.

    Its content security policy (W3C CSP Level 3) allows pictures that stand in the page itself and the one style
    sheet whose hash it names; everything else, scripts above all, is off.
    """
    digest = base64.b64encode(hashlib.sha256(style.encode()).digest()).decode("ascii")
    policy = f"default-src 'none'; style-src 'sha256-{digest}'; img-src data:; base-uri 'none'; form-action 'none'"
    head = join(
        tag("meta", charset="utf-8"),
        tag("meta", http_equiv="Content-Security-Policy", content=policy),
        tag("meta", name="viewport", content="width=device-width, initial-scale=1"),
        tag("meta", name="color-scheme", content="light dark"),
        tag("meta", name="referrer", content="no-referrer"),
        tag("meta", name="description", content=description) if description else None,
        tag("title", clean(title)[0]),
        Markup(f"<style>{style}</style>"),
    )
    whole = join(Markup("<!doctype html>\n"), tag("html", tag("head", head), "\n", tag("body", body), lang="en"), "\n")
    return whole.encode("utf-8")
