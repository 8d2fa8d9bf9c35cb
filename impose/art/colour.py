"""What a PNG says about its colours, as far as a print needs it: the embedded profile, or what stands in its place.

Order of precedence after the W3C PNG Recommendation, Third Edition, section 4.3, table 1: cICP, iCCP, sRGB, gAMA.
"""

from __future__ import annotations

from dataclasses import dataclass

from impose.art.codec import codec
from impose.art.png import Png
from impose.errors import Finding, Severity

PROFILE_LIMIT = 16 << 20
"""Bytes an embedded profile may inflate to. Press profiles are 1-4 MB (common practice, no source)."""

_HEADER = 128  # ICC.1:2022, 7.2: length at 0, colour space at 16, "acsp" at 36
_SRGB_CICP = bytes((1, 13, 0, 1))  # section 11.3.2.6, with ITU-T H.273 tables 2 and 3: BT.709 primaries, sRGB curve
_SRGB_GAMMA = 45455  # section 11.3.2.4: 1 / 2.2, times 100,000


@dataclass(frozen=True)
class Colours:
    """`source` is "cicp", "icc", "srgb", "gamma" or "untagged"; `icc` the profile to embed, byte for byte."""

    source: str
    icc: bytes | None
    findings: tuple[Finding, ...]


def read_colours(png: Png, name: str = "") -> Colours:
    """What the chunks say. Never stops the work: what cannot be used is left out with a warning."""
    findings: list[Finding] = []
    icc, fault = _profile(png)
    if fault is not None:
        findings.append(_warn("profile-unusable", fault[0], fault[1], name))
    code, gamma = png.data(b"cICP"), png.data(b"gAMA")
    if code is not None and code != _SRGB_CICP:
        what = f"The artwork's colours are coded for video (cICP {tuple(code)}), which is not converted"
        findings.append(_warn("video-colour", what, "Export it as sRGB, or with an ICC profile.", name))
        return Colours("cicp", icc, tuple(findings))
    if icc is not None:
        return Colours("icc", icc, tuple(findings))
    if code is not None or png.data(b"sRGB") is not None:
        return Colours("srgb", None, tuple(findings))
    if gamma is None or len(gamma) != 4:
        return Colours("untagged", None, tuple(findings))
    value = int.from_bytes(gamma, "big")
    if abs(value - _SRGB_GAMMA) > _SRGB_GAMMA // 100:
        what = f"The artwork asks for a gamma of {value / 100000:.3f}, which is not applied"
        findings.append(_warn("gamma", what, "Export it as sRGB, or with an ICC profile.", name))
    return Colours("gamma", None, tuple(findings))


def _warn(kind: str, what: str, remedy: str, name: str) -> Finding:
    return Finding(what, remedy, Severity.WARN, kind, "Colours may print differently from the screen.", name)


def _profile(png: Png) -> tuple[bytes | None, tuple[str, str] | None]:
    """The profile, or why it is not used and what to do about that."""
    chunk = png.data(b"iCCP")
    if chunk is None:
        return None, None
    again = "Export the artwork again with its profile, or as sRGB."
    end = chunk.find(b"\0", 0, 80)
    if end < 1 or chunk[end + 1 : end + 2] != b"\0":
        return None, ("The embedded colour profile is damaged and was left out", again)
    inflater = codec().inflater()
    try:
        profile = inflater.decompress(chunk[end + 2 :], PROFILE_LIMIT + 1)
    except codec().error:
        return None, ("The embedded colour profile cannot be unpacked and was left out", again)
    if len(profile) > PROFILE_LIMIT:
        return None, (f"The embedded colour profile is larger than {PROFILE_LIMIT:,} bytes and was left out", again)
    if not inflater.eof or len(profile) < _HEADER or profile[36:40] != b"acsp":
        return None, ("The embedded colour profile is damaged and was left out", again)
    if int.from_bytes(profile[:4], "big") != len(profile):
        return None, ("The embedded colour profile is cut short or padded and was left out", again)
    space = profile[16:20]
    if space != (b"GRAY" if png.header.grey else b"RGB "):
        ours = "grey" if png.header.grey else "RGB"
        said = space.decode("latin-1").strip()
        return None, (f"The embedded colour profile is for {said} and the picture is {ours}; it was left out", again)
    return profile, None
