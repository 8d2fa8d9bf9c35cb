"""The pages in a real browser: Debian's Chromium without a screen, where it is installed."""

from __future__ import annotations

import io
import re
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any
from urllib.parse import unquote

import numpy as np
import pypdfium2
import pytest
from PIL import Image

from pages.proof.reading import Made
from waiting import LONGEST_S


@pytest.fixture
def browse(chromium: Any) -> Iterator[Callable[..., Any]]:
    """Opens a file in a tab of its own."""
    contexts: list[Any] = []
    said: list[str] = []

    def open_file(path: Path, width: int = 1280, high: int = 1400, scheme: str = "light") -> Any:
        contexts.append(chromium.new_context(viewport={"width": width, "height": high}, color_scheme=scheme))
        page = contexts[-1].new_page()
        page.set_default_timeout(1000 * LONGEST_S)
        page.on("console", lambda message: said.append(message.text))
        page.on("pageerror", lambda error: said.append(str(error)))
        page.goto(path.as_uri())
        return page

    yield open_file
    for context in contexts:
        context.close()
    # What the policy forbids is said on the console; nothing of ours may be.
    assert said == []


def photograph(page: Any) -> Image.Image:
    """What is seen of a page."""
    return Image.open(io.BytesIO(page.screenshot())).convert("RGB")


def test_on_paper_no_sheet_is_cut_by_a_page(made: Made, browse):
    pages = list(pypdfium2.PdfDocument(browse(made.folder / "proof.html").pdf(prefer_css_page_size=True)))
    texts = [page.get_textpage().get_text_range() for page in pages]
    of = len(made.record["sheets"])
    for sheet in made.record["sheets"]:
        heads = [at for at, text in enumerate(texts) if f"Sheet {sheet['sheet']} of {of}" in text]
        assert len(heads) == 1
        # The slug lies in the last corner of the drawing, the heading above its first: they share the page.
        assert re.search(rf"sheet {sheet['sheet']} of {of}\s", texts[heads[0]])


def test_on_a_phone_nothing_runs_out_of_the_page(made: Made, browse):
    """At 390 pixels: nothing is wider than the window, and the last columns hold ground alone."""
    for page in (made.folder / "proof.html", made.folder / "approval" / "red-team.html"):
        shown = browse(page, 390, 4000)
        assert shown.evaluate("document.documentElement.scrollWidth") <= 390
        image = photograph(shown)
        edge = image.crop((image.width - 6, 0, image.width, image.height))
        assert len(edge.getcolors()) <= 2  # the ground, and the line below the bar
        assert np.asarray(image.convert("L")).std() > 20


def test_in_the_dark_paper_stays_white(made: Made, browse):
    page = browse(made.folder / "proof.html")
    shots = {"light": np.asarray(photograph(page))}
    page.emulate_media(color_scheme="dark")
    shots["dark"] = np.asarray(photograph(page))
    assert shots["light"][4, 4].min() > 220
    assert shots["dark"][4, 4].max() < 60
    white = [(shots[s] == 255).all(axis=2) for s in ("light", "dark")]
    assert white[1].sum() > 100_000  # the sheets
    assert not (white[1] & ~white[0]).any()


def read_answer(page: Any) -> tuple[str, str]:
    """What the page says of its boxes, and the mail that its link would open."""
    assert page.is_visible("button#copy"), "the script shows the button"
    return page.inner_text("#said"), unquote(page.get_attribute("a[href^='mailto:']", "href"))


def test_the_answer_is_put_together_from_what_is_ticked(made: Made, browse):
    """From a file, by the page's own script, with the policy in force and nothing said on the console."""
    page = browse(made.folder / "approval" / "red-team.html")
    said, mail = read_answer(page)
    assert "not ticked yet" in said
    assert "- Every name, number and word is spelt" in mail
    assert "Annegret" in mail
    assert "I agree" not in mail
    for box in page.locator("input[type=checkbox]").all():
        box.check()
    page.fill("#name", "Ada Weir")
    said, mail = read_answer(page)
    assert said.startswith("All is ticked")
    assert "I agree to everything shown" in mail
    assert "Name: Ada Weir" in mail
    assert re.search(r"Answer to approval [0-9A-Z]{4}-[0-9A-Z]{4}, Red Team", mail)
