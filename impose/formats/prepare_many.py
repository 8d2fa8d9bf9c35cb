"""Many pictures: each distinct one prepared once, by any number of workers, from the cache where it can be.

Files are read here, by one process: the bytes that are hashed are the bytes that are prepared, and a worker needs no
file of ours, so it may be on another machine. At most a window of them is held.
"""

from __future__ import annotations

import hashlib
from collections import deque
from collections.abc import Iterable, Iterator
from concurrent.futures import BrokenExecutor, Executor
from functools import partial
from pathlib import Path

from impose.art.cache import PictureCache
from impose.art.prepare import PreparationOptions, PreparedPicture
from impose.errors import Exit, Finding, Trouble
from impose.file_types import Asked
from impose.formats.prepare_file import describe_converter, prepare_file
from impose.values import replace
from impose.work import run_in_order

Outcome = PreparedPicture | Trouble


def prepare_pictures(
    asked: Iterable[Path | Asked],
    recipe: PreparationOptions | None = None,
    workers: int | Executor = 1,
    cache: PictureCache | None = None,
    window: int | None = None,
) -> Iterator[Outcome]:
    """Yield, for each file asked for in order, its `PreparedPicture`, or the `Trouble` that says why there is none.

    The outcome is the same for any `workers`, with or without a `cache` (which is trimmed at the end). Two paths
    with the same bytes, of which the same is asked, are prepared once. Findings carry the path's last part as their
    file. `window` bounds the files held at a time. Raises `Trouble` if a worker ends before its answer.
    """
    recipe = recipe or PreparationOptions()
    gathering = _OrderedOutcomes(recipe, cache)
    work = run_in_order(partial(_try_prepare, recipe=recipe), gathering.queue_paths(asked), workers, window)
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


_Wish = tuple[str, Asked]
"""The hash of a content and what is asked of it, wherever it lies."""


def make_own_recipe(recipe: PreparationOptions, asked: Asked) -> PreparationOptions:
    """The recipe with what is asked of one file laid over it."""
    return replace(
        recipe,
        clean_haze=recipe.clean_haze or "clean-haze" in asked.mend,
        drop_specks=recipe.drop_specks or "drop-specks" in asked.mend,
        ground=recipe.ground or "ground" in asked.mend,
        page=asked.page,
        drawn_mm=asked.drawn_mm,
        recolour=asked.recolour,
    )


def _try_prepare(wished: tuple[_Wish, bytes], recipe: PreparationOptions) -> Outcome:
    """What a worker does with a content and its hash. Trouble is a result, so that the others are still looked at.

    The output profile, megabytes and the same for every picture, stays behind: it is known on the other side.
    """
    (key, asked), content = wished
    try:
        picture = prepare_file(content, make_own_recipe(recipe, asked), asked.path.name, key)
        return picture if recipe.output is None else replace(picture, icc=None)
    except Trouble as trouble:
        return trouble


class _OrderedOutcomes:
    """Keeps the order of the paths while distinct files go through the workers.

    `_line` holds, for each file not handed out yet, its name and its outcome or the wish whose outcome it waits for.
    """

    def __init__(self, recipe: PreparationOptions, cache: PictureCache | None) -> None:
        self._recipe, self._cache = recipe, cache
        self._line: deque[tuple[str, Outcome | _Wish]] = deque()
        self._asked: deque[tuple[_Wish, str]] = deque()
        self._known: dict[_Wish, Outcome | None] = {}

    def queue_paths(self, wanted: Iterable[Path | Asked]) -> Iterator[tuple[_Wish, bytes]]:
        """Put every file in line; yield the wish and the content of those that have to be prepared."""
        for place in wanted:
            asked = place if isinstance(place, Asked) else Asked(place)
            path = asked.path
            try:
                content = path.read_bytes()
            except OSError as error:
                self._line.append((path.name, _make_unreadable(error)))
                continue
            # Without its place: two files of one content are one.
            key = hashlib.sha256(content).hexdigest()
            wish = key, asked._replace(path=Path())
            self._line.append((path.name, wish))
            if wish in self._known:
                continue
            maker = describe_converter(content)
            recipe = make_own_recipe(self._recipe, asked)
            self._known[wish] = None if self._cache is None else find_prepared(self._cache, key, recipe, maker)
            if self._known[wish] is None:
                self._asked.append((wish, maker))
                yield (key, asked), content

    def take_outcome(self, outcome: Outcome) -> None:
        """The outcome of the oldest content that was asked for."""
        wish, maker = self._asked.popleft()
        self._known[wish] = outcome
        if self._cache is not None and isinstance(outcome, PreparedPicture):
            self._cache.keep_picture(outcome, make_own_recipe(self._recipe, wish[1]), maker)

    def ready_outcomes(self) -> Iterator[Outcome]:
        """The outcomes at the head of the line, each under its own file's name."""
        while self._line:
            name, entry = self._line[0]
            outcome = self._known[entry] if isinstance(entry, tuple) else entry
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


def find_prepared(cache: PictureCache, sha256: str, recipe: PreparationOptions, made_by: str) -> PreparedPicture | None:
    """The picture from the cache, unless it hangs on what was installed: a missing typeface may be there by now."""
    found = cache.get_picture(sha256, recipe, made_by)
    if found is not None and any(finding.kind == "missing-font" for finding in found.findings):
        return None
    return found


def _make_unreadable(error: OSError) -> Trouble:
    what = f"the file cannot be read: {error.strerror or error}"
    return Trouble(Finding(what, "Check that it is there, is a file and may be read.", exit=Exit.SYSTEM))
