"""Artwork turned into a printer's colours: held to Little CMS called by another way, and to what blank paper asks."""

from __future__ import annotations

import io
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from art import lcms
from art.iccbytes import assembled, lab_of, model_profile, printed_xyz
from art.pngbytes import png
from art.rebuilt import printed
from impose.art.cache import PictureCache
from impose.art.colour_proof import make_soft_proof
from impose.art.icc import SRGB_CURVE, make_grey_profile, make_rgb_profile
from impose.art.output_profile import INTENTS, OutputProfile, check_output_profile
from impose.art.prepare import PreparationOptions, prepare_picture
from impose.errors import Exit, Severity, Trouble
from impose.formats.prepare_many import prepare_pictures
from impose.values import replace

NEEDS_LCMS = pytest.mark.skipif(lcms.library() is None, reason="no liblcms2 on this machine")
SRGB = make_rgb_profile("sRGB", SRGB_CURVE)
FORMATS = {"RGB": lcms.RGB_8, "CMYK": lcms.CMYK_8}
# Every intent at first, and both spaces; every intent in both before a release.
QUICK_WAYS = {("RGB", "relative"), ("RGB", "perceptual")} | {
    ("CMYK", intent) for intent in ("relative", "saturation", "absolute")
}
EVERY_WAY = [
    pytest.param(space, intent, marks=[] if (space, intent) in QUICK_WAYS else pytest.mark.long)
    for space in FORMATS
    for intent in INTENTS
]


