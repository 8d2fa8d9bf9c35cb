"""Files and folders that appear whole or not at all, and where the shipped profiles are.

A file is written under a temporary name in the same folder, synced, then renamed. A folder is built beside its final
name and renamed; an existing one is exchanged with it in one step where the system can do that.
"""

from __future__ import annotations

import contextlib
import ctypes
import errno
import os
import re
import shutil
import stat
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from importlib.resources import files
from importlib.resources.abc import Traversable
from pathlib import Path
from typing import BinaryIO

from impose.errors import Exit, Finding, Trouble
from impose.folder_exchange import RECORD_NAME as RECORD_NAME
from impose.folder_exchange import carry_over, record_in
from impose.remedies import Remedy

_STALE_S = 60.0  # a temporary folder is locked by its maker right after it is made; younger ones are left alone


def find_shipped_profiles() -> Traversable:
    """The folder of profiles that came with the program.

    In a wheel it lies inside the package. An editable install runs from the checkout, where it is the package's
    neighbour: taken only if a pyproject.toml stands there too, so that no stray folder is mistaken for it.
    """
    packed = files("impose") / "_profiles"
    if packed.is_dir():
        return packed
    root = Path(__file__).resolve().parent.parent
    if (root / "pyproject.toml").is_file() and (root / "profiles").is_dir():
        return root / "profiles"
    raise Trouble(
        Finding(
            "the profiles that belong to the program are missing",
            "Install it again from where you got it.",
            exit=Exit.SYSTEM,
        )
    )


def find_shipped_file(kind: str, name: str) -> Traversable:
    """A file that came with the program: in a wheel inside the package, in a checkout in the folder shared."""
    packed = files("impose") / f"_{kind}" / name
    if packed.is_file():
        return packed
    root = Path(__file__).resolve().parent.parent
    if (root / "pyproject.toml").is_file() and (root / "shared" / name).is_file():
        return root / "shared" / name
    what = f"the file {name} that belongs to the program is missing"
    raise Trouble(Finding(what, "Install it again from where you got it.", exit=Exit.SYSTEM))


def find_shipped_example() -> Traversable:
    """The folder of the example batch that came with the program; in a checkout that of the examples."""
    packed = files("impose") / "_example"
    if packed.is_dir():
        return packed
    root = Path(__file__).resolve().parent.parent
    if (root / "pyproject.toml").is_file() and (root / "examples" / "lantern-night").is_dir():
        return root / "examples" / "lantern-night"
    what = "the example that belongs to the program is missing"
    raise Trouble(Finding(what, "Install it again from where you got it.", exit=Exit.SYSTEM))


def is_reserved(name: str) -> bool:
    """Whether Windows takes a file's name for a device's, whatever follows its first point.

    Source: Microsoft, "Naming Files, Paths, and Namespaces".
    """
    return _DEVICE.fullmatch(name.partition(".")[0].casefold()) is not None


_DEVICE = re.compile(r"con|prn|aux|nul|conin\$?|conout\$?|(com|lpt)[0-9]")


def open_plain(path: Path) -> BinaryIO:
    """Open a plain file for reading, whatever has taken its name since it was looked at. Raises `OSError`.

    A link is not followed; a pipe, on which opening would wait for its other end, or a device is refused by what was
    really opened.
    """
    flags = os.O_RDONLY
    for name in ("O_NOFOLLOW", "O_NONBLOCK", "O_CLOEXEC", "O_BINARY"):
        flags |= getattr(os, name, 0)
    handle = os.open(path, flags)
    try:
        if not stat.S_ISREG(os.fstat(handle).st_mode):
            raise OSError(errno.EINVAL, "No plain file", str(path))
        return os.fdopen(handle, "rb")
    except BaseException:
        os.close(handle)
        raise


@contextlib.contextmanager
def write_new_file(path: Path) -> Iterator[Path]:
    """A temporary beside `path` that takes its name when the block ends well and is deleted when it does not."""
    if not path.parent.is_dir():  # else the error would name the temporary, which is no name that a person gave
        raise FileNotFoundError(errno.ENOENT, "there is no such folder", str(path.parent))
    handle, name = tempfile.mkstemp(prefix=_make_hidden_prefix(path), suffix=".part", dir=path.parent)
    os.close(handle)
    part = Path(name)
    try:
        yield part
        sync_path(part)
        part.replace(path)
    except BaseException:
        part.unlink(missing_ok=True)
        raise


