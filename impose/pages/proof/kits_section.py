"""What kits made of a roster, in the proof: a table for each kit, one line a garment."""

from __future__ import annotations

from impose.orders.kit_expansions import KitExpansion, list_kit_expansions
from impose.pages.proof.markup import Markup, make_element, name_element
from impose.pages.proof.proof_model import Proof, count_words


def kits_section(proof: Proof) -> Markup | None:
    """The section; nothing where no row names a kit."""
    found = list_kit_expansions(proof.batch.rows)
    if not found:
        return None
    return make_element(
        "section", make_element("h2", "Kits"), [_make_table(expansion) for expansion in found], id="kits"
    )


def _make_table(expansion: KitExpansion) -> Markup:
    heads = [make_element("th", head, scope="col", role="columnheader") for head in expansion.heads]
    rows = [
        make_element(
            "tr",
            [
                make_element("td", name_element(cell), data_head=head, role="cell")
                for head, cell in zip(expansion.heads, cells, strict=True)
            ],
            role="row",
        )
        for cells in expansion.list_cells()
    ]
    prints = sum(bool(text) for line in expansion.lines for text in line.prints)
    told = f"{count_words(len(expansion.lines), 'row')} of the roster became {count_words(prints, 'print')}"
    return make_element(
        "article",
        make_element(
            "div",
            make_element("h3", name_element(expansion.kit)),
            make_element("span", told, class_="quiet small"),
        ),
        make_element(
            "table",
            make_element("caption", "What the kit ", name_element(expansion.kit), " made"),
            make_element("thead", make_element("tr", heads, role="row"), role="rowgroup"),
            make_element("tbody", rows, role="rowgroup"),
            role="table",
        ),
        class_="order expanded",
    )
