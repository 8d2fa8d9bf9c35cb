"""Makes random batches through the command and measures what comes out with renderers that did not write it.

    python tests/bench/paper_batches.py [BATCHES] [SEED]

Papers and rolls, placements, tears, turned and upright, panels, straight cuts, printers that are calibrated or not,
words in several scripts, kits, reprints, printing onto sheets used before. Each delivery is first *printed*: a printer
that makes 0.998 of a length is applied to its pages, and the result has to be as the record says, in pdfium or poppler
(`tests/papercheck.py`). Of its own this script holds the record against the rows that were asked for, the places of
images in the PDF's structure against the record (pikepdf), and whole pages against what may be printed there.
"""

from __future__ import annotations

import contextlib
import io
import json
import os
import random
import re
import shutil
import subprocess
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np
import pikepdf
import pypdfium2

sys.path[:0] = [str(Path(__file__).parents[2]), str(Path(__file__).parents[1])]

import papercheck  # noqa: E402
from conftest import draw  # noqa: E402
from impose.cli import main as run_command  # noqa: E402
from papercheck import POINT_MM  # noqa: E402

PAPERS = ("a4", "a4", "a3", "13x19", "letter", "tabloid", "roll-24in", "roll-13in", "300x400mm", "sra3")
PLACEMENTS = ("left-chest", "full-back", "full-front", "left-long-sleeve", "upper-back")
GARMENTS = ("adult L", "hoodie adult M", "youth M", "polo adult S", "women M")
TEARS = ("", "", "", "tight", "normal", "12 mm", "18 mm")
WORDS = ("ILKA", "07", "Żaneta", "ДАРИНА", "Saoirse & Bo", "Γιώργος", "نور", "42")
FONTS = ("plain", "number", "outlined", "plain, letters 30 mm", "plain, arc 60", "outlined, colour #C1121F")
HEADINGS = ("order", "wearer", "art", "words", "font", "placement", "garment", "copies", "width", "tear", "centre",
            "may_turn")  # fmt: skip
Record = dict[str, Any]


@dataclass
class Made:
    """One batch that was made: its folder, its rows by line, the printer's scale, and the words of the command."""

    out: Path
    art: Path
    rows: dict[int, dict[str, str]]
    scale: tuple[float, float]
    words: list[str]
    source: Path

    @property
    def record(self) -> Record:
        return dict(json.loads((self.out / "batch.json").read_text("utf-8")))


@dataclass
class Tally:
    """What was made and measured, and the worst of it."""

    counts: Counter[str] = field(default_factory=Counter)
    refused: Counter[str] = field(default_factory=Counter)
    place_mm: float = 0.0
    asked_mm: float = 0.0
    measured: papercheck.Measured = field(default_factory=papercheck.Measured)


