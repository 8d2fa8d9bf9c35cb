"""A proof in parts, for batches that no browser opens in one page: one page a file of sheets, and one of the whole.

Each part is a proof of its own sheets, with their orders, findings and costs; `proof.html` leads to them.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from decimal import Decimal
from typing import Any

from impose.pages.proof.findings_section import findings_section
from impose.pages.proof.markup import Markup, join_markup, make_document, make_element, name_element
from impose.pages.proof.order_lots import OrderLots, group_findings
from impose.pages.proof.proof_model import Proof, ProofPart, count_words, format_money
from impose.pages.proof.proof_page import footer_section, header_section
from impose.pages.proof.stylesheet import PROOF_STYLE
from impose.sheet.layout import BatchLayout, SheetLayout
from impose.sheet.record import list_files
from impose.values import replace

FINDINGS_MOST = 40
"""Findings of one kind that the page of the whole shows, with their pictures."""


def part_file_name(number: int, of: int) -> str:
    """The page of a part."""
    return f"proof-{number:0{max(3, len(str(of)))}}.html"


def select_proof_part(whole: Proof, number: int, file: str, sheets: Sequence[SheetLayout]) -> Proof:
    """The proof of one file's sheets, drawn; findings are those of their rows."""
    first = sheets[0].number
    said = [
        {**entry, "transfers": list(entry["transfers"])}
        for entry in whole.record["sheets"][first - 1 : first - 1 + len(sheets)]
    ]
    rows = {transfer["row"] for sheet in said for transfer in sheet["transfers"]}
    record = {**whole.record, "sheets": said, "money": _sum_costs(said)}
    pictures = [placed.picture for sheet in sheets for placed in sheet.placed]
    pictures += [swatch.piece.picture for sheet in sheets for swatch in sheet.swatches]
    return replace(
        whole,
        layout=BatchLayout(whole.layout.code, whole.layout.name, tuple(sheets), ()),
        record=record,
        findings=[finding for finding in whole.findings if not rows.isdisjoint(finding.rows)],
        gallery=whole.gallery.select_pictures(pictures),
        part=ProofPart(number, len(list_files(whole.layout)), file, len(whole.layout.sheets)),
    )


def _sum_costs(sheets: Sequence[Mapping[str, Any]]) -> dict[str, str]:
    paper = sum((Decimal(sheet["cost"]) for sheet in sheets), Decimal(0))
    ink = sum((Decimal(transfer["ink_cost"]) for sheet in sheets for transfer in sheet["transfers"]), Decimal(0))
    return {"paper": f"{paper:f}", "ink": f"{ink:f}", "total": f"{paper + ink:f}"}


def draw_proof_index(proof: Proof, orders: Sequence[OrderLots]) -> bytes:
    """The page of the whole: what it takes and costs, findings, its parts, and which parts hold whose transfers."""
    said = group_findings(proof.findings)
    body = join_markup(
        header_section(proof, orders, said),
        make_element(
            "main",
            _parts_section(proof),
            findings_section(proof, (), said, FINDINGS_MOST),
            _orders_section(proof, orders),
        ),
        footer_section(),
    )
    return make_document(
        f"Proof of {proof.layout.name}", PROOF_STYLE, body, "The parts of a large batch, and its findings."
    )


def _parts_section(proof: Proof) -> Markup:
    files = list_files(proof.layout)
    entries = []
    for number, (file, sheets) in enumerate(files, 1):
        transfers = sum(len(sheet.placed) for sheet in sheets)
        link = make_element("a", f"Part {number}", href=part_file_name(number, len(files)))
        facts = f": sheets {sheets[0].number} to {sheets[-1].number}, {count_words(transfers, 'transfer')}, {file}"
        entries.append(make_element("li", link, facts))
    return make_element("section", make_element("h2", "Parts"), make_element("ul", entries), id="sheets")


def _orders_section(proof: Proof, orders: Sequence[OrderLots]) -> Markup:
    """Each order with its parts."""
    files = list_files(proof.layout)
    part_of = {sheet.number: number for number, (_, sheets) in enumerate(files, 1) for sheet in sheets}
    entries = []
    for order in orders:
        parts = sorted({part_of[sheet.number] for lot in order.lots for sheet, _ in lot.placed})
        links = join_markup(
            *(
                join_markup(" ", make_element("a", str(part_number), href=part_file_name(part_number, len(files))))
                for part_number in parts
            )
        )
        cost = format_money(order.paper + order.ink, proof.currency)
        entries.append(
            make_element(
                "li",
                make_element("b", name_element(order.title)),
                f": {count_words(order.count, 'transfer')}, {cost}, part",
                links,
            )
        )
    return make_element("section", make_element("h2", "Orders"), make_element("ul", entries), id="orders")
