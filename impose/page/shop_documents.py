"""Pages that a shop prints for itself, made on the page: patches of colours to choose from, placement guides."""

from __future__ import annotations

import asyncio
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from impose.page.batch_handlers import BATCH_PATH, BatchHandler, store_of
from impose.page.refusal import Refusal
from impose.run.progress import Progress

if TYPE_CHECKING:
    from impose.page.planner_process import BatchPlanner

MOST_NAMED = 20
KINDS = ("colours", "guide")


def make_colours(
    planner: BatchPlanner, progress: Progress, out: str, art: Sequence[str], named: Sequence[str]
) -> dict[str, Any]:
    """The page of patches around colours; what is on it."""
    from impose.run.colours import write_colours

    path = Path(out)
    path.unlink(missing_ok=True)
    made = write_colours([Path(name) for name in art], list(named), path, planner.options)
    return {
        "pages": made.pages,
        "colours": [
            {
                "colour": entry.colour,
                "file": Path(entry.file).name if entry.file else "",
                "share": None if entry.share is None else round(100 * entry.share),
                "patches": [{"number": number, "colour": colour} for number, colour in entry.patches.items()],
            }
            for entry in made.colours
        ],
    }


def make_guide(
    planner: BatchPlanner, progress: Progress, out: str, placement: str, garment: str, paper: str
) -> dict[str, Any]:
    """The page that a garment is laid against, true to size."""
    from impose.run.guide import write_guide

    path = Path(out)
    path.unlink(missing_ok=True)
    write_guide(placement, garment, paper or None, path, planner.options)
    return {"paper": paper}


class GuideHandler(BatchHandler):
    """A placement guide."""

    async def post(self, ident: str) -> None:
        """Make it, for a place on a garment."""
        said = self.json_body()
        self.find_batch(ident)
        words = {key: str(said.get(key) or "")[:200] for key in ("placement", "garment", "paper")}
        out = find_document_path(self.page.setup.state_folder, "guide", ident)
        out.parent.mkdir(parents=True, exist_ok=True)
        self.start_job(ident, "guide", None, out=str(out), **words)


class ColoursPageHandler(BatchHandler):
    """The page of colours."""

    async def post(self, ident: str) -> None:
        """Make it, of pictures of the batch or of colours that are named."""
        said = self.json_body()
        shas, named = _read_names(said, "art"), _read_names(said, "colours")
        store = store_of(self.find_batch(ident))
        art = [str(await asyncio.to_thread(store.find_file, sha)) for sha in shas]
        if not art and not named:
            raise Refusal(422, "nothing", "No colour is named.", "Choose a picture, or write a colour such as #C81E28.")
        out = find_document_path(self.page.setup.state_folder, "colours", ident)
        out.parent.mkdir(parents=True, exist_ok=True)
        self.start_job(ident, "colours", None, out=str(out), art=art, named=named)


class ShopDocumentHandler(BatchHandler):
    """A page that was made, to be printed."""

    needs_token = False

    async def get(self, ident: str, kind: str) -> None:
        """The PDF."""
        self.find_batch(ident)
        path = find_document_path(self.page.setup.state_folder, kind, ident)
        if not path.is_file():
            raise Refusal(404, "gone", "There is no page yet.", "Make it first.")
        self.clear_header("X-Frame-Options")
        self.send_bytes(await asyncio.to_thread(path.read_bytes), "application/pdf")


def find_document_path(folder: Path, kind: str, ident: str) -> Path:
    """Where a page lies until the next one; both names are of our making."""
    return folder / f"{kind}-{ident}.pdf"


def _read_names(said: dict[str, Any], key: str) -> list[str]:
    found = said.get(key, [])
    if not isinstance(found, list) or len(found) > MOST_NAMED or not all(isinstance(name, str) for name in found):
        raise Refusal(400, "malformed", f"The page sent something that cannot be read: {key}.", "Reload the page.")
    return [name.strip()[:200] for name in found if name.strip()]


ROUTES: list[tuple[str, Any]] = [
    (BATCH_PATH + r"/colours", ColoursPageHandler),
    (BATCH_PATH + r"/guide", GuideHandler),
    (BATCH_PATH + rf"/documents/({'|'.join(KINDS)})\.pdf", ShopDocumentHandler),
]
