"""The library of compiled loops: found beside this module, or nowhere.

A wheel of a release carries one library for each usual system; installing from source makes one where there is a C
compiler (`.ci/build_native.py`). Everything works without it and gives the same answers, only slower. Set
`IMPOSE_PLAIN=1` to leave it alone, as tests and benchmarks do to compare.
"""

from __future__ import annotations

import functools
import os
import platform
import sys
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import ctypes

FOLDER = Path(__file__).parent
KEEP_MEMORY = "IMPOSE_KEEP_MEMORY"
"""The variable by which commands and their workers, set to 1, keep the memory of one picture for the next. It is a
setting of the whole process, so that a program which imports `impose` is left as it is."""
SUFFIXES = {"win32": "dll", "darwin": "dylib"}
MACHINES = {"amd64": "x86_64", "arm64": "aarch64"}


def name_library(system: str, machine: str) -> str:
    """The library's file for a system as in `sys.platform` and a machine as in `platform.machine()`."""
    machine = MACHINES.get(machine.lower(), machine.lower())
    return f"loops-{system}-{machine}.{SUFFIXES.get(system, 'so')}"


def hash_sources(folder: Path) -> str:
    """SHA-256 of the C sources in the folder, by name; the library carries it, so that an old one is noticed."""
    import hashlib

    digest = hashlib.sha256()
    for path in sorted(folder.glob("*.[ch]")):
        text = path.read_bytes().replace(b"\r\n", b"\n")
        digest.update(f"{path.name} {len(text)}\n".encode() + text)
    return digest.hexdigest()


@functools.cache
def load_library() -> ctypes.CDLL | None:
    """The library, or None: not built for this machine, made of other sources than those beside it, or not wanted.

    Calls into it run without the interpreter's lock. Its users state argument types (`argtypes`) themselves.
    """
    path = FOLDER / name_library(sys.platform, platform.machine())
    if os.environ.get("IMPOSE_PLAIN") == "1" or not path.is_file():
        return None
    import ctypes

    try:
        library = ctypes.CDLL(str(path))
        library.library_sources.restype = ctypes.c_char_p
        made_of = library.library_sources().decode("ascii")
    except (OSError, AttributeError, UnicodeDecodeError):  # another libc, or a file that only has the name
        return None
    # A wheel carries no sources: what lies there belongs together.
    return library if not any(FOLDER.glob("*.c")) or made_of == hash_sources(FOLDER) else None
