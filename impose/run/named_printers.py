"""A printer that the person names as theirs: where it is, that it holds sublimation ink, and the edges it reports."""

from __future__ import annotations

import re
from collections.abc import Mapping
from pathlib import Path

from impose.errors import Trouble
from impose.printing.ipp_client import parse_address
from impose.run.load_batch import load_profiles_in_force
from impose.run.options import Options
from impose.run.own_profiles import use_own_profiles
from impose.run.print_door import describe_named_printer
from impose.run.printer_listing import SIDES
from impose.run.shop_changes import change_shop


def name_printer(name: str, address: str, edges: Mapping[str, str], folder: Path, options: Options) -> str:
    """Write the printer into the shop's own profiles and use it from now on; its name there. Raises `Trouble`.

    One on file keeps its edges, which may be measured. A new one has those given; where none are, the usual ones,
    until it is measured.
    """
    where = str(parse_address(address))
    known = load_profiles_in_force(use_own_profiles(options, folder)).printers
    name = name if name in known else _make_name(name)
    values = {"address": where, "sublimation_ink": "true"} | ({} if name in known else dict(edges))
    operations = [{"op": "printer", "printer": name, "values": values}]
    change_shop([*operations, {"op": "setting", "name": "printer", "value": name}], folder, options)
    return name


def _make_name(text: str) -> str:
    return re.sub(r"[^a-z0-9]+", "-", text.casefold()).strip("-")[:40] or "printer"


def ask_edges(name: str, address: str, options: Options, ledger: Path) -> dict[str, str]:
    """The widest edges of the papers that a new printer takes; nothing where it does not say, or is on file.

    Raises `Trouble` for what is no address.
    """
    where = str(parse_address(address))
    if name in load_profiles_in_force(options).printers:
        return {}
    try:
        told = describe_named_printer(where, options, ledger)
    except Trouble:
        return {}
    known = [paper["edges_mm"] for paper in told["papers"] if paper["edges_mm"]]
    return {side: f"{max(edges[side] for edges in known):g} mm" for side in SIDES} if known else {}
