"""What the walk through an SVG lets pass, refuses and says, before any renderer gets it. Nothing is drawn here."""

from __future__ import annotations

import base64
import urllib.parse

import pytest

from each_case import try_each
from formats import samples
from impose.errors import Trouble
from impose.formats import svg_guard
from impose.formats.svg import _report_missing_fonts, _report_not_drawn
from impose.formats.svg_guard import Walked, walk_svg

SVG = "http://www.w3.org/2000/svg"
EMPTY = f'<svg xmlns="{SVG}"/>'


def walked(inner: str) -> Walked:
    return walk_svg(samples.svg(inner), "art.svg")


def refuse(content: bytes) -> tuple[str | None, str]:
    """Kind and words of the one finding that refuses a drawing."""
    with pytest.raises(Trouble) as caught:
        walk_svg(content, "art.svg")
    (stop,) = caught.value.findings
    assert stop.file == "art.svg"
    assert stop.severity == "stop"
    assert stop.remedy
    return stop.kind, stop.what


def embed(content: str, coded: bool = False) -> str:
    """A drawing as an embedded picture of another (RFC 2397)."""
    if coded:
        return f"data:image/svg+xml;base64,{base64.b64encode(content.encode()).decode()}"
    return f"data:image/svg+xml,{urllib.parse.quote(content)}"


def picture(reference: str) -> str:
    return f'<image href="{reference}" width="9" height="9"/>'


OUT = [
    picture("file:///etc/hostname"),
    picture("other.png"),
    picture(" ../a.svg "),
    '<use href="shapes.svg#a"/>',
    '<use xmlns:xlink="http://www.w3.org/1999/xlink" xlink:href="shapes.svg#a"/>',
    '<image src="other.png"/>',
    '<rect style="fill:url(http://x/y#z)"/>',
    "<rect fill=\"url( 'paint.svg#z' )\"/>",
    '<rect fill="URL(paint.svg)"/>',
    '<rect style="fill:u\\72l(a.svg)"/>',
    '<rect style="fill:\\75 rl(a.svg)"/>',
    '<rect style="fill:u\\rl(a.svg)"/>',
    '<rect style="width:expression(alert(1))"/>',
    "<style>@import 'x.css';</style>",
    "<style>@imp/* */ort 'x.css';</style>",
    "<style>.a{}</style><style>.b{fill:url(b.svg)}</style>",
    "<defs><style>.a{fill:red}<!-- -->.b{fill:url(b.svg)}</style></defs>",
]
WITHIN = [
    picture("#a"),
    picture(""),
    picture("data:image/png;base64,AAAA"),
    picture("DATA:image/png;base64,AAAA"),
    '<a href="https://example.org/"><rect/></a>',
    "<defs><font-face-uri href='letters.svg'/></defs>",
    '<rect fill="url(#paint)"/>',
    '<rect style="fill:/* url(a.svg) */red"/>',
    '<rect id="expression of joy"/>',
    '<d:note xmlns:d="urn:d" href="http://example.org/a.svg" style="fill:url(b.svg)"/>',
    "<style>.a{fill:red}</style><title>@import is a word here</title>",
]


@try_each("inner", OUT)
def test_whatever_leads_out_of_the_file_is_refused(inner):
    """References by XLink and SVG 2 `href`, CSS `url()` with its escapes (CSS Syntax 3, 4.3.7), style sheets."""
    kind, what = refuse(samples.svg(inner))
    assert kind == "unsafe-drawing"
    assert "outside the file" in what


@try_each("inner", WITHIN)
def test_what_stays_in_the_file_passes(inner):
    assert walked(inner).text


@try_each(
    "head, what",
    [
        ('<!DOCTYPE svg [<!ENTITY a "b">]>', "declares things of its own"),
        ("<!DOCTYPE svg [<!ELEMENT svg ANY>]>", "declares things of its own"),
        ('<?xml-stylesheet href="a.css" type="text/css"?>', "style sheet lies outside"),
        ('<?XML-StyleSheet href="a.css"?>', "style sheet lies outside"),
    ],
)
def test_what_is_declared_before_the_drawing_is_refused(head, what):
    kind, said = refuse(head.encode() + EMPTY.encode())
    assert kind == "unsafe-drawing"
    assert what in said
    assert walk_svg(b"<?other-program keep?>" + EMPTY.encode(), "a").text


@try_each(
    "content",
    [
        b"<svg/>",
        f'<g xmlns="{SVG}"><svg/></g>'.encode(),
        b'<svg xmlns="http://example.org/"/>',
    ],
)
def test_only_a_drawing_by_its_namespace_is_one(content):
    """SVG 2, 2.2: an element is of SVG by its namespace."""
    kind, what = refuse(content)
    assert kind == "damaged"
    assert "it is no SVG" in what
    assert walk_svg(f'<s:svg xmlns:s="{SVG}"/>'.encode(), "a").text


