"""Which waiting drops go into the next delivery, and those drops as one batch.

The oldest drop that may go leads, with those that may share its sheets; others are held until their sheets are full.
Each drop is read by its own rules, and the rows are laid one after another.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from pathlib import Path

from impose.desk.inbox_rules import is_table_name, is_temporary_name, read_file_name
from impose.errors import Finding, Severity, Trouble
from impose.file_types import is_artwork
from impose.ledger.drops import Drop
from impose.orders.batch import Batch, BatchRow, RowDefaults
from impose.profiles.profiles import Profiles
from impose.run.load_batch import read_sources
from impose.run.options import Options
from impose.values import FrozenStruct, replace

Shares = Sequence[tuple[float, frozenset[int]]]
"""Of each sheet: its yield, and the drops that have a transfer on it."""


def find_full_enough(shares: Shares, fill: float) -> frozenset[int]:
    """The drops that lie, with every copy, on sheets at least `fill` full that hold nobody who has to wait.

    A drop is never split over two deliveries: so a sheet counts only if all its drops can go, and a drop goes only if
    all its sheets count.
    """
    sheets = [(yield_ >= fill, drops) for yield_, drops in shares]
    going = {drop for _, drops in sheets for drop in drops}
    while True:
        staying = {drop for full, drops in sheets if not full or not drops <= going for drop in drops}
        if not staying & going:
            return frozenset(going)
        going -= staying


class DropAges:
    """How long drops have waited: by the steady clock, and over a restart by the wall clock as far as it is sane."""

    def __init__(self) -> None:
        self._since: dict[int, float] = {}

    def note_waiting(self, drops: Iterable[Drop], now: float, wall: float) -> None:
        """Take note of what waits. A wall clock that was set back makes a drop young, never younger than new."""
        known = self._since
        self._since = {drop.id: known.get(drop.id, now - max(0.0, wall - drop.claimed_at)) for drop in drops}

    def measure_age(self, drop: Drop, now: float) -> float:
        """Seconds for which a drop has waited."""
        return now - self._since.get(drop.id, now)


Try = Callable[[Sequence[Drop], Callable[[Shares | None], None]], None]
"""Asks how full the sheets of some drops would be; told later, None if one of them has a fault."""


class BatchChooser:
    """Keeps how long drops have waited, and which company was weighed last."""

    def __init__(self, settle_s: float, fill: float, most: int, ask: Try) -> None:
        self._settle_s, self._fill, self._most, self._ask = settle_s, fill, most, ask
        self._ages = DropAges()
        self._wished: frozenset[int] = frozenset()
        self._weighed: dict[str, tuple[frozenset[int], frozenset[int]]] = {}

    def note_waiting(self, drops: Sequence[Drop], now: float, wall: float) -> None:
        """Take note of what waits."""
        self._ages.note_waiting(drops, now, wall)
        groupings = {drop.grouping for drop in drops}
        self._weighed = {name: kept for name, kept in self._weighed.items() if name in groupings}

    def release_now(self, drops: Sequence[Drop]) -> None:
        """A person wants these now."""
        self._wished = frozenset(drop.id for drop in drops)

    def choose_drops(self, drops: Sequence[Drop], unsure: set[str], now: float) -> list[Drop]:
        """The drops of the next delivery; `unsure` are inboxes where more is just arriving."""
        seen: set[str] = set()
        for drop in drops:
            hold_s = drop.wish.get("hold_s") or 0.0
            if drop.alone or (drop.kind != "png" and not hold_s):
                return [drop]
            if drop.grouping in seen:
                continue
            seen.add(drop.grouping)
            mates = [d for d in drops if d.grouping == drop.grouping and not d.alone and (hold_s or d.kind == "png")]
            mates = mates[: self._most]
            going = self._apply_hold(mates, hold_s, now) if hold_s else self._wait_for_quiet(mates, unsure, now)
            if going:
                return going
        return []

    def _wait_for_quiet(self, mates: list[Drop], unsure: set[str], now: float) -> list[Drop]:
        """Those that came together are made together: wait a little while more is arriving in the same folder."""
        oldest = max(self._ages.measure_age(drop, now) for drop in mates)
        arriving = {inbox_of(drop) for drop in mates} & unsure
        if arriving and len(mates) < self._most and oldest < 5 * self._settle_s:
            return []
        return mates

    def _apply_hold(self, mates: list[Drop], hold_s: float, now: float) -> list[Drop]:
        """Those wished for; or all, if the oldest has waited long enough; or those that fill their sheets."""
        wished = [drop for drop in mates if drop.id in self._wished]
        if wished:
            return wished
        if max(self._ages.measure_age(drop, now) for drop in mates) >= hold_s or len(mates) >= self._most:
            return mates
        numbers, grouping = frozenset(drop.id for drop in mates), mates[0].grouping
        weighed, ready = self._weighed.get(grouping, (frozenset(), frozenset()))
        if numbers == weighed:
            return [drop for drop in mates if drop.id in ready]
        if self._fill < 1.0:
            self._ask(mates, lambda shares: self._weigh_fill(grouping, numbers, shares))
        return []

    def _weigh_fill(self, grouping: str, numbers: frozenset[int], shares: Shares | None) -> None:
        # A fault will be met, and said at its drop, when they are made.
        ready = numbers if shares is None else find_full_enough(shares, self._fill)
        self._weighed[grouping] = (numbers, ready)


def inbox_of(drop: Drop) -> str:
    """The folder under `in/` that a drop lay in."""
    return drop.path.rpartition("/")[0]


class DropContent(FrozenStruct):
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


class CombinedBatch(FrozenStruct):
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
