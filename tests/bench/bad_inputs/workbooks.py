"""Bad .xlsx: the zip, its parts and their XML, written by hand so that each can be wrong by itself (ECMA-376)."""

from __future__ import annotations

import io
import random
import re
import struct
import zipfile
from collections.abc import Callable, Sequence
from xml.sax.saxutils import escape

from bad_inputs.damage import NUMBERS, damage_bytes, damage_words, word

Parts = dict[str, bytes]
Sheets = Sequence[tuple[str, list[list[str]]]]

MAIN = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
STRICT = "http://purl.oclc.org/ooxml/spreadsheetml/main"
RELATIONS = "http://schemas.openxmlformats.org/officeDocument/2006/relationships"
PACKAGE = "http://schemas.openxmlformats.org/package/2006"
HEAD = '<?xml version="1.0" encoding="UTF-8" standalone="yes"?>\n'
_SHEET = "xl/worksheets/sheet1.xml"
_NO_XML = re.compile("[^\t\n\r\u0020-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")


def _ten(number: int) -> str:
    return f"&a{number};" * 10


_NESTED = "".join(f'<!ENTITY a{n} "{_ten(n - 1)}">' for n in range(1, 10))
BOMB = f'<!DOCTYPE b [<!ENTITY a0 "aaaaaaaaaa">{_NESTED}]>'
OUTSIDE = '<!DOCTYPE b [<!ENTITY x SYSTEM "file:///etc/passwd">]>'
PLACES = (
    "A1",
    "XFD1048576",
    "A1048577",
    "XFE1",
    "ZZZZ1",
    "A0",
    "A-1",
    "1A",
    "a1",
    "A" * 300 + "1",
    "A2147483648",
    "",
    "$A$1",
)
ROWS = ("0", "-1", "1", "2", "1048576", "1048577", "2147483648", "9" * 30, "x", "", "1.5", " 2", "٢")
TYPES = ("s", "str", "inlineStr", "b", "e", "d", "n", "x", "")
VALUES = (
    "#REF!",
    "1e400",
    "-5",
    "60",
    "0.99999999",
    "2958466",
    "1e15",
    "1234567890123456789",
    "TRUE",
    "2020-13-45",
    "99999",
    "",
)


def workbook(sheets: Sheets) -> bytes:
    """A good .xlsx, smallest kind."""
    return packed(parts_of(sheets))


def parts_of(sheets: Sheets) -> Parts:
    """Its parts by name."""
    texts: dict[str, int] = {}
    bodies = [_sheet(rows, texts) for _, rows in sheets]
    strings = "".join(f'<si><t xml:space="preserve">{_safe(text)}</t></si>' for text in texts)
    numbers = range(1, len(sheets) + 1)
    listed = "".join(f'<sheet name="{_safe(sheets[n - 1][0])}" sheetId="{n}" r:id="rId{n}"/>' for n in numbers)
    links = "".join(
        f'<Relationship Id="rId{n}" Type="{RELATIONS}/worksheet" Target="worksheets/sheet{n}.xml"/>' for n in numbers
    )
    kind = "application/vnd.openxmlformats-officedocument.spreadsheetml"
    types = "".join(
        f'<Override PartName="/xl/worksheets/sheet{n}.xml" ContentType="{kind}.worksheet+xml"/>' for n in numbers
    )
    parts = {
        "[Content_Types].xml": f'<Types xmlns="{PACKAGE}/content-types"><Default Extension="rels" '
        f'ContentType="application/vnd.openxmlformats-package.relationships+xml"/>'
        '<Default Extension="xml" ContentType="application/xml"/>'
        f'<Override PartName="/xl/workbook.xml" ContentType="{kind}.sheet.main+xml"/>{types}'
        f'<Override PartName="/xl/styles.xml" ContentType="{kind}.styles+xml"/>'
        f'<Override PartName="/xl/sharedStrings.xml" ContentType="{kind}.sharedStrings+xml"/></Types>',
        "_rels/.rels": f'<Relationships xmlns="{PACKAGE}/relationships"><Relationship Id="rId1" '
        f'Type="{RELATIONS}/officeDocument" Target="xl/workbook.xml"/></Relationships>',
        "xl/workbook.xml": f'<workbook xmlns="{MAIN}" xmlns:r="{RELATIONS}"><sheets>{listed}</sheets></workbook>',
        "xl/_rels/workbook.xml.rels": f'<Relationships xmlns="{PACKAGE}/relationships">{links}'
        f'<Relationship Id="rId98" Type="{RELATIONS}/styles" Target="styles.xml"/>'
        f'<Relationship Id="rId99" Type="{RELATIONS}/sharedStrings" Target="sharedStrings.xml"/></Relationships>',
        "xl/styles.xml": f'<styleSheet xmlns="{MAIN}"><fonts><font/></fonts><fills><fill><patternFill/></fill></fills>'
        "<borders><border/></borders><cellStyleXfs><xf/></cellStyleXfs>"
        '<cellXfs><xf/><xf numFmtId="14"/></cellXfs></styleSheet>',
        "xl/sharedStrings.xml": f'<sst xmlns="{MAIN}">{strings}</sst>',
    }
    parts |= {f"xl/worksheets/sheet{n}.xml": body for n, body in enumerate(bodies, 1)}
    return {name: (HEAD + text).encode() for name, text in parts.items()}


