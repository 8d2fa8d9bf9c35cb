"""How long pressing takes, and what the time goes into: by what the shop's press profile says of a print and a face.

All of it is reckoned, nothing measured; the figures that are shipped are common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from typing import Any

from impose.profiles.press import HeatPress
from impose.sheet.press_prints import count_presses, group_steps_by_print
from impose.sheet.press_steps import PressStep, PressTicket
from impose.values import FrozenStruct, list_names


class PressTimes(FrozenStruct):
    """Seconds: the light touch first, the press closed, resting, taping, turning the garment, changing the set-up."""

    prepress: int = 0
    pressing: int = 0
    resting: int = 0
    taping: int = 0
    turning: int = 0
    changing: int = 0

    def __add__(self, other: PressTimes) -> PressTimes:
        return PressTimes(
            self.prepress + other.prepress,
            self.pressing + other.pressing,
            self.resting + other.resting,
            self.taping + other.taping,
            self.turning + other.turning,
            self.changing + other.changing,
        )

    @property
    def seconds(self) -> int:
        """All of it."""
        return self.prepress + self.pressing + self.resting + self.taping + self.turning + self.changing

    @property
    def minutes(self) -> int:
        """All of it in whole minutes, rounded up."""
        return -(-self.seconds // 60)

    def list_parts(self) -> dict[str, int]:
        """The seconds by what they go into."""
        return {name: getattr(self, name) for name in list_names(self)}


class PressEvening(FrozenStruct):
    """What pressing a batch comes to, in the order that the shop sets: `by` garment or platen; `other` is its time in
    the other order.
    """

    garments: int
    prints: int
    presses: int
    by: str
    times: PressTimes
    other: PressTimes

    def list_values(self) -> dict[str, Any]:
        """Plain values, for the record and for JSON."""
        parts = {f"{name}_s": seconds for name, seconds in self.times.list_parts().items()}
        return {
            "garments": self.garments,
            "prints": self.prints,
            "presses": self.presses,
            "by": self.by,
            "minutes": self.times.minutes,
            "minutes_other": self.other.minutes,
            "seconds": self.times.seconds,
            **parts,
        }


def time_steps(steps: Sequence[PressStep], press: HeatPress) -> PressTimes:
    """What the prints of one garment take, but for changes of the set-up; settings are those of the prints' papers."""
    total = PressTimes()
    touched: set[str] = set()
    for held in group_steps_by_print(steps):
        first = held[0]
        own = press.set_for(first.setting)
        closings = count_presses(held)
        # The paper is not lifted between the heats of one print: it rests once. Each panel is a paper of its own, which
        # is taped, and lifted alone where panels do not lie on the platen together.
        rest = own.rest_seconds * (1 if first.butted else len(held)) if closings else 0
        new = first.shape.face not in touched
        touched.add(first.shape.face)
        total += PressTimes(
            own.prepress_seconds * new,
            closings * own.seconds,
            rest,
            own.handling_seconds * len(held),
            own.turning_seconds * new,
        )
    return total


def time_changes(steps: Iterable[PressStep], press: HeatPress) -> int:
    """Seconds for the changes to another set-up, or another setting, from one print to the next."""
    last: tuple[str, HeatPress] | None = None
    seconds = 0
    for step in steps:
        now = step.setup, press.set_for(step.setting)
        seconds += press.setup_seconds * (last not in (None, now))
        last = now
    return seconds


def time_evening(tickets: Sequence[PressTicket], press: HeatPress) -> PressEvening:
    """The time for all tickets, in their order and in the other: garment by garment, or set-up by set-up."""
    by = "platen" if any(ticket.setup for ticket in tickets) else "garment"
    steps = [step for ticket in tickets for step in ticket.steps]
    kept = [group_steps_by_print(ticket.steps) for ticket in tickets]
    work = sum((time_steps(ticket.steps, press) for ticket in tickets), PressTimes())
    changing = time_changes(steps, press)
    other = time_changes(_order_otherwise(tickets, by), press)
    return PressEvening(
        len({id(ticket.worn) for ticket in tickets}),
        sum(map(len, kept)),
        sum(count_presses(held) for prints in kept for held in prints),
        by,
        work + PressTimes(changing=changing),
        work + PressTimes(changing=other),
    )


def _order_otherwise(tickets: Sequence[PressTicket], by: str) -> Iterator[PressStep]:
    """The prints set-up by set-up where the tickets go by garment, and garment by garment where they do not."""
    if by == "platen":
        worn = dict.fromkeys(id(ticket.worn) for ticket in tickets)
        held: dict[int, list[PressStep]] = {ident: [] for ident in worn}
        for ticket in tickets:
            held[id(ticket.worn)] += ticket.steps
        yield from (step for steps in held.values() for step in steps)
        return
    setups = dict.fromkeys(step.setup for ticket in tickets for step in ticket.steps)
    for setup in setups:
        yield from (step for ticket in tickets for step in ticket.steps if step.setup == setup)
