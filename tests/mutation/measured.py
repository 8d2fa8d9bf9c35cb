"""Which tests touch a line, and what each costs: every file of tests runs once, with coverage, a few in a process.

A few, since what is kept in a process (profiles that were read, tables that were built) is made by the first test that
asks for it, and is told of no other. What came of them is kept at once, under a name with their contents.
"""

from __future__ import annotations

import hashlib
import json
import re
import sqlite3
from collections.abc import Collection, Iterable, Mapping, Sequence
from fnmatch import fnmatch
from pathlib import Path
from typing import Any

from copies import HOUSE, HouseCopy

_APPROVED = "tests/test_approved.py"
_WHOLE = "tests/test_run.py tests/test_truth_on_paper.py tests/test_options_heard.py"
_PAPER = " ".join(
    f"tests/pages/test_{name}.py"
    for name in ("tickets", "cutting", "garment_drawings", "folds_and_sides", "blanks_and_slips", "evening_pages",
                 "guide", "sheets", "paper_geometry", "ticket_sentences",
                 "drawn_faces", "cutting_maps", "ticket_layout")
)  # fmt: skip
_ORDERED = " ".join(
    f"tests/run/test_{name}.py"
    for name in ("again", "words", "recolour_rows", "garment_places", "check", "agreed", "skip_bad")
)
_SAID = " ".join(
    f"tests/run/test_{name}.py"
    for name in ("price", "straight_price", "no_cost", "shop_changes", "profile_keys", "profile_listing", "size_advice",
                 "shop_pack", "garment_places")
) + " tests/sheet/test_money_shown.py tests/sheet/test_pads.py tests/sheet/test_press_times.py"  # fmt: skip
ROOM_TESTS = {
    "sheet": f"{_APPROVED} tests/sheet {_PAPER} tests/pages/test_calibration.py tests/shop/test_figures.py "
    "tests/run/test_agreed.py tests/run/test_first_off.py tests/run/test_swatches.py tests/test_truth_on_paper.py "
    "tests/pages/test_colours_page.py tests/run/test_recolour_rows.py tests/run/test_garment_places.py "
    "tests/run/test_reprint.py tests/run/test_read_again.py tests/shop",
    "tickets": f"{_APPROVED} {_PAPER} tests/sheet/test_alike.py tests/sheet/test_pressing.py",
    "proof": f"{_APPROVED} tests/pages/proof tests/pages/test_paper_geometry.py",
    "run": f"tests/run {_WHOLE} tests/test_cli.py tests/test_library.py tests/page tests/printing "
    "tests/pages/test_calibration.py tests/pages/proof/test_customer_paper.py tests/shop "
    "tests/pages/test_colours_page.py",
    "ledger": "tests/ledger tests/run/test_stock.py tests/run/test_shelf.py tests/run/test_shortage.py "
    "tests/run/test_made_work.py tests/printing/test_desk_prints.py tests/printing/test_print_door.py "
    "tests/desk/test_kept_while_needed.py tests/desk/test_again.py tests/desk/test_taken.py",
    "desk": "tests/desk tests/ledger tests/printing/test_desk_prints.py",
    "nest": "tests/nest tests/run",
    "orders": f"tests/shop tests/test_hostile.py tests/test_library.py {_ORDERED}",
    "printing": "tests/printing",
    "page": "tests/page",
    "profiles": f"tests/shop {_SAID}",
    "art": "tests/art",
    "formats": f"{_APPROVED} tests/formats",
    "native": "tests/nest/test_compiled.py tests/nest/test_compiled_mix.py tests/art/test_pixel_loops.py "
    "tests/nest/test_bounds.py tests/answers/test_arrangements.py tests/art/test_right.py "
    "tests/art/test_small_and_rasterised.py tests/art/test_ink.py tests/art/test_findings.py tests/nest/test_looks.py "
    "tests/nest/test_by_trying.py tests/nest/test_reference.py",
    "pages": f"{_APPROVED} {_PAPER} tests/pages/test_calibration.py tests/pages/test_colours_page.py "
    "tests/pages/test_for_spreadsheets.py tests/sheet/test_pressing.py",
    "pdf": f"{_APPROVED} {_PAPER} tests/pages/test_drawings.py tests/pages/test_fonts.py tests/pages/test_readback.py "
    "tests/pages/test_colour_pdf.py tests/pages/test_calibration.py "
    "tests/pages/test_canvas.py tests/formats/test_jpeg_on_the_page.py "
    "tests/formats/test_jpeg_under_a_clip.py tests/sheet/test_printed.py",
    "type": f"{_APPROVED} tests/sheet/test_lettering.py tests/sheet/test_words.py tests/pages/test_fonts.py "
    "tests/pages/test_drawings.py tests/pages/test_blanks_and_slips.py tests/run/test_words.py",
    "cli": "tests/test_cli.py tests/test_library.py tests/test_options_heard.py tests/test_remedies.py "
    "tests/test_documented_commands.py tests/test_hostile.py tests/run tests/shop tests/answers",
    "top": "tests/test_files.py tests/test_units.py tests/test_values.py tests/test_work.py tests/test_exchange.py "
    "tests/test_kinds.py tests/test_remedies.py tests/test_synced.py tests/test_cli.py tests/test_hostile.py "
    "tests/run tests/desk tests/page tests/formats tests/art tests/answers",
}
"""What the tests of a room are: those of its own folder, and those that look at what it makes."""

