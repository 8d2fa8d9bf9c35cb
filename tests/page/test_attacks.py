"""Requests that another page, another program, another name or a broken client sends: refused, and nothing changes.

What a browser sends is by the standards: Fetch Metadata Request Headers (W3C), the Fetch standard's `Origin`, RFC 9110
for `Host` and 421, RFC 9112 for message framing, RFC 6265bis for `SameSite` and `HttpOnly`.
"""

from __future__ import annotations

import json
import socket
from collections.abc import Iterator
from pathlib import Path

import pytest

from each_case import try_each
from page.conftest import ASLEEP, Bed, Tab
from waiting import LONGEST_S

PNG = b"\x89PNG\r\n\x1a\n"


@pytest.fixture(scope="module")
def bed(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Bed]:
    """One server for all of them: none of them may change it."""
    made = Bed(tmp_path_factory.mktemp("attacked"), ASLEEP)
    yield made
    made.close()


@pytest.fixture(scope="module")
def tab(bed: Bed) -> Tab:
    """Somebody who came in."""
    return bed.tab()


def raw(port: int, content: bytes) -> bytes:
    """The first bytes that come back for some bytes; nothing where the connection is closed without a word."""
    with socket.create_connection(("127.0.0.1", port), timeout=LONGEST_S) as connection:
        try:
            connection.sendall(content)
            return connection.recv(4096)
        except ConnectionError:
            return b""


def status_of(answer: bytes) -> int:
    return int(answer.split(b" ", 2)[1]) if answer.startswith(b"HTTP/1.1 ") else 0


def request(tab: Tab, *lines: str, method: str = "GET", path: str = "/api/state", host: str | None = None) -> bytes:
    named = host if host is not None else f"127.0.0.1:{tab.port}"
    head = [f"{method} {path} HTTP/1.1", *([f"Host: {named}"] if named else []), f"Cookie: {tab.cookie}"]
    return "\r\n".join([*head, f"X-Impose-Token: {tab.token}", *lines, "", ""]).encode()


def test_the_own_page_is_answered(tab):
    assert status_of(raw(tab.port, request(tab))) == 200


@pytest.mark.parametrize(
    "host",
    ["evil.test:{port}", "127.0.0.1", "localhost:{port}", "127.0.0.1:{other}", "[::1]:{port}", "127.0.0.1.:{port}", ""],
)
def test_another_name_is_misdirected(tab, host):
    named = host.format(port=tab.port, other=tab.port + 1)
    answer = raw(tab.port, request(tab, host=named))
    assert status_of(answer) in ((421, 400) if not named else (421,))
    assert b"token" not in answer


def test_two_hosts_are_refused(tab):
    assert status_of(raw(tab.port, request(tab, "Host: evil.test"))) in (400, 421)


@pytest.mark.parametrize("site", ["cross-site", "same-site", "nonsense"])
def test_another_pages_request_is_refused(tab, site):
    assert status_of(raw(tab.port, request(tab, f"Sec-Fetch-Site: {site}"))) == 403


@pytest.mark.parametrize("origin", ["null", "http://127.0.0.1:9", "https://127.0.0.1:{port}", "http://evil.test", ""])
def test_a_change_from_elsewhere_is_refused(tab, origin):
    lines = [f"Origin: {origin.format(port=tab.port)}"] if origin else []
    before = tab.rows
    body = b'{"ops":[{"op":"add","cells":{"order":"evil"}}]}'
    sent = request(
        tab,
        *lines,
        "Content-Type: application/json",
        f"Content-Length: {len(body)}",
        method="POST",
        path=f"{tab.base}/changes",
    )
    assert status_of(raw(tab.port, sent + body)) == 403
    assert tab.rows == before


def test_reading_with_a_foreign_origin_is_refused(tab):
    assert status_of(raw(tab.port, request(tab, "Origin: http://evil.test"))) == 403


