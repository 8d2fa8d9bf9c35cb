"""Pages of a team's evening, read as a person reads them: nothing of the program decides what is right.

Places and figures are those of the kit's own text; words are those that pdfium reads, drawings those of `drawn`.
"""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any

import pypdfium2
import pytest

import drawn
from conftest import draw
from impose.run import Options, plan, produce
from pages.proof.reading import matrix, parsed

KITS = """kit,art,words,font,placement,garment,accept
rowers,crest.png,,,left-chest,hoodie,
rowers,,{number},number,full-back,hoodie,
rowers,,{name},"plain, letters 30 mm",left-long-sleeve,hoodie,
"""
PLAYERS = (("ADA", "01"), ("BO", "02"), ("CHRISTOPHER", "11"), ("ДАРИНА", "07"), ("ZOË", "20"))


@pytest.fixture(scope="module")
def team(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, dict[str, Any]]:
    folder = tmp_path_factory.mktemp("team")
    draw("ellipse", 500, 500).save(folder / "crest.png")
    (folder / "kits.csv").write_text(KITS, "utf-8")
    lines = ["order,kit,name,number,garment", *(f"R,rowers,{name},{number},adult M" for name, number in PLAYERS)]
    lines.append("R,rowers,TINY,33,youth M")
    (folder / "team.csv").write_text("\n".join(lines) + "\n", "utf-8")
    made = plan([folder / "team.csv"], Options(settings={"papers": ["a4", "13x19"]}, steps=5, workers=1))
    out = produce(made, folder / "out")
    return out, json.loads((out / "batch.json").read_text("utf-8"))


def test_a_kits_prints_are_each_on_their_own_face_of_the_drawn_garment(team) -> None:
    """The chest is on the front, the number on the back, the name on the sleeve: three faces, one picture on each."""
    out, _ = team
    root = parsed((out / "approval" / "r.html").read_text("utf-8"))
    (faces,) = root.all("div", class_="faces")
    captions = [figure.text for figure in faces.all("figcaption")]
    assert sorted(captions) == ["Back", "Front", "Left sleeve from outside"]
    assert [len(figure.all("use")) for figure in faces.all("figure")] == [1, 1, 1]
    table = [[cell.text for cell in row.all("td")] for row in root.all("tr") if row.all("td")]
    assert [(cells[0], cells[2].strip(), cells[3].strip()) for cells in table] == [
        (name, number, name) for name, number in (*PLAYERS, ("TINY", "33"))
    ]
    # The back's print is as wide as two digits, not as the crest.
    back = next(figure for figure in faces.all("figure") if "Back" in figure.text)
    assert matrix(back.all("use")[0])[0] > 150


def test_a_column_of_sizes_says_whose_they_are(team) -> None:
    """Only the crest is no word, and it is smaller on the youth's hoodie: its column is called after its place."""
    out, _ = team
    heads = [cell.text for cell in parsed((out / "approval" / "r.html").read_text("utf-8")).all("th")]
    assert heads == ["For", "Garment", "Full back", "Left long sleeve", "Left chest", "Right"]


def test_sizes_for_customers_are_whole_millimetres(team) -> None:
    out, _ = team
    root = parsed((out / "approval" / "r.html").read_text("utf-8"))
    lengths = re.findall(r"([\d.]+) mm", root.text)
    assert lengths
    assert all("." not in length for length in lengths)
    words = " ".join(page.text for page in drawn.pages(out / "approval" / "r.pdf"))
    lengths = re.findall(r"([\d.]+) mm", words)
    assert lengths
    assert all("." not in length for length in lengths)


def test_a_team_of_one_size_shares_a_ticket_with_every_name_and_number(team) -> None:
    out, record = team
    texts = [page.text for page in drawn.pages(out / "tickets.pdf") if "Cutting list" not in page.text]
    flat = " ".join(" ".join(texts).split())
    assert "6 garments · 2 tickets · 18 prints" in flat
    assert "5 × hoodie adult M" in flat
    ids = {(t["name"], t["placement"]): t["id"] for sheet in record["sheets"] for t in sheet["transfers"]}
    for name, number in PLAYERS:
        line = next(found for found in re.findall(rf"\d {name} .{{60}}", flat) if "T" in found)
        assert f"“{number}”" in line
        assert ids[name, "full-back"] in line
    # What differs is said, from the least to the most; what does not, once.
    widths = [t["ink_mm"] for sheet in record["sheets"] for t in sheet["transfers"]
              if t["placement"] == "left-long-sleeve" and t["name"] != "TINY"]  # fmt: skip
    least, most = (round(f(max(w["w"], w["h"]) for w in widths)) for f in (min, max))
    assert f"{least} mm to {most} mm" in flat
    squares = [
        box for page in drawn.pages(out / "tickets.pdf") if re.search(r"ticket \d of", page.text) for box in page.boxes
        if box[2] == pytest.approx(3.6, abs=0.01) and box[3] == pytest.approx(3.6, abs=0.01)
    ]  # fmt: skip
    assert len(squares) == 2 * len(ids)


