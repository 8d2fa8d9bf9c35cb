"""What a desk takes in a day: drops through a working day, held, nested together and made, one batch after the other.

    python tests/bench/capacity.py [--fixed S] [--each MS] [--days N] [--seed N]

The service time of a batch is `fixed` + `each` x transfers, as `growth.py` measures them. Sheets are not modelled but
nested: 320 pieces are parted into batches of 1 to 160 and `impose.nest` is asked for A4 sheets; between those sizes the
mean is taken in proportion. Drops arrive at random (Poisson) through ten hours, more of them towards the evening; a
drop is one to twelve transfers. A hold of H minutes closes a batch when its oldest drop has waited so long.

First the simulation is held against theory: without holding, drops one by one, equal arrivals through the day, the wait
in the queue is that of Pollaczek and Khintchine (M/G/1: W = rate x E[S^2] / 2 (1 - load)). Then: what holding costs in
time and saves in sheets, and at how many transfers an hour the queue no longer empties.
"""

from __future__ import annotations

import argparse
import random
from bisect import bisect_left
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from statistics import mean

from impose.nest import Rectangle, Stock, nest

HOURS = (1, 1, 1, 1, 2, 2, 2, 3, 4, 3)  # arrivals by the hour of the day, in proportion
SIZES = (1, 2, 3, 5, 8, 12, 20, 40, 80, 160)
HOLDS = (0, 5, 15, 30, 60, 120)
A4 = Stock("a4", 208_000, 295_000, cost=450_000)


@dataclass(frozen=True)
class Service:
    """Seconds a batch takes, and A4 sheets it takes, by its transfers."""

    fixed: float
    each: float
    sheets: Sequence[tuple[int, float]]

    def seconds(self, transfers: int) -> float:
        return self.fixed + self.each * transfers

    def paper(self, transfers: int) -> float:
        """Sheets, on average; beyond what was nested as many a transfer as there."""
        sizes = [size for size, _ in self.sheets]
        if transfers >= sizes[-1]:
            return self.sheets[-1][1] * transfers / sizes[-1]
        right = bisect_left(sizes, transfers)
        (a, low), (b, high) = self.sheets[max(0, right - 1)], self.sheets[right]
        return high if a == b else low + (high - low) * (transfers - a) / (b - a)


def nested_sheets(seed: int, count: int = 320) -> list[tuple[int, float]]:
    """The mean of A4 sheets that batches of each size take, the same pieces parted into batches of that size."""
    chance = random.Random(seed)
    pieces = [_piece(str(number), chance) for number in range(count)]
    found = []
    for size in SIZES:
        batches = [pieces[start : start + size] for start in range(0, count - size + 1, size)]
        found.append((size, mean(len(nest(batch, [A4], steps=400).sheets) for batch in batches)))
    return found


def _piece(name: str, chance: random.Random) -> Rectangle:
    """Three crests to a back, with their margins."""
    if chance.random() < 0.75:
        return Rectangle(name, chance.randint(88, 128) * 1000, chance.randint(88, 128) * 1000)
    return Rectangle(name, chance.randint(170, 205) * 1000, chance.randint(150, 280) * 1000)


@dataclass
class Outcome:
    """What a run of days came to; waits are seconds from a drop's arrival to its delivery."""

    waits: list[float]
    queued: list[float]
    sheets: float
    transfers: int
    busy: float
    end: float

    def at(self, share: float) -> float:
        """The wait that this share of the drops does not exceed."""
        return sorted(self.waits)[min(len(self.waits) - 1, int(share * len(self.waits)))]


def arrivals(chance: random.Random, a_day: float, days: int, hours: Sequence[int]) -> Iterator[tuple[float, int]]:
    """Time in seconds and transfers of each drop, `a_day` transfers a day on average."""
    drops = a_day / 6.5 / sum(hours)
    for day in range(days):
        for hour, weight in enumerate(hours):
            rate = drops * weight / 3600
            at = 0.0
            while (at := at + chance.expovariate(rate)) < 3600:
                yield day * 86400 + hour * 3600 + at, chance.randint(1, 12)


