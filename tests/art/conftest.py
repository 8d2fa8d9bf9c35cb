"""The two libraries that undo row filters, each in turn."""

from __future__ import annotations

import pytest

from impose.art import paint


@pytest.fixture(params=["pillow", "pyspng"])
def painter(request, monkeypatch) -> str:
    """Read with Pillow alone, then with the optional faster library where it is installed."""
    if request.param == "pillow":
        monkeypatch.setattr(paint, "faster", lambda: None)
    else:
        pytest.importorskip("pyspng", reason="the optional faster decoder is not installed")
    return request.param
