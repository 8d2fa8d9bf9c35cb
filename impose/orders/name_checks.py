"""Names that are set by us, held against the order: one that stands twice, is missing, or is not the wearer's.

A misspelt or forgotten name is found by the customer, on the garment. These are warnings, since two brothers may share
a name and a nickname is no mistake.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable, Iterator, Sequence

from impose.errors import Finding, Severity, count_noun, quote_text
from impose.orders.batch import BatchRow, OrderKey
from impose.orders.findings_log import format_spans

# Two words this alike are meant to be the same; at 0.7, “Ana” and “Anna” are alike, “Ana” and “Ada” are not.
_ALIKE = 0.7


def check_names(rows: Sequence[BatchRow]) -> list[Finding]:
    """What is worth asking about the words of a batch; rows without words are none of its concern."""
    groups: dict[tuple[OrderKey, str | None], list[BatchRow]] = {}
    orders: dict[OrderKey, list[BatchRow]] = {}
    for row in rows:
        orders.setdefault(row.order_key, []).append(row)
        if row.words:
            groups.setdefault((row.order_key, row.placement), []).append(row)
    findings = [finding for row in rows if row.words for finding in _report_changed(row)]
    for (order, placement), named in groups.items():
        findings += _report_repeated(named)
        if order[0]:
            findings += _report_missing(orders[order], named, placement)
    return findings


def report_expansions(rows: Sequence[BatchRow]) -> list[Finding]:
    """What rows became by their kits, a note for each kit; and a warning for each number that stands twice."""
    by_kit: dict[str, list[BatchRow]] = {}
    for row in rows:
        if row.kit:
            by_kit.setdefault(_fold_case(row.kit), []).append(row)
    return [finding for made in by_kit.values() for finding in (*_expand_kit(made), *_check_numbers(made))]


def _expand_kit(rows: Sequence[BatchRow]) -> Iterator[Finding]:
    """A note of the prints of a kit; none where it could be made of no row."""
    made = [row for row in rows if row.kit_row]
    if not made:
        return
    kit = made[0].kit
    numbers = list(dict.fromkeys(row.row for row in made))
    first = [row for row in made if row.row == numbers[0]]
    prints = sum(row.copies for row in made)
    each = "; ".join(f"{(row.placement or 'print').replace('-', ' ')} {row.art}" for row in first)
    counts = f"{count_noun(prints, 'print')} of {count_noun(len(numbers), 'row')}"
    yield Finding(
        f"the kit {quote_text(kit)} makes {counts}: for row {numbers[0]} {each}",
        "",
        Severity.NOTE,
        "kit",
        row=numbers[0],
        also=tuple(numbers[1:]),
        column="kit",
        read=kit,
    )


def _check_numbers(made: Sequence[BatchRow]) -> Iterator[Finding]:
    """The same number for two wearers of an order; several garments of one wearer are meant."""
    seen: dict[tuple[OrderKey, str], dict[int, BatchRow]] = {}
    for row in made:
        if row.number and row.order:
            seen.setdefault((row.order_key, _fold_number(row.number)), {}).setdefault(row.row, row)
    for same in seen.values():
        rows = list(same.values())
        if len({_fold_case(row.wearer) for row in rows}) > 1:
            what = (
                f"the number {rows[0].number} stands in rows {format_spans(row.row for row in rows)} of the same order"
            )
            remedy = "Ask whether both are meant; if so, accept number-twice."
            yield Finding(
                what, remedy, Severity.WARN, "number-twice", row=rows[1].row, column="number", read=rows[1].number
            )


def _fold_number(text: str) -> str:
    """A number as it is called out: 07 and 7 are one."""
    return _fold_case(text).lstrip("0") or "0"


def _report_repeated(named: Sequence[BatchRow]) -> Iterator[Finding]:
    """The same words for two wearers; several copies of one row are meant."""
    seen: dict[str, list[BatchRow]] = {}
    for row in named:
        seen.setdefault(_fold_case(row.words), []).append(row)
    for same in seen.values():
        if len(same) > 1 and not _fold_case(same[0].words).isdigit():
            rows = format_spans(row.row for row in same)
            what = f"the words {quote_text(same[0].words)} stand in rows {rows} of the same order"
            yield _make_warning(what, "Ask whether both are meant; if so, accept name-twice.", same[1], "name-twice")


def _report_missing(
    of_order: Iterable[BatchRow], named: Sequence[BatchRow], placement: str | None
) -> Iterator[Finding]:
    """Wearers of an order who have no words where most others have theirs."""
    have = {_fold_case(row.wearer) for row in named if row.wearer}
    lacking = {_fold_case(row.wearer): row for row in of_order if row.wearer and _fold_case(row.wearer) not in have}
    # Where words are for the few (a captain, those with long sleeves), the many are not forgotten.
    if len(have) < 2 or len(lacking) >= len(have):
        return
    for row in lacking.values():
        where = f" on {placement}" if placement else ""
        what = f"{row.wearer} has no words{where}, as {len(have)} others of the order have"
        remedy = "Add a row for the name, or accept name-missing."
        yield Finding(what, remedy, Severity.WARN, "name-missing", row=row.row, kit_row=row.kit_row, column="words")


def _report_changed(row: BatchRow) -> Iterator[Finding]:
    """Words that are nearly the wearer's name, but not quite: a slip, or an accent that was lost."""
    wearer, words = _split_name(row.wearer), _split_name(row.words)
    if row.words.isupper() and any("GREEK" in unicodedata.name(c, "") for c in row.words):
        # Greek capitals are written without the accents that small letters carry (common practice, no source).
        wearer, words = [_strip_accents(part) for part in wearer], [_strip_accents(part) for part in words]
    if not wearer or not words or set(words) <= set(wearer):
        return
    for word in words:
        if word in wearer or not any(c.isalpha() for c in word):
            continue
        near = [part for part in wearer if part not in words and _are_alike(word, part)]
        if near:
            what = f"the words say {quote_text(word)}, and the wearer is called {quote_text(near[0])}"
            yield _make_warning(
                what, "Check the spelling with the customer, or accept name-changed.", row, "name-changed"
            )


def _are_alike(text: str, other: str) -> bool:
    from difflib import SequenceMatcher  # loaded late: most batches have nothing that is nearly a word

    return (
        _strip_accents(text) == _strip_accents(other)
        or SequenceMatcher(None, _strip_accents(text), _strip_accents(other)).ratio() >= _ALIKE
    )


def _strip_accents(text: str) -> str:
    """Without accents; ł and ø have no decomposition, and are left."""
    return "".join(c for c in unicodedata.normalize("NFD", text) if not unicodedata.combining(c))


def _fold_case(text: str) -> str:
    return " ".join(unicodedata.normalize("NFC", text).casefold().split())


def _split_name(text: str) -> list[str]:
    letters = "".join(c if c.isalnum() or unicodedata.combining(c) else " " for c in _fold_case(text))
    return letters.split()


def _make_warning(what: str, remedy: str, row: BatchRow, kind: str) -> Finding:
    return Finding(what, remedy, Severity.WARN, kind, row=row.row, kit_row=row.kit_row, column="words", read=row.words)
