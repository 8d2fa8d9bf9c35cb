"""Every command that a page shows, in a block or a sentence, is one that the program takes; the quick ones are run."""

from __future__ import annotations

import re
import shlex
import shutil
from pathlib import Path

import click
import pytest
from PIL import Image

from each_case import try_each
from impose.cli import cli

ROOT = Path(__file__).resolve().parent.parent
DOCS = ROOT / "shared" / "docs"
PAGES = [
    ROOT / "README.md",
    ROOT / "examples" / "README.md",
    *sorted(DOCS.glob("*.md")),
    *sorted((DOCS / "reference").glob("*.md")),
]
IN_A_SENTENCE = re.compile(r"`(impose\s[^`]+)`")
IN_A_BLOCK = re.compile(r"^(?: {4,}|\.venv/bin/)?(impose\s(?:.*\\\n)*.*)$", re.M)


def list_commands(page: Path) -> list[list[str]]:
    """The words of each command that a page shows, without what follows in a remark."""
    text = page.read_text("utf-8")
    found = [*IN_A_BLOCK.findall(text), *IN_A_SENTENCE.findall(text)]
    lines = [re.split(r"\s#\s|\s{3,}(?! *-)", re.sub(r"\\\n\s*", "", line))[0] for line in found]
    return [shlex.split(" ".join(line.split()))[1:] for line in lines]


def parse_words(words: list[str]) -> None:
    """Parse a command as click does, without asking whether its files are there. Raises `click.UsageError`."""
    if words[0].startswith("-"):
        assert words in (["--help"], ["--version"])
        return
    command = cli.get_command(click.Context(cli), words[0])
    assert command is not None, f"impose {words[0]} is no command"
    command.make_parser(click.Context(command, info_name=words[0])).parse_args(args=list(words[1:]))


@try_each("page", PAGES)
def test_every_command_that_a_page_shows_is_taken(page):
    for words in list_commands(page):
        try:
            parse_words(words)
        except click.UsageError as error:
            pytest.fail(f"{page.name}: impose {shlex.join(words)}: {error.format_message()}")


def test_every_option_that_a_page_names_is_one():
    """An option in a sentence, such as `--hold 30m`, belongs to some command."""
    known = {name for command in cli.commands.values() for option in command.params for name in option.opts}
    known |= {"--help", "--version", "-h"}
    for page in PAGES:
        for words in re.findall(r"`(--?[a-z][^`]*)`", page.read_text("utf-8")):
            assert words.split()[0].split("=")[0] in known, f"{page.name}: {words}"


def test_this_test_sees_the_commands():
    """Those of the first evening, by hand; and what it must not let through."""
    first = [shlex.join(words) for words in list_commands(DOCS / "first-evening.md")]
    assert "check examples/lantern-night/orders.csv -p a4 -p 13x19" in first
    assert "profiles printers --copy-to mine" in first
    read = next(words for words in list_commands(DOCS / "papers-and-printers.md") if "--read" in words)
    assert read[-1] == "across=199.6 along=199.2 left=3.2 top=3 right=3.4 bottom=12.5"
    for wrong in (["sheets", "a.csv", "--no-such-option"], ["sheets", "a.csv", "-p"]):
        with pytest.raises(click.UsageError):
            parse_words(wrong)


# In the order of the pages, each as it is written there; what is needed first is made first.
QUICK = {
    "first-evening.md": ["profiles papers --copy-to mine", "profiles printers --copy-to mine"],
    "papers-and-printers.md": [
        "profiles",
        "calibrate -p a4 --printer studio -o studio.pdf",
        "calibrate -p a4 --printer studio --profiles mine --read",
        "stock a4 --set 40",
        "stock",
        "stock a4 --add 100",
        "stock a4 --waste 2",
        "stock a4 --history",
        "stock a4 --stop",
    ],
    "orders.md": [
        "profiles placements",
        "profiles lettering",
        "profiles --profiles mine --enter",
        "sheets owl.png fox.png --placement left-chest --copies 12",
        "sheets pictures/ --width 90mm",
    ],
    "desk.md": ["desk --new evenings", "desk evenings"],
}


def test_the_quick_ones_do_what_the_page_says(tmp_path, run, monkeypatch):
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("IMPOSE_LEDGER", str(tmp_path / "paper.db"))
    (tmp_path / "pictures").mkdir()
    for name in ("owl.png", "fox.png", "pictures/owl.png"):
        Image.new("RGB", (40, 30), (200, 30, 60)).save(tmp_path / name)
    for page, wanted in QUICK.items():
        shown = {shlex.join(words): words for words in list_commands(DOCS / page)}
        for beginning in wanted:
            line = next((line for line in shown if line == beginning), None)
            line = line or next(line for line in shown if line.startswith(beginning))
            more = ["-p", "a3"] if shown[line][0] == "sheets" else []
            code, _, err = run(*shown[line], *more)
            assert code == 0, f"{page}: impose {line}: {err}"
    for made in ("mine/papers.toml", "mine/printers.toml", "mine/placements.toml", "studio.pdf", "evenings/in"):
        assert (tmp_path / made).exists(), made


# What the pages themselves say is refused: what fits no paper.
REFUSED = {
    f'{command} examples/lantern-night/art/heron-back.png --placement full-back --width "8.25 in" -p letter'
    for command in ("sheets", "quote")
}


@pytest.mark.long
def test_the_example_is_made_as_it_is_written(tmp_path, run, monkeypatch):
    """Over the whole example: the first evening, then spoiled prints of it, then the example's own page."""
    shutil.copytree(ROOT / "examples" / "lantern-night", tmp_path / "examples" / "lantern-night")
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("IMPOSE_LEDGER", str(tmp_path / "paper.db"))
    refused = {" ".join(shlex.split(line)) for line in REFUSED}
    tried = 0
    for page in (DOCS / "first-evening.md", DOCS / "spoiled-prints.md", ROOT / "examples" / "README.md"):
        for words in list_commands(page):
            line = " ".join(words)
            if words[0] not in ("check", "quote", "sheets", "reprint") or len(words) < 2 or "more-orders" in line:
                continue
            if "--list" in words:
                ticks = tmp_path / words[-1]
                ticks.write_text(ticks.read_text("utf-8-sig").replace("-T001,,", "-T001,x,", 1), "utf-8")
            code, _, err = run(*words, *(["--replace"] if words[0] == "sheets" else []))
            assert code == (4 if line in refused else 0), f"{page.name}: impose {line}: {err}"
            tried += 1
    assert tried >= 15
