"""The ways in which row filters are undone, each in turn."""

from __future__ import annotations

import pytest

from impose.art import unfilter as paint


@pytest.fixture(params=["whole", "pillow", "pyspng"])
def painter(request, monkeypatch) -> str:
    """Read with Pillow whole, with Pillow in strips, then with the optional faster library where it is installed."""
    if request.param == "whole":
        monkeypatch.setattr(paint, "can_decode_in_place", lambda: False)
    if request.param != "pyspng":
        monkeypatch.setattr(paint, "find_fast_decoder", lambda: None)
    else:
        pytest.importorskip("pyspng", reason="the optional faster decoder is not installed")
    return request.param
