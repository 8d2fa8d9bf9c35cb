"""A proof in parts, for batches that no browser opens in one page: one page a file of sheets, and one of the whole.

Each part is a proof of its own sheets, with their orders, findings and costs; `proof.html` leads to them.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from decimal import Decimal
from typing import Any

from impose.pages.proof.contents import Order, grouped
from impose.pages.proof.findings import findings_section
from impose.pages.proof.markup import Markup, join, name, page, tag
from impose.pages.proof.proof import footer_section, header_section
from impose.pages.proof.style import PROOF_STYLE
from impose.pages.proof.subject import Part, Proof, count, money
from impose.sheet.layout import Layout, Sheet
from impose.sheet.record import files_of

FINDINGS_MOST = 40
"""Findings of one kind that the page of the whole shows, with their pictures."""


def part_name(number: int, of: int) -> str:
    """The page of a part."""
    return f"proof-{number:0{max(3, len(str(of)))}}.html"


def proof_of_part(whole: Proof, number: int, file: str, sheets: Sequence[Sheet]) -> Proof:
    """The proof of one file's sheets, drawn; findings are those of their rows."""
    first = sheets[0].number
    said = [
        {**one, "transfers": list(one["transfers"])}
        for one in whole.record["sheets"][first - 1 : first - 1 + len(sheets)]
    ]
    rows = {one["row"] for sheet in said for one in sheet["transfers"]}
    record = {**whole.record, "sheets": said, "money": _costs(said)}
    pictures = (placed.transfer.piece.picture for sheet in sheets for placed in sheet.placed)
    return replace(
        whole,
        layout=Layout(whole.layout.code, whole.layout.name, tuple(sheets), ()),
        record=record,
        findings=[one for one in whole.findings if one.row in rows],
        gallery=whole.gallery.of(pictures),
        part=Part(number, len(files_of(whole.layout)), file, len(whole.layout.sheets)),
    )


def _costs(sheets: Sequence[Mapping[str, Any]]) -> dict[str, str]:
    paper = sum((Decimal(sheet["cost"]) for sheet in sheets), Decimal(0))
    ink = sum((Decimal(one["ink_cost"]) for sheet in sheets for one in sheet["transfers"]), Decimal(0))
    return {"paper": f"{paper:f}", "ink": f"{ink:f}", "total": f"{paper + ink:f}"}


def proof_index(proof: Proof, orders: Sequence[Order]) -> bytes:
    """The page of the whole: what it takes and costs, findings, its parts, and which parts hold whose transfers."""
    said = grouped(proof.findings)
    body = join(
        header_section(proof, orders, said),
        tag("main", _parts(proof), findings_section(proof, (), said, FINDINGS_MOST), _orders(proof, orders)),
        footer_section(proof),
    )
    return page(f"Proof of {proof.layout.name}", PROOF_STYLE, body, "The parts of a large batch, and its findings.")


def _parts(proof: Proof) -> Markup:
    files = files_of(proof.layout)
    entries = []
    for number, (file, sheets) in enumerate(files, 1):
        transfers = sum(len(sheet.placed) for sheet in sheets)
        link = tag("a", f"Part {number}", href=part_name(number, len(files)))
        facts = f": sheets {sheets[0].number} to {sheets[-1].number}, {count(transfers, 'transfer')}, {file}"
        entries.append(tag("li", link, facts))
    return tag("section", tag("h2", "Parts"), tag("ul", entries), id="sheets")


def _orders(proof: Proof, orders: Sequence[Order]) -> Markup:
    """Each order with its parts."""
    files = files_of(proof.layout)
    part_of = {sheet.number: number for number, (_, sheets) in enumerate(files, 1) for sheet in sheets}
    entries = []
    for order in orders:
        parts = sorted({part_of[sheet.number] for lot in order.lots for sheet, _ in lot.placed})
        links = join(*(join(" ", tag("a", str(one), href=part_name(one, len(files)))) for one in parts))
        cost = money(order.paper + order.ink, proof.currency)
        entries.append(
            tag("li", tag("b", name(order.title)), f": {count(order.count, 'transfer')}, {cost}, part", links)
        )
    return tag("section", tag("h2", "Orders"), tag("ul", entries), id="orders")
