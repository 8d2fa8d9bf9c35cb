"""What a JPEG or WebP costs until it is ready for the page, with Pillow's decoding of the same file as the peer.

    python tests/bench/formats_speed.py [--rounds 5] [--only WEBP]

Processor time of this process, least of the rounds; the peer, the look and all of it take turns in each round. The
pictures are made here, of 6 megapixels each: a crest on white, of which a margin is cut off, and a photograph with
grain that fills its canvas. Beside what they cost stand, in times the same decoding, parts that nothing can leave out:
deflating the decoded pixels, which a PDF needs of whatever cannot lie in it as a JPEG, and looking at each pixel once.

    python tests/bench/formats_speed.py --deflaters

deflates the rows of the same two pictures, filtered as they are for the page, by every library and way that is
installed (zlib, zlib-ng; libdeflate as the package `deflate`, ISA-L as `isal`): time, and share of the raw size.
"""

from __future__ import annotations

import argparse
import importlib
import io
import time
import zlib
from collections.abc import Callable, Iterator

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


def packed(image: Image.Image, kind: str, **how: object) -> bytes:
    file = io.BytesIO()
    image.save(file, kind, **({"quality": 88} | how))
    return file.getvalue()


def turned(image: Image.Image) -> bytes:
    """A JPEG that a camera held upright stores: on its side, with a note to turn it by 90 degrees clockwise."""
    exif = Image.Exif()
    exif[0x0112] = 6
    return packed(image, "JPEG", exif=exif.tobytes())


def list_files() -> Iterator[tuple[str, bytes]]:
    for title, image in (("photograph", photograph()), ("crest on white", crest())):
        yield f"{title}, JPEG", packed(image, "JPEG")
        yield f"{title}, JPEG, progressive", packed(image, "JPEG", progressive=True)
        yield f"{title}, JPEG, turned by Exif", turned(image)
        yield f"{title}, WEBP", packed(image, "WEBP")
        yield f"{title}, WEBP, lossless", packed(image, "WEBP", lossless=True, method=1)


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


def measure_file(content: bytes, rounds: int) -> str:
    """One line of times the peer's."""
    plain = Image.open(io.BytesIO(content)).convert("RGB")
    works: dict[str, Callable[[], object]] = {
        "peer": lambda: Image.open(io.BytesIO(content)).load(),
        "examined": lambda: prepare_file(content, PreparationOptions(rows=False, orientation="apply")),
        "ready for the page": lambda: prepare_file(content, PreparationOptions(orientation="apply")),
        "a look": lambda: look_once(plain),
        **{f"deflated {search}": lambda search=search: deflate_pixels(plain, search) for search in SEARCHES},
    }
    least = dict.fromkeys(works, float("inf"))
    for _ in range(rounds):
        for name, work in works.items():
            least[name] = min(least[name], spent(work))
    peer = least.pop("peer")
    deflating = min(least.pop(f"deflated {search}") for search in SEARCHES)
    shares = ", ".join(f"{name} {value / peer:.2f}" for name, value in least.items())
    return f"Pillow {1000 * peer:.0f} ms; {shares}, deflating at least {deflating / peer:.2f}"


def list_deflaters() -> Iterator[tuple[str, Callable[[bytes], bytes]]]:
    """Ways to deflate one piece of data, of the libraries at hand."""
    for name, package in (("zlib", "zlib"), ("zlib-ng", "zlib_ng.zlib_ng")):
        library = importlib.import_module(package)
        for level, strategy, said in (
            (0, zlib.Z_DEFAULT_STRATEGY, "stored as it is"),
            (1, zlib.Z_DEFAULT_STRATEGY, "level 1"),
            (2, zlib.Z_DEFAULT_STRATEGY, "level 2"),
            (1, zlib.Z_RLE, "runs"),
            (1, zlib.Z_HUFFMAN_ONLY, "nothing looked for"),
        ):

            def deflate(data: bytes, library=library, level=level, strategy=strategy) -> bytes:
                deflater = library.compressobj(level, zlib.DEFLATED, 15, 8, strategy)
                return deflater.compress(data) + deflater.flush()

            yield f"{name}, {said}", deflate
    try:
        deflate_package = importlib.import_module("deflate")
        yield "libdeflate, level 1", lambda data: deflate_package.zlib_compress(data, 1)
    except ImportError:
        pass
    try:
        isal = importlib.import_module("isal.isal_zlib")
        for level in (0, 1):
            yield f"ISA-L, level {level}", lambda data, level=level: isal.compress(data, level)
    except ImportError:
        pass


def filter_rows(image: Image.Image) -> bytes:
    rows = np.asarray(image)[:, ::-1].reshape(image.height, -1)
    return np.diff(rows, axis=0, prepend=np.zeros((1, rows.shape[1]), np.uint8)).tobytes()


def compare_deflaters(rounds: int) -> None:
    for title, image in (("photograph", photograph()), ("crest on white", crest())):
        lossy = packed(image, "WEBP")
        peer = min(spent(lambda lossy=lossy: Image.open(io.BytesIO(lossy)).load()) for _ in range(rounds))
        data = filter_rows(Image.open(io.BytesIO(lossy)).convert("RGB"))
        print(f"{title}, WEBP: Pillow {1000 * peer:.0f} ms")
        for name, deflate in list_deflaters():
            took = min(spent(lambda deflate=deflate, data=data: deflate(data)) for _ in range(rounds))
            share = len(deflate(data)) / len(data)
            print(f"  {name}: {1000 * took:.0f} ms, {took / peer:.2f} times the decoding; {share:.0%} of the size")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--rounds", type=int, default=5)
    parser.add_argument("--only", default="", help="files whose title holds this")
    parser.add_argument("--deflaters", action="store_true")
    wish = parser.parse_args()
    if wish.deflaters:
        compare_deflaters(wish.rounds)
        return
    for title, content in list_files():
        if wish.only in title:
            print(f"{title}: {measure_file(content, wish.rounds)}", flush=True)


if __name__ == "__main__":
    main()
