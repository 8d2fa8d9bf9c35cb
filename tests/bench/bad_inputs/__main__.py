"""Gives the program thousands of bad inputs and sees that each ends in a clean refusal or a success.

    python tests/bench/bad_inputs [COUNT] [SEED] [KIND ...]

COUNT inputs of each kind: batch files with kits, .xlsx, column maps, lists of spoiled prints, profiles and settings, a
desk's desk.toml, calibrations, ledgers and counts, words on the command line, names of files, records, kept answers,
ICC profiles. Each runs in a process that serves many of them, with 2 GB of memory and 20 s of processor time. Bad
ends are a traceback, exit code 1, no message beside another code than 0, an unsafe character or a line of more than
4,000 letters in what is shown, too long a time, and too much memory. The files of each bad end are kept, and named at
the end.
"""

from __future__ import annotations

import contextlib
import io
import os
import random
import resource
import shutil
import signal
import sys
import tempfile
import time
import traceback
import unicodedata
import warnings
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, field
from multiprocessing import get_context
from multiprocessing.connection import Connection
from pathlib import Path
from typing import Any

sys.path[:0] = [str(Path(__file__).parents[3]), str(Path(__file__).parents[2]), str(Path(__file__).parents[1])]

from art.iccbytes import model_profile  # noqa: E402
from bad_inputs import arguments, settings, tables  # noqa: E402
from conftest import draw  # noqa: E402
from impose.cli import main as run_command  # noqa: E402
from impose.cli.output import make_terminal_safe  # noqa: E402
from impose.desk.inbox_rules import read_file_name, read_inbox  # noqa: E402
from impose.desk.reprint_lists import find_record, read_list_code  # noqa: E402
from impose.errors import Trouble  # noqa: E402
from impose.files import find_shipped_profiles  # noqa: E402
from impose.orders.batch_reader import read_batch  # noqa: E402
from impose.profiles.profiles import Profiles, load_profiles  # noqa: E402
from impose.run.record_file import read_record  # noqa: E402
from impose.run.selection import ReprintRequest, select_transfers  # noqa: E402

LONGEST_S = 20.0
MEMORY_BYTES = 2 << 30
CHUNK = 100
CODES = (0, 2, 3, 4, 5)


class TooLong(BaseException):
    """The watchdog's call."""


@dataclass
class Bench:
    """What all inputs share: a good batch, its record and lists, a ledger, answers, a profile."""

    root: Path
    good: Path = field(init=False)
    delivered: Path = field(init=False)
    ledger: Path = field(init=False)
    answers: str = ""
    profiles: Profiles = field(init=False)

    def __post_init__(self) -> None:
        job = self.root / "job"
        job.mkdir(parents=True)
        self.art = job / "owl.png"
        draw("ellipse", 120, 90).save(self.art)
        draw("noise", 60, 80, 1).save(job / "sky.png")
        self.good = job / "good.csv"
        self.good.write_text("order,art,width,copies\nR-1,owl.png,60mm,2\nR-2,sky.png,50mm,1\n", "utf-8")
        self.delivered, self.ledger = self.root / "delivered", self.root / "ledger.db"
        for words in (
            ["sheets", str(self.good), "-p", "a4", "-o", str(self.delivered), "--workers", "1"],
            ["check", str(self.delivered), "--agreed", "Mo", "--order", "R-1"],
            ["stock", "a4", "--set", "40", "--ledger", str(self.ledger)],
            ["stock", "a4", "--waste", "2", "--because", "creased", "--ledger", str(self.ledger)],
        ):
            code, said = command(words)
            if code:
                raise SystemExit(said)
        agreed = job / "good-agreed.json"
        self.answers = agreed.read_text("utf-8")
        agreed.unlink()
        self.listed = (self.delivered / "reprint.csv").read_text("utf-8-sig")
        self.icc = model_profile("RGB")
        self.profiles = load_profiles(find_shipped_profiles())

    def make(self, kind: str, chance: random.Random, folder: Path) -> list[str]:
        """Write the files of one input; the words of the command that reads them."""
        words = KINDS[kind](self, chance, folder)
        if kind in ("csv", "xlsx"):
            for name in ("owl.png", "sky.png"):
                shutil.copyfile(self.good.parent / name, folder / name)
            if chance.random() < 0.8:
                words[0] = "batch"  # most faults are found in reading
        return words

    def run(self, words: list[str]) -> tuple[int, str]:
        """Run one input; its exit code and what was said."""
        if words[0] in LIBRARY:
            try:
                return 0, str(LIBRARY[words[0]](self, *words[1:]))
            except Trouble as trouble:
                whole = all(one.what for one in trouble.findings)  # each door makes it safe for its own reader
                shown = "\n".join(make_terminal_safe(f"stop: {one}") for one in trouble.findings)
                return int(trouble.exit), shown if whole else ""
        more = ["--workers=1"] if words[0] in ("check", "quote", "sheets") and "--workers" not in str(words) else []
        return command([*words[:1], *more, *words[1:]])