for _room in ("sheet", "run", "desk", "ledger", "nest", "orders", "profiles", "art", "formats", "page"):
    ROOM_TESTS[_room] += " tests/answers"

_SCENES = {
    "art": ("artwork", "orders"), "orders": ("orders", "edges"), "profiles": ("shop", "edges"), "desk": ("desk",),
    "ledger": ("edges", "desk"), "nest": ("arrangements", "evening"), "run": ("evening", "programs"),
    "sheet": ("evening", "orders"), "printing": ("makes", "printers"), "formats": ("formats",),
    "page": ("page_addresses", "planner_branches", "planner", "page_elsewhere", "page"),
}  # fmt: skip
"""What scenes of approved answers are asked first of a room's faults; each room is asked all of them."""
_DRAWN = ("impose/pages/", "impose/sheet/", "impose/type/")
"""What is drawn on paper is held by the approved drawings, which import nothing of it."""

_LEFT_OUT = ("tests/page/views/*", "tests/test_house.py", "tests/mutation/*")
"""They wait for a browser; or ask how the program is written, which is not what it does."""
_TOGETHER = 6
_LONGEST_S = 1500.0
_COSTLIEST_S = 30.0
"""Seconds of processor time: a test that takes longer is asked about no fault."""


class TestChoice:
    """The tests that touch a line, by the contexts of coverage files, and the seconds of processor time each takes."""

    __test__ = False

    def __init__(self) -> None:
        self.times: dict[str, float] = {}
        self._touched: dict[str, dict[int, set[str]]] = {}

    def add_files(self, measured: Mapping[str, Any], files: Collection[str]) -> None:
        """Take in what came of `files` of tests; a test that failed as the house stands is asked nothing."""
        mine = {test: time for test, time in measured["passed"].items() if test.partition("::")[0] in files}
        self.times |= {test: time for test, time in mine.items() if time <= _COSTLIEST_S}
        by_file: dict[str, set[str]] = {}
        for test in mine:
            by_file.setdefault(test.partition("::")[0], set()).add(test)
        for module, touched in measured["touched"].items():
            lines = self._touched.setdefault(module, {})
            for context, reached in touched.items():
                test, _, phase = context.rpartition("|")
                # What is set up for a module is told of its first test alone: whichever shares it may notice.
                tests = by_file.get(test.partition("::")[0], set()) if phase == "setup" else {test}
                for line in reached:
                    lines.setdefault(line, set()).update(tests)

    def list_tests(self, module: str, line: int, lines: tuple[int, int], most: int) -> list[str]:
        """The quickest tests that touch a line, `most` at the most; where none does, those of its statement.

        After them come the approved answers and drawings that touch it: they tell most, and are none of the quickest.
        """
        found = self._find_touching(module, [line]) or self._find_touching(module, range(lines[0], lines[1] + 1))
        tests = sorted(found, key=lambda test: (self.times[test], test))
        return tests[:most] + [test for test in tests[most:] if test.startswith((_APPROVED, "tests/answers/"))]

    def _find_touching(self, module: str, lines: Iterable[int]) -> set[str]:
        touched = self._touched.get(module, {})
        return {test for line in lines for test in touched.get(line, ()) if test in self.times}

    def add_up(self, tests: list[str]) -> float:
        """Seconds of processor time that these tests, or files of tests, take."""
        wanted = set(tests)
        return sum(time for test, time in self.times.items() if test in wanted or test.partition("::")[0] in wanted)


