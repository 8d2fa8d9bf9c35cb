"""From TOML tables to papers, printers, placements, garments and presses, with all faults noted."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping
from decimal import Decimal
from typing import Any, TypeVar, cast

from impose.errors import Finding
from impose.shop.cloth import SHADES, ClothWords, Fibre, Shade
from impose.shop.garment import Figure, Group, Kind, Wardrobe
from impose.shop.paper import (
    LONGEST_PAGE_MM,
    MediaName,
    Paper,
    PaperNameError,
    Printer,
    folded,
    parse_media_name,
)
from impose.shop.placement import Face, Offset, Placement, Reading, Side, SizeRule, Way
from impose.shop.press import PRESSURES, Press, Setting
from impose.shop.settings import INTENTS, Settings, read_settings, read_tear
from impose.shop.styles import read_style
from impose.shop.tables import Layers, Table, did_you_mean

KINDS = ("papers", "printers", "placements", "garments", "presses", "lettering", "settings")
"""The profile files, less their `.toml`."""

T = TypeVar("T")


def read_shelves(shelves: Mapping[str, Layers], faults: list[Finding]) -> dict[str, Any] | None:
    """All profiles out of the layered files, as fields of `Profiles`; None if there was any fault."""
    before = len(faults)
    tops = {kind: Table(shelves[kind], (), faults, f"{kind}.toml") for kind in KINDS}
    papers = _all(tops["papers"], _paper)
    printers = _all(tops["printers"], _printer)
    presses = _all(tops["presses"], _press)
    wardrobe = _wardrobe(tops["garments"])
    placements = _all(tops["placements"], lambda table: _placement(table, wardrobe))
    lettering = _all(tops["lettering"], read_style)
    settings = read_settings(tops["settings"])
    _distinct(tops["papers"], ((p.alias, (p.alias, p.name, *p.aliases)) for p in papers.values()))
    _distinct(tops["placements"], ((p.name, (p.name, *p.aliases)) for p in placements.values()))
    _settings_name_things(tops["settings"], settings, papers, printers, presses)
    if len(faults) > before:
        return None
    return {
        "papers": papers,
        "printers": printers,
        "placements": placements,
        "wardrobe": wardrobe,
        "presses": presses,
        "lettering": lettering,
        "settings": settings,
    }


def _all(top: Table, reader: Callable[[Table], T]) -> dict[str, T]:
    """Every table of a file, by name, each closed after reading."""
    things: dict[str, T] = {}
    for table in top.tables():
        if not re.fullmatch(r"[a-z0-9][a-z0-9.+-]*", table.name):
            table.fault("", "a name of small letters, digits and hyphens is wanted", "Mend it.", table.name)
        things[table.name] = reader(table)
        table.close()
    return things


def _paper(table: Table) -> Paper:
    media = MediaName("", "", "", 0.0, None)
    name = table.text("name")
    try:
        media = parse_media_name(name) if name else media
    except PaperNameError as error:
        table.fault("name", error.what, error.remedy, name)
    longest = table.length("max_length", "5000 mm")
    if longest > LONGEST_PAGE_MM:
        table.fault("max_length", f"over {LONGEST_PAGE_MM:g} mm, the longest PDF page", "Write less.", longest)
    if media.height_mm is not None and "max_length" in table:
        table.fault("max_length", "is for rolls only", "Take it out, or name a roll.")
    return Paper(
        name=media.name,
        alias=table.name,
        aliases=table.texts("aliases", ()),
        width_mm=media.width_mm,
        height_mm=media.height_mm,
        cost=_cost(table),
        max_length_mm=longest if media.height_mm is None else None,
        note=table.text("note", ""),
        setting=_setting(table),
    )


def _setting(table: Table) -> Setting | None:
    """How the press is set for a paper, in keys of the paper's own table."""
    keys = ("temperature_c", "seconds", "pressure", "rest_seconds")
    if not any(key in table for key in keys):
        return None
    return Setting(
        temperature_c=table.whole("temperature_c", 100, 250) if "temperature_c" in table else None,
        seconds=table.whole("seconds", 1, 600) if "seconds" in table else None,
        pressure=table.text("pressure", choices=PRESSURES) if "pressure" in table else None,
        rest_seconds=table.whole("rest_seconds", 0, 600) if "rest_seconds" in table else None,
    )


def _cost(table: Table, key: str = "cost", blank: str | None = None) -> Decimal:
    """Money in whole millionths, the finest that the nesting counts."""
    cost = table.number(key, "0", "100000", blank)
    if cost != round(cost, 6):
        table.fault(key, "finer than millionths", "Round it to six places.", cost)
    return cost


def _printer(table: Table) -> Printer:
    edges = {f"{side}_mm": table.length(side, zero=True) for side in ("left", "top", "right", "bottom")}
    if max(edges.values()) > 100:
        table.fault("", "an unprintable edge of over 100 mm", "Check the length and its unit.")
    scales = {key: float(table.number(key, "0.95", "1.06", "1")) for key in ("scale_x", "scale_y")}
    return Printer(
        name=table.name,
        note=table.text("note", ""),
        ink_ml_per_m2=table.number("ink_ml_per_m2", "0", "100", "0"),
        ink_cost=_cost(table, "ink_cost", "0"),
        output_profile=table.text("output_profile", ""),
        intent=table.text("intent", "", choices=("", *INTENTS)),
        feed_width_mm=table.length("feed_width") if "feed_width" in table else None,
        **edges,
        **scales,
    )


