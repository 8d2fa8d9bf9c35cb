"""The drops of one delivery as one batch: each read by its own rules, the rows laid one after another."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from impose.desk.file_names import is_table_name, is_temporary_name, read_file_name
from impose.errors import Finding, Severity, Trouble
from impose.file_types import is_artwork
from impose.orders.batch import Batch, BatchRow, RowDefaults
from impose.profiles.profiles import Profiles
from impose.run.load_batch import read_sources
from impose.run.options import Options


@dataclass(frozen=True, slots=True)
class DropContent:
    """A drop as the maker needs it: its folder, the file in it that is read ("" for all artwork), what it asks for.

    `again` says, for a note, where the same picture was made before; `listed`, that it is a list of spoiled prints.
    """

    number: int
    shown: str
    folder: Path
    main: str
    blanks: RowDefaults
    again: str = ""
    listed: bool = False


@dataclass(frozen=True, slots=True)
class CombinedBatch:
    """A batch, and which drop each of its rows came from (row → drop, row as the drop's own file counts)."""

    batch: Batch
    origin: dict[int, tuple[int, int]]
    faults: dict[int, tuple[Finding, ...]]


def combine_drops(parcels: Sequence[DropContent], name: str, profiles: Profiles, options: Options) -> CombinedBatch:
    """Read every drop. Drops that cannot be read are left out and stand in `faults`.

    A lone drop keeps its row numbers and its artwork's names; of several, rows are numbered through and artwork is
    told with its drop's folder first, so that two of one name stay two.
    """
    batches: list[tuple[DropContent, Batch]] = []
    faults: dict[int, tuple[Finding, ...]] = {}
    for parcel in parcels:
        try:
            batches.append((parcel, _read_drop(parcel, profiles, options, alone=len(parcels) == 1)))
        except Trouble as trouble:
            faults[parcel.number] = tuple(_name_as_dropped(finding, parcel) for finding in trouble.findings)
    origin: dict[int, tuple[int, int]] = {}
    rows: list[BatchRow] = []
    findings: list[Finding] = []
    count = 0
    for parcel, batch in batches:
        renumbered: dict[int, int] = {}
        for row in batch.rows:
            if row.row not in renumbered:
                count += 1
            number = renumbered.get(row.row, row.row if len(parcels) == 1 else count)
            renumbered[row.row] = number
            origin[number] = (parcel.number, row.row)
            art = row.art if len(parcels) == 1 else f"{parcel.folder.name}/{row.art}"
            rows.append(replace(row, row=number, art=art))
        for finding in batch.findings:
            row_number = renumbered.get(finding.row) if finding.row is not None else None
            also = tuple(renumbered[row] for row in finding.also if row in renumbered)
            findings.append(replace(_name_as_dropped(finding, parcel), row=row_number, also=also))
        if parcel.again:
            findings.append(report_made_before(parcel))
    root = parcels[0].folder if len(parcels) == 1 else parcels[0].folder.parent
    source = parcels[0].shown if len(parcels) == 1 else name
    return CombinedBatch(Batch(name, source, root, tuple(rows), tuple(_list_once(findings))), origin, faults)


def _read_drop(parcel: DropContent, profiles: Profiles, options: Options, alone: bool) -> Batch:
    # What an export's columns mean says nothing of pictures.
    columns = options.columns if is_table_name(parcel.main) else None
    own = replace(options, art_root=parcel.folder, skip_bad=options.skip_bad and alone, columns=columns)
    if parcel.main:
        return read_sources([parcel.folder / parcel.main], profiles, replace(own, blanks=parcel.blanks))
    found = sorted(
        path for path in parcel.folder.iterdir() if is_artwork(path.name) and not is_temporary_name(path.name)
    )
    if not found:
        remedy = "Put the artwork into the folder itself, or a CSV that names it."
        raise Trouble(Finding("a folder without artwork", remedy, kind="art-missing", file=str(parcel.folder)))
    batches = [
        read_sources([path], profiles, replace(own, blanks=_read_defaults(path, parcel.blanks))) for path in found
    ]
    rows = tuple(replace(batch.rows[0], row=number) for number, batch in enumerate(batches, 1))
    findings = tuple(replace(f, row=None) for batch in batches for f in batch.findings)
    return Batch(parcel.folder.name, str(parcel.folder), parcel.folder, rows, findings)


def _read_defaults(path: Path, general: RowDefaults) -> RowDefaults:
    """What a file's own name says, over what holds for its folder."""
    spec = read_file_name(path.name)
    sized = (spec.width_mm, spec.height_mm) if spec.has_size else (general.width_mm, general.height_mm)
    copies = general.copies if spec.copies is None else spec.copies
    return RowDefaults(general.placement, *sized, copies, general.mend, spec.page)


def _name_as_dropped(finding: Finding, parcel: DropContent) -> Finding:
    """A finding that names the file as it was dropped, not where it lies now."""
    inside = str(parcel.folder)
    if not finding.file.startswith(inside):
        return finding
    rest = finding.file[len(inside) :].strip("/\\")
    return replace(finding, file=parcel.shown if rest in ("", parcel.main) else f"{parcel.shown}/{rest}")


def report_made_before(parcel: DropContent) -> Finding:
    """The note that the same was dropped and made before."""
    return Finding(
        f"the same was made before, in {parcel.again}",
        "Nothing to do if it is wanted once more.",
        Severity.NOTE,
        "made-before",
        file=parcel.shown,
    )


def _list_once(findings: Sequence[Finding]) -> list[Finding]:
    """Findings about no row and no file of their own are said once, not once for every drop."""
    seen: set[tuple[str, str, int | None, str]] = set()
    kept = []
    for finding in findings:
        key = (finding.kind, finding.what, finding.row, "" if finding.kind == "garment-assumed" else finding.file)
        if key not in seen:
            seen.add(key)
            kept.append(finding)
    return kept
