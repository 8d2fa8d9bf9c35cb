"""What a shop says of itself: profiles as they are listed, entered, packed and refused; printers measured; guides."""

from __future__ import annotations

import json

import pytest

from approved_answers import Told, lay_out_json

OWN = {
    "papers": """
        [a4]
        cost = 0.21
        [a3-plus]
        name = "custom_a3-plus_329x483mm"
        aliases = ["A3+"]
        cost = 0.55
        temperature_c = 190
        note = "measured: 329 x 483 mm"
        [banner]
        name = "roll_banner_24x0in"
        cost = 1.75
        max_length = "3000 mm"
    """,
    "printers": """
        [studio]
        left = "3.2 mm"
        top = "3 mm"
        right = "3.4 mm"
        bottom = "12.5 mm"
        scale_x = 0.998
        scale_y = 0.996
        ink_ml_per_m2 = 11.4
        ink_cost = 0.09
        feed_width = "330 mm"
        address = "ipp://192.0.2.20/ipp/print"
        sublimation_ink = true
    """,
    "placements": """
        [left-chest.sizes.adult]
        width = "95 mm"
        [thigh]
        title = "thigh"
        face = "other"
        side = "left"
        aliases = ["leg"]
        up = "UP"
        reading = "upright"
        tear = "tight"
        note = "Shorts only."
        [thigh.sizes.adult]
        width = "3 in"
        height = "4 in"
        least = "2 in"
        most = "3.5 in"
        source = "our own practice"
        [thigh.offsets.adult]
        from = "hem seam"
        to = "bottom of print"
        usual = "1 in"
        source = "our own practice"
    """,
    "garments": """
        [kinds.bib]
        title = "bib"
        words = ["bibs", "training bib"]
        like = "t-shirt"
        scale_x = 1.004
        sizes = ["S", "M", "youth M"]
    """,
    "presses": """
        [big]
        title = "our 16 x 20"
        platen_width = "16 in"
        platen_height = "20 in"
        border = "1 in"
        temperature_c = 196
        seconds = 40
        pressure = "medium"
        prepress_seconds = 5
        cover = "clean uncoated paper"
        rest_seconds = 10
        source = "tested on scrap in March"
    """,
    "pads": """
        [5x5]
        owned = false
        [long]
        title = "4 × 14 in"
        width = "4 in"
        height = "14 in"
        source = "ours"
    """,
    "lettering": """
        [league]
        title = "League names"
        font = "Block"
        colour = "#C1121F"
        outline = "#FFFFFF"
        outline_width = 0.06
        arc = 40
        letter_height = "55 mm"
    """,
    "settings": """
        currency = "GBP"
        units = "in"
        papers = ["a4", "13x19"]
        printer = "studio"
        press = "big"
        tear = "12 mm"
        blank_spares = "5 %"
        press_order = ["chest", "back"]
        stops = ["haze"]
    """,
    "prices": """
        press_rate = 18.00
        markup = 0.60
        [blanks]
        "hoodie" = 16.00
        [steps]
        12 = 0.05
    """,
    "texts": """
        [custom]
        language = "de"
        decimal = ","
        thousands = "."
        [offer]
        total = "Zu zahlen"
    """,
}
FAULTS = {
    "papers": """
        [a4]
        cost = -1
        colour = "white"
        [odd]
        name = "na_odd"
        [same]
        name = "custom_same_100x100mm"
        aliases = ["a4", "a3+"]
        max_length = "1 m"
        [thin]
        name = "custom_thin_1x900mm"
        cost = "cheap"
    """,
    "printers": """
        [studio]
        left = "3"
        top = "900 mm"
        scale_x = 1.2
        scale_y = true
        ink_cost = -1
        intent = "vivid"
        address = "http://x"
        path = "pigeon"
    """,
    "placements": """
        [left-chest]
        tear = "2 mm"
        below = ["nothing"]
        way = "none"
        [thigh]
        title = "thigh"
        face = "knee"
        side = "up"
        aliases = ["left-chest"]
        [thigh.sizes.adult]
        width = "3 in"
        least = "4 in"
        most = "2 in"
        [thigh.offsets.adult]
        from = "knee"
        to = "somewhere"
        usual = "1 in"
    """,
    "garments": """
        default_kind = "toga"
        [kinds.bib]
        title = "bib"
        like = "bib"
        scale_x = 2
        words = ["hoodie"]
        [groups.tall]
        title = "tall"
        sizes = ["LT"]
        otherwise = "giant"
        [shades]
        white = "white"
    """,
    "presses": """
        [big]
        platen_width = "0 mm"
        temperature_c = 900
        seconds = 0
        pressure = "huge"
    """,
    "pads": """
        [long]
        width = "4 in"
        card = "yes"
    """,
    "lettering": """
        [league]
        font = "../font.ttf"
        colour = "red"
        outline_width = 3
        arc = 400
        letter_height = "9 m"
    """,
    "settings": """
        currency = "pounds"
        units = "ell"
        papers = ["a4", "none"]
        printer = "none"
        press = "none"
        tear = "4 mm"
        tint = 2
        stops = ["heat"]
        ppi_warn = 0
        pixel_limit = 5
        sheet_handling = 0.0000001
        press_order = ["back", "back", "knee"]
        blank_spares = "many"
        panel_overlap = "30 mm"
        colour = "red"
    """,
    "prices": """
        press_rate = -1
        spoilage = 2
        round_to = 0
        [blanks]
        "toga" = 3
        "hoodie hoodie" = 3
        [steps]
        0 = 0.1
        12 = 2
    """,
    "texts": """
        [custom]
        language = ""
        digits = "12"
        date = "{day} {hour}"
        months = ["one"]
        direction = "up"
        [offer]
        total = "{nothing}"
        unknown = "x"
        [places]
        knee = "Knie"
    """,
    "paper": "[a4]",
}


