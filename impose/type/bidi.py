"""Which way each character of a field runs: the Unicode bidirectional algorithm, without the explicit codes.

Unicode Standard Annex 9 (version 15.0), rules P2-P3, W1-W7, N0-N2, I1-I2, L1-L2. The explicit embeddings,
overrides and isolates (X1-X8) are left out on purpose: a customer's name may not turn round the rest of a
label, so those characters are taken out, and said, before the text comes here. What is left of the algorithm
is small, and the libraries at hand return a reordered string where shaping needs the levels.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Iterator, Sequence

# The opening and closing brackets that pair, by BidiBrackets-15.0.0.txt of the Unicode Character Database.
# U+2329 and U+232A are equal to U+3008 and U+3009 by canonical decomposition and are put in their place
# below.
_PAIRS = (
    "()[]{}༺༻༼༽᚛᚜⁅⁆⁽⁾₍₎⌈⌉⌊⌋❨❩❪❫❬❭❮❯❰❱❲❳❴❵⟅⟆⟦⟧⟨⟩⟪⟫⟬⟭⟮⟯⦃⦄⦅⦆⦇⦈⦉⦊⦋⦌⦍⦐⦏⦎⦑⦒⦓⦔⦕⦖⦗⦘⧘⧙⧚⧛⧼⧽"
    "⸢⸣⸤⸥⸦⸧⸨⸩⹕⹖⹗⹘⹙⹚⹛⹜〈〉《》「」『』【】〔〕〖〗〘〙〚〛﹙﹚﹛﹜﹝﹞（）［］｛｝｟｠｢｣"
)
_CLOSING = dict(zip(_PAIRS[::2], _PAIRS[1::2], strict=True))
_CLOSERS = frozenset(_CLOSING.values())
_NEUTRAL = frozenset({"B", "S", "WS", "ON"})
_BRACKET_LIMIT = 63  # UAX 9, BD16: beyond this many open brackets none of the paragraph is paired


def find_paragraph_level(classes: Sequence[str]) -> int:
    """0 or 1 by the first strong character (P2, P3); 0 when there is none."""
    for kind in classes:
        if kind == "L":
            return 0
        if kind in ("R", "AL"):
            return 1
    return 0


def find_levels(text: str, base: int | None = None) -> list[int]:
    """The embedding level of each character of one paragraph: even runs left to right, odd right to left.

    `base` forces the paragraph's own level (0 or 1); without it the first strong character decides. The text
    holds no paragraph separator and none of the explicit directional codes; a caller that leaves one in gets
    it treated as an ordinary neutral.
    """
    return resolve_levels([unicodedata.bidirectional(c) or "L" for c in text], text, base)


def resolve_levels(classes: Sequence[str], text: str = "", base: int | None = None) -> list[int]:
    """The levels for given bidirectional classes; `text`, when given, supplies the brackets of rule N0."""
    paragraph = find_paragraph_level(classes) if base is None else base
    # Rule X9: boundary neutrals take no part and afterwards stand at the level of what they follow.
    kept = [i for i, kind in enumerate(classes) if kind != "BN"]
    own = [classes[i] for i in kept]
    work = _resolve_weak(own, "R" if paragraph else "L")
    if text:
        _resolve_brackets(work, [text[i] for i in kept], own, paragraph)
    _resolve_neutral(work, paragraph)
    found = dict(zip(kept, (_implicit_level(kind, paragraph) for kind in work), strict=True))
    result: list[int] = []
    for i in range(len(classes)):
        result.append(found.get(i, result[-1] if result else paragraph))
    _reset_spaces(result, classes, paragraph)
    return result


def _resolve_weak(classes: Sequence[str], start: str) -> list[str]:
    """Rules W1-W7: marks, numbers and what stands between numbers."""
    work = list(classes)
    before = start
    for i, kind in enumerate(work):  # W1
        if kind == "NSM":
            work[i] = before
        before = work[i]
    strong = start
    for i, kind in enumerate(work):  # W2, W3
        if kind in ("L", "R", "AL"):
            strong = kind
        if kind == "EN" and strong == "AL":
            work[i] = "AN"
        elif kind == "AL":
            work[i] = "R"
    _resolve_separators(work)
    strong = start
    for i, kind in enumerate(work):  # W7
        if kind in ("L", "R"):
            strong = kind
        elif kind == "EN" and strong == "L":
            work[i] = "L"
    return work


def _resolve_separators(work: list[str]) -> None:
    """Rules W4-W6: one separator between two numbers joins them, signs of money and measure join a number."""
    for i in range(1, len(work) - 1):
        left, right = work[i - 1], work[i + 1]
        if left == right and ((work[i] in ("ES", "CS") and left == "EN") or (work[i] == "CS" and left == "AN")):
            work[i] = left
    for start, end in _find_class_spans(work, {"ET"}):
        if (start > 0 and work[start - 1] == "EN") or (end < len(work) and work[end] == "EN"):
            work[start:end] = ["EN"] * (end - start)
    for i, kind in enumerate(work):
        if kind in ("ES", "ET", "CS"):
            work[i] = "ON"


def _find_class_spans(work: Sequence[str], kinds: set[str] | frozenset[str]) -> Iterator[tuple[int, int]]:
    """Each maximal stretch of classes out of `kinds`, as start and end."""
    start = None
    for i, kind in enumerate(work):
        if kind in kinds:
            start = i if start is None else start
        elif start is not None:
            yield start, i
            start = None
    if start is not None:
        yield start, len(work)


def _direction_of_class(kind: str) -> str:
    """A class as N0-N2 see it: numbers count as right to left; "" for what is not strong."""
    return "R" if kind in ("R", "EN", "AN") else "L" if kind == "L" else ""


def _find_bracket_pairs(chars: Sequence[str], work: Sequence[str]) -> list[tuple[int, int]]:
    """The bracket pairs of the paragraph, by opening position (BD16)."""
    found: list[tuple[int, int]] = []
    stack: list[tuple[str, int]] = []
    for i, raw in enumerate(chars):
        if work[i] != "ON":
            continue
        char = unicodedata.normalize("NFC", raw)
        if char in _CLOSING:
            if len(stack) == _BRACKET_LIMIT:
                return []
            stack.append((_CLOSING[char], i))
        elif char in _CLOSERS:
            for depth in range(len(stack) - 1, -1, -1):
                if stack[depth][0] == char:
                    found.append((stack[depth][1], i))
                    del stack[depth:]
                    break
    return sorted(found)


def _resolve_brackets(work: list[str], chars: Sequence[str], original: Sequence[str], paragraph: int) -> None:
    """Rule N0: a pair of brackets follows what it encloses, or what it stands in."""
    embedding = "R" if paragraph else "L"
    for opening, closing in _find_bracket_pairs(chars, work):
        inside = {_direction_of_class(kind) for kind in work[opening + 1 : closing]} - {""}
        if embedding in inside:
            side = embedding
        elif inside:
            context = next((d for kind in reversed(work[:opening]) if (d := _direction_of_class(kind))), embedding)
            side = context if context != embedding else embedding
        else:
            continue
        for at in (opening, closing):
            work[at] = side
            for i in range(at + 1, len(work)):  # marks on a bracket go with it
                if original[i] != "NSM":
                    break
                work[i] = side


def _resolve_neutral(work: list[str], paragraph: int) -> None:
    """Rules N1, N2: between like directions theirs, else the paragraph's."""
    embedding = "R" if paragraph else "L"
    for start, end in _find_class_spans(list(work), _NEUTRAL):
        left = _direction_of_class(work[start - 1]) if start else embedding
        right = _direction_of_class(work[end]) if end < len(work) else embedding
        work[start:end] = [left if left == right else embedding] * (end - start)


