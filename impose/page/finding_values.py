"""Findings as the page shows them: in whole sentences, beside the row they are of, each with what mends it."""

from __future__ import annotations

import re
from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from functools import lru_cache
from typing import TYPE_CHECKING, Any

from impose.errors import Finding, Severity
from impose.kinds import KINDS
from impose.orders.kits import OF_THE_KIT
from impose.profiles.paper import make_title
from impose.sheet.finding_causes import group_by_cause
from impose.values import FrozenStruct, field

if TYPE_CHECKING:
    from impose.page.planner_messages import PlanRequest
    from impose.run.finding_mends import Mend
    from impose.run.plan import Plan
    from impose.sheet.layout import PlacedTransfer

OVER_ALL = frozenset(("haze", "off-white", "ground"))
"""What lies over much of a picture is seen at its corner, beside bare paper; in its middle there is nothing to see."""
FAINT = frozenset(("haze", "off-white"))
"""What is hardly there is shown twelve times as strong."""
CROP_MM = 30.0
"""The longer side of a crop at print size."""


class RowNames(FrozenStruct):
    """The rows of a revision: the page's name for each line of the orders and of the kits, and cells by column."""

    by_line: Mapping[int, str]
    cells: Mapping[str, Mapping[str, str]]
    kits: Mapping[int, str] = field(default_factory=dict)

    def find_name(self, line: int | None) -> str | None:
        """The row of a line; None where it is none of the orders'."""
        return None if line is None else self.by_line.get(line)


def say_sentence(words: str) -> str:
    """Words as a sentence: a capital, a full stop."""
    words = words.strip()
    if not words:
        return ""
    return end_sentence(f"{words[:1].upper()}{words[1:]}")


def end_sentence(words: str) -> str:
    """Words with a full stop, unless they end as a sentence does."""
    return words if words.endswith((".", "!", "?", "”", ".)")) else f"{words}."


_PAPER = re.compile(r"(?<![\w./“-])(?:[a-z]{1,3}[0-9]{1,2}|roll-[0-9.]+(?:in|mm))(?![\w-])(?!\.\w)")
"""A paper by its everyday name, as the commands take it; what a person wrote stands in quotation marks."""


def title_papers(words: str, aliases: Collection[str]) -> str:
    """Words in which papers are called as the page calls them."""
    return _PAPER.sub(lambda found: make_title(found[0]) if found[0] in aliases else found[0], words)


@lru_cache(maxsize=1)
def list_shipped_papers() -> frozenset[str]:
    """The everyday names of the papers that come with the program."""
    from impose.run.load_batch import load_profiles_in_force
    from impose.run.options import Options

    profiles = load_profiles_in_force(Options())
    return frozenset(paper.alias for paper in profiles.papers.values())


_ROW_ASIDE = re.compile(r" \((?:for )?rows? \d[\d,. –-]*(?:and \d+)?\)")
_ROWS = re.compile(r"\brows? (\d[\d, –-]*(?:and \d+)?) (?=(?:is|are|names?)\b)")


def leave_rows_out(words: str) -> str:
    """Words without the lines of a file, which nobody sees on a drawing: the page shows the prints that are meant."""
    return _ROWS.sub(
        lambda found: "this print " if found[1].isdecimal() else "these prints ", _ROW_ASIDE.sub("", words)
    )


_KEY = re.compile(r"(?:top level|table \[[^\]]*\]), key ([\w-]+): ")


def _name_field(words: str) -> str:
    """What is wrong with a value of a profile, by what the value is called, for whoever sees a form and no file."""
    return _KEY.sub(lambda found: f"{found[1].replace('_', ' ').replace('-', ' ')}: ", words)


def list_plain_finding(
    finding: Finding, rows: RowNames | None = None, papers: Collection[str] = frozenset()
) -> dict[str, Any]:
    """A finding without a plan, such as what is wrong with a form; `papers` are those of the shop by everyday name."""
    papers = papers or list_shipped_papers()
    plain = str if rows is None else leave_rows_out
    named = [name for line in finding.rows if rows is not None and (name := rows.find_name(line))]
    return {
        "severity": str(finding.severity),
        "kind": finding.kind,
        "title": title_of(finding),
        "what": say_sentence(title_papers(_name_field(plain(finding.what)), papers)),
        "why": say_sentence(title_papers(finding.why, papers)),
        "remedy": title_papers(plain(str(finding.remedy)), papers),
        "row": named[0] if named else None,
        "rows": named,
        "line": finding.row,
        "column": finding.column,
        "read": finding.read,
    }


