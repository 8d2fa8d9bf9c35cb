"""What the approval page and its PDF say of a look and of each print, from the texts for customers."""

from __future__ import annotations

from impose.pages.proof.garment_looks import GarmentLook, ProofPrint
from impose.pages.proof.proof_model import Proof

_READS = {"left": "print_cuff_up", "right": "print_shoulder_down"}


def choose_drawn_key(look: GarmentLook) -> str:
    """Which sentence stands over a drawing: for whom it is, and whether it stands for others too."""
    return f"drawn{'_first' if len(look.garments) > 1 else ''}{'_for' if look.first.wearer else ''}"


def choose_print_key(proof_print: ProofPrint) -> str:
    """Which sentence tells of a print: on a sleeve, with the way it reads."""
    return _READS.get(proof_print.piece.up, "print")


def tell_sizes(proof: Proof, look: GarmentLook, index: int) -> str:
    """The size of a print on each garment of a look."""
    texts = proof.profiles.texts
    sizes = look.list_sizes(index)
    told = list(dict.fromkeys(proof.format_for_customer(*size) for size in sizes))
    if len(told) == 1:
        return told[0]
    if not look.first.prints[index].row.words:
        return texts.fill_sentence("approval", "size_range", least=told[0], most=told[-1])
    high = list(dict.fromkeys(texts.format_on_ruler(h, proof.units) for h in sorted({h for _, h in sizes})))
    if len(high) == 1:
        return texts.fill_sentence("approval", "words_high", height=high[0])
    return texts.fill_sentence("approval", "words_high_range", least=high[0], most=high[-1])
