"""JPEG, WebP, TIFF, AVIF, HEIC and flattened PSD by Pillow: pixels and profile, nothing else of the file.

Pillow opens each by the one reader that the first bytes ask for, so that no other of its readers meets the file. Sizes
come from the header and are held to the pixel limit before memory is taken. Metadata (place, thumbnail, comments) stays
behind, since only pixels, profile and orientation go on.
"""

from __future__ import annotations

import io
import struct
import warnings
from collections.abc import Callable
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any

from impose.art.orientation import turn_upright
from impose.art.png import AGAIN
from impose.art.unfilter import can_decode_in_place
from impose.errors import Finding, Severity, Trouble
from impose.file_types import AVIF, HEIC, JPEG, PSD, TIFF, WEBP, FileType
from impose.formats.cmyk import convert_cmyk
from impose.formats.conversion import Converted, make_note, make_refusal, make_size_refusal
from impose.formats.jpeg_markers import find_scan_fault, strip_jpeg
from impose.formats.pixel_memory import IN_PLACE, decode_in_place, take_frame
from impose.formats.png_bytes import write_png_head

if TYPE_CHECKING:
    from collections.abc import Iterator

    from PIL import Image, ImageFile

_SIDE_LIMIT = 1_000_000
_ORIENTATION = 0x0112
_UNDOING = (0, 1, 2, 3, 4, 5, 8, 7, 6)
"""The orientation that undoes each: Pillow turns a TIFF as it loads it, and whether to is not Pillow's to say."""
_AS_RGB = "Save it as RGB with 8 bits a channel, or export a PNG."


def convert_raster(content: bytes, kind: FileType, name: str, pixel_limit: int) -> Converted:
    """The PNG of a raster file. Raises `Trouble` for what is damaged, too large or of colours nobody can tell."""
    findings: list[Finding] = []
    _hold_header(content, kind, name, pixel_limit)
    with _refuse_faults(kind, name):
        image = _open_image(content, kind)
        _hold_size(image.size, pixel_limit, name)
        frames = _count_frames(image, kind)
        icc, orientation = image.info.get("icc_profile") or None, _read_orientation(image, kind)
        mode, bits = image.mode, _read_depth(image, kind)
        memory = None
        if kind is JPEG and mode in IN_PLACE and can_decode_in_place():
            pixels, memory = decode_in_place(content, mode, image.size)
        elif kind is WEBP and (taken := take_frame(image)) is not None:
            pixels, memory = taken
        else:
            image.load()
            plain = _make_plain(image, kind, icc, name, findings)
            pixels = turn_upright(plain, _UNDOING[orientation]) if kind is TIFF else plain
    if mode == "CMYK":
        icc = None
    jpeg = strip_jpeg(content) if kind is JPEG and mode in ("L", "RGB") else None
    if frames > 1:
        findings.append(_report_first(frames, kind, name))
    if kind is PSD:
        what = "a layered document: its flattened picture prints, as it was when it was saved"
        findings.append(make_note(what, name, "flattened", "Look at the proof; hidden layers do not print."))
    if kind in (AVIF, HEIC) and pixels.mode in ("RGBA", "LA"):
        what = f"the {kind.name} format keeps see-through edges only roughly (up to 19 levels of 255 off)"
        findings.append(make_note(what, name, "lossy-alpha", "Ask for a PNG where edges have to be fine."))
    if bits > 8:
        findings.append(
            make_note(f"its {bits} bits a channel print as 8, as every printer takes them", name, "odd-file")
        )
    return Converted(
        write_png_head(pixels, icc, orientation, srgb=mode == "CMYK"), tuple(findings), pixels, jpeg, memory
    )


def _report_first(frames: int, kind: FileType, name: str) -> Finding:
    if kind in (TIFF, HEIC):
        what = f"the file holds {frames} pictures; the first one prints"
        return make_note(what, name, "several-pages", "Save the wanted one as a file of its own.", Severity.WARN)
    what = f"the {kind.name} is animated ({frames} frames); its first one prints"
    return make_note(what, name, "animated", "Look at the proof: it may differ from the others.", Severity.WARN)


@contextmanager
def _refuse_faults(kind: FileType, name: str) -> Iterator[None]:
    """Whatever a reader says of a damaged file as one refusal; its warnings about notes in the file are no matter."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        try:
            yield
        except Trouble:
            raise
        except MemoryError:
            raise make_refusal(
                f"the {kind.name} asks for more memory than there is", "Save it smaller.", name, "too-large"
            ) from None
        # Readers of damaged files raise nearly anything: struct.error, IndexError, ZeroDivisionError, SyntaxError.
        except Exception as error:
            words = "it says something unheard of" if isinstance(error, KeyError) else str(error)
            said = words.splitlines()[0][:120] if words else type(error).__name__
            raise make_refusal(f"the {kind.name} is damaged or cut short ({said})", AGAIN, name) from None


def _open_image(content: bytes, kind: FileType) -> ImageFile.ImageFile:
    """The file opened by its own reader, without Pillow's process-wide pixel limit, which is not ours."""
    readers: dict[FileType, Callable[[], Any]] = {
        JPEG: _jpeg_reader,
        WEBP: _webp_reader,
        TIFF: _tiff_reader,
        AVIF: _avif_reader,
        PSD: _psd_reader,
        HEIC: _heic_reader,
    }
    image: ImageFile.ImageFile = readers[kind]()(io.BytesIO(content))
    return image


def _jpeg_reader() -> Any:
    from PIL.JpegImagePlugin import JpegImageFile

    return JpegImageFile


def _webp_reader() -> Any:
    from PIL.WebPImagePlugin import WebPImageFile

    return WebPImageFile


def _tiff_reader() -> Any:
    from PIL.TiffImagePlugin import TiffImageFile

    return TiffImageFile


