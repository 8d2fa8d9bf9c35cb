"""A column map as a person shows it, column by column, to its data and its file."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from impose.orders.column_map import SKIP, ColumnMap, parse_column_map
from impose.orders.csv_text import read_file_bytes
from impose.orders.headings import COLUMNS
from impose.profiles.toml_limits import parse_toml

FILE = "columns.toml"
_KEYS = ("from", "always", "blank", "before", "after", "fill", "unit", "values", "unlisted")


def map_data(shown: Mapping[str, Any], skip: Mapping[str, Any]) -> dict[str, Any]:
    """The data of the file: a rule for each of our columns, from a heading, several, or a table of keys."""
    data: dict[str, Any] = {}
    for name in COLUMNS:
        said = shown.get(name)
        if said in (None, "", [], {}):
            continue
        if isinstance(said, Mapping):
            data[name] = {key: said[key] for key in _KEYS if said.get(key) not in (None, "", {}, [], False)}
        else:
            data[name] = {"from": said}
    skipped = {str(heading): [str(word) for word in words] for heading, words in skip.items() if words}
    return data | ({SKIP: skipped} if skipped else {})


def make_column_map(shown: Mapping[str, Any], skip: Mapping[str, Any]) -> ColumnMap:
    """The map itself. Raises `Trouble`."""
    return parse_column_map(map_data(shown, skip), FILE)


def encode_column_map(shown: Mapping[str, Any], skip: Mapping[str, Any]) -> bytes:
    """The file, as the commands take it too."""
    lines = ["# Which heading of the export is which of ours."]
    for name, rule in map_data(shown, skip).items():
        lines += ["", f"[{name}]"]
        lines += [
            f"{_spell_key(key)} = {_spell_value(value)}"
            for key, value in rule.items()
            if not isinstance(value, Mapping)
        ]
        for key, value in rule.items():
            if isinstance(value, Mapping):
                lines.append(f"[{name}.{_spell_key(key)}]")
                lines += [f"{_spell_value(str(entry))} = {_spell_value(str(ours))}" for entry, ours in value.items()]
    return ("\n".join(lines) + "\n").encode("utf-8")


def read_map_data(folder: Path) -> dict[str, Any]:
    """The map that a folder keeps, as data; nothing where there is none that can be read."""
    path = folder / FILE
    if not path.is_file():
        return {}
    data, faults = parse_toml(read_file_bytes(path), FILE)
    return {} if faults else data


def _spell_key(key: str) -> str:
    return key if key.replace("_", "").isalnum() and key.isascii() else _spell_value(key)


def _spell_value(value: Any) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, list | tuple):
        return f"[{', '.join(_spell_value(str(entry)) for entry in value)}]"
    # TOML 1.0: a basic string escapes the quotation mark, the backslash and controls.
    text = str(value)
    escaped = "".join(f"\\u{ord(c):04X}" if ord(c) < 32 or ord(c) == 127 or c in '"\\' else c for c in text)
    return f'"{escaped}"'
