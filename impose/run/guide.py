"""`write_guide`: a placement guide for a garment, true to size, on plain paper or card."""

from __future__ import annotations

import re
from pathlib import Path

from impose import files
from impose.errors import Exit, Finding, Trouble, quote_text
from impose.profiles.garment import Garment
from impose.profiles.paper import Paper
from impose.profiles.placement import PlacementRule
from impose.profiles.profiles import Profiles
from impose.profiles.toml_tables import suggest_word
from impose.remedies import Remedy
from impose.run.load_batch import load_profiles_in_force
from impose.run.options import Options
from impose.sheet.placement_guide import PlacementGuide, make_guide, part_guide, takes_guide


def write_guide(
    placement: str,
    garment: str,
    paper: str | None = None,
    out: Path | None = None,
    options: Options | None = None,
    replace: bool = False,
) -> Path:
    """Write the guide for a placement on a garment, in as many pages of a plain paper as it takes. Returns the file.

    `paper` is a sheet by any of its names; without it the plain paper of tickets. Without `out` the file is named after
    placement and garment, in the current folder; an existing file is left alone. Raises `Trouble` for a placement,
    garment or paper that is not known, and where nothing is known of the place.
    """
    from impose.pages.guide import is_guide, write_guide_pages
    from impose.pages.pdf.font_book import open_reading_faces

    profiles = load_profiles_in_force(options or Options())
    rule = profiles.require_placement(placement)
    worn = _read_garment(garment, profiles)
    sheet = _find_sheet(paper or profiles.settings.ticket_paper, profiles)
    guide = _make_guide(rule, worn, profiles)
    out = out or Path(f"guide-{rule.name}-{_make_slug(worn)}.pdf")
    if out.is_dir() or (out.exists() and not replace):
        raise _make_usage_trouble(f"{out} exists already and is left alone", Remedy("other-page"))
    if out.exists() and not is_guide(out):
        raise _make_usage_trouble(f"{out} is not a placement guide of this program", "Choose another name.")
    assert sheet.height_mm is not None
    tiles = part_guide(guide.area, sheet.width_mm, sheet.height_mm)
    with files.write_new_file(out) as part:
        write_guide_pages(part, guide, tiles, *open_reading_faces())
    return out


def _make_slug(garment: Garment) -> str:
    """The garment as part of a file's name."""
    plain = re.sub(r"[^a-z0-9]+", "-", f"{garment.kind} {garment.group} {garment.size}".casefold()).strip("-")
    return plain or "garment"


def _read_garment(text: str, profiles: Profiles) -> Garment:
    """The garment that the words name; every word has to be understood, since it decides where the print lies."""
    wardrobe = profiles.wardrobe
    reading = wardrobe.read_garment(text)
    known = f"Kinds: {', '.join(wardrobe.kinds)}. Groups: {', '.join(wardrobe.groups)}. Such as “hoodie adult M”."
    if not text.strip():
        raise _make_usage_trouble("no garment is named", known)
    if reading.fault:
        raise _make_usage_trouble(reading.fault, known, text)
    if reading.unknown:
        words = ", ".join(quote_text(word) for word in reading.unknown)
        raise _make_usage_trouble(f"{words} names no garment, group or size", known, text)
    return reading.garment


def _find_sheet(name: str, profiles: Profiles) -> Paper:
    paper = profiles.find_paper(name)
    if paper.height_mm is None:
        raise _make_usage_trouble("a guide is printed on sheets, and this is a roll", "Name a sheet, such as a4.", name)
    if not takes_guide(paper.width_mm, paper.height_mm):
        raise _make_usage_trouble("too small for a guide", "Name a sheet of 100 × 140 mm or more.", name)
    return paper


def _make_guide(placement: PlacementRule, garment: Garment, profiles: Profiles) -> PlacementGuide:
    found = placement.find_size(garment, profiles.wardrobe)
    whose = f"{garment.group} {garment.kind}"
    figure = Remedy("enter-figure", placement=placement.name, garment=f"{garment.kind} {garment.group}")
    if found is None:
        sized = sorted(
            rule.name for rule in profiles.placements.values() if rule.find_size(garment, profiles.wardrobe) is not None
        )
        what = f"no size of a {placement.title} is known for {whose}"
        raise _make_usage_trouble(what, f"{figure} {suggest_word('', sized)}" if sized else figure)
    guide = make_guide(placement, garment, found[0], profiles)
    if guide is None:
        what = f"nothing says how far from a seam a {placement.title} lies on {whose}"
        if placement.name == "pocket":
            raise _make_usage_trouble(what, "It is centred on the pocket: measure that one.")
        raise _make_usage_trouble(what, figure)
    return guide


def _make_usage_trouble(what: str, remedy: str, read: str | None = None) -> Trouble:
    return Trouble(Finding(what, remedy, kind="profile", read=read, exit=Exit.USAGE))
