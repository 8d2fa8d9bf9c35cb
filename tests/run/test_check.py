"""`impose check` says everything, writes nothing, and returns what the findings deserve."""

from __future__ import annotations

import json

import pytest
from PIL import Image, ImageDraw

import impose.art.prepare
import impose.formats.raster
from conftest import draw
from impose.errors import Severity
from impose.run import Options, check, plan, produce
from impose.run.record_file import read_record
from impose.run.reprint import plan_reprint
from impose.run.selection import ReprintRequest
from impose.values import replace

CLEAN = {"owl.png": ("ellipse", 900, 900)}


def canvas(path, size=900):
    """A disc with blank canvas around it, so that nothing is wrong with it."""
    image = Image.new("RGBA", (size, size), (0, 0, 0, 0))
    ImageDraw.Draw(image).ellipse((50, 50, size - 50, size - 50), fill="teal")
    image.save(path)


def test_nothing_wrong_is_said_in_a_line(batch, run, tmp_path):
    source = batch(["R-1,Ilka,owl.png,,adult M,1,70 mm,,,,"], {})
    canvas(tmp_path / "owl.png")
    before = sorted(path.name for path in tmp_path.rglob("*"))
    code, out, err = run("check", source)
    assert (code, out, err) == (0, "1 row and 1 picture examined: nothing found\n", "")
    assert sorted(path.name for path in tmp_path.rglob("*")) == before


def test_findings_are_data(batch, run, tmp_path):
    source = batch(["R-1,Ilka,owl.png,,adult M,1,150 mm,,,,", "R-1,Bo,owl.png,,adult M,1,150 mm,,,,"], {})
    canvas(tmp_path / "owl.png", 600)
    code, out, _ = run("check", source, "--json")
    data = json.loads(out)
    assert code == 0
    assert (data["rows"], data["pictures"], data["counts"]) == (2, 1, {"stop": 0, "warn": 2, "note": 0})
    first = data["findings"][0]
    assert (first["kind"], first["severity"], first["row"]) == ("very-low-resolution", "warn", 2)
    assert {"what", "why", "remedy", "file"} <= set(first)
    text = run("check", source)[1]
    assert "rows 2-3" in text, "the same words about two rows are one finding"


@pytest.mark.parametrize(
    ("line", "code", "kind"),
    [
        ("R-1,Ilka,no.png,,adult M,1,70 mm,,,,", 3, "art-missing"),
        ("R-1,Ilka,owl.png,,adult M,0,70 mm,,,,", 3, "bad-copies"),
        ("R-1,Ilka,cut.png,,adult M,1,70 mm,,,,", 3, "damaged"),
        ("R-1,Ilka,owl.png,,adult M,1,700 mm,,,,", 4, "no-room"),
    ],
)
def test_refusals_have_their_code_and_the_rest_is_examined(batch, run, tmp_path, line, code, kind):
    source = batch([line, "R-2,Bo,owl.png,,adult M,1,200 mm,,,,"], {}, None)
    canvas(tmp_path / "owl.png", 600)
    (tmp_path / "cut.png").write_bytes((tmp_path / "owl.png").read_bytes()[:-40])
    left, out, _ = run("check", source, "--json", "-p", "a3")
    found = {(f["kind"], f.get("row")) for f in json.loads(out)["findings"]}
    assert left == code
    assert (kind, 2) in found
    assert ("very-low-resolution", 3) in found


def test_a_missing_batch_is_5_and_wrong_use_is_2(batch, run, tmp_path):
    assert run("check", tmp_path / "nothing.csv")[0] == 5
    source = batch(["R-1,Ilka,owl.png,,adult M,1,70 mm,,,,"], CLEAN)
    code, _, err = run("check", source, "--accept", "low-resolutoin")
    assert code == 2
    assert "low-resolution" in err
    assert run("check", source, "-p", "a44")[0] == 2


def test_strict_and_stops_make_it_3_and_accept_lets_it_pass(batch, run, tmp_path):
    source = batch(["R-1,Ilka,owl.png,,adult M,1,150 mm,,,,"], {})
    canvas(tmp_path / "owl.png", 600)
    assert run("check", source)[0] == 0
    assert run("check", source, "--strict")[0] == 3
    assert run("check", source, "--strict", "--accept", "very-low-resolution")[0] == 0
    stopping = Options(settings={"stops": ["very-low-resolution"]})
    assert check([source], stopping).exit == 3
    assert check([source], Options(settings={"stops": ["haze"]})).exit == 0
    agreed = Options(settings={"stops": ["very-low-resolution"]}, accept=frozenset({"very-low-resolution"}))
    checked = check([source], agreed)
    assert checked.exit == 0
    assert [f.severity for f in checked.findings] == [Severity.WARN], "what is accepted is still said"


