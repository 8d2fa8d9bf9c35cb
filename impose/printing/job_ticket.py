"""What a job asks of the printer: every choice said, none left to a default that somebody may have changed. Pure."""

from __future__ import annotations

from impose.printing.ipp_encoding import Attribute, Collection, Resolution, Tag, make_attribute, make_collection
from impose.printing.printer_attributes import PrinterReport
from impose.values import FrozenStruct

PDF, RASTER = "application/pdf", "image/pwg-raster"
HIGH_QUALITY = 5  # print-quality: high (RFC 8011, 5.2.13)
PORTRAIT = 3  # orientation-requested: as the page is (RFC 8011, 5.2.10)
LEAST_DPI, BEST_DPI, MOST_DPI = 150, 360, 2400

# The first time, the type that lays least ink on a matte coating. `transfer` means iron-on paper to some printers,
# which then mirror: it is never chosen by us.
MATTE_FIRST = ("photographic-matte", "stationery-inkjet", "stationery-coated")
NEVER = "transfer"


class JobTicket(FrozenStruct):
    """How sheets of one size are to be printed: format, media type, and the job's attributes."""

    document_format: str
    media_type: str
    resolution: Resolution | None  # of raster; None for PDF
    attributes: tuple[Attribute, ...]


def choose_media_type(report: PrinterReport, wished: str) -> str:
    """The media type to print with: as wished, or a matte one of those the printer has; empty where it has none."""
    if wished:
        return wished
    return next((name for name in MATTE_FIRST if name in report.media_types), "")


def choose_format(report: PrinterReport) -> str:
    """PDF where the printer takes it, else raster; empty where it takes neither."""
    return next((name for name in (PDF, RASTER) if name in report.formats), "")


def choose_resolution(report: PrinterReport) -> Resolution | None:
    """The printer's own dots for raster: the coarsest of 360 to the inch or more, else the finest it has."""
    square = {r.across for r in report.raster_resolutions if r.across == r.along}
    usable = sorted(dpi for dpi in square if LEAST_DPI <= dpi <= MOST_DPI)
    if not usable:
        return None
    dpi = next((dpi for dpi in usable if dpi >= BEST_DPI), usable[-1])
    return Resolution(dpi, dpi)


def make_ticket(report: PrinterReport, width_mm: float, height_mm: float, name: str, wished_type: str) -> JobTicket:
    """The ticket of sheets of one size; `name` is the paper's of PWG 5101.1.

    What the printer says it does not take is left out; the checks have refused before whatever must not be left out.
    """
    media_type = choose_media_type(report, wished_type)
    document_format = choose_format(report)
    resolution = choose_resolution(report) if document_format == RASTER else None
    found = [_ask_media(report, width_mm, height_mm, name, media_type)]
    if report.is_queue and found[0].name == "media-col":
        # A queue lays its default `media` over a job that says media-col alone, and then fits the page to it.
        found.insert(0, make_attribute("media", Tag.KEYWORD, name))
    found += _plain_choices(report, height_mm >= width_mm)
    if resolution is not None and report.takes_attribute("printer-resolution"):
        found.append(make_attribute("printer-resolution", Tag.RESOLUTION, resolution))
    if report.is_queue:
        found += _queue_choices()
    return JobTicket(document_format, media_type, resolution, tuple(found))


def _ask_media(report: PrinterReport, width_mm: float, height_mm: float, name: str, media_type: str) -> Attribute:
    """media-col with size, margins, type and source (PWG 5100.7); where there is none, media (RFC 8011, 5.2.11)."""
    if report.job_attributes is not None and "media-col" not in report.job_attributes:
        return make_attribute("media", Tag.KEYWORD, name)
    if not report.media_members and report.job_attributes is None:
        return make_attribute("media", Tag.KEYWORD, name)
    size = (
        make_attribute("x-dimension", Tag.INTEGER, round(width_mm * 100)),
        make_attribute("y-dimension", Tag.INTEGER, round(height_mm * 100)),
    )
    members = [make_attribute("media-size", Tag.COLLECTION, Collection(size))]
    edges = report.find_edges(width_mm, height_mm)
    if edges is not None:
        for side in ("left", "right", "top", "bottom"):
            if f"media-{side}-margin" in report.media_members:
                length = round(getattr(edges, f"{side}_mm") * 100)
                members.append(make_attribute(f"media-{side}-margin", Tag.INTEGER, length))
    if media_type and "media-type" in report.media_members:
        members.append(make_attribute("media-type", Tag.KEYWORD, media_type))
    loaded = report.loaded_entry(width_mm, height_mm)
    if loaded is not None and loaded.source and "media-source" in report.media_members:
        members.append(make_attribute("media-source", Tag.KEYWORD, loaded.source))
    return make_collection("media-col", *members)


def _plain_choices(report: PrinterReport, upright: bool) -> list[Attribute]:
    found = []
    if "none" in report.scalings:
        found.append(make_attribute("print-scaling", Tag.KEYWORD, "none"))
    if HIGH_QUALITY in report.qualities:
        found.append(make_attribute("print-quality", Tag.ENUM, HIGH_QUALITY))
    if "one-sided" in report.sides:
        found.append(make_attribute("sides", Tag.KEYWORD, "one-sided"))
    if "color" in report.colour_modes:
        found.append(make_attribute("print-color-mode", Tag.KEYWORD, "color"))
    if "relative" in report.intents:
        found.append(make_attribute("print-rendering-intent", Tag.KEYWORD, "relative"))
    found.append(make_attribute("copies", Tag.INTEGER, 1))
    if upright:
        found.append(make_attribute("orientation-requested", Tag.ENUM, PORTRAIT))
    return [choice for choice in found if report.takes_attribute(choice.name)]


def _queue_choices() -> list[Attribute]:
    """What a spooler's queue may have as a hidden default: said in every job, whether the queue lists it or not."""
    return [
        make_attribute(
            "mirror", Tag.BOOLEAN, False
        ),  # the spooler's own: a queue's default does not show in its attributes
        make_attribute("fit-to-page", Tag.BOOLEAN, False),
        make_attribute("number-up", Tag.INTEGER, 1),  # RFC 8011, 5.2.9
        make_attribute("job-sheets", Tag.NAME, "none", "none"),  # RFC 8011, 5.2.3: a banner page would cost a sheet
        make_attribute("page-border", Tag.KEYWORD, "none"),
    ]
