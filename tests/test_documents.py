"""The documents as a whole: their length, their pictures, the pages that come from the code, one version."""

from __future__ import annotations

import importlib.util
import re
import tomllib
from pathlib import Path

import pytest
from PIL import Image

import impose
import schemas
from each_case import try_each
from impose.cli import cli
from impose.run import Options, plan

ROOT = Path(__file__).resolve().parent.parent
DOCS = ROOT / "shared" / "docs"
PAGES = [ROOT / "README.md", ROOT / "DEVELOPERS.md", *sorted(DOCS.rglob("*.md"))]
USER_WORDS_MOST = 9000
README_WORDS_MOST = 600
PICTURE_BYTES_MOST = 60_000


def load_writer():
    spec = importlib.util.spec_from_file_location("write_reference", ROOT / ".ci" / "write_reference.py")
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def test_the_user_pages_are_short():
    words = sum(len(page.read_text("utf-8").split()) for page in DOCS.glob("*.md"))
    assert 0 < words <= USER_WORDS_MOST
    assert len((ROOT / "README.md").read_text("utf-8").split()) <= README_WORDS_MOST


def test_the_readme_begins_with_the_two_blocks():
    fences = re.findall(r"^```(.*)$", (ROOT / "README.md").read_text("utf-8"), re.M)
    assert fences[:4] == ["sh", "", "sh", ""]


@pytest.mark.parametrize("name", ["options.md", "library.md", "json.md"])
def test_generated_pages_are_what_the_code_says(name):
    writer = load_writer()
    assert "<!-- generated: begin -->" in writer.text_of(name)
    assert writer.write_page(name, writer.PAGES[name]()) == writer.text_of(name), "run python .ci/write_reference.py"


@try_each("page", PAGES)
def test_links_into_a_page_meet_a_heading(page):
    for target in re.findall(r"\]\(([^)\s]*#[^)\s]+)", page.read_text("utf-8")):
        name, anchor = target.split("#")
        if "://" in name:
            continue
        text = ((page.parent / name).resolve() if name else page).read_text("utf-8")
        headings = re.findall(r"^#+ (.*)$", text, re.M)
        anchors = {re.sub(r"[^\w\- ]", "", heading.lower()).replace(" ", "-") for heading in headings}
        assert anchor in anchors, target


def test_every_picture_is_small_and_used():
    text = "\n".join(page.read_text("utf-8") for page in PAGES)
    for picture in (DOCS / "pictures").glob("*.png"):
        assert picture.stat().st_size <= PICTURE_BYTES_MOST
        with Image.open(picture) as image:
            image.load()
        assert f"pictures/{picture.name}" in text


def test_options_written_in_documents_exist():
    """An option that a page shows behind a command is one of that command's."""
    for page in PAGES:
        for line in re.findall(r"^(?: {4,}|\.venv/bin/)?(impose \w+ .*)$", page.read_text("utf-8"), re.M):
            words = line.split("#")[0].split()
            if words[1] not in cli.commands:
                continue
            known = {name for parameter in cli.commands[words[1]].params for name in parameter.opts} | {"--help"}
            used = {word for word in words[2:] if re.fullmatch(r"--?[a-z][\w-]*", word)}
            assert used <= known, f"{page.name}: {line}"


def test_every_key_of_a_record_is_explained(tmp_path):
    lines = (ROOT / "examples" / "lantern-night" / "orders.csv").read_text("utf-8").splitlines()
    batch = tmp_path / "few.csv"
    batch.write_text("\n".join(lines[:4]), "utf-8")
    options = Options({"papers": ["a3"]}, art_root=ROOT / "examples" / "lantern-night", workers=1, steps=50)
    record = plan([batch], options).record
    page = (DOCS / "reference" / "record.md").read_text("utf-8")

    def explained(heading: str) -> set[str]:
        section = page.split(f"## {heading}\n")[1].split("\n## ")[0]
        cells = re.findall(r"^\| (`.*?) \|", section, re.M)
        return {key for cell in cells for key in re.findall(r"`(\w+)`", cell)}

    assert set(record) <= explained("The batch")
    # What only some records have, or only the file, the schema knows.
    assert set(schemas.load("record")["properties"]) <= explained("The batch")
    assert {key for sheet in record["sheets"] for key in sheet} <= explained("A sheet")
    transfers = [one for sheet in record["sheets"] for one in sheet["transfers"]]
    assert {key for one in transfers for key in one} <= explained("A transfer")
    assert record["format"] in page


def test_the_version_has_one_source():
    project = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))
    assert "version" not in project["project"]
    assert project["project"]["dynamic"] == ["version"]
    assert project["tool"]["hatch"]["version"]["path"] == "impose/__init__.py"
    assert re.fullmatch(r"\d+\.\d+\.\d+", impose.__version__)
    changes = (ROOT / "shared" / "CHANGELOG.md").read_text("utf-8")
    assert impose.__version__ in changes


def test_the_developers_table_has_every_room_on_its_floor():
    from test_house import FLOORS

    text = (ROOT / "DEVELOPERS.md").read_text("utf-8")
    said = {
        room.rstrip("/"): int(floor)
        for floor, rooms in re.findall(r"^\| (\d+) \| (.*?) \|", text, re.M)
        for room in re.findall(r"`([\w/]+)`", rooms)
    }
    assert said == {room: floor for room, floor in FLOORS.items() if room != "__main__"}


def test_nobody_is_told_to_install_by_the_bare_name() -> None:
    """A registry's package of that name is anybody's: ours is installed from its folder."""
    told = [
        path.name
        for folder in (ROOT / "impose", ROOT / "shared" / "docs")
        for path in folder.rglob("*")
        if path.suffix in (".py", ".md", ".js") and re.search(r"pip install +['\"]?impose\b", path.read_text("utf-8"))
    ]
    assert told == []


def test_what_is_added_is_added_where_the_developers_page_says():
    """Every file that its table names is there, in the repository or in the package."""
    section = (ROOT / "DEVELOPERS.md").read_text("utf-8").split("## How to add\n")[1].split("\n## ")[0]
    named = re.findall(r"`([\w./]+/[\w./]*)`", section)
    walks = (ROOT / "DEVELOPERS.md").read_text("utf-8").split("## Two walks\n")[1].split("\n## ")[0]
    passed = re.findall(r"`((?:\w+/)+\w+)(?:\.\w+)?`", walks)
    assert len(passed) > 30
    named += [name if (ROOT / "impose" / name).is_dir() else f"{name}.py" for name in passed if "tests" not in name]
    assert len(named) >= 12
    missing = [name for name in named if not any((base / name).exists() for base in (ROOT, ROOT / "impose", DOCS))]
    assert not missing
