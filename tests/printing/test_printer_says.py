"""What a printer says of itself, in our terms, and what a job then asks of it, attribute by attribute: no printer here.

RFC 8011 for the attributes, PWG 5100.7 for media-col and its members, PWG 5101.1 for names of papers.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from each_case import try_each
from impose.errors import Trouble
from impose.printing import job_ticket
from impose.printing.ipp_encoding import Collection, Group, IntegerRange, Resolution, Tag, make_attribute
from impose.printing.job_ticket import choose_format, choose_media_type, choose_resolution, make_ticket
from impose.printing.printer_access import find_named_printer
from impose.printing.printer_attributes import InkLevel, PrinterEdges, PrinterReport, list_asked, read_report
from impose.printing.queues import PrintQueue, find_spooler_address, find_straight_address, hide_secret, list_queues
from impose.profiles.profiles import load_profiles
from impose.values import replace
from printing.made_up import HONEST, MadeUpPrinter, said, size

SYNTAX = {
    "printer-state": Tag.ENUM,
    "printer-name": Tag.NAME,
    "printer-info": Tag.TEXT,
    "printer-is-accepting-jobs": Tag.BOOLEAN,
    "document-format-supported": Tag.MIME,
    "device-uri": Tag.URI,
    "printer-type": Tag.ENUM,
    "marker-names": Tag.NAME,
    "marker-levels": Tag.INTEGER,
    "marker-low-levels": Tag.INTEGER,
    "print-quality-supported": Tag.ENUM,
    "media-col-ready": Tag.COLLECTION,
    "media-col-database": Tag.COLLECTION,
    "media-size-supported": Tag.COLLECTION,
    "pwg-raster-document-resolution-supported": Tag.RESOLUTION,
    "media-supported": Tag.KEYWORD,
}


def report(**attributes: Any) -> PrinterReport:
    """The report of a printer that says so; an underscore stands for a hyphen."""
    named = {name.replace("_", "-"): value for name, value in attributes.items()}
    made = [
        make_attribute(name, SYNTAX.get(name, Tag.KEYWORD), *(value if isinstance(value, list) else [value]))
        for name, value in named.items()
    ]
    return read_report(Group(Tag.PRINTER, tuple(made)))


def ranges(across: Any, along: Any) -> Collection:
    """A size of media-size-supported; a pair is a range."""
    kinds = [(Tag.RANGE, IntegerRange(*v)) if isinstance(v, tuple) else (Tag.INTEGER, v) for v in (across, along)]
    names = ("x-dimension", "y-dimension")
    return Collection(tuple(make_attribute(name, *kind) for name, kind in zip(names, kinds, strict=True)))


def test_a_silent_printer_is_asked_everything_and_believed_nothing():
    found = report()
    assert (found.name, found.model, found.state, found.accepting, found.is_queue) == ("", "", "unknown", True, False)
    assert (found.loaded, found.job_attributes, found.sizes, found.entries, found.ink) == (None, None, (), (), ())
    assert found.takes_attribute("sides")
    assert not found.knows_size(210, 297)
    assert list_asked().values[0].data == "all"  # RFC 8011, 4.2.5.1; media-col-database is left out of it
    assert [value.data for value in list_asked().values] == ["all", "media-col-database"]


@try_each("number, word", [(3, "idle"), (4, "printing"), (5, "stopped"), (6, "unknown"), (0, "unknown")])
def test_states_are_those_of_the_standard(number, word):
    """RFC 8011, 5.4.11."""
    assert report(printer_state=number).state == word


def test_names_reasons_and_what_may_be_asked():
    found = report(
        printer_info="By the press", printer_state_reasons=["none"], job_creation_attributes_supported=["copies"]
    )
    assert (found.name, found.reasons) == ("By the press", ())
    assert found.takes_attribute("copies")
    assert not found.takes_attribute("sides")
    found = report(printer_name="one", printer_info="two", printer_state_reasons=["toner-low", "media-jam", "none"])
    assert (found.name, found.reasons) == ("one", ("media-jam", "toner-low"))
    assert report(printer_is_accepting_jobs=False).accepting is False
    assert report(printer_is_accepting_jobs=True).accepting is True
    # What is of another kind than it should be is passed over; a yes is no number.
    wrong = Group(Tag.PRINTER, (make_attribute("printer-state", Tag.BOOLEAN, True),))
    assert read_report(wrong).state == "unknown"


def test_a_queue_is_known_by_its_device_or_its_type_and_knows_no_loaded_paper():
    ready = size(21000, 29700)
    assert report(device_uri="ipp://x/ipp/print", media_col_ready=ready).is_queue
    assert report(printer_type=4).is_queue
    assert not report(printer_type=0).is_queue
    assert report(device_uri="ipp://x/", media_col_ready=ready).loaded is None
    assert report(media_col_ready=ready).loaded is not None


@try_each(
    "wide, high, known",
    [
        (210, 297, True),
        (210.5, 297, True),
        (210.51, 297, False),
        (209.5, 296.5, True),
        (209.49, 297, False),
        (100, 148, True),
        (90, 200, True),
        (89.4, 200, False),
        (120.5, 200.5, True),
        (120.6, 200, False),
        (100, 126.4, False),
        (215.9, 279.4, True),
        (297, 210, False),
        (432, 900, True),
        (432, 5000, True),
        (432, 6000, False),
        (300, 900, False),
    ],
)
def test_sizes_are_single_ranges_or_names_and_alike_within_half_a_millimetre(wide, high, known):
    """PWG 5100.7 in hundredths of a millimetre; PWG 5101.1, 5: names that say a size, and ranges of two names."""
    found = report(
        media_size_supported=[ranges(21000, 29700), ranges((9000, 12000), (12700, 20000)), ranges(0, 29700)],
        media_supported=["na_letter_8.5x11in", "roll_min_431.8x500mm", "roll_max_432x5000mm", "no-name-of-a-paper"],
    )
    assert len(found.sizes) == 4
    assert found.knows_size(wide, high) is known


def test_margins_are_the_narrowest_that_are_not_borderless():
    borderless, narrow, wide = size(21000, 29700, 0), size(21000, 29700, 300), size(21000, 29700, 500)
    found = report(media_col_database=[wide, borderless, narrow, size(10000, 15000, 100)])
    assert found.find_edges(210, 297) == PrinterEdges(3, 3, 3, 3)
    assert found.find_edges(100, 150) == PrinterEdges(1, 1, 1, 1)
    assert found.find_edges(300, 300) is None
    assert found.offers_borderless(210, 297)
    assert not found.offers_borderless(100, 150)
    assert report(media_col_database=[borderless]).find_edges(210, 297) is None
    for wrong in (-1, 10_001):
        assert report(media_col_database=[size(21000, 29700, wrong)]).find_edges(210, 297) is None
    assert report(media_col_database=[size(21000, 29700, 10_000)]).find_edges(210, 297) == PrinterEdges(
        100, 100, 100, 100
    )
    assert report(media_col_database=[size(21000, 29700, None)]).knows_size(210, 297)
    # Each side is its own.
    sides = {"left": 310, "top": 320, "right": 330, "bottom": 1250}
    inner = make_attribute("media-size", Tag.COLLECTION, ranges(21000, 29700))
    entry = Collection((inner, *(make_attribute(f"media-{s}-margin", Tag.INTEGER, v) for s, v in sides.items())))
    assert report(media_col_database=[entry]).find_edges(210, 297) == PrinterEdges(3.1, 3.2, 3.3, 12.5)


def test_what_is_loaded_is_said_by_collections_or_else_by_names():
    """media-col-ready (PWG 5100.7); where it is missing, media-ready (RFC 8011, 5.2.11) as PWG 5101.1 names it."""
    inner = make_attribute("media-size", Tag.COLLECTION, ranges(21000, 29700))
    more = (
        make_attribute("media-type", Tag.KEYWORD, "stationery"),
        make_attribute("media-source", Tag.KEYWORD, "rear"),
    )
    found = report(media_col_ready=[Collection((inner, *more))], media_ready=["na_letter_8.5x11in"])
    entry = found.loaded_entry(210, 297)
    assert entry is not None
    assert (entry.media_type, entry.source) == ("stationery", "rear")
    assert found.loaded_entry(215.9, 279.4) is None
    found = report(media_ready=["na_letter_8.5x11in", "nonsense", "iso_a4_210x297mm"])
    assert found.loaded is not None
    assert len(found.loaded) == 2
    assert found.loaded_entry(215.9, 279.4) is not None
    assert found.loaded_entry(210, 297) is not None
    assert found.loaded_entry(100, 150) is None
    # Said, and empty: nothing lies there. Not said: nobody knows.
    assert report(media_ready=["nonsense"]).loaded == ()
    assert report(media_supported=["iso_a4_210x297mm"]).loaded is None


def test_ink_is_low_at_the_level_that_the_printer_names():
    found = report(
        marker_names=["black", "cyan", "magenta", "yellow", "waste"],
        marker_levels=[15, 16, -2, 101],
        marker_low_levels=[15, 15],
    )
    assert found.ink == (
        InkLevel("black", 15, True),
        InkLevel("cyan", 16, False),
        InkLevel("magenta", None, False),
        InkLevel("yellow", None, False),
        InkLevel("waste", None, False),
    )
    # Without a level of its own, a tenth.
    assert [ink.low for ink in report(marker_names=["a", "b", "c"], marker_levels=[10, 11, 0]).ink] == [
        True,
        False,
        True,
    ]
    assert len(report(marker_names=[f"n{n}" for n in range(40)]).ink) == 32
    assert [ink.percent for ink in report(marker_names=["a", "b"], marker_levels=[100, 0]).ink] == [100, 0]


FULL = {
    "document_format_supported": ["application/octet-stream", "image/pwg-raster", "application/pdf"],
    "media_col_supported": ["media-size", "media-type", "media-source", "media-left-margin", "media-top-margin"],
    "media_type_supported": ["transfer", "stationery", "stationery-coated", "photographic-matte"],
    "media_col_database": [size(21000, 29700, 350)],
    "media_col_ready": [
        Collection(
            (
                make_attribute("media-size", Tag.COLLECTION, ranges(21000, 29700)),
                make_attribute("media-source", Tag.KEYWORD, "rear"),
            )
        )
    ],
    "print_scaling_supported": ["auto", "none"],
    "print_quality_supported": [3, 4, 5],
    "sides_supported": ["one-sided", "two-sided-long-edge"],
    "print_color_mode_supported": ["monochrome", "color"],
    "print_rendering_intent_supported": ["auto", "relative"],
    "pwg_raster_document_resolution_supported": [Resolution(300, 300), Resolution(360, 360), Resolution(720, 720)],
}


def asked(found: PrinterReport, wide: float = 210, high: float = 297, wish: str = "") -> dict[str, Any]:
    """What a job asks for, its collections as dicts."""

    def plain(data: Any) -> Any:
        return {a.name: plain(a.values[0].data) for a in data.members} if isinstance(data, Collection) else data

    ticket = make_ticket(found, wide, high, "iso_a4_210x297mm", wish)
    return {attribute.name: plain(attribute.values[0].data) for attribute in ticket.attributes}


def test_every_choice_is_said_to_a_printer_that_takes_it():
    """Values: RFC 8011, 5.2 (print-quality 5: high; orientation 3: portrait; copies), PWG 5100.13."""
    assert asked(report(**FULL)) == {
        "media-col": {
            "media-size": {"x-dimension": 21000, "y-dimension": 29700},
            "media-left-margin": 350,
            "media-top-margin": 350,
            "media-type": "photographic-matte",
            "media-source": "rear",
        },
        "print-scaling": "none",
        "print-quality": 5,
        "sides": "one-sided",
        "print-color-mode": "color",
        "print-rendering-intent": "relative",
        "copies": 1,
        "orientation-requested": 3,
    }
    landscape = asked(report(**FULL), 297, 210)
    assert "orientation-requested" not in landscape
    assert landscape["media-col"] == {
        "media-size": {"x-dimension": 29700, "y-dimension": 21000},
        "media-type": "photographic-matte",
    }
    assert "orientation-requested" in asked(report(**FULL), 210, 210)
    assert asked(report()) == {"media": "iso_a4_210x297mm", "copies": 1, "orientation-requested": 3}
    few = asked(report(**FULL, job_creation_attributes_supported=["media", "copies"]))
    assert few == {"media": "iso_a4_210x297mm", "copies": 1}


def test_a_queue_is_told_what_it_might_do_by_itself():
    queue = asked(report(**FULL, device_uri="usb://printer"))
    assert queue["media"] == "iso_a4_210x297mm"
    assert "media-source" not in queue["media-col"]  # a queue does not know what is loaded
    told = {name: queue[name] for name in ("mirror", "fit-to-page", "number-up", "job-sheets", "page-border")}
    assert told == {"mirror": False, "fit-to-page": False, "number-up": 1, "job-sheets": "none", "page-border": "none"}
    assert list(queue)[:2] == ["media", "media-col"]
    plain = asked(report(device_uri="usb://printer"))
    assert list(plain).count("media") == 1


def test_the_first_that_fits_is_chosen():
    full = report(**FULL)
    assert choose_format(full) == "application/pdf"
    assert choose_format(report(document_format_supported=["image/pwg-raster"])) == "image/pwg-raster"
    assert choose_format(report(document_format_supported=["image/jpeg"])) == ""
    assert choose_media_type(full, "") == "photographic-matte"
    assert choose_media_type(full, "stationery") == "stationery"
    assert choose_media_type(
        report(media_type_supported=["transfer", "stationery-coated", "stationery-inkjet"]), ""
    ) == ("stationery-inkjet")
    assert choose_media_type(report(media_type_supported=["transfer"]), "") == ""
    for dots, best in (
        ([(300, 300), (360, 360), (720, 720)], 360),
        ([(300, 300), (600, 600), (720, 720)], 600),
        ([(150, 150), (300, 300)], 300),
        ([(600, 300), (300, 300)], 300),
        ([(720, 360)], None),
        ([(149, 149)], None),
        ([(150, 150)], 150),
        ([(2400, 2400)], 2400),
        ([(2401, 2401)], None),
        ([], None),
    ):
        found = (
            report(pwg_raster_document_resolution_supported=[Resolution(*one) for one in dots]) if dots else report()
        )
        assert choose_resolution(found) == (Resolution(best, best) if best else None), dots
    raster = {**FULL, "document_format_supported": ["image/pwg-raster"]}
    assert asked(report(**raster))["printer-resolution"] == Resolution(360, 360)
    assert make_ticket(report(**raster), 210, 297, "x", "").resolution == Resolution(360, 360)
    assert make_ticket(full, 210, 297, "x", "").resolution is None
    assert job_ticket.NEVER not in job_ticket.MATTE_FIRST


@pytest.mark.usefixtures("loopback")
def test_a_name_is_a_profile_with_an_address_or_a_queue():
    queues = [
        Group(
            Tag.PRINTER, (make_attribute("printer-name", Tag.NAME, name), make_attribute("device-uri", Tag.URI, device))
        )
        for name, device in (
            ("studio", "ipp://a:b@10.0.0.9/ipp/print"),
            ("office", "usb://x"),
            ("no/name", "usb://x"),
            ("", "x"),
        )
    ]
    with MadeUpPrinter(HONEST, lambda request, document: said(0, *queues)) as spooler:
        host = spooler.address.split("/")[2]
        there = {"CUPS_SERVER": host}
        found = list_queues(there)
        assert [(queue.name, queue.device, queue.address.path) for queue in found] == [
            ("studio", "ipp://10.0.0.9/ipp/print", "/printers/studio"),
            ("office", "usb://x", "/printers/office"),
        ]
        assert isinstance(found[0], PrintQueue)
        profiles = load_profiles(Path(__file__).parents[2] / "profiles")
        plain = next(iter(profiles.printers.values()))
        mine = replace(plain, name="studio", address="")
        known = replace(profiles, printers={"studio": mine})
        # The queue of the same name as a profile without an address is that profile's printer.
        named = find_named_printer("studio", known, there)
        assert (named.profile, named.address.path, named.by_address) == (mine, "/printers/studio", False)
        assert find_named_printer("office", known, there).profile is None
        # A profile with an address of its own needs no queue; a queue at a profile's address is that printer.
        own = replace(mine, address="ipp://10.0.0.7/ipp/print")
        assert find_named_printer("STUDIO ", replace(profiles, printers={"studio": own}), {}).address.host == "10.0.0.7"
        same = replace(mine, name="press", address=f"ipp://{host}/printers/office")
        assert find_named_printer("office", replace(profiles, printers={"press": same}), there).profile == same
        by_address = find_named_printer(
            f"ipp://{host}/printers/office", replace(profiles, printers={"press": same}), there
        )
        assert (by_address.profile, by_address.by_address) == (same, True)
        for nobody in ("studio", "nobody"):
            with pytest.raises(Trouble):
                find_named_printer(nobody, replace(known, printers={"studio": mine}), {"CUPS_SERVER": "127.0.0.1:1"})
    assert list_queues({"CUPS_SERVER": "127.0.0.1:1"}) == []


def test_where_the_spooler_is():
    for named, host, port in (
        ("", "localhost", 631),
        ("/run/cups/cups.sock", "localhost", 631),
        ("print.local", "print.local", 631),
        ("print.local:8631", "print.local", 8631),
        ("print.local/version=1.1", "print.local", 631),
    ):
        found = find_spooler_address({"CUPS_SERVER": named})
        assert (found.host, found.port, found.path) == (host, port, "/")
    assert find_straight_address("ipp://10.0.0.9/ipp/print?x=1") == find_straight_address("ipp://10.0.0.9/ipp/print")
    assert find_straight_address("IPPS://10.0.0.9/ipp/print").secure  # type: ignore[union-attr]
    for device in ("usb://x", "socket://10.0.0.9", "", "ipp://"):
        assert find_straight_address(device) is None
    assert len(hide_secret("ipp://" + "x" * 400)) == 300
