"""The cutting list, followed word by word: paper is cut as the list says, by the words another library reads.

Nothing of the program is used to cut: sheets and cells are those of the record, words those of the PDF. A piece of
paper is a rectangle in hand; a line names a direction, a distance from its near edge, and what comes off.
"""

from __future__ import annotations

import json
import re
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path
from typing import Any

import pypdfium2
import pytest

import drawn
from conftest import draw
from impose.run import Options, plan, produce

INCH = 25.4
# By which a told cut may enter what a transfer needs where there is no room between two: half of a tenth of a
# millimetre, half of a 64th of an inch.
GRAZE_MM = {"mm": 0.0501, "in": INCH / 128 + 1e-3}


@dataclass
class Piece:
    """Paper in hand: left, top, right, bottom on the sheet, and what no cut may enter of the cells on it."""

    edges: list[float]
    cells: dict[str, tuple[float, float, float, float]]


NAMES = r"(?:T\d+|[A-Z]{1,2}\b)(?: (?:T\d+|[A-Z]{1,2}\b))*(?: and \d+ more)?"
LINE = re.compile(
    rf"In hand: (?P<hand>{NAMES})"
    rf"|(?:(?P<taken>{NAMES}): )?(?P<way>across|down), "
    r"(?P<at>[\d./ ]+) (?P<unit>mm|in) from the (?P<new>new )?(?P<edge>top|left) edge: "
    rf"(?P<off>bare paper|{NAMES}) off"
    rf"|(?P<joined>{NAMES}): no straight cut parts them"
)
NUMBERED = rf"\b(\d+) (?:{NAMES}: )?(?:across|down), "


def made(folder: Path, rows: int, papers: list[str], **settings: object) -> tuple[Path, dict[str, Any]]:
    draw("noise", 200, 130, 1).save(folder / "owl.png")
    sides = [60 + 17 * (i * 7 % 11) for i in range(rows)]
    lines = ["order,art,width,copies,wearer", *(f"Club,owl.png,{side} mm,1,W{i}" for i, side in enumerate(sides))]
    (folder / "one.csv").write_text("\n".join(lines) + "\n", "utf-8")
    options = Options(settings={"papers": papers, **settings}, steps=60, workers=1)
    out = produce(plan([folder / "one.csv"], options), folder / "out")
    return out, json.loads((out / "batch.json").read_text("utf-8"))


class Told(str):
    """The words of a sheet's list; `called` are the letters of its cells, where it is told with others like it."""

    called: dict[str, str]


def listed(pdf: Path) -> dict[int, Told]:
    """The words of each sheet's list; sheets that are alike have the same, each with its own letters."""
    texts = [page.text for page in drawn.pages(pdf)]
    flat = " ".join(" ".join(text for text in texts if "Cutting list" in text).split())
    parts = re.split(r"(\d+ sheets alike|Sheet \d+ of \d+)", flat)
    found: dict[int, str] = {}
    called: dict[int, dict[str, str]] = {}
    for head, words in zip(parts[1::2], parts[2::2], strict=True):
        if head.startswith("Sheet"):
            number = int(head.split()[1])
            found[number] = found.get(number, "") + words
            continue
        held = re.findall(r"Sheet (\d+) (.*?)(?= Sheet \d|$)", words)
        assert len(held) == int(head.split()[0])
        for name, cells in held:
            found[int(name)] = words[: words.index("Sheet")]
            called[int(name)] = {ident: letter for letter, ident in re.findall(r"\b([A-Z]{1,2}) (T\d+)", cells)}
    told = {number: Told(words) for number, words in found.items()}
    for number, words in told.items():
        words.called = called.get(number, {})
    return told


def millimetres(at: str, unit: str) -> float:
    total = sum(Fraction(part) for part in at.split())
    return float(total * (1 if unit == "mm" else Fraction(127, 5)))


def needed(transfer: dict[str, Any]) -> tuple[float, float, float, float]:
    """A cell less what its bands have beyond the 3 mm of marks and label; a side without a band has none."""
    sides = ("bottom", "left", "top", "right") if transfer["turned"] else ("left", "top", "right", "bottom")
    left, top, right, bottom = (max(0.0, transfer["tear_mm"][side][2] - 3.0) for side in sides)
    cell = transfer["cell_mm"]
    return cell["x"] + left, cell["y"] + top, cell["x"] + cell["w"] - right, cell["y"] + cell["h"] - bottom


