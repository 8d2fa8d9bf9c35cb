"""What is taken from the inbox, when, and what is not."""

from __future__ import annotations

import os

import pytest

from desk.fake import png
from impose.orders.art_root import ArtRoot

HALF = png(1, 200)[:120]


def test_a_png_in_a_placement_folder_is_made_once_it_is_at_rest(bed):
    bed.start()
    bed.drop("left-chest/owl.png", png(1))
    bed.turns(1.5)
    assert bed.inbox == ["left-chest/owl.png"], "the settle time is two seconds"
    bed.turns(3)
    assert bed.inbox == []
    assert bed.sheets == ["owl"]
    (parcel,) = bed.maker.made[0].parcels
    assert parcel.blanks.placement == "left-chest"
    assert (bed.places.inbox / "left-chest").is_dir(), "people drop there again"


def test_copies_and_size_in_the_name(bed):
    bed.drop("owl (12 copies, 90 mm).png", png(1))
    bed.turns(5)
    (parcel,) = bed.maker.made[0].parcels
    assert (parcel.blanks.copies, parcel.blanks.width_mm) == (12, 90.0)
    assert bed.sheets == ["owl"]


def test_a_file_that_still_grows_is_left_alone(bed):
    whole = png(1, 100)
    path = bed.drop("left-chest/owl.png", whole[:50])
    for size in range(60, len(whole), 10):
        bed.turns(1)
        path.write_bytes(whole[:size])
    assert bed.inbox == ["left-chest/owl.png"]
    path.write_bytes(whole)
    bed.turns(5)
    assert bed.sheets == ["owl"]
    assert bed.refused == []


def test_half_a_png_waits_ten_times_the_settle_time_and_is_refused(bed):
    bed.drop("left-chest/half.png", HALF)
    bed.turns(19)
    assert bed.inbox == ["left-chest/half.png"]
    bed.turns(3)
    assert bed.refused == ["half.png"]
    assert "cut off" in bed.why("half.png")


def test_a_half_that_becomes_whole_is_taken(bed):
    path = bed.drop("left-chest/owl.png", HALF)
    bed.turns(15)
    path.write_bytes(png(1, 200))
    bed.turns(5)
    assert bed.sheets == ["owl"]


def test_with_a_short_settle_time_half_a_png_has_ten_seconds(bed):
    bed.start(settle_s=0.1)
    bed.drop("left-chest/half.png", HALF)
    bed.turns(9.5)
    assert bed.refused == []
    bed.turns(1.5)
    assert bed.refused == ["half.png"]


def test_renamed_in_redropped_and_there_at_the_start(bed):
    bed.drop("left-chest/early.png", png(1))
    bed.turns(5)
    assert bed.sheets == ["early"]
    part = bed.drop(".late.png", png(2))
    part.rename(bed.places.inbox / "left-chest" / "late.png")
    bed.turns(5)
    bed.drop("left-chest/early.png", png(3))
    bed.turns(5)
    assert bed.sheets == ["early", "early-2", "late"]


@pytest.mark.parametrize(
    "name", [".owl.png", "~owl.png", "owl.png.part", "owl.png~", "owl.crdownload", "Thumbs.db", ".DS_Store", "a.tmp"]
)
def test_hidden_and_temporary_names_are_ignored(bed, name):
    bed.drop(f"left-chest/{name}", png(1))
    bed.turns(100)
    assert bed.inbox == [f"left-chest/{name}"]
    assert bed.refused == []


def test_links_and_special_files_are_refused_and_never_followed(bed, tmp_path):
    outside = tmp_path / "outside.png"
    outside.write_bytes(png(1))
    (bed.places.inbox / "left-chest").mkdir()
    (bed.places.inbox / "left-chest" / "link.png").symlink_to(outside)
    (bed.places.inbox / "folder").symlink_to(tmp_path)
    os.mkfifo(bed.places.inbox / "pipe.png")
    bed.drop("batch/inside.png", png(2))
    (bed.places.inbox / "batch" / "also.png").symlink_to(outside)
    bed.turns(8)
    assert bed.refused == ["batch", "folder", "link.png", "pipe.png"]
    assert outside.read_bytes() == png(1)
    assert "never followed" in bed.why("link.png")
    assert bed.sheets == []


def test_what_is_no_png_and_no_table_is_refused(bed):
    bed.drop("moving.gif", b"GIF89a" + bytes(20))
    bed.drop("left-chest/liar.png", b"GIF89a" + bytes(200))
    bed.turns(4)
    assert bed.refused == ["moving.gif"]
    bed.turns(20)
    assert bed.refused == ["liar.png", "moving.gif"]


