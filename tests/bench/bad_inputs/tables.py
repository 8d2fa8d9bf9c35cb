"""Bad tables: batch files with kits, column maps, lists of spoiled prints."""

from __future__ import annotations

import csv
import io
import random
from pathlib import Path

from bad_inputs.damage import LENGTHS, damage, damage_bytes, word
from bad_inputs.workbooks import bad_workbook, workbook

COLUMNS = {
    "order": ("R-1", "R-2", ""),
    "wearer": ("Ilka", "Żaneta", ""),
    "art": ("owl.png", "sky.png", ""),
    "words": ("ILKA", "07", ""),
    "font": ("plain", "number", "outlined, letters 30 mm", ""),
    "letters": ("30 mm", ""),
    "placement": ("left-chest", "full-back", "left sleeve", ""),
    "garment": ("hoodie adult M", "youth S", "tee", ""),
    "copies": ("1", "2", "", "12"),
    "width": (*LENGTHS[:3], ""),
    "height": ("", "50 mm"),
    "tear": ("", "tight", "12 mm"),
    "centre": ("", "mass", "box"),
    "may_turn": ("", "no", "yes"),
    "cloth": ("", "polyester", "cotton"),
    "cloth_colour": ("", "white", "black"),
    "accept": ("", "low-resolution"),
    "note": ("", "rush"),
    "kit": ("", "rowers", "none"),
    "name": ("", "JO"),
    "number": ("", "07"),
}
KITS = (
    "kit,art,words,font,placement,garment,width\nrowers,owl.png,,,left-chest,hoodie,\n"
    'rowers,,{number},number,full-back,hoodie,\nrowers,,{name},"plain, letters 30 mm",upper-back,hoodie,\n'
)
ROSTER = "order,kit,name,number,garment\nA,rowers,JO,07,hoodie adult M\nB,rowers,BO,08,hoodie adult S\n"
EXPORT = (
    "Order number;Payment;Ship to;Item;Variant;Item code;Quantity\n#1;paid;Maud;Tee;Adult L;owl;1\n"
    ";;;Tee;Youth M;sky;2\n#2;refunded;Theo;Tee;Adult L;owl;1\n"
)
MAP = (
    '[order]\nfrom = "Order number"\nfill = true\n\n[garment]\nfrom = ["Item", "Variant"]\n[garment.values]\n'
    '"Tee Adult L" = "T-shirt adult L"\n"Tee Youth M" = "T-shirt youth M"\n\n'
    '[art]\nfrom = "Item code"\nafter = ".png"\n\n'
    '[placement]\nalways = "left-chest"\n\n[copies]\nfrom = "Quantity"\nblank = "1"\n\n'
    '[width]\nalways = "80"\nunit = "mm"\n\n'
    '[ticket]\nfrom = ["Ship to"]\n\n[skip]\n"Payment" = ["refunded"]\n'
)


def rows(chance: random.Random) -> list[list[str]]:
    """A batch of a few rows, half of them of good faith."""
    names = [name for name in COLUMNS if name in ("art", "width") or chance.random() < 0.4]
    chance.shuffle(names)
    found = [[_heading(chance, name) for name in names]]
    for _ in range(chance.choice((0, 1, 1, 2, 3, 6))):
        row = [chance.choice(COLUMNS[name]) for name in names]
        if chance.random() < 0.7:
            row = _sensible(chance, dict(zip(names, row, strict=True)))
        for _ in range(chance.choice((0, 0, 0, 1, 1, 3))):
            row[chance.randrange(len(row))] = word(chance)
        if chance.random() < 0.1:
            row = row[: chance.randrange(len(row) + 1)] + [word(chance)] * chance.choice((0, 1, 600))
        found.append(row)
    return found


