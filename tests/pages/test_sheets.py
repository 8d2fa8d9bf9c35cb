"""The delivered PDF as other programs see it: boxes, settings, layers, pictures stored once, profiles untouched."""

from __future__ import annotations

import hashlib
import json
import shutil
import subprocess
from pathlib import Path

import pikepdf
import pypdfium2
import pytest
from PIL import ImageCms

from conftest import draw
from impose.run import Options, plan, produce
from impose.sheet.record import encode_record

pytestmark = pytest.mark.usefixtures("sheets_alone")

# ISO 32000-1, 8.3.2.3: user space is 1/72 inch; 25.4 mm to the inch. ISO 216:2007 for A4 and A3, PWG 5101.1-2023 for
# the North American sizes.
PAPERS = {
    "a4": (210, 297),
    "a3": (297, 420),
    "letter": (215.9, 279.4),
    "legal": (215.9, 355.6),
    "13x19": (330.2, 482.6),
}


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("pdf")
    profile = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
    draw("ellipse", 120, 90).save(folder / "owl.png", icc_profile=profile)
    draw("noise", 90, 120).convert("L").save(folder / "grey.png")
    (folder / "b.csv").write_text(
        "order,wearer,art,placement,garment,copies,width\n"
        "R-1,Ilka,owl.png,left-chest,youth M,7,\nR-1,Ilka,owl.png,,youth M,3,50 mm\n"
        "R-2,Bo,grey.png,,adult L,12,140 mm\n",
        "utf-8",
    )
    return folder


def deliver(folder: Path, paper: str, **settings: object) -> Path:
    planned = plan([folder / "b.csv"], Options(settings={"papers": [paper], **settings}, steps=20))
    return produce(planned, folder / f"out-{paper}-{len(list(folder.iterdir()))}")


@pytest.mark.parametrize("paper", PAPERS)
def test_every_box_is_the_paper(made, paper):
    out = deliver(made, paper)
    want = [mm / 25.4 * 72 for mm in PAPERS[paper]]
    with pikepdf.open(out / f"sheets-{paper}.pdf") as document:
        for page in document.pages:
            for name in ("MediaBox", "CropBox", "BleedBox", "TrimBox"):
                box = [float(x) for x in page[f"/{name}"]]
                assert box == pytest.approx([0, 0, *want], abs=5e-5)  # four decimals: 0.02 micrometres
            assert "/UserUnit" not in page
            assert "/Rotate" not in page or page.Rotate == 0
    document = pypdfium2.PdfDocument(out / f"sheets-{paper}.pdf")
    assert document[0].get_size() == pytest.approx(want, abs=1e-3)


def test_print_settings_layers_and_labels(made):
    """ISO 32000-2, 12.2 (viewer preferences), 8.11 (optional content), 12.4.2 (page labels)."""
    out = deliver(made, "a4")
    record = json.loads((out / "batch.json").read_text("utf-8"))
    with pikepdf.open(out / "sheets-a4.pdf") as document:
        root = document.Root
        preferences = root.ViewerPreferences
        assert preferences.PrintScaling == "/None"
        assert list(preferences.Enforce) == ["/PrintScaling"]
        assert bool(preferences.PickTrayByPDFSize)
        assert preferences.Duplex == "/Simplex"
        names = [str(group.Name) for group in root.OCProperties.OCGs]
        assert names == ["Artwork", "Ticks", "Labels", "Slug"]
        assert all("/GTS_Metadata" not in group for group in root.OCProperties.OCGs)
        assert not list(root.OCProperties.D.get("/OFF", []))
        label = root.PageLabels.Nums[1]
        assert str(label.P) == f"{record['code']}-"
        assert int(label.St) == 1
        assert "/CreationDate" not in (document.trailer.get("/Info") or {})
        assert all(not isinstance(page.Contents, pikepdf.Array) for page in document.pages)
    listed = pypdfium2.PdfDocument(out / "sheets-a4.pdf")
    assert listed.get_page_label(0) == f"{record['code']}-1"


def test_a_picture_is_stored_once_and_its_profile_byte_for_byte(made):
    out = deliver(made, "a4")
    profile = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
    with pikepdf.open(out / "sheets-a4.pdf") as document:
        images = [o for o in document.objects if isinstance(o, pikepdf.Stream) and o.get("/Subtype") == "/Image"]
        assert len(images) == 2
        spaces = {int(image.Width): image.ColorSpace for image in images}
        assert spaces[90] == "/DeviceGray"
        space = spaces[120]
        assert space[0] == "/ICCBased"
        supplied = _iccp(made / "owl.png")
        assert space[1].read_bytes() == supplied
        assert len(supplied) == len(profile)
        fonts = [
            str(o.BaseFont)
            for o in document.objects
            if isinstance(o, pikepdf.Dictionary) and o.get("/Subtype") == "/Type0"
        ]
        assert fonts
        assert len(fonts) == len(set(fonts))


def _iccp(path: Path) -> bytes:
    from PIL import Image

    with Image.open(path) as image:
        return image.info["icc_profile"]


@pytest.mark.skipif(shutil.which("qpdf") is None, reason="qpdf is not installed")
def test_qpdf_finds_nothing(made):
    out = deliver(made, "13x19")
    done = subprocess.run(["qpdf", "--check", out / "sheets-13x19.pdf"], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stdout + done.stderr
    assert "WARNING" not in done.stdout + done.stderr


@pytest.mark.documents
def test_the_same_input_gives_the_same_bytes(made):
    one, two = deliver(made, "a4"), deliver(made, "a4")
    for name in ("sheets-a4.pdf", "batch.json"):
        digests = {hashlib.sha256((out / name).read_bytes()).hexdigest() for out in (one, two)}
        assert len(digests) == 1, name


@pytest.mark.documents
def test_workers_and_cache_change_nothing(made, monkeypatch, tmp_path):
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path))
    ways = ((1, False), (2, False), (1, True), (1, True))
    options = [Options(steps=20, workers=workers, cache=cache) for workers, cache in ways]
    records = [encode_record(plan([made / "b.csv"], one).record) for one in options]
    assert len(set(records)) == 1


def test_labels_can_be_read_and_are_not_mirrored(made):
    """By another reader: the words come out in reading order, which mirrored glyphs would not."""
    out = deliver(made, "a4")
    record = json.loads((out / "batch.json").read_text("utf-8"))
    document = pypdfium2.PdfDocument(out / "sheets-a4.pdf")
    text = "\n".join(page.get_textpage().get_text_range() for page in document)
    for sheet in record["sheets"]:
        for transfer in sheet["transfers"]:
            assert f"{record['code']}-{transfer['id']}" in text
    assert "UP" in text
    assert "driver mirroring off" in text