@pytest.mark.parametrize("first", ["csv", "art"])
def test_a_batch_in_any_order_of_arrival(bed, first):
    bed.start()
    steps = [lambda: bed.drop("evening.csv", "art,width\nowl.png,80mm\nfox.png,80mm\n")]
    steps.append(lambda: [bed.drop("owl.png", png(1)), bed.drop("fox.png", png(2))])
    for step in steps if first == "csv" else reversed(steps):
        step()
        bed.turns(20)
    assert bed.sheets == ["evening"]
    assert bed.refused == []
    assert sorted(p.name for p in (bed.places.done / "evening").iterdir()) == ["evening.csv", "fox.png", "owl.png"]


def test_missing_art_is_waited_for_and_then_the_batch_is_refused_with_what_it_has(bed):
    bed.drop("evening.csv", "art,width\nowl.png,80mm\nfox.png,80mm\n")
    bed.drop("owl.png", png(1))
    bed.turns(59)
    assert bed.refused == []
    assert bed.watch.run_turn() is False
    assert "fox.png" in bed.watch._desk.intake.last.waiting[0].why
    bed.turns(5)
    assert bed.refused == ["evening"]
    assert "fox.png" in bed.why("evening")
    assert sorted(p.name for p in (bed.places.refused / "evening").iterdir()) == ["evening.csv", "owl.png"]


def test_two_batches_share_a_picture(bed):
    bed.drop("one.csv", "art,width\nowl.png,80mm\n")
    bed.drop("two.csv", "art,width\nowl.png,90mm\n")
    bed.drop("owl.png", png(1))
    bed.turns(8)
    assert bed.sheets == ["one", "two"]
    assert bed.inbox == []


def test_art_in_a_folder_beside_the_csv_goes_with_it(bed):
    bed.drop("evening.csv", "art,width\nart/owl.png,80mm\n")
    bed.drop("art/owl.png", png(1))
    bed.turns(8)
    assert bed.sheets == ["evening"]
    assert (bed.places.done / "evening" / "art" / "owl.png").exists()
    assert not (bed.places.inbox / "art").exists()


@pytest.mark.parametrize("first", ["csv", "font"])
def test_a_font_that_a_csv_names_goes_with_it(bed, first):
    bed.start()
    steps = [lambda: bed.drop("names.csv", 'words,font,width\nAda,"hand.ttf, colour #AA0000",80mm\nBo,plain,80mm\n')]
    steps.append(lambda: bed.drop("hand.ttf", "font"))
    for step in steps if first == "csv" else reversed(steps):
        step()
        bed.turns(20)
    assert bed.sheets == ["names"]
    assert bed.refused == []
    assert sorted(p.name for p in (bed.places.done / "names").iterdir()) == ["hand.ttf", "names.csv"]


def test_a_font_that_nothing_names_is_refused_after_the_patience(bed):
    bed.start(patience_s=30.0)
    bed.drop("hand.otf", "font")
    bed.turns(29)
    assert bed.refused == []
    bed.turns(5)
    assert bed.refused == ["hand.otf"]
    assert "no batch file names it" in bed.why("hand.otf")


def test_a_folder_is_a_batch(bed):
    bed.drop("club/club.csv", "art,width\ncrest.png,80mm\n")
    bed.drop("club/crest.png", png(1))
    bed.drop("pair/a (80 mm).png", png(2))
    bed.drop("pair/b (80 mm).png", png(3))
    bed.turns(8)
    assert bed.sheets == ["club", "pair"]


def test_art_without_a_size_is_refused_after_the_patience(bed):
    bed.start(patience_s=30.0)
    bed.drop("owl.png", png(1))
    bed.turns(29)
    assert bed.refused == []
    bed.turns(3)
    assert bed.refused == ["owl.png"]
    assert "in/left-chest" in bed.why("owl.png")


def test_a_name_half_understood_is_refused(bed):
    bed.drop("left-chest/owl (0 copies).png", png(1))
    bed.drop("left-chest/fox (3 copies, 9 parsecs).png", png(2))
    bed.drop("left-chest/hen (1).png", png(3))
    bed.turns(5)
    assert bed.refused == ["fox (3 copies, 9 parsecs).png", "owl (0 copies).png"]
    assert bed.sheets == ["hen (1)"]


def test_pictures_that_come_together_share_a_delivery(bed):
    bed.start()
    for number in range(5):
        bed.drop(f"left-chest/{number}.png", png(number))
        bed.turns(1)
    bed.turns(5)
    assert bed.sheets == ["left-chest"]
    assert [parcel.shown for parcel in bed.maker.made[0].parcels] == [f"left-chest/{n}.png" for n in range(5)]