def _implicit_level(kind: str, paragraph: int) -> int:
    """Rules I1, I2."""
    if paragraph % 2 == 0:
        return paragraph + {"L": 0, "R": 1}.get(kind, 2)
    return paragraph + (0 if kind == "R" else 1)


def _reset_spaces(result: list[int], classes: Sequence[str], paragraph: int) -> None:
    """Rule L1: separators, and white space before one or at the end, lie at the paragraph's level."""
    trailing = True
    for i in range(len(classes) - 1, -1, -1):
        if classes[i] in ("B", "S"):
            trailing = True
            result[i] = paragraph
        elif classes[i] in ("WS", "BN"):
            if trailing:
                result[i] = paragraph
        else:
            trailing = False


def find_visual_order(run_levels: Sequence[int]) -> list[int]:
    """The order, from left to right, in which runs (or characters) of these levels are seen (rule L2)."""
    order = list(range(len(run_levels)))
    if not order:
        return order
    lowest_odd = min((level for level in run_levels if level % 2), default=None)
    if lowest_odd is None:
        return order
    for level in range(max(run_levels), lowest_odd - 1, -1):
        start = None
        for i in range(len(order) + 1):
            inside = i < len(order) and run_levels[order[i]] >= level
            if inside and start is None:
                start = i
            elif not inside and start is not None:
                order[start:i] = reversed(order[start:i])
                start = None
    return order