def _avif_reader() -> Any:
    from PIL.AvifImagePlugin import AvifImageFile

    return AvifImageFile


def _psd_reader() -> Any:
    from PIL.PsdImagePlugin import PsdImageFile

    return PsdImageFile


def _heic_reader() -> Any:
    from pillow_heif.as_plugin import HeifImageFile

    return HeifImageFile


def has_heic() -> bool:
    """Whether the optional reader of HEIC is installed."""
    from importlib.util import find_spec

    return find_spec("pillow_heif") is not None


def _hold_header(content: bytes, kind: FileType, name: str, pixel_limit: int) -> None:
    """What has to be refused before a library opens the file at all."""
    if kind is HEIC and not has_heic():
        what = "this is a HEIC photograph, which this installation does not read"
        raise make_refusal(what, HEIC.remedy, name, "foreign-format")
    if kind is WEBP:
        size = read_webp_size(content)
        if size is None:
            raise make_refusal("the WebP is damaged: it does not say its size", AGAIN, name)
        _hold_size(size, pixel_limit, name)
    if kind is JPEG and (fault := find_scan_fault(content)):
        remedy = AGAIN if "cut off" in fault else "Save it again as an ordinary (baseline) JPEG."
        raise make_refusal(fault, remedy, name)


def read_webp_size(content: bytes) -> tuple[int, int] | None:
    """Width and height as a WebP's first chunk says them (RFC 9649, sections 2.5 to 2.7); None where none does.

    The library takes memory for the whole canvas as soon as it opens a file.
    """
    chunk, data = content[12:16], content[20:34]
    if chunk == b"VP8X" and len(data) >= 10:
        return int.from_bytes(data[4:7], "little") + 1, int.from_bytes(data[7:10], "little") + 1
    if chunk == b"VP8L" and len(data) >= 5 and data[0] == 0x2F:
        bits = int.from_bytes(data[1:5], "little")
        return (bits & 0x3FFF) + 1, (bits >> 14 & 0x3FFF) + 1
    if chunk == b"VP8 " and len(data) >= 10 and data[3:6] == b"\x9d\x01\x2a":
        width, height = struct.unpack("<HH", data[6:10])
        return width & 0x3FFF, height & 0x3FFF
    return None


def _hold_size(size: tuple[int, int], pixel_limit: int, name: str) -> None:
    width, height = size
    if width < 1 or height < 1:
        raise make_refusal(f"the header gives a size of {width} × {height} pixels", AGAIN, name)
    if width * height > pixel_limit or max(width, height) > _SIDE_LIMIT:
        raise make_size_refusal(width, height, pixel_limit, name)


def _count_frames(image: ImageFile.ImageFile, kind: FileType) -> int:
    """How many pictures the file holds; of a layered document its layers are no pictures of their own."""
    if kind in (PSD, JPEG):
        return 1
    if kind is TIFF:
        return _count_directories(image)
    return int(getattr(image, "n_frames", 1))


_MOST_COUNTED = 100


def _count_directories(image: Any) -> int:
    """Pages of a TIFF, counted only so far: a file may hold a chain of thousands."""
    following = 1 + bool(getattr(image, "_TiffImageFile__next", 0))
    try:
        while following > 1 and following < _MOST_COUNTED:
            image.seek(following - 1)
            if not image._TiffImageFile__next:
                break
            following += 1
    except (EOFError, OSError, ValueError, SyntaxError, KeyError, struct.error):
        pass  # the first page is what prints
    image.seek(0)
    return following


def _read_orientation(image: ImageFile.ImageFile, kind: FileType) -> int:
    """The Exif orientation, 1 to 8. HEIC and AVIF turn by themselves (ISO/IEC 23008-12, 6.5.10), before we look."""
    if kind in (AVIF, HEIC):
        return 1
    try:
        value = image.getexif().get(_ORIENTATION, 1)
    except Exception:  # a damaged note is as good as none
        return 1
    return value if isinstance(value, int) and 1 <= value <= 8 else 1


def _read_depth(image: ImageFile.ImageFile, kind: FileType) -> int:
    if kind is TIFF:
        tags: Any = getattr(image, "tag_v2", {})
        bits = tags.get(258, (8,))
        return max(bits) if isinstance(bits, tuple) and bits else 8
    if image.mode.startswith("I;16"):
        return 16
    return 8


def _make_plain(
    image: Image.Image, kind: FileType, icc: bytes | None, name: str, findings: list[Finding]
) -> Image.Image:
    """The pixels in a mode that PNG has. Raises `Trouble` where their colours are not known."""
    mode = image.mode
    if mode in ("L", "LA", "RGB", "RGBA"):
        return image
    if mode == "1":
        return image.convert("L")
    if mode == "CMYK":
        rgb, finding = convert_cmyk(image, icc, name)
        findings.append(finding)
        return rgb
    if mode in ("P", "PA"):
        return image.convert("RGBA" if mode == "PA" or "transparency" in image.info else "RGB")
    if mode == "La":
        return image.convert("LA")
    if mode == "YCbCr":
        return image.convert("RGB")
    if mode.startswith("I;16"):
        return _reduce_deep(image)
    what = f"the {kind.name} keeps its colours as {_MODES.get(mode, mode)}, which cannot be printed as they are"
    raise make_refusal(what, _AS_RGB, name, "foreign-format")


_MODES = {"I": "32-bit numbers", "F": "fractions", "LAB": "L*a*b*", "HSV": "hue and saturation"}


def _reduce_deep(image: Image.Image) -> Image.Image:
    """Grey of 16 bits by its high byte, as the PNG reader does it."""
    import numpy as np
    from PIL import Image

    return Image.fromarray((np.asarray(image) >> 8).astype(np.uint8))
