"""A desk: what is dropped, what lies where afterwards, what the notes say, what is told of it and asked."""

from __future__ import annotations

import json
from collections.abc import Iterator
from typing import Any

import pytest

from answers.pictures import PICTURES, draw_disc
from approved_answers import Told, encode_png
from desk.conftest import Bed
from desk.fake import InlineMaker, make_inline
from impose.desk.remedies import WORDINGS
from impose.remedies import word_remedies
from impose.run import Options
from impose.values import replace

pytestmark = pytest.mark.usefixtures("sheets_alone")


THEN = """
    #!/bin/sh
    echo "$1|$IMPOSE_DELIVERY" >> log
    [ $(wc -l < log) -ge 2 ] || { echo no luck; exit 7; }
"""


class Desk:
    """A desk whose time is set by hand and that makes in this process."""

    def __init__(self, told: Told, **habits: Any) -> None:
        self.told = told
        self.bed = Bed(told.folder / "desk")
        self.bed.maker = InlineMaker()
        options = Options(steps=50, workers=1, settings={"papers": ["a4", "13x19"]})
        self.bed.habits = replace(self.bed.habits, options=options, **habits)

    def drop(self, name: str, kind: str = "clean", size: int = 150) -> None:
        content = encode_png(draw_disc(size) if kind == "clean" else PICTURES[kind]())
        self.bed.drop(name, content)

    def turn(self, seconds: float = 12.0) -> None:
        self.bed.turns(seconds)
        self.told.show("said", "\n".join(self.bed.said))
        self.bed.said.clear()

    def turn_with_commands(self, seconds: float) -> None:
        """Let time pass; a command that was started ends before the next turn."""
        for _ in range(round(2 * seconds)):
            self.bed.turns(0.5)
            running = self.bed.watch._desk.calls._running if self.bed.watch and self.bed.watch._desk else None
            for call in (running or {}).values():
                call.process.wait()
        self.told.show("said", "\n".join(self.bed.said))
        self.bed.said.clear()

    def list_all(self) -> None:
        root = self.bed.root
        for name in ("in", "done", "refused", "sheets", "waiting"):
            if (root / name).is_dir():
                self.told.list_files(f"desk/{name}")
        for note in sorted(root.rglob("*.txt")):
            self.told.show(note.relative_to(root).as_posix(), note.read_text("utf-8"))
            note.unlink()

    def close(self) -> None:
        if self.bed.watch is not None:
            self.bed.watch._close_all()
        self.bed.lock.release_lock()


@pytest.fixture
def desks(told: Told) -> Iterator[Any]:
    made: list[Desk] = []

    def make(**habits: Any) -> Desk:
        made.append(Desk(told, **habits))
        return made[-1]

    with word_remedies(WORDINGS):
        yield make
    for desk in made:
        desk.close()


def test_desk(told: Told, desks: Any) -> None:
    desk = desks(fill=0.85)
    desk.drop("left-chest/owl.png")
    desk.drop("owl (3 copies, 60 mm).png", size=120)
    desk.drop("moth (2 copies, left-chest, tight).png", size=100)
    desk.drop("what (12 moths).png")
    desk.drop("no-size.png")
    desk.drop("knee/owl.png", size=90)
    desk.drop("left-chest/blank.png", "blank")
    desk.bed.drop("left-chest/broken.png", encode_png(draw_disc())[:5000])
    desk.bed.drop("left-chest/notes.docx", "words")
    desk.bed.drop("a4-only/desk.toml", 'papers = ["a4"]\nplacement = "left-chest"\nhold = "10s"\n')
    desk.drop("a4-only/heron.png", size=110)
    desk.bed.drop("odd/desk.toml", 'paper = ["a4"]\nhold = "soon"\n')
    desk.drop("odd/heron.png", size=111)
    desk.bed.drop("crew.csv", "order,wearer,art,placement,garment\nC,Ana,crest.png,left-chest,hoodie adult M\n")
    desk.drop("crest.png", size=105)
    desk.bed.drop("late.csv", "order,art,width\nL,late.png,60 mm\n")
    desk.bed.drop("faulty.csv", "order,art,width\nF,crest.png,wide\n")
    desk.turn(8)
    desk.list_all()
    told.ask("desk desk")
    desk.turn(70)
    desk.list_all()
    told.ask("desk desk --json")
    told.show_tables("desk/desk.db")
    record = json.loads(sorted((desk.bed.root / "sheets").glob("*/batch.json"))[0].read_text("utf-8"))
    told.show("what the record says of the desk", record["desk"])


