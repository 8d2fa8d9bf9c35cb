"""Who does the work of a run: this process, processes of its own, or the workers of a scheduler."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

from impose.errors import Exit, Finding, Trouble
from impose.run.options import Options
from impose.values import replace


@contextmanager
def open_executors(options: Options | None) -> Iterator[Options]:
    """The options, with an executor where they name a scheduler, for as long as the block runs.

    Raises `Trouble` where the scheduler cannot be used (see `impose.run.cluster.join_cluster`), or where a number of
    workers is named as well: a scheduler's workers are as many as they are.
    """
    options = options or Options()
    if options.scheduler is None or options.executor is not None:
        yield options
        return
    refuse_workers_and_scheduler(options)
    from impose.run.cluster import join_cluster  # loaded late: it is needed by few

    with join_cluster(options.scheduler) as executor:
        yield replace(options, executor=executor)


def refuse_workers_and_scheduler(options: Options) -> None:
    """Raise `Trouble` (wrong use) for a number of workers of a scheduler, whose workers are as many as they are."""
    if options.scheduler is not None and options.workers is not None:
        what = "a scheduler and a number of workers are both given, but a scheduler has as many workers as it has"
        raise Trouble(Finding(what, "Leave out one of them.", kind="bad-option", exit=Exit.USAGE))
