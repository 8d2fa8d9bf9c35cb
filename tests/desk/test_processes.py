"""The processes beside the watcher: the one that makes, and the commands after a delivery; how long, how often.

Both are played here, so that half an hour takes no time; in truth they run in `test_real.py` and `test_delivered.py`.
"""

from __future__ import annotations

import os
import subprocess
from itertools import pairwise
from types import SimpleNamespace
from typing import Any

import pytest

from impose import __version__
from impose.desk import post_commands, worker
from impose.desk.worker_jobs import FailedJob
from impose.messages import write_message
from waiting import wait_until

# -- the process that makes -------------------------------------------------------------------------------------------


class _Child:
    """A child that never was: what it is sent is counted, what it says is written for it."""

    def __init__(self) -> None:
        read, self._write = os.pipe()
        self.stdout, self.stdin = os.fdopen(read, "rb"), SimpleNamespace(write=lambda block: None, flush=lambda: None)
        self.ended = False

    def poll(self) -> int | None:
        return -9 if self.ended else None

    def say(self, *messages: Any) -> None:
        with os.fdopen(os.dup(self._write), "wb") as stream:
            for message in messages:
                write_message(stream, message)

    def end(self) -> int:
        if not self.ended:
            os.close(self._write)
        self.ended = True
        return -9


@pytest.fixture
def children(monkeypatch):
    made: list[_Child] = []
    monkeypatch.setattr(worker, "start_child", lambda script: made.append(_Child()) or made[-1])
    monkeypatch.setattr(worker, "end_child", lambda child: child.end())
    yield made
    for child in made:
        child.end()


def _client(children) -> tuple[worker.ProcessWorkerClient, list[Any]]:
    heard: list[Any] = []
    client = worker.ProcessWorkerClient()
    return client, heard


def _take(client, child, *messages) -> None:
    """Let a child say something, and wait until the client's thread has heard it."""
    before = client._replies.qsize()
    child.say(*messages)
    wait_until(lambda: client._replies.qsize() == before + len(messages), "the client has heard it")


def test_a_request_may_take_half_an_hour_and_no_longer(children):
    client, heard = _client(children)
    client.queue_request("job", heard.append)
    _take(client, children[0], (0, __version__))
    assert client.hand_out_replies(100.0) is False
    assert client.hand_out_replies(100.0 + 1800.0) is False
    assert children[0].ended is False
    assert client.hand_out_replies(100.0 + 1800.5) is True
    assert children[0].ended is True
    assert heard == [FailedJob("error", common="died: it was not finished after 30 minutes")]
    # The next has half an hour of its own, in a process of its own.
    client.queue_request("next", heard.append)
    _take(client, children[1], (0, __version__))
    assert client.hand_out_replies(5000.0) is False
    _take(client, children[1], (1, "made"))
    assert client.hand_out_replies(6000.0) is True
    assert heard[1:] == ["made"]
    assert client.open_count == 0


def test_what_is_urgent_goes_before_what_waits_and_one_goes_at_a_time(children, monkeypatch):
    sent: list[tuple[int, str]] = []
    monkeypatch.setattr(worker, "write_message", lambda stream, message: sent.append(message))
    client, heard = _client(children)
    for request in ("first", "second", "urgent"):
        client.queue_request(request, heard.append, urgent=request == "urgent")
    assert client.open_count == 3
    _take(client, children[0], (0, __version__))
    assert not client.hand_out_replies(1.0), "that it is ready is no reply"
    for number, request in enumerate(("first", "urgent", "second"), 1):
        assert sent[-1] == (number, request)
        assert len(sent) == number
        _take(client, children[0], (number, request))
        assert client.hand_out_replies(1.0)
    assert heard == ["first", "urgent", "second"]
    assert client.open_count == 0


def test_the_process_is_renewed_after_so_many_requests(children, monkeypatch):
    monkeypatch.setattr(worker, "RENEWED_AFTER", 4)
    client, heard = _client(children)
    _take(client, children[0], (0, __version__))
    for number in range(1, 5):
        client.queue_request("job", heard.append)
        assert len(children) == 1
        _take(client, children[0], (number, number))
        wait_until(lambda: client.hand_out_replies(1.0) or None, "the reply is handed out")
    client.queue_request("job", heard.append)
    assert len(children) == 2
    assert children[0].ended
    assert heard == [1, 2, 3, 4]


def test_a_death_is_the_files_fault_only_once_the_process_was_ready(children):
    client, heard = _client(children)
    for ready in (False, True):
        client.queue_request("job", heard.append)
        child = children[-1]
        if ready:
            _take(client, child, (0, __version__))
            client.hand_out_replies(1.0)
        child.end()
        wait_until(lambda: client.hand_out_replies(1.0) or None, "the death is seen")
    assert [reply.kind for reply in heard] == ["system", "error"]
    assert "cannot start (signal 9)" in heard[0].common
    assert "the process that made it ended (signal 9)" in heard[1].common