Deliver = Callable[[Path, Callable[[], None]], None]
"""Told the folder that was built, and the step that puts it in its place: takes the step once, keeping books of it."""


def deliver_only(part: Path, put: Callable[[], None]) -> None:
    """Put the folder in its place and keep no books."""
    put()


@contextlib.contextmanager
def write_new_folder(path: Path, replace: bool = False, deliver: Deliver = deliver_only) -> Iterator[Path]:
    """A temporary folder beside `path` that takes its name, whole, when the block ends well.

    An existing `path` is refused, or, with `replace`, exchanged if it is an output of ours (it holds our record); what
    people put into it is carried over (see `impose.folder_exchange`). A crash leaves the old folder or the new one.
    `deliver` is called at the end, when all but the last step is done.
    """
    refuse_nameless(path)
    refuse_taken(path, replace)
    path.parent.mkdir(parents=True, exist_ok=True)
    sweep_parts(path)
    part = Path(tempfile.mkdtemp(prefix=_make_hidden_prefix(path), suffix=".part", dir=path.parent))
    lock = _lock_folder(part)
    try:
        # mkdtemp keeps others out; an output folder is as open as any other folder the user makes.
        part.chmod(0o777 & ~_read_umask())
        yield part
        for name in part.rglob("*"):
            sync_path(name)
        sync_path(part)
        deliver(part, lambda: _put_in_place(part, path, replace))
    except OSError as error:
        # Told by the name the file would have had: the one it was being written under is gone when it is read.
        if isinstance(error.filename, str) and Path(error.filename).is_relative_to(part):
            error.filename = str(path / Path(error.filename).relative_to(part))
        raise
    finally:
        shutil.rmtree(part, ignore_errors=True)
        if lock is not None:
            os.close(lock)


def sweep_parts(path: Path) -> None:
    """Remove the half-built folders beside `path` that a kill left behind.

    Whoever builds one holds a lock on it, which the system frees when the process ends, however it ends. Where folders
    cannot be locked (Windows, some shares) nobody can tell, and they are left alone.
    """
    prefix = _make_hidden_prefix(path)
    with contextlib.suppress(OSError), os.scandir(path.parent) as entries:
        found = [Path(e.path) for e in entries if e.name.startswith(prefix) and e.name.endswith(".part")]
        for part in found:
            if len(part.name) != len(prefix) + 8 + len(".part") or not part.is_dir() or part.is_symlink():
                continue
            lock = _lock_folder(part) if time.time() - part.stat().st_mtime > _STALE_S else None
            if lock is not None:
                shutil.rmtree(part, ignore_errors=True)
                os.close(lock)


@contextlib.contextmanager
def open_scratch_folder() -> Iterator[Path]:
    """A folder among the system's temporary ones while the block runs; those that killed processes left go first.

    It may hold a customer's sheets, and a temporary folder is emptied at the next start of the machine, if at all.
    """
    path = Path(tempfile.gettempdir()) / "impose"
    sweep_parts(path)
    folder = Path(tempfile.mkdtemp(prefix=_make_hidden_prefix(path), suffix=".part", dir=path.parent))
    lock = _lock_folder(folder)
    try:
        yield folder
    finally:
        shutil.rmtree(folder, ignore_errors=True)
        if lock is not None:
            os.close(lock)


def _make_hidden_prefix(path: Path) -> str:
    """How the names of temporaries beside `path` begin; short, since its own name may be as long as names may be."""
    short = os.fsdecode(os.fsencode(path.name)[:100])
    return f".{short}."


def _lock_folder(folder: Path) -> int | None:
    """An open handle that locks a folder until it is closed; None if another holds it or it cannot be locked."""
    if sys.platform == "win32":
        return None
    import fcntl

    with contextlib.suppress(OSError):
        handle = os.open(folder, os.O_RDONLY | os.O_DIRECTORY)
        try:
            fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
            return handle
        except OSError:
            os.close(handle)
    return None


