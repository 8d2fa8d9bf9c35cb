"""One watcher a desk: a lock that the system itself frees when its holder ends, and that names the holder."""

from __future__ import annotations

import contextlib
import errno
import os
import socket
import sys
import time
from pathlib import Path
from types import TracebackType

from impose.errors import Exit, Finding, Trouble

_FAR = 1 << 30  # Windows locks bytes against reading too: a byte far behind the text leaves the text readable


class DeskLock:
    """Held from `take` to `release`, or to the end of the process, however it ends."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self._handle: int | None = None

    def take_lock(self) -> None:
        """Take the lock. Raises `Trouble` naming who holds it."""
        # Not inherited by children (PEP 446), so an orphan cannot keep the desk locked.
        handle = os.open(self.path, os.O_RDWR | os.O_CREAT, 0o666)
        try:
            _lock_file(handle)
        except OSError as error:
            os.lseek(handle, 0, os.SEEK_SET)
            told = os.read(handle, 300).decode("utf-8", "replace").strip()
            os.close(handle)
            if error.errno in (errno.EAGAIN, errno.EACCES, errno.EDEADLK, errno.EWOULDBLOCK):
                raise Trouble(_make_held_finding(self.path, told)) from None
            raise
        self._handle = handle
        self._write_holder()

    def _write_holder(self) -> None:
        assert self._handle is not None
        when = time.strftime("%Y-%m-%d %H:%M:%S")
        text = f"process {os.getpid()} on {socket.gethostname()} since {when}\n".encode()
        os.ftruncate(self._handle, 0)
        os.lseek(self._handle, 0, os.SEEK_SET)
        os.write(self._handle, text)

    def still_held(self) -> bool:
        """Whether the file that is locked is the one that stands there (a share may have come back anew)."""
        if self._handle is None:
            return False
        try:
            here, there = os.fstat(self._handle), self.path.stat()
        except OSError:
            return False
        return (here.st_dev, here.st_ino) == (there.st_dev, there.st_ino)

    def release_lock(self) -> None:
        """Free the lock; the file stays, since removing it would let two hold different ones."""
        if self._handle is not None:
            with contextlib.suppress(OSError):
                os.close(self._handle)
            self._handle = None

    def __enter__(self) -> DeskLock:
        self.take_lock()
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, at: TracebackType | None) -> None:
        self.release_lock()


def _make_held_finding(path: Path, told: str) -> Finding:
    return Finding(
        f"this desk is already watched by {told or 'another process'}",
        "Two watchers on one desk would make everything twice. Stop that one, or let it go on.",
        kind="locked",
        file=str(path.parent.parent),
        exit=Exit.USAGE,
    )


def _lock_file(handle: int) -> None:
    if sys.platform == "win32":
        import msvcrt

        os.lseek(handle, _FAR, os.SEEK_SET)
        msvcrt.locking(handle, msvcrt.LK_NBLCK, 1)
        return
    import fcntl

    # flock(2), not lockf: a record lock would be lost as soon as anything in this process closed the file.
    fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
