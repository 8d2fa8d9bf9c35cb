"""Write the pages that come from the code: options and exit codes, the public door, what commands print as JSON.

python .ci/write_reference.py            write them
python .ci/write_reference.py --check    exit 1 if one differs from the code
"""

from __future__ import annotations

import inspect
import json
import re
import sys
from collections.abc import Callable, Iterator
from pathlib import Path
from types import ModuleType
from typing import Any

import click

import impose.nest
import impose.run
from impose.cli import cli
from impose.errors import Exit

SHARED = Path(__file__).resolve().parents[1] / "shared"
REFERENCE = SHARED / "docs" / "reference"
MARK = re.compile(r"(?<=<!-- generated: begin -->\n).*?(?=<!-- generated: end -->)", re.S)

EXIT_MEANINGS = {
    Exit.DONE: "done",
    Exit.BUG: "a bug in the program; please report it",
    Exit.USAGE: "wrong use: an option, a setting or a profile",
    Exit.REFUSED: "a row or an artwork was refused",
    Exit.NO_ROOM: "something fits no paper, or too little paper is left",
    Exit.SYSTEM: "the system could not read or write",
    Exit.SELF_CHECK: "the output failed its own check",
    Exit.INTERRUPTED: "interrupted",
}


def list_option_lines() -> Iterator[str]:
    """The exit codes, then the help of every command as it is shown."""
    yield "## Exit codes\n"
    yield "| code | meaning |\n|---|---|"
    yield from (f"| {int(code)} | {EXIT_MEANINGS[code]} |" for code in Exit)
    for name, command in cli.commands.items():
        command._help_option = None  # click keeps the one of the first call, whatever names that was given
        context = click.Context(
            command,
            info_name=f"impose {name}",
            terminal_width=80,
            max_content_width=80,
            help_option_names=["-h", "--help"],
        )
        yield f"\n## impose {name}\n\n```text\n{command.get_help(context)}\n```"


def list_members(value: type) -> list[tuple[str, Any]]:
    """What a class shows of its own: properties and methods with a docstring."""
    return [
        (name, member)
        for name, member in vars(value).items()
        if not name.startswith("_") and (isinstance(member, property) or inspect.isfunction(member)) and member.__doc__
    ]


def describe_name(name: str, value: Any) -> Iterator[str]:
    """A public name: its signature, its docstring, and of a class its members."""
    if not inspect.isfunction(value) and not inspect.isclass(value):
        return
    yield f"\n#### {name}\n\n```text\n{name}{_format_signature(value)}\n```\n\n{inspect.getdoc(value)}"
    for member, thing in list_members(value) if inspect.isclass(value) else []:
        call = "" if isinstance(thing, property) else "()"
        yield f"\n- `{member}{call}`: {' '.join((inspect.getdoc(thing) or '').split())}"


def _format_signature(value: Callable[..., Any]) -> str:
    shown = [str(one) for one in inspect.signature(value).parameters.values() if one.name != "self"]
    parameters = [re.sub(r""": (['"])(.*?)\1( = .*)?$""", r": \2\3", one) for one in shown]  # annotations are texts
    text = f"({', '.join(parameters)})"
    return text if len(text) < 90 else "(\n    " + ",\n    ".join(parameters) + ",\n)"


def list_door_lines(door: ModuleType) -> Iterator[str]:
    """Every public name of a door, in the order of `__all__`."""
    yield f"\n### {door.__name__}"
    for name in door.__all__:
        yield from describe_name(name, getattr(door, name))


JSON_OUTPUTS = ("check", "quote", "desk")
"""Commands whose JSON has a schema; the record, which `sheets` and `reprint` print, has a page of its own."""


def list_json_lines() -> Iterator[str]:
    """Every key that a command prints as JSON, a table for each object, in the words of the schema."""
    for name in JSON_OUTPUTS:
        schema = json.loads((SHARED / f"{name}.schema.json").read_text("utf-8"))
        yield f"\n## impose {name}\n\n{schema['description']} [The schema](../../{name}.schema.json).\n"
        yield from _list_keys(schema)
        for part, value in schema.get("definitions", {}).items():
            if "properties" in value:
                yield f"\n### {part}\n\n{value['description']}\n"
                yield from _list_keys(value)


def _list_keys(schema: dict[str, Any], before: str = "") -> Iterator[str]:
    """The keys of an object, those of objects within it behind a point."""
    if not before:
        yield "| key | what it holds |\n|---|---|"
    for key, value in schema["properties"].items():
        starred = "" if key in schema.get("required", ()) else " *"
        refer = re.search(r'"#/definitions/(\w+)"', json.dumps(value))
        points = f" See {refer[1]}." if refer and refer[1] not in ("amount", "box", "point", "margin") else ""
        yield f"| `{before}{key}`{starred} | {value.get('description', '')}{points} |"
        inner = value.get("items", value)
        if "properties" in inner:
            yield from _list_keys(inner, f"{before}{key}{'[]' if 'items' in value else ''}.")


PAGES = {
    "json.md": lambda: "\n".join(list_json_lines()),
    "options.md": lambda: "\n".join(list_option_lines()),
    "library.md": lambda: "\n".join(line for door in (impose.run, impose.nest) for line in list_door_lines(door)),
}


def write_page(name: str, text: str) -> str:
    """The page with what is between its marks made anew."""
    return MARK.sub(lambda _: re.sub(r"0x[0-9a-f]+", "...", text).strip("\n") + "\n", text_of(name))


def text_of(name: str) -> str:
    """A page as it stands."""
    return (REFERENCE / name).read_text("utf-8")


def main() -> int:
    """Write the pages, or say which differ."""
    stale = [name for name, make in PAGES.items() if write_page(name, make()) != text_of(name)]
    for name in stale:
        if "--check" in sys.argv:
            print(f"shared/docs/reference/{name} differs from the code: run python .ci/write_reference.py")
        else:
            (REFERENCE / name).write_text(write_page(name, PAGES[name]()), "utf-8")
    return int("--check" in sys.argv and bool(stale))


if __name__ == "__main__":
    sys.exit(main())