def simulated(drops: Sequence[tuple[float, int]], service: Service, hold: float) -> Outcome:
    """One maker, first come first served; a batch takes all that has arrived once its hold is over."""
    out = Outcome([], [], 0.0, 0, 0.0, 0.0)
    free, i = 0.0, 0
    while i < len(drops):
        start = max(free, drops[i][0] + hold)
        taken = i + 1
        while hold > 0 and taken < len(drops) and drops[taken][0] <= start:
            taken += 1
        batch = drops[i:taken]
        transfers = sum(count for _, count in batch)
        took = service.seconds(transfers)
        free = start + took
        out.waits += [free - at for at, _ in batch]
        out.queued += [start - at for at, _ in batch]
        out.sheets += service.paper(transfers)
        out.transfers += transfers
        out.busy += took
        i = taken
    out.end = free
    return out


def against_theory(service: Service, seed: int) -> Iterator[str]:
    """Mean time in the queue, simulated and by the formula, at three loads."""
    yield "| load | queue simulated, s | by the formula, s |"
    yield "|---|---|---|"
    sizes = range(1, 13)
    first = mean(service.seconds(n) for n in sizes)
    second = mean(service.seconds(n) ** 2 for n in sizes)
    for load in (0.3, 0.6, 0.8):
        rate = load / first
        chance = random.Random(seed)
        at, drops = 0.0, []
        for _ in range(200_000):
            at += chance.expovariate(rate)
            drops.append((at, chance.randint(1, 12)))
        waited = mean(simulated(drops, service, 0).queued)
        yield f"| {load:.0%} | {waited:.2f} | {rate * second / (2 * (1 - load)):.2f} |"


def holding(service: Service, days: int, seed: int) -> Iterator[str]:
    """Waits and sheets by hold time."""
    yield (
        "| transfers a day | hold, min | mean wait, min | 95 % within, min | A4 sheets a day | more than held longest |"
    )
    yield "|---|---|---|---|---|---|"
    for a_day in (20, 200, 2000):
        drops = list(arrivals(random.Random(seed), a_day, days, HOURS))
        runs = [(hold, simulated(drops, service, hold * 60)) for hold in HOLDS]
        least = runs[-1][1].sheets
        for hold, run in runs:
            yield (
                f"| {a_day:,} | {hold} | {mean(run.waits) / 60:.1f} | {run.at(0.95) / 60:.1f} "
                f"| {run.sheets / days:.1f} | {run.sheets / least - 1:.0%} |"
            )


def limit(service: Service, seed: int) -> Iterator[str]:
    """The busiest hour that is still done within it, for drops made one by one and for drops held for 15 minutes."""
    yield "| hold, min | transfers an hour, computed | half of it: 95 % within, min | 95 %: | 110 %: |"
    yield "|---|---|---|---|---|"
    for hold in (0, 15):
        most = 3600 / service.each if hold else 3600 / mean(service.seconds(n) / n for n in (6.5,))
        told = []
        for share in (0.5, 0.95, 1.1):
            drops = list(arrivals(random.Random(seed), most * 10 * share, 1, (1,) * 10))
            told.append(f"{simulated(drops, service, hold * 60).at(0.95) / 60:.1f}")
        yield f"| {hold} | {most:,.0f} | {' | '.join(told)} |"


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--fixed", type=float, default=3.0)
    parser.add_argument("--each", type=float, default=10.0)
    parser.add_argument("--days", type=int, default=60)
    parser.add_argument("--seed", type=int, default=1)
    chosen = parser.parse_args()
    service = Service(chosen.fixed, chosen.each / 1000, nested_sheets(chosen.seed))
    print("A4 sheets nested:", ", ".join(f"{size}: {sheets:.2f}" for size, sheets in service.sheets), end="\n\n")
    for table in (
        against_theory(service, chosen.seed),
        holding(service, chosen.days, chosen.seed),
        limit(service, chosen.seed),
    ):
        print("\n".join(table), end="\n\n")


if __name__ == "__main__":
    main()