class Shop:
    """Who asks for things."""

    def __init__(self, chance: random.Random, root: Path) -> None:
        self.chance, self.root = chance, root

    def pictures(self, folder: Path) -> list[str]:
        names = []
        for number in range(self.chance.randint(1, 4)):
            kind = self.chance.choice(("ellipse", "words", "gradient", "noise"))
            wide, high = (self.chance.randint(30, 420) for _ in range(2))
            if max(wide, high) > 8 * min(wide, high):
                high = wide
            names.append(f"p{number}.png")
            draw(kind, wide, high, self.chance.randrange(1000)).save(folder / names[-1])
        return names

    def row(self, names: list[str]) -> dict[str, str]:
        pick = self.chance.choice
        row = dict.fromkeys(HEADINGS, "")
        row |= {"order": f"R-{self.chance.randint(1, 3)}", "tear": pick(TEARS), "may_turn": pick(("", "", "no"))}
        row |= {"garment": pick(GARMENTS), "copies": pick(("", "1", "1", "2", "3"))}
        row["wearer"] = f"W{self.chance.randrange(10**6)}"
        if self.chance.random() < 0.3:
            row |= {"words": pick(WORDS), "font": pick(FONTS)}
        else:
            row |= {"art": pick(names), "centre": pick(("", "", "canvas", "mass"))}
        if self.chance.random() < 0.35:
            row["placement"] = pick(PLACEMENTS)
        else:
            small, large = self.chance.choice(((20, 120), (20, 120), (60, 260)))
            row["width"] = f"{self.chance.uniform(small, large):.1f} mm"
        return row

    def options(self, folder: Path) -> tuple[list[str], tuple[float, float]]:
        papers = self.chance.sample(PAPERS, self.chance.choice((1, 2, 3)))
        words = [part for name in dict.fromkeys(papers) for part in ("-p", name)]
        way = self.chance.randrange(4)
        scale = (1.0, 1.0)
        if way == 0:
            words += ["--printer", "measured"]
            scale = (0.998, 0.996)
        elif way == 1:
            scale = (round(self.chance.uniform(0.97, 1.04), 4), round(self.chance.uniform(0.97, 1.04), 4))
            edges = [round(self.chance.uniform(0, 8), 1) for _ in range(4)]
            (folder / "mine").mkdir(exist_ok=True)
            sides = "".join(
                f'{side} = "{mm} mm"\n' for side, mm in zip(("left", "top", "right", "bottom"), edges, strict=True)
            )
            (folder / "mine" / "printers.toml").write_text(
                f"[mine]\n{sides}scale_x = {scale[0]}\nscale_y = {scale[1]}\n", "utf-8"
            )
            words += ["--printer", "mine", "--profiles", str(folder / "mine")]
        for option, share in (("--straight-cuts", 0.25), ("--keep-upright", 0.15)):
            words += [option] if self.chance.random() < share else []
        words += ["--oversize", "panels"] if self.chance.random() < 0.5 else []
        words += ["--tear", self.chance.choice(("tight", "11 mm"))] if self.chance.random() < 0.15 else []
        words += ["--part-sheets", "2"] if self.chance.random() < 0.1 else []
        return words, scale

    def batch(self, number: int) -> Made | str:
        """Write a batch and have it made; why it was refused, if it was."""
        folder = self.root / f"batch-{number}"
        folder.mkdir()
        names = self.pictures(folder)
        rows = self.roster(folder, names) if self.chance.random() < 0.15 else self.plain(folder, names)
        words, scale = self.options(folder)
        source = folder / "batch.csv"
        code, said = command(["sheets", str(source), *words, "-o", str(folder / "out"), "--steps", "200"])
        if code:
            return said
        return Made(folder / "out", folder, rows, scale, words, source)

    def plain(self, folder: Path, names: list[str]) -> dict[int, dict[str, str]]:
        rows = [self.row(names) for _ in range(self.chance.randint(1, 7))]
        write(folder / "batch.csv", HEADINGS, rows)
        return dict(enumerate(rows, 2))

    def roster(self, folder: Path, names: list[str]) -> dict[int, dict[str, str]]:
        kit = [
            {"kit": "rowers", "art": self.chance.choice(names), "placement": "left-chest"},
            {"kit": "rowers", "words": "{number}", "font": "number", "placement": "full-back"},
            {"kit": "rowers", "words": "{name}", "font": "plain, letters 25 mm", "placement": "left-long-sleeve"},
        ]
        write(folder / "kits.csv", ("kit", "art", "words", "font", "placement"), kit[: self.chance.randint(1, 3)])
        team = [
            {
                "order": "A",
                "kit": "rowers",
                "name": self.chance.choice(WORDS),
                "number": f"{n:02}",
                "garment": "hoodie adult M",
            }
            for n in range(self.chance.randint(1, 5))
        ]
        write(folder / "batch.csv", ("order", "kit", "name", "number", "garment"), team)
        return {}


def write(path: Path, headings: tuple[str, ...], rows: list[dict[str, str]]) -> None:
    lines = [",".join(f'"{row.get(name, "")}"' for name in headings) for row in rows]
    path.write_text("\n".join([",".join(headings), *lines]) + "\n", "utf-8")


def command(words: list[str]) -> tuple[int, str]:
    told = io.StringIO()
    code = 0
    with contextlib.redirect_stdout(told), contextlib.redirect_stderr(told):
        try:
            run_command([*words[:1], "--workers", "1", *words[1:]])
        except SystemExit as left:
            code = int(left.code or 0)
    return code, told.getvalue()


