"""Damaged and hostile files of every format, thousands of each: nothing may crash, hang or read what it must not.

    python tests/bench/formats_fuzz.py [--each 5000] [--only JPEG ...] [--seed 1]

Each file begins as a small sound one of its format and is then changed where it hurts: bytes, lengths, tags, markers,
boxes, chunks swapped or cut; SVGs and PDFs also by their own grammar (references, nesting, huge numbers, operators).
Every file has to come out as a picture or as a refusal with a remedy, within 20 s of processor time, and without a
picture beyond the pixel limit. Counts are printed. (Our own generator; seeded, so that a count can be had again.)
"""

from __future__ import annotations

import argparse
import random
import sys
import time
from collections import Counter
from collections.abc import Callable
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

from formats import hostile, samples
from impose.art.prepare import PreparationOptions
from impose.errors import Severity, Trouble
from impose.formats.prepare_file import prepare_file

LONGEST_S = 20.0
LIMIT = 4_000_000


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
        said = refusal_of(trouble)
    assert time.process_time() - begun < LONGEST_S, "too long"
    return said


def refusal_of(trouble: Trouble) -> str:
    """The kind of a refusal, which has to say how to mend it."""
    stops = [finding for finding in trouble.findings if finding.severity is Severity.STOP]
    assert stops[0].kind, "refused without a kind"
    assert all(finding.remedy for finding in stops), "refused without a remedy"
    return stops[0].kind


def run(kind: str, each: int, seed: int) -> tuple[Counter[str], float]:
    """So many changed files of one kind; what became of them, and the longest time one took by the clock."""
    chance = random.Random(f"{seed} {kind}")
    sound = samples.of(kind)
    change: Callable[[random.Random, bytes], bytes] = hostile.CHANGES.get(kind, hostile.changed)
    counts: Counter[str] = Counter()
    longest = 0.0
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
    return counts, longest


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--each", type=int, default=5000)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--only", nargs="+", default=list(samples.KINDS))
    asked = parser.parse_args()
    total = 0
    for kind in asked.only:
        counts, longest = run(kind, asked.each, asked.seed)
        total += sum(counts.values())
        told = ", ".join(f"{name} {count}" for name, count in counts.most_common())
        print(f"{kind}: {told}; the longest {longest:.1f} s by the clock", flush=True)
    print(f"{total:,} files")


if __name__ == "__main__":
    main()
