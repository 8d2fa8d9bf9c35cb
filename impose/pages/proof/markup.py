"""HTML and SVG from values, escaped by type: plain text cannot become markup by being forgotten.

Text from outside (names, file names, notes) is shown as text whatever it holds. Characters that steer rather than
show (controls, directional overrides and isolates, lone surrogates) become U+FFFD, so that no name can turn its
neighbours around, and every name stands in an isolate of its own (`name_element`), as Unicode Technical Report 36,
section 2.6, and the HTML standard's `bdi` element advise.
"""

from __future__ import annotations

import base64
import hashlib
import io
import re
from collections.abc import Iterable, Iterator
from functools import lru_cache

from impose.profiles.customer_texts import CustomerTexts
from impose.type.sanitise import clean_text

REPLACEMENT = "\ufffd"
_STEERING = re.compile("[\x00-\x08\x0b-\x1f\x7f-\x9f\u061c\u200e\u200f\u2028-\u202e\u2066-\u2069\ufeff\ud800-\udfff]")
"""Controls but for line end and tab (category Cc), lone surrogates (Cs), and what turns or parts text."""

_ESCAPES = str.maketrans({"&": "&amp;", "<": "&lt;", ">": "&gt;", '"': "&quot;", "'": "&#39;"})
_VOID = frozenset(("br", "img", "input", "meta"))


class Markup(str):
    """Markup made here; any other text is escaped where it enters."""

    __slots__ = ()


Content = str | Markup | Iterable["Content"] | None


def escape_text(text: str) -> Markup:
    """Text as it shall be read, safe in content and in quoted attributes."""
    return text if isinstance(text, Markup) else _escape_plain(text)


@lru_cache(maxsize=16384)
def _escape_plain(text: str) -> Markup:
    """The same for what is no markup, which alone is remembered: markup and text of the same letters are equal."""
    if not (text.isascii() and text.isprintable()):
        text = _STEERING.sub(REPLACEMENT, text)
    return Markup(text.translate(_ESCAPES))


def join_markup(*parts: Content) -> Markup:
    """Parts one after the other: markup as it is, text escaped, None left out, lists taken apart."""
    done: list[str] = []
    for part in parts:
        if isinstance(part, Markup):
            done.append(part)
        elif isinstance(part, str):
            done.append(_escape_plain(part))
        elif part is not None:
            done.append(join_markup(*part))
    return Markup("".join(done))


def make_element(element: str, *content: Content, **attributes: str | float | bool | None) -> Markup:
    """One element; `class_` stands for class and `aria_label` for aria-label; what is None or False is left out."""
    opening = element
    for key, value in attributes.items():
        if value is None or value is False:
            continue
        if value is True:
            opening += f" {_attribute_name(key)}"
        else:
            opening += (
                f' {_attribute_name(key)}="{escape_text(value) if isinstance(value, str) else format_number(value)}"'
            )
    if element in _VOID:
        return Markup(f"<{opening}>")
    return Markup(f"<{opening}>{join_markup(*content)}</{element}>")


def wrap_content(element: str, *content: Content, **attributes: str | float | bool | None) -> list[Content]:
    """The same element as parts, not joined yet: what is large is copied once, when the document is."""
    empty, closing = make_element(element, **attributes), f"</{element}>"
    return [Markup(empty.removesuffix(closing)), *content, Markup(closing)]


def _list_texts(parts: Iterable[Content]) -> Iterator[str]:
    """What `join_markup` puts together, list by list."""
    for part in parts:
        if isinstance(part, list):
            yield from _list_texts(part)
        else:
            yield join_markup(part)


@lru_cache(maxsize=256)
def _attribute_name(key: str) -> str:
    return key.rstrip("_").replace("_", "-")


@lru_cache(maxsize=16384)
def name_element(text: str, class_: str | None = None) -> Markup:
    """A name from outside, cleaned as labels are, in an isolate that takes its own direction."""
    return make_element("bdi", clean_text(text)[0], dir="auto", class_=class_)


def fill_markup(texts: CustomerTexts, document: str, key: str, **values: Content | int) -> Markup:
    """A sentence for customers with its values, markup as it is and text escaped; `count` also chooses the form.

    Where lines run from right to left, plain text that is filled in stands in an isolate, so that `90 mm` stays so.
    """
    count = values.get("count")
    parts = texts.split_parts(document, key, count if isinstance(count, int) else None)
    return join_markup(*(_fill_part(texts, values[part.name]) if part.name else part.text for part in parts))


def _fill_part(texts: CustomerTexts, value: Content | int) -> Content:
    content = texts.format_number(value) if isinstance(value, int) else value
    if texts.custom.right_to_left and isinstance(content, str) and not isinstance(content, Markup):
        return make_element("bdi", content)
    return content


def format_number(value: float) -> str:
    """A number of a drawing in mm: to the tenth of a micrometre, no exponent, no trailing zeros."""
    text = f"{value:.4f}".rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text


def make_data_uri(content: bytes, media: str) -> Markup:
    """A picture that needs no file beside the page."""
    return Markup(f"data:{media};base64,{base64.b64encode(content).decode('ascii')}")


def _compute_digest(text: str) -> str:
    return f"'sha256-{base64.b64encode(hashlib.sha256(text.encode()).digest()).decode('ascii')}'"


def make_document(
    title: str, style: str, body: Content, description: str = "", script: str = "", language: str = "en",
    right_to_left: bool = False,
) -> bytes:  # fmt: skip
    """A whole HTML document that can fetch nothing, and run nothing but the one `script` of ours, if it has one.

    Its content security policy (W3C CSP Level 3) allows pictures that stand in the page itself and the style sheet and
    the script whose hashes it names; everything else is off.
    """
    scripts = f" script-src {_compute_digest(script)};" if script else ""
    policy = (
        f"default-src 'none'; style-src {_compute_digest(style)};{scripts} img-src data:; "
        "base-uri 'none'; form-action 'none'"
    )
    head = join_markup(
        make_element("meta", charset="utf-8"),
        make_element("meta", http_equiv="Content-Security-Policy", content=policy),
        make_element("meta", name="viewport", content="width=device-width, initial-scale=1"),
        make_element("meta", name="color-scheme", content="light dark"),
        make_element("meta", name="referrer", content="no-referrer"),
        make_element("meta", name="description", content=description) if description else None,
        make_element("title", clean_text(title)[0]),
        Markup(f"<style>{style}</style>"),
    )
    running = Markup(f"<script>{script}</script>") if script else None
    attributes = {"lang": language, "dir": "rtl" if right_to_left else None}
    whole = [
        Markup("<!doctype html>\n"),
        wrap_content("html", make_element("head", head), "\n", wrap_content("body", body, running), **attributes),
        "\n",
    ]
    written = io.BytesIO()
    for text in _list_texts(whole):
        written.write(text.encode("utf-8"))
    return written.getvalue()
