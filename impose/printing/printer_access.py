"""From the name a person gives to a printer that may be spoken to: found, trusted, known to hold sublimation ink."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from impose.errors import Exit, Finding, Trouble
from impose.ledger.print_jobs import KnownPrinter, PrintLedger
from impose.printing.ipp_client import (
    Address,
    IppClient,
    PrinterRefusal,
    UnknownCertificate,
    make_unreachable,
    parse_address,
)
from impose.printing.ipp_encoding import Group, Operation, Tag
from impose.printing.printer_attributes import PrinterReport, list_asked, read_report
from impose.printing.queues import find_straight_address, hide_secret, list_queues
from impose.profiles.paper import Printer
from impose.profiles.profiles import Profiles
from impose.remedies import Remedy
from impose.values import FrozenStruct, replace


class PrintQuestion(str):
    """A question to the person as words, and its code for programs."""

    code: str

    def __new__(cls, code: str, words: str) -> PrintQuestion:
        """Codes: trust-certificate, sublimation-ink, nozzle-check, page-true."""
        self = super().__new__(cls, words)
        self.code = code
        return self


Ask = Callable[[PrintQuestion], bool | None]
"""Asks the person: yes, no, or None where nobody is there to be asked."""

Say = Callable[[str], None]


class NamedPrinter(FrozenStruct):
    """A printer as the person named it: by a profile, a queue's name, or its address alone."""

    name: str
    address: Address
    profile: Printer | None
    by_address: bool = False


class OpenPrinter(FrozenStruct):
    """A printer that has answered: what it says, what is remembered of it, and the way to it (straight or queue)."""

    named: NamedPrinter
    client: IppClient
    report: PrinterReport
    known: KnownPrinter
    path: str


def find_named_printer(name: str, profiles: Profiles, environment: Mapping[str, str]) -> NamedPrinter:
    """The printer of a name: an address, a profile with an address, or a queue. Raises `Trouble` (wrong use)."""
    if "://" in name:
        address = parse_address(name)
        return NamedPrinter(str(address), address, _find_profile_at(address, profiles), by_address=True)
    profile = profiles.printers.get(name.strip().casefold())
    if profile is not None and profile.address:
        return NamedPrinter(profile.name, parse_address(profile.address), profile)
    for queue in list_queues(environment):
        if queue.name == name:
            return NamedPrinter(name, queue.address, profile or _find_profile_at(queue.address, profiles))
    if profile is not None:
        what = f"the printer {profile.name} has no address"
        raise Trouble(Finding(what, Remedy("write-address"), kind="printer", exit=Exit.USAGE))
    profiles.find_printer(name)  # raises with the near misses
    raise AssertionError(name)


def open_printer(
    named: NamedPrinter, profiles: Profiles, books: PrintLedger, ask: Ask, say: Say, trust_again: bool = False
) -> OpenPrinter:
    """Ask the printer what it is. A queue that sends to a printer by network is passed by, straight to that printer.

    Raises `Trouble`: unreachable (SYSTEM), a certificate nobody agreed to (SYSTEM).
    """
    client, report = _ask_report(named.address, books, ask, trust_again)
    path = "straight"
    if report.is_queue:
        path = "queue"
        device = find_straight_address(report.device)
        if device is not None and device != named.address:
            say(f"the queue {report.name or named.name} sends to {device}: going straight there")
            client, report = _ask_report(device, books, ask, trust_again)
            # What lies behind may be another spooler's queue: its defaults are as hidden as those of the first.
            path = "queue" if report.is_queue else "straight"
            named = replace(named, profile=_find_profile_at(device, profiles) or named.profile)
        else:
            say(f"through the queue {report.name or named.name} to {hide_secret(report.device) or 'its printer'}")
    return OpenPrinter(named, client, report, books.read_printer(str(client.address)), path)


def refuse_unmarked(printer: OpenPrinter, books: PrintLedger, ask: Ask, say: Say) -> OpenPrinter:
    """Print only to a printer that somebody says holds sublimation ink; once said, it is remembered.

    An address that was typed and nobody to ask counts as said for this once, aloud. Raises `Trouble` (wrong use).
    """
    profile, known = printer.named.profile, printer.known
    if known.sublimation or (profile is not None and profile.sublimation_ink):
        return printer
    words = f"{printer.named.name} ({printer.report.model or 'model unknown'})"
    answer = ask(PrintQuestion("sublimation-ink", f"Does {words} hold sublimation ink?"))
    if answer:
        known = replace(known, sublimation=True)
        books.remember_printer(known)
        return replace(printer, known=known)
    if answer is None and printer.named.by_address:
        say(f"note: nobody has said that {words} holds sublimation ink; taken at your word, since you gave its address")
        return printer
    what = f"nobody has said that {words} holds sublimation ink"
    raise Trouble(Finding(what, Remedy("say-sublimation-ink"), kind="printer", exit=Exit.USAGE))


def _ask_report(address: Address, books: PrintLedger, ask: Ask, trust_again: bool) -> tuple[IppClient, PrinterReport]:
    known = books.read_printer(str(address))
    client = IppClient(address, known.certificate)
    try:
        answer = _ask_attributes(client)
    except UnknownCertificate as stranger:
        _agree_certificate(stranger, ask, trust_again)
        books.remember_printer(replace(known, certificate=stranger.sha256))
        client = IppClient(address, stranger.sha256)
        answer = _ask_attributes(client)
    report = read_report(answer)
    return client, report


def _ask_attributes(client: IppClient) -> Group:
    try:
        return client.ask_printer(Operation.GET_PRINTER_ATTRIBUTES, [list_asked()]).find_group(Tag.PRINTER)
    except PrinterRefusal as refusal:
        raise make_unreachable(client.address, f"it refuses to say what it is ({refusal})") from None


def _agree_certificate(stranger: UnknownCertificate, ask: Ask, trust_again: bool) -> None:
    """An unknown certificate is asked about once; one that has changed is refused unless told otherwise."""
    mark = ":".join(stranger.sha256[at : at + 4] for at in range(0, 32, 4))
    if trust_again:
        return
    if stranger.changed:
        raise Trouble(
            Finding(
                f"the printer at {stranger.address} shows another certificate than before (it begins {mark})",
                Remedy("trust-changed"),
                kind="certificate",
                exit=Exit.SYSTEM,
            )
        )
    words = f"The printer at {stranger.address} shows a certificate that begins {mark}. Trust it from now on?"
    if not ask(PrintQuestion("trust-certificate", words)):
        raise Trouble(
            Finding(
                f"nobody has agreed to the certificate of the printer at {stranger.address} (it begins {mark})",
                Remedy("trust-new"),
                kind="certificate",
                exit=Exit.SYSTEM,
            )
        )


def _find_profile_at(address: Address, profiles: Profiles) -> Printer | None:
    return next((p for p in profiles.printers.values() if p.address and _is_same_address(p.address, address)), None)


def _is_same_address(text: str, address: Address) -> bool:
    try:
        return parse_address(text) == address
    except Trouble:
        return False
