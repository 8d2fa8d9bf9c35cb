"""`colours`: a page of patches around colours, those of some artwork or those named, to press and choose from."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

from impose import files
from impose.art.colour_patches import list_patches
from impose.art.prepare import PreparationOptions
from impose.errors import Exit, Finding, Trouble, quote_text
from impose.file_types import parse_page_name
from impose.formats.file_colours import FileColour, list_file_colours
from impose.profiles.paper import Paper, Printer
from impose.profiles.profiles import Profiles
from impose.profiles.word_styles import StyleError, parse_colour
from impose.remedies import Remedy
from impose.run.artwork import make_preparation_options
from impose.run.calibration_readings import make_usage_trouble
from impose.run.load_batch import load_profiles_in_force
from impose.run.options import Options
from impose.run.output_profile_choice import choose_output_profile
from impose.sheet.margins import print_area
from impose.units import Box
from impose.values import FrozenStruct, replace

MOST_CHOSEN = 6
"""Colours that are chosen from artwork when none is named."""

LEAST_SHARE = 0.01
"""Of what is drawn that a colour covers to be chosen."""

_ROLL_MM = 297.0  # of a roll
_WHITE_LEVELS = 5


class PatchedColour(FrozenStruct):
    """A colour on the page: its artwork's name or "", its share of that, and what its numbers stand for."""

    colour: str
    file: str
    share: float | None
    patches: dict[int, str]


class ColoursPage(FrozenStruct):
    """The page that was written, how many sheets it takes, and what is on it."""

    path: Path
    pages: int
    colours: tuple[PatchedColour, ...]
    findings: tuple[Finding, ...] = ()

    def json_values(self) -> dict[str, Any]:
        """Plain values for JSON."""
        return {
            "file": str(self.path),
            "pages": self.pages,
            "colours": [
                {
                    "colour": entry.colour,
                    "file": entry.file or None,
                    "share": None if entry.share is None else round(entry.share, 4),
                    "patches": {str(number): colour for number, colour in entry.patches.items()},
                }
                for entry in self.colours
            ],
        }


def write_colours(
    sources: Sequence[Path], named: Sequence[str], out: Path | None, options: Options, replace_it: bool = False
) -> ColoursPage:
    """Write the page for the `named` colours, or for those that cover most of the artwork `sources`.

    A colour named with artwork takes the profile of the first that has it. Without `out` the page is named after the
    first artwork, in the current folder. Raises `Trouble`; an existing file is left alone unless it is such a page and
    `replace_it` says so.
    """
    from impose.pages.colours_page import ChosenColour, PatchPaper, count_on_page, is_colours_page, write_colours_page
    from impose.pages.pdf.font_book import ShippedFonts
    from impose.type.lettering import TextShaper

    out = out or Path(f"colours-{sources[0].stem}.pdf" if sources else "colours.pdf")
    if out.is_dir() or ((out.exists() or out.is_symlink()) and not replace_it):
        raise make_usage_trouble(f"{out} exists already and is left alone", Remedy("other-page"))
    if (out.exists() or out.is_symlink()) and not is_colours_page(out):
        raise make_usage_trouble(f"{out} is not a page of colours, so it is left alone", "Choose another name.")
    profiles = load_profiles_in_force(options)
    printer = profiles.find_printer(profiles.settings.printer)
    chosen = _choose_colours(sources, named, profiles)
    output = choose_output_profile(profiles, printer)
    paper, area = _measure_paper(profiles.offered_papers[0], printer)
    sheet = PatchPaper(*paper, area, profiles.offered_papers[0].alias)
    lettering = TextShaper(ShippedFonts())
    if count_on_page(sheet, lettering) < 1:
        what = f"{sheet.name} is too small for the patches around a colour"
        raise make_usage_trouble(what, Remedy("larger-paper"), sheet.name)
    drawn = [ChosenColour(entry.colour, _describe_source(file, entry.share), entry.icc) for file, entry in chosen]
    with files.write_new_file(out) as part:
        pages = write_colours_page(
            part, drawn, sheet, lettering, None if output is None else (output.name, output.output)
        )
    told = tuple(
        PatchedColour(entry.colour, file, entry.share or None, list_patches(entry.colour)) for file, entry in chosen
    )
    return ColoursPage(out, pages, told, () if output is None else output.findings)


def _describe_source(file: str, share: float) -> str:
    return f"{file}, {share:.0%} of it" if file and share else file


def _measure_paper(paper: Paper, printer: Printer) -> tuple[tuple[float, float], Box]:
    """Width and height of the page, and the box that the printer reaches; of a roll a piece is taken."""
    area = print_area(paper, printer)
    if paper.height_mm is not None:
        return (paper.width_mm, paper.height_mm), area.box
    length = min(_ROLL_MM, paper.max_length_mm or _ROLL_MM)
    return (paper.width_mm, length), Box(area.box.x, area.box.y, area.box.w, area.printable_mm(length))


def _choose_colours(sources: Sequence[Path], named: Sequence[str], profiles: Profiles) -> list[tuple[str, FileColour]]:
    """The colours of the page, each with the name of its artwork. Raises `Trouble` with every fault."""
    recipe = make_preparation_options(profiles.settings)
    faults: list[Finding] = []
    found: list[tuple[str, FileColour]] = []
    for path in sources:
        try:
            found += [(path.name, colour) for colour in _read_file_colours(path, recipe)]
        except Trouble as trouble:
            faults += [replace(finding, file=path.name) for finding in trouble.findings]
    asked = [_read_colour(text, faults) for text in dict.fromkeys(named)]
    if faults:
        raise Trouble(faults)
    if asked:
        return [_find_named(colour, found) for colour in dict.fromkeys(asked)]
    large = sorted((entry for entry in found if entry[1].share >= LEAST_SHARE), key=lambda entry: -entry[1].share)
    distinct = {(entry.colour, entry.icc): (file, entry) for file, entry in reversed(large)}
    chosen = sorted(distinct.values(), key=lambda entry: (-entry[1].share, entry[1].colour))[:MOST_CHOSEN]
    if not chosen:
        what = (
            "no colour is named, and no artwork with flat colours" if not sources else "the artwork has no flat colours"
        )
        raise make_usage_trouble(what, Remedy("name-colour"))
    return chosen


def _read_file_colours(path: Path, recipe: PreparationOptions) -> list[FileColour]:
    named = parse_page_name(str(path)) if not path.exists() else None
    path, page = (Path(named[0]), named[1]) if named else (path, None)
    try:
        content = path.read_bytes()
    except OSError as error:
        what = f"the file cannot be read: {error.strerror or error}"
        remedy = "Check that it is there, is a file and may be read."
        raise Trouble(Finding(what, remedy, kind="art-missing", exit=Exit.SYSTEM)) from error
    return list_file_colours(content, replace(recipe, page=page), path.name)


def _read_colour(text: str, faults: list[Finding]) -> str:
    try:
        colour = parse_colour(text)
    except StyleError as error:
        faults.append(Finding(error.what, error.remedy, kind="bad-option", read=text, exit=Exit.USAGE))
        return text
    if len(list_patches(colour)) < 2:
        faults.append(Finding(f"{quote_text(colour)} has no patches around it", kind="bad-option", exit=Exit.USAGE))
    return colour


def _find_named(colour: str, found: Sequence[tuple[str, FileColour]]) -> tuple[str, FileColour]:
    """A colour that was named, as the first artwork has it; else in the profile of the first artwork."""
    there = next(((file, entry) for file, entry in found if entry.colour == colour), None)
    return there or ("", FileColour(colour, 0.0, found[0][1].icc if found else None))
