"""What all lines of a batch file share while they are read."""

from __future__ import annotations

from typing import Literal

from impose.orders.art_root import ArtRoot
from impose.orders.batch import RowDefaults
from impose.orders.findings_log import FindingsLog
from impose.orders.headings import HeadingColumn
from impose.orders.kits import KitFile
from impose.profiles.cloth import Cloth
from impose.profiles.garment import GarmentReading
from impose.profiles.placement import PlacementRule
from impose.profiles.profiles import Profiles
from impose.values import ChangingStruct, field


class ReadingContext(ChangingStruct):
    """What all lines of a file share: profiles, artwork, columns, what blanks mean, and the tally.

    `refused` are the rows that cannot be taken; `nameless` those among them whose order is not known either.
    """

    profiles: Profiles
    art: ArtRoot
    ours: dict[str, HeadingColumn]
    others: list[HeadingColumn]
    units: Literal["mm", "in"] | None
    blanks: RowDefaults
    kinds: frozenset[str] | None
    tally: FindingsLog
    kits: KitFile | None = None
    _readings: dict[str, GarmentReading] = field(default_factory=dict)
    _cloths: dict[tuple[str, str], Cloth] = field(default_factory=dict)
    _placements: dict[str, PlacementRule | None] = field(default_factory=dict)
    refused: set[int] = field(default_factory=set)
    nameless: set[int] = field(default_factory=set)

    def read_garment(self, text: str) -> GarmentReading:
        """A garment's text, read once for all rows."""
        if text not in self._readings:
            self._readings[text] = self.profiles.wardrobe.read_garment(text)
        return self._readings[text]

    def read_cloth(self, fibre: str, colour: str) -> Cloth:
        """A cloth, read once for all rows. Raises `ValueError` where its shares are impossible."""
        key = (fibre, colour)
        if key not in self._cloths:
            self._cloths[key] = self.profiles.wardrobe.cloth_words.read_cloth(fibre, colour)
        return self._cloths[key]

    def find_placement(self, text: str) -> PlacementRule | None:
        """A placement's name, looked up once for all rows."""
        if text not in self._placements:
            self._placements[text] = self.profiles.find_placement(text)
        return self._placements[text]

    def count_refused(self, line: int, order_known: bool = True) -> None:
        """Count a row among the refused."""
        self.refused.add(line)
        if not order_known:
            self.nameless.add(line)
