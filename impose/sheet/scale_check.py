"""What is measured to see whether a print came out true to size, where no sheet of a printer run has a ruler."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

from impose.errors import Finding, Severity
from impose.sheet.margins import has_marks
from impose.sheet.transfer import Transfer
from impose.units import format_length
from impose.values import FrozenStruct


class ScaleCheck(FrozenStruct):
    """Two ticks of a transfer and how far apart their outer ends measure: it shows whether a print is true to size."""

    transfer: str
    ticks: str
    length: str

    @property
    def words(self) -> str:
        """In full."""
        return f"{self.transfer} measures {self.length} from its {self.ticks} tick, outer ends"

    @property
    def short(self) -> str:
        """As little as can be understood."""
        return f"{self.transfer} {self.ticks.replace(' its', '')} tick: {self.length}"


def find_scale_check(transfers: Iterable[Transfer]) -> ScaleCheck:
    """The two ticks that lie farthest apart."""
    spans = [(span, tick.id, way) for transfer in transfers for span, way, tick in _list_tick_spans(transfer)]
    length, name, ticks = max(spans, key=lambda entry: (entry[0], entry[1]))
    return ScaleCheck(name, ticks, format_length(length))


def report_untold_checks(untold: Sequence[tuple[int, ScaleCheck]]) -> Iterator[Finding]:
    """What to measure, of sheets that have no room to say so."""
    for number, check in untold:
        yield Finding(
            f"no room on sheet {number} for a ruler, nor for a line that says what to measure",
            f"Before you press, measure whether it printed true to size: {check.words}. The cutting list says so too.",
            Severity.NOTE,
            kind="no-slug",
        )


def _list_tick_spans(transfer: Transfer) -> Iterator[tuple[float, str, Transfer]]:
    """From the outer end of one tick to that of its opposite, where both are printed, as the label reads upright."""
    piece, sides = transfer.piece, transfer.piece.sides
    if has_marks(sides.left) and has_marks(sides.right):
        yield piece.cell_w_mm - sides.left.slack_mm - sides.right.slack_mm, "left to its right", transfer
    if has_marks(sides.top) and has_marks(sides.bottom):
        yield piece.cell_h_mm - sides.top.slack_mm - sides.bottom.slack_mm, "top to its bottom", transfer
