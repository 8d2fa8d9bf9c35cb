"""Requests to one printer over HTTP or HTTPS (RFC 8010, section 4), with no more trust in it than it needs.

Only `ipp` and `ipps` addresses are spoken to; redirects are not followed; no proxy is used; no password is sent or
kept. Every answer has a time by which it must be whole and a most that is read of it. A printer's certificate is
seldom signed by anybody, so it is known by its SHA-256, as a person agreed to it once, before anything is sent.
"""

from __future__ import annotations

import contextlib
import hashlib
import http.client
import socket
import ssl
import threading
from collections.abc import Iterator, Sequence
from pathlib import Path
from urllib.parse import urlsplit

from impose.errors import Exit, Finding, Trouble
from impose.printing.ipp_encoding import (
    Attribute,
    BrokenMessage,
    Group,
    Message,
    Operation,
    Tag,
    decode_message,
    encode_message,
    make_attribute,
)
from impose.remedies import Remedy
from impose.values import FrozenStruct

MOST_ANSWER = 8 << 20  # bytes; the longest list of papers seen has 200 kB
CONNECT_S = 5.0
ANSWER_S = 20.0
DOCUMENT_BYTES_PER_S = 20_000  # the slowest printer that is waited for while a document goes out
USER = "impose"
PORT = 631  # RFC 3510, section 2


class Address(FrozenStruct):
    """Where a printer is: the parts of an `ipp://HOST:PORT/PATH`."""

    secure: bool
    host: str
    port: int
    path: str

    def __str__(self) -> str:
        host = f"[{self.host}]" if ":" in self.host else self.host
        return f"{'ipps' if self.secure else 'ipp'}://{host}:{self.port}{self.path}"


class UnknownCertificate(Exception):
    """Nobody has agreed to the printer's certificate, or it is not the one that somebody agreed to."""

    def __init__(self, address: Address, sha256: str, changed: bool) -> None:
        super().__init__(str(address))
        self.address, self.sha256, self.changed = address, sha256, changed


class PrinterRefusal(Exception):
    """The printer understood and refused: its status (RFC 8011, appendix B), its words, what it does not support."""

    def __init__(self, status: int, words: str, unsupported: Sequence[str]) -> None:
        super().__init__(f"0x{status:04x} {words}")
        self.status, self.words, self.unsupported = status, words, tuple(unsupported)


NOT_FOUND = (0x0406, 0x0407)  # client-error-not-found, client-error-gone


def parse_address(text: str) -> Address:
    """The parts of an address. Raises `Trouble` (wrong use) for another scheme, a missing host, or a password in it."""
    try:
        parts = urlsplit(text.strip())
        host, port = parts.hostname, parts.port
    except ValueError:
        host, port, parts = None, None, urlsplit("")
    if parts.scheme.casefold() not in ("ipp", "ipps") or not host:
        raise _make_usage("not an address of a printer", "Write it like ipp://192.168.1.20/ipp/print or ipps://…", text)
    if parts.username is not None or parts.password is not None:
        # Not shown again: what stands before the @ is a secret.
        raise _make_usage("an address with a name or a password in it", "Leave out what stands before the @.", host)
    if parts.query or parts.fragment or not (parts.path or "/").isascii() or not parts.path.isprintable():
        raise _make_usage(
            "an address with more than host, port and path", "Write it like ipp://HOST:PORT/ipp/print.", text
        )
    return Address(parts.scheme.casefold() == "ipps", host, port or PORT, parts.path or "/ipp/print")


def _make_usage(what: str, remedy: str, read: str) -> Trouble:
    return Trouble(Finding(what, remedy, kind="printer", read=read, exit=Exit.USAGE))


def make_unreachable(address: Address, why: str) -> Trouble:
    """The printer cannot be spoken to now (a system error)."""
    return Trouble(
        Finding(
            f"the printer at {address} cannot be reached: {why}",
            Remedy("switch-printer-on"),
            kind="printer-unreachable",
            exit=Exit.SYSTEM,
        )
    )


