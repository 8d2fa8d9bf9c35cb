"""Placement guides measured on the page by other libraries; figures are those of the shipped placements, in inches.

Figures: common practice, no source. Paper sizes: PWG 5101.1-2023.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pypdfium2
import pytest

import drawn
from impose.errors import Trouble
from impose.run import Options, write_guide

INCH = 25.4
PX = 16  # to a millimetre, for what pdfium renders


def guide(folder: Path, placement: str, garment: str, paper: str, own: Path | None = None) -> list[drawn.Page]:
    out = write_guide(placement, garment, paper, folder / "guide.pdf", Options(profiles_dir=own), replace=True)
    return list(drawn.pages(out))


def rendered(folder: Path, number: int = 0) -> np.ndarray:
    """A page as pdfium draws it, dark is 1."""
    document = pypdfium2.PdfDocument(folder / "guide.pdf")
    image = document[number].render(scale=PX * INCH / 72, grayscale=True).to_numpy()
    return 1.0 - np.squeeze(image) / 255.0


def middle_of_dark(line: np.ndarray, low: float, high: float) -> float:
    """Where the ink lies along a line of pixels between two places in mm: its middle, in mm."""
    part = line[round(low * PX) : round(high * PX)]
    assert part.sum() > 1, "nothing is drawn there"
    return low + (np.arange(len(part)) + 0.5) @ part / part.sum() / PX


def differ(here: np.ndarray, there: np.ndarray) -> float:
    """The share of the ink that is not at the same place."""
    inner = (slice(4, -4), slice(4, -4))
    return float(np.abs(here[inner] - there[inner]).sum() / here[inner].sum())


def thick(page: drawn.Page) -> list[float]:
    """Levels of the two long level lines that matter: the seam, if it is straight, and the print's edge."""
    return sorted(a[1] for a, b in page.lines if a[1] == b[1] and abs(b[0] - a[0]) > 40)


def test_the_ruler_has_a_tick_each_millimetre_and_each_eighth_of_an_inch(tmp_path: Path) -> None:
    (page, *_) = guide(tmp_path, "left-chest", "T-shirt adult M", "a4")
    base = page.height - 10 - 9.0
    up = sorted(a[0] for a, b in page.lines if a[0] == b[0] and max(a[1], b[1]) == pytest.approx(base, abs=1e-3))
    down = sorted(a[0] for a, b in page.lines if a[0] == b[0] and min(a[1], b[1]) == pytest.approx(base, abs=1e-3))
    assert [x - up[0] for x in up] == pytest.approx(range(101), abs=1e-3)
    assert [x - down[0] for x in down] == pytest.approx([n * INCH / 8 for n in range(33)], abs=1e-3)
    # The same as pdfium draws it: a row of pixels through the ticks of full centimetres alone.
    row = rendered(tmp_path)[round((base - 3.6) * PX)]
    for mm in range(0, 101, 10):
        assert middle_of_dark(row, 10 + mm - 0.6, 10 + mm + 0.3) == pytest.approx(10 + mm, abs=0.1)


def test_the_top_of_the_print_is_its_drop_below_the_shoulder_seam(tmp_path: Path) -> None:
    """Left chest on a hoodie: top 6.5 in below the shoulder seam, middle 3.5 in from the centre line, 4 × 4.5 in."""
    pages = guide(tmp_path, "left-chest", "hoodie adult M", "13x19")
    (page,) = pages
    (box,) = [box for box in page.boxes if box[2:] == pytest.approx((4 * INCH, 4.5 * INCH), abs=1e-3)]
    seam = min(thick(page))
    assert box[1] - seam == pytest.approx(6.5 * INCH, abs=1e-3)
    centre = next(a[0] for a, b in page.lines if a[0] == b[0] and abs(b[1] - a[1]) > 250)
    # Not mirrored: the wearer's left is on the right of a front that lies face up.
    assert box[0] + box[2] / 2 - centre == pytest.approx(3.5 * INCH, abs=1e-3)
    # As pdfium draws them: up a column beside the print's middle, and along a row clear of all else.
    ink = rendered(tmp_path)
    column = ink[:, round((box[0] + box[2] + 3) * PX)]
    assert middle_of_dark(column, box[1] - 1, box[1] + 1) == pytest.approx(box[1], abs=0.1)
    rows = ink[round((box[1] + 20) * PX) : round((box[1] + 60) * PX)].max(axis=0)
    assert middle_of_dark(rows, centre - 0.8, centre + 0.8) == pytest.approx(centre, abs=0.1)


