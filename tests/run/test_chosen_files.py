"""Files that a run is handed or finds beside the batch: which of them counts, and what is said of one that is none."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from art.iccbytes import model_profile
from impose import files
from impose.errors import Exit, Severity, Trouble
from impose.profiles.profiles import Profiles, load_profiles
from impose.run import output_profile_choice
from impose.run.agreed_answers import FORMAT, find_agreed_file, read_agreed
from impose.run.output_profile_choice import choose_output_profile
from impose.run.selection import read_ticked
from impose.values import replace

PROFILES = load_profiles(files.find_shipped_profiles())


@pytest.fixture(scope="module")
def shop(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A shop with an ICC profile of its own beside its TOML files, and one for its printer."""
    folder = tmp_path_factory.mktemp("shop")
    for name in ("cloth", "printer"):
        (folder / f"{name}.icc").write_bytes(model_profile())
    return folder


def choose(shop: Path, settings: str = "", printer: str = "", **laid: str) -> Any:
    """What is chosen by a shop's files, and by options and variables laid over them."""
    (shop / "settings.toml").write_text(f"{settings}\n")
    (shop / "printers.toml").write_text(f"[careful]\n{printer}\n")
    profiles: Profiles = load_profiles(files.find_shipped_profiles(), shop)
    for origin in ("environment", "option"):
        said = {name.partition("_")[2]: value for name, value in laid.items() if name.startswith(f"{origin}_")}
        profiles = replace(profiles, settings=profiles.settings.lay_over(said, origin))
    return choose_output_profile(profiles, profiles.find_printer("careful"))


