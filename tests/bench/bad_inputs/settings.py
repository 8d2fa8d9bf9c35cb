"""Bad settings: a shop's profiles, desk.toml, calibrations, ledgers, kept answers, ICC profiles."""

from __future__ import annotations

import json
import random
import re
import shutil
from collections.abc import Callable
from pathlib import Path

from bad_inputs.damage import NUMBERS, damage, damage_bytes, damage_words, word

SHIPPED = Path(__file__).parents[3] / "profiles"
FILES = sorted(path.name for path in SHIPPED.glob("*.toml"))

OWN = {
    "papers.toml": '["a4-own"]\nwidth = "210 mm"\nheight = "297 mm"\ncost = 0.4\nalias = ["own"]\n',
    "printers.toml": "[mine]\nmargins = 3\nscale_x = 0.998\nscale_y = 1.002\n",
    "settings.toml": 'papers = ["a4", "13x19"]\ntear = "tight"\nunits = "mm"\n',
    "desk.toml": 'papers = ["a3", "13x19"]\nprinter = "example-wide"\nplacement = "full-back"\nhold = "30m"\n',
}
VALUES = (
    "{}", "[]", "[[]]", '""', "true", "1979-05-27T07:32:00Z", "07:32:00", "[1, [2, [3]]]", "{a = {b = 1}}",
    '["a4", 3]', "'''x",
    "0x7fffffffffffffff", "9223372036854775808", "1e400", "nan", "-inf", "1_000", '"\\u0000"', '"\\uD800"',
    '"""\n\n"""', "-0.0",
    "5", "-1", "0", "0.5", "1e-300", "1e300", '"50 mm"', '"-5 mm"', '"1e300 mm"', '"0 mm"', '"0.0000001 mm"',
    '"10000 m"', '"999 in"',
)  # fmt: skip


def damage_toml(chance: random.Random, text: str) -> bytes:
    """A file of settings damaged as one: values of another kind, tables that should be values, keys twice,
    too deep."""
    for _ in range(chance.choice((1, 1, 2, 4))):
        text = chance.choice(_TOML)(chance, text)
    return damage(chance, text) if chance.random() < 0.2 else text.encode("utf-8", "surrogatepass")


def _other_value(chance: random.Random, text: str) -> str:
    found = list(re.finditer(r"(?m)^[\w-]+ *= *(.+)$", text))
    one = chance.choice(found) if found else None
    return text[: one.start(1)] + chance.choice(VALUES) + text[one.end(1) :] if one else text


def _other_number(chance: random.Random, text: str) -> str:
    found = list(re.finditer(r"-?[0-9]+(\.[0-9]+)?", text))
    one = chance.choice(found) if found else None
    return text[: one.start()] + chance.choice((*NUMBERS, "5", "1000")) + text[one.end() :] if one else text


def _other_key(chance: random.Random, text: str) -> str:
    found = list(re.finditer(r"(?m)^([\w-]+)(?= *=)", text))
    one = chance.choice(found) if found else None
    other = (
        chance.choice(found)[0]
        if found and chance.random() < 0.5
        else chance.choice(("x", '""', "a.b.c", "x" * 250, "a." * 900 + "b"))
    )
    return text[: one.start()] + other + text[one.end() :] if one else text


def _other_table(chance: random.Random, text: str) -> str:
    found = list(re.finditer(r"(?m)^\[.*\]$", text))
    new = chance.choice(
        ("[x]", "[[x]]", "[]", "[a.b.c.d]", "[" * 300, "[x", "[kinds]", "[groups.adult]", "[default]", '["\\u202e"]')
    )
    one = chance.choice(found) if found else None
    if one is None or chance.random() < 0.3:
        return text + f"\n{new}\nx = 1\n"
    return text[: one.start()] + new + text[one.end() :]


def _lost_key(chance: random.Random, text: str) -> str:
    found = list(re.finditer(r"(?m)^.*\n", text))
    one = chance.choice(found) if found else None
    return text[: one.start()] + text[one.end() :] if one else text