def _sensible(chance: random.Random, row: dict[str, str]) -> list[str]:
    """The row, its cells in agreement: artwork alone, a width, polyester."""
    blank = ("words", "font", "letters", "kit", "name", "number", "height", "tear", "centre", "accept")
    row |= {name: "" for name in blank if name in row}
    row |= {name: said for name, said in (("cloth", "polyester"), ("cloth_colour", "white")) if name in row}
    row |= {"art": chance.choice(("owl.png", "sky.png")), "width": chance.choice(("60 mm", "3in", "8 cm"))}
    return list(row.values())


def _heading(chance: random.Random, name: str) -> str:
    way = chance.random()
    if way < 0.05:
        return word(chance)
    if way < 0.1:
        return chance.choice(
            (name.upper(), f" {name} ", f"{name} (mm)", f"{name} (in)", f"{name}[mm]", name + "s", name[:-1])
        )
    return name


def written(chance: random.Random, table: list[list[str]]) -> str:
    """A table as CSV, quoted as it should be or not."""
    separator = chance.choice(",,;\t")
    if chance.random() < 0.2:
        return "\n".join(separator.join(row) for row in table) + "\n"
    out = io.StringIO()
    csv.writer(out, delimiter=separator, lineterminator=chance.choice(("\n", "\r\n"))).writerows(table)
    return chance.choice(("", "", "sep=;\n", "\ufeff")) + out.getvalue()


def bad_csv(chance: random.Random, folder: Path) -> list[str]:
    """A batch file, with kits or without."""
    text = ROSTER if chance.random() < 0.3 else written(chance, rows(chance))
    (folder / "batch.csv").write_bytes(damage(chance, text) if chance.random() < 0.6 else _bytes(text))
    if chance.random() < 0.6:
        (folder / "kits.csv").write_bytes(damage(chance, KITS))
    return ["check", str(folder / "batch.csv")]


def _bytes(text: str) -> bytes:
    return text.encode("utf-8", "surrogatepass")


def bad_map(chance: random.Random, folder: Path) -> list[str]:
    """An export and the column map that should make sense of it."""
    (folder / "map.toml").write_bytes(damage(chance, MAP))
    (folder / "export.csv").write_bytes(damage(chance, EXPORT) if chance.random() < 0.4 else EXPORT.encode())
    return ["check", str(folder / "export.csv"), "--columns", str(folder / "map.toml")]


def bad_spreadsheet(chance: random.Random, folder: Path) -> list[str]:
    """A batch as .xlsx, sometimes with a worksheet of kits."""
    sheets = [("orders", list(csv.reader(io.StringIO(ROSTER))) if chance.random() < 0.3 else rows(chance))]
    if chance.random() < 0.4:
        sheets.append(("kits", list(csv.reader(io.StringIO(KITS)))))
    (folder / "batch.xlsx").write_bytes(bad_workbook(chance, sheets))
    return ["check", str(folder / "batch.xlsx")]


def ticked(chance: random.Random, given: str) -> list[list[str]]:
    """A list of spoiled prints, ticked somehow."""
    table = list(csv.reader(io.StringIO(given)))
    for row in table[1:]:
        if chance.random() < 0.5:
            row[1] = chance.choice(("x", "x", "X", "1", "yes", "no", word(chance)))
        if chance.random() < 0.2:
            row[chance.randrange(len(row))] = chance.choice((word(chance), "T001", "T999", "1-3", "lost", "unprinted"))
    return table


def bad_list(chance: random.Random, folder: Path, given: str) -> Path:
    """A list of spoiled prints as CSV or .xlsx."""
    table = ticked(chance, given)
    way = chance.randrange(4)
    if way == 0:
        (folder / "reprint.xlsx").write_bytes(bad_workbook(chance, [("list", table)]))
        return folder / "reprint.xlsx"
    if way == 1:
        content = workbook([("list", table)])
        (folder / "reprint.xlsx").write_bytes(damage_bytes(chance, content) if chance.random() < 0.5 else content)
        return folder / "reprint.xlsx"
    text = written(chance, table)
    (folder / "reprint.csv").write_bytes(damage(chance, text) if way == 2 else _bytes(text))
    return folder / "reprint.csv"