def _press(table: Table) -> Press:
    return Press(
        name=table.name,
        title=table.text("title"),
        platen_width_mm=table.length("platen_width"),
        platen_height_mm=table.length("platen_height"),
        border_mm=table.length("border", zero=True),
        temperature_c=table.whole("temperature_c", 100, 250),
        seconds=table.whole("seconds", 1, 600),
        pressure=table.text("pressure", choices=PRESSURES),
        prepress_seconds=table.whole("prepress_seconds", 0, 120),
        cover=table.text("cover"),
        rest_seconds=table.whole("rest_seconds", 0, 600, 10),
        handling_seconds=table.whole("handling_seconds", 0, 3600, 90),
        cool_down=table.text("cool_down", ""),
        source=table.text("source"),
        note=table.text("note", ""),
        **{key: float(table.number(key, "0.9", "1.12", "1")) for key in ("scale_x", "scale_y")},
    )


def _wardrobe(top: Table) -> Wardrobe:
    kinds = _part(top, "kinds", _kind)
    groups = _part(top, "groups", _group)
    default_kind, default_group = top.text("default_kind"), top.text("default_group")
    _refers(top, "default_kind", default_kind, kinds)
    _refers(top, "default_group", default_group, groups)
    fibres = _part(top, "fibres", _fibre)
    words = ClothWords(fibres, _shades(top.table("shades")))
    top.close()
    return Wardrobe(kinds, groups, default_kind, default_group, words)


def _fibre(table: Table, names: set[str]) -> Fibre:
    words = tuple(word.casefold() for word in table.texts("words", ()))
    title = table.text("title")
    return Fibre(table.name, title, words, table.flag("dye", default=False), table.flag("melts", default=False))


def _shades(table: Table | None) -> dict[Shade, tuple[str, ...]]:
    """The words for white, light and dark cloth; one word means one thing."""
    if table is None:
        return {}
    shades = {shade: tuple(word.casefold() for word in table.texts(shade, ())) for shade in SHADES}
    owners: dict[str, str] = {}
    for shade, words in shades.items():
        for word in words:
            if owners.setdefault(word, shade) != shade:
                table.fault(shade, f"holds a word that {owners[word]} holds too", "Take it out of one.", word)
    table.close()
    return shades


def _part(top: Table, key: str, reader: Callable[[Table, set[str]], T]) -> dict[str, T]:
    """The tables below one table, each knowing the names of the others."""
    part = top.table(key)
    if part is None:
        return {}
    tables = list(part.tables())
    names = {table.name for table in tables}
    things = {}
    for table in tables:
        things[table.name] = reader(table, names)
        table.close()
    return things


def _kind(table: Table, names: set[str]) -> Kind:
    like = table.text("like", "")
    _refers(table, "like", like, names)
    note = table.text("note", "")
    words, scales = table.texts("words", ()), _cloth(table)
    parted = table.flag("zip", default=False)
    return Kind(table.name, table.text("title"), words, like, note, *scales, parted, table.texts("sizes", ()))


def _cloth(table: Table) -> tuple[float | None, float | None]:
    """What is allowed for the cloth, where it is said; their product is judged with the press and printer in force."""
    across, along = (
        float(table.number(key, "0.9", "1.12")) if key in table else None for key in ("scale_x", "scale_y")
    )
    table.known(("scale_x", "scale_y"))
    return across, along


def _group(table: Table, names: set[str]) -> Group:
    otherwise = table.text("otherwise", "")
    _refers(table, "otherwise", otherwise, names)
    return Group(
        name=table.name,
        title=table.text("title"),
        words=table.texts("words", ()),
        sizes=table.texts("sizes", ()),
        otherwise=otherwise,
        note=table.text("note", ""),
        figure=_figure(table, "drawn"),
        smallest=_figure(table, "smallest"),
    )


def _figure(table: Table, key: str) -> Figure | None:
    part = table.table(key)
    if part is None:
        return None
    measures = {name: part.length(name) for name in MEASURES}
    source = part.text("source")
    part.close()
    return Figure(**measures, source=source)


MEASURES = (
    "width", "length", "shoulders", "short_sleeve", "short_sleeve_width", "long_sleeve", "long_sleeve_width"
)  # fmt: skip


def _refers(table: Table, key: str, name: str, known: Iterable[str]) -> None:
    if name and name not in known:
        table.fault(key, "names nothing that is on file", did_you_mean(name, set(known)), name)


