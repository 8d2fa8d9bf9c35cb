"""Changes to a shop's own values as a person enters them, all or none: settings, papers, printers, presses, figures."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from impose.errors import Trouble
from impose.printing.ipp_client import parse_address
from impose.profiles.paper import fold_name
from impose.profiles.profiles import Profiles
from impose.profiles.settings import RULES
from impose.run.load_batch import load_profiles_in_force
from impose.run.options import Options
from impose.run.own_figures import list_figure_changes, read_figure
from impose.run.own_profiles import ProfileChanges, make_wrong, spell_key, spell_number, spell_text, use_own_profiles
from impose.run.price_values import change_prices
from impose.run.shop_values import SETTING_KINDS
from impose.units import LengthError, parse_length

_LENGTHS = ("left", "top", "right", "bottom", "feed_width", "platen_width", "platen_height", "border")
_NUMBERS = ("scale_x", "scale_y", "ink_ml_per_m2", "ink_cost", "cost", "temperature_c", "seconds", "prepress_seconds",
            "rest_seconds", "handling_seconds", "turning_seconds", "setup_seconds")  # fmt: skip
_TEXTS = ("pressure", "output_profile", "intent", "note", "title")


def change_shop(operations: Sequence[Mapping[str, Any]], folder: Path, options: Options) -> None:
    """Write all changes into the shop's own profiles. Raises `Trouble` with what is wrong, and writes nothing then."""
    options = use_own_profiles(options, folder)
    changes = ProfileChanges(folder, options)
    profiles = load_profiles_in_force(options)
    for operation in operations:
        _KINDS[str(operation.get("op"))](changes, profiles, operation)
    if changes.texts:
        changes.write_files()


def _change_setting(changes: ProfileChanges, profiles: Profiles, entry: Mapping[str, Any]) -> None:
    name, value = str(entry.get("name")), entry.get("value")
    if name not in RULES:
        raise make_wrong("not a setting", "Reload the page.", name)
    changes.set_values("settings.toml", "", {name: _spell_setting(name, value, profiles)})


def _spell_setting(name: str, value: Any, profiles: Profiles) -> str:
    kind = SETTING_KINDS[name]
    if kind in ("papers", "words"):
        words = value if isinstance(value, list) else re.split(r"[,;]\s*|\s+", str(value or ""))
        return f"[{', '.join(spell_text(str(word)) for word in words if str(word).strip())}]"
    if kind == "yes-no":
        return "true" if value in (True, "true", "yes") else "false"
    if kind in ("whole", "number"):
        return spell_number(str(value), name.replace("_", " "))
    return spell_text(str(value if value is not None else ""))


def _change_paper(changes: ProfileChanges, profiles: Profiles, entry: Mapping[str, Any]) -> None:
    """A paper's cost and its own setting of the press; a new paper by a name and its size."""
    if entry.get("new"):
        key, keys = _new_paper(str(entry["new"]), str(entry.get("title") or ""), profiles)
    else:
        paper = profiles.find_paper(str(entry.get("paper")))
        key = next((name for name, held in profiles.papers.items() if held.name == paper.name), "")
        keys = {} if key else {"name": spell_text(paper.name)}
        key = key or _make_slug(paper.alias)
    changes.set_values("papers.toml", spell_key(key), keys | _spell_values(_read_values(entry), profiles))


def _new_paper(size: str, title: str, profiles: Profiles) -> tuple[str, dict[str, str]]:
    paper = profiles.find_paper(size)
    key = _make_slug(title) or _make_slug(paper.alias)
    if fold_name(key) in {fold_name(name) for name in profiles.papers}:
        raise make_wrong("there is a paper of that name already", "Give it another name.", key)
    return key, {"name": spell_text(paper.name)}


