"""The pages in a real browser: Debian's Chromium without a screen, where it is installed."""

from __future__ import annotations

import re
import shutil
import subprocess
from urllib.parse import unquote

import numpy as np
import pypdfium2
import pytest
from PIL import Image

from pages.proof.reading import Made
from waiting import LONGEST_S

CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser")
pytestmark = pytest.mark.skipif(CHROMIUM is None, reason="no Chromium on this machine")


def browse(folder, page, *arguments):
    log = folder / "log"
    # Into a file: a helper process that outlives the browser would hold a pipe open.
    with log.open("wb") as said:
        subprocess.run(
            [CHROMIUM, "--headless", "--no-sandbox", "--disable-gpu", "--hide-scrollbars", "--enable-logging=stderr",
             f"--user-data-dir={folder / 'browser'}", *arguments, page.as_uri()],
            stdout=said, stderr=said, timeout=LONGEST_S, check=True,
        )  # fmt: skip
    # What the policy forbids is said on the console; nothing of ours may be.
    assert not re.findall(r"CONSOLE.*", log.read_text("utf-8", "replace"))


def test_on_paper_no_sheet_is_cut_by_a_page(made: Made, tmp_path):
    browse(tmp_path, made.folder / "proof.html", "--no-pdf-header-footer", f"--print-to-pdf={tmp_path / 'proof.pdf'}")
    pages = list(pypdfium2.PdfDocument(tmp_path / "proof.pdf"))
    texts = [page.get_textpage().get_text_range() for page in pages]
    of = len(made.record["sheets"])
    for sheet in made.record["sheets"]:
        heads = [at for at, text in enumerate(texts) if f"Sheet {sheet['sheet']} of {of}" in text]
        assert len(heads) == 1
        # The slug lies in the last corner of the drawing, the heading above its first: they share the page.
        assert re.search(rf"sheet {sheet['sheet']} of {of}\s", texts[heads[0]])


def test_on_a_phone_nothing_runs_out_of_the_page(made: Made, tmp_path):
    """At 500 pixels, the least a headless window has: the last columns hold ground alone."""
    for name, page in (("proof", made.folder / "proof.html"), ("approval", made.folder / "approval" / "red-team.html")):
        shot = tmp_path / f"{name}.png"
        browse(tmp_path, page, "--window-size=500,4000", f"--screenshot={shot}")
        with Image.open(shot) as image:
            edge = image.convert("RGB").crop((image.width - 6, 0, image.width, image.height))
            assert len(edge.getcolors()) <= 2  # the ground, and the line below the bar
            assert np.asarray(image.convert("L")).std() > 20


def test_in_the_dark_paper_stays_white(made: Made, tmp_path):
    shots = {}
    for scheme in ("light", "dark"):
        shot = tmp_path / f"{scheme}.png"
        value = {"dark": 0, "light": 1}[scheme]
        browse(
            tmp_path, made.folder / "proof.html", "--window-size=1280,1400",
            f"--blink-settings=preferredColorScheme={value}", f"--screenshot={shot}",
        )  # fmt: skip
        with Image.open(shot) as image:
            shots[scheme] = np.asarray(image.convert("RGB"))
    assert shots["light"][4, 4].min() > 220
    assert shots["dark"][4, 4].max() < 60
    white = [(shots[s] == 255).all(axis=2) for s in ("light", "dark")]
    assert white[1].sum() > 100_000  # the sheets
    assert not (white[1] & ~white[0]).any()


def answered(made: Made, tmp_path, ticked: bool) -> tuple[str, str]:
    """What the page says of its boxes, and the mail that its link would open; boxes ticked and a name typed or not."""
    html = (made.folder / "approval" / "red-team.html").read_text("utf-8")
    if ticked:
        html = html.replace('type="checkbox"', 'type="checkbox" checked')
        html = html.replace('<input id="name"', '<input id="name" value="Ada Weir"')
    page = tmp_path / "answer.html"
    page.write_text(html, "utf-8")
    browse(tmp_path, page, "--dump-dom")
    dom = (tmp_path / "log").read_text("utf-8", "replace")
    assert re.search(r'<button id="copy" type="button">', dom), "the script shows the button"
    said = re.search(r'id="said"[^>]*>([^<]*)<', dom)[1]
    return said, unquote(re.search(r'href="(mailto:[^"]*)"', dom)[1])


def test_the_answer_is_put_together_from_what_is_ticked(made: Made, tmp_path):
    """From a file, by the page's own script, with the policy in force and nothing said on the console."""
    said, mail = answered(made, tmp_path, ticked=False)
    assert "not ticked yet" in said
    assert "- Every name, number and word is spelt" in mail
    assert "Annegret" in mail
    assert "I agree" not in mail
    said, mail = answered(made, tmp_path, ticked=True)
    assert said.startswith("All is ticked")
    assert "I agree to everything shown" in mail
    assert "Name: Ada Weir" in mail
    assert re.search(r"Answer to approval [0-9A-Z]{4}-[0-9A-Z]{4}, Red Team", mail)
