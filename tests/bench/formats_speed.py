"""What a JPEG or WebP costs until it is ready for the page, with Pillow's decoding of the same file as the peer.

    python tests/bench/formats_speed.py [--rounds 3]

Processor time of this process, least of the rounds, peer and ours in turn. The pictures are made here: a crest on white
and a photograph with grain, of 6 megapixels each. Two floors stand beside them, in times the same decoding: deflating
the decoded pixels the fastest way there is, which a PDF needs of whatever cannot lie in it as a JPEG; and looking at
each pixel once, as bytes of rows of which the least of eight is taken.
"""

from __future__ import annotations

import argparse
import io
import time
from collections.abc import Callable

import numpy as np
from PIL import Image, ImageDraw

from impose.art.codec import Search, best_codec
from impose.art.prepare import PreparationOptions
from impose.formats.prepare_file import prepare_file

SIZE = (3000, 2000)
SEARCHES: tuple[Search, ...] = ("nothing", "runs", "repeats")


def crest() -> Image.Image:
    image = Image.new("RGB", SIZE, "white")
    pen = ImageDraw.Draw(image)
    for i in range(40):
        pen.ellipse(
            (900 - 14 * i, 900 - 14 * i, 2100 + 14 * i, 1100 + 14 * i), outline=(6 * i, 40, 200 - 5 * i), width=6
        )
    return image


def photograph() -> Image.Image:
    rng = np.random.default_rng(1)
    small = Image.fromarray(rng.integers(0, 200, (20, 30, 3), dtype=np.uint8)).resize(SIZE, Image.Resampling.BICUBIC)
    grain = rng.normal(0, 3, (SIZE[1], SIZE[0], 3))
    return Image.fromarray(np.clip(np.asarray(small) + grain, 0, 255).astype(np.uint8))


def packed(image: Image.Image, kind: str) -> bytes:
    file = io.BytesIO()
    image.save(file, kind, quality=88)
    return file.getvalue()


def deflate_pixels(image: Image.Image, search: Search) -> None:
    """Every pixel deflated, nothing done to it before."""
    deflater = best_codec().make_deflater(search)
    deflater.compress(image.tobytes())
    deflater.flush()


def look_once(image: Image.Image) -> None:
    """Every pixel as numpy sees it, once."""
    rows = np.frombuffer(image.tobytes(), np.uint8).reshape(SIZE[1] // 8, 8, -1)
    np.minimum.reduce(rows, axis=1)


def spent(work: Callable[[], object]) -> float:
    begun = time.process_time()
    work()
    return time.process_time() - begun


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--rounds", type=int, default=3)
    rounds = parser.parse_args().rounds
    for title, image in (("crest", crest()), ("photograph", photograph())):
        for kind in ("JPEG", "WEBP"):
            content = packed(image, kind)
            peer = [spent(lambda content=content: Image.open(io.BytesIO(content)).load()) for _ in range(rounds)]
            seen = [
                spent(lambda content=content: prepare_file(content, PreparationOptions(rows=False)))
                for _ in range(rounds)
            ]
            ours = [spent(lambda content=content: prepare_file(content, PreparationOptions())) for _ in range(rounds)]
            plain = Image.open(io.BytesIO(content)).convert("RGB")
            deflated = min(
                spent(lambda plain=plain, search=search: deflate_pixels(plain, search))
                for _ in range(rounds)
                for search in SEARCHES
            ) / min(peer)
            looked = min(spent(lambda plain=plain: look_once(plain)) for _ in range(rounds)) / min(peer)
            print(
                f"{title} {kind}: Pillow {min(peer):.3f} s, examined {min(seen) / min(peer):.2f} times that, "
                f"ready for the page {min(ours) / min(peer):.2f}; floors: deflating {deflated:.2f}, a look {looked:.2f}"
            )


if __name__ == "__main__":
    main()
