"""Seeded artwork with nothing wrong in it: what findings must keep silent about. Also the measure of false alarms.

Six families, all drawn with smoothed edges on a canvas with a margin: logos of bold shapes, bold words, photographs cut
out softly, gradients, soft glows, and bold line art. Half of them on clear, half (where it makes sense) on white.
"""

from __future__ import annotations

import numpy as np
from PIL import Image, ImageDraw, ImageFilter

FAMILIES = ("logo", "words", "photo", "gradient", "glow", "lines")
WORDS = ("Heron", "Lantern", "Night School", "OWLS", "Ferry & Co", "Kettle Band", "1908", "Möwe")


def draw(seed: int) -> tuple[str, Image.Image]:
    """Family and picture number `seed`, 300 to 600 pixels a side."""
    rng = np.random.default_rng(seed)
    family = FAMILIES[seed % len(FAMILIES)]
    size = (int(rng.integers(300, 600)), int(rng.integers(300, 600)))
    image = globals()[f"_{family}"](rng, size)
    if (seed // len(FAMILIES)) % 2 and family != "glow":
        white = Image.new("RGBA", image.size, "white")
        white.alpha_composite(image)
        image = white.convert("RGB")
    return family, image


def _colour(rng: np.random.Generator) -> tuple[int, int, int, int]:
    red, green, blue = (int(v) for v in rng.integers(0, 200, 3))
    return red, green, blue, 255


def _canvas(size: tuple[int, int], scale: int) -> Image.Image:
    return Image.new("RGBA", (size[0] * scale, size[1] * scale), (0, 0, 0, 0))


def _logo(rng: np.random.Generator, size: tuple[int, int]) -> Image.Image:
    image = _canvas(size, 3)
    pen = ImageDraw.Draw(image)
    for _ in range(int(rng.integers(2, 8))):
        x, y = (int(rng.integers(side * 3 // 10, side * 7 // 10)) for side in image.size)
        reach = int(rng.integers(min(image.size) // 10, min(image.size) // 4))
        if rng.random() < 0.5:
            pen.ellipse((x - reach, y - reach, x + reach, y + reach), fill=_colour(rng))
        else:
            pen.regular_polygon((x, y, reach), int(rng.integers(3, 9)), int(rng.integers(0, 90)), fill=_colour(rng))
    return image.resize(size, Image.Resampling.BOX)


def _words(rng: np.random.Generator, size: tuple[int, int]) -> Image.Image:
    image = _canvas((size[0], size[1] // 2), 2)
    word = WORDS[int(rng.integers(len(WORDS)))]
    pen = ImageDraw.Draw(image)
    wide = pen.textlength(word, font_size=100)
    high = min(100 * image.width * 0.9 / wide, image.height * 0.7)
    pen.text((image.width * 0.05, image.height * 0.1), word, fill=_colour(rng), font_size=high)
    return image.resize((image.width // 2, image.height // 2), Image.Resampling.BOX)


def _photo(rng: np.random.Generator, size: tuple[int, int]) -> Image.Image:
    width, height = size
    channels = []
    for _ in range(3):
        light = np.zeros((height, width), np.float32)
        for step, share in ((128, 1.0), (32, 0.4), (8, 0.12)):
            coarse = rng.random((height // step + 3, width // step + 3)).astype(np.float32)
            light += share * np.asarray(Image.fromarray(coarse).resize(size, Image.Resampling.BICUBIC))
        light = 20 + (light - light.min()) * (190 / (light.max() - light.min()))
        channels.append((light + rng.normal(0, 2.0, light.shape)).clip(0, 245).astype(np.uint8))
    photo = Image.fromarray(np.stack(channels, axis=-1)).convert("RGBA")
    mask = Image.new("L", size, 0)
    edge = min(size) // 10
    ImageDraw.Draw(mask).ellipse((edge, edge, width - edge, height - edge), fill=255)
    photo.putalpha(mask.filter(ImageFilter.GaussianBlur(float(rng.uniform(1, 6)))))
    return photo


def _gradient(rng: np.random.Generator, size: tuple[int, int]) -> Image.Image:
    y, x = np.mgrid[0 : size[1], 0 : size[0]] / np.array(size)[::-1, None, None]
    share = (x if rng.random() < 0.5 else y)[..., None]
    low, high = rng.integers(0, 230, 3), rng.integers(0, 230, 3)
    colours = low + (high - low) * share
    alpha = Image.new("L", size, 0)
    edge = min(size) // 8
    box = (edge, edge, size[0] - edge, size[1] - edge)
    ImageDraw.Draw(alpha).rounded_rectangle(box, edge, fill=255)
    image = Image.fromarray(colours.astype(np.uint8), "RGB").convert("RGBA")
    image.putalpha(alpha.filter(ImageFilter.GaussianBlur(0.7)))
    return image


def _glow(rng: np.random.Generator, size: tuple[int, int]) -> Image.Image:
    """A shape with a light around it: Gaussian, or falling off with the square of the distance, or faint altogether."""
    y, x = np.mgrid[0 : size[1], 0 : size[0]]
    reach = min(size) / 2 - 4
    far = np.hypot(x - size[0] / 2, y - size[1] / 2) / reach
    kind, strength = int(rng.integers(3)), float(rng.uniform(0.1, 1.0))
    if kind == 0:
        light = np.exp(-((far * rng.uniform(2.0, 4.0)) ** 2) / 2)
    elif kind == 1:
        light = np.clip(1 / (1 + (far * rng.uniform(2, 5)) ** 2) - 0.04, 0, 1)
    else:
        light = np.clip(1 - far, 0, 1) ** rng.uniform(1, 3)
    light = light * np.clip((1 - far) * 8, 0, 1)
    rgba = np.zeros((size[1], size[0], 4), np.uint8)
    rgba[..., :3] = rng.integers(0, 220, 3)
    rgba[..., 3] = (255 * strength * light).round()
    image = Image.fromarray(rgba, "RGBA")
    image.alpha_composite(_logo(rng, (size[0] // 2, size[1] // 2)), (size[0] // 4, size[1] // 4))
    return image


def _lines(rng: np.random.Generator, size: tuple[int, int]) -> Image.Image:
    """Strokes of 8 to 14 pixels: bold enough for 300 pixels an inch."""
    image = _canvas(size, 3)
    pen = ImageDraw.Draw(image)
    colour = _colour(rng)
    for i in range(int(rng.integers(3, 8))):
        points = [
            (int(rng.uniform(0.15, 0.85) * image.width), int(rng.uniform(0.15, 0.85) * image.height)) for _ in range(3)
        ]
        pen.line(points, fill=colour, width=3 * int(rng.integers(8, 15)), joint="curve")
        if i % 2:
            left, right = sorted(p[0] for p in points[:2])
            top, bottom = sorted(p[1] for p in points[:2])
            pen.ellipse((left, top, right + 60, bottom + 60), outline=colour, width=33)
    return image.resize(size, Image.Resampling.BOX)
