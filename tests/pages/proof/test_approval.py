"""A customer's page shows what is theirs, upright and at its size, and nothing that is anyone else's."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pypdfium2
import pytest
from hypothesis import given
from hypothesis import strategies as st

import drawn
from conftest import draw
from impose.pages.proof.filenames import LONGEST, choose_file_names, make_slug
from impose.run import Options, plan, produce
from pages.proof.reading import Made, matrix, parsed
from pages.proof.test_drawings import pictures, unlike

RED, BLUE, NONE = "Red Team", "Blue & Söhne", ""
THEIRS = {
    RED: {"Red Team", "Annegret", "Bogumila", "arrow", "stripes"},
    BLUE: {"Blue", "Söhne", "Đặng", "stripes", "photo"},
    NONE: {"Nora", "Nameless", "grey"},
}


def uris(html: str) -> set[str]:
    return set(re.findall(r"data:image/[^\"]+", html))


@pytest.mark.parametrize("order", [RED, BLUE, NONE])
def test_nothing_of_another_order(made: Made, order):
    html = made.approval(order)
    words = re.sub(r"data:image/[^\"]+", "", html)  # base64 can spell anything
    others = set().union(*(own for name, own in THEIRS.items() if name != order)) - THEIRS[order]
    for word in others:
        assert word not in words, word
    for word in THEIRS[order]:
        assert word in words, word
    # Nor what is the shop's own: paper, cost, sheets, the batch's name, the note in the margin.
    text = parsed(html).all("body")[0].text
    for word in ("a4", "a3", made.record["currency"], made.record["cost"], "sheet", "for Annegret alone", "ppi"):
        assert word not in text, word


def test_no_picture_of_another_order(made: Made):
    """Bytes as well as looks: the very same picture may stand on two pages only if both orders print it."""
    pages = {order: uris(made.approval(order)) for order in THEIRS}
    assert [len(pages[order]) for order in (RED, BLUE, NONE)] == [2, 2, 1]
    assert len(pages[RED] & pages[BLUE]) == 1  # the stripes, which both have
    assert not pages[NONE] & (pages[RED] | pages[BLUE])
    for order, words in THEIRS.items():
        for shown in pictures(parsed(made.approval(order))).values():
            likest = min(made.art, key=lambda name: unlike(shown, made.art[name]))
            assert likest in words


def test_artwork_is_unmirrored_and_at_its_size(made: Made):
    root = parsed(made.approval(RED))
    stored = pictures(root)
    stages = [svg for stage in root.all("div", class_="stage") for svg in stage.all("svg")]
    transfers = {t["row"]: t for sheet in made.record["sheets"] for t in sheet["transfers"]}
    for stage, row, art in zip(stages, (2, 3), ("arrow", "stripes"), strict=True):
        ink = transfers[row]["ink_mm"]
        w, h = (ink["h"], ink["w"]) if transfers[row]["turned"] else (ink["w"], ink["h"])
        use = stage.all("use")[0]
        a, b, c, d, _, _ = matrix(use)
        assert (a, d, b, c) == pytest.approx((w, h, 0, 0), abs=1e-3)
        assert unlike(stored[use.attributes["href"][1:]], made.art[art]) < 3
        # One user unit is a millimetre on paper, so that a print of the page at 100 % has the true size.
        _, _, wide, high = (float(v) for v in stage.attributes["viewbox"].split())
        assert stage.attributes["width"] == f"{wide:.4f}".rstrip("0").rstrip(".") + "mm"
        assert stage.attributes["height"].endswith("mm")
        assert wide >= w
        assert high > h


def test_the_scale_is_as_long_as_it_says(made: Made):
    for order in THEIRS:
        root = parsed(made.approval(order))
        for stage in (svg for one in root.all("div", class_="stage") for svg in one.all("svg")):
            (rule,) = stage.all("path", class_="rule")
            drawn = float(re.search(r"h([0-9.]+)", rule.attributes["d"])[1])
            said = re.fullmatch(r"([0-9.]+) mm", stage.all("text")[0].text)
            assert drawn == float(said[1])


def test_names_are_headed_large_and_copies_counted(made: Made):
    root = parsed(made.approval(BLUE))
    rows = [[cell.text for cell in row.all("td")] for row in root.all("tr") if row.all("td")]
    assert "Đặng" in [cells[0] for cells in rows]
    assert "3 × adult S" in [cells[1] for cells in rows]
    assert "reads from the shoulder down" in root.text
    assert "Signature" in root.text
    assert "spelling" in root.text
    assert "cloth does not look like a screen" in root.text


# Microsoft, "Naming Files, Paths, and Namespaces": reserved whatever their case and ending.
RESERVED = ["CON", "prn", "Aux", "NUL", *(f"{p}{n}" for p in ("COM", "lpt") for n in "0123456789¹²³")]


@given(st.lists(st.text(max_size=120) | st.sampled_from([*RESERVED, "a", "A", "a-2", "ä", "a b"]), max_size=30))
def test_file_names_are_safe_and_each_its_own(names):
    given_names = choose_file_names(names)
    assert len({name.casefold() for name in given_names}) == len(names)
    for name in given_names:
        assert re.fullmatch(r"[a-z0-9]+(-[a-z0-9]+)*", name)
        assert len(name) <= LONGEST + 12
        assert name not in {one.casefold() for one in RESERVED}


def test_file_names_people_can_read():
    assert make_slug("OW-104 Kettle Street") == "ow-104-kettle-street"
    assert make_slug("Blue & Söhne") == "blue-sohne"
    assert make_slug("../../etc/passwd") == "etc-passwd"
    assert make_slug("con") == "order-con"
    assert re.fullmatch(r"order-[0-9a-f]{8}", make_slug("דוד"))
    assert make_slug("李") != make_slug("王")
    assert re.fullmatch(r"lukasz-[0-9a-f]{8}|ukasz-[0-9a-f]{8}", make_slug("Łukasz"))
    assert choose_file_names(["a", "A", "a-2"]) == ["a", "a-2", "a-2-2"]


def test_a_small_page_for_a_large_picture(made: Made):
    """Pictures on the pages are small copies; the artwork itself stays in the shop."""
    for order in THEIRS:
        for picture in pictures(parsed(made.approval(order))).values():
            assert max(picture.size) <= 900
    assert max(made.art["photo"].size) > 900


def test_words_set_by_us_are_spelt_out(tmp_path):
    """What is pressed as letters stands as letters too, line by line, where a slip is seen."""
    rows = ["order,wearer,words,garment,width", 'Crew,Ines,"PEÑA\nCREW 7",adult M,90 mm']
    (tmp_path / "b.csv").write_text("\n".join(rows) + "\n", "utf-8")
    planned = plan([tmp_path / "b.csv"], Options(steps=5, workers=1, cache=False))
    root = parsed((produce(planned, tmp_path / "out") / "approval" / "crew.html").read_text("utf-8"))
    assert [node.text for node in root.all("p", class_="spelt")[0].all("bdi")] == ["PEÑA", "CREW 7"]


def _delivered(tmp_path, rows, **more):
    (tmp_path / "b.csv").write_text("\n".join(rows) + "\n", "utf-8")
    planned = plan([tmp_path / "b.csv"], Options(steps=5, workers=1, cache=False, **more))
    return produce(planned, tmp_path / "out", replace=(tmp_path / "out").exists())


def test_prints_of_one_wearer_without_an_order_are_one_garment_on_one_page(tmp_path):
    """Ada's two prints are pressed on one shirt, whether a list of a team has a column for orders or not."""
    draw("ellipse", 300, 300).save(tmp_path / "owl.png")
    rows = ["wearer,art,placement,width", "Ada,owl.png,left-chest,", "Bo,owl.png,full-back,150 mm"]
    out = _delivered(tmp_path, [*rows, "Ada,owl.png,full-back,150 mm"])
    assert sorted(path.name for path in (out / "approval").glob("*.html")) == ["row-2.html", "row-3.html"]
    ada = parsed((out / "approval" / "row-2.html").read_text("utf-8")).text
    assert ("Left chest" in ada, "Full back" in ada, "Bo" in ada) == (True, True, False)
    record = json.loads((out / "batch.json").read_text("utf-8"))
    shown = [(page["row"], [entry["placement"] for entry in page["shows"]]) for page in record["approval"]]
    assert shown == [(2, ["left-chest", "full-back"]), (3, ["full-back"])]
    garments = [garment["transfers"] for order in record["money"]["orders"] for garment in order["garments"]]
    assert sorted(map(len, garments)) == [1, 2]


