# ruff: noqa: E501 - tables of cells
"""What programs and the page are told by the doors of the rooms: live plans, tables, rosters, values, ticks."""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import Any

import pytest

from answers.pictures import PICTURES, draw_disc
from answers.test_shop import OWN
from approved_answers import Told
from impose.errors import Trouble
from impose.orders.column_map_file import encode_column_map, make_column_map, read_map_data
from impose.orders.editable_table import carry_names, parse_editable, read_workbook_table
from impose.orders.roster_paste import read_roster
from impose.run import Options
from impose.run.batch_choices import encode_choices, lay_choices, read_choices
from impose.run.finding_mends import list_mends
from impose.run.first_questions import answer_questions, list_questions
from impose.run.garment_places import list_faces
from impose.run.live import Live
from impose.run.load_batch import load_profiles_in_force
from impose.run.press_ticks import list_again, read_ticks
from impose.run.price_values import list_price_values
from impose.run.shop_changes import change_shop
from impose.run.shop_values import (
    list_paper_values,
    list_placement_values,
    list_press_values,
    list_printer_values,
    list_setting_choices,
    list_setting_values,
)
from waiting import LONGEST_S

pytestmark = pytest.mark.usefixtures("sheets_alone")


def try_work(told: Told, title: str, work: Callable[[], Any]) -> Any:
    """Tell what a call gives, or its findings."""
    try:
        found = work()
    except Trouble as trouble:
        told.show(title, "\n".join(str(finding) for finding in trouble.findings))
        return None
    told.show(title, found)
    return found


def describe_plan(plan: Any) -> str:
    """A plan's sheets, money and findings."""
    lines = [f"{plan.transfer_count} transfers on {len(plan.layout.sheets)} sheets"]
    for sheet in plan.layout.sheets:
        placed = ", ".join(
            f"{p.transfer.id} row {p.transfer.piece.row.row} at {p.x:.1f} {p.y:.1f} turned {p.turned}"
            for p in sheet.placed
        )
        lines.append(f"{sheet.number} {sheet.paper.alias}: {placed}")
    lines += [f"{finding.severity.value} {finding}" for finding in plan.batch.findings]
    return "\n".join(lines)


def test_live_plans(told: Told, monkeypatch: pytest.MonkeyPatch) -> None:
    for name, size in (("owl", 150), ("fox", 120), ("moth", 90)):
        told.draw(f"{name}.png", draw_disc(size))
    told.draw("haze.png", PICTURES["haze"]())
    heard: list[tuple[int, bool]] = []
    done = threading.Event()

    def hear(plan: Any, final: bool) -> None:
        heard.append((plan.transfer_count, final))
        done.set()

    def row(art: str = "owl.png", width: str = "60 mm", **cells: Any) -> dict[str, Any]:
        return {"order": "Owl", "wearer": "Ada", "art": art, "garment": "T-shirt adult L", "width": width, **cells}

    tables: list[tuple[str, list[dict[str, Any]]]] = [
        ("one row", [row()]),
        ("two more", [row(), row("fox.png", placement="full-back", width="150 mm"), row("moth.png", copies=3, wearer="")]),
        ("one larger", [row(width="110 mm"), row("fox.png", placement="full-back", width="150 mm"), row("moth.png", copies=3, wearer="")]),
        ("one that is haze, one without a picture", [row("haze.png"), row("none.png"), row("owl.png", wearer="Bo")]),
        ("words and faults", [row("", words="ADA", placement="full-back"), row(width="wide"), row(placement="knee")]),
        ("too large", [row(width="900 mm"), row("fox.png", wearer="Bo")]),
        ("nothing", []),
        ("kits", [{"order": "K", "kit": "team", "name": "Ada", "garment": "adult M"}]),
    ]  # fmt: skip
    kits = [{"kit": "team", "art": "owl.png", "placement": "left-chest", "garment": "hoodie"}]
    options = Options(art_root=told.folder, workers=1, steps=100)
    with Live(options, hear, papers=["a4"]) as live:
        for title, rows in tables:
            try:
                live.change(rows, kits=kits) if title == "kits" else live.change(rows)
                told.show(title, describe_plan(live.plan(timeout=LONGEST_S)))
            except Trouble as trouble:
                told.show(title, "\n".join(str(finding) for finding in trouble.findings))
    for more in ({"cache": False}, {"settings": {"papers": ["nothing"]}}):
        try_work(told, str(more), lambda more=more: Live(Options(art_root=told.folder, **more)))
    try_work(told, "a paper that is not there", lambda: Live(options, papers=["a77"]))


