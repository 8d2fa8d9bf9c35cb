"""Each way to name a print, an order, a sheet or a garment of a record, and what is said of one that is not there."""

from __future__ import annotations

import pytest

from impose.errors import Exit, Trouble
from impose.run import Options, plan, produce
from impose.run.selection import ReprintRequest, select_garments, select_transfers
from impose.sheet.record_reader import RecordContent, read_record_content
from impose.values import replace

ROWS = """order,wearer,words,font,placement,garment,copies,width
Ferry,Ada,A,block,left-chest,tee M,1,30 mm
Ferry,Ada,B,block,full-back,tee M,1,30 mm
Mill,Bo,C,block,,tee S,2,30 mm
Mill,Cy,D,block,,tee S,1,30 mm
,Cy,E,block,,tee L,1,30 mm
"""


@pytest.fixture(scope="module")
def printed(tmp_path_factory) -> RecordContent:
    folder = tmp_path_factory.mktemp("named")
    (folder / "b.csv").write_text(ROWS, "utf-8")
    options = Options(settings={"papers": ["a4"]}, steps=5, workers=1, cache=False)
    out = produce(plan([folder / "b.csv"], options), folder / "out")
    return read_record_content((out / "batch.json").read_bytes(), "batch.json")


def renamed(printed: RecordContent, code: str, *ids: str) -> RecordContent:
    transfers = sorted(printed.transfers, key=lambda transfer: transfer.id)
    made = [replace(one, id=name) for one, name in zip(transfers, ids, strict=False)]
    return replace(printed, code=code, transfers=tuple(made))


def told(printed: RecordContent, **wish) -> tuple[str, str, str | None]:
    with pytest.raises(Trouble) as trouble:
        select_transfers(printed, ReprintRequest(**wish))
    (finding,) = trouble.value.findings
    assert finding.exit is Exit.USAGE
    return finding.what, str(finding.remedy), finding.read


@pytest.mark.parametrize(
    ("code", "name", "meant"),
    [
        ("CWK8", "CWK8-T002", "T002"),
        ("CWK8", "cwk8-t002", "T002"),
        ("CWK8", " T002 ", "T002"),
        ("CWK8", "2", "T002"),
        ("CWK8", "0002", "T002"),
        ("CWK8", "t2", "T002"),
        ("CWK8", "3.1", "T003.1"),
        ("CWK8", "t003.1", "T003.1"),
        ("CWK8", "R1", "R001"),
        ("CWK8", "CWK8-1", "T001"),
        ("4827", "4827-2", "T002"),  # a code may be all digits; it is no range then
        ("4827", "4827-T002", "T002"),
    ],
)
def test_an_id_is_taken_as_on_the_label_alone_or_as_its_number(printed, code, name, meant):
    record = renamed(printed, code, "T001", "T002", "T003.1", "R001")
    wish = ReprintRequest(only=(name,), because="lost")
    assert select_transfers(record, wish) == {meant: "lost"}


@pytest.mark.parametrize(
    ("code", "name", "words"),
    [
        ("CWK8", "T001-T003", "a range of ids is not taken"),
        ("CWK8", "1 - 3", "a range of ids is not taken"),
        ("CWK8", "1–3", "a range of ids is not taken"),
        ("CWK8", "1..3", "a range of ids is not taken"),
        ("CWK8", "t1:t3", "a range of ids is not taken"),
        ("CWK8", "1 TO 3", "a range of ids is not taken"),
        ("CWK8", "1001-1002", "a range of ids is not taken"),
        ("CWK8", "3-4", "a range of ids is not taken"),
        # Codes are made of 346789BCDFGHJKMNPQRTVWX (docs/reference/record.md, `code`): 4879 may be one, 1001 never.
        ("CWK8", "4879-2", "a label of another batch, 4879: this record is CWK8"),
        ("CWK8", "4879-T002", "a label of another batch, 4879: this record is CWK8"),
        ("CWK8", "T346-T002", "a label of another batch, T346: this record is CWK8"),
        ("CWK8", "abcd-T002", "a label of another batch, ABCD: this record is CWK8"),
        ("CWK8", "T", "not a transfer's id"),
        ("CWK8", "Ada Smith", "not a transfer's id"),
        ("CWK8", "T9", "no transfer of that id in the record"),
        ("CWK8", "3", "no transfer of that id in the record"),
        ("CWK8", "X2", "no transfer of that id in the record"),
        ("CWK8", "2.1", "no transfer of that id in the record"),
    ],
)
def test_a_name_that_is_no_id_of_the_record_is_refused_as_what_it_is(printed, code, name, words):
    record = renamed(printed, code, "T001", "T002", "T003.1", "R001")
    what, remedy, read = told(record, only=(name,))
    assert (what, read) == (words, name)
    if what.startswith("a label"):
        assert remedy == f"Give the record of batch {name[:4].upper()}."
    if what.startswith("no transfer"):
        assert remedy == "There are R001, T001, T002, T003.1."