def refuse_nameless(path: Path) -> None:
    """Raise `Trouble` for a path that is no text, since neither a record nor a PDF could name it."""
    try:
        str(path.absolute()).encode("utf-8")
    except UnicodeEncodeError:
        raise Trouble(
            Finding(
                "the name of the file or of a folder above it holds bytes that are no text",
                "Give it another name.",
                kind="name",
                file=str(path),
                exit=Exit.USAGE,
            )
        ) from None


def refuse_taken(path: Path, replace: bool, replaceable: bool = True) -> None:
    """Raise `Trouble` if an output may not be written at `path`; what is not `replaceable` could not be replaced."""
    if not (path.exists() or path.is_symlink()):
        return
    if not replace:
        raise Trouble(
            Finding(
                f"{path} exists already and is left alone",
                Remedy("other-output" if replaceable else "other-folder"),
                exit=Exit.USAGE,
            )
        )
    if path.is_symlink() or record_in(path) is None:
        raise Trouble(
            Finding(
                f"{path} is not an output of this program (it holds no {RECORD_NAME} of ours), so it is not replaced",
                Remedy("other-folder"),
                exit=Exit.USAGE,
            )
        )


def find_free_name(wanted: Path) -> Path:
    """`wanted` itself, or the first of wanted-2, wanted-3 … that is free."""
    number, path = 1, wanted
    while path.exists() or path.is_symlink():
        number += 1
        path = wanted.with_name(f"{wanted.name}-{number}")
    return path


def sync_path(path: Path) -> None:
    """Ask the system to put a file or folder on the disk; folders cannot be synced everywhere."""
    flags = os.O_RDONLY | getattr(os, "O_DIRECTORY", 0) if path.is_dir() else os.O_RDONLY
    try:
        handle = os.open(path, flags)
    except PermissionError:
        if path.is_dir():  # Windows does not open folders
            return
        raise
    try:
        os.fsync(handle)
    except OSError as error:
        if error.errno not in (errno.EINVAL, errno.ENOTSUP, errno.EBADF, errno.EACCES):
            raise
    finally:
        os.close(handle)


def _read_umask() -> int:
    mask = os.umask(0)
    os.umask(mask)
    return mask


def _put_in_place(part: Path, path: Path, replace: bool) -> None:
    """Rename `part` to `path`; with `replace`, exchange the two, so that `part` is the old one afterwards."""
    if not (replace and path.exists()):
        # A folder that appeared at the name meanwhile is refused, unless it is empty: rename may take its place.
        refuse_taken(path, replace=False)
        part.rename(path)
        sync_path(path.parent)
        return
    # Before, so that a crash loses nothing; and after, for what was put there in the meantime.
    carry_over(path, part)
    if not exchange_names(part, path):
        old = Path(tempfile.mkdtemp(prefix=_make_hidden_prefix(path), suffix=".old", dir=path.parent))
        old.rmdir()
        path.rename(old)
        try:
            part.rename(path)
        except BaseException:
            old.rename(path)
            raise
        old.rename(part)
    sync_path(path.parent)
    try:
        carry_over(part, path, move=True)
    except OSError:  # what cannot be carried is left, under a name that is seen
        part.rename(find_free_name(path.with_name(f"{path.name}-earlier")))


def exchange_names(path: Path, other: Path) -> bool:
    """Swap two names in one step; False where the system or the file system has no call for it."""
    name, arguments = {
        "linux": (
            "renameat2",
            (-100, os.fsencode(path), -100, os.fsencode(other), 2),
        ),  # AT_FDCWD, RENAME_EXCHANGE
        "darwin": ("renamex_np", (os.fsencode(path), os.fsencode(other), 2)),  # RENAME_SWAP
    }.get(sys.platform, ("", ()))
    call: Callable[..., int] | None = getattr(ctypes.CDLL(None, use_errno=True), name, None) if name else None
    return call is not None and call(*arguments) == 0


FileMark = tuple[int, int, int] | None
"""How a file looks from outside: when it was changed, its size, which file it is; None where there is none."""


def read_file_mark(path: Path) -> FileMark:
    """How a file looks from outside, without reading it."""
    try:
        facts = path.stat()
    except OSError:
        return None
    return facts.st_mtime_ns, facts.st_size, facts.st_ino
