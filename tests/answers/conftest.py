"""A scene: a folder of its own, in which commands are asked and what they say is compared with what was approved."""

from __future__ import annotations

from collections.abc import Callable, Generator, Iterator
from pathlib import Path
from typing import Any

import pytest

from answers.told_planner import Asker
from approved_answers import Told
from impose.page.remedies import WORDINGS
from impose.remedies import word_remedies
from impose.run.options import Options
from page.conftest import Bed


@pytest.fixture
def told(
    request: pytest.FixtureRequest,
    tmp_path: Path,
    run: Callable[..., tuple[int, str, str]],
    monkeypatch: pytest.MonkeyPatch,
) -> Told:
    """A scene named by its test, which stands in its folder, with a cache and a terminal that are always the same."""
    place = tmp_path / "scene"
    place.mkdir()
    monkeypatch.chdir(place)
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))
    monkeypatch.setenv("COLUMNS", "120")
    if request.node.path.stem != "test_artwork":
        for name in ("SERIOUS", "WARN", "NOTE"):
            # What small pictures lack is told in that file alone.
            monkeypatch.setenv(f"IMPOSE_PPI_{name}", "1")
    for name in ("HOME", "XDG_CONFIG_HOME", "XDG_DATA_HOME", "XDG_STATE_HOME"):
        monkeypatch.setenv(name, str(tmp_path / "home"))
    return Told(request.node.name.removeprefix("test_"), place, run)


@pytest.fixture
def beds(tmp_path: Path) -> Iterator[Any]:
    made: list[Bed] = []

    def make(script: tuple[str, ...]) -> Bed:
        made.append(Bed(tmp_path / "bed", script))
        return made[-1]

    yield make
    for bed in made:
        bed.close()


@pytest.fixture
def asker(told: Told) -> Iterator[Any]:
    made: list[Asker] = []

    def make(*papers: str, **options: Any) -> Asker:
        settings = {**({"papers": list(papers)} if papers else {}), **options}
        # A cloth that stretches in the press, along another share than across.
        told.write("mine/garments.toml", """
            [kinds.hoodie]
            scale_x = 1.01
            scale_y = 1.03
        """)  # fmt: skip
        made.append(Asker(told, Options(settings, workers=1, steps=100, profiles_dir=told.folder / "mine")))
        return made[-1]

    with word_remedies(WORDINGS):
        yield make
    for one in made:
        one.close()


@pytest.hookimpl(wrapper=True)
def pytest_pyfunc_call(pyfuncitem: pytest.Function) -> Generator[None, object, object]:
    """Once a scene is over, its text is held against the approved one."""
    answer = yield
    told = pyfuncitem.funcargs.get("told")
    if isinstance(told, Told):
        told.compare()
    return answer
