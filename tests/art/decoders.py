"""What other decoders make of the corpus: prints the tables of the artwork document.

    python tests/art/decoders.py

Needs opencv-python-headless (libpng inside) besides the test dependencies. "Right" is within one level in 255 of
pypng over white; MuPDF's premultiplied colours are laid on white as they are.
"""

from __future__ import annotations

import io
import sys
from collections.abc import Callable
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parent.parent.parent))
sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

from art.rebuilt import expected
from impose.art.decode import decode_png
from impose.art.ink import composite_over_white
from impose.art.png import read_png
from impose.errors import Trouble

CORPUS = Path(__file__).resolve().parent / "corpus"
GROUPS = (
    ("grey, 1 to 8 bits", ("grey-0",)),
    ("grey, 16 bits", ("grey-16",)),
    ("grey with alpha", ("grey-alpha",)),
    ("RGB", ("rgb-",)),
    ("palette, 1 to 8 bits", ("palette-0",)),
    ("RGB with alpha", ("rgba-",)),
    ("odd sizes, plain and interlaced", ("size-",)),
    ("each row filter", ("filter-",)),
    ("split, stored and small-window data", ("stream-", "idat-")),
    ("other chunks before and after", ("chunk-",)),
    ("palette lengths and hist", ("palette-s", "palette-l", "palette-t", "palette-h")),
    ("odd but readable", ("odd-", "trns-")),
)


def ours(content: bytes) -> np.ndarray:
    frame = decode_png(read_png(content))
    return np.asarray(composite_over_white(frame, (0, 0, *frame.image.size)), np.float64)


def pillow(content: bytes) -> np.ndarray:
    from PIL import Image

    with Image.open(io.BytesIO(content)) as image:
        image.load()
        return on_white(np.asarray(image.convert("RGBA"), np.float64))


def mupdf(content: bytes) -> np.ndarray:
    import pymupdf

    pixmap = pymupdf.Pixmap(content)
    if pixmap.colorspace.n not in (1, 3):
        pixmap = pymupdf.Pixmap(pymupdf.csRGB, pixmap)
    pixels = np.frombuffer(pixmap.samples, np.uint8).reshape(pixmap.height, pixmap.width, pixmap.n).astype(np.float64)
    return pixels[:, :, :-1] + 255 - pixels[:, :, -1:] if pixmap.alpha else pixels


def opencv(content: bytes) -> np.ndarray:
    import cv2

    pixels = cv2.imdecode(np.frombuffer(content, np.uint8), cv2.IMREAD_UNCHANGED)
    if pixels is None:
        raise ValueError("refused")
    pixels = pixels.astype(np.float64) / (257 if pixels.dtype == np.uint16 else 1)
    if pixels.ndim == 2:
        return pixels
    return on_white(pixels[:, :, [2, 1, 0, 3][: pixels.shape[2]]])


def on_white(pixels: np.ndarray) -> np.ndarray:
    if pixels.shape[2] == 3:
        return pixels
    alpha = pixels[:, :, 3:] / 255
    return 255 - alpha * (255 - pixels[:, :, :3])


def right(decoder: Callable[[bytes], np.ndarray], content: bytes) -> bool:
    try:
        found = np.round(decoder(content))
    except Exception:
        return False
    found = found.reshape(*found.shape[:2], -1)
    return bool(np.abs(found - expected(content)).max() <= 1)


def accepts(decoder: Callable[[bytes], np.ndarray], content: bytes) -> bool:
    try:
        decoder(content)
    except Exception:
        return False
    return True


DECODERS = {"ours": ours, "Pillow": pillow, "MuPDF": mupdf, "OpenCV": opencv}


def main() -> None:
    import cv2
    import PIL
    import pymupdf

    cv2.utils.logging.setLogLevel(cv2.utils.logging.LOG_LEVEL_SILENT)
    pymupdf.TOOLS.mupdf_display_errors(False)
    pymupdf.TOOLS.mupdf_display_warnings(False)
    print(f"Pillow {PIL.__version__}, MuPDF {pymupdf.mupdf_version}, OpenCV {cv2.__version__}\n")
    print("| valid files | files | " + " | ".join(DECODERS) + " |\n|---|---|" + "---|" * len(DECODERS))
    for title, beginnings in GROUPS:
        files = [p.read_bytes() for p in sorted((CORPUS / "valid").glob("*.png")) if p.stem.startswith(beginnings)]
        counts = [sum(right(decoder, content) for content in files) for decoder in DECODERS.values()]
        print(
            f"| {title} | {len(files)} | "
            + " | ".join(str(c) if c == len(files) else f"**{c}**" for c in counts)
            + " |"
        )
    others = {name: decoder for name, decoder in DECODERS.items() if name != "ours"}
    print("\n| damaged file | ours says | " + " | ".join(others) + " |\n|---|---|" + "---|" * len(others))
    for path in sorted((CORPUS / "damaged").glob("*.png")):
        content = path.read_bytes()
        try:
            ours(content)
            said = "**read**"
        except Trouble as trouble:
            said = trouble.findings[0].what
        verdicts = ["**reads it**" if accepts(decoder, content) else "refuses" for decoder in others.values()]
        print(f"| {path.stem.split('--')[1]} | {said} | " + " | ".join(verdicts) + " |")


if __name__ == "__main__":
    main()
