"""A PDF written by PyMuPDF object by object: nothing is deflated twice, and nothing is looked for to be drawn on.

The library's ways of making pages find their way through all pages for each new one, and a key set at a time is a
parse at a time. Here every object, the page tree's too, is handed over once, in one piece, its stream deflated already;
cross-reference table and file are the library's work.
"""

from __future__ import annotations

import errno
from collections.abc import Mapping
from functools import lru_cache
from pathlib import Path
from typing import Any, BinaryIO

from impose.art.codec import best_codec
from impose.units import POINTS_PER_MM

VIEWING = "/PrintScaling/None/Enforce[/PrintScaling]/PickTrayByPDFSize true/Duplex/Simplex/DisplayDocTitle true"
"""Actual size, one side, the tray that fits (ISO 32000-2, 12.2): sheets and tickets alike."""

_VERSION = "/Version/2.0"  # the first that knows `Enforce`
_LEVEL = 6
_FANOUT = 64
"""Pages under one node of the page tree, so that a reader finds the last of thousands quickly (7.7.3.3)."""


class PdfFile:
    """A document under construction; `save` writes it, `close` lets it go.

    Objects are known by their numbers. A number may be reserved and given to other objects before its own is put.
    """

    def __init__(self) -> None:
        import pymupdf  # loaded late: it takes a third of a second

        self._library = pymupdf
        self._document: Any = pymupdf.open()
        self._pdf = pymupdf.mupdf.PdfDocument(self._document.this)
        self._lexer = pymupdf.mupdf.PdfLexbuf(pymupdf.mupdf.PDF_LEXBUF_SMALL)
        self._root = int(self._document.xref_get_key(self._document.pdf_catalog(), "Pages")[1].split()[0])
        self._nodes: list[tuple[int, list[int]]] = []
        self._lent: list[bytes] = []

    def __enter__(self) -> PdfFile:
        return self

    def __exit__(self, *_: object) -> None:
        self.close_document()

    def close_document(self) -> None:
        """Let the document go."""
        self._document.close()
        self._lent.clear()

    def reserve_object(self) -> int:
        """A number for an object that is put later."""
        number: int = self._library.mupdf.pdf_create_object(self._pdf)
        return number

    def put_object(self, number: int, body: str) -> None:
        """Give the object of a reserved number; `body` is PDF, ASCII."""
        self._library.mupdf.pdf_update_object(self._pdf, number, self._parse_object(body))

    def _parse_object(self, body: str) -> Any:
        """A body as the library holds it: by its inner calls, since `Document.update_object` takes twice as long."""
        mupdf = self._library.mupdf
        stream = mupdf.fz_open_buffer(mupdf.fz_new_buffer_from_copied_data(body.encode()))
        return mupdf.pdf_parse_stm_obj(self._pdf, stream, self._lexer)

    def add_object(self, body: str) -> int:
        """Add an object; returns its number."""
        number = self.reserve_object()
        self.put_object(number, body)
        return number

    def add_stream(self, keys: str, content: bytes) -> int:
        """Add a stream, deflated here; `keys` are those of its dictionary but for filter and length."""
        return self.add_deflated_stream(keys, best_codec().library.compress(content, _LEVEL))

    def add_deflated_stream(self, keys: str, content: bytes, packed: str = "FlateDecode") -> int:
        """Add a stream whose bytes are deflated already: the library reads them where they lie, until it is let go.

        `packed` names another filter that undoes what was done to them.
        """
        mupdf = self._library.mupdf
        self._lent.append(content)
        shared = mupdf.fz_new_buffer_from_shared_data(mupdf.python_buffer_data(content), len(content))
        made = mupdf.pdf_add_stream(self._pdf, shared, self._parse_object(f"<<{keys}/Filter/{packed}>>"), 1)
        number: int = mupdf.pdf_to_num(made)
        return number

    def add_page(self, keys: str) -> int:
        """Add the next page; `keys` are those of its dictionary but for type and parent."""
        if not self._nodes or len(self._nodes[-1][1]) == _FANOUT:
            self._nodes.append((self.reserve_object(), []))
        node, pages = self._nodes[-1]
        pages.append(self.add_object(f"<</Type/Page/Parent {node} 0 R{keys}>>"))
        return pages[-1]

    def save_document(self, target: Path | BinaryIO, catalog: str, title: str, ident: str) -> None:
        """Write the document. `catalog` are its keys but for type, version and pages; `ident` is hexadecimal.

        Raises OSError if the system does not let it.
        """
        mupdf = self._library.mupdf
        for node, pages in self._nodes:
            self.put_object(
                node, f"<</Type/Pages/Parent {self._root} 0 R/Count {len(pages)}/Kids[{_encode_references(pages)}]>>"
            )
        count = sum(len(pages) for _, pages in self._nodes)
        self.put_object(
            self._root, f"<</Type/Pages/Count {count}/Kids[{_encode_references([n for n, _ in self._nodes])}]>>"
        )
        self.put_object(self._document.pdf_catalog(), f"<</Type/Catalog{_VERSION}/Pages {self._root} 0 R{catalog}>>")
        described = self.add_object(f"<</Title{self._library.get_pdf_str(title)}>>")
        trailer = mupdf.pdf_trailer(self._pdf)
        mupdf.pdf_dict_puts(trailer, "Info", mupdf.pdf_new_indirect(self._pdf, described, 0))
        mupdf.pdf_dict_puts(trailer, "ID", self._parse_object(f"[<{ident}><{ident}>]"))
        try:
            # No garbage collection, cleaning or second deflating: nothing is gained, and the identifier is our own.
            self._document.save(str(target) if isinstance(target, Path) else target, no_new_id=1)
        except mupdf.FzErrorSystem as error:
            # Mostly a full disk. The library keeps the system's words and loses its number.
            raise OSError(errno.EIO, str(error).rpartition(": ")[2], str(target)) from error


def encode_text(words: str) -> str:
    """A text string: as it is where that is safe, else UTF-16 with its mark, in hexadecimal (7.9.2.2)."""
    if words.isascii() and words.isprintable() and not set(words) & set("()\\"):
        return f"({words})"
    return f"<feff{words.encode('utf-16-be', 'replace').hex()}>"


def encode_boxes(width_mm: float, height_mm: float) -> str:
    """A page's boxes, all of its size, so that they nest (14.11.2)."""
    box = f"[0 0 {encode_number(width_mm * POINTS_PER_MM)} {encode_number(height_mm * POINTS_PER_MM)}]"
    return "".join(f"/{name}{box}" for name in ("MediaBox", "CropBox", "BleedBox", "TrimBox"))


@lru_cache(maxsize=4096)
def encode_number(value: float) -> str:
    """A PDF number: at most six decimals (a third of a nanometre), no exponent, no trailing zeros."""
    text = f"{value:.6f}".rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text


def encode_dictionary(entries: Mapping[str, int]) -> str:
    """References by name."""
    return f"<<{''.join(f'/{name} {number} 0 R' for name, number in entries.items())}>>"


def _encode_references(numbers: list[int]) -> str:
    return " ".join(f"{number} 0 R" for number in numbers)