@pytest.mark.parametrize("method", ["GET", "POST", "PUT", "DELETE", "OPTIONS", "PATCH", "HEAD"])
def test_without_a_session_nothing_is_told(bed, method):
    stranger = Tab(bed.port)
    for path in ("/", "/static/page.html", "/api/state", f"/api/b/{bed.batch}", "/api/events", "/api/quit"):
        status, headers, body = stranger.ask(method, path, b"" if method in ("POST", "PUT", "PATCH") else None)
        assert status == 403, (method, path)
        assert "Set-Cookie" not in headers
        assert b"batch" not in body
    assert not bed.page.ended.is_set()


def test_a_cookie_alone_changes_nothing_and_reads_no_rows(tab):
    """Another program on this machine is sent the cookie, since browsers tell no ports apart; the token it is not."""
    thief = Tab(tab.port, tab.cookie)
    thief.batch = tab.batch
    assert thief.ask("POST", f"{tab.base}/changes", {"ops": []})[0] == 403
    assert thief.ask("GET", tab.base)[0] == 403
    assert thief.ask("GET", "/api/state")[0] == 403
    thief.token = tab.token[:-1] + ("x" if tab.token[-1] != "x" else "y")
    assert thief.ask("GET", tab.base)[0] == 403


def test_the_page_itself_holds_no_token(bed, tab):
    _, _, body = tab.ask("GET", "/")
    assert tab.token.encode() not in body


def test_a_key_works_once(bed):
    path = bed.address().split(str(bed.port), 1)[1]
    assert Tab(bed.port).ask("GET", path)[0] == 303
    status, headers, body = Tab(bed.port).ask("GET", path)
    assert status == 403
    assert "Set-Cookie" not in headers
    assert b"Open the page from its icon" in body


@pytest.mark.parametrize("key", ["", "x", "x" * 5000, "%00", "ä"])
def test_a_wrong_key_lets_nobody_in(bed, key):
    from urllib.parse import quote

    assert Tab(bed.port).ask("GET", f"/enter?key={quote(key, safe='%')}")[0] in (400, 403)


def test_the_cookie_is_kept_from_scripts_and_other_sites(bed):
    status, headers, _ = Tab(bed.port).ask("GET", bed.address().split(str(bed.port), 1)[1])
    cookie = headers["Set-Cookie"]
    assert status == 303
    assert cookie.startswith(f"impose_{bed.port}=")
    assert {"httponly", "samesite=strict"} <= {part.strip().lower() for part in cookie.split(";")}
    assert "key=" not in headers["Location"]


def test_a_command_gets_a_key_by_the_secret_alone(bed):
    secret = bed.page.keys.secret
    stranger = Tab(bed.port)
    assert stranger.ask("POST", "/again", {})[0] == 403

    def again(*lines: str) -> int:
        own = ("POST /again HTTP/1.1", f"Host: 127.0.0.1:{bed.port}", "Content-Type: application/json")
        sent = "\r\n".join([*own, *lines, "Content-Length: 2", "", "{}"])
        return status_of(raw(bed.port, sent.encode()))

    assert again() == 403
    assert again(f"X-Impose-Secret: {secret}") == 200
    assert again(f"X-Impose-Secret: {secret}", "Sec-Fetch-Site: same-origin") == 403
    assert again(f"X-Impose-Secret: {secret}", f"Origin: http://127.0.0.1:{bed.port}") == 403


@try_each(
    "path",
    [
        "/static/../guard.py",
        "/static/..%2fguard.py",
        "/static/%2e%2e/guard.py",
        "/static/..\\guard.py",
        "//etc/passwd",
        "/static//etc/passwd",
        "/static/page.html%00.js",
        "/static/.page.html",
        "/../../etc/passwd",
        "/api/b/../state.json",
    ],
)
def test_no_path_leads_out_of_the_table(tab, path):
    answer = raw(tab.port, request(tab, path=path))
    assert status_of(answer) in (400, 403, 404)
    assert b"root:" not in answer
    assert b"def " not in answer


