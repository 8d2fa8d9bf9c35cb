"""`again`: a new order from an old record, with a list of what differs: old artwork, sizes and places.

Widths and distances are written into the rows as they were, so that figures the shop has changed since change nothing.
What an old record does not hold is said.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path

from impose.errors import Exit, Finding, Severity, Trouble, quote_text, raise_stops
from impose.orders.again_roster import AgainLine, CopiesChange, read_again_roster
from impose.orders.batch import BatchRow
from impose.orders.garment_groups import assign_garments
from impose.profiles.profiles import Profiles
from impose.profiles.toml_tables import find_near_word
from impose.run.again_artwork import find_again_artwork
from impose.run.again_words import replace_words
from impose.run.load_batch import load_profiles_in_force
from impose.run.options import Options
from impose.run.record_file import RecordFile
from impose.run.rows_from_record import make_rows
from impose.sheet.piece import describe_ordered_garment
from impose.sheet.record_garments import RecordedGarment, list_garments
from impose.sheet.record_reader import PrintedTransfer
from impose.type.sanitise import fold_text
from impose.values import ChangingStruct, FrozenStruct, field, replace


class AgainRequest(FrozenStruct):
    """What is made again: of some orders or all, with the changes of a list, or the lines of the list alone."""

    orders: tuple[str, ...] = ()
    roster: Path | None = None
    listed_only: bool = False
    take_new_art: bool = False


class AgainRow(FrozenStruct):
    """A row of the new order: that of the record with its size as worn, and where it was measured to."""

    row: BatchRow
    width_mm: float | None
    height_mm: float | None
    tear_mm: float | None
    drop: str
    across: str


class AgainGroup(FrozenStruct):
    """Garments that carry the same rows: how many, and their ids; `like` is the garment one is made like."""

    rows: tuple[AgainRow, ...]
    count: int
    ids: frozenset[str] = frozenset()
    new: bool = False

    @property
    def first(self) -> BatchRow:
        """The row that says whose it is."""
        return self.rows[0].row


class AgainOrder(FrozenStruct):
    """The new order: its groups, the artwork by its path in the new folder, and what is worth knowing."""

    source: RecordFile
    groups: tuple[AgainGroup, ...]
    art: Mapping[str, Path]
    findings: tuple[Finding, ...]
    changed: tuple[str, ...] = ()

    @property
    def garments(self) -> int:
        """How many."""
        return sum(group.count for group in self.groups)


def plan_again(source: RecordFile, wish: AgainRequest, options: Options) -> AgainOrder:
    """The new order of a record and a list. Raises `Trouble` with everything that is wrong."""
    _refuse_reprint(source)
    profiles = load_profiles_in_force(options)
    findings: list[Finding] = []
    lines = [] if wish.roster is None else read_again_roster(wish.roster, findings)
    old = _choose_orders(_gather_groups(source, profiles, findings), wish, source, findings)
    changes = RosterChanges(old, profiles, str(wish.roster or ""), findings)
    made = changes.apply_lines(lines, wish.listed_only) if wish.roster is not None else old
    if not made and not any(finding.severity is Severity.STOP for finding in findings):
        what = "nothing is left to be made"
        findings.append(Finding(what, "Leave a garment in the list.", kind="again", exit=Exit.REFUSED))
    raise_stops(findings)
    art = find_again_artwork(source, {row.row.key for group in made for row in group.rows}, profiles, options,
                             wish.take_new_art, findings)  # fmt: skip
    raise_stops(findings)
    return AgainOrder(source, tuple(_part_alike(made)), art, tuple(findings), tuple(changes.told))


def _refuse_reprint(source: RecordFile) -> None:
    origin = source.printed.origin
    if origin is not None:
        what = f"these prints were made again of batch {origin.get('code', '')}, and are only some of an order"
        remedy = "Give the folder of that batch."
        raise Trouble(Finding(what, remedy, kind="again", file=str(source.path), exit=Exit.USAGE))


def _gather_groups(source: RecordFile, profiles: Profiles, findings: list[Finding]) -> list[AgainGroup]:
    """The garments of a record by the rows they carry."""
    printed = source.printed
    rows = make_rows(printed.transfers, Path(printed.art_root), profiles, str(source.path), look=False)
    firsts: dict[tuple[int, int], PrintedTransfer] = {}
    for transfer in printed.transfers:
        firsts.setdefault(transfer.key, transfer)
    if any(transfer.place is None and transfer.ordered.placement for transfer in firsts.values()):
        what = "the record is of an earlier version and does not say where prints were measured to"
        findings.append(Finding(what, "They are placed by your figures of today.", Severity.WARN, "again",
                                file=str(source.path)))  # fmt: skip
    made = {key: _make_row(rows[key], transfer) for key, transfer in firsts.items()}
    found: dict[tuple[tuple[int, int], ...], list[RecordedGarment]] = {}
    for garment in list_garments(printed):
        found.setdefault(tuple(row.key for row, _ in garment.prints), []).append(garment)
    return [
        AgainGroup(tuple(made[key] for key in keys), len(of), frozenset(name for garment in of for name in garment.ids))
        for keys, of in sorted(found.items())
    ]


def _make_row(row: BatchRow, printed: PrintedTransfer) -> AgainRow:
    """A row with what was made of it; words whose letters are said come out as wide as they do."""
    width, height = printed.panel.whole if printed.panel else (printed.ink_w_mm, printed.ink_h_mm)
    size: tuple[float | None, float | None] = (width / printed.cloth[0], None)
    if row.words:
        size = (None, None) if row.letters_mm is not None else (size[0], height / printed.cloth[1])
    side = printed.sides.top
    tear = side.kept_mm + side.zone_mm + side.band_mm if printed.level == "full" else None
    place = printed.place
    return AgainRow(row, *size, tear, place.drop if place else "", place.across if place else "")


def _choose_orders(
    groups: Sequence[AgainGroup], wish: AgainRequest, source: RecordFile, findings: list[Finding]
) -> list[AgainGroup]:
    if not wish.orders:
        return list(groups)
    known = {fold_text(group.first.order): group.first.order for group in groups if group.first.order}
    for order in wish.orders:
        if fold_text(order) not in known:
            like = find_near_word(order, known.values())
            remedy = f"Did you mean {quote_text(like)}?" if like else "Write it as on the label."
            what = "no order of that name in the record"
            findings.append(Finding(what, remedy, kind="again", file=str(source.path), read=order, exit=Exit.USAGE))
    wanted = {fold_text(order) for order in wish.orders}
    return [group for group in groups if fold_text(group.first.order) in wanted]


class RosterChanges(ChangingStruct):
    """The changes of a list laid on the garments of a record; faults go into `findings`, what was done into `told`."""

    old: Sequence[AgainGroup]
    profiles: Profiles
    file: str
    findings: list[Finding]
    told: list[str] = field(default_factory=list)

    def apply_lines(self, lines: Sequence[AgainLine], listed_only: bool) -> list[AgainGroup]:
        """The garments as they are to be made now."""
        counts = {index: 0 if listed_only else group.count for index, group in enumerate(self.old)}
        changed: dict[int, AgainGroup] = {}
        new: list[AgainGroup] = []
        spoken: dict[int, int] = {}
        for line in lines:
            index = self._find_group(line, line.read_cell("wearer")) if not line.read_cell("like") else None
            if index is None:
                made = self._make_new(line)
                new += [made] if made is not None else []
                continue
            if index in spoken:
                what = f"the same garment as in row {spoken[index]}"
                self._note_fault(line, "wearer", what, "Say it in one line.")
            spoken[index] = line.line
            counts[index] = self._count(line, self.old[index], counts[index], listed_only)
            changed[index] = self._change_group(line, self.old[index])
        kept = [
            replace(changed.get(index, group), count=counts[index])
            for index, group in enumerate(self.old)
            if counts[index] > 0
        ]
        return [*kept, *new]

    def _count(self, line: AgainLine, group: AgainGroup, before: int, listed_only: bool) -> int:
        change = line.copies or CopiesChange(group.count)
        count = change.count if listed_only and change.relative else change.apply_to(before)
        if count < 0:
            self._note_fault(line, "copies", f"there were {group.count}", "Take away no more than that.")
        self.told.append(f"{_name_group(group)}: {count} (were {group.count})")
        return max(0, count)

    def _find_group(self, line: AgainLine, name: str, column: str = "wearer") -> int | None:
        """The garment that a name or an id means; None where there is none of that name."""
        order = fold_text(line.read_cell("order"))
        wanted = fold_text(name)
        if not wanted:
            return None
        of_order = [(n, g) for n, g in enumerate(self.old) if not order or fold_text(g.first.order) == order]
        found = [n for n, group in of_order if fold_text(group.first.wearer) == wanted]
        found = found or [n for n, group in of_order if name.strip().upper() in group.ids]
        if len(found) > 1:
            told = "; ".join(f"{min(self.old[n].ids)} ({_name_group(self.old[n])})" for n in found[:8])
            self._note_fault(line, column, f"{len(found)} garments of the old order are meant by that name",
                             f"Name the order, or an id on it: {told}.", name)  # fmt: skip
            return found[0]
        return found[0] if found else None

    def _make_new(self, line: AgainLine) -> AgainGroup | None:
        """A new garment, made like an old one: the one named, or the only look there is."""
        like = line.read_cell("like")
        index = self._find_group(line, like, "like") if like else self._find_only_look()
        if index is None:
            known = sorted({group.first.wearer for group in self.old if group.first.wearer})
            near = find_near_word(like or line.read_cell("wearer"), known)
            what = "no garment of the old order is meant by that name" if like else (
                "the old order has garments that look different, and the line does not say which this is like"
            )  # fmt: skip
            remedy = f"Did you mean {quote_text(near)}?" if near else "Give a wearer of the old order, or an id."
            self._note_fault(line, "like", what, remedy, like or line.read_cell("wearer"))
            return None
        count = 1 if line.copies is None else line.copies.count
        if count < 1:
            self._note_fault(line, "copies", "a new garment, but none of it", "Write 1 or more, or take the line out.")
            return None
        made = replace(self._change_group(line, self.old[index], new=True), count=count, ids=frozenset(), new=True)
        self.told.append(f"new: {_name_group(made)}, like {_name_group(self.old[index])}")
        return made

    def _find_only_look(self) -> int | None:
        looks = {tuple((r.row.placement, r.row.words == "", r.row.words or r.row.art) for r in _blank_words(group))
                 for group in self.old}  # fmt: skip
        return 0 if len(looks) == 1 else None

    def _change_group(self, line: AgainLine, group: AgainGroup, new: bool = False) -> AgainGroup:
        """A garment with what the line says of it: whose, what it is, its words."""
        rows = [replace(row, row=self._change_row(line, row.row, new)) for row in group.rows]
        rows = replace_words(rows, group.rows, line, new, self._note_fault)
        if line.read_cell("garment"):
            rows = self._size_for_garment(line, group, rows)
        return replace(group, rows=tuple(rows))

    def _change_row(self, line: AgainLine, row: BatchRow, new: bool) -> BatchRow:
        changes: dict[str, object] = {}
        if new:
            wearer = line.read_cell("wearer") or line.read_cell("name") or line.read_cell("number")
            changes = {"wearer": wearer, "name": line.read_cell("name"), "number": line.read_cell("number"), "note": ""}
        else:
            changes = {key: line.read_cell(key) for key in ("name", "number") if line.read_cell(key)}
        if new and line.read_cell("order"):
            changes["order"] = line.read_cell("order")
        if line.read_cell("note"):
            changes["note"] = line.read_cell("note")
        if line.read_cell("cloth_colour"):
            changes["cloth"] = replace(row.cloth, colour=line.read_cell("cloth_colour"))
        return replace(row, **changes)  # type: ignore[arg-type]

    def _size_for_garment(self, line: AgainLine, group: AgainGroup, rows: Sequence[AgainRow]) -> list[AgainRow]:
        """Another garment: sizes of one like it in the record, else those of the shop's figures, which is said."""
        text = line.read_cell("garment")
        reading = self.profiles.wardrobe.read_garment(text)
        before = group.first.garment
        if not reading.kind_named and before.kind != self.profiles.wardrobe.default_kind:
            text = f"{before.kind.replace('-', ' ')} {text}"
            reading = self.profiles.wardrobe.read_garment(text)
        if reading.fault:
            self._note_fault(line, "garment", reading.fault, "Name one kind, one group and one size.", text)
            return list(rows)
        if not reading.group_named and reading.garment.group != before.group:
            text = f"{before.group} {text}"
            reading = self.profiles.wardrobe.read_garment(text)
        garment = replace(reading.garment, text=text)
        alike = self._find_alike(group, garment.kind, garment.group, garment.size)
        made = []
        for index, row in enumerate(rows):
            row = replace(row, row=replace(row.row, garment=garment))
            if (garment.kind, garment.group) != (before.kind, before.group) or garment.size != before.size:
                row = _take_size(row, alike.rows[index] if alike is not None else None,
                                 (garment.kind, garment.group) == (before.kind, before.group))  # fmt: skip
            made.append(row)
        if alike is None and (garment.kind, garment.group) != (before.kind, before.group):
            what = f"no {text} was in the old order: sizes and places are those of your figures of today"
            self.findings.append(Finding(what, "", Severity.WARN, "again", file=self.file, row=line.line,
                                         column="garment"))  # fmt: skip
        return made

    def _find_alike(self, group: AgainGroup, kind: str, body: str, size: str) -> AgainGroup | None:
        """A garment of the record with the same prints, of that kind and group; of that size if there is one."""
        look = [(row.row.placement, row.row.art if not row.row.words else "") for row in group.rows]
        found = [
            other
            for other in self.old
            if (other.first.garment.kind, other.first.garment.group) == (kind, body)
            and [(row.row.placement, row.row.art if not row.row.words else "") for row in other.rows] == look
        ]
        return next((other for other in found if other.first.garment.size == size), found[0] if found else None)

    def _note_fault(self, line: AgainLine, column: str, what: str, remedy: str, read: str | None = None) -> None:
        self.findings.append(
            Finding(what, remedy, kind="again", file=self.file, row=line.line, column=column, read=read or None)
        )