def test_what_may_be_a_code_is_a_range_where_the_record_has_such_an_id(printed):
    many = renamed(printed, "CWK8", "T4878", "T4879", "T4880", "T4881")
    assert told(many, only=("4879-4881",))[0] == "a range of ids is not taken"
    assert told(many, only=("9" * 5000,))[0] == "no transfer of that id in the record"


def test_many_ids_are_told_by_the_first_and_the_last(printed):
    record = renamed(printed, "CWK8", *[f"T00{n}" for n in range(1, 7)])
    assert told(record, only=("9",))[1] == "There are T001, T002, T003, T004, T005, T006."
    more = replace(record, transfers=(*record.transfers, replace(record.transfers[0], id="T007")))
    assert told(more, only=("9",))[1] == "There are 7, from T001 to T007."


def test_an_order_and_a_sheet_are_all_their_prints_and_several_wishes_add_up(printed):
    by_order = {one.id for one in printed.transfers if one.ordered.order == "Mill"}
    assert len(by_order) == 3
    assert select_transfers(printed, ReprintRequest(orders=(" Mill ",))) == dict.fromkeys(by_order, "spoiled")
    on_first = {one.id for one in printed.transfers if one.sheet == 1}
    assert set(select_transfers(printed, ReprintRequest(sheets=(1,)))) == on_first
    both = select_transfers(printed, ReprintRequest(orders=("Mill",), only=("1",)))
    assert set(both) == by_order | {"T001"}
    assert told(printed, orders=("Mil",))[::2] == ("no order of that name in the record", "Mil")
    assert "Mill" in told(printed, orders=("Mil",))[1]
    assert told(printed, orders=("zzzzzzzz",))[1] == "Write it as on the label."
    numbers = sorted({one.number for one in printed.sheets})
    what, remedy, _ = told(printed, sheets=(99,))
    assert what == "no sheet 99 in the record"
    assert str(numbers[0]) in remedy
    assert told(replace(printed, sheets=()), sheets=(99,))[1] == "It has no sheets."


def test_everything_unknown_is_told_at_once(printed):
    with pytest.raises(Trouble) as trouble:
        select_transfers(printed, ReprintRequest(only=("T099", "1-2"), orders=("nobody's",), sheets=(77,)))
    assert len(trouble.value.findings) == 4


def test_nothing_named_is_wrong_use(printed):
    assert told(printed)[0] == "nothing is named that is to be printed again"


def test_a_garment_is_named_by_its_wearer_or_by_any_id_on_it(printed):
    """Ada's two prints are on one tee; of the two of Bo's each copy is a garment of its own."""
    ada = {one.id for one in printed.transfers if one.ordered.wearer == "Ada"}
    assert len(ada) == 2
    for name in ("Ada", "ADA", *ada):
        (garment,) = select_garments(printed, ReprintRequest(garments=(name,)))
        assert (set(garment.ids), garment.wearer, garment.order) == (ada, "Ada", "Ferry")
    assert len(select_garments(printed, ReprintRequest(garments=("Ada", *ada)))) == 1, "one garment, named thrice"
    bo = sorted(one.id for one in printed.transfers if one.ordered.wearer == "Bo")
    for name in bo:
        (garment,) = select_garments(printed, ReprintRequest(garments=(name,)))
        assert garment.ids == (name,)
    assert select_garments(printed, ReprintRequest()) == []
    assert set(select_transfers(printed, ReprintRequest(garments=("Ada",)))) == ada


@pytest.mark.parametrize(
    ("name", "what", "remedy"),
    [
        ("Bo", "2 garments are for that wearer", "Give an id that is on the one that is meant: "),
        ("Cy", "2 garments are for that wearer", "no order"),
        ("Adda", "no garment of that wearer in the record", "Did you mean"),
        ("Quentin", "no garment of that wearer in the record", "Give an id that is on it, such as T014."),
        ("T099", "no transfer of that id in the record", "There are"),
    ],
)
def test_a_garment_that_is_not_clear_or_not_there_is_told(printed, name, what, remedy):
    with pytest.raises(Trouble) as trouble:
        select_garments(printed, ReprintRequest(garments=(name,)))
    (finding,) = trouble.value.findings
    assert (finding.what, finding.read, finding.exit) == (what, name, Exit.USAGE)
    assert remedy in str(finding.remedy)
    if what.startswith("2"):
        ids = [one.id for one in printed.transfers if one.ordered.wearer == name]
        assert all(one in str(finding.remedy) for one in ids)


def test_a_whole_garment_was_printed(printed):
    with pytest.raises(Trouble) as trouble:
        select_garments(printed, ReprintRequest(garments=("Ada",), because="unprinted"))
    assert [one.what for one in trouble.value.findings] == [
        "a whole garment is named, but the reason is that it was never printed"
    ]
    assert select_garments(printed, ReprintRequest(garments=("Ada",), because="lost"))
