"""Batches of the invented evening that together use all that is printed on paper, and what comes of them.

Each is made by the commands that a shop types; pictures are tiny and drawn here.
"""

from __future__ import annotations

import contextlib
import importlib
import io
import shutil
from collections.abc import Callable, Mapping
from pathlib import Path

import pytest
from PIL import Image

from art.iccbytes import model_profile
from conftest import draw
from impose.kinds import ACCEPTABLE

ART = {
    "heron-back.png": ("noise", 220, 260),
    "lantern-crest.png": ("ellipse", 200, 200),
    "moth.png": ("gradient", 130, 110),
    "light-the-water.png": ("words", 400, 44),
    "oars-shield.png": ("ellipse", 190, 188),
    "steward.png": ("words", 220, 80),
    "pull-for-home.png": ("words", 380, 38),
    "kettle-band.png": ("ellipse", 260, 160),
    "lantern-string.png": ("noise", 330, 36),
    "ferry-stamp.png": ("ellipse", 160, 120),
    "carp-back.png": ("noise", 300, 360),
    "night-school-owl.png": ("gradient", 200, 240),
}

ORDERS = Path(__file__).parent / "approved" / "orders"


def write_batch(folder: Path, name: str, rows: slice = slice(None)) -> Path:
    """The rows of a batch, or some of them, and its pictures."""
    for seed, (file, (kind, width, height)) in enumerate(ART.items()):
        draw(kind, width, height, seed).save(folder / file, compress_level=1, dpi=(300, 300))
    heading, *lines = (ORDERS / f"{name}.csv").read_text("utf-8").splitlines()
    path = folder / "orders.csv"
    path.write_text("\n".join([heading, *lines[rows]]) + "\n", "utf-8")
    return path


def run_command(*arguments: object) -> str:
    """Run a command of the program in this process, to the end that it should have."""
    from impose.cli import main

    out, err = io.StringIO(), io.StringIO()
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err), pytest.raises(SystemExit) as left:
        main([str(argument) for argument in arguments])
    assert not left.value.code, err.getvalue()
    return out.getvalue()


def make_sheets(folder: Path, source: Path, *more: object, name: str = "out") -> Path:
    """The output folder of a batch."""
    out = folder / name
    run_command("sheets", source, "-o", out, "--steps", 50, "--workers", 1, "-q", *more)
    return out


def make_evening(folder: Path) -> Path:
    """An evening of several orders on two papers: every face of a garment, alike garments, sizes and tears of rows."""
    return make_sheets(folder, write_batch(folder, "evening"), "-p", "a4", "-p", "13x19")


def write_shop(folder: Path, settings: str, **more: str) -> Path:
    """A folder of a shop's own profiles."""
    own = folder / "own"
    own.mkdir()
    (own / "settings.toml").write_text(settings, "utf-8")
    for name, text in more.items():
        (own / f"{name}.toml").write_text(text, "utf-8")
    return own


def make_market(folder: Path) -> Path:
    """Letter paper, inches, straight cuts, swatches, set-up by set-up: dark cloth, zips, long names, right to left."""
    own = write_shop(
        folder,
        'units = "in"\nticket_paper = "letter"\nticket_grouping = "platen"\ncare_notes = "order"\n'
        'straight_cuts = true\nswatches = true\npress = "15x15"\nblank_spares = "10 %"\n',
    )
    source = write_batch(folder, "market")
    return make_sheets(folder, source, "-p", "letter", "-p", "13x19", "--profiles", own, "--accept", "dark-cloth")


OWN_PLACES = """
[left-chest]
way = "sleeve-seam"

[hem-mark]
title = "hem mark"
face = "front"
side = "right"
reading = "upright"

[hem-mark.sizes.adult]
width = "70 mm"
source = "measured on our own shirts"

[hem-mark.offsets.adult]
from = "hem seam"
to = "bottom of print"
usual = "30 mm"
source = "measured on our own shirts"

[hem-mark.across.adult]
from = "centre line"
to = "centre of print"
usual = "120 mm"
source = "measured on our own shirts"

[cuff-up]
title = "up from the cuff"
face = "left sleeve"
reading = "cuff-up"

[cuff-up.sizes.adult]
height = "40 mm"
source = "measured on our own shirts"

[cuff-up.offsets.adult]
from = "cuff"
to = "bottom of print"
usual = "80 mm"
source = "measured on our own shirts"
"""