def test_tables_that_are_edited(told: Told) -> None:
    texts = {
        "plain": 'order,art,width,colour of ours\r\nR-1,"owl, grey.png",60 mm,x\r\n\r\nR-2,"two\r\nlines.png",90 mm\r\n',
        "semicolons": "sep=;\nOrder No;art;Breite (cm)\nR-1;owl.png;6\nR-2;fox.png;9\n",
        "tabs": "art\twidth\nowl.png\t6 cm\n",
        "empty": "",
    }
    for title, text in texts.items():
        table = try_work(
            told,
            title,
            lambda text=text, title=title: describe_table(parse_editable(text.encode(), Path(f"{title}.csv"))),
        )
        if table is None:
            continue
        edited = parse_editable(text.encode(), Path(f"{title}.csv"))
        first = edited.rows[0].id
        edited = edited.set_cell(first, "art", 'new "owl".png')
        edited, added = edited.add_row({"art": "added.png", "wearer": "Ana"}, first)
        edited, last = edited.add_row({"art": "last.png"})
        edited = edited.add_column("Team").set_cell(added, edited.add_column("Team").keys[-1], "Reds")
        edited = edited.move_rows([last], None).remove_rows([first])
        told.show(f"{title}, edited", describe_table(edited))
        told.show("as a file", repr(edited.make_file().decode()))
        kept = carry_names(edited, parse_editable(edited.make_file(), Path(f"{title}.csv")))
        told.show("names that are kept", " ".join(row.id for row in kept.rows))
        told.show("mappings", edited.make_mappings())
    import openpyxl

    book = openpyxl.Workbook()
    for cells in (["order", "art", "number"], ["A", "owl.png", 7], ["B", "fox.png", None]):
        book.active.append(cells)
    book.save(told.folder / "orders.xlsx")
    told.show("a workbook", describe_table(read_workbook_table(told.folder / "orders.xlsx")))


def describe_table(table: Any) -> str:
    """Its columns and rows."""
    lines = [" | ".join(table.keys)]
    lines += [f"{row.id}: {' | '.join(row.cells)}{' (blank)' if row.blank else ''}" for row in table.rows]
    return "\n".join(lines)


def test_pasted_rosters(told: Told) -> None:
    wardrobe = load_profiles_in_force(Options()).wardrobe
    pasted = {
        "words": "Łukasz Wróbel 7 adult M\n7 Zoë - youth L\nadult M | Bo | #12\nAna (adult 2XL), 9\n\nAna (adult 2XL), 9\nQQ\n3",
        "table": "Size\tNo.\tName\nyouth M\t#07\tAda\nadult L\t12\tBo\nXXL\t\tCy\nhuge\t4\tDi",
        "no headings": "Ada;7;adult M\nBo;8;adult L\nCy;9;youth S",
        "long": "A" * 60 + " 7 adult M",
        "nothing": " \n\t\n",
    }
    for title, text in pasted.items():
        roster = read_roster(text, wardrobe)
        lines = [f"columns {roster.columns} heading {roster.heading}"]
        lines += [f"asks {ask}" for ask in roster.asks]
        lines += [f"{line.line}: {dict(line.cells)} odd {line.odd}" for line in roster.lines]
        told.show(title, "\n".join(lines))


