"""Prints larger than every paper: what panels cover, how they join, and the ways to avoid them, by hand and by law."""

from __future__ import annotations

import io
import json
import re
from decimal import Decimal
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image

from conftest import draw
from impose.art.crop import crop_picture
from impose.art.prepare import prepare_picture
from impose.profiles.paper import Paper, Printer
from impose.profiles.placement import split_tear
from impose.run import Options, plan, produce
from impose.sheet.large_print_options import PrintOption, list_large_prints, list_print_options
from impose.sheet.margins import SizeRequest, print_area
from impose.sheet.panels import split_into_panels

INCH = 25.4

# Sizes of PWG 5101.1-2023; costs are examples. Edges of 3, 3, 3 and 14 mm: common practice, no source.
LETTER = Paper("na_letter_8.5x11in", "letter", (), 215.9, 279.4, Decimal("0.15"))
A4 = Paper("iso_a4_210x297mm", "a4", (), 210.0, 297.0, Decimal("0.15"))
THIRTEEN = Paper("na_super-b_13x19in", "13x19", (), 330.2, 482.6, Decimal("0.52"))
ROLL = Paper("roll_17in_17x0in", "roll-17in", (), 431.8, None, Decimal("1.40"), 5000.0)
CAREFUL = Printer("careful", 3, 3, 3, 14)

INK = (0, 0, 3000, 3000)


def area(paper: Paper):
    return print_area(paper, CAREFUL)


def wanted(width: float, height: float, least_side: float = 0.0) -> SizeRequest:
    return SizeRequest(width, height, split_tear(14), least_side, True)


def taken(found: tuple[PrintOption, ...]) -> PrintOption:
    (one,) = [way for way in found if way.taken]
    return one


def test_8_25_in_on_letter_leaves_0_175_mm_on_each_side() -> None:
    """215.9 - 3 - 3 - 209.55 = 0.35 mm: half of it left and half right, which carries no margin to speak of."""
    way = taken(list_print_options(wanted(8.25 * INCH, 9 * INCH), INK, [area(LETTER)], [], 3.0))
    assert (way.level, way.turned) == ("thin", False)
    assert way.side_mm == pytest.approx(0.175)
    assert way.cost == 150_000


def test_12_in_on_13_by_19_in_takes_the_widest_margin_by_hand() -> None:
    """304.8 + 2 t = 324.2 + 2 (1 + (t - 10) / 4), the slack over each edge: t = 10.933 mm."""
    way = taken(list_print_options(wanted(12 * INCH, 13 * INCH), INK, [area(THIRTEEN)], [], 3.0))
    assert (way.level, way.side_mm, way.turned, way.cost) == ("tight", 10.933, False, 520_000)


def test_the_roll_turned_costs_the_length_of_the_cell_and_its_edges() -> None:
    """12 in turned on 17 in: 13 in across is 358.2 mm with its margin; along, 304.8 + 28 and edges of 3 and 14 mm,
    less 2 mm of slack over each: 345.8 mm of a roll at 1.40 a metre is 0.48412."""
    found = list_print_options(wanted(12 * INCH, 13 * INCH), INK, [area(THIRTEEN)], [area(ROLL)], 3.0)
    way = next(way for way in found if way.paper is ROLL)
    assert (way.turned, way.level, way.offered, way.cost) == (True, "full", False, 484_120)


def test_a_print_that_fits_with_its_whole_margin_is_not_large() -> None:
    prints = [(2, "left-chest", wanted(90, 90), INK), (3, "full-back", wanted(12 * INCH, 13 * INCH), INK)]
    (large,) = list_large_prints(prints, [area(THIRTEEN), area(A4)], [], 3.0)
    assert large.row == 3
    (most,) = large.most
    assert most.paper.alias == "a4"
    # The same shape, smaller, and within the paper's 210 mm less its edges of 3 mm.
    assert most.width_mm / most.height_mm == pytest.approx(12 / 13)
    assert 150 < most.width_mm <= 204


SIDES = st.floats(120, 900)