def as_printed(made: Made, to: Path) -> Path:
    """The delivery as the printer lays it on paper: every page scaled about the corner where feeding begins."""
    if made.scale == (1.0, 1.0):
        return made.out
    to.mkdir()
    shutil.copyfile(made.out / "batch.json", to / "batch.json")
    sx, sy = made.scale
    for path in made.out.glob("sheets-*.pdf"):
        with pikepdf.open(path) as pdf:
            for page in pdf.pages:
                high = float(page.MediaBox[3])
                page.contents_add(f"q {sx} 0 0 {sy} 0 {high * (1 - sy):.6f} cm\n".encode(), prepend=True)
                page.contents_add(b"\nQ")
            pdf.save(to / path.name)
    return to


def faults(made: Made, tally: Tally, renderer: str, before: Record | None = None) -> Iterator[str]:
    """Everything that is wrong with one delivery."""
    record = made.record
    printed = as_printed(made, made.out.with_name(made.out.name + "-printed"))
    yield from papercheck.faults(
        printed, made.art, renderer, tally.measured, finer=1 if made.scale == (1.0, 1.0) else 5
    )
    yield from row_faults(made, record, tally)
    for sheet in record["sheets"]:
        yield from place_faults(made, sheet, record)
        yield from onto_faults(sheet, lie_already(sheet, before))
    for path in sorted(printed.glob("sheets-*.pdf")):
        sheets = [sheet for sheet in record["sheets"] if sheet["file"] == path.name]
        yield from page_faults(path, sheets, tally, before)
        if subprocess.run(["qpdf", "--check", str(made.out / path.name)], capture_output=True).returncode:
            yield f"{path.name}: qpdf finds fault with it"


def transfers_of(record: Record) -> list[Record]:
    return [one for sheet in record["sheets"] for one in sheet["transfers"]]


def row_faults(made: Made, record: Record, tally: Tally) -> Iterator[str]:
    """Each row is there as often as it was asked for, as wide as it was asked for."""
    there: dict[int, list[Record]] = {}
    for one in transfers_of(record):
        there.setdefault(one["row"], []).append(one)
    for line, row in made.rows.items():
        found = there.get(line, [])
        if len({one["copy"] for one in found}) != int(row["copies"] or 1):
            yield f"row {line}: {row['copies'] or 1} asked for, copies {sorted(one['copy'] for one in found)}"
        for one in found:
            if row["width"] and one["panel"] is None:
                wide = one["ink_mm"]["h" if one["turned"] else "w"]
                # Beside a height of letters the width is the most that they may take.
                beyond = wide - float(row["width"].split()[0])
                error = max(0.0, beyond) if "letters" in row["font"] else abs(beyond)
                tally.asked_mm = max(tally.asked_mm, error)
                if error > 0.02:
                    yield f"row {line}: {row['width']} asked for, {wide} mm made"
            if row["may_turn"] == "no" and one["turned"]:
                yield f"row {line}: turned, though it may not be"


def place_faults(made: Made, sheet: Record, record: Record) -> Iterator[str]:
    """No cell over another, ink and ticks where the printer prints, straight cuts where they were asked for."""
    cells = [(one["cell_mm"], one["id"]) for one in sheet["transfers"]]
    for i, (a, name) in enumerate(cells):
        for b, other in cells[i + 1 :]:
            if overlap(a, b) > 1e-4:
                yield f"{name} and {other} overlap"
    room = sheet["printable_mm"]
    for one in sheet["transfers"]:
        if not inside(one["ink_mm"], room, 1e-3):
            yield f"{one['id']}: its ink is not where the printer prints"
        if not inside(one["ink_mm"], one["cell_mm"], 1e-6):
            yield f"{one['id']}: its ink is not in its cell"
    if "--straight-cuts" in made.words and not parted([cell for cell, _ in cells]):
        yield f"sheet {sheet['sheet']}: no straight cuts part it"
    if "--keep-upright" in made.words and any(one["turned"] for one in sheet["transfers"]):
        yield f"sheet {sheet['sheet']}: a print is turned"


def overlap(a: papercheck.Box, b: papercheck.Box, clear: float = 0.0) -> float:
    """How far two boxes reach into each other, or into the clearance between them."""
    wide = min(a["x"] + a["w"], b["x"] + b["w"]) - max(a["x"], b["x"]) + clear
    high = min(a["y"] + a["h"], b["y"] + b["h"]) - max(a["y"], b["y"]) + clear
    return min(wide, high)


