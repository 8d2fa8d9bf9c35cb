"""Parts of the page by themselves: the icon, the lock, changes of a batch, findings in its words, notices, exports."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest

from each_case import try_each
from impose.errors import Finding, Trouble
from impose.orders.editable_table import NEW_HEADINGS, EditableTable, TableStyle
from impose.orders.headings import SPELLINGS
from impose.orders.table_file import read_table_file
from impose.page import icon, onto_requests
from impose.page.batch_state import BatchState, EditHistory, apply_operations
from impose.page.events import MOST_WAITING, EventHub, Listener
from impose.page.finding_values import list_plain_finding
from impose.page.handlers import make_refusal_of_error
from impose.page.import_page import ImportedTable, _translate_rows
from impose.page.open_batch import _carry_kits
from impose.page.refusal import Refusal
from impose.page.state_file import RunningServer, StateFile
from impose.page.static_handlers import make_address
from impose.run.options import Options
from impose.run.reuse_sheets import CLEAR_MM, OntoRequest
from page.conftest import Bed, Tab


def test_an_icon_is_put_where_the_person_looks_whether_or_not_one_is_there(tmp_path, monkeypatch):
    """Desktop Entry Specification 1.5: the group, a key a line, Exec quoted; XDG user dirs name the folder."""
    monkeypatch.setattr(sys, "platform", "linux")
    monkeypatch.setattr(sys, "executable", '/opt/a "b" $c`d\\e%/python')
    monkeypatch.setenv("XDG_DESKTOP_DIR", str(tmp_path / "Schreibtisch"))
    for _ in range(2):
        path = icon.make_icon()
        assert path == tmp_path / "Schreibtisch" / "Impose.desktop"
        lines = path.read_text("utf-8").splitlines()
        assert lines[0] == "[Desktop Entry]"
        values = dict(line.split("=", 1) for line in lines[1:])
        assert (values["Type"], values["Name"], values["Terminal"]) == ("Application", "Impose", "false")
        assert values["Exec"] == '"/opt/a \\"b\\" \\$c\\`d\\\\e%%/python" "-P" "-m" "impose" "open"'
        assert Path(values["Icon"]).is_file()
        assert path.stat().st_mode & 0o777 == 0o755
    # A folder that is no whole path is none; then the system is asked, then the usual one is taken.
    monkeypatch.setenv("XDG_DESKTOP_DIR", "Desktop")
    monkeypatch.setenv("HOME", str(tmp_path))
    assert icon.find_desktop() == tmp_path / "Desktop"
    monkeypatch.delenv("XDG_DESKTOP_DIR")
    said = subprocess.CompletedProcess([], 0, f"{tmp_path}/Bureau\n", "")
    monkeypatch.setattr(icon.subprocess, "run", lambda *_, **__: said)
    assert icon.find_desktop() == tmp_path / "Bureau"
    monkeypatch.setattr(sys, "platform", "darwin")
    assert icon.find_desktop() == tmp_path / "Desktop"
    path = icon.make_icon(tmp_path / "new" / "folder")
    assert path.name == "Impose.command"
    assert path.read_text("utf-8").startswith("#!/bin/sh\n")
    assert "exec '/opt/a \"b\" $c`d\\e%/python' -P -m impose open\n" in path.read_text("utf-8")
    monkeypatch.setattr(sys, "platform", "win32")
    text = icon.make_icon(tmp_path).read_bytes()
    assert text.endswith(b'\\e%%/python" -P -m impose open\r\n')
    assert text.count(b"\n") == text.count(b"\r\n") == 4


@pytest.mark.skipif(os.name == "nt", reason="rights of files")
def test_one_server_runs_and_only_its_owner_reads_where(tmp_path):
    one, other = StateFile(tmp_path / "state"), StateFile(tmp_path / "state")
    other.release_lock()  # nothing is held, so nothing is freed
    assert one.read_server() is None
    assert one.take_lock()
    assert not other.take_lock()
    server = RunningServer(8123, "secret", 77)
    one.write_server(server)
    assert other.read_server() == server
    assert one.path.stat().st_mode & 0o777 == 0o600
    other.release_lock()
    assert one.path.exists()
    for mode in (0o640, 0o604):
        one.path.chmod(mode)
        assert other.read_server() is None
    one.path.chmod(0o600)
    for damaged in ("", "{}", '{"port": "x", "secret": "s", "pid": 1}', "[]"):
        one.path.write_text(damaged)
        assert other.read_server() is None
    one.write_server(server)
    one.release_lock()
    assert not one.path.exists()
    assert other.take_lock()
    other.release_lock()


EMPTY = BatchState(EditableTable(NEW_HEADINGS, style=TableStyle()))


def make_rows(*arts: str) -> BatchState:
    return apply_operations(EMPTY, [{"op": "add", "cells": {"art": art}} for art in arts])[0]


def list_arts(state: BatchState) -> list[str]:
    return [state.orders.read_values(row)["art"] for row in state.orders.list_shown()]


def test_changes_of_a_batch_are_made_in_their_order_and_new_rows_are_named():
    state, made = apply_operations(
        make_rows("a", "b", "c"),
        [
            {"op": "add", "new": "mine", "cells": {"art": "d", "copies": 2, "note": True}, "after": "r1"},
            {"op": "add", "cells": {"art": "e"}, "after": "mine"},
            {"op": "set", "id": "mine", "column": "width", "value": 90.5},
            {"op": "move", "ids": ["r1", "mine"], "after": "r3"},
            {"op": "remove", "ids": ["r2"]},
            {"op": "column", "heading": "accept"},
            {"op": "column", "heading": "accept"},
            {"op": "column", "heading": "note", "remove": True},
            {"op": "column", "heading": "none", "remove": True},
            {"op": "add", "table": "kits", "cells": {"kit": "team", "art": "b"}},
            {"op": "choose", "name": "papers", "value": ["a4", 3]},
            {"op": "choose", "name": "gap", "value": 4},
        ],
    )
    assert list_arts(state) == ["e", "c", "a", "d"]
    assert made == {"mine": "r4", "r5": "r5", "k1": "k1"}
    last = state.orders.read_values(state.orders.list_shown()[-1])
    assert (last["copies"], last["width"]) == ("2", "90.5")
    assert [key for key in state.orders.keys if key in ("accept", "note")] == ["accept"]
    assert state.kits is not None
    assert len(state.kits.list_shown()) == 1
    assert state.choices == {"papers": ["a4", "3"], "gap": 4}
    for nothing in (None, "", []):
        assert "gap" not in apply_operations(state, [{"op": "choose", "name": "gap", "value": nothing}])[0].choices
    first = apply_operations(state, [{"op": "move", "ids": ["r4"], "after": None}])[0]
    assert list_arts(first) == ["d", "e", "c", "a"]


@try_each(
    "operation, status",
    [
        ("fly", 400),
        ({"op": "fly"}, 400),
        ({"op": "add", "table": "shop", "cells": {}}, 400),
        ({"op": "add", "cells": ["a"]}, 400),
        ({"op": "add", "cells": {"art": ["a"]}}, 400),
        ({"op": "set", "id": "r1", "column": "width", "value": {}}, 400),
        ({"op": "set", "id": "r1", "column": "", "value": "9"}, 400),
        ({"op": "set", "id": 1, "column": "width", "value": "9"}, 400),
        ({"op": "set", "id": "r9", "column": "width", "value": "9"}, 409),
        ({"op": "remove", "ids": "r1"}, 400),
        ({"op": "remove", "ids": ["r1", 2]}, 400),
        ({"op": "remove"}, 400),
        ({"op": "move", "ids": ["r1"], "after": "r9"}, 409),
        ({"op": "move", "ids": 3}, 400),
        ({"op": "choose", "name": "papers", "value": {}}, 400),
        ({"op": "choose", "value": "a4"}, 400),
        ({"op": "column"}, 400),
    ],
)
def test_a_change_that_cannot_be_meant_is_refused(operation, status):
    with pytest.raises(Refusal) as caught:
        apply_operations(make_rows("a"), [operation])
    assert caught.value.status == status


def test_undo_goes_back_step_by_step_and_typing_is_one_step(monkeypatch):
    now = [10.0]
    monkeypatch.setattr("impose.page.batch_state.time.monotonic", lambda: now[0])
    history = EditHistory(EMPTY)
    one, two, three, four = (make_rows(*"abcd"[:n]) for n in (1, 2, 3, 4))
    history.apply_state(one, "one", "width r1")
    now[0] = 11.9
    history.apply_state(two, "two", "width r1")
    now[0] = 13.8  # less than two seconds after the last
    history.apply_state(three, "three", "width r1")
    assert [step.label for step in history.back] == ["one"]
    now[0] = 15.8
    history.apply_state(four, "four", "width r1")
    assert ([step.label for step in history.back], history.revision) == (["one", "four"], 5)
    history.undo_step()
    assert (history.state, history.undo_label, history.redo_label) == (three, "one", "four")
    history.undo_step()
    assert (history.state, history.undo_label) == (EMPTY, None)
    with pytest.raises(Refusal):
        history.undo_step()
    history.redo_step()
    assert (history.state, history.redo_label, history.revision) == (three, "four", 8)
    # After a step back a change is one of its own, and what was undone is gone.
    history.apply_state(one, "five", "width r1")
    assert ([step.label for step in history.back], history.redo_label) == (["one", "five"], None)
    with pytest.raises(Refusal):
        history.redo_step()
    for n in range(400):
        history.apply_state(two, f"n{n}")
    assert (len(history.back), history.undo_label) == (300, "n399")


def test_a_finding_is_told_with_its_lines_only_where_rows_are_not_shown():
    class Names:
        def find_name(self, line: int) -> str | None:
            return {3: "r2"}.get(line)

    finding = Finding("row 3 is for Ada", "Give it a font (row 3).", kind="missing-font", row=3, column="art", read="x")
    told = list_plain_finding(finding)
    assert (told["what"], told["remedy"], told["row"], told["rows"]) == (
        "Row 3 is for Ada.",
        "Give it a font (row 3).",
        None,
        [],
    )
    assert told["title"]
    assert not told["title"].endswith(".")
    told = list_plain_finding(finding, Names())  # type: ignore[arg-type]
    assert (told["what"], told["row"], told["rows"], told["line"]) == ("This print is for Ada.", "r2", ["r2"], 3)
    assert "3" not in told["remedy"]


def test_whatever_is_made_is_told_to_all_who_look_at_its_batch(bed: Bed) -> None:
    def make(page: Any) -> list[list[str]]:
        here, elsewhere, anyone = (Listener(batch) for batch in (bed.batch, "other", ""))
        page.events.listeners |= {here, elsewhere, anyone}
        page.made_something(page.find_batch(bed.batch), {"id": "m1"})
        page.events.listeners -= {here, elsewhere, anyone}
        return [[one.waiting.get_nowait() for _ in range(one.waiting.qsize())] for one in (here, elsewhere, anyone)]

    here, elsewhere, anyone = bed.call(make)
    made = f'event: made\ndata: {{"batch": "{bed.batch}", "made": "m1"}}\n\n'
    shop = "event: shop\ndata: {}\n\n"
    assert here[:2] == anyone[:2] == [made, shop]
    assert elsewhere == [shop]


def test_who_takes_no_notices_is_sent_away_to_begin_anew():
    """HTML, "Server-sent events": an event and its data, each a line, and an empty line."""
    hub, slow = EventHub(), Listener("b")
    hub.listeners.add(slow)
    for n in range(MOST_WAITING):
        hub.tell("n", number=n, name="Größe")
    assert slow.waiting.qsize() == MOST_WAITING
    assert slow.waiting.get_nowait() == 'event: n\ndata: {"number": 0, "name": "Größe"}\n\n'
    hub.tell("n")
    hub.tell("n")
    assert (slow.waiting.qsize(), slow.waiting.get_nowait()) == (1, None)
    hub.close()
    assert slow.waiting.get_nowait() is None


def test_what_is_wrong_in_an_export_is_told_by_line_and_heading(tmp_path):
    path = tmp_path / "shop.csv"
    path.write_text("Order;Qty;File;Who\n1001;2;crest.png;Ada\n1002;many;crest.png;\n1003;1;crest.png;Test\n")
    records, _ = read_table_file(path, SPELLINGS)
    held = ImportedTable("b", "shop.csv", tuple(records), ({"what": "before"},))
    mapped = {
        "order": {"from": "Order"},
        "art": {"from": "File"},
        "copies": {"from": "Qty", "values": {"2": "2", "1": "1"}},
    }
    rows, findings, skipped = _translate_rows(held, mapped, {"Who": ["Test"]})
    told = [(one.get("line"), one.get("column"), one.get("read"), one["what"]) for one in findings]
    assert told == [
        (3, "Qty", "many", "Not in the table of values for copies."),
        (4, "", None, "Passed over, as columns.toml says (Who: Test): row 4."),
        (None, None, None, "before"),
    ]
    assert rows == [{"order": "1001", "art": "crest.png", "copies": "2"}, {"order": "1002", "art": "crest.png"}]
    assert skipped == 1


def test_whatever_goes_wrong_is_an_answer_in_words():
    """Status codes: RFC 9110, 15.5 and 15.6; 507 of RFC 4918, 11.5. 28 is ENOSPC (POSIX)."""
    own = Refusal(409, "gone", "It is gone.")
    assert make_refusal_of_error(own, 500) is own
    found = make_refusal_of_error(Trouble(Finding("not a length", "Write 9 cm.", kind="bad-size")), 500)
    assert (found.status, found.what, found.remedy) == (422, "Not a length.", "Write 9 cm.")
    assert [one["kind"] for one in found.findings] == ["bad-size"]
    assert (
        make_refusal_of_error(OSError(28, "full"), 500).status,
        make_refusal_of_error(OSError(13, "no"), 500).status,
    ) == (507, 500)
    assert make_refusal_of_error(OSError(28, "full"), 500).what == "The disk is full."
    told = {status: make_refusal_of_error(None, status).what for status in (404, 405, 400, 500)}
    assert told == {
        404: "There is nothing here.",
        405: "That cannot be done here.",
        400: "That cannot be read.",
        500: "This is a fault of the program.",
    }


def test_what_comes_from_elsewhere_keeps_the_names_of_its_rows(bed: Bed, tab: Tab) -> None:
    before = make_kits(("team", "a"), ("club", "b"))
    after = _carry_kits(before, make_kits(("club", "b"), ("team", "c")))
    assert after is not None
    assert [after.read_values(row)["art"] for row in after.list_shown()] == ["b", "c"]
    assert after.list_shown()[0].id == before.list_shown()[1].id
    assert _carry_kits(None, after) is after
    assert _carry_kits(before, None) is None
    assert tab.get("/api/state")["printing"] is True


def test_figures_of_garments_are_shown_and_not_entered(tab: Tab) -> None:
    """They come of a file of garments: the page says where from, and takes none."""
    values = [value for garment in tab.get("/api/shop")["garments"] for value in garment["values"]]
    assert {"scale_x", "scale_y", "sizes", "drawn"} == {value["name"] for value in values}
    assert all(value["from"] and value["enter"] is False and value["kind"] == "text" for value in values)


def make_kits(*kits: tuple[str, str]) -> EditableTable:
    operations = [{"op": "add", "table": "kits", "cells": {"kit": kit, "art": art}} for kit, art in kits]
    table = apply_operations(EMPTY, operations)[0].kits
    assert table is not None
    return table


def test_which_printed_sheets_are_fed_again_is_said_in_full(tmp_path, monkeypatch):
    monkeypatch.setattr(onto_requests, "find_made", lambda folder, ident: SimpleNamespace(path=folder / ident))
    fit = {"whole": True, "flat": True, "dry": True, "made": "m1"}

    def read(**more: object) -> OntoRequest:
        return onto_requests.read_onto(tmp_path, {**fit, **more}, Options())

    assert read(sheet=2) == OntoRequest(tmp_path / "m1", (2,), CLEAR_MM)
    assert read(sheets=[3, 1], sheet=2, clear="0 mm") == OntoRequest(tmp_path / "m1", (3, 1), 0.0)
    assert read(clear="1/2 in") == OntoRequest(tmp_path / "m1", (), 12.7)
    for wrong in ({"sheet": 0}, {"sheets": [1, "2"]}, {"sheets": 1}, {"clear": "far"}, {"dry": "yes"}, {"flat": False}):
        with pytest.raises(Refusal):
            read(**wrong)


def test_an_address_lets_in_once_and_leads_to_its_batch():
    keys = SimpleNamespace(port=8123, make_key=lambda: "once")
    page = SimpleNamespace(keys=keys)
    assert make_address(page) == "http://127.0.0.1:8123/enter?key=once"
    assert make_address(page, "b7") == "http://127.0.0.1:8123/enter?key=once&batch=b7"
