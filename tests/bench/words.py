"""What it costs to set words, against drawing them as pictures, in the same run.

    python tests/bench/words.py [--numbers 100] [--names 30]

The whole word part: opening the typeface, shaping, outlines, trim, centre of mass, coverage, thin strokes, and the
drawings as they lie in the PDF. The peer is Pillow (FreeType) drawing the same words black on white at 450 pixels an
inch and deflating them, which is what a page of pictures would need at the least: no trim, no coverage, no profile.
Each way runs in a process of its own; times are CPU, without the start of Python and of the libraries.
"""

from __future__ import annotations

import argparse
import subprocess
import sys
import time
import zlib
from pathlib import Path

STYLES = {"numbers": ("number", 254.0), "names": ("bold", 40.0), "outlined names on an arc": ("arched", 40.0)}
LETTERS = {"number": 200.0, "bold": 50.0, "arched": 40.0}
PPI = 450


def words(kind: str, count: int) -> list[str]:
    """Numbers from 1, or names no two of which are alike."""
    if kind == "numbers":
        return [str(number) for number in range(1, count + 1)]
    stems = ("MARTINEZ", "NGUYEN", "OKAFOR", "ŁUKASZEWICZ", "SMITH", "IVANOV")
    return [f"{stems[number % len(stems)]} {chr(65 + number % 26)}" for number in range(count)]


def outlines(kind: str, texts: list[str]) -> int:
    """Bytes of the drawings, deflated as in the PDF."""
    from impose.pages.pdf.outline_objects import write_form_content
    from impose.profiles.word_styles import parse_style
    from impose.run.load_batch import load_profiles_in_force
    from impose.run.options import Options
    from impose.run.typeset_words import Typesetter
    from impose.sheet.word_art import draw_words

    profiles = load_profiles_in_force(Options())
    began = time.process_time()
    text = "outlined, arc 60" if STYLES[kind][0] == "arched" else STYLES[kind][0]
    style = parse_style(text, profiles.lettering)
    lettering = Typesetter(profiles)._find_lettering(style)
    size = sum(len(zlib.compress(write_form_content(draw_words([one], style, lettering)), 6)) for one in texts)
    print(f"{time.process_time() - began:.3f} {size}")
    return size


def pictures(kind: str, texts: list[str]) -> int:
    """Bytes of the same words as deflated pictures."""
    from importlib import resources

    from PIL import Image, ImageDraw, ImageFont

    began = time.process_time()
    file = resources.files("font_source_sans_pro") / "files" / "SourceSansPro-Black.ttf"
    pixels = round(LETTERS[STYLES[kind][0]] / 25.4 * PPI / 0.66)  # its capitals are 0.66 of the em
    font = ImageFont.truetype(str(file), pixels)
    edge = pixels // 25 if STYLES[kind][0] == "arched" else 0
    size = 0
    for one in texts:
        left, top, right, bottom = font.getbbox(one, stroke_width=edge)
        image = Image.new("RGB", (int(right - left), int(bottom - top)), "white")
        pen = ImageDraw.Draw(image)
        pen.text((-left, -top), one, "#1A1A1A", font, stroke_width=edge, stroke_fill="#14213D" if edge else None)
        size += len(zlib.compress(image.tobytes(), 1))
    print(f"{time.process_time() - began:.3f} {size}")
    return size


WAYS = {"outlines": outlines, "pictures": pictures}


def main() -> None:
    """Print a table of both ways."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--numbers", type=int, default=100)
    parser.add_argument("--names", type=int, default=30)
    parser.add_argument("--one", nargs=3, metavar=("WAY", "KIND", "COUNT"), help=argparse.SUPPRESS)
    asked = parser.parse_args()
    if asked.one:
        import uharfbuzz  # noqa: F401  (its start is nobody's cost)
        from PIL import Image, ImageCms, ImageFont  # noqa: F401

        import impose.pages.pdf.font_book  # noqa: F401

        way, kind, count = asked.one
        WAYS[way](kind, words(kind, int(count)))
        return
    print(f"{'words':30} {'way':9} {'CPU s':>7} {'kB':>9}")
    for kind in STYLES:
        count = asked.numbers if kind == "numbers" else asked.names
        for way in WAYS:
            command = [sys.executable, str(Path(__file__)), "--one", way, kind, str(count)]
            done = subprocess.run(command, check=True, capture_output=True, text=True)
            seconds, size = done.stdout.split()
            print(f"{count:>4} {kind:25} {way:9} {float(seconds):>7.2f} {int(size) / 1000:>9.0f}")


if __name__ == "__main__":
    main()
