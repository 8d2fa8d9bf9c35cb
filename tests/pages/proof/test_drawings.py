"""Drawings are to scale and show what the printed sheet shows: held to the record and to the PDF itself."""

from __future__ import annotations

import base64
import io
import re

import numpy as np
import pypdfium2
import pytest
from PIL import Image, ImageDraw

from pages.proof.reading import Made, Node, matrix, parsed


def pictures(root: Node) -> dict[str, Image.Image]:
    """The pictures stored in a page, decoded by Pillow, mirrored within their unit square where the page says so."""
    found = {}
    for node in (one for one in root.all("image") if "id" in one.attributes):
        content = base64.b64decode(node.attributes["href"].partition(",")[2])
        image = Image.open(io.BytesIO(content)).convert("RGB")
        if "transform" in node.attributes:
            assert matrix(node) == (-1, 0, 0, 1, 1, 0)
            image = image.transpose(Image.Transpose.FLIP_LEFT_RIGHT)
        found[node.attributes["id"]] = image
    return found


def box(node: Node) -> list[float]:
    return [float(node.attributes[name]) for name in ("x", "y", "width", "height")]


def mm(box: dict[str, float]) -> list[float]:
    return [box["x"], box["y"], box["w"], box["h"]]


def drawings(root: Node) -> list[Node]:
    return root.all("svg", class_="paper")


def unlike(one: Image.Image, other: Image.Image) -> float:
    """Mean difference of two pictures, 0 to 255, at a size at which resampling hardly counts."""
    a, b = (np.asarray(i.convert("RGB").resize((40, 40), Image.Resampling.BOX), np.float64) for i in (one, other))
    return float(np.abs(a - b).mean())


def test_every_box_is_the_records(made: Made):
    root = parsed(made.proof)
    assert len(drawings(root)) == len(made.record["sheets"])
    turned = 0
    for drawing, sheet in zip(drawings(root), made.record["sheets"], strict=True):
        size = [float(v) for v in drawing.attributes["viewbox"].split()]
        assert size == pytest.approx([0, 0, sheet["width_mm"], sheet["height_mm"]], abs=1e-4)
        assert box(drawing.all("rect", class_="area")[0]) == pytest.approx(mm(sheet["printable_mm"]), abs=1e-4)
        groups = {g.attributes["id"]: g for g in drawing.all("g", class_="one")}
        assert list(groups) == [t["id"] for t in sheet["transfers"]]
        for transfer in sheet["transfers"]:
            group = groups[transfer["id"]]
            ink = mm(transfer["ink_mm"])
            assert box(group.all("rect", class_="cell")[0]) == pytest.approx(mm(transfer["cell_mm"]), abs=1e-4)
            a, b, c, d, e, f = matrix(group.all("use")[0])
            corners = [(e, f), (a + e, b + f), (c + e, d + f), (a + c + e, b + d + f)]
            left, top = (min(corner[i] for corner in corners) for i in (0, 1))
            assert [left, top] == pytest.approx(ink[:2], abs=1e-4)
            assert [abs(a + c), abs(b + d)] == pytest.approx(ink[2:], abs=1e-4)
            # Turned clockwise: the picture's own right hand side points down the sheet (y grows downwards).
            assert (a, b) == pytest.approx((0, ink[3]) if transfer["turned"] else (ink[2], 0), abs=1e-4)
            turned += transfer["turned"] // 90
    assert 0 < turned < sum(len(sheet["transfers"]) for sheet in made.record["sheets"])


