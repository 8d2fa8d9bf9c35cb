"""What printers and jobs say of their state, in plain words (RFC 8011, 5.3.8 and 5.4.12; PWG 5100.9). Pure."""

from __future__ import annotations

from collections.abc import Iterable

_PRINTER = {
    "media-empty": "it is out of paper",
    "media-needed": "it asks for paper",
    "media-jam": "paper is jammed",
    "media-low": "little paper is left",
    "input-tray-missing": "a tray is missing",
    "input-media-supply-empty": "it is out of paper",
    "marker-supply-low": "ink is low",
    "marker-supply-empty": "ink is empty",
    "marker-waste-almost-full": "its waste ink pad is almost full",
    "marker-waste-full": "its waste ink pad is full",
    "toner-low": "ink is low",
    "toner-empty": "ink is empty",
    "cover-open": "a cover is open",
    "door-open": "a door is open",
    "interlock-open": "a door is open",
    "output-area-full": "its tray for printed sheets is full",
    "output-tray-missing": "its tray for printed sheets is missing",
    "paused": "it is paused: press its button to go on",
    "moving-to-paused": "it is about to pause",
    "shutdown": "it is switched off",
    "offline": "it is offline",
    "connecting-to-device": "the queue is trying to reach it",
    "timed-out": "it does not answer the queue",
    "spool-area-full": "its memory is full",
    "interpreter-resource-unavailable": "it cannot read the file",
}
_JOB = {
    "job-incoming": "it is being received",
    "job-data-insufficient": "its document is not whole yet",
    "job-hold-until-specified": "it is held at the printer",
    "job-printing": "it prints",
    "job-stopped": "it has stopped",
    "processing-to-stop-point": "it is being stopped",
    "job-canceled-by-user": "it was cancelled",
    "job-canceled-by-operator": "it was cancelled",
    "job-canceled-at-device": "it was cancelled at the printer",
    "aborted-by-system": "it was given up by the printer",
    "document-format-error": "the printer could not read it",
    "unsupported-document-format": "the printer cannot read such files",
    "document-unprintable": "the printer could not print it",
    "job-completed-with-errors": "it ended with errors",
    "job-completed-with-warnings": "it ended with warnings",
}
_STATES = {
    3: "waits its turn",
    4: "is held",
    5: "prints",
    6: "has stopped",
    7: "was cancelled",
    8: "was given up by the printer",
    9: "is printed",
}
QUIET = frozenset({"none", "job-printing", "job-queued", "job-completed-successfully"})
"""What a job's state says already."""


def describe_printer_state(reasons: Iterable[str]) -> list[str]:
    """A printer's reasons in words, each once; one that has no words here stands as the printer says it."""
    return _word_reasons(reasons, _PRINTER)


def describe_job_state(state: int, reasons: Iterable[str]) -> str:
    """A job's state in words, with its reasons."""
    told = _word_reasons([reason for reason in reasons if reason not in QUIET], _JOB)
    told = [words for words in told if words != f"it {_STATES.get(state)}"]  # which the state says itself
    return _STATES.get(state, "is in a state that is not known") + (f" ({'; '.join(told)})" if told else "")


def _word_reasons(reasons: Iterable[str], known: dict[str, str]) -> list[str]:
    found: dict[str, None] = {}
    for reason in reasons:
        # A reason may end in how bad it is (RFC 8011, 5.4.12).
        bare = reason.removesuffix("-error").removesuffix("-warning").removesuffix("-report")
        if bare != "none":
            found[known.get(bare) or known.get(reason) or bare.replace("-", " ")] = None
    return list(found)
