"""`produce`: write what was planned, read it back, and deliver the folder whole."""

from __future__ import annotations

import io
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from impose import files
from impose.art.prepare import Picture
from impose.pages.pdf import LIBRARY
from impose.pages.spreadsheet import LIST_NAME, reprint_list
from impose.run.options import Progress, silent
from impose.run.plan import Plan
from impose.sheet.layout import Sheet
from impose.sheet.record import files_of, to_bytes

if TYPE_CHECKING:
    from impose.pages.tickets.write import Part

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

    with LIBRARY, files.new_folder(out, replace, deliver) as folder:
        pages = _Pages(plan, folder)
        for name, thin in files_of(plan.layout):
            path, sheets = folder / name, plan.layout.drawn(thin)
            write_sheets(path, plan.layout, sheets, plan.printer, plan.lettering, page)
            check_sheets(path, sheets, plan.printer)
            if preview_ppi is not None:
                write_previews(path, folder / "preview", preview_ppi)
            pages.part(name, sheets)
        pages.whole()
        (folder / LIST_NAME).write_bytes(reprint_list(plan.record))
        (folder / files.RECORD_NAME).write_bytes(to_bytes(plan.record))
    return out


class _Pages:
    """The proof, a page for each customer to agree to, and the press tickets: whole, or a part for each file."""

    def __init__(self, plan: Plan, folder: Path) -> None:
        from impose.pages.proof.proof import Proof, gallery_of
        from impose.sheet.pressing import tickets

        self.plan, self.folder = plan, folder
        self.files = len(files_of(plan.layout))
        self.parted = plan.layout.part_sheets is not None
        self.done = 0
        self.proof = Proof(
            plan.layout,
            plan.record,
            plan.batch,
            plan.profiles,
            plan.printer,
            plan.findings,
            plan.lettering,
            gallery_of(plan.layout),
        )
        # A reprint makes some prints of some garments: what has none of them needs no ticket.
        self.tickets = [one for one in tickets(plan.batch.rows, plan.layout, plan.profiles) if one.steps]

    def part(self, file: str, sheets: Sequence[Sheet]) -> None:
        """What goes with one file of sheets, where a batch is written in parts."""
        if not self.parted:
            return
        from impose.pages.proof.parts import part_name, proof_of_part
        from impose.pages.proof.proof import proof_page
        from impose.pages.tickets.write import Part

        self.done += 1
        start, stop = (len(self.tickets) * n // self.files for n in (self.done - 1, self.done))
        page = proof_page(proof_of_part(self.proof, self.done, file, sheets))
        (self.folder / part_name(self.done, self.files)).write_bytes(page)
        stem, suffix = TICKETS_NAME.split(".")
        digits = max(3, len(str(self.files)))
        self._tickets(f"{stem}-{self.done:0{digits}}.{suffix}", Part(sheets, start, stop))

    def whole(self) -> None:
        """What is one for the whole batch."""
        from impose.pages.proof.approval import approval_pages
        from impose.pages.proof.parts import proof_index
        from impose.pages.proof.proof import proof_page

        page = proof_index(self.proof) if self.parted else proof_page(self.proof)
        (self.folder / "proof.html").write_bytes(page)
        for name, content in approval_pages(self.proof):
            path = self.folder / name
            path.parent.mkdir(exist_ok=True)
            path.write_bytes(content)
        if not self.parted:
            self._tickets(TICKETS_NAME, None)

    def _tickets(self, name: str, part: Part | None) -> None:
        from PIL import Image

        from impose.pages.tickets.write import write_tickets

        def small(picture: Picture) -> Image.Image:
            return Image.open(io.BytesIO(self.proof.gallery.as_worn(picture).content))

        plan = self.plan
        write_tickets(self.folder / name, plan.layout, self.tickets, plan.profiles, plan.lettering, small, part)
