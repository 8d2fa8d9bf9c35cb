"""Who gets a garment of one look: a table with a row for each, its words spelt out, and a box to tick."""

from __future__ import annotations

from impose.pages.proof.answer_form import make_tick_box
from impose.pages.proof.garment_looks import GarmentLook, ProofGarment, ProofPrint
from impose.pages.proof.markup import Content, Markup, format_number, make_element, name_element
from impose.pages.proof.proof_model import Proof
from impose.type.sanitise import clean_text


def make_roster_table(proof: Proof, look: GarmentLook, ident: int) -> Markup:
    """The table; a column for each place with words, sizes only where they differ."""
    worded = [index for index, proof_print in enumerate(look.first.prints) if proof_print.row.words]
    places = [look.first.prints[index].place for index in worded]
    heads = ["For", "Garment", *(f"{place[:1].upper()}{place[1:]}" for place in places)]
    if not look.one_size:
        heads.append("Sizes")
    heads.append("Right")
    rows = [
        _make_row(proof, look, garment, f"g{ident}-{n}", worded, heads) for n, garment in enumerate(look.garments, 1)
    ]
    return make_element(
        "table",
        make_element("caption", "Who gets it"),
        make_element(
            "thead",
            make_element(
                "tr", [make_element("th", head, scope="col", role="columnheader") for head in heads], role="row"
            ),
            role="rowgroup",
        ),
        make_element("tbody", rows, role="rowgroup"),
        class_="roster",
        role="table",
    )


def _make_row(
    proof: Proof, look: GarmentLook, garment: ProofGarment, ident: str, worded: list[int], heads: list[str]
) -> Markup:
    wearer = clean_text(garment.wearer)[0]
    count = f"{garment.count} × " if garment.count > 1 else ""
    who = (
        make_element("b", name_element(garment.wearer))
        if wearer
        else make_element("span", "no name given", class_="quiet")
    )
    cells: list[Content] = [who, [make_element("b", count) if count else None, name_element(garment.words)]]
    cells += [_spell_words(proof, garment.prints[index]) for index in worded]
    if not look.one_size:
        cells.append(_list_sizes(proof, garment))
    words = [garment.prints[index].row.words.replace("\n", " / ") for index in worded]
    says = ", ".join(clean_text(text)[0] for text in (garment.wearer, count + garment.words, *words) if text)
    cells.append(make_tick_box(ident, says, make_element("span", "right", class_="hidden"), class_="tick"))
    return make_element(
        "tr",
        [make_element("td", cell, data_head=head, role="cell") for head, cell in zip(heads, cells, strict=True)],
        role="row",
    )


def _spell_words(proof: Proof, proof_print: ProofPrint) -> Content:
    """Words twice: as letters, where a slip is read, and as they will be pressed, where a lost accent is seen."""
    lines = [make_element("span", name_element(line), class_="line") for line in proof_print.row.words.split("\n")]
    return [make_element("span", lines, class_="spelt"), _draw_thumbnail(proof, proof_print)]


def _draw_thumbnail(proof: Proof, proof_print: ProofPrint) -> Markup | None:
    if len(proof_print.steps) > 1:
        return None
    wide, high = proof_print.piece.finished_size
    use = make_element(
        "use",
        href=f"#{proof.gallery.picture_name(proof_print.piece.picture)}",
        transform=f"matrix({format_number(wide)} 0 0 {format_number(high)} 0 0)",
    )
    box = f"0 0 {format_number(wide)} {format_number(high)}"
    return make_element("svg", use, class_="word", viewBox=box, aria_hidden="true", focusable="false")


def _list_sizes(proof: Proof, garment: ProofGarment) -> Content:
    prints = [print_ for print_ in garment.prints if not print_.row.words]
    if len(prints) == 1:
        return proof.format_on_ruler(*prints[0].size)
    return [
        make_element("span", f"{print_.place}: {proof.format_on_ruler(*print_.size)}", class_="line")
        for print_ in prints
    ]
