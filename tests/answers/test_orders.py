# ruff: noqa: E501 - tables of cells and of papers
"""How a list of orders is read: what is understood, and what is said of what is not."""

from __future__ import annotations

import io
from pathlib import Path

import pytest

from answers.pictures import PICTURES
from approved_answers import Told

pytestmark = pytest.mark.usefixtures("sheets_alone")


def draw_art(told: Told) -> None:
    for name in ("clean", "tall", "wide"):
        told.draw(f"{name}.png", PICTURES[name]().crop(PICTURES[name]().getbbox()))


FAULTY = """
    order,wearer,art,placement,garment,copies,width,height,tear,centre,may_turn,accept,mend,drop,across,cloth,cloth_colour,letters,Ship to
    ,Ana,clean.png,left-chest,adult M,1,,,,,,,,,,,,,Pell
    ,Bo,clean.png,left-chets,adult M,1,,,,,,,,,,,,,Pell
    ,Bo,clean.png,left-chest,yuoth M,1,,,,,,,,,,,,,
    ,Bo,clean.png,left-chest,adult M,two,,,,,,,,,,,,,
    ,Bo,clean.png,left-chest,adult M,0,,,,,,,,,,,,,
    ,Bo,clean.png,left-chest,adult M,"2,000",,,,,,,,,,,,,
    ,Bo,clean.png,left-chest,adult M,"2,0",,,,,,,,,,,,,
    ,Bo,clean.png,left-chest,adult M,1,90,,,,,,,,,,,,
    ,Bo,clean.png,left-chest,adult M,1,90 kg,,,,,,,,,,,,
    ,Bo,clean.png,left-chest,adult M,1,0 mm,,,,,,,,,,,,
    ,Bo,clean.png,left-chest,adult M,1,08-Jan,,,,,,,,,,,,
    ,Bo,clean.png,left-chest,adult M,1,3 1/2 in,,loose,,,,,,,,,,
    ,Bo,clean.png,left-chest,adult M,1,3½ in,,4 mm,,,,,,,,,,
    ,Bo,clean.png,left-chest,adult M,1,"3,5 in",,12 mm,corner,,,,,,,,,
    ,Bo,clean.png,left-chest,adult M,1,,,,mass,perhaps,,,,,,,,
    ,Bo,clean.png,left-chest,adult M,1,,,,canvas,nein,thin,,,,,,,
    ,Bo,clean.png,left-chest,adult M,1,,,,,no,low-resolution,wash,,,,,,
    ,Bo,clean.png,left-chest,adult M,1,,,,,,,ground,127 mm from neck to top,,,,,
    ,Bo,clean.png,left-chest,adult M,1,,,,,,,,127 mm from neck seam to top of print,90 from seam,,,,
    ,Bo,clean.png,left-chest,adult M,1,,,,,,,,,88.9 mm from centre line to centre of print,wool,,,
    ,Bo,clean.png,left-chest,adult M,1,,,,,,,,,,80% polyester 30% cotton,,,
    ,Bo,clean.png,left-chest,adult M,1,,,,,,,,,,cotton,mauve,,
    ,Bo,clean.png,left-chest,adult M,1,,,,,,,,,,80% polyester 20% cotton,navy,,
    ,Bo,clean.png,left-chest,adult M,1,,,,,,,,,,polyester,white with red sleeves,20,
    ,Bo,../clean.png,left-chest,adult M,1,,,,,,,,,,,,,
    ,Bo,/etc/clean.png,left-chest,adult M,1,,,,,,,,,,,,,
    ,Bo,art\\clean.png,left-chest,adult M,1,,,,,,,,,,,,,
    ,Bo,CLEAN.png,left-chest,adult M,1,,,,,,,,,,,,,
    ,Bo,,left-chest,adult M,1,,,,,,,,,,,,,
    ,Bo,clean.png,,adult M,1,,,,,,,,,,,,,
    ,Bo,clean.png,full-back,toddler 2T,1,,,,,,,,,,,,,
    ,Bo,clean.png,pocket,zip hoodie 3XL,1,,,,,,,,,,,,,
    ,Bo,clean.png,full-front,zip hoodie L,1,,,,,,,,,,,,,
    ,Bo,clean.png,left-chest
    ,Bo,clean.png,left-chest,adult M,1,,,,,,,,,,,,,Pell,one more
    1.23E+15,Bo,clean.png,left-chest,adult M,1,,,,,,,,,,,,,
    ,#N/A,clean.png,left-chest,adult M,1,,,,,,,,,,,,,
    ,=cmd|' /C calc'!A0,clean.png,left-chest,adult M,1,,,,,,,,,,,,,
    "=""007""\",Cy,clean.png,left-chest,adult M,1,,,,,,,,,,,,,
"""


def test_faulty_rows(told: Told) -> None:
    draw_art(told)
    told.write("orders.csv", FAULTY)
    told.ask("check orders.csv -v")
    told.ask("quote orders.csv --skip-bad --units mm --steps 50 -q --csv")
    told.ask("sheets orders.csv --steps 50 -q --json")


