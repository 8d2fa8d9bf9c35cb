"""Three evenings at the press, made from a seed and measured: a team of 30, a stall's 60 prints, a roll.

    python tests/bench/evenings.py                      # all three, a table
    python tests/bench/evenings.py --tree OTHER         # the same with the program of another checkout
    python tests/bench/evenings.py --keep DIR           # the data and what was made stay in DIR

The team has a crest on the chest, a number on the back and a name on the sleeve; it is a roster with a kit, and where
the program has no kits yet, the rows that those stand for. The stall has pictures of every sort; half have one fault
each, which was put in, so that false and missed alarms can be counted (as in `alarms.py`). The roll has what is too
wide for sheets. Times are CPU of the process and its children. What words cost is the CPU of rows of words alone, less
that of the same rows with one small picture.
"""

from __future__ import annotations

import argparse
import csv
import json
import os
import random
import re
import resource
import subprocess
import sys
import tempfile
from collections.abc import Iterable, Sequence
from pathlib import Path

from PIL import Image, ImageDraw

sys.path.insert(0, str(Path(__file__).parent.parent))
from bench import alarms

HOUSE = Path(__file__).parents[2]
FIRST = (
    "Ada", "Bríd", "Cillian", "Дарина", "Eoin", "Fearghal", "Grażyna", "Hanneke", "Iarla", "Jonas", "Kateřina",
    "Łukasz", "Maud", "Niamh", "Odile", "Pádraig", "Quirin", "Róisín", "Saoirse", "Tadhg", "Una", "Виктор", "Wren",
    "Xenia", "Yusuf", "Zoë", "Aoife", "Bo", "Christopher", "Ελένη",
)  # fmt: skip
SIZES = ("adult M", "adult L", "adult S", "adult XL", "youth L", "adult L", "youth M", "adult M")
TEAM_KIT = (
    {"art": "crest.png", "placement": "left-chest"},
    {"words": "{number}", "font": "number", "placement": "full-back"},
    {"words": "{name}", "font": "plain", "placement": "left-long-sleeve"},
)
ROLL = (("full-back", "12 in"), ("left-long-sleeve", "70 mm"), ("left-chest", "90 mm"))
LARGER = 2.5
COLUMNS = ("rows", "garments", "sheets", "tickets", "pages", "cutting", "warnings", "notes", "false", "missed")
SIZED = ("sheets kB", "tickets kB", "proof kB", "approval kB")


def write_table(path: Path, rows: Sequence[dict[str, str]]) -> None:
    heads = list(dict.fromkeys(head for row in rows for head in row))
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, heads, restval="")
        writer.writeheader()
        writer.writerows(rows)


def draw_crest(path: Path, side: int = 1200) -> None:
    """A round crest: a ring, a sail and two waves."""
    image = Image.new("RGBA", (side * 2, side * 2), (0, 0, 0, 0))
    pen = ImageDraw.Draw(image)
    edge = side * 2 - 40
    pen.ellipse((40, 40, edge, edge), fill=(20, 52, 92, 255))
    pen.ellipse((200, 200, edge - 160, edge - 160), fill=(232, 178, 60, 255))
    pen.polygon([(side, 360), (side * 1.5, side * 1.2), (side, side * 1.2)], fill=(20, 52, 92, 255))
    for row in (1.3, 1.5):
        pen.rounded_rectangle((side * 0.55, side * row, side * 1.45, side * (row + 0.09)), 60, fill=(20, 92, 120, 255))
    image.resize((side, side), Image.Resampling.LANCZOS).save(path)


def list_players() -> list[dict[str, str]]:
    """Thirty players: name, number as it is written, garment."""
    return [
        {"name": name.upper(), "number": f"{number:02}", "garment": SIZES[number % len(SIZES)]}
        for number, name in enumerate(FIRST, 1)
    ]


def make_team(folder: Path, kits: bool) -> tuple[Path, list[str], int]:
    """The team's batch file, its papers, and its garments."""
    draw_crest(folder / "crest.png")
    team = folder / "team.csv"
    players = list_players()
    if kits:
        write_table(folder / "kits.csv", [{"kit": "rowers", **part, "garment": "hoodie"} for part in TEAM_KIT])
        write_table(team, [{"order": "2051 Rowers", "kit": "rowers", **player} for player in players])
    else:
        write_table(team, [row for player in players for row in expand_player(player)])
    return team, ["a4", "13x19"], len(players)


