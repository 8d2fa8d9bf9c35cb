"""Pictures that are dropped: many, large, hostile, the same again, with a full disk; each whole or not at all."""

from __future__ import annotations

import socket
from concurrent.futures import ThreadPoolExecutor
from urllib.parse import quote

import numpy as np
import pytest

from art import pngbytes
from impose.page import artwork_store
from page.test_attacks import raw, request, status_of
from waiting import LONGEST_S


def picture(number: int = 0) -> bytes:
    """A small PNG, each number another one."""
    samples = np.full((4, 4, 3), 40, np.uint8)
    samples[0, 0] = (number % 250, number // 250, 7)
    return (
        pngbytes.SIGNATURE
        + pngbytes.ihdr(4, 4, 8, 2)
        + pngbytes.idat(pngbytes.zlib.compress(pngbytes.rows(samples, 8)))
        + pngbytes.chunk(b"IEND")
    )


def test_a_picture_gets_its_name_in_the_folder(bed, tab):
    made = tab.drop("Owl at night.PNG", picture())
    assert made["art"] == "art/Owl at night.png"
    assert (bed.folder / made["art"]).read_bytes() == picture()
    assert made["same_as"] is None


def test_the_same_picture_is_kept_once(bed, tab):
    first = tab.drop("owl.png", picture(1))
    again = tab.drop("other name.png", picture(1))
    assert again["art"] == again["same_as"] == first["art"]
    assert tab.drop("owl.png", picture(2))["art"] == "art/owl-2.png"
    assert tab.drop("OWL.png", picture(3))["art"] == "art/OWL-3.png"  # a disk that tells no capitals apart
    assert sorted(path.name for path in (bed.folder / "art").iterdir()) == ["OWL-3.png", "owl-2.png", "owl.png"]


@pytest.mark.parametrize(
    ("name", "kept"),
    [
        ("../../evil.png", "evil.png"),
        ("/etc/passwd", "passwd.png"),
        ("..\\..\\evil.png", "evil.png"),
        (".hidden.png", "hidden.png"),
        ("con.png", "picture-con.png"),
        ("a\u202egnp.exe", "agnp.exe"),
        ("x" * 400 + ".png", "x" * 100 + ".png"),
        ("", "picture.png"),
        ("a:b*c?.png", "abc.png"),
        ("…", "….png"),
        ("\x00\n.png", "picture.png"),
        ("owl", "owl.png"),
    ],
)
def test_no_name_leads_anywhere(bed, tab, name, kept):
    status, _, body = tab.ask("PUT", f"{tab.base}/art?name={quote(name, safe='')}", picture())
    assert status == 201, body
    assert [path.name for path in (bed.folder / "art").iterdir()] == [kept]


@pytest.mark.parametrize("content", [b"", b"GIF89a", b"MZ\x90", b"\x89PNG\n\x1a\n"])
def test_what_is_no_artwork_is_told_and_leaves_nothing(bed, tab, content):
    found, _, body = tab.ask("PUT", f"{tab.base}/art?name=a.png", content)
    assert found == 415
    assert b"remedy" in body
    assert list((bed.folder / "art").iterdir()) == []


def test_three_hundred_at_once(bed, tab):
    with ThreadPoolExecutor(12) as many:
        made = list(many.map(lambda n: tab.drop(f"picture {n % 50}.png", picture(n)), range(300)))
    assert len({one["art"] for one in made}) == 300
    assert all((bed.folder / one["art"]).read_bytes() == picture(n) for n, one in enumerate(made))
    assert len(tab.get(tab.base)["art"]) == 300
    assert not list((bed.folder / "art").glob(".*"))


def test_too_large_is_refused_whole(bed, tab, monkeypatch):
    monkeypatch.setattr("impose.page.batch_handlers.ArtHandler.most_body", 1000)
    found, _, _ = tab.ask("PUT", f"{tab.base}/art?name=a.png", picture() + b"x" * 2000)
    assert found == 413
    # One that does not say how large it is, and is.
    head = request(
        tab,
        "Transfer-Encoding: chunked",
        f"Origin: http://127.0.0.1:{tab.port}",
        method="PUT",
        path=f"{tab.base}/art?name=a.png",
    )
    body = b"%x\r\n%s\r\n" % (3000, b"\x89PNG\r\n\x1a\n" + b"x" * 2992)
    assert status_of(raw(tab.port, head + body + b"0\r\n\r\n")) == 413
    bed.until(lambda: not list((bed.folder / "art").glob("*")) and not list((bed.folder / "art").glob(".*")))


def test_a_batch_holds_only_so_much(bed, tab, monkeypatch):
    monkeypatch.setattr(artwork_store, "MOST_BATCH", 3 * len(picture()) + 10)
    for number in range(3):
        tab.drop(f"{number}.png", picture(number))
    found, _, body = tab.ask("PUT", f"{tab.base}/art?name=4.png", picture(4))
    assert found == 413
    assert b"4 GB" in body
    (bed.folder / "art" / "0.png").unlink()
    tab.drop("4.png", picture(4))


def test_an_upload_that_breaks_off_leaves_nothing(bed, tab):
    head = request(
        tab,
        f"Content-Length: {1 << 20}",
        f"Origin: http://127.0.0.1:{tab.port}",
        method="PUT",
        path=f"{tab.base}/art?name=a.png",
    )
    with socket.create_connection(("127.0.0.1", tab.port), timeout=LONGEST_S) as connection:
        connection.sendall(head + picture())
        bed.until(lambda: bool(list((bed.folder / "art").glob(".coming*"))))
    bed.until(lambda: not list((bed.folder / "art").glob(".coming*")))
    tab.drop("a.png", picture())  # and nothing of its size is reserved any more


def test_a_full_disk_takes_no_half_picture(bed, tab, monkeypatch):
    def write(self, chunk):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(artwork_store.Upload, "write_part", write)
    found, _, body = tab.ask("PUT", f"{tab.base}/art?name=a.png", picture())
    assert found == 507
    assert b"disk is full" in body
    bed.until(lambda: not list((bed.folder / "art").iterdir()))


def test_links_in_the_folder_are_not_followed(bed, tab):
    (bed.folder / "art").mkdir()
    (bed.folder / "art" / "secret.png").symlink_to("/etc/passwd")
    assert tab.get(tab.base)["art"] == []
