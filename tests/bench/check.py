"""What examining artwork costs, against only decoding it, in the same run.

    python tests/bench/check.py [--pictures 60] [--rounds 3] [--plain]

Seeded pictures of 1 to 4.6 megapixels (see `pictures.py`), held in memory. Each picture goes through every way before
the next, so that a busy machine slows all of them alike; figures are processor seconds over all pictures, the least of
the rounds for each picture. `--plain` goes without the optional pyspng. The ways:

pillow      Pillow opens and loads the file: the floor
decode      this program's strict decoding alone
ink         the same, and the ink bounds
check       the same, and everything `impose check` looks for
prepare     the whole: the same, and rows deflated for the page
prepare-ink the whole without looking for anything but the ink
"""

from __future__ import annotations

import argparse
import io
import sys
import time
from collections.abc import Callable
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent))

import pictures


def ways() -> dict[str, Callable[[bytes], object]]:
    """Each way as a function of a file's bytes."""
    from PIL import Image

    from impose.art.decode import decode_png
    from impose.art.faults.inspect import Inspection
    from impose.art.ink import find_ink
    from impose.art.png import read_png
    from impose.art.prepare import PreparationOptions, prepare_picture

    whole, examined = PreparationOptions(), PreparationOptions(rows=False)

    def pillow(content: bytes) -> None:
        with Image.open(io.BytesIO(content)) as image:
            image.load()

    def only_ink(frame, png, wish):
        return Inspection(frame, find_ink(frame, wish.tint))

    def without_findings(content: bytes) -> None:
        from impose.art import prepare as room

        look, room.inspect_picture = room.inspect_picture, only_ink
        try:
            prepare_picture(content, whole)
        finally:
            room.inspect_picture = look

    return {
        "pillow": pillow,
        "decode": lambda content: decode_png(read_png(content)),
        "ink": lambda content: find_ink(decode_png(read_png(content)), whole.tint),
        "check": lambda content: prepare_picture(content, examined),
        "prepare": lambda content: prepare_picture(content, whole),
        "prepare-ink": without_findings,
    }


def measured(count: int, rounds: int) -> tuple[dict[str, float], float]:
    """Processor seconds of each way over all pictures, and how many megapixels those are."""
    functions = ways()
    total = dict.fromkeys(functions, 0.0)
    pixels = 0
    for seed in range(count):
        image = pictures.draw(seed)
        pixels += image.width * image.height
        file = io.BytesIO()
        image.save(file, "PNG")
        content = file.getvalue()
        least = dict.fromkeys(functions, float("inf"))
        for _ in range(rounds):
            for name, function in functions.items():
                begun = time.process_time()
                function(content)
                least[name] = min(least[name], time.process_time() - begun)
        for name in functions:
            total[name] += least[name]
    return total, pixels / 1e6


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--pictures", type=int, default=60)
    parser.add_argument("--rounds", type=int, default=3)
    parser.add_argument("--plain", action="store_true")
    chosen = parser.parse_args()
    if chosen.plain:
        sys.modules["pyspng"] = None  # type: ignore[assignment]  # importing it fails, as if it were not installed
    total, megapixels = measured(chosen.pictures, chosen.rounds)
    print(f"{chosen.pictures} pictures, {megapixels:.0f} megapixels, {'without' if chosen.plain else 'with'} pyspng")
    for name, seconds in total.items():
        print(
            f"{name:<12} {seconds:7.2f} s   {seconds / total['pillow']:.2f} of pillow   "
            f"{seconds / total['decode']:.2f} of decode"
        )


if __name__ == "__main__":
    main()
