"""A roster dropped with its kits: claimed together, whatever comes first, and made once."""

from __future__ import annotations

import json
from pathlib import Path

from conftest import draw
from desk.fake import png
from impose.desk.batch import DropContent, combine_drops
from impose.desk.drop_rules import LONE_KITS
from impose.orders.batch import RowDefaults
from impose.run import Options, plan
from impose.run.load_batch import load_profiles_in_force

ROSTER = "order,kit,name,number,garment\nA,rowers,JO,07,hoodie adult M\n"
KITS = "kit,art,words,placement\nrowers,crest.png,,left-chest\nrowers,,{number},full-back\n"


def test_a_roster_waits_for_its_kits_and_their_artwork(bed):
    bed.drop("team.csv", ROSTER)
    bed.turns(6)
    assert bed.sheets == []
    bed.drop("kits.csv", KITS)
    bed.turns(6)
    assert bed.sheets == []
    assert sorted(bed.inbox) == ["kits.csv", "team.csv"]
    bed.drop("crest.png", png(1))
    bed.turns(8)
    assert bed.sheets == ["team"]
    assert bed.refused == []
    (parcel,) = bed.maker.made[0].parcels
    assert parcel.main == "team.csv"
    assert bed.inbox == []
    kept = {path.name for path in (bed.places.done / "team").rglob("*") if path.is_file()}
    assert {"team.csv", "kits.csv", "crest.png"} <= kept


def test_two_rosters_share_their_kits(bed):
    for name in ("red.csv", "blue.csv"):
        bed.drop(name, ROSTER)
    bed.drop("kits.csv", KITS)
    bed.drop("crest.png", png(1))
    bed.turns(12)
    assert sorted(parcel.shown for made in bed.maker.made for parcel in made.parcels) == ["blue.csv", "red.csv"]
    assert bed.refused == []


def test_a_folder_with_a_roster_and_kits_is_one_batch(bed):
    for name, content in (("team.csv", ROSTER), ("kits.csv", KITS), ("crest.png", png(1))):
        bed.drop(f"rowers/{name}", content)
    bed.turns(8)
    assert bed.sheets == ["rowers"]
    assert bed.maker.made[0].parcels[0].main == "team.csv"


def test_kits_that_nobody_names_are_refused_with_what_to_do(bed):
    bed.start(patience_s=10.0)
    bed.drop("kits.csv", KITS)
    bed.turns(20)
    assert bed.refused == ["kits.csv"]
    assert LONE_KITS in bed.why("kits.csv")


def test_rosters_of_several_drops_keep_their_prints_apart(tmp_path: Path):
    parcels = []
    for number in (1, 2):
        folder = tmp_path / f"drop-{number}"
        folder.mkdir()
        draw("ellipse", 700, 700, number).save(folder / "crest.png")
        (folder / "team.csv").write_text(ROSTER + "A,rowers,ADA,8,hoodie adult S\n", "utf-8")
        (folder / "kits.csv").write_text(KITS, "utf-8")
        parcels.append(DropContent(number, f"team {number}", folder, "team.csv", RowDefaults()))
    options = Options(settings={"papers": ["13x19"]}, cache=False)
    combined = combine_drops(parcels, "evening", load_profiles_in_force(options), options)
    assert [row.key for row in combined.batch.rows] == [(n, k) for n in (1, 2, 3, 4) for k in (2, 3)]
    assert combined.origin == {1: (1, 2), 2: (1, 3), 3: (2, 2), 4: (2, 3)}
    made = json.loads(json.dumps(plan(combined.batch, options).record, default=list))
    told = {(one["row"], one["kit_row"]) for sheet in made["sheets"] for one in sheet["transfers"]}
    assert len(told) == 8