def inside(box: papercheck.Box, room: papercheck.Box, slack: float) -> bool:
    return all(
        room[at] - slack <= box[at] and box[at] + box[size] <= room[at] + room[size] + slack
        for at, size in (("x", "w"), ("y", "h"))
    )


def parted(boxes: list[papercheck.Box]) -> bool:
    """Whether cuts from edge to edge part the boxes from each other."""
    if len(boxes) < 2:
        return True
    for at, size in (("x", "w"), ("y", "h")):
        for edge in {box[at] + box[size] for box in boxes}:
            one = [box for box in boxes if box[at] + box[size] <= edge + 1e-4]
            rest = [box for box in boxes if box[at] >= edge - 1e-4]
            if one and rest and len(one) + len(rest) == len(boxes):
                return parted(one) and parted(rest)
    return False


def lie_already(sheet: Record, before: Record | None) -> list[papercheck.Box]:
    """The boxes of all that was on a used sheet before."""
    if not sheet.get("onto") or before is None:
        return []
    old = next(one for one in before["sheets"] if one["sheet"] == sheet["onto"]["sheet"])
    return [*(one["cell_mm"] for one in old["transfers"]), *old["marks_mm"]]


def new_marks(sheet: Record, taken: list[papercheck.Box]) -> list[papercheck.Box]:
    """Slug and rulers; the record also holds what was on a used sheet, with 2 mm around it."""
    grown = [{"x": box["x"] - 2, "y": box["y"] - 2, "w": box["w"] + 4, "h": box["h"] + 4} for box in taken]
    marks = sheet["marks_mm"]
    return [mark for mark in marks if not any(inside(mark, box, 1e-3) and inside(box, mark, 1e-3) for box in grown)]


def onto_faults(sheet: Record, taken: list[papercheck.Box]) -> Iterator[str]:
    """What is printed onto a used sheet keeps 2 mm away from all that is on it."""
    for one in [*(transfer["cell_mm"] for transfer in sheet["transfers"]), *new_marks(sheet, taken)]:
        if any(overlap(one, box, 2.0) > 1e-3 for box in taken):
            yield f"sheet {sheet['sheet']}: something is nearer than 2 mm to what is on it already"


def page_faults(pdf: Path, sheets: list[Record], tally: Tally, before: Record | None) -> Iterator[str]:
    """Boxes of the pages; images where the record has them; nothing printed where nothing may be."""
    drawn = pypdfium2.PdfDocument(pdf)
    with pikepdf.open(pdf) as document:
        for sheet in sheets:
            page = document.pages[sheet["page"] - 1]
            size = [0.0, 0.0, sheet["width_mm"] / POINT_MM, sheet["height_mm"] / POINT_MM]
            for name in ("/MediaBox", "/CropBox", "/TrimBox", "/BleedBox"):
                box = [float(edge) for edge in page.get(name, page.MediaBox)]
                if max(abs(a - b) for a, b in zip(box, size, strict=True)) > 0.02:
                    yield f"{pdf.name} page {sheet['page']}: {name} is {box}"
            if page.get("/Rotate", 0) or page.get("/UserUnit", 1) != 1:
                yield f"{pdf.name} page {sheet['page']}: turned or scaled by a key"
            yield from image_faults(list(images(page)), sheet, tally)
            yield from stray_faults(drawn[sheet["page"] - 1], sheet, new_marks(sheet, lie_already(sheet, before)))


Matrix = tuple[float, float, float, float, float, float]


def times(a: Matrix, b: Matrix) -> Matrix:
    """ISO 32000-1, 8.3.4: a, then b."""
    return (
        a[0] * b[0] + a[1] * b[2], a[0] * b[1] + a[1] * b[3], a[2] * b[0] + a[3] * b[2], a[2] * b[1] + a[3] * b[3],
        a[4] * b[0] + a[5] * b[2] + b[4], a[4] * b[1] + a[5] * b[3] + b[5],
    )  # fmt: skip


def images(page: Any) -> Iterator[papercheck.Box]:
    """The box of every image on a page, millimetres from its top left corner, by following its content."""
    high = float(page.MediaBox[3])
    for matrix in placed(page, page.get("/Resources", {}), (1, 0, 0, 1, 0, 0)):
        corners = [times((1, 0, 0, 1, x, y), matrix)[4:] for x in (0, 1) for y in (0, 1)]
        left, right = min(x for x, _ in corners), max(x for x, _ in corners)
        low, top = min(y for _, y in corners), max(y for _, y in corners)
        yield {"x": left * POINT_MM, "y": (high - top) * POINT_MM, "w": (right - left) * POINT_MM,
               "h": (top - low) * POINT_MM}  # fmt: skip


