"""What a proof is made of, and the wording that its parts share."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from decimal import ROUND_HALF_UP, Decimal
from typing import Any

from impose.errors import Finding, Severity
from impose.orders.batch import Batch, BatchRow
from impose.pages.proof.gallery import PictureGallery, picture_key
from impose.pages.proof.garment_looks import ProofPrint
from impose.pages.proof.markup import Content, join_markup, make_element
from impose.pages.proof.order_lots import OrderLots
from impose.profiles.profiles import Printer, Profiles
from impose.sheet.layout import BatchLayout
from impose.sheet.marks import LineShaper
from impose.type.sanitise import clean_text
from impose.units import format_length
from impose.values import FrozenStruct

WORDS = {Severity.STOP: "Stop", Severity.WARN: "Warning", Severity.NOTE: "Note"}
LINKS_MOST = 12
"""Copies of one row that are linked one by one; more are given as a range."""


class ProofPart(FrozenStruct):
    """Which part of a batch in several files a proof is of."""

    number: int
    of: int
    file: str
    of_sheets: int


class Proof(FrozenStruct):
    """Everything a proof is made of; nothing is computed anew, so page, sheets and record cannot disagree."""

    layout: BatchLayout
    record: Mapping[str, Any]
    batch: Batch
    profiles: Profiles
    printer: Printer
    findings: Sequence[Finding]
    lettering: LineShaper
    gallery: PictureGallery
    part: ProofPart | None = None

    @property
    def sheets(self) -> int:
        """How many sheets the whole batch has."""
        return self.part.of_sheets if self.part else len(self.layout.sheets)

    @property
    def units(self) -> Any:
        """The shop's unit of length, for people."""
        return self.profiles.settings.units

    @property
    def currency(self) -> str:
        """The currency of all costs."""
        return str(self.record["currency"])

    def format_size(self, width: float, height: float) -> str:
        """A size in the shop's unit."""
        return f"{format_length(width, self.units)} × {format_length(height, self.units)}"

    def format_for_customer(self, width: float, height: float) -> str:
        """A size as a ruler has it, in the customer's custom: whole millimetres, or eighths of an inch."""
        return self.profiles.texts.format_size(width, height, self.units)

    def name_place(self, proof_print: ProofPrint) -> str:
        """Where a print goes, in the customer's words."""
        texts, placement = self.profiles.texts, proof_print.row.placement
        return texts.name_place(placement) if placement else texts.fill_sentence("approval", "own_place")

    def name_source(self, row: BatchRow) -> str:
        """The picture's file without its folder, which may be named for another customer; or that it is words."""
        if row.words and row.font:
            return self.profiles.texts.fill_sentence("approval", "words_in", font=row.font)
        if row.words:
            return self.profiles.texts.fill_sentence("approval", "words")
        return row.art_name

    def title_order(self, order: OrderLots) -> str:
        """What an order is called before its customer."""
        row = str(order.lots[0].row.row)
        return clean_text(order.name)[0] or self.profiles.texts.fill_sentence("approval", "unnamed_order", row=row)


def make_gallery(layout: BatchLayout) -> PictureGallery:
    """The distinct pictures of a layout, in the order in which they lie on it."""
    pieces = [placed.transfer.piece for sheet in layout.sheets for placed in sheet.placed]
    seen = len({(piece.row.order_key, picture_key(piece.picture)) for piece in pieces})
    return PictureGallery((piece.picture for piece in pieces), seen)


def count_words(number: int, word: str) -> str:
    """A number and its word: '1 sheet', '12 sheets'."""
    return f"{number:,} {word}{'' if number == 1 else 's'}"


def link_transfers(idents: Sequence[str]) -> Content:
    """Transfers linked to their drawing; many of them by the first and how many more."""
    shown_ = idents if len(idents) <= LINKS_MOST else idents[:LINKS_MOST]
    linked = join_markup(
        *(join_markup(" " if n else None, make_element("a", i, href=f"#{i}")) for n, i in enumerate(shown_))
    )
    return linked if len(shown_) == len(idents) else [linked, f" and {len(idents) - len(shown_):,} more"]


def format_money(amount: Decimal, currency: str = "") -> str:
    """An amount to the cent, as people read it; the record has it exactly."""
    return f"{amount.quantize(Decimal('0.01'), ROUND_HALF_UP):f} {currency}".strip()