def photo(width: int = 150, height: int = 150, seed: int = 0) -> np.ndarray:
    """Every part of the cube in smooth runs, white and black among them; more than two bands high."""
    y, x = np.mgrid[0:height, 0:width]
    rgb = np.stack([x * 255 // (width - 1), y * 255 // (height - 1), (x * 3 + y * 2 + 40 * seed) % 256], axis=-1)
    rgb[:10, :20] = 255
    rgb[-10:, -20:] = 0
    return rgb.astype(np.uint8)


def made(pixels: np.ndarray, output: OutputProfile | None, **recipe: object):
    return prepare_picture(
        png(pixels.astype(np.int64)), PreparationOptions(tint=0, keep_specks=True, output=output, **recipe)
    )


def cropped(pixels: np.ndarray, picture) -> np.ndarray:
    left, top, right, bottom = picture.ink
    return pixels[top:bottom, left:right]


@NEEDS_LCMS
@pytest.mark.parametrize(("space", "intent"), EVERY_WAY)
def test_pixels_are_what_the_reference_makes_of_them(space, intent):
    """Little CMS without tables of its own, in another build; ours may differ by the grid of its precomputed table."""
    profile = model_profile(space)
    picture = made(photo(), OutputProfile(profile, intent, black_point=False))
    source = cropped(photo(), picture)
    want = lcms.transformed(source, SRGB, lcms.RGB_8, profile, FORMATS[space], INTENTS.index(intent)).astype(int)
    off = np.abs(printed(picture).astype(int) - want)[~(source == 255).all(axis=-1)]
    assert off.mean() < 0.3
    assert np.percentile(off, 99) <= 3
    assert off.max() <= 16  # at the very corner where a colour leaves the gamut, one grid cell wide
    assert (picture.components, picture.icc) == (len(space), profile)


@NEEDS_LCMS
def test_matrix_profiles_and_grey_are_what_the_reference_makes_of_them():
    grey = make_grey_profile("grey", (1.8,))
    wide = make_rgb_profile("wide", (1.8,), ((0.7347, 0.2653), (0.1596, 0.8404), (0.0366, 0.0001)), (0.3457, 0.3585))
    for profile, give in ((wide, lcms.RGB_8), (grey, lcms.GREY_8)):
        picture = made(photo(), OutputProfile(profile))
        want = lcms.transformed(cropped(photo(), picture), SRGB, lcms.RGB_8, profile, give, 1, lcms.BLACK_POINT)
        off = np.abs(printed(picture).astype(int) - want)
        assert off.max() <= 3
        assert off.mean() < 0.2


@NEEDS_LCMS
def test_black_point_compensation_is_the_engines_own_and_can_be_left_out():
    profile = model_profile("CMYK")
    pixels = photo()
    for chosen, flag in ((True, lcms.BLACK_POINT), (False, 0)):
        picture = made(pixels, OutputProfile(profile, "relative", chosen))
        want = lcms.transformed(cropped(pixels, picture), SRGB, lcms.RGB_8, profile, lcms.CMYK_8, 1, flag).astype(int)
        assert np.abs(printed(picture).astype(int) - want).mean() < 0.3


def test_black_point_compensation_keeps_detail_in_the_shadows():
    ramp = np.repeat(np.tile(np.arange(0, 60, dtype=np.uint8), (4, 1))[:, :, None], 3, axis=2)
    kept = {bpc: made(ramp, OutputProfile(model_profile(), "relative", bpc)) for bpc in (True, False)}
    distinct = {bpc: len(np.unique(printed(picture).reshape(-1, 3), axis=0)) for bpc, picture in kept.items()}
    assert distinct[True] > 1.2 * distinct[False]
    other = {bpc: made(ramp, OutputProfile(model_profile(), "perceptual", bpc)) for bpc in (True, False)}
    assert other[True].data == other[False].data


@pytest.mark.parametrize(("space", "intent"), EVERY_WAY)
@pytest.mark.parametrize(
    ("first", "stain"),
    [
        (True, 0.0),
        (False, 0.012),
        *(pytest.param(*how, marks=pytest.mark.long) for how in ((True, 0.012), (False, 0.0))),
    ],
)
def test_blank_paper_stays_blank(space, intent, first, stain):
    """Whatever a profile makes of white, within the 2 % that is no ink: no ink on white and transparent pixels."""
    if intent == "absolute" and stain:
        return  # together more than 2 %, which is refused: see below
    rgba = np.dstack([photo(), np.full((150, 150), 255, np.uint8)])
    rgba[60:90, 60:90, 3] = 0
    profile = model_profile(space, white_first=first, stain=stain)
    picture = made(rgba, OutputProfile(profile, intent))
    blank = np.array([0, 0, 0, 0] if space == "CMYK" else [255, 255, 255])
    left, top, _, _ = picture.ink
    pixels = printed(picture)
    assert (pixels[60 - top : 90 - top, 60 - left : 90 - left] == blank).all()
    assert (pixels[: 10 - top, : 20 - left] == blank).all()
    assert (pixels != blank).any(axis=-1).mean() > 0.8


@pytest.mark.parametrize(
    ("output", "remedy"),
    [
        # Paper with a brightener is bluer than the artwork's white, which is then simulated with yellow ink.
        (OutputProfile(model_profile(paper=(0.86, 0.89, 0.90)), "absolute"), "Use the relative intent"),
        (OutputProfile(model_profile("CMYK", paper=(0.86, 0.89, 0.90)), "absolute"), "Use the relative intent"),
        (OutputProfile(model_profile(stain=0.1), "relative"), "white is the paper's own"),
        (OutputProfile(model_profile("CMYK", stain=0.1), "perceptual"), "white is the paper's own"),
    ],
)
def test_what_would_tint_blank_paper_is_refused(output, remedy):
    for trial, code in (
        (lambda: check_output_profile(output, "printer.icc"), Exit.USAGE),
        (lambda: made(photo(), output), Exit.REFUSED),
    ):
        with pytest.raises(Trouble) as caught:
            trial()
        (finding,) = caught.value.findings
        assert (finding.kind, finding.exit) == ("output-profile", code)
        assert "tint" in finding.what
        assert remedy in finding.remedy


@pytest.mark.parametrize(
    ("profile", "what"),
    [
        (b"", "damaged"),
        (b"notaprofile" * 30, "damaged"),
        (model_profile()[:-4], "cut short"),
        (model_profile()[:12] + b"link" + model_profile()[16:], "links two devices"),
        # ICC.1:2022, table 18: scnr is an input device; prtr and mntr are devices that colours go out to.
        (model_profile()[:12] + b"scnr" + model_profile()[16:], "a scanner or a camera"),
        (model_profile()[:16] + b"Lab " + model_profile()[20:], "is for Lab"),
        (model_profile()[:16] + b"6CLR" + model_profile()[20:], "is for 6CLR"),
        (model_profile()[:16] + b"CMYK" + model_profile()[20:], "colour engine"),
        (assembled(b"prtr", b"RGB ", b"Lab ", [(b"A2B0", bytes(100))]), "B2A0|missing"),
        (assembled(b"prtr", b"RGB ", b"Lab ", [(b"A2B0", bytes(100)), (b"B2A0", bytes(100))]), "colour engine"),
    ],
)
def test_a_profile_that_cannot_be_printed_with_is_refused(profile, what):
    with pytest.raises(Trouble) as caught:
        check_output_profile(OutputProfile(profile), "printer.icc")
    (finding,) = caught.value.findings
    assert (finding.kind, finding.exit, finding.file) == ("output-profile", Exit.USAGE, "printer.icc")
    assert any(part in finding.what for part in what.split("|"))


@pytest.mark.parametrize("rounds", [1, pytest.param(20, marks=pytest.mark.long)])
def test_every_profile_bent_anywhere_is_taken_or_refused_and_then_prints_without_a_traceback(rounds):
    rng = np.random.default_rng(7)
    pixels = photo(24, 24)
    for base, intent in ((SRGB, "relative"), (model_profile(), "perceptual"), (model_profile(), "relative")) * rounds:
        bent = bytearray(base)
        for at in rng.integers(4, min(len(bent), 1000), rng.integers(1, 5)):
            bent[at] = rng.integers(0, 256)
        output = OutputProfile(bytes(bent), intent)
        try:
            check_output_profile(output, "printer.icc")
            picture = made(pixels, output)
        except Trouble:
            continue
        assert (
            make_soft_proof(Image.new({1: "L", 3: "RGB", 4: "CMYK"}[picture.components], (2, 2)), picture).mode == "RGB"
        )


def test_a_table_that_only_another_intent_needs_has_to_be_whole_too():
    whole = model_profile()
    at = whole.index(b"A2B1") + 4
    start = int.from_bytes(whole[at : at + 4], "big")
    assert whole[start : start + 4] == b"mft2"
    broken = whole[:start] + b"junk" + whole[start + 4 :]
    with pytest.raises(Trouble):
        check_output_profile(OutputProfile(broken, "perceptual"), "printer.icc")


def test_an_intent_without_its_own_table_is_said():
    only_one = model_profile(tables=(0,))
    assert check_output_profile(OutputProfile(only_one, "perceptual"), "p.icc") == []
    for intent in ("relative", "saturation", "absolute"):
        (finding,) = check_output_profile(OutputProfile(only_one, intent), "p.icc")
        assert (finding.kind, finding.severity) == ("output-profile", Severity.WARN)
    assert check_output_profile(OutputProfile(model_profile(), "relative"), "p.icc") == []
    assert check_output_profile(OutputProfile(SRGB, "saturation"), "p.icc") == []


def test_untouched_is_the_default_and_artwork_without_a_description_is_said_to_be_taken_for_srgb():
    assert (printed(made(photo(), None)) == cropped(photo(), made(photo(), None))).all()
    kinds = [f.kind for f in made(photo(), OutputProfile(model_profile())).findings]
    assert kinds == ["assumed-srgb", "out-of-gamut"]
    same = made(photo(), OutputProfile(SRGB))
    assert np.abs(printed(same).astype(int) - cropped(photo(), same)).max() <= 1


def test_the_artworks_own_profile_is_where_the_conversion_starts():
    from art.test_prepare import with_profile

    wide = make_rgb_profile("wide", (2.2,), ((0.64, 0.33), (0.21, 0.71), (0.15, 0.06)))
    recipe = PreparationOptions(tint=0, keep_specks=True, output=OutputProfile(wide))
    picture = prepare_picture(with_profile(png(photo().astype(np.int64)), wide), recipe)
    assert np.abs(printed(picture).astype(int) - cropped(photo(), picture)).max() <= 1
    assert picture.findings == ()
    assert picture.colour == "icc"


def test_the_centre_of_mass_and_the_coverage_are_those_of_the_artwork():
    plain, turned = made(photo(), None), made(photo(), OutputProfile(model_profile("CMYK")))
    assert (plain.mass, plain.coverage, plain.ink) == (turned.mass, turned.coverage, turned.ink)


@NEEDS_LCMS
@pytest.mark.parametrize("space", ["RGB", "CMYK"])
def test_the_share_out_of_gamut_is_that_of_the_engines_own_check(space):
    profile = model_profile(space)
    picture = made(photo(), OutputProfile(profile, "relative", black_point=False))
    finding = next(f for f in picture.findings if f.kind == "out-of-gamut")
    source = cropped(photo(), picture)
    ink = ~(source == 255).all(axis=-1)
    theirs = lcms.outside(source, SRGB, profile, lcms.RGB_8)[ink].mean()
    assert float(finding.what.split("%")[0]) / 100 == pytest.approx(theirs, abs=0.03)
    assert finding.severity is Severity.WARN


def test_out_of_gamut_is_found_where_it_is_and_shown():
    pixels = np.full((400, 900, 3), 150, np.uint8)
    pixels[100:300, 600:800] = (0, 255, 0)
    picture = made(pixels, OutputProfile(model_profile()))
    (_, finding) = picture.findings
    share = 200 * 200 / (400 * 900)
    assert float(finding.what.split("%")[0]) / 100 == pytest.approx(share, abs=0.005)
    assert finding.px == pytest.approx((600, 100, 800, 300), abs=3)
    with Image.open(io.BytesIO(finding.view)) as view:
        assert max(view.size) <= 360
        marked = (np.asarray(view.convert("RGB")) == (255, 0, 255)).all(axis=-1)
    assert marked.mean() == pytest.approx(share, abs=0.01)
    assert marked[marked.shape[0] // 2, int(marked.shape[1] * 0.78)]


def test_where_colours_are_lost_is_told_to_the_pixel_wherever_the_ink_lies():
    """Ink of up to 400 pixels is looked at pixel by pixel, however far from the canvas's corner; larger by samples."""
    pixels = np.full((500, 700, 3), 255, np.uint8)
    pixels[310:410, 420:580] = 150
    pixels[333:347, 455:490] = (0, 255, 0)
    picture = made(pixels, OutputProfile(model_profile()))
    finding = next(f for f in picture.findings if f.kind == "out-of-gamut")
    left, top = picture.ink[:2]
    assert (left, top) == (420, 310)
    assert finding.px == (455, 333, 490, 347)
    assert finding.what.startswith(f"{14 * 35 / (100 * 160):.1%} of the ink")
    with Image.open(io.BytesIO(finding.view)) as view:
        assert view.size == (160, 100)
        shown = np.asarray(view.convert("RGB")).astype(int)
    marked = np.zeros((100, 160), bool)
    marked[23:37, 35:70] = True
    assert (shown[marked] == (255, 0, 255)).all()
    # The rest is grey, half as far from white as it is.
    assert np.abs(shown[~marked] - (128 + 150 // 2)).max() <= 1


def test_greys_and_what_the_printer_can_make_are_not_called_out_of_gamut():
    device = np.random.default_rng(3).uniform(0.3, 1, (60, 60, 3))
    lab = lab_of(printed_xyz(device, "RGB"))
    from PIL import ImageCms

    as_lab = np.dstack([lab[..., 0] * 2.55, lab[..., 1:] + 128]).clip(0, 255).round().astype(np.uint8)
    image = Image.frombytes("LAB", (60, 60), as_lab.tobytes())
    rgb = ImageCms.profileToProfile(
        image, ImageCms.createProfile("LAB"), ImageCms.createProfile("sRGB"), outputMode="RGB"
    )
    pixels = np.asarray(rgb)
    inside = ((pixels > 0) & (pixels < 255)).all(axis=-1)  # what sRGB itself holds
    pixels = np.where(inside[..., None], pixels, 128).astype(np.uint8)
    assert "out-of-gamut" not in [
        f.kind for f in made(pixels, OutputProfile(model_profile(), black_point=False)).findings
    ]
    greys = np.repeat(np.tile(np.arange(90, 250, dtype=np.uint8), (20, 1))[:, :, None], 3, axis=2)
    assert "out-of-gamut" not in [f.kind for f in made(greys, OutputProfile(model_profile())).findings]


def test_the_soft_proof_shows_what_prints():
    pixels = np.full((60, 90, 3), (170, 110, 110), np.uint8)
    pixels[:, :30] = (0, 255, 0)
    for space in ("RGB", "CMYK"):
        picture = made(pixels, OutputProfile(model_profile(space), black_point=False))
        small = Image.fromarray(printed(picture)) if space == "RGB" else _cmyk(printed(picture))
        shown = np.asarray(make_soft_proof(small, picture)).astype(int)
        assert shown.shape == (60, 90, 3)
        assert np.abs(shown[:, 40:] - (170, 110, 110)).max() <= 6  # what can be made looks as it did
        assert shown[0, 0, 0] > 40  # green cannot be made, and the proof shows the duller one that prints
        white = Image.new("RGB", (2, 2), "white") if space == "RGB" else Image.new("CMYK", (2, 2))
        assert make_soft_proof(white, picture).getpixel((0, 0)) == (255, 255, 255)
        paper = make_soft_proof(white, picture, paper=True).getpixel((0, 0))
        assert 225 < max(paper) < 255
    untagged = made(pixels, None)
    assert (np.asarray(make_soft_proof(Image.fromarray(pixels), untagged)) == pixels).all()


def _cmyk(pixels: np.ndarray) -> Image.Image:
    return Image.frombytes("CMYK", (pixels.shape[1], pixels.shape[0]), pixels.tobytes())


def test_workers_and_cache_change_nothing_and_carry_no_profile(tmp_path: Path):
    paths = []
    for i in range(3):
        path = tmp_path / f"{i}.png"
        path.write_bytes(png(photo(seed=i).astype(np.int64)))
        paths.append(path)
    recipe = PreparationOptions(output=OutputProfile(model_profile()))
    cache = PictureCache(tmp_path / "cache")
    want = [prepare_picture(path.read_bytes(), recipe, path.name) for path in paths]
    for workers in (1, 2):
        assert list(prepare_pictures(paths, recipe, workers)) == want
    for _ in range(2):
        got = list(prepare_pictures(paths, recipe, 1, cache))
        assert got == want
        assert all(picture.icc is recipe.output.icc for picture in got)
    assert all(len(entry.read_bytes()) < len(recipe.output.icc) / 4 for entry in (tmp_path / "cache").iterdir())
    others = [
        PreparationOptions(),
        replace(recipe, output=OutputProfile(model_profile(), "perceptual")),
        replace(recipe, output=OutputProfile(model_profile(), "relative", False)),
        replace(recipe, output=OutputProfile(model_profile("CMYK"))),
    ]
    assert all(cache.get_picture(want[0].sha256, other) is None for other in others)
