"""What a batch folder says for itself: its `batch.toml`, beside `orders.csv`, with options of the commands by name.

A file nearer to the orders wins over one farther away: options said now, then the batch's own, then the environment,
then the shop's profiles. So a batch that is made again next year is made on the papers that were chosen for it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from decimal import Decimal
from pathlib import Path
from typing import Any

from impose.errors import Exit, Finding, Trouble, raise_stops
from impose.orders.batch import Batch, RowDefaults
from impose.profiles.settings import parse_tear
from impose.profiles.toml_limits import parse_toml
from impose.profiles.toml_tables import suggest_word
from impose.run.options import Options
from impose.units import LengthError, parse_length
from impose.values import ChangingStruct, field, replace

FILE = "batch.toml"

OF_SETTINGS = (
    "papers", "printer", "press", "units", "orientation", "output_profile", "intent", "black_point", "keep_upright",
    "straight_cuts", "smallest_decides", "clean_haze", "drop_specks", "keep_specks", "ticket_grouping", "ticket_paper",
    "press_order", "panel_overlap", "stops", "sheet_handling", "paper_change", "swatches",
)  # fmt: skip
"""Settings that a batch may decide for itself."""
OF_ROWS = ("placement", "width", "height", "copies", "mend")
OF_RUN = ("tear", "oversize", "steps", "seconds", "skip_bad", "strict", "accept", "columns", "part_sheets")
NAMES = (*OF_SETTINGS, *OF_ROWS, *OF_RUN)
OVERSIZE = ("refuse", "shrink", "panels")


def find_batch_folder(sources: Sequence[Path] | Batch) -> Path | None:
    """The folder whose `batch.toml` counts for some sources: that of the one batch file, or the one folder."""
    if isinstance(sources, Batch) or len(sources) != 1:
        return None
    return sources[0] if sources[0].is_dir() else sources[0].parent


def add_batch_choices(sources: Sequence[Path] | Batch, options: Options) -> Options:
    """The options with what the batch says beneath them. Raises `Trouble` for a file that cannot be read."""
    folder = find_batch_folder(sources)
    if folder is None or not (folder / FILE).is_file():
        return options
    return lay_choices(options, read_choices(folder / FILE), folder)


def read_choices(path: Path) -> dict[str, Any]:
    """The choices in a file, by name. Raises `Trouble` with every fault."""
    from impose.orders.csv_text import read_file_bytes

    found, faults = parse_toml(read_file_bytes(path), path.name)
    faults += [
        Finding(
            "not something a batch can choose", suggest_word(name, NAMES), kind="profile", file=path.name, read=name
        )
        for name in found
        if name not in NAMES
    ]
    raise_stops([replace(fault, exit=Exit.USAGE) for fault in faults])
    return {name: float(value) if isinstance(value, Decimal) else value for name, value in found.items()}


def lay_choices(options: Options, choices: Mapping[str, Any], folder: Path) -> Options:
    """The options with a batch's choices beneath them: what was said by hand stays. Raises `Trouble`."""
    reader = _ChoiceReader(choices, options)
    settings = {name: choices[name] for name in OF_SETTINGS if name in choices}
    columns = choices.get("columns")
    made = replace(
        options,
        batch_settings=settings,
        blanks=reader.read_blanks(),
        bare=options.bare or choices.get("units"),
        tear=options.tear or reader.length("tear", parse_tear),
        oversize=reader.read_oversize(),
        steps=options.steps if options.steps is not None or options.seconds is not None else reader.read_whole("steps"),
        seconds=options.seconds if options.seconds is not None or options.steps is not None else reader.read_seconds(),
        skip_bad=options.skip_bad or reader.read_flag("skip_bad"),
        strict=options.strict or reader.read_flag("strict"),
        accept=options.accept | reader.read_words("accept"),
        part_sheets=options.part_sheets or reader.read_whole("part_sheets") or None,
        columns=options.columns or (None if columns is None else folder / Path(str(columns)).name),
    )
    if reader.faults:
        raise Trouble(reader.faults)
    return made


class _ChoiceReader(ChangingStruct):
    """Reads choices by their kind and gathers what is wrong with them."""

    choices: Mapping[str, Any]
    options: Options
    faults: list[Finding] = field(default_factory=list)

    def read_blanks(self) -> RowDefaults:
        given = self.options.blanks
        return RowDefaults(
            given.placement or self.choices.get("placement"),
            given.width_mm or self.length("width", parse_length),
            given.height_mm or self.length("height", parse_length),
            given.copies or self.read_whole("copies"),
            given.mend | self.read_words("mend"),
        )

    def length(self, name: str, parse: Any) -> Any:
        text = self.choices.get(name)
        if text is None:
            return None
        try:
            return parse(str(text), self.options.bare or self.choices.get("units"))
        except LengthError as error:
            self._note_fault(name, error.what, error.remedy)
            return None

    def read_oversize(self) -> Any:
        wanted = self.choices.get("oversize")
        if wanted is not None and wanted not in OVERSIZE:
            self._note_fault("oversize", "not a way with prints too large", f"Write one of: {', '.join(OVERSIZE)}.")
        return self.options.oversize or (wanted if wanted in OVERSIZE else None)

    def read_whole(self, name: str) -> int | None:
        value = self.choices.get(name)
        if value is None or (isinstance(value, int) and not isinstance(value, bool) and value >= 0):
            return value
        self._note_fault(name, "not a whole number", "Write it with digits alone.")
        return None

    def read_seconds(self) -> float | None:
        value = self.choices.get("seconds")
        if value is None or (isinstance(value, int | float) and not isinstance(value, bool) and 0 <= value < 86_400):
            return None if value is None else float(value)
        self._note_fault("seconds", "not a time in seconds", "Write it with digits alone.")
        return None

    def read_flag(self, name: str) -> bool:
        value = self.choices.get(name, False)
        if not isinstance(value, bool):
            self._note_fault(name, "neither true nor false", "Write true or false.")
        return value is True

    def read_words(self, name: str) -> frozenset[str]:
        value = self.choices.get(name, [])
        if isinstance(value, list) and all(isinstance(entry, str) for entry in value):
            return frozenset(value)
        self._note_fault(name, "not a list of words", 'Write it as ["low-resolution"].')
        return frozenset()

    def _note_fault(self, name: str, what: str, remedy: str) -> None:
        read = str(self.choices.get(name))
        self.faults.append(Finding(what, remedy, kind="bad-option", file=FILE, column=name, read=read, exit=Exit.USAGE))


def encode_choices(choices: Mapping[str, Any]) -> bytes:
    """The file, in the order of `NAMES`."""
    lines = ["# What this batch is made with; the commands read it too."]
    lines += [f"{name} = {_spell_value(choices[name])}" for name in NAMES if name in choices]
    return ("\n".join(lines) + "\n").encode("utf-8")


def _spell_value(value: Any) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, int | float):
        return str(value)
    if isinstance(value, list):
        return f"[{', '.join(_spell_value(entry) for entry in value)}]"
    # TOML 1.0: a basic string escapes the quotation mark, the backslash and controls.
    escaped = "".join(f"\\u{ord(c):04X}" if ord(c) < 32 or ord(c) == 127 or c in '"\\' else c for c in str(value))
    return f'"{escaped}"'
