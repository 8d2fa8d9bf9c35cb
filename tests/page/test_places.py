"""Which place is meant by a point of a drawn garment: a picture lands where a person who lets it go would look.

One let go on a back is meant for the back, and one let go on a sleeve for that sleeve; the wearer's left is at the
viewer's right on a front. (Common practice, no source.)
"""

from __future__ import annotations

import json
import shutil
import subprocess
from importlib.resources import files
from typing import Any

import pytest

from impose.page.garment_values import draw_garment
from impose.run.options import Options

KINDS = ("t-shirt", "long-sleeve", "polo", "sweatshirt", "hoodie", "zip-hoodie")
SHORT = ("t-shirt", "polo")
HOODED = ("hoodie", "zip-hoodie")

# Face, millimetres from the centre line and below the shoulder, and what is meant on an adult M.
ON_ALL = [
    ("back", 0, 280, "full-back"),
    ("back", 0, 600, "full-back"),
    ("back", 215, 180, "full-back"),
    ("back", -215, 300, "full-back"),
    ("back", 200, 650, "full-back"),
    ("back", 0, 95, "nape"),
    ("front", 0, 650, "full-front"),
    ("front", -215, 320, "full-front"),
    ("front", 215, 500, "full-front"),
    ("front", 60, 215, "left-chest"),
    ("front", 0, 310, "centre-chest"),
]
ON_SLEEVES = [("front", 1, "left"), ("front", -1, "right"), ("back", 1, "right"), ("back", -1, "left")]


def find_places(garment: str, points: list[tuple[str, float, float]]) -> list[dict[str, Any]]:
    """What the page's own script says, in Node."""
    node = shutil.which("node")
    if node is None:
        pytest.skip("no Node: the page's script is run in a browser only (tests/page/views)")
    script = files("impose.page").joinpath("static/places.js").read_text("utf-8")
    faces = draw_garment(Options(), garment)["faces"]
    asked = f"{json.dumps(points)}.map(([face, x, y]) => placeAt({json.dumps(faces)}, face, x, y))"
    script += f"\nconsole.log(JSON.stringify({asked}));"
    done = subprocess.run(
        [node, "--input-type=module"], input=script, capture_output=True, text=True, check=True, timeout=120
    )
    found: list[dict[str, Any]] = json.loads(done.stdout)
    return found


@pytest.mark.parametrize("kind", KINDS)
def test_a_picture_let_go_anywhere_on_a_garment_lands_where_a_person_would_look(kind: str):
    wanted = [*ON_ALL]
    reach = (300, 200) if kind in SHORT else (300, 420)
    length = "short" if kind in SHORT else "long"
    wanted += [(face, sign * reach[0], reach[1], f"{side}-{length}-sleeve") for face, sign, side in ON_SLEEVES]
    wanted += [
        (f"{side} sleeve", x, y, f"{side}-{length}-sleeve")
        for side in ("left", "right")
        for x, y in [(0, 5), (70, 200)]
    ]
    if kind in HOODED:
        wanted += [(face, x, -120, "hood") for face in ("front", "back") for x in (-40, 0, 40)]
        wanted += [
            ("hood", 0, 20, "hood"),
            ("hood", 60, 330, "hood"),
            ("front", 84 if kind == "zip-hoodie" else 0, 560, "pocket"),
        ]
    found = find_places(f"{kind} adult M", [(face, x, y) for face, x, y, _ in wanted])
    assert [(*at[:3], one["placement"]) for at, one in zip(wanted, found, strict=True)] == wanted
    assert {one["face"] for at, one in zip(wanted, found, strict=True) if "sleeve" in at[3]} == {
        "left sleeve",
        "right sleeve",
    }


@pytest.mark.parametrize(
    "garment", ["t-shirt infant 6M", "hoodie youth S", "polo women's fitted 2XL", "jersey plus 3XL"]
)
def test_the_middle_of_every_place_means_it_or_a_smaller_one_on_it(garment: str):
    faces = draw_garment(Options(), garment)["faces"]
    boxes = {p["placement"]: p["box"] for face in faces for p in face["places"]}
    asked = [
        (face["face"], p["box"]["x"] + p["box"]["w"] / 2, p["box"]["y"] + p["box"]["h"] / 2, p["placement"])
        for face in faces
        for p in face["places"]
    ]
    found = find_places(garment, [(face, x, y) for face, x, y, _ in asked])
    for (_, x, y, wanted), one in zip(asked, found, strict=True):
        box = boxes[one["placement"]]
        assert box["w"] * box["h"] <= boxes[wanted]["w"] * boxes[wanted]["h"]
        assert box["x"] <= x <= box["x"] + box["w"]
        assert box["y"] <= y <= box["y"] + box["h"]
