"""Killed while rows are typed: nothing that the page calls saved is lost, and no file is half written.

That what was typed more than a second ago is saved, a hundred times and more, is tried by tests/bench/page_kills.py.
"""

from __future__ import annotations

from page.killed_server import Typed, find_faults, serve_typist
from waiting import wait_until


def test_a_killed_server_loses_nothing(tmp_path):
    for more in (3, 25):
        typed = Typed()
        with serve_typist(tmp_path, typed) as tab:
            least = tab.get(tab.base)["saved"] + more
            saved = wait_until(lambda: (told := tab.get(tab.base)["saved"]) >= least and told, "rows are saved")  # noqa: B023
        due = [name for _, revision, name in typed.told if revision <= saved]
        assert len(due) >= more - 1
        assert find_faults(tmp_path / "batch", due).faults == []
