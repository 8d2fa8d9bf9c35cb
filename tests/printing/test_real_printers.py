"""Through real parts: Debian's spooler and software printer. What they received is measured, not what we meant."""

from __future__ import annotations

import json
import re
import ssl
import subprocess
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import numpy as np
import pytest
from PIL import Image, ImageFilter

from printing.measure import measure_pdf, measure_raster
from waiting import LONGEST_S, wait_until

pytestmark = pytest.mark.usefixtures("sheets_alone")

AGREED = ("--accept", "straight-edge", "--accept", "low-resolution")
PDF, RASTER = "ipp://localhost:8631/ipp/print", "ipp://localhost:8632/ipp/print"


def ink(folder: Path, sheet: int = 0) -> tuple[float, float, float, float]:
    """Where the record says that the frame lies on paper, in mm."""
    record = json.loads((folder / "batch.json").read_text("utf-8"))
    box = record["sheets"][sheet]["transfers"][0]["ink_mm"]
    return box["x"], box["y"], box["w"], box["h"]


def true_to_size(measured, folder: Path, page: tuple[float, float], within: float = 0.1) -> None:
    """Page and frame to a tenth of a millimetre; the block, drawn top left, top right: mirrored once."""
    assert measured.page == pytest.approx(page, abs=within)
    assert measured.frame == pytest.approx(ink(folder), abs=within)
    assert measured.corner == "top right"


def test_straight_the_pdf_arrives_byte_for_byte_with_every_choice_said(impose, world, shop):
    before = len(world.got("pdf"))
    code, _, err = impose("print", shop / "13x19", "--printer", "studio", "--profiles", shop / "mine", *AGREED)
    assert code == 0, err
    (document,) = world.got("pdf")[before:]
    assert document.read_bytes() == (shop / "13x19" / "sheets-13x19.pdf").read_bytes()
    true_to_size(measure_pdf(document), shop / "13x19", (330.2, 482.6))
    asked = world.asked(document)
    assert asked["IPP_MEDIA_COL"] == (
        "{media-size={x-dimension=33020 y-dimension=48260} media-left-margin=340 media-right-margin=340 "
        "media-top-margin=300 media-bottom-margin=1250 media-type=photographic-matte media-source=rear}"
    )
    assert (asked["IPP_PRINT_SCALING"], asked["IPP_PRINT_QUALITY"]) == ("none", "high")
    assert (asked["IPP_SIDES"], asked["IPP_COPIES"]) == ("one-sided", "1")
    record = json.loads((shop / "13x19" / "batch.json").read_text("utf-8"))
    assert asked["IPP_JOB_NAME"].startswith(f"{record['code']} 13 x 19 in ")
    # Printed once; the second call prints nothing.
    code, _, err = impose("print", shop / "13x19", "--printer", "studio", "--profiles", shop / "mine", *AGREED)
    assert (code, len(world.got("pdf"))) == (2, before + 1)
    assert "printed already" in err


def test_raster_is_true_to_the_dot_for_a_printer_that_takes_no_pdf(impose, world, shop):
    before = len(world.got("raster"))
    code, _, err = impose("print", shop / "a4", "--printer", RASTER, *AGREED)
    assert code == 0, err
    (document,) = world.got("raster")[before:]
    measured = measure_raster(document)
    true_to_size(measured, shop / "a4", (210, 297))
    assert measured.pages == 1
    # The same dots as another renderer draws them, give or take one dot at an edge.
    drawn = measure_pdf(shop / "a4" / "sheets-a4.pdf", dpi=360).grey
    high, wide = (min(a, b) for a, b in zip(drawn.shape, measured.grey.shape, strict=True))
    picture, ours = Image.fromarray(drawn[:high, :wide]), measured.grey[:high, :wide].astype(int)
    darkest, lightest = (np.asarray(picture.filter(f(3))) for f in (ImageFilter.MinFilter, ImageFilter.MaxFilter))
    assert ((ours < darkest.astype(int) - 64) | (ours > lightest.astype(int) + 64)).mean() < 1e-4


