"""Which garments share a ticket, and what an evening holds, by hand."""

from __future__ import annotations

from pathlib import Path

from conftest import draw
from impose.profiles.press import HeatPress, PressSetting
from impose.run import Options, plan
from impose.sheet.garment_variants import AlikeGarments, group_alike, list_setups
from impose.sheet.press_prints import group_steps_by_print
from impose.sheet.press_steps import PressTicket, make_tickets

HEADING = "order,wearer,art,placement,garment,copies,width,note"


def made(folder: Path, lines: list[str], **settings: object) -> tuple[list[PressTicket], HeatPress]:
    draw("noise", 300, 200, 1).save(folder / "owl.png")
    draw("ellipse", 200, 200, 2).save(folder / "sun.png")
    (folder / "one.csv").write_text("\n".join([HEADING, *lines]) + "\n", "utf-8")
    options = Options(settings={"papers": ["13x19"], **settings}, steps=10, workers=1)
    planned = plan([folder / "one.csv"], options)
    press = planned.profiles.find_press(planned.profiles.settings.press)
    return make_tickets(planned.batch.rows, planned.layout, planned.profiles), press


def counts(found: list[AlikeGarments]) -> list[int]:
    return [len(one.tickets) for one in found]


def test_copies_share_a_ticket_and_so_do_wearers_of_the_same(tmp_path: Path) -> None:
    found, _ = made(
        tmp_path,
        [
            "R-1,Ada,owl.png,full-back,T-shirt adult M,1,8 in,",
            "R-1,Bo,owl.png,full-back,T-shirt adult M,1,8 in,",
            "R-1,,owl.png,left-chest,T-shirt adult L,3,60 mm,",
        ],
    )
    assert counts(group_alike(found)) == [2, 3]


def test_whatever_differs_at_the_press_keeps_garments_apart(tmp_path: Path) -> None:
    """Another order, size, picture, width, place or note is another ticket."""
    base = "R-1,{},{},{},T-shirt adult {},1,{},{}"
    found, _ = made(
        tmp_path,
        [
            base.format("A", "owl.png", "full-back", "M", "8 in", ""),
            base.format("B", "owl.png", "full-back", "L", "8 in", ""),
            base.format("C", "sun.png", "full-back", "M", "8 in", ""),
            base.format("D", "owl.png", "full-back", "M", "7 in", ""),
            base.format("E", "owl.png", "full-front", "M", "8 in", ""),
            base.format("F", "owl.png", "full-back", "M", "8 in", "cords out"),
            base.format("G", "owl.png", "full-back", "M", "8 in", "").replace("R-1", "R-2"),
        ],
    )
    assert counts(group_alike(found)) == [1] * 7


def test_an_evening_is_counted_by_set_up(tmp_path: Path) -> None:
    """By hand: 40 s closed, 10 s of rest and 60 s of handling a print, 5 s of touch and 30 s of turning a face."""
    found, press = made(
        tmp_path,
        [
            "R-1,Ada,owl.png,full-back,T-shirt adult M,1,8 in,",
            "R-1,Ada,sun.png,left-chest,T-shirt adult M,1,60 mm,",
            "R-1,Bo,owl.png,full-back,T-shirt adult M,1,8 in,",
        ],
    )
    back, chest = list_setups(found, press)
    assert (back.name, back.garments, back.prints, back.presses, back.times.seconds) == (
        "back",
        2,
        2,
        2,
        2 * (40 + 10 + 60 + 5 + 30),
    )
    assert (chest.name, chest.garments, chest.prints, chest.presses) == ("chest", 1, 1, 1)


def test_panels_that_lie_on_one_platen_are_one_press(tmp_path: Path) -> None:
    """11 x 7.33 in in two panels on letter paper: a 16 x 20 in platen less an inch all round holds the whole."""
    draw("noise", 300, 200, 1).save(tmp_path / "owl.png")
    (tmp_path / "one.csv").write_text(f"{HEADING}\nR-1,Ada,owl.png,full-back,T-shirt adult XL,1,13 in,\n", "utf-8")
    for press, butted, presses in (("16x20", True, 1), ("9x12", False, 2)):
        options = Options(settings={"papers": ["letter"], "press": press}, steps=10, workers=1, oversize="panels")
        planned = plan([tmp_path / "one.csv"], options)
        (one,) = make_tickets(planned.batch.rows, planned.layout, planned.profiles)
        assert len(group_steps_by_print(one.steps)) == 1
        assert {step.butted for step in one.steps} == {butted}
        assert not any(step.again for step in one.steps)
        (part,) = list_setups([one], planned.profiles.find_press(press))
        assert part.presses >= presses if not butted else part.presses == 1


def test_a_papers_setting_goes_before_the_presss(tmp_path: Path) -> None:
    _, press = made(tmp_path, ["R-1,Ada,owl.png,full-back,T-shirt adult M,1,8 in,"])
    assert press.set_for(None) is press
    own = press.set_for(PressSetting(temperature_c=200, rest_seconds=0))
    assert (own.temperature_c, own.seconds, own.rest_seconds) == (200, press.seconds, 0)
