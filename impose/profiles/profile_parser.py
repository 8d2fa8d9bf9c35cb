"""From TOML tables to papers, printers, placements, garments and presses, with all faults noted."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping
from typing import Any, TypeVar, cast

from impose.errors import Finding
from impose.profiles.cloth import SHADES, ClothWords, Fibre, Shade
from impose.profiles.customer_texts_reader import read_customer_texts
from impose.profiles.equipment_parser import parse_paper, parse_press, parse_printer
from impose.profiles.garment import BodyGroup, GarmentCatalogue, GarmentFigure, GarmentKind
from impose.profiles.pads import read_pad
from impose.profiles.paper import Paper, Printer, fold_name
from impose.profiles.placement import (
    FROM,
    TO,
    Face,
    MeasuringWay,
    PlacementOffset,
    PlacementRule,
    Reading,
    Side,
    SizeRule,
)  # fmt: skip
from impose.profiles.press import HeatPress
from impose.profiles.prices import read_prices
from impose.profiles.settings import Settings, read_settings, read_tear
from impose.profiles.toml_tables import ProfileLayers, TomlTable, suggest_word
from impose.profiles.word_styles import read_style

KINDS = ("papers", "printers", "placements", "garments", "presses", "pads", "lettering", "settings", "prices", "texts")
"""The profile files, less their `.toml`."""

T = TypeVar("T")


def parse_profiles(shelves: Mapping[str, ProfileLayers], faults: list[Finding]) -> dict[str, Any] | None:
    """All profiles out of the layered files, as fields of `Profiles`; None if there was any fault."""
    before = len(faults)
    tops = {kind: TomlTable(shelves[kind], (), faults, f"{kind}.toml") for kind in KINDS}
    papers = _parse_tables(tops["papers"], parse_paper)
    printers = _parse_tables(tops["printers"], parse_printer)
    presses = _parse_tables(tops["presses"], parse_press)
    pads = _parse_tables(tops["pads"], read_pad)
    wardrobe = _parse_catalogue(tops["garments"])
    placements = _parse_tables(tops["placements"], lambda table: _parse_placement(table, wardrobe))
    lettering = _parse_tables(tops["lettering"], read_style)
    settings = read_settings(tops["settings"])
    prices = read_prices(tops["prices"], wardrobe)
    texts = read_customer_texts(tops["texts"], placements)
    _check_distinct(tops["papers"], ((p.alias, (p.alias, p.name, *p.aliases)) for p in papers.values()))
    _check_distinct(tops["placements"], ((p.name, (p.name, *p.aliases)) for p in placements.values()))
    _check_settings_names(tops["settings"], settings, papers, printers, presses)
    if len(faults) > before:
        return None
    return {
        "papers": papers,
        "printers": printers,
        "placements": placements,
        "wardrobe": wardrobe,
        "presses": presses,
        "pads": pads,
        "lettering": lettering,
        "settings": settings,
        "prices": prices,
        "texts": texts,
    }


def _parse_tables(top: TomlTable, reader: Callable[[TomlTable], T]) -> dict[str, T]:
    """Every table of a file, by name, each closed after reading."""
    things: dict[str, T] = {}
    for table in top.take_tables():
        if not re.fullmatch(r"[a-z0-9][a-z0-9.+-]*", table.table_name):
            table.note_fault("", "a name of small letters, digits and hyphens is wanted", "Mend it.", table.table_name)
        things[table.table_name] = reader(table)
        table.report_unknown_keys()
    return things


def _parse_catalogue(top: TomlTable) -> GarmentCatalogue:
    kinds = _parse_part(top, "kinds", _parse_kind)
    groups = _parse_part(top, "groups", _parse_group)
    default_kind, default_group = top.take_text("default_kind"), top.take_text("default_group")
    _check_reference(top, "default_kind", default_kind, kinds)
    _check_reference(top, "default_group", default_group, groups)
    fibres = _parse_part(top, "fibres", _parse_fibre)
    words = ClothWords(fibres, _parse_shades(top.take_table("shades")))
    top.report_unknown_keys()
    return GarmentCatalogue(kinds, groups, default_kind, default_group, words)


def _parse_fibre(table: TomlTable, names: set[str]) -> Fibre:
    words = tuple(word.casefold() for word in table.take_texts("words", ()))
    title = table.take_text("title")
    return Fibre(
        table.table_name, title, words, table.take_flag("dye", default=False), table.take_flag("melts", default=False)
    )


def _parse_shades(table: TomlTable | None) -> dict[Shade, tuple[str, ...]]:
    """The words for white, light and dark cloth; one word means one thing."""
    if table is None:
        return {}
    shades = {shade: tuple(word.casefold() for word in table.take_texts(shade, ())) for shade in SHADES}
    owners: dict[str, str] = {}
    for shade, words in shades.items():
        for word in words:
            if owners.setdefault(word, shade) != shade:
                table.note_fault(shade, f"holds a word that {owners[word]} holds too", "Take it out of one.", word)
    table.report_unknown_keys()
    return shades


def _parse_part(top: TomlTable, key: str, reader: Callable[[TomlTable, set[str]], T]) -> dict[str, T]:
    """The tables below one table, each knowing the names of the others."""
    part = top.take_table(key)
    if part is None:
        return {}
    tables = list(part.take_tables())
    names = {table.table_name for table in tables}
    things = {}
    for table in tables:
        things[table.table_name] = reader(table, names)
        table.report_unknown_keys()
    return things


def _parse_kind(table: TomlTable, names: set[str]) -> GarmentKind:
    like = table.take_text("like", "")
    _check_reference(table, "like", like, names)
    note = table.take_text("note", "")
    words, scales = table.take_texts("words", ()), _parse_cloth(table)
    parted = table.take_flag("zip", default=False)
    return GarmentKind(
        table.table_name, table.take_text("title"), words, like, note, *scales, parted, table.take_texts("sizes", ())
    )


def _parse_cloth(table: TomlTable) -> tuple[float | None, float | None]:
    """What is allowed for the cloth, where it is said; their product is judged with the press and printer in force."""
    across, along = (
        float(table.take_number(key, "0.9", "1.12")) if key in table else None for key in ("scale_x", "scale_y")
    )
    table.declare_keys(("scale_x", "scale_y"))
    return across, along


def _parse_group(table: TomlTable, names: set[str]) -> BodyGroup:
    otherwise = table.take_text("otherwise", "")
    _check_reference(table, "otherwise", otherwise, names)
    return BodyGroup(
        name=table.table_name,
        title=table.take_text("title"),
        words=table.take_texts("words", ()),
        sizes=table.take_texts("sizes", ()),
        otherwise=otherwise,
        note=table.take_text("note", ""),
        figure=_parse_figure(table, "drawn"),
        smallest=_parse_figure(table, "smallest"),
    )


def _parse_figure(table: TomlTable, key: str) -> GarmentFigure | None:
    part = table.take_table(key)
    if part is None:
        return None
    measures = {name: part.take_length(name) for name in MEASURES}
    source = part.take_text("source")
    part.report_unknown_keys()
    return GarmentFigure(**measures, source=source)


MEASURES = (
    "width", "length", "shoulders", "short_sleeve", "short_sleeve_width", "long_sleeve", "long_sleeve_width"
)  # fmt: skip


def _check_reference(table: TomlTable, key: str, name: str, known: Iterable[str]) -> None:
    if name and name not in known:
        table.note_fault(key, "names nothing that is on file", suggest_word(name, set(known)), name)


def _parse_placement(table: TomlTable, wardrobe: GarmentCatalogue) -> PlacementRule:
    ways = _parse_ways(table.take_table("ways"), wardrobe)
    return PlacementRule(
        name=table.table_name,
        title=table.take_text("title"),
        up=table.take_text("up", "UP", choices=("UP", "SHOULDER")),
        reading=cast("Reading", table.take_text("reading", "upright", choices=("upright", "shoulder-down", "cuff-up"))),
        tear=read_tear(table, "tear") if "tear" in table else None,
        least_side_mm=_parse_least_side(table),
        sizes=_parse_by_garment(table, "sizes", wardrobe, _parse_size_rule),
        offsets=_parse_by_garment(table, "offsets", wardrobe, _parse_offset),
        across=_parse_by_garment(table, "across", wardrobe, _parse_offset),
        aliases=table.take_texts("aliases", ()),
        note=table.take_text("note", ""),
        face=cast("Face", table.take_text("face", "other", choices=FACES)),
        side=cast("Side", table.take_text("side", "centre", choices=("centre", "left", "right"))),
        ways=ways,
        way=table.take_text("way", "", choices=("", *ways)),
        below=table.take_texts("below", ()),
    )


def _parse_ways(table: TomlTable | None, wardrobe: GarmentCatalogue) -> dict[str, MeasuringWay]:
    """Other ways of measuring a place, by name."""
    ways = {}
    for entry in table.take_tables() if table else ():
        offsets, across = (_parse_by_garment(entry, key, wardrobe, _parse_offset) for key in ("offsets", "across"))
        ways[entry.table_name] = MeasuringWay(offsets, across)
        entry.report_unknown_keys()
    return ways


FACES = ("front", "back", "left sleeve", "right sleeve", "hood", "other")


def _parse_least_side(table: TomlTable) -> float:
    side = table.take_length("least_side", "5 mm", zero=True)
    if side > 14:
        table.note_fault("least_side", "more than the normal tear margin of 14 mm", "Write less.", side)
    return side


def _parse_by_garment(
    table: TomlTable, key: str, wardrobe: GarmentCatalogue, reader: Callable[[TomlTable], T]
) -> dict[str, T]:
    """A table of tables named by garment: `adult`, `hoodie adult`, `youth L`."""
    part = table.take_table(key)
    things: dict[str, T] = {}
    for entry in part.take_tables() if part else ():
        if not _is_garment(entry.table_name, wardrobe):
            known = [*wardrobe.groups, *(f"{k} {g}" for k in wardrobe.kinds for g in wardrobe.groups)]
            entry.note_fault("", "not a garment group, nor a kind and a group", suggest_word(entry.table_name, known))
        things[entry.table_name] = reader(entry)
        entry.report_unknown_keys()
    return things


def _is_garment(name: str, wardrobe: GarmentCatalogue) -> bool:
    words = name.split(" ")
    if words[0] in wardrobe.kinds and len(words) > 1:
        words = words[1:]
    return words[0] in wardrobe.groups and len(words) <= 2


def _parse_size_rule(table: TomlTable) -> SizeRule:
    width, height = table.take_optional_length("width"), table.take_optional_length("height")
    least, most = table.take_optional_length("least"), table.take_optional_length("most")
    if width is None and height is None:
        table.note_fault("width", "missing, and so is height", "Give one of them or both.")
    if not (least or 0.0) <= (width or least or 0.0) <= (most or 1e9):
        table.note_fault("width", "outside least and most", "Put it between them, or move them.")
    return SizeRule(width, height, least, most, table.take_text("source"), table.take_text("limit", ""))


def _parse_offset(table: TomlTable) -> PlacementOffset:
    usual, least, most = (
        table.take_length("usual"),
        table.take_optional_length("least"),
        table.take_optional_length("most"),
    )
    if not (least or 0.0) <= usual <= (most or 1e9):
        table.note_fault("usual", "outside least and most", "Put it between them, or move them.")
    return PlacementOffset(
        measured_from=table.take_text("from", choices=FROM),
        measured_to=table.take_text("to", choices=TO),
        usual_mm=usual,
        least_mm=least,
        most_mm=most,
        source=table.take_text("source"),
        own=_is_own(table),
    )


def _is_own(table: TomlTable) -> bool:
    """Whether the shop has put in the figure itself, and not merely copied the shipped file."""
    if table.key_origin("usual").startswith("shipped"):
        return False
    return table.key_origin("source").startswith("shipped") or "common practice" not in str(table.peek_value("source"))


def _check_distinct(top: TomlTable, named: Iterable[tuple[str, tuple[str, ...]]]) -> None:
    """No two entries may answer to the same name."""
    owners: dict[str, str] = {}
    for owner, names in named:
        for name in dict.fromkeys(filter(None, (fold_name(n) for n in names))):
            other = owners.setdefault(name, owner)
            if other != owner:
                top.note_fault(owner, f"answers to the same name as {other}", "Change an alias.", name)


def _check_settings_names(
    top: TomlTable,
    settings: Settings,
    papers: Mapping[str, Paper],
    printers: Mapping[str, Printer],
    presses: Mapping[str, HeatPress],
) -> None:
    names = {fold_name(n) for p in papers.values() for n in (p.alias, p.name, *p.aliases)}
    for paper in settings.papers:
        if fold_name(paper) not in names:
            top.note_fault("papers", "names a paper that is not on file", suggest_word(paper, papers), paper)
    if not settings.papers:
        top.note_fault("papers", "names no paper", "Name at least one.")
    _check_reference(top, "printer", settings.printer, printers)
    _check_reference(top, "press", settings.press, presses)
