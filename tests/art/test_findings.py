"""Each finding on art made for it, and silence on clean art.

Measures are our own or common practice (see the document on findings); check values come from the arithmetic of
compositing (W3C PNG Third Edition, 13.16) and from plain searches that know nothing of the code.
"""

from __future__ import annotations

import io
from collections import Counter, deque
from importlib.util import find_spec
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
from hypothesis import example, given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays
from PIL import Image, ImageDraw, ImageFilter, ImageFont, PngImagePlugin

from art.clean_art import draw
from impose.art.cache import PictureCache
from impose.art.faults.mend import make_easing_table
from impose.art.faults.regions import find_regions
from impose.art.faults.thin import find_thin_parts
from impose.art.prepare import PreparationOptions, PreparedPicture, prepare_picture
from impose.errors import Finding, Severity, Trouble
from impose.remedies import word_remedies

EXAMINED = PreparationOptions(rows=False)


def saved(image: Image.Image, **options) -> bytes:
    file = io.BytesIO()
    image.save(file, "PNG", compress_level=1, **options)
    return file.getvalue()


def examined(image: Image.Image, recipe: PreparationOptions = EXAMINED, **options) -> PreparedPicture:
    return prepare_picture(saved(image, **options), recipe, "art.png")


def found(image: Image.Image, kind: str, recipe: PreparationOptions = EXAMINED, **options) -> list[Finding]:
    return [finding for finding in examined(image, recipe, **options).findings if finding.kind == kind]


def kinds(image: Image.Image, recipe: PreparationOptions = EXAMINED, **options) -> list[str]:
    return [finding.kind for finding in examined(image, recipe, **options).findings]