def _safe(text: str) -> str:
    return escape(_NO_XML.sub("?", text), {'"': "&quot;"})


def _sheet(rows: list[list[str]], texts: dict[str, int]) -> str:
    lines = []
    for r, row in enumerate(rows, 1):
        cells = "".join(
            f'<c r="{_letters(c)}{r}" t="s"><v>{texts.setdefault(text, len(texts))}</v></c>'
            for c, text in enumerate(row[:700]) if text
        )  # fmt: skip
        lines.append(f'<row r="{r}">{cells}</row>')
    return f'<worksheet xmlns="{MAIN}"><dimension ref="A1"/><sheetData>{"".join(lines)}</sheetData></worksheet>'


def _letters(number: int) -> str:
    letters = ""
    number += 1
    while number:
        number, rest = divmod(number - 1, 26)
        letters = chr(ord("A") + rest) + letters
    return letters


def packed(parts: Parts, way: int = zipfile.ZIP_DEFLATED) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", way, compresslevel=1) as archive:
        for name, content in parts.items():
            archive.writestr(name, content)
    return out.getvalue()


def bad_workbook(chance: random.Random, sheets: Sheets) -> bytes:
    """An .xlsx damaged in one to three ways."""
    parts = parts_of(sheets)
    for _ in range(chance.choice((0, 1, 1, 1, 2, 3))):
        chance.choice(WAYS)(chance, parts)
    content = packed(
        parts, chance.choice((zipfile.ZIP_DEFLATED, zipfile.ZIP_DEFLATED, zipfile.ZIP_STORED, zipfile.ZIP_LZMA))
    )
    return chance.choice(ZIPS)(chance, content) if chance.random() < 0.3 else content


def _swap(chance: random.Random, parts: Parts, pattern: str, new: str, part: str = _SHEET) -> None:
    """Exchange one place of a part that fits a pattern."""
    text = parts.get(part, b"").decode("utf-8", "replace")
    found = list(re.finditer(pattern, text))
    if found:
        one = chance.choice(found)
        parts[part] = (text[: one.start()] + new + text[one.end() :]).encode("utf-8", "replace")


def _wrong_row(chance: random.Random, parts: Parts) -> None:
    new = chance.choice((f'<row r="{chance.choice(ROWS)}"', "<row", '<row hidden="1" r="2"', '<row r="2" r="3"'))
    _swap(chance, parts, r'<row r="[^"]*"', new)


def _wrong_cell(chance: random.Random, parts: Parts) -> None:
    new = chance.choice(
        (f'<c r="{chance.choice(PLACES)}"', "<c", f'<c s="{chance.choice(NUMBERS)}"', '<c r="B2" s="1"')
    )
    _swap(chance, parts, r'<c r="[^"]*"', new)


def _wrong_value(chance: random.Random, parts: Parts) -> None:
    value = chance.choice((chance.choice(VALUES), _safe(word(chance)), _safe(chance.choice(NUMBERS))))
    kind, style = chance.choice(TYPES), chance.choice(("", ' s="1"', ' s="99"'))
    inner = chance.choice((
        f"<v>{value}</v>", f"<f>1+1</f><v>{value}</v>", "<f>1+1</f>", f"<is><t>{value}</t></is>",
        f"<is><r><t>{value}</t></r></is>",
        f'<f t="array" ref="A1:XFD1048576">A1</f><v>{value}</v>', f'<f t="shared" si="7">A1</f><v>{value}</v>',
        "<v/>", "",
        f"<v>{value}</v><v>{value}</v>", "<is><t>x</t><rPh><t>y</t></rPh></is>", f"<f>{'(' * 500}</f><v>1</v>",
        '<f t="dataTable" ref="A1:B2" dt2D="1" r1="A1" r2="B1"/>',
        f'<f t="shared" ref="A1:A9" si="0">B1</f><v>{value}</v>',
    ))  # fmt: skip
    _swap(chance, parts, r' t="s"><v>[0-9]+</v>', f'{style} t="{kind}">{inner}')


