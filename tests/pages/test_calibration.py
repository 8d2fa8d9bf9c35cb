"""The calibration page as other libraries read it, and its arithmetic against numbers worked out by hand."""

from __future__ import annotations

import math
import tomllib
from decimal import Decimal
from pathlib import Path
from types import SimpleNamespace

import pytest

import drawn
from each_case import try_each
from impose.errors import Trouble
from impose.profiles.paper import Paper, Printer
from impose.run import Options
from impose.run.calibrate import read_calibration, replace_printer_table, write_calibration_page
from impose.run.calibration_readings import CalibrationReadings, find_skew_findings, parse_readings
from impose.sheet.calibration_chart import READ_TO_MM, ScaleReading, make_chart, measure_skew, measure_turn

# Sizes of PWG 5101.1-2023 (Media Standardized Names), in mm.
SIZES = {"a4": (210.0, 297.0), "letter": (215.9, 279.4), "a5": (148.0, 210.0), "13x19": (330.2, 482.6)}


@pytest.fixture(scope="module", params=SIZES)
def page(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory):
    out = tmp_path_factory.mktemp("calibration") / "page.pdf"
    write_calibration_page(request.param, "careful", out, Options())
    return request.param, drawn.Page(out, 0)


def test_the_page_is_the_paper(page) -> None:
    name, read = page
    assert (read.width, read.height) == pytest.approx(SIZES[name], abs=1e-3)


def test_both_rulers_are_200_mm_or_the_longest_that_fits_in_whole_millimetres(page) -> None:
    """Printable at edges of 3, 3, 3 and 14 mm, less half a millimetre at each end; 200 mm at most."""
    name, read = page
    width, height = SIZES[name]
    across = min(200, math.floor((width - 7) / 10) * 10)
    along = min(200, math.floor((height - 18) / 10) * 10)
    strokes = read.lines
    long_across = [(a, b) for a, b in strokes if a[1] == b[1] and abs(abs(b[0] - a[0]) - across) < 1e-3]
    long_along = [(a, b) for a, b in strokes if a[0] == b[0] and abs(abs(b[1] - a[1]) - along) < 1e-3]
    assert len(long_across) == len(long_along) == 1
    (x, y), _ = long_across[0]
    ticks = sorted(a[0] - x for a, b in strokes if b[1] == pytest.approx(y, abs=1e-6) and a[0] == b[0])
    assert ticks == pytest.approx(range(across + 1), abs=1e-3)


def test_edge_scales_start_at_the_paper_and_climb_by_half_a_millimetre(page) -> None:
    name, read = page
    width, _ = SIZES[name]
    # Ruler strokes are 1.8, 3 or 4 mm tall; a step is none of these.
    steps = [
        (a, b) for a, b in read.lines if round(math.dist(a, b), 3) not in (1.8, 3.0, 4.0) and math.dist(a, b) < 2.01
    ]
    left = sorted(a[0] for a, b in steps if a[0] == b[0] and a[0] <= 15.001)
    assert left == pytest.approx([step / 2 for step in range(31)], abs=1e-3)
    right = sorted(width - a[0] for a, b in steps if a[0] == b[0] and a[0] >= width - 15.001)
    assert right == pytest.approx([step / 2 for step in range(31)], abs=1e-3)
    bottom = [read.height - a[1] for a, b in steps if a[1] == b[1] and a[1] >= read.height - 25.001]
    assert sorted(bottom) == pytest.approx([step / 2 for step in range(51)], abs=1e-3)


def test_the_grid_is_square_and_its_diagonals_are_drawn(page) -> None:
    _, read = page
    side = max(w for _, _, w, h in read.boxes if w == pytest.approx(h, abs=1e-6))
    assert side == pytest.approx(round(side, -1), abs=1e-3)
    diagonals = [math.dist(a, b) for a, b in read.lines if a[0] != b[0] and a[1] != b[1]]
    assert diagonals == pytest.approx([side * math.sqrt(2)] * 2, abs=1e-3)
    assert f"square of {side:.0f} mm" in read.text


