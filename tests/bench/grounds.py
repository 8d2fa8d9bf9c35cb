"""Light grounds: how many are found, missed, or found where there is none, on pictures whose truth is known.

    python tests/bench/grounds.py [--show FOLDER]

Each picture is made here: artwork with alpha laid on a ground that is drawn, lit unevenly, grained and packed as a
JPEG, or a picture without a ground. After mending, the ink bounds are compared with those of the artwork on clear, and
its colours with what they were, more than three pixels from the artwork's edge. Needs the example's artwork.
"""

from __future__ import annotations

import argparse
import io
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from PIL import Image, ImageDraw, ImageFilter

from impose.art.decode import decode_png
from impose.art.faults.ground import find_ground, whiten_ground
from impose.art.png import read_png
from impose.art.prepare import PreparationOptions, prepare_picture

ART = Path(__file__).resolve().parent.parent.parent / "examples" / "lantern-night" / "art"
SIZE = 720


@dataclass(frozen=True)
class Case:
    """A picture; whether it has a ground that shows, whether that may be made white, and the artwork on clear."""

    name: str
    image: Image.Image
    ground: bool
    mendable: bool = True
    art: Image.Image | None = None


def artworks() -> Iterator[tuple[str, Image.Image]]:
    """Artwork on clear that stays away from the edge and holds no large part that is as light as paper."""
    for name in ("lantern-crest", "carp-back"):
        if (ART / f"{name}.png").exists():
            yield name, _framed(Image.open(ART / f"{name}.png").convert("RGBA"))
    rng = np.random.default_rng(5)
    disc = Image.new("RGBA", (SIZE, SIZE))
    pen = ImageDraw.Draw(disc)
    pen.ellipse((140, 160, 560, 580), fill=(190, 40, 60, 255))
    pen.ellipse((240, 260, 380, 400), fill=(20, 90, 160, 255))
    yield "disc", disc
    letters = Image.new("RGBA", (SIZE, SIZE))
    pen = ImageDraw.Draw(letters)
    for i, word in enumerate(("LANTERN", "NIGHT", "CREW 26")):
        pen.text((90, 140 + 150 * i), word, fill=(20, 30, 90, 255), font_size=120)
    yield "letters", letters
    strokes = Image.new("RGBA", (SIZE, SIZE))
    pen = ImageDraw.Draw(strokes)
    for _ in range(14):
        points = [tuple(map(int, point)) for point in rng.integers(80, SIZE - 80, (3, 2))]
        pen.line(points, fill=(*map(int, rng.integers(0, 150, 3)), 255), width=9, joint="curve")
    yield "strokes", strokes
    wash = np.zeros((SIZE, SIZE, 4), np.uint8)
    y, x = np.mgrid[0:SIZE, 0:SIZE]
    inside = ((x - 360) / 240) ** 2 + ((y - 350) / 190) ** 2 < 1 + 0.08 * np.sin(9 * np.arctan2(y - 350, x - 360))
    wash[..., 0], wash[..., 1], wash[..., 2] = 60 + x // 8, 120 + y // 12, 170
    wash[..., 3] = np.where(inside, 255, 0)
    yield "wash", Image.fromarray(wash)


