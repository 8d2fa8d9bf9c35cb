"""The example batch: the script still draws the committed pictures, and the orders still make a good evening's work."""

import csv
import importlib
import io
import sys
from functools import cache
from pathlib import Path
from types import ModuleType

import numpy as np
import pytest
from PIL import Image, ImageCms

from impose import files
from impose.errors import Severity
from impose.orders.batch_reader import read_batch
from impose.profiles.profiles import load_profiles
from impose.run import Options, check

EXAMPLES = Path(__file__).resolve().parents[1] / "examples"
LANTERN_NIGHT = EXAMPLES / "lantern-night"
ART = sorted(path.stem for path in (LANTERN_NIGHT / "art").glob("*.png"))


@pytest.fixture(scope="module")
def script():
    """The drawing script, as it sees itself when run: with its own folder on the path."""
    before = set(sys.modules)
    sys.path.insert(0, str(EXAMPLES))
    try:
        yield importlib.import_module("draw_artwork")
    finally:
        sys.path.remove(str(EXAMPLES))
        for name in set(sys.modules) - before:
            if name == "draw_artwork" or name.split(".")[0] == "artwork":
                del sys.modules[name]


def committed(name: str) -> Image.Image:
    return Image.open(io.BytesIO((LANTERN_NIGHT / "art" / f"{name}.png").read_bytes()))


def test_every_picture_has_its_drawing_and_every_drawing_its_picture(script: ModuleType) -> None:
    assert sorted(script.ARTWORK) == ART
    assert len(ART) >= 8


# The large ones take seconds each, and change only where somebody redraws them.
QUICK = {"ferry-stamp", "light-the-water", "moth", "steward"}


@pytest.mark.parametrize(
    "name", [pytest.param(name, marks=[] if name in QUICK else [pytest.mark.long]) for name in ART]
)
def test_script_draws_the_committed_pixels(script: ModuleType, name: str) -> None:
    make, _, _ = script.ARTWORK[name]
    drawn, kept = make(), committed(name)
    assert (drawn.mode, drawn.size) == (kept.mode, kept.size)
    if drawn.tobytes() == kept.tobytes() and drawn.getpalette() == kept.getpalette():
        return
    one, other = (np.asarray(image.convert("RGBA"), np.int16) for image in (drawn, kept))
    off = np.abs(one - other).max(axis=2)
    # Equal on the machine that drew them; elsewhere the last digit of a sine may tip a level in a stray pixel.
    assert np.count_nonzero(off) <= off.size / 10_000, "run python examples/draw_artwork.py and look at the pictures"


def test_encoding_is_the_same_twice_and_its_profile_is_whole(script: ModuleType) -> None:
    pngs = importlib.import_module("artwork.pngs")
    image = Image.new("RGB", (8, 8), (200, 90, 30))
    content = pngs.encoded(image, 300, profile=True)
    assert content == pngs.encoded(image, 300, profile=True)
    profile = Image.open(io.BytesIO(content)).info["icc_profile"]
    # ICC.1:2022, 7.2: bytes 0-3 hold the profile's size, 36-39 its signature "acsp".
    assert int.from_bytes(profile[:4], "big") == len(profile)
    assert profile[36:40] == b"acsp"
    assert "sRGB" in ImageCms.getProfileDescription(ImageCms.ImageCmsProfile(io.BytesIO(profile)))


def test_the_pictures_are_of_the_kinds_that_customers_send() -> None:
    modes = {name: committed(name).mode for name in ART}
    assert set(modes.values()) == {"RGBA", "RGB", "L", "P"}
    assert "transparency" in committed("carp-back").info
    assert "icc_profile" in committed("weir-valley").info
    alpha = np.asarray(committed("lantern-string"))[..., 3]
    assert np.count_nonzero((alpha > 0) & (alpha < 255)) > alpha.size / 20, "no soft edges"
    shield = np.asarray(committed("oars-shield").convert("L"))
    _, columns = np.nonzero(shield < 250)
    assert np.ptp(columns) < 0.7 * shield.shape[1], "the shield should sit in a wide white canvas"
    assert sum((LANTERN_NIGHT / "art" / f"{name}.png").stat().st_size for name in ART) < 6_000_000