def test_profiles(told: Told, monkeypatch: pytest.MonkeyPatch) -> None:
    told.ask("profiles")
    out = told.ask("profiles papers --json", shown=False)
    told.show("papers as data", lay_out_json(json.loads(out)["papers"][:3]) if out.startswith("{") else out[:300])
    told.ask("profiles gowns")
    for name, text in OWN.items():
        told.write(f"mine/{name}.toml", text)
    for kind in OWN:
        told.ask(f"profiles {kind} --profiles mine") if kind not in ("texts", "placements") else None
    out = told.ask("profiles placements --profiles mine", shown=False)
    told.show("thigh", "\n".join(line for line in out.splitlines() if "thigh" in line or "left-chest" in line))
    monkeypatch.setenv("IMPOSE_PAPERS", "a4,letter")
    monkeypatch.setenv("IMPOSE_TEAR", "tight")
    out = told.ask("profiles settings --profiles mine --units mm", shown=False)
    told.show("from the environment", "\n".join(line for line in out.splitlines() if "IMPOSE_" in line))
    monkeypatch.setenv("IMPOSE_TINT", "much")
    told.ask("profiles settings")


def test_own_figures(told: Told) -> None:
    for name, text in OWN.items():
        told.write(f"mine/{name}.toml", text)
    told.ask("profiles --profiles mine --enter full-back 'hoodie adult' drop 5.5in")
    told.ask("profiles --profiles mine --enter thigh adult width 80mm")
    told.ask("profiles --profiles mine --enter left-chest 'youth L' across '70 mm'")
    told.ask("profiles --profiles mine --enter hat adult width 80mm")
    told.ask("profiles --profiles mine --enter thigh adult depth 80mm")
    told.ask("profiles --profiles mine --enter thigh toga width 80mm")
    told.ask("profiles --profiles mine --enter thigh adult width wide")
    told.show_file("mine/placements.toml")
    told.ask("profiles --profiles mine --pack shop.zip")
    told.ask("profiles --profiles mine --pack shop.zip")
    told.ask("profiles --profiles theirs --unpack shop.zip")
    told.ask("profiles --profiles theirs --unpack shop.zip")
    told.ask("profiles --profiles theirs --unpack shop.zip --replace")
    told.ask("profiles papers --profiles theirs --copy-to copied")
    told.ask("profiles --unpack nothing.zip --profiles theirs")
    told.list_files()
    told.show_file("theirs/printers.toml")


def test_faulty_profiles(told: Told) -> None:
    for name, text in FAULTS.items():
        told.write(f"{name}/{name}.toml", text)
        told.ask(f"profiles settings --profiles {name}")
    told.write("broken/papers.toml", "[a4\ncost = 1")
    told.ask("profiles papers --profiles broken")
    told.ask("profiles papers --profiles missing")


def test_measured_printer(told: Told) -> None:
    told.ask("calibrate -p a4 --printer studio -o page.pdf")
    told.ask("calibrate -p a4 --printer studio -o page.pdf")
    read = "across=199.6 along=199.2 left=3.2 top=3 right=3.4 bottom=12.5"
    told.ask(f"calibrate -p a4 --printer studio --read '{read}'")
    told.ask(f"calibrate -p a4 --printer studio --profiles mine --read '{read}' --path straight")
    told.show_file("mine/printers.toml")
    told.ask(
        f"calibrate -p a4 --printer studio --profiles mine --read '{read.replace('199.6', '199.1')}' --read-to 0.1mm"
    )
    told.ask("calibrate -p a4 --printer studio --read 'across=149.6 along=199.2 left=3 top=3 right=3 bottom=13'")
    told.ask("calibrate -p a4 --printer studio --read 'across=wide along=199.2 up=3'")
    told.ask("calibrate -p a4 --printer studio --read 'across=7.85in along=7.84in left=3 top=3 right=3 bottom=13'")


def test_guide_and_changes(told: Told) -> None:
    told.ask("guide --placement left-chest --garment 'hoodie adult M' -p a4")
    told.ask("guide --placement left-chest --garment 'hoodie adult M' -p a4")
    told.ask("guide --placement left-chest --garment curtain")
    told.ask("guide --placement knee --garment 'adult M'")
    told.ask("guide --placement full-back --garment 'toddler 2T' -o back.pdf")
    told.ask("guide --garment 'adult M'")
    out = told.ask("changes", shown=False)
    told.show("changes", "\n".join(out.splitlines()[:1]))
    told.list_files()
