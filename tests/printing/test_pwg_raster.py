"""PWG Raster unpacked by a reader written from the standard (PWG 5102.4, 4.3 and 4.4): the dots that went in."""

from __future__ import annotations

import struct
from pathlib import Path

import numpy as np
import pymupdf
import pypdfium2

from each_case import try_each
from impose.printing.pwg_raster import pack_line, write_page_header, write_raster


def unpack_line(packed: bytes, dots: int) -> tuple[bytes, int]:
    """A line of so many dots of three bytes, and how many packed bytes it took.

    0 to 127: the dot that follows, once more than that; 129 to 255: 257 less that many dots as they are.
    """
    line, at = bytearray(), 0
    while len(line) < dots * 3:
        code, at = packed[at], at + 1
        assert code != 128
        if code < 128:
            line += packed[at : at + 3] * (code + 1)
            at += 3
        else:
            line += packed[at : at + 3 * (257 - code)]
            at += 3 * (257 - code)
    assert len(line) == dots * 3
    return bytes(line), at


def make_lines() -> dict[str, np.ndarray]:
    chance = np.random.default_rng(3)
    lines = {
        "one dot": np.array([[1, 2, 3]]),
        "alike to the most": np.full((128, 3), 7),
        "one more": np.full((129, 3), 7),
        "far more": np.full((700, 3), 7),
        "unlike to the most": chance.integers(0, 256, (128, 3)),
        "unlike, one more": chance.integers(0, 256, (129, 3)),
        "a pair at the end": np.array([[1, 2, 3], [9, 9, 9], [9, 9, 9]]),
        "a pair at the beginning": np.array([[9, 9, 9], [9, 9, 9], [1, 2, 3]]),
        "runs of all lengths": np.repeat(chance.integers(0, 3, (60, 3)), chance.integers(1, 9, 60), axis=0),
    }
    for channel in range(3):
        line = np.zeros((40, 3), int)
        line[::3, channel] = 1
        lines[f"unlike in channel {channel} alone"] = line
    return {name: line.astype(np.uint8) for name, line in lines.items()}


LINES = make_lines()


@try_each("name", LINES)
def test_a_packed_line_is_the_line(name):
    line = LINES[name]
    packed = pack_line(line)
    assert unpack_line(packed, len(line)) == (line.tobytes(), len(packed))
    if name.startswith("alike"):
        assert len(packed) == 4
    if name == "unlike to the most":
        assert len(packed) == 1 + 3 * 128


def test_a_header_says_how_large_a_page_is_and_on_what():
    """Offsets and values: PWG 5102.4, table 3; colour space 19 is sRGB, 5 high quality."""
    header = write_page_header((210, 297), (2976, 4209), 360, ("iso_a4_210x297mm", "photographic-matte"), 3)
    assert len(header) == 1796

    def read(at: int, count: int = 1) -> tuple[int, ...]:
        return struct.unpack_from(f">{count}I", header, at)

    def say(at: int) -> str:
        return header[at : at + 64].split(b"\0")[0].decode()

    assert (say(0), say(128), say(1668), say(1732)) == (
        "PwgRaster",
        "photographic-matte",
        "relative",
        "iso_a4_210x297mm",
    )
    assert read(276, 2) == (360, 360)
    assert read(340) == (1,)
    assert read(352, 2) == (595, 842)
    assert read(372, 2) == (2976, 4209)
    assert read(384, 5) == (8, 24, 2976 * 3, 0, 19)
    assert read(420) == (3,)
    assert read(452, 3) == (3, 1, 1)
    assert read(464, 4) == (0, 0, 2976, 4209)
    assert read(484) == (5,)
    used = [range(64), range(128, 192), range(276, 284), range(340, 344), range(352, 360), range(372, 380)]
    used += [range(384, 404), range(420, 424), range(452, 480), range(484, 488), range(1668, 1796)]
    assert not any(byte for at, byte in enumerate(header) if not any(at in one for one in used))


def test_a_file_holds_its_pages_as_another_renderer_draws_them(tmp_path: Path):
    """More alike lines below one another than are counted at once (256), and others."""
    pdf, out = tmp_path / "a.pdf", tmp_path / "a.pwg"
    with pymupdf.open() as document:
        for colour in ((1, 0, 0), (0, 0, 1)):
            page = document.new_page(width=72, height=360)
            page.draw_rect((10, 5, 30, 350), fill=colour, color=None)
            page.draw_rect((40, 20, 60, 40), fill=(0, 0.6, 0), color=None)
        document.save(pdf)
    write_raster(pdf, [1, 0], 144, ("custom_72x360pt", "stationery"), out)
    content = out.read_bytes()
    assert content[:4] == b"RaS2"
    at = 4
    with pypdfium2.PdfDocument(pdf) as document:
        for page in (1, 0):
            wide, high = struct.unpack_from(">2I", content, at + 372)
            assert (wide, high) == (144, 720)
            at += 1796
            lines: list[bytes] = []
            while len(lines) < high:
                repeated = content[at] + 1
                line, taken = unpack_line(content[at + 1 :], wide)
                lines += [line] * repeated
                at += 1 + taken
            drawn = np.frombuffer(b"".join(lines), np.uint8).reshape(high, wide, 3).astype(int)
            other = document[page].render(scale=2).to_numpy()[..., 2::-1].astype(int)
            assert np.abs(drawn - other).max() <= 2
    assert at == len(content)
