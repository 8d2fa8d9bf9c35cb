"""What a plan is asked: drawings, pictures, crops, garments. Each ask is a function by name, called in a thread.

All take the planner and a progress that ends the work once nobody wants it. They raise `Refusal`, `Trouble`, `OSError`.
"""

from __future__ import annotations

import threading
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

from impose.art.cache import PictureCache
from impose.art.prepare import PreparationOptions, PreparedPicture
from impose.errors import Trouble
from impose.file_types import MENDS, Asked
from impose.formats.prepare_many import make_own_recipe
from impose.orders.art_root import ArtError, ArtRoot
from impose.orders.batch import BatchRow
from impose.page import large_asks, make_asks, press_asks, price_asks, quote_asks, shop_documents
from impose.page.drawings import PictureNames, crop_png, draw_plan_sheet, draw_small_png
from impose.page.finding_values import FAINT, crop_box
from impose.page.garment_asks import list_garments
from impose.page.planner_process import LOOK_S, WAIT_S, BatchPlanner
from impose.page.refusal import UNSHOWN, Refusal
from impose.profiles.word_styles import DEFAULT_STYLE, parse_style
from impose.run.artwork import make_preparation_options
from impose.run.live_artwork import LiveArtwork
from impose.run.load_batch import load_profiles_in_force
from impose.run.progress import Progress
from impose.run.typeset_words import Typesetter
from impose.values import replace

PATIENCE_S = 0.3
"""So long after a picture is dropped it may be put on a garment."""
IDLE_S = 30.0

_names = PictureNames()
_cards: dict[tuple[str, int], bytes] = {}
_CARDS_MOST = 400


def show_sheet(planner: BatchPlanner, progress: Progress, plan: int, number: int) -> str:
    """A sheet of a plan as SVG."""
    kept = planner.plan_of(plan)
    return draw_plan_sheet(kept.plan, number, _names, kept.rows, planner.base)


def show_drawn(planner: BatchPlanner, progress: Progress, name: str, worn: bool) -> bytes:
    """A picture of a drawing as PNG."""
    known = _names.known.get(name)
    if known is None:
        raise Refusal(404, "gone", "This picture is not shown any more.")
    return draw_small_png(known, worn)


def show_artwork(planner: BatchPlanner, progress: Progress, sha: str, path: str, side: int) -> bytes:
    """A file of the batch's artwork as a small picture, as worn: from a plan, or prepared now."""
    if (sha, side) not in _cards:
        while len(_cards) >= _CARDS_MOST:
            _cards.pop(next(iter(_cards)))
        _cards[sha, side] = draw_small_png(_find_picture(planner, sha, Path(path)), True, side)
    return _cards[sha, side]


def _find_picture(planner: BatchPlanner, sha: str, path: Path) -> PreparedPicture:
    """A picture as it was prepared for the sheets; one that is on none is prepared beside them.

    What was just dropped is on its way there as a rule: it is waited for, and not prepared twice.
    """
    now = time.monotonic()
    patience = now + (0.0 if _OWN.started else PATIENCE_S)
    while time.monotonic() < now + WAIT_S:
        found = _find_prepared(planner, sha)
        if found is not None:
            return found
        live = planner.live
        coming = live is not None and live.busy and live.examined is None
        if not coming and time.monotonic() >= patience:
            break
        time.sleep(LOOK_S)
    return _prepare_file(planner, path)


def _find_prepared(planner: BatchPlanner, sha: str) -> PreparedPicture | None:
    examined = None if planner.live is None else planner.live.examined
    for picture in () if examined is None else examined.pictures.values():
        if picture.sha256 == sha:
            return picture
    for kept in list(planner.kept.values()):
        for sheet_layout in kept.plan.layout.sheets:
            for placed in sheet_layout.placed:
                if placed.transfer.piece.picture.sha256 == sha:
                    return placed.transfer.piece.picture
    return None


class _OwnArtwork:
    """A process for pictures that are on no sheet: started when one is asked for, ended when none is for a while."""

    def __init__(self) -> None:
        self.started = False
        self._lock = threading.Lock()
        self._artwork: LiveArtwork | None = None
        self._timer: threading.Timer | None = None

    def prepare_picture(
        self, path: Path, recipe: PreparationOptions, check: Callable[[], None]
    ) -> PreparedPicture | Trouble:
        """The picture, or why there is none."""
        with self._lock:
            if self._timer is not None:
                self._timer.cancel()
            if self._artwork is None:
                self._artwork = LiveArtwork(PictureCache())
            self.started = True
            outcome = self._artwork.prepare_pictures([(path, recipe)], check, lambda done, of: None)[path, recipe]
            self._artwork.forget_others([])
            self._timer = threading.Timer(IDLE_S, self._end_idle)
            self._timer.daemon = True
            self._timer.start()
            return outcome

    def _end_idle(self) -> None:
        with self._lock:
            artwork, self._artwork, self.started = self._artwork, None, False
        if artwork is not None:
            artwork.close()


