"""Artwork, or a folder of it, as a batch: every file one row, sized by what the command says."""

from __future__ import annotations

import os
import re
from collections.abc import Iterable, Sequence
from pathlib import Path

from impose.errors import Exit, Finding, Severity, Trouble, raise_stops
from impose.file_types import IN_WORDS, is_artwork, parse_page_name
from impose.orders.art_root import ArtError, ArtRoot, check_art_folder
from impose.orders.batch import Batch, BatchRow, RowDefaults
from impose.orders.table_file import TABLES
from impose.profiles.placement import PlacementRule
from impose.profiles.profiles import Profiles
from impose.remedies import Remedy

_HIDDEN = {"thumbs.db", "desktop.ini"}


def read_loose(
    paths: Sequence[Path], profiles: Profiles, art_root: Path | None = None, blanks: RowDefaults | None = None
) -> Batch:
    """The batch of artwork and of the artwork in folders (not in their sub-folders), in natural order.

    Every picture is one row, numbered from 1, with the placement, size and copies of `blanks`. `art_root` is
    the folder that `art` is told from, by default the deepest that holds them all; none may lie outside it, by
    link or otherwise, since a reprint finds it from there. Raises `Trouble` with every fault: no size or
    placement and an unknown one (wrong use), paths that are no files, folders without artwork, artwork outside.
    """
    blanks = blanks or RowDefaults()
    findings: list[Finding] = []
    tables = [path for path in paths if path.suffix.casefold() in TABLES and not path.is_dir()] if paths[1:] else []
    placement = _find_placement(profiles, blanks, findings, sized=bool(tables))  # their rows say how large
    if not paths:
        remedy = "Name a batch CSV, artwork or a folder of it."
        findings.append(Finding("no artwork is named", remedy, kind="art-missing", exit=Exit.USAGE))
    found = [file for path in paths for file in _list_files(path, path in tables, findings)]
    root = _check_art_root(art_root, findings) or _find_common_folder(found)
    _check_inside_root(found, root, findings)
    raise_stops(findings)
    rows = tuple(
        _make_row(number, file, _spell_path_from_root(file, root), profiles, placement, blanks)
        for number, file in enumerate(found, 1)
    )
    return Batch(
        _name_batch(paths, found), str(paths[0]), root, rows, tuple(findings) + _list_common_findings(rows, profiles)
    )


def _make_usage_stop(what: str, remedy: str) -> Finding:
    return Finding(what, remedy, kind="no-size", exit=Exit.USAGE)


def _find_placement(
    profiles: Profiles, blanks: RowDefaults, findings: list[Finding], sized: bool
) -> PlacementRule | None:
    """The placement that the command names; and whether a size is known, by it or by itself."""
    sized = sized or blanks.width_mm is not None or blanks.height_mm is not None
    if blanks.placement is None:
        if not sized:
            findings.append(_make_usage_stop("how large to print is not said", Remedy("give-size")))
        return None
    try:
        placement = profiles.require_placement(blanks.placement)
    except Trouble as trouble:
        findings.extend(trouble.findings)
        return None
    garment = profiles.wardrobe.read_garment("").garment
    if not sized and placement.find_size(garment, profiles.wardrobe) is None:
        findings.append(_make_usage_stop(f"no size is known for {placement.title}", Remedy("measure-width")))
    return placement


def _check_art_root(art_root: Path | None, findings: list[Finding]) -> Path | None:
    """The folder the command names for the artwork, if it is one."""
    try:
        return check_art_folder(art_root) if art_root is not None else None
    except Trouble as trouble:
        findings.extend(trouble.findings)
        return None


def _check_inside_root(found: Sequence[Path], root: Path, findings: list[Finding]) -> None:
    """Every artwork below the root, by the rule that a CSV is held to."""
    art = ArtRoot(root)
    for file in found:
        here, there = _make_absolute(file), _make_absolute(root)
        if not here.is_relative_to(there):
            remedy: str = Remedy("move-into-art-folder")
            findings.append(Finding("outside the artwork's folder", remedy, kind="art-path", file=str(file)))
            continue
        try:
            art.find_page(_spell_path_from_root(file, root))
        except ArtError as error:
            odd = error.kind == "art-path" and not file.is_symlink() and error.what.startswith("a name")
            remedy = "Give the file another name." if odd else error.remedy
            findings.append(Finding(error.what, remedy, kind=error.kind, file=str(file), exit=error.code))


