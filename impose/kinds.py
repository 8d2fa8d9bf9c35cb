"""Every kind of finding there is, in one table: what `--accept`, the column `accept` and the setting `stops` may name.

A finding's kind is a stable word for programs and for agreeing to it. Each stands here once, with the part of the work
it comes from and what it says; what it means on cloth and how it is decided is in the document on findings, which a
test compares with this table, as it does with the kinds the code uses.
"""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from impose.values import FrozenStruct


class FindingKind(FrozenStruct):
    """`part` of the work it comes from, what it `says`, and whether it may be agreed to.

    What may be agreed to is a warning or a note, unless it is made to stop. What may not is a refusal: there is
    nothing that could be printed or nobody can tell what.
    """

    part: str
    says: str
    acceptable: bool = True


_ARTWORK = (
    ("haze", "faint alpha over a large area"),
    ("off-white", "the ground is nearly but not quite white"),
    ("white-inside", "white within the picture stays cloth"),
    ("ground", "a light ground that would press as a tinted box, or was made white"),
    ("speck", "a speck far from the rest was cut off, or specks were dropped"),
    ("speck-inside", "a lonely speck within the picture prints"),
    ("far-dots", "small dots far from the rest print as drawn and make the print larger"),
    ("spots", "many tiny spots far from the rest print as drawn"),
    ("cut-off", "ink runs into the edge of the canvas"),
    ("screenshot", "the picture looks like a screenshot"),
    ("orientation", "an Exif note about turning was followed or ignored"),
    ("animated", "only the still picture of an animation prints"),
    ("odd-png", "something in the file was ignored"),
    ("odd-file", "something in the file is kept more simply in print"),
    ("several-pages", "only the first picture of several prints"),
    ("flattened", "a layered document prints as it was flattened"),
    ("lossy-alpha", "see-through edges are kept only roughly by the format"),
    ("missing-font", "a typeface is not there, and another stands in"),
    ("not-drawn", "parts of a drawing that are not drawn"),
    ("recolour", "flat colours of the picture were exchanged"),
    ("trailing-data", "bytes after the picture were ignored"),
)
_COLOUR = (
    ("profile-unusable", "the embedded colour profile cannot be used"),
    ("colour-misplaced", "a note on colour stands where it does not count"),
    ("video-colour", "colours are coded for video in a way paper has not"),
    ("gamma", "colours ask for a gamma or primaries that none can have"),
    ("from-cmyk", "process inks were brought to sRGB"),
    ("assumed-srgb", "untagged colours were taken for sRGB"),
    ("out-of-gamut", "colours that the printer cannot make"),
    ("output-profile", "the printer's colour profile is unusual or cannot be used"),
)
_SIZE = (
    ("low-resolution", "few pixels at the final size"),
    ("very-low-resolution", "far too few pixels at the final size"),
    ("thin-stroke", "strokes too thin at the final size"),
    ("thin-gap", "gaps too narrow at the final size"),
    ("straight-edge", "a straight dark edge lies near the tear"),
    ("size-unusual", "a size far outside what the placement takes"),
    ("two-sizes", "the same artwork at two sizes on like garments"),
    ("platen", "the print is larger than the press's platen"),
    ("smallest-decides", "one size for a run, that of its smallest garment"),
    ("turned-art", "a long sleeve's artwork seems to be turned already"),
    ("panels", "a print too large for every paper was parted into panels"),
    ("shrunk", "printed smaller than ordered, because no paper takes it"),
    ("tight-margin", "the tear margin is smaller than asked"),
    ("thin-margin", "the tear margin left and right is thinner than the tight one"),
)
_ORDERS = (
    ("garment-assumed", "a garment was taken for granted"),
    ("size-borrowed", "the size of another garment was taken"),
    ("size-lacking", "a size that the garment does not come in"),
    ("like-garments", "rows without a wearer were laid on like garments"),
    ("missing-place", "the garment has no such place"),
    ("prints-overlap", "prints of one garment would lie over each other"),
    ("cloth-unknown", "a word for cloth that is on no list"),
    ("cloth-blend", "the cloth is polyester only in part"),
    ("light-cloth", "the cloth is not white"),
    ("dark-cloth", "the cloth is dark"),
    ("dyed-cloth", "parts of the garment are dyed"),
    ("kit", "rows became prints by their kits"),
    ("number-twice", "a number stands twice in an order"),
    ("unknown-column", "a column that is not ours"),
    ("unlisted-value", "a value that the column map does not list"),
    ("encoding", "a batch file in the code page of a system"),
    ("row-skipped", "rows of an export were passed over"),
    ("unwrapped", "a spreadsheet's wrapper was taken off a cell"),
    ("workbook", "a workbook of several sheets, or one that cannot be read"),
    ("twice", "the same artwork is named twice"),
    ("passed-over", "files that are no artwork were passed over"),
    ("name-twice", "a name stands twice in an order"),
    ("name-missing", "a name of the roster is missing"),
    ("name-changed", "a name was changed on the way"),
    ("words", "words to be set that cannot be, or only in part"),
    ("letters-smaller", "letters come out lower than they should be, for want of room"),
    ("words-over-edge", "words reach over the edge of the garment as it is drawn"),
    ("other-typeface", "letters came from another typeface"),
    ("left-out", "whole orders were left out"),
    ("agreed", "the customer agreed to the order as it stands"),
    ("not-agreed", "something differs from what the customer agreed to"),
    ("made-before", "a batch that was made before"),
)
_SHEETS = (
    ("short-label", "a label was shortened"),
    ("unwritable", "letters that no font has"),
    ("not-text", "a name has marks that are no letters"),
    ("first-off", "what printing one garment of each run first takes"),
    ("no-slug", "no room for the sheet's own line"),
    ("no-swatch", "no clean waste for a swatch"),
    ("no-cost", "a paper without a price"),
    ("straight-cuts", "what straight cuts cost in paper"),
    ("stock", "the stock of a paper is too small or not counted"),
    ("art-changed", "artwork has changed since it was printed"),
    ("partly-printed", "a sheet of which only part was named as unprinted"),
    ("printed-again", "a sheet that is printed already is fed once more"),
)
_PRINTING = (
    ("print-scaling", "the printer does not offer to print at actual size"),
    ("printer-edges", "the printer stops before the sheets do, where nothing lies"),
    ("printer-scale", "the sheets were made for a printer of another scale"),
    ("media-type", "a media type that the printer lacks or that may mirror"),
    ("ink-low", "an ink is low"),
    ("not-tested", "no test page was printed this way"),
    ("path-changed", "the test page went another way to the paper"),
)
_REFUSED = (
    ("damaged", "the file is damaged"),
    ("foreign-format", "not artwork in a format that is read"),
    ("cmyk-unknown", "process inks without a profile"),
    ("which-page", "a PDF of several pages, and none of them is named"),
    ("locked-file", "a PDF locked with a password"),
    ("unsafe-drawing", "a drawing that refers to something outside its file"),
    ("too-complex", "a drawing that takes too long or too much memory"),
    ("too-large", "more pixels than the limit"),
    ("blank", "nothing to print"),
    ("art-missing", "the artwork is not there"),
    ("art-path", "the artwork's path leads outside its folder"),
    ("csv", "the batch file cannot be read as rows"),
    ("heading", "the headings are at fault"),
    ("ragged-row", "a row with too many or too few cells"),
    ("damaged-cell", "a cell with control characters"),
    ("no-size", "no size is known"),
    ("across-zip", "a print lies across a zip"),
    ("cloth", "cloth that the dye does not hold on, or that melts"),
    ("bad-cloth", "the cell cloth cannot be read"),
    ("bad-kit", "a kit that is not there, or cannot be made with what its row says"),
    ("which-garment", "rows that can be laid on garments in several ways"),
    ("centre-outside", "the centre lies outside the ink"),
    ("no-room", "fits no offered paper"),
    ("bad-option", "an option out of range"),
    ("bad-kind", "not a kind of finding"),
    ("bad-accept", "the cell accept cannot be read"),
    ("bad-art", "the cell art cannot be read"),
    ("bad-centre", "the cell centre cannot be read"),
    ("bad-copies", "the cell copies cannot be read"),
    ("bad-font", "the cell font cannot be read"),
    ("bad-garment", "the cell garment cannot be read"),
    ("bad-height", "the cell height cannot be read"),
    ("bad-mend", "the cell mend cannot be read"),
    ("bad-recolour", "the cell recolour cannot be read"),
    ("recolour-absent", "a colour to be exchanged is not in the picture"),
    ("bad-letters", "the cell letters cannot be read"),
    ("bad-may-turn", "the cell may_turn cannot be read"),
    ("bad-order", "the cell order cannot be read"),
    ("bad-placement", "the cell placement cannot be read"),
    ("bad-drop", "the cell drop cannot be read"),
    ("bad-across", "the cell across cannot be read"),
    ("bad-tear", "the cell tear cannot be read"),
    ("bad-width", "the cell width cannot be read"),
    ("cluster", "a scheduler or its workers cannot be used"),
    ("profile", "a profile or setting is at fault"),
    ("font", "a font cannot be used"),
    ("self-check", "the output failed its own check"),
    ("name", "a path that is no text"),
    ("ledger", "the ledger cannot be used"),
    ("record", "not a whole record of ours"),
    ("reprint", "what is to be printed again is not in the record"),
    ("made", "nothing was named that is looked for"),
    ("missing-cost", "a cost is unknown, so that no price can be given"),
    ("again", "what an order made again asks for is not in the record, or not clear"),
    ("calibration", "a measurement that is unsure, or cannot be right"),
    ("desk", "a desk's folders are at fault"),
    ("desk-toml", "a desk's own file is at fault"),
    ("drop-name", "a dropped file's name cannot be read as an order"),
    ("locked", "a desk is watched already"),
    ("printer", "a printer that cannot be used, or that refuses"),
    ("printer-unreachable", "a printer that cannot be reached, or is busy"),
    ("printer-cuts", "the printer would cut something off"),
    ("certificate", "a printer's certificate that nobody agreed to"),
    ("paper-loaded", "another paper lies in the printer"),
    ("paper-size", "the printer does not know the paper's size"),
    ("print-format", "the printer takes nothing that could be sent"),
    ("printed-already", "sheets that are printed, or may be"),
)

_PARTS = (
    ("artwork", _ARTWORK),
    ("colour", _COLOUR),
    ("size", _SIZE),
    ("orders", _ORDERS),
    ("sheets", _SHEETS),
    ("printing", _PRINTING),
)

KINDS: Mapping[str, FindingKind] = MappingProxyType(
    {name: FindingKind(part, says) for part, rows in _PARTS for name, says in rows}
    | {name: FindingKind("refused", says, False) for name, says in _REFUSED}
)

ACCEPTABLE = frozenset(name for name, kind in KINDS.items() if kind.acceptable)
