"""What the cloth of a garment means for its prints: whether it holds the dye, survives the press and shows the colours.

Sources: trade pages compared, five of which agree that 65 % polyester is workable, less looks washed out and cotton
holds none; that dye can only darken (trade magazine, 2017-04); that the dye of dyed polyester moves from about 280 °F
(138 °C), four pages. What melts is handbook knowledge, from memory.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from impose.errors import Finding, Severity
from impose.orders.batch import BatchRow
from impose.profiles.cloth import Cloth, Fibre
from impose.profiles.placement import Face
from impose.profiles.profiles import Profiles
from impose.values import replace

LEAST_SHARE = 65.0
"""Per cent of polyester below which a print washes out (trade pages compared, five agree)."""

MIGRATES_C, MIGRATES_F = 138, 280

_PART: dict[Face, str] = {"left sleeve": "sleeves", "right sleeve": "sleeves", "hood": "hood"}


def find_cloth_findings(rows: Sequence[BatchRow], profiles: Profiles) -> list[Finding]:
    """Stops and warnings for what rows say of their cloth; each is told once for all the rows that it is true of."""
    shared: dict[tuple[object, ...], tuple[Finding, list[int]]] = {}
    for row in rows:
        for finding in _find_in_row(row, profiles):
            key = (finding.what, finding.kind, finding.severity, row.order_key, row.accept)
            numbers = shared.setdefault(key, (finding, []))[1]
            if row.row not in numbers:
                numbers.append(row.row)
    return [_place_finding(finding, numbers) for finding, numbers in shared.values()]


def _place_finding(finding: Finding, rows: Sequence[int]) -> Finding:
    return replace(finding, row=rows[0], also=tuple(rows[1:]))


def _find_in_row(row: BatchRow, profiles: Profiles) -> Iterator[Finding]:
    cloth = row.cloth
    if not cloth.said:
        return
    yield from _check_words(cloth, profiles)
    yield from _check_fibres(cloth, profiles)
    yield from _check_ground(row, profiles)
    yield from _list_dyed(cloth)


def _check_words(cloth: Cloth, profiles: Profiles) -> Iterator[Finding]:
    """Words on no list: quoted, and what was taken in their stead."""
    fibres = ", ".join(fibre.title for fibre in profiles.wardrobe.cloth_words.fibres.values())
    if cloth.unknown:
        words = " ".join(cloth.unknown)
        what = f"“{words}” is not a fibre on file, so it is not known whether it holds the dye"
        remedy = f"Read the garment's label and write what it says; known are {fibres}."
        yield _make_caution(what, remedy, "cloth-unknown", "cloth", cloth.text)
    if cloth.unknown_colour:
        words = " ".join(cloth.unknown_colour)
        what = f"“{words}” is not a colour of cloth on file; taken as white"
        remedy = "Write white, light or dark, or add the word to [shades] in a garments.toml of your own."
        yield _make_caution(what, remedy, "cloth-unknown", "cloth_colour", cloth.colour)


def _check_fibres(cloth: Cloth, profiles: Profiles) -> Iterator[Finding]:
    known = profiles.wardrobe.cloth_words.fibres
    named = [(known[name], share) for name, share in cloth.shares if name in known]
    melting = [fibre for fibre, _ in named if fibre.melts]
    if melting:
        names = " and ".join(fibre.title for fibre in melting)
        what = f"{names} can melt in the press"
        why = "It softens at the temperatures that the dye needs: the garment is spoiled, and the platen with it."
        yield _make_stop(what, "Take another garment.", cloth, why)
        return
    share = _dye_share(named)
    if share is None:
        what = "a blend that does not say its share of polyester"
        yield _make_stop(what, "Read the label and write it, as in “65% polyester 35% cotton”.", cloth, _WASHES)
    elif share < LEAST_SHARE:
        what = "no polyester" if share == 0 else f"{share:g} % polyester, under {LEAST_SHARE:g} %"
        remedy = "Take a garment of polyester; from 65 % on it can be tried."
        yield _make_stop(f"{what}: the dye does not hold on the rest", remedy, cloth, _WASHES)
    elif share < 100:
        what = (
            f"{share:g} % polyester: the other {100 - share:g} % of the cloth takes no dye, so the print comes out "
            "paler than on paper and looks washed out after the first wash"
        )
        remedy = "Test on a piece of the same cloth, and show the customer; accept cloth-blend if that is agreed."
        yield _make_caution(what, remedy, "cloth-blend", "cloth", cloth.text)


_WASHES = "Only polyester takes the dye up; what lies on other fibres washes out."


def _dye_share(named: Sequence[tuple[Fibre, float | None]]) -> float | None:
    """Per cent of the cloth that takes the dye; None where it is not said."""
    shares = [share for fibre, share in named if fibre.dye]
    if any(share is None for share in shares):
        return None
    return sum(share or 0.0 for share in shares)


def _check_ground(row: BatchRow, profiles: Profiles) -> Iterator[Finding]:
    """The colour of the part that is printed on: the dye is see-through, and can only darken."""
    placement = profiles.require_placement(row.placement) if row.placement is not None else None
    part = _PART.get(placement.face, "body") if placement is not None else "body"
    shade = row.cloth.shade_of(part)
    where = "" if part == "body" or part not in dict(row.cloth.shades) else f" of the {part}"
    if shade == "dark":
        yield Finding(
            f"the cloth{where} is dark (“{row.cloth.colour}”), and dye can only darken it",
            "Take a white garment; accept dark-cloth if the customer wants it so.",
            kind="dark-cloth",
            why=f"The picture hardly shows. Dyed polyester also gives off its own dye from about {MIGRATES_C} °C "
            f"({MIGRATES_F} °F).",
            column="cloth_colour",
            read=row.cloth.colour,
        )
    elif shade == "light":
        what = f"the cloth{where} is not white (“{row.cloth.colour}”): every colour of the picture mixes with it"
        remedy = "Press a test on it and show the customer; accept light-cloth if that is agreed."
        yield _make_caution(what, remedy, "light-cloth", "cloth_colour", row.cloth.colour)


def _list_dyed(cloth: Cloth) -> Iterator[Finding]:
    """Coloured parts of a garment, by name: their dye moves in the heat, onto the white beside them."""
    for part in cloth.dyed:
        yield Finding(
            f"coloured {part}: the cloth is “{cloth.colour}”",
            f"Keep the {part} off the platen and from under the print, and test one; accept dyed-cloth if it is known.",
            Severity.WARN,
            "dyed-cloth",
            f"The dye of dyed polyester moves from about {MIGRATES_C} °C ({MIGRATES_F} °F), also hours or weeks later.",
            column="cloth_colour",
            read=cloth.colour,
        )


def _make_caution(what: str, remedy: str, kind: str, column: str, read: str) -> Finding:
    return Finding(what, remedy, Severity.WARN, kind, column=column, read=read)


def _make_stop(what: str, remedy: str, cloth: Cloth, why: str) -> Finding:
    return Finding(what, remedy, kind="cloth", why=why, column="cloth", read=cloth.text)
