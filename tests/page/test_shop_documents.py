"""Pages that a shop prints for itself: made by the batch's process, served by their fixed names alone."""

from __future__ import annotations

from page.conftest import Bed, Tab
from page.test_main_path import add_row, png


def test_patches_of_a_pictures_colours_are_made_and_shown(planning: Bed):
    tab = planning.tab()
    crest = tab.drop("crest.png", png("ellipse", 300, 300))
    add_row(tab, crest["art"], "left-chest", width="40 mm")
    made = tab.job(tab.post(f"{tab.base}/colours", {"art": [crest["sha"]], "colours": ["#C81E28"]}, 202))
    assert made["pages"] >= 1
    assert "#C81E28" in {entry["colour"].upper() for entry in made["colours"]}
    assert all(entry["patches"] for entry in made["colours"])
    assert str(planning.folder) not in str(made)
    status, headers, content = tab.ask("GET", f"{tab.base}/documents/colours.pdf")
    assert (status, headers["Content-Type"], content[:5]) == (200, "application/pdf", b"%PDF-")
    wrong = tab.job(tab.post(f"{tab.base}/colours", {"colours": ["reddish"]}, 202), "failed")["error"]
    assert "reddish" in str(wrong)


def test_a_guide_is_made_for_a_place_on_a_garment(planning: Bed):
    tab = planning.tab()
    tab.job(tab.post(f"{tab.base}/guide", {"placement": "left-chest", "garment": "hoodie adult M"}, 202))
    assert tab.ask("GET", f"{tab.base}/documents/guide.pdf")[2][:5] == b"%PDF-"
    wrong = tab.job(tab.post(f"{tab.base}/guide", {"placement": "left-chest", "garment": "curtain"}, 202), "failed")
    assert "curtain" in str(wrong["error"])


def test_what_is_asked_of_them_is_held_to_what_there_is(bed: Bed, tab: Tab):
    assert tab.post(f"{tab.base}/colours", {}, 422)["error"]["code"] == "nothing"
    assert tab.post(f"{tab.base}/colours", {"art": "x"}, 400)["error"]["code"] == "malformed"
    assert tab.post(f"{tab.base}/colours", {"art": ["../../etc/passwd"]}, 404)["error"]["code"] == "gone"
    assert tab.post(f"{tab.base}/colours", {"colours": ["#fff"] * 1000}, 400)["error"]["code"] == "malformed"
    for name in ("colours", "state", "..%2fstate", "colours%00"):
        assert tab.ask("GET", f"{tab.base}/documents/{name}.pdf")[0] == 404
    stranger = Tab(tab.port)
    assert stranger.ask("GET", f"{tab.base}/documents/colours.pdf")[0] in (401, 403)
    assert stranger.ask("POST", f"{tab.base}/colours", {"colours": ["#fff"]})[0] in (401, 403)


def test_a_printer_is_measured_and_what_was_read_can_be_saved(bed: Bed, tab: Tab):
    """A rule that is read to 0.4 mm always leaves something to note; only what cannot be right keeps from saving."""
    chart = tab.post("/api/shop/calibration", {"printer": "careful", "paper": "a4"})
    assert tab.ask("GET", chart["pdf"])[2][:5] == b"%PDF-"
    assert [field["name"] for field in chart["fields"] if not field["more"]] == [
        "across",
        "along",
        "left",
        "top",
        "right",
        "bottom",
    ]
    read = {"across": "199.6", "along": "199.2", "left": "3", "top": "3", "right": "3", "bottom": "13"}
    asked = {"printer": "careful", "paper": "a4", "readings": read}
    checked = tab.post("/api/shop/calibration/readings", {**asked, "write": False})
    assert checked["ready"]
    assert not checked["written"]
    assert {finding["severity"] for finding in checked["findings"]} == {"note"}
    assert not [one for one in tab.get("/api/shop")["printers"] if one["printer"] == "careful" and one["measured"]]
    assert tab.post("/api/shop/calibration/readings", {**asked, "write": True})["written"]
    (printer,) = [one for one in tab.get("/api/shop")["printers"] if one["printer"] == "careful"]
    assert printer["measured"]
    # 199.6 of 200 is 0.998, and 199.2 of 200 is 0.996.
    values = {value["name"]: value["value"] for value in printer["values"]}
    assert (values["scale_x"], values["scale_y"]) == ("0.998", "0.996")
    fitted = {**asked, "readings": {**read, "across": "149.6"}, "write": False}
    assert "0.748" in str(tab.post("/api/shop/calibration/readings", fitted, 422)["error"])
