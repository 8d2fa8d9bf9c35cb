# ruff: noqa: E501 - tables of recipes
"""What is found in artwork, one fault a picture; what is mended, exchanged and examined before paper is spent."""

from __future__ import annotations

import zlib
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from answers.pictures import CHUNKS, PICTURES, draw_disc
from approved_answers import Told, encode_png
from art.iccbytes import model_profile
from art.rebuilt import printed
from impose.art.output_profile import INTENTS, OutputProfile
from impose.art.prepare import PreparationOptions, prepare_picture
from impose.errors import Trouble

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


CORPUS = Path(__file__).parents[1] / "art" / "corpus"


def describe_picture(content: bytes, recipe: PreparationOptions, exact: bool = True) -> str:
    """What a file becomes: size, ink, components, colour, darkness, and a sum over its pixels as they print."""
    try:
        picture = prepare_picture(content, recipe)
    except Trouble as trouble:
        return "refused " + "; ".join(f"{finding.kind}: {finding.what}" for finding in trouble.findings)
    pixels = printed(picture)
    # A library of colours may round otherwise: of what it turned, means are told.
    means = "means " + " ".join(f"{value:.0f}" for value in pixels.mean((0, 1)))
    shown = f"pixels {zlib.crc32(pixels.tobytes()):08x}" if exact else means
    mass = " ".join(f"{value:.3f}" for value in picture.mass)
    kinds = " ".join(sorted({finding.kind for finding in picture.findings}))
    return (
        f"{picture.width}x{picture.height} ink {picture.ink} mass {mass} {picture.components} of {picture.colour}"
        f"{' icc' if picture.icc else ''} dark {picture.coverage:.3f} {shown} {kinds}"
    ).rstrip()


def test_kinds_of_png(told: Told) -> None:
    """Every depth, colour type, filter and interlacing of the standard, and every way in which a file can be damaged."""
    loose = PreparationOptions(keep_specks=True)
    for folder in ("valid", "damaged"):
        lines = [
            f"{path.name}: {describe_picture(path.read_bytes(), loose)}" for path in sorted((CORPUS / folder).iterdir())
        ]
        told.show(folder, "\n".join(lines))


def test_output_profiles(told: Told) -> None:
    pictures = {
        "photo": draw_photo(),
        "grey": draw_photo().convert("L"),
        "clear": PICTURES["bright"](),
        "clean": draw_disc(80),
    }
    for space in ("RGB", "CMYK"):
        profile = model_profile(space)
        (told.folder / f"{space}.icc").write_bytes(profile)
        for intent in INTENTS[:2] if space == "RGB" else INTENTS[1:2]:
            output = OutputProfile(profile, intent)
            recipe = PreparationOptions(output=output)
            lines = [
                f"{name}: {describe_picture(encode_png(picture), recipe, False)}" for name, picture in pictures.items()
            ]
            told.show(f"{space} {intent}", "\n".join(lines))
    for name, picture in pictures.items():
        told.draw(f"{name}.png", picture)
    told.ask("check photo.png clear.png --width 9mm --output-profile RGB.icc -v")
    told.ask("check photo.png --width 9mm --output-profile CMYK.icc --intent perceptual --no-black-point")
    told.ask("sheets photo.png --width 9mm --output-profile RGB.icc --steps 20 -q")
    told.show_record("photo-sheets")
    told.ask("check photo.png --width 9mm --output-profile none.icc")
    told.ask("check photo.png --width 9mm --output-profile photo.png")


def draw_photo() -> Image.Image:
    """Every part of the cube in smooth runs, white and black among them."""
    y, x = np.mgrid[0:60, 0:60]
    rgb = np.stack([x * 255 // 59, y * 255 // 59, (x * 3 + y * 2) % 256], axis=-1).astype(np.uint8)
    rgb[:6, :12], rgb[-6:, -12:] = 255, 0
    return Image.fromarray(rgb, "RGB")


def test_mends_in_rows(told: Told) -> None:
    """Each mend on each picture, pixel by pixel."""
    recipes = {
        "as drawn": PreparationOptions(), "haze": PreparationOptions(clean_haze=True), "specks": PreparationOptions(drop_specks=True),
        "ground": PreparationOptions(ground=True), "kept": PreparationOptions(keep_specks=True), "turned": PreparationOptions(orientation="apply"),
        "fainter": PreparationOptions(tint=0.2),
    }  # fmt: skip
    turned = encode_png(draw_disc(60).crop((0, 0, 60, 40)), CHUNKS["turned"])
    for name in (
        "clean",
        "haze",
        "off-white",
        "tinted-ground",
        "speck",
        "speck-inside",
        "spots",
        "grey",
        "faint",
        "two-colours",
    ):
        content = encode_png(PICTURES[name]())
        told.show(name, "\n".join(f"{title}: {describe_picture(content, recipe)}" for title, recipe in recipes.items()))
    told.show(
        "stored turned", "\n".join(f"{title}: {describe_picture(turned, recipe)}" for title, recipe in recipes.items())
    )