def test_orders_read_without_a_fault_and_use_every_picture() -> None:
    batch = read_batch(LANTERN_NIGHT / "orders.csv", load_profiles(files.find_shipped_profiles(), None))
    assert [str(f) for f in batch.findings if f.severity is not Severity.NOTE] == []
    assert len({row.order for row in batch.rows}) >= 5
    assert 45 <= sum(row.copies for row in batch.rows) <= 70
    assert {Path(row.art).stem for row in batch.rows} == set(ART)
    assert {"adult", "youth", "toddler"} <= {row.garment.group for row in batch.rows}
    assert {row.centre for row in batch.rows} > {"ink"}


def test_the_example_raises_few_alarms_and_only_true_ones() -> None:
    """Fine lines of the kettle band, one order that asks for like garments at two widths, one margin made tight.

    The glows of the owl, the lanterns and the moth, the worn grain of the stamp and the stars of the crest are silent.
    """
    options = Options(settings={"papers": ["13x19"]}, cache=False)
    checked = check([LANTERN_NIGHT / "orders.csv"], options)
    alarms = {(f.kind, f.row) for f in checked.findings if f.severity is not Severity.NOTE}
    assert alarms == {
        ("tight-margin", 40),
        ("thin-stroke", 31),
        ("thin-stroke", 32),
        ("thin-stroke", 33),
        ("two-sizes", 25),
    }
    # 304.8 + 2 t = 324.2 + 2: paper hangs over each edge by the 1 mm that the sleeves' tight margin leaves.
    (margin,) = [f for f in checked.findings if f.kind == "tight-margin"]
    assert margin.what.startswith("tear margin 10.7 mm instead of 14 mm")
    assert "10.7 mm" in (EXAMPLES / "README.md").read_text("utf-8")
    assert {f.kind for f in checked.findings if f.severity is Severity.NOTE} == {
        "like-garments",
        "missing-place",  # the rowers' long-sleeved T-shirts are called so in a note alone
        "size-borrowed",
        "thin-gap",
        "thin-stroke",
        "two-sizes",
    }


def test_every_print_has_resolution_for_its_size() -> None:
    """At least 150 pixels an inch at the explicit widths, 200 for the large back (common practice, no source)."""
    with (LANTERN_NIGHT / "orders.csv").open(encoding="utf-8", newline="") as stream:
        rows = [row for row in csv.DictReader(stream) if row["width"]]
    inches = {"in": 1.0, "mm": 1 / 25.4}
    found = {}
    for row in rows:
        number, unit = row["width"].split()
        found[row["art"], row["width"]] = ink_columns(Path(row["art"]).stem) / (float(number) * inches[unit])
    assert min(found.values()) >= 150, found
    assert found["art/carp-back.png", "12 in"] >= 200


def test_chest_art_is_sharp_at_its_usual_width() -> None:
    """300 pixels an inch over 90 mm (common practice, no source): chest prints are looked at from near by."""
    with (LANTERN_NIGHT / "orders.csv").open(encoding="utf-8", newline="") as stream:
        chest = {Path(row["art"]).stem for row in csv.DictReader(stream) if row["placement"] == "left-chest"}
    assert len(chest) >= 3
    assert {name: ink_columns(name) for name in chest if ink_columns(name) < 300 * 90 / 25.4} == {}


@cache
def ink_columns(name: str) -> int:
    """Width in pixels of what prints, at a tint of 2 % or more over white."""
    image = committed(name).convert("RGBA")
    white = Image.new("RGBA", image.size, "white")
    white.alpha_composite(image)
    inked = (np.asarray(white.convert("RGB")).min(axis=2) < 250).any(axis=0)
    return int(np.ptp(np.flatnonzero(inked))) + 1


def test_the_names_and_the_export_are_read_without_a_warning() -> None:
    names = check([LANTERN_NIGHT / "crew-names.csv"], Options(cache=False))
    assert [f for f in names.findings if f.severity is not Severity.NOTE] == []
    rowers = check([LANTERN_NIGHT / "rowers.csv"], Options(settings={"papers": ["13x19"]}, cache=False))
    assert [f for f in rowers.findings if f.severity is not Severity.NOTE] == []
    assert rowers.rows == 12
    columns = Options(cache=False, columns=LANTERN_NIGHT / "market-columns.toml")
    export = check([LANTERN_NIGHT / "market-export.csv"], columns)
    assert [f for f in export.findings if f.severity is not Severity.NOTE] == []
    assert any(f.kind == "row-skipped" and f.row == 4 for f in export.findings)
