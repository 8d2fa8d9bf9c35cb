"""What a batch folder says for itself, what mends a finding, and a shop's own values as they are entered."""

from __future__ import annotations

import tomllib
from pathlib import Path
from types import SimpleNamespace

import pytest

from each_case import try_each
from impose import files
from impose.errors import Exit, Finding, Severity, Trouble
from impose.profiles.profiles import load_profiles
from impose.run.batch_choices import add_batch_choices, encode_choices, lay_choices, read_choices
from impose.run.finding_mends import list_mends
from impose.run.load_batch import load_profiles_in_force
from impose.run.options import Options
from impose.run.shop_changes import change_shop

HERE = Path("evening")
PROFILES = load_profiles(files.find_shipped_profiles())


def test_what_a_batch_says_lies_beneath_what_is_said_now():
    """Options said now win over the batch's own."""
    choices = {
        "oversize": "panels", "steps": 40, "skip_bad": True, "accept": ["haze"], "tear": "10 mm", "part_sheets": 3,
        "papers": ["a4"], "columns": "../map.toml", "placement": "left-chest", "width": "60 mm", "copies": 2,
    }  # fmt: skip
    made = lay_choices(Options(), choices, HERE)
    assert (made.oversize, made.steps, made.skip_bad, made.part_sheets) == ("panels", 40, True, 3)
    assert made.accept == {"haze"}
    assert made.tear.total_mm == 10
    assert made.batch_settings == {"papers": ["a4"]}
    assert made.columns == HERE / "map.toml", "never a file outside the folder"
    assert (made.blanks.placement, made.blanks.width_mm, made.blanks.copies) == ("left-chest", 60, 2)
    said = lay_choices(Options(oversize="shrink", seconds=5.0, accept=frozenset({"speck"})), choices, HERE)
    assert (said.oversize, said.steps, said.seconds) == ("shrink", None, 5.0)
    assert said.accept == {"haze", "speck"}
    assert lay_choices(Options(), {}, HERE).oversize is None


@try_each(
    "choices, words",
    [
        ({"oversize": "smaller"}, "not a way with prints too large"),
        ({"steps": -1}, "not a whole number"),
        ({"steps": True}, "not a whole number"),
        ({"copies": 1.5}, "not a whole number"),
        ({"seconds": 86_400}, "not a time in seconds"),
        ({"seconds": False}, "not a time in seconds"),
        ({"strict": "yes"}, "neither true nor false"),
        ({"accept": "haze"}, "not a list of words"),
        ({"accept": [1]}, "not a list of words"),
        ({"width": "wide"}, "not a length"),
    ],
)
def test_a_choice_that_cannot_be_is_refused_by_its_name(choices, words):
    with pytest.raises(Trouble, match=words) as caught:
        lay_choices(Options(), choices, HERE)
    (finding,) = caught.value.findings
    assert (finding.column, finding.file, finding.exit) == (*choices, "batch.toml", Exit.USAGE)


def test_all_that_is_wrong_is_said_at_once():
    with pytest.raises(Trouble) as caught:
        lay_choices(Options(), {"oversize": "x", "steps": "many", "skip_bad": 1}, HERE)
    assert {finding.column for finding in caught.value.findings} == {"oversize", "steps", "skip_bad"}


def test_choices_are_written_as_toml_has_them_and_read_again(tmp_path):
    """TOML 1.0, basic strings: quotes, backslashes and controls are escaped."""
    choices = {
        "papers": ["a4", "13x19"],
        "printer": 'the "big" one\\ \n',
        "skip_bad": True,
        "strict": False,
        "steps": 40,
    }
    content = encode_choices(choices)
    assert tomllib.loads(content.decode()) == choices
    (tmp_path / "batch.toml").write_bytes(content)
    assert read_choices(tmp_path / "batch.toml") == choices
    (tmp_path / "orders.csv").touch()
    assert add_batch_choices([tmp_path / "orders.csv"], Options()).steps == 40
    assert add_batch_choices([tmp_path], Options()).skip_bad
    assert add_batch_choices([tmp_path / "orders.csv", tmp_path], Options()).steps is None, "of two batches none counts"
    (tmp_path / "batch.toml").write_text("colour = 1\n")
    with pytest.raises(Trouble, match="not something a batch can choose"):
        add_batch_choices([tmp_path], Options())


def _mends(kind: str, severity: Severity = Severity.WARN, piece=None) -> dict[str, object]:
    return {m.name: m for m in list_mends(Finding("what", "", severity, kind, row=3), piece, PROFILES)}


