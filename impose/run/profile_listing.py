"""The profiles in force as tables for people and programs, and a copy of the shipped ones to make one's own."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from impose import files
from impose.errors import Exit, Finding, Trouble
from impose.profiles.paper import Printer
from impose.profiles.placement import PlacementRule, SizeRule
from impose.profiles.profiles import Profiles
from impose.run.load_batch import load_profiles_in_force
from impose.run.options import Options
from impose.units import format_length

Rows = list[tuple[str, ...]]


def list_profiles(options: Options, kind: str | None = None) -> dict[str, Rows]:
    """Every shelf of profiles, or one, as rows whose last column says which file they came from."""
    profiles = load_profiles_in_force(options)
    shelves: dict[str, Callable[[Profiles], Rows]] = {
        "papers": _list_papers,
        "printers": _list_printers,
        "placements": _list_placements,
        "garments": _list_garments,
        "presses": _list_presses,
        "pads": _list_pads,
        "lettering": _list_lettering,
        "settings": _list_settings,
        "prices": _list_prices,
        "texts": _list_texts,
    }
    return {name: rows(profiles) for name, rows in shelves.items() if kind in (None, name)}


def copy_profiles(folder: Path, kind: str | None = None) -> tuple[list[str], list[str]]:
    """Copy the shipped TOML files, or that of one kind, into a folder: those written, and those left as they are.

    None is overwritten; raises `Trouble` where all are there already.
    """
    shipped = sorted(
        (f for f in files.find_shipped_profiles().iterdir() if f.name.endswith(".toml")), key=lambda f: f.name
    )
    wanted = [source for source in shipped if kind in (None, source.name.removesuffix(".toml"))]
    left = [source.name for source in wanted if (folder / source.name).exists()]
    if len(left) == len(wanted):
        what = f"{folder} holds {', '.join(left)} already, and nothing is overwritten"
        raise Trouble(Finding(what, "Choose another folder, or move what is there away first.", exit=Exit.USAGE))
    folder.mkdir(parents=True, exist_ok=True)
    written = [source for source in wanted if source.name not in left]
    for source in written:
        with files.write_new_file(folder / source.name) as part:
            part.write_bytes(source.read_bytes())
    return [str(folder / source.name) for source in written], [str(folder / name) for name in left]


def _find_origin(profiles: Profiles, *path: str) -> str:
    """The file that said it last: that of the key, or of any key below it."""
    start = ".".join(path)
    found = [o for key, o in profiles.origins.items() if key == start or key.startswith(f"{start}.")]
    own = [o for o in found if not o.startswith("shipped")]
    return (own or found or [""])[-1]


def _list_papers(profiles: Profiles) -> Rows:
    units = profiles.settings.units
    rows: Rows = []
    for key, paper in profiles.papers.items():
        if paper.height_mm is None:
            size = (
                f"{format_length(paper.width_mm, units)} wide, cut at {format_length(paper.max_length_mm or 0, units)}"
            )
        else:
            size = f"{format_length(paper.width_mm, units)} × {format_length(paper.height_mm, units)}"
        cost = f"{paper.cost} {profiles.settings.currency}{' a metre' if paper.is_roll else ''}"
        rows.append((paper.alias, paper.name, size, cost, _find_origin(profiles, "papers", key)))
    return rows


def _list_printers(profiles: Profiles) -> Rows:
    return [
        (
            name,
            f"edges {_format_edges(printer, profiles)}",
            f"scale {printer.scale_x:g}, {printer.scale_y:g}",
            _find_origin(profiles, "printers", name),
        )
        for name, printer in profiles.printers.items()
    ]


def _format_edges(printer: Printer, profiles: Profiles) -> str:
    edges = (printer.left_mm, printer.top_mm, printer.right_mm, printer.bottom_mm)
    return ", ".join(
        f"{side} {format_length(mm, profiles.settings.units)}"
        for side, mm in zip(("left", "top", "right", "bottom"), edges, strict=True)
    )


def _list_placements(profiles: Profiles) -> Rows:
    rows: Rows = []
    for name, placement in profiles.placements.items():
        for garment, rule in placement.sizes.items():
            rows.append(
                (
                    name,
                    garment,
                    _format_size_rule(rule, profiles),
                    _format_reading(placement),
                    _format_drop(placement, garment, profiles),
                    rule.limit,
                    _find_origin(profiles, "placements", name),
                )
            )
    return rows


def _format_size_rule(rule: SizeRule, profiles: Profiles) -> str:
    units = profiles.settings.units
    parts = []
    if rule.width_mm is not None:
        parts.append(f"{format_length(rule.width_mm, units)} wide")
    if rule.height_mm is not None:
        parts.append(
            f"at most {format_length(rule.height_mm, units)} high"
            if parts
            else f"{format_length(rule.height_mm, units)} high"
        )
    return ", ".join(parts)


def _format_reading(placement: PlacementRule) -> str:
    return placement.reading.replace("-", " ")


def _list_garments(profiles: Profiles) -> Rows:
    wardrobe = profiles.wardrobe
    kinds = [
        ("kind", name, ", ".join(kind.words), _find_origin(profiles, "garments", "kind", name))
        for name, kind in wardrobe.kinds.items()
    ]
    groups = [
        ("group", name, ", ".join((*group.words, *group.sizes)), _find_origin(profiles, "garments", "group", name))
        for name, group in wardrobe.groups.items()
    ]
    return [*kinds, *groups]


def _format_drop(placement: PlacementRule, garment: str, profiles: Profiles) -> str:
    """Where the presser measures, for the garment that a size stands under, if it is known."""
    offset = placement.find_drop(profiles.wardrobe.read_garment(garment).garment, profiles.wardrobe)
    if offset is None:
        return "place: measure"
    usual = format_length(offset.usual_mm, profiles.settings.units)
    own = ", your own figure" if offset.own else ""
    return f"{offset.measured_to} {usual} from {offset.measured_from}{own}"


def _list_presses(profiles: Profiles) -> Rows:
    units = profiles.settings.units
    rows: Rows = []
    for name, press in profiles.presses.items():
        platen = f"{format_length(press.platen_width_mm, units)} × {format_length(press.platen_height_mm, units)}"
        start = f"{press.temperature_c} °C ({press.temperature_f} °F), {press.seconds} s, {press.pressure} pressure"
        clear = f"{format_length(press.border_mm, units)} clear"
        rows.append((name, platen, clear, f"start from {start}", press.note, _find_origin(profiles, "presses", name)))
    return rows


def _list_pads(profiles: Profiles) -> Rows:
    units = profiles.settings.units
    return [
        (
            name,
            f"{format_length(pad.width_mm, units)} × {format_length(pad.height_mm, units)}",
            "card, may be folded once" if pad.card else "",
            "" if pad.owned else "not owned",
            _find_origin(profiles, "pads", name),
        )
        for name, pad in profiles.pads.items()
    ]


def _list_lettering(profiles: Profiles) -> Rows:
    units = profiles.settings.units
    rows: Rows = []
    for name, style in profiles.lettering.items():
        look = [style.colour, *([f"outline {style.outline}"] if style.outline else [])]
        look += [f"arc {style.arc}°"] if style.arc else []
        look.append(f"letters {format_length(style.letter_height_mm, units)}")
        rows.append(
            (name, style.font or "the tool's own face", ", ".join(look), _find_origin(profiles, "lettering", name))
        )
    return rows


def _list_settings(profiles: Profiles) -> Rows:
    return list(profiles.settings.list_shown())


def _list_prices(profiles: Profiles) -> Rows:
    """What is charged by; what is not entered is named as unknown."""
    prices, currency = profiles.prices, profiles.settings.currency
    told = {
        "press_rate": (prices.press_rate, f"{currency} an hour"),
        "power_kw": (prices.power_kw, "kW"),
        "power_cost": (prices.power_cost, f"{currency} a kilowatt-hour"),
        "spoilage": (prices.spoilage, "of all prints, until the ledger has counted 50"),
        "markup": (prices.markup, "of all costs, added"),
        "tax": (prices.tax, "of the price"),
        "round_to": (prices.round_to, f"{currency}, for a garment"),
    }
    rows: Rows = [
        (name, "not entered" if value is None else f"{value} {unit}", _find_origin(profiles, "prices", name))
        for name, (value, unit) in told.items()
    ]
    rows += [(name, text or "not entered", _find_origin(profiles, "prices", name))
             for name, text in (("shop", prices.shop), ("terms", prices.terms))]  # fmt: skip
    rows += [
        (f"blank {blank.name}", f"{blank.cost} {currency}", _find_origin(profiles, "prices", "blanks", blank.name))
        for blank in prices.blanks
    ]
    steps = prices.steps.items()
    return rows + [
        (f"from {count}", f"{share} off", _find_origin(profiles, "prices", "steps", str(count)))
        for count, share in steps
    ]


def _list_texts(profiles: Profiles) -> Rows:
    """Each sentence for customers in the form that most numbers have."""
    return [
        (f"{document} {key}", forms["other"], _find_origin(profiles, "texts", document, key))
        for document, sentences in profiles.texts.sentences.items()
        for key, forms in sentences.items()
    ]
