"""The first things a shop is asked, so that its sheets fit its own printer, papers and press. All may be left open."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path
from typing import Any

from impose.profiles.profiles import Profiles
from impose.run.load_batch import load_profiles_in_force
from impose.run.options import Options
from impose.run.own_profiles import use_own_profiles
from impose.run.shop_changes import change_shop
from impose.run.stock_counts import CountedStock
from impose.units import LengthError, format_length, parse_length
from impose.values import FrozenStruct

_MATCH_MM = 3.0
_CURRENCIES = ("EUR", "USD", "GBP", "CAD", "AUD", "NZD", "CHF", "SEK", "NOK", "DKK", "PLN", "CZK", "JPY", "INR", "ZAR")


class FirstQuestion(FrozenStruct):
    """One question; `unknown` says that it may be left open, `later` how it is found out then."""

    name: str
    question: str
    kind: str
    choices: tuple[tuple[str, str], ...] = ()
    later: str = ""


def list_questions(options: Options, found: Sequence[tuple[str, str]] = ()) -> list[FirstQuestion]:
    """The questions; `found` are printers that announce themselves, by name and title."""
    profiles = load_profiles_in_force(options)
    widest = tuple((p.alias, _paper_title(p.alias, profiles)) for p in _sort_by_width(profiles))
    return [
        FirstQuestion(
            "printer",
            "Which printer holds sublimation ink? Only that one is ever printed to.",
            "printer",
            tuple(found) or widest,
            "Widest paper it feeds is enough; a page measures the rest.",
        ),
        FirstQuestion(
            "papers", "Which papers do you have, and how many?", "papers", widest, "Count them when you like."
        ),
        FirstQuestion(
            "press",
            "How large is your press?",
            "press",
            tuple((name, press.title) for name, press in profiles.presses.items()),
            "Measure the platen with a rule.",
        ),
        FirstQuestion(
            "units", "Millimetres or inches, and which currency?", "units", tuple((c, c) for c in _CURRENCIES)
        ),
    ]


def _sort_by_width(profiles: Profiles) -> list[Any]:
    """Sheets from the narrowest to the widest, then rolls."""
    return sorted(profiles.papers.values(), key=lambda paper: (paper.is_roll, paper.width_mm))


def _paper_title(alias: str, profiles: Profiles) -> str:
    paper = profiles.find_paper(alias)
    units = profiles.settings.units
    high = "" if paper.height_mm is None else f" × {format_length(paper.height_mm, units)}"
    return f"{paper.title}, {format_length(paper.width_mm, units)}{high}"


def answer_questions(answers: Mapping[str, Any], folder: Path, options: Options, ledger: Path) -> str:
    """Write the answers into the shop's own profiles; the name of the printer that they are about. Raises `Trouble`."""
    profiles = load_profiles_in_force(use_own_profiles(options, folder))
    operations = [*_unit_changes(answers), *_press_changes(answers.get("press"), profiles)]
    printer, changes = _printer_changes(answers.get("printer"), profiles)
    papers = [entry for entry in answers.get("papers") or [] if isinstance(entry, dict) and entry.get("paper")]
    operations += changes
    if papers:
        operations.append({"op": "setting", "name": "papers", "value": [str(paper["paper"]) for paper in papers]})
    operations += [
        {"op": "paper", "paper": str(paper["paper"]), "cost": str(paper["cost"])}
        for paper in papers
        if paper.get("cost")
    ]
    if operations:
        change_shop(operations, folder, options)
    shelf = CountedStock(ledger, use_own_profiles(options, folder))
    for paper in papers:
        if str(paper.get("left") or "").strip():
            shelf.change_count(str(paper["paper"]), "set", str(paper["left"]), "first count")
    return printer


def _unit_changes(answers: Mapping[str, Any]) -> Iterator[dict[str, Any]]:
    for name in ("units", "currency"):
        if answers.get(name):
            yield {"op": "setting", "name": name, "value": str(answers[name])}


def _press_changes(said: Any, profiles: Profiles) -> Iterator[dict[str, Any]]:
    """A press on file of that size is chosen; one of another size is added."""
    if not isinstance(said, dict):
        return
    if said.get("name") in profiles.presses:
        yield {"op": "setting", "name": "press", "value": said["name"]}
        return
    if not said.get("width") or not said.get("height"):
        return
    name = _known_press(said, profiles)
    if name is None:
        name = "own-press"
        values = {"platen_width": str(said["width"]), "platen_height": str(said["height"])}
        yield {"op": "press", "press": "own press", "values": values}
    yield {"op": "setting", "name": "press", "value": name}


def _known_press(said: Mapping[str, Any], profiles: Profiles) -> str | None:
    try:
        width, height = (parse_length(str(said[side]), profiles.settings.units) for side in ("width", "height"))
    except LengthError:
        return None  # told by whoever writes it
    for name, press in profiles.presses.items():
        if abs(press.platen_width_mm - width) < _MATCH_MM and abs(press.platen_height_mm - height) < _MATCH_MM:
            return name
    return None


def _printer_changes(said: Any, profiles: Profiles) -> tuple[str, list[dict[str, Any]]]:
    """A printer of the shop's own, with the usual edges until it is measured, and as wide as the widest paper."""
    if not isinstance(said, dict) or not (said.get("name") or said.get("widest")):
        return "", []
    name = str(said.get("name") or "own printer")
    values = {}
    if said.get("widest"):
        values["feed_width"] = f"{profiles.find_paper(str(said['widest'])).width_mm:g} mm"
    if said.get("address"):  # the question says that this one holds sublimation ink
        values |= {"address": str(said["address"]), "sublimation_ink": "true"}
    slug = (
        "-".join("".join(c if c.isascii() and c.isalnum() else " " for c in name.casefold()).split()) or "own-printer"
    )
    return slug, [
        {"op": "printer", "printer": slug, "values": values},
        {"op": "setting", "name": "printer", "value": slug},
    ]
