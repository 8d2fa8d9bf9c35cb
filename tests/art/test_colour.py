"""What a PNG says about its colours, held to the standards that the numbers come from."""

from __future__ import annotations

import hashlib
import io
import itertools
import struct
import zlib

import numpy as np
import pytest
from PIL import Image, ImageCms

from art import lcms
from art.iccbytes import assembled, model_profile
from art.pngbytes import chunk, png
from each_case import try_each
from impose.art.icc import SRGB_CURVE, make_rgb_profile
from impose.art.prepare import PreparedPicture, prepare_picture
from impose.errors import Severity

SRGB_CORNERS = (31270, 32900, 64000, 33000, 30000, 60000, 15000, 6000)
CHUNKS = {
    "cicp": chunk(b"cICP", bytes((12, 13, 0, 1))),
    "icc": chunk(b"iCCP", b"model\0\0" + zlib.compress(model_profile())),
    "srgb": chunk(b"sRGB", b"\0"),
    "gamma": chunk(b"gAMA", (45455).to_bytes(4, "big")) + chunk(b"cHRM", struct.pack(">8I", *SRGB_CORNERS)),
}


def said(before: bytes = b"", grey: bool = False, after: bytes = b"") -> PreparedPicture:
    pixels = np.full((4, 4), 60) if grey else np.full((4, 4, 3), (60, 90, 200))
    return prepare_picture(png(pixels, before=before, after=after))


def level(profile: bytes, rgb: tuple[float, ...]) -> np.ndarray:
    """CIE XYZ against D50 of RGB from 0 to 1, computed from the tags of a matrix profile (ICC.1:2010, F.3)."""
    tags = {
        name: profile[start : start + size]
        for name, start, size in struct.iter_unpack(">4sII", profile[132 : 132 + 12 * profile[131]])
    }
    columns = [np.array(struct.unpack(">3i", tags[name][8:20])) / 65536 for name in (b"rXYZ", b"gXYZ", b"bXYZ")]
    kind = int.from_bytes(tags[b"rTRC"][8:10], "big")
    values = [v / 65536 for v in struct.unpack(f">{(len(tags[b'rTRC']) - 12) // 4}i", tags[b"rTRC"][12:])]

    def light(x: float) -> float:
        if kind == 0:
            return x ** values[0]
        g, a, b, c, d = values
        return (a * x + b) ** g if x >= d else c * x

    return sum(light(x) * column for x, column in zip(rgb, columns, strict=True))


# PNG Third Edition, 4.3, table "Color Chunk Priority": cICP 1, iCCP 2, sRGB 3, cHRM and gAMA 4.
@try_each("grey", [False, True])
@try_each("names", [n for k in range(1, 5) for n in itertools.combinations(CHUNKS, k)])
def test_the_first_of_the_standards_order_decides_wherever_it_stands(names, grey):
    if grey and "icc" in names:
        return  # the profile of this test is for RGB; grey ones follow below
    for order in (names, names[::-1]):
        picture = said(b"".join(CHUNKS[name] for name in order), grey)
        assert (picture.colour, picture.findings) == (names[0], ())
        assert picture.icc is not None
        assert picture.icc[16:20] == (b"GRAY" if grey else b"RGB ")
        # Little CMS opens what is made, and Pillow's opinion of a broken profile is an exception.
        ImageCms.ImageCmsProfile(io.BytesIO(picture.icc))


def test_untagged_stays_untagged():
    assert (said().colour, said().icc, said().findings) == ("untagged", None, ())


def test_the_embedded_profile_is_kept_byte_for_byte():
    assert said(CHUNKS["icc"]).icc == model_profile()


# IEC 61966-2-1:1999, 5.2: the curve and its corner; the middle and 128 of 255 are computed from its formula.
@pytest.mark.parametrize(
    ("encoded", "light"), [(0, 0), (0.04045, 0.0031308), (0.5, 0.21404114), (128 / 255, 0.21586050), (1, 1)]
)
def test_srgb_has_the_curve_of_its_standard(encoded, light):
    y = level(said(CHUNKS["srgb"]).icc, (encoded,) * 3)[1]
    assert y == pytest.approx(light, abs=2e-5)


def test_srgb_has_the_primaries_of_its_standard():
    """IEC 61966-2-1:1999, equation 7: RGB to XYZ against D65; brought back from D50 by the Bradford transform."""
    standard = np.array([[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]])
    cone = np.array([[0.8951, 0.2664, -0.1614], [-0.7502, 1.7135, 0.0367], [0.0389, -0.0685, 1.0296]])  # ICC.1:2010, E
    d65, d50 = np.array([0.3127, 0.3290, 0.3583]) / 0.3290, np.array([0.9642, 1.0, 0.8249])
    back = np.linalg.inv(cone) @ np.diag((cone @ d65) / (cone @ d50)) @ cone
    profile = said(CHUNKS["srgb"]).icc
    ours = np.stack([back @ level(profile, rgb) for rgb in ((1, 0, 0), (0, 1, 0), (0, 0, 1))], axis=1)
    assert np.abs(ours - standard).max() < 2e-4


