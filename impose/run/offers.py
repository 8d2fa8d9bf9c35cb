"""The offers of a priced delivery: a page and a PDF for each order in `offers/`, beside what was delivered.

They are not part of the delivery: `files` of the record does not name them, and a delivery that replaces it keeps them
as it keeps whatever people put there.
"""

from __future__ import annotations

import shutil
from collections.abc import Mapping, Sequence
from decimal import Decimal
from pathlib import Path

from impose.errors import Exit, Finding, Severity, Trouble
from impose.files import open_scratch_folder, write_new_file
from impose.orders.batch import OrderKey
from impose.pages.proof.approval_page import name_approval_files
from impose.pages.proof.garment_looks import GarmentLook, LooksByOrder, list_prints, make_look_key, order_code
from impose.pages.proof.offer import Offer, OfferLine, join_texts
from impose.pages.proof.offer_page import make_offer_page
from impose.pages.proof.offer_pdf import write_offer
from impose.pages.proof.proof_model import Proof, make_gallery
from impose.profiles.currencies import MILLIONTHS, count_minor_digits
from impose.profiles.customer_texts import CustomerTexts
from impose.remedies import Remedy
from impose.run.load_batch import LoadedBatch, load_profiles_in_force
from impose.run.options import Options
from impose.run.price import PricedBatch
from impose.run.progress import Progress, Stage, report_nothing, report_stage
from impose.run.record_file import RecordFile, read_values
from impose.run.reprint import load_recorded, make_recorded_piece, restore_options
from impose.run.tickets_from_record import read_tickets
from impose.sheet.charges import GarmentCharge, OrderCharge, count_garments
from impose.sheet.piece import Piece
from impose.type.sanitise import clean_text
from impose.values import replace as with_fields

FOLDER = "offers"


def write_offers(
    priced: PricedBatch, options: Options, replace: bool = False, progress: Progress = report_nothing
) -> list[Path]:
    """Write the offers of all orders; nothing where they lie there already, byte for byte. Returns their paths.

    Raises `Trouble`: artwork that is not found or has changed, and offers that differ, unless they may be replaced.
    """
    proof, looks = _make_proof(priced.source, options, progress)
    folder = priced.source.path.parent / FOLDER
    # An offer has the name of its order's page for approval.
    stems = {key: Path(name).stem for key, (_, name) in name_approval_files(proof.batch).items()}
    with open_scratch_folder() as scratch:
        made = []
        for done, order in enumerate(priced.orders, 1):
            made += _make_files(proof, make_offer(priced, order, looks[order.key], proof), scratch, stems[order.key])
            report_stage(progress, Stage.WRITING, done, len(priced.orders))
        _refuse_differing(made, folder, replace)
        folder.mkdir(exist_ok=True)
        return [_put_offer(path, folder / path.name) for path in made]


def make_offer(priced: PricedBatch, order: OrderCharge, looks: list[GarmentLook], proof: Proof) -> Offer:
    """What the offer of an order says: amounts as texts, prices alone."""
    code, prices, texts = priced.currency, priced.prices, proof.profiles.texts
    if order.net is None or order.tax is None or order.total is None or prices.tax is None:
        raise ValueError("an order without a price has no offer")

    def tell(amount: int | None) -> str:
        return texts.format_number(Decimal(amount or 0) / MILLIONTHS, count_minor_digits(code))

    numbers = {make_look_key(look.first.prints): number for number, look in enumerate(looks, 1)}
    lines = [
        OfferLine(
            numbers[make_look_key(list_prints(line.garments[0].ticket))],
            _describe_garments(line.garments, texts),
            len(line.garments),
            tell(line.unit),
            tell(line.amount),
            tuple((count, tell(price)) for count, price in line.by_step.items() if count > len(order.garments)),
        )
        for line in order.lines
    ]
    return Offer(
        texts=texts,
        title=clean_text(order.key[0])[0] or texts.fill_sentence("approval", "unnamed_order", row=str(order.first_row)),
        reference=f"{priced.source.printed.code}-{order_code(looks)}",
        shop=prices.shop,
        terms=prices.terms,
        currency=code,
        looks=tuple(looks),
        places=tuple(join_texts(texts, map(proof.name_place, look.first.prints)) for look in looks),
        lines=tuple(sorted(lines, key=lambda line: line.look)),
        net=tell(order.net),
        tax=tell(order.tax),
        tax_rate=_tell_share(prices.tax, texts),
        total=tell(order.total),
        less=_tell_share(order.share_off, texts),
        rounded=tell(priced.round_to),
    )


