"""The documents that a delivery holds: what their files are called, what they are for, and what writes them.

`produce` writes from this list, and whatever shows a delivery names its files by it. A new document is one entry here
and a module of `pages/` that draws it.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from impose.pages.csv_list import LIST_NAME, make_reprint_list
from impose.profiles.paper import make_title
from impose.values import FrozenStruct

if TYPE_CHECKING:
    from impose.pages.proof.order_lots import OrderLots
    from impose.pages.proof.proof_model import Proof
    from impose.profiles.profiles import Profiles
    from impose.run.plan import Plan
    from impose.sheet.blanks import BlankLine
    from impose.sheet.layout import BatchLayout
    from impose.sheet.press_steps import PressTicket

TICKETS_NAME, PROOF_NAME, SLIPS_NAME, BLANKS_NAME = "tickets.pdf", "proof.html", "slips.pdf", "blanks.csv"


class DeliveryContents(FrozenStruct):
    """What the documents of a whole batch are written from; `parted` says that its sheets are in several files."""

    plan: Plan
    folder: Path
    proof: Proof
    orders: Sequence[OrderLots]
    parted: bool


class PressContents(FrozenStruct):
    """What documents for the bench are written from: the garments with their prints, and the blanks for them."""

    folder: Path
    layout: BatchLayout
    profiles: Profiles
    tickets: Sequence[PressTicket]
    blanks: Sequence[BlankLine]


class DeliveryDocument(FrozenStruct):
    """A document: `kind` is its name, `files` the pattern of its files' names, `title` what it is called on a page.

    `write` puts it into the folder once for the whole batch, `write_pressed` does from the press tickets, which may be
    in another process; without either it is written along with the sheets.
    """

    kind: str
    files: str
    title: Callable[[str, Mapping[str, Any]], str]
    write: Callable[[DeliveryContents], None] | None = None
    write_pressed: Callable[[PressContents], None] | None = None


def _write_proof(contents: DeliveryContents) -> None:
    if contents.parted:
        from impose.pages.proof.part_pages import draw_proof_index as write_page
    else:
        from impose.pages.proof.proof_page import draw_proof_page as write_page

    (contents.folder / PROOF_NAME).write_bytes(write_page(contents.proof, contents.orders))


def _write_approval(contents: DeliveryContents) -> None:
    from impose.pages.proof.approval_page import write_approvals

    write_approvals(contents.proof, contents.orders, contents.folder)


def _write_reprint_list(contents: DeliveryContents) -> None:
    (contents.folder / LIST_NAME).write_bytes(make_reprint_list(contents.plan.record))


def _write_blanks(contents: PressContents) -> None:
    from impose.pages.blanks_list import make_blanks_list

    (contents.folder / BLANKS_NAME).write_bytes(make_blanks_list(contents.blanks))


def _write_slips(contents: PressContents) -> None:
    from impose.pages.slips import write_slips
    from impose.pages.tickets.ticket_file import PAPERS
    from impose.sheet.packing import list_packed_orders

    profiles, settings = contents.profiles, contents.profiles.settings
    path, size = contents.folder / SLIPS_NAME, PAPERS[settings.ticket_paper]
    orders = list_packed_orders(contents.tickets)
    write_slips(path, orders, profiles.texts, settings.care_notes, contents.layout.code, size)


def _say_title(title: str) -> Callable[[str, Mapping[str, Any]], str]:
    return lambda name, record: title


def _name_sheets(name: str, record: Mapping[str, Any]) -> str:
    again = next(
        (sheet["onto"] for sheet in record.get("sheets", []) if sheet.get("onto") and sheet["file"] == name), None
    )
    if again is not None:
        return f"Sheet {again['sheet']} of {again['code']}, fed once more"
    kind, _, paper = Path(name).stem.partition("-")
    return f"{'First ones off, on' if kind == 'first' else 'Sheets on'} {make_title(paper)}"


def _name_preview(name: str, record: Mapping[str, Any]) -> str:
    paper, _, number = Path(name).stem.removeprefix("sheets-").rpartition("-")
    return f"Picture of sheet {number} on {make_title(paper)}" if paper else f"Picture of {Path(name).stem}"


def _name_approval(name: str, record: Mapping[str, Any]) -> str:
    pages = record.get("approval")
    stem = Path(name).with_suffix("")
    told = [page for page in pages or () if isinstance(page, dict)]
    order = next((page.get("order") for page in told if Path(str(page.get("file"))).with_suffix("") == stem), "")
    return f"For {order or 'the customer'} to agree to{', to print' if name.endswith('.pdf') else ''}"


DOCUMENTS = (
    DeliveryDocument("sheets", r"(sheets|first)-.+\.pdf", _name_sheets),
    DeliveryDocument("tickets", r"tickets(-[0-9]+)?\.pdf", _say_title("Press tickets, on plain paper")),
    DeliveryDocument("blanks", r"blanks\.csv", _say_title("Garments to buy and count in"), write_pressed=_write_blanks),
    DeliveryDocument(
        "slips", r"slips\.pdf", _say_title("Packing slips and care notes, on plain paper"), write_pressed=_write_slips
    ),
    DeliveryDocument("preview", r"preview/.+", _name_preview),
    DeliveryDocument("proof", r"proof(-[0-9]+)?\.html", _say_title("Proof to look at"), _write_proof),
    DeliveryDocument("approval", r"approval/.+", _name_approval, _write_approval),
    DeliveryDocument("reprint", re.escape(LIST_NAME), _say_title("List for making again"), _write_reprint_list),
    DeliveryDocument("batch", r"batch\.json", _say_title("Record")),
)
"""All documents, in the order in which a page lists them; what is written once for a batch is written in this order."""


def describe_document(name: str, record: Mapping[str, Any]) -> tuple[str, str]:
    """The kind of a delivery's file and what it is called; "other" and its name for one that is none of ours."""
    found = next((document for document in DOCUMENTS if re.fullmatch(document.files, name)), None)
    return ("other", name) if found is None else (found.kind, found.title(name, record))


def write_documents(contents: DeliveryContents) -> None:
    """Write what is one for the whole batch."""
    for document in DOCUMENTS:
        if document.write is not None:
            document.write(contents)


def write_press_documents(contents: PressContents) -> None:
    """Write what is made from the press tickets of the whole batch, but for the tickets."""
    for document in DOCUMENTS:
        if document.write_pressed is not None:
            document.write_pressed(contents)