@given(SIDES, SIDES, st.floats(0, 8))
def test_panels_cover_the_print_overlap_as_asked_and_fit(width: float, height: float, overlap: float) -> None:
    ink = (7, 11, 7 + round(width * 8), 11 + round(height * 8))
    parted = split_into_panels(wanted(width, height), ink, [area(A4)], overlap)
    if parted is None:
        assert max(width, height) > 3 * 180  # four panels a side hold far more than three cells
        return
    pixel = 1 / 8
    assert {one.panel.number for one in parted} == {one.panel.press for one in parted} == set(range(1, len(parted) + 1))
    covered = np.zeros((ink[3] - ink[1], ink[2] - ink[0]), np.uint8)
    for one in parted:
        left, top, right, bottom = one.ink
        covered[top - ink[1] : bottom - ink[1], left - ink[0] : right - ink[0]] += 1
        long, short = max(one.wanted.ink_w_mm, one.wanted.ink_h_mm), min(one.wanted.ink_w_mm, one.wanted.ink_h_mm)
        # A4 with 10 mm all round, 1 mm of slack over each edge: 206 and 282 mm less 20.
        assert long <= 262 + 1e-6
        assert short <= 186 + 1e-6
    assert covered.min() == 1
    # Neighbours overlap by what was asked for, in whole pixels, and by a few more that make all panels of one size.
    lines = [one for one in parted if one.panel.box.y == 0]
    for a, b in pairwise(lines):
        given = a.panel.box.right - b.panel.box.x
        assert overlap - 1e-6 <= given <= overlap + (len(lines)) * pixel + 1e-6
        assert a.panel.overlap_mm <= given + 1e-6
    assert len({one.panel.overlap_mm for one in parted}) == 1
    assert parted[0].panel.overlap_mm >= overlap - 1e-6


@pytest.mark.parametrize(
    ("width", "height", "away"),
    [  # A4 takes 186 x 262 mm of ink with 10 mm all round and 1 mm of slack over each edge: 350 mm in two halves of
        # 176.5; moved by a tenth (35 mm) the larger is 211.5 wide, too wide upright for 186 but not lying: 262
        (350, 150, 35.0),
        (480, 150, 0.0),  # two of 241.5 x 150, the larger of a tenth 289.5 and of a twentieth 265.5: no room, 262
        (470, 150, 23.5),  # two of 236.5; a twentieth makes 260
        (440, 150, 22.0),  # two of 221.5; a tenth makes 265.5, a twentieth 243.5
    ],
)
def test_a_seam_keeps_off_the_middle_where_the_papers_take_it(width: float, height: float, away: float) -> None:
    parted = split_into_panels(wanted(width, height), (0, 0, width * 10, height * 10), [area(A4)], 3.0)
    assert parted is not None
    assert len(parted) == 2
    first = parted[0].panel
    ((axis, at),) = first.joins
    assert axis == "x"
    assert abs(first.box.x + at - width / 2) == pytest.approx(away, abs=0.2)


@pytest.mark.parametrize(("width", "height", "across", "down"), [(300, 200, 2, 1), (200, 300, 1, 2), (450, 440, 2, 1)])
def test_a_seam_runs_the_short_way_where_two_panels_do(width: float, height: float, across: int, down: int) -> None:
    """Both ways round the two fit on 330 x 483 mm paper: a seam across 300 mm is longer than one down 200."""
    parted = split_into_panels(wanted(width, height), INK, [area(THIRTEEN)], 3.0)
    lefts, tops = {part.panel.box.x for part in parted}, {part.panel.box.y for part in parted}
    assert (len(lefts), len(tops)) == (across, down)


def test_the_middle_is_pressed_first_so_that_errors_do_not_add_up() -> None:
    parted = split_into_panels(wanted(500, 150), (0, 0, 5000, 1500), [area(A4)], 3.0)
    assert parted is not None
    assert [one.panel.press for one in parted] in ([1, 2], [2, 1, 3])


def test_a_crop_holds_the_very_pixels() -> None:
    image = draw("noise", 120, 90, 3)
    file = io.BytesIO()
    image.save(file, "PNG")
    whole = prepare_picture(file.getvalue())
    part_of = crop_picture(whole, (13, 7, 101, 80))
    # Unfiltered by Pillow: the rows are a PNG's own, stored mirrored.
    expected = np.asarray(image.convert("RGB").crop((13, 7, 101, 80)))[:, ::-1]
    assert np.array_equal(_pixels(part_of), expected)
    with pytest.raises(ValueError, match="not within"):
        crop_picture(whole, (13, 7, 121, 80))


