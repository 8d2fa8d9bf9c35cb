"""How many swatches the waste of a batch has room for, before anything is made of it."""

from __future__ import annotations

from impose.run.load_batch import LoadedBatch
from impose.run.nest_batch import NestedBatch
from impose.run.progress import report_nothing
from impose.sheet.layout import SlugFacts
from impose.sheet.swatches import add_swatches, list_swatches
from impose.type.lettering import TextShaper
from impose.values import FrozenStruct


class SwatchCount(FrozenStruct):
    """Swatches that find room, of so many pictures."""

    placed: int
    pictures: int


def count_swatches(nested: NestedBatch, job: LoadedBatch) -> SwatchCount:
    """The swatches of a nested batch, its sheets laid out as they will be made but for their code."""
    from impose.pages.pdf.font_book import ShippedFonts
    from impose.run.plan import draw_sheets

    lettering = TextShaper(ShippedFonts())
    units = job.profiles.settings.units
    press = SlugFacts("XXXX", nested.batch.name, lettering, units)  # four wide letters: what fits them fits any code
    layout = draw_sheets(nested, press, None, report_nothing)
    made = add_swatches(layout, nested.pieces, lettering, units)
    return SwatchCount(sum(len(sheet.swatches) for sheet in made.sheets), len(list(list_swatches(nested.pieces))))
