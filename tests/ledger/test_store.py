"""The ledger's file: refused when it is not ours, kept whole when a writer dies, sound on a share."""

from __future__ import annotations

import os
import signal
import sqlite3
import subprocess
import sys
import threading

import pytest

from impose.errors import Exit, Trouble
from impose.ledger.store import APPLICATION_ID, LedgerPart, open_ledger
from waiting import LONGEST_S

ONE = LedgerPart("shelf", (("CREATE TABLE shelf (name TEXT PRIMARY KEY, left INTEGER NOT NULL) STRICT",),))
TWO = LedgerPart("shelf", (*ONE.steps, ("ALTER TABLE shelf ADD COLUMN note TEXT NOT NULL DEFAULT ''",)))


def count(ledger) -> int:
    with ledger.begin_read() as db:
        return db.execute("SELECT count(*) FROM shelf").fetchone()[0]


def add(ledger, name: str) -> None:
    with ledger.begin_change() as db:
        db.execute("INSERT INTO shelf (name, left) VALUES (?, 1)", (name,))


def fill(ledger) -> None:
    with ledger.begin_change() as db:
        db.executemany("INSERT INTO shelf VALUES (?, 1)", [(f"paper {number}",) for number in range(300)])


def refused(path, parts=(ONE,), busy=0.1) -> str:
    before = path.read_bytes() if path.is_file() else None
    with pytest.raises(Trouble) as caught:
        open_ledger(path, parts, busy)
    assert caught.value.exit is Exit.SYSTEM
    assert len(caught.value.findings) == 1
    assert caught.value.findings[0].remedy
    assert before is None or path.read_bytes() == before
    return str(caught.value)


def test_journal_and_header_are_as_a_share_needs(tmp_path):
    with open_ledger(tmp_path / "deep" / "l.db", [ONE]) as ledger, ledger.begin_read() as db:
        assert db.execute("PRAGMA journal_mode").fetchone()[0] == "delete"
        assert db.execute("PRAGMA synchronous").fetchone()[0] == 3
    header = (tmp_path / "deep" / "l.db").read_bytes()[:100]
    # SQLite file format 1.3: bytes 18 and 19 are 1 for a rollback journal, 2 for WAL; application id at 68.
    assert header[18:20] == b"\1\1"
    assert int.from_bytes(header[68:72], "big") == APPLICATION_ID


def test_what_a_block_writes_stays_or_goes_whole(tmp_path):
    with open_ledger(tmp_path / "l.db", [ONE]) as ledger:
        add(ledger, "a")
        with pytest.raises(KeyError), ledger.begin_change() as db:
            db.execute("INSERT INTO shelf VALUES ('b', 1)")
            raise KeyError
        assert count(ledger) == 1
        add(ledger, "c")
    with open_ledger(tmp_path / "l.db", [ONE]) as ledger:
        assert count(ledger) == 2


def test_a_part_is_brought_up_to_date_and_a_newer_one_refused(tmp_path):
    path = tmp_path / "l.db"
    with open_ledger(path, [ONE]) as ledger:
        add(ledger, "a")
    with open_ledger(path, [TWO]) as ledger, ledger.begin_read() as db:
        assert db.execute("SELECT note FROM shelf").fetchone()[0] == ""
    assert "newer version" in refused(path, [ONE])
    with open_ledger(path, [LedgerPart("other", (("CREATE TABLE other (n INTEGER) STRICT",),))]) as ledger:
        assert count(ledger) == 1


def test_files_that_are_not_a_ledger(tmp_path):
    text = tmp_path / "text"
    text.write_text("paper left: 12\n" * 100)
    assert "not a ledger" in refused(text)
    foreign = tmp_path / "foreign.db"
    db = sqlite3.connect(foreign)
    db.execute("CREATE TABLE shelf (x)")
    db.commit()
    db.close()
    assert "not a ledger" in refused(foreign)
    newer = tmp_path / "newer.db"
    open_ledger(newer, [ONE]).close()
    db = sqlite3.connect(newer)
    db.execute("PRAGMA user_version = 99")
    db.close()
    assert "newer version" in refused(newer)
    refused(tmp_path)


def test_a_database_of_another_program_is_left_as_it_is(tmp_path):
    """Its journal too: a write-ahead log (SQLite file format 1.3, bytes 18 and 19) is what that program asked for."""
    path = tmp_path / "theirs.db"
    db = sqlite3.connect(path)
    db.execute("PRAGMA journal_mode = WAL")
    db.execute("CREATE TABLE theirs (x)")
    db.close()
    assert path.read_bytes()[18:20] == b"\2\2"
    assert "not a ledger" in refused(path)


@pytest.mark.parametrize(
    ("pragma", "words"),
    [("query_only = ON", "may not be written"), ("max_page_count = 1", "its disk is full")],
)
def test_what_keeps_a_change_from_being_written_is_named(tmp_path, pragma, words):
    """SQLite's own answers (sqlite.org/rescode: READONLY 8, FULL 13), brought about by its own settings."""
    with open_ledger(tmp_path / "l.db", [ONE]) as ledger:
        with ledger.begin_read() as db:
            db.execute(f"PRAGMA {pragma}")
        with pytest.raises(Trouble, match=words) as caught:
            fill(ledger)
        assert caught.value.findings[0].remedy
        assert count(ledger) == 0