def test_column_maps_and_choices(told: Told) -> None:
    shown = {
        "order": {"from": "Order No"}, "garment": {"from": ["Item", "Shirt size"], "values": {"Tee L": "T-shirt adult L"}},
        "copies": {"from": "Qty", "blank": "1"}, "art": {"from": "Print file", "before": "art/", "after": ".png"},
        "placement": {"always": "left-chest"}, "width": {"from": "Wide", "unit": "cm"}, "ticket": {"from": ["Message"]},
    }  # fmt: skip
    skip = {"Payment": ["refunded"]}
    try_work(told, "a map", lambda: str(make_column_map(shown, skip)))
    told.show("as a file", encode_column_map(shown, skip).decode())
    told.write("columns.toml", encode_column_map(shown, skip).decode())
    try_work(told, "read again", lambda: read_map_data(told.folder))
    try_work(told, "a wrong one", lambda: str(make_column_map({"colour": {"from": "X"}, "art": {}}, {})))
    choices = {
        "papers": ["a4", "13x19"], "tear": "tight", "oversize": "panels", "steps": 200, "keep_upright": True, "copies": 2,
        "placement": "left-chest", "width": "90 mm", "accept": ["thin-gap"], "printer": "careful", "skip_bad": True,
    }  # fmt: skip
    told.show("choices", encode_choices(choices).decode())
    told.write("batch.toml", encode_choices(choices).decode())
    try_work(told, "read", lambda: read_choices(told.folder / "batch.toml"))
    try_work(told, "laid", lambda: str(lay_choices(Options(), choices, told.folder)))
    for name, text in {
        "syntax": "papers = [", "unknown": 'colour = "red"', "steps": "steps = -1", "oversize": 'oversize = "cut"',
        "accept": 'accept = ["heat"]', "width": 'width = "wide"', "both": "steps = 5\nseconds = 3", "flag": "skip_bad = 3",
    }.items():  # fmt: skip
        path = told.write(f"{name}/batch.toml", text)
        try_work(told, name, lambda path=path: str(lay_choices(Options(), read_choices(path), path.parent)))
    told.draw("scene/clean.png", draw_disc(100))
    told.write("scene/batch.toml", 'papers = ["a5"]\ntear = "tight"\nplacement = "left-chest"\nkeep_upright = true\n')
    told.write("scene/orders.csv", "art\nclean.png\n")
    told.ask("quote scene/orders.csv --steps 50")
    told.ask("quote scene/orders.csv --steps 50 -p a4 --width 50mm")


def describe_values(values: Iterable[Any]) -> str:
    """A line for each value that a shop may enter."""
    return "\n".join(describe_value(value.values()) for value in values)


def describe_value(value: dict[str, Any]) -> str:
    """What of it is not blank."""
    return " | ".join(f"{name} {held}" for name, held in value.items() if held not in ("", None, True))


def test_values_of_a_shop(told: Told) -> None:
    for name in ("papers", "printers", "placements", "presses", "prices", "settings"):
        told.write(f"mine/{name}.toml", OWN[name])
    options = Options(profiles_dir=told.folder / "mine")

    def show_all(title: str) -> None:
        profiles = load_profiles_in_force(options)
        told.show(f"{title}: printer", describe_values(list_printer_values(profiles, profiles.find_printer("studio"))))
        told.show("press", describe_values(list_press_values(profiles, profiles.find_press("big"))))
        told.show("paper", describe_values(list_paper_values(profiles, "a4", profiles.papers["a4"])))
        figures = list(list_placement_values(profiles, profiles.placements["left-chest"]))
        told.show(
            "figures", "\n".join(f"{garment}: {describe_value(value.values())}" for garment, value in figures[:6])
        )
        prices = list_price_values(profiles)
        told.show("prices", "\n".join(describe_value(value) for value in prices.pop("values")) + f"\n{prices}")

    show_all("as written")
    profiles = load_profiles_in_force(options)
    told.show("settings", describe_values(list_setting_values(profiles)))
    for name in ("printer", "press", "papers", "units", "tear"):
        told.show(f"choices of {name}", "\n".join(map(str, list_setting_choices(profiles, name))))
    change_shop(
        [
            {"op": "printer", "printer": "studio", "values": {"bottom": "0.5 in", "scale_x": "1,002", "ink_cost": "0.12"}},
            {"op": "press", "press": "big", "values": {"seconds": "55", "pressure": "firm"}},
            {"op": "paper", "paper": "a4", "cost": "0.11", "values": {"temperature_c": "205"}},
            {"op": "paper", "new": "321x451mm", "title": "Ours", "cost": "0.4"},
            {"op": "setting", "name": "tear", "value": "11 mm"},
            {"op": "price", "name": "tax", "value": "20"},
            {"op": "price", "blank": "hoodie adult", "cost": "17.5"},
            {"op": "price", "from": "24", "off": "10"},
        ],
        told.folder / "mine", Options(),
    )  # fmt: skip
    show_all("changed")
    for name in ("printers", "presses", "papers", "settings", "prices"):
        told.show_file(f"mine/{name}.toml")
    for wrong in (
        {"op": "printer", "printer": "studio", "values": {"bottom": "deep"}}, {"op": "press", "press": "big", "values": {"seconds": "0"}},
        {"op": "paper", "paper": "a77", "cost": "1"}, {"op": "setting", "name": "currency", "value": "euro"},
        {"op": "setting", "name": "none", "value": "1"}, {"op": "price", "name": "markup", "value": "a lot"}, {"op": "dance"},
        {"op": "figure", "placement": "hat", "garment": "adult", "what": "width", "length": "9 cm"},
    ):  # fmt: skip
        try_work(told, str(wrong), lambda wrong=wrong: change_shop([wrong], told.folder / "mine", Options()))