def test_damage_is_told_with_its_line():
    kind, what = refuse(f'<svg xmlns="{SVG}">\n<g>\n</svg>'.encode())
    assert (kind, "line 3" in what, "mismatched tag" in what) == ("damaged", True, True)
    kind, what = refuse(b'<?xml version="1.0" encoding="x-none"?>' + EMPTY.encode())
    assert kind == "damaged"
    kind, what = refuse(samples.svg(picture("data:image/svg+xml;base64,A")))
    assert (kind, what) == ("damaged", "a drawing embedded in it is damaged")


def test_measure_is_held_to_the_last_part(monkeypatch):
    """As many parts, levels and bytes as are allowed pass, and one more does not."""
    groups = svg_guard.MOST_DEEP - 1  # the drawing itself is the first level
    assert walked("<g>" * groups + "</g>" * groups).text
    assert refuse(samples.svg("<g>" * (groups + 1) + "</g>" * (groups + 1)))[0] == "too-complex"
    # Beside one another they are not deep, and those that are closed take nothing off.
    assert refuse(samples.svg("<g></g>" * 9 + "<g>" * (groups + 1) + "</g>" * (groups + 1)))[0] == "too-complex"
    assert walked("<g></g>" * (groups + 9)).text
    monkeypatch.setattr(svg_guard, "MOST_ELEMENTS", 40)
    assert walked("<g/>" * 39).text
    assert refuse(samples.svg("<g/>" * 40)) == ("too-complex", "the drawing has more than 40 parts")
    content = samples.svg("")
    monkeypatch.setattr(svg_guard, "LARGEST", len(content))
    assert walk_svg(content, "a").text
    assert refuse(content + b" ")[0] == "too-complex"


def test_embedded_drawings_are_held_to_the_same(monkeypatch):
    def nest(times: int, inner: str = "") -> str:
        for at in range(times):
            inner = f'<svg xmlns="{SVG}">{inner and picture(embed(inner, at % 2 == 0))}</svg>'
        return inner

    # The outer drawing is none of those that are embedded.
    assert walk_svg(nest(1 + svg_guard.MOST_NESTED).encode(), "a").text
    assert refuse(nest(2 + svg_guard.MOST_NESTED).encode())[0] == "too-complex"
    for coded in (True, False):
        inner = f'<svg xmlns="{SVG}">{picture("http://x/y")}</svg>'
        assert refuse(samples.svg(picture(embed(inner, coded))))[0] == "unsafe-drawing"
    # Whatever is told of a drawing is told of those in it.
    inner = f'<svg xmlns="{SVG}"><script/><text font-family="Inner Face">a</text></svg>'
    found = walked(picture(embed(inner)))
    assert (found.lettered, found.families, found.not_drawn) == (True, {"Inner Face"}, {"a script"})
    # Their parts count together: outer 2, inner 3, inner 3.
    monkeypatch.setattr(svg_guard, "MOST_ELEMENTS", 9)
    three = f'<svg xmlns="{SVG}"><g/><g/></svg>'
    both = picture(embed(three)) + picture(embed(three))
    assert walked(both).text
    assert refuse(samples.svg(both + "<g/>"))[0] == "too-complex"
    # What is said to be text may be a drawing to a renderer; a photograph is none.
    assert refuse(samples.svg(picture("data:text/xml,<a")))[0] in ("damaged", "unsafe-drawing")


@try_each(
    "inner, families",
    [
        ('<text font-family="Ada">a</text>', {"Ada"}),
        ("<text font-family=\"'Ada Sans', serif\">a</text>", {"Ada Sans"}),
        ('<text font-family="SERIF">a</text>', {"serif"}),
        ('<text font-family="inherit">a</text>', set()),
        ('<text font-family="">a</text>', set()),
        ('<text style="font-family: Ada !important; fill:red">a</text>', {"Ada"}),
        ('<text style="font: bold 12px/1.5 Ada, serif">a</text>', {"Ada"}),
        ('<text style="font:italic 12.5pt Ada Sans">a</text>', {"Ada Sans"}),
        ('<text style="x-font:12px Bob">a</text>', set()),
        ('<style>text{font-family:Ada} tspan{font-family:"Eve"}</style>', {"Ada", "Eve"}),
        ('<text style="font-family:\\41 da">a</text>', {"Ada"}),
        ('<text style="font-family:\\0 a">a</text>', {"\ufffda"}),
        ('<text style="font-family:\\d800 a">a</text>', {"\ufffda"}),
        ('<text style="font-family:\\110000 a">a</text>', {"\ufffda"}),
        ('<text style="font-family:\\10ffff a">a</text>', {"\U0010ffffa"}),
        ('<text style="font-family:\\e000 a">a</text>', {"\ue000a"}),
    ],
)
def test_the_typeface_that_is_meant_is_the_first_of_its_list(inner, families):
    """CSS Fonts 4, 2.1 and 2.4: a list in the order of preference; escapes as CSS Syntax 3, 4.3.7."""
    assert walked(inner).families == families


