"""A printer of our own making that answers as it is told: for answers that no honest printer gives."""

from __future__ import annotations

import contextlib
import socket
import threading
from collections.abc import Callable

from impose.printing.ipp_encoding import (
    Attribute,
    Collection,
    Group,
    Message,
    Operation,
    Resolution,
    Tag,
    decode_message,
    encode_message,
    make_attribute,
)
from waiting import LONGEST_S

FIRST = (
    make_attribute("attributes-charset", Tag.CHARSET, "utf-8"),
    make_attribute("attributes-natural-language", Tag.LANGUAGE, "en"),
)


def size(width: int, height: int, edge: int | None = 300) -> Collection:
    """A row of media-col-database."""
    inner = Collection(
        (make_attribute("x-dimension", Tag.INTEGER, width), make_attribute("y-dimension", Tag.INTEGER, height))
    )
    members = [make_attribute("media-size", Tag.COLLECTION, inner)]
    if edge is not None:
        members += [make_attribute(f"media-{s}-margin", Tag.INTEGER, edge) for s in ("left", "right", "top", "bottom")]
    return Collection(tuple(members))


A4 = size(21000, 29700)
HONEST = {
    "printer-name": make_attribute("printer-name", Tag.NAME, "made-up"),
    "printer-state": make_attribute("printer-state", Tag.ENUM, 3),
    "operations-supported": make_attribute("operations-supported", Tag.ENUM, 2, 4, 5, 6, 8, 9, 10, 11),
    "document-format-supported": make_attribute("document-format-supported", Tag.MIME, "application/pdf"),
    "print-scaling-supported": make_attribute("print-scaling-supported", Tag.KEYWORD, "auto", "none"),
    "media-col-supported": make_attribute("media-col-supported", Tag.KEYWORD, "media-size", "media-type"),
    "media-col-database": make_attribute("media-col-database", Tag.COLLECTION, A4),
    "media-col-ready": make_attribute("media-col-ready", Tag.COLLECTION, A4),
    "pwg-raster-document-resolution-supported": make_attribute(
        "pwg-raster-document-resolution-supported", Tag.RESOLUTION, Resolution(360, 360)
    ),
}

Answer = Callable[[Message, bytes], bytes | Message | None]
"""From a request and its document to an HTTP answer as it is, a message, or nothing (the connection is cut)."""


class MadeUpPrinter:
    """Listens on a free port; keeps requests and documents, and jobs by number as [name, state, reasons, document]."""

    def __init__(self, attributes: dict[str, Attribute | None] | None = None, answer: Answer | None = None) -> None:
        chosen = HONEST | (attributes or {})
        self.attributes = tuple(one for one in chosen.values() if one is not None)
        self.override = answer
        self.requests: list[Message] = []
        self.jobs: dict[int, list] = {}
        self.server = socket.create_server(("127.0.0.1", 0))
        self.address = f"ipp://127.0.0.1:{self.server.getsockname()[1]}/ipp/print"
        self._thread = threading.Thread(target=self._serve, daemon=True)
        self._thread.start()

    @property
    def documents(self) -> list[bytes]:
        """What was printed."""
        return [job[3] for job in self.jobs.values() if job[3]]

    def close(self) -> None:
        """Nobody answers here any more.

        A socket that is closed while a thread waits on it goes on listening. A wait that is begun anew after a signal
        is on whatever has its number by then, such as the next printer, whose jobs this one would take.
        """
        with contextlib.suppress(OSError):
            self.server.shutdown(socket.SHUT_RDWR)
        self._thread.join(LONGEST_S)
        self.server.close()

    def __enter__(self) -> MadeUpPrinter:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def _serve(self) -> None:
        while True:
            try:
                connection, _ = self.server.accept()
            except OSError:
                return
            with connection, contextlib.suppress(OSError):
                self._one(connection)

    def _one(self, connection: socket.socket) -> None:
        content = b""
        while b"\r\n\r\n" not in content:
            more = connection.recv(65536)
            if not more:
                return
            content += more
        head, _, body = content.partition(b"\r\n\r\n")
        length = int(head.lower().partition(b"content-length:")[2].split(b"\r\n")[0])
        parts = [body]
        got = len(body)
        while got < length:
            more = connection.recv(1 << 20)
            if not more:
                return
            parts.append(more)
            got += len(more)
        body = b"".join(parts)
        message = decode_message(body)
        document = body[len(encode_message(message)) :]
        self.requests.append(message)
        answer = self.override(message, document) if self.override else None
        if answer is None:
            answer = self.honest(message, document)
        if isinstance(answer, Message):
            answer = http(encode_message(answer))
        connection.sendall(answer)

    def honest(self, request: Message, document: bytes) -> Message:
        """What a printer answers (RFC 8011, 4.2 and 4.3)."""
        operation = request.find_group(Tag.OPERATION)
        if request.code == Operation.GET_PRINTER_ATTRIBUTES:
            return said(0, Group(Tag.PRINTER, self.attributes))
        if request.code == Operation.CREATE_JOB:
            number = len(self.jobs) + 1
            self.jobs[number] = [operation.find_first("job-name"), 3, "job-incoming", b""]
            return said(0, self.job_group(number))
        number = operation.find_first("job-id")
        if request.code == Operation.SEND_DOCUMENT:
            self.jobs[number] = [self.jobs[number][0], 9, "job-completed-successfully", document]
            return said(0, self.job_group(number))
        if request.code == Operation.GET_JOB_ATTRIBUTES:
            return said(0, self.job_group(number)) if number in self.jobs else said(0x0406)
        if request.code == Operation.CANCEL_JOB and number in self.jobs:
            self.jobs[number][1:3] = [7, "job-canceled-by-user"]
        if request.code == Operation.GET_JOBS:
            return said(0, *(self.job_group(number) for number in self.jobs))
        return said(0)

    def job_group(self, number: int) -> Group:
        name, state, reasons, _ = self.jobs[number]
        return Group(
            Tag.JOB,
            (
                make_attribute("job-id", Tag.INTEGER, number),
                make_attribute("job-name", Tag.NAME, name),
                make_attribute("job-state", Tag.ENUM, state),
                make_attribute("job-state-reasons", Tag.KEYWORD, reasons),
            ),
        )


def said(status: int, *groups: Group) -> Message:
    """An answer."""
    return Message(status, (Group(Tag.OPERATION, FIRST), *groups))


def http(body: bytes, status: str = "200 OK", more: str = "") -> bytes:
    """An answer over HTTP."""
    head = f"HTTP/1.1 {status}\r\nContent-Type: application/ipp\r\nContent-Length: {len(body)}\r\n{more}\r\n"
    return head.encode() + body
