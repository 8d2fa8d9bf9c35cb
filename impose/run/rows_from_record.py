"""The rows of a record, as if they had been read from the batch again."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from impose.art.prepare import PreparedPicture
from impose.errors import Exit, Finding, Trouble, raise_stops
from impose.orders.art_root import ArtError, ArtRoot
from impose.orders.batch import BatchRow
from impose.profiles.cloth import Cloth
from impose.profiles.profiles import Profiles
from impose.profiles.word_styles import StyleError, WordStyle, parse_style
from impose.remedies import Remedy
from impose.sheet.piece import Piece
from impose.sheet.record_reader import PrintedTransfer
from impose.values import replace

PLAIN = "plain"


def make_rows(
    transfers: Sequence[PrintedTransfer],
    root: Path,
    profiles: Profiles,
    record: str,
    look: bool = True,
    lost: list[Finding] | None = None,
) -> dict[tuple[int, int], BatchRow]:
    """A row for each row of the batch and of its kits, its artwork found below `root` unless it need not be looked for.

    A row whose artwork is not found is left out and told in `lost`; without that list, `Trouble` is raised with every
    fault.
    """
    findings: list[Finding] = [] if lost is None else lost
    known: set[tuple[int, int]] = set()
    if look and not root.is_dir():
        what = f"the artwork's folder is not found: {root}"
        remedy = Remedy("find-art-folder")
        raise Trouble(Finding(what, remedy, kind="art-missing", file=record, exit=Exit.REFUSED))
    art = ArtRoot(root)
    rows: dict[tuple[int, int], BatchRow] = {}
    for transfer in transfers:
        if transfer.key in known:
            continue
        known.add(transfer.key)
        place = _find_art(transfer.ordered, art, profiles, record, findings) if look else ((root, None), None)
        if place is None:
            continue
        (path, page), style = place
        row, text = transfer.ordered, transfer.ordered.garment.text
        garment = replace(profiles.wardrobe.read_garment(text).garment, text=text)
        cloth, page = _read_cloth(row.cloth, profiles), row.page or page
        rows[transfer.key] = replace(
            row, path=path, page=page, garment=garment, may_turn=transfer.may_turn, style=style, cloth=cloth
        )
    if lost is None:
        raise_stops(findings)
    return rows


def make_piece(
    printed: PrintedTransfer,
    row: BatchRow,
    picture: PreparedPicture,
    size_mm: tuple[float, float],
    crease_mm: tuple[float, float],
) -> Piece:
    """A piece as it was printed, of that picture at that size."""
    return Piece(
        row=row,
        picture=picture,
        ink_w_mm=size_mm[0],
        ink_h_mm=size_mm[1],
        sides=printed.sides,
        level=printed.level,
        crease_x_mm=crease_mm[0],
        crease_y_mm=crease_mm[1],
        up=printed.up,
        up_word=printed.up_word,
        may_turn=printed.may_turn,
        cloth_x=printed.cloth[0],
        cloth_y=printed.cloth[1],
        panel=printed.panel,
    )


def _read_cloth(told: Cloth, profiles: Profiles) -> Cloth:
    """The cloth read again from its words; what the lists of today do not take is left as words."""
    try:
        return profiles.wardrobe.cloth_words.read_cloth(told.text, told.colour)
    except ValueError:
        return told


def _find_art(
    row: BatchRow, art: ArtRoot, profiles: Profiles, record: str, findings: list[Finding]
) -> tuple[tuple[Path, int | None], WordStyle | None] | None:
    """Where the artwork lies and its page, or the style in which words are set; None where it is not found."""
    try:
        if not row.words:
            return art.find_page(row.art), None
        style = parse_style(row.font or PLAIN, profiles.lettering, None)
        if style.is_file and not style.folder:
            style = replace(style, folder=str(art.find_art(style.font)))
        if row.letters_mm is not None:
            style = replace(style, letter_height_mm=row.letters_mm, letters_said=True)
        return (art.root, None), style
    except (ArtError, StyleError) as error:
        kind = error.kind if isinstance(error, ArtError) else "bad-font"
        what = error.what
        column, read = ("font", row.font) if row.words else ("art", row.art)
        remedy = error.remedy
        if isinstance(error, ArtError) and error.kind == "art-missing":
            what = f"{'the font file' if row.words else 'the artwork'} is not found in {art.root.absolute()}"
            remedy = Remedy("put-artwork-back")
        findings.append(Finding(what, remedy, kind=kind, file=record, row=row.row, column=column, read=read))
    return None