def _extra(chance: random.Random, text: str) -> str:
    keys = (
        "like",
        "papers",
        "otherwise",
        "words",
        "width",
        "cost",
        "sizes",
        "source",
        "margins",
        "scale_x",
        "hold",
        "roll",
        "font",
    )
    return f"{chance.choice(keys)} = {chance.choice(VALUES)}\n" * chance.choice((1, 2)) + text


def _in_text(chance: random.Random, text: str) -> str:
    return damage_words(chance, text, r'"[^"\n]*"') if chance.random() < 0.3 else _in_quotes(chance, text)


def _in_quotes(chance: random.Random, text: str) -> str:
    found = list(re.finditer(r'"([^"\n]*)"', text))
    one = chance.choice(found) if found else None
    other = json.dumps(word(chance)) if chance.random() < 0.5 or not found else chance.choice(found)[0]
    return text[: one.start()] + other + text[one.end() :] if one else text


_TOML: tuple[Callable[[random.Random, str], str], ...] = (
    _other_value, _other_value, _other_number, _other_number, _other_key, _other_table, _lost_key, _extra,
    _in_text, _in_text,
)  # fmt: skip


def bad_profiles(chance: random.Random, folder: Path, good: Path) -> list[str]:
    """A folder of profiles with one or two bad files, shown, or used for a batch."""
    own = folder / "profiles"
    own.mkdir()
    for name in chance.sample(FILES, chance.choice((1, 1, 2))):
        text = OWN[name] if name in OWN and chance.random() < 0.6 else (SHIPPED / name).read_text("utf-8")
        (own / name).write_bytes(damage_toml(chance, text))
    if chance.random() < 0.3:
        return ["profiles", "--profiles", str(own), *chance.choice(([], ["--json"], ["--units", "in"]))]
    papers = chance.choice(([], ["-p", "a4"], ["-p", "own"], ["-p", "own", "-p", "a4"]))
    return [chance.choice(("check", "quote")), str(good), "--profiles", str(own), *papers, *_printer(chance)]


def _printer(chance: random.Random) -> list[str]:
    return chance.choice(([], [], ["--printer", "mine"], ["--printer", "example-wide"]))


def bad_desk_settings(chance: random.Random, folder: Path) -> list[str]:
    """A folder of a desk with a bad desk.toml, as a watcher reads it."""
    (folder / "desk.toml").write_bytes(damage_toml(chance, OWN["desk.toml"])[: chance.choice((4000, 9000))])
    return ["desk.toml", str(folder), chance.choice(("", "left-chest", "x"))]


def bad_calibration(chance: random.Random, folder: Path) -> list[str]:
    """Readings of a printer's page, sometimes with a printers.toml that was there before."""
    if chance.random() < 0.5:
        (folder / "printers.toml").write_bytes(damage_toml(chance, OWN["printers.toml"]))
    keys = ("across", "along", "left", "right", "top", "bottom", "x", "")
    given = dict(zip(keys[:6], ("199.6", "199.2", "3.2", "3.1", "3", "3"), strict=True))
    for _ in range(chance.choice((0, 1, 1, 2))):
        given[chance.choice(keys)] = chance.choice((word(chance), chance.choice(NUMBERS), "200", "0", "1000"))
    text = " ".join(f"{key}{chance.choice('==== :')}{value}" for key, value in given.items())
    more = chance.choice(([], [], ["--read-to", word(chance)], ["--units", "in"], ["-p", word(chance)]))
    name = chance.choice(("mine", "mine", word(chance), "new one"))
    return ["calibrate", f"--printer={name}", f"--read={text}", "--profiles", str(folder), *more]