def test_a_misspelt_kind_in_a_row_or_a_setting_is_refused(batch, run, tmp_path):
    source = batch(["R-1,owl.png,70 mm,hase"], CLEAN, "order,art,width,accept")
    code, out, _ = run("check", source)
    assert code == 3
    assert "Did you mean “haze”?" in out
    own = tmp_path / "own"
    own.mkdir()
    (own / "settings.toml").write_text('stops = ["low-resolution", "hase"]\n', "utf-8")
    code, _, err = run("check", source, "--profiles", own)
    assert code == 2
    assert "haze" in err


def test_a_rows_own_word_accepts(batch, run, tmp_path):
    source = batch(["R-1,owl.png,150 mm,very-low-resolution"], {}, "order,art,width,accept")
    canvas(tmp_path / "owl.png", 600)
    assert run("check", source, "--strict")[0] == 0


def test_the_record_keeps_findings_with_their_place_and_the_mending(batch, tmp_path):
    source = batch(["R-1,Ilka,owl.png,,adult M,1,60 mm,,,,"], {})
    image = Image.new("RGBA", (640, 640), (0, 0, 0, 0))
    pen = ImageDraw.Draw(image)
    pen.rectangle((20, 20, 619, 59), fill="teal")
    pen.rectangle((20, 580, 619, 619), fill="teal")
    pen.rectangle((320, 220, 321, 222), fill="black")
    image.save(tmp_path / "owl.png")
    record = plan([source], Options(steps=5)).record
    (finding,) = [f for f in record["findings"] if f["kind"] == "speck-inside"]
    assert (finding["px"], finding["mm"]) == ([320, 220, 322, 223], [30.0, 20.0, 30.2, 20.3])
    assert any("lonely speck" in warning for warning in record["warnings"])
    assert record["options"]["drop_specks"] is False
    mended = plan([source], Options(steps=5, settings={"drop_specks": True}))
    assert mended.record["options"]["drop_specks"] is True
    assert not any("lonely speck" in warning for warning in mended.record["warnings"])
    assert mended.record["code"] != record["code"]
    (note,) = [f for f in mended.findings if f.kind == "speck"]
    assert note.view


def test_loose_files_are_examined_too(run, tmp_path):
    draw("ellipse", 300, 300).save(tmp_path / "a.png")
    code, out, _ = run("check", tmp_path / "a.png", "--width", "90mm")
    assert code == 0
    assert "very-low-resolution" in out


def test_what_was_checked_is_not_decoded_again_when_it_is_made(tmp_path, monkeypatch):
    """A PNG, a JPEG and a recoloured copy: each decoded once in check, sheets and reprint together; then never."""
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))
    decoded: list[str] = []
    for name, place in (("decode_png", impose.art.prepare), ("convert_raster", impose.formats.raster)):
        real = getattr(place, name)
        monkeypatch.setattr(place, name, lambda *a, real=real, name=name: (decoded.append(name), real(*a))[1])
    image = Image.new("RGB", (120, 90), "white")
    image.paste((200, 30, 40), (10, 10, 110, 80))
    image.save(tmp_path / "flag.png")
    image.save(tmp_path / "photo.jpg", quality=95)
    rows = [
        "art,width,recolour",
        "flag.png,40mm,",
        "flag.png,50mm,",
        "flag.png,40mm,#C81E28 > #12A05B",
        "photo.jpg,40mm,",
    ]
    (tmp_path / "orders.csv").write_text("\n".join(rows) + "\n")
    options = Options(steps=5, workers=1)
    assert check([tmp_path / "orders.csv"], options).exit == 0
    assert sorted(decoded) == ["convert_raster", "decode_png", "decode_png"]
    produce(plan([tmp_path / "orders.csv"], options), tmp_path / "out")
    plan_reprint(read_record(tmp_path / "out"), ReprintRequest(only=("T001",)), options)
    assert len(decoded) == 3
    plan([tmp_path / "orders.csv"], replace(options, cache=False))
    assert len(decoded) == 6  # the count would tell