def command(words: list[str]) -> tuple[int, str]:
    """Run the command in this process: its exit code, and all that it printed."""
    told = io.TextIOWrapper(io.BytesIO(), "utf-8", errors="surrogateescape", newline="", write_through=True)
    code = 0
    with contextlib.redirect_stdout(told), contextlib.redirect_stderr(told):
        try:
            run_command(words)
        except SystemExit as left:
            code = int(left.code or 0)
    return code, told.buffer.getvalue().decode("utf-8", "surrogateescape")  # type: ignore[attr-defined]


def _list(bench: Bench, record: str, listed: str) -> str:
    """What `impose reprint` and a desk do with a list before anything is made."""
    source = read_record(Path(record))
    wish = ReprintRequest(listed=Path(listed)) if listed else ReprintRequest(only=("T001",))
    chosen = select_transfers(source.printed, wish)
    if listed:
        read_list_code(Path(listed), mapped=False)
        find_record(Path(listed), bench.root)
    return str(chosen)


def _desk(bench: Bench, folder: str, name: str) -> str:
    return str(read_inbox(Path(folder), name, bench.profiles))


def _name(_: Bench, source: str, *__: str) -> str:
    path = Path(source)
    return str([read_file_name(one.name) for one in (path.iterdir() if path.is_dir() else [path])])


def _batch(bench: Bench, source: str) -> str:
    """What every command does first."""
    return str(read_batch(Path(source), bench.profiles, skip_bad=len(source) % 2 == 0))


LIBRARY: dict[str, Callable[..., str]] = {"list": _list, "desk.toml": _desk, "file name": _name, "batch": _batch}

KINDS: dict[str, Callable[[Bench, random.Random, Path], list[str]]] = {
    "csv": lambda bench, chance, folder: tables.bad_csv(chance, folder),
    "xlsx": lambda bench, chance, folder: tables.bad_spreadsheet(chance, folder),
    "columns": lambda bench, chance, folder: [
        *tables.bad_map(chance, folder), "--art", str(bench.good.parent)
    ],
    "list": lambda bench, chance, folder: [
        "list", str(bench.delivered), str(tables.bad_list(chance, folder, bench.listed))
    ],
    "profiles": lambda bench, chance, folder: settings.bad_profiles(chance, folder, bench.good),
    "desk.toml": lambda bench, chance, folder: settings.bad_desk_settings(chance, folder),
    "calibration": lambda bench, chance, folder: settings.bad_calibration(chance, folder),
    "stock": lambda bench, chance, folder: settings.bad_stock(chance, folder, bench.good, bench.ledger),
    "words": lambda bench, chance, folder: arguments.bad_words(chance, folder, bench.good),
    "names": lambda bench, chance, folder: arguments.bad_names(chance, folder, bench.art),
    "record": lambda bench, chance, folder: arguments.bad_record(chance, folder, bench.delivered, bench.good),
    "answers": lambda bench, chance, folder: settings.bad_answers(chance, folder, bench.good, bench.answers),
    "icc": lambda bench, chance, folder: settings.bad_icc(chance, folder, bench.good, bench.icc),
}  # fmt: skip


