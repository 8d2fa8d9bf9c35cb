"""Whatever an earlier version wrote is opened by this one; what a newer one wrote is refused with a sentence.

The samples are of version 0.1.0 and of each version released since, made once by tests/samples/make_samples.py.
"""

from __future__ import annotations

import hashlib
import json
import shutil
import sqlite3
from pathlib import Path

import pytest
from PIL import features

from impose.art.cache import PictureCache, compute_code_fingerprint
from impose.art.prepare import PreparationOptions
from impose.errors import Severity, Trouble
from impose.files import find_shipped_profiles
from impose.ledger.drop_rows import DROPS
from impose.ledger.drops import DropLedger
from impose.ledger.print_jobs import PRINT_JOBS
from impose.ledger.stock import STOCK, list_movements, read_counts
from impose.ledger.store import FRAME, open_ledger
from impose.orders.column_map import read_column_map
from impose.page.batch_files import BatchFiles
from impose.profiles.profiles import load_profiles
from impose.run.agreed_answers import read_agreed
from impose.run.options import Options
from impose.run.press_ticks import read_ticks
from impose.run.shop_unpack import unpack_shop
from impose.sheet.record_reader import read_record_content

SAMPLES = sorted(path for path in (Path(__file__).parent / "samples").glob("[0-9]*"))
PARTS = (STOCK, DROPS, PRINT_JOBS)


@pytest.fixture(params=SAMPLES, ids=lambda path: path.name)
def kept(request, tmp_path: Path) -> Path:
    """A copy of what one version wrote: opening may bring it up to date."""
    return Path(shutil.copytree(request.param, tmp_path / "kept"))


@pytest.fixture
def told(kept: Path) -> dict[str, object]:
    """What its maker knew of it, from outside."""
    return json.loads((kept / "told.json").read_text("utf-8"))


def test_ledgers(kept: Path, told) -> None:
    with open_ledger(kept / "ledger.db", PARTS) as ledger, ledger.begin_read() as db:
        (left,) = read_counts(db).values()
        assert left == told["left"]
        assert [(moved.kind, moved.change) for moved in list_movements(db)][-2:] == [("set", 20), ("made", -1)]
    with open_ledger(kept / "desk.db", PARTS) as ledger:
        drops = DropLedger(ledger)
        assert (drops.read_drop(1).state, drops.read_drop(1).delivery) == ("delivered", 1)
        assert [Path(held.name).name for held in drops.list_files(1)] == ["owl (2 copies, 30 mm).png"]


def test_records_are_read_and_reprinted(run, kept: Path, told, tmp_path: Path) -> None:
    content = (kept / "batch" / "sheets" / "batch.json").read_bytes()
    record = read_record_content(content, "batch.json")
    assert (record.code, len(record.transfers)) == (told["code"], told["transfers"])
    out = tmp_path / "again"
    words = ("--profiles", kept / "profiles", "--ledger", tmp_path / "none.db")
    code, _, err = run("reprint", kept / "batch" / "sheets", "--sheet", "1", *words, "-o", out)
    assert code == 0, err
    before, now = (
        [(t["row"], t["ink_mm"]["w"], t["ink_mm"]["h"]) for sheet in values["sheets"] for t in sheet["transfers"]]
        for values in (json.loads(content), json.loads((out / "batch.json").read_text("utf-8")))
    )
    assert sorted(now) == sorted(before)


def test_batch_folders(run, kept: Path) -> None:
    code, out, err = run("check", kept / "batch" / "orders.csv", "--profiles", kept / "profiles", "--json")
    assert code in (0, 3), err
    assert not [finding for finding in json.loads(out)["findings"] if finding["severity"] == "stop"], out
    state = BatchFiles(kept / "batch").read_state()
    assert len(state.orders.rows) == 3
    assert state.choices["tear"] == "tight"
    assert [rule.column for rule in read_column_map(kept / "batch" / "columns.toml").rules] == ["order", "art"]
    (agreed,) = read_agreed(kept / "batch" / "orders-agreed.json")
    assert (agreed.order, agreed.by, agreed.on) == ("Crew", "Ada", "2026-11-28")


