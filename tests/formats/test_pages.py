"""Pages of PDFs and drawings as the renderers' process tells and draws them, asked without a process of its own."""

from __future__ import annotations

import io

import numpy as np
import pikepdf
import pytest
from PIL import Image

from formats import samples
from impose.art.decode import DecodedFrame
from impose.art.prepare import PreparationOptions
from impose.errors import Trouble
from impose.file_types import PDF, SVG
from impose.formats import svg_pixels
from impose.formats.child import _answer_request, read_plain, write_plain
from impose.formats.conversion import Converted
from impose.formats.pdf import _add_margin
from impose.formats.pdf_pages import describe_page, draw_page
from impose.formats.prepare_file import convert_file
from impose.formats.renderer import RENDERER
from impose.formats.resolution import choose_first_zoom, choose_zoom, find_drawn_ink, limit_zoom
from impose.formats.svg_pixels import draw_svg


def make_pdf(*pages: tuple[tuple[float, float], str, str]) -> bytes:
    """Pages of a size, a content and the font that they name, which is not in the file (ISO 32000-1, 9.6.2)."""
    with pikepdf.new() as document:
        for size, content, font in pages:
            fonts = pikepdf.Dictionary(F=pikepdf.Dictionary(
                Type=pikepdf.Name.Font, Subtype=pikepdf.Name.TrueType, BaseFont=pikepdf.Name(f"/{font}"),
            ))  # fmt: skip
            document.add_blank_page()
            document.pages[-1].MediaBox = pikepdf.Array([0, 0, *size])
            document.pages[-1].Resources = pikepdf.Dictionary(Font=fonts if font else pikepdf.Dictionary())
            document.pages[-1].Contents = document.make_stream(content.encode())
        file = io.BytesIO()
        document.save(file)
        return file.getvalue()


RED, INKS, GREY_INK = "1 0 0 rg 10 10 20 20 re f", "0 1 1 0 k 10 10 20 20 re f", "0 0 0 .5 K 10 10 20 20 re S"
TEXT = " BT /F 12 Tf (a) Tj ET"


def test_a_page_tells_of_itself_and_of_no_other():
    pdf = make_pdf(
        ((100, 50), RED + TEXT, "Helvetica"), ((60, 90), INKS + TEXT, "ABCDEF+Owl"), ((70, 70), GREY_INK, "")
    )
    assert describe_page(pdf, 1)[0] == {"locked": False, "pages": 3, "size": (100, 50), "inks": False, "fonts": []}
    assert describe_page(pdf, 2)[0] == {"locked": False, "pages": 3, "size": (60, 90), "inks": True, "fonts": ["Owl"]}
    assert describe_page(pdf, 3)[0] == {"locked": False, "pages": 3, "size": (70, 70), "inks": True, "fonts": []}
    for beyond in (0, 4):
        assert describe_page(pdf, beyond)[0]["size"] is None
    assert describe_page(samples.pdf(locked=True), 1)[0]["locked"] is True


def test_pages_are_drawn_over_nothing_and_from_their_own_corner():
    pdf = make_pdf(((100, 50), RED, ""), ((60, 90), "0 0 1 rg 10 10 20 20 re f", ""))

    def draw(page: int, zoom: float, clip: tuple[float, ...] | None = None) -> np.ndarray:
        told, raw = draw_page(pdf, page, zoom, clip)
        return np.frombuffer(raw, np.uint8).reshape(told["height"], told["width"], 4)

    whole = draw(1, 2)
    assert whole.shape == (100, 200, 4)
    # y runs up in a PDF: the square is 10 to 30 points above the lower edge.
    want = np.zeros((100, 200, 4), np.uint8)
    want[40:80, 20:60] = (255, 0, 0, 255)
    assert np.array_equal(whole, want)
    assert draw(2, 1)[70, 15].tolist() == [0, 0, 255, 255]
    assert np.array_equal(draw(1, 2, (10, 20, 30, 40)), want[40:80, 20:60])