def test_desk_toml_says_papers_printer_placement_and_hold_only(bed):
    bed.drop("club/desk.toml", 'papers = ["a3"]\nplacement = "full-back"\n')
    bed.drop("club/owl.png", png(1))
    bed.turns(5)
    (made,) = bed.maker.made
    assert made.options.settings["papers"] == ["iso_a3_297x420mm"]
    assert made.parcels[0].blanks.placement == "full-back"
    assert (bed.places.inbox / "club" / "desk.toml").exists()
    bed.drop("club/desk.toml", 'then = "rm -rf /"\n')
    bed.drop("club/fox.png", png(2))
    bed.turns(5)
    assert bed.refused == ["fox.png"]
    assert "“then” may not be said here" in bed.why("fox.png")


def test_a_name_that_is_not_text_is_refused(bed):
    path = os.fsencode(bed.places.inbox / "left-chest") + b"/caf\xe9.png"
    (bed.places.inbox / "left-chest").mkdir()
    with open(path, "wb") as file:  # noqa: PTH123
        file.write(png(1))
    bed.turns(6)
    assert list((bed.places.inbox / "left-chest").iterdir()) == []
    assert bed.sheets == []
    (name,) = bed.refused
    assert "no text" in bed.why(name)


@pytest.mark.parametrize("hold", ['"40d"', '"9999999999999999999999d"', "1e400", "-5", "true", f'"{"9" * 400}d"'])
def test_a_hold_without_end_is_refused(bed, hold):
    bed.drop("club/desk.toml", f'placement = "left-chest"\nhold = {hold}\n')
    bed.drop("club/owl.png", png(1))
    bed.turns(5)
    assert bed.refused == ["owl.png"]
    assert "hold is" in bed.why("owl.png")


@pytest.mark.parametrize(
    ("name", "content", "words"),
    [
        # First bytes: GIF (GIF89a specification, 17), JPEG 2000 (ISO/IEC 15444-1, I.5.1), EPS (Adobe 5002), BMP.
        ("owl.gif", b"GIF89a" + bytes(200), "a GIF picture"),
        ("scan.jp2", b"\0\0\0\x0cjP  \r\n\x87\n" + bytes(200), "a JPEG 2000 picture"),
        ("crest.eps", b"%!PS-Adobe-3.0 EPSF-3.0\n", "a PostScript file"),
        ("crest.bmp", b"BM" + bytes(200), "a BMP picture"),
        # Compound File Binary (MS-CFB 2.2): what spreadsheets and texts were saved in before .xlsx and .docx.
        ("orders.xls", b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + bytes(600), "save a table as .xlsx or as CSV"),
        ("letter.docx", b"PK\x03\x04" + bytes(200), "Take the artwork out of it"),
        ("notes.md", b"hello", "a batch file (CSV or .xlsx)"),
    ],
)
def test_a_picture_of_a_format_that_is_not_read_is_named_with_what_to_do(bed, name, content, words):
    bed.start()
    bed.drop(f"left-chest/{name}", content)
    bed.turns(200)
    assert bed.refused == [name]
    assert words in bed.why(name)
    assert "PNG" in bed.why(name)


# First and last bytes: JPEG (ITU-T T.81, B.1.1.3: EOI), PDF (ISO 32000-1, 7.5.5: %%EOF), SVG (its root's end tag).
@pytest.mark.parametrize(
    ("name", "content"),
    [
        ("owl.jpg", b"\xff\xd8\xff\xe0" + bytes(200)),
        ("crest.pdf", b"%PDF-1.7\n" + bytes(200)),
        ("crest.svg", b'<svg xmlns="http://www.w3.org/2000/svg"><rect'),
    ],
)
def test_a_picture_that_never_ends_is_waited_for_and_then_refused(bed, name, content):
    bed.start()
    bed.drop(f"left-chest/{name}", content)
    bed.turns(4)
    assert bed.refused == []
    bed.turns(300)
    assert bed.refused == [name]
    assert "cut off" in bed.why(name)


def test_artwork_that_vanishes_while_it_is_looked_at_is_waited_for(bed, monkeypatch):
    """A share may show a name and not the file: that is no artwork that is there, and none that is refused."""
    real, asked = ArtRoot.find_art, []

    def find(self, text):
        if len(asked) < 8:
            asked.append(text)
            raise FileNotFoundError(2, "No such file or directory")
        return real(self, text)

    monkeypatch.setattr(ArtRoot, "find_art", find)
    bed.drop("club.csv", "art,width\nowl.png,80mm\n")
    bed.drop("owl.png", png(1))
    bed.turns(12)
    assert len(asked) == 8
    assert bed.refused == []
    assert bed.sheets == ["club"]
    assert len(bed.maker.made[0].parcels) == 1
    assert bed.inbox == []
