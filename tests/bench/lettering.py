"""How long labels take, against PyMuPDF's own text writer, in the same run.

    python tests/bench/lettering.py [--labels 50 800 10000]

Labels of about 60 characters in ten scripts, 50 a page, every one different. Each way and count runs in a process of
its own, so that peak memory is its own; times are wall clock and take in shaping, writing, embedding and saving, not
the start of Python. The peer (`TextWriter` with `subset_fonts`) neither joins Arabic nor reorders Devanagari: it is
the yardstick for cost, not for looks.
"""

from __future__ import annotations

import argparse
import json
import resource
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from impose.pages.pdf.font_book import FontBook, ShippedFonts
from impose.pages.pdf.pdf_file import PdfFile
from impose.type.lettering import TextShaper

NAMES = (
    "Zoë Wójcik-Nguyễn", "Ελένη Παπαδοπούλου", "Қайрат Щербаков", "محمد عبد الله", "שרה לוי כהן",
    "क्षितिज श्रीनिवास", "กำธร ศรีสุวรรณ", "王小明 欧阳", "さくら ヤマダ", "김민수 박서연",
)  # fmt: skip
A_PAGE = 50


def labels(count: int) -> list[list[str]]:
    """`count` labels, no two alike."""
    return [
        [f"K7Q T{i:05d}", f"Order {1000 + i // 7}", f"{NAMES[i % len(NAMES)]} {i}", "Adult 2XL", "left-chest UP"]
        for i in range(count)
    ]


def ours(count: int, path: Path) -> None:
    """Shaped by HarfBuzz, one Type 0 font a face, one content stream a page."""
    lettering = TextShaper(ShippedFonts())
    with PdfFile() as document:
        book = FontBook(document, lettering)
        fonts = document.reserve_object()
        every = labels(count)
        for start in range(0, count, A_PAGE):
            parts = [
                book.text_operators(lettering.shape_line(fields), 36, 800 - 15 * at, 6)
                for at, fields in enumerate(every[start : start + A_PAGE])
            ]
            contents = document.add_stream("", b"".join(parts))
            document.add_page(f"/MediaBox[0 0 595 842]/Contents {contents} 0 R/Resources<</Font {fonts} 0 R>>")
        document.put_object(fonts, f"<<{book.embed_fonts()}>>")
        document.save_document(path, "", "labels", "00" * 16)


def peer(count: int, path: Path) -> None:
    """PyMuPDF's text writer, a font chosen for each script, subset at the end."""
    import pymupdf

    ucdn = pymupdf.mupdf
    scripts = (ucdn.UCDN_SCRIPT_LATIN, ucdn.UCDN_SCRIPT_LATIN, ucdn.UCDN_SCRIPT_LATIN, ucdn.UCDN_SCRIPT_ARABIC,
               ucdn.UCDN_SCRIPT_HEBREW, ucdn.UCDN_SCRIPT_DEVANAGARI, ucdn.UCDN_SCRIPT_THAI, ucdn.UCDN_SCRIPT_HAN,
               ucdn.UCDN_SCRIPT_HAN, ucdn.UCDN_SCRIPT_HAN)  # fmt: skip
    faces = {script: pymupdf.Font(script=script) for script in dict.fromkeys(scripts)}
    latin = faces[ucdn.UCDN_SCRIPT_LATIN]
    document = pymupdf.open()
    every = labels(count)
    for start in range(0, count, A_PAGE):
        page = document.new_page()
        writer = pymupdf.TextWriter(page.rect)
        for at, fields in enumerate(every[start : start + A_PAGE]):
            place = pymupdf.Point(36, 42 + 15 * at)
            for field_at, field in enumerate(fields):
                font = faces[scripts[(start + at) % len(scripts)]] if field_at == 2 else latin
                _, place = writer.append(place, field + "   ", font=font, fontsize=6)
        writer.write_text(page)
    document.subset_fonts()
    document.save(str(path), deflate=True)


WAYS = {"ours": ours, "peer": peer}


def measured(way: str, count: int) -> dict[str, float]:
    """One way and count in a process of its own."""
    done = subprocess.run(
        [sys.executable, __file__, "--one", way, str(count)], check=True, capture_output=True, text=True
    )
    result: dict[str, float] = json.loads(done.stdout.splitlines()[-1])
    return result


def one(way: str, count: int) -> None:
    """Run one way here and print what it took."""
    import pymupdf  # noqa: F401  (its start is nobody's cost)
    import uharfbuzz  # noqa: F401

    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "labels.pdf"
        start = time.perf_counter()
        WAYS[way](count, path)
        seconds = time.perf_counter() - start
        size = path.stat().st_size
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(json.dumps({"seconds": seconds, "kilobytes": size / 1000, "megabytes_peak": peak}))


def main() -> None:
    """Print a table of both ways."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--labels", nargs="+", type=int, default=[50, 800, 10000])
    parser.add_argument("--one", nargs=2, metavar=("WAY", "COUNT"), help=argparse.SUPPRESS)
    asked = parser.parse_args()
    if asked.one:
        one(asked.one[0], int(asked.one[1]))
        return
    print(f"{'labels':>7} {'way':5} {'seconds':>8} {'ms each':>8} {'file kB':>9} {'peak MB':>8}")
    for count in asked.labels:
        for way in WAYS:
            took = measured(way, count)
            each = took["seconds"] * 1000 / count
            row = f"{count:>7} {way:5} {took['seconds']:>8.2f} {each:>8.3f}"
            print(f"{row} {took['kilobytes']:>9.0f} {took['megabytes_peak']:>8.0f}")


if __name__ == "__main__":
    main()
