"""The library door: its page of examples is run, and it can be stopped and shared without leaving anything behind."""

from __future__ import annotations

import re
import shutil
import subprocess
import sys
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest

import impose.errors
import impose.nest
import impose.run
import impose.work
from impose.run import Options, plan, produce

ROOT = Path(__file__).parent.parent
PAGE = (ROOT / "shared" / "docs" / "reference" / "library.md").read_text(encoding="utf-8")
EXAMPLES = re.findall(r"^```python\n(.*?)^```", PAGE, re.S | re.M)
STAGES = ("artwork", "nesting", "sheets", "writing")


@pytest.fixture
def desk(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    shutil.copytree(ROOT / "examples" / "lantern-night", tmp_path / "desk")
    lines = (tmp_path / "desk" / "orders.csv").read_text("utf-8").splitlines()
    (tmp_path / "desk" / "orders.csv").write_text("\n".join(lines[:9]), "utf-8")
    (tmp_path / "desk" / "few.csv").write_text("\n".join(lines[:3]), "utf-8")
    monkeypatch.chdir(tmp_path / "desk")
    return tmp_path / "desk"


def files(folder: Path) -> dict[str, bytes]:
    return {str(path.relative_to(folder)): path.read_bytes() for path in folder.rglob("*") if path.is_file()}


def test_every_example_of_the_page_runs(desk, capsys):
    assert len(EXAMPLES) >= 6
    names: dict[str, object] = {}
    for example in EXAMPLES:
        exec(compile(example, "library.md", "exec"), names)
    assert (desk / "sheets" / "batch.json").exists()
    assert "transfers on" in capsys.readouterr().out


def test_the_names_that_stay_are_those_of_the_page():
    rooms = {"impose.run": impose.run, "impose.nest": impose.nest, "impose.errors": impose.errors}
    for name, room in (rooms | {"impose.work": impose.work}).items():
        (row,) = re.findall(rf"^\| `{name}` \| (.*?) \|$", PAGE, re.M)
        said = set(re.findall(r"`(\w+)`", row))
        assert all(hasattr(room, one) for one in said)
        assert said == set(getattr(room, "__all__", said))


def test_what_stays_of_a_result_is_there():
    for name in ("Plan", "Quote", "PaperOffer", "CheckResult"):
        (row,) = re.findall(rf"^\| `{name}` \| (.*?) \|$", PAGE, re.M)
        assert all(hasattr(getattr(impose.run, name), one) for one in re.findall(r"`(\w+)`", row))


@pytest.mark.parametrize("stage", STAGES)
def test_what_the_callback_raises_ends_the_work_and_leaves_nothing(desk, stage):
    class Stop(Exception):
        pass

    told: list[str] = []

    def progress(now: str, done: int, of: int) -> None:
        told.append(now)
        if now == stage:
            raise Stop

    before = files(desk)
    with pytest.raises(Stop):
        planned = plan([Path("few.csv")], Options({"papers": ["a3"]}, workers=1, steps=50), progress)
        produce(planned, desk / "out", progress=progress)
    assert files(desk) == before
    assert list(dict.fromkeys(told)) == list(STAGES[: STAGES.index(stage) + 1])


def test_a_replaced_folder_stays_as_it_was_when_work_is_cancelled(desk):
    planned = plan([Path("few.csv")], Options({"papers": ["a3"]}, workers=1, steps=50))
    produce(planned, desk / "out")
    before = files(desk / "out")

    def progress(*_: object) -> None:
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        produce(planned, desk / "out", replace=True, progress=progress)
    assert files(desk / "out") == before


def test_two_batches_at_once_in_two_threads_are_what_each_is_alone(desk):
    def made(wish: tuple[str, str]) -> dict[str, bytes]:
        paper, name = wish
        produce(plan([Path("few.csv")], Options({"papers": [paper]}, workers=1, steps=50)), desk / name)
        return files(desk / name)

    alone = [made(("a3", "one")), made(("13x19", "two"))]
    with ThreadPoolExecutor(2) as threads:
        together = list(threads.map(made, [("a3", "three"), ("13x19", "four")]))
    assert together == alone


def test_the_package_says_that_it_is_typed():
    assert (Path(impose.errors.__file__).parent / "py.typed").exists()


def test_importing_the_door_loads_nothing_heavy_and_prints_nothing():
    code = (
        "import sys, impose.run, impose.nest\n"
        "heavy = {'PIL', 'numpy', 'pymupdf', 'rectpack', 'uharfbuzz', 'distributed'}\n"
        "print(sorted(heavy & set(sys.modules)))"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert (done.stdout.strip(), done.stderr) == ("[]", "")


def test_every_stage_is_told_from_nothing_done_to_all_of_it(desk):
    told: dict[str, list[tuple[int, int]]] = {}

    def progress(stage: str, done: int, of: int) -> None:
        told.setdefault(stage, []).append((done, of))

    planned = plan([Path("few.csv")], Options({"papers": ["a3"]}, workers=1, steps=50), progress)
    produce(planned, desk / "out", progress=progress)
    assert set(STAGES) <= set(told)
    for stage, steps in told.items():
        assert steps == sorted(steps), stage
        assert steps[-1][0] == steps[-1][1], stage
        assert steps[0][0] <= 1, stage
    assert told["nesting"][0] == (0, planned.transfer_count)
