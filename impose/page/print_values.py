"""What printing tells the page, and what was asked for while the program runs."""

from __future__ import annotations

import asyncio
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any, ClassVar

from impose.errors import Exit, Trouble
from impose.page.finding_values import list_plain_finding, say_sentence
from impose.remedies import Remedy
from impose.run.options import Options
from impose.values import FrozenStruct, replace

if TYPE_CHECKING:
    from impose.run.print_door import PrintCheck
    from impose.run.print_session import PrintedRun, PrintWish

_ASKED_INSTEAD = {"say-sublimation-ink": "sublimation-ink", "trust-new": "trust-certificate"}
"""Remedies that a question takes the place of."""


def check_values(check: PrintCheck) -> dict[str, Any]:
    """A check, as the page shows it."""
    asked = {question.code for question in check.questions}
    shown = [f for f in check.findings if _ASKED_INSTEAD.get(_code_of(f.remedy), "-") not in asked]
    return {
        "printer": _printer_values(check.printer),
        "sheets": [number for _, numbers in check.left for number in numbers],
        "findings": [{**list_plain_finding(finding), "remedy_code": _code_of(finding.remedy)} for finding in shown],
        "questions": [{"code": question.code, "question": str(question)} for question in check.questions],
        "asked_after": check.asked_after,
        "ready": check.is_clear and not check.questions,
    }


def _code_of(remedy: str) -> str:
    return remedy.code if isinstance(remedy, Remedy) else ""


def _printer_values(told: Mapping[str, Any]) -> dict[str, Any] | None:
    """What a printer says of itself, in words; None where it could not be asked."""
    if not told:
        return None
    loaded = [
        f"{entry['width_mm']:g} × {entry['height_mm']:g} mm{f', {source}' if (source := entry['source']) else ''}"
        for entry in told["loaded"] or []
    ]
    return {
        "name": told["name"],
        "model": told["model"],
        "state": told["state"],
        "reasons": list(told["reasons"]),
        "loaded": None if told["loaded"] is None else loaded,
        "low": [ink["name"] for ink in told["ink"] if ink["low"]],
        "path": told["path"],
    }


def run_values(runs: Sequence[PrintedRun]) -> dict[str, Any]:
    """Where each run stands, in a word and in words."""
    told = [
        {
            "sheets": list(run.sheets),
            "standing": str(run.state.standing),
            "words": say_sentence(run.state.words),
            "loads": None if run.state.loads is None else list_plain_finding(run.state.loads),
            "sent": run.state.sent,
            "ended": run.state.ended,
        }
        for run in runs
    ]
    return {"runs": told, "ended": all(entry["ended"] for entry in told)}


class KeptWish(FrozenStruct):
    """What a person asked for by a click: gone on with until it has ended."""

    wish: PrintWish
    accept: frozenset[str]
    asked_after: int


@dataclass(slots=True)
class PrintKeeper:
    """What was asked for, by output and file, while the program runs; the ledger alone says what was printed.

    After a new start nothing is sent by itself: the ledger is followed, and a person asks again.
    """

    ledger: Path
    kept: dict[str, KeptWish] = field(default_factory=dict)
    locks: dict[str, asyncio.Lock] = field(default_factory=dict)

    def lock(self, key: str) -> asyncio.Lock:
        """One step at a time for a file, however many tabs ask."""
        return self.locks.setdefault(key, asyncio.Lock())

    def keep_wish(self, key: str, wish: PrintWish, accept: frozenset[str], asked_after: int) -> None:
        """A click; one that is under way already is not asked for once more."""
        if key not in self.kept:
            self.kept[key] = KeptWish(wish, accept, asked_after)

    def go_on(self, key: str, folder: Path, wish: PrintWish, options: Options) -> list[PrintedRun]:
        """Do what can be done now for a click; without one, look at what was begun. Raises `Trouble`."""
        from impose.run.print_door import follow_sheets, send_sheets

        asked = self.kept.get(key)
        if asked is None:
            return follow_sheets(folder, wish, options, self.ledger)
        try:
            agreed = replace(options, accept=options.accept | asked.accept)
            runs = send_sheets(folder, asked.wish, agreed, self.ledger, asked.asked_after)
        except Trouble as trouble:
            # A printer that does not answer is asked again; what else stands in the way needs the person.
            if all(finding.exit is not Exit.SYSTEM for finding in trouble.findings):
                self.kept.pop(key, None)
            raise
        if all(run.state.ended for run in runs):
            self.kept.pop(key, None)
        return runs

    def take_back(self, key: str, folder: Path, wish: PrintWish, options: Options) -> list[PrintedRun]:
        """Stop: what waits is not sent any more, what is on its way is taken back. Raises `Trouble`."""
        from impose.run.print_door import cancel_sheets

        asked = self.kept.pop(key, None)
        try:
            return cancel_sheets(folder, asked.wish if asked else wish, options, self.ledger)
        except Trouble as trouble:
            if asked is None or any(finding.kind != "printed-already" for finding in trouble.findings):
                raise
            return []  # it waited for paper: nothing had been sent

    STEPS: ClassVar[Mapping[str, Callable[..., list[PrintedRun]]]] = {
        "send": go_on,
        "follow": go_on,
        "cancel": take_back,
    }