@pytest.mark.parametrize(
    ("ppi", "width", "fitting"),
    [
        # By hand: 200 mm at 100 pixels an inch has as many as are wanted at 200 × 100 / wanted.
        (100, 200.0, 200.0 * 100 / PROFILES.settings.ppi_warn),
        (PROFILES.settings.ppi_warn, 200.0, 200.0 * PROFILES.settings.ppi_warn / PROFILES.settings.ppi_note),
    ],
)
def test_a_print_too_coarse_is_offered_at_the_largest_size_that_is_fine(ppi, width, fitting):
    piece = SimpleNamespace(ppi=float(ppi), finished_size=(width, width), row=SimpleNamespace(placement=None))
    mend = _mends("low-resolution", piece=piece)["smaller"]
    offered = float(mend.cells["width"].removesuffix(" mm"))
    assert offered == int(fitting), "whole millimetres, so that the finding is gone"
    assert mend.of_row


def test_no_print_is_offered_at_less_than_ten_millimetres_nor_larger_than_it_is():
    for ppi, width in ((10, 60.0), (1000, 60.0)):
        piece = SimpleNamespace(ppi=float(ppi), finished_size=(width, width), row=SimpleNamespace(placement=None))
        assert "smaller" not in _mends("low-resolution", piece=piece)
    assert "smaller" not in _mends("low-resolution")


def test_what_each_finding_offers():
    assert _mends("haze")["clean-haze"].cells == {"mend": "clean-haze"}
    assert _mends("haze")["clean-haze"].added
    assert "ground" not in _mends("ground", Severity.NOTE), "a note tells that it was mended"
    assert set(_mends("no-room", Severity.STOP)) >= {"shrink", "panels"}
    assert set(_mends("orientation", Severity.STOP)) >= {"turn", "as-stored"}
    assert "turn" not in _mends("orientation")
    assert _mends("haze")["accept"].cells == {"accept": "haze"}
    assert "accept" not in _mends("haze", Severity.NOTE)
    placed = SimpleNamespace(ppi=None, finished_size=(60.0, 60.0), row=SimpleNamespace(placement="left-chest"))
    assert _mends("size-unusual", piece=placed)["usual-size"].cells == {"width": "", "height": ""}


def _shop(folder: Path, *operations):
    change_shop(operations, folder, Options())
    return load_profiles_in_force(Options(profiles_dir=folder))


def test_a_shops_own_values_are_entered_and_hold(tmp_path):
    held = _shop(
        tmp_path,
        {"op": "setting", "name": "keep_upright", "value": "yes"},
        {"op": "setting", "name": "papers", "value": "a4, 13x19"},
        {"op": "press", "press": "Big press", "values": {"seconds": "50", "platen_width": "16 in"}},
        {"op": "printer", "printer": "Studio 2", "values": {"left": "4 mm", "address": ""}},
        {"op": "paper", "new": "300x400mm", "title": "Long ones", "cost": "0.40"},
    )
    assert held.settings.keep_upright is True
    assert tuple(held.settings.papers) == ("a4", "13x19")
    press, usual = held.find_press("big-press"), PROFILES.find_press(PROFILES.settings.press)
    assert (press.title, press.seconds) == ("Big press", 50)
    assert press.platen_width_mm == pytest.approx(16 * 25.4)
    assert press.temperature_c == usual.temperature_c, "what was not said is as on the usual press"
    assert held.find_printer("studio-2").left_mm == 4
    paper = held.find_paper("long-ones")
    assert (paper.width_mm, paper.height_mm, float(paper.cost)) == (300, 400, 0.40)


@pytest.mark.parametrize(
    "operation",
    [
        {"op": "fly"},
        {"op": "setting", "name": "colour", "value": "1"},
        {"op": "press", "press": "!", "values": {}},
        {"op": "printer", "printer": "", "values": {}},
        {"op": "press", "press": "big", "values": {"seconds": "long"}},
        {"op": "press", "press": "big", "values": {"platen_width": "wide"}},
        {"op": "press", "press": "big", "values": {"wings": "2"}},
        {"op": "paper", "new": "a4", "title": "13x19"},
    ],
)
def test_what_is_wrong_is_refused_and_nothing_is_written(tmp_path, operation):
    with pytest.raises(Trouble):
        _shop(tmp_path, {"op": "setting", "name": "keep_upright", "value": "yes"}, operation)
    assert not any(path.is_file() for path in tmp_path.rglob("*"))
