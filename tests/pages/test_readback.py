"""The check of what was written: every change made to a delivered file from outside is noticed."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path

import pikepdf
import pytest

from conftest import draw
from impose.errors import Exit, Trouble
from impose.pages.pdf.readback import _list_drawn, check_sheets
from impose.run import Options, Plan, plan, produce


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> tuple[Plan, Path]:
    """Two pictures of the same size on one sheet, one of them twice."""
    folder = tmp_path_factory.mktemp("readback")
    draw("ellipse", 90, 90).save(folder / "owl.png")
    draw("noise", 90, 90).save(folder / "moth.png")
    (folder / "b.csv").write_text("order,art,width,copies\nR-1,owl.png,40 mm,2\nR-1,moth.png,40 mm,1\n", "utf-8")
    planned = plan([folder / "b.csv"], Options(settings={"papers": ["a4"]}, steps=20))
    return planned, produce(planned, folder / "out") / "sheets-a4.pdf"


def swapped(document: pikepdf.Pdf) -> None:
    pictures = document.pages[0].Resources.XObject
    pictures.P1, pictures.P2 = pictures.P2, pictures.P1


def another_stream(document: pikepdf.Pdf) -> None:
    pictures = document.pages[0].Resources.XObject
    settings = pictures.P1.stream_dict
    pictures.P1.write(pictures.P2.read_raw_bytes(), filter=pikepdf.Name.FlateDecode, decode_parms=settings.DecodeParms)


def rewritten(pattern: bytes, by: bytes, count: int = 1) -> Callable[[pikepdf.Pdf], None]:
    def change(document: pikepdf.Pdf) -> None:
        content, found = re.subn(pattern, by, document.pages[0].Contents.read_bytes(), count=count)
        assert found
        document.pages[0].Contents.write(content)

    return change


def smaller_page(document: pikepdf.Pdf) -> None:
    for name in ("/MediaBox", "/CropBox", "/BleedBox", "/TrimBox"):
        document.pages[0][name] = pikepdf.Array([0, 0, 595, 842])


CHANGES = {
    "two pictures swapped": (swapped, "another picture"),
    "another picture's bytes": (another_stream, "another picture"),
    "one drawn less": (rewritten(rb"/P1 Do", b""), "2 pictures instead of 3"),
    "one drawn twice": (rewritten(rb"/P1 Do", b"/P1 Do /P1 Do"), "4 pictures instead of 3"),
    "the other drawn": (rewritten(rb"/P2 Do", b"/P1 Do"), "another picture"),
    "moved by a tenth of a millimetre": (rewritten(rb"^/OC /L0 BDC\n", b"1 0 0 1 0.28 0 cm /OC /L0 BDC\n"), "lies at"),
    "a hair larger": (rewritten(rb"^/OC /L0 BDC\n", b"1.0005 0 0 1 0 0 cm /OC /L0 BDC\n"), "lies at"),
    "turned over": (rewritten(rb"^/OC /L0 BDC\n", b"-1 0 0 1 595.276 0 cm /OC /L0 BDC\n"), "not turned by"),
    "a page of another size": (smaller_page, "mediabox"),
    "a page more": (lambda document: document.add_blank_page(), "2 pages instead of 1"),
}


@pytest.mark.parametrize("name", CHANGES)
def test_a_changed_file_is_noticed(made, tmp_path, name):
    planned, path = made
    change, words = CHANGES[name]
    with pikepdf.open(path) as document:
        change(document)
        document.save(tmp_path / "changed.pdf")
    with pytest.raises(Trouble, match=words) as stop:
        check_sheets(tmp_path / "changed.pdf", planned.layout.sheets, planned.printer)
    assert stop.value.exit is Exit.SELF_CHECK


def test_an_unchanged_file_passes(made, tmp_path):
    """Also when another program has written it anew."""
    planned, path = made
    check_sheets(path, planned.layout.sheets, planned.printer)
    with pikepdf.open(path) as document:
        document.save(tmp_path / "anew.pdf")
    check_sheets(tmp_path / "anew.pdf", planned.layout.sheets, planned.printer)


@pytest.mark.parametrize(
    ("content", "drawn"),
    [
        (b"q 1 2 3 4 re W n 5 0 0 -6 .7 8 cm /P1 Do Q", [(b"1 2 3 4", b"P1")]),
        (b"q 1 2 3 4 re W n /P1 Do Q\nq 5 0 0 6 7 8 cm /P1 Do Q", [(b"1 2 3 4", b"P1"), (b"", b"P1")]),
        (b"q 1 2 3 4 re W n q 5 0 0 6 7 8 cm /P1 Do Q Q", [(b"", b"P1")]),
        (b"q 1 2 3 4 re f 5 0 0 6 7 8 cm /P1 Do Q", [(b"", b"P1")]),
        (b"BT [<00ff> -5 <0102>] TJ ET /P1 Do /P2 Dont /OC /L0 BDC", [(b"", b"P1")]),
    ],
)
def test_a_clip_stands_right_before_its_picture(content, drawn):
    """As we write it (ISO 32000-2, 8.5.4): right before its picture. Elsewhere it is none, and its sheet is refused."""
    assert _list_drawn(content) == drawn
