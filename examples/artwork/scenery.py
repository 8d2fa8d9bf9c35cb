"""A picture with the grain of a photograph: the valley from the weir bridge, painted out of layered noise."""

import numpy as np
from numpy.typing import NDArray

from artwork.canvas import Canvas, Grid, vertical
from artwork.motifs import noise
from artwork.shapes import ellipse

WIDTH, HEIGHT = 1440, 960


def _ridge(seed: int, level: float, rise: float, coarsest: int) -> Grid:
    """Height of a skyline, in units, for every column."""
    strip = noise(seed, 4, WIDTH, coarsest, 6, 0.52)[1]
    result: Grid = (level - rise * (strip - 0.5) * 2).astype(np.float32)
    return result


def _below(canvas: Canvas, skyline: Grid, soft: float) -> Grid:
    _, y = canvas.grid()
    result: Grid = np.clip((y - skyline[None, :]) / np.float32(soft) + 0.5, 0, 1).astype(np.float32)
    return result


def _sky(canvas: Canvas) -> None:
    x, y = canvas.grid()
    canvas.shade(
        np.ones_like(y), vertical((0, "#0f1a4a"), (14, "#2e2f74"), (25, "#8a4a86"), (33, "#e57b5a"), (38, "#ffc268"))
    )
    stretched = noise(21, HEIGHT, WIDTH, 4, 6, 0.55, flat=3)
    cloud = np.clip((stretched - 0.5) * 5, 0, 1) * np.clip(1.15 - np.abs(y - 22) / 16, 0, 1)
    canvas.shade((cloud * 0.55).astype(np.float32), vertical((6, "#5b4a8c"), (24, "#f08f73"), (36, "#ffd59a")))
    source = np.random.RandomState(5)
    for _ in range(150):
        sx, sy, size = source.random_sample() * 100, source.random_sample() ** 1.5 * 24, source.random_sample()
        canvas.fill(
            ellipse(sx, sy, 0.05 + 0.1 * size**3, steps=10), "#fff6dc", alpha=(0.35 + 0.6 * size) * (1 - sy / 28)
        )
    canvas.glow(ellipse(70, 13, 3.2), "#ffeec0", 9, 0.75)
    canvas.fill(ellipse(70, 13, 3.2), "#fff4d2")
    seas = np.clip((noise(33, HEIGHT, WIDTH, 26, 4) - 0.5) * 4, 0, 1) * (np.hypot(x - 70, y - 13) < 3.1)
    canvas.shade((seas * 0.35).astype(np.float32), "#d9b98a")


def _hills(canvas: Canvas) -> None:
    _, y = canvas.grid()
    layers = (
        (41, 34.5, 4.0, 5, "#b0648a", 0.3),
        (42, 38.0, 3.6, 6, "#7d4a80", 0.25),
        (43, 41.5, 3.0, 7, "#4f3768", 0.2),
        (44, 44.6, 2.2, 9, "#2f2850", 0.16),
    )
    for seed, level, rise, coarsest, shade, soft in layers:
        skyline = _ridge(seed, level, rise, coarsest)
        if seed >= 43:
            trees = noise(seed + 50, 4, WIDTH, 160, 3, 0.7)[1]
            skyline = skyline - np.clip(trees - 0.42, 0, 1) * (2.6 if seed == 43 else 4.2)
        body = _below(canvas, skyline, soft)
        canvas.shade(body, shade)
        folds = np.clip((noise(seed + 9, HEIGHT, WIDTH, 14, 5, 0.6) - 0.47) * 3.2, 0, 1)
        canvas.shade((body * folds * 0.3).astype(np.float32), "#ffb48a" if seed < 43 else "#6d4f7c")
        haze = (
            body * np.clip(1 - (y - skyline[None, :] - 1.2) / 4.5, 0, 1) * np.clip((y - skyline[None, :]) / 1.2, 0, 1)
        )
        canvas.shade((haze * 0.28).astype(np.float32), "#ffcf9e")


def _river(canvas: Canvas) -> None:
    _, y = canvas.grid()
    shore = 47.2 + (noise(61, 4, WIDTH, 9, 4)[1] - 0.5) * 1.6
    water = _below(canvas, shore.astype(np.float32), 0.2)
    canvas.shade(water, vertical((46, "#f3a56c"), (49, "#a7668a"), (55, "#3f3b78"), (67, "#141b48")))
    # Water stretches what it reflects: noise far finer down the page than across, finer still in the distance.
    depth = np.clip((y - 46.5) / 20, 0, 1)
    fine = noise(62, HEIGHT, WIDTH // 12, 14, 6, 0.75)
    wave = np.repeat(fine, 12, axis=1)[:, :WIDTH]
    soft = sum(np.roll(wave, shift, axis=1) for shift in range(-9, 10)) / np.float32(19)
    glitter = np.clip((soft - 0.5) * (9 - 4 * depth), 0, 1)
    canvas.shade(
        (water * glitter * (0.55 - 0.25 * depth)).astype(np.float32),
        vertical((46, "#ffe0a8"), (56, "#c98aa0"), (67, "#4d5fa0")),
    )
    dark = np.clip((0.48 - soft) * 8, 0, 1)
    canvas.shade((water * dark * 0.4).astype(np.float32), "#1c1d4d")


def _lights(canvas: Canvas) -> None:
    """Lanterns afloat, each with its wavering track on the water."""
    source = np.random.RandomState(8)
    for index in range(17):
        depth = (index + source.random_sample()) / 17
        x, y = 8 + 84 * source.random_sample(), 48.6 + 14 * depth**1.6
        size = 0.22 + 0.75 * depth
        canvas.glow(ellipse(x, y, size * 1.3), "#ffb347", size * 5.0, 0.8)
        for step in range(7):
            sway = (source.random_sample() - 0.5) * size * 0.9
            reach = size * (1.15 - 0.12 * step)
            canvas.fill(
                ellipse(x + sway, y + size * (1.5 + 0.55 * step), reach, size * 0.16, steps=24),
                "#ffc46b",
                alpha=0.7 - 0.09 * step,
            )
        canvas.fill(ellipse(x, y - size * 0.2, size * 0.8, size * 1.05, steps=40), "#ff9a3d")
        canvas.fill(ellipse(x, y + size * 0.1, size * 0.5, size * 0.7, steps=40), "#fff0b8")


def weir_valley() -> NDArray[np.uint8]:
    """The whole scene with film grain, its edge torn like hand-made paper; opaque, white around."""
    canvas = Canvas(WIDTH, HEIGHT)
    _sky(canvas)
    _hills(canvas)
    _river(canvas)
    mist = np.clip((noise(71, HEIGHT, WIDTH, 5, 5, flat=2) - 0.42) * 3, 0, 1)
    _, y = canvas.grid()
    canvas.shade((mist * np.clip(1 - np.abs(y - 46.4) / 3.0, 0, 1) * 0.55).astype(np.float32), "#ffd9b0")
    _lights(canvas)
    grain = (noise(81, HEIGHT, WIDTH, 720, 1) - 0.5) * np.float32(0.035)
    canvas.light[..., :3] += grain[..., None]
    canvas.keep(_torn(canvas))
    return canvas.on_white()


def _torn(canvas: Canvas) -> Grid:
    x, y = canvas.grid()
    edge = np.minimum(np.minimum(x, 100 - x), np.minimum(y, np.float32(canvas.tall) - y))
    ragged = 1.1 + 2.6 * (noise(91, HEIGHT, WIDTH, 10, 6, 0.6) - 0.5)
    result: Grid = np.clip((edge - ragged) * 5, 0, 1).astype(np.float32)
    return result
