"""What a PNG says about its colours, as the profile that goes into the PDF.

The first of cICP, iCCP, sRGB, and gAMA with cHRM that is there decides, and the others are ignored (W3C PNG
Recommendation, Third Edition, section 4.3, table 1). An embedded profile is kept byte for byte. The others are
numbers, and a small profile is made that says exactly those. What says nothing stays untagged.
"""

from __future__ import annotations

import io
from collections.abc import Callable, Iterable
from functools import lru_cache

from impose.art.cicp import make_cicp_profile
from impose.art.codec import best_codec
from impose.art.icc import BT709, D65, SRGB_CURVE, Point, find_profile_fault, make_grey_profile, make_rgb_profile
from impose.art.png import PngFile
from impose.errors import Finding, Severity
from impose.values import FrozenStruct

PROFILE_LIMIT = 16 << 20
"""Bytes an embedded profile may inflate to. Press profiles are 1-4 MB (common practice, no source)."""

AS_SRGB = "Export it as sRGB, or with an ICC profile."
_AGAIN = "Export the artwork again with its profile, or as sRGB."
_GAMMAS = (0.1, 10.0)
"""Exponents taken for meant: files ask for 1 to 2.8 (common practice, no source)."""


class ColourDescription(FrozenStruct):
    """`source` is "cicp", "icc", "srgb", "gamma" or "untagged"; `icc` the profile of the pixels, None if untagged."""

    source: str
    icc: bytes | None
    findings: tuple[Finding, ...]


class _UnusableColour(Exception):
    """A description that cannot be used: what to say, and whether a lesser one may stand in."""

    def __init__(self, kind: str, what: str, remedy: str = AS_SRGB, go_on: bool = True) -> None:
        self.kind, self.what, self.remedy, self.go_on = kind, what, remedy, go_on
        super().__init__(what)


def read_colours(png: PngFile, name: str = "") -> ColourDescription:
    """What the chunks say. Never stops the work: what cannot be used is left out with a warning."""
    findings = list(_report_misplaced(png, name))
    early = _find_colour_chunks(png)
    for source, reader in _READERS:
        try:
            icc = reader(early, png.header.grey)
        except _UnusableColour as fault:
            findings.append(_make_warning(fault.kind, fault.what, fault.remedy, name))
            if not fault.go_on:
                break
            continue
        if icc is not None:
            return ColourDescription(source, icc, tuple(findings))
    return ColourDescription("untagged", None, tuple(findings))


def _make_warning(kind: str, what: str, remedy: str, name: str) -> Finding:
    return Finding(what, remedy, Severity.WARN, kind, "Colours may print differently from the screen.", name)


_COLOUR_CHUNKS = (b"cICP", b"iCCP", b"sRGB", b"gAMA", b"cHRM")
Chunks = dict[bytes, bytes]


def _find_colour_chunks(png: PngFile) -> Chunks:
    """The first of each colour chunk, as far as it stands before palette and picture, where it has to (section 5.6)."""
    found: Chunks = {}
    for chunk in png.chunks:
        if chunk.name in (b"PLTE", b"IDAT"):
            break
        if chunk.name in _COLOUR_CHUNKS:
            found.setdefault(chunk.name, png.content[chunk.start : chunk.end])
    return found


def _report_misplaced(png: PngFile, name: str) -> Iterable[Finding]:
    early = _find_colour_chunks(png)
    late = [mark.decode() for mark in _COLOUR_CHUNKS if mark not in early and png.find_chunk_data(mark) is not None]
    if late:
        what = f"ignored, because it stands behind the palette or the picture: the colour description {', '.join(late)}"
        yield _make_warning("colour-misplaced", what, _AGAIN, name)


def _read_cicp(chunks: Chunks, grey: bool) -> bytes | None:
    points = chunks.get(b"cICP")
    if points is None:
        return None
    profile = make_cicp_profile(points, grey)
    if isinstance(profile, bytes):
        return profile
    raise _UnusableColour(
        "video-colour", f"the artwork's video colour code (cICP {tuple(points)}) {profile}; it was left out"
    )


def _read_iccp(chunks: Chunks, grey: bool) -> bytes | None:
    """The embedded profile. A broken one is not replaced by what else the file says: nothing else is known for sure."""
    chunk = chunks.get(b"iCCP")
    if chunk is None:
        return None
    profile = _inflate_profile(chunk)
    fault = find_profile_fault(profile, "grey" if grey else "RGB")
    if fault is not None:
        raise _describe_broken(fault.what)
    if not can_convert_to_screen(profile, "L" if grey else "RGB"):
        raise _describe_broken("cannot be read by the colour engine")
    return profile