def test_first_questions(told: Told) -> None:
    told.show("asked", "\n".join(map(str, list_questions(Options(), [("studio", "ipp://192.0.2.7/ipp/print")]))))
    answers = {
        "units": "mm", "currency": "EUR", "papers": [{"paper": "a4", "cost": "0.12", "left": "50"}, {"paper": "13x19", "cost": "0.6"}],
        "printer": {"name": "Studio", "widest": "13x19", "address": "ipp://192.0.2.7/ipp/print"},
        "press": {"width": "380 mm", "height": "380 mm"},
    }  # fmt: skip
    mine, ledger = told.folder / "mine", told.folder / "ledger.db"
    try_work(told, "answered", lambda: answer_questions(answers, mine, Options(), ledger))
    for path in sorted(mine.glob("*.toml")):
        told.show_file(f"mine/{path.name}")
    told.ask("stock --ledger ledger.db")
    told.show("asked again", "\n".join(map(str, list_questions(Options(profiles_dir=mine)))))
    for wrong in ({"press": {"width": "wide", "height": "3"}}, {"papers": [{"paper": "a77"}]}, {"currency": "euro"}):
        try_work(
            told, str(wrong), lambda wrong=wrong: answer_questions(wrong, told.folder / "theirs", Options(), ledger)
        )


def test_places_on_garments(told: Told) -> None:
    profiles = load_profiles_in_force(Options())
    for words in ("T-shirt adult M", "zip hoodie youth L", "polo women XL", "T-shirt toddler 2T"):
        garment = profiles.wardrobe.read_garment(words).garment
        lines = []
        for face in list_faces(garment, profiles):
            for place in face.places:
                box = place.spot.box if place.spot is not None else None
                spot = f"{box.x:.1f} {box.y:.1f} {box.w:.1f} {box.h:.1f}" if box is not None else "none"
                lines.append(
                    f"{face.face}: {place.placement.name} [{spot}] {place.size!r} {place.offset!r} {place.why!r}"
                )
        told.show(words, "\n".join(lines))


def test_mends_of_findings(told: Told) -> None:
    from impose.run import check

    for name in ("haze", "speck-inside", "tinted-ground", "off-white", "strokes", "screenshot", "square", "cut-off"):
        told.draw(f"{name}.png", PICTURES[name]())
    told.write("orders.csv", """
        order,wearer,art,placement,garment,width,cloth_colour,tear
        A,Ana,haze.png,left-chest,adult M,60 mm,cream,
        B,Bo,speck-inside.png,left-chest,adult M,60 mm,,
        C,Cy,tinted-ground.png,left-chest,adult M,60 mm,,
        D,Di,strokes.png,left-chest,adult M,20 mm,,
        E,Ed,square.png,full-back,adult M,900 mm,,
        F,Fi,off-white.png,full-back,adult M,200 mm,,tight
        G,Gi,cut-off.png,left-chest,women M,,,
    """)  # fmt: skip
    profiles = load_profiles_in_force(Options())
    found = check([told.folder / "orders.csv"], Options()).findings
    for finding in found:
        mends = list_mends(finding, None, profiles)
        told.show(f"{finding.kind} of row {finding.row}", "\n".join(str(mend) for mend in mends))


def test_ticks_of_the_press(told: Told) -> None:
    ticks = read_ticks(told.folder)
    for place, (name, pressed, spoiled) in enumerate(
        [
            ("T001", True, None),
            ("T002", None, "paper"),
            ("T003", None, "garment"),
            ("T002", None, ""),
            ("T004", True, "fire"),
        ]
    ):
        ticks.set_tick("3F7K", name, pressed, spoiled, f"20:{place:02}")
    ticks.set_grouping("3F7K", "place")
    ticks.write_file()
    told.list_files()
    again = read_ticks(told.folder)
    told.show("ticks", str(sorted(again.list_ticks_of("3F7K").items())))
    told.show("grouping", again.find_grouping("3F7K") + " " + again.find_grouping("9QQQ"))
    told.show("nothing again", str(list_again([], again.list_ticks_of("3F7K"))))
