"""What a batch is while it is edited: rows, kits and choices as one value, the changes made to it, undo and redo."""

from __future__ import annotations

import time
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from impose import values
from impose.orders.editable_table import NEW_KITS, EditableTable, TableStyle
from impose.page.refusal import Refusal
from impose.values import FrozenStruct, replace

MOST_UNDO = 300
MERGE_S = 2.0
"""Changes of the same field within so many seconds are one step of undoing."""

Choice = str | bool | int | float | list[str]


class BatchState(FrozenStruct):
    """A batch at one moment; `kits` is None where there is no file of them."""

    orders: EditableTable
    kits: EditableTable | None = None
    choices: Mapping[str, Choice] = values.field(default_factory=dict)


class UndoStep(FrozenStruct):
    """A state to go back to, what the change away from it was, and when."""

    state: BatchState
    label: str
    merge: str = ""
    at: float = 0.0


@dataclass(slots=True)
class EditHistory:
    """The state now, and the ways back and forth. `revision` grows with every change."""

    state: BatchState
    revision: int = 1
    back: list[UndoStep] = field(default_factory=list)
    forth: list[UndoStep] = field(default_factory=list)

    @property
    def undo_label(self) -> str | None:
        """What undoing would undo."""
        return self.back[-1].label if self.back else None

    @property
    def redo_label(self) -> str | None:
        """What redoing would do again."""
        return self.forth[-1].label if self.forth else None

    def apply_state(self, state: BatchState, label: str, merge: str = "") -> None:
        """Go to a new state; with the same `merge` soon after the last change it is one step with it."""
        now = time.monotonic()
        last = self.back[-1] if self.back else None
        if merge and last is not None and last.merge == merge and now - last.at < MERGE_S and not self.forth:
            self.back[-1] = replace(last, at=now)
        else:
            self.back.append(UndoStep(self.state, label, merge, now))
            del self.back[:-MOST_UNDO]
        self.forth.clear()
        self._go_to(state)

    def undo_step(self) -> None:
        """Go back one step. Raises `Refusal` where there is none."""
        self._go_step(self.back, self.forth, "There is nothing to undo.")

    def redo_step(self) -> None:
        """Go forth one step again. Raises `Refusal` where there is none."""
        self._go_step(self.forth, self.back, "There is nothing to do again.")

    def _go_step(self, source: list[UndoStep], other: list[UndoStep], none: str) -> None:
        if not source:
            raise Refusal(409, "nothing", none)
        step = source.pop()
        other.append(UndoStep(self.state, step.label))
        self._go_to(step.state)

    def _go_to(self, state: BatchState) -> None:
        self.state = state
        self.revision += 1


def apply_operations(state: BatchState, operations: Sequence[Any]) -> tuple[BatchState, dict[str, str]]:
    """The state after all operations, and the names that new rows got. Raises `Refusal` and changes nothing."""
    made: dict[str, str] = {}
    for operation in operations:
        if not isinstance(operation, dict):
            raise _make_malformed("an operation is no object")
        try:
            state = _apply_operation(state, operation, made)
        except LookupError:
            what = "This row is not there any more."
            raise Refusal(409, "gone", what, "It was removed elsewhere; nothing was changed.") from None
    return state, made


def _apply_operation(state: BatchState, operation: Mapping[str, Any], made: dict[str, str]) -> BatchState:
    kind = operation.get("op")
    if kind == "choose":
        return _apply_choice(state, operation)
    name = operation.get("table", "rows")
    if name not in ("rows", "kits"):
        raise _make_malformed("no such table")
    table = state.orders if name == "rows" else state.kits or make_kits_table()
    table = _change_table(table, kind, operation, made)
    return replace(state, orders=table) if name == "rows" else replace(state, kits=table)


def make_kits_table() -> EditableTable:
    """A table of kits that begins here."""
    return EditableTable(NEW_KITS, style=TableStyle(), prefix="k")


def _change_table(
    table: EditableTable, kind: object, operation: Mapping[str, Any], made: dict[str, str]
) -> EditableTable:
    if kind == "set":
        ident = _read_name(operation, "id", made)
        return table.set_cell(ident, _read_text(operation, "column"), _read_cell(operation.get("value")))
    if kind == "add":
        cells = operation.get("cells", {})
        if not isinstance(cells, dict):
            raise _make_malformed("the cells are no object")
        after = operation.get("after", ...)
        after = made.get(after, after) if isinstance(after, str) else after
        table, ident = table.add_row({str(key): _read_cell(value) for key, value in cells.items()}, after)
        made[str(operation.get("new", ident))] = ident
        return table
    if kind == "remove":
        return table.remove_rows(_read_names(operation, made))
    if kind == "move":
        after = operation.get("after")
        return table.move_rows(_read_names(operation, made), None if after is None else made.get(after, str(after)))
    if kind == "column":
        heading = _read_text(operation, "heading")
        if not operation.get("remove"):
            return table if heading in table.keys else table.add_column(heading)
        return table.remove_column(heading) if heading in table.keys else table
    raise _make_malformed("no such operation")


def _apply_choice(state: BatchState, operation: Mapping[str, Any]) -> BatchState:
    name, value = _read_text(operation, "name"), operation.get("value")
    choices = {key: choice for key, choice in state.choices.items() if key != name}
    if value not in (None, "", []):
        if not isinstance(value, str | bool | int | float | list):
            raise _make_malformed("a choice that is no value")
        choices[name] = [str(entry) for entry in value] if isinstance(value, list) else value
    return replace(state, choices=choices)


def _read_name(operation: Mapping[str, Any], key: str, made: Mapping[str, str]) -> str:
    name = _read_text(operation, key)
    return made.get(name, name)


def _read_names(operation: Mapping[str, Any], made: Mapping[str, str]) -> list[str]:
    names = operation.get("ids")
    if not isinstance(names, list) or not all(isinstance(name, str) for name in names):
        raise _make_malformed("ids is no list of names")
    return [made.get(name, name) for name in names]


def _read_text(operation: Mapping[str, Any], key: str) -> str:
    value = operation.get(key)
    if not isinstance(value, str) or not value:
        raise _make_malformed(f"{key} is missing")
    return value


def _read_cell(value: object) -> str:
    """A cell as it stands in a file: a line break within would be read as a space, so that it is one."""
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if not isinstance(value, str | int | float):
        raise _make_malformed("a cell that is no text")
    return " ".join(str(value).splitlines())


def _make_malformed(what: str) -> Refusal:
    return Refusal(400, "malformed", f"The page sent something that cannot be read: {what}.", "Reload the page.")