def test_srgb_is_what_little_cms_calls_srgb():
    theirs = ImageCms.createProfile("sRGB")
    ramp = np.random.default_rng(1).integers(0, 256, (1, 5000, 3)).astype(np.uint8)
    same = ImageCms.profileToProfile(
        Image.fromarray(ramp), ImageCms.ImageCmsProfile(io.BytesIO(said(CHUNKS["srgb"]).icc)), theirs
    )
    assert np.abs(np.asarray(same).astype(int) - ramp).max() <= 1


@pytest.mark.skipif(lcms.library() is None, reason="no liblcms2 on this machine")
def test_the_colour_engine_reads_the_profiles_as_we_do():
    """Our own reading of the tags above against Little CMS through another binding, in double precision."""
    profile = said(CHUNKS["srgb"]).icc
    pixels = np.random.default_rng(2).integers(0, 256, (200, 3)).astype(np.uint8)
    lab = lcms.transformed(pixels, profile, lcms.RGB_8, None, lcms.LAB_DOUBLE, 1)
    y = np.array([level(profile, tuple(p / 255))[1] for p in pixels])
    ours = np.where(y > (6 / 29) ** 3, 116 * np.cbrt(y) - 16, y * (29 / 3) ** 3)  # CIE 15
    assert np.abs(lab[:, 0] - ours).max() < 0.02


# CSS Color 4 names for sRGB colours in other spaces, as its test suite has them: "#f00", "#0f0" and "#090" in
# display-p3, "#090" in rec2020 with the curve of BT.2020. What is equal must have the same XYZ.
@pytest.mark.parametrize(
    ("points", "there", "srgb"),
    [
        ((12, 13), (0.9175, 0.2003, 0.1386), (1, 0, 0)),
        ((12, 13), (0.4584, 0.9853, 0.2983), (0, 1, 0)),
        ((12, 13), (0.26374, 0.59085, 0.16434), (0, 0.6, 0)),
        ((9, 14), (0.299218, 0.533327, 0.120785), (0, 0.6, 0)),
        ((1, 13), (0.1, 0.4, 0.9), (0.1, 0.4, 0.9)),
        ((9, 13), (1, 1, 1), (1, 1, 1)),
        ((11, 8), (1, 1, 1), (1, 1, 1)),  # white is white whatever its chromaticity: relative colorimetry
    ],
)
def test_video_code_points_become_exact_profiles(points, there, srgb):
    picture = said(chunk(b"cICP", bytes((*points, 0, 1))))
    assert (picture.colour, picture.findings) == ("cicp", ())
    assert level(picture.icc, there) == pytest.approx(level(make_rgb_profile("", SRGB_CURVE), srgb), abs=3e-4)


@try_each(
    "points, why",
    [
        ((9, 16, 0, 1), "high dynamic range"),
        ((9, 18, 0, 1), "high dynamic range"),
        ((1, 1, 0, 0), "narrow range"),
        ((1, 1, 1, 1), "not one that PNG allows"),
        ((1, 13, 0, 2), "not one that PNG allows"),
        ((2, 13, 0, 1), "cannot|not one that a profile"),
        ((12, 17, 0, 1), "not one that a profile"),
        ((1, 13, 0), "3 bytes"),
    ],
)
def test_what_no_profile_can_say_is_said_and_the_next_description_stands_in(points, why):
    alone = said(chunk(b"cICP", bytes(points)))
    assert (alone.colour, alone.icc) == ("untagged", None)
    (finding,) = alone.findings
    assert (finding.kind, finding.severity) == ("video-colour", Severity.WARN)
    assert any(part in finding.what for part in why.split("|"))
    assert said(chunk(b"cICP", bytes(points)) + CHUNKS["icc"]).icc == model_profile()


def test_gamma_and_primaries_are_those_of_the_file():
    """Adobe RGB (1998), 4.3.4: the primaries, white D65 and gamma 2.19921875; its profile's columns against D50."""
    corners = struct.pack(">8I", 31270, 32900, 64000, 33000, 21000, 71000, 15000, 6000)
    picture = said(chunk(b"gAMA", (45471).to_bytes(4, "big")) + chunk(b"cHRM", corners))
    assert (picture.colour, picture.findings) == ("gamma", ())
    published = {(1, 0, 0): (0.60974, 0.31111, 0.01947), (0, 1, 0): (0.20528, 0.62567, 0.06087)}
    for rgb, xyz in published.items():
        assert level(picture.icc, rgb) == pytest.approx(xyz, abs=2e-4)
    assert level(picture.icc, (0.5, 0.5, 0.5))[1] == pytest.approx(0.5**2.19921875, abs=1e-4)


def test_gamma_without_primaries_has_those_of_srgb():
    alone, both = said(chunk(b"gAMA", (45455).to_bytes(4, "big"))), said(CHUNKS["gamma"])
    assert alone.icc == both.icc
    assert level(alone.icc, (0.5, 0.5, 0.5))[1] == pytest.approx(0.5**2.2, abs=1e-4)


