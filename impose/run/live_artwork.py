"""Artwork that stays prepared from one plan to the next, prepared in processes of its own.

A picture that takes its process down is refused and costs nothing else: the next one gets a new process. Whoever waits
can be called away at any moment; what is under way then is finished all the same and known the next time.
"""

from __future__ import annotations

import contextlib
import queue
import subprocess
import threading
from collections.abc import Callable, Iterable, Sequence
from pathlib import Path
from time import monotonic
from typing import Any

from impose.art.cache import PictureCache
from impose.art.output_profile import OutputProfile
from impose.art.prepare import PreparationOptions, PreparedPicture
from impose.errors import Exit, Finding, Trouble
from impose.files import FileMark, read_file_mark
from impose.formats.prepare_many import Outcome
from impose.messages import end_child, read_message, start_child, write_message
from impose.run.cached_rows import CachedRows
from impose.values import ChangingStruct, field, replace

CHILD = ("-m", "impose.run.artwork_worker")
LONGEST_S = 300.0
"""A picture that takes longer is taken for one that will never end."""
_ASKING_S = 0.02

"""What a file is known by without reading it: time of change, size, number; None where there is no file."""
Key = tuple[Path, PreparationOptions]


class _Child(ChangingStruct, eq=False):
    """A process and what it is at."""

    process: subprocess.Popen[bytes]
    ready: bool = False
    at: tuple[Key, FileMark] | None = None
    since: float = 0.0


class LiveArtwork(ChangingStruct):
    """Pictures by path and recipe, each prepared once as long as its file stays the same; their rows stay in `cache`.

    For use by one thread. `output` is the printer's profile that colours are turned into.
    """

    cache: PictureCache
    output: OutputProfile | None = None
    processes: int = 1
    script: Sequence[str] = CHILD
    _known: dict[Key, tuple[FileMark, Outcome]] = field(default_factory=dict)
    _children: list[_Child] = field(default_factory=list)
    _replies: queue.SimpleQueue[tuple[_Child, Any, bool]] = field(default_factory=queue.SimpleQueue)

    def start_process(self) -> None:
        """Start a process, so that the first picture need not wait for it."""
        if not self._children:
            self._children.append(self._start_child())

    def prepare_pictures(
        self, wanted: Iterable[Key], check: Callable[[], None], on_done: Callable[[int, int], object]
    ) -> dict[Key, Outcome]:
        """The outcome for each path and recipe. `check` is called fifty times a second and ends the wait by raising."""
        now = {key: read_file_mark(key[0]) for key in dict.fromkeys(wanted)}
        total = len(self._list_unknown(now))
        while left := self._list_unknown(now):
            check()
            self._send_waiting(left, now)
            self._take_reply()
            on_done(total - len(left), total)
        return {key: self._known[key][1] for key in now}

    def forget_others(self, needed: Iterable[Key]) -> None:
        """Keep no picture but those that are needed."""
        self._known = {key: self._known[key] for key in needed if key in self._known}

    def close(self) -> None:
        """End the processes, whatever they are at."""
        for child in self._children:
            end_child(child.process)
        self._children.clear()

    def _list_unknown(self, now: dict[Key, FileMark]) -> list[Key]:
        """What is not prepared in the version that its file has now."""
        return [key for key, version in now.items() if key not in self._known or self._known[key][0] != version]

    def _send_waiting(self, left: list[Key], now: dict[Key, FileMark]) -> None:
        """Hand out what nobody is at, to as many processes as there may be.

        A file that changed while it was prepared is handed out again once that has ended.
        """
        under_way = {child.at[0] for child in self._children if child.at is not None}
        for key in left:
            if key in under_way:
                continue
            child = self._find_idle()
            if child is None:
                return
            child.at, child.since = (key, now[key]), monotonic()
            # Should the process be dead already, its end of file is the reply.
            with contextlib.suppress(OSError):
                assert child.process.stdin is not None
                write_message(child.process.stdin, (key[0], replace(key[1], output=None)))  # type: ignore[arg-type]

    def _find_idle(self) -> _Child | None:
        for child in self._children:
            if child.at is None:
                return child
        if len(self._children) >= self.processes:
            return None
        self._children.append(self._start_child())
        return self._children[-1]

    def _take_reply(self) -> None:
        """Take a reply in, if one comes soon; end what has been under way for too long."""
        try:
            child, said, alive = self._replies.get(timeout=_ASKING_S)
        except queue.Empty:
            for child in self._children:
                if child.at is not None and monotonic() - child.since > LONGEST_S:
                    child.process.kill()
            return
        if not alive:
            self._explain_death(child)
        elif not child.ready:
            child.ready = True
        elif child.at is not None:
            (path, recipe), version = child.at
            child.at = None
            self._known[path, recipe] = version, self._make_outcome(path, recipe, said)

    def _make_outcome(self, path: Path, recipe: PreparationOptions, said: Any) -> Outcome:
        if isinstance(said, Trouble):
            return said
        picture, size, made_by = said
        rows = CachedRows(path, picture.sha256, recipe, self.cache.folder, size, made_by)
        whole: PreparedPicture = replace(
            picture, data=rows, icc=picture.icc if self.output is None else self.output.icc
        )
        return whole

    def _explain_death(self, child: _Child) -> None:
        """What a death means: before the process was ready no artwork can be to blame for it."""
        code = end_child(child.process)
        if child in self._children:
            self._children.remove(child)
        if child.at is None:
            return
        key, version = child.at
        how = f"signal {-code}" if code < 0 else f"code {code}"
        if child.ready:
            what = f"the process that read it ended ({how})"
            remedy = "Open it in a paint program and save it again; if it is very large, make it smaller."
            said = Finding(what, remedy, kind="damaged", file=key[0].name)
        else:
            what = f"the process that prepares artwork cannot start ({how})"
            said = Finding(what, "See what it printed.", file=key[0].name, exit=Exit.SYSTEM)
        self._known[key] = version, Trouble(said)

    def _start_child(self) -> _Child:
        process = start_child(self.script)
        child = _Child(process)
        assert process.stdin is not None
        with contextlib.suppress(OSError):
            write_message(process.stdin, (self.cache.folder, self.output))  # type: ignore[arg-type]
        threading.Thread(target=_receive_replies, args=(child, self._replies), daemon=True).start()
        return child


def _receive_replies(child: _Child, replies: queue.SimpleQueue[tuple[_Child, Any, bool]]) -> None:
    """Take replies in until the process is gone, which the last one says."""
    assert child.process.stdout is not None
    with child.process.stdout as stream:
        while True:
            try:
                replies.put((child, read_message(stream), True))  # type: ignore[arg-type]
            except (EOFError, OSError, ValueError):
                replies.put((child, None, False))
                return