def test_a_back_is_measured_from_the_middle_of_its_neckline(tmp_path: Path) -> None:
    """Full back on a hoodie: top 5 in below the neck seam, 12 in wide: the neckline is drawn, lowest on the centre."""
    (page, *_) = guide(tmp_path, "full-back", "hoodie adult M", "13x19")
    centre = next(a[0] for a, b in page.lines if a[0] == b[0] and abs(b[1] - a[1]) > 250)
    necks = [line.points for line in page.outlines if len(line.points) == 3 and not line.closed]
    lowest = max(y for points in necks for x, y in points if x == pytest.approx(centre, abs=1e-3))
    edge = next(
        a[1] for a, b in page.lines if a[1] == b[1] and abs(b[0] - a[0]) == pytest.approx(12 * INCH + 12, abs=1)
    )
    assert edge - lowest == pytest.approx(5 * INCH, abs=1e-3)


def test_tiles_join_exactly(tmp_path: Path) -> None:
    """A4 leaves 190 × 245 mm of guide: six pages, whose overlaps of 12 mm show the same."""
    pages = guide(tmp_path, "full-back", "hoodie adult M", "a4")
    texts = [" ".join(page.text.split()) for page in pages]
    assert all(f"page {number} of 6" in text for number, text in enumerate(texts, 1))
    first, right, below = (rendered(tmp_path, number) for number in (0, 1, 2))
    x, y, wide, high, over = (round(mm * PX) for mm in (10, 25, 190, 245, 12))
    for here, there in (
        (first[y : y + high, x + wide - over : x + wide], right[y : y + high, x : x + over]),
        (first[y + high - over : y + high, x : x + wide], below[y : y + over, x : x + wide]),
    ):
        assert here.sum() > 100, "nothing in the overlap to judge by"
        # Better than moved by one pixel either way, a sixteenth of a millimetre; at its edge a page cuts strokes off.
        off = {by: differ(here, np.roll(there, by, (0, 1))) for by in (-1, 0, 1)}
        assert off[0] < min(off[-1], off[1]) / 2
        assert off[0] < 0.25
    # The strokes as another library reads them: each page has the first one's, moved by its place.
    strokes = [sorted(line for line in page.lines if abs(line[0][1] - line[1][1]) > 400) for page in pages]
    for number, found in enumerate(strokes):
        row, column = divmod(number, 2)
        moves = [
            (a[0][0] - b[0][0], a[0][1] - b[0][1]) for a, b in zip(strokes[0], found, strict=True)
        ]  # the centre line
        assert moves == [pytest.approx((178 * column, 233 * row), abs=1e-3)]


def test_a_figure_of_the_shops_own_is_drawn_and_said(tmp_path: Path) -> None:
    own = tmp_path / "own"
    own.mkdir()
    (own / "placements.toml").write_text(
        '[full-back.offsets."hoodie adult"]\nusual = "5.5 in"\nsource = "measured here"\n', "utf-8"
    )
    (page, *_) = guide(tmp_path, "full-back", "hoodie adult M", "13x19", own)
    flat = " ".join(page.text.split())
    assert "Your own figure" in flat
    assert "140 mm (5 1/2 in) below the neck seam" in flat
    assert "PLAIN PAPER" in flat
    assert "never the transfer printer" in flat


@pytest.mark.parametrize(
    ("placement", "garment", "paper", "words"),
    [
        ("backk", "hoodie adult M", "a4", "full-back"),
        ("full-back", "wibble adult", "a4", "Kinds: t-shirt"),
        ("full-back", "yuoth M", "a4", "youth"),
        ("full-back", "", "a4", "hoodie adult M"),
        ("pocket", "hoodie adult M", "a4", "measure that one"),
        ("full-back", "infant 3M", "a4", "full-front"),
        ("full-back", "hoodie adult M", "roll-36in", "sheet"),
        ("full-back", "hoodie adult M", "a44", "a4"),
    ],
)
def test_what_is_not_known_is_refused_with_what_is(tmp_path: Path, placement, garment, paper, words) -> None:
    with pytest.raises(Trouble) as refused:
        guide(tmp_path, placement, garment, paper)
    assert words in str(refused.value)
    assert not list(tmp_path.iterdir())


def test_only_a_guide_is_replaced(tmp_path: Path, run) -> None:
    arguments = ("guide", "--placement", "nape", "--garment", "adult", "-o", tmp_path / "own.pdf")
    (tmp_path / "own.pdf").write_bytes(b"%PDF-1.7 not ours")
    assert run(*arguments)[0] == 2
    assert run(*arguments, "--replace")[0] == 2
    (tmp_path / "own.pdf").unlink()
    code, out, err = run(*arguments)
    assert (code, out.strip()) == (0, str(tmp_path / "own.pdf"))
    assert "plain paper" in err
    first = (tmp_path / "own.pdf").read_bytes()
    assert run(*arguments)[0] == 2
    assert run(*arguments, "--replace")[0] == 0
    assert (tmp_path / "own.pdf").read_bytes() == first
