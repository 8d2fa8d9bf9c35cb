"""Prints that no offered paper takes with their margin: each way to print them, as a choice with a picture."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import TYPE_CHECKING, Any

from impose.errors import Finding
from impose.orders.batch import BatchRow
from impose.page.finding_values import RowNames
from impose.page.plan_values import title_of_paper, title_of_place
from impose.pages.proof.markup import Markup, make_element
from impose.profiles.paper import Paper
from impose.profiles.profiles import Profiles
from impose.run.finding_mends import Mend
from impose.run.load_batch import LoadedBatch
from impose.run.options import Options
from impose.run.owned_papers import can_feed, is_own
from impose.run.progress import Progress
from impose.run.quote import list_job_large_prints
from impose.sheet.large_print_options import LargePrint, LargestSize, PrintOption
from impose.sheet.money import show_money
from impose.units import Box, format_length, show_at_most
from impose.values import FrozenStruct, replace

if TYPE_CHECKING:
    from impose.page.planner_process import BatchPlanner

Operations = list[dict[str, Any]]


class LargeChoices(FrozenStruct):
    """The rows of a plan that are too large, and what is known of them."""

    job: LoadedBatch
    options: Options
    rows: RowNames

    @property
    def profiles(self) -> Profiles:
        """What is on file."""
        return self.job.profiles

    def list_prints(self) -> Iterator[tuple[list[BatchRow], LargePrint]]:
        """Each large print once, with the rows that ask for it; largest first."""
        others = self._list_others()
        found: dict[tuple[Any, ...], tuple[list[BatchRow], LargePrint]] = {}
        for row in self.job.batch.rows:
            only = replace(self.job, batch=replace(self.job.batch, rows=(row,)))
            for large in list_job_large_prints(only, self.options, others):
                key = (row.placement, round(large.width_mm, 2), round(large.height_mm, 2))
                found.setdefault(key, ([], large))[0].append(row)
        yield from sorted(found.values(), key=lambda pair: -pair[1].width_mm * pair[1].height_mm)

    def _list_others(self) -> list[Paper]:
        """Papers that may be named: those that the shop has; where it has none, any that the printer feeds."""
        offered = {paper.name for paper in self.job.papers}
        fed = [p for p in self.profiles.papers.values() if p.name not in offered and can_feed(self.job.printer, p)]
        return [paper for paper in fed if self.has_paper(paper)] or fed

    def has_paper(self, paper: Paper) -> bool:
        """Whether the shop has a paper: said anything of it, or counted it."""
        key = next(key for key, known in self.profiles.papers.items() if known.name == paper.name)
        return is_own(self.profiles, key) or paper.name in self.options.limits


def make_large_choices(planner: BatchPlanner) -> LargeChoices:
    """What the newest table holds. Raises `Refusal` where there is none."""
    job, rows = planner.find_table()
    return LargeChoices(job, planner.options, rows)


def list_large(planner: BatchPlanner, progress: Progress) -> dict[str, Any]:
    """The prints that some offered paper does not take, and each way to print them."""
    choices = make_large_choices(planner)
    return {"prints": [describe_large(choices, rows, large) for rows, large in choices.list_prints()]}


def describe_large(choices: LargeChoices, rows: Sequence[BatchRow], large: LargePrint) -> dict[str, Any]:
    """One print with its ways."""
    units = choices.profiles.settings.units
    names = list(dict.fromkeys(name for row in rows if (name := choices.rows.find_name(row.row))))
    kits = list(dict.fromkeys(kit for row in rows if (kit := choices.rows.kits.get(row.kit_row))))
    ways = [_describe_way(way, large, choices) for way in large.ways]
    smaller = [_describe_smaller(most, large, names, kits, choices) for most in large.most]
    return {
        "row": names[0] if names else None,
        "rows": names,
        "kit_row": kits[0] if kits else None,
        "place": title_of_place(choices.profiles, large.placement or None),
        "size": f"{format_length(large.width_mm, units)} × {format_length(large.height_mm, units)}",
        "ways": [*ways, *smaller],
    }


def offer_paper(
    finding: Finding, prints: Iterable[tuple[list[BatchRow], LargePrint]], choices: LargeChoices
) -> list[Mend]:
    """The paper that takes what a finding says fits none, and most else that fits none, to be used as well.

    Only what the shop has; a cut sheet goes before a roll: what feeds sheets seldom feeds rolls (common practice, no
    source).
    """
    known = list(prints)
    every = [paper for _, large in known for paper in _list_other_papers(large) if choices.has_paper(paper)]
    for rows, large in known:
        if not any(row.row == finding.row and finding.kit_row in (0, row.kit_row) for row in rows):
            continue
        enough = [paper for paper in _list_other_papers(large) if choices.has_paper(paper)]
        if enough:
            paper = max((other for other in every if _covers(other, enough[0])), key=lambda other: other.width_mm)
            papers = [*(offered.alias for offered in choices.job.papers), paper.alias]
            return [Mend("paper", f"Use {paper.title} as well", "For this batch.", choices={"papers": papers})]
    return []


def _list_other_papers(large: LargePrint) -> list[Paper]:
    """The papers not on offer that take a print whole, cut sheets first."""
    ways = [way for way in large.ways if not way.offered and way.panels == 1]
    return [way.paper for way in sorted(ways, key=lambda way: (way.paper.is_roll, way.cost))]


def _covers(paper: Paper, other: Paper) -> bool:
    """Whether a paper of the same kind takes all that another takes."""
    if paper.is_roll != other.is_roll:
        return False
    return paper.width_mm >= other.width_mm and (paper.height_mm or 0.0) >= (other.height_mm or 0.0)


def _describe_way(way: PrintOption, large: LargePrint, choices: LargeChoices) -> dict[str, Any]:
    profiles = choices.profiles
    units, title = profiles.settings.units, title_of_paper(profiles, way.paper.name)
    offered = [paper.alias for paper in choices.job.papers]
    margin = "" if way.level == "full" else f", with a tear margin of {format_length(way.side_mm, units)}"
    turned = ", turned" if way.turned else ""
    operations: Operations = []
    if way.panels > 1:
        kind, label = "panels", f"Print it in {way.panels} panels on {title}; a seam shows"
        operations = [{"op": "choose", "name": "oversize", "value": "panels"}]
    elif way.offered:
        kind, label = "margin", f"On {title}{turned}{margin}"
    else:
        kind, label = "paper", f"Use {title} as well"
        if not choices.has_paper(way.paper):
            label = f"If you have {title}: use it as well"
        operations = [{"op": "choose", "name": "papers", "value": [*offered, way.paper.alias]}]
    return {
        "way": kind,
        "label": label,
        "paper": way.paper.alias,
        "cost": show_money(way.cost),
        "taken": way.taken,
        "turned": way.turned,
        "panels": way.panels,
        "ops": operations,
        "svg": draw_parts(way.paper, way.parts)
        if way.parts
        else draw_way(way.paper, large.width_mm, large.height_mm, way.turned),
    }


def _describe_smaller(
    most: LargestSize,
    large: LargePrint,
    names: Sequence[str],
    kits: Sequence[str],
    choices: LargeChoices,
) -> dict[str, Any]:
    """The largest that a paper takes, rounded down, in the rows that ask for it or in their kit."""
    paper, width, height = most.paper, most.width_mm, most.height_mm
    units = choices.profiles.settings.units
    places: list[Mapping[str, str]] = [{"table": "kits", "id": kit} for kit in kits] or [{"id": name} for name in names]
    cells = (("width", f"{int(width * 10) / 10:g} mm"), ("height", f"{int(height * 10) / 10:g} mm"))
    title = title_of_paper(choices.profiles, paper.name)
    return {
        "way": "shrink",
        "label": f"Make it {show_at_most(width, units)} × {show_at_most(height, units)}, which fits {title}",
        "paper": paper.alias,
        "cost": None,
        "taken": False,
        "turned": False,
        "panels": 1,
        "ops": [
            {"op": "set", **place, "column": column, "value": value} for place in places for column, value in cells
        ],
        "svg": draw_way(paper, width, height, width > height and paper.width_mm < (paper.height_mm or 0)),
    }


def draw_way(paper: Paper, width: float, height: float, turned: bool) -> str:
    """The paper and the print on it, to scale; what hangs over is seen to."""
    across, down = (height, width) if turned else (width, height)
    high = paper.height_mm or max(down * 1.2, paper.width_mm)
    x, y = (paper.width_mm - across) / 2, (high - down) / 2
    left, top = min(0.0, x) - 5, min(0.0, y) - 5
    view = (left, top, max(paper.width_mm, across) + 10, max(high, down) + 10)
    return _draw_scene(view, [_draw_box("stock", 0, 0, paper.width_mm, high), _draw_box("print", x, y, across, down)])


def draw_parts(paper: Paper, parts: Sequence[Box]) -> str:
    """Panels side by side as they are joined, each on a sheet of its own, to scale."""
    columns, rows = sorted({part.x for part in parts}), sorted({part.y for part in parts})
    turned = any(part.w > paper.width_mm for part in parts)
    high = paper.height_mm or max(part.w if turned else part.h for part in parts) * 1.2
    wide, high = (high, paper.width_mm) if turned else (paper.width_mm, high)
    gap = wide / 12
    shapes = []
    for part in parts:
        x, y = columns.index(part.x) * (wide + gap), rows.index(part.y) * (high + gap)
        shapes.append(_draw_box("stock", x, y, wide, high))
        shapes.append(_draw_box("print", x + (wide - part.w) / 2, y + (high - part.h) / 2, part.w, part.h))
    size = (len(columns) * (wide + gap) - gap + 10, len(rows) * (high + gap) - gap + 10)
    return _draw_scene((-5, -5, *size), shapes)


def _draw_box(kind: str, x: float, y: float, width: float, height: float) -> Markup:
    return make_element("rect", class_=kind, x=x, y=y, width=width, height=height)


def _draw_scene(view: Sequence[float], shapes: Sequence[Markup]) -> str:
    box = " ".join(f"{value:.1f}" for value in view)
    return str(make_element("svg", shapes, viewBox=box, class_="way-drawing", aria_hidden="true", focusable="false"))