def title_of(finding: Finding) -> str:
    """What it is about, in a few words."""
    known = KINDS.get(finding.kind)
    return (say_sentence(known.says) if known else "").removesuffix(".")


def name_rows(request: PlanRequest) -> RowNames:
    """The names of a revision's rows by their line in the file."""
    orders, kits = request.state.orders, request.state.kits
    lines = orders.number_lines()
    shown = orders.list_shown()
    of_kits = {} if kits is None else {line: name for name, line in kits.number_lines().items()}
    return RowNames(
        {lines[row.id]: row.id for row in shown}, {row.id: orders.read_values(row) for row in shown}, of_kits
    )


class FindingWriter:
    """The findings of one plan, told once where one act mends several."""

    def __init__(
        self, plan: Plan, rows: RowNames, base: str, offers: Callable[[Finding], list[Mend]] = lambda finding: []
    ) -> None:
        self.plan, self.rows, self.base, self.offers = plan, rows, base, offers
        self.prints: dict[int, list[tuple[int, PlacedTransfer]]] = {}
        for sheet in plan.layout.sheets:
            for placed in sheet.placed:
                self.prints.setdefault(placed.transfer.piece.row.row, []).append((sheet.number, placed))
        self.found: dict[str, Finding] = {}
        self.papers = frozenset(paper.alias for paper in plan.profiles.papers.values())

    def write_all(self, findings: Iterable[Finding]) -> list[dict[str, Any]]:
        """All of them, worst first."""
        rank = list(Severity)
        groups = sorted(group_by_cause(findings), key=lambda group: rank.index(group[0].severity))
        return [self._describe_group(f"f{number}", group) for number, group in enumerate(groups, 1)]

    def _describe_group(self, ident: str, group: Sequence[Finding]) -> dict[str, Any]:
        first = group[0]
        self.found[ident] = first
        lines = sorted({line for entry in group for line in entry.rows})
        named = [name for line in lines if (name := self.rows.find_name(line))]
        return {
            **list_plain_finding(first, self.rows, self.papers),
            "id": ident,
            "row": named[0] if named else None,
            "rows": named,
            "kit_row": self._kit_row(ident),
            "accepted": self._is_accepted(first, lines),
            "on": [spot for line in lines for spot in self._list_spots(first, line)],
            "crop": self._describe_crop(ident, first),
            "mends": self._describe_mends(ident, first, named),
        }

    def _is_accepted(self, finding: Finding, lines: Sequence[int]) -> bool:
        held = {row.row: row.accept for row in self.plan.batch.rows}
        return bool(lines) and all(finding.kind in held.get(line, ()) for line in lines)

    def _list_spots(self, finding: Finding, line: int) -> list[dict[str, Any]]:
        found = []
        for sheet, placed in self.prints.get(line, []):
            box = None
            if finding.mm is not None and placed.transfer.piece.panel is None:
                left, top, right, bottom = finding.mm
                box = {"x": left, "y": top, "w": right - left, "h": bottom - top}
            found.append({"transfer": placed.transfer.id, "sheet": sheet, "box_mm": box})
        return found

    def _describe_crop(self, ident: str, finding: Finding) -> dict[str, Any] | None:
        """Where a picture of it is to be had, and how large it is to be shown."""
        size = crop_size(finding, self.first_print(finding))
        if size is None:
            return None
        return {"before": f"{self.base}/findings/{ident}/before.png", "width_mm": size[0], "height_mm": size[1],
                "strong": finding.kind in FAINT}  # fmt: skip

    def first_print(self, finding: Finding) -> PlacedTransfer | None:
        """The first print that the finding is of, as it lies on its sheet."""
        for line in finding.rows:
            for _, placed in self.prints.get(line, []):
                if finding.kit_row in (0, placed.transfer.piece.row.kit_row) and is_of_print(finding, placed):
                    return placed
        return None

    def _describe_mends(self, ident: str, finding: Finding, named: Sequence[str]) -> list[dict[str, Any]]:
        from impose.run.finding_mends import list_mends

        placed = self.first_print(finding)
        piece = None if placed is None else placed.transfer.piece
        mends = [*self.offers(finding), *list_mends(finding, piece, self.plan.profiles)]
        return [self._describe_mend(ident, mend, named) for mend in mends if named or not mend.of_row]

    def _describe_mend(self, ident: str, mend: Mend, named: Sequence[str]) -> dict[str, Any]:
        kit = self._kit_row(ident)
        ops: list[dict[str, Any]] = [
            {"op": "set", **where, "column": column, "value": self._write_cell(where["id"], column, value, mend.added)}
            for column, value in mend.cells.items()
            for where in self._list_places(column, named, kit)
        ]
        ops += [{"op": "choose", "name": name, "value": value} for name, value in mend.choices.items()]
        after = f"{self.base}/findings/{ident}/after.png?mend={mend.name}" if mend.shown else None
        return {"mend": mend.name, "label": mend.label, "says": mend.says, "ops": ops, "after": after}

    def _list_places(self, column: str, named: Sequence[str], kit: str | None) -> list[dict[str, str]]:
        """The rows that a cell is written into: what a kit says of its prints stands in the kit."""
        if kit is not None and column in OF_THE_KIT:
            return [{"table": "kits", "id": kit}]
        return [{"id": name} for name in named]

    def _kit_row(self, ident: str) -> str | None:
        """The kit's row of the print that a finding is of, where it is of one alone."""
        finding = self.found[ident]
        placed = self.first_print(finding)
        number = finding.kit_row or (0 if placed is None else placed.transfer.piece.row.kit_row)
        return self.rows.kits.get(number)

    def _write_cell(self, name: str, column: str, value: str, added: bool) -> str:
        """The cell as it is to be: the value, or the value beside what stands there."""
        words = self.rows.cells.get(name, {}).get(column, "").split()
        return " ".join([*words, *([] if value in words else [value])]) if added else value


