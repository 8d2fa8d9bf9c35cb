"""The artwork of an order made again: the files that were printed, and words in the letters they were printed in."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from pathlib import Path

from impose.errors import Finding, Severity
from impose.folder_exchange import hash_whole_file
from impose.orders.batch import Batch, BatchRow
from impose.profiles.profiles import Profiles
from impose.remedies import Remedy
from impose.run.options import Options
from impose.run.progress import report_nothing
from impose.run.record_file import RecordFile
from impose.run.reprint import choose_recorded_profile, find_recorded_root, read_recorded_profile
from impose.run.rows_from_record import make_rows
from impose.run.typeset_words import set_rows
from impose.sheet.record_reader import PrintedTransfer


def find_again_artwork(
    source: RecordFile,
    keys: Collection[tuple[int, int]],
    profiles: Profiles,
    options: Options,
    take_new: bool,
    findings: list[Finding],
) -> dict[str, Path]:
    """The files that these rows name, by their path in the new folder, proven to be those that were printed.

    Pictures are held to their hash, words to the outlines that they were printed as. What is lost or
    has changed goes into `findings`.
    """
    wanted = [transfer for transfer in source.printed.transfers if transfer.key in keys]
    root = options.art_root or find_recorded_root(source, wanted)
    rows = make_rows(wanted, root, profiles, str(source.path), lost=findings)
    wanted = [transfer for transfer in wanted if transfer.key in rows]
    found: dict[str, Path] = {}
    told: set[Path] = set()
    for printed in wanted:
        row = rows[printed.key]
        if row.words:
            if row.style is not None and row.style.is_file:
                font = Path(row.style.folder) if Path(row.style.folder).is_file() else root / row.style.font
                found[row.style.font] = font
            continue
        name = row.art.rpartition("#")[0] if row.page and "#" in row.art else row.art
        found[name.replace("\\", "/")] = row.path
        if row.path not in told and hash_whole_file(row.path) != printed.art_sha256:
            told.add(row.path)
            what, taken = "the artwork has changed since it was printed", "the new one is taken" if take_new else ""
            findings.append(_report_changed(source, "art", row.art, what, Remedy("take-new-art"), taken))
    findings += _report_reset_words(source, rows, wanted, profiles, take_new)
    return found


def _report_reset_words(
    source: RecordFile,
    rows: Mapping[tuple[int, int], BatchRow],
    wanted: Sequence[PrintedTransfer],
    profiles: Profiles,
    take_new: bool,
) -> Iterator[Finding]:
    """The styles whose words no longer come out as they were printed: their profile or font file is another one now."""
    chosen = choose_recorded_profile(source.printed, profiles)
    if read_recorded_profile(source.printed).get("sha256") != (None if chosen is None else chosen.output.sha256):
        return  # other colours of the printer: what is drawn cannot be held against what was
    lettered = tuple(row for row in rows.values() if row.words and row.style is not None)
    batch = Batch(source.printed.batch, str(source.path), Path(), lettered)
    reset, drawings, _ = set_rows(batch, profiles, report_nothing, None if chosen is None else chosen.output)
    printed = {transfer.key: transfer for transfer in wanted}
    told: set[str] = set()
    for row in reset.rows:
        drawing = drawings.get(row.path)
        was = printed[row.key]
        if drawing is None or was.ink_px is not None or drawing.sha256 == was.art_sha256 or row.font in told:
            continue  # not set at all: refused when the new order is read; pixels: printed by an earlier version
        told.add(row.font)
        what = "the words are set otherwise than when they were printed"
        taken = "they are set as the style is now"
        yield _report_changed(source, "font", row.font, what, Remedy("take-new-words"), taken if take_new else "")


def _report_changed(source: RecordFile, column: str, read: str, what: str, remedy: Remedy, taken: str) -> Finding:
    """What is not as it was printed: a stop with its remedy, or a warning where the new one is `taken`."""
    if taken:
        return Finding(f"{what}; {taken}", "", Severity.WARN, "art-changed", file=str(source.path),
                       column=column, read=read or None)  # fmt: skip
    return Finding(what, remedy, kind="art-changed", file=str(source.path), column=column, read=read or None)
