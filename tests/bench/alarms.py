"""False and missed alarms on an evening of 60 pictures whose faults are known, because they were put in.

    python tests/bench/alarms.py            # 60 pictures, seeded; add --seed N for others

Half are clean, photographic and flat alike; half have one fault each. All go through `impose check` at the size they
are printed at. A false alarm is a warning of a fault that was not put in, a missed one a fault of which nothing is
said. Notes are counted apart: they ask for nothing.
"""

from __future__ import annotations

import argparse
import sys
import tempfile
from collections import Counter
from collections.abc import Callable
from pathlib import Path

import numpy as np
from PIL import Image, ImageDraw, ImageFilter

sys.path.insert(0, str(Path(__file__).parent.parent))
from art import clean_art

KINDS = {
    "haze", "off-white", "speck", "speck-inside", "far-dots", "spots", "cut-off", "screenshot", "low-resolution",
    "thin-stroke", "thin-gap", "straight-edge",
}  # fmt: skip
WIDTH_MM = 90.0
PX = 900  # 254 an inch at 90 mm


def flat(seed: int) -> Image.Image:
    """A clean flat picture of the corpus, large enough."""
    # On clear ground: what is put in afterwards would lie hidden under a white one.
    number = next(n for n in range(seed * 7, seed * 7 + 40) if n % 12 in (0, 1))
    image = clean_art.draw(number)[1].convert("RGBA")
    return image.resize((PX, round(image.height * PX / image.width)), Image.Resampling.LANCZOS)


def photo(seed: int) -> Image.Image:
    """Soft and grainy fields of colour, cut out with a smoothed oval edge, as a portrait is."""
    rng = np.random.default_rng(seed)
    small = Image.fromarray(rng.integers(20, 190, (12, 12, 3)).astype(np.uint8))
    pixels = np.asarray(small.resize((PX, PX), Image.Resampling.BICUBIC), np.int16)
    pixels = np.clip(pixels + rng.normal(0, 6, pixels.shape), 0, 235).astype(np.uint8)
    mask = Image.new("L", (PX, PX), 0)
    ImageDraw.Draw(mask).ellipse((60, 40, PX - 60, PX - 40), fill=255)
    image = Image.fromarray(pixels).convert("RGBA")
    image.putalpha(mask.filter(ImageFilter.GaussianBlur(2)))
    return image


def hazy(image: Image.Image) -> Image.Image:
    alpha = np.asarray(image)[:, :, 3].copy()
    rgba = np.asarray(image).copy()
    rgba[alpha == 0] = (90, 90, 90, 9)
    return Image.fromarray(rgba)


def off_white(image: Image.Image) -> Image.Image:
    ground = Image.new("RGBA", image.size, (250, 249, 246, 255))
    ground.alpha_composite(image)
    return ground.convert("RGB")


def speckled(image: Image.Image) -> Image.Image:
    wide = Image.new("RGBA", (image.width + 500, image.height + 500), (0, 0, 0, 0))
    wide.alpha_composite(image, (450, 450))
    ImageDraw.Draw(wide).rectangle((20, 20, 23, 22), fill=(30, 30, 30, 255))
    return wide


def cut(image: Image.Image) -> Image.Image:
    box = image.getbbox()
    return image.crop((0, 0, (box[0] + box[2]) // 2, image.height))


def coarse(image: Image.Image) -> Image.Image:
    return image.resize((max(1, image.width // 3), max(1, image.height // 3)), Image.Resampling.LANCZOS)


def squared(image: Image.Image) -> Image.Image:
    return Image.composite(image, Image.new("RGBA", image.size, (40, 60, 90, 255)), image.getchannel("A"))


def hairlines(image: Image.Image) -> Image.Image:
    done = image.copy()
    pen = ImageDraw.Draw(done)
    for y in range(20, 200, 40):
        pen.line((30, y, image.width - 30, y), fill=(20, 20, 20, 255), width=2)
    return done


FAULTS: tuple[tuple[str, Callable[[Image.Image], Image.Image]], ...] = (
    ("haze", hazy),
    ("off-white", off_white),
    ("far-dots", speckled),
    ("cut-off", cut),
    ("low-resolution", coarse),
    ("straight-edge", squared),
    ("thin-stroke", hairlines),
)


def few_pixels(image: Image.Image) -> bool:
    """Whether its ink, which is what the width is given of, has under 120 pixels an inch: plain arithmetic."""
    ink = Image.eval(image.convert("RGBA").getchannel("A"), lambda alpha: 255 * (alpha > 25)).getbbox()
    if image.mode == "RGB":
        ink = Image.eval(image.convert("L"), lambda level: 255 * (level < 235)).getbbox()
    return ink is not None and (ink[2] - ink[0]) / WIDTH_MM * 25.4 < 120


def evening(seed: int) -> list[tuple[str, Image.Image, set[str]]]:
    """Sixty pictures, each with its name and the faults that were put in."""
    made: list[tuple[str, Image.Image, set[str]]] = []
    for number in range(60):
        plain = (flat if number % 4 < 2 else photo)(seed * 100 + number)
        kind, spoil = FAULTS[(number // 2) % len(FAULTS)] if number % 2 else ("clean", lambda image: image)
        image = spoil(plain)
        truth = {kind} - {"clean"}
        if kind not in ("haze", "off-white") and few_pixels(image):  # of those the ground prints, and counts
            truth.add("low-resolution")
        made.append((f"{kind}-{number:02}.png", image, truth))
    return made


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--seed", type=int, default=1)
    seed = parser.parse_args().seed
    from impose.run import Options, check

    pictures = evening(seed)
    with tempfile.TemporaryDirectory() as folder:
        lines = ["art,width"]
        for name, image, _ in pictures:
            image.save(Path(folder) / name, compress_level=1)
            lines.append(f"{name},{WIDTH_MM:g} mm")
        source = Path(folder) / "evening.csv"
        source.write_text("\n".join(lines) + "\n", "utf-8")
        found = check([source], Options(workers=1, cache=False)).findings
    false: Counter[str] = Counter()
    missed: Counter[str] = Counter()
    notes = 0
    for number, (name, _, truth) in enumerate(pictures, 2):
        of = [(one.kind.removeprefix("very-"), str(one.severity)) for one in found if one.row == number]
        warned = {kind for kind, severity in of if kind in KINDS and severity != "note"}
        said = {kind for kind, _ in of}
        for kind in warned - truth:
            false[f"{kind} on {name}"] += 1
        for kind in truth - said:
            missed[f"{kind} on {name}"] += 1
        notes += sum(kind in KINDS and kind not in truth and severity == "note" for kind, severity in of)
    print(f"60 pictures, {sum(bool(truth) for *_, truth in pictures)} with a fault, seed {seed}")
    print(f"false alarms {sum(false.values())}, missed {sum(missed.values())}, notes of other things {notes}")
    for what in (*false, *(f"missed {one}" for one in missed)):
        print(f"  {what}")


if __name__ == "__main__":
    main()