def _tell_share(share: Decimal, texts: CustomerTexts) -> str:
    """A share in per cent, with as many digits as it has; nothing for none."""
    return texts.custom.write_digits(f"{(share * 100).normalize():f}") if share else ""


def _describe_garments(garments: Sequence[GarmentCharge], texts: CustomerTexts) -> str:
    """The garments of a line in the customer's words, each with how many."""
    told = [
        texts.fill_sentence("approval", "several", count=count, garment=words) if count > 1 else words
        for words, count in count_garments(garments).items()
    ]
    return join_texts(texts, told)


def _make_proof(
    source: RecordFile, options: Options, progress: Progress
) -> tuple[Proof, dict[OrderKey, list[GarmentLook]]]:
    """The batch of a record with its pictures, as a page for approval has it."""
    from impose.pages.pdf.font_book import ShippedFonts
    from impose.type.lettering import TextShaper

    options = restore_options(source.printed, options)
    profiles = load_profiles_in_force(options)
    everything = [transfer.id for transfer in source.printed.transfers]
    job = load_recorded(source, everything, profiles, (), options, progress)
    pieces = _make_pieces(source, job)
    recorded = read_tickets(source, profiles, "garment", pieces)
    rows = job.batch.rows
    proof = Proof(
        recorded.layout, read_values(source), job.batch, profiles, job.printer, (), TextShaper(ShippedFonts()),
        make_gallery(recorded.layout),
    )  # fmt: skip
    return proof, LooksByOrder(rows, recorded.layout, profiles).list_all()


def _make_pieces(source: RecordFile, job: LoadedBatch) -> Mapping[str, Piece]:
    """The pieces as they were printed. Raises `Trouble` where artwork is another one now."""
    rows = {row.key: row for row in job.batch.rows}
    findings: list[Finding] = []
    known: dict[tuple[tuple[int, int], int], Piece] = {}
    found = {}
    for printed in source.printed.transfers:
        key = printed.key, printed.panel.number if printed.panel else 0
        if key not in known:
            row = rows[printed.key]
            known[key] = make_recorded_piece(printed, row, job.pictures[row.asked], False, findings)
        found[printed.id] = known[key]
    stops = [
        with_fields(finding, file=finding.file or str(source.path), remedy="Put the old file back, or make new sheets.")
        for finding in findings
        if finding.severity is Severity.STOP
    ]
    if stops:
        raise Trouble(stops)
    return found


def _make_files(proof: Proof, offer: Offer, folder: Path, stem: str) -> list[Path]:
    from impose.pages.pdf.font_book import open_reading_faces

    page, pdf = folder / f"{stem}.html", folder / f"{stem}.pdf"
    page.write_bytes(make_offer_page(proof, offer))
    write_offer(pdf, proof, offer, open_reading_faces())
    return [page, pdf]


def _refuse_differing(made: list[Path], folder: Path, replace: bool) -> None:
    """Raise `Trouble` (wrong use) where an earlier offer says something else: a customer may have been sent it."""
    if folder.is_symlink() or (folder.exists() and not folder.is_dir()):
        what = f"{folder} is no folder, so the offers cannot be written there"
        raise Trouble(Finding(what, "Move it away.", kind="name", exit=Exit.USAGE))
    there = [path for path in made if (folder / path.name).exists()]
    differing = [path.name for path in there if _differs(folder / path.name, path)]
    if differing and not replace:
        shown = ", ".join(differing[:3]) + (f" and {len(differing) - 3} more" if len(differing) > 3 else "")
        what = f"offers of these orders are in {folder} already and say something else ({shown})"
        raise Trouble(Finding(what, Remedy("replace-offers"), kind="name", exit=Exit.USAGE))


def _differs(path: Path, other: Path) -> bool:
    return path.is_symlink() or not path.is_file() or path.read_bytes() != other.read_bytes()


def _put_offer(made: Path, target: Path) -> Path:
    if not target.exists() or _differs(target, made):
        with write_new_file(target) as part:
            shutil.copyfile(made, part)
            part.chmod(0o644)
    return target