def placed(stream: Any, resources: Any, base: Matrix) -> Iterator[Matrix]:
    """The matrix of each image that a content stream or a form in it draws."""
    now, kept = base, []
    for operands, operator in pikepdf.parse_content_stream(stream):
        name = str(operator)
        if name == "q":
            kept.append(now)
        elif name == "Q":
            now = kept.pop()
        elif name == "cm":
            now = times(tuple(float(one) for one in operands), now)  # type: ignore[arg-type]
        elif name == "Do":
            drawn = resources["/XObject"][str(operands[0])]
            if drawn["/Subtype"] == "/Image":
                yield now
            else:
                own = tuple(float(one) for one in drawn.get("/Matrix", (1, 0, 0, 1, 0, 0)))
                yield from placed(drawn, drawn.get("/Resources", resources), times(own, now))  # type: ignore[arg-type]


def image_faults(found: list[papercheck.Box], sheet: Record, tally: Tally) -> Iterator[str]:
    """The images in a transfer's ink fill it, and there are no others."""
    rest = list(found)
    for one in sheet["transfers"]:
        if one["ink_px"] is None:
            continue
        ink = one["ink_mm"]
        mine = [box for box in rest if inside(box, ink, 0.5)]
        rest = [box for box in rest if box not in mine]
        if not mine:
            yield f"{one['id']}: no image in its ink"
            continue
        edges = (
            min(box["x"] for box in mine) - ink["x"], min(box["y"] for box in mine) - ink["y"],
            max(box["x"] + box["w"] for box in mine) - ink["x"] - ink["w"],
            max(box["y"] + box["h"] for box in mine) - ink["y"] - ink["h"],
        )  # fmt: skip
        error = max(map(abs, edges))
        tally.place_mm = max(tally.place_mm, error)
        if error > 0.1:
            yield f"{one['id']}: its image is {error:.3f} mm off"
    if rest:
        yield f"sheet {sheet['sheet']}: {len(rest)} images in no transfer"


def stray_faults(page: Any, sheet: Record, marks: list[papercheck.Box]) -> Iterator[str]:
    """Nothing is printed outside cells, slug and rulers."""
    px = 150 / 25.4
    bitmap = np.asarray(page.render(scale=150 / 72).to_pil().convert("L")).copy()
    for box in [*(one["cell_mm"] for one in sheet["transfers"]), *marks]:
        top, left = int((box["y"] - 0.3) * px), int((box["x"] - 0.3) * px)
        bottom, right = int((box["y"] + box["h"] + 0.3) * px) + 1, int((box["x"] + box["w"] + 0.3) * px) + 1
        bitmap[max(0, top) : bottom, max(0, left) : right] = 255
    if bitmap.min() < 200:
        y, x = np.unravel_index(bitmap.argmin(), bitmap.shape)
        yield f"sheet {sheet['sheet']}: something is printed at {x / px:.1f}, {y / px:.1f} mm, in no cell"


def again(made: Made, chance: random.Random) -> Made | None:
    """Some of its transfers made once more."""
    ids = [one["id"] for one in transfers_of(made.record)]
    chosen = chance.sample(ids, chance.randint(1, min(3, len(ids))))
    out = made.out.with_name("again")
    profiles = made.words[made.words.index("--profiles") :][:2] if "--profiles" in made.words else []
    code, said = command(["reprint", str(made.out), "--only", ",".join(chosen), "-o", str(out), *profiles])
    if code:
        raise SystemExit(f"a reprint is refused: {said}")
    done = Made(out, made.art, {}, made.scale, made.words, made.source)
    if sorted(one["id"] for one in transfers_of(done.record)) != sorted(chosen):
        raise SystemExit(f"asked for {chosen}, made {[one['id'] for one in transfers_of(done.record)]}")
    done.words = [word for word in done.words if word not in ("--straight-cuts", "--keep-upright")]
    return done