def expand_player(player: dict[str, str]) -> Iterable[dict[str, str]]:
    """The rows that a player with the kit stands for."""
    for part in TEAM_KIT:
        # Without a width, programs that have no kits know none for the sleeve of a youth's hoodie.
        width = "170 mm" if "youth" in player["garment"] and "sleeve" in part["placement"] else ""
        yield {
            "order": "2051 Rowers", "wearer": player["name"], "garment": f"hoodie {player['garment']}", **part,
            "words": part.get("words", "").format(**player), "width": width,
        }  # fmt: skip


def make_stall(folder: Path, seed: int) -> tuple[Path, list[str], int, dict[str, set[str]]]:
    """Sixty prints of 40 pictures on T-shirts; the truth of each picture by name."""
    rng = random.Random(seed)
    rows, truth = [], {}
    for number, (name, image, faults) in enumerate(alarms.evening(seed)[:40]):
        large = number % 4 == 2  # a clean one, with as many pixels an inch as it had
        width = alarms.WIDTH_MM * (LARGER if large else 1)
        if large:
            image = image.resize((round(image.width * LARGER), round(image.height * LARGER)), Image.Resampling.BICUBIC)
        image.save(folder / name, compress_level=1)
        truth[name] = faults
        rows.append({
            "order": f"{3001 + number // 3}", "wearer": f"Buyer {number + 1}", "art": name,
            "placement": rng.choice(("full-front", "full-back")) if large else "left-chest",
            "garment": f"T-shirt adult {rng.choice('SML')}", "width": f"{width:g} mm",
            "copies": "2" if number % 2 else "1",
        })  # fmt: skip
    write_table(folder / "stall.csv", rows)
    return folder / "stall.csv", ["a4", "13x19"], sum(int(row["copies"]) for row in rows), truth


def make_roll(folder: Path, seed: int) -> tuple[Path, list[str], int]:
    """A dozen hoodies and T-shirts with three prints each, on a roll of 24 inches."""
    for number in range(3):
        alarms.photo(seed + number).resize((2400, 2400)).save(folder / f"large-{number}.png", compress_level=1)
    draw_crest(folder / "crest.png")
    rows = []
    for number in range(12):
        garment = "hoodie adult L" if number % 2 else "T-shirt adult M"
        for placement, width in ROLL:
            art = f"large-{number % 3}.png" if placement == "full-back" else "crest.png"
            wearer = f"Marshal {number + 1}"
            rows.append({
                "order": f"{4001 + number // 4}", "wearer": wearer, "art": art, "placement": placement,
                "garment": garment, "width": width,
            })  # fmt: skip
    write_table(folder / "roll.csv", rows)
    return folder / "roll.csv", ["roll-24in"], 12


def run_program(tree: Path, *words: str | Path) -> float:
    """CPU seconds of the command and its children; what it refuses ends the benchmark with its own words."""
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    command = [sys.executable, "-m", "impose", *map(str, words)]
    done = subprocess.run(
        command, cwd=tree, capture_output=True, text=True, env={**os.environ, "PYTHONPATH": str(tree)}
    )
    if done.returncode:
        sys.exit(f"{' '.join(command)}\n{done.stdout}{done.stderr}")
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    return after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime


def read_pages(pdf: Path) -> list[str]:
    """Text of each page, read by poppler."""
    text = subprocess.run(["pdftotext", "-layout", str(pdf), "-"], check=True, capture_output=True, text=True).stdout
    return text.split("\f")[:-1]


def measure_evening(tree: Path, source: Path, papers: list[str], truth: dict[str, set[str]]) -> dict[str, float]:
    """One evening's figures."""
    out = source.with_suffix("")
    asked = [word for paper in papers for word in ("-p", paper)]
    cpu = run_program(tree, "sheets", source, *asked, "-o", out, "--workers", "1", "--no-cache", "--replace")
    record = json.loads((out / "batch.json").read_text("utf-8"))
    pages = read_pages(out / "tickets.pdf")
    with source.open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    found = record["findings"]
    figures: dict[str, float] = {
        "rows": len(rows),
        "sheets": sum(int(sheet.get("count", 1)) for sheet in record["sheets"]),
        "tickets": count_tickets(pages),
        "pages": len(pages),
        "cutting": sum("cutting" in page.lower()[:400] for page in pages),
        "warnings": sum(one["severity"] == "warn" for one in found),
        "notes": sum(one["severity"] == "note" for one in found),
        "sheets kB": sum(path.stat().st_size for path in out.glob("sheets-*.pdf")) / 1000,
        "tickets kB": (out / "tickets.pdf").stat().st_size / 1000,
        "proof kB": (out / "proof.html").stat().st_size / 1000,
        "approval kB": sum(path.stat().st_size for path in (out / "approval").iterdir()) / 1000,
        "CPU s": cpu,
    }
    if truth:
        figures["false"], figures["missed"] = count_alarms(
            found, {n: row["art"] for n, row in enumerate(rows, 2)}, truth
        )
    return figures


