"""What is found in artwork, one fault a picture; what is mended, exchanged and examined before paper is spent."""

from __future__ import annotations

import pytest

from answers.pictures import CHUNKS, PICTURES, draw_disc
from approved_answers import Told

pytestmark = pytest.mark.usefixtures("sheets_alone")


def test_pictures(told: Told) -> None:
    for name, picture in PICTURES.items():
        told.draw(f"{name}.png", picture())
    for name, chunk in CHUNKS.items():
        told.draw(f"chunk-{name}.png", draw_disc(120), chunk)
    (told.folder / "cut.png").write_bytes((told.folder / "clean.png").read_bytes()[:9000])
    (told.folder / "after.png").write_bytes((told.folder / "clean.png").read_bytes() + b"more")
    told.write("no.png", "not a picture")
    told.write("readme.md", "not artwork")
    told.ask("check . --placement left-chest -v")
    mends = "--mend clean-haze --mend ground --mend drop-specks --accept very-low-resolution --accept off-white"
    told.ask(f"check . --width 30mm --orientation apply {mends} --accept low-resolution --tear tight -v")


def test_pictures_as_data(told: Told) -> None:
    for name in ("haze", "speck", "speck-inside", "strokes", "gaps", "tinted-ground", "cut-off", "square"):
        told.draw(f"{name}.png", PICTURES[name]())
    told.ask("check . --width 50mm --json")
    told.ask("check haze.png speck.png --width 50mm --clean-haze --drop-specks --orientation ignore --strict --json")
    told.ask("check square.png --width 50mm --strict --accept straight-edge --accept very-low-resolution")
    told.ask("check square.png --width 50mm --accept no-such-kind")
    told.ask("check missing.png --width 50mm")


def test_colours(told: Told) -> None:
    told.draw("clean.png", PICTURES["two-colours"](), CHUNKS["srgb"])
    told.draw("bright.png", PICTURES["bright"]())
    told.write(
        "orders.csv",
        """
        art,words,font,width,recolour
        clean.png,,,60 mm,#A01E28 > #12405B
        clean.png,,,60 mm,#A01E28 > 17; #12A05B > 3
        clean.png,,,60 mm,#FFFFFF > #000000
        clean.png,,,60 mm,red > #000000
        clean.png,,,60 mm,#A01E28 > 99
        clean.png,,,60 mm,#A01E28 > #000000; #A01E28 > #111111
        ,OWL,outlined,60 mm,#14213D > #AA0000
        ,OWL,outlined,60 mm,#010203 > #AA0000
    """,
    )
    told.ask("check orders.csv -v")
    told.ask("colours clean.png bright.png")
    told.ask("colours clean.png bright.png --json --replace -p a4")
    told.ask("colours --colour #C81E28 --json -o one.pdf")
    told.ask("colours --colour reddish -o two.pdf")
    told.ask("colours clean.png")
    told.list_files()