def _describe_broken(what: str) -> _UnusableColour:
    said = f"the embedded colour profile {what}; it was left out and the colours have no description"
    return _UnusableColour("profile-unusable", said, _AGAIN, go_on=False)


def _inflate_profile(chunk: bytes) -> bytes:
    """Name, a zero, method 0 and a zlib stream (section 11.3.2.3)."""
    end = chunk.find(b"\0", 0, 80)
    if end < 1 or chunk[end + 1 : end + 2] != b"\0":
        raise _describe_broken("is damaged")
    inflater = best_codec().make_inflater()
    try:
        profile = inflater.decompress(chunk[end + 2 :], PROFILE_LIMIT + 1)
    except best_codec().error:
        raise _describe_broken("cannot be unpacked") from None
    if len(profile) > PROFILE_LIMIT:
        raise _describe_broken(f"is larger than {PROFILE_LIMIT:,} bytes")
    if not inflater.eof:
        raise _describe_broken("is cut short")
    return profile


def _read_srgb(chunks: Chunks, grey: bool) -> bytes | None:
    """IEC 61966-2-1. The rendering intent that the chunk adds is a wish for the printer's side and is not kept."""
    if b"sRGB" not in chunks:
        return None
    return make_grey_profile("sRGB grey", SRGB_CURVE) if grey else make_rgb_profile("sRGB", SRGB_CURVE)


def _read_gamma(chunks: Chunks, grey: bool) -> bytes | None:
    """The exponent of gAMA with the primaries of cHRM, or without them those of BT.709 and sRGB."""
    gamma, corners = chunks.get(b"gAMA"), chunks.get(b"cHRM")
    if gamma is None:
        if corners is not None and corners != _SRGB_CORNERS:
            raise _UnusableColour(
                "gamma", "the artwork names its primaries (cHRM) without a gamma, which says too little"
            )
        return None
    value = int.from_bytes(gamma, "big")
    if len(gamma) != 4 or not (value and _GAMMAS[0] <= 100_000 / value <= _GAMMAS[1]):
        raise _UnusableColour("gamma", "the artwork asks for a gamma (gAMA) that no picture can have; it was left out")
    exponent = round(100_000 / value, 4)
    try:
        white, *primaries = _read_chromaticities(corners) if corners is not None else (D65, *BT709)
        if grey:
            return make_grey_profile(f"gamma {exponent:g}", (exponent,), white)
        title = f"gamma {exponent:g}" + (", own primaries" if corners not in (None, _SRGB_CORNERS) else "")
        return make_rgb_profile(title, (exponent,), (primaries[0], primaries[1], primaries[2]), white)
    except ValueError:
        what = "the artwork's primaries (cHRM) span no colours; they and its gamma were left out"
        raise _UnusableColour("gamma", what) from None


_SRGB_CORNERS = b"".join(v.to_bytes(4, "big") for v in (31270, 32900, 64000, 33000, 30000, 60000, 15000, 6000))
"""Section 11.3.2.5, table of the values that go with sRGB."""


def _read_chromaticities(corners: bytes) -> list[Point]:
    """White, red, green and blue, each x and y times 100,000 (section 11.3.2.1)."""
    if len(corners) != 32:
        raise ValueError("not eight numbers")
    numbers = [int.from_bytes(corners[i : i + 4], "big") / 100_000 for i in range(0, 32, 4)]
    if any(x + y > 1 for x, y in zip(numbers[::2], numbers[1::2], strict=True)):
        raise ValueError("a chromaticity that no light has")
    return list(zip(numbers[::2], numbers[1::2], strict=True))


_READERS: tuple[tuple[str, Callable[[Chunks, bool], bytes | None]], ...] = (
    ("cicp", _read_cicp),
    ("icc", _read_iccp),
    ("srgb", _read_srgb),
    ("gamma", _read_gamma),
)


@lru_cache(maxsize=16)
def can_convert_to_screen(profile: bytes, mode: str) -> bool:
    """Whether the colour engine can bring pixels of `mode` (L, RGB or CMYK) through a profile to a screen's colours.

    By every intent: each may have a table of its own, and whichever is asked for later must not fail then.
    """
    from PIL import ImageCms

    screen = io.BytesIO(make_rgb_profile("sRGB", SRGB_CURVE))
    try:
        for intent in ImageCms.Intent:
            screen.seek(0)
            ImageCms.buildTransform(io.BytesIO(profile), screen, mode, "RGB", intent, ImageCms.Flags.NOOPTIMIZE)
    except (ImageCms.PyCMSError, OSError):
        return False
    return True