def make_team(folder: Path) -> Path:
    """A team's hoodies with a name and a number each, from a roll; the first one off goes before the others."""
    shutil.copy(ORDERS / "kits.csv", folder)
    source = write_batch(folder, "team")
    return make_sheets(folder, source, "-p", "roll-17in", "--printer", "measured", "--first")


def make_panels(folder: Path) -> Path:
    """Prints larger than the paper in panels, and larger than the platen in heats."""
    own = write_shop(folder, 'press = "15x15"\ncare_notes = "none"\n')
    return make_sheets(folder, write_batch(folder, "large"), "-p", "a4", "--oversize", "panels", "--profiles", own)


def make_small(folder: Path) -> Path:
    """Labels with little room, margins that shrink, sheets that leave no room for rulers, by a measured printer."""
    return make_sheets(
        folder, write_batch(folder, "small"), "-p", "a4", "-p", "a5", "--printer", "measured", "--part-sheets", 2
    )


OWN_PRESS = """
["9x12"]
scale_x = 1.004
scale_y = 0.998
"""
OWN_PAPER = """
[13x19]
cost = 0.50
temperature_c = 190
seconds = 55
pressure = "firm"
rest_seconds = 0
"""


def make_many(folder: Path) -> Path:
    """More prints on a sheet than the cutting list's page holds, and more garments than a ticket."""
    own = write_shop(folder, 'care_notes = "none"\n')
    return make_sheets(folder, write_batch(folder, "many"), "-p", "13x19", "--profiles", own)


def make_doubtful(folder: Path) -> Path:
    """What is told of cloth, sizes and places that are not as usual, where a shop lets all of it pass."""
    accepted = [word for kind in sorted(ACCEPTABLE) for word in ("--accept", kind)]
    more = ("-p", "a4", "--oversize", "shrink", "--smallest-decides")
    made = make_sheets(folder, write_batch(folder, "doubtful"), *more, *accepted)
    reprint(made, made / "again", "--only", "T001,T004,T009,T010,T011")
    return made


def make_heats(folder: Path) -> Path:
    """Prints larger than the platen and one over another; a figure and a paper's setting of the shop's own."""
    own = write_shop(folder, 'press = "9x12"\npress_order = ["chest", "back", "sleeve"]\n', presses=OWN_PRESS,
                     papers=OWN_PAPER, placements=OWN_PLACES)  # fmt: skip
    run_command("profiles", "--profiles", own, "--enter", "full-back", "t-shirt adult", "drop", "4.5in")
    return make_sheets(folder, write_batch(folder, "heats"), "-p", "13x19", "-p", "a4", "--profiles", own,
                       "--accept", "prints-overlap")  # fmt: skip


def make_again(folder: Path) -> Path:
    """Prints made again: one that was spoiled, a whole garment, one that fits into the waste of a printed sheet."""
    made = make_sheets(folder, write_batch(folder, "evening", slice(7)), "-p", "13x19")
    out = folder / "again"
    reprint(made, out / "spoiled", "--only", "T001,T003", "--garment", "Łukasz Wróbel")
    reprint(made, out / "onto", "--only", "T004", "--because", "lost", "--onto", made)
    return out


def reprint(made: Path, out: Path, *more: object) -> None:
    """Make prints of a delivery again."""
    with pytest.MonkeyPatch.context() as patch:
        # A batch's code is told from the whole record, which names the folder of the artwork.
        patch.setattr(importlib.import_module("impose.run.plan"), "make_batch_code", lambda content: "AGN2")
        run_command("reprint", made, "-o", out, "--steps", 50, "--workers", 1, "-q", *more)


LAMP = """<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 40 60">
<path d="M5 20h30l-5 35H10z" fill="#c81e28"/>
<path d="M12 20a8 12 0 0 1 16 0" fill="none" stroke="#14285a" stroke-width="3"/>
</svg>"""