def test_ticks_of_the_press(kept: Path, told) -> None:
    ticks = read_ticks(kept / "batch").list_ticks_of(told["code"])
    assert sorted((tick.pressed, tick.spoiled or "") for tick in ticks.values()) == [(False, "paper"), (True, "")]
    path = kept / "batch" / "press.json"
    path.write_text(path.read_text("utf-8").replace("impose-press/1", "impose-press/2"), "utf-8")
    with pytest.raises(Trouble, match="a newer version of this program wrote the ticks"):
        read_ticks(kept / "batch")


def test_profiles_loose_and_packed(kept: Path, tmp_path: Path) -> None:
    own = load_profiles(find_shipped_profiles(), kept / "profiles")
    assert (own.settings.currency, own.find_printer("studio").bottom_mm) == ("GBP", 12.5)
    names, _ = unpack_shop(kept / "shop.zip", tmp_path / "there", Options())
    assert {name: (tmp_path / "there" / name).read_bytes() for name in names} == {
        path.name: path.read_bytes() for path in (kept / "profiles").iterdir()
    }


def test_a_cached_picture_of_another_version_is_a_miss(kept: Path, tmp_path: Path, monkeypatch) -> None:
    """Made again, and neither misread nor removed: the version of before may go on using it."""
    entry = (kept / "cached.picture").read_bytes()
    sha256 = hashlib.sha256((kept / "batch" / "owl.png").read_bytes()).hexdigest()
    cache, recipe = PictureCache(tmp_path), PreparationOptions()
    theirs = cache._entry_path(sha256, recipe, "")
    theirs.write_bytes(entry)
    monkeypatch.setattr("impose.art.cache.__version__", "0.0.9")
    compute_code_fingerprint.cache_clear()
    try:
        assert cache.get_picture(sha256, recipe) is None
        assert theirs.read_bytes() == entry
    finally:
        compute_code_fingerprint.cache_clear()


def test_what_a_picture_was_made_by_names_the_colour_library() -> None:
    """As Pillow itself tells it."""
    assert features.version("littlecms2") in compute_code_fingerprint().split()


@pytest.mark.parametrize("change", [f"PRAGMA user_version = {FRAME + 1}", "UPDATE part SET version = version + 1"])
def test_a_newer_ledger_is_refused_and_left_alone(kept: Path, change: str) -> None:
    with sqlite3.connect(kept / "ledger.db") as db:
        db.execute(change)
    db.close()
    before = (kept / "ledger.db").read_bytes()
    with pytest.raises(Trouble, match="a newer version of this program wrote it"):
        open_ledger(kept / "ledger.db", PARTS)
    assert (kept / "ledger.db").read_bytes() == before


def test_a_newer_record_is_refused(kept: Path) -> None:
    text = (kept / "batch" / "sheets" / "batch.json").read_text("utf-8")
    with pytest.raises(Trouble, match="this record is of version 2"):
        read_record_content(text.replace("impose-record/1", "impose-record/2").encode(), "batch.json")


def test_newer_answers_are_not_taken_for_damaged_ones(kept: Path) -> None:
    path = kept / "batch" / "orders-agreed.json"
    path.write_text(path.read_text("utf-8").replace("impose-agreed/1", "impose-agreed/2"), "utf-8")
    with pytest.raises(Trouble, match="a newer version of this program wrote them") as caught:
        read_agreed(path)
    assert caught.value.findings[0].severity is Severity.WARN


@pytest.mark.parametrize("file", ["batch/batch.toml", "batch/columns.toml", "profiles/settings.toml"])
def test_a_key_of_a_newer_version_is_named(run, kept: Path, file: str) -> None:
    path = kept / file
    path.write_text('newer_than_this = "x"\n' + path.read_text("utf-8"), "utf-8")
    words = ("check", kept / "batch" / "orders.csv", "--profiles", kept / "profiles")
    code, _, err = run(*words, *(("--columns", path) if "columns" in file else ()))
    assert (code, "newer_than_this" in err) == (2, True), err