def page_of(content: str, size: tuple[float, float] = (400, 300), **recipe: object) -> Converted:
    recipe = {"drawn_mm": (20.0, None), **recipe}
    return convert_file(make_pdf((size, content, "")), PDF, PreparationOptions(**recipe), "a.pdf")  # type: ignore[arg-type]


def test_a_page_has_as_many_pixels_as_are_allowed_wherever_its_ink_lies():
    """At 20 mm and 400 to the inch 315 across; with fewer allowed, nearly as many as that are used."""
    for x, y in ((5, 5), (300, 5), (300, 250)):
        image = page_of(f"1 0 0 rg {x} {y} 80 40 re f").image
        assert image is not None
        left, top, right, bottom = Image.Image.getbbox(image.getchannel("A"))  # type: ignore[misc]
        assert (right - left, bottom - top) == (pytest.approx(315, abs=3), pytest.approx(157.5, abs=3))
        image = page_of(f"1 0 0 rg {x} {y} 80 40 re f", pixel_limit=20_000).image
        assert image is not None
        assert 0.93 * 20_000 <= image.width * image.height <= 20_000
    for allowed in range(300, 3000, 37):
        image = page_of(f"1 0 0 rg {allowed % 50 + 3} 40.3 80 40 re f", pixel_limit=allowed).image
        assert image is not None
        assert 0.7 * allowed <= image.width * image.height <= allowed, "rounded out, and still within what is allowed"
    # Ink has a margin, within the page.
    assert _add_margin((100, 100, 200, 150), 400, 300) == (95, 95, 205, 155)
    assert _add_margin((1, 2, 399, 298), 400, 300) == (0, 0, 400, 300)
    image = page_of("1 0 0 rg 100 100 80 40 re f").image
    assert image is not None
    rim = Image.Image.getbbox(image.getchannel("A"))
    assert rim is not None
    assert rim[0] == pytest.approx((0.03 * 80 + 2) * 315 / 80, abs=3)


@pytest.mark.parametrize(
    ("content", "size", "kind", "words"),
    [
        ("", (400, 300), "blank", "nothing to print on the page"),
        ("1 1 1 rg 10 10 20 20 re f", (400, 300), "blank", "nothing to print on the page"),
        (RED, (14_460, 10), "too-large", "the page is 5.1 m long"),
    ],
)
def test_pages_that_cannot_be_printed_are_refused(content, size, kind, words):
    with pytest.raises(Trouble) as caught:
        page_of(content, size)
    assert caught.value.findings[0].kind == kind
    assert words in caught.value.findings[0].what


def test_which_page_is_asked_as_it_has_to_be():
    for pages, page, words in (
        (3, None, "the PDF has 3 pages, and which one"),
        (3, 4, "page 4 is asked for, and the PDF has 3 pages"),
        (1, 2, "page 2 is asked for, and the PDF has 1 page"),
    ):
        with pytest.raises(Trouble) as caught:
            convert_file(samples.pdf(pages), PDF, PreparationOptions(page=page, drawn_mm=(9.0, None)), "art/poster.pdf")
        assert words in caught.value.findings[0].what
    notes = convert_file(make_pdf(((90, 90), INKS + TEXT, "Owl")), PDF, PreparationOptions(), "a.pdf").findings
    assert [(note.kind, note.severity) for note in notes] == [("from-cmyk", "warn"), ("missing-font", "warn")]
    assert "typefaces Owl" in notes[1].what


def test_nothing_drawn_is_nothing_to_print():
    with pytest.raises(Trouble) as caught:
        convert_file(samples.svg(""), SVG, PreparationOptions(), "a.svg")
    assert caught.value.findings[0].kind == "blank"


