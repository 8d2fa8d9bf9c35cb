"""Words in a column: as they are where they have room, else shortened to it."""

from __future__ import annotations

import pytest

from impose.pages.pdf.font_book import ShippedFonts
from impose.pages.proof.approval_pdf import fit_words
from impose.type.lettering import TextShaper

SHAPER = TextShaper(ShippedFonts())


@pytest.mark.parametrize("text", ["Annegret", "a very long name for a very narrow column", "ЖЖЖЖЖЖЖЖ"])
def test_words_keep_within_their_room_and_are_cut_only_where_it_is_short(text: str) -> None:
    whole = SHAPER.shape_line([text])
    for room in (whole.width + 0.01, whole.width * 0.7, whole.width * 0.4):
        line = fit_words(SHAPER, text, room)
        assert line.width <= room
        (shown,) = line.fields
        assert (shown == text) == (room > whole.width)
        assert len(shown) > len(text) * room / whole.width * 0.5, "no more is cut than has to be"
        assert text.startswith(shown.rstrip("…").rstrip())