def test_some_sheets_go_as_a_file_of_their_own(impose, world, shop):
    before = len(world.got("raster"))
    code, _, err = impose("print", shop / "a4-twice", "--printer", RASTER, "--sheets", "2,3", *AGREED)
    assert code == 0, err
    (document,) = world.got("raster")[before:]
    measured = measure_raster(document)
    assert measured.pages == 2
    assert measured.frame == pytest.approx(ink(shop / "a4-twice", 1), abs=0.1)
    code, _, err = impose("print", shop / "a4-twice", "--printer", RASTER, "--sheets", "1-3", *AGREED)
    assert (code, len(world.got("raster"))) == (0, before + 2), "only the sheet that was left"
    assert measure_raster(world.got("raster")[-1]).pages == 1


@pytest.fixture(scope="module")
def queue(world):
    """A queue that does not say it speaks to a network printer: set to A4, fitting, and mirroring on top of ours."""
    spooler = ("-h", "127.0.0.1:6631", "-p", "evening")
    told = world.shell("lpadmin", *spooler, "-E", "-v", PDF, "-m", "everywhere")
    # The spooler's http backend is its ipp backend, under a name that is not gone past.
    told += world.shell("lpadmin", *spooler, "-v", PDF.replace("ipp:", "http:", 1))
    told += world.shell("lpadmin", *spooler, "-o", "mirror-default=true", "-o", "print-scaling-default=fit")
    told += world.shell(
        "lpadmin", *spooler, "-o", "media-default=iso_a4_210x297mm", "-o", "job-sheets-default=standard,none"
    )
    assert "rror" not in told, told
    return "evening"


def test_a_queue_set_to_spoil_everything_prints_true(impose, world, shop, queue, tmp_path):
    """Measured without us: A4 shrinks it to 58 %, fit to 85 %, the mirror-default mirrors it."""
    before = len(world.got("pdf"))
    mine = tmp_path / "mine"
    mine.mkdir()
    profile = (shop / "mine" / "printers.toml").read_text("utf-8")
    (mine / "printers.toml").write_text(profile.replace(PDF, f"ipp://127.0.0.1:6631/printers/{queue}"), "utf-8")
    words = ("print", shop / "13x19", "--printer", "studio", "--profiles", mine, *AGREED)
    code, _, err = impose(*words)
    assert code == 0, err
    assert f"through the queue {queue}" in err
    await_documents(world, before + 1)
    measured = measure_pdf(world.got("pdf")[-1])
    assert measured.pages == 1, "a banner page would cost a sheet"
    true_to_size(measured, shop / "13x19", (330.2, 482.6))
    asked = world.asked(world.got("pdf")[-1])
    assert "media-type=photographic-matte" in asked["IPP_MEDIA_COL"]


def await_documents(world, count: int) -> None:
    """The spooler hands a job on after it has called it complete."""
    wait_until(lambda: len(world.got("pdf")) >= count, "the printer has the document")
    assert len(world.got("pdf")) == count


def test_a_queue_to_a_network_printer_is_passed_by(impose, world, shop):
    spooler = ("-h", "127.0.0.1:6631", "-p", "short")
    world.shell("lpadmin", *spooler, "-E", "-v", PDF, "-m", "everywhere")
    before = len(world.got("pdf"))
    code, _, err = impose("print", shop / "13x19", "--printer", "short", "--profiles", shop / "mine", *AGREED)
    assert code == 0, err
    assert "going straight there" in err
    assert world.got("pdf")[before].read_bytes() == (shop / "13x19" / "sheets-13x19.pdf").read_bytes()


def test_another_paper_loaded_is_refused_before_anything_is_sent(impose, world, shop):
    code, _, err = impose("print", shop / "13x19", "--printer", "ipp://localhost:8634/ipp/print", *AGREED)
    assert (code, world.got("a4")) == (4, [])
    assert "13 x 19 in" in err
    assert "Load 13 x 19 in (330.2 x 482.6 mm), coated side" in err


def test_out_of_paper_is_said_and_followed_to_the_end(impose, world, shop, monkeypatch):
    """The software printer says so while it waits; it is filled when we have said so too."""
    filled = world.folder / "got" / "filled"
    filled.unlink(missing_ok=True)
    lines: list[str] = []

    def say(line: str) -> None:
        lines.append(line)
        if "it is out of paper" in line:
            filled.touch()

    monkeypatch.setattr("impose.cli.printing.make_sayer", lambda quiet: say)
    code, _, err = impose("print", shop / "13x19", "--printer", "ipp://localhost:8633/ipp/print", *AGREED)
    assert code == 0, err
    assert filled.exists()
    assert lines[-1] == "sheet 1: printed"


