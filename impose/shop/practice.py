"""The trade's order of work and its usual cautions, in one place for help, tickets and documents.

Common practice, no source, unless a line says otherwise.
"""

ORDER_OF_WORK = (
    "Let the ink dry.",
    "Cut the cells apart along the corner marks.",
    "Pinch at the ticks, printed side out, at the edges only: no crease through ink.",
    "Pencil the id and an up arrow on the back, because the label goes with the band.",
    "Tear inside the tear zone; bin the strips.",
    "Lint-roll the garment; clean sheet inside; pre-press and let it cool.",
    "Lay face down, crease on crease; tape.",
    "Cover, press, lift once after the cool-down.",
    "Layers beneath are heated too: clean sheet between.",
)

CAUTIONS = (
    "The platen burns at a touch: keep hands, cords and loose cloth away from it.",
    "Hot dye and paper give off fumes: press with the room well aired.",
    "A press draws a heavy current: a circuit of its own, never left on unattended.",
    "Zips, eyelets, buttons and cords stay off the platen.",
    "Press settings here are starting points: test them on scrap first.",
    "The supplier's and the maker's instructions, local rules and licensed practice come first.",
)
