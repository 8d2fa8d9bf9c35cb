"""Kills the desk's watcher at random, over and over, while people drop; then counts what was lost and what doubled.

    python tests/bench/desk_kills.py [KILLS] [SEED]

Half of the watchers make with the real maker, half with one that writes only records, so that kills fall into more
states. A printing program takes PDFs away as they come. At the end one watcher runs to rest, and folders alone are
counted: every picture dropped must be in exactly one delivery or among the refused.
"""

from __future__ import annotations

import hashlib
import json
import random
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from collections import Counter
from pathlib import Path

sys.path[:0] = [str(Path(__file__).parents[2]), str(Path(__file__).parents[1])]

from desk.fake import delivered, png, refused  # noqa: E402

RUNNER = Path(__file__).parents[1] / "desk" / "runner.py"


class People:
    """Who drop: loose pictures, batches, folders, blank pictures, slow copies, renamed and overwritten files."""

    def __init__(self, desk: Path, chance: random.Random) -> None:
        self.inbox, self.chance = desk / "in", chance
        self.number = 0
        self.dropped: set[str] = set()
        self.lists: set[str] = set()
        self.half: list[tuple[Path, bytes]] = []
        (self.inbox / "left-chest").mkdir(parents=True)

    def picture(self, white: bool = False) -> bytes:
        self.number += 1
        content = png(self.number, 24, str(self.number).encode(), white)
        self.dropped.add(hashlib.sha256(content).hexdigest())
        return content

    def act(self) -> None:
        for path, rest in self.half:
            with path.open("ab") as file:
                file.write(rest)
        self.half.clear()
        ways = [self.loose, self.loose, self.batch, self.folder, self.blank, self.slow, self.renamed, self.again]
        for _ in range(self.chance.randint(1, 3)):
            self.chance.choice(ways)()

    def loose(self) -> None:
        content = self.picture()
        (self.inbox / "left-chest" / f"p{self.number}.png").write_bytes(content)

    def blank(self) -> None:
        content = self.picture(white=True)
        (self.inbox / "left-chest" / f"blank{self.number}.png").write_bytes(content)

    def slow(self) -> None:
        content = self.picture()
        path = self.inbox / "left-chest" / f"slow{self.number}.png"
        path.write_bytes(content[:60])
        self.half.append((path, content[60:]))

    def again(self) -> None:
        """A list of spoiled prints, of a delivery that the real maker made."""
        lists = sorted(self.inbox.parent.glob("sheets/*/reprint.csv"))
        if not lists:
            return self.loose()
        label = self.chance.choice(lists).read_text("utf-8-sig").splitlines()[1].split(",")[0]
        self.number += 1
        name = f"again{self.number}.csv"
        self.lists.add(name)
        (self.inbox / name).write_text(f"id,spoiled,note\n{label},x,{self.number}\n", "utf-8")
        return None

    def renamed(self) -> None:
        content = self.picture()
        path = self.inbox / f".r{self.number}"
        path.write_bytes(content)
        path.rename(self.inbox / "left-chest" / f"same-name-{self.number % 3}-{self.number}.png")

    def batch(self) -> None:
        names = []
        for _ in range(2):
            content = self.picture()
            names.append(f"b{self.number}.png")
            (self.inbox / names[-1]).write_bytes(content)
        text = "art,width\n" + "".join(f"{name},80mm\n" for name in names)
        (self.inbox / f"batch{self.number}.csv").write_text(text, "utf-8")

    def folder(self) -> None:
        content = self.picture()
        made = self.inbox / f".folder{self.number}"
        made.mkdir()
        (made / "a (80 mm).png").write_bytes(content)
        made.rename(self.inbox / f"folder{self.number}")