def test_a_print_in_panels_is_shown_whole(tmp_path):
    """320 mm do not fit A4: two panels, each drawn at its place in the whole, which has the size ordered."""
    draw("noise", 300, 240, 5).save(tmp_path / "sky.png")
    rows = ["order,wearer,art,placement,garment,width", "Crew,Ines,sky.png,full-back,adult XL,320 mm"]
    out = _delivered(tmp_path, rows, settings={"papers": ["a4"]}, oversize="panels")
    root = parsed((out / "approval" / "crew.html").read_text("utf-8"))
    (stage,) = root.all("div", class_="stage")
    assert "320 mm" in root.text
    boxes = [matrix(use) for use in stage.all("use")]
    assert len(boxes) == 2
    left, right = min(e for *_, e, _ in boxes), max(a + e for a, *_, e, _ in boxes)
    assert right - left == pytest.approx(320, abs=0.2)
    # To the shop each is a transfer of its own, and has to be told from the other.
    proof = parsed((out / "proof.html").read_text("utf-8")).text
    assert (proof.count(", panel 1/2"), proof.count(", panel 2/2")) == (2, 2), (
        "beside its sheet, and on the list to tick"
    )
    listed = (out / "reprint.csv").read_text("utf-8-sig")
    assert "full back, panel 1 of 2," in listed.replace('"', "")
    assert "full back, panel 2 of 2," in listed.replace('"', "")


