"""The papers that may be suggested: those that the shop has on file itself, of which the printer feeds every one."""

from __future__ import annotations

from collections.abc import Iterator

from impose.profiles.paper import Paper, Printer
from impose.profiles.profiles import Profiles
from impose.run.load_batch import LoadedBatch

_ROUNDING_MM = 0.05


def list_owned_papers(job: LoadedBatch) -> Iterator[Paper]:
    """Papers of the shop's own papers.toml that are not on offer and that the printer feeds.

    A paper that only the shipped profiles know is one that nobody bought: naming it helps nobody tonight.
    """
    offered = {paper.name for paper in job.papers}
    for key, paper in job.profiles.papers.items():
        if paper.name not in offered and is_own(job.profiles, key) and can_feed(job.printer, paper):
            yield paper


def is_own(profiles: Profiles, key: str) -> bool:
    """Whether a file of the shop's says anything of the paper."""
    start = f"papers.{key}"
    said = (file for path, file in profiles.origins.items() if path == start or path.startswith(f"{start}."))
    return any(not file.startswith("shipped") for file in said)


def can_feed(printer: Printer, paper: Paper) -> bool:
    """Whether the printer takes the paper's width; one whose greatest width is not known takes any."""
    return printer.feed_width_mm is None or paper.width_mm <= printer.feed_width_mm + _ROUNDING_MM