def _pixels(picture) -> np.ndarray:
    import struct
    import zlib

    width, height = picture.ink[2] - picture.ink[0], picture.ink[3] - picture.ink[1]

    def chunk(name: bytes, body: bytes) -> bytes:
        return struct.pack(">I", len(body)) + name + body + struct.pack(">I", zlib.crc32(name + body))

    head = struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)
    png = b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", picture.data) + chunk(b"IEND", b"")
    return np.asarray(Image.open(io.BytesIO(png)))


@pytest.fixture(scope="module")
def delivered(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, dict]:
    folder = tmp_path_factory.mktemp("panels")
    draw("noise", 300, 240, 5).save(folder / "sky.png")
    (folder / "one.csv").write_text("art,placement,width\nsky.png,full-back,320 mm\n", "utf-8")
    options = Options(settings={"papers": ["a4"]}, oversize="panels", steps=20, workers=1)
    out = produce(plan([folder / "one.csv"], options), folder / "out")
    return out, json.loads((out / "batch.json").read_text("utf-8"))


def test_panels_are_delivered_as_transfers_of_their_own_and_print_true(delivered) -> None:
    import papercheck

    out, record = delivered
    found = [t for sheet in record["sheets"] for t in sheet["transfers"]]
    assert sorted((t["panel"]["panel"], t["panel"]["panels"]) for t in found) == [(1, 2), (2, 2)]
    assert {t["id"] for t in found} == {"T001", "T002"}
    assert papercheck.faults(out, out.parent) == []
    whole = found[0]["panel"]["whole_mm"]
    assert whole["w"] == 320
    (warning,) = [one for one in record["findings"] if one["kind"] == "panels"]
    assert "A seam shows" in warning["why"]


@pytest.mark.parametrize("nothing", ['"0"', '"0 mm"', '"0 in"'])
def test_panels_without_an_overlap_are_said_to_meet(run, tmp_path: Path, nothing: str) -> None:
    draw("noise", 300, 240, 5).save(tmp_path / "sky.png")
    (tmp_path / "settings.toml").write_text(f"panel_overlap = {nothing}\n", "utf-8")
    command = ["check", tmp_path / "sky.png", "--width", "320 mm", "-p", "a4", "--oversize", "panels"]
    code, out, _ = run(*command, "--profiles", tmp_path)
    assert code == 0
    assert "2 panels that meet edge to edge" in out
    assert "0 mm;" not in out
    (tmp_path / "settings.toml").write_text("panel_overlap = 0\n", "utf-8")
    code, _, err = run(*command, "--profiles", tmp_path)
    assert code == 2
    assert "Put it in quotes" in err


def test_the_quote_counts_panels_and_shows_the_ways(run, tmp_path: Path) -> None:
    draw("noise", 300, 240, 5).save(tmp_path / "sky.png")
    arguments = ("quote", tmp_path / "sky.png", "--placement", "full-back", "--width", "320mm", "-p", "a4")
    code, out, _ = run(*arguments, "--oversize", "panels", "--json")
    values = json.loads(out)
    assert (code, values["transfers"]) == (0, 2)
    (large,) = values["large"]
    assert [way["panels"] for way in large["ways"] if way["offered"]] == [2]
    assert large["most"][0]["paper"] == "iso_a4_210x297mm"
    own = tmp_path / "own"
    own.mkdir()
    assert "offer it with -p" not in run(*arguments)[1], "papers of the shipped profiles are nobody's"
    (own / "papers.toml").write_text("[a3]\ncost = 0.9\n", "utf-8")
    code, out, err = run(*arguments, "--profiles", own)
    assert code == 4
    assert "in 2 panels, a seam shows" in out
    assert re.search(r"a4 +takes [\d.]+ mm × [\d.]+ mm with the tight margin", out)
    assert "on file, offer it with -p" in out
    assert "fits no offered paper" in err


def test_the_cutting_list_tells_the_panels_apart(delivered) -> None:
    import drawn

    out, _ = delivered
    (text,) = [page.text for page in drawn.pages(out / "tickets.pdf") if "Cutting list" in page.text]
    assert "full back, panel 1/2" in text
    assert "full back, panel 2/2" in text