def test_a_clothes_allowance_is_none_of_the_customers_business(tmp_path):
    """100 mm ordered on cloth that shrinks are 105 mm on paper, and 100 mm to the customer."""
    draw("ellipse", 300, 300).save(tmp_path / "owl.png")
    own = tmp_path / "own"
    own.mkdir()
    (own / "garments.toml").write_text("[kinds.t-shirt]\nscale_x = 1.05\nscale_y = 1.05\n", "utf-8")
    rows = ["order,wearer,art,placement,garment,width", "Crew,Ines,owl.png,full-front,T-shirt adult M,100 mm"]
    out = _delivered(tmp_path, rows, profiles_dir=own)
    record = json.loads((out / "batch.json").read_text("utf-8"))
    assert record["sheets"][0]["transfers"][0]["ink_mm"]["w"] == pytest.approx(105)
    root = parsed((out / "approval" / "crew.html").read_text("utf-8"))
    assert "100 mm × 100 mm" in root.text
    assert "105" not in root.text
    (use,) = root.all("div", class_="stage")[0].all("use")
    assert matrix(use)[0] == pytest.approx(100)


def test_a_team_is_one_drawing_and_a_table(tmp_path):
    draw("ellipse", 300, 300).save(tmp_path / "owl.png")
    rows = ["order,wearer,art,words,placement,garment,width"]
    for number, who in enumerate(("Ada", "Bilal", "Chidi", "Дарина"), 3):
        rows += [f"Crew,{who},owl.png,,left-chest,adult M,", f"Crew,{who},,{who.upper()},upper-back,adult M,180 mm"]
        rows += [f"Crew,{who},,{number},full-back,adult M,100 mm"]
    out = _delivered(tmp_path, rows)
    root = parsed((out / "approval" / "crew.html").read_text("utf-8"))
    assert len(root.all("div", class_="faces")) == 1
    table = [[cell.text for cell in row.all("td")] for row in root.all("tr") if row.all("td")]
    assert [cells[0] for cells in table] == ["Ada", "Bilal", "Chidi", "Дарина"]
    assert [cells[2].strip() for cells in table][3] == "ДАРИНА"
    assert [cells[3].strip() for cells in table] == ["3", "4", "5", "6"]
    ticks = [node for node in root.all("input") if node.attributes.get("type") == "checkbox"]
    assert len(ticks) == 4 + 4, "one for each garment, and the four checks"
    # Where each lies on the shirt (drops of the shipped placements): the name above the number, both on the back.
    assert "drawn to scale" in root.text.casefold()
    assert (out / "approval" / "crew.pdf").read_bytes().startswith(b"%PDF-")


TEXTS = Path(__file__).parents[2] / "samples" / "texts"


def _made_with_texts(tmp_path, text):
    """A crew of two with words, a sleeve and a picture, whose customer reads another language."""
    draw("ellipse", 300, 300).save(tmp_path / "owl.png")
    (tmp_path / "own").mkdir()
    (tmp_path / "own" / "texts.toml").write_text(text, "utf-8")
    rows = ["order,wearer,art,words,placement,garment,width,copies"]
    for who in ("דנה", "Bo {place}"):
        rows += [f"Crew <1>,{who},owl.png,,left-chest,adult M,,1", f"Crew <1>,{who},,{who},full-back,adult M,90 mm,1"]
    return _delivered(tmp_path, rows, profiles_dir=tmp_path / "own") / "approval" / "crew-1.html"


