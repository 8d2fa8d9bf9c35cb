"""Where the running server is found again: a file that its owner alone can read, and a lock held while it runs."""

from __future__ import annotations

import contextlib
import errno
import json
import os
import sys
from pathlib import Path

from impose.ledger.location import default_ledger_path
from impose.values import FrozenStruct, unfold_value


class RunningServer(FrozenStruct):
    """A server that runs: its port, and the secret by which a key is got from it."""

    port: int
    secret: str
    pid: int


def default_state_folder() -> Path:
    """Where this user's data lies."""
    return default_ledger_path().parent


class StateFile:
    """The file `page.json` in a folder of the user's, and the lock beside it."""

    def __init__(self, folder: Path) -> None:
        self.path = folder / "page.json"
        self._lock = folder / "page.lock"
        self._handle: int | None = None

    def take_lock(self) -> bool:
        """Take the lock, so that there is one server; False where another has it. It is freed however we end."""
        self.path.parent.mkdir(parents=True, exist_ok=True)
        handle = os.open(self._lock, os.O_RDWR | os.O_CREAT, 0o600)
        try:
            _lock_file(handle)
        except OSError as error:
            os.close(handle)
            if error.errno in (errno.EAGAIN, errno.EACCES, errno.EDEADLK, errno.EWOULDBLOCK):
                return False
            raise
        self._handle = handle
        return True

    def write_server(self, server: RunningServer) -> None:
        """Say where it is; nobody else may ever have read rights, not even for an instant."""
        part = self.path.with_name(f"page-{os.getpid()}.part")
        with contextlib.suppress(FileNotFoundError):
            part.unlink()
        handle = os.open(part, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
        with os.fdopen(handle, "w", encoding="utf-8") as file:
            json.dump(unfold_value(server), file)
        part.replace(self.path)

    def read_server(self) -> RunningServer | None:
        """The server that is said to run; None where there is no file, or one that others can read."""
        try:
            facts = self.path.stat()
            if os.name != "nt" and (facts.st_mode & 0o077 or facts.st_uid != os.getuid()):
                return None
            values = json.loads(self.path.read_text("utf-8"))
            return RunningServer(int(values["port"]), str(values["secret"]), int(values["pid"]))
        except (OSError, ValueError, KeyError, TypeError):
            return None

    def release_lock(self) -> None:
        """Say that nothing runs any more."""
        if self._handle is None:
            return
        with contextlib.suppress(OSError):
            self.path.unlink()
        with contextlib.suppress(OSError):
            os.close(self._handle)
        self._handle = None


def _lock_file(handle: int) -> None:
    if sys.platform == "win32":
        import msvcrt

        msvcrt.locking(handle, msvcrt.LK_NBLCK, 1)
        return
    import fcntl

    fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
