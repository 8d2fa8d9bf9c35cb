"""`texts.toml` to the texts for customers, with every fault noted by file, key and remedy.

What may stand in a shop's own file is what stands in the shipped one: its documents, its keys, the names that its
sentences have filled in. So a document is added by a table in the shipped file, and nowhere else.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Mapping
from typing import Literal, cast

from impose.profiles.customer_texts import CustomerTexts, WritingCustom
from impose.profiles.sentence_forms import ANY_NUMBER, COUNT, find_sentence_fault, list_names
from impose.profiles.toml_tables import TomlTable, suggest_word

_OWN_TABLES = ("custom", "places")
_LANGUAGE = r"[A-Za-z]{2,3}(-[A-Za-z0-9]{2,8}){0,4}"
_DATE_NAMES = {"day", "month", "year", "dd", "mm", "month_name"}


def read_customer_texts(top: TomlTable, placements: Collection[str]) -> CustomerTexts:
    """The texts of the profile files; `placements` are the names that [places] may have."""
    custom = top.take_table("custom")
    places = top.take_table("places")
    sentences = {}
    for table in top.take_tables():
        if not isinstance(top.peek_shipped(table.table_name), Mapping):
            known = [name for name in top.list_shipped() if name not in _OWN_TABLES]
            table.note_fault("", "no document that customers get", suggest_word(table.table_name, known))
            continue
        sentences[table.table_name] = {key: forms for key in table if (forms := _read_forms(table, key))}
        table.report_unknown_keys()
    return CustomerTexts(_read_custom(custom), _read_places(places, placements), sentences)


def _read_forms(table: TomlTable, key: str) -> dict[str, str]:
    """A sentence with its forms by number; nothing where it cannot be taken."""
    shipped = table.peek_shipped(key)
    if shipped is None:
        return {}  # reported as a key that is not known
    filled = set().union(*map(list_names, _list_forms(shipped).values()))
    value = table.peek_value(key)
    if isinstance(value, Mapping):
        forms = _read_numbered(table, key, value, COUNT in filled)
    else:
        forms = {ANY_NUMBER: table.take_raw_text(key)}
    for number, text in forms.items():
        optional = set() if number == ANY_NUMBER else {COUNT}
        if isinstance(text, str) and (fault := find_sentence_fault(text, filled, optional)):
            table.note_fault(key, fault.what, fault.remedy, text)
    return forms


def _read_numbered(table: TomlTable, key: str, value: Mapping[str, object], counted: bool) -> dict[str, str]:
    """Forms for single numbers and for all others. What is shipped for a number is not mixed with a shop's own."""
    mixed = isinstance(table.peek_shipped(key), Mapping)
    own = {number for number in value if not mixed or table.key_origin(key, number) == table.key_origin(key)}
    part = table.take_table(key)
    assert part is not None
    if not counted:
        table.note_fault(key, "forms by number, but nothing is counted in it", "Write one sentence in quotes.")
    for number in sorted(own):
        if number != ANY_NUMBER and not re.fullmatch(r"0|[1-9][0-9]{0,3}", number):
            part.note_fault(number, "neither a number nor other", 'Forms are as in { 1 = "…", other = "…" }.')
    if ANY_NUMBER not in own:
        table.note_fault(key, "there is no form for all other numbers", 'Add other = "…".')
        return {}
    return {number: part.take_raw_text(number) for number in value if number in own}


def _list_forms(value: object) -> dict[str, str]:
    forms = value if isinstance(value, Mapping) else {ANY_NUMBER: value}
    return {str(number): str(text) for number, text in forms.items()}


def _read_places(table: TomlTable | None, placements: Collection[str]) -> dict[str, str]:
    places = {}
    for key in table or ():
        assert table is not None
        if key not in placements:
            table.declare_keys(placements)
            continue
        places[key] = table.take_raw_text(key)
        if fault := find_sentence_fault(places[key], set(), set()):
            table.note_fault(key, fault.what, fault.remedy, places[key])
    if table is not None:
        table.report_unknown_keys()
    return places


def _read_custom(table: TomlTable | None) -> WritingCustom:
    if table is None:
        return WritingCustom("en", "ltr", ".", ",", "0123456789", "", (), "", "", "", "")
    language = table.take_text("language")
    if language and not re.fullmatch(_LANGUAGE, language):
        table.note_fault("language", "no tag of a language", 'Write it as BCP 47 has it: "de", "pt-BR".', language)
    months = table.take_texts("months")
    if len(months) != 12 or not all(months):
        table.note_fault("months", f"has {len(months)} names", "Name the twelve months in order.")
    read = WritingCustom(
        language=language,
        direction=cast(Literal["ltr", "rtl"], table.take_text("direction", choices=("ltr", "rtl"))),
        decimal=_read_mark(table, "decimal"),
        thousands=_read_mark(table, "thousands"),
        digits=_read_digits(table),
        date=_read_date(table),
        months=months,
        mm=_read_pattern(table, "mm", {"number"}),
        inches=_read_pattern(table, "inches", {"number"}),
        size=_read_pattern(table, "size", {"width", "height"}),
        money=_read_pattern(table, "money", {"amount", "currency"}),
    )
    if read.decimal and read.decimal == read.thousands:
        key = "thousands" if table.key_origin("decimal").startswith("shipped") else "decimal"
        table.note_fault(key, "the same sign before decimals and between thousands", "Change either.", read.decimal)
    table.report_unknown_keys()
    return read


def _read_mark(table: TomlTable, key: str) -> str:
    mark = table.take_raw_text(key)
    if len(mark) > 1 or re.search(r"[\w{}\x00-\x1f]", mark) or (key == "decimal" and not mark):
        none = " or nothing" if key == "thousands" else ""
        table.note_fault(key, "no mark in a number", f"Write one sign{none}, such as a point or a comma.", mark)
    return mark


def _read_digits(table: TomlTable) -> str:
    digits = table.take_raw_text("digits")
    # Unicode gives every decimal digit its value; each script has its ten in a row.
    if len(digits) != 10 or not digits.isdecimal() or [int(sign) for sign in digits] != list(range(10)):
        table.note_fault("digits", "not ten digits from nought to nine", 'Write them in order: "0123456789".', digits)
        return "0123456789"
    return digits


def _read_pattern(table: TomlTable, key: str, filled: set[str]) -> str:
    text = table.take_raw_text(key)
    if fault := find_sentence_fault(text, filled, set()):
        table.note_fault(key, fault.what, fault.remedy, text)
    return text


def _read_date(table: TomlTable) -> str:
    text = table.take_raw_text("date")
    fault = find_sentence_fault(text, _DATE_NAMES, _DATE_NAMES)
    if fault:
        table.note_fault("date", fault.what, fault.remedy, text)
        return text
    names = list_names(text)
    if "year" not in names or not names & {"day", "dd"} or not names & {"month", "mm", "month_name"}:
        table.note_fault("date", "a date without its day, month or year", 'As in "{dd}.{mm}.{year}".', text)
    return text