def start(desk: Path, fake: bool, *more: str) -> subprocess.Popen[bytes]:
    words = [sys.executable, str(RUNNER), str(desk), "--settle", "0.1", "--print-folder", str(desk.parent / "print")]
    words += ["--then", f"sh -c 'echo x >> \"$0/$1\"' {desk.parent / 'calls'}"]
    return subprocess.Popen([*words, *(["--fake"] if fake else []), *more])


def of_lists(desk: Path) -> Counter[str]:
    """How often each dropped list of spoiled prints stands in a record or among the refused."""
    records = [json.loads(path.read_text("utf-8")) for path in desk.glob("sheets/*/batch.json")]
    names = [drop["name"] for record in records for drop in record["desk"]["drops"] if drop["name"].endswith(".csv")]
    return Counter([*names, *(path.name for path in desk.glob("refused/again*.csv"))])


def take_prints(root: Path, printed: Counter[str]) -> None:
    """What a printing program does: take each PDF away as soon as it is there."""
    for path in (root / "print").glob("[!.]*/*.pdf"):
        printed[path.name] += 1
        path.unlink()


def main() -> int:
    kills = int(sys.argv[1]) if len(sys.argv) > 1 else 200
    chance = random.Random(int(sys.argv[2]) if len(sys.argv) > 2 else 8)
    root = Path(tempfile.mkdtemp(prefix="desk-kills-"))
    desk = root / "desk"
    (root / "calls").mkdir()
    people, states, printed = People(desk, chance), Counter[str](), Counter[str]()
    last, begun = Path(f"{desk}.last"), time.monotonic()
    for number in range(kills):
        fake = number % 2 == 0
        watcher = start(desk, fake)
        people.act()
        while not last.exists() and watcher.poll() is None:
            time.sleep(0.01)
        time.sleep(chance.uniform(0.0, 0.8) if fake else chance.uniform(0.0, 3.0))
        watcher.send_signal(signal.SIGKILL)
        watcher.wait()
        states[last.read_text("ascii").strip()] += 1
        last.unlink()
        take_prints(root, printed)
    people.act()
    people.act()
    seconds = time.monotonic() - begun
    print(
        f"{kills} kills in {seconds:.0f} s: dropped {len(people.dropped)} pictures, {len(people.lists)} lists",
        flush=True,
    )
    code = start(desk, False, "--once").wait()
    take_prints(root, printed)
    made, gone, lists = delivered(desk), Counter(refused(desk)), of_lists(desk)
    lost = [one for one in people.dropped if one not in made and one not in gone]
    lost += [one for one in people.lists if not lists[one]]
    doubled = [one for one in people.dropped if len(made.get(one, [])) + gone[one] > 1]
    doubled += [one for one in people.lists if lists[one] > 1]
    names = [path.name for path in (desk / "sheets").iterdir()]
    twice = [name for name, times in printed.items() if times > 1]
    uncalled = len(names) - len(list((root / "calls").iterdir()))
    left = [str(p) for p in (desk / "in").rglob("*") if p.is_file()]
    left += [p.name for p in (desk / "work").iterdir() if p.name.startswith(("drop-", "make-"))]
    print("the last change of state before each kill:")
    for state, count in sorted(states.items(), key=lambda item: -item[1]):
        print(f"  {count:4}  {state}")
    print(f"deliveries {len(names)}, refused {sum(gone.values())}, exit code of the last run {code}")
    again = len(list(desk.glob("refused/again*.csv")))
    print(f"lists of spoiled prints {sum(lists[one] for one in people.lists)}, refused {again}")
    print(f"lost {len(lost)}, doubled {len(doubled)}, left over {len(left)}")
    print(
        f"PDFs printed {sum(printed.values())} of {len(names)}, twice {len(twice)}; deliveries never called {uncalled}"
    )
    good = not (lost or doubled or left or twice or uncalled) and sum(printed.values()) == len(names)
    if good:
        shutil.rmtree(root)
    else:
        print(f"look at {root}")
    return 0 if good else 1


if __name__ == "__main__":
    sys.exit(main())