class IppClient:
    """Asks one printer; each question is a connection of its own, so nothing is left open."""

    def __init__(self, address: Address, trusted: str | None = None, answer_s: float = ANSWER_S) -> None:
        self.address, self.trusted, self.answer_s = address, trusted, answer_s
        self._number = 0

    def ask_printer(
        self,
        operation: Operation,
        attributes: Sequence[Attribute] = (),
        job: Sequence[Attribute] = (),
        document: Path | None = None,
    ) -> Message:
        """Send a request, and a document behind it; the printer's answer.

        Raises `PrinterRefusal`, `UnknownCertificate`, or `Trouble` (SYSTEM) where there is no answer that can be read.
        """
        self._number += 1
        request = encode_message(self._make_request(operation, attributes, job))
        try:
            content = self._exchange_bytes(request, document)
            answer = decode_message(content)
        except BrokenMessage as error:
            raise make_unreachable(self.address, f"its answer makes no sense ({error})") from error
        except (OSError, http.client.HTTPException, ValueError) as error:
            raise make_unreachable(self.address, _word_error(error)) from error
        if answer.code >= 0x0100:  # successful-ok is 0x0000 to 0x00FF (RFC 8011, appendix B.1.2)
            raise _read_refusal(answer)
        return answer

    def _make_request(self, operation: Operation, attributes: Sequence[Attribute], job: Sequence[Attribute]) -> Message:
        """Charset and language first, then the printer (RFC 8011, 4.1.4 and 4.1.5)."""
        first = (
            make_attribute("attributes-charset", Tag.CHARSET, "utf-8"),
            make_attribute("attributes-natural-language", Tag.LANGUAGE, "en"),
            make_attribute("printer-uri", Tag.URI, str(self.address)),
        )
        names = [attribute.name for attribute in attributes]
        at = names.index("job-id") + 1 if "job-id" in names else 0  # the target of the operation comes first
        user = make_attribute("requesting-user-name", Tag.NAME, USER)
        said = (*first, *attributes[:at], user, *attributes[at:])
        groups = [Group(Tag.OPERATION, said)] + ([Group(Tag.JOB, tuple(job))] if job else [])
        return Message(operation, tuple(groups), self._number)

    def _exchange_bytes(self, request: bytes, document: Path | None) -> bytes:
        size = document.stat().st_size if document else 0
        connection = self._make_connection()
        try:
            connection.connect()
            self._prove_certificate(connection)
            with _hold_deadline(connection, self.answer_s + size / DOCUMENT_BYTES_PER_S) as late:
                try:
                    content = self._read_answer(connection, request, document, size)
                    if late.is_set():  # an answer that was ended by us may look like one that is merely short
                        raise TimeoutError
                    return content
                except (OSError, http.client.HTTPException, ValueError) as error:
                    if late.is_set():
                        raise TimeoutError("it does not answer in time") from error
                    raise
        finally:
            connection.close()

    def _make_connection(self) -> http.client.HTTPConnection:
        host, port = self.address.host, self.address.port
        if not self.address.secure:
            return http.client.HTTPConnection(host, port, timeout=CONNECT_S)
        context = ssl.SSLContext(ssl.PROTOCOL_TLS_CLIENT)
        # No authority signs printers' certificates: `_prove` compares with the one a person agreed to.
        context.check_hostname = False
        context.verify_mode = ssl.CERT_NONE
        return http.client.HTTPSConnection(host, port, timeout=CONNECT_S, context=context)

    def _prove_certificate(self, connection: http.client.HTTPConnection) -> None:
        """Raise `UnknownCertificate` before anything is sent to a stranger."""
        if not isinstance(connection.sock, ssl.SSLSocket):
            return
        sha256 = hashlib.sha256(connection.sock.getpeercert(binary_form=True) or b"").hexdigest()
        if sha256 != self.trusted:
            raise UnknownCertificate(self.address, sha256, self.trusted is not None)

    def _read_answer(
        self, connection: http.client.HTTPConnection, request: bytes, document: Path | None, size: int
    ) -> bytes:
        connection.sock.settimeout(self.answer_s)
        headers = {"Content-Type": "application/ipp", "Content-Length": str(len(request) + size)}
        with contextlib.suppress(BrokenPipeError, ConnectionResetError):  # a printer may refuse before it has read all
            connection.request("POST", self.address.path, _iterate_body(request, document, size), headers)
        answer = connection.getresponse()
        if answer.status != http.client.OK:
            raise http.client.HTTPException(_http_words(answer.status))
        content = answer.read(MOST_ANSWER + 1)
        if len(content) > MOST_ANSWER:
            raise http.client.HTTPException(f"its answer is longer than {MOST_ANSWER >> 20} MB")
        if answer.length:  # what is still to come of the length that was announced
            raise http.client.HTTPException("its answer was cut short")
        return content


@contextlib.contextmanager
def _hold_deadline(connection: http.client.HTTPConnection, seconds: float) -> Iterator[threading.Event]:
    """End the conversation after some seconds, however slowly the printer drips its answer."""
    late = threading.Event()

    def end() -> None:
        late.set()
        with contextlib.suppress(OSError, AttributeError):
            connection.sock.shutdown(socket.SHUT_RDWR)

    timer = threading.Timer(seconds, end)
    timer.daemon = True
    timer.start()
    try:
        yield late
    finally:
        timer.cancel()


def _iterate_body(request: bytes, document: Path | None, size: int) -> Iterator[bytes]:
    """The request and its document: exactly as many bytes as were announced."""
    yield request
    if document is None:
        return
    with document.open("rb") as file:
        while size > 0:
            chunk = file.read(min(size, 1 << 17))
            if not chunk:
                raise ValueError(f"{document.name} became shorter while it was sent")
            size -= len(chunk)
            yield chunk


def _read_refusal(answer: Message) -> PrinterRefusal:
    words = answer.find_group(Tag.OPERATION).find_first("status-message")
    unsupported = [attribute.name for group in answer.find_groups(Tag.UNSUPPORTED) for attribute in group.attributes]
    return PrinterRefusal(answer.code, words[:200] if isinstance(words, str) else "", unsupported[:20])


def _http_words(status: int) -> str:
    if 300 <= status < 400:
        return "it sends us elsewhere, which is not followed; give the address it really has"
    if status in (401, 403):
        return "it asks for a password, which this program neither sends nor keeps; allow printing without one"
    if status == 426:
        return "it takes encrypted connections only; write ipps:// instead of ipp://"
    if status == 404:
        return "there is no printer at that path; most are at /ipp/print"
    return f"it answers with HTTP {status}"


def _word_error(error: Exception) -> str:
    if isinstance(error, TimeoutError):
        return "it does not answer in time"
    if isinstance(error, ssl.SSLError):
        return f"no encrypted connection comes about ({error.reason or 'unknown'})"
    if isinstance(error, socket.gaierror):
        return "its name is not known in this network"
    if isinstance(error, OSError):
        return (error.strerror or str(error) or type(error).__name__).lower()
    return str(error) or type(error).__name__