class MeasuredFiles:
    """What came of files of tests that were run with coverage, kept in a folder; what has changed is left out."""

    def __init__(self, folder: Path, choice: TestChoice) -> None:
        self._folder, self._choice = folder, choice
        self._known: set[str] = set()
        for times in sorted(folder.glob("*.json")):
            self._take_in(times)

    def measure_files(self, copy: HouseCopy, files: Sequence[str]) -> None:
        """Run those that are not known yet, a few at a time."""
        missing = [file for file in files if file not in self._known]
        for some in (missing[at : at + _TOGETHER] for at in range(0, len(missing), _TOGETHER)):
            name = f"{Path(some[0]).stem}-{hashlib.sha256(json.dumps(_hash_files(some)).encode()).hexdigest()[:8]}"
            data, times = self._folder / f"{name}.coverage", self._folder / f"{name}.json"
            hashes = _hash_files(some, copy.folder)
            told = copy.measure_tests(some, data, times, _LONGEST_S)
            print(f"measured  {' '.join(some)} {told}", flush=True)
            if times.exists():
                measured = json.loads(times.read_text("utf-8")) | {"files": hashes, "touched": _read_touched(data)}
                times.write_text(json.dumps(measured))
                self._take_in(times)

    def _take_in(self, times: Path) -> None:
        measured = json.loads(times.read_text("utf-8"))
        hashes = measured.get("files", {})
        same = {file for file, found in _hash_files(hashes).items() if found == hashes[file]}
        if same:
            self._choice.add_files(measured, same)
            self._known |= same


def _read_touched(data: Path) -> dict[str, dict[str, list[int]]]:
    """Module → test and its phase → the lines reached, of a coverage file, which is taken away: it is large."""
    touched: dict[str, dict[str, list[int]]] = {}
    if data.exists():
        db = sqlite3.connect(f"file:{data}?mode=ro", uri=True)
        # Arcs, since branches are measured: each ends in a line that was reached.
        for path, context, line in db.execute(
            "SELECT path, context, tono FROM (SELECT DISTINCT file_id, context_id, tono FROM arc WHERE tono > 0) "
            "JOIN context ON context.id = context_id JOIN file ON file.id = file_id WHERE context <> ''"
        ):
            module = "impose/" + Path(path).as_posix().rpartition("/impose/")[2]
            touched.setdefault(module, {}).setdefault(context, []).append(line)
        db.close()
        data.unlink()
    return touched


def _hash_files(files: Iterable[str], house: Path = HOUSE) -> dict[str, str]:
    return {
        file: hashlib.sha256((house / file).read_bytes()).hexdigest() if (house / file).exists() else ""
        for file in files
    }


def list_importing(module: str, most: int = 8) -> list[str]:
    """The files of tests that import a module, the smallest first; of what is drawn, the approved drawings as well.

    No test imports a compiled loop: all are asked that compare one with its twin.
    """
    if module.endswith(".c"):
        art = not Path(module).name.startswith("nest_")
        return sorted(list_files(ROOM_TESTS["native"].split()), key=lambda file: ("/art/" in file) != art)
    parent, _, name = module.removesuffix(".py").replace("/", ".").rpartition(".")
    named = re.compile(rf"\b{re.escape(parent)}\.{name}\b|from {re.escape(parent)} import [^\n]*\b{name}\b")
    texts = {file: (HOUSE / file).read_text("utf-8") for file in list_files(["tests"])}
    found = [file for file, text in texts.items() if named.search(text)]
    drawn = [_APPROVED] if module.startswith(_DRAWN) else []
    return [*sorted(found, key=lambda file: (len(texts[file]), file))[:most], *drawn]


def list_scenes(room: str) -> list[str]:
    """The scenes of approved answers, first those of the room's own work; loops have tests of their own."""
    if room == "native":
        return []
    first = _SCENES.get(room, ())
    found = [f"tests/answers/test_{name}.py" for name in first]
    return [*found, *(file for file in list_files(["tests/answers"]) if file not in found)]


def list_files(given: Iterable[str]) -> list[str]:
    """The files of tests in folders, and files."""
    found = [path for name in given for path in (sorted((HOUSE / name).rglob("test_*.py")) or [HOUSE / name])]
    names = [path.relative_to(HOUSE).as_posix() for path in found]
    return [name for name in names if not any(fnmatch(name, left) for left in _LEFT_OUT)]
