"""A batch in parts: the same sheets in more files, under the same labels, read by everything that reads a record."""

from __future__ import annotations

import hashlib
import importlib
import json
import re
from pathlib import Path

import pikepdf
import pytest
from PIL import Image, ImageDraw

from impose.errors import Exit, Trouble
from impose.run import Options, plan, produce
from impose.run.record_file import read_record
from impose.run.reprint import plan_reprint
from impose.run.selection import ReprintRequest
from impose.sheet.record import make_batch_code
from impose.values import replace
from papercheck import faults


@pytest.fixture(scope="module")
def batch(tmp_path_factory) -> Path:
    folder = tmp_path_factory.mktemp("batch")
    lines = ["order,wearer,art,placement,width,copies"]
    for number in range(9):
        image = Image.new("RGBA", (160 + 7 * number, 190))
        ImageDraw.Draw(image).ellipse((9, 9, 150, 180), fill=(20 * number, 90, 200, 255))
        image.save(folder / f"art{number}.png")
        lines.append(f"Order {number % 4},Ada {number},art{number}.png,left-chest,{70 + 6 * number} mm,4")
    path = folder / "orders.csv"
    path.write_text("\n".join(lines))
    return path


@pytest.fixture(scope="module")
def outputs(batch, tmp_path_factory) -> tuple[Path, Path]:
    home = tmp_path_factory.mktemp("out")
    for name, part in (("whole", None), ("parts", 4)):
        options = Options({"papers": ["a4"]}, steps=200, workers=1, cache=False, part_sheets=part)
        produce(plan([batch], options), home / name)
    return home / "whole", home / "parts"


def record(folder: Path) -> dict:
    return json.loads((folder / "batch.json").read_bytes())


def test_the_record_differs_in_file_and_page_alone(outputs):
    whole, parts = map(record, outputs)
    assert parts["options"].pop("part_sheets") == 4
    pages = [(sheet.pop("file"), sheet.pop("page")) for sheet in parts["sheets"]]
    assert pages == [(f"sheets-a4-{n // 4 + 1:03}.pdf", n % 4 + 1) for n in range(len(pages))]
    assert len(pages) > 8
    for sheet in whole["sheets"]:
        del sheet["file"], sheet["page"]
    files = parts.pop("files").keys() - whole.pop("files").keys()
    assert {name.split(".")[0] for name in files} >= {f"sheets-a4-{n:03}" for n in (1, 2, 3)}
    assert parts == whole


def test_what_a_record_in_parts_lists_is_made_as_it_is_read(batch):
    """Held for the whole of a run, the values of 100,000 transfers took 200 MB."""
    options = Options({"papers": ["a4"]}, steps=0, workers=1, cache=False)
    whole, parts = (plan([batch], replace(options, part_sheets=part)).record for part in (None, 4))
    for listed in (
        lambda record: record["findings"],
        lambda record: record["warnings"],
        lambda record: record["approval"][0]["shows"],
        lambda record: record["money"]["orders"],
        lambda record: record["money"]["orders"][0]["garments"],
    ):
        assert isinstance(listed(whole), list)
        assert len(listed(parts)) > 0
        assert listed(parts) == listed(whole)
        assert listed(parts)[0] is not listed(parts)[0]
    assert parts["sheets"][0] == parts["sheets"][0] is not parts["sheets"][0]


def test_rows_share_what_is_the_same_in_all(batch):
    rows = plan([batch], Options({"papers": ["a4"]}, steps=0, workers=1, cache=False)).batch.rows
    for name in ("accept", "mend"):
        assert len({id(getattr(row, name)) for row in rows}) == 1


def test_every_page_draws_what_it_draws_in_one_file(outputs):
    whole, parts = outputs
    pages = drawn(whole / "sheets-a4.pdf")
    assert [page for file in sorted(parts.glob("sheets-a4-*.pdf")) for page in drawn(file)] == pages


def drawn(path: Path) -> list[tuple[bytes, list[bytes]]]:
    """Of each page its strokes and places (text is encoded by the file's own fonts), and its pictures' bytes."""
    found = []
    with pikepdf.open(path) as pdf:
        for page in pdf.pages:
            content = re.sub(rb"BT.*?ET", b"", page.Contents.read_bytes(), flags=re.S)
            content = re.sub(rb"/P\d+ Do", b"Do", content)
            found.append((content, [one.read_raw_bytes() for _, one in sorted(page.Resources.XObject.items())]))
    return found


def test_parts_measure_on_paper_what_the_record_says(outputs, batch):
    """The second part of three: it begins in the middle of the batch."""
    assert faults(outputs[1], batch.parent, only="sheets-a4-002") == []


def test_tickets_and_proof_hold_every_transfer_once(outputs):
    whole, parts = outputs
    ids = [one["id"] for sheet in record(parts)["sheets"] for one in sheet["transfers"]]
    count = len(list(parts.glob("sheets-a4-*.pdf")))
    proofs = sorted(parts.glob("proof-*.html"))
    assert len(proofs) == len(list(parts.glob("tickets-*.pdf"))) == count
    found = [ident for page in proofs for ident in re.findall(r'<g id="(T\d+)"', page.read_text())]
    assert sorted(found) == sorted(ids)
    index = (parts / "proof.html").read_text()
    assert re.findall(r'<a href="(proof-\d+\.html)">Part', index) == [page.name for page in proofs]
    assert (parts / "reprint.csv").read_bytes() == (whole / "reprint.csv").read_bytes()


