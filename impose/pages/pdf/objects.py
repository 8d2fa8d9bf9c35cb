"""A PDF written object by object: what has been put is in the file and takes no memory here (ISO 32000-2, 7.5).

PyMuPDF holds a whole document until it saves it, and finds its way through all pages for each new one. It reads back
what is written here, so that the one who checks is not the one who wrote; and the bytes hang on no library but the
deflating one, which the record names.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import BinaryIO

from impose.art.codec import codec

HEADER = b"%PDF-2.0\n%\xc2\xb5\xc2\xb6\n"
"""2.0 is the first that knows `Enforce`. The second line's high bytes say that the file is no text (7.5.2)."""

VIEWING = "/PrintScaling/None/Enforce[/PrintScaling]/PickTrayByPDFSize true/Duplex/Simplex/DisplayDocTitle true"
"""Actual size, one side, the tray that fits (12.2): sheets and tickets alike."""

_LEVEL = 6
_FANOUT = 64
"""Pages under one node of the page tree, so that a reader finds the last of thousands quickly (7.7.3.3)."""


class PdfFile:
    """A document being written to a file that is open for writing bytes; `finish` makes it whole.

    Objects are known by their numbers. A number may be reserved and given to other objects before its own is put.
    """

    def __init__(self, file: BinaryIO) -> None:
        self._file = file
        self._at = 0
        self._offsets: list[int] = [0]  # of every object by number, 0 where it is still owed
        self._nodes: list[tuple[int, list[int]]] = []
        self._write(HEADER)
        self._catalog, self._root = self.reserve(), self.reserve()

    def reserve(self) -> int:
        """A number for an object that is put later."""
        self._offsets.append(0)
        return len(self._offsets) - 1

    def put(self, number: int, body: str) -> None:
        """Write the object of a reserved number; `body` is PDF, ASCII."""
        self._object(number, body.encode("ascii"))

    def add(self, body: str) -> int:
        """Write an object; returns its number."""
        number = self.reserve()
        self.put(number, body)
        return number

    def stream(self, keys: str, content: bytes) -> int:
        """Write a stream, deflated here; `keys` are those of its dictionary but for filter and length."""
        deflated: bytes = codec().library.compress(content, _LEVEL)
        return self.deflated(keys, deflated)

    def deflated(self, keys: str, content: bytes) -> int:
        """Write a stream whose bytes are deflated already, as they are."""
        number = self.reserve()
        head = f"<<{keys}/Filter/FlateDecode/Length {len(content)}>>\nstream\n".encode("ascii")
        self._object(number, head, content, b"\nendstream")
        return number

    def page(self, keys: str) -> int:
        """Write the next page; `keys` are those of its dictionary but for type and parent."""
        if not self._nodes or len(self._nodes[-1][1]) == _FANOUT:
            self._nodes.append((self.reserve(), []))
        node, pages = self._nodes[-1]
        pages.append(self.add(f"<</Type/Page/Parent {node} 0 R{keys}>>"))
        return pages[-1]

    def finish(self, catalog: str, title: str, ident: str) -> None:
        """Write what leads to the pages. `catalog` are its keys but for type and pages; `ident` is hexadecimal."""
        for node, pages in self._nodes:
            self.put(node, f"<</Type/Pages/Parent {self._root} 0 R/Count {len(pages)}/Kids[{_references(pages)}]>>")
        count = sum(len(pages) for _, pages in self._nodes)
        self.put(self._root, f"<</Type/Pages/Count {count}/Kids[{_references([n for n, _ in self._nodes])}]>>")
        self.put(self._catalog, f"<</Type/Catalog/Pages {self._root} 0 R{catalog}>>")
        info = self.add(f"<</Title {text(title)}>>")
        self._index(f"/Root {self._catalog} 0 R/Info {info} 0 R/ID[<{ident}><{ident}>]")

    def _index(self, trailer: str) -> None:
        """The cross-reference table, 20 bytes an object (7.5.4), and the trailer."""
        owed = [number for number, offset in enumerate(self._offsets) if number and not offset]
        if owed:
            raise RuntimeError(f"objects were reserved and never put: {owed}")
        start, size = self._at, len(self._offsets)
        entries = "".join(f"{offset:010} 00000 n \n" for offset in self._offsets[1:])
        self._write(f"xref\n0 {size}\n0000000000 65535 f \n{entries}".encode("ascii"))
        self._write(f"trailer\n<</Size {size}{trailer}>>\nstartxref\n{start}\n%%EOF\n".encode("ascii"))

    def _object(self, number: int, *parts: bytes) -> None:
        if self._offsets[number]:
            raise RuntimeError(f"object {number} was put twice")
        self._offsets[number] = self._at
        self._write(b"%d 0 obj\n" % number)
        for part in parts:
            self._write(part)
        self._write(b"\nendobj\n")

    def _write(self, content: bytes) -> None:
        self._file.write(content)
        self._at += len(content)


def text(words: str) -> str:
    """A text string: as it is where that is safe, else UTF-16 with its mark, in hexadecimal (7.9.2.2)."""
    if words.isascii() and words.isprintable() and not set(words) & set("()\\"):
        return f"({words})"
    return f"<feff{words.encode('utf-16-be', 'replace').hex()}>"


def dictionary(entries: Mapping[str, int]) -> str:
    """References by name."""
    return f"<<{''.join(f'/{name} {number} 0 R' for name, number in entries.items())}>>"


def _references(numbers: list[int]) -> str:
    return " ".join(f"{number} 0 R" for number in numbers)
