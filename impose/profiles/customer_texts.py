"""What customers read, from one file of texts that a shop can replace: sentences, numbers, dates and lengths.

A document is a table of `texts.toml`, a sentence a key of it. A sentence is filled by parts, so that what is filled in
is never read again: a name in braces stays a name. Whoever writes HTML takes the parts and escapes what it fills in.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from decimal import ROUND_HALF_UP, Decimal
from typing import Literal

from impose.profiles.sentence_forms import ANY_NUMBER, COUNT, Part, split_sentence
from impose.units import format_length, show_on_ruler
from impose.values import FrozenStruct

Units = Literal["mm", "in"]


class WritingCustom(FrozenStruct):
    """How customers are used to reading: language, direction, numbers, dates, lengths and money.

    `language` is a tag of BCP 47. `date`, `mm`, `inches`, `size` and `money` are sentences.
    """

    language: str
    direction: Literal["ltr", "rtl"]
    decimal: str
    thousands: str
    digits: str
    date: str
    months: tuple[str, ...]
    mm: str
    inches: str
    size: str
    money: str

    @property
    def right_to_left(self) -> bool:
        """Whether lines run from right to left."""
        return self.direction == "rtl"

    def write_digits(self, number: str) -> str:
        """Digits and decimal point of a plain number as the custom has them."""
        return number.replace(".", self.decimal).translate(str.maketrans("0123456789", self.digits))


class CustomerTexts(FrozenStruct):
    """All texts for customers. `sentences` are by document, key, and the number that a form is for."""

    custom: WritingCustom
    places: Mapping[str, str]
    sentences: Mapping[str, Mapping[str, Mapping[str, str]]]

    def list_forms(self, document: str, key: str) -> Mapping[str, str]:
        """A sentence as it stands in the file, by the number that each form is for; `other` is for all others."""
        return self.sentences[document][key]

    def split_parts(self, document: str, key: str, count: int | None = None) -> tuple[Part, ...]:
        """A sentence in parts: each a text as it stands, or the name of what is filled in. `count` chooses the form."""
        forms = self.sentences[document][key]
        return split_sentence(forms.get(str(count), forms[ANY_NUMBER]))

    def fill_sentence(self, document: str, key: str, **values: str | int) -> str:
        """A sentence as plain text. Whole numbers are written by the custom; `count` also chooses the form."""
        count = values.get(COUNT)
        parts = self.split_parts(document, key, count if isinstance(count, int) else None)
        return _fill_parts(parts, {name: self._write_value(value) for name, value in values.items()})

    def _write_value(self, value: str | int) -> str:
        return value if isinstance(value, str) else self.format_number(value)

    def name_place(self, placement: str) -> str:
        """Where a print goes, in the customer's words: a placement by its name in the profiles."""
        return self.places.get(placement) or placement.replace("-", " ")

    def format_number(self, value: Decimal | int, places: int = 0) -> str:
        """A number with so many decimals, halves away from zero, thousands set apart."""
        rounded = Decimal(value).quantize(Decimal(1).scaleb(-places), ROUND_HALF_UP)
        whole, point, rest = f"{rounded:,f}".partition(".")
        return self.custom.write_digits(whole.replace(",", "\0") + point + rest).replace("\0", self.custom.thousands)

    def format_money(self, amount: Decimal, currency: str) -> str:
        """An amount to the hundredth with its currency."""
        return _fill_parts(
            split_sentence(self.custom.money), {"amount": self.format_number(amount, 2), "currency": currency}
        ).strip()

    def format_date(self, day: date) -> str:
        """A day as the custom has it."""
        plain = {"day": f"{day.day}", "month": f"{day.month}", "year": f"{day.year}"}
        padded = {"dd": f"{day.day:02}", "mm": f"{day.month:02}"}
        values = {name: self.custom.write_digits(text) for name, text in (plain | padded).items()}
        return _fill_parts(split_sentence(self.custom.date), values | {"month_name": self.custom.months[day.month - 1]})

    def format_length(self, mm: float, units: Units) -> str:
        """A length to the tenth of a millimetre or the hundredth of an inch."""
        return self._write_length(format_length(mm, units), units)

    def format_on_ruler(self, mm: float, units: Units) -> str:
        """A length as a ruler has it: whole millimetres, or inches and eighths."""
        return self._write_length(show_on_ruler(mm, units), units)

    def format_size(self, width_mm: float, height_mm: float, units: Units) -> str:
        """Width and height as a ruler has them."""
        sides = {"width": self.format_on_ruler(width_mm, units), "height": self.format_on_ruler(height_mm, units)}
        return _fill_parts(split_sentence(self.custom.size), sides)

    def _write_length(self, text: str, units: Units) -> str:
        number = self.custom.write_digits(text.rpartition(" ")[0])
        return _fill_parts(split_sentence(self.custom.mm if units == "mm" else self.custom.inches), {"number": number})


def _fill_parts(parts: tuple[Part, ...], values: Mapping[str, str]) -> str:
    return "".join(values[part.name] if part.name else part.text for part in parts)