def test_the_index_shows_some_findings_of_a_kind_and_counts_the_rest(batch, monkeypatch, tmp_path):
    """Nine pictures of 52 to 33 pixels an inch, far too few (common practice, no source), each said by itself."""
    monkeypatch.setattr("impose.pages.proof.part_pages.FINDINGS_MOST", 2)
    planned = plan([batch], Options({"papers": ["a4"]}, steps=200, workers=1, cache=False, part_sheets=4))
    coarse = [finding for finding in planned.findings if finding.kind == "very-low-resolution"]
    assert len(coarse) == 9
    produce(planned, tmp_path / "out")
    index = (tmp_path / "out" / "proof.html").read_text()
    assert f"and {len(coarse) - 2} more: the proof of each part shows its own" in index
    assert sum(finding.what[1:] in index for finding in coarse) == 2
    parts = "".join(page.read_text() for page in (tmp_path / "out").glob("proof-*.html"))
    assert all(finding.what[1:] in parts for finding in coarse)


def test_a_reprint_reads_a_record_of_parts(outputs, batch, tmp_path):
    ids = [one["id"] for one in record(outputs[1])["sheets"][-1]["transfers"]]
    wish = ReprintRequest(only=tuple(ids), because="spoiled")
    again = plan_reprint(read_record(outputs[1]), wish, Options(workers=1, cache=False))
    assert again.plan.transfer_count == len(ids)


def test_a_reprint_in_parts_says_of_every_transfer_which_one_it_is(outputs, tmp_path):
    ids = [one["id"] for one in record(outputs[1])["sheets"][0]["transfers"]]
    wish = ReprintRequest(only=tuple(ids), because="lost")
    again = plan_reprint(read_record(outputs[1]), wish, Options(workers=1, cache=False, part_sheets=1))
    produce(again.plan, tmp_path / "again")
    origins = [one["reprint_of"]["id"] for sheet in record(tmp_path / "again")["sheets"] for one in sheet["transfers"]]
    assert sorted(origins) == sorted(ids)


def test_no_part_without_a_sheet():
    with pytest.raises(Trouble) as caught:
        Options(part_sheets=0)
    assert caught.value.exit is Exit.USAGE


def test_the_command_writes_parts(run, batch, tmp_path):
    code, out, err = run("sheets", batch, "-p", "a4", "--part-sheets", "5", "-o", tmp_path / "out", "--workers", "1")
    assert (code, err.count("Traceback")) == (0, 0)
    assert "sheets-a4-002.pdf page 1" in out
    assert not (tmp_path / "out" / "sheets-a4.pdf").exists()


def test_the_command_tells_the_record_of_parts_as_json(run, batch, tmp_path):
    words = ("-p", "a4", "--part-sheets", "5", "-o", tmp_path / "out", "--workers", "1", "--json")
    code, out, _ = run("sheets", batch, *words)
    assert code == 0
    assert json.loads(out) == record(tmp_path / "out")


def test_the_command_refuses_two_words_about_workers(run, batch):
    code, _, err = run("sheets", batch, "--scheduler", "tcp://127.0.0.1:1", "--workers", "2")
    assert code == 2
    assert "a scheduler and a number of workers are both given" in err


def test_the_benchmark_of_growth_watches_what_there_is(monkeypatch):
    """It stood still for as long as nobody ran it, since functions had been given other names."""
    monkeypatch.syspath_prepend(str(Path(__file__).resolve().parent.parent / "bench"))
    for _, module, name in importlib.import_module("growth").STAGES:
        assert callable(getattr(importlib.import_module(module), name))


def test_a_batch_is_named_by_the_sha_256_of_its_content_as_json_however_it_is_read():
    """SHA-256 (FIPS 180-4) over compact JSON (RFC 8259), in base 23; worked out here from the whole text at once."""
    letters = "346789BCDFGHJKMNPQRTVWX"
    rows = [[{"b": "Zoë", "a": None}, 80.5], [{"b": "\u2028", "a": ("x",)}, 12]]
    for content in (["evening", rows, {"tear": 13.0}], ["empty", [], {}], []):
        text = json.dumps(content, sort_keys=True, separators=(",", ":"))
        number, code = int.from_bytes(hashlib.sha256(text.encode()).digest()[:8], "big"), ""
        for _ in range(4):
            number, index = divmod(number, len(letters))
            code += letters[index]
        assert make_batch_code(content) == code
        assert make_batch_code(iter(value) if value is rows else value for value in content) == code


def test_a_large_batch_leaves_nothing_of_its_search_in_memory(batch, monkeypatch):
    from impose.nest import bounds
    from impose.run import nest_batch

    bounds.forget_bounds()
    options = Options({"papers": ["a4"]}, steps=50, workers=1, cache=False)
    held = []
    for most in (10_000, 1):
        monkeypatch.setattr(nest_batch, "REMEMBERED_MOST", most)
        plan([batch], options)
        held.append(bounds._list_oriented_lengths.cache_info().currsize)
    assert held[0] > 0 == held[1]
