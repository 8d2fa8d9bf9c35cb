"""What a desk tells: its status line by line, and each refusal in the words of the text beside what was refused."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import pytest

from desk.fake import png
from impose.desk import monitor
from impose.desk.inbox_rules import read_file_name
from impose.desk.monitor import DeskStatus
from impose.desk.remedies import WORDINGS
from impose.desk.watch_options import WatchOptions
from impose.errors import Exit, Trouble
from impose.remedies import word_remedies

QUIET: dict[str, Any] = {
    "desk": "/shop/desk", "watcher": {"state": "watching", "pid": 7, "host": "press", "when": "20:15"}, "inbox": [],
    "asking": [], "making": [], "waiting": [], "unprinted": [], "commands": [], "refused": [], "delivered": [],
    "counts": {"waiting": 0, "making": 0, "delivered": 5, "refused": 2}, "paper": [],
}  # fmt: skip
LAST = "in all: 5 drops made, 2 refused"


@pytest.mark.parametrize(
    ("changed", "lines"),
    [
        ({}, []),
        ({"asking": [{"number": 4, "name": "owl", "warnings": ["a", "b", "c", "d"], "folder": "/x/out"}]},
         ["asks: delivery 4 (owl): a; b; c", "      look at /x/out, then: accept it"]),
        ({"making": [{"name": "owl", "number": 3}]}, ["being made: owl, number 3"]),
        ({"inbox": [{"path": "a.png", "why": "still arriving"}]}, ["in the inbox: a.png: still arriving"]),
        ({"waiting": [{"path": "a.png", "why": "held"}], "counts": QUIET["counts"] | {"waiting": 1}},
         ["waiting: a.png (held)"]),
        ({"waiting": [{"path": "a.png", "why": "held"}], "counts": QUIET["counts"] | {"waiting": 4}},
         ["waiting: a.png (held)", "waiting: 3 more"]),
        ({"unprinted": ["owl, number 3, on a4"]}, ["to be printed: owl, number 3, on a4"]),
        ({"commands": [{"delivery": 3, "why": ""}, {"delivery": 4, "why": "it failed"}]},
         ["command for delivery 3: due", "command for delivery 4: it failed"]),
        ({"delivered": [{"name": "owl", "number": 3, "code": "3F7K", "transfers": 2, "sheets": 1}]},
         ["delivered: owl, number 3, batch 3F7K: transfers 2, sheets 1"]),
    ],
)  # fmt: skip
def test_the_status_has_a_line_for_each_thing_that_a_person_has_to_know(changed: Any, lines: list[str]) -> None:
    with word_remedies(WORDINGS):
        told = DeskStatus(QUIET | changed).list_lines()
    assert told[0] == "/shop/desk: watched by process 7 on press"
    assert told[1:-1] == lines
    assert told[-1] == LAST


def test_what_is_left_of_each_paper_stands_last() -> None:
    told = DeskStatus(QUIET | {"paper": [{"shown": "12 sheets", "paper": "a4"}]}).list_lines()
    assert told[-2:] == [LAST, "paper left: 12 sheets of a4"]


@pytest.mark.parametrize(
    ("beat", "state", "told"),
    [
        ({}, "stopped", "nobody watches it; "),
        ({"state": "watching", "at": 1000.0}, "watching", "watched by process 7 on press"),
        ({"state": "watching", "at": 941.0}, "watching", "watched by process 7 on press"),
        ({"state": "watching", "at": 939.0}, "silent", "nothing heard of process 7 on press since 20:15; "),
        ({"state": "watching", "at": 1061.0}, "silent", "nothing heard of process 7 on press since 20:15; "),
        ({"state": "stopping", "at": 1000.0}, "stopping", "process 7 on press is about to stop"),
        ({"state": "in trouble", "at": 1000.0, "trouble": "disk full"}, "in trouble",
         "process 7 on press cannot go on for now"),
        ({"state": "stopped", "at": 5.0}, "stopped", "nobody watches it; "),
    ],
)  # fmt: skip
def test_who_watches_is_told_by_the_last_beat_within_a_minute(beat: Any, state: str, told: str) -> None:
    known = beat and {"pid": 7, "host": "press", "when": "20:15"} | beat
    seen = monitor._judge_heartbeat(known, 1000.0)
    assert seen["state"] == state
    with word_remedies(WORDINGS):
        lines = DeskStatus(QUIET | {"watcher": seen}).list_lines()
    assert lines[0].startswith(f"/shop/desk: {told}")
    assert [line for line in lines if "TROUBLE" in line] == (["TROUBLE: disk full"] if "trouble" in beat else [])


@pytest.mark.parametrize(
    ("files", "name", "why"),
    [
        ({"club/a.csv": "art\n", "club/b.csv": "art\n"}, "club", "It holds 2 batch files. Drop one folder for each"),
        ({"club/owl (0 copies).png": png(1)}, "club", "asks in its name for something that cannot be made: copies"),
        ({"club/owl (9 parsecs, 2 copies).png": png(1)}, "club", "brackets that cannot be read whole"),
        ({"club/owl.png": png(1)[:40], "club/a.csv": "art\n"}, "club", "the file "),
        ({"club/notes.txt": "x"}, "club", "It holds no batch file, and how large to print its pictures is not said"),
        ({"club/a.csv": "art,width\nowl.png,5cm\n"}, "club", "Its artwork is missing: .*owl.png"),
        ({"left-chest/a.csv": "art,width\nowl.png,5cm\n"}, "a.csv", "Its artwork is missing: .*owl.png"),
        ({"left-chest/a.csv": "art,width\nowl.png,5cm\n", "left-chest/owl.png": png(1)[:40]}, "a",
         "Its artwork “owl.png” cannot be used"),
    ],
)  # fmt: skip
def test_what_can_never_be_made_is_refused_with_its_reason(bed: Any, files: Any, name: str, why: str) -> None:
    bed.start(patience_s=6.0)
    for path, content in files.items():
        bed.drop(path, content)
    bed.turns(40)
    assert name in bed.refused
    assert re.search(why, bed.why(name)), bed.why(name)


def test_a_page_of_a_pdf_is_named_in_its_brackets_and_in_no_other_name() -> None:
    named = read_file_name("poster (page 2, 90 mm).pdf")
    assert (named.page, named.width_mm, named.copies) == (2, 90, None)
    assert read_file_name("poster (page 2).pdf").page == 2
    assert read_file_name("poster (page 2).png").page is None
    with pytest.raises(Trouble):
        read_file_name("poster (page 2, page 3).pdf")
    with pytest.raises(Trouble):
        read_file_name("poster (2 copies) (3 copies).png")


def test_sheets_go_to_a_folder_or_to_a_printer_and_not_to_both(tmp_path: Path) -> None:
    WatchOptions(print_folder=tmp_path).check_options()
    with pytest.raises(Trouble, match="a print folder and a printer are both given") as caught:
        WatchOptions(print_folder=tmp_path, print_to="ipp://localhost/ipp/print").check_options()
    assert caught.value.exit is Exit.USAGE