def test_a_program_that_was_exchanged_meanwhile_is_asked_nothing(children):
    client, heard = _client(children)
    client.queue_request("job", heard.append)
    _take(client, children[0], (0, "0.0"))
    assert client.hand_out_replies(1.0)
    assert heard[0].kind == "system"
    assert "start it again" in heard[0].common
    assert children[0].ended


# -- commands -------------------------------------------------------------------------------------------------------


class _Commands:
    """Commands whose processes are played: codes in the order of their starts, None for one that goes on."""

    def __init__(self, bed, monkeypatch, due: int) -> None:
        self.codes: list[int | None] = []
        self.killed = self.started = 0
        self.said: list[str] = []
        self.due = dict.fromkeys(range(1, due + 1), 0)
        self.ended: list[tuple[int, str]] = []
        monkeypatch.setattr(post_commands.subprocess, "Popen", self._start)
        drops = SimpleNamespace(
            list_commands=lambda: [(number, tries, "") for number, tries in self.due.items()],
            read_delivery=lambda number: SimpleNamespace(name=f"evening-{number}"),
            record_command=self._record,
        )
        self.calls = post_commands.PostCommands(("sort",), bed.places, drops, "m", lambda name: None, self.said.append)

    def _start(self, words: list[str], **_: Any) -> Any:
        index = self.started
        self.started += 1
        process = SimpleNamespace(returncode=None, poll=lambda: self.codes[index] if index < len(self.codes) else None)
        process.wait = lambda seconds=None: None
        process.kill = lambda: setattr(self, "killed", self.killed + 1)
        return process

    def _record(self, number: int, state: str, why: str = "") -> None:
        self.ended.append((number, state))
        self.due[number] += 1
        if state != "due":
            del self.due[number]


def test_a_command_that_fails_is_tried_twenty_times_after_waits_that_double_up_to_an_hour(bed, monkeypatch):
    commands = _Commands(bed, monkeypatch, 1)
    commands.codes = [3] * 30
    now, begun = 0.0, []
    while commands.due and now < 100_000:
        before = commands.started
        commands.calls.run_due(now)
        if commands.started > before:
            begun.append(now)
        now += 5.0
    waits = [after - before - 5.0 for before, after in pairwise(begun)]
    assert waits == [10.0 * 2**n for n in range(9)] + [3600.0] * 10
    assert commands.ended == [(1, "due")] * 19 + [(1, "given up")]
    assert "(given up)" in commands.said[-1]


def test_a_command_may_take_ten_minutes_and_four_run_at_once(bed, monkeypatch):
    commands = _Commands(bed, monkeypatch, 5)
    commands.codes = [None] * 4 + [0]
    commands.calls.run_due(0.0)
    assert commands.started == 4
    commands.calls.run_due(600.0)
    assert (commands.started, commands.killed) == (4, 0)
    assert commands.calls.is_running
    commands.calls.run_due(600.5)
    assert commands.killed == 4
    assert all("it ended with code -9" in line for line in commands.said)
    assert commands.ended == [(number, "due") for number in (1, 2, 3, 4)]
    assert commands.started == 5, "there is room for the fifth"
    commands.calls.run_due(601.0)
    assert commands.ended[-1] == (5, "done")


def test_commands_that_run_when_the_watcher_ends_have_a_moment_and_then_are_let_go(bed, monkeypatch):
    commands = _Commands(bed, monkeypatch, 3)
    commands.codes = [None] * 3
    commands.calls.run_due(0.0)
    first, second, _ = (running.process for running in commands.calls._running.values())

    def end_in_time(seconds: float) -> None:
        assert 0.0 < seconds <= 5.0
        commands.codes[0], commands.codes[2] = 0, 3

    def go_on(seconds: float) -> None:
        raise subprocess.TimeoutExpired("sort", seconds)

    first.wait, second.wait = end_in_time, go_on
    commands.calls.close(5.0)
    assert commands.ended == [(1, "done")], "who failed, or was not seen to end, runs again next time"
    assert commands.killed == 0
    assert not commands.calls.is_running


def test_of_what_a_command_said_the_last_300_bytes_are_told(tmp_path):
    with (tmp_path / "said").open("w+b") as said:
        said.write(b"x" + b"a" * 200 + b"\n" + b"b" * 98 + b"\n")
        assert post_commands._last_lines(said) == "a" * 200 + " " + "b" * 98
        said.truncate(0)
        assert post_commands._last_lines(said) == ""
