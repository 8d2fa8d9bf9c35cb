"""A shop's own figure, measured once and entered: written into its placements.toml, and in force ever after."""

from __future__ import annotations

from pathlib import Path
from typing import Literal

from impose.errors import Exit, Finding, Trouble
from impose.profiles.garment import Garment
from impose.profiles.placement import PlacementOffset, PlacementRule
from impose.profiles.profiles import Profiles
from impose.profiles.toml_tables import suggest_word
from impose.remedies import Remedy
from impose.run.load_batch import load_profiles_in_force
from impose.run.options import Options
from impose.run.own_profiles import ProfileChanges
from impose.units import LengthError, parse_length
from impose.values import FrozenStruct, replace

What = Literal["drop", "across", "width", "height"]
WHATS: tuple[What, ...] = ("drop", "across", "width", "height")
FILE = "placements.toml"

_TABLES = {"drop": "offsets", "across": "across", "width": "sizes", "height": "sizes"}
_FACES = {"hood": ("neck seam", "bottom of print"), "left sleeve": ("shoulder seam", "top of print"),
          "right sleeve": ("shoulder seam", "top of print")}  # fmt: skip


class OwnFigure(FrozenStruct):
    """What was measured: on which placement and garment ("hoodie adult"), what it is, and how much in mm."""

    placement: str
    garment: str
    what: What
    mm: float


def read_figure(
    words: tuple[str, str, str, str], profiles: Profiles, bare: Literal["mm", "in"] | None = None
) -> OwnFigure:
    """A figure as it is typed: placement, garment, drop, across, width or height, and a length. Raises `Trouble`.

    `bare` is what a number without a unit means, if anything.
    """
    placement = profiles.require_placement(words[0])
    reading = profiles.wardrobe.read_garment(words[1])
    if reading.fault or reading.unknown or not words[1].strip():
        what = reading.fault or "not a garment on file"
        raise _make_trouble(what, "Name a kind and a group, such as “hoodie adult”.", words[1])
    if words[2] not in WHATS:
        raise _make_trouble("not a figure that can be entered", suggest_word(words[2], WHATS), words[2])
    try:
        mm = parse_length(words[3], bare)
    except LengthError as error:
        raise _make_trouble(error.what, error.remedy, words[3]) from None
    return OwnFigure(placement.name, _make_key(reading.garment, profiles), words[2], mm)


def enter_figure(words: tuple[str, str, str, str], options: Options) -> tuple[Path, OwnFigure]:
    """Write a figure into the shop's own placements.toml, which is made where there is none. Raises `Trouble`.

    Whatever else stands in the file stays as it is, comments included; a file that could not be read afterwards is not
    written.
    """
    folder = options.profiles_dir
    if folder is None:
        raise _make_trouble("no folder of your own profiles is named", Remedy("name-profiles"), None)
    profiles = load_profiles_in_force(options if folder.is_dir() else replace(options, profiles_dir=None))
    figure = read_figure(words, profiles)
    changes = ProfileChanges(folder, options)
    changes.set_values(FILE, *list_figure_changes(figure, profiles))
    changes.write_files()
    return folder / FILE, figure


def list_figure_changes(figure: OwnFigure, profiles: Profiles) -> tuple[str, dict[str, str]]:
    """The table of placements.toml that a figure stands in, and its keys in TOML's own spelling."""
    key = f'"{figure.garment}"' if " " in figure.garment else figure.garment
    return f"{figure.placement}.{_TABLES[figure.what]}.{key}", _list_keys(figure, profiles)


def _make_key(garment: Garment, profiles: Profiles) -> str:
    """The name that a rule for it stands under: without its kind for the kind whose figures stand so."""
    kind = "" if garment.kind == profiles.wardrobe.default_kind else f"{garment.kind} "
    return f"{kind}{garment.group}"


def _list_keys(figure: OwnFigure, profiles: Profiles) -> dict[str, str]:
    """The keys of its table, in TOML's own spelling; limits that would not hold it are moved."""
    placement = profiles.placements[figure.placement]
    length, source = f'"{figure.mm:.6g} mm"', '"measured by the shop"'
    if figure.what in ("width", "height"):
        keys = {figure.what: length, "source": source}
        return keys | ({"least": length, "most": length} if figure.what == "width" else {})
    measured_from, measured_to = _describe_measured(figure, placement, profiles)
    keys = {"from": f'"{measured_from}"', "to": f'"{measured_to}"', "usual": length, "least": length, "most": length}
    return keys | {"source": source}


def _describe_measured(figure: OwnFigure, placement: PlacementRule, profiles: Profiles) -> tuple[str, str]:
    """From where to where: as the figure that it takes the place of, or as is usual on the face."""
    garment = profiles.wardrobe.read_garment(figure.garment).garment
    known: PlacementOffset | None = (placement.find_drop if figure.what == "drop" else placement.find_across)(
        garment, profiles.wardrobe
    )
    if known is not None:
        return known.measured_from, known.measured_to
    if figure.what == "across":
        return "centre line", "centre of print"
    return _FACES.get(placement.face, ("collar", "top of print"))


def _make_trouble(what: str, remedy: str, read: str | None) -> Trouble:
    return Trouble(Finding(what, remedy, kind="profile", read=read, exit=Exit.USAGE))
