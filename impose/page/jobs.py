"""Work that takes longer than a glance: told how far it is, stopped when it is not wanted, its result kept a while."""

from __future__ import annotations

import asyncio
import traceback
from collections import OrderedDict
from collections.abc import Awaitable, Callable
from dataclasses import dataclass, field
from typing import Any

from impose.page.planner_messages import ProgressTold
from impose.page.refusal import Refusal

KEPT = 50

STAGES = {
    "words": "Setting names",
    "artwork": "Looking at pictures",
    "nesting": "Finding the fewest sheets",
    "sheets": "Drawing sheets",
    "writing": "Writing sheets",
    "printing": "Sending to the printer",
}


def say_progress(stage: str, done: int, of: int) -> str:
    """How far something is, in words."""
    words = STAGES.get(stage, "At work")
    return f"{words}, {done} of {of}" if of > 1 else words


@dataclass(slots=True)
class Job:
    """One piece of work."""

    id: str
    state: str = "running"
    stage: str = ""
    done: int = 0
    of: int = 0
    result: Any = None
    error: dict[str, Any] | None = None
    task: asyncio.Task[None] | None = None

    def values(self, whole: bool = True) -> dict[str, Any]:
        """As the page is told; its result only where it is asked for."""
        told = {
            "job": self.id,
            "state": self.state,
            "stage": self.stage,
            "done": self.done,
            "of": self.of,
            "says": say_progress(self.stage, self.done, self.of),
        }
        return {**told, "result": self.result, "error": self.error} if whole else told


Work = Callable[[Callable[[ProgressTold], None]], Awaitable[Any]]


@dataclass(slots=True)
class JobList:
    """The work under way, and what came of the last."""

    tell: Callable[..., None]
    jobs: OrderedDict[str, Job] = field(default_factory=OrderedDict)
    _count: int = 0

    def start_job(self, work: Work, then: Callable[[Any], None] = lambda result: None) -> Job:
        """Begin; `work` gets a progress to call, `then` the result."""
        self._count += 1
        job = Job(f"j{self._count}")
        self.jobs[job.id] = job
        for old in [entry for entry, at in self.jobs.items() if at.state != "running"][:-KEPT]:
            del self.jobs[old]
        job.task = asyncio.get_running_loop().create_task(self._run_job(job, work, then))
        return job

    async def _run_job(self, job: Job, work: Work, then: Callable[[Any], None]) -> None:
        def tell_progress(told: ProgressTold) -> None:
            job.stage, job.done, job.of = told.stage, told.done, told.of
            self.tell("job", **job.values(whole=False))

        try:
            job.result = await work(tell_progress)
            job.state = "done"
            then(job.result)
        except asyncio.CancelledError:
            job.state = "stopped"
        except Refusal as refusal:
            job.state = "failed"
            job.error = refusal.values()["error"]
        except Exception:
            traceback.print_exc()
            job.state = "failed"
            job.error = Refusal(500, "bug", "This is a fault of the program.", "Nothing was lost.").values()["error"]
        self.tell("job", **job.values(whole=False))

    def find_job(self, ident: str) -> Job:
        """A job by its name. Raises `Refusal`."""
        if ident not in self.jobs:
            raise Refusal(404, "gone", "This work is not known any more.")
        return self.jobs[ident]

    def stop_job(self, ident: str) -> Job:
        """Give up a job."""
        job = self.find_job(ident)
        if job.task is not None and job.state == "running":
            job.task.cancel()
        return job

    def close(self) -> None:
        """Give up everything."""
        for job in self.jobs.values():
            if job.task is not None:
                job.task.cancel()