def test_the_words_can_be_read_and_say_what_backwards_means(page) -> None:
    _, read = page
    assert "IF THESE WORDS ARE BACKWARDS" in read.text
    assert "actual size" in read.text


def test_nothing_is_corrected_on_the_page(tmp_path: Path) -> None:
    """The profile “measured” prints 199.2 mm for 200; its page still asks for 200."""
    write_calibration_page("a4", "measured", tmp_path / "page.pdf", Options())
    read = drawn.Page(tmp_path / "page.pdf", 0)
    assert any(a[1] == b[1] and abs(b[0] - a[0]) == pytest.approx(200, abs=1e-3) for a, b in read.lines)


def test_the_same_page_twice_is_the_same_bytes(tmp_path: Path) -> None:
    one, two = (
        write_calibration_page("a4", "careful", tmp_path / name, Options()).read_bytes() for name in ("a.pdf", "b.pdf")
    )
    assert one == two


def test_too_small_a_paper_is_refused(tmp_path: Path) -> None:
    tiny = Paper("custom_tiny_90x150mm", "tiny", (), 90.0, 150.0, Decimal(0))
    assert make_chart(tiny, Printer("careful", 3, 3, 3, 14)) is None
    with pytest.raises(Trouble, match="too small"):
        write_calibration_page("custom_tiny_90x150mm", "careful", tmp_path / "page.pdf", Options())


def test_a_reading_error_of_0_4_mm_on_200_mm_is_0_2_percent() -> None:
    """A published guide to calibrating prints: with 0.4 mm of reading error a length of 200 mm gives 0.2 %."""
    reading = ScaleReading(200, 199.2)
    assert READ_TO_MM == 0.4
    assert reading.uncertainty == pytest.approx(0.002)
    assert reading.scale == 0.996
    assert reading.is_significant
    assert not ScaleReading(200, 199.7).is_significant


def test_skew_by_hand() -> None:
    """A square of 100 leaning by 1°: its diagonals are 200 cos 44.5° and 200 sin 44.5° (the rhombus's law)."""
    long, short = 200 * math.cos(math.radians(44.5)), 200 * math.sin(math.radians(44.5))
    assert measure_skew(long, short, 100) == pytest.approx(1.0, abs=1e-9)
    assert measure_skew(141.4, 141.4, 100) == 0
    assert measure_turn(50.0, 51.0, 100) == pytest.approx(0.57294, abs=1e-4)  # arctan 0.01


READ = "across=199.6 along=199.2mm, left=3.2; top=3 right=3.4 bottom=0.5in"


def test_readings_become_a_profile_that_the_program_uses(tmp_path: Path) -> None:
    done = read_calibration("a4", "studio", READ, Options(profiles_dir=tmp_path / "own"))
    assert done.file == tmp_path / "own" / "printers.toml"
    table = tomllib.loads(done.file.read_text("utf-8"))["studio"]
    assert (table["scale_x"], table["scale_y"]) == (0.998, 0.996)  # 199.6 / 200 and 199.2 / 200
    assert [table[side] for side in ("left", "top", "right", "bottom")] == ["3.2 mm", "3 mm", "3.4 mm", "12.7 mm"]
    assert any("0.20%" in str(finding) for finding in done.findings)


def test_other_tables_keys_and_comments_stay(tmp_path: Path) -> None:
    ours = '[studio] # the good one\nleft = "9 mm"\nscale_x = 1.01\nink_cost = 0.2\n'
    before = f'# ours\n[old]\nleft = "1 mm"\n\n{ours}\n[z]\n'
    after = replace_printer_table(before, Printer("studio", 3, 3, 3, 14, 0.998, 0.996, "note"))
    data = tomllib.loads(after)
    assert after.startswith('# ours\n[old]\nleft = "1 mm"\n')
    assert data["studio"]["left"] == "3 mm"
    assert data["studio"]["ink_cost"] == 0.2
    assert data["z"] == {}
    assert replace_printer_table(after, Printer("studio", 3, 3, 3, 14, 0.998, 0.996, "note")) == after


