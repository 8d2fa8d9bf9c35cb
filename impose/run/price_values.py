"""What a shop charges by, as a form has it: rates, shares in per cent, what blanks cost, and steps by quantity."""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal
from typing import Any

from impose.profiles.profiles import Profiles
from impose.run.own_profiles import ProfileChanges, make_wrong, spell_number, spell_text
from impose.run.shop_values import SHIPPED, YOURS, ShopValue, find_origin

FILE = "prices.toml"
_FIELDS = (
    ("press_rate", "An hour of work at the press", "money", ""),
    ("markup", "Added to all costs", "share", "Mark-up: 60 makes 160 of 100."),
    ("tax", "Rate of tax on the price", "share", "Rules are local: ask who knows yours. 0 where none is charged."),
    ("spoilage", "Share made again", "share", "Your own count is taken once 50 transfers were made again."),
    ("power_kw", "The press draws, kW", "number", "On its plate."),
    ("power_cost", "A kilowatt-hour", "money", ""),
    ("round_to", "A garment's price is rounded to", "money", "0.50, for example; blank: to the smallest coin."),
    ("shop", "Your shop, on offers", "text", "Name, street, how to be reached."),
    ("terms", "Terms, on offers", "text", ""),
)  # fmt: skip


def list_price_values(profiles: Profiles) -> dict[str, Any]:
    """All of it; what is not entered is blank."""
    prices, currency = profiles.prices, profiles.settings.currency
    found = []
    for name, title, kind, help_ in _FIELDS:
        value = getattr(prices, name)
        shown = "" if value is None else _show_share(value) if kind == "share" else str(value)
        unit = "%" if kind == "share" else currency if kind == "money" else ""
        origin = find_origin(profiles, "prices", name) if shown else YOURS
        found.append(ShopValue(name, title, shown, kind, origin, unit=unit, help=help_).values())
    return {
        "values": [{**value, "from": "Not entered yet" if value["value"] == "" else value["from"]} for value in found],
        "blanks": [{"name": blank.name, "cost": str(blank.cost)} for blank in prices.blanks],
        "steps": [{"from": count, "off": _show_share(share)} for count, share in sorted(prices.steps.items())],
        "currency": currency,
        "own": any(find_origin(profiles, "prices", name) != SHIPPED for name, *_ in _FIELDS),
    }


def _show_share(share: Decimal) -> str:
    return f"{float(share) * 100:.6g}"


def change_prices(changes: ProfileChanges, profiles: Profiles, entry: Mapping[str, Any]) -> None:
    """A price of the shop's own: a rate by its name, a blank by its words, or a step by its number of garments."""
    if "blank" in entry:
        _change_row(changes, "blanks", " ".join(str(entry["blank"]).split()), entry.get("cost"), False)
        return
    if "from" in entry:
        count = str(entry["from"]).strip()
        if not count.isdigit() or not 0 < int(count) < 100_000:
            raise make_wrong("not a number of garments", "Write it with digits alone.", count)
        _change_row(changes, "steps", str(int(count)), entry.get("off"), True)
        return
    kinds = {name: (title, kind) for name, title, kind, _ in _FIELDS}
    name, value = str(entry.get("name")), str(entry.get("value") or "").strip()
    if name not in kinds:
        raise make_wrong("not a price", "Reload the page.", name)
    title, kind = kinds[name]
    changes.set_values(FILE, "", {name: _spell_price(value, kind, title)})


def _change_row(changes: ProfileChanges, table: str, key: str, value: Any, share: bool) -> None:
    text = str(value or "").strip()
    if not key:
        raise make_wrong("no blank is named", "Write a kind of garment, such as hoodie adult 2XL.", key)
    changes.set_values(FILE, table, {spell_text(key): _spell_price(text, "share" if share else "money", key)})


def _spell_price(text: str, kind: str, title: str) -> str:
    """A value as it stands in the file; blank where the line is to go."""
    if not text:
        return ""
    if kind == "text":
        return spell_text(text)
    number = spell_number(text.removesuffix("%").strip(), title)
    return f"{Decimal(number) / 100:f}" if kind == "share" else number