def judge(bench: Bench, words: list[str]) -> tuple[str, str]:
    """How one input ended ("read", "refused 3") and, if that is a bad end, why."""
    begun = time.process_time()
    signal.setitimer(signal.ITIMER_PROF, LONGEST_S)
    try:
        code, said = bench.run(words)
    except TooLong:
        return "too long", f"more than {LONGEST_S:.0f} s"
    except MemoryError:
        return "memory", "more memory than it may have"
    except Exception:
        return "traceback", traceback.format_exc()
    finally:
        signal.setitimer(signal.ITIMER_PROF, 0)
    why = ""
    if code not in CODES or "Traceback" in said or "This is a bug" in said:
        why = said[-3000:]
    elif "not enough memory" in said:
        why = "more memory than it may have"
    elif code and not said.strip():
        why = "refused without a word"
    elif unsafe := [c for c in said if unicodedata.category(c) in ("Cc", "Cf", "Cs") and c not in "\n\u200d"]:
        why = f"unsafe characters {unsafe[:5]!r}"
    elif code and len(max(said.splitlines(), key=len)) > 4000:
        why = "a line of more than 4,000 letters"
    elif time.process_time() - begun > LONGEST_S / 2:
        why = f"{time.process_time() - begun:.1f} s"
    return ("read" if code == 0 else f"refused {code}"), why


def serve(bench: Bench, kind: str, seed: int, numbers: range, out: Connection) -> None:
    """Make and judge some inputs in this process, whose memory is limited."""
    signal.signal(signal.SIGPROF, _call)
    warnings.simplefilter("ignore")
    for number in numbers:
        folder = bench.root / "now" / f"{kind}-{seed}-{number}"
        folder.mkdir(parents=True)
        words = bench.make(kind, random.Random(f"{kind} {seed} {number}"), folder)
        out.send((number, "", ""))
        resource.setrlimit(resource.RLIMIT_AS, (MEMORY_BYTES, resource.RLIM_INFINITY))
        ended, why = judge(bench, words)
        resource.setrlimit(resource.RLIMIT_AS, (resource.RLIM_INFINITY, resource.RLIM_INFINITY))
        out.send((number, ended, f"{why}\n{words}" if why else ""))
        if not why:
            shutil.rmtree(folder)


def _call(*_: Any) -> None:
    raise TooLong


def storm(bench: Bench, kind: str, count: int, seed: int) -> tuple[Counter[str], list[str]]:
    """`count` inputs of one kind: how many ended how, and those that ended badly."""
    tally, bad = Counter[str](), []
    at = 0
    while at < count:
        here, there = get_context("fork").Pipe(duplex=False)
        numbers = range(at, min(count, at + CHUNK))
        process = get_context("fork").Process(target=serve, args=(bench, kind, seed, numbers, there))
        process.start()
        there.close()
        done = at
        try:
            while here.poll(15 * LONGEST_S):
                number, ended, why = here.recv()
                done = number + bool(ended)
                tally[ended] += bool(ended)
                if why:
                    bad.append(f"{kind}-{seed}-{number}: {ended}: {why}")
        except EOFError:
            pass
        if done < numbers.stop:  # it died, or hangs where no signal reaches it
            process.kill()
            tally["died"] += 1
            bad.append(f"{kind}-{seed}-{done}: the process died or did not heed its watchdog")
            done += 1
        process.join()
        at = done
    return tally, bad


def main() -> int:
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 1000
    seed = int(sys.argv[2]) if len(sys.argv) > 2 else 1
    kinds = sys.argv[3:] or list(KINDS)
    root = Path(tempfile.mkdtemp(prefix="bad-inputs-"))
    os.environ |= {"IMPOSE_LEDGER": str(root / "none" / "ledger.db"), "XDG_CACHE_HOME": str(root / "cache")}
    bench = Bench(root)
    found: list[str] = []
    total = 0
    for kind in kinds:
        begun = time.monotonic()
        tally, bad = storm(bench, kind, count, seed)
        found += bad
        total += sum(tally.values())
        shown = ", ".join(f"{ended} {times}" for ended, times in tally.most_common() if times)
        print(
            f"{kind:12} {sum(tally.values()):6} in {time.monotonic() - begun:4.0f} s: {shown}; bad {len(bad)}",
            flush=True,
        )
    print(f"{total} inputs of {len(kinds)} kinds, {len(found)} ended badly")
    for one in found:
        print(f"\n{one}")
    if found:
        print(f"their files lie in {root / 'now'}")
    else:
        shutil.rmtree(root)
    return int(bool(found))


if __name__ == "__main__":
    sys.exit(main())