@try_each("before", ["", "\n", "[a]", "[a]\n", "[a]\nleft = 1", "[a]\nleft = 1\n\n"])
def test_a_printer_that_is_new_comes_last_after_a_blank_line_and_nothing_before_it_changes(before: str) -> None:
    """TOML 1.0: a table ends where the next heading stands on a line of its own."""
    after = replace_printer_table(before, Printer("studio", 3, 3, 3, 14, 0.998, 0.996, "note"))
    assert after.startswith(before)
    assert tomllib.loads(after) == {**tomllib.loads(before), "studio": tomllib.loads(after)["studio"]}
    if before.strip():
        lines = after.splitlines()
        assert not lines[lines.index("[studio]") - 1]
        assert after.count("\n\n") == 1 + before.count("\n\n") or before.endswith("\n\n")


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("across=199.6", "along is missing"),
        ("across=188.5 along=188.5", "fitted to the paper"),  # 94 %: A4 with a 14 mm edge, fitted to the page
        ("across=199.6 along=199.2 depth=3", "not read off the page"),
        ("across=199.6 along=199.2 across=3", "given twice"),
        ("across=199.6 along=199.2 hello", "a unit that is not taken"),
        ("across=199.6/230 along=199.2", "the ruler is 200 mm long"),
        ("across=ten along=199.2", "not a reading"),
        ("across=199.6 along=199.2 left=320 top=3 right=3 bottom=14", "no printer leaves blank"),
        ("across=199.6 along=199.2 left=3 top=3 right=3 bottom=14 rising=17 falling=170", "no diagonal of the grid"),
        ("across=199.6 along=199.2 left=3 top=3 right=3 bottom=14 upper=5 lower=50", "differ by more"),
        ("across=199.6 along=199.2 left=3.2", "nothing is known of its edges: top, right, bottom"),
    ],
)
def test_bad_readings_are_refused_with_the_reason(tmp_path: Path, text: str, says: str) -> None:
    with pytest.raises(Trouble) as caught:
        read_calibration("a4", "studio", text, Options(profiles_dir=tmp_path / "own"))
    assert says in str(caught.value)
    assert caught.value.exit == 2
    assert not (tmp_path / "own").exists()


def test_a_ruler_cut_short_is_read_over_a_whole_ten() -> None:
    done = read_calibration("a4", "careful", "across=179.1/180 along=200", Options())
    assert done.printer.scale_x == 0.995
    assert done.file is None


def test_the_command(run, tmp_path: Path) -> None:
    code, out, _ = run("calibrate", "-p", "a4", "--printer", "studio", "-o", tmp_path / "c.pdf")
    assert (code, out.strip()) == (0, str(tmp_path / "c.pdf"))
    code, _, err = run("calibrate", "-p", "a4", "--printer", "studio", "-o", tmp_path / "c.pdf")
    assert code == 2
    assert "left alone" in err
    code, out, err = run("calibrate", "-p", "a4", "--printer", "studio", "--read", READ, "--profiles", tmp_path / "own")
    assert code == 0
    assert "printers.toml" in out
    code, out, _ = run("profiles", "printers", "--profiles", tmp_path / "own")
    assert "studio" in out


def make_readings(**skew: float) -> CalibrationReadings:
    return CalibrationReadings((200, 200), (200, 200), {}, skew)


@pytest.mark.parametrize(
    ("skew", "side", "says", "severity"),
    [
        # 200 cos 44.5° and 200 sin 44.5° on a square of 100: one degree, 300 mm × tan 1° is 5.2 mm.
        ({"rising": 142.65, "falling": 140.18}, 100, "axes are 1.00° from square: 5.2 mm over 300 mm", "warn"),
        ({"rising": 140.18, "falling": 142.65}, 100, "axes are 1.00° from square: 5.2 mm over 300 mm", "warn"),
        # 0.4 mm of 100 are 0.23°.
        ({"rising": 141.6, "falling": 141.2}, 100, "within the error of reading (0.23°)", "note"),
        ({"upper": 50, "lower": 51}, 100, "fed turned by 0.57°: 3.0 mm over 300 mm", "warn"),
        ({"upper": 51, "lower": 50}, 100, "fed turned by 0.57°: 3.0 mm over 300 mm", "warn"),
        ({"upper": 50, "lower": 50.3}, 100, "within the error of reading (0.23°)", "note"),
    ],
)  # fmt: skip
def test_a_crooked_grid_is_told_and_a_slip_of_reading_is_not_called_crooked(skew, side, says, severity) -> None:
    (finding,) = find_skew_findings(make_readings(**skew), side)
    assert says in finding.what
    assert finding.severity.value == severity
    assert bool(finding.remedy) is (severity == "warn")


