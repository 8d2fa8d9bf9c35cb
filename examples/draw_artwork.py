"""Draw the artwork of the example batch: `python examples/draw_artwork.py` from the top of the repository.

Everything is computed: no picture, font or random clock comes from outside, so each run gives the same pixels.
"""

import argparse
import sys
from collections.abc import Callable, Sequence
from pathlib import Path

from artwork import backs, carp, crests, fronts, motifs, pngs, scenery, words
from PIL import Image

HERE = Path(__file__).resolve().parent
CARP_INKS = [motifs.AMBER, motifs.FLAME, motifs.CORAL, motifs.CREAM, motifs.BRICK, motifs.INDIGO, motifs.TEAL]

# Each name with how the picture is drawn and kept, the resolution its file claims and whether it holds a profile.
# The claims are as unreliable as in real orders: size always comes from the order.
ARTWORK: dict[str, tuple[Callable[[], Image.Image], int | None, bool]] = {
    "lantern-crest": (lambda: pngs.clear(crests.lantern_crest()), 72, True),
    "heron-back": (lambda: pngs.clear(backs.heron_back()), 300, True),
    "light-the-water": (lambda: pngs.clear(words.light_the_water()), None, False),
    "steward": (lambda: pngs.clear(words.steward()), None, False),
    "oars-shield": (lambda: pngs.opaque(crests.oars_shield()), 96, False),
    "pull-for-home": (lambda: pngs.clear(words.pull_for_home()), None, False),
    "night-school-owl": (lambda: pngs.clear(fronts.night_school_owl()), 72, False),
    "weir-valley": (lambda: Image.fromarray(scenery.weir_valley()), 300, True),
    "moth": (lambda: pngs.clear(fronts.moth()), None, False),
    "kettle-band": (lambda: pngs.grey(fronts.kettle_band()), 150, False),
    "ferry-stamp": (lambda: pngs.clear(crests.ferry_stamp()), None, False),
    "carp-back": (lambda: pngs.indexed(carp.carp_back(), CARP_INKS), 72, False),
    "lantern-string": (lambda: pngs.clear(backs.lantern_string()), None, False),
}


def draw(folder: Path, names: Sequence[str]) -> None:
    """Write the named pictures into a folder and say so, one line each."""
    folder.mkdir(parents=True, exist_ok=True)
    for name in names:
        make, ppi, profile = ARTWORK[name]
        image = make()
        content = pngs.encoded(image, ppi, profile)
        (folder / f"{name}.png").write_bytes(content)
        print(f"{name}.png  {image.width} x {image.height}  {image.mode}  {len(content) // 1000} kB")


def main() -> int:
    """Read the command line and draw."""
    parser = argparse.ArgumentParser(description="Draw the artwork of the example batch.")
    parser.add_argument("names", nargs="*", metavar="NAME", help="only these pictures (all)")
    parser.add_argument("--into", type=Path, default=HERE / "lantern-night" / "art", help="folder to write to")
    asked = parser.parse_args()
    unknown = [name for name in asked.names if name not in ARTWORK]
    if unknown:
        parser.error(f"no such picture: {', '.join(unknown)}; there are {', '.join(ARTWORK)}")
    draw(asked.into, asked.names or list(ARTWORK))
    return 0


if __name__ == "__main__":
    sys.exit(main())