@pytest.mark.parametrize(
    ("code", "words"),
    [
        (sqlite3.SQLITE_CANTOPEN, "the system reports: unable"),
        (sqlite3.SQLITE_IOERR_READ, "the system reports: unable"),  # an extended code of IOERR
        (sqlite3.SQLITE_LOCKED, "another program"),
        (sqlite3.SQLITE_PERM, "may not be written"),
        (sqlite3.SQLITE_CORRUPT, "damaged"),
    ],
)
def test_each_fault_of_the_disk_has_its_own_words(tmp_path, code, words):
    with open_ledger(tmp_path / "l.db", [ONE]) as ledger:
        error = sqlite3.OperationalError("unable")
        error.sqlite_errorcode = code
        with pytest.raises(Trouble, match=words), ledger.begin_change():
            raise error


def test_a_fault_of_the_program_goes_through_as_it_is(tmp_path):
    wrong = pytest.raises(sqlite3.OperationalError, match="syntax")
    with open_ledger(tmp_path / "l.db", [ONE]) as ledger, wrong, ledger.begin_change() as db:
        db.execute("SELEKT 1")


@pytest.mark.parametrize("at", [0, 100, 4096, 8192, -4096])
def test_a_damaged_file_is_refused_and_left_alone(tmp_path, at):
    path = tmp_path / "l.db"
    with open_ledger(path, [ONE]) as ledger:
        fill(ledger)
    content = bytearray(path.read_bytes())
    at %= len(content)
    content[at : at + 64] = b"\xff" * 64
    path.write_bytes(content)
    refused(path)


def test_a_name_in_it_that_is_no_text_is_damage_too(tmp_path):
    """SQLite's message about a damaged table repeats its name, byte for byte, and Python cannot read it."""
    path = tmp_path / "l.db"
    with open_ledger(path, [ONE]) as ledger:
        fill(ledger)
    content = path.read_bytes()
    assert content.count(b"CREATE TABLE") >= 2
    path.write_bytes(content.replace(b"CREATE TABLE", b"CREATE \x98ABLE"))
    assert "damaged" in refused(path)


def test_a_file_cut_short_is_refused(tmp_path):
    path = tmp_path / "l.db"
    with open_ledger(path, [ONE]) as ledger:
        fill(ledger)
    path.write_bytes(path.read_bytes()[:5000])
    assert "damaged" in refused(path)


def test_an_empty_file_is_a_new_ledger(tmp_path):
    """A process killed right after the file was made leaves one."""
    path = tmp_path / "l.db"
    path.touch()
    with open_ledger(path, [ONE]) as ledger:
        assert count(ledger) == 0


def test_a_second_writer_waits_then_is_told(tmp_path):
    path = tmp_path / "l.db"
    with open_ledger(path, [ONE]) as first, open_ledger(path, [ONE], busy_seconds=0.1) as second:
        with first.begin_change(), pytest.raises(Trouble, match="another program"):
            add(second, "b")
        add(second, "c")


def test_many_open_a_new_ledger_at_once(tmp_path):
    path = tmp_path / "l.db"

    def work(number):
        with open_ledger(path, [ONE], LONGEST_S) as ledger:  # seven others may sync a slow disk before
            add(ledger, f"paper {number}")

    threads = [threading.Thread(target=work, args=(number,)) for number in range(8)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    with open_ledger(path, [ONE]) as ledger:
        assert count(ledger) == 8


KILLED = """
import os, signal, sys
from pathlib import Path
from impose.ledger.store import LedgerPart, open_ledger
part = LedgerPart("shelf", (("CREATE TABLE shelf (name TEXT PRIMARY KEY, left INTEGER NOT NULL) STRICT",),))
ledger = open_ledger(Path(sys.argv[1]), [part])
with ledger.begin_change() as db:
    db.execute("PRAGMA cache_spill = 1")
    db.execute("INSERT INTO shelf VALUES ('kept', 1)")
print("kept", flush=True)
with ledger.begin_change() as db:
    for n in range(20000):
        db.execute("INSERT INTO shelf VALUES (?, 1)", (f"lost {n}" * 20,))
    os.kill(os.getpid(), signal.SIGKILL)
"""


@pytest.mark.skipif(os.name == "nt", reason="no SIGKILL there")
def test_a_writer_killed_in_the_middle_leaves_the_ledger_as_it_was(tmp_path):
    path = tmp_path / "l.db"
    done = subprocess.run([sys.executable, "-c", KILLED, str(path)], capture_output=True, check=False)
    assert done.returncode == -signal.SIGKILL
    assert done.stdout == b"kept\n"
    assert (tmp_path / "l.db-journal").exists()
    with open_ledger(path, [ONE]) as ledger:
        assert count(ledger) == 1