@try_each("value", [12_500, 30_000, 45_455, 55_556, 64_321, 100_000])
def test_the_exponent_is_what_the_chunk_is_the_reciprocal_of(value):
    """PNG, 11.3.2.2: the value is the gamma times 100,000, of encoding; to four decimals, as a profile keeps it."""
    icc = said(chunk(b"gAMA", value.to_bytes(4, "big"))).icc
    at = icc.index(b"curv") if b"curv" in icc else icc.index(b"para")
    exponent = int.from_bytes(icc[at + 12 : at + 16], "big") / 65536
    assert exponent == pytest.approx(round(100_000 / value, 4), abs=1 / 65536)


@try_each(
    "chunks",
    [
        chunk(b"gAMA", bytes(4)),
        chunk(b"gAMA", b"\xff\xff\xff\xff"),
        chunk(b"gAMA", b"\0"),
        chunk(b"gAMA", (45455).to_bytes(4, "big")) + chunk(b"cHRM", bytes(32)),
        chunk(b"gAMA", (45455).to_bytes(4, "big")) + chunk(b"cHRM", b"\xff" * 32),
        chunk(b"gAMA", (45455).to_bytes(4, "big")) + chunk(b"cHRM", bytes(31)),
        chunk(b"gAMA", (45455).to_bytes(4, "big")) + chunk(b"cHRM", struct.pack(">8I", *[30000] * 8)),
        chunk(b"cHRM", struct.pack(">8I", 31270, 32900, 64000, 33000, 21000, 71000, 15000, 6000)),
    ],
)
def test_numbers_no_colour_has_are_left_out_and_said(chunks):
    picture = said(chunks)
    assert (picture.colour, picture.icc) == ("untagged", None)
    (finding,) = picture.findings
    assert (finding.kind, finding.severity) == ("gamma", Severity.WARN)


def with_header(at: int, value: bytes, profile: bytes | None = None) -> bytes:
    profile = model_profile() if profile is None else profile
    return profile[:at] + value + profile[at + len(value) :]


BROKEN = {
    "link": with_header(12, b"link"),
    "abstract": with_header(12, b"abst"),
    "named": with_header(12, b"nmcl"),
    "cmyk": model_profile("CMYK"),
    "grey": with_header(16, b"GRAY"),
    "connection": with_header(20, b"RGB "),
    "no-tags": assembled(b"prtr", b"RGB ", b"Lab ", []),
    "tag-outside": with_header(132 + 4, b"\x7f\xff\xff\xff"),
    "tag-in-table": with_header(132 + 12 * 3 + 4, (140).to_bytes(4, "big")),
    "too-many-tags": with_header(128, b"\x7f\xff\xff\xff"),
    "no-table": assembled(b"prtr", b"RGB ", b"Lab ", [(b"wtpt", b"XYZ \0\0\0\0" + bytes(12))]),
    "table-of-zeros": assembled(b"prtr", b"RGB ", b"Lab ", [(b"A2B0", bytes(200))]),
    "cut": model_profile()[:5000],
    "padded": model_profile() + b"\0",
    "nothing": b"",
}


@try_each("name", BROKEN)
def test_a_broken_profile_is_said_and_nothing_takes_its_place(name):
    data = chunk(b"iCCP", b"p\0\0" + zlib.compress(BROKEN[name], 1))
    for before in (data, data + CHUNKS["srgb"], CHUNKS["gamma"] + data):
        picture = said(before)
        assert (picture.colour, picture.icc) == ("untagged", None)
        (finding,) = picture.findings
        assert (finding.kind, finding.severity) == ("profile-unusable", Severity.WARN)
        assert "left out" in finding.what
        assert finding.remedy


def test_every_profile_cut_or_bent_anywhere_is_kept_or_said_and_never_a_traceback():
    rng = np.random.default_rng(5)
    base = bytearray(make_rgb_profile("sRGB", SRGB_CURVE))
    for _ in range(100):
        bent = bytearray(base)
        for at in rng.integers(0, len(base), rng.integers(1, 6)):
            bent[at] = rng.integers(0, 256)
        picture = said(chunk(b"iCCP", b"p\0\0" + zlib.compress(bytes(bent))))
        if picture.icc is None:
            assert [f.kind for f in picture.findings] == ["profile-unusable"]
        else:
            assert picture.icc == bytes(bent)


@pytest.mark.parametrize("name", CHUNKS)
def test_a_description_behind_the_picture_is_ignored_and_said(name):
    picture = said(after=CHUNKS[name])
    assert (picture.colour, [f.kind for f in picture.findings]) == ("untagged", ["colour-misplaced"])


def test_profiles_made_here_hold_no_clock_and_their_own_identifier():
    profile = make_rgb_profile("sRGB", SRGB_CURVE)
    assert profile == said(CHUNKS["srgb"]).icc
    assert struct.unpack(">6H", profile[24:36]) == (2026, 1, 1, 0, 0, 0)
    blank = bytearray(profile)  # ICC.1:2010, 7.2.18: MD5 with flags, intent and the field itself at zero
    blank[44:48], blank[64:68], blank[84:100] = bytes(4), bytes(4), bytes(16)
    assert hashlib.md5(blank, usedforsecurity=False).digest() == profile[84:100]
    assert len(profile) % 4 == 0
