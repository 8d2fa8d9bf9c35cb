"""Press times by hand, from the shipped figures: 5 s of touch, 40 s closed, 10 s of rest, 60, 30 and 30 s of work."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from conftest import draw
from impose.run import Options, plan
from impose.sheet.press_steps import make_tickets
from impose.sheet.press_times import PressEvening, PressTimes, time_evening

HEADING = "order,wearer,art,placement,garment,width"
BACK, CHEST = "full-back,T-shirt adult M,8 in", "left-chest,T-shirt adult M,60 mm"


def evening(folder: Path, lines: list[str], own: str = "", oversize: Any = None, **settings: object) -> PressEvening:
    draw("noise", 300, 200, 1).save(folder / "owl.png")
    (folder / "one.csv").write_text("\n".join([HEADING, *lines]) + "\n", "utf-8")
    mine = folder / "own"
    mine.mkdir(exist_ok=True)
    (mine / "presses.toml").write_text(own, "utf-8")
    options = Options(settings={"papers": ["13x19"], **settings}, profiles_dir=mine, steps=10, workers=1,
                      oversize=oversize)  # fmt: skip
    planned = plan([folder / "one.csv"], options)
    tickets = make_tickets(planned.batch.rows, planned.layout, planned.profiles)
    return time_evening(tickets, planned.profiles.find_press(planned.profiles.settings.press))


def test_a_print_of_two_heats_closes_twice_and_rests_once(tmp_path: Path) -> None:
    """13.6 in on a platen that holds 13.5: the paper is not lifted between the heats, so it rests once, after both."""
    found = evening(tmp_path, ["R-1,Ada,owl.png,full-back,T-shirt adult M,13.6 in"], press="15x15")
    assert (found.prints, found.presses) == (1, 2)
    assert found.times == PressTimes(prepress=5, pressing=80, resting=10, taping=60, turning=30, changing=0)


def test_each_panel_is_taped_and_lifted(tmp_path: Path) -> None:
    """12 by 8 in in two panels, which a platen of 9 by 12 in takes one by one, and one of 16 by 20 in together."""
    found = evening(tmp_path, ["R-1,Ada,owl.png,full-back,T-shirt adult M,12 in"], papers=["a4"], press="9x12",
                    oversize="panels")  # fmt: skip
    assert (found.prints, found.presses) == (1, 2)
    assert found.times == PressTimes(prepress=5, pressing=80, resting=20, taping=120, turning=30, changing=0)
    found = evening(tmp_path, ["R-1,Ada,owl.png,full-back,T-shirt adult M,12 in"], papers=["a4"], oversize="panels")
    assert (found.prints, found.presses) == (1, 1)
    assert found.times == PressTimes(prepress=5, pressing=40, resting=10, taping=120, turning=30, changing=0)


def test_all_backs_first_changes_the_set_up_once(tmp_path: Path) -> None:
    """Three garments with back and chest: by garment five changes of 30 s, set-up by set-up one."""
    lines = [f"R-1,{name},owl.png,{place}" for name in ("Ada", "Bo", "Cy") for place in (BACK, CHEST)]
    work = 6 * (5 + 40 + 10 + 60 + 30)
    found = evening(tmp_path, lines)
    assert (found.by, found.garments, found.times.seconds, found.other.seconds) == (
        "garment", 3, work + 5 * 30, work + 30
    )  # fmt: skip
    other = evening(tmp_path, lines, ticket_grouping="platen")
    assert (other.by, other.garments, other.times.seconds, other.other.seconds) == (
        "platen", 3, work + 30, work + 5 * 30
    )  # fmt: skip


def test_the_shops_own_seconds_are_reckoned_with(tmp_path: Path) -> None:
    own = "[16x20]\nhandling_seconds = 100\nturning_seconds = 7\nsetup_seconds = 1\nrest_seconds = 0\n"
    found = evening(tmp_path, [f"R-1,Ada,owl.png,{BACK}", f"R-1,Ada,owl.png,{CHEST}"], own)
    assert found.times == PressTimes(prepress=10, pressing=80, resting=0, taping=200, turning=14, changing=1)
    assert found.times.minutes == 6  # 305 s