def test_files_of_an_output_are_those_it_names(bed, tab):
    out = bed.folder / "sheets"
    out.mkdir()
    (bed.folder / "secret.pdf").write_bytes(b"%PDF-1.4 secret")
    (out / "sheets-a4.pdf").write_bytes(b"%PDF-1.4 ours")
    (out / "other.pdf").write_bytes(b"%PDF-1.4 not ours")
    (out / "linked.pdf").symlink_to(bed.folder / "secret.pdf")
    (out / "evil.svg").write_text("<svg/>")
    names = ["sheets-a4.pdf", "linked.pdf", "../secret.pdf", "evil.svg", "/etc/passwd"]
    record = {"format": "impose-record/1", "code": "AB12", "sheets": [], "files": dict.fromkeys(names, "0" * 64)}
    (out / "batch.json").write_text(json.dumps(record))
    from impose.page.made_folders import make_id

    base = f"{tab.base}/made/{make_id(out)}/file"
    status, headers, body = tab.ask("GET", f"{base}/sheets-a4.pdf")
    assert (status, body) == (200, b"%PDF-1.4 ours")
    assert headers["X-Content-Type-Options"] == "nosniff"
    for name in (
        "other.pdf",
        "linked.pdf",
        "../secret.pdf",
        "..%2fsecret.pdf",
        "evil.svg",
        "/etc/passwd",
        "%2fetc%2fpasswd",
    ):
        status, _, body = tab.ask("GET", f"{base}/{name}")
        assert status in (400, 404), name
        assert b"secret" not in body


def test_every_answer_forbids_what_a_page_must_not_do(bed, tab):
    for path in ("/", "/api/state", "/nothing", f"{tab.base}/plan", "/static/nothing.js"):
        headers = {key.lower(): value for key, value in tab.ask("GET", path)[1].items()}
        policy = headers["content-security-policy"]
        assert policy.startswith("default-src 'none'")
        assert "unsafe" not in policy
        assert "frame-ancestors 'none'" in policy
        assert headers["x-content-type-options"] == "nosniff"
        assert headers["referrer-policy"] == "no-referrer"
        assert headers["cross-origin-resource-policy"] == "same-origin"
        assert headers["cross-origin-opener-policy"] == "same-origin"
        assert headers["cache-control"] == "no-store"
        assert "server" not in headers


@try_each(
    "body",
    [
        b"{",
        b"[]",
        b'"x"',
        b"null",
        b"\xff\xfe",
        b"NaN",
        b'{"ops": NaN}',
        b"{" * 100_000,
        b'{"ops": [1]}',
        b'{"ops": {}}',
        b'{"ops": [{"op": "set"}]}',
        b'{"ops": [{"op": "add", "cells": {"a": [1]}}]}',
        b'{"ops": [{"op": "rm -rf"}]}',
    ],
)
def test_what_is_no_proper_json_is_400(tab, body):
    before = tab.rows
    status, _, answer = tab.ask("POST", f"{tab.base}/changes", body, {"Content-Type": "application/json"})
    assert status == 400
    assert set(json.loads(answer)["error"]) == {"code", "what", "remedy", "findings"}
    assert tab.rows == before


def test_json_under_another_name_is_415(tab):
    """What a form of another page can send without being asked (Fetch standard, CORS-safelisted types) is not taken."""
    for kind in ("text/plain", "application/x-www-form-urlencoded", "multipart/form-data", ""):
        assert tab.ask("POST", f"{tab.base}/changes", b'{"ops":[]}', {"Content-Type": kind})[0] == 415


def test_a_large_body_is_413_before_it_is_read(tab):
    lines = ("Content-Type: application/json", "Content-Length: 900000000", f"Origin: http://127.0.0.1:{tab.port}")
    answer = raw(tab.port, request(tab, *lines, method="POST", path=f"{tab.base}/changes"))
    assert status_of(answer) == 413


