"""`produce`: write what was planned, read it back, and deliver the folder whole."""

from __future__ import annotations

import io
from pathlib import Path
from typing import TYPE_CHECKING

from impose import files
from impose.art.prepare import Picture
from impose.pages.spreadsheet import LIST_NAME, reprint_list
from impose.run.options import Progress, silent
from impose.run.plan import Plan
from impose.sheet.record import file_name, to_bytes

if TYPE_CHECKING:
    from impose.pages.proof.small import Gallery

TICKETS_NAME = "tickets.pdf"
PREVIEW_PPI = 100
"""Pixels an inch of previews: an A4 sheet is 827 x 1169 pixels, which fits a screen and still shows its labels."""


def produce(
    plan: Plan,
    out: Path,
    replace: bool = False,
    progress: Progress = silent,
    deliver: files.Deliver = files.just_deliver,
    preview_ppi: int | None = None,
) -> Path:
    """Write a plan's output folder, check what was written, and put it in place whole. Returns `out`.

    `deliver` takes the last step, the renaming, and may keep books of it. With `preview_ppi` every page is rendered
    to a PNG as well, from the very file that was written.
    """
    from impose.pages.pdf.preview import write_previews
    from impose.pages.pdf.readback import check_sheets
    from impose.pages.pdf.sheets import write_sheets

    done, total = 0, len(plan.layout.sheets)

    def page(_: object) -> None:
        nonlocal done
        done += 1
        progress("writing", done, total)

    with files.new_folder(out, replace, deliver) as folder:
        for paper, sheets in plan.layout.by_paper():
            path = folder / file_name(paper)
            write_sheets(path, plan.layout, sheets, plan.printer, plan.lettering, page)
            check_sheets(path, sheets, plan.printer)
            if preview_ppi is not None:
                write_previews(path, folder / "preview", preview_ppi)
        _pages(plan, folder)
        (folder / LIST_NAME).write_bytes(reprint_list(plan.record))
        (folder / files.RECORD_NAME).write_bytes(to_bytes(plan.record))
    return out


def _pages(plan: Plan, folder: Path) -> None:
    """The proof, a page for each customer to agree to, and the press tickets."""
    from impose.pages.proof.approval import approval_pages
    from impose.pages.proof.proof import Proof, gallery_of, proof_page

    proof = Proof(
        plan.layout,
        plan.record,
        plan.batch,
        plan.profiles,
        plan.printer,
        plan.findings,
        plan.lettering,
        gallery_of(plan.layout),
    )
    (folder / "proof.html").write_bytes(proof_page(proof))
    for name, content in approval_pages(proof):
        path = folder / name
        path.parent.mkdir(exist_ok=True)
        path.write_bytes(content)
    _tickets(plan, proof.gallery, folder)


def _tickets(plan: Plan, gallery: Gallery, folder: Path) -> None:
    from PIL import Image

    from impose.pages.tickets.write import write_tickets
    from impose.sheet.pressing import tickets

    # A reprint makes some prints of some garments: what has none of them needs no ticket.
    made = [one for one in tickets(plan.batch.rows, plan.layout, plan.profiles) if one.steps]

    def small(picture: Picture) -> Image.Image:
        return Image.open(io.BytesIO(gallery.as_worn(picture).content))

    write_tickets(folder / TICKETS_NAME, plan.layout, made, plan.profiles, plan.lettering, small)
