"""Of which batch a dropped list is: by the code on the labels; of several deliveries the newest, if they are alike."""

from __future__ import annotations

import os
import re
import shutil
from pathlib import Path

import pytest

from impose.desk.reprint_lists import find_record, read_list_code
from impose.errors import Trouble
from impose.run import Options, plan, produce

ROWS = "order,wearer,words,font,garment,width\nFerry,Ada,A,block,tee M,30 mm\nFerry,Bo,B,block,tee M,30 mm\n"


@pytest.fixture(scope="module")
def delivery(tmp_path_factory) -> Path:
    folder = tmp_path_factory.mktemp("listed")
    (folder / "b.csv").write_text(ROWS, "utf-8")
    options = Options(settings={"papers": ["a4"]}, steps=5, workers=1, cache=False)
    return produce(plan([folder / "b.csv"], options), folder / "out")


def read_code(delivery: Path) -> str:
    match = re.search(r'^"code": "(\w{4})"', (delivery / "batch.json").read_text("utf-8"), re.MULTILINE)
    assert match
    return match[1]


@pytest.fixture
def shelves(delivery, tmp_path) -> Path:
    """Two deliveries of one batch, beside things that are none."""
    for name in ("one", "two"):
        (tmp_path / "sheets" / name).mkdir(parents=True)
        shutil.copy(delivery / "batch.json", tmp_path / "sheets" / name)
    (tmp_path / "sheets" / "empty").mkdir()
    (tmp_path / "sheets" / "notes.txt").write_text("x")
    return tmp_path / "sheets"


def rename_wearer(folder: Path, was: str, now: str) -> None:
    path = folder / "batch.json"
    text = path.read_text("utf-8")
    assert f'"wearer": "{was}"' in text
    path.write_text(text.replace(f'"wearer": "{was}"', f'"wearer": "{now}"'), "utf-8")


def list_spoiled(folder: Path, *ids: str) -> Path:
    path = folder / "list.csv"
    path.write_text("id,spoiled\n" + "".join(f"{name},x\n" for name in ids), "utf-8")
    return path


@pytest.mark.parametrize("newest", ["one", "two"])
def test_of_deliveries_that_would_print_the_same_the_newest_is_taken(delivery, shelves, tmp_path, newest):
    listed = list_spoiled(tmp_path, f"{read_code(delivery)}-T001")
    for change in (False, True):  # what is not on the list may differ
        for at, name in enumerate(sorted(("one", "two"), key=lambda name: name == newest)):
            if change:
                rename_wearer(shelves / name, "Bo", f"Bo {name}")
            os.utime(shelves / name / "batch.json", (1_700_000_000 + at, 1_700_000_000 + at))
        assert find_record(listed, shelves).path.parent.name == newest


@pytest.mark.parametrize("case", [str, str.lower])
def test_two_batches_that_share_a_code_are_not_taken_for_each_other(delivery, shelves, tmp_path, case):
    rename_wearer(shelves / "two", "Ada", "Eva")
    with pytest.raises(Trouble) as trouble:
        find_record(list_spoiled(tmp_path, case(f"{read_code(delivery)}-T001")), shelves)
    (finding,) = trouble.value.findings
    assert finding.what == "several different batches have this code: one, two"
    assert (finding.kind, finding.file) == ("reprint", "list.csv")
    assert find_record(list_spoiled(tmp_path, f"{read_code(delivery)}-T002"), shelves)


@pytest.mark.parametrize(
    ("text", "code"),
    [
        ("id,spoiled\nCWK8-T001,x\n", "CWK8"),
        ("id,spoiled\ncwk8-t001,\n", "CWK8"),
        ("id,spoiled\n'CWK8-T001,x\n", "CWK8"),
        ("order,id,spoiled\nFerry, CWK8-3.1 ,x\n", "CWK8"),
        ("ID;Spoiled\nT001;x\nCWK8-T002;\n", "CWK8"),
        ("id,spoiled\nT001,x\n", ""),
        ("id,spoiled\n", ""),
        ("spoiled,id\nx\nx,CWK8-T002\n", "CWK8"),
        ("order,art,copies\nCWK8-T001,a.png,1\n", None),
        ("", None),
    ],
)
def test_a_list_is_known_by_its_headings_and_its_batch_by_the_first_label(tmp_path, text, code):
    path = tmp_path / "list.csv"
    path.write_text(text, "utf-8")
    assert read_list_code(path, mapped=False) == code
    assert read_list_code(path, mapped=True) == code


def test_ids_alone_are_a_list_unless_a_column_map_says_what_headings_mean(tmp_path):
    path = tmp_path / "list.csv"
    path.write_text("id\nCWK8-T001\n", "utf-8")
    assert read_list_code(path, mapped=False) == "CWK8"
    assert read_list_code(path, mapped=True) is None
