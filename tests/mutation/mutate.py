"""Faults made at random in the rooms, to see whether the tests notice them. Not run by the suite.

    python tests/mutation/mutate.py --seed 1 --count 60 [--rooms sheet,nest] [--measured FOLDER] [--results FILE]
    python tests/mutation/mutate.py --results FILE --again [--by "tests/nest/test_prove.py ..."]

A fault is a comparison, a sum, a constant or a condition turned over, a statement left out, or two like arguments
exchanged. First the tests of each room run once, with coverage, so that it is known which of them touch a line and how
long each takes; with `--measured` that is kept in a folder and read from there the next time. Then each fault is tried
by the tests that touch its line, the quickest first. Five times the processor time of a right run, and twenty seconds,
is the limit: who takes longer does not end, and was noticed. A test that notices is asked once more while nothing is
wrong; where it fails then too, it is asked no more.

Each answer is a line of JSON in the file of results as soon as it is there, and a fault that the file has is not tried
again: what was stopped goes on. Survivors are to be judged by hand: a fault without effect is no fault. `--again`
tries those that were not noticed, in the house as it stands now, by the tests that are given; else by all that touch
the line, as far as they were measured, or all of the room. With `--unmeasured` nothing is measured: scenes of approved
answers and the tests that import a module are asked, after those that were measured before. It is quick, and tells the
least that is noticed."""

from __future__ import annotations

import argparse
import json
import tempfile
import time
from collections import Counter
from collections.abc import Iterable
from pathlib import Path
from typing import Any

from copies import Answer, HouseCopy
from faults import ROOMS, Fault, draw_faults, find_fault
from measured import ROOM_TESTS, MeasuredFiles, TestChoice, list_files, list_importing, list_scenes


class ResultFile:
    """What came of each fault, a line of JSON each; of one that was tried again, the last line holds."""

    def __init__(self, path: Path) -> None:
        self._path = path
        self.kept: dict[tuple[Any, ...], dict[str, Any]] = {}
        for line in path.read_text("utf-8").splitlines() if path.exists() else ():
            values = json.loads(line)
            self.kept[_name_fault(values)] = values

    def add_answer(self, fault: dict[str, Any], answer: Answer, seconds: float, asked: int) -> None:
        """Write down an answer and print it."""
        values = {**fault, "state": answer.state, "by": answer.by, "seconds": round(seconds), "asked": asked}
        self.kept[_name_fault(values)] = values
        with self._path.open("a", encoding="utf-8") as file:
            file.write(json.dumps(values, ensure_ascii=False) + "\n")
        print(f"{answer.state:9} {fault['module']}:{fault['line']} {fault['kind']}: "
              f"{_shorten(fault['before'])} -> {_shorten(fault['after'])} {answer.by}", flush=True)  # fmt: skip

    def print_table(self) -> None:
        """How many faults were noticed, by seed and room."""
        told: dict[tuple[int, str], Counter[str]] = {}
        for values in self.kept.values():
            told.setdefault((values["seed"], values["room"]), Counter())[values["state"]] += 1
        for (seed, room), counts in sorted(told.items()):
            print(f"seed {seed} {room:10} {sum(counts.values()):4} tried {dict(counts)}")


def _name_fault(values: dict[str, Any]) -> tuple[Any, ...]:
    return tuple(values[name] for name in ("seed", "module", "line", "kind", "before", "after", "source"))


def try_drawn(results: ResultFile, given: argparse.Namespace, copy: HouseCopy, measured: Path) -> None:
    """Draw faults and try those of which the file has no answer."""
    choice = TestChoice()
    known = MeasuredFiles(measured, choice)
    for room, faults in draw_faults(given.seed, given.count, given.rooms.split(",")).items():
        if not given.unmeasured:
            known.measure_files(copy, list_files(ROOM_TESTS[room].split()))
        for fault in faults:
            values = {"seed": given.seed, **fault.list_values()}
            if _name_fault(values) not in results.kept:
                tests = choice.list_tests(fault.module, fault.line, fault.lines, given.tests)
                seconds = 20 + 5 * choice.add_up(tests)
                # Coverage tells nothing of C.
                if given.unmeasured or fault.module.endswith(".c"):
                    scenes = [] if any("/answers/" in test for test in tests) else list_scenes(room)
                    tests, seconds = [*tests, *scenes, *list_importing(fault.module)], 300
                _try_fault(results, copy, values, fault, tests, seconds)


def try_again(
    results: ResultFile, copy: HouseCopy, tests: list[str], words: Iterable[str], measured: Path, most: int
) -> None:
    """Try faults that were not noticed, in the house as it stands now."""
    choice = TestChoice()
    MeasuredFiles(measured, choice)
    for values in list(results.kept.values()):
        if values["state"] == "killed" or not all(word in values["module"] for word in words):
            continue
        fault = find_fault(values)
        if fault is None:
            results.add_answer(values, Answer("gone"), 0, 0)
        else:
            touching = choice.list_tests(fault.module, fault.line, fault.lines, most)
            asked = tests or touching or list_files(ROOM_TESTS[fault.room].split())
            _try_fault(results, copy, values, fault, asked, 20 + 5 * choice.add_up(asked) if touching else 600)


def _try_fault(
    results: ResultFile, copy: HouseCopy, values: dict[str, Any], fault: Fault, tests: list[str], seconds: float
) -> None:
    begun = time.monotonic()
    answer = copy.try_fault(fault.module, fault.text, tests, seconds)
    results.add_answer(values, answer, time.monotonic() - begun, len(tests))


def main() -> None:
    """Draw, try and tell."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--count", type=int, default=60)
    parser.add_argument("--rooms", default=",".join(ROOMS))
    parser.add_argument("--measured", type=Path, help="a folder for what the tests touch")
    parser.add_argument("--results", type=Path, help="a file for the answers")
    parser.add_argument("--unmeasured", action="store_true", help="ask the tests that import a module, and those known")
    parser.add_argument("--tests", type=int, default=250, help="the quickest tests of a line, at most")
    parser.add_argument("--again", action="store_true", help="try what the file of results has as not noticed")
    parser.add_argument("--by", default="", help="the tests to ask again")
    parser.add_argument("--of", default="", help="a word of the modules to try again")
    given = parser.parse_args()
    with tempfile.TemporaryDirectory(prefix="mutants-") as folder:
        measured = (given.measured or Path(folder)).resolve()
        measured.mkdir(parents=True, exist_ok=True)
        results = ResultFile(given.results or Path(folder) / "results")
        copy = HouseCopy(Path(folder) / "copy")
        if given.again:
            try_again(results, copy, list_files(given.by.split()), given.of.split(), measured, given.tests)
        else:
            try_drawn(results, given, copy, measured)
    results.print_table()


def _shorten(text: str) -> str:
    return " ".join(text.split())[:90]


if __name__ == "__main__":
    main()