def disc(size: int = 600, ground=(0, 0, 0, 0), colour=(160, 30, 40, 255)) -> Image.Image:
    """A smooth disc in the middle of its canvas: nothing is wrong with it."""
    big = Image.new("RGBA", (size * 2, size * 2), ground)
    ImageDraw.Draw(big).ellipse((size // 2, size // 2, size * 3 // 2, size * 3 // 2), fill=colour)
    return big.resize((size, size), Image.Resampling.BOX)


# What prints


@pytest.mark.parametrize(("grey", "marks", "inks"), [(0, 1, 5), (128, 2, 10), (240, 9, 77), (250, 26, None)])
def test_the_least_alpha_that_prints_and_that_counts_as_ink(grey, marks, inks):
    """255 - a (255 - c) / 255, rounded: reckoned by hand for each colour; 5 of 255 levels are 2 %."""
    assert next(a for a in range(256) if round(a * (255 - grey) / 255) >= 1) == marks
    ink = None
    for alpha in range(1, 256):
        pixels = np.full((4, 4, 4), (grey, grey, grey, alpha), np.uint8)
        try:
            examined(Image.fromarray(pixels, "RGBA"))
        except Trouble:
            continue
        ink = alpha
        break
    assert ink == (inks if inks is not None else 230)  # 250: 5 a / 255 is 4.5 from 230 on


# Haze


def hazy(level, seed: int = 3) -> Image.Image:
    """The disc with what a background remover left around it."""
    rng = np.random.default_rng(seed)
    pixels = np.asarray(disc()).copy()
    faint = level(rng, pixels.shape[:2])
    clear = pixels[..., 3] == 0
    pixels[clear] = (40, 60, 40, 0)
    pixels[..., 3] = np.where(clear, faint, pixels[..., 3])
    return Image.fromarray(pixels, "RGBA")


HAZES = {
    "noise": lambda rng, shape: rng.integers(0, 14, shape),
    "flat": lambda rng, shape: np.full(shape, 9),
    "blotches": lambda rng, shape: np.asarray(
        Image.fromarray(rng.integers(0, 24, (8, 8)).astype(np.uint8)).resize(shape[::-1], Image.Resampling.BICUBIC)
    ),
    "patch": lambda rng, shape: np.pad(np.full((150, 150), 7), ((20, shape[0] - 170), (20, shape[1] - 170))),
}


@pytest.mark.parametrize("name", sorted(HAZES))
def test_haze_is_found_and_shown(name):
    (finding,) = found(hazy(HAZES[name]), "haze")
    assert finding.severity is Severity.WARN
    assert "Have haze cleaned off" in finding.remedy
    assert finding.file == "art.png"
    view = np.asarray(Image.open(io.BytesIO(finding.view)).convert("L"))
    assert max(view.shape) <= 360
    assert view[40, 40] < 240, "the view should exaggerate what is hardly there"


@pytest.mark.parametrize("name", sorted(HAZES))
def test_cleaned_haze_leaves_the_design_alone(name):
    image = hazy(HAZES[name])
    picture = examined(image, PreparationOptions(clean_haze=True))
    clean = examined(disc(), PreparationOptions())
    assert max(abs(a - b) for a, b in zip(picture.ink, clean.ink, strict=True)) <= 2
    (finding,) = [f for f in picture.findings if f.kind == "haze"]
    assert finding.severity is Severity.NOTE
    pair = np.asarray(Image.open(io.BytesIO(finding.view)).convert("L"))
    middle = pair.shape[1] // 2
    before, after = pair[:, : middle - 4], pair[:, middle + 4 :]
    assert (before[10:30, 10:30] < 245).any()
    assert (after[10:30, 10:30] >= 253).all()


@pytest.mark.parametrize("seeds", [(1, 2, 4), pytest.param(range(24), marks=pytest.mark.long)])
def test_cleaning_what_is_clean_changes_nothing(seeds):
    """At first words, a photograph and a glow: what is faint, and what is small."""
    wish = PreparationOptions(clean_haze=True, drop_specks=True)
    for seed in seeds:
        _, image = draw(seed)
        a, b = prepare_picture(saved(image), PreparationOptions()), prepare_picture(saved(image), wish)
        assert (a.data, a.ink, a.findings) == (b.data, b.ink, b.findings)


@given(st.integers(1, 25))
def test_easing_has_no_step_and_touches_only_the_faint(cut):
    levels = make_easing_table(cut)
    assert levels[: cut + 1] == [0] * (cut + 1)
    assert levels[2 * cut :] == list(range(2 * cut, 256))
    assert all(0 <= b - a <= 2 for a, b in pairwise(levels))


# Grounds and white


@pytest.mark.parametrize("ground", [(253, 253, 253, 255), (250, 248, 244, 255), (245, 250, 255, 255)])
def test_an_off_white_ground_is_found_and_whitened(ground):
    image = disc(ground=ground).convert("RGB")
    (finding,) = found(image, "off-white")
    assert finding.severity is Severity.WARN
    assert finding.px == (0, 0, 600, 600)
    picture = examined(image, PreparationOptions(clean_haze=True))
    assert [f.severity for f in picture.findings if f.kind == "off-white"] == [Severity.NOTE]
    assert max(abs(a - b) for a, b in zip(picture.ink, examined(disc(), PreparationOptions()).ink, strict=True)) <= 2


def test_an_off_white_ground_of_a_photograph_is_found_under_its_noise():
    rng = np.random.default_rng(8)
    pixels = np.asarray(disc(ground=(252, 252, 252, 255)).convert("RGB")).astype(int)
    noisy = (pixels + rng.integers(-2, 3, pixels.shape)).clip(0, 255).astype(np.uint8)
    assert found(Image.fromarray(noisy), "off-white")


def test_an_off_white_box_on_a_clear_canvas_is_found():
    image = Image.new("RGBA", (700, 700), (0, 0, 0, 0))
    image.paste(disc(400, ground=(251, 251, 249, 255)), (150, 150))
    (finding,) = found(image, "off-white")
    assert all(abs(a - b) <= 4 for a, b in zip(finding.px, (150, 150, 550, 550), strict=True))


def test_palette_grounds_are_whitened_too():
    image = disc(ground=(250, 250, 250, 255)).convert("RGB").quantize(16)
    assert found(image, "off-white")
    picture = examined(image, PreparationOptions(clean_haze=True))
    assert picture.ink[0] > 100


@pytest.mark.parametrize("ground", [(255, 255, 255, 255), (230, 220, 200, 255), (0, 0, 0, 0)])
def test_white_coloured_and_clear_grounds_are_not_off_white(ground):
    assert not found(disc(ground=ground), "off-white")


def test_white_drawn_or_shut_in_is_noted_and_letters_are_not():
    eyed = disc()
    ImageDraw.Draw(eyed).ellipse((250, 250, 350, 350), fill="white")
    (finding,) = found(eyed, "white-inside")
    assert finding.severity is Severity.NOTE
    assert all(abs(a - b) <= 2 for a, b in zip(finding.px, (250, 250, 351, 351), strict=True))
    ring = disc(ground=(255, 255, 255, 255)).convert("RGB")
    ImageDraw.Draw(ring).ellipse((200, 200, 400, 400), fill="white")
    assert found(ring, "white-inside")
    word = Image.new("RGB", (900, 300), "white")
    ImageDraw.Draw(word).text((30, 20), "Boogbad", fill="navy", font_size=200)
    assert not found(word, "white-inside")
    holed = disc()
    ImageDraw.Draw(holed).ellipse((250, 250, 350, 350), fill=(0, 0, 0, 0))
    assert not found(holed, "white-inside"), "a clear hole is cloth on purpose"


# Specks


def dusty(places) -> Image.Image:
    image = Image.new("RGBA", (800, 800), (0, 0, 0, 0))
    pen = ImageDraw.Draw(image)
    pen.rectangle((60, 60, 740, 110), fill="navy")
    pen.rectangle((60, 690, 740, 740), fill="navy")
    for x, y in places:
        pen.rectangle((x, y, x + 1, y + 1), fill="black")
    return image


def test_specks_inside_are_ringed_and_dropped_on_request():
    image = dusty([(300, 400), (620, 300)])
    (finding,) = found(image, "speck-inside")
    assert finding.px == (300, 300, 622, 402)
    view = np.asarray(Image.open(io.BytesIO(finding.view)).convert("RGB")).astype(int)
    assert (abs(view - (214, 0, 110)).sum(axis=2) < 60).any(), "no ring"
    picture = examined(image, PreparationOptions(drop_specks=True))
    assert "speck-inside" not in [f.kind for f in picture.findings]
    (dropped,) = [f for f in picture.findings if f.kind == "speck"]
    assert dropped.severity is Severity.NOTE
    assert "2 specks" in dropped.what
    assert (
        prepare_picture(saved(image), PreparationOptions(drop_specks=True)).data
        == prepare_picture(saved(dusty([])), PreparationOptions()).data
    )


def test_dust_is_dropped_however_much_there_is():
    rng = np.random.default_rng(4)
    places = [(x, y) for x in range(80, 720, 9) for y in range(160, 640, 9) if rng.random() < 0.25]
    assert len(places) > 800
    image = dusty(places)
    picture = prepare_picture(saved(image), PreparationOptions(drop_specks=True))
    assert picture.data == prepare_picture(saved(dusty([])), PreparationOptions()).data


def test_a_picture_of_nothing_but_dots_is_kept():
    image = Image.new("L", (300, 300), 255)
    image.putpixel((40, 40), 0)
    image.putpixel((240, 200), 0)
    assert (
        prepare_picture(saved(image), PreparationOptions(drop_specks=True)).data
        == prepare_picture(saved(image), PreparationOptions()).data
    )


@pytest.mark.parametrize(
    ("size", "mode"),
    [
        *((size, mode) for size in ((1, 5000), (5000, 1), (2, 2), (65, 1300)) for mode in ("L", "RGB", "RGBA")),
        ((20000, 20), "RGB"),
        ((513, 2049), "L"),
        *(pytest.param((20000, 20), mode, marks=pytest.mark.long) for mode in ("L", "RGBA")),
        *(pytest.param((513, 2049), mode, marks=pytest.mark.long) for mode in ("RGB", "RGBA")),
    ],
)
def test_pictures_of_any_shape_are_looked_at(size, mode):
    rng = np.random.default_rng(2)
    pixels = np.full((size[1], size[0], len(mode)), 255, np.uint8)
    lower = pixels[size[1] // 2 :]
    lower[...] = rng.integers(0, 256, lower.shape)
    lower[-1, -1] = [0, 0, 0, 255][: len(mode)] if len(mode) > 1 else 0
    image = Image.fromarray(pixels.squeeze(axis=2) if len(mode) == 1 else pixels, mode)
    width, height = size
    for facts in (examined(image).facts, examined(image, PreparationOptions(rows=False, drop_specks=True)).facts):
        for thin in (*facts.strokes, *facts.gaps):
            assert 0 <= thin.box[0] < width
            assert 0 <= thin.box[1] < height


def test_dots_that_belong_are_not_dropped():
    image = Image.new("RGBA", (900, 300), (0, 0, 0, 0))
    ImageDraw.Draw(image).text((30, 60), "i. ä: i! ...", fill="navy", font_size=40)
    assert (
        prepare_picture(saved(image), PreparationOptions(drop_specks=True)).data
        == prepare_picture(saved(image), PreparationOptions()).data
    )


@given(arrays(np.bool_, st.tuples(st.integers(1, 14), st.integers(1, 14))))
def test_regions_are_those_of_a_plain_search(mask):
    expected = Counter()
    left = {(int(r), int(c)) for r, c in zip(*np.nonzero(mask), strict=True)}
    while left:
        queue, region = deque([left.pop()]), []
        while queue:
            r, c = queue.popleft()
            region.append((r, c))
            for near in ((r - 1, c), (r + 1, c), (r, c - 1), (r, c + 1)):
                if near in left:
                    left.discard(near)
                    queue.append(near)
        rows, columns = zip(*region, strict=True)
        expected[len(region), min(columns), min(rows), max(columns) + 1, max(rows) + 1] += 1
    seen = find_regions(mask)
    assert Counter((int(a), *map(int, box)) for a, box in zip(seen.area, seen.box, strict=True)) == expected


# Strokes


def widths(solid: np.ndarray) -> tuple[list[int], list[int]]:
    strokes, gaps = find_thin_parts(solid, np.zeros_like(solid), 1, 1, (0, 0, solid.shape[1], solid.shape[0]))
    return [t.width for t in strokes], [t.width for t in gaps]


@example(24, 70, False, False)
@example(24, 80, True, True)
@example(23, 70, False, True)
@given(st.integers(1, 24), st.integers(70, 80), st.booleans(), st.booleans())
def test_a_bar_shows_its_width_whichever_way_it_lies(width, at, turned, gap):
    solid = np.zeros((200, 200), np.bool_)
    solid[20:180, at : at + width] = True
    if gap:
        solid[20:180, 40:160] ^= True
    solid = solid.T if turned else solid
    strokes, gaps = widths(solid)
    assert (gaps if gap else strokes)[0] == width
    assert not (strokes if gap else gaps)


def test_what_is_wider_than_is_followed_is_no_thin_part():
    for gap in (False, True):
        solid = np.zeros((200, 200), np.bool_)
        solid[20:180, 70:95] = True
        if gap:
            solid[20:180, 40:160] ^= True
        assert widths(solid) == ([], [])


@pytest.mark.parametrize("angle", [10, 25, 40, 45])
def test_slanted_strokes_count_as_at_most_half_as_wide_again(angle):
    image = Image.new("L", (1600, 1600), 255)
    ImageDraw.Draw(image).rectangle((200, 784, 1400, 816), fill=0)
    turned = np.asarray(image.rotate(angle, Image.Resampling.BICUBIC, fillcolor=255).reduce(4)) < 128
    strokes, _ = widths(turned)
    assert 8 <= strokes[0] <= 12


def test_corners_curves_tips_and_grain_are_no_strokes():
    image = Image.new("L", (1200, 1200), 255)
    pen = ImageDraw.Draw(image)
    pen.regular_polygon((300, 300, 200), 4, 45, fill=0)
    pen.ellipse((600, 100, 1100, 600), fill=0)
    pen.polygon([(100, 1000), (160, 700), (220, 1000)], fill=0)  # a tip of 23 degrees
    for x in range(640, 1100, 60):
        pen.ellipse((x, 800, x + 9, 809), fill=0)
    assert widths(np.asarray(image) < 128) == ([], [])
    rng = np.random.default_rng(1)
    grain = np.asarray(
        Image.fromarray(rng.integers(0, 255, (300, 300)).astype(np.uint8)).filter(ImageFilter.BoxBlur(2))
    )
    strokes, gaps = widths(grain < 127)
    assert not [w for w in strokes + gaps if w < 6]


@pytest.mark.parametrize("mode", ["1", "L", "LA", "P", "RGB", "RGBA"])
def test_a_thin_line_and_a_thin_gap_are_seen_in_every_kind_of_picture(mode):
    """A line of 3 pixels and a slit of 4 in a block, drawn: the same whatever pixels are kept as."""
    image = Image.new("RGBA", (300, 300), (0, 0, 0, 0) if mode.endswith("A") else (255, 255, 255, 255))
    pen = ImageDraw.Draw(image)
    pen.rectangle((30, 20, 32, 280), fill=(0, 0, 0, 255))
    pen.rectangle((100, 20, 240, 280), fill=(0, 0, 0, 255))
    pen.rectangle((168, 40, 171, 260), fill=image.getpixel((0, 0)))
    facts = examined(image.convert("RGB").convert(mode) if mode in "1P" else image.convert(mode)).facts
    assert min(thin.width for thin in facts.strokes) == 3
    assert min(thin.width for thin in facts.gaps) == 4


@pytest.mark.parametrize("seeds", [range(2, 20, 6), pytest.param(range(2, 62, 6), marks=pytest.mark.long)])
def test_a_photograph_has_no_strokes(seeds):
    facts = [examined(draw(seed)[1]).facts for seed in seeds]
    assert [(f.strokes, f.gaps) for f in facts if any(t.width < 6 for t in f.strokes + f.gaps)] == []


# Borders


@pytest.mark.parametrize("side", ["left", "top", "right", "bottom"])
def test_art_cut_by_the_canvas_is_found(side):
    box = {"left": (250, 0, 600, 600), "top": (0, 250, 600, 600), "right": (0, 0, 350, 600), "bottom": (0, 0, 600, 350)}
    (finding,) = found(disc().crop(box[side]), "cut-off")
    assert side in finding.what
    # What is shown is a strip along that side, from end to end of the disc's 300 pixels, inside the picture.
    x0, y0, x1, y1 = finding.px
    across, along = (x1 - x0, y1 - y0) if side in ("left", "right") else (y1 - y0, x1 - x0)
    assert 0 < across < 30
    assert along == pytest.approx(300, abs=2)
    at_edge = {"left": x0 == 0, "top": y0 == 0, "right": x1 == 350, "bottom": y1 == 350}
    assert at_edge[side]


def test_trimmed_art_and_full_rectangles_are_not_cut_off():
    whole = disc()
    assert not found(whole, "cut-off")
    assert not found(whole.crop(whole.getbbox()), "cut-off")
    left, top, right, bottom = whole.getbbox()
    assert not found(whole.crop((left, top, right + 80, bottom + 80)), "cut-off"), "a curve that touches is whole"
    assert not found(Image.new("RGB", (300, 200), "navy"), "cut-off")


@pytest.mark.parametrize("words", ["E", "H", "L", "1", "I", "D", "7", "17", "M", "B"])
def test_stems_of_letters_and_digits_are_no_straight_edges(words):
    """A bold sans (Source Sans Black, SIL Open Font License), whose stems are straight from top to foot."""
    folder = Path(find_spec("font_source_sans_pro").origin).parent / "files"
    font = ImageFont.truetype(str(folder / "SourceSansPro-Black.ttf"), 400)
    left, top, right, bottom = font.getbbox(words)
    image = Image.new("RGBA", (right - left + 60, bottom - top + 60), (0, 0, 0, 0))
    ImageDraw.Draw(image).text((30 - left, 30 - top), words, fill=(10, 20, 60, 255), font=font)
    assert examined(image).facts.straight == ()


def test_straight_dark_sides_are_facts():
    boxed = Image.new("RGBA", (400, 400), (0, 0, 0, 0))
    ImageDraw.Draw(boxed).rectangle((50, 50, 350, 300), fill="navy")
    assert examined(boxed).facts.straight == ("left", "top", "right", "bottom")
    assert examined(disc()).facts.straight == ()
    bar = Image.new("RGBA", (400, 400), (0, 0, 0, 0))
    ImageDraw.Draw(bar).rectangle((20, 100, 380, 160), fill="navy")
    assert examined(bar).facts.straight == ("top", "bottom"), "its ends are short beside its length"
    pale = Image.new("RGBA", (400, 400), (0, 0, 0, 0))
    ImageDraw.Draw(pale).rectangle((50, 50, 350, 300), fill=(200, 220, 255))
    assert examined(pale).facts.straight == ()


def desktop(size=(1920, 1080)) -> Image.Image:
    image = Image.new("RGB", size, (250, 250, 250))
    pen = ImageDraw.Draw(image)
    pen.rectangle((0, 0, size[0], 30), fill=(40, 44, 52))
    pen.ellipse((600, 200, 1200, 800), fill="orange")
    return image


def test_screenshots_are_recognised_and_wallpapers_of_other_sizes_are_not():
    assert found(desktop(), "screenshot")
    assert found(desktop((1170, 2532)), "screenshot")
    assert not found(desktop((1900, 1000)), "screenshot")
    plain = Image.new("RGB", (1920, 1080), "white")
    ImageDraw.Draw(plain).ellipse((600, 200, 1200, 800), fill="orange")
    assert not found(plain, "screenshot"), "the size alone proves nothing"
    assert found(plain, "screenshot", dpi=(96, 96))
    said = PngImagePlugin.PngInfo()
    said.add_text("Description", "Screenshot of a page")
    (finding,) = found(plain.crop((0, 0, 1500, 900)), "screenshot", pnginfo=said)
    assert "the file calls itself one" in finding.what
    (finding,) = found(desktop(), "screenshot")
    assert "1920 × 1080 px is the size of a screen" in finding.what
    assert "a flat bar runs along its top" in finding.what
    clear = plain.convert("RGBA")
    clear.putalpha(Image.new("L", clear.size, 255).point(lambda v: v))
    ImageDraw.Draw(clear).rectangle((0, 0, 300, 300), fill=(0, 0, 0, 0))
    assert not found(clear, "screenshot", dpi=(96, 96))


# All together


@pytest.mark.parametrize("count", [12, pytest.param(300, marks=pytest.mark.long)])
def test_clean_art_raises_no_alarm(count: int):
    """Pictures of six families: no warning, and notes only where white is shut in by drawn lines."""
    alarms, notes = [], Counter()
    for seed in range(count):
        family, image = draw(seed)
        for finding in examined(image).findings:
            if finding.severity is Severity.NOTE:
                notes[family, finding.kind] += 1
            else:
                alarms.append((seed, family, finding.kind))
    assert alarms == []
    assert set(notes) <= {("lines", "white-inside"), ("words", "white-inside")}
    assert notes.total() <= max(6, count // 20)


@given(
    st.sampled_from(["L", "LA", "RGB", "RGBA"]).flatmap(
        lambda mode: st.tuples(
            st.just(mode),
            st.tuples(st.integers(1, 90), st.integers(1, 90)).flatmap(
                lambda size: arrays(
                    np.uint8,
                    (*size, len(mode)),
                    elements=st.sampled_from([0, 3, 20, 130, 245, 252, 255]),
                    fill=st.just(0),
                )
            ),
        )
    ),
    st.booleans(),
)
def test_no_picture_makes_it_stumble(drawn, mend):
    mode, pixels = drawn
    image = Image.fromarray(pixels.squeeze(axis=2) if len(mode) == 1 else pixels, mode)
    try:
        picture = examined(image, PreparationOptions(rows=False, clean_haze=mend, drop_specks=mend))
    except Trouble as trouble:
        refused = [finding.kind for finding in trouble.findings]
    else:
        refused = []
    assert refused in ([], ["blank"])
    for finding in [] if refused else picture.findings:
        assert finding.kind
        assert finding.px is None or (0 <= finding.px[0] < finding.px[2] and 0 <= finding.px[1] < finding.px[3])


@pytest.mark.parametrize("seeds", [(0, 5, 10), pytest.param(range(0, 30, 5), marks=pytest.mark.long)])
def test_looking_changes_nothing_that_prints(seeds):
    for seed in seeds:
        content = saved(draw(seed)[1])
        whole, seen = prepare_picture(content, PreparationOptions()), prepare_picture(content, EXAMINED)
        assert (whole.ink, whole.findings, whole.facts) == (seen.ink, seen.findings, seen.facts)
        assert not seen.data


def test_findings_and_facts_survive_the_cache(tmp_path):
    image = hazy(HAZES["noise"])
    ImageDraw.Draw(image).line((100, 550, 500, 550), fill="black", width=2)
    picture = prepare_picture(saved(image), PreparationOptions())
    assert picture.facts.strokes
    assert picture.findings[0].view
    cache = PictureCache(tmp_path)
    cache.keep_picture(picture, PreparationOptions())
    assert cache.get_picture(picture.sha256, PreparationOptions()) == picture
    assert cache.get_picture(picture.sha256, PreparationOptions(clean_haze=True)) is None


def test_a_kept_picture_says_what_mends_it_in_the_words_of_each_door(tmp_path):
    picture, cache = examined(hazy(HAZES["flat"])), PictureCache(tmp_path)
    cache.keep_picture(picture, PreparationOptions())
    kept = cache.get_picture(picture.sha256, PreparationOptions())
    assert kept is not None
    with word_remedies({"erase-haze": "Press the button."}):
        assert [[str(f.remedy) for f in p.findings if f.kind == "haze"] for p in (picture, kept)] == [
            ["Press the button."]
        ] * 2


def test_views_are_the_same_bytes_each_time():
    image = hazy(HAZES["noise"])
    assert [f.view for f in examined(image).findings] == [f.view for f in examined(image).findings]
