"""From what lies in `in/` to drops: which files belong together, what is ready, what waits and for what.

A batch file and the artwork it names are one drop, a folder is one, every other artwork is one. Nothing is touched
here.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from impose.desk.drop_rules import (
    LIST_ALONE,
    LONE_FONT,
    LONE_KITS,
    NO_SIZE,
    NO_TEXT,
    DropRules,
    ReadTable,
    SortedEntries,
    WaitingEntry,
    has_known_size,
    has_text_names,
    make_held_file,
    make_wanted_drop,
)
from impose.desk.file_integrity import LARGEST, TOO_LARGE, explain_foreign_file, find_png_fault
from impose.desk.inbox_rules import InboxSettings, is_kits, is_table_name, read_file_name
from impose.desk.scan import InboxEntry, RestTimer, Stamp, compute_long_rest
from impose.desk.time_slices import STEP_S, Steps
from impose.errors import Trouble, list_texts, quote_text
from impose.file_types import is_artwork
from impose.ledger.drops import WantedDrop
from impose.orders.art_root import ArtError, ArtRoot
from impose.profiles.word_styles import is_font_file
from impose.values import FrozenStruct


@dataclass(slots=True)
class _BatchTable:
    entry: InboxEntry
    found: dict[str, Path] = field(default_factory=dict)
    missing: list[str] = field(default_factory=list)
    read: bool = False
    fault: str = ""
    listed: str | None = None


class _FileCheck(FrozenStruct):
    """What was found of a file, and when."""

    stamp: Stamp
    fault: str
    at: float


class DropSorter:
    """Sorts scan after scan; keeps which files were found whole, for as long as they lie there unchanged."""

    def __init__(
        self,
        root: Path,
        rules: DropRules,
        inbox_of: Callable[[str], InboxSettings | None],
        read: ReadTable,
        clock: Callable[[], float],
    ) -> None:
        self.root, self.rules = root, rules
        self.settling = RestTimer()
        self._inbox_of, self._read = inbox_of, read
        self._clock = clock
        self._faults: dict[str, _FileCheck] = {}
        self._looks: dict[str, tuple[Stamp, Steps[str]]] = {}
        self._budget, self._left_s, self._now = 0, 0.0, 0.0

    def sort_entries(self, entries: Sequence[InboxEntry], now: float, most_looked: int = 64) -> SortedEntries:
        """Sort a scan made at `now`; at most `most_looked` files are read through in one call."""
        self.settling.note_entries(entries, now)
        self._budget, self._left_s, self._now = most_looked, STEP_S, now
        stamps = {path: stamp for entry in entries for path, stamp in (entry.files or [(entry.path, entry.stamp)])}
        self._faults = {path: kept for path, kept in self._faults.items() if stamps.get(path) == kept.stamp}
        self._looks = {path: kept for path, kept in self._looks.items() if stamps.get(path) == kept[0]}
        result = SortedEntries()
        tables = [self._find_table(entry) for entry in entries if entry.kind == "file" and is_table_name(entry.name)]
        shares = Counter(self._name_from_inbox(path) for table in tables for path in table.found.values())
        busy = {table.entry.inbox for table in tables if not table.read}
        for table in tables:
            self._sort_table(table, stamps, shares, busy, now, result)
        for entry in entries:
            if entry.kind == "file" and is_table_name(entry.name):
                continue
            if shares.keys() & ({path for path, _ in entry.files} or {entry.path}):
                continue  # artwork of a batch file, which goes with it
            self._sort_other(entry, busy, now, result)
        return result

    # -- batch files ------------------------------------------------------------------------------------------------

    def _find_table(self, entry: InboxEntry) -> _BatchTable:
        table = _BatchTable(entry)
        if entry.stamp[0] > LARGEST:
            table.fault = f"It is {TOO_LARGE}"
            return table
        path = self.root / entry.path
        named = self._read(path, entry.stamp)
        if named is None:
            return table
        table.read, table.fault, table.listed = not named.fault, named.fault, named.listed
        art = ArtRoot(path.parent)
        for text in named.art:
            try:
                table.found[text] = art.find_art(text)
            except ArtError as error:
                # Anything but a missing file stays wrong however long one waits: the maker says it in full.
                if error.kind == "art-missing":
                    table.missing.append(text)
            except OSError:  # vanished while it was looked at
                table.missing.append(text)
        return table

    def _sort_table(
        self,
        table: _BatchTable,
        stamps: Mapping[str, Stamp],
        shares: Counter[str],
        busy: set[str],
        now: float,
        result: SortedEntries,
    ) -> None:
        entry = table.entry
        rest = self.settling.measure_rest(entry, now)
        inbox = self._find_inbox(entry)
        if rest < self.rules.settle_s:
            return self._note_waiting(result, entry, "still arriving")
        if inbox.fault:
            return result.wanted.append(self._make_wanted(entry, "csv", inbox, why=inbox.fault))
        if table.fault:
            return self._wait_or_refuse(
                result, entry, rest, compute_long_rest(self.rules.settle_s), table.fault, inbox, "csv"
            )
        if not table.read:
            return self._note_waiting(result, entry, "being read")
        if table.listed is not None:
            return result.wanted.append(self._make_wanted(entry, "csv", inbox, listed=table.listed))
        if table.found and entry.inbox in busy:  # it may name the same artwork, which then has to be copied
            return self._note_waiting(result, entry, "a batch file beside it is not read yet")
        art, unready, broken = self._find_artwork(table, stamps, now)
        files = [make_held_file(path, entry, stamps[path], copied=shares[path] > 1) for path in art]
        why = broken
        if not broken and (table.missing or unready):
            names = ", ".join((table.missing or unready)[:3])
            left = self.rules.patience_s - self.settling.measure_inbox_rest(entry.inbox, now)
            if unready or left > 0:
                what = f"waits for its artwork: {names}"
                return self._note_waiting(result, entry, what, None if unready else left)
            why = (
                f"Its artwork is missing: {list_texts(table.missing, 12)}. Drop the file again together with all "
                f"of it, best in one folder. (It was waited for {self.rules.patience_s:.0f} s.)"
            )
        shares.subtract(art)
        return result.wanted.append(self._make_wanted(entry, "csv", inbox, art=files, why=why))

    def _find_artwork(
        self, table: _BatchTable, stamps: Mapping[str, Stamp], now: float
    ) -> tuple[list[str], list[str], str]:
        """Artwork found, that which is not ready yet, and why some of it never will be."""
        art: dict[str, None] = {}
        unready, broken = [], ""
        for text, path in table.found.items():
            told = self._name_from_inbox(path)
            stamp = stamps.get(told)
            if stamp is None:  # vanished since, hidden, or a link
                unready.append(text)
                continue
            rest = self._measure_file_rest(told, stamp, table.entry, now)
            fault = self._find_png_fault(told, stamp, rest) if rest >= self.rules.settle_s else None
            if fault is None or (fault and rest < compute_long_rest(self.rules.settle_s)):
                unready.append(text)
            elif fault:
                broken = broken or f"Its artwork {quote_text(text)} cannot be used. {fault}"
            art[told] = None
        return list(art), unready, broken

    def _measure_file_rest(self, told: str, stamp: Stamp, table: InboxEntry, now: float) -> float:
        entry = InboxEntry(told, table.inbox, "file", stamp)
        rest = self.settling.measure_rest(entry, now)
        # A file in a dropped folder is at rest when its folder is.
        folder = told.split("/")[0] if not table.inbox else "/".join(told.split("/")[:2])
        return rest or self.settling.measure_rest(InboxEntry(folder, table.inbox, "folder", ()), now)

    # -- everything else ----------------------------------------------------------------------------------------------

    def _sort_other(self, entry: InboxEntry, busy: set[str], now: float, result: SortedEntries) -> None:
        rest = self.settling.measure_rest(entry, now)
        inbox = self._find_inbox(entry)
        if rest < self.rules.settle_s:
            return self._note_waiting(result, entry, "still arriving")
        why = entry.why or inbox.fault or ("" if has_text_names(entry) else NO_TEXT) or _find_oversize(entry)
        if not why and entry.kind == "file" and not is_artwork(entry.name):
            left = self.rules.patience_s - self.settling.measure_inbox_rest(entry.inbox, now)
            beside = is_font_file(entry.name) or is_kits(entry.name)
            if beside and (entry.inbox in busy or left > 0):
                return self._note_waiting(
                    result, entry, "waits for a CSV that names it", None if entry.inbox in busy else left
                )
            lone = LONE_KITS if is_kits(entry.name) else LONE_FONT
            why = lone if beside else explain_foreign_file(self.root / entry.path)
        if why:
            kind = {"file": "png", "folder": "folder", "odd": "odd"}[entry.kind]
            return result.wanted.append(self._make_wanted(entry, kind, inbox, why=why))
        if entry.inbox in busy:
            return self._note_waiting(result, entry, "a batch file beside it is not read yet")
        if entry.kind == "folder":
            return self._sort_folder(entry, inbox, rest, now, result)
        return self._sort_png(entry, inbox, rest, now, result)

    def _sort_png(
        self, entry: InboxEntry, inbox: InboxSettings, rest: float, now: float, result: SortedEntries
    ) -> None:
        fault = self._find_png_fault(entry.path, entry.stamp, rest)
        if fault is None:
            return self._note_waiting(result, entry, "to be looked at")
        if fault:
            return self._wait_or_refuse(
                result, entry, rest, compute_long_rest(self.rules.settle_s), fault, inbox, "png"
            )
        try:
            spec = read_file_name(entry.name)
        except Trouble as trouble:
            return result.wanted.append(self._make_wanted(entry, "png", inbox, why=str(trouble)))
        if has_known_size(spec, inbox, self.rules):
            return result.wanted.append(self._make_wanted(entry, "png", inbox, spec=spec))
        left = self.rules.patience_s - self.settling.measure_inbox_rest(entry.inbox, now)
        if left > 0:
            return self._note_waiting(result, entry, "waits for a CSV that names it: it says no size itself", left)
        return result.wanted.append(self._make_wanted(entry, "png", inbox, spec=spec, why=NO_SIZE))

    def _sort_folder(
        self, entry: InboxEntry, inbox: InboxSettings, rest: float, now: float, result: SortedEntries
    ) -> None:
        """A folder that is one batch: with one batch file, or artwork that says its size."""
        patient = compute_long_rest(self.rules.settle_s)
        stamps = dict(entry.files)
        tables = [path for path in stamps if is_table_name(path) and path.count("/") == entry.path.count("/") + 1]
        if len(tables) > 1:
            why = f"It holds {len(tables)} batch files. Drop one folder for each, or the files by themselves."
            return result.wanted.append(self._make_wanted(entry, "folder", inbox, why=why))
        for path, stamp in stamps.items():
            if not is_artwork(path):
                continue
            fault = self._find_png_fault(path, stamp, rest)
            if fault is None:
                return self._note_waiting(result, entry, "to be looked at")
            if fault:
                return self._wait_or_refuse(result, entry, rest, patient, fault, inbox, "folder")
        if tables:
            return self._sort_folder_table(entry, tables[0], inbox, now, result)
        pictures = [path for path in stamps if is_artwork(path)]
        try:
            sized = all(has_known_size(read_file_name(path.rpartition("/")[2]), inbox, self.rules) for path in pictures)
        except Trouble as trouble:
            return result.wanted.append(self._make_wanted(entry, "folder", inbox, why=str(trouble)))
        if not pictures or not sized:
            left = self.rules.patience_s - self.settling.measure_inbox_rest(entry.inbox, now)
            if left > 0:
                return self._note_waiting(result, entry, "waits for a CSV that names its artwork", left)
            why = (
                "It holds no batch file, and how large to print its pictures is not said. Put a CSV into it, or name "
                "the folder after a placement, such as left-chest."
            )
            return result.wanted.append(self._make_wanted(entry, "folder", inbox, why=why))
        return result.wanted.append(self._make_wanted(entry, "folder", inbox))

    def _sort_folder_table(
        self, entry: InboxEntry, path: str, inbox: InboxSettings, now: float, result: SortedEntries
    ) -> None:
        table = self._find_table(InboxEntry(path, entry.inbox, "file", dict(entry.files)[path]))
        rest = self.settling.measure_rest(entry, now)
        main = path[len(entry.path) + 1 :]
        if table.fault:
            patient = compute_long_rest(self.rules.settle_s)
            return self._wait_or_refuse(result, entry, rest, patient, table.fault, inbox, "folder")
        if not table.read:
            return self._note_waiting(result, entry, "being read")
        if table.missing and rest < self.rules.patience_s:
            what = f"waits for its artwork: {', '.join(table.missing[:3])}"
            return self._note_waiting(result, entry, what, self.rules.patience_s - rest)
        why = f"Its artwork is missing: {list_texts(table.missing, 12)}. Add it and drop the folder again."
        if not table.missing:
            why = LIST_ALONE if table.listed is not None and len(entry.files) > 1 else ""
        wanted = self._make_wanted(entry, "folder", inbox, why=why, main=main, listed=table.listed)
        return result.wanted.append(wanted)

    # -- small things -------------------------------------------------------------------------------------------------

    def _note_waiting(self, result: SortedEntries, entry: InboxEntry, why: str, within_s: float | None = None) -> None:
        result.waiting.append(WaitingEntry(entry.path, why, within_s))
        if within_s is None:
            result.unsure.add(entry.inbox)

    def _wait_or_refuse(
        self,
        result: SortedEntries,
        entry: InboxEntry,
        rest: float,
        patient_s: float,
        fault: str,
        inbox: InboxSettings,
        kind: str,
    ) -> None:
        """Not whole: perhaps still on its way, for so long."""
        if rest < patient_s:
            result.waiting.append(WaitingEntry(entry.path, f"not whole yet: {fault}", patient_s - rest))
        else:
            result.wanted.append(self._make_wanted(entry, kind, inbox, why=fault))

    def _find_png_fault(self, told: str, stamp: Stamp, rest: float) -> str | None:
        """Why an artwork is not whole ("" if it is); None while that is not known.

        One that is at rest for long is looked at once more before it is refused: a share may have shown the file's
        end before its middle, with one stamp for both.
        """
        known = self._faults.get(told)
        patient = compute_long_rest(self.rules.settle_s)
        if known is not None and not (known.fault and rest >= patient and known.at < self._now - rest + patient):
            return known.fault
        if self._budget <= 0 or self._left_s <= 0:
            return None
        self._budget -= 1
        fault = self._advance_check(told, stamp)
        if fault is not None:
            self._faults[told] = _FileCheck(stamp, fault, self._now)
        return fault

    def _advance_check(self, told: str, stamp: Stamp) -> str | None:
        """Go on with reading a file through, for what is left of this turn's time."""
        kept = self._looks.pop(told) if told in self._looks else (stamp, find_png_fault(self.root / told))
        steps = kept[1]
        begun = self._clock()
        try:
            while self._clock() - begun < self._left_s:
                next(steps)
        except StopIteration as end:
            return str(end.value)
        except FileNotFoundError:
            return None
        except OSError as error:
            return f"It cannot be read: {error.strerror or error}. Check its rights, and that nobody has it open."
        finally:
            self._left_s -= self._clock() - begun
        self._looks[told] = (stamp, steps)
        return None

    def _find_inbox(self, entry: InboxEntry) -> InboxSettings:
        return self._inbox_of(entry.inbox) or InboxSettings()

    def _make_wanted(self, entry: InboxEntry, kind: str, inbox: InboxSettings, **more: Any) -> WantedDrop:
        return make_wanted_drop(entry, kind, inbox, self.rules, **more)

    def _name_from_inbox(self, path: Path) -> str:
        return path.relative_to(self.root).as_posix()


def _find_oversize(entry: InboxEntry) -> str:
    """That a file is too large, known before a byte of it is read."""
    for path, stamp in entry.files or ((entry.path, entry.stamp),):
        if stamp and stamp[0] > LARGEST:
            return f"“{path.rpartition('/')[2]}” is {TOO_LARGE}"
    return ""
