"""Words for sleeves, chest and hem."""

from artwork.canvas import Canvas, vertical
from artwork.letters import Pen, length, line
from artwork.motifs import AMBER, CORAL, CREAM, FLAME, INDIGO, PLUM, TEAL, lantern, ripple
from artwork.shapes import blob, ellipse, polygon, rectangle, ribbon, star, stroke


def light_the_water() -> Canvas:
    """Glowing words for a long sleeve, with streaks of light on the water below them."""
    canvas = Canvas(2860, 340)
    pen, base, tall = Pen(0.17, 0.34), 7.5, 4.7
    words = line("LIGHT THE WATER", 50, base, tall, pen)
    half = length("LIGHT THE WATER", tall, pen) / 2
    canvas.glow(words, AMBER, 2.0, 1.3)
    canvas.fill(words, vertical((base - tall, CORAL), (base - 0.4 * tall, "#c02f55"), (base, PLUM)))
    for index, (x, span) in enumerate(((-0.8, 9), (-0.52, 14), (-0.2, 10), (0.1, 15), (0.42, 11), (0.72, 14))):
        shade = (AMBER, CORAL, PLUM)[index % 3]
        canvas.fill(ripple(50 + x * half, 9.4 + 0.45 * (index % 2), span, 0.65, 0.15), shade)
    for x, hue in ((50 - half - 5.0, "coral"), (50 + half + 5.0, "amber")):
        canvas.glow(blob([(x - 1.4, 5.6), (x, 4), (x + 1.4, 5.6), (x, 7.4)]), AMBER, 2.4, 1.0)
        lantern(canvas, x, 5.6, 2.1, hue, "globe")
    return canvas


def pull_for_home() -> Canvas:
    """Flat words over an oar: one strip for the rowers' arms."""
    canvas = Canvas(2600, 300)
    words = line("PULL FOR HOME", 44.5, 6.9, 4.9, Pen(0.22, 0.3))
    canvas.fill([part + 0.22 for part in words], AMBER)
    canvas.fill(words, TEAL)
    canvas.fill(rectangle(3, 9.35, 84, 0.8), "#b9722d")
    canvas.fill(stroke([(2, 9.75), (8, 9.75)], 1.3), INDIGO)
    canvas.fill(stroke([(25, 9.75), (27, 9.75)], 1.3), INDIGO)
    leaf = blob([(84, 9.2), (88, 7.6), (96, 7.3), (98.8, 9.75), (96, 11.1), (88, 10.9), (84, 10.3)])
    canvas.fill(leaf, CORAL)
    for x in (89.5, 92.2):
        canvas.fill(
            polygon([(x, 7), (x + 1.1, 7), (x + 2.1, 9.6), (x + 1.1, 12), (x, 12), (x + 1, 9.6)]), CREAM, clip=leaf
        )
    return canvas


def steward() -> Canvas:
    """A short word for a short sleeve or a chest: who to ask on the night."""
    canvas = Canvas(1000, 360)
    canvas.fill(line("STEWARD", 50, 23.6, 13, Pen(0.2, 0.2, 0.55, -25)), INDIGO)
    for y, thick in ((3.2, 1.2), (31.8, 1.2)):
        canvas.fill(ribbon([(2, y), (22, y), (42, y)], [0.1, thick, thick]), AMBER)
        canvas.fill(ribbon([(98, y), (78, y), (58, y)], [0.1, thick, thick]), AMBER)
        canvas.fill(star(50, y, 3.2, 1.7, 8), CORAL)
        canvas.fill(ellipse(50, y, 1.0), FLAME)
    return canvas