def _list_files(path: Path, stray: bool, findings: list[Finding]) -> Iterable[Path]:
    """The file itself, or the artwork of a folder in natural order, saying what was passed over."""
    try:
        if path.is_dir():
            return _list_artwork(path, findings)
        if stray:
            what = "a batch file beside other sources: it names its artwork itself"
            remedy = "Give each batch file a command of its own."
            findings.append(Finding(what, remedy, kind="csv", file=str(path), exit=Exit.USAGE))
            return []
        if path.is_file() or _split_page(path)[0].is_file():
            return [path]
        what = "not a plain file" if path.exists() else "there is no such file"
        findings.append(Finding(what, "Check the path and the spelling.", kind="art-missing", file=str(path)))
    except (OSError, ValueError) as error:
        why = getattr(error, "strerror", None) or str(error)
        remedy = "Check the folder and its rights."
        findings.append(Finding(f"could not be read: {why}", remedy, file=str(path), exit=Exit.SYSTEM))
    return []


def _list_artwork(folder: Path, findings: list[Finding]) -> list[Path]:
    entries = [e for e in folder.iterdir() if not e.name.startswith(".") and e.name.casefold() not in _HIDDEN]
    found = [e for e in entries if is_artwork(e.name) and not e.is_dir()]
    others = sorted(e.name for e in entries if e not in set(found))
    if not found:
        remedy = f"Put the artwork into it, as {IN_WORDS}."
        findings.append(Finding("a folder without artwork", remedy, kind="art-missing", file=str(folder)))
    elif others:
        names = ", ".join(others[:5]) + (f" and {len(others) - 5} more" if len(others) > 5 else "")
        note = f"passed over, since only the artwork of the folder itself is taken: {names}"
        findings.append(Finding(note, "", Severity.NOTE, "passed-over", file=str(folder)))
    return sorted(found, key=_make_natural_sort_key)


def _make_natural_sort_key(path: Path) -> tuple[list[tuple[int, int, str]], str]:
    """Names as people sort them: print 2 before print 10, capitals no matter."""
    parts = re.findall(r"[0-9]+|[^0-9]+", path.name.casefold())
    return [(0, int(p), "") if p[0] in "0123456789" else (1, 0, p) for p in parts], path.name


def _find_common_folder(files: Sequence[Path]) -> Path:
    """The deepest folder that holds every file; without files, the one we are in."""
    if not files:
        return Path()
    return Path(os.path.commonpath([_make_absolute(file.parent) for file in files]))


def _make_absolute(path: Path) -> Path:
    """The absolute path without dots; links are left as they are, since the person named them."""
    return Path(os.path.normpath(path.absolute()))


def _spell_path_from_root(file: Path, root: Path) -> str:
    """The file's path from the root, with slashes."""
    return _make_absolute(file).relative_to(_make_absolute(root)).as_posix()


def _split_page(file: Path) -> tuple[Path, int | None]:
    """The file that is meant, and the page where one is named; a file of exactly that name wins."""
    named = None if file.is_file() else parse_page_name(file.name)
    return (file, None) if named is None else (file.with_name(named[0]), named[1])


def _make_row(
    number: int, file: Path, art: str, profiles: Profiles, placement: PlacementRule | None, blanks: RowDefaults
) -> BatchRow:
    path, page = _split_page(file)
    return BatchRow(
        row=number,
        order="",
        wearer="",
        art=art,
        path=path,
        placement=placement.name if placement else None,
        garment=profiles.wardrobe.read_garment("").garment,
        copies=1 if blanks.copies is None else blanks.copies,
        width_mm=blanks.width_mm,
        height_mm=blanks.height_mm,
        page=page or blanks.page,
        mend=blanks.mend,
    )


def _name_batch(paths: Sequence[Path], found: Sequence[Path]) -> str:
    """One file or folder names the batch; of several files their folder does."""
    if len(paths) == 1:
        return _make_absolute(paths[0]).stem
    return _find_common_folder(found).name or "prints"


def _list_common_findings(rows: Sequence[BatchRow], profiles: Profiles) -> tuple[Finding, ...]:
    """That the garment is taken for granted where a size hangs on it, and that a picture came twice."""
    findings = []
    if rows and rows[0].placement and rows[0].width_mm is None and rows[0].height_mm is None:
        garment = rows[0].garment
        title = profiles.wardrobe.kinds[garment.kind].title
        what = f"no garment is named; taken as {garment.group} {title}"
        findings.append(Finding(what, "Use a CSV to name garments.", Severity.NOTE, "garment-assumed"))
    seen: set[tuple[Path, int | None]] = set()
    for row in rows:
        if (row.path.absolute(), row.page) in seen:
            what = "the same file is named more than once and is made each time"
            findings.append(Finding(what, "", Severity.NOTE, "twice", file=row.art, row=row.row))
        seen.add((row.path.absolute(), row.page))
    return tuple(findings)