def test_tear_zones_lie_where_the_margin_says(made: Made):
    """Worked out anew from the record's margins, which are those of the upright transfer."""
    root = parsed(made.proof)
    groups = {g.attributes["id"]: g for d in drawings(root) for g in d.all("g", class_="one")}
    for sheet in made.record["sheets"]:
        for transfer in sheet["transfers"]:
            names = ("left", "top", "right", "bottom")
            # After a quarter turn clockwise the bottom lies left, the left on top, the top right, the right below.
            order = ("bottom", "left", "top", "right") if transfer["turned"] else names
            kept, zone = zip(*(transfer["tear_mm"][side][:2] for side in order), strict=True)
            x, y, w, h = mm(transfer["ink_mm"])
            inner = [x - kept[0], y - kept[1], w + kept[0] + kept[2], h + kept[1] + kept[3]]
            outer = [
                inner[0] - zone[0],
                inner[1] - zone[1],
                inner[2] + zone[0] + zone[2],
                inner[3] + zone[1] + zone[3],
            ]
            path = groups[transfer["id"]].all("path", class_="zone")[0].attributes["d"]
            drawn = [[float(v) for v in re.findall(r"-?[0-9.]+", part)[:4]] for part in path.split("z")[:2]]
            assert drawn[0] == pytest.approx(outer, abs=1e-3)
            assert drawn[1] == pytest.approx(inner, abs=1e-3)


def test_pictures_are_mirrored_on_the_sheet_and_upright_in_the_list(made: Made):
    root = parsed(made.proof)
    stored = pictures(root)
    groups = {g.attributes["id"]: g for d in drawings(root) for g in d.all("g", class_="one")}
    seen = set()
    for sheet in made.record["sheets"]:
        for transfer in sheet["transfers"]:
            name = transfer["art"].removesuffix(".png")
            use = groups[transfer["id"]].all("use")[0]
            shown = stored[use.attributes["href"][1:]]
            right = made.art[name].convert("RGB").transpose(Image.Transpose.FLIP_LEFT_RIGHT)
            assert unlike(shown, right) < 3
            assert unlike(shown, made.art[name]) > 10
            seen.add(name)
    assert seen == set(made.art)
    for row in root.all("tr")[1:]:
        for svg in row.all("svg", class_="worn"):
            a, b, c, d, e, _ = matrix(svg.all("use")[0])
            assert (a < 0, b, c, d > 0) == (True, 0, 0, True)
            assert e == -a  # turned about its own upright axis, it stays where it was


def test_each_distinct_picture_is_stored_once(made: Made):
    assert len(pictures(parsed(made.proof))) == len(made.art)
    crops = made.proof.count('class="crop"')  # parts at print size, of pictures with few pixels
    assert crops == 2
    assert made.proof.count("data:image") == len(made.art) + crops


def test_drawings_look_as_the_pdf_prints(made: Made):
    """Each picture, laid by the drawing's own matrix, against pdfium's rendering of the very sheet at that place."""
    root = parsed(made.proof)
    stored = pictures(root)
    for drawing, sheet in zip(drawings(root), made.record["sheets"], strict=True):
        page = pypdfium2.PdfDocument(made.folder / sheet["file"])[sheet["page"] - 1]
        ppmm = 4
        printed = page.render(scale=ppmm * 25.4 / 72).to_pil().convert("RGB")
        for group, transfer in zip(drawing.all("g", class_="one"), sheet["transfers"], strict=True):
            use = group.all("use")[0]
            picture = stored[use.attributes["href"][1:]]
            a, b, c, d, e, f = matrix(use)
            x, y, w, h = mm(transfer["ink_mm"])
            size = (round(w * ppmm), round(h * ppmm))
            # From a pixel of the place on paper back to the unit square, and from there to the stored picture.
            back = np.linalg.inv(np.array([[a, c, e], [b, d, f], [0, 0, 1]]))
            place = np.array([[1 / ppmm, 0, x], [0, 1 / ppmm, y], [0, 0, 1]])
            whole = np.diag([picture.width, picture.height, 1.0]) @ back @ place
            laid = picture.transform(size, Image.Transform.AFFINE, tuple(whole[:2].ravel()), Image.Resampling.BILINEAR)
            corner = (round(x * ppmm), round(y * ppmm))
            there = printed.crop((*corner, corner[0] + size[0], corner[1] + size[1]))
            assert unlike(laid, there) < 6, transfer["id"]
            assert unlike(laid.transpose(Image.Transpose.FLIP_LEFT_RIGHT), there) > 10


