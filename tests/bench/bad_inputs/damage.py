"""Ways to damage a file that was good: its bytes, its lines, its words; and words that nobody should have to expect."""

from __future__ import annotations

import random
import re

NUMBERS = (
    "0", "-0", "-1", "1e308", "1e-308", "1e999", "nan", "inf", "-inf", "9" * 25, "9" * 400, "0x10", "0b11", "1_000",
    "2147483648", "4294967296", "9223372036854775808", "1.7976931348623157e308", "0.000000000000001", "1/0", "1/3",
    "½", "٣", "１２", "1e5", "1,5", "1.234.567", "1 000", "+5", "5.", ".5", "--5", "5e", "5e400000000", "-5 mm",
)  # fmt: skip
TEXTS = (
    "", " ", "\u00a0", "\u200b", "\u202eevil", "\x1b[31mred", "\x00", "\x07", "\ud7ff", "\uffff", "\U0010ffff",
    "x" * 300, "x" * 70_000, "é" * 200, "e\u0301" * 200, "=1+1", '=HYPERLINK("http://a")', "@SUM(A1)", "-2+3",
    "../x.png",
    "/etc/passwd", "C:\\x.png", "CON", "NUL.png", "a/b/c", "a\\b", ".", "..", "~", "owl.png/", "OWL.PNG",
    "owl.png\0.csv",
    "file:///etc/passwd", "<script>", "&amp;", "%s%n", "{name}", "{number}", "{}", "{", "}", "{{name}}", "'",
    '"', '""',
    "\r", "\n", "\t", ";", ",", "T001", "true", "null", "None", "1899-12-30", "0000-00-00", "12:60", "ﷺ",
    "👩‍👩‍👧‍👦", "א", "a\u0300" * 80,
)  # fmt: skip
UNITS = ("mm", "cm", "in", '"', "″", "pt", "px", "m", "km", "%", "mm mm", "mmm", "ft", "µm", "°", "")
LENGTHS = ("90 mm", "3 1/2 in", "3.5in", "0mm", "-1mm", "1e9 mm", "90 x 120 mm", "999999999999x1mm", "8 1/4”", "1''")


def word(chance: random.Random) -> str:
    """Some word: a number, a length, a text, some of them of good faith."""
    way = chance.randrange(6)
    if way == 0:
        return chance.choice(NUMBERS)
    if way == 1:
        return chance.choice(NUMBERS) + chance.choice(("", " ")) + chance.choice(UNITS)
    if way == 2:
        return chance.choice(LENGTHS)
    if way == 3:
        return "".join(chr(chance.choice((chance.randrange(32, 127), chance.randrange(0xD800)))) for _ in range(6))
    if way == 4:
        return chance.choice(TEXTS) + chance.choice(TEXTS)
    return chance.choice(TEXTS)


def damage_bytes(chance: random.Random, content: bytes) -> bytes:
    """Flipped bits, or a stretch cut out, put in, repeated or exchanged."""
    way = chance.randrange(7)
    a, b = sorted(chance.randrange(len(content) + 1) for _ in range(2))
    b = min(b, a + chance.choice((1, 4, 30, 10_000)))
    if way == 0:
        changed = bytearray(content)
        for _ in range(chance.choice((1, 1, 3, 20)) if content else 0):
            changed[chance.randrange(len(changed))] ^= 1 << chance.randrange(8)
        return bytes(changed)
    if way == 1:
        return content[:a]
    if way == 2:
        return content[:a] + content[b:]
    if way == 3:
        return content[:a] + chance.randbytes(chance.choice((1, 4, 100))) + content[a:]
    if way == 4:
        return content[:b] + content[a:b] * chance.choice((1, 2, 50)) + content[b:]
    if way == 5:
        return content[:a] + word(chance).encode("utf-8", "surrogatepass") + content[b:]
    return recoded(chance, content)


def recoded(chance: random.Random, content: bytes) -> bytes:
    """The same text in another encoding, with or without its mark."""
    text = content.decode("utf-8", "replace")
    return text.encode(
        chance.choice(("utf-16", "utf-16-le", "utf-32", "cp1252", "cp1251", "utf-8-sig", "utf-7")), "replace"
    )


def damage_lines(chance: random.Random, text: str) -> str:
    """Lines left out, repeated, exchanged or run together."""
    lines = text.splitlines(keepends=True) or [""]
    i, j = chance.randrange(len(lines)), chance.randrange(len(lines))
    way = chance.randrange(6)
    if way == 0:
        del lines[i]
    elif way == 1:
        lines[i:i] = [lines[i]] * chance.choice((1, 2, 40))
    elif way == 2:
        lines[i], lines[j] = lines[j], lines[i]
    elif way == 3:
        lines[i] = lines[i].rstrip("\r\n")
    elif way == 4:
        lines.insert(i, word(chance) + "\n")
    else:
        lines[i] = lines[i].replace("\n", chance.choice(("\r", "\r\n", "\n\n", "\u2028", "\x0b")))
    return "".join(lines)


def damage_words(chance: random.Random, text: str, parts: str = r"[^\s,;\t\"=\[\]{}]+") -> str:
    """One to three words exchanged for others."""
    for _ in range(chance.choice((1, 1, 2, 3))):
        found = list(re.finditer(parts, text))
        if not found:
            return text
        one = chance.choice(found)
        other = chance.choice(found)[0] if chance.random() < 0.3 else word(chance)
        text = text[: one.start()] + other + text[one.end() :]
    return text


def damage(chance: random.Random, text: str) -> bytes:
    """A text damaged in one to three ways, as bytes."""
    for _ in range(chance.choice((1, 1, 2, 3))):
        text = chance.choice((damage_words, damage_words, damage_lines))(chance, text)
    content = text.encode("utf-8", "surrogatepass")
    return damage_bytes(chance, content) if chance.random() < 0.2 else content
