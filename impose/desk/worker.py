"""The maker's process: reads requests from its standard input, writes replies to its standard output, and dies with
its parent.

Started afresh (`python -m impose.desk.worker`) and not forked: it holds no lock and no open file of the watcher's.
"""

from __future__ import annotations

import os
import queue
import signal
import sys
import threading
from typing import Any

from impose import __version__
from impose.desk.remedies import WORDINGS
from impose.messages import read_message, write_message
from impose.remedies import word_remedies


def main() -> None:
    """Answer until the parent goes."""
    # The parent alone hears Ctrl-C and decides; a stray print of a library must not look like a reply.
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    replies = os.fdopen(os.dup(1), "wb")
    os.dup2(2, 1)
    requests: queue.SimpleQueue[Any] = queue.SimpleQueue()
    threading.Thread(target=_receive_requests, args=(requests,), daemon=True).start()
    from impose.desk.rehearse import load_everything
    from impose.desk.worker_jobs import answer_request

    load_everything()
    try:
        write_message(replies, (0, __version__))
        with word_remedies(WORDINGS):
            while True:
                number, request = requests.get()
                write_message(replies, (number, answer_request(request)))
    except BrokenPipeError:
        os._exit(0)  # the parent is gone; a last flush would only complain


def _receive_requests(requests: queue.SimpleQueue[Any]) -> None:
    """Take requests in; when the parent is gone there is nobody to make anything for, however far the work is."""
    stream = sys.stdin.buffer
    while True:
        try:
            requests.put(read_message(stream))
        except (EOFError, OSError):
            os._exit(0)


if __name__ == "__main__":
    main()