def test_a_job_cancelled_at_the_printer_is_asked_about_and_not_sent_again(impose, world, shop, tmp_path, monkeypatch):
    """Cancelled by somebody else, through the printer's own list, while it waits for paper in the middle of the job."""
    (world.folder / "got" / "filled").unlink(missing_ok=True)
    slow = "ipp://localhost:8633/ipp/print"
    cancel = tmp_path / "cancel.test"
    cancel.write_text(CANCEL, "utf-8")
    before, lines = len(world.got("slow")), []

    def say(line: str) -> None:
        lines.append(line)
        if "it is out of paper" in line:
            (number,) = re.findall(r"job-id \(integer\) = (\d+)", world.shell("ipptool", "-tv", slow, "get-jobs.test"))
            told.append(world.shell("ipptool", "-t", "-d", f"job={number}", slow, str(cancel)))
            (world.folder / "got" / "filled").touch()

    told: list[str] = []
    monkeypatch.setattr("impose.cli.printing.make_sayer", lambda quiet: say)
    code, _, err = impose("print", shop / "13x19", "--printer", slow, *AGREED)
    assert "PASS" in told[0]
    assert code == 5, err
    assert "was cancelled" in lines[-1]
    assert "look whether it came out" in lines[-1], "it had begun"
    count = len(world.got("slow"))
    assert count - before <= 1
    code, _, err = impose("print", shop / "13x19", "--printer", slow, *AGREED)
    assert (code, len(world.got("slow"))) == (2, count)
    assert "only you can know" in err


def test_an_unknown_certificate_is_refused_until_somebody_agrees_and_a_changed_one_again(impose, world, shop, tmp_path):
    address = PDF.replace("ipp:", "ipps:", 1)
    with world.inside():
        # The software printer makes its key when it is first asked for, which may take longer than is waited for.
        ssl.get_server_certificate(("localhost", 8631))
    code, _, err = impose("printers", address)
    assert code == 5
    assert "nobody has agreed to the certificate" in err
    assert impose("printers", address, "--trust-again")[0] == 0
    assert impose("printers", address)[0] == 0, "remembered"
    import sqlite3

    with sqlite3.connect(tmp_path / "ledger.db") as ledger:
        ledger.execute("UPDATE print_printer SET certificate = ?", ("0" * 64,))
    ledger.close()
    code, _, err = impose("print", shop / "13x19", "--printer", address, *AGREED)
    assert code == 5
    assert "another certificate than before" in err


def test_a_certificate_is_asked_about_once_and_remembered(world, tmp_path):
    """The question names the beginning of what openssl would show; after one yes nobody is asked again."""
    import hashlib

    from impose.errors import Trouble
    from impose.run.options import Options
    from impose.run.print_door import PrintWish, describe_named_printer

    address, ledger = PDF.replace("ipp:", "ipps:", 1), tmp_path / "ledger.db"
    with world.inside():
        pem = ssl.get_server_certificate(("localhost", 8631))
        with pytest.raises(Trouble, match="nobody has agreed"):
            describe_named_printer(address, Options(), ledger)
        wish = PrintWish(address, answers={"trust-certificate": True})
        assert describe_named_printer(address, Options(), ledger, wish)["state"] == "idle"
        assert describe_named_printer(address, Options(), ledger)["state"] == "idle"
    sha256 = hashlib.sha256(ssl.PEM_cert_to_DER_cert(pem)).hexdigest()
    import sqlite3

    with sqlite3.connect(ledger) as books:
        assert books.execute("SELECT certificate FROM print_printer").fetchall() == [(sha256,)]
    books.close()


def test_the_printers_edges_go_into_a_profile_that_reads_back(impose, shop, tmp_path):
    code, _, err = impose("printers", PDF, "--copy-to", tmp_path / "mine")
    assert code == 0, err
    text = (tmp_path / "mine" / "printers.toml").read_text("utf-8")
    assert "not measured" in text
    from impose.files import find_shipped_profiles
    from impose.profiles.profiles import load_profiles

    printer = load_profiles(find_shipped_profiles(), tmp_path / "mine").printers["pdf"]
    assert (printer.left_mm, printer.top_mm, printer.right_mm, printer.bottom_mm) == (3.4, 3.0, 3.4, 12.5)
    assert (printer.scale_x, printer.sublimation_ink, printer.address) == (1.0, False, PDF)
    assert impose("printers", PDF, "--copy-to", tmp_path / "mine")[0] == 2, "an entry that is there is left alone"


