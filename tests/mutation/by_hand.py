"""Faults that a customer would pay for, made one by one, and the tests that have to notice each.

    python tests/mutation/by_hand.py [WORD ...]

Each is a line of the program as it stands, the line as it would be wrong, and the test that holds the promise. Not run
by the suite; a line that is no longer there is told, so that the list is kept. With words, only faults that hold them.
"""

from __future__ import annotations

import sys
import tempfile
from pathlib import Path
from typing import NamedTuple

from copies import HOUSE, HouseCopy


class HandMade(NamedTuple):
    """What goes wrong, where, from which text to which, and who notices."""

    what: str
    module: str
    right: str
    wrong: str
    test: str


_FOLDS = "tests/pages/test_folds_and_sides.py"
_PROOF = "tests/nest/test_proof_sees.py"
_KEPT = "tests/desk/test_kept_while_needed.py"
_LISTS = "tests/pages/test_for_spreadsheets.py"
_SWATCHES = "tests/run/test_swatches.py"
_SYNCED = "tests/test_synced.py"

_PADS, _GUIDE, _TIMES = "tests/sheet/test_pads.py", "tests/pages/test_guide.py", "tests/sheet/test_press_times.py"
_BLANKS = "tests/pages/test_blanks_and_slips.py"

FAULTS = (
    HandMade("a pad no larger than the ink", "impose/sheet/pad_choice.py",
             "LEAST_MARGIN_MM = 6.35", "LEAST_MARGIN_MM = 0.0", _PADS),
    HandMade("what lies beneath drawn on the wrong side", "impose/sheet/heat_shields.py",
             "seen = Box(-box.right, box.y, box.w, box.h)", "seen = Box(box.x, box.y, box.w, box.h)", _PADS),
    HandMade("a guide's pages that do not overlap", "impose/sheet/placement_guide.py",
             "Box(x0 + column * step_x, y0", "Box(x0 + column * room_w, y0", _GUIDE),
    HandMade("a guide that is mirrored", "impose/sheet/garment_faces.py",
             "return away if rightwards else -away", "return -away if rightwards else away", _GUIDE),
    HandMade("a rest for each heat of a print", "impose/sheet/press_times.py",
             "rest = own.rest_seconds * (1 if", "rest = own.rest_seconds * closings * (1 if", _TIMES),
    HandMade("spares that are not bought", "impose/sheet/blanks.py",
             "return self.needed + self.spares", "return self.needed", _BLANKS),
    HandMade("blanks of a reprint for prints that were lost", "impose/run/produce.py",
             'if transfer["reprint_of"]["because"] == "spoiled"', "if True", _BLANKS),
    HandMade("cuts that may run through marks", "impose/sheet/cutting_plan.py",
             "placed.marks_area) for placed", "placed.ink) for placed", "tests/pages/test_cutting.py"),
    HandMade("a contrast sleeve taken for white", "impose/profiles/cloth.py",
             "            elif words[0] in _DYED:", "            elif not words[0]:", "tests/shop/test_cloth.py"),
    HandMade("a hood printed on what has none", "impose/sheet/missing_places.py",
             'return "hoodie" in lineage', "return True", "tests/sheet/test_laid.py"),
    HandMade("other lettering after the customer agreed", "impose/sheet/agreement.py",
             "if name in _LATER and name not in entry:", "if name in _LATER:", "tests/run/test_agreed.py"),
    HandMade("a ticket's fold not mirrored", "impose/sheet/press_steps.py",
             "(piece.ink_w_mm - piece.crease_x_mm) / piece.cloth_x", "piece.crease_x_mm / piece.cloth_x", _FOLDS),
    HandMade("a sleeve's fold turned the wrong way", "impose/sheet/press_steps.py",
             "return spot.box.right - y, spot.box.y + x", "return spot.box.x + y, spot.box.y + x", _FOLDS),
    HandMade("left and right sleeve swapped in ticket text", "impose/pages/tickets/sentences.py",
             '"left sleeve": "WEARER\'S LEFT SLEEVE"', '"left sleeve": "WEARER\'S RIGHT SLEEVE"', _FOLDS),
    HandMade("front and back of a sleeve swapped", "impose/pages/tickets/ticket.py",
             '"left sleeve": ("front", "back")', '"left sleeve": ("back", "front")', _FOLDS),
    HandMade("the wearer's sides swapped on the back", "impose/pages/tickets/ticket.py",
             '"back": ("wearer\'s left", "wearer\'s right")', '"back": ("wearer\'s right", "wearer\'s left")', _FOLDS),
    HandMade("join ticks not mirrored", "impose/sheet/marks.py",
             "piece.sides.left.total_mm + piece.ink_w_mm - where", "piece.sides.left.total_mm + where",
             "tests/sheet/test_join_ticks.py"),
    HandMade("join ticks of panels above each other mirrored", "impose/sheet/marks.py",
             "return [piece.sides.top.total_mm + where", "return [piece.sides.top.total_mm + piece.ink_h_mm - where",
             "tests/sheet/test_join_ticks.py"),
    HandMade("--drop-specks ignored", "impose/run/artwork.py",
             "drop_specks=settings.drop_specks", "drop_specks=False", "tests/test_options_heard.py"),
    HandMade("--tear ignored", "impose/run/nest_batch.py",
             "SizingRules(profiles, areas, options.tear,", "SizingRules(profiles, areas, None,",
             "tests/test_options_heard.py"),
    HandMade("cost shared by the area of the ink", "impose/sheet/costs.py",
             "transfer.piece.cell_w_mm * transfer.piece.cell_h_mm", "transfer.piece.ink_w_mm * transfer.piece.ink_h_mm",
             "tests/sheet/test_cost_shares.py"),
    HandMade("cost shared by width", "impose/sheet/costs.py",
             "transfer.piece.cell_w_mm * transfer.piece.cell_h_mm", "transfer.piece.cell_w_mm",
             "tests/sheet/test_cost_shares.py"),
    HandMade("the best of a quote not the cheapest", "impose/run/quote.py",
             "return min(made, key=lambda offer: offer.worked_cost, default=None)",
             "return max(made, key=lambda offer: offer.worked_cost, default=None)", "tests/run/test_best_offer.py"),
    HandMade("the best of a quote the first", "impose/run/quote.py",
             "return min(made, key=lambda offer: offer.worked_cost, default=None)", "return made[0] if made else None",
             "tests/run/test_best_offer.py"),
    HandMade("a turning that the row forbids accepted by the proof", "impose/nest/prove.py",
             "if placed.turned and not piece.may_turn:", "if False:", _PROOF),
    HandMade("a full sheet of equal prints passed over, and one more proven", "impose/nest/exact_sets.py",
             "for i in sorted(first.values()))", "for i in list_bits(others))", "tests/nest/test_parting.py"),
    HandMade("prints of one wearer in several orders", "impose/orders/batch.py",
             '("", self.wearer or self.row)', '("", self.row)', "tests/pages/proof/test_approval.py"),
    HandMade("a roll's cut loss not paid", "impose/nest/model.py",
             "return height + max(self.cut_margin, self.cut_base - (-height * self.cut_per_metre // UM_PER_METRE))",
             "return height", _PROOF),
    HandMade("a roll's cut loss not counted by the proof", "impose/nest/prove.py",
             "return height + max(stock.cut_margin, -(-grown // 1_000_000))", "return height", _PROOF),
    HandMade("returned paper not usable", "impose/ledger/stock.py",
             "_refuse_short(left, drawn, back)", "_refuse_short(left, drawn, [])", "tests/ledger/test_returned.py"),
    HandMade("returned paper returned again", "impose/ledger/stock.py",
             "WHERE delivery = ? AND sheet = ? AND returned_by IS NULL\",", "WHERE delivery = ? AND sheet = ?\",",
             "tests/ledger/test_returned.py"),
    HandMade("done/ pruned while needed", "impose/desk/recover.py",
             "if not (old or over) or busy(name):", "if not (old or over):", _KEPT),
    HandMade("an unfinished delivery's originals not needed", "impose/ledger/drops.py",
             "state IN ('making', 'made', 'asking', 'delivered')", "state IN ('making', 'made')", _KEPT),
    HandMade("a lock held on a replaced file", "impose/desk/lock.py",
             "return (here.st_dev, here.st_ino) == (there.st_dev, there.st_ino)", "return True", _KEPT),
    HandMade("no sync at all", "impose/files.py", "        os.fsync(handle)\n", "        pass\n", _SYNCED),
    HandMade("what is in a folder not synced", "impose/files.py",
             "            sync_path(name)\n", "            pass\n", _SYNCED),
    HandMade("a folder not synced", "impose/files.py",
             "        sync_path(part)\n        deliver(", "        deliver(", _SYNCED),
    HandMade("a new name not synced", "impose/files.py",
             "        part.rename(path)\n        sync_path(path.parent)\n", "        part.rename(path)\n", _SYNCED),
    HandMade("an exchanged name not synced", "impose/files.py",
             "    sync_path(path.parent)\n    try:\n", "    try:\n", _SYNCED),
    HandMade("a file not synced", "impose/files.py",
             "        sync_path(part)\n        part.replace(path)", "        part.replace(path)", _SYNCED),
    HandMade("folder names in the approval page", "impose/pages/proof/proof_model.py",
             "return row.art_name", "return row.art", _LISTS),
    HandMade("@ let through in the list for spreadsheets", "impose/pages/csv_list.py",
             'tuple("=+-@', 'tuple("=+-', _LISTS),
    HandMade("full-width @ let through", "impose/pages/csv_list.py", "－＠", "－", _LISTS),
    HandMade("a swatch laid over a cell", "impose/sheet/swatches.py",
             "placed in sheet.placed:\n        cell, ink", "placed in ():\n        cell, ink", _SWATCHES),
    HandMade("a swatch cut through", "impose/sheet/swatches.py",
             "    for cut in (*sheet.cuts, *(cut.stroke for cut in plan_cutting(sheet, units).cuts)):",
             "    for cut in ():", _SWATCHES),
    HandMade("two colours of an artwork taken for one picture on sheets", "impose/pages/pdf/picture_objects.py",
             "*picture.look, ", "picture.sha256, picture.ink, ", "tests/run/test_recolour_rows.py"),
    HandMade("two colours of an artwork taken for one picture on tickets", "impose/pages/tickets/ticket_file.py",
             "key = picture.look", "key = picture.sha256, picture.ink", "tests/run/test_recolour_rows.py"),
    HandMade("a rim of the old colour along edges", "impose/art/blended_edges.py",
             "share[mixed, None] * step", "0 * share[mixed, None] * step", "tests/art/test_recolour.py"),
    HandMade("another program's database changed before it is refused", "impose/ledger/store.py",
             "        _refuse_foreign(ledger.path, db)\n    for setting", "        pass\n    for setting",
             "tests/ledger/test_store.py"),
    HandMade("what was closed at the very time forgotten", "impose/ledger/drops.py",
             'or before) < before]', 'or before) <= before]', "tests/ledger/test_drops_and_jobs.py"),
    HandMade("a printer's facts kept as they were first", "impose/ledger/print_jobs.py",
             "INSERT OR REPLACE INTO print_printer", "INSERT OR IGNORE INTO print_printer",
             "tests/ledger/test_drops_and_jobs.py"),
    HandMade("a seam the long way", "impose/sheet/panels.py",
             "(way[0] - 1) * wanted.ink_h_mm + (way[1] - 1) * wanted.ink_w_mm", "way[0]", "tests/sheet/test_panels.py"),
    HandMade("a flat card before a folded one", "impose/sheet/pad_choice.py",
             "card and not choice.folded,", "False,", _PADS),
    HandMade("a garment whose halves differ", "impose/pages/tickets/garment_outlines.py",
             "neck * 0.8, inner * 0.75, neck - rib * 0.6", "neck * 0.8, inner * 0.75, neck + rib * 0.6",
             "tests/pages/test_garment_drawings.py"),
    HandMade("a placement's folder taken away with its last file", "impose/desk/claim.py",
             'drop.path.rpartition("/")[0]', 'drop.path.rpartition("/")[1]', "tests/desk/test_taken.py"),
    HandMade("a desk on two disks", "impose/desk/folders.py",
             "if len(devices) > 1:", "if len(devices) > 2:", "tests/desk/test_troubles.py"),
    HandMade("an edited table whose last line swallows the next", "impose/orders/editable_table.py",
             "or not raw else raw + self.style.line_end", "or raw else raw + self.style.line_end",
             "tests/shop/test_editable_table.py"),
    HandMade("a card cut to nothing under a print across a zip", "impose/sheet/pad_choice.py",
             "pad.owned and min(room.w, room.h) > 0", "pad.owned", "tests/sheet/test_on_the_garment.py"),
    HandMade("a part's page without what its rows share with others", "impose/pages/proof/part_pages.py",
             "if not rows.isdisjoint(finding.rows)", "if finding.row in rows", "tests/pages/proof/test_told.py"),
    HandMade("a stranger's file that keeps a delivery open", "impose/desk/deliver.py",
             "        self._clear_way(target)\n", "", "tests/desk/test_delivered.py"),
    HandMade("letters lost where a style's name says letters", "impose/profiles/word_styles.py",
             'return any(len(word) == 2 and word[0].casefold() == "letters" for word in words)',
             'return "letters" in text', "tests/run/test_again_parts.py"),
    HandMade("a pad too high told as one too wide", "impose/profiles/pads.py",
             "table.note_fault(key,", 'table.note_fault("width",', "tests/shop/test_profile_edges.py"),
)  # fmt: skip


def main() -> None:
    """Make each fault and tell who noticed."""
    wanted = [fault for fault in FAULTS if all(word in fault.what for word in sys.argv[1:])]
    missed = 0
    with tempfile.TemporaryDirectory(prefix="by-hand-") as folder:
        copy = HouseCopy(Path(folder) / "copy")
        for fault in wanted:
            text = (HOUSE / fault.module).read_text("utf-8")
            if fault.right not in text:
                state, by = "gone", "the line is not there any more"
            else:
                answer = copy.try_fault(fault.module, text.replace(fault.right, fault.wrong, 1), [fault.test], 180.0)
                state, by = answer.state, answer.by
            missed += state != "killed"
            print(f"{state:9} {fault.what}: {by}", flush=True)
    print(f"{len(wanted) - missed} of {len(wanted)} noticed")
    sys.exit(missed > 0)


if __name__ == "__main__":
    main()
