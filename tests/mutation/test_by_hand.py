"""The list of faults made by hand is kept: each is of a line that is there, and names a test that is there."""

from __future__ import annotations

import importlib
from pathlib import Path

import pytest

HERE = Path(__file__).parent


@pytest.fixture
def by_hand(monkeypatch):
    monkeypatch.syspath_prepend(str(HERE))
    return importlib.import_module("by_hand")


def test_every_fault_is_of_a_line_that_is_there(by_hand):
    root = HERE.parents[1]
    gone = [fault.what for fault in by_hand.FAULTS if fault.right not in (root / fault.module).read_text("utf-8")]
    assert gone == []
    assert all((root / fault.test).is_file() for fault in by_hand.FAULTS)
