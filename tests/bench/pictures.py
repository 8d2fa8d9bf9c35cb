"""Seeded artwork for benchmarks: what a decorator is sent, about 2.5 megapixels each, none alike.

    python tests/bench/pictures.py FOLDER [count]

Of each twenty: seven crests of flat shapes with smoothed edges, four soft glows, four of words (grey or with alpha),
three photograph-like textures, two of those cut out softly. Saved as Pillow saves by itself.
"""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np
from PIL import Image, ImageDraw, ImageFilter

KINDS = ("crest",) * 7 + ("glow",) * 4 + ("words",) * 4 + ("photo",) * 3 + ("cut-out",) * 2


def draw(seed: int) -> Image.Image:
    """Picture number `seed`; the same on every machine with the same Pillow and numpy."""
    rng = np.random.default_rng(seed)
    kind = KINDS[seed * 7 % len(KINDS)]
    size = (int(rng.integers(1000, 2200)), int(rng.integers(1000, 2200)))
    if kind == "crest":
        return _shapes(rng, size, 2, 24).resize(size, Image.Resampling.BOX)
    if kind == "glow":
        return _shapes(rng, size, 1, 12).filter(ImageFilter.GaussianBlur(18))
    if kind == "words":
        return _words(rng, size, "L" if seed % 2 else "RGBA")
    photo = _texture(rng, size)
    if kind == "cut-out":
        mask = Image.new("L", size, 0)
        ImageDraw.Draw(mask).ellipse((40, 40, size[0] - 40, size[1] - 40), fill=255)
        photo.putalpha(mask.filter(ImageFilter.GaussianBlur(3)))
    return photo


def _colour(rng: np.random.Generator) -> tuple[int, int, int, int]:
    red, green, blue = (int(v) for v in rng.integers(0, 230, 3))
    return red, green, blue, 255


def _shapes(rng: np.random.Generator, size: tuple[int, int], scale: int, count: int) -> Image.Image:
    width, height = size[0] * scale, size[1] * scale
    image = Image.new("RGBA", (width, height), (0, 0, 0, 0))
    pen = ImageDraw.Draw(image)
    for _ in range(count):
        x, y = int(rng.integers(width // 5, width * 4 // 5)), int(rng.integers(height // 5, height * 4 // 5))
        reach = int(rng.integers(20, 180)) * scale
        if rng.random() < 0.5:
            pen.ellipse((x - reach, y - reach, x + reach, y + reach), fill=_colour(rng))
        else:
            pen.regular_polygon((x, y, reach), int(rng.integers(3, 9)), int(rng.integers(0, 90)), fill=_colour(rng))
    return image


def _words(rng: np.random.Generator, size: tuple[int, int], mode: str) -> Image.Image:
    image = Image.new(mode, size, 255 if mode == "L" else (0, 0, 0, 0))
    pen = ImageDraw.Draw(image)
    y = 20
    while y < size[1] - 60:
        high = int(rng.integers(50, 260))
        ink = int(rng.integers(0, 120)) if mode == "L" else _colour(rng)
        pen.text((30, y), "Heron & Lantern Night School", fill=ink, font_size=high)
        y += high + 30
    return image


def _texture(rng: np.random.Generator, size: tuple[int, int]) -> Image.Image:
    """Light that changes over many scales, with the grain of a camera (a level and a half)."""
    width, height = size
    channels = []
    for _ in range(3):
        light = np.zeros((height, width), np.float32)
        for step, share in ((256, 1.0), (64, 0.4), (16, 0.12)):
            coarse = rng.random((height // step + 3, width // step + 3)).astype(np.float32)
            light += share * np.asarray(Image.fromarray(coarse).resize(size, Image.Resampling.BICUBIC))
        light = (light - light.min()) * (235 / (light.max() - light.min()))
        light += rng.normal(0, 1.5, light.shape).astype(np.float32)
        channels.append(light.clip(0, 255).astype(np.uint8))
    return Image.fromarray(np.stack(channels, axis=-1))


def write(folder: Path, count: int) -> list[Path]:
    """The first `count` pictures as files in `folder`; those already there are kept."""
    folder.mkdir(parents=True, exist_ok=True)
    paths = [folder / f"p{seed:04}.png" for seed in range(count)]
    for seed, path in enumerate(paths):
        if not path.exists():
            draw(seed).save(path)
    return paths


if __name__ == "__main__":
    print(len(write(Path(sys.argv[1]), int(sys.argv[2]) if len(sys.argv) > 2 else 200)), "pictures")
