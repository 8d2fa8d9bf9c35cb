"""`produce`: write what was planned, read it back, and deliver the folder whole."""

from __future__ import annotations

from pathlib import Path

from impose import files
from impose.run.options import Progress, silent
from impose.run.plan import Plan
from impose.sheet.record import file_name, to_bytes


def produce(plan: Plan, out: Path, replace: bool = False, progress: Progress = silent) -> Path:
    """Write a plan's output folder, check what was written, and put it in place whole. Returns `out`."""
    from impose.pages.pdf.readback import check_sheets
    from impose.pages.pdf.sheets import write_sheets

    done, total = 0, len(plan.layout.sheets)

    def page(_: object) -> None:
        nonlocal done
        done += 1
        progress("writing", done, total)

    with files.new_folder(out, replace) as folder:
        for paper, sheets in plan.layout.by_paper():
            path = folder / file_name(paper)
            write_sheets(path, plan.layout, sheets, plan.printer, plan.lettering, page)
            check_sheets(path, sheets, plan.printer)
        (folder / files.RECORD_NAME).write_bytes(to_bytes(plan.record))
    return out
