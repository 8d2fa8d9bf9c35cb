"""Kills the desk's watcher at random, over and over, while people drop; then counts what was lost and what doubled.

    python tests/bench/desk_kills.py [KILLS] [SEED]

A quarter of the watchers make with the real maker, the others with one that writes only records, so that kills fall
into more states; each is killed after a random number of its instants, whatever else the machine does. They run with
`--then`, `--ask` and `--fill`; some drops are held, some deliveries ask and are accepted or rejected, two batch files
share a picture, folders vanish while they are listed, the maker is killed now and then.
Tables are CSV with commas or semicolons, tab-separated or .xlsx; rosters come with kits; lists of spoiled prints tick
one to three prints of a delivery. A printing program takes PDFs away as they come. At the end watchers run to rest, and
folders alone are counted: every picture dropped must be in exactly one delivery or among the refused, a shared one once
for each of its two batch files; every list must be made once or refused, and made of exactly the prints it ticks.
"""

from __future__ import annotations

import hashlib
import json
import os
import random
import shutil
import signal
import sys
import tempfile
import time
from collections import Counter
from dataclasses import dataclass
from multiprocessing import get_context
from pathlib import Path

import openpyxl

sys.path[:0] = [str(Path(__file__).parents[2]), str(Path(__file__).parents[1])]

from desk import runner  # noqa: E402
from desk.fake import delivered, png, refused  # noqa: E402
from impose.desk.folders import DeskFolders, open_desk  # noqa: E402
from impose.desk.monitor import leave_request  # noqa: E402
from impose.ledger.drops import DropLedger  # noqa: E402
from impose.ledger.store import open_ledger  # noqa: E402