def test_desk_that_asks(told: Told, desks: Any) -> None:
    prints = told.folder / "print"
    prints.mkdir()
    desk = desks(ask=True, print_folder=prints, hold_s=20.0)
    desk.drop("left-chest/clean.png", size=700)
    desk.drop("left-chest/cut.png", "cut-off")
    desk.turn(8)
    told.ask("desk desk")
    told.ask("desk desk --make-now")
    desk.turn(12)
    told.ask("desk desk")
    told.ask("desk desk --accept 1")
    told.ask("desk desk --reject 7")
    desk.turn(6)
    desk.list_all()
    told.list_files("print")
    desk.drop("left-chest/haze.png", "haze")
    desk.turn(30)
    told.ask("desk desk --json")
    told.ask("desk desk --reject 2")
    desk.turn(6)
    desk.list_all()
    told.ask("desk desk --printed 1")
    told.ask("desk desk --print-again 1")
    told.ask("desk desk --stop")
    desk.turn(2)
    told.ask("desk desk")
    told.ask("desk nowhere")
    told.ask("desk fresh --new")
    told.list_files("fresh")


def test_desk_with_counted_paper_and_lists(told: Told, desks: Any) -> None:
    told.ask("stock a4 --set 2 --ledger desk/desk.db")
    told.ask("stock 13x19 --set 0 --ledger desk/desk.db")
    desk = desks()
    desk.drop("left-chest/clean (4 copies).png")
    desk.turn(8)
    told.ask("desk desk")
    desk.drop("full-back/owl.png")
    desk.turn(10)
    desk.list_all()
    told.ask("desk desk")
    told.ask("stock 13x19 --set 5 --ledger desk/desk.db")
    desk.turn(40)
    desk.list_all()
    made = sorted((desk.bed.root / "sheets").glob("*/reprint.csv"))
    if not made:
        return
    lines = made[0].read_text("utf-8-sig").splitlines()
    at = lines[0].split(",").index("spoiled")
    cells = lines[2].split(",")
    desk.bed.drop("reprint.csv", "\n".join([lines[0], ",".join([*cells[:at], "x", *cells[at + 1 :]])]) + "\n")
    desk.drop("left-chest/clean (4 copies).png")
    desk.turn(40)
    desk.list_all()
    told.ask("stock --history --ledger desk/desk.db")
    told.show_tables("desk/desk.db")


def test_watch_once(told: Told, monkeypatch: pytest.MonkeyPatch) -> None:
    make_inline(monkeypatch)
    told.ask("desk desk --new", shown=False)
    told.draw("desk/in/left-chest/clean.png", draw_disc(150))
    told.ask("watch desk --once --settle 0.05 --patience 1 --steps 50 -p a4")
    told.draw("desk/in/left-chest/again.png", draw_disc(150))
    told.ask("watch desk --once --settle 0.05 --patience 1 --steps 50 -p a4 --json")
    told.list_files("desk/refused")
    told.ask("watch desk --once --hold soon")
    told.ask("watch desk --once --keep-done never --fill 2")
    told.ask("watch nowhere --once")


def test_desk_after_a_crash_and_commands(told: Told, desks: Any) -> None:
    """A desk that ends in the middle of its work, begins anew, runs commands and clears its done folder."""
    script = told.write("then.sh", THEN)
    script.chmod(0o755)
    desk = desks(command=(str(script), "a word"), keep_done_s=100.0)
    desk.drop("left-chest/owl.png")
    desk.drop("full-back/fox.png", size=120)
    for _ in range(20):
        desk.bed.turns(0.5)
        if any("making" in line for line in desk.bed.said):
            break
    told.show("said before it ends", "\n".join(desk.bed.said))
    desk.bed.said.clear()
    desk.bed.start()
    desk.turn_with_commands(30)
    told.show_file("log")
    told.ask("desk desk")
    desk.list_all()
    desk.bed.time.sleep(4000)
    desk.drop("left-chest/moth.png", size=90)
    desk.turn_with_commands(12)
    desk.list_all()
    told.show_tables("desk/desk.db", "deliveries", "calls")