def test_the_nearer_output_profile_and_intent_count(shop: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """An option before the settings, the settings before the printer; a file lies beside whoever names it."""
    own, by_printer = 'output_profile = "cloth.icc"', 'output_profile = "printer.icc"'
    assert choose(shop) is None
    assert choose(shop, own).name == "cloth.icc"
    assert choose(shop, printer=by_printer).name == "printer.icc"
    assert choose(shop, own, by_printer).name == "cloth.icc"
    assert choose(shop, 'output_profile = "none"', by_printer) is None
    assert choose(shop, option_output_profile="none", printer=by_printer) is None
    with pytest.raises(Trouble, match="cannot be read"):
        choose(shop, option_output_profile="cloth.icc")
    monkeypatch.chdir(shop)
    for origin in ("option", "environment"):
        assert choose(shop, printer=by_printer, **{f"{origin}_output_profile": "cloth.icc"}).name == "cloth.icc"
    # The printer's intent holds unless somebody gave another for this run.
    chosen = choose(shop, own + '\nintent = "saturation"', 'intent = "perceptual"')
    assert chosen.output.intent == "perceptual"
    assert choose(shop, own + '\nintent = "saturation"').output.intent == "saturation"
    for origin in ("option", "environment"):
        laid = {f"{origin}_intent": "relative"}
        assert choose(shop, own, 'intent = "perceptual"', **laid).output.intent == "relative"
    assert choose(shop, own).record_values()["black_point"] is True
    assert choose(shop, own + "\nblack_point = false").record_values()["black_point"] is False
    assert choose(shop, own, option_intent="perceptual").record_values()["black_point"] is False


def test_an_intent_without_a_profile_is_wrong_use_only_where_it_was_given_for_this_run(shop: Path) -> None:
    assert choose(shop, 'intent = "perceptual"') is None
    assert choose(shop, environment_intent="perceptual") is None
    with pytest.raises(Trouble, match="an intent is given but no output profile") as caught:
        choose(shop, option_intent="perceptual")
    assert caught.value.exit is Exit.USAGE


def test_a_profile_beyond_the_limit_is_none_and_one_that_the_system_refuses_is_its_fault(
    shop: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    own, size = 'output_profile = "cloth.icc"', len(model_profile())
    monkeypatch.setattr(output_profile_choice, "PROFILE_LIMIT", size)
    assert choose(shop, own).name == "cloth.icc"
    monkeypatch.setattr(output_profile_choice, "PROFILE_LIMIT", size - 1)
    with pytest.raises(Trouble, match="larger than") as caught:
        choose(shop, own)
    assert caught.value.exit is Exit.USAGE

    def refuse(*_: object) -> None:
        raise PermissionError(13, "Permission denied")

    with monkeypatch.context() as patch:
        patch.setattr(Path, "open", refuse)
        with pytest.raises(Trouble, match="Permission denied") as caught:
            output_profile_choice._read_content(shop / "cloth.icc")
        assert caught.value.exit is Exit.SYSTEM


ANSWER = {"order": "Crew", "row": 0, "by": "Ada", "on": "Monday", "shows": [{"row": 2}]}


@pytest.mark.parametrize(
    ("content", "says"),
    [
        (b"{", "cannot be read"), (b"[]", "cannot be read"), (b"\xff", "cannot be read"), (b"{}", "cannot be read"),
        (json.dumps({"format": "impose-other/1", "orders": []}).encode(), "cannot be read"),
        (json.dumps({"format": FORMAT, "orders": [ANSWER | {"row": "two"}]}).encode(), "cannot be read"),
        (json.dumps({"format": FORMAT, "orders": [{"order": "Crew"}]}).encode(), "cannot be read"),
        (json.dumps({"format": FORMAT, "orders": 5}).encode(), "cannot be read"),
        (json.dumps({"format": "impose-agreed/2", "orders": []}).encode(), "a newer version of this program"),
    ],
)  # fmt: skip
def test_answers_that_cannot_be_read_are_told_and_stop_nothing(tmp_path: Path, content: bytes, says: str) -> None:
    path = tmp_path / "evening-agreed.json"
    path.write_bytes(content)
    with pytest.raises(Trouble, match=says) as caught:
        read_agreed(path)
    (finding,) = caught.value.findings
    assert (finding.severity, finding.kind, finding.file) == (Severity.WARN, "not-agreed", str(path))
    assert path.read_bytes() == content


def test_answers_are_read_as_they_were_noted_up_to_the_limit(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "evening-agreed.json"
    assert read_agreed(path) == []
    content = json.dumps({"format": FORMAT, "orders": [ANSWER, ANSWER | {"order": "", "row": 7}]}).encode("utf-8-sig")
    path.write_bytes(content)
    first, second = read_agreed(path)
    assert (first.order, first.row, first.by, first.on, first.shows) == ("Crew", 0, "Ada", "Monday", ({"row": 2},))
    assert (second.order, second.row) == ("", 7)
    monkeypatch.setattr("impose.run.agreed_answers.MOST_BYTES", len(content))
    assert len(read_agreed(path)) == 2
    monkeypatch.setattr("impose.run.agreed_answers.MOST_BYTES", len(content) - 1)
    with pytest.raises(Trouble):
        read_agreed(path)


def test_answers_lie_beside_the_batch_file_under_its_name(tmp_path: Path) -> None:
    (tmp_path / "evening.csv").write_text("art\n")
    assert find_agreed_file(str(tmp_path / "evening.csv"), "other") == tmp_path / "evening-agreed.json"
    (tmp_path / "art").mkdir()
    assert find_agreed_file(str(tmp_path / "art"), "lanterns") == tmp_path / "lanterns-agreed.json"


def test_a_list_of_what_was_spoiled_that_is_none_is_wrong_use(tmp_path: Path) -> None:
    path = tmp_path / "reprint.csv"
    for content, code in ((b"\x89PNG\r\n\x1a\n", Exit.USAGE), (None, Exit.SYSTEM)):
        path.unlink(missing_ok=True)
        if content is not None:
            path.write_bytes(content)
        with pytest.raises(Trouble) as caught:
            list(read_ticked(path, "spoiled", []))
        assert caught.value.exit is code
    found: list[Any] = []
    path.write_text('id,spoiled\nT001,x\nT002,"x" y\nT003,x\n')
    assert [name for name, _ in read_ticked(path, "spoiled", found)] == ["T001", "T003"]
    assert [(finding.row, finding.exit) for finding in found] == [(3, Exit.USAGE)]
    found = []
    path.write_text("")
    assert list(read_ticked(path, "spoiled", found)) == []
    assert [finding.row for finding in found] == [1]
