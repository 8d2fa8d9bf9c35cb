"""Pages as pictures, for a look without a PDF reader: rendered from the file that was written, never from the plan."""

from __future__ import annotations

from pathlib import Path

LARGEST = 40_000_000
"""Pixels of one preview. A long piece of roll is rendered smaller rather than not at all."""


def write_previews(path: Path, folder: Path, ppi: int) -> list[Path]:
    """A PNG of every page of the PDF at `path`, as `<its stem>-<page>.png` in `folder`, at `ppi` pixels an inch.

    The file says its resolution. A page of more than `LARGEST` pixels is rendered at the most that stays below.
    """
    import pymupdf

    folder.mkdir(exist_ok=True)
    written = []
    with pymupdf.open(str(path)) as document:
        for number, page in enumerate(document, 1):
            inches = page.rect.width / 72 * page.rect.height / 72
            fine = max(1, min(ppi, int((LARGEST / inches) ** 0.5)))
            target = folder / f"{path.stem}-{number}.png"
            page.get_pixmap(dpi=fine, alpha=False).save(str(target))
            written.append(target)
    return written
