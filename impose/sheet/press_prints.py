"""The steps of a garment by print, and how often the press closes for each."""

from __future__ import annotations

from collections.abc import Sequence

from impose.sheet.press_steps import PressStep


def group_steps_by_print(steps: Sequence[PressStep]) -> list[list[PressStep]]:
    """The steps by print: the panels of one print are together, everything else stands alone."""
    found: list[list[PressStep]] = []
    for step in steps:
        if step.transfer.piece.panel is not None and found and found[-1][0].print == step.print:
            found[-1].append(step)
        else:
            found.append([step])
    return found


def count_presses(steps: Sequence[PressStep]) -> int:
    """How often the press closes for one print."""
    if steps[0].together:
        return 0
    return steps[0].pressings if steps[0].butted else sum(step.pressings for step in steps)