def _blank_words(group: AgainGroup) -> Iterator[AgainRow]:
    """The rows of a garment, words as if they were all the same."""
    for row in group.rows:
        yield replace(row, row=replace(row.row, words="words")) if row.row.words else row


def _take_size(row: AgainRow, alike: AgainRow | None, same: bool) -> AgainRow:
    """The size and place of a garment like it; without one its own where that fits, else none."""
    if alike is not None:
        size = (row.width_mm, row.height_mm) if row.row.words else (alike.width_mm, alike.height_mm)
        return replace(row, width_mm=size[0], height_mm=size[1], drop=alike.drop, across=alike.across)
    return row if same else replace(row, width_mm=None, height_mm=None, drop="", across="")


def _name_group(group: AgainGroup) -> str:
    first = group.first
    return " · ".join(part for part in (first.order, first.wearer, describe_ordered_garment(first)) if part)


def _part_alike(groups: Sequence[AgainGroup]) -> list[AgainGroup]:
    """The groups, their wearers told apart by a number where their rows could be laid on garments in several ways."""
    rows = [replace(row.row, row=n, kit="", kit_row=0, copies=group.count)
            for n, (group, row) in enumerate(((group, row) for group in groups for row in group.rows), 2)]  # fmt: skip
    if not assign_garments(rows)[1]:
        return list(groups)
    seen: dict[tuple[str, str, str], int] = {}
    made = []
    for group in groups:
        key = group.first.order, group.first.wearer, fold_text(describe_ordered_garment(group.first))
        seen[key] = seen.get(key, 0) + 1
        if seen[key] > 1:
            wearer = f"{group.first.wearer} ({seen[key]})".strip()
            group = replace(group, rows=tuple(replace(r, row=replace(r.row, wearer=wearer)) for r in group.rows))
        made.append(group)
    return made
