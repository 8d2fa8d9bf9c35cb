"""Who gets a garment of one look: a table with a row for each, its words spelt out, and a box to tick."""

from __future__ import annotations

from impose.pages.proof.answer_form import make_tick_box
from impose.pages.proof.garment_looks import GarmentLook, ProofGarment, ProofPrint
from impose.pages.proof.markup import Content, Markup, fill_markup, format_number, make_element, name_element
from impose.pages.proof.proof_model import Proof
from impose.type.sanitise import clean_text


def make_roster_table(proof: Proof, look: GarmentLook, ident: int) -> Markup:
    """The table; a column for each place with words, sizes only where they differ."""
    texts = proof.profiles.texts
    worded = [index for index, proof_print in enumerate(look.first.prints) if proof_print.row.words]
    places = [_name_column(proof, look.first.prints[index]) for index in worded]
    heads = [texts.fill_sentence("approval", f"roster_{key}") for key in ("for", "garment")]
    heads += places
    if not look.one_size:
        sized = [shown for shown in look.first.prints if not shown.row.words]
        several = texts.fill_sentence("approval", "roster_sizes")
        heads.append(_name_column(proof, sized[0]) if len(sized) == 1 else several)
    heads.append(texts.fill_sentence("approval", "roster_right"))
    rows = [
        _make_row(proof, look, garment, f"g{ident}-{n}", worded, heads) for n, garment in enumerate(look.garments, 1)
    ]
    return make_element(
        "table",
        make_element("caption", texts.fill_sentence("approval", "roster")),
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


def _name_column(proof: Proof, shown: ProofPrint) -> str:
    """The place of a print, as the head of its column."""
    place = proof.name_place(shown)
    return f"{place[:1].upper()}{place[1:]}"


def _make_row(
    proof: Proof, look: GarmentLook, garment: ProofGarment, ident: str, worded: list[int], heads: list[str]
) -> Markup:
    texts = proof.profiles.texts
    who = (
        make_element("b", name_element(garment.wearer))
        if clean_text(garment.wearer)[0]
        else make_element("span", texts.fill_sentence("approval", "nobody"), class_="quiet")
    )
    cells: list[Content] = [who, _name_garment(proof, garment)]
    cells += [_spell_words(proof, garment.prints[index]) for index in worded]
    if not look.one_size:
        cells.append(_list_sizes(proof, garment))
    words = [garment.prints[index].row.words.replace("\n", " / ") for index in worded]
    says = ", ".join(clean_text(text)[0] for text in (garment.wearer, garment.tell_count(texts), *words) if text)
    hidden = make_element("span", texts.fill_sentence("approval", "tick_right"), class_="hidden")
    cells.append(make_tick_box(ident, says, hidden, class_="tick"))
    sizes = None if look.one_size else len(cells) - 2
    return make_element(
        "tr",
        [
            make_element("td", cell, class_="sizes" if at == sizes else None, data_head=head, role="cell")
            for at, (head, cell) in enumerate(zip(heads, cells, strict=True))
        ],
        role="row",
    )


def _name_garment(proof: Proof, garment: ProofGarment) -> Content:
    name = name_element(garment.words)
    if garment.count == 1:
        return name
    count = make_element("b", proof.profiles.texts.format_number(garment.count))
    return fill_markup(proof.profiles.texts, "approval", "several", count=count, garment=name)


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
        return proof.format_for_customer(*prints[0].size)
    return [make_element("span", _tell_place_size(proof, print_), class_="line") for print_ in prints]


def _tell_place_size(proof: Proof, proof_print: ProofPrint) -> Markup:
    size = proof.format_for_customer(*proof_print.size)
    return fill_markup(proof.profiles.texts, "approval", "place_size", place=proof.name_place(proof_print), size=size)
