"""Printers that announce themselves in this network (DNS-SD, RFC 6763): names and addresses only, none is asked."""

from __future__ import annotations

import threading
import time
from typing import Any

from impose.printing.ipp_client import Address
from impose.values import FrozenStruct

SERVICES = ("_ipps._tcp.local.", "_ipp._tcp.local.")  # PWG 5100.14, 4.2
LISTEN_S = 2.0
MOST_FOUND = 200


class FoundPrinter(FrozenStruct):
    """A printer by the name it announces, and where it says it is."""

    name: str
    address: Address


def can_discover() -> bool:
    """Whether the extra that listens for printers is installed."""
    try:
        import zeroconf  # noqa: F401
    except ImportError:
        return False
    return True


def find_printers(seconds: float = LISTEN_S) -> list[FoundPrinter]:
    """The printers that announce themselves within some seconds, by name; the encrypted way where one offers both."""
    import zeroconf

    found_by_name: dict[str, FoundPrinter] = {}
    lock = threading.Lock()

    class PrinterListener(zeroconf.ServiceListener):  # type: ignore[misc]
        """Keeps what is announced."""

        def add_service(self, zc: Any, type_: str, name: str) -> None:
            found = _read_announcement(zc.get_service_info(type_, name, 1000), type_, name)
            with lock:
                if (
                    found is not None
                    and len(found_by_name) < MOST_FOUND
                    and not (found.name in found_by_name and type_ == SERVICES[1])
                ):
                    found_by_name[found.name] = found

        def update_service(self, zc: Any, type_: str, name: str) -> None:
            """What changes is of no interest."""

        def remove_service(self, zc: Any, type_: str, name: str) -> None:
            """Nor is what goes within two seconds."""

    with zeroconf.Zeroconf() as network:
        browser = zeroconf.ServiceBrowser(network, list(SERVICES), PrinterListener())
        time.sleep(seconds)
        browser.cancel()
    with lock:
        return sorted(found_by_name.values(), key=lambda printer: printer.name)


def _read_announcement(info: Any, service: str, name: str) -> FoundPrinter | None:
    if info is None or not info.server or not info.port:
        return None
    path = (info.properties or {}).get(b"rp") or b"ipp/print"
    address = Address(service == SERVICES[0], info.server.rstrip("."), info.port, "/" + path.decode("ascii", "replace"))
    label = name.removesuffix(f".{service}")
    return FoundPrinter(label[:100], address)