def _wrong_string(chance: random.Random, parts: Parts) -> None:
    if chance.random() < 0.5:
        return _swap(chance, parts, r"<v>[0-9]+</v>", f"<v>{chance.choice(NUMBERS)}</v>")
    new = chance.choice(
        ("<si/>", "<si><t/></si>", "<si><r><t>a</t></r><r><t>b</t></r></si>", "<si><phoneticPr/></si>", "</si>", "<x>")
    )
    return _swap(chance, parts, r"<si>.*?</si>", new, "xl/sharedStrings.xml")


def _entities(chance: random.Random, parts: Parts) -> None:
    name = chance.choice(list(parts))
    dtd = chance.choice(
        (
            BOMB,
            OUTSIDE,
            "<!DOCTYPE x>",
            "<!-- " + "x" * 70_000 + " -->" + BOMB,
            "<!DOCTYPE x SYSTEM 'http://localhost/x'>",
        )
    )
    text = parts[name].decode("utf-8", "replace").replace(HEAD, HEAD + dtd, 1)
    parts[name] = re.sub(
        "<v>|<t[^>]*>", lambda found: found[0] + chance.choice(("&a9;", "&x;")), text, count=1
    ).encode()
    if chance.random() < 0.3:
        parts[name] = parts[name].decode().replace('encoding="UTF-8"', 'encoding="UTF-16"').encode("utf-16")


def _damaged_part(chance: random.Random, parts: Parts) -> None:
    name = chance.choice(list(parts))
    if chance.random() < 0.5:
        parts[name] = damage_bytes(chance, parts[name])
    else:
        parts[name] = damage_words(chance, parts[name].decode("utf-8", "replace"), r'"[^"]*"|[\w.]+').encode(
            "utf-8", "replace"
        )


def _lost_part(chance: random.Random, parts: Parts) -> None:
    del parts[chance.choice(list(parts))]


def _renamed_part(chance: random.Random, parts: Parts) -> None:
    name = chance.choice(list(parts))
    new = chance.choice(
        (
            name.upper(),
            "../" + name,
            "/" + name,
            name.replace("/", "\\"),
            "xl/../" + name,
            "x" * 300,
            "xl/sheet\u00e9.xml",
        )
    )
    parts[new] = parts.pop(name)


def _wrong_link(chance: random.Random, parts: Parts) -> None:
    targets = (
        "../../etc/passwd",
        "/etc/passwd",
        "worksheets/none.xml",
        "",
        "http://localhost/x",
        "styles.xml",
        "workbook.xml",
        "../_rels/.rels",
    )
    name = chance.choice([name for name in parts if name.endswith(".rels")] or list(parts))
    _swap(chance, parts, r'Target="[^"]*"', f'Target="{chance.choice(targets)}"', name)


def _many(chance: random.Random, parts: Parts) -> None:
    """Very many of something small."""
    way, count = chance.randrange(6), chance.choice((600, 20_000))
    cell = '<c t="inlineStr"><is><t>x</t></is></c>'
    if way == 0:
        _swap(chance, parts, "</row>", cell * count + "</row>")
    elif way == 1:
        _swap(chance, parts, "</sheetData>", f"<row>{cell}</row>" * count + "</sheetData>")
    elif way == 2:
        _swap(chance, parts, "</sst>", "<si><t>y</t></si>" * count + "</sst>", "xl/sharedStrings.xml")
    elif way == 3:
        _swap(chance, parts, "<sheetData>", "<x>" * count + "<sheetData>")
    elif way == 4:
        parts.update({f"xl/x{n}.xml": b"<x/>" for n in range(min(count, 2100))})
    else:
        _swap(
            chance,
            parts,
            "</sheets>",
            '<sheet name="x" sheetId="1" r:id="rId1"/>' * min(count, 600) + "</sheets>",
            "xl/workbook.xml",
        )


def _bomb(chance: random.Random, parts: Parts) -> None:
    """A part that unpacks to far more than it takes."""
    name = chance.choice((_SHEET, "xl/sharedStrings.xml", "xl/media/image1.png", "docProps/core.xml"))
    parts[name] = parts.get(name, b"") + b" " * chance.choice((5_000_000, 5_000_000, 5_000_000, 280_000_000))


def _wrong_head(chance: random.Random, parts: Parts) -> None:
    name = chance.choice(list(parts))
    head = chance.choice(
        (
            "",
            '<?xml version="1.1"?>',
            '<?xml version="1.0" encoding="klingon"?>',
            '<?xml version="1.0" encoding="UTF-16"?>',
            "<?xml?>",
            HEAD * 2,
            "\ufeff" + HEAD,
            " " + HEAD,
        )
    )
    text = parts[name].decode("utf-8", "replace").replace(HEAD, head, 1)
    parts[name] = text.encode(chance.choice(("utf-8", "utf-8", "utf-16", "latin-1")), "replace")


