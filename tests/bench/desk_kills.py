"""Kills the desk's watcher at random, over and over, while people drop; then counts what was lost and what doubled.

    python tests/bench/desk_kills.py [KILLS] [SEED]

Half of the watchers make with the real maker, half with one that writes only records, so that kills fall into more
states. They run with `--then`, `--ask` and `--fill`; some drops are held, some deliveries ask and are accepted or
rejected, two batch files share a picture, folders vanish while they are listed, the maker is killed now and then. A
printing program takes PDFs away as they come. At the end watchers run to rest, and folders alone are counted: every
picture dropped must be in exactly one delivery or among the refused, a shared one once for each of its two batch files.
"""

from __future__ import annotations

import hashlib
import json
import os
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
from impose.desk.folders import DeskFolders  # noqa: E402
from impose.desk.monitor import leave_request  # noqa: E402
from impose.ledger.drops import DropLedger  # noqa: E402
from impose.ledger.store import open_ledger  # noqa: E402

RUNNER = Path(__file__).parents[1] / "desk" / "runner.py"


class People:
    """Who drop: loose pictures, batches, folders, blank pictures, slow copies, renamed and overwritten files."""

    def __init__(self, desk: Path, chance: random.Random) -> None:
        self.inbox, self.chance = desk / "in", chance
        self.number = 0
        self.dropped: set[str] = set()
        self.lists: set[str] = set()
        self.shared: set[str] = set()
        self.half: list[tuple[Path, bytes]] = []
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

    def act(self) -> None:
        for path, rest in self.half:
            with path.open("ab") as file:
                file.write(rest)
        self.half.clear()
        ways = [self.loose, self.batch, self.folder, self.blank, self.slow, self.renamed, self.again, self.held]
        ways += [self.held, self.held_batch, self.shares, self.warned, self.churn]
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
        (self.inbox / "slow" / f"held{self.number}.csv").write_text(f"art,width\nhb{self.number}.png,80mm\n", "utf-8")

    def warned(self) -> None:
        content = self.picture()
        (self.inbox / "left-chest" / f"warn{self.number}.png").write_bytes(content)

    def shares(self) -> None:
        """Two batch files name one picture; one of them is there before the other is read."""
        content = self.picture()
        self.shared.add(hashlib.sha256(content).hexdigest())
        (self.inbox / f"s{self.number}.png").write_bytes(content)
        for first in "ab":
            (self.inbox / f"{first}-shares{self.number}.csv").write_text(
                f"art,width\ns{self.number}.png,80mm\n", "utf-8"
            )

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
    words += ["--ask", "--fill", "0.6"]
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


def kill_maker(watcher: subprocess.Popen[bytes]) -> None:
    """End the maker's process alone."""
    children = Path(f"/proc/{watcher.pid}/task/{watcher.pid}/children")
    for child in children.read_text("ascii").split() if children.exists() else []:
        if b"impose.desk.worker" in Path(f"/proc/{child}/cmdline").read_bytes():
            os.kill(int(child), signal.SIGKILL)


def storm(kills: int, root: Path, people: People, printed: Counter[str]) -> Counter[str]:
    """Kill watchers while people drop; how often each change of state was the last before a kill."""
    desk, chance, states = root / "desk", people.chance, Counter[str]()
    last = Path(f"{desk}.last")
    for number in range(kills):
        fake = number % 2 == 0
        watcher = start(desk, fake)
        people.act()
        while not last.exists() and watcher.poll() is None:
            time.sleep(0.01)
        time.sleep(chance.uniform(0.0, 0.8) if fake else chance.uniform(0.0, 3.0))
        if not fake and chance.random() < 0.2:
            kill_maker(watcher)
            time.sleep(chance.uniform(0.0, 1.0))
        if watcher.poll() is not None:
            print(f"a watcher ended by itself with code {watcher.returncode}")
        watcher.send_signal(signal.SIGKILL)
        watcher.wait()
        states[last.read_text("ascii").strip() if last.exists() else "before the start"] += 1
        last.unlink(missing_ok=True)
        take_prints(root, printed)
        if chance.random() < 0.3:
            people.decide()
    return states


def rest(root: Path, people: People, printed: Counter[str]) -> int:
    """Let watchers run until nothing waits or asks; the last one's exit code."""
    desk = root / "desk"
    for _ in range(30):
        people.wish("make-now")
        code = start(desk, False, "--once").wait()
        take_prints(root, printed)
        if not people.decide() and not waiting(desk):
            break
    return code


def waiting(desk: Path) -> int:
    """Drops that are not at their end."""
    with open_ledger(desk / "desk.db", []) as ledger:
        return len(DropLedger(ledger).list_drops("claiming", "waiting", "making", "refusing"))


def main() -> int:
    kills = int(sys.argv[1]) if len(sys.argv) > 1 else 200
    chance = random.Random(int(sys.argv[2]) if len(sys.argv) > 2 else 8)
    root = Path(tempfile.mkdtemp(prefix="desk-kills-"))
    desk = root / "desk"
    os.environ["IMPOSE_LEDGER"] = str(root / "user" / "ledger.db")
    (root / "calls").mkdir()
    (root / "print").mkdir()
    people, printed = People(desk, chance), Counter[str]()
    begun = time.monotonic()
    states = storm(kills, root, people, printed)
    people.act()
    people.act()
    seconds = time.monotonic() - begun
    print(
        f"{kills} kills in {seconds:.0f} s: dropped {len(people.dropped)} pictures, {len(people.lists)} lists",
        flush=True,
    )
    code = rest(root, people, printed)
    made, gone, lists = delivered(desk), Counter(refused(desk)), of_lists(desk)
    due = {one: 2 if one in people.shared else 1 for one in people.dropped}
    found = {one: len(made.get(one, [])) + gone[one] for one in people.dropped}
    lost = [one for one in people.dropped if found[one] < due[one]]
    lost += [one for one in people.lists if not lists[one]]
    doubled = [one for one in people.dropped if found[one] > due[one]]
    doubled += [one for one in people.lists if lists[one] > 1]
    names = [path.name for path in (desk / "sheets").iterdir()]
    twice = [name for name, times in printed.items() if times > 1]
    uncalled = len(names) - len(list((root / "calls").iterdir()))
    left = [str(p) for p in (desk / "in").rglob("*") if p.is_file() and p.name != "desk.toml"]
    left += [p.name for p in (desk / "work").iterdir() if p.name.startswith(("drop-", "make-"))]
    left += [str(p) for p in desk.rglob("*.part")]
    print("the last change of state before each kill:")
    for state, count in sorted(states.items(), key=lambda item: -item[1]):
        print(f"  {count:4}  {state}")
    print(f"deliveries {len(names)}, refused {sum(gone.values())}, exit code of the last run {code}")
    print(f"shared pictures {len(people.shared)}, asked: {dict(people.asked)}")
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
        print(f"look at {root}", lost[:3], doubled[:3], left[:3])
    return 0 if good else 1


if __name__ == "__main__":
    sys.exit(main())
