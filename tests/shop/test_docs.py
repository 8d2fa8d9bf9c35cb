"""The documents are held to the program: every key and column stands in them, every example in them works."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path

import pytest

from impose.file_types import TAKEN
from impose.orders.batch_reader import read_batch
from impose.orders.headings import COLUMNS, SPELLINGS
from impose.profiles.profile_parser import KINDS
from impose.profiles.profiles import Profiles, load_profiles
from impose.profiles.settings import RULES

DOCS = Path(__file__).parent.parent.parent / "shared" / "docs"
COLUMNS_PAGE = (DOCS / "reference" / "columns.md").read_text(encoding="utf-8")
ORDERS_PAGE = (DOCS / "orders.md").read_text(encoding="utf-8")
PROFILES = (DOCS / "reference" / "profiles.md").read_text(encoding="utf-8")
EXAMPLES = dict(re.findall(r"<!-- example: (\w+\.toml) -->\n```toml\n(.*?)```", PROFILES, re.S))


def test_every_column_is_explained() -> None:
    explained = {
        word for row in re.findall(r"^\| (`.*?) \|", COLUMNS_PAGE, re.M) for word in re.findall(r"`(\w+)`", row)
    }
    assert not set(COLUMNS) - explained, "write a line for each in reference/columns.md"


def test_every_other_spelling_of_a_heading_is_named() -> None:
    said = {word.replace("_", " ") for word in re.findall(r"`([a-z_ ]+)`", COLUMNS_PAGE)}
    assert not {spelling.replace("_", " ") for spelling in SPELLINGS} - said, "name each in reference/columns.md"


def test_the_batch_example_reads(desk: Path, profiles: Profiles) -> None:
    (example,) = re.findall(r"<!-- example -->\n```csv\n(.*?)```", ORDERS_PAGE, re.S)
    path = desk / "orders.csv"
    path.write_text(example, encoding="utf-8")
    rows = read_batch(path, profiles).rows
    assert [row.copies for row in rows] == [1, 1, 1, 12]
    assert rows[3].width_mm == 209.55
    assert rows[2].garment.group == "youth"


def test_the_words_example_reads(desk: Path, profiles: Profiles) -> None:
    (example,) = re.findall(r"<!-- words example -->\n```csv\n(.*?)```", ORDERS_PAGE, re.S)
    path = desk / "names.csv"
    path.write_text(example, encoding="utf-8")
    batch = read_batch(path, profiles)
    assert [row.words for row in batch.rows] == ["Łukasz", "7", "Дарина"]
    styles = [row.style for row in batch.rows if row.style is not None]
    assert [(style.name, style.colour, style.arc, style.letter_height_mm) for style in styles] == [
        ("outlined", "#C1121F", 0, 40),
        ("number", "#1A1A1A", 0, 200),
        ("plain", "#1A1A1A", 70, 60),
    ]


def test_the_kits_example_reads(desk: Path, profiles: Profiles) -> None:
    for name, marker in (("kits.csv", "kits example"), ("orders.csv", "roster example")):
        (example,) = re.findall(rf"<!-- {marker} -->\n```csv\n(.*?)```", ORDERS_PAGE, re.S)
        (desk / name).write_text(example, encoding="utf-8")
    (desk / "art" / "crest.png").write_bytes((desk / "art" / "owl.png").read_bytes())
    rows = read_batch(desk / "orders.csv", profiles).rows
    assert [(row.words, row.garment.group) for row in rows if row.words] == [
        ("07", "adult"), ("ŁUKASZ", "adult"), ("12", "youth"), ("ДАРИНА", "youth")
    ]  # fmt: skip


def test_every_file_has_an_example_that_loads(shipped: Path, own: Path) -> None:
    assert set(EXAMPLES) == {f"{kind}.toml" for kind in KINDS}
    for name, text in EXAMPLES.items():
        (own / name).write_text(text, encoding="utf-8")
    mine = load_profiles(shipped, own)
    assert mine.find_paper("A3+").width_mm == 329
    assert mine.find_paper("banner").max_length_mm == 3000
    assert mine.find_printer("studio").bottom_mm == 12.5
    assert mine.wardrobe.read_garment("Jugend M bib").garment.group == "youth"
    assert mine.wardrobe.read_garment("XLT").garment.group == "tall"
    assert mine.require_placement("leg").sizes["youth L"].width_mm == 57.15
    assert mine.settings.currency == "GBP"
    assert mine.lettering["league"].outline == "#FFFFFF"


def test_every_setting_is_explained() -> None:
    assert set(tomllib.loads(EXAMPLES["settings.toml"])) == set(RULES)
    table = set(re.findall(r"`(\w+)`", PROFILES[PROFILES.index("`currency`") :]))
    assert set(RULES) <= table


@pytest.mark.parametrize("kind", KINDS)
def test_every_key_of_the_shipped_files_is_in_the_examples(shipped: Path, kind: str) -> None:
    def keys(data: dict[str, object], depth: int) -> set[str]:
        found = set()
        for key, value in data.items():
            if isinstance(value, dict):
                found |= {key} if kind == "texts" else set()
                found |= keys(value, depth + 1)
            else:
                found.add(key)
        return found

    data = tomllib.loads((shipped / f"{kind}.toml").read_text(encoding="utf-8"))
    # The shipped texts are their own list of sentences: the page shows what each part of the file is for.
    used = set(data) | set(data["custom"]) if kind == "texts" else keys(data, 0)
    assert used <= keys(tomllib.loads(EXAMPLES[f"{kind}.toml"]), 0)


def test_every_setting_is_told_in_one_table():
    from impose.cli import cli
    from impose.profiles.settings import BY_OPTION, INHERITED, Settings
    from impose.run.shop_values import SETTING_KINDS
    from impose.values import list_names

    assert list(list_names(Settings))[:-1] == list(RULES)
    assert not set(RULES) ^ set(SETTING_KINDS), "write how the page asks for it in run/shop_values.py"
    offered = {parameter.name for parameter in cli.commands["sheets"].params}
    assert set(BY_OPTION) <= offered
    # A record keeps the papers by their full names, so they are no setting of it.
    assert set(INHERITED) - {"papers"} <= {name for name, rule in RULES.items() if rule.recorded}


def test_every_format_of_artwork_is_explained() -> None:
    page = (DOCS / "artwork.md").read_text(encoding="utf-8")
    table = page[page.index("## Formats") :].split("\n\n")[1]
    named = {name for row in table.splitlines()[2:] for name in row.split("|")[1].strip().split(", ")}
    assert named == {kind.name for kind in TAKEN}, "write its line under Formats in artwork.md"