def _framed(image: Image.Image) -> Image.Image:
    image.thumbnail((SIZE - 120, SIZE - 120))
    whole = Image.new("RGBA", (SIZE, SIZE))
    whole.paste(image, ((SIZE - image.width) // 2, (SIZE - image.height) // 2))
    return whole


def papers() -> Iterator[tuple[str, np.ndarray, float, int]]:
    """Grounds as rows, columns and channels, their grain, and the JPEG quality they are packed with."""
    y, x = (np.mgrid[0:SIZE, 0:SIZE] / (SIZE - 1) - 0.5)[:, :, :, None]
    one = np.ones((SIZE, SIZE, 3))
    yield "flat 240", one * (240, 240, 238), 0, 85
    yield "grey card", one * (205, 205, 207), 1.5, 80
    yield "lit from the left", one * (240, 238, 234) - 25 * (x + 0.5), 3, 90
    yield "lamplight", one * (236, 226, 208) - 18 * (x + y), 2, 88
    yield "vignette", one * (232, 231, 228) - 60 * (x**2 + y**2), 2, 85
    yield "shadow of a hand", one * (238, 236, 232) - 34 * np.clip(y + 0.5, 0, 1) ** 2, 3, 75


def on(art: Image.Image, paper: np.ndarray, grain: float, quality: int, seed: int) -> Image.Image:
    """Artwork on a ground as a photograph of it."""
    noise = np.random.default_rng(seed).normal(0, grain, (SIZE, SIZE, 1)) if grain else 0
    image = Image.fromarray(np.clip(paper + noise, 0, 255).astype(np.uint8))
    image.paste(art, mask=art.getchannel("A"))
    file = io.BytesIO()
    image.save(file, "JPEG", quality=quality)
    return Image.open(file).convert("RGB")


def with_grounds(only: str = "") -> Iterator[Case]:
    """Artwork on each ground; all of it, or that of one title."""
    for seed, (title, art) in enumerate(artworks()):
        for paper in papers() if only in ("", title) else ():
            yield Case(f"{title}, {paper[0]}", on(art, *paper[1:], seed), True, True, art)


def enclosed() -> Iterator[Case]:
    """Drawings whose outline lets the ground in: much of it lies inside, so it is found and left alone."""
    for seed, (name, paper, grain, quality) in enumerate(papers()):
        art = Image.new("RGBA", (SIZE, SIZE))
        pen = ImageDraw.Draw(art)
        # An outline with a gap too narrow to see.
        pen.arc((120, 120, 600, 600), 2, 359, fill=(20, 20, 30, 255), width=10)
        pen.line((250, 300, 300, 300), fill=(150, 30, 40, 255), width=12)
        yield Case(f"outline, {name}", on(art, paper, grain, quality, seed), True, False)


def without_grounds() -> Iterator[Case]:
    """Pictures of which nothing may be said."""
    for seed, (title, art) in enumerate(artworks()):
        yield Case(f"{title} on white, JPEG", on(art, np.full((SIZE, SIZE, 3), 255.0), 0, 60 + 6 * seed, seed), False)
        yield Case(f"{title} on clear", art, False)
    y, x = (np.mgrid[0:SIZE, 0:SIZE] / (SIZE - 1))[:, :, :, None]
    rng = np.random.default_rng(2)
    valley = Image.open(ART / "weir-valley.png").convert("RGB") if (ART / "weir-valley.png").exists() else None
    if valley is not None:
        yield Case("photograph to the edge", valley.crop((60, 60, 1380, 900)), False)
    one = np.ones((SIZE, SIZE, 3))
    drawn = {
        "sky over land": np.where(y < 0.55, one * (214, 226, 238) + 20 * y, one * (70, 90, 50) + 40 * x),
        "light wall, dark floor": np.where(y < 0.7, one * (226, 224, 220), one * (90, 70, 60)),
        "night": one * (20, 22, 40) + 30 * y,
        "even grey": one * (232, 232, 232),
        "sunset": one * (250, 180, 120) - 100 * y,
        "pink block": one * (250, 200, 212),
        "mint block": one * (190, 240, 214),
        "yellow block": one * (255, 240, 150),
        "sky blue block": one * (190, 220, 250),
        "strong vignette": one * (245, 245, 245) - 420 * ((x - 0.5) ** 2 + (y - 0.5) ** 2),
    }
    for name, pixels in drawn.items():
        image = Image.fromarray(np.clip(pixels + rng.normal(0, 2, (SIZE, SIZE, 1)), 0, 255).astype(np.uint8))
        if name.endswith("block"):
            ImageDraw.Draw(image).ellipse((200, 200, 520, 520), fill=(40, 30, 90))
        yield Case(name, image, False)
    tiles = np.where(((x * 12).astype(int) + (y * 12).astype(int)) % 2, 240.0, 200.0) * one
    yield Case("light checks", Image.fromarray(tiles.astype(np.uint8)), False)
    cloud = Image.fromarray(rng.integers(120, 255, (24, 24, 3), dtype=np.uint8)).resize(
        (SIZE, SIZE), Image.Resampling.BICUBIC
    )
    yield Case("clouds", cloud, False)
    yield Case("soft stripes", Image.fromarray(((np.sin(x * 40) * 24 + 220) * one).astype(np.uint8)), False)


def cases() -> list[Case]:
    """All of them."""
    return [*with_grounds(), *enclosed(), *without_grounds()]


def png(image: Image.Image) -> bytes:
    file = io.BytesIO()
    image.save(file, "PNG", compress_level=1)
    return file.getvalue()


def found(case: Case) -> str:
    """What is said of a picture: "" or the kind."""
    kinds = {finding.kind for finding in prepare_picture(png(case.image), PreparationOptions(rows=False)).findings}
    return next((kind for kind in ("ground", "off-white") if kind in kinds), "")


def mended(case: Case) -> Image.Image | None:
    """The picture with its ground white, None where that is refused."""
    frame = decode_png(read_png(png(case.image)))
    ground = find_ground(frame)
    if ground is None or not ground.mendable:
        return None
    return whiten_ground(frame, ground).image


def misses_of_bounds(case: Case, white: Image.Image) -> int:
    """By how many pixels a side of the ink bounds lies off those of the artwork on clear, at most."""
    assert case.art is not None
    want, got = (
        prepare_picture(png(case.art), PreparationOptions(rows=False)).ink,
        prepare_picture(png(white), PreparationOptions(rows=False)).ink,
    )
    return max(abs(a - b) for a, b in zip(want, got, strict=True))


def moved_colours(case: Case, white: Image.Image) -> int:
    """Levels by which a colour was moved, more than three pixels inside the artwork, at most."""
    assert case.art is not None
    solid = case.art.getchannel("A").point([255 * (level == 255) for level in range(256)])
    inner = np.asarray(solid.filter(ImageFilter.MinFilter(9))) > 0
    before, after = (np.asarray(one.convert("RGB")).astype(int) for one in (case.image, white))
    return int(np.abs(before - after).max(axis=2)[inner].max()) if inner.any() else 0


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--show", type=Path, help="write pictures that went wrong there, before and after")
    show = parser.parse_args().show
    hits = misses = false = wrong = 0
    off, moved = [], []
    everything = cases()
    for case in everything:
        said = found(case)
        white = mended(case)
        if case.ground:
            hits += bool(said)
            misses += not said
            wrong += (white is not None) != case.mendable
        else:
            false += bool(said)
        bad = bool(said) != case.ground or (case.ground and (white is not None) != case.mendable)
        if white is not None and case.art is not None:
            off.append(misses_of_bounds(case, white))
            moved.append(moved_colours(case, white))
            bad |= off[-1] > 2 or moved[-1] > 1
        if bad:
            print(
                f"{case.name}: said {said or 'nothing'}, mended {white is not None}, off {off[-1:]} moved {moved[-1:]}"
            )
            if show:
                show.mkdir(parents=True, exist_ok=True)
                case.image.convert("RGB").save(show / f"{case.name}.png")
                if white is not None:
                    white.convert("RGB").save(show / f"{case.name} white.png")
    grounds = sum(case.ground for case in everything)
    print(f"{len(everything)} pictures, {grounds} with a ground")
    print(f"found {hits}, missed {misses}, false alarms {false}, mended or refused wrongly {wrong}")
    print(f"bounds off by {max(off)} px at most, {sum(one <= 1 for one in off)} of {len(off)} within 1")
    print(f"colours inside moved by {max(moved)} levels at most")


if __name__ == "__main__":
    main()