def test_a_chunked_body_is_held_to_the_limit(tab):
    lines = ("Content-Type: application/json", "Transfer-Encoding: chunked", f"Origin: http://127.0.0.1:{tab.port}")
    head = request(tab, *lines, method="POST", path=f"{tab.base}/changes")
    part = b"%x\r\n" % (1 << 20) + b" " * (1 << 20) + b"\r\n"
    with socket.create_connection(("127.0.0.1", tab.port), timeout=LONGEST_S) as connection:
        sent = 0
        try:
            connection.sendall(head)
            for _ in range(64):
                connection.sendall(part)
                sent += 1
        except ConnectionError:
            pass
        try:
            answer = connection.recv(4096)
        except ConnectionError:
            answer = b""
    assert status_of(answer) in (413, 0)
    assert sent <= 64
    assert tab.get("/api/state")


@pytest.mark.parametrize(
    "lines",
    [
        ("Content-Length: 5", "Transfer-Encoding: chunked"),
        ("Content-Length: 5", "Content-Length: 6"),
        ("Content-Length: -1",),
        ("Content-Length: 0x10",),
        ("Content-Length: ٥",),
    ],
)
def test_unclear_framing_is_refused(tab, lines):
    """RFC 9112, section 6.3: a request whose length can be read in two ways is how another one is smuggled in."""
    own = (f"Origin: http://127.0.0.1:{tab.port}", "Content-Type: application/json")
    sent = request(tab, *own, *lines, method="POST", path=f"{tab.base}/changes") + b"hello"
    assert status_of(raw(tab.port, sent)) in (400, 403, 413, 0)
    assert tab.get("/api/state")


def is_cut_off(connection: socket.socket, content: bytes) -> bool:
    """Whether the other side ends a connection without a word; it may have done so before all was sent."""
    try:
        connection.sendall(content)
        return connection.recv(100) == b""
    except ConnectionError:
        return True


def test_headers_without_end_are_cut_off(tmp_path: Path):
    bed = Bed(tmp_path, ASLEEP, headers_s=0.2)
    try:
        # Without a limit of its own the server would wait for an hour, and this for its two minutes.
        with socket.create_connection(("127.0.0.1", bed.port), timeout=LONGEST_S) as connection:
            assert is_cut_off(connection, b"GET / HTTP/1.1\r\nHost: x\r\n")
    finally:
        bed.close()


def test_a_body_without_end_is_cut_off(tmp_path: Path):
    bed = Bed(tmp_path, ASLEEP, body_s=0.2)
    try:
        tab = bed.tab()
        lines = ("Content-Type: application/json", "Content-Length: 50", f"Origin: http://127.0.0.1:{tab.port}")
        with socket.create_connection(("127.0.0.1", bed.port), timeout=LONGEST_S) as connection:
            assert is_cut_off(connection, request(tab, *lines, method="POST", path=f"{tab.base}/changes") + b"{")
    finally:
        bed.close()


def test_headers_too_large_are_refused(tab):
    answer = raw(tab.port, request(tab, "X: " + "a" * 100_000))
    assert status_of(answer) in (400, 431, 0)
    assert tab.get("/api/state")


def test_only_this_machine_is_listened_to(bed):
    """A connection to any other address of the machine finds nobody."""
    own = socket.gethostbyname(socket.gethostname())
    if own.startswith("127."):
        own = "127.0.0.2"
    with pytest.raises(OSError), socket.create_connection((own, bed.port), timeout=1):
        pass


def test_the_state_file_is_its_owners_alone(bed):
    path = bed.state / "page.json"
    assert path.stat().st_mode & 0o777 == 0o600
    path.chmod(0o644)
    from impose.page.state_file import StateFile

    assert StateFile(bed.state).read_server() is None  # what others could read is not trusted