def _placement(table: Table, wardrobe: Wardrobe) -> Placement:
    ways = _ways(table.table("ways"), wardrobe)
    return Placement(
        name=table.name,
        title=table.text("title"),
        up=table.text("up", "UP", choices=("UP", "SHOULDER")),
        reading=cast("Reading", table.text("reading", "upright", choices=("upright", "shoulder-down", "cuff-up"))),
        tear=read_tear(table, "tear") if "tear" in table else None,
        least_side_mm=_least_side(table),
        sizes=_by_garment(table, "sizes", wardrobe, _size_rule),
        offsets=_by_garment(table, "offsets", wardrobe, _offset),
        across=_by_garment(table, "across", wardrobe, _offset),
        aliases=table.texts("aliases", ()),
        note=table.text("note", ""),
        face=cast("Face", table.text("face", "other", choices=FACES)),
        side=cast("Side", table.text("side", "centre", choices=("centre", "left", "right"))),
        ways=ways,
        way=table.text("way", "", choices=("", *ways)),
        below=table.texts("below", ()),
    )


def _ways(table: Table | None, wardrobe: Wardrobe) -> dict[str, Way]:
    """Other ways of measuring a place, by name."""
    ways = {}
    for one in table.tables() if table else ():
        offsets, across = (_by_garment(one, key, wardrobe, _offset) for key in ("offsets", "across"))
        ways[one.name] = Way(offsets, across)
        one.close()
    return ways


FACES = ("front", "back", "left sleeve", "right sleeve", "hood", "other")


def _least_side(table: Table) -> float:
    side = table.length("least_side", "5 mm", zero=True)
    if side > 14:
        table.fault("least_side", "more than the normal tear margin of 14 mm", "Write less.", side)
    return side


def _by_garment(table: Table, key: str, wardrobe: Wardrobe, reader: Callable[[Table], T]) -> dict[str, T]:
    """A table of tables named by garment: `adult`, `hoodie adult`, `youth L`."""
    part = table.table(key)
    things: dict[str, T] = {}
    for entry in part.tables() if part else ():
        if not _is_garment(entry.name, wardrobe):
            known = [*wardrobe.groups, *(f"{k} {g}" for k in wardrobe.kinds for g in wardrobe.groups)]
            entry.fault("", "not a garment group, nor a kind and a group", did_you_mean(entry.name, known))
        things[entry.name] = reader(entry)
        entry.close()
    return things


def _is_garment(name: str, wardrobe: Wardrobe) -> bool:
    words = name.split(" ")
    if words[0] in wardrobe.kinds and len(words) > 1:
        words = words[1:]
    return words[0] in wardrobe.groups and len(words) <= 2


def _size_rule(table: Table) -> SizeRule:
    width, height = table.length_or_none("width"), table.length_or_none("height")
    least, most = table.length_or_none("least"), table.length_or_none("most")
    if width is None and height is None:
        table.fault("width", "missing, and so is height", "Give one of them or both.")
    if not (least or 0.0) <= (width or least or 0.0) <= (most or 1e9):
        table.fault("width", "outside least and most", "Put it between them, or move them.")
    return SizeRule(width, height, least, most, table.text("source"), table.text("limit", ""))


def _offset(table: Table) -> Offset:
    usual, least, most = table.length("usual"), table.length_or_none("least"), table.length_or_none("most")
    if not (least or 0.0) <= usual <= (most or 1e9):
        table.fault("usual", "outside least and most", "Put it between them, or move them.")
    return Offset(
        measured_from=table.text("from", choices=FROM),
        measured_to=table.text("to", choices=TO),
        usual_mm=usual,
        least_mm=least,
        most_mm=most,
        source=table.text("source"),
        own=_is_own(table),
    )


def _is_own(table: Table) -> bool:
    """Whether the shop has put in the figure itself, and not merely copied the shipped file."""
    if table.origin("usual").startswith("shipped"):
        return False
    return table.origin("source").startswith("shipped") or "common practice" not in str(table.peek("source"))


FROM = (
    "collar",
    "neck seam",
    "shoulder seam",
    "sleeve seam",
    "hem seam",
    "centre line",
    "pocket top",
    "hood edge",
    "cuff",
)
TO = ("top of print", "centre of print", "bottom of print")


def _distinct(top: Table, named: Iterable[tuple[str, tuple[str, ...]]]) -> None:
    """No two entries may answer to the same name."""
    owners: dict[str, str] = {}
    for owner, names in named:
        for name in dict.fromkeys(folded(n) for n in names):
            other = owners.setdefault(name, owner)
            if other != owner:
                top.fault(owner, f"answers to the same name as {other}", "Change an alias.", name)


def _settings_name_things(
    top: Table,
    settings: Settings,
    papers: Mapping[str, Paper],
    printers: Mapping[str, Printer],
    presses: Mapping[str, Press],
) -> None:
    names = {folded(n) for p in papers.values() for n in (p.alias, p.name, *p.aliases)}
    for paper in settings.papers:
        if folded(paper) not in names:
            top.fault("papers", "names a paper that is not on file", did_you_mean(paper, papers), paper)
    if not settings.papers:
        top.fault("papers", "names no paper", "Name at least one.")
    _refers(top, "printer", settings.printer, printers)
    _refers(top, "press", settings.press, presses)