def _merged(chance: random.Random, parts: Parts) -> None:
    ref = chance.choice(("A1:A3", "A1:XFD1048576", "A2:" + "A" * 50 + "9", "A1:A" + "9" * 5000, "A3:A1", "", "A1"))
    _swap(chance, parts, "</sheetData>", f'</sheetData><mergeCells><mergeCell ref="{ref}"/></mergeCells>')


def _hidden(chance: random.Random, parts: Parts) -> None:
    way = chance.randrange(4)
    if way == 0:
        _swap(
            chance,
            parts,
            "<sheet ",
            f'<sheet state="{chance.choice(("hidden", "veryHidden", "x"))}" ',
            "xl/workbook.xml",
        )
    elif way == 1:
        _swap(
            chance,
            parts,
            r'<dimension ref="A1"/>',
            f'<dimension ref="{chance.choice(("A1:XFD1048576", "x", "", "A1:A2147483648"))}"/>',
        )
    elif way == 2:
        name = escape(chance.choice(("kits", "KITS", "", "x" * 300, "a/b", "'", "orders")), {'"': "&quot;"})
        _swap(chance, parts, r'sheet name="[^"]*"', f'sheet name="{name}"', "xl/workbook.xml")
    else:
        date = chance.choice(("1", "true", "x"))
        _swap(chance, parts, "<sheets>", f'<workbookPr date1904="{date}"/><sheets>', "xl/workbook.xml")


def _other_namespace(chance: random.Random, parts: Parts) -> None:
    name = chance.choice([_SHEET, "xl/workbook.xml", "xl/sharedStrings.xml"])
    new = chance.choice((STRICT, "", "urn:x")).encode()
    parts[name] = parts.get(name, b"").replace(MAIN.encode(), new)


WAYS: tuple[Callable[[random.Random, Parts], None], ...] = (
    _wrong_row, _wrong_row, _wrong_cell, _wrong_cell, _wrong_value, _wrong_value, _wrong_value, _wrong_string,
    _entities,
    _damaged_part, _damaged_part, _lost_part, _renamed_part, _wrong_link, _many, _bomb, _wrong_head, _merged, _hidden,
    _other_namespace,
)  # fmt: skip


def _protected(_: random.Random, content: bytes) -> bytes:
    """The bit that says a part is encrypted (APPNOTE 4.4.4), in both places."""
    local = re.sub(rb"(PK\x03\x04..)..", lambda found: found[1] + b"\x01\x00", content, flags=re.DOTALL)
    return re.sub(rb"(PK\x01\x02....)..", lambda found: found[1] + b"\x01\x00", local, flags=re.DOTALL)


def _wrong_sizes(chance: random.Random, content: bytes) -> bytes:
    """Sizes in the directory that are not those of the parts."""
    changed = bytearray(content)
    places = [found.start() for found in re.finditer(rb"PK\x01\x02", content)]
    at = chance.choice(places) + chance.choice((16, 20, 24, 42))
    changed[at : at + 4] = struct.pack("<I", chance.choice((0, 1, 0xFFFFFFFF, 0x7FFFFFFF, 1000, 2**28)))
    return bytes(changed)


def _wrong_way(chance: random.Random, content: bytes) -> bytes:
    """A way of packing that nobody knows, or another than it is."""
    way = struct.pack("<H", chance.choice((0, 1, 6, 8, 9, 12, 14, 93, 99)))
    changed = re.sub(
        rb"PK\x01\x02(.{6})..", lambda found: b"PK\x01\x02" + found[1] + way, content, count=1, flags=re.DOTALL
    )
    return re.sub(
        rb"PK\x03\x04(.{4})..", lambda found: b"PK\x03\x04" + found[1] + way, changed, count=1, flags=re.DOTALL
    )


def _doubled_part(chance: random.Random, content: bytes) -> bytes:
    """Two parts of one name, of which the directory and a stream see different ones."""
    out = io.BytesIO(content)
    with zipfile.ZipFile(out, "a") as archive:
        archive.writestr(chance.choice(archive.infolist()).filename.replace("x", "x"), b"<x/>")
    return out.getvalue()


def _around(chance: random.Random, content: bytes) -> bytes:
    """Something before or after the zip."""
    extra = chance.randbytes(50)
    return chance.choice(
        (
            content + extra,
            extra + content,
            content[:4] + content,
            content + content,
            content + b"PK\x05\x06" + bytes(18),
        )
    )


ZIPS: tuple[Callable[[random.Random, bytes], bytes], ...] = (
    damage_bytes, damage_bytes, _protected, _wrong_sizes, _wrong_sizes, _wrong_way, _doubled_part, _around,
)  # fmt: skip
