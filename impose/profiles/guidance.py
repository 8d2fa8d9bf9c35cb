"""The trade's order of work and its usual cautions, in one place for help, tickets and documents.

Common practice, no source, unless a line says otherwise.
"""

ORDER_OF_WORK = (
    "Let the ink dry.",
    "Cut the cells apart by the cutting list, else along the corner marks.",
    "Pinch at the ticks, printed side out, at the edges only: no crease through ink.",
    "Pencil the id and an up arrow on the back, because the label goes with the band.",
    "Tear inside the tear zone; bin the strips. Joining edges of panels are cut with knife and rule.",
    "Lint-roll the garment. Layers beneath are heated too: clean sheet inside, between the layers, for every press.",
    "A pad inside lifts the print clear of seams, zips and pockets.",
    "Crease the middle lightly, 3 to 10 s: that drives the damp out. Let it cool to the hand.",
    "Lay face down, crease on crease; tape with heat-resistant tape.",
    "Cover with a fresh sheet of uncoated paper, and press.",
    "Cover off; lift once, in one move, after the rest that the setting says. Shifted while hot it ghosts.",
    "Let the garment cool flat before it is folded or stacked.",
    "A spoiled garment needs a new blank and all its prints again: never press a second transfer over a bad one.",
)

CAUTIONS = (
    "The platen burns at a touch: heat-proof gloves; keep hands, cords and loose cloth away from it.",
    "Damp cloth and paper give off steam, which scalds and leaves pale spots: dry them first.",
    "Too hot or too long scorches cloth and sets creases for good: try settings on scrap of the same cloth.",
    "Hot dye and paper give off fumes: press with the room well aired.",
    "A press draws a heavy current: a circuit of its own, never left on unattended.",
    "Zips, eyelets, buttons and cords stay off the platen.",
    "Garments are still hot when they leave the press: cool before stacking, as heat held in a stack moves dye.",
    "Press settings here are starting points: test them on scrap first.",
    "The supplier's and the maker's instructions, local rules and licensed practice come first.",
)
