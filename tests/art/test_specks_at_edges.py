"""Specks in the very corners of the canvas are dropped as any others, from clear ground and from white."""

from __future__ import annotations

from PIL import Image

from answers.pictures import INK, draw_disc
from approved_answers import encode_png
from each_case import try_each
from impose.art.prepare import PreparationOptions, prepare_picture

CASES = [("RGBA", (0, 0)), ("RGBA", (158, 0)), ("RGBA", (0, 158)), ("L", (158, 158))]


@try_each("mode, place", CASES)
def test_a_speck_at_the_edge_is_dropped_and_nothing_else_changes(mode, place):
    ground = (0, 0, 0, 0) if mode.endswith("A") else (255, 255, 255, 255)

    def prepare(picture: Image.Image, **recipe: bool) -> object:
        made = prepare_picture(encode_png(picture.convert(mode)), PreparationOptions(**recipe))
        return made.ink, bytes(made.data), made.mass

    clean, marked = draw_disc(160, ground), draw_disc(160, ground)
    marked.paste(INK, (*place, place[0] + 2, place[1] + 2))
    assert prepare(marked, drop_specks=True) == prepare(clean)
    assert prepare(marked, keep_specks=True) != prepare(clean)
