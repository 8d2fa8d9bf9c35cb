"""Crease on crease, platens, and what is heated again, by hand."""

from __future__ import annotations

from pathlib import Path

import pytest

from conftest import draw
from impose.run import Options, plan
from impose.sheet.press_steps import PressTicket, find_crease, make_tickets
from impose.values import replace

INCH = 25.4
HEADING = "order,wearer,art,placement,garment,width,centre"


def made(folder: Path, lines: list[str], **settings: object) -> list[PressTicket]:
    draw("noise", 300, 200, 1).save(folder / "owl.png")
    draw("gradient", 75, 75, 2).save(folder / "glow.png")
    (folder / "one.csv").write_text("\n".join([HEADING, *lines]) + "\n", "utf-8")
    planned = plan([folder / "one.csv"], Options(settings={"papers": ["13x19"], **settings}, steps=10, workers=1))
    return make_tickets(planned.batch.rows, planned.layout, planned.profiles)


def test_the_fold_lies_on_the_garments_crease_whatever_it_is_centred_on(tmp_path: Path) -> None:
    (one,) = made(tmp_path, ["R-1,Ada,glow.png,full-front,T-shirt adult M,8 in,mass"])
    (step,) = one.steps
    assert step.transfer.piece.crease_x_mm != pytest.approx(4 * INCH, abs=0.5)  # the gradient is heavier on one side
    assert find_crease(step.transfer.piece, step.spot)[0] == pytest.approx(0, abs=1e-9)
    assert step.spot.box.centre[0] != pytest.approx(0, abs=0.5)


@pytest.mark.parametrize(
    ("width", "press", "fit", "pressings"),
    [  # usable at a 1 in border: 16 x 20 in leaves 14 x 18; at 0.75 in: 15 x 15 leaves 13.5 x 13.5 (arithmetic)
        ("14 in", "16x20", "straight", 1),  # 14 x 9.33 in
        ("14.1 in", "16x20", "turned", 1),
        ("13.5 in", "15x15", "straight", 1),
        ("13.6 in", "15x15", "several", 2),
        ("8.1 in", "9x12", "turned", 1),  # 8 x 11 in: 8.1 x 5.4 lies crosswise
    ],
)
def test_platens(tmp_path: Path, width: str, press: str, fit: str, pressings: int) -> None:
    (one,) = made(tmp_path, [f"R-1,Ada,owl.png,full-back,T-shirt adult M,{width},"], press=press)
    assert (one.steps[0].fit, one.steps[0].pressings) == (fit, pressings)


def test_an_earlier_print_of_the_same_face_is_heated_again_and_another_face_is_not(tmp_path: Path) -> None:
    """A platen of 16 x 20 in centred on a left chest print reaches 8 in to either side: over the front's middle."""
    (one,) = made(
        tmp_path,
        [
            "R-1,Ada,owl.png,full-back,T-shirt adult M,11 in,",
            "R-1,Ada,owl.png,centre-chest,T-shirt adult M,4 in,",
            "R-1,Ada,owl.png,left-chest,T-shirt adult M,60 mm,",
        ],
    )
    back, centre, left = one.steps
    assert (back.again, centre.again) == ((), ())
    assert left.again == (centre.transfer.id,)
    # Ends 2 in from the middle against 3.5 in less 30 mm: no inch of border runs between; drops differ by half an inch.
    assert not left.avoidable


def test_prints_an_inch_apart_can_be_kept_off_the_platen(tmp_path: Path) -> None:
    (one,) = made(
        tmp_path,
        ["R-1,Ada,owl.png,left-chest,T-shirt adult M,60 mm,", "R-1,Ada,owl.png,full-front,hoodie adult M,11 in,"],
    )[:1]
    assert one.steps[0].again == ()


def test_the_wearers_left_is_on_the_viewers_right_in_front(tmp_path: Path) -> None:
    (one,) = made(tmp_path, ["R-1,Ada,owl.png,left-chest,T-shirt adult M,,"])
    assert one.steps[0].spot.box.centre[0] == pytest.approx(3.5 * INCH)  # usual distance: trade pages, 3 to 4 in


def test_no_transfer_is_without_a_ticket_and_no_ticket_is_empty(tmp_path: Path) -> None:
    """Of a reprint only some copies are laid out, and its rows may not say which garment they were on."""
    draw("noise", 300, 200, 1).save(tmp_path / "owl.png")
    (tmp_path / "one.csv").write_text(f"{HEADING},copies\nR-1,Ada,owl.png,left-chest,polo,,,2\n", "utf-8")
    planned = plan([tmp_path / "one.csv"], Options(settings={"papers": ["13x19"]}, steps=10, workers=1))
    (row,) = planned.batch.rows
    sheet = planned.layout.sheets[0]
    one = replace(planned.layout, sheets=(replace(sheet, placed=sheet.placed[:1]),))
    assert [len(ticket.steps) for ticket in make_tickets([row], one, planned.profiles)] == [1]
    torn = [row, replace(row, row=9, placement="full-back", copies=3)]  # two and three: refused in a batch
    assert [len(ticket.steps) for ticket in make_tickets(torn, planned.layout, planned.profiles)] == [1, 1]


def test_a_sleeve_reads_from_the_shoulder_down(tmp_path: Path) -> None:
    (one,) = made(tmp_path, ["R-1,Ada,owl.png,left-long-sleeve,hoodie adult M,9 in,"])
    (step,) = one.steps
    assert step.spot.turned == 90  # clockwise as seen from outside, shoulder up: reading goes down
    assert step.spot.box.h == pytest.approx(9 * INCH)