def is_of_print(finding: Finding, placed: PlacedTransfer) -> bool:
    """Whether a finding of a row's artwork is of this print: a kit's prints are of one row."""
    row = placed.transfer.piece.row
    return finding.column != "art" or not finding.read or not row.kit_row or finding.read == row.art


def crop_size(finding: Finding, placed: PlacedTransfer | None) -> tuple[float, float] | None:
    """How large the crop of a finding is on paper, in mm; None where there is none."""
    if placed is None or placed.transfer.piece.ppi is None or placed.transfer.piece.panel is not None:
        return None
    piece = placed.transfer.piece
    box = crop_box(finding, placed)
    if box is None:
        return None
    left, top, right, bottom = piece.picture.ink
    across, down = piece.ink_w_mm / (right - left), piece.ink_h_mm / (bottom - top)
    return round((box[2] - box[0]) * across, 2), round((box[3] - box[1]) * down, 2)


def crop_box(finding: Finding, placed: PlacedTransfer) -> tuple[int, int, int, int] | None:
    """The pixels to show, from the ink's top left corner as worn: around the spot, or the middle of the print."""
    piece = placed.transfer.piece
    left, top, right, bottom = piece.picture.ink
    wide, high = right - left, bottom - top
    side = max(8, round(CROP_MM * wide / piece.ink_w_mm))
    if finding.mm is not None and finding.kind in OVER_ALL:
        x, y = (at * wide / piece.ink_w_mm for at in finding.mm[:2])
    elif finding.mm is not None:
        x = (finding.mm[0] + finding.mm[2]) / 2 * wide / piece.ink_w_mm
        y = (finding.mm[1] + finding.mm[3]) / 2 * high / piece.ink_h_mm
    elif finding.kind.endswith("low-resolution"):
        x, y = wide / 2, high / 2
    else:
        return None
    across, down = min(side, wide), min(side, high)
    a = min(max(0, round(x - across / 2)), wide - across)
    b = min(max(0, round(y - down / 2)), high - down)
    return a, b, a + across, b + down
