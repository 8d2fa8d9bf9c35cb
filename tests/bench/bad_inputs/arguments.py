"""Bad words on the command line, and bad names of files."""

from __future__ import annotations

import random
import shutil
from pathlib import Path

from bad_inputs.damage import LENGTHS, word
from bad_inputs.settings import damage_json

NAMES = (
    "owl (12 copies, 90 mm).png", "owl (90 mm).png", "owl (90 x 120 mm).png", "owl (120 mm high).png", "owl (1).png",
    "owl (0 copies, 90 mm).png", "owl (99999999999 copies, 90 mm).png", "owl (1e9 mm).png",
    "owl (1 copy, 2 copies, 9 mm).png",
    "owl (90 mm) (80 mm).png", "owl (½ in).png", "owl (9 0 mm).png", "owl (90 mmm).png", "owl ((90 mm)).png",
    "owl (90 mm.png",
)  # fmt: skip
LENGTH = ("--width", "--height", "--tear")
NAMED = ("-p", "--printer", "--placement", "--accept", "--oversize", "--intent", "--orientation", "--units")
COUNTED = ("--copies", "--steps", "--seconds", "--workers")


def bad_words(chance: random.Random, folder: Path, good: Path) -> list[str]:
    """Options with values that nobody could mean."""
    words = [chance.choice(("check", "quote")), str(good)]
    for _ in range(chance.choice((1, 1, 1, 2))):
        name = chance.choice((*LENGTH, *NAMED, *COUNTED))
        value = word(chance)
        if name in LENGTH and chance.random() < 0.5:
            value = chance.choice(LENGTHS)
        if name == "-p":
            value = chance.choice(
                (value, "a4", f"{chance.randrange(2000)}x{chance.randrange(2000)}mm", f"{word(chance)}x{word(chance)}")
            )
        if name == "--workers":  # how many processes are started is the caller's own choice
            value = chance.choice(("0", "-1", "x", "1"))
        if name == "--seconds":
            value = chance.choice(("nan", "inf", "-1", "0", "x", "0.01"))
        if name == "--steps":
            value = chance.choice(("-1", "x", "9" * 400, "0", "50"))
        value = value.replace("\0", "")  # no system passes one
        words += [name, value] if not value.startswith("-") and name.startswith("-p") else [f"{name}={value}"]
    return words


def bad_names(chance: random.Random, folder: Path, art: Path) -> list[str]:
    """Pictures whose names say, or nearly say, size and copies; given alone, or as a folder."""
    for _ in range(chance.choice((1, 1, 2))):
        name = chance.choice(NAMES)
        if chance.random() < 0.6:
            at = chance.randrange(len(name))
            name = name[:at] + word(chance) + name[at + chance.choice((0, 1, 4)) :]
        name = _possible(name)
        shutil.copyfile(art, folder / name)
    source = [str(path) for path in folder.iterdir()] if chance.random() < 0.5 else [str(folder)]
    size = chance.choice(([], ["--width", "60mm"], ["--placement", "left-chest"]))
    return [chance.choice(("check", "check", "file name")), *source, *size]


def _possible(name: str) -> str:
    """As near to a name as a file system of ours has it: no slash, no NUL, 255 bytes."""
    raw = name.replace("/", "∕").replace("\0", "").encode("utf-8", "surrogateescape" if name.isascii() else "replace")
    cut = raw[:240].decode("utf-8", "ignore")
    return cut if cut.strip(".") else "x.png"


def bad_record(chance: random.Random, folder: Path, delivered: Path, good: Path) -> list[str]:
    """A record damaged as JSON: printed from again, or printed onto."""
    (folder / "batch.json").write_bytes(damage_json(chance, (delivered / "batch.json").read_text("utf-8")))
    if chance.random() < 0.5:
        return ["list", str(folder / "batch.json"), ""]
    made = ["-o", str(folder / "out"), "-p", "a4", "--steps", "0"]
    return ["sheets", str(good), "--onto", str(folder / "batch.json"), *made]