_OWN = _OwnArtwork()


def _prepare_file(planner: BatchPlanner, path: Path, asked: Asked | None = None) -> PreparedPicture:
    """A picture prepared in a process of its own, beside the plan's. Raises `Refusal` where it cannot be shown."""
    profiles = load_profiles_in_force(planner.options)
    recipe: PreparationOptions = make_preparation_options(profiles.settings, None)
    own = Asked(path) if asked is None else asked._replace(path=path)
    recipe = make_own_recipe(recipe, own)
    until = time.monotonic() + WAIT_S

    def check() -> None:
        if time.monotonic() > until:
            raise Refusal(503, "busy", "The picture is not ready yet.", "Wait a moment.")

    outcome = _OWN.prepare_picture(path, recipe, check)
    if isinstance(outcome, Trouble):
        raise Refusal(404, UNSHOWN, "This file cannot be shown.", str(outcome.findings[0].remedy))
    return outcome


def prepare_row(planner: BatchPlanner, row: BatchRow, root: Path) -> PreparedPicture:
    """The picture of a row of a record: its artwork as it is now, or its words set. Raises `Refusal`.

    `root` is the artwork's folder as the record names it; only what lies in the batch folder is shown.
    """
    if row.words:
        profiles = load_profiles_in_force(planner.options)
        style = parse_style(row.font or DEFAULT_STYLE, profiles.lettering, None)
        setter = Typesetter(profiles, None)
        made = setter.set_row(replace(row, style=style))
        if made.path not in setter.drawings:
            raise Refusal(404, "no-picture", "These words cannot be shown.")
        return setter.drawings[made.path]
    folder = planner.setup.folder
    try:
        path = ArtRoot(folder).find_art(row.art)
    except ArtError as error:
        raise Refusal(404, "no-picture", "The picture is not there any more.", str(error.remedy)) from None
    return _prepare_file(planner, path, row.asked)


def show_crop(planner: BatchPlanner, progress: Progress, plan: int, finding: str, mend: str = "") -> bytes:
    """What a finding is of, at print size: as it is, or as it would be once it is mended."""
    kept = planner.plan_of(plan)
    entry = kept.writer.findings.found.get(finding)
    placed = None if entry is None else kept.writer.findings.first_print(entry)
    box = None if entry is None or placed is None else crop_box(entry, placed)
    if placed is None or box is None:
        raise Refusal(404, "no-picture", "There is no picture of this.")
    piece, strong = placed.transfer.piece, entry is not None and entry.kind in FAINT
    if not mend:
        return crop_png(piece.picture, box, strong)
    if mend not in MENDS:
        raise Refusal(404, "no-picture", "There is no picture of this.")
    asked = piece.row.asked
    mended = _prepare_file(planner, piece.row.path, asked._replace(mend=asked.mend | {mend}))
    # The ink bounds may have changed: the same place of the canvas is shown, blank where no ink is left.
    left, top = piece.picture.ink[0] - mended.ink[0], piece.picture.ink[1] - mended.ink[1]
    return crop_png(mended, (box[0] + left, box[1] + top, box[2] + left, box[3] + top), strong)


def show_garments(planner: BatchPlanner, progress: Progress, start: int, count: int, row: str = "") -> dict[str, Any]:
    """The garments of the newest plan, drawn with their prints; with `row` those that carry a print of it."""
    return list_garments(planner, planner.find_newest(), _names, start, count, row)


def stop_search(planner: BatchPlanner, progress: Progress) -> None:
    """End the search."""
    planner.stop()


ASKS: dict[str, Callable[..., Any]] = {
    "sheet": show_sheet,
    "picture": show_drawn,
    "art": show_artwork,
    "crop": show_crop,
    "garments": show_garments,
    "stop": stop_search,
    "make": make_asks.make_shown,
    "made": make_asks.list_made,
    "check": quote_asks.check_batch,
    "quote": quote_asks.quote_batch,
    "tips": quote_asks.find_tips,
    "large": large_asks.list_large,
    "press": press_asks.show_press,
    "press_picture": press_asks.show_picture,
    "again": press_asks.show_again,
    "reprint": press_asks.make_again,
    "colours": shop_documents.make_colours,
    "guide": shop_documents.make_guide,
    "price": price_asks.price_made_batch,
}