def test_headings(told: Told) -> None:
    draw_art(told)
    for name, text in {
        "nothing": "\n",
        "headings": "order,art,width\n",
        "twice": "art,Art,width\nclean.png,clean.png,9 cm\n",
        "lacking": "order,wearer\nA,Bo\n",
        "near": "art,widht\nclean.png,9 cm\n",
        "inches": "Artwork;Width (in);Qty;Order No\nclean.png;3,5;2;17\n\n;;;\nclean.png;2;;18\n",
        "tabs": "art\twidth (mm)\theight (cm)\nclean.png\t60\t5\n",
        "said": "sep=;\nart;width\nclean.png;6 cm\n",
        "quote": 'art,width,note\nclean.png,6 cm,"open\nclean.png,6 cm,\n',
        "control": "art,width,note\nclean.png,6 cm,a\x07b\n",
    }.items():
        told.write(f"{name}.csv", text)
        told.ask(f"check {name}.csv -v")
    (told.folder / "latin.csv").write_bytes(
        "wearer,art,width\nZoë,clean.png,6 cm\nJosé,clean.png,6 cm\n".encode("cp1252")
    )
    (told.folder / "middle.csv").write_bytes("wearer,art,width\nŁukasz,clean.png,6 cm\n".encode("cp1250"))
    (told.folder / "wide.csv").write_bytes("wearer,art,width\nŁukasz,clean.png,6 cm\n".encode("utf-16"))
    (told.folder / "twice-coded.csv").write_bytes("wearer,art,width\nZoÃ«,clean.png,6 cm\n".encode())
    (told.folder / "picture.csv").write_bytes((told.folder / "clean.png").read_bytes())
    for name in ("latin", "middle", "wide", "twice-coded", "picture", "missing"):
        told.ask(f"check {name}.csv -v")


def test_garments(told: Told) -> None:
    draw_art(told)
    told.write(
        "unclear.csv",
        """
        order,wearer,art,placement,garment,copies,width
        A,Bo,clean.png,left-chest,adult M,2,60 mm
        A,Bo,clean.png,left-chest,adult M,3,50 mm
        B,,clean.png,left-chest,adult M,2,60 mm
        B,,clean.png,full-back,adult M,3,60 mm
        C,,clean.png,left-chest,adult M,2,60 mm
        C,,tall.png,center-chest,adult M,2,20 mm
        ,,clean.png,left-chest,,2,60 mm
        D,Cy,clean.png,full-front,adult M,1,200 mm
        D,Cy,tall.png,left-chest,adult M,1,60 mm
        E,Di,clean.png,left-chest,youth M,,
        E,Ed,clean.png,left-chest,youth M,,70 mm
        F,Fi,wide.png,left-long-sleeve,hoodie adult M,,
        F,Fi,tall.png,right-long-sleeve,hoodie adult M,,
        G,,clean.png,hood,polo adult M,,
        H,,clean.png,left-chest,women 2XL,,
        H,,clean.png,left-chest,YL,,
        H,,clean.png,left-chest,jersey plus 3XL,,
    """,
    )
    told.ask("check unclear.csv -v")
    told.write("clear.csv", told.folder.joinpath("unclear.csv").read_text("utf-8").replace("3,50 mm", "2,50 mm"))
    told.ask("check unclear.csv --skip-bad -v --smallest-decides")
    told.ask("sheets unclear.csv --skip-bad -p a4 -p 13x19 --steps 50 --json -o made")


def test_kits(told: Told) -> None:
    draw_art(told)
    told.write(
        "kits.csv",
        """
        kit,art,words,font,placement,garment,width,copies,note,accept
        rower,clean.png,,,left-chest,zip hoodie,,1,Zip open,low-resolution
        rower,,{number},number,full-back,zip hoodie,,,,
        rower,,{name},"plain, letters 30 mm",right-long-sleeve,zip hoodie,,,,
        cox,,{name},"outlined, arc 20, colour #AA0000",upper-back,,,2,,
    """,
    )
    told.write(
        "orders.csv",
        """
        order,wearer,kit,name,number,garment,copies,cloth,cloth_colour,note,art,words,width
        R,,rower,SAOIRSE,01,adult S,,polyester,white,,,,
        R,,rower,ДАРИНА,07,adult M,2,polyester,white,spare,,,
        R,Zoë,cox,ZOË,12,youth L,,polyester,white,,,,
        R,Wilhelmina,cox,WILHELMINA-HENRIETTA OF THE WEIR,12,youth S,,polyester,white,,,,
        R,Pip,,,,adult M,,,,,,"PIPP",60 mm
        R,Ed,,,,adult M,,,,,,"ED",60 mm
        R,Al,,,,adult M,,,,,clean.png,,60 mm
    """,
    )
    told.ask("check orders.csv -v")
    told.ask("quote orders.csv -p 13x19 --steps 50")
    told.ask("sheets . -p 13x19 --steps 50")
    told.show_record("scene-sheets")
    told.list_files()
    told.write(
        "bad.csv",
        """
        order,wearer,kit,name,number,garment,art,width,words,font
        R,,rowers,ANA,1,adult S,,,,
        R,,rower,,,adult S,,,,
        R,,rower,ANA,1,adult S,clean.png,,,
        R,,cox,ANA,1,T-shirt adult S,,,,
        R,,,,,adult S,,60 mm,{name},
        R,,,,,adult S,,60 mm,{nmae},
        R,,,,,adult S,clean.png,60 mm,Ana,
        R,,,,,adult S,,60 mm,Ana,gothic
        R,,,,,adult S,,60 mm,Ana,"plain, letters 1 km"
        R,,,,,adult S,,60 mm,Ana,"plain, colour red"
        R,,,,,adult S,,60 mm,Ana,"plain, arc 400"
        R,,,,,adult S,,60 mm,Ana,fonts/none.ttf
        R,,,,,adult S,,60 mm,🦉,
        R,,,,,adult S,,60 mm,"1
        2
        3
        4
        5",
    """,
    )
    told.ask("check bad.csv -v")