def test_the_ticket_says_how_panels_are_laid_and_that_a_seam_shows(delivered) -> None:
    import drawn

    out, _ = delivered
    text = " ".join(" ".join(page.text for page in drawn.pages(out / "tickets.pdf")).split())
    assert "Butt all 2 edge to edge, tape them, press at once." in text
    assert "cut with knife and rule" in text
    assert "A SEAM SHOWS" in text
    assert "double ticks" in text


@pytest.mark.parametrize(
    ("oversize", "said", "unsaid"),
    [
        ("refuse", "--oversize panels", "panels of it"),
        ("panels", "nor do 4 × 4 panels of it", "--oversize panels"),
    ],
)
def test_what_is_too_large_even_for_panels_is_not_told_to_ask_for_them(
    run, tmp_path: Path, oversize: str, said: str, unsaid: str
) -> None:
    Image.new("RGB", (40, 40), "navy").save(tmp_path / "d.png")
    code, _, err = run("sheets", tmp_path / "d.png", "--width", "3000mm", "-p", "a4", "--oversize", oversize)
    assert code == 4
    assert said in err
    assert unsaid not in err


def test_an_offer_that_was_refused_has_no_cost_in_json(run, tmp_path: Path) -> None:
    """A nought would be the cheapest of all to whoever takes the least."""
    draw("noise", 300, 240, 5).save(tmp_path / "sky.png")
    code, out, _ = run("quote", tmp_path / "sky.png", "--width", "320mm", "-p", "a4", "-p", "13x19", "--json")
    offers = json.loads(out)["offers"]
    assert code == 0
    refused, made = offers[0], offers[1]
    assert refused["refused"]
    assert {refused[name] for name in ("sheets", "yield", "cost", "fewest", "proven", "money")} == {None}
    assert made["cost"] is not None


@pytest.mark.parametrize("overlap", [1.0, 3.0])
def test_the_overlap_that_is_said_is_on_paper(tmp_path: Path, overlap: float) -> None:
    """A ramp from left to right: pdfium's pixels along both panels' edges say what column of the artwork they show."""
    import re

    from impose.units import parse_length

    ramp = np.tile((np.arange(250) * 0.8 + 20).astype(np.uint8), (150, 1))
    Image.fromarray(np.dstack([ramp] * 3)).save(tmp_path / "ramp.png")
    (tmp_path / "one.csv").write_text("art,width,may_turn\nramp.png,320 mm,no\n", "utf-8")
    settings = {"papers": ["a4"], "panel_overlap": f"{overlap} mm"}
    out = produce(plan([tmp_path / "one.csv"], Options(settings=settings, oversize="panels", steps=20)), tmp_path / "o")
    record = json.loads((out / "batch.json").read_text("utf-8"))
    (what,) = [one["what"] for one in record["findings"] if one["kind"] == "panels"]
    said = parse_length(re.search(r"overlap by at least ([0-9.]+ mm)", what)[1])
    assert said >= overlap
    shown = [_columns(out, sheet, one, ramp[0]) for sheet in record["sheets"] for one in sheet["transfers"]]
    first, second = sorted(shown)
    # Each column is 320 / 250 = 1.28 mm; the ramp rises by 0.8 of a level, so a column is known to one.
    assert (first[1] - second[0] + 1) * 1.28 >= said - 1.28
    # Said to the tenth of a millimetre, rounded down.
    assert said % 1.28 == pytest.approx(0, abs=0.1) or 1.28 - said % 1.28 < 0.1


def _columns(out: Path, sheet: dict, transfer: dict, ramp: np.ndarray) -> tuple[int, int]:
    """The artwork's first and last column that a transfer shows, by pdfium."""
    import pypdfium2

    page = pypdfium2.PdfDocument(out / sheet["file"])[sheet["page"] - 1]
    px = 144 / 25.4
    pixels = np.asarray(page.render(scale=2).to_pil().convert("L"))
    box = transfer["ink_mm"]
    row = pixels[round((box["y"] + box["h"] / 2) * px)]
    # Mirrored: the artwork's left lies right.
    right, left = row[round((box["x"] + box["w"] - 0.6) * px)], row[round((box["x"] + 0.6) * px)]
    return int(np.abs(ramp.astype(int) - right).argmin()), int(np.abs(ramp.astype(int) - left).argmin())