def test_letters_are_those_of_elements_of_text():
    for inner, lettered in (("<text>a</text>", True), ("<textPath>a</textPath>", True), ("<tspan>a</tspan>", True),
                            ("<title>a</title>", False), ("<rect/>", False)):  # fmt: skip
        assert walked(inner).lettered is lettered, inner


def test_what_is_not_drawn_is_said_once_by_what_it_is():
    found = walked("<script/><animate/><set/><foreignObject/><video/><rect/>")
    assert found.not_drawn == {"a script", "movement", "text laid out by a web browser (foreignObject)", "a film"}
    (note,) = _report_not_drawn(found, "art.svg")
    assert note.what == (
        "not drawn of the SVG: a film, a script, movement, text laid out by a web browser (foreignObject)"
    )
    assert (note.kind, note.severity, note.file) == ("not-drawn", "warn", "art.svg")
    assert _report_not_drawn(walked("<rect/>"), "art.svg") == []


@try_each(
    "content",
    [
        '<?xml version="1.0" encoding="ISO-8859-1"?>\n<svg xmlns="%s"><title>é</title></svg>'.encode("latin-1"),
        b"\xef\xbb\xbf" + '<?xml version="1.0"?><svg xmlns="%s"><title>é</title></svg>'.encode(),
        '<svg xmlns="%s"><title>é</title></svg>'.encode(),
        '\ufeff<?xml version="1.0" encoding="UTF-16"?><svg xmlns="%s"><title>é</title></svg>'.encode("utf-16-le"),
        '\ufeff<svg xmlns="%s"><title>é</title></svg>'.encode("utf-16-be"),
        '<!DOCTYPE svg PUBLIC "-//W3C//DTD SVG 1.1//EN" "svg11.dtd"><svg xmlns="%s"><title>é</title></svg>'.encode(),
    ],
)
def test_the_renderer_gets_the_drawing_as_text_without_what_told_its_bytes(content):
    """XML 1.0, 4.3.3 and appendix F: the mark of its first bytes, the encoding it names, else UTF-8."""
    wide = content.startswith((b"\xff\xfe", b"\xfe\xff"))
    place = "%s".encode("utf-16-le" if content[:1] == b"\xff" else "utf-16-be") if wide else b"%s"
    name = SVG.encode("utf-16-le" if content[:1] == b"\xff" else "utf-16-be") if wide else SVG.encode()
    text = walk_svg(content.replace(place, name), "a").text
    assert text.strip() == f'<svg xmlns="{SVG}"><title>é</title></svg>'


def test_typefaces_that_are_missing_are_named(monkeypatch):
    """At most five by name; one is spoken of as one."""
    told: dict[str, object] = {}
    asked: list[list[str]] = []

    def ask(function: str, name: str, families: list[str]) -> tuple[dict[str, object], bytes]:
        assert (function, name) == ("svg-families", "art.svg")
        asked.append(families)
        return told, b""

    monkeypatch.setattr("impose.formats.svg.RENDERER.ask", ask)
    lettered = Walked(lettered=True, families={"b", "a"})
    told |= {"missing": [], "standing_in": "Stand"}
    assert _report_missing_fonts(lettered, "art.svg") == []
    assert _report_missing_fonts(Walked(lettered=True), "art.svg") == []
    assert asked == [["a", "b"], ["sans-serif"]]
    for missing, standing_in, said in (
        (["A"], "Stand", "the drawing's typeface A is not installed here; Stand stands in for it"),
        (["A", "B"], "Stand", "the drawing's typefaces A, B are not installed here; Stand stands in for them"),
        (["A"], "", "the drawing's typeface A is not installed here; nothing is drawn for it"),
        (list("ABCDE"), "", "the drawing's typefaces A, B, C, D, E are not installed here; nothing is drawn for them"),
        (list("ABCDEFG"), "S", "the drawing's typefaces A, B, C, D, E and 2 more are not installed here; "
                               "S stands in for them"),
    ):  # fmt: skip
        told |= {"missing": missing, "standing_in": standing_in}
        (note,) = _report_missing_fonts(lettered, "art.svg")
        assert (note.what, note.kind, note.severity) == (said, "missing-font", "warn")
    # Where nothing is lettered nobody is asked.
    asked.clear()
    assert _report_missing_fonts(Walked(families={"a"}), "art.svg") == []
    assert asked == []
