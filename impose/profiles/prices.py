"""What a shop charges by: what work, power and blanks cost it, what it adds, and how prices are rounded.

Whatever is not entered is None: unknown, and never taken as nothing. A shop that has no such cost enters 0.
"""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal

from impose.profiles.cloth import Cloth
from impose.profiles.garment import Garment, GarmentCatalogue
from impose.profiles.toml_tables import TomlTable
from impose.values import FrozenStruct, field

_MOST_SHARE = "10"


class BlankPrice(FrozenStruct):
    """What the shop pays for a blank: of a kind, and of a group, size and colour where it names them."""

    name: str
    kind: str
    group: str
    size: str
    colour: str
    cost: Decimal

    @property
    def rank(self) -> tuple[int, bool, bool, bool]:
        """What goes first: the one that names more; a size before a colour, a colour before a group."""
        said = (bool(self.size), bool(self.colour), bool(self.group))
        return sum(said), *said

    def fits_garment(self, garment: Garment, cloth: Cloth) -> bool:
        """Whether a garment is one of these."""
        pairs = ((self.group, garment.group), (self.size, garment.size), (self.colour, cloth.colour))
        return self.kind == garment.kind and all(
            not said or said.casefold() == has.strip().casefold() for said, has in pairs
        )


class ShopPrices(FrozenStruct):
    """All that prices are reckoned from. Rates and amounts are in the currency of the settings; shares are parts of 1.

    `press_rate` is for an hour of work at the press, `power_cost` for a kilowatt-hour. `steps` are, by the number of
    garments of an order from which it holds, the share taken off the price. `round_to` is what a garment's price is
    rounded to, None for the minor unit.
    """

    press_rate: Decimal | None = None
    power_kw: Decimal | None = None
    power_cost: Decimal | None = None
    spoilage: Decimal | None = None
    markup: Decimal | None = None
    tax: Decimal | None = None
    round_to: Decimal | None = None
    shop: str = ""
    terms: str = ""
    blanks: tuple[BlankPrice, ...] = ()
    steps: Mapping[int, Decimal] = field(default_factory=dict)

    def find_blank(self, garment: Garment, cloth: Cloth) -> BlankPrice | None:
        """What a garment's blank costs, by the entry that says most of it; None where no entry fits."""
        fitting = [blank for blank in self.blanks if blank.fits_garment(garment, cloth)]
        return max(fitting, key=lambda blank: (blank.rank, blank.name), default=None)

    def find_share_off(self, garments: int) -> Decimal:
        """The share that is taken off the price in an order of so many garments."""
        reached = [count for count in self.steps if count <= garments]
        return self.steps[max(reached)] if reached else Decimal(0)


def read_prices(table: TomlTable, wardrobe: GarmentCatalogue) -> ShopPrices:
    """The prices of the profile files; faults go to the table's list."""
    found = ShopPrices(
        press_rate=_take_amount(table, "press_rate"),
        power_kw=_take_share(table, "power_kw", "100"),
        power_cost=_take_amount(table, "power_cost"),
        spoilage=_take_share(table, "spoilage", "1"),
        markup=_take_share(table, "markup", _MOST_SHARE),
        tax=_take_share(table, "tax", "1"),
        round_to=_take_rounding(table),
        shop=table.take_text("shop", ""),
        terms=table.take_text("terms", ""),
        blanks=_read_blanks(table.take_table("blanks"), wardrobe),
        steps=_read_steps(table.take_table("steps")),
    )
    table.declare_keys(ShopPrices.__struct_fields__)
    table.report_unknown_keys()
    return found


def _take_share(table: TomlTable, key: str, most: str) -> Decimal | None:
    return table.take_number(key, "0", most) if key in table else None


def _take_amount(table: TomlTable, key: str) -> Decimal | None:
    if key not in table:
        return None
    amount = table.take_number(key, "0", "100000")
    if amount != round(amount, 6):
        table.note_fault(key, "finer than millionths", "Round it to six places.", amount)
    return amount


def _take_rounding(table: TomlTable) -> Decimal | None:
    amount = _take_amount(table, "round_to")
    if amount == 0:
        table.note_fault("round_to", "prices cannot be rounded to nothing", "Write 0.01, or take the line out.", amount)
        return None
    return amount


def _read_blanks(table: TomlTable | None, wardrobe: GarmentCatalogue) -> tuple[BlankPrice, ...]:
    found: dict[tuple[str, ...], BlankPrice] = {}
    for name in table or ():
        assert table is not None
        cost = _take_amount(table, name)
        blank = _read_blank(table, name, cost or Decimal(0), wardrobe)
        if blank is None:
            continue
        key = (blank.kind, blank.group, blank.size, blank.colour.casefold())
        other = found.setdefault(key, blank)
        if other is not blank:
            table.note_fault(name, f"names the same blank as “{other.name}”", "Take one of them out.", name)
    return tuple(found.values())


def _read_blank(table: TomlTable, name: str, cost: Decimal, wardrobe: GarmentCatalogue) -> BlankPrice | None:
    """An entry by its name, such as “hoodie adult 2XL navy”: kind, group, size; what is left is the colour."""
    reading = wardrobe.read_garment(name)
    if reading.fault:
        table.note_fault(name, reading.fault, "Name one kind, and one group and size if it matters.", name)
        return None
    if not reading.kind_named:
        kinds = ", ".join(sorted(wardrobe.kinds))
        table.note_fault(name, "names no kind of garment", f"Known are {kinds}. A colour may follow.", name)
        return None
    garment = reading.garment
    group = garment.group if reading.group_named else ""
    return BlankPrice(name, garment.kind, group, garment.size, " ".join(reading.unknown), cost)


def _read_steps(table: TomlTable | None) -> dict[int, Decimal]:
    found: dict[int, Decimal] = {}
    for key in table or ():
        assert table is not None
        share = table.take_number(key, "0", "1")
        if not (key.isascii() and key.isdecimal() and 2 <= int(key) <= 100_000):
            remedy = "Write the number of garments from which it holds, such as 12 = 0.05."
            table.note_fault(key, "not a number of garments from 2 to 100000", remedy, key)
        elif int(key) in found:
            table.note_fault(key, "a number of garments that stands there twice", "Take one of them out.", key)
        else:
            found[int(key)] = share
    return dict(sorted(found.items()))