def test_a_page_in_german(tmp_path):
    page = _made_with_texts(tmp_path, (TEXTS / "de.toml").read_text("utf-8")).read_text("utf-8")
    root = parsed(page)
    (html,) = root.all("html")
    assert html.attributes == {"lang": "de"}
    assert "Maßstäblich gezeichnet: adult M für דנה; die anderen tragen dasselbe an denselben Stellen." in root.text
    assert "Brust links: 89 mm × 89 mm · owl.png" in root.text
    assert [node.text for node in root.all("th")] == ["Für", "Kleidungsstück", "Rücken groß", "Richtig"]
    # Nothing of the English is left over: each word that only English has.
    assert not re.search(r"\b(the|your|please|and|garments?|approval|answer|sizes)\b", root.all("main")[0].text, re.I)
    texts = json.loads(root.all("section", id="answer")[0].attributes["data-texts"])
    assert texts["boxes_open"]["other"] == "{count} Felder sind noch nicht angekreuzt."
    pdf = pypdfium2.PdfDocument(tmp_path / "out" / "approval" / "crew-1.pdf")
    told = " ".join(pdf[0].get_textpage().get_text_range().split())
    assert "Bitte prüfen Sie jede Schreibweise" in told
    assert "Brust links: 89 mm × 89 mm · owl.png" in told


def test_a_page_from_right_to_left(tmp_path):
    page = _made_with_texts(tmp_path, (TEXTS / "he.toml").read_text("utf-8")).read_text("utf-8")
    root = parsed(page)
    (html,) = root.all("html")
    assert html.attributes == {"lang": "he", "dir": "rtl"}
    assert "שני בגדים" in root.text
    # Sizes and names stand in isolates of their own (UAX #9, section 6.3), so that neither turns the other round.
    (item, _) = root.all("ol", class_="prints")[0].all("li")
    assert [node.text for node in item.all("bdi")] == ["89 מ״מ × 89 מ״מ", "owl.png"]
    # The PDF, as pdfium reads it: no line begins anywhere but at the right margin of 16 mm, names in Latin letters too.
    sheet = pypdfium2.PdfDocument(tmp_path / "out" / "approval" / "crew-1.pdf")[0]
    text = sheet.get_textpage()
    lines: dict[int, float] = {}
    for index in range(text.count_rects()):
        _, bottom, right, _ = text.get_rect(index)
        lines[round(bottom / 4)] = max(lines.get(round(bottom / 4), 0.0), right)
    ends = [right / 72 * 25.4 for right in lines.values()]
    assert max(ends) == pytest.approx(210 - 16, abs=0.5)
    assert sum(end > 210 - 16 - 8 for end in ends) > len(ends) / 2
    # Boxes of the roster are at the far end, on the left, those of the checks before their words; the first line to be
    # signed begins at the right margin.
    pages = list(drawn.pages(tmp_path / "out" / "approval" / "crew-1.pdf"))
    boxes = [box for page in pages for box in page.boxes if box[2] == pytest.approx(4, abs=0.01)]
    assert [round(box[0], 2) for box in boxes] == [17] * 2 + [210 - 16 - 4] * 4
    signed = [line.box for line in pages[-1].outlines if 40 < line.box[2] < 60 and line.box[1] > boxes[-1][1]]
    assert signed[0][0] + signed[0][2] == pytest.approx(210 - 16, abs=0.01)
    assert signed[0][0] > signed[1][0] > signed[2][0]


def test_sentences_of_a_shop_are_text_and_no_markup(tmp_path):
    own = '[approval]\nlead = "<script>alert(1)</script> & \'x\'"\nagree = "</section>\\"><b>"\n'
    page = _made_with_texts(tmp_path, own).read_text("utf-8")
    assert "&lt;script&gt;alert(1)&lt;/script&gt; &amp; &#39;x&#39;" in page
    assert page.count("<script>") == 1
    root = parsed(page)  # refuses faulty nesting
    assert (
        json.loads(root.all("section", id="answer")[0].attributes["data-texts"])["agree"]["other"] == '</section>"><b>'
    )
    assert "Bo {place}" in root.text