@pytest.mark.parametrize("skew", [{}, {"rising": 141.0}, {"falling": 141.0}, {"upper": 50.0}, {"lower": 50.0}])
def test_half_a_reading_of_the_grid_tells_nothing(skew) -> None:
    assert find_skew_findings(make_readings(**skew), 100) == []
    assert find_skew_findings(make_readings(rising=150.0, falling=10.0, upper=1.0, lower=90.0), 0) == []


@pytest.mark.parametrize(
    ("skew", "fits"),
    [({"rising": 155.5}, True), ({"rising": 155.6}, False), ({"falling": 127.3}, True), ({"falling": 127.2}, False),
     ({"upper": 40.0, "lower": 50.0}, True), ({"upper": 40.0, "lower": 50.1}, False),
     ({"upper": 50.1, "lower": 40.0}, False)],
)  # fmt: skip
def test_a_tenth_off_is_a_slip(skew, fits) -> None:
    """The diagonal of a square of 100 is 141.42: a tenth is 14.14."""
    if fits:
        find_skew_findings(make_readings(**skew), 100)
    else:
        with pytest.raises(Trouble, match=r"diagonal of the grid|more than a sheet can be askew"):
            find_skew_findings(make_readings(**skew), 100)


CHART = SimpleNamespace(across_mm=180.0, along_mm=200.0)


@try_each(
    "text, says",
    [
        ("across=180", "along is missing"), ("along=200", "across is missing"), ("", "across is missing"),
        ("across=180 along=200 across=179", "across is given twice"),
        ("across=180 along=200 width=5", "“width” is not read off the page"),
        ("five across=180 along=200", "something is not a reading"), ("across=5 ells along=200", "across: "),
        ("across=181/181 along=200", "across: the ruler is 180 mm long"),
        ("across=170.9 along=200", "a scale of 0.949"), ("across=190.9 along=200", "a scale of 1.061"),
        ("across=180 along=200 left=50.1", "an edge of over 50 mm"),
    ],
)  # fmt: skip
def test_each_slip_in_what_was_read_is_told(text, says) -> None:
    with pytest.raises(Trouble) as told:
        parse_readings(text, CHART)  # type: ignore[arg-type]
    assert says in str(told.value)


def test_readings_are_taken_in_any_order_with_or_without_units() -> None:
    made = parse_readings("left = 50; ALONG: 19.9cm, across=99.5/100 upper=3.5 top=0", CHART)  # type: ignore[arg-type]
    assert made.across == (99.5, 100)
    assert made.along == (199, 200)
    assert made.edges == {"left": 50, "top": 0}
    assert made.skew == {"upper": 3.5}
    inches = parse_readings("across=7.1 along=7.9", CHART, "in")  # type: ignore[arg-type]
    assert inches.across[0] == pytest.approx(7.1 * 25.4)
    assert parse_readings("across=171 along=200", CHART).across == (171, 180)  # type: ignore[arg-type]


@pytest.mark.parametrize(("said", "fits"), [("0.2 mm", True), ("5 mm", True), ("5.1 mm", False), ("near", False)])
def test_how_exactly_a_rule_is_read_is_a_length_up_to_5_mm(tmp_path: Path, said: str, fits: bool) -> None:
    if fits:
        read_calibration("a4", "careful", "across=200 along=200", Options(), said)
    else:
        with pytest.raises(Trouble, match="the accuracy of your reading"):
            read_calibration("a4", "careful", "across=200 along=200", Options(), said)
