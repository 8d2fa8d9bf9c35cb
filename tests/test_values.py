"""What is never changed behaves as a frozen dataclass of the standard library does, which is the judge here."""

from __future__ import annotations

import copy
import dataclasses
import inspect
import pickle
import pydoc
from typing import TYPE_CHECKING, NamedTuple

import pytest

import impose.nest
import impose.run
from impose.values import FrozenStruct, describe_value, field, list_names, replace, set_field, unfold_value

if TYPE_CHECKING:
    from nowhere import Unknown


class Corner(NamedTuple):
    x: float
    y: float


class Paper(FrozenStruct):
    """A paper."""

    name: str
    cost: int = 3
    corners: tuple[Corner, ...] = ()
    notes: dict[str, list[str]] = field(default_factory=dict)
    other: Unknown | None = None

    def __post_init__(self) -> None:
        if self.cost < 0:
            raise ValueError("a paper costs nothing or more")


@dataclasses.dataclass(frozen=True, slots=True)
class PaperData:
    """A paper."""

    name: str
    cost: int = 3
    corners: tuple[Corner, ...] = ()
    notes: dict[str, list[str]] = dataclasses.field(default_factory=dict)
    other: Unknown | None = None


class Sheet(FrozenStruct):
    number: int
    papers: tuple[Paper, ...]


@dataclasses.dataclass(frozen=True, slots=True)
class SheetData:
    number: int
    papers: tuple[PaperData, ...]


class Roll(Paper):
    metres: float = 1.0


def make_both(**fields) -> tuple[Paper, PaperData]:
    return Paper("A4", **fields), PaperData("A4", **fields)


def test_it_is_shown_compared_and_matched_like_a_dataclass():
    paper, data = make_both(corners=(Corner(0, 1),), notes={"a": ["b"]})
    assert repr(paper) == repr(data).replace("PaperData", "Paper")
    assert (paper == Paper("A4", 3, (Corner(0, 1),), {"a": ["b"]})) is True
    assert paper != Paper("A4")
    assert Paper("A4") != Roll("A4")
    assert Paper.__match_args__ == PaperData.__match_args__ == list_names(paper) == list_names(Paper)
    assert hash(Corner(0, 1)) == hash(Corner(0, 1))
    frozen = Sheet(1, ())
    assert hash(frozen) == hash(Sheet(1, ()))
    assert {frozen: 1}[Sheet(1, ())] == 1
    with pytest.raises(TypeError):
        hash(paper)  # it holds a dictionary, as with a dataclass


def test_what_is_made_anew_is_no_ones_else():
    assert Paper("A4").notes is not Paper("A4").notes


def test_nothing_can_be_set_or_added():
    paper = Paper("A4")
    for name in ("cost", "colour"):
        with pytest.raises(AttributeError):
            setattr(paper, name, 4)
    with pytest.raises(AttributeError):
        del paper.cost


def test_while_it_is_made_it_may_set_its_own_fields():
    paper = Paper("A4")
    set_field(paper, "cost", 7)
    assert paper == Paper("A4", 7)


def test_replacing_checks_again_and_refuses_what_is_no_field():
    paper = Roll("A4", metres=2.0)
    assert replace(paper, cost=4) == Roll("A4", 4, metres=2.0)
    assert paper.cost == 3
    with pytest.raises(ValueError, match="nothing or more"):
        replace(paper, cost=-1)
    with pytest.raises(TypeError):
        replace(paper, colour="red")
    with pytest.raises(ValueError, match="nothing or more"):
        Paper("A4", -1)


def test_it_unfolds_like_a_dataclass():
    def fields(kind):
        return {"name": "A4", "corners": (Corner(0, 1.5),), "notes": {"a": ["b", "c"]}}

    ours, theirs = Sheet(1, (Paper(**fields(Paper)),)), SheetData(1, (PaperData(**fields(PaperData)),))
    assert unfold_value(ours) == dataclasses.asdict(theirs)
    assert list(unfold_value(ours)) == list(dataclasses.asdict(theirs))
    assert type(unfold_value(ours)["papers"][0]["corners"][0]) is Corner


def test_it_comes_back_from_another_process():
    paper = Roll("A4", corners=(Corner(0, 1),), metres=3.0)
    for copied in (pickle.loads(pickle.dumps(paper)), copy.deepcopy(paper), copy.copy(paper)):
        assert copied == paper
        assert type(copied) is Roll


def test_its_signature_is_that_of_a_dataclass():
    ours, theirs = inspect.signature(Paper), inspect.signature(PaperData)
    assert [str(one) for one in ours.parameters.values()] == [str(one) for one in theirs.parameters.values()]


def test_a_field_can_be_left_out_where_it_is_shown():
    assert describe_value(Sheet(1, ()), "papers") == "Sheet(number=1)"


@pytest.mark.parametrize("door", [impose.run, impose.nest], ids=["run", "nest"])
def test_help_shows_what_the_library_hands_out(door):
    """The standard library's `help` gives up where a signature cannot be made."""
    handed = [getattr(door, name) for name in door.__all__]
    for struct in (one for one in handed if inspect.isclass(one) and issubclass(one, FrozenStruct)):
        assert f"class {struct.__name__}" in pydoc.plain(pydoc.render_doc(struct))
        assert tuple(inspect.signature(struct).parameters) == list_names(struct)
