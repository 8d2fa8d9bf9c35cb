"""Small sound files of every format, made here from pictures whose every pixel is known."""

from __future__ import annotations

import io
import struct
from functools import cache
from typing import Any

import numpy as np
from PIL import Image

KINDS = ("JPEG", "WebP", "TIFF", "AVIF", "PSD", "SVG", "PDF")


def drawn(width: int = 64, height: int = 48) -> Image.Image:
    """An RGBA picture with soft edges, a gradient and clear parts."""
    y, x = np.mgrid[0:height, 0:width]
    rgba = np.zeros((height, width, 4), np.uint8)
    rgba[..., 0] = 200 - 150 * x // width
    rgba[..., 1] = 60 + 120 * y // height
    rgba[..., 2] = 140
    away = np.hypot(x - width / 2, y - height / 2)
    rgba[..., 3] = np.clip((height / 2 - 4 - away) * 60, 0, 255)
    return Image.fromarray(rgba)


def flat(image: Image.Image, ground: str = "white") -> Image.Image:
    """The picture over a ground."""
    made = Image.new("RGB", image.size, ground)
    made.paste(image, mask=image.getchannel("A"))
    return made


def saved(image: Image.Image, kind: str, **how: Any) -> bytes:
    """A file of the picture by Pillow."""
    file = io.BytesIO()
    image.save(file, kind, **how)
    return file.getvalue()


def psd(image: Image.Image) -> bytes:
    """A PSD of a flattened picture without layers, uncompressed (Adobe Photoshop File Formats, 2019)."""
    bands = image.split()
    mode = {1: 1, 3: 3, 4: 3}[len(bands)]
    head = b"8BPS" + struct.pack(">H6xHIIHH", 1, len(bands), image.height, image.width, 8, mode)
    return head + struct.pack(">IIIH", 0, 0, 0, 0) + b"".join(band.tobytes() for band in bands)


SVG = (
    '<svg xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink" width="300" height="300" '
    'viewBox="0 0 300 300">%s</svg>'
)

SVGS = {
    "shapes": '<path d="M50 50C100 0 200 0 250 50S300 250 150 280 0 100 50 50z" fill="#c0392b" stroke="#112233" '
    'stroke-width="6" stroke-dasharray="12 5"/><circle cx="150" cy="150" r="60" fill="#2980b9" fill-opacity=".5"/>',
    "gradient": '<defs><linearGradient id="g" x1="0" x2="1"><stop offset="0" stop-color="#f00"/><stop offset="1" '
    'stop-color="#00f" stop-opacity="0"/></linearGradient></defs><rect x="20" y="20" width="260" height="120" '
    'fill="url(#g)"/><circle cx="150" cy="215" r="70" fill="#0a0"/>',
    "clip": '<defs><clipPath id="c"><circle cx="150" cy="150" r="120"/></clipPath></defs><g clip-path="url(#c)"><rect '
    'width="300" height="150" fill="#e67e22"/><rect y="150" width="300" height="150" fill="#8e44ad"/></g>',
    "mask": '<defs><linearGradient id="g"><stop offset="0" stop-color="#000"/><stop offset="1" stop-color="#fff"/>'
    '</linearGradient><mask id="m"><rect width="300" height="300" fill="url(#g)"/></mask></defs><rect x="20" y="20" '
    'width="260" height="260" fill="#16a085" mask="url(#m)"/>',
    "use": '<defs><g id="s"><path d="M0-40L10-10 40 0 10 10 0 40-10 10-40 0-10-10z"/></g></defs><use href="#s" '
    'transform="translate(80 80)" fill="#c00"/><use xlink:href="#s" transform="translate(200 180) scale(2) rotate(20)" '
    'fill="#06c"/>',
    "blend": '<circle cx="120" cy="150" r="90" fill="#0ff"/><circle cx="180" cy="150" r="90" fill="#f0f" '
    'style="mix-blend-mode:multiply"/>',
    "css": "<style>.a{fill:#d35400}.b{fill:none;stroke:#2c3e50;stroke-width:10px}</style><rect class='a' x='20' y='20' "
    "width='100' height='100'/><path class='b' d='M20 200h260'/>",
    "evenodd": '<path fill-rule="evenodd" d="M150 20L230 280 20 110h260L70 280z" fill="#333"/>',
}


def svg(inner: str) -> bytes:
    """An SVG of 300 by 300."""
    return (SVG % inner).encode()


@cache
def pdf(pages: int = 1, locked: bool = False) -> bytes:
    """A PDF of pages that differ in colour, on clear ground."""
    import pymupdf

    document = pymupdf.open()
    for number in range(pages):
        page = document.new_page(width=300, height=200)
        page.draw_rect((40, 30, 240, 150), fill=(0.8, 0.1 * number, 0.2), color=(0, 0, 0.5), width=6)
        page.draw_circle((140, 90), 40, fill=(1, 0.9, 0.1), color=None, fill_opacity=0.5)
    how = {"encryption": pymupdf.PDF_ENCRYPT_AES_256, "user_pw": "a", "owner_pw": "b"} if locked else {}
    content: bytes = document.tobytes(no_new_id=True, **how)
    return content


@cache
def of(kind: str) -> tuple[bytes, ...]:
    """Several sound files of a format."""
    art = drawn()
    white = flat(art)
    if kind == "JPEG":
        exif = Image.Exif()
        exif[0x112] = 6
        return (
            saved(white, "JPEG", quality=80),
            saved(white, "JPEG", quality=90, progressive=True, subsampling=0),
            saved(white.convert("L"), "JPEG"),
            saved(white, "JPEG", exif=exif.tobytes(), comment=b"hidden"),
        )
    if kind == "WebP":
        more = [art.transpose(Image.Transpose.ROTATE_180)]
        return (
            saved(art, "WEBP", lossless=True),
            saved(white, "WEBP", quality=80),
            saved(art, "WEBP", quality=80),
            saved(art, "WEBP", save_all=True, append_images=more),
        )
    if kind == "TIFF":
        return (
            saved(art, "TIFF", compression="tiff_lzw"),
            saved(white, "TIFF"),
            saved(white, "TIFF", compression="tiff_adobe_deflate", save_all=True, append_images=[white]),
            saved(white, "TIFF", compression="jpeg"),
            saved(white.convert("1"), "TIFF", compression="group4"),
            saved(white, "TIFF", compression="packbits"),
        )
    if kind == "AVIF":
        return (saved(art, "AVIF", quality=70), saved(white, "AVIF", quality=70))
    if kind == "PSD":
        return (psd(art), psd(white), psd(white.convert("L")))
    if kind == "SVG":
        return tuple(svg(inner) for inner in SVGS.values())
    return (pdf(), pdf(2))
