"""The queues of this machine's spooler, by name and where each sends to. No printer is spoken to."""

from __future__ import annotations

from collections.abc import Mapping
from urllib.parse import urlsplit

from impose.errors import Trouble
from impose.printing.ipp_client import Address, IppClient, PrinterRefusal, UnknownCertificate, parse_address
from impose.printing.ipp_encoding import Operation, Tag, make_attribute
from impose.values import FrozenStruct

SPOOLER = "CUPS_SERVER"
"""The spooler's own variable for where it listens; on this machine at port 631 unless it says otherwise."""

_ASKED = ("printer-name", "printer-uri-supported", "device-uri", "printer-make-and-model")
ANSWER_S = 5.0


class PrintQueue(FrozenStruct):
    """A queue: its name, its address at the spooler, and the device it sends to."""

    name: str
    address: Address
    device: str


def find_spooler_address(environment: Mapping[str, str]) -> Address:
    """Where the spooler listens. Raises `Trouble` (wrong use) for a variable that is no address."""
    named = environment.get(SPOOLER, "").partition("/version=")[0]
    if not named or named.startswith("/"):  # a socket's path: the spooler listens on the port as well
        named = "localhost"
    return parse_address(f"ipp://{named}/")


def list_queues(environment: Mapping[str, str]) -> list[PrintQueue]:
    """Every queue of the spooler; none where no spooler runs."""
    spooler = find_spooler_address(environment)
    said = [make_attribute("requested-attributes", Tag.KEYWORD, *_ASKED)]
    try:
        answer = IppClient(spooler, answer_s=ANSWER_S).ask_printer(Operation.GET_QUEUES, said)
    except (Trouble, PrinterRefusal, UnknownCertificate):
        return []
    found = []
    for group in answer.find_groups(Tag.PRINTER):
        name, device = group.find_first("printer-name"), group.find_first("device-uri")
        if isinstance(name, str) and name and name.isprintable() and "/" not in name:
            address = Address(spooler.secure, spooler.host, spooler.port, f"/printers/{name}")
            found.append(PrintQueue(name, address, hide_secret(device) if isinstance(device, str) else ""))
    return found


def find_straight_address(device: str) -> Address | None:
    """The printer a queue sends to, where that is one that can be spoken to straight; else None."""
    if urlsplit(device).scheme.casefold() not in ("ipp", "ipps"):
        return None
    try:
        return parse_address(device.partition("?")[0])
    except Trouble:
        return None


def hide_secret(device: str) -> str:
    """A device's address less a name and password in it, fit to be shown."""
    scheme, mark, rest = device.rpartition("://")
    # A password may hold a slash, and options a password, so what stands before the last @ and behind a ? goes.
    return f"{scheme}{mark}{rest.partition('?')[0].rpartition('@')[2]}"[:300]
