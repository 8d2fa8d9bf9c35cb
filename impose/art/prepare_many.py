"""Many pictures: each distinct one prepared once, by any number of workers, from the cache where it can be.

Files are read here, by one process: the bytes that are hashed are the bytes that are prepared, and a worker needs no
file of ours, so it may be on another machine. At most a window of them is held.
"""

from __future__ import annotations

import hashlib
from collections import deque
from collections.abc import Iterable, Iterator
from concurrent.futures import BrokenExecutor, Executor
from dataclasses import replace
from functools import partial
from pathlib import Path

from impose.art.cache import PictureCache
from impose.art.prepare import PreparationOptions, PreparedPicture, prepare_picture
from impose.errors import Exit, Finding, Trouble
from impose.work import run_in_order

Outcome = PreparedPicture | Trouble


def prepare_pictures(
    paths: Iterable[Path],
    recipe: PreparationOptions | None = None,
    workers: int | Executor = 1,
    cache: PictureCache | None = None,
    window: int | None = None,
) -> Iterator[Outcome]:
    """Yield, for each path in order, its `PreparedPicture`, or the `Trouble` that says why there is none.

    The outcome is the same for any `workers`, with or without a `cache` (which is trimmed at the end). Two paths
    with the same bytes are prepared once. Findings carry the path's last part as their file. `window` bounds the files
    held at a time. Raises `Trouble` if a worker dies.
    """
    recipe = recipe or PreparationOptions()
    gathering = _OrderedOutcomes(recipe, cache)
    work = run_in_order(partial(_try_prepare, recipe=recipe), gathering.queue_paths(paths), workers, window)
    try:
        for made in work:
            gathering.take_outcome(made)
            yield from gathering.ready_outcomes()
        yield from gathering.ready_outcomes()
    except BrokenExecutor as error:
        what = "a worker ended in the middle of its work, most likely for want of memory"
        raise Trouble(Finding(what, "Use fewer workers, or close other programs.", exit=Exit.SYSTEM)) from error
    finally:
        if cache is not None:
            cache.remove_oldest()


def _try_prepare(asked: tuple[str, bytes], recipe: PreparationOptions) -> Outcome:
    """What a worker does with a content and its hash. Trouble is a result, so that the others are still looked at.

    The output profile, megabytes and the same for every picture, stays behind: it is known on the other side.
    """
    key, content = asked
    try:
        picture = prepare_picture(content, recipe, sha256=key)
        return picture if recipe.output is None else replace(picture, icc=None)
    except Trouble as trouble:
        return trouble


class _OrderedOutcomes:
    """Keeps the order of the paths while distinct files go through the workers.

    `_line` holds, for each path not handed out yet, its name and its outcome or the hash whose outcome it waits for.
    """

    def __init__(self, recipe: PreparationOptions, cache: PictureCache | None) -> None:
        self._recipe, self._cache = recipe, cache
        self._line: deque[tuple[str, Outcome | str]] = deque()
        self._asked: deque[str] = deque()
        self._known: dict[str, Outcome | None] = {}

    def queue_paths(self, paths: Iterable[Path]) -> Iterator[tuple[str, bytes]]:
        """Put every path in line; yield the hash and the content of those that have to be prepared."""
        for path in paths:
            try:
                content = path.read_bytes()
            except OSError as error:
                self._line.append((path.name, _make_unreadable(error)))
                continue
            key = hashlib.sha256(content).hexdigest()
            self._line.append((path.name, key))
            if key in self._known:
                continue
            self._known[key] = None if self._cache is None else self._cache.get_picture(key, self._recipe)
            if self._known[key] is None:
                self._asked.append(key)
                yield key, content

    def take_outcome(self, outcome: Outcome) -> None:
        """The outcome of the oldest content that was asked for."""
        self._known[self._asked.popleft()] = outcome
        if self._cache is not None and isinstance(outcome, PreparedPicture):
            self._cache.keep_picture(outcome, self._recipe)

    def ready_outcomes(self) -> Iterator[Outcome]:
        """The outcomes at the head of the line, each under its own file's name."""
        while self._line:
            name, entry = self._line[0]
            outcome = self._known[entry] if isinstance(entry, str) else entry
            if outcome is None:
                return
            self._line.popleft()
            yield self._finish_outcome(outcome, name)

    def _finish_outcome(self, outcome: Outcome, name: str) -> Outcome:
        """The outcome under a file's name, and with the output profile that no worker or cache carries."""
        findings = tuple(replace(finding, file=name) for finding in outcome.findings)
        if not isinstance(outcome, PreparedPicture):
            return Trouble(findings)
        output = self._recipe.output
        return replace(outcome, findings=findings, icc=outcome.icc if output is None else output.icc)


def _make_unreadable(error: OSError) -> Trouble:
    what = f"the file cannot be read: {error.strerror or error}"
    return Trouble(Finding(what, "Check that it is there, is a file and may be read.", exit=Exit.SYSTEM))
