"""What the page answers where it cannot do what was asked: a status for the browser, words for the person."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

UNSHOWN = "no-picture"
"""The code of a file that is no picture, or is damaged: asking again changes nothing."""


class Refusal(Exception):
    """An answer that is an error; `code` is for the page, `what` and `remedy` are read by the person."""

    def __init__(
        self, status: int, code: str, what: str, remedy: str = "", findings: Sequence[dict[str, Any]] = ()
    ) -> None:
        self.status, self.code, self.what, self.remedy, self.findings = status, code, what, remedy, tuple(findings)
        super().__init__(what)

    def values(self) -> dict[str, Any]:
        """As it is sent."""
        return {"error": {"code": self.code, "what": self.what, "remedy": self.remedy, "findings": list(self.findings)}}

    def __reduce__(self) -> tuple[type[Refusal], tuple[Any, ...]]:
        return type(self), (self.status, self.code, self.what, self.remedy, self.findings)


def busy(what: str) -> Refusal:
    """Try again in a moment."""
    return Refusal(503, "busy", what, "Try again in a moment.")