def names(words: str, piece: Piece) -> bool:
    """Whether the words name what lies on a piece."""
    more = re.search(r" and (\d+) more", words)
    ids = words.split(" and ")[0].split()
    held = sorted(piece.cells)
    return ids == held[: len(ids)] and len(held) == len(ids) + (int(more[1]) if more else 0)


def cut_apart(words: Told, sheet: dict[str, Any], graze: float) -> tuple[list[Piece], list[str], int]:
    """Cut a sheet as its list says: the pieces, what is said to hang together, and how many cuts crossed the sheet."""
    cells = {words.called.get(t["id"], t["id"]): needed(t) for t in sheet["transfers"]}
    pieces = [Piece([0.0, 0.0, sheet["width_mm"], sheet["height_mm"]], cells)]
    hand, joined, across = pieces[0], [], 0
    for line in LINE.finditer(words):
        if line["hand"]:
            hand = next(piece for piece in pieces if names(line["hand"], piece))
        elif line["joined"]:
            joined.append(line["joined"])
        else:
            if line["taken"]:
                hand = next(piece for piece in pieces if names(line["taken"], piece))
            hand, across = _cut(pieces, hand, line, sheet, graze, across)
    return pieces, joined, across


def _cut(
    pieces: list[Piece], hand: Piece, line: re.Match[str], sheet: dict[str, Any], graze: float, across: int
) -> tuple[Piece, int]:
    axis = 1 if line["way"] == "across" else 0
    assert line["edge"] == ("top" if axis else "left")
    at = hand.edges[axis] + millimetres(line["at"], line["unit"])
    assert hand.edges[axis] < at < hand.edges[axis + 2], "the cut is on the piece in hand"
    for name, cell in hand.cells.items():
        into = min(at - cell[axis], cell[axis + 2] - at)
        assert into <= graze, f"{name} is cut into by {into:.3f} mm"
    span = [0.0, 0.0, sheet["width_mm"], sheet["height_mm"]]
    other = 1 - axis
    across += hand.edges[other] == span[other] and hand.edges[other + 2] == span[other + 2]
    near, far = Piece(list(hand.edges), {}), Piece(list(hand.edges), {})
    near.edges[axis + 2] = far.edges[axis] = at
    for name, cell in hand.cells.items():
        (near if (cell[axis] + cell[axis + 2]) / 2 < at else far).cells[name] = cell
    assert names(line["off"], near) if near.cells else line["off"] == "bare paper"
    pieces.remove(hand)
    pieces += [near, far]
    return far, across


@pytest.mark.parametrize(
    ("papers", "settings"),
    [
        (["a4", "13x19"], {}),
        pytest.param(["a4", "13x19"], {"straight_cuts": "yes"}, marks=pytest.mark.long),
        (["13x19"], {"units": "in", "straight_cuts": "yes"}),
        pytest.param(["roll-24in"], {"straight_cuts": "yes"}, marks=pytest.mark.long),
        (["roll-13in"], {}),
    ],
)
def test_paper_cut_as_the_list_says_comes_apart_whole(
    tmp_path: Path, papers: list[str], settings: dict[str, object]
) -> None:
    out, record = made(tmp_path, 22, papers, **settings)
    lists = listed(out / "tickets.pdf")
    assert sorted(lists) == [sheet["sheet"] for sheet in record["sheets"]]
    cuts = 0
    for sheet in record["sheets"]:
        words = lists[sheet["sheet"]]
        pieces, joined, _ = cut_apart(words, sheet, GRAZE_MM[str(settings.get("units", "mm"))])
        cuts += len(pieces) - 1
        together = [piece for piece in pieces if len(piece.cells) > 1]
        assert len(together) == len(joined)
        assert all(any(names(words, piece) for words in joined) for piece in together)
        if settings.get("straight_cuts"):
            assert not together, "a sheet that was nested for straight cuts comes apart by them"
    assert cuts > 5


