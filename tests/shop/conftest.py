from __future__ import annotations

from pathlib import Path

import pytest

from impose.profiles.profiles import Profiles, load_profiles

SHIPPED = Path(__file__).parent.parent.parent / "profiles"


@pytest.fixture(scope="session")
def shipped() -> Path:
    return SHIPPED


@pytest.fixture(scope="session")
def profiles() -> Profiles:
    return load_profiles(SHIPPED)


@pytest.fixture
def own(tmp_path: Path) -> Path:
    folder = tmp_path / "own"
    folder.mkdir()
    return folder


@pytest.fixture
def desk(tmp_path: Path) -> Path:
    """A folder with artwork beside a batch: the reader looks for files, it does not open them."""
    art = tmp_path / "shop" / "art"
    art.mkdir(parents=True)
    for name in ("owl.png", "fox.png", "größe 1.png"):
        (art / name).write_bytes(b"picture")
    return art.parent