def test_the_cloth_is_said_once_for_the_evening(team) -> None:
    out, _ = team
    first = next(iter(drawn.pages(out / "tickets.pdf"))).text
    assert first.count("white polyester") == 1


def test_the_proof_shows_what_each_kit_made(team) -> None:
    out, _ = team
    root = parsed((out / "proof.html").read_text("utf-8"))
    (article,) = root.all("article", class_="expanded")
    rows = [[cell.text for cell in row.all("td")] for row in article.all("tr") if row.all("td")]
    assert rows[0] == ["2", "ADA", "hoodie adult M", "crest.png", "01", "ADA"]
    assert [row[1] for row in rows] == [*(name for name, _ in PLAYERS), "TINY"]


def _sheets(folder: Path, rows: int) -> tuple[str, dict[str, Any]]:
    draw("noise", 200, 200, 1).save(folder / "owl.png")
    lines = ["art,width,wearer", *(f"owl.png,200 mm,W{n}" for n in range(rows)), "owl.png,120 mm,Small"]
    (folder / "one.csv").write_text("\n".join(lines) + "\n", "utf-8")
    made = plan([folder / "one.csv"], Options(settings={"papers": ["13x19"]}, steps=5, workers=1))
    out = produce(made, folder / "out")
    text = " ".join(page.text for page in drawn.pages(out / "tickets.pdf") if "Cutting list" in page.text)
    return " ".join(text.split()), json.loads((out / "batch.json").read_text("utf-8"))


def test_sheets_that_are_cut_alike_are_told_once(tmp_path: Path) -> None:
    """Prints of 200 mm take more than half of 330 × 483 mm paper each way round: two to a sheet, sheet after sheet."""
    text, record = _sheets(tmp_path, 8)
    places: dict[Any, list[int]] = {}
    for sheet in record["sheets"]:
        cells = sorted(tuple(round(v, 1) for v in t["cell_mm"].values()) for t in sheet["transfers"])
        places.setdefault(tuple(cells), []).append(sheet["sheet"])
    most = max(places.values(), key=len)
    assert len(most) > 1
    assert f"{len(most)} sheets alike" in text
    assert f"cut {len(most)} times" in text
    for number in most:
        told = text[text.index(f"Sheet {number} A") :]
        held = {t["id"] for sheet in record["sheets"] if sheet["sheet"] == number for t in sheet["transfers"]}
        assert set(re.findall(r"T\d{3}", told)[: len(held)]) == held
    ids = [t["id"] for sheet in record["sheets"] if sheet["sheet"] in most for t in sheet["transfers"]]
    assert all(text.count(ident) == 1 for ident in ids), "each id once: the map has letters"


def test_no_number_of_a_cut_lies_on_an_id_and_nothing_leaves_the_page(team) -> None:
    """Boxes by `drawn`, letters by pdfium. A number's box is filled white and drawn around, 3.8 mm high."""
    out, _ = team
    document = pypdfium2.PdfDocument(out / "tickets.pdf")
    checked = 0
    for index, page in enumerate(drawn.pages(out / "tickets.pdf")):
        numbers = [
            outline.box for outline in page.outlines
            if outline.is_box and outline.paint not in ("S", "f") and abs(outline.box[3] - 3.8) < 0.01
        ]  # fmt: skip
        text = document[index].get_textpage()
        words = text.get_text_range()
        for at in range(text.count_chars()):
            left, low, right, high = (value * drawn.POINT_MM for value in text.get_charbox(at))
            assert right <= page.width - 5
            assert page.height - high >= 3
        for found in re.finditer(r"T\d{3}", words):
            for at in range(*found.span()):
                left, low, right, high = (value * drawn.POINT_MM for value in text.get_charbox(at))
                for x, y, w, h in numbers:
                    checked += 1
                    apart = left >= x + w or right <= x or page.height - low <= y or page.height - high >= y + h
                    assert apart, (index, found[0])
    assert checked > 50