def test_cuts_across_the_whole_sheet_come_first_and_are_numbered_in_order(tmp_path: Path) -> None:
    out, record = made(tmp_path, 14, ["13x19"], straight_cuts="yes")
    for number, words in listed(out / "tickets.pdf").items():
        told = [int(n) for n in re.findall(NUMBERED, words)]
        assert told == list(range(1, len(told) + 1))
        first = re.search(rf"In hand|{NAMES}: (?:across|down), ", words)
        sheet = next(one for one in record["sheets"] if one["sheet"] == number)
        whole = len(re.findall(r"(?:across|down), ", words[: first.start() if first else None]))
        pieces, _, across = cut_apart(words, sheet, GRAZE_MM["mm"])
        # Strips that are as wide as the sheet may be parted the same way again: never before the first of them.
        assert across >= whole >= (len(pieces) > 1)


def test_a_whole_millimetre_is_told_where_there_is_one_between_cells(tmp_path: Path) -> None:
    """One transfer of 80 mm on A4 ends at 111 mm with its margins and the edge: bare paper comes off at a whole one."""
    out, _ = made(tmp_path, 1, ["a4"])
    (words,) = listed(out / "tickets.pdf").values()
    distances = re.findall(r"(?:across|down), ([\d.]+) mm", words)
    assert distances
    assert all("." not in distance for distance in distances)


@pytest.mark.parametrize("tear", ["normal", "tight"])
def test_sheets_for_straight_cuts_are_cut_at_whole_millimetres_clear_of_marks(tmp_path: Path, tear: str) -> None:
    """Between two bands are 4 mm of blank paper, 2 mm of tight ones: half a millimetre is left on each side."""
    out, record = made(tmp_path, 14, ["13x19", "roll-24in"], straight_cuts="yes", tear=tear)
    lists = listed(out / "tickets.pdf")
    for sheet in record["sheets"]:
        words = lists[sheet["sheet"]]
        distances = re.findall(r"(?:across|down), ([\d.]+) mm", words)
        assert distances or len(sheet["transfers"]) == 1
        assert all("." not in distance for distance in distances)
        cut_apart(words, sheet, -0.499)


def test_a_long_piece_of_roll_goes_over_pages_and_every_cut_is_told_once(tmp_path: Path) -> None:
    out, record = made(tmp_path, 60, ["roll-13in"], straight_cuts="yes")
    (words,) = listed(out / "tickets.pdf").values() if len(record["sheets"]) == 1 else [Told()]
    assert "part 2 of" in words
    told = [int(n) for n in re.findall(NUMBERED, words)]
    assert sorted(told) == list(range(1, len(told) + 1))
    # Beside a map the list stands in two columns: neither lies on the other or leaves its page.
    for page, found in zip(drawn.pages(out / "tickets.pdf"), drawn.letters(out / "tickets.pdf"), strict=True):
        if "Cutting list" in page.text:
            assert drawn.find_crossed(found) == []
            assert all(left >= 5 and right <= page.width - 5 for _, (left, _, right, _) in found)


def test_the_map_shows_ids_to_be_read_and_pictures_as_they_lie(tmp_path: Path) -> None:
    """Ids of 2.3 mm and more: 6.5 points, above the 5 points that are common practice for the least that is read."""
    out, record = made(tmp_path, 8, ["a4", "13x19"])
    ids = {t["id"] for sheet in record["sheets"] for t in sheet["transfers"]}
    document = pypdfium2.PdfDocument(out / "tickets.pdf")
    seen: dict[str, float] = {}
    for page in document:
        text = page.get_textpage()
        words = text.get_text_range()
        if "Cutting list" not in words:
            continue
        for found in re.finditer(r"T\d{3}", words):
            left, bottom, right, top = text.get_charbox(found.start(), loose=True)
            seen[found[0]] = max(seen.get(found[0], 0.0), max(right - left, top - bottom) * drawn.POINT_MM)
    assert set(seen) >= ids
    assert min(seen[one] for one in ids) > 2.3
    pictures = [
        shown for page in drawn.pages(out / "tickets.pdf") if "Cutting list" in page.text for shown in page.pictures
    ]
    assert len(pictures) == len(ids)
    for shown in pictures:
        (x0, y0), (x1, y1), (x2, y2) = shown.corners
        assert (x1 - x0) * (y2 - y0) - (y1 - y0) * (x2 - x0) > 0, "mirrored, as it is printed"