def count_tickets(pages: list[str]) -> int:
    """Of how many tickets the pages say that they are one."""
    return max((int(number) for page in pages for number in re.findall(r"ticket +\d+ +of +(\d+)", page)), default=0)


def count_alarms(found: list[dict], arts: dict[int, str], truth: dict[str, set[str]]) -> tuple[int, int]:
    """False and missed alarms, one for each picture and fault."""
    warned: dict[str, set[str]] = {art: set() for art in truth}
    said: dict[str, set[str]] = {art: set() for art in truth}
    for one in found:
        kind = one["kind"].removeprefix("very-")
        for row in {one.get("row"), *one.get("rows", ())} & set(arts):
            said[arts[row]].add(kind)
            if one["severity"] != "note" and kind in alarms.KINDS:
                warned[arts[row]].add(kind)
    false = {art: warned[art] - truth[art] for art in truth if warned[art] - truth[art]}
    missed = {art: truth[art] - said[art] for art in truth if truth[art] - said[art]}
    for name, kinds in (("false", false), ("missed", missed)):
        for art, which in kinds.items():
            print(f"  {name}: {', '.join(sorted(which))} on {art}", file=sys.stderr)
    return sum(map(len, false.values())), sum(map(len, missed.values()))


def measure_words(tree: Path, folder: Path) -> float:
    """CPU of 30 names and 30 numbers, less that of as many rows with one small picture."""
    Image.new("RGBA", (60, 60), (20, 52, 92, 255)).save(folder / "square.png")
    rows = [row for player in list_players() for row in expand_player(player) if row["words"]]
    write_table(folder / "words.csv", [{**row, "art": ""} for row in rows])
    write_table(folder / "squares.csv", [{**row, "words": "", "font": "", "art": "square.png"} for row in rows])
    cost = {
        name: run_program(tree, "check", folder / f"{name}.csv", "-p", "13x19", "--workers", "1", "--no-cache")
        for name in ("words", "squares")
    }
    return cost["words"] - cost["squares"]


def main() -> None:
    """Make the evenings and print the table."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--tree", type=Path, default=HOUSE, help="checkout whose program is run")
    parser.add_argument("--keep", type=Path, help="folder for the data and what is made")
    parser.add_argument("--only", choices=("team", "stall", "roll"), action="append")
    parser.add_argument("--seed", type=int, default=1)
    asked = parser.parse_args()
    with tempfile.TemporaryDirectory() as scratch:
        folder = (asked.keep or Path(scratch)).resolve()
        for name in ("team", "stall", "roll", "words"):
            (folder / name).mkdir(parents=True, exist_ok=True)
        kits = (asked.tree / "impose" / "orders" / "kits.py").exists()
        table: dict[str, dict[str, float]] = {}
        wanted = asked.only or ["team", "stall", "roll"]
        if "team" in wanted:
            source, papers, garments = make_team(folder / "team", kits)
            table["team"] = measure_evening(asked.tree, source, papers, {}) | {"garments": garments}
            table["team"]["words CPU s"] = measure_words(asked.tree, folder / "words")
        if "stall" in wanted:
            source, papers, garments, truth = make_stall(folder / "stall", asked.seed)
            table["stall"] = measure_evening(asked.tree, source, papers, truth) | {"garments": garments}
        if "roll" in wanted:
            source, papers, garments = make_roll(folder / "roll", asked.seed)
            table["roll"] = measure_evening(asked.tree, source, papers, {}) | {"garments": garments}
    print_table(table)


def print_table(table: dict[str, dict[str, float]]) -> None:
    """A line for each figure, a column for each evening."""
    print(f"{'':14}" + "".join(f"{name:>10}" for name in table))
    for figure in (*COLUMNS, *SIZED, "CPU s", "words CPU s"):
        cells = [one.get(figure) for one in table.values()]
        places = 1 if figure.endswith("CPU s") else 0
        print(f"{figure:14}" + "".join(f"{'' if cell is None else format(cell, f'.{places}f'):>10}" for cell in cells))


if __name__ == "__main__":
    main()
