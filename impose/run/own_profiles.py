"""The shop's own profiles: where they lie when nobody names a folder, and changes written into them.

A change is a few keys of one table. The files are read back as they would be before anything is written, so that no
change leaves profiles that cannot be read; whatever else stands in them stays, comments included.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from pathlib import Path

from impose.errors import Exit, Finding, Trouble
from impose.files import open_scratch_folder, write_new_file
from impose.ledger.location import default_ledger_path
from impose.profiles.profiles import Profiles
from impose.profiles.toml_limits import parse_toml
from impose.run.load_batch import load_profiles_in_force
from impose.run.options import Options
from impose.values import ChangingStruct, field, replace


def default_profiles_folder() -> Path:
    """The folder of this user's own profiles, which need not be there."""
    return default_ledger_path().parent / "profiles"


def find_own_profiles() -> Path | None:
    """The user's own profiles, if there are any."""
    folder = default_profiles_folder()
    return folder if folder.is_dir() else None


def use_own_profiles(options: Options, folder: Path) -> Options:
    """The options with these profiles, where the folder is there."""
    return replace(options, profiles_dir=folder if folder.is_dir() else None)


class ProfileChanges(ChangingStruct):
    """Changes to the files of a folder, made together or not at all."""

    folder: Path
    options: Options
    texts: dict[str, str] = field(default_factory=dict)

    def set_values(self, file: str, table: str, keys: Mapping[str, str]) -> None:
        """Set keys, in TOML's own spelling, of a table of a file; with no table those before the first one."""
        text = self.texts.get(file)
        if text is None:
            text = self._read_text(file)
        self.texts[file] = set_top_keys(text, keys) if not table else set_keys(text, f"[{table}]", keys)

    def _read_text(self, file: str) -> str:
        path = self.folder / file
        if not path.is_file():
            return ""
        text = path.read_text("utf-8-sig")
        faults = parse_toml(text.encode(), file)[1]
        if faults:
            raise Trouble(faults)
        return text

    def check_profiles(self) -> Profiles:
        """The profiles as they would be. Raises `Trouble` with what is wrong."""
        with open_scratch_folder() as trial:
            for own in self.folder.glob("*.toml") if self.folder.is_dir() else ():
                if own.is_file():
                    (trial / own.name).write_bytes(own.read_bytes())
            for file, text in self.texts.items():
                (trial / file).write_text(text, "utf-8")
            try:
                return load_profiles_in_force(replace(self.options, profiles_dir=trial))
            except Trouble as trouble:
                # A person knows the files by their own folder, not by the one that they are tried in.
                place = str(self.folder)
                raise Trouble(
                    [replace(found, file=found.file.replace(str(trial), place)) for found in trouble.findings]
                ) from None

    def write_files(self) -> None:
        """Write the files, proven. Raises `Trouble`, `OSError`."""
        self.check_profiles()
        self.folder.mkdir(parents=True, exist_ok=True)
        for file, text in self.texts.items():
            with write_new_file(self.folder / file) as part:
                part.write_bytes(text.encode("utf-8"))


def set_keys(text: str, head: str, keys: Mapping[str, str]) -> str:
    """A TOML text with keys set in the table of that heading, which is put at the end where there is none.

    A key whose value is blank is taken out.
    """
    lines = text.splitlines()
    at = next((n for n, line in enumerate(lines) if line.split("#")[0].strip() == head), None)
    if at is None:
        table = [head, *(f"{key} = {value}" for key, value in keys.items() if value)]
        return "\n".join([*lines, *([""] if lines else []), *table]) + "\n"
    end = next((n for n in range(at + 1, len(lines)) if lines[n].lstrip().startswith("[")), len(lines))
    body = [line for line in lines[at + 1 : end] if not sets_key(line, keys)]
    made = [f"{key} = {value}" for key, value in keys.items() if value]
    return "\n".join([*lines[: at + 1], *made, *body, *lines[end:]]) + "\n"


def sets_key(line: str, keys: Mapping[str, str]) -> bool:
    """Whether a line sets one of some keys, bare or in quotation marks (TOML 1.0, "Keys")."""
    match = re.match(r"""\s*(?:"((?:[^"\\]|\\.)*)"|'([^']*)'|([A-Za-z0-9_-]+))\s*=""", line)
    said = None if match is None else next(part for part in match.groups() if part is not None)
    return said in {key[1:-1] if key.startswith('"') else key for key in keys}


def set_top_keys(text: str, keys: Mapping[str, str]) -> str:
    """A TOML text with keys set before its first table."""
    lines = text.splitlines()
    end = next((n for n, line in enumerate(lines) if line.lstrip().startswith("[")), len(lines))
    kept = [line for line in lines[:end] if not sets_key(line, keys)]
    while kept and not kept[-1].strip():
        kept.pop()
    made = [f"{key} = {value}" for key, value in keys.items() if value]
    rest = ["", *lines[end:]] if lines[end:] else []
    return "\n".join([*kept, *made, *rest]) + "\n"


def spell_text(text: str) -> str:
    """A text as TOML 1.0 writes it."""
    escaped = "".join(f"\\u{ord(c):04X}" if ord(c) < 32 or ord(c) == 127 or c in '"\\' else c for c in text)
    return f'"{escaped}"'


def spell_number(text: str, what: str) -> str:
    """A number as TOML 1.0 writes it. Raises `Trouble`."""
    plain = text.strip().replace(",", ".")
    if not re.fullmatch(r"[0-9]{1,9}(\.[0-9]{1,6})?", plain):
        raise make_wrong(f"{what} is no number", "Write it with digits, such as 0.45.", text)
    whole, point, part = plain.partition(".")
    return f"{int(whole)}{point}{part}"


def spell_key(name: str) -> str:
    """A table's name as TOML 1.0 writes it."""
    return name if re.fullmatch(r"[A-Za-z0-9_-]+", name) else spell_text(name)


def make_wrong(what: str, remedy: str, read: str | None = None) -> Trouble:
    """A change that cannot be made."""
    return Trouble(Finding(what, remedy, kind="profile", read=read, exit=Exit.USAGE))
