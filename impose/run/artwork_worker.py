"""The process that prepares artwork for a live plan: reads paths from standard input, writes pictures to its output.

Started afresh (`python -m impose.run.artwork_worker`) and not forked: it holds no lock and no open file of its
parent's, and dies with it. The rows of a picture stay in the cache; what is handed back is everything else.
"""

from __future__ import annotations

import hashlib
import os
import queue
import signal
import sys
import threading
from pathlib import Path
from typing import Any

from impose.art.cache import PictureCache
from impose.art.prepare import PreparationOptions, PreparedPicture
from impose.errors import Exit, Finding, Trouble
from impose.formats.prepare_file import describe_converter, prepare_file
from impose.formats.prepare_many import find_prepared
from impose.messages import read_message, write_message
from impose.values import replace

TRIMMED_EACH = 50
"""Pictures after which the cache is looked through for what is too old."""

Prepared = tuple[PreparedPicture, int, str] | Trouble
"""A picture without its rows and without the recipe's output profile, the bytes of its rows, and its converter."""


def main() -> None:
    """Answer until the parent goes."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # Ctrl-C is for the parent alone, which decides
    replies = os.fdopen(os.dup(1), "wb")
    os.dup2(2, 1)  # a stray print of a library must not look like a reply
    requests: queue.SimpleQueue[Any] = queue.SimpleQueue()
    threading.Thread(target=_receive_requests, args=(requests,), daemon=True).start()
    folder, output = requests.get()
    cache, done = PictureCache(folder), 0
    try:
        write_message(replies, None)  # ready: a death from here on is the doing of an artwork
        while True:
            path, recipe = requests.get()
            write_message(replies, prepare_in_cache(path, replace(recipe, output=output), cache))
            done += 1
            if done % TRIMMED_EACH == 0:
                cache.remove_oldest()
    except BrokenPipeError:
        os._exit(0)  # the parent is gone; a last flush would only complain


def prepare_in_cache(path: Path, recipe: PreparationOptions, cache: PictureCache) -> Prepared:
    """The artwork prepared, from the cache where it can be, and in the cache; or why it cannot be used."""
    try:
        content = path.read_bytes()
    except OSError as error:
        what = f"the file cannot be read: {error.strerror or error}"
        remedy = "Check that it is there, is a file and may be read."
        return Trouble(Finding(what, remedy, kind="art-missing", file=path.name, exit=Exit.SYSTEM))
    key = hashlib.sha256(content).hexdigest()
    try:
        made_by = describe_converter(content)
        picture = find_prepared(cache, key, recipe, made_by)
        if picture is None:
            picture = prepare_file(content, recipe, path.name, key)
            cache.keep_picture(picture, recipe, made_by)
    except Trouble as trouble:
        return Trouble([replace(finding, file=path.name) for finding in trouble.findings])
    findings = tuple(replace(finding, file=path.name) for finding in picture.findings)
    icc = picture.icc if recipe.output is None else None
    return replace(picture, data=b"", findings=findings, icc=icc), len(picture.data), made_by


def _receive_requests(requests: queue.SimpleQueue[Any]) -> None:
    """Take requests in; when the parent is gone there is nobody to prepare anything for."""
    while True:
        try:
            requests.put(read_message(sys.stdin.buffer))
        except (EOFError, OSError):
            os._exit(0)


if __name__ == "__main__":
    main()
