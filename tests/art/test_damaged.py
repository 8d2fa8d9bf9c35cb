"""Every damaged PNG is refused whole, with its reason; nothing with a wrong checksum is ever read."""

from __future__ import annotations

import zlib
from pathlib import Path

import pytest

from art import fuzz
from art.pngbytes import chunk, ihdr, png, rows, samples_of
from each_case import try_each
from impose.art.decode import decode_png
from impose.art.png import read_png
from impose.art.prepare import PreparationOptions, prepare_picture
from impose.errors import Exit, Trouble

DAMAGED = sorted((Path(__file__).parent / "corpus" / "damaged").glob("*.png"))


def test_the_collection_is_there():
    assert len(DAMAGED) >= 70


@try_each("path", DAMAGED)
def test_refused_with_a_reason_and_a_remedy(path, painter):
    with pytest.raises(Trouble) as refusal:
        prepare_picture(path.read_bytes(), PreparationOptions(tint=0), path.name)
    (finding,) = refusal.value.findings
    assert refusal.value.exit is Exit.REFUSED
    assert finding.kind == path.stem.split("--")[0]
    assert finding.file == path.name
    assert finding.what[0].islower(), "said after the file's name, in the middle of a sentence"
    assert finding.remedy


def small() -> bytes:
    return png(samples_of(5, 4, 8, 3), before=chunk(b"pHYs", bytes(9)), after=chunk(b"tEXt", b"a\0b"))


def test_no_flipped_bit_goes_unseen():
    """Section 5.3 of the PNG Recommendation: signature and checksums cover every byte of a file."""
    content = small()
    prepare_picture(content)
    for at in range(len(content)):
        for bit in range(8):
            changed = bytearray(content)
            changed[at] ^= 1 << bit
            with pytest.raises(Trouble):
                prepare_picture(bytes(changed))


def test_no_cut_goes_unseen():
    content = small()
    for length in range(len(content)):
        with pytest.raises(Trouble):
            prepare_picture(content[:length])


@pytest.mark.parametrize("depth", [8, 16])
@pytest.mark.parametrize("interlaced", [False, True])
def test_no_cut_or_flip_of_the_rows_under_good_chunk_checksums_goes_unseen(depth, interlaced, painter):
    """The zlib stream's own Adler-32 (RFC 1950) is proven too, and the number of rows."""
    samples = samples_of(5, 4, depth, 2)
    raw = rows(samples, depth, interlaced=interlaced)
    stream = zlib.compress(raw)
    for length in range(len(stream)):
        with pytest.raises(Trouble):
            decode_png(read_png(png(samples, depth, interlaced=interlaced, stream=stream[:length])))
    for length in range(len(raw)):
        with pytest.raises(Trouble):
            decode_png(read_png(png(samples, depth, interlaced=interlaced, stream=zlib.compress(raw[:length]))))
    for at in range(4):
        wrong = bytearray(stream)
        wrong[-1 - at] ^= 0x10
        with pytest.raises(Trouble):
            decode_png(read_png(png(samples, depth, interlaced=interlaced, stream=bytes(wrong))))


def test_some_hundred_damaged_files_end_well(painter):
    tally = fuzz.run(400, seed=7)
    assert tally["damaged"] > 150
    assert tally["read"] > 20  # damage to a comment, say, with its checksum made good


def test_every_message_says_what_is_wrong():
    """A sample of the words, so that the reason is the right one."""
    words = {
        "cut-at-60-percent": "cut off",
        "end-missing": "end mark",
        "idat-checksum": "checksum of its IDAT",
        "idat-adler": "their checksum is wrong",
        "idat-rows-missing": "49 bytes of rows are missing",
        "idat-byte-too-many": "more picture data",
        "palette-too-short": "beyond the 9 of the palette",
        "idat-missing": "no picture data",
        "line-ends-lf": "changed on the way",
        "phone-rewritten": "phone",
    }
    for path in DAMAGED:
        name = path.stem.split("--")[1]
        if name in words:
            with pytest.raises(Trouble, match=words.pop(name)):
                prepare_picture(path.read_bytes(), name=path.name)
    assert not words


def test_very_many_empty_chunks_end_soon():
    many = chunk(b"prVt") * 400_000
    with pytest.raises(Trouble, match="parts"):
        prepare_picture(b"\x89PNG\r\n\x1a\n" + ihdr(1, 1, 8, 0) + many)


def test_a_side_beyond_all_use_is_refused_from_the_header():
    """libpng's own limit (PNG_USER_WIDTH_MAX and _HEIGHT_MAX, pngpriv.h) unless told otherwise: 1,000,000 a side."""
    for width, height in ((1_000_001, 1), (1, 1_000_001)):
        with pytest.raises(Trouble, match="1,000,000 along one side") as stop:
            prepare_picture(b"\x89PNG\r\n\x1a\n" + ihdr(width, height, 1, 0) + chunk(b"IEND"))
        assert stop.value.findings[0].kind == "too-large"


def test_the_document_says_what_is_done():
    """Each damaged file has its line in the artwork document, with the words it is refused with."""
    document = (Path(__file__).parents[2] / "shared" / "docs" / "design" / "artwork.md").read_text("utf-8")
    for path in DAMAGED:
        with pytest.raises(Trouble) as refusal:
            prepare_picture(path.read_bytes())
        assert f"| {path.stem.split('--')[1]} | {refusal.value.findings[0].what} |" in document
