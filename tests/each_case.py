"""Many cases of a sum or a small file in one test: each test costs more beside its body than such a body takes."""

from __future__ import annotations

import functools
import inspect
from collections.abc import Callable, Iterable
from typing import Any

Test = Callable[..., None]


def try_each(names: str, cases: Iterable[Any]) -> Callable[[Test], Test]:
    """As pytest's `parametrize` in one test; what fails bears a note that names its case.

    For tests without traces: `tmp_path`, `monkeypatch` and whatever else a test is given are those of all its cases.
    """
    named, listed = [name.strip() for name in names.split(",")], list(cases)
    assert listed, "a test without a case holds nothing"

    def make_loop(test: Test) -> Test:
        @functools.wraps(test)
        def try_cases(**given: Any) -> None:
            for case in listed:
                values = dict(zip(named, case if len(named) > 1 else [case], strict=True))
                try:
                    test(**values, **given)
                except Exception as error:
                    error.add_note(f"case: {values}")
                    raise

        signature = inspect.signature(test)
        others = [name for name in signature.parameters if name not in named]
        try_cases.__signature__ = signature.replace(  # type: ignore[attr-defined]
            parameters=[signature.parameters[name] for name in others]
        )
        return try_cases

    return make_loop
