"""What is written and printed as JSON against its published schema (JSON Schema draft 7), judged by fastjsonschema."""

from __future__ import annotations

import copy
import json
from typing import Any

import fastjsonschema
import pytest

import schemas
from impose.errors import Exit, Trouble
from impose.sheet.record_reader import read_record_content
from impose.sheet.record_schema import find_fault


@pytest.fixture
def record(batch, run, tmp_path) -> dict[str, Any]:
    """A record of two prints, as the command wrote it."""
    source = batch(["A-1,Ada,owl.png,,tee adult M,2,50mm,,,,"], {"owl.png": ("ellipse", 400, 300)})
    assert run("sheets", source, "-o", tmp_path / "out")[0] == 0
    return json.loads((tmp_path / "out" / "batch.json").read_text("utf-8"))


def test_a_record_fits_and_every_key_of_it_is_documented(record):
    schemas.strict("record")(record)
    assert find_fault(record) is None


@pytest.mark.parametrize(
    ("place", "value"),
    [
        (("money", "ink"), 3),
        (("money", "orders", 0, "garments", 0, "total"), "a lot"),
        (("findings",), {}),
        (("sheets", 0, "yield"), 1.5),
        (("sheets", 0, "transfers", 0, "mirrored"), False),
        (("sheets", 0, "transfers", 0, "ink_mm", "w"), 0),
        (("options", "printer", "edges_mm"), [1, 2, 3]),
    ],
)
def test_what_does_not_fit_is_refused_with_its_place(record, place, value):
    holder = record
    for key in place[:-1]:
        holder = holder[key]
    holder[place[-1]] = value
    fault = find_fault(record)
    assert fault is not None
    assert str(place[-1]) in fault
    with pytest.raises(Trouble) as caught:
        read_record_content(json.dumps(record).encode(), "batch.json")
    assert "is damaged" in caught.value.findings[0].what
    assert caught.value.exit is Exit.USAGE


def test_keys_of_a_later_program_are_passed_over_but_would_be_seen_by_the_tests(record):
    later = copy.deepcopy(record)
    later["sheets"][0]["transfers"][0]["new_key"] = 1
    assert read_record_content(json.dumps(later).encode(), "batch.json").code == record["code"]
    with pytest.raises(fastjsonschema.JsonSchemaValueException, match="new_key"):
        schemas.strict("record")(later)


def test_keys_that_may_be_missing_may_be_missing(record):
    """The rule of the page: a key with * may be missing. Each is taken away in turn."""
    schema = schemas.load("record")
    for key in set(schema["properties"]) - set(schema["required"]):
        less = {name: value for name, value in record.items() if name != key}
        assert read_record_content(json.dumps(less).encode(), "batch.json").code == record["code"], key


@pytest.mark.parametrize("key", schemas.load("record")["required"])
def test_keys_that_must_be_there_must_be_there(record, key):
    less = {name: value for name, value in record.items() if name != key}
    with pytest.raises(Trouble):
        read_record_content(json.dumps(less).encode(), "batch.json")


def test_a_newer_version_is_refused_with_a_sentence(record):
    with pytest.raises(Trouble) as caught:
        read_record_content(json.dumps({**record, "format": "impose-record/2"}).encode(), "batch.json")
    (finding,) = caught.value.findings
    assert finding.what == "this record is of version 2, and this program reads version 1"
    assert "newer" in finding.remedy
    for stranger in ("impose-record/0", "impose-record/", "other/1", None, 1):
        with pytest.raises(Trouble, match="not a record of this program"):
            read_record_content(json.dumps({**record, "format": stranger}).encode(), "batch.json")


@pytest.mark.parametrize("name", ["record", "desk", "check", "quote"])
def test_a_schema_is_sound_and_says_what_each_key_is(name):
    def walk(value: Any) -> None:
        if isinstance(value, dict):
            for key, one in value.get("properties", {}).items() if "type" in value else ():
                assert one.get("description") or "allOf" in one, key
                assert set(value.get("required", ())) <= set(value["properties"])
            for one in value.values():
                walk(one)
        elif isinstance(value, list):
            for one in value:
                walk(one)

    schema = schemas.load(name)
    assert schema["$schema"] == "http://json-schema.org/draft-07/schema#"
    walk(schema)
    fastjsonschema.compile(schema)


def test_what_check_and_quote_print_fits_and_no_key_is_undocumented(batch, run):
    """A print larger than its paper and one that is refused, so that offers are refused and large prints are listed."""
    lines = ["A-1,Ada,owl.png,,tee adult M,2,50mm,,,,", "A-2,Bo,owl.png,full-back,tee adult M,1,12in,,,,"]
    source = batch(lines, {"owl.png": ("ellipse", 400, 300)})
    checked = run("check", source, "-p", "a4", "-p", "letter", "--json")
    quoted = run("quote", source, "-p", "a4", "-p", "letter", "--json", "--steps", 50)
    schemas.strict("check")(json.loads(checked[1]))
    values = json.loads(quoted[1])
    schemas.strict("quote")(values)
    assert values["large"]
    for key in schemas.load("quote")["required"]:
        less = {name: value for name, value in values.items() if name != key}
        with pytest.raises(fastjsonschema.JsonSchemaValueException):
            schemas.strict("quote")(less)


def test_what_two_schemas_define_by_one_name_is_the_same():
    record = schemas.load("record")
    parts = {**record["definitions"], "money": record["properties"]["money"]}
    for name in ("check", "quote"):
        for part, value in schemas.load(name)["definitions"].items():
            assert value == parts.get(part, value), part
    assert {"amount", "garment", "order", "money"} <= schemas.load("quote")["definitions"].keys() & parts.keys()
