"""What a person can do about a finding with one act: cells of its row, or a choice for the whole batch.

A mend is kept where it is said: in the row's own cells, so that a command makes the same of the file. Nothing is mended
unasked.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from impose.errors import Finding, Severity
from impose.kinds import ACCEPTABLE
from impose.profiles.profiles import Profiles
from impose.sheet.piece import Piece
from impose.units import MM_PER_INCH, format_length
from impose.values import FrozenStruct, field

LEAST_MM = 10.0
"""A print is not offered smaller than that to gain sharpness."""


class Mend(FrozenStruct):
    """One way out: `cells` of the finding's rows by column, or `choices` of the batch.

    With `added` a cell keeps the words it has. `shown` says that there is a picture of how it looks afterwards.
    """

    name: str
    label: str
    says: str = ""
    cells: Mapping[str, str] = field(default_factory=dict)
    choices: Mapping[str, str | bool | list[str]] = field(default_factory=dict)
    added: bool = False
    shown: bool = False

    @property
    def of_row(self) -> bool:
        """Whether it stands in the cells of rows."""
        return bool(self.cells)


_OF_PICTURES = {
    "haze": ("clean-haze", "Take the haze off"),
    "off-white": ("clean-haze", "Make the ground white"),
    "ground": ("ground", "Make the ground white"),
    "speck": ("drop-specks", "Drop the specks"),
    "speck-inside": ("drop-specks", "Drop the specks"),
    "spots": ("drop-specks", "Drop the specks"),
}


def list_mends(finding: Finding, piece: Piece | None, profiles: Profiles) -> list[Mend]:
    """The ways out of a finding, best first; `piece` is the print it is of, where there is one."""
    found = [*_picture_mends(finding), *_size_mends(finding, piece, profiles), *_list_choices(finding)]
    if finding.kind in ACCEPTABLE and finding.severity is not Severity.NOTE and finding.rows:
        label = "Go on as it is"
        found.append(Mend("accept", label, "Noted in the row.", {"accept": finding.kind}, added=True))
    return found


def _picture_mends(finding: Finding) -> Iterator[Mend]:
    """What is cleaned off this row's picture alone; for the whole batch where rows cannot say so."""
    # A note of the same kind tells that it was mended.
    if finding.kind not in _OF_PICTURES or (finding.severity is Severity.NOTE and finding.kind == "ground"):
        return
    name, label = _OF_PICTURES[finding.kind]
    if finding.rows:
        yield Mend(name, label, "In this row alone.", {"mend": name}, added=True, shown=True)
    elif name != "ground":
        yield Mend(name, label, "In every picture of this batch.", choices={name.replace("-", "_"): True}, shown=True)


def _size_mends(finding: Finding, piece: Piece | None, profiles: Profiles) -> Iterator[Mend]:
    """A size at which the picture has the pixels it needs; the placement's own size."""
    if finding.kind.endswith("low-resolution") and piece is not None and piece.ppi is not None:
        settings = profiles.settings
        wanted = settings.ppi_warn if piece.ppi < settings.ppi_warn else settings.ppi_note
        width, _ = piece.finished_size
        fitting = width * piece.ppi / wanted
        # Rounded down to what a person would write, so that the finding is gone.
        fitting -= fitting % (1.0 if settings.units == "mm" else MM_PER_INCH / 10)
        if LEAST_MM <= fitting < width:
            size = format_length(fitting, settings.units)
            label = f"Print it {size} wide"
            yield Mend("smaller", label, f"At that size it has {wanted} pixels an inch.", {"width": size})
    if finding.kind == "size-unusual" and piece is not None and piece.row.placement is not None:
        cells = {"width": "", "height": ""}
        yield Mend("usual-size", "Take the size of the place", "The row's own size is taken out.", cells)


def _list_choices(finding: Finding) -> Iterator[Mend]:
    """What only the whole batch can choose."""
    if finding.kind == "no-room":
        says = "Whatever is too large for every paper is made as large as fits."
        yield Mend("shrink", "Make it smaller", says, choices={"oversize": "shrink"})
        says = "Whatever is too large for every paper is parted; a seam shows."
        yield Mend("panels", "Print it in panels", says, choices={"oversize": "panels"})
    if finding.kind == "orientation" and finding.severity is Severity.STOP:
        yield Mend("turn", "Turn it as the camera says", "In every picture.", choices={"orientation": "apply"})
        yield Mend("as-stored", "Print it as it is stored", "In every picture.", choices={"orientation": "ignore"})