def test_exports(told: Told) -> None:
    draw_art(told)
    told.write(
        "columns.toml",
        """
        [order]
        from = "Order number"
        fill = true
        [wearer]
        from = "Ship to"
        fill = true
        [garment]
        from = ["Item", "Variant"]
        [garment.values]
        "Tee Adult L" = "T-shirt adult L"
        "Tee Youth M" = "T-shirt youth M"
        [art]
        from = "Item code"
        after = ".png"
        [placement]
        always = "left-chest"
        [copies]
        from = "Quantity"
        blank = "1"
        [width]
        from = "Wide"
        unit = "cm"
        [ticket]
        from = ["Gift message"]
        [skip]
        "Payment" = ["refunded"]
    """,
    )
    told.write(
        "export.csv",
        """
        Order number;Payment;Ship to;Item;Variant;Item code;Quantity;Wide;Gift message;Country
        #3001;paid;Maud Pell;Tee;Adult L;clean;1;9;see you on the water;IE
        ;;;Tee;Youth M;clean;;6;;
        #3002;refunded;Theo Ash;Tee;Adult L;clean;1;;;IE
        #3003;paid;Noor Haddad;Tee;Adult XL;clean;1;5 in;;IE
    """,
    )
    told.ask("check export.csv --columns columns.toml -v")
    told.ask("sheets export.csv --columns columns.toml --skip-bad --steps 50 -v --part-sheets 1")
    told.list_files("export-sheets")
    for name, text in {
        "unknown": '[colour]\nfrom = "Item"\n',
        "absent": '[art]\nfrom = "Picture"\n',
        "syntax": "[art\n",
        "both": '[art]\nfrom = "Item code"\nalways = "x"\n[width]\nalways = 7\n',
        "unit": '[width]\nfrom="Wide"\nunit="ell"\n',
    }.items():
        told.write(f"{name}.toml", text)
        told.ask(f"check export.csv --columns {name}.toml")
    told.ask("check export.csv --columns none.toml")


def test_workbook(told: Told) -> None:
    import openpyxl

    draw_art(told)
    book = openpyxl.Workbook()
    sheet = book.active
    sheet.append(["order", "wearer", "art", "width", "copies", "number", "note"])
    sheet.append(["A", "Ana", "clean.png", "60 mm", 2, 7, "hello"])
    sheet["F2"].number_format = "00"
    sheet.append(["A", "Bo", "clean.png", "=1+1", 1.5, 8, None])
    sheet.append(["B", "Cy", "clean.png", "60 mm", 1, 9, True])
    sheet.append(["B", "Di", "clean.png", "60 mm", 1, 9, True])
    sheet.row_dimensions[5].hidden = True
    sheet["D4"] = __import__("datetime").datetime(2026, 1, 8)
    sheet.merge_cells("A4:A5")
    book.create_sheet("Notes")["A1"] = "call them"
    file = io.BytesIO()
    book.save(file)
    (told.folder / "orders.xlsx").write_bytes(file.getvalue())
    told.ask("check orders.xlsx -v")
    sheet.unmerge_cells("A4:A5")
    sheet["D3"], sheet["D4"], sheet["E3"] = "5 cm", "50 mm", 3
    book.save(told.folder / "right.xlsx")
    told.ask("check right.xlsx -v")
    told.ask("sheets right.xlsx --steps 50 -q")
    told.show_record("right-sheets")
    told.ask("quote right.xlsx --steps 50 --csv")
    (told.folder / "broken.xlsx").write_bytes(file.getvalue()[:500])
    told.ask("check broken.xlsx")


def test_example(told: Told) -> None:
    place = Path(__file__).parents[2] / "examples" / "lantern-night"
    told.call(str(place), "example")
    told.ask(f"check {place}/rowers.csv -p 13x19 -v")
    told.ask(f"quote {place}/crew-names.csv --steps 50")
