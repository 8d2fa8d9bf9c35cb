"""How many examples a law is tried with that is slow to try: a share of those of the profile in force."""

from __future__ import annotations

from hypothesis import settings


def examples(share: float) -> int:
    """A share of the profile's examples, at least 5. Profiles stand in `conftest.py`; `.ci/long` has one of its own."""
    return max(5, round(settings.default.max_examples * share))
