"""`produce`: write what was planned, read it back, and deliver the folder whole."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from impose import files
from impose.folder_exchange import hash_files_below
from impose.pages.pdf import LIBRARY
from impose.run.delivery_documents import TICKETS_NAME, DeliveryContents, write_documents
from impose.run.free_memory import give_back_memory
from impose.run.plan import Plan
from impose.run.progress import Progress, Stage, report_nothing, report_stage
from impose.run.ticket_process import WORTH, make_ticket_job, start_tickets, take_noted, write_tickets
from impose.sheet.layout import SheetLayout
from impose.sheet.record import encode_in_pieces, list_files

PREVIEW_PPI = 100
"""Pixels an inch of previews: an A4 sheet is 827 x 1169 pixels, which fits a screen and still shows its labels."""


def produce(
    plan: Plan,
    out: Path,
    replace: bool = False,
    progress: Progress = report_nothing,
    deliver: files.Deliver = files.deliver_only,
    preview_ppi: int | None = None,
) -> Path:
    """Write a plan's output folder, check what was written, and put it in place whole. Returns `out`.

    `deliver` takes the last step, the renaming, and may keep books of it. With `preview_ppi` every page is rendered
    to a PNG as well, from the very file that was written.
    """
    with LIBRARY, files.write_new_folder(out, replace, deliver) as folder:
        pages = _DocumentWriter(plan, folder)
        with pages.write_tickets_aside(plan.workers):
            for name, sheets in list_files(plan.layout):
                pages.write_sheet_file(name, sheets, progress, preview_ppi)
                if pages.parted:
                    give_back_memory()
            pages.write_whole()
            if pages.parted:
                give_back_memory()
        # Last, for it tells what else is there, and so what a later exchange may let go.
        record = {**plan.record, "pressing": pages.pressing, "files": hash_files_below(folder)}
        with (folder / files.RECORD_NAME).open("wb") as file:
            file.writelines(encode_in_pieces(record))
    return out


class _DocumentWriter:
    """The proof, a page for each customer to agree to, and the press tickets: whole, or a part for each file."""

    def __init__(self, plan: Plan, folder: Path) -> None:
        from impose.pages.proof.proof_page import Proof, make_gallery

        self.plan, self.folder = plan, folder
        self.files = len(list_files(plan.layout))
        self.parted = plan.layout.part_sheets is not None
        self.done = self.sheets_done = 0
        self.pressing: dict[str, Any] = {}
        self.proof = Proof(
            plan.layout,
            plan.record,
            plan.batch,
            plan.profiles,
            plan.printer,
            plan.findings,
            plan.lettering,
            make_gallery(plan.layout),
        )

    @contextmanager
    def write_tickets_aside(self, workers: int) -> Iterator[None]:
        """Write the tickets: beside the block by a process of their own, or after it."""
        plan = self.plan
        job = make_ticket_job(
            self.folder,
            plan.layout,
            plan.batch.rows,
            plan.profiles,
            self.proof.gallery,
            self._ticket_files(),
            _list_spoiled(plan.record),
        )
        aside = start_tickets(job) if workers > 1 and plan.transfer_count >= WORTH else None
        try:
            yield
            done = aside is not None and aside.wait_until_done()
            noted = take_noted(self.folder)
            self.pressing = noted if done and noted is not None else write_tickets(job)
        finally:
            if aside is not None:
                aside.end_process()

    def _ticket_files(self) -> list[tuple[str, range]]:
        """The files of tickets, each with the numbers of its sheets."""
        if not self.parted:
            return [(TICKETS_NAME, range(1, len(self.plan.layout.sheets) + 1))]
        stem, suffix = TICKETS_NAME.split(".")
        digits = max(3, len(str(self.files)))
        runs = [range(run[0].number, run[-1].number + 1) for _, run in list_files(self.plan.layout)]
        return [(f"{stem}-{number:0{digits}}.{suffix}", run) for number, run in enumerate(runs, 1)]

    def write_sheet_file(
        self, name: str, thin: Sequence[SheetLayout], progress: Progress, preview_ppi: int | None
    ) -> None:
        """Draw some sheets, write them as a PDF, check it, and write what goes with it; the drawings are let go."""
        from impose.pages.pdf.readback import check_sheets
        from impose.pages.pdf.sheet_pages import write_sheets

        plan, path = self.plan, self.folder / name
        output = None if plan.output is None else (plan.output.name, plan.output.output)
        sheets = plan.layout.draw_sheets(thin)
        for _ in write_sheets(path, plan.layout, sheets, plan.printer, plan.lettering, output):
            self.sheets_done += 1
            report_stage(progress, Stage.WRITING, self.sheets_done, len(plan.layout.sheets))
        check_sheets(path, sheets, plan.printer)
        if preview_ppi is not None:
            from impose.pages.pdf.page_previews import write_previews

            write_previews(path, self.folder / "preview", preview_ppi)
        self.write_part(name, sheets)

    def write_part(self, file: str, sheets: Sequence[SheetLayout]) -> None:
        """What goes with one file of sheets, where a batch is written in parts."""
        if not self.parted:
            return
        from impose.pages.proof.part_pages import part_file_name, select_proof_part
        from impose.pages.proof.proof_page import draw_proof_page

        self.done += 1
        page = draw_proof_page(select_proof_part(self.proof, self.done, file, sheets))
        (self.folder / part_file_name(self.done, self.files)).write_bytes(page)

    def write_whole(self) -> None:
        """What is one for the whole batch."""
        from impose.pages.proof.order_lots import list_orders

        orders = list_orders(self.plan.layout, self.plan.record)
        write_documents(DeliveryContents(self.plan, self.folder, self.proof, orders, self.parted))


def _list_spoiled(record: Mapping[str, Any]) -> frozenset[str] | None:
    """Of a reprint the transfers whose garments are to be bought; None where every garment is.

    Where whole garments are named it is these; else those of prints that were spoiled, for nobody has said which went.
    """
    anew = (record.get("reprint_of") or {}).get("garments")
    if anew:
        return frozenset(name for garment in anew for name in garment["transfers"])
    if "reprint_of" not in record:
        return None
    said = (transfer for sheet in record["sheets"] for transfer in sheet["transfers"])
    return frozenset(transfer["id"] for transfer in said if transfer["reprint_of"]["because"] == "spoiled")
