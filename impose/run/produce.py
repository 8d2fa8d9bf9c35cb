"""`produce`: write what was planned, read it back, and deliver the folder whole."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path

from impose import files
from impose.exchange import sums_of
from impose.pages.pdf import LIBRARY
from impose.pages.spreadsheet import LIST_NAME, reprint_list
from impose.run.beside import WORTH, begin, job_of, write
from impose.run.options import Progress, silent
from impose.run.plan import Plan
from impose.sheet.layout import Sheet
from impose.sheet.record import files_of, to_pieces

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

    output = None if plan.output is None else (plan.output.name, plan.output.output)
    with LIBRARY, files.new_folder(out, replace, deliver) as folder:
        pages = _Pages(plan, folder)
        with pages.tickets_beside(plan.workers):
            for name, thin in files_of(plan.layout):
                path, sheets = folder / name, plan.layout.drawn(thin)
                write_sheets(path, plan.layout, sheets, plan.printer, plan.lettering, page, output)
                check_sheets(path, sheets, plan.printer)
                if preview_ppi is not None:
                    write_previews(path, folder / "preview", preview_ppi)
                pages.part(name, sheets)
            pages.whole()
            (folder / LIST_NAME).write_bytes(reprint_list(plan.record))
        # Last, for it tells what else is there, and so what a later exchange may let go.
        record = {**plan.record, "files": sums_of(folder)}
        with (folder / files.RECORD_NAME).open("wb") as file:
            file.writelines(to_pieces(record))
    return out


class _Pages:
    """The proof, a page for each customer to agree to, and the press tickets: whole, or a part for each file."""

    def __init__(self, plan: Plan, folder: Path) -> None:
        from impose.pages.proof.proof import Proof, gallery_of

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

    @contextmanager
    def tickets_beside(self, workers: int) -> Iterator[None]:
        """Write the tickets: beside the block by a process of their own, or after it."""
        plan = self.plan
        job = job_of(self.folder, plan.layout, plan.batch.rows, plan.profiles, self.proof.gallery, self._ticket_files())
        aside = begin(job) if workers > 1 and plan.transfers >= WORTH else None
        try:
            yield
            if aside is None or not aside.done():
                write(job)
        finally:
            if aside is not None:
                aside.stop()

    def _ticket_files(self) -> list[tuple[str, range]]:
        """The files of tickets, each with the numbers of its sheets."""
        if not self.parted:
            return [(TICKETS_NAME, range(1, len(self.plan.layout.sheets) + 1))]
        stem, suffix = TICKETS_NAME.split(".")
        digits = max(3, len(str(self.files)))
        runs = [range(run[0].number, run[-1].number + 1) for _, run in files_of(self.plan.layout)]
        return [(f"{stem}-{number:0{digits}}.{suffix}", run) for number, run in enumerate(runs, 1)]

    def part(self, file: str, sheets: Sequence[Sheet]) -> None:
        """What goes with one file of sheets, where a batch is written in parts."""
        if not self.parted:
            return
        from impose.pages.proof.parts import part_name, proof_of_part
        from impose.pages.proof.proof import proof_page

        self.done += 1
        page = proof_page(proof_of_part(self.proof, self.done, file, sheets))
        (self.folder / part_name(self.done, self.files)).write_bytes(page)

    def whole(self) -> None:
        """What is one for the whole batch."""
        from impose.pages.proof.approval import approval_attachments, approval_pages
        from impose.pages.proof.contents import orders_of
        from impose.pages.proof.parts import proof_index
        from impose.pages.proof.proof import proof_page

        orders = orders_of(self.plan.layout, self.plan.record)
        page = proof_index(self.proof, orders) if self.parted else proof_page(self.proof, orders)
        (self.folder / "proof.html").write_bytes(page)
        for name, content in approval_pages(self.proof, orders):
            path = self.folder / name
            path.parent.mkdir(exist_ok=True)
            path.write_bytes(content)
        approval_attachments(self.proof, orders, self.folder)