def onto(made: Made, chance: random.Random) -> Made | None:
    """The same rows in small, printed onto what is left of its sheets; None where nothing fits."""
    folder = made.source.parent
    names = sorted(path.name for path in folder.glob("p*.png"))
    rows = [
        {"art": chance.choice(names), "width": f"{chance.uniform(20, 60):.1f} mm"} for _ in range(chance.randint(1, 3))
    ]
    write(folder / "more.csv", ("art", "width"), rows)
    full = [dict.fromkeys(HEADINGS, "") | row for row in rows]
    more = [word for word in made.words if word != "--straight-cuts"]  # a printed sheet is not cut straight any more
    words = ["sheets", str(folder / "more.csv"), *more, "--onto", str(made.out), "-o", str(folder / "onto")]
    code, said = command(words)
    if code in (3, 4):
        return None
    if code:
        raise SystemExit(said)
    return Made(folder / "onto", made.art, dict(enumerate(full, 2)), made.scale, more, folder / "more.csv")


def note(tally: Tally, made: Made, kind: str) -> None:
    record = made.record
    tally.counts[kind] += 1
    tally.counts["sheets"] += len(record["sheets"])
    for one in transfers_of(record):
        tally.counts["transfers"] += 1
        tally.counts["turned"] += bool(one["turned"])
        tally.counts["panels"] += one["panel"] is not None
        tally.counts["words"] += one["ink_px"] is None
        tally.counts[f"margin {one['level']}"] += 1
    tally.counts["onto used sheets"] += sum(bool(sheet.get("onto")) for sheet in record["sheets"])
    tally.counts["calibrated"] += made.scale != (1.0, 1.0)
    tally.counts["straight cuts"] += "--straight-cuts" in made.words
    tally.counts["rolls"] += any("roll" in sheet["paper"] for sheet in record["sheets"])


def measure(made: Made, chance: random.Random, tally: Tally) -> list[str]:
    """Measure a batch, and at times a reprint of it and another batch on its sheets."""
    deliveries: list[tuple[Made | None, str, Record | None]] = [(made, "batches", None)]
    if chance.random() < 0.3:
        deliveries.append((again(made, chance), "reprints", None))
    if chance.random() < 0.3:
        deliveries.append((onto(made, chance), "batches onto sheets", made.record))
    bad = []
    for one, kind, before in deliveries:
        if one is not None:
            note(tally, one, kind)
            bad += [f"{one.out}: {fault}" for fault in faults(one, tally, chance.choice(("pdfium", "poppler")), before)]
    return bad


def report(tally: Tally, number: int, seconds: float) -> None:
    print(f"{number} batches in {seconds:.0f} s, {sum(tally.refused.values())} of them refused")
    print(dict(tally.counts))
    worst = tally.measured
    print(f"worst: images {tally.place_mm:.4f} mm off their places in the PDF, widths {tally.asked_mm:.4f} mm off")
    print(f"  pixels {worst.pixel} of 255, ticks {worst.tick_mm:.3f} mm, outlines {worst.edge_mm:.3f} mm, "
          f"pages and proportions {worst.size_mm:.4f} mm")  # fmt: skip
    for words, count in tally.refused.most_common(12):
        print(f"  refused {count}: {words}")


def main() -> int:
    wanted = int(sys.argv[1]) if len(sys.argv) > 1 else 20
    chance = random.Random(int(sys.argv[2]) if len(sys.argv) > 2 else 1)
    root = Path(tempfile.mkdtemp(prefix="paper-batches-"))
    os.environ |= {"IMPOSE_LEDGER": str(root / "none" / "ledger.db"), "XDG_CACHE_HOME": str(root / "cache")}
    shop, tally, found = Shop(chance, root), Tally(), 0
    begun, number = time.monotonic(), 0
    while tally.counts["batches"] < wanted:
        number += 1
        made = shop.batch(number)
        if isinstance(made, str):
            tally.refused[re.sub("^.*batch-[0-9]+/", "", made.splitlines()[0])[:150]] += 1
            continue
        bad = measure(made, chance, tally)
        found += len(bad)
        for line in bad:
            print(line, flush=True)
        if not bad:
            shutil.rmtree(made.source.parent)
    report(tally, number, time.monotonic() - begun)
    print(f"{found} faults")
    if not found:
        shutil.rmtree(root)
    return int(bool(found))


if __name__ == "__main__":
    sys.exit(main())
