"""A folder of SVGs drawn here and by Chromium, and how far the two are from each other.

    python tests/bench/formats_truth.py FOLDER [--side 240] [--show DIR]

An open corpus: Debian's package librsvg2-tests (`apt-get download librsvg2-tests`, `dpkg-deb -x`) holds the W3C's SVG
1.1 suite and the tests of librsvg, under fixtures/reftests. Chromium shows each as a static image, which may lead
nowhere outside, as ours. A file is off by the share of its pixels that differ by more than 32 levels over white:
edges are smoothed differently. Those with letters are told apart, since the typefaces of this computer decide.
"""

from __future__ import annotations

import argparse
import base64
import io
import shutil
import subprocess
import tempfile
from pathlib import Path

import numpy as np
from PIL import Image

from impose.errors import Trouble
from impose.formats.renderer import RENDERER
from impose.formats.svg_guard import walk_svg

IN_A_PAGE = 30
FLAGS = ["--headless", "--no-sandbox", "--disable-gpu", "--hide-scrollbars", "--disable-background-networking"]


def browse(contents: list[bytes], side: int) -> list[np.ndarray]:
    """What Chromium makes of each drawing, fitted into a square."""
    style = f"body{{margin:0;background:#fff}}img{{display:block;width:{side}px;height:{side}px;object-fit:contain}}"
    pictures = "".join(
        f'<img src="data:image/svg+xml;base64,{base64.b64encode(content).decode()}">' for content in contents
    )
    with tempfile.TemporaryDirectory() as folder:
        page, shot = Path(folder, "page.html"), Path(folder, "shot.png")
        page.write_text(f"<style>{style}</style>{pictures}")
        size = [f"--window-size={side},{side * len(contents)}", f"--screenshot={shot}"]
        browser = shutil.which("chromium") or "chromium"
        subprocess.run([browser, *FLAGS, *size, page.as_uri()], check=True, capture_output=True, timeout=300)
        seen = np.asarray(Image.open(shot).convert("RGB")).astype(int)
    return [seen[side * i : side * (i + 1)] for i in range(len(contents))]


def draw(content: bytes, name: str, side: int) -> tuple[np.ndarray, bool]:
    """What is printed of a drawing, in the same square, and whether letters are in it. Raises `Trouble`."""
    walked = walk_svg(content, name)
    _, made = RENDERER.ask("svg", name, walked.text.encode(), side=side, lettered=walked.lettered)
    drawn = Image.open(io.BytesIO(made)).convert("RGBA")
    square = Image.new("RGB", (side, side), "white")
    square.paste(drawn, ((side - drawn.width) // 2, (side - drawn.height) // 2), drawn)
    return np.asarray(square).astype(int), walked.lettered


def compare(paths: list[Path], side: int, show: Path | None) -> list[tuple[float, bool, str]]:
    """For each drawing that is taken: the share that is off, whether it is lettered, and its name."""
    found = []
    for start in range(0, len(paths), IN_A_PAGE):
        taken = []
        for path in paths[start : start + IN_A_PAGE]:
            try:
                taken.append((path, *draw(path.read_bytes(), path.name, side)))
            except Trouble as trouble:
                found.append((-1.0, False, f"{path.name}: {trouble.findings[0].kind}"))
        shown = browse([path.read_bytes() for path, *_ in taken], side) if taken else []
        for (path, ours, lettered), theirs in zip(taken, shown, strict=True):
            off = float((np.abs(ours - theirs).max(axis=2) > 32).mean())
            found.append((off, lettered, path.name))
            if show is not None and off > 0.02:
                pair = np.concatenate([ours, theirs], axis=1).astype(np.uint8)
                Image.fromarray(pair).save(show / f"{off:.3f}-{path.stem}.png")
    return found


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("folder", type=Path)
    parser.add_argument("--side", type=int, default=240)
    parser.add_argument("--show", type=Path)
    asked = parser.parse_args()
    found = compare(sorted(asked.folder.rglob("*.svg")), asked.side, asked.show)
    refused = [name for off, _, name in found if off < 0]
    print(f"{len(found)} drawings, {len(refused)} refused: {', '.join(refused)}")
    for lettered in (False, True):
        off = np.array([share for share, has, _ in found if share >= 0 and has is lettered])
        if len(off):
            told = ", ".join(f"{np.count_nonzero(off <= most)} within {most:.1%}" for most in (0.001, 0.01, 0.02, 0.05))
            print(f"{'with' if lettered else 'without'} letters {len(off)}: median {np.median(off):.3%}, {told}")
    for off, lettered, name in sorted(found, reverse=True)[:40]:
        print(f"  {off:.1%} {'letters ' if lettered else ''}{name}")


if __name__ == "__main__":
    main()
