"""Damaged and hostile files of every format, thousands of each: nothing may crash, hang or read what it must not.

    python tests/bench/formats_fuzz.py [--each 5000] [--only JPEG ...] [--seed 1]

Each file begins as a small sound one of its format and is then changed where it hurts: bytes, lengths, tags, markers,
boxes, chunks swapped or cut; SVGs and PDFs also by their own grammar (references, nesting, huge numbers, operators).
Every file has to come out as a picture or as a refusal with a remedy, within 20 s of processor time, and without a
picture beyond the pixel limit. Counts are printed. (Our own generator; seeded, so that a count can be had again.)

SVGs and PDFs lead to bait: a picture, a text and a listening port of this computer. The kernel says whether anybody,
the renderers' process too, opens the bait (inotify, Linux only), and the port whether anybody calls. The most memory
of both processes is printed; `impose.formats.child.MEMORY` is held by the kernel.
"""

from __future__ import annotations

import argparse
import ctypes
import os
import random
import re
import socket
import struct
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Callable
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

from PIL import Image

from formats import hostile, samples
from impose.art.prepare import PreparationOptions
from impose.errors import Severity, Trouble
from impose.formats.prepare_file import prepare_file
from impose.formats.renderer import RENDERER

LONGEST_S = 20.0
LIMIT = 4_000_000


class Bait:
    """A picture, a text and a port that nobody may touch; `hostile.OUT` leads to them."""

    def __init__(self, folder: Path) -> None:
        picture, text = folder / "bait.png", folder / "bait.txt"
        Image.new("RGB", (9, 9), "magenta").save(picture)
        text.write_text("bait")
        self.port = socket.create_server(("127.0.0.1", 0))
        self.port.setblocking(False)
        number = self.port.getsockname()[1]
        hostile.OUT[:] = [
            *(picture.as_uri(), str(picture), f"http://127.0.0.1:{number}/x.png", f"//127.0.0.1:{number}/x.svg"),
            *(text.as_uri(), str(text), f"FILE://{picture}", f"http://localhost:{number}/x.css"),
        ]
        libc = ctypes.CDLL(None, use_errno=True)
        self.watch = libc.inotify_init1(os.O_NONBLOCK)
        assert libc.inotify_add_watch(self.watch, os.fsencode(folder), 0x20 | 0x01) >= 0  # IN_OPEN, IN_ACCESS
        text.read_text()
        assert self.is_touched(), "the bait notices nobody"
        assert not self.is_touched()

    def is_touched(self) -> bool:
        """Whether anybody opened a file of the bait, or called its port, since the last time."""
        try:
            self.port.accept()
            return True
        except BlockingIOError:
            pass
        try:
            events = os.read(self.watch, 1 << 16)
        except BlockingIOError:
            return False
        at, touched = 0, False
        while at < len(events):  # inotify(7); whoever lists the folder takes no bait
            _, mask, _, length = struct.unpack_from("iIII", events, at)
            touched |= length > 0 and not mask & 0x40000000  # IN_ISDIR
            at += 16 + length
        return touched


def most_memory(process: int | str) -> int:
    """The most resident memory of a process so far, megabytes (proc(5), VmHWM); 0 where that cannot be read."""
    try:
        found = re.search(r"VmHWM:\s+(\d+) kB", Path(f"/proc/{process}/status").read_text())
    except OSError:
        return 0
    return int(found[1]) // 1024 if found else 0


def outcome(content: bytes) -> str:
    """What became of a file: "picture", or the kind of its refusal. Raises for what must not happen."""
    begun = time.process_time()
    try:
        picture = prepare_file(
            content, PreparationOptions(drawn_mm=(30.0, None), pixel_limit=LIMIT, orientation="apply")
        )
        assert picture.width * picture.height <= LIMIT, "more pixels than the limit"
        said = "picture"
    except Trouble as trouble:
        said = make_refusal_of_error(trouble)
    assert time.process_time() - begun < LONGEST_S, "too long"
    return said


def make_refusal_of_error(trouble: Trouble) -> str:
    """The kind of a refusal, which has to say how to mend it."""
    stops = [finding for finding in trouble.findings if finding.severity is Severity.STOP]
    assert stops[0].kind, "refused without a kind"
    assert all(finding.remedy for finding in stops), "refused without a remedy"
    return stops[0].kind


def run(kind: str, each: int, seed: int, bait: Bait) -> tuple[Counter[str], float, int]:
    """So many changed files of one kind; what became of them, the longest by the clock, the renderer's memory."""
    chance = random.Random(f"{seed} {kind}")
    sound = samples.of(kind)
    change: Callable[[random.Random, bytes], bytes] = hostile.CHANGES.get(kind, hostile.changed)
    counts: Counter[str] = Counter()
    longest, most = 0.0, 0
    for _ in range(each):
        content = change(chance, chance.choice(sound))
        begun = time.monotonic()
        try:
            counts[outcome(content)] += 1
        except Exception as error:
            counts[f"FAULT {type(error).__name__}"] += 1
            place = Path(f"fault-{kind}-{sum(counts.values())}.bin")
            place.write_bytes(content)
            print(f"{place}: {error!r}"[:300], flush=True)
        longest = max(longest, time.monotonic() - begun)
        if bait.is_touched():
            counts["FAULT bait taken"] += 1
            Path(f"bait-{kind}-{sum(counts.values())}.bin").write_bytes(content)
        process = RENDERER._process
        most = max(most, most_memory(process.pid) if process else 0)
    return counts, longest, most


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--each", type=int, default=5000)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--only", nargs="+", default=list(samples.KINDS))
    asked = parser.parse_args()
    total = 0
    bait = Bait(Path(tempfile.mkdtemp()))
    for kind in asked.only:
        counts, longest, most = run(kind, asked.each, asked.seed, bait)
        total += sum(counts.values())
        told = ", ".join(f"{name} {count}" for name, count in counts.most_common())
        print(
            f"{kind}: {told}; the longest {longest:.1f} s by the clock; "
            f"memory {most_memory('self')} MB, the renderer {most} MB",
            flush=True,
        )
    print(f"{total:,} files")


if __name__ == "__main__":
    main()