class People:
    """Who drop: loose pictures, batches, folders, blank pictures, slow copies, renamed and overwritten files."""

    def __init__(self, desk: Path, chance: random.Random) -> None:
        self.inbox, self.chance = desk / "in", chance
        self.number = 0
        self.dropped: set[str] = set()
        self.lists: dict[str, set[str]] = {}
        self.kinds = Counter[str]()
        self.shared: set[str] = set()
        self.half: list[tuple[Path, bytes, int]] = []  # the path, all of it, and how much of it is written
        self.asked = Counter[str]()
        self.places = DeskFolders(desk)
        (self.inbox / "left-chest").mkdir(parents=True)
        (self.inbox / "slow").mkdir()
        (self.inbox / "slow" / "desk.toml").write_text('placement = "left-chest"\nhold = "20s"\n', "utf-8")

    def picture(self, white: bool = False) -> bytes:
        self.number += 1
        content = png(self.number, 24, str(self.number).encode(), white)
        self.dropped.add(hashlib.sha256(content).hexdigest())
        return content

    def finish(self) -> None:
        """Write the second halves of what was begun; whole again what was refused meanwhile, for it rested too long."""
        for path, content, begun in self.half:
            whole = not path.exists()
            with path.open("ab") as file:
                file.write(content if whole else content[begun:])
        self.half.clear()

    def act(self) -> None:
        self.finish()
        ways = [self.loose, self.batch, self.folder, self.blank, self.slow, self.renamed, self.again, self.held]
        ways += [self.held, self.held_batch, self.shares, self.warned, self.churn, self.again, self.roster, self.batch]
        for _ in range(self.chance.randint(1, 3)):
            self.chance.choice(ways)()
        if self.chance.random() < 0.15 and self.places.work.is_dir():
            self.wish("make-now")

    def wish(self, kind: str, number: int = 0) -> None:
        self.asked[kind] += 1
        leave_request(self.places, kind, number)

    def decide(self) -> int:
        """Accept or reject what asks; how many deliveries that were."""
        if not self.places.ledger.exists():
            return 0
        with open_ledger(self.places.ledger, []) as ledger:
            asking = [one.id for one in DropLedger(ledger).list_deliveries("asking")]
        for number in asking:
            self.wish("reject" if self.chance.random() < 0.2 else "accept", number)
        return len(asking)

    def held(self) -> None:
        content = self.picture()
        (self.inbox / "slow" / f"h{self.number}.png").write_bytes(content)

    def held_batch(self) -> None:
        content = self.picture()
        (self.inbox / "slow" / f"hb{self.number}.png").write_bytes(content)
        self.table(self.inbox / "slow", f"held{self.number}", [["art", "width"], [f"hb{self.number}.png", "80mm"]])

    def warned(self) -> None:
        content = self.picture()
        (self.inbox / "left-chest" / f"warn{self.number}.png").write_bytes(content)

    def shares(self) -> None:
        """Two batch files name one picture; one of them is there before the other is read."""
        content = self.picture()
        self.shared.add(hashlib.sha256(content).hexdigest())
        (self.inbox / f"s{self.number}.png").write_bytes(content)
        for first in "ab":
            self.table(self.inbox, f"{first}-shares{self.number}", [["art", "width"], [f"s{self.number}.png", "80mm"]])

    def churn(self) -> None:
        """What an unpacker or a client that keeps folders alike does: folders that come and go."""
        for number in range(60):
            folder = self.inbox / f"churn{number % 7}" / "below"
            folder.mkdir(parents=True, exist_ok=True)
            (folder / "x").touch()
            (folder / "x").unlink()
            shutil.rmtree(folder.parent, ignore_errors=True)

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
        self.half.append((path, content, 60))

    def table(self, folder: Path, stem: str, rows: list[list[str]]) -> str:
        """Write a table as one of the kinds that people save; its name. Only .xlsx, whose end shows, in halves."""
        ending = self.chance.choice([".csv", ".csv", ".tsv", ".xlsx", ".xlsx"])
        self.kinds[ending] += 1
        path = folder / f"{stem}{ending}"
        if ending == ".xlsx":
            book = openpyxl.Workbook()
            for row in rows:
                book.active.append(row)
            book.save(folder / f".{stem}")
            content = (folder / f".{stem}").read_bytes()
            (folder / f".{stem}").unlink()
        else:
            separator = "\t" if ending == ".tsv" else self.chance.choice(",;")
            content = "".join(separator.join(row) + "\r\n" for row in rows).encode("utf-8-sig")
        if ending == ".xlsx" and self.chance.random() < 0.3:
            path.write_bytes(content[: len(content) // 2])
            self.half.append((path, content, len(content) // 2))
        else:
            path.write_bytes(content)
        return path.name

    def again(self) -> None:
        """A list of spoiled prints, of a delivery that the real maker made."""
        lists = sorted(self.inbox.parent.glob("sheets/*/reprint.csv"))
        if not lists:
            return self.loose()
        lines = self.chance.choice(lists).read_text("utf-8-sig").splitlines()[1:]
        labels = [line.split(",")[0] for line in lines]
        ticked = set(self.chance.sample(labels, min(len(labels), self.chance.randint(1, 3))))
        self.number += 1
        rows = [["id", "spoiled", "because", "note"]]
        rows += [[one, "x" if one in ticked else "", "", str(self.number)] for one in labels]
        self.lists[self.table(self.inbox, f"again{self.number}", rows)] = {one.partition("-")[2] for one in ticked}
        return None

    def roster(self) -> None:
        """Names for garments, with the kits that say what they carry, in a folder of their own."""
        content = self.picture()
        number = self.number
        made = self.inbox / f".roster{number}"
        made.mkdir()
        (made / f"k{number}.png").write_bytes(content)
        (made / "kits.csv").write_text(f"kit,art,width\nrowers,k{number}.png,60mm\n", "utf-8")
        (made / "team.csv").write_text("order,kit,name\nA,rowers,JO\nA,rowers,BO\n", "utf-8")
        made.rename(self.inbox / f"roster{number}")

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
        self.table(self.inbox, f"batch{self.number}", [["art", "width"], *([name, "80mm"] for name in names)])

    def folder(self) -> None:
        content = self.picture()
        made = self.inbox / f".folder{self.number}"
        made.mkdir()
        (made / "a (80 mm).png").write_bytes(content)
        made.rename(self.inbox / f"folder{self.number}")


class Watcher:
    """A watch in a process of its own, forked from here, where everything is loaded: more kills in an hour."""

    def __init__(self, desk: Path, fake: bool, *more: str) -> None:
        words = [str(desk), "--settle", "0.1", "--print-folder", str(desk.parent / "print"), "--ask", "--fill", "0.6"]
        words += ["--then", f"sh -c 'echo x >> \"$0/$1\"' {desk.parent / 'calls'}"]
        self._process = get_context("fork").Process(target=_run, args=([*words, *(["--fake"] if fake else []), *more],))
        self._process.start()
        self.pid = int(self._process.pid or 0)

    @property
    def code(self) -> int | None:
        """The exit code, once it has ended."""
        return self._process.exitcode

    def wait(self) -> int:
        self._process.join()
        return int(self.code or 0)

    def kill(self) -> None:
        os.kill(self.pid, signal.SIGKILL)
        self.wait()


def _run(words: list[str]) -> None:
    sys.exit(runner.main(words))


def of_lists(desk: Path, due: dict[str, set[str]]) -> tuple[Counter[str], list[str]]:
    """How often each list of spoiled prints stands in a record or among the refused, and which were made otherwise."""
    found = Counter(path.name for path in desk.glob("refused/**/again*"))
    wrong = []
    for path in sorted(desk.glob("sheets/*/batch.json")):
        record = json.loads(path.read_text("utf-8"))
        names = [drop["name"] for drop in record["desk"]["drops"] if drop["name"] in due]
        found.update(names)
        if "reprint_of" in record:  # the quick maker's records hold no ids
            made = [one["id"] for sheet in record["sheets"] for one in sheet["transfers"]]
            wrong += [name for name in names if sorted(made) != sorted(due[name])]
    return found, wrong


def take_prints(root: Path, printed: Counter[str]) -> None:
    """What a printing program does: take each PDF away as soon as it is there."""
    for path in (root / "print").glob("[!.]*/*.pdf"):
        printed[path.name] += 1
        path.unlink()


def kill_maker(watcher: Watcher) -> None:
    """End the maker's process alone."""
    children = Path(f"/proc/{watcher.pid}/task/{watcher.pid}/children")
    for child in children.read_text("ascii").split() if children.exists() else []:
        if b"impose.desk.worker" in Path(f"/proc/{child}/cmdline").read_bytes():
            os.kill(int(child), signal.SIGKILL)


def read_instant(last: Path) -> tuple[str, int]:
    """The last instant that a watcher passed, and how many it did; "" before the first."""
    text = last.read_text("ascii") if last.exists() else ""
    return (text[:40].strip(), int(text[40:])) if text else ("", 0)


def wait_for_instant(watcher: Watcher, last: Path, wanted: int, quiet_s: float) -> None:
    """Until a watcher has passed so many instants, has ended, or has passed none for a while."""
    seen, since = 0, time.monotonic()
    while seen < wanted and watcher.code is None and time.monotonic() - since < quiet_s:
        time.sleep(0.002)
        now = read_instant(last)[1]
        if now != seen:
            seen, since = now, time.monotonic()


def storm(kills: int, root: Path, people: People, printed: Counter[str]) -> Counter[str]:
    """Kill watchers while people drop; how often each change of state was the last before a kill."""
    desk, chance, states = root / "desk", people.chance, Counter[str]()
    last = Path(f"{desk}.last")
    for number in range(kills):
        fake = number % 4 != 0
        last.unlink(missing_ok=True)
        watcher = Watcher(desk, fake)
        people.act()
        wait_for_instant(watcher, last, 1, 60.0)
        wait_for_instant(watcher, last, 1 + int(chance.expovariate(1 / 30)), 1.0 if fake else 6.0)
        time.sleep(chance.choice((0.0, 0.0, 0.0, 0.005, 0.05)))
        if not fake and chance.random() < 0.2:
            kill_maker(watcher)
            time.sleep(chance.uniform(0.0, 1.0))
        if watcher.code is not None:
            print(f"a watcher ended by itself with code {watcher.code}")
        watcher.kill()
        states[read_instant(last)[0] or "before the start"] += 1
        take_prints(root, printed)
        if chance.random() < 0.3:
            people.decide()
    return states


def rest(root: Path, people: People, printed: Counter[str]) -> int:
    """Let watchers run until nothing waits or asks; the last one's exit code."""
    desk = root / "desk"
    for _ in range(30):
        people.wish("make-now")
        code = Watcher(desk, False, "--once").wait()
        take_prints(root, printed)
        if not people.decide() and not waiting(desk):
            break
    return code


def waiting(desk: Path) -> int:
    """Drops that are not at their end."""
    with open_ledger(desk / "desk.db", []) as ledger:
        return len(DropLedger(ledger).list_drops("claiming", "waiting", "making", "refusing"))


@dataclass
class Count:
    """What the folders hold at the end."""

    lost: list[str]
    doubled: list[str]
    wrong: list[str]
    left: list[str]
    twice: list[str]
    unprinted: list[str]
    uncalled: int

    @property
    def good(self) -> bool:
        return not any((self.lost, self.doubled, self.wrong, self.left, self.twice, self.unprinted, self.uncalled))


def count(root: Path, people: People, printed: Counter[str]) -> Count:
    """Count what was dropped and what came of it, by folders alone."""
    desk = root / "desk"
    made, gone = delivered(desk), Counter(refused(desk))
    lists, wrong = of_lists(desk, people.lists)
    due = {one: 2 if one in people.shared else 1 for one in people.dropped}
    due |= dict.fromkeys(people.lists, 1)
    found = {one: len(made.get(one, [])) + gone[one] for one in people.dropped} | {
        one: lists[one] for one in people.lists
    }
    left = [str(p) for p in (desk / "in").rglob("*") if p.is_file() and p.name != "desk.toml"]
    left += [p.name for p in (desk / "work").iterdir() if p.name.startswith(("drop-", "make-"))]
    left += [str(p) for p in desk.rglob("*.part")]
    names = [path.name for path in (desk / "sheets").iterdir()]
    print(f"deliveries {len(names)}, refused pictures {sum(gone.values())}, shared pictures {len(people.shared)}")
    refused_lists = sum(1 for _ in desk.glob("refused/**/again*"))
    print(f"lists of spoiled prints {len(people.lists)}, of them refused {refused_lists}; tables {dict(people.kinds)}")
    print(f"asked: {dict(people.asked)}; PDFs printed {sum(printed.values())} of {len(names)}")
    return Count(
        lost=[one for one in due if found[one] < due[one]],
        doubled=[one for one in due if found[one] > due[one]],
        wrong=wrong,
        left=left,
        twice=[name for name, times in printed.items() if times > 1],
        unprinted=[""] * (len(names) - len(printed)),
        uncalled=len(names) - len(list((root / "calls").iterdir())),
    )


def main() -> int:
    kills = int(sys.argv[1]) if len(sys.argv) > 1 else 200
    chance = random.Random(int(sys.argv[2]) if len(sys.argv) > 2 else 8)
    root = Path(tempfile.mkdtemp(prefix="desk-kills-"))
    os.environ["IMPOSE_LEDGER"] = str(root / "user" / "ledger.db")
    (root / "calls").mkdir()
    (root / "print").mkdir()
    people, printed = People(root / "desk", chance), Counter[str]()
    open_desk(people.inbox.parent)
    for _ in range(6):
        people.act()
    rest(root, people, printed)  # so that there are prints to spoil from the first kill on
    begun = time.monotonic()
    states = storm(kills, root, people, printed)
    people.act()
    people.finish()
    print(f"{kills} kills in {time.monotonic() - begun:.0f} s: dropped {len(people.dropped)} pictures", flush=True)
    code = rest(root, people, printed)
    print("the last change of state before each kill:")
    for state, times in sorted(states.items(), key=lambda item: -item[1]):
        print(f"  {times:4}  {state}")
    print(f"exit code of the last run {code}")
    found = count(root, people, printed)
    print(", ".join(f"{name} {value if name == 'uncalled' else len(value)}" for name, value in vars(found).items()))
    if found.good:
        shutil.rmtree(root)
    else:
        print(f"look at {root}", {name: value[:3] for name, value in vars(found).items() if isinstance(value, list)})
    return 0 if found.good else 1


if __name__ == "__main__":
    sys.exit(main())