def bad_stock(chance: random.Random, folder: Path, good: Path, ledger: Path) -> list[str]:
    """A damaged ledger, or counts nobody could mean."""
    path = folder / "ledger.db"
    shutil.copyfile(ledger, path)
    if chance.random() < 0.6:
        path.write_bytes(_damage_ledger(chance, path.read_bytes()))
        if chance.random() < 0.4:
            return ["quote", str(good), "-p", "a4", "--ledger", str(path)]
    way = chance.choice(("--set", "--add", "--waste", "--stop", "--history", "--json"))
    amount = (
        []
        if way in ("--stop", "--history", "--json")
        else [chance.choice((word(chance), chance.choice(NUMBERS), "5", "12.5m"))]
    )
    because = chance.choice(([], [], [f"--because={word(chance)}"]))
    paper = chance.choice(("a4", "a4", "roll-24in", word(chance)))
    change = f"{way}={amount[0]}" if amount else way
    return ["stock", change, *because, "--ledger", str(path), "--", paper]


def _damage_ledger(chance: random.Random, content: bytes) -> bytes:
    way = chance.randrange(4)
    if way == 0:
        return damage_bytes(chance, content)
    changed = bytearray(content)
    if way == 1:  # in the header: page size, versions, encoding, the list of free pages
        changed[chance.randrange(100)] ^= 1 << chance.randrange(8)
    elif way == 2:  # a page exchanged for another
        a, b = (4096 * chance.randrange(max(1, len(content) // 4096)) for _ in range(2))
        changed[a : a + 4096] = content[b : b + 4096]
    else:  # a text in it
        text = chance.choice((b"stock_paper", b"iso_a4_210x297mm", b"CREATE TABLE", b"INTEGER", b"open", b"made"))
        at = content.find(text)
        if at >= 0:
            changed[at : at + len(text)] = chance.randbytes(len(text))
    return bytes(changed)


def bad_answers(chance: random.Random, folder: Path, good: Path, answers: str) -> list[str]:
    """A customer's answers beside the batch, damaged as JSON."""
    shutil.copytree(good.parent, folder / "job")
    target = folder / "job" / f"{good.stem}.agreed.json"
    target.write_bytes(damage_json(chance, answers))
    return ["check", str(folder / "job" / good.name)]


JSON_VALUES = (
    None,
    True,
    -1,
    0,
    1e308,
    float("nan"),
    float("inf"),
    10**400,
    "",
    "x" * 5000,
    [],
    {},
    [[]],
    [None],
    {"a": 1},
    "\u202e",
    "\ud800",
)


def damage_json(chance: random.Random, text: str) -> bytes:
    """A JSON text with one to three values exchanged, left out or added; sometimes no JSON at all."""
    if chance.random() < 0.2:
        return damage(chance, text)
    values = json.loads(text)
    for _ in range(chance.choice((1, 1, 2, 3))):
        holder, key = _place(chance, values)
        if key is None:
            continue
        if chance.random() < 0.2:
            del holder[key]
        else:
            holder[key] = chance.choice(JSON_VALUES)
    return json.dumps(values).encode()


def _place(chance: random.Random, values: object) -> tuple[object, object]:
    """Some place in nested values: its holder and its key."""
    places: list[tuple[object, object]] = []
    waiting = [values]
    for one in waiting:
        keys = list(one) if isinstance(one, dict) else list(range(len(one))) if isinstance(one, list) else []
        places += [(one, key) for key in keys]
        waiting += [one[key] for key in keys]  # type: ignore[index]
    return chance.choice(places) if places else (None, None)


def bad_icc(chance: random.Random, folder: Path, good: Path, profile: bytes) -> list[str]:
    """An ICC profile damaged: header, table of tags, curves."""
    content = profile
    for _ in range(chance.choice((1, 2, 5))):
        changed = bytearray(content)
        at = chance.choice(
            (chance.randrange(128), chance.randrange(128, 128 + 12 * 12), chance.randrange(len(changed)))
        )
        changed[at % len(changed)] = chance.choice((0, 255, chance.randrange(256)))
        content = bytes(changed)
    content = damage_bytes(chance, content) if chance.random() < 0.3 else content
    (folder / "printer.icc").write_bytes(content)
    intents = chance.choice(([], ["--intent", "perceptual"], ["--intent", "absolute"], ["--no-black-point"]))
    return ["check", str(good), "--output-profile", str(folder / "printer.icc"), *intents]
