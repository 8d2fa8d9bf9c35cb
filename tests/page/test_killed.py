"""Killed at any instant: nothing typed more than a second ago is lost, and no file is half written.

A hundred and more are done by tests/bench/page_kills.py.
"""

from __future__ import annotations

import random

from page.killed_server import kill_once


def test_a_killed_server_loses_nothing(tmp_path):
    chance = random.Random(19)
    for _ in range(2):
        assert kill_once(tmp_path, chance).faults == []