def make_photos(folder: Path) -> Path:
    """Photographs stored turned and with blank edges, outlines, tagged colours, all in a printer's colours or not."""
    source = write_batch(folder, "photos")
    exif = Image.Exif()
    exif[0x0112] = 6  # TIFF 6.0: turned by 90 degrees
    draw("noise", 300, 200, 1).convert("RGB").save(folder / "ferry.jpg", exif=exif, dpi=(300, 300))
    harbour = Image.new("RGB", (320, 320), "white")
    harbour.paste(draw("noise", 200, 160, 2).convert("RGB"), (48, 96))
    harbour.save(folder / "harbour.jpg", quality=95)
    draw("gradient", 200, 90).save(folder / "tagged.png", icc_profile=model_profile("RGB"))
    (folder / "lamp.svg").write_text(LAMP, "utf-8")
    (folder / "press.icc").write_bytes(model_profile("RGB"))
    out = folder / "photos"
    more = ("-p", "a4", "-p", "13x19", "--orientation", "apply", "--accept", "speck")
    make_sheets(folder, source, *more, name="photos/as-they-are")
    make_sheets(folder, source, *more, "--output-profile", folder / "press.icc", name="photos/for-the-printer")
    return out


PRICES = """
press_rate = 17.77
power_kw = 1.9
power_cost = 0.313
markup = 0.6137
tax = 0.23
spoilage = 0.05
round_to = 0.05
shop = "Low Bridge Prints"
terms = "Half on ordering, half on collection."
[blanks]
"t-shirt" = 4.19
"long-sleeve" = 6.20
"hoodie" = 15.97
[steps]
3 = 0.05
5 = 0.10
"""


def make_offers(folder: Path) -> Path:
    """What customers are asked to pay, by steps of amounts."""
    own = write_shop(folder, 'units = "mm"\n', prices=PRICES)
    source = write_batch(folder, "evening", slice(4, 9))
    made = make_sheets(folder, source, "-p", "13x19", "--profiles", own)
    run_command("price", made, "--profiles", own, "-q")
    for order in ("OW-101 Stewards", "OW-102 Weir Rowers"):
        run_command("check", made, "--agreed", "Ada Weir", "--order", order, "--on", "2026-11-28")
    source.write_text(source.read_text("utf-8").replace("9.5 in,,tight", "9 in,,tight"), "utf-8")
    make_sheets(folder, source, "-p", "13x19", "--profiles", own, name="out/offers/changed")
    return made / "offers"


def make_cards(folder: Path) -> Path:
    """Guides to lay on garments, pages that measure a printer, and pages of colours."""
    out = folder / "cards"
    out.mkdir()
    write_batch(folder, "small")
    for placement, garment in (
        ("left-chest", "hoodie adult M"), ("full-back", "T-shirt adult L"), ("left-long-sleeve", "hoodie adult M"),
        ("right-short-sleeve", "T-shirt youth M"), ("full-front", "zip hoodie adult M"),
        ("hood", "hoodie adult L"),
    ):  # fmt: skip
        run_command("guide", "--placement", placement, "--garment", garment, "-o", out / f"guide-{placement}.pdf")
    own = write_shop(folder, 'units = "in"\n', placements=OWN_PLACES)
    for placement, garment in (
        ("left-chest", "hoodie adult M"), ("hem-mark", "T-shirt adult M"), ("cuff-up", "long-sleeve adult M"),
        ("left-chest", "T-shirt youth M"),
    ):  # fmt: skip
        card = out / f"own-{placement}-{garment.split()[0].lower()}.pdf"
        run_command("guide", "--placement", placement, "--garment", garment, "--profiles", own, "-o", card)
    for paper, printer in (("a4", "careful"), ("letter", "measured"), ("a5", "borderless"), ("roll-17in", "careful")):
        run_command("calibrate", "-p", paper, "--printer", printer, "-o", out / f"calibrate-{paper}.pdf")
    run_command(
        "colours", folder / "oars-shield.png", "--colour", "#7BA4D9", "-p", "a4", "-o", out / "colours.pdf", "-q"
    )
    several = [word for colour in ("#C81E28", "#14285A", "#7BA4D9", "#F0C000") for word in ("--colour", colour)]
    run_command(
        "colours", folder / "oars-shield.png", *several, "-p", "letter", "-o", out / "several-colours.pdf", "-q"
    )
    return out


BATCHES: Mapping[str, Callable[[Path], Path]] = {
    "evening": make_evening,
    "market": make_market,
    "team": make_team,
    "panels": make_panels,
    "small": make_small,
    "many": make_many,
    "doubtful": make_doubtful,
    "heats": make_heats,
    "photos": make_photos,
    "again": make_again,
    "offers": make_offers,
    "cards": make_cards,
}
"""What makes the files that are held against what was approved: all PDFs, pages and lists in the folder returned."""