def _change_printer(changes: ProfileChanges, profiles: Profiles, entry: Mapping[str, Any]) -> None:
    name = str(entry.get("printer") or "")
    keys = _spell_values(_read_values(entry), profiles)
    if name not in profiles.printers:
        name = _make_slug(name)
        if not name:
            raise make_wrong("a printer needs a name", "Use letters and digits, such as studio.", name)
        usual = profiles.find_printer(profiles.settings.printer)
        edges = {
            side: spell_text(f"{getattr(usual, f'{side}_mm'):g} mm") for side in ("left", "top", "right", "bottom")
        }
        keys = edges | keys
    changes.set_values("printers.toml", spell_key(name), keys)


def _change_press(changes: ProfileChanges, profiles: Profiles, entry: Mapping[str, Any]) -> None:
    name = str(entry.get("press") or "")
    keys = _spell_values(_read_values(entry), profiles)
    if name not in profiles.presses:
        usual = profiles.find_press(profiles.settings.press)
        title, name = name, _make_slug(name)
        if not name:
            raise make_wrong("a press needs a name", "Use letters and digits, such as big press.", name)
        keys = {
            "title": spell_text(title),
            "platen_width": spell_text(f"{usual.platen_width_mm:g} mm"),
            "platen_height": spell_text(f"{usual.platen_height_mm:g} mm"),
            "border": spell_text(f"{usual.border_mm:g} mm"),
            "temperature_c": str(usual.temperature_c),
            "seconds": str(usual.seconds),
            "pressure": spell_text(usual.pressure),
            "prepress_seconds": str(usual.prepress_seconds),
            "cover": spell_text(usual.cover),
            "source": spell_text(usual.source or "your own"),
        } | keys
    changes.set_values("presses.toml", spell_key(name), keys)


def _change_figure(changes: ProfileChanges, profiles: Profiles, entry: Mapping[str, Any]) -> None:
    words = tuple(str(entry.get(key) or "") for key in ("placement", "garment", "what", "length"))
    figure = read_figure(words, profiles, profiles.settings.units)  # type: ignore[arg-type]
    head, keys = list_figure_changes(figure, profiles)
    changes.set_values("placements.toml", head, keys)


def _read_values(entry: Mapping[str, Any]) -> dict[str, Any]:
    """The values of an operation: those named together, and a cost on its own."""
    values = entry.get("values")
    found = {str(key): value for key, value in values.items()} if isinstance(values, dict) else {}
    return found | ({"cost": entry["cost"]} if entry.get("cost") not in (None, "") else {})


def _spell_values(values: Mapping[str, Any], profiles: Profiles) -> dict[str, str]:
    return {name: _spell_value(name, str(value), profiles) for name, value in values.items()}


def _spell_value(name: str, text: str, profiles: Profiles) -> str:
    if name in _LENGTHS:
        try:
            return spell_text(f"{parse_length(text, profiles.settings.units, zero=True):.6g} mm")
        except LengthError as error:
            raise make_wrong(f"{name.replace('_', ' ')}: {error.what}", error.remedy, text) from None
    if name in _NUMBERS:
        return spell_number(text, name.replace("_", " "))
    if name == "address":
        return spell_text(str(parse_address(text.strip()))) if text.strip() else spell_text("")
    if name == "sublimation_ink":
        return "true" if text == "true" else "false"
    if name in _TEXTS:
        return spell_text(text)
    raise make_wrong("not a value that can be entered", "Reload the page.", name)


def _make_slug(text: str) -> str:
    return re.sub(r"[^a-z0-9]+", "-", text.casefold()).strip("-")


def _refuse_unknown(changes: ProfileChanges, profiles: Profiles, entry: Mapping[str, Any]) -> None:
    raise Trouble(make_wrong("not a change that can be made", "Reload the page.", str(entry.get("op"))).findings)


class _Kinds(dict[str, Any]):
    def __missing__(self, key: str) -> Any:
        return _refuse_unknown


_KINDS = _Kinds(
    setting=_change_setting,
    paper=_change_paper,
    printer=_change_printer,
    press=_change_press,
    figure=_change_figure,
    price=change_prices,
)
