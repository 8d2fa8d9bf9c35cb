"""What the bundle starts with: the command, the page where nothing is said, and the program's own child processes.

A child is asked for in the words that Python takes, `-P -m impose.desk.worker`, so that whoever starts one need not
know whether it runs from a bundle.
"""

import multiprocessing
import os
import runpy
import sys

PAGE = ("open",)
OPENED = "impose is open in your browser. Closing this window ends it; nothing is lost."


def restore_libraries() -> None:
    """Let other programs (browser, spooler) have the system's libraries, not those of the bundle."""
    for name in ("LD_LIBRARY_PATH", "DYLD_LIBRARY_PATH"):
        before = os.environ.pop(f"{name}_ORIG", None)
        if before is not None:
            os.environ[name] = before
        else:
            os.environ.pop(name, None)


def start_program(words: list[str]) -> None:
    """Do what the words ask for."""
    words = words[1:] if words[:1] == ["-P"] else words
    if words[:1] == ["-m"] and len(words) > 1:
        if words[1].partition(".")[0] != "impose":
            sys.exit(f"{words[1]} is no part of impose")
        sys.argv = [words[1], *words[2:]]
        runpy.run_module(words[1], run_name="__main__", alter_sys=True)
        return
    from impose.cli import main

    if not words:
        print(OPENED, flush=True)
    main(words or list(PAGE))


if __name__ == "__main__":
    multiprocessing.freeze_support()
    restore_libraries()
    start_program(sys.argv[1:])
