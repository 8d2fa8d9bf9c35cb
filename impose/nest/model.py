"""What goes into a nesting and what comes out: whole micrometres, whole millionths of the currency unit."""

from __future__ import annotations

from collections.abc import Sequence

from impose.values import FrozenStruct

UM_PER_METRE = 1_000_000
LONGEST = (1 << 31) - 1  # side of a paper in micrometres: areas and what is counted by them stay within 62 bits


class Rectangle(FrozenStruct):
    """One piece to be placed. `width` and `height` in micrometres as it lies unturned.

    `group` names what it belongs to (an order): among equally cheap nestings, pieces of one group land near each
    other. `together` names what is needed at one time (the prints of one garment): its pieces then lie on as few sheets
    as is found. Neither ever costs paper.
    """

    id: str
    width: int
    height: int
    may_turn: bool = True
    group: str = ""
    together: str = ""


class Stock(FrozenStruct):
    """Paper on offer. Sheets have a `height`; a roll has `height=None` and is cut into pieces of any length.

    `cost` is in millionths of the currency unit: per sheet, or per metre of roll (rounded up for each piece cut).
    `limit` is what is left: sheets, or for a roll the micrometres of its length. `max_height` is the longest piece
    that may be cut from a roll, and `cut_margin` the paper lost at each cut, which is paid for and counted against
    `limit` but not against `max_height`. Where a printer prints short, what is lost grows with the piece: it is the
    greater of `cut_margin` and `cut_base` (which may be below 0) + `cut_per_metre` for each metre of the height used.
    `handling` is what handling one sheet or piece cut costs besides. Lengths in micrometres.
    """

    name: str
    width: int
    height: int | None
    cost: int
    limit: int | None = None
    max_height: int | None = None
    cut_margin: int = 0
    cut_base: int = 0
    cut_per_metre: int = 0
    handling: int = 0

    @property
    def tallest(self) -> int | None:
        """The greatest height a piece of this paper can have; None if the roll sets no limit."""
        if self.height is not None:
            return self.height
        ends = [self.max_height] if self.max_height is not None else []
        if self.limit is not None:
            ends.append(max(0, self.height_within(self.limit)))
        return min(ends) if ends else None

    def length(self, height: int) -> int:
        """What is cut from the roll for a piece on which `height` is used: with what is lost, rounded up."""
        return height + max(self.cut_margin, self.cut_base - (-height * self.cut_per_metre // UM_PER_METRE))

    def height_within(self, length: int) -> int:
        """The greatest height for which no more than `length` is cut from the roll; below 0 if there is none."""
        share = (length - self.cut_base) * UM_PER_METRE // (UM_PER_METRE + self.cut_per_metre)
        return min(length - self.cut_margin, share)

    def piece_cost(self, height: int) -> int:
        """Cost of one sheet, or of a piece of roll on which `height` is used; part of a millionth counts whole."""
        if self.height is not None:
            return self.cost
        return -(-self.cost * self.length(height) // UM_PER_METRE)

    def compute_price(self, height: int) -> int:
        """What a sheet or piece costs with its handling."""
        return self.piece_cost(height) + self.handling

    def takes(self, piece: Rectangle) -> bool:
        """Whether the piece fits an empty sheet of this paper in some permitted orientation."""
        return self.fits(piece.width, piece.height) or (piece.may_turn and self.fits(piece.height, piece.width))

    def fits(self, width: int, height: int) -> bool:
        """Whether an area of that size, not turned, fits an empty sheet."""
        tallest = self.tallest
        return width <= self.width and (tallest is None or height <= tallest)


class Placement(FrozenStruct):
    """Where a piece lies: top left corner from the sheet's top left corner, size as placed, whether turned."""

    id: str
    x: int
    y: int
    width: int
    height: int
    turned: bool


class Cut(FrozenStruct):
    """One straight cut from (x1, y1) to (x2, y2), edge to edge of the part it divides."""

    x1: int
    y1: int
    x2: int
    y2: int


class NestedSheet(FrozenStruct):
    """One sheet, or one piece cut from a roll, `height` long (what is used; the cut margin lies beyond it).

    `cuts` is the order of cutting, empty unless straight cuts were asked for. `offcut` is the largest clean
    rectangle left (x, y, width, height), or None if the sheet is full.
    """

    stock: str
    width: int
    height: int
    cost: int
    placements: tuple[Placement, ...]
    cuts: tuple[Cut, ...] = ()
    offcut: tuple[int, int, int, int] | None = None

    @property
    def used_area(self) -> int:
        """Area under pieces, square micrometres."""
        return sum(p.width * p.height for p in self.placements)


class Nesting(FrozenStruct):
    """The answer: every piece is on a sheet or in `unplaced` as (id, "size" or "stock").

    `bound` is a lower bound on the cost of placing what is placed, `proven` whether the cost meets it, and
    `fewest` a lower bound on the number of sheets (0 where a roll is on offer and pieces can be any length).
    `handling` is what handling the sheets and changing paper costs; `cost` is paper alone. `least` then is a lower
    bound on both together, and `proven` whether they meet it.
    `clock` says that a clock ended the search, so that another run may answer differently; `steps` counts the
    search steps done.
    """

    sheets: tuple[NestedSheet, ...]
    cost: int
    bound: int
    fewest: int
    unplaced: tuple[tuple[str, str], ...]
    clock: bool = False
    steps: int = 0
    handling: int = 0
    least: int | None = None

    @property
    def proven(self) -> bool:
        """True if every piece is placed and no nesting of them on these papers costs less, handling included."""
        return not self.unplaced and self.cost + self.handling == (self.bound if self.least is None else self.least)


def sum_handling(sheets: Sequence[NestedSheet], stocks: Sequence[Stock], changing: int) -> int:
    """What handling these sheets costs, each change to a further paper included; in millionths."""
    each = {stock.name: stock.handling for stock in stocks}
    used = {sheet.stock for sheet in sheets}
    return sum(each[sheet.stock] for sheet in sheets) + changing * max(0, len(used) - 1)


def count_visits(sheets: Sequence[NestedSheet], pieces: Sequence[Rectangle]) -> int:
    """How often one `together` is found on one sheet: each time a sheet is looked up for it at the press."""
    unit = {piece.id: piece.together for piece in pieces}
    return sum(len({unit[p.id] for p in sheet.placements} - {""}) for sheet in sheets)


def check_input(pieces: Sequence[Rectangle], stocks: Sequence[Stock]) -> None:
    """Raise ValueError naming the first piece or paper that makes no sense."""
    _check_whole(pieces, ("width", "height"), "rectangle", "id")
    _check_whole(stocks, ("width", "height", "max_height"), "stock", "name")
    for stock in stocks:
        for field in ("cost", "limit", "cut_margin", "cut_per_metre", "handling"):
            value = getattr(stock, field)
            if value is not None and (not _is_whole(value) or value < 0):
                raise ValueError(f"stock {stock.name!r}: {field} is {value!r}; give a whole number, 0 or more")
        if not _is_whole(stock.cut_base):
            raise ValueError(f"stock {stock.name!r}: cut_base is {stock.cut_base!r}; give a whole number")
        for field in ("width", "height", "max_height"):
            if (getattr(stock, field) or 0) > LONGEST:
                raise ValueError(f"stock {stock.name!r}: {field} is over {LONGEST} micrometres; give less than 2 km")
        if stock.height is not None and stock.max_height is not None:
            raise ValueError(
                f"stock {stock.name!r}: max_height is for rolls; leave it out, or give height=None for a roll"
            )
    _check_distinct([p.id for p in pieces], "rectangles", "id")
    _check_distinct([s.name for s in stocks], "stocks", "name")


def check_budget(steps: int | None, seconds: float | None, workers: int, changing: int = 0) -> None:
    """Raise ValueError for a budget that makes no sense."""
    if steps is not None and (not _is_whole(steps) or steps < 0):
        raise ValueError(f"steps is {steps!r}; give a whole number, 0 or more")
    if seconds is not None and not seconds >= 0:
        raise ValueError(f"seconds is {seconds!r}; give 0 or more")
    if steps is not None and seconds is not None:
        raise ValueError("steps and seconds are both given; a budget is one or the other")
    if not _is_whole(changing) or changing < 0:
        raise ValueError(f"changing is {changing!r}; give a whole number, 0 or more")
    if not _is_whole(workers) or workers < 1:
        raise ValueError(f"workers is {workers!r}; give a whole number, 1 or more")


def _is_whole(value: object) -> bool:
    return isinstance(value, int) and not isinstance(value, bool)


def _check_whole(things: Sequence[Rectangle] | Sequence[Stock], names: tuple[str, ...], what: str, label: str) -> None:
    optional = {name for name, kind in Stock.__annotations__.items() if "None" in str(kind)}
    for thing in things:
        for name in names:
            value = getattr(thing, name)
            if value is None and isinstance(thing, Stock) and name in optional:
                continue
            if not _is_whole(value) or value <= 0:
                raise ValueError(
                    f"{what} {getattr(thing, label)!r}: {name} is {value!r}; give whole micrometres above 0"
                )


def _check_distinct(names: Sequence[str], what: str, label: str) -> None:
    seen: set[str] = set()
    for name in names:
        if name in seen:
            raise ValueError(f"two {what} have the {label} {name!r}; each needs its own")
        seen.add(name)
