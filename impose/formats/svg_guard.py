"""An SVG walked through before any renderer gets it: nothing that leads out of the file, nothing without measure.

The walk is expat's, which keeps no tree. What it finds decides what is refused and what is said: letters and their
typefaces, and elements that the renderer does not draw.
"""

from __future__ import annotations

import base64
import binascii
import re
import urllib.parse
from dataclasses import dataclass, field
from xml.parsers import expat

from impose.formats.conversion import make_refusal
from impose.formats.svg_pixels import GENERIC

LARGEST = 32 << 20
"""Bytes of one drawing."""
MOST_ELEMENTS = 200_000
MOST_DEEP = 200
"""Elements one inside the other: programs write fewer than thirty (common practice, no source); the renderer's stack
holds some thousand."""
MOST_NESTED = 3
"""Drawings one inside the other as embedded pictures."""

_EMBED = "Embed what it refers to in the file itself, or export a PNG."
_URL = re.compile(r"url\(\s*(['\"]?)\s*(.*?)\s*\1\s*\)", re.IGNORECASE | re.DOTALL)
_FAMILY = re.compile(r"font-family\s*:\s*([^;}]+)", re.IGNORECASE)
_SHORT = re.compile(r"(?<![-\w])font\s*:\s*[^;}]*?\d[\w.%]*(?:/\S+)?\s+([^;}]+)", re.IGNORECASE)
_OUT = re.compile(r"@import|expression\s*\(", re.IGNORECASE)
_NOT_DRAWN = {
    "foreignObject": "text laid out by a web browser (foreignObject)",
    "animate": "movement",
    "animateTransform": "movement",
    "animateMotion": "movement",
    "set": "movement",
    "script": "a script",
    "video": "a film",
    "audio": "sound",
    "iframe": "a web page",
    "canvas": "a script's picture",
    "font-face-uri": "letters of a typeface outside the file",
}
_DOCTYPE = re.compile(r"""<!DOCTYPE(?:[^"'>\[]|"[^"]*"|'[^']*')*>""")
_SVG = "http://www.w3.org/2000/svg"


@dataclass
class Walked:
    """What an SVG holds: whether there are letters in it, in which typefaces, and what is not drawn of it."""

    lettered: bool = False
    families: set[str] = field(default_factory=set)
    not_drawn: set[str] = field(default_factory=set)
    text: str = ""


class _Refused(Exception):
    """Why a drawing is not taken, and how to mend it."""

    def __init__(self, what: str, remedy: str = _EMBED, kind: str = "unsafe-drawing") -> None:
        self.what, self.remedy, self.kind = what, remedy, kind
        super().__init__(what)


def walk_svg(content: bytes, name: str) -> Walked:
    """Walk through an SVG. Raises `Trouble` for what is not well formed, leads outside, or is beyond all measure."""
    walked = Walked()
    try:
        walked.text = _Walk(walked, 0).read_drawing(content)
    except _Refused as refused:
        raise make_refusal(refused.what, refused.remedy, name, refused.kind) from None
    return walked