def test_ipptool_judges_our_messages(world, tmp_path):
    """ipptool's own request, read by us and written again, is the same to the byte (Debian cups-ipp-utils)."""
    import socket
    import threading

    from impose.printing.ipp_encoding import decode_message, encode_message

    caught: list[bytes] = []
    with world.inside():
        server = socket.create_server(("127.0.0.1", 0))

    def serve() -> None:
        connection, _ = server.accept()
        with connection:
            content = b""
            while b"\r\n\r\n" not in content:
                content += connection.recv(65536) or b"\r\n\r\n"
            head, _, body = content.partition(b"\r\n\r\n")
            if b"100-continue" in head.lower():
                connection.sendall(b"HTTP/1.1 100 Continue\r\n\r\n")
            while not body.rstrip(b"\r\n0").endswith(b"\x03"):
                body += connection.recv(65536) or b"\x03"
            caught.append(head + b"\r\n\r\n" + body)
            connection.sendall(b"HTTP/1.1 503 Service Unavailable\r\nContent-Length: 0\r\nConnection: close\r\n\r\n")
        server.close()

    thread = threading.Thread(target=serve)
    thread.start()
    job = tmp_path / "job.test"
    job.write_text(JOB, "utf-8")
    address = f"ipp://127.0.0.1:{server.getsockname()[1]}/ipp/print"
    with world.inside():
        words = ["ipptool", "-T", "60", "-t", address, str(job)]
        subprocess.run(words, capture_output=True, check=False, timeout=LONGEST_S)
    thread.join(LONGEST_S)
    body = caught[0].partition(b"\r\n\r\n")[2]
    start = body.index(b"\x01\x47\x00\x12attributes-charset") - 8
    end = body.rindex(b"\x03") + 1
    message = decode_message(body[start:end])
    assert encode_message(message) == body[start:end]
    media = message.groups[1].find_first("media-col")
    assert media.find_first("media-type") == "photographic-matte"
    assert media.find_first("media-size").find_first("x-dimension") == 33020


CANCEL = """{
 NAME "Cancel a job"
 OPERATION Cancel-Job
 GROUP operation-attributes-tag
 ATTR charset attributes-charset utf-8
 ATTR naturalLanguage attributes-natural-language en
 ATTR uri printer-uri $uri
 ATTR integer job-id $job
 ATTR name requesting-user-name $user
 STATUS successful-ok
}
"""
JOB = """{
 NAME "Create a job"
 OPERATION Create-Job
 VERSION 2.0
 GROUP operation-attributes-tag
 ATTR charset attributes-charset utf-8
 ATTR naturalLanguage attributes-natural-language en
 ATTR uri printer-uri $uri
 ATTR name requesting-user-name shop
 ATTR name job-name "LANT-1"
 ATTR boolean ipp-attribute-fidelity true
 GROUP job-attributes-tag
 ATTR collection media-col {
   MEMBER collection media-size { MEMBER integer x-dimension 33020 MEMBER integer y-dimension 48260 }
   MEMBER integer media-left-margin 340 MEMBER keyword media-type photographic-matte }
 ATTR keyword print-scaling none
 ATTR enum print-quality 5
 ATTR resolution printer-resolution 360dpi
 ATTR rangeOfInteger page-ranges 1-3
}
"""


def test_printers_that_announce_themselves_are_found_by_name_and_not_asked(world, monkeypatch):
    """By the name service that Debian's software printers announce themselves with (DNS-SD, RFC 6763)."""
    pytest.importorskip("zeroconf", reason="the extra discover is not installed")
    from impose.printing.discovery import find_printers

    found: dict = {}

    def listen() -> bool:
        # In a thread, as the page does it: the browser of other tests leaves a running event loop in this one.
        with ThreadPoolExecutor(1) as pool:
            announced = pool.submit(find_printers, 1.0).result()
        found.update({printer.name: printer.address for printer in announced})
        return {"pdf", "raster", "slow", "a4"} <= set(found)

    with world.inside():
        wait_until(listen, "all of them have announced themselves")
    assert found["pdf"].port == 8631
    assert found["pdf"].path == "/ipp/print"