def test_ink_is_looked_for_more_finely_where_there_is_little_of_it():
    """A canvas of 2000 by 1000 with a dot: too coarse in the first look, then so fine that its size is known."""
    asked: list[float] = []

    def render(zoom: float) -> DecodedFrame:
        asked.append(zoom)
        image = Image.new("L", (round(2000 * zoom), round(1000 * zoom)), 255)
        if zoom > 0.6:
            image.paste(0, tuple(round(edge * zoom) for edge in (1000, 200, 1060, 230)))
        return DecodedFrame(image, None, True, 0)

    assert find_drawn_ink(render, 2000, 1000, 0.02, False) == pytest.approx((1000, 200, 1060, 230), abs=0.5)
    first, second, third = asked
    assert (first, second) == (0.5, pytest.approx((60_000_000 // 8 / 2_000_000) ** 0.5, rel=0.01))
    # 300 pixels of ink, as far as a quarter of the most pixels allows.
    assert third == pytest.approx(min(300 / 60, (60_000_000 // 4 / 2_000_000) ** 0.5), rel=0.02)
    asked.clear()
    assert find_drawn_ink(lambda zoom: render(0.5), 2000, 1000, 0.02, False) is None


def test_how_finely_a_drawing_is_drawn():
    assert choose_first_zoom(500, 250) == choose_first_zoom(250, 500) == 2
    assert limit_zoom(100, 400, 4_000_000) == pytest.approx(10, rel=0.01)
    assert limit_zoom(100, 400, 4_000_000) <= 10
    # 50 units in 25.4 mm: 400 pixels for 50 units. Both sides given: what fits inside.
    assert choose_zoom((10, 0, 60, 100), (25.4, None)) == pytest.approx(8)
    assert choose_zoom((10, 0, 60, 100), (None, 25.4)) == pytest.approx(4)
    assert choose_zoom((10, 0, 60, 100), (25.4, 25.4)) == pytest.approx(4)


def test_messages_of_the_renderers_pass_whole_or_not_at_all():
    file = io.BytesIO()
    write_plain(file, {"a": "é"}, b"xyz")
    write_plain(file, {})
    whole = file.getvalue()
    file.seek(0)
    assert [read_plain(file), read_plain(file), read_plain(file)] == [({"a": "é"}, b"xyz"), ({}, b""), None]
    first = len(whole) - 18  # the second has 16 bytes of lengths and {}
    for cut in (1, 15, 17, first - 1):
        assert read_plain(io.BytesIO(whole[:cut])) is None


def test_what_goes_wrong_in_a_renderer_is_a_verdict(monkeypatch):
    def ask(error: BaseException) -> dict[str, object]:
        def fail(**_: object) -> None:
            raise error

        monkeypatch.setattr(svg_pixels, "draw_svg", fail)
        return _answer_request({"function": "svg", "values": {}, "limit_s": 9}, b"x")[0]

    assert ask(MemoryError()) == {"verdict": "memory", "result": ""}
    assert ask(ValueError("first line\nsecond")) == {"verdict": "fault", "result": "first line"}
    assert ask(ValueError("x" * 300)) == {"verdict": "fault", "result": "x" * 200}
    assert ask(KeyError()) == {"verdict": "fault", "result": "KeyError"}
    with pytest.raises(Trouble) as caught:
        RENDERER.ask("pdf-pages", "a.pdf", b"no PDF", page=1)
    assert caught.value.findings[0].kind == "damaged"


def test_the_longer_side_of_a_drawing_is_as_asked():
    wide = '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 200 100"><rect width="9" height="9"/></svg>'
    made, tall = (
        Image.open(io.BytesIO(draw_svg(text.encode(), 300, lettered)[1]))
        for text, lettered in ((wide, False), (wide.replace("200 100", "100 200"), True))
    )
    assert made.size == (300, 150)
    assert tall.size == (150, 300)
    assert svg_pixels.find_missing_families(["No Such Face At All"])[0]["missing"] == ["No Such Face At All"]
    there = svg_pixels.find_missing_families(sorted(svg_pixels.GENERIC))[0]
    installed = set(svg_pixels._find_stand_ins())
    assert {svg_pixels.GENERIC[name] for name in svg_pixels.GENERIC if name not in there["missing"]} == installed