class _Walk:
    """One pass of expat. Elements of all embedded drawings count together."""

    def __init__(self, walked: Walked, nested: int) -> None:
        self._walked, self._nested = walked, nested
        self._elements, self._open = 0, 0
        self._style: list[str] | None = None

    def read_drawing(self, content: bytes) -> str:
        """The drawing as text, without its document type, which says nothing that is needed."""
        if len(content) > LARGEST:
            raise _Refused(
                f"the drawing is larger than {LARGEST >> 20} MB", "Simplify it, or export a PNG.", "too-complex"
            )
        parser = expat.ParserCreate(namespace_separator=" ")
        parser.StartElementHandler = self._start_element
        parser.EndElementHandler = self._end_element
        parser.CharacterDataHandler = self._gather_style
        parser.StartDoctypeDeclHandler = self._start_doctype
        parser.ProcessingInstructionHandler = self._check_instruction
        parser.EntityDeclHandler = self._refuse_entity
        parser.SetParamEntityParsing(expat.XML_PARAM_ENTITY_PARSING_NEVER)
        try:
            parser.Parse(content, True)
        except expat.ExpatError as error:
            place = f"line {error.lineno}"
            said = expat.ErrorString(error.code)
            raise _Refused(
                f"the drawing is damaged or cut short at {place} ({said})", "Save it again.", "damaged"
            ) from None
        except (ValueError, LookupError) as error:
            raise _Refused(f"the drawing cannot be read as text ({error})", "Save it as UTF-8.", "damaged") from None
        # Without a list of its own a document type says nothing that is needed.
        return _DOCTYPE.sub("", _decode_text(content), count=1)

    def _start_element(self, name: str, attributes: dict[str, str]) -> None:
        self._elements += 1
        self._open += 1
        if self._elements > MOST_ELEMENTS:
            raise _Refused(f"the drawing has more than {MOST_ELEMENTS:,} parts", "Simplify it.", "too-complex")
        if self._open > MOST_DEEP:
            raise _Refused(f"groups lie more than {MOST_DEEP} deep, one in the other", "Ungroup them.", "too-complex")
        local = name.rpartition(" ")[2]
        if self._elements == 1 and (local != "svg" or name != f"{_SVG} svg"):
            raise _Refused("it is no SVG: its outermost part is something else", "Save it as SVG again.", "damaged")
        if local in _NOT_DRAWN:
            self._walked.not_drawn.add(_NOT_DRAWN[local])
        if local in ("text", "tspan", "textPath"):
            self._walked.lettered = True
        if local == "style":
            self._style = []
        if not name.startswith(f"{_SVG} "):
            return  # notes of the program that made it: nothing draws them
        for key, value in attributes.items():
            self._check_attribute(local, key.rpartition(" ")[2], value)

    def _check_attribute(self, element: str, name: str, value: str) -> None:
        # A link leads nobody anywhere, and typefaces from outside are never read: they count as not drawn.
        if name in ("href", "src") and element not in ("a", "font-face-uri"):
            self._check_reference(value.strip())
        if name == "font-family":
            self._walked.families |= _read_families(value)
        if name == "style" or "url" in value.casefold():
            self._check_style(value)

    def _check_reference(self, value: str) -> None:
        if not value or value.startswith("#"):
            return
        if value[:5].casefold() != "data:":
            raise _Refused("the drawing refers to something outside the file")
        self._check_embedded(value)

    def _check_embedded(self, value: str) -> None:
        """A picture in the file itself; of drawings the same is asked as of the outer one."""
        head, _, data = value[5:].partition(",")
        if "svg" not in head.casefold() and not head.casefold().startswith("text/"):
            return
        if self._nested + 1 > MOST_NESTED:
            raise _Refused(
                f"drawings lie more than {MOST_NESTED} deep, one in the other", "Simplify it.", "too-complex"
            )
        try:
            raw = urllib.parse.unquote_to_bytes(data)
            inner = base64.b64decode(raw) if head.casefold().rstrip().endswith(";base64") else raw
        except (binascii.Error, ValueError):
            raise _Refused("a drawing embedded in it is damaged", _EMBED, "damaged") from None
        walk = _Walk(self._walked, self._nested + 1)
        walk._elements = self._elements
        walk.read_drawing(inner)
        self._elements = walk._elements

    def _check_style(self, text: str) -> None:
        plain = re.sub(r"/\*.*?\*/", "", text, flags=re.DOTALL)
        if "\\" in plain:
            plain = re.sub(r"\\([0-9a-fA-F]{1,6})\s?|\\(.)", _unescape_letter, plain)
        if _OUT.search(plain):
            raise _Refused("the drawing's style asks for something outside the file")
        for found in _URL.finditer(plain):
            self._check_reference(found[2])
        for pattern in (_FAMILY, _SHORT):
            for found in pattern.finditer(plain):
                self._walked.families |= _read_families(found[1])

    def _gather_style(self, text: str) -> None:
        if self._style is not None:
            self._style.append(text)

    def _end_element(self, name: str) -> None:
        self._open -= 1
        if self._style is not None and name.rpartition(" ")[2] == "style":
            style, self._style = "".join(self._style), None
            self._check_style(style)

    def _start_doctype(self, name: str, system: str | None, public: str | None, internal: int) -> None:
        if internal:
            what = "the drawing declares things of its own (a document type with a list), which may stand for anything"
            raise _Refused(what, "Save it as plain SVG, or export a PNG.")

    def _refuse_entity(self, *_: object) -> None:
        raise _Refused("the drawing declares things of its own (entities)", "Save it as plain SVG, or export a PNG.")

    def _check_instruction(self, target: str, _: str) -> None:
        if target.casefold() == "xml-stylesheet":
            raise _Refused("the drawing's style sheet lies outside the file")


def _unescape_letter(found: re.Match[str]) -> str:
    """A CSS escape as the letter it stands for (CSS Syntax 3, 4.3.7)."""
    if found[1]:
        code = int(found[1], 16)
        return chr(code) if 0 < code < 0x110000 and not 0xD800 <= code < 0xE000 else "\ufffd"
    return found[2]


def _read_families(value: str) -> set[str]:
    """The first typeface of a list: the one that is meant."""
    first = value.split(",")[0].split("!")[0].strip().strip("'\"").strip()
    if first.casefold() in GENERIC:
        return {first.casefold()}
    return {first} if first and first.casefold() not in ("inherit", "initial", "unset", "revert") else set()


def _decode_text(content: bytes) -> str:
    """The text of a document that expat has read: by its mark, or by the encoding that it names."""
    if content.startswith((b"\xff\xfe", b"\xfe\xff")):
        text = content.decode("utf-16")
    elif content.startswith(b"\xef\xbb\xbf"):
        text = content.decode("utf-8-sig")
    else:
        named = re.match(rb"<\?xml[^>]*?encoding\s*=\s*['\"]([\w.-]+)['\"]", content)
        text = content.decode(named[1].decode("ascii") if named else "utf-8")
    # The text is handed on as text: what its first line says of bytes is no longer so.
    return re.sub(r"^<\?xml.*?\?>", "", text, count=1, flags=re.DOTALL)