def test_printed_words_stand_in_the_drawing(made: Made):
    """Labels and slug as text, at their printed length, so that a name can be searched for."""
    root = parsed(made.proof)
    words = [node.text for node in root.all("text")]
    assert "Đặng" in words
    assert sum("UP" in word or "SHOULDER" in word for word in words) == made.planned.transfer_count
    assert all(float(node.attributes["textlength"]) > 0 for node in root.all("text"))


def test_previews_are_the_pages_at_the_stated_resolution(made: Made):
    names = sorted(p.name for p in (made.folder / "preview").iterdir())
    assert names == sorted(f"{s['file'].removesuffix('.pdf')}-{s['page']}.png" for s in made.record["sheets"])
    for sheet in made.record["sheets"]:
        with Image.open(made.folder / "preview" / f"{sheet['file'][:-4]}-{sheet['page']}.png") as image:
            want = [sheet[k] / 25.4 * 60 for k in ("width_mm", "height_mm")]
            assert list(image.size) == pytest.approx(want, abs=1.01)
            assert image.info["dpi"] == pytest.approx((60, 60), abs=0.5)
            page = pypdfium2.PdfDocument(made.folder / sheet["file"])[sheet["page"] - 1]
            assert unlike(image, page.render(scale=60 / 72).to_pil()) < 4


def test_the_command_makes_previews_when_asked(batch, run, tmp_path):
    source = batch(["R-1,Bo,owl.png,,adult M,1,60 mm,,,,"], {"owl.png": ("ellipse", 300, 300)})
    for flags, made in (([], False), (["--preview"], True)):
        out = tmp_path / f"out{len(flags)}"
        code, said, _ = run("sheets", source, "-o", out, "--steps", "5", "--workers", "1", *flags)
        assert code == 0
        assert "proof.html" in said
        assert (out / "preview" / "sheets-a4-1.png").exists() == made
    with Image.open(tmp_path / "out1" / "preview" / "sheets-a4-1.png") as image:
        # A4 at 100 pixels an inch: 210 and 297 mm over 25.4, times 100; a begun pixel is a pixel.
        assert image.size == (827, 1170)


def test_thin_strokes_are_framed_where_they_are_on_the_print_as_worn(tmp_path, run):
    """The strokes are drawn at a known place, right of the middle and below it, so a mirrored frame would miss."""
    image = Image.new("RGB", (1200, 800), "white")
    pen = ImageDraw.Draw(image)
    pen.rectangle((0, 0, 1199, 40), fill="navy")
    pen.rectangle((0, 700, 200, 799), fill="navy")
    for x in range(900, 1100, 10):
        pen.line((x, 520, x, 690), fill="navy", width=2)
    image.save(tmp_path / "fine.png")
    (tmp_path / "b.csv").write_text("art,width\nfine.png,120 mm\n", "utf-8")
    assert run("sheets", tmp_path / "b.csv", "-p", "a4", "-o", tmp_path / "out")[0] == 0
    root = parsed((tmp_path / "out" / "proof.html").read_text("utf-8"))
    (item,) = [li for li in root.all("li") if "Strokes of" in li.text and li.all("rect", class_="spot")][-1:]
    (svg,) = item.all("svg")
    assert [float(v) for v in svg.attributes["viewbox"].split()] == pytest.approx([0, 0, 120, 80], abs=0.01)
    x, y, w, h = box(svg.all("rect", class_="spot")[0])
    assert 90 - 6.4 <= x < x + w <= 110 + 6.4, "where the strokes are, to a tile of 64 pixels"
    assert 52 - 6.4 <= y < y + h <= 69 + 6.4
    (use,) = svg.all("use")
    assert matrix(use) == pytest.approx([-120, 0, 0, 80, 120, 0]), "the stored picture is mirrored; as worn it is not"
