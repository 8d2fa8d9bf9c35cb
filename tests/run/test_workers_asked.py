"""How many processes prepare artwork: as asked, else by how many pixels there are, from the files' own headers."""

from __future__ import annotations

from pathlib import Path

import pytest

from art.pngbytes import SIGNATURE, ihdr
from impose.run import artwork
from impose.run.options import Options


def head(width: int, height: int) -> bytes:
    return SIGNATURE + ihdr(width, height, 8, 6)


@pytest.fixture
def eight_cores(monkeypatch):
    monkeypatch.setattr(artwork, "default_workers", lambda: 8)


def test_by_pixels(eight_cores, tmp_path: Path):
    large, other = tmp_path / "large.png", tmp_path / "other.png"
    large.write_bytes(head(10_000, 7_000))
    other.write_bytes(head(5_000, 10_000))
    assert artwork._choose_workers(Options(), [large]) == 2
    assert artwork._choose_workers(Options(), [large, other]) == 4
    assert artwork._choose_workers(Options(), [large] * 100) == 8
    assert artwork._choose_workers(Options(workers=3), [large]) == 3


def test_what_is_no_picture_asks_for_nobody(eight_cores, tmp_path: Path):
    text, cut = tmp_path / "text.png", tmp_path / "cut.png"
    text.write_bytes(b"no picture " * 9)
    cut.write_bytes(head(60_000, 60_000)[:20])
    assert artwork._choose_workers(Options(), [text, cut, tmp_path, tmp_path / "missing.png"]) == 1
