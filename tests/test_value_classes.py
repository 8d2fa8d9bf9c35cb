"""Our light dataclasses against those of Python's standard library, which is the reference for all they do.

Each shape below is one source, made twice: by `dataclasses.dataclass` and by `make_value_class`.
"""

from __future__ import annotations

import copy
import dataclasses
import inspect
import pickle
import re
import sys
import threading
import types
from collections.abc import Callable, Iterator
from importlib import import_module
from typing import Any

import pytest

from impose.value_classes import make_value_class
from sources import PACKAGE, list_modules

SHAPES = {
    "plain": "a: int\n b: str = 'x'",
    "nothing": "pass",
    "one field": "a: int",
    "a list of its own": "a: int\n b: list = field(default_factory=list)\n c: int = 3",
    "left out": "a: int\n b: int = field(default=1, repr=False)\n c: int = field(default=2, compare=False)",
    "hashed apart": (
        "a: int\n b: int = field(default=1, hash=False)\n c: int = field(default=2, compare=False, hash=True)"
    ),
    "not given": "a: int\n b: int = field(init=False, default=5)\n c: list = field(init=False, default_factory=list)",
    "named only": "a: int = field(kw_only=True)\n b: int = 4\n c: int = field(default=5, kw_only=True)",
    "marked names": "a: int\n _: KW_ONLY\n b: int = 4",
    "of the class": "a: int\n b: ClassVar[int] = 9",
    "set afterwards": (
        "a: int\n b: int = field(init=False)\n def __post_init__(self): object.__setattr__(self, 'b', self.a * 2)"
    ),
    "only handed on": (
        "a: int\n b: InitVar[int] = 3\n c: int = 0\n"
        " def __post_init__(self, b): object.__setattr__(self, 'c', self.a + b)"
    ),
    "own words": "a: int\n def __repr__(self): return f'<{self.a}>'",
    "own equality": (
        "a: int\n def __eq__(self, other): return self.a % 2 == other.a % 2\n def __hash__(self): return self.a % 2"
    ),
    "names of ours": (
        "a: int\n known: int = 1\n field_name: int = 2\n _MADE_AFRESH: list = field(default_factory=list)"
        "\n default_a: int = 3"
    ),
}
OPTIONS: dict[str, dict[str, bool]] = {
    "": {},
    "frozen": {"frozen": True},
    "slots": {"slots": True},
    "frozen slots": {"frozen": True, "slots": True},
    "kw_only": {"frozen": True, "kw_only": True},
    "ordered": {"frozen": True, "order": True},
    "by identity": {"eq": False, "slots": True},
}
HEAD = """
from __future__ import annotations
from dataclasses import KW_ONLY, InitVar, field
from typing import ClassVar
"""
VALUES = ({"a": 1}, {"a": 2}, {"a": 1})


def make_pair(source: str, options: dict[str, bool], bases: str = "") -> tuple[type, type]:
    """The class twice, in two modules that can be found when it is unpickled: the library's, and ours."""
    pair = []
    for decorate in (dataclasses.dataclass, make_value_class):
        module = types.ModuleType(f"made_by_{decorate.__module__.replace('.', '_')}")
        sys.modules[module.__name__] = module
        vars(module).update(decorate=decorate, options=options)
        source_text = (
            f"{HEAD}\n{bases}\n@decorate(**options)\nclass Shape{'(Base)' if bases else ''}:\n 'A shape.'\n {source}"
        )
        exec(source_text, vars(module))
        pair.append(module.Shape)
    return pair[0], pair[1]


@pytest.fixture(autouse=True)
def forget_modules() -> Iterator[None]:
    yield
    for name in [name for name in sys.modules if name.startswith("made_by_")]:
        del sys.modules[name]


def tell(action: Callable[[], Any]) -> Any:
    """What it gives, or what it raises."""
    try:
        return action()
    except Exception as error:
        return type(error), str(error)


def make_values(cls: Any) -> list[Any]:
    names = {} if not inspect.signature(cls).parameters else None
    return [cls(**(values if names is None else names)) for values in VALUES]


def show_class(cls: Any) -> dict[str, Any]:
    """All that can be asked of the class itself."""
    noted = cls.__dataclass_params__
    fields = {
        kept.name: [getattr(kept, part) for part in ("type", "default", "default_factory", "init", "repr", "hash")]
        + [kept.compare, kept.kw_only]
        for kept in dataclasses.fields(cls)
    }
    return {
        "signature": str(inspect.signature(cls)),
        "of its method": str(inspect.signature(cls.__init__)),
        "names": (cls.__init__.__name__, cls.__init__.__qualname__, cls.__init__.__annotations__),
        "fields": fields,
        "order": list(fields),
        "matched": cls.__match_args__,
        "slots": cls.__dict__.get("__slots__"),
        "kept apart": [isinstance(cls.__dict__.get(name), types.MemberDescriptorType) for name in fields],
        "noted": str(noted),
        "hashable": cls.__hash__ is not None,
        "words": cls.__doc__,
        "defaults": {name: cls.__dict__[name] for name in fields if "__slots__" not in vars(cls) and name in vars(cls)},
    }


@pytest.mark.parametrize("shape", SHAPES)
def test_classes_and_values_are_alike(shape: str) -> None:
    for name, options in OPTIONS.items():
        library, ours = make_pair(SHAPES[shape], options)
        assert show_class(ours) == show_class(library), name
        assert list(map(tell, list_actions(ours))) == list(map(tell, list_actions(library))), name


def list_actions(cls: Any) -> list[Callable[[], Any]]:
    """What may be done with values; each gives something that can be compared across the two classes."""
    first, other, same = make_values(cls)

    def look(value: Any) -> Any:
        return repr(value), [getattr(value, kept.name, "unset") for kept in dataclasses.fields(value)]

    def pattern(value: Any) -> Any:
        match value:
            case cls():
                return [getattr(value, name) for name in cls.__match_args__]

    return [
        lambda: look(first),
        lambda: [first == other, first == same, first != same, first == 1, first.__eq__(1)],
        lambda: [hash(first) == hash(same), hash(first) == hash(other), len({first, other, same})],
        lambda: hash(first) if type(first).__hash__ is not object.__hash__ else None,
        lambda: first < other,
        lambda: dataclasses.asdict(first),
        lambda: dataclasses.astuple(first),
        lambda: look(dataclasses.replace(first, a=7)),
        lambda: look(dataclasses.replace(first, no_such=7)),
        lambda: look(copy.copy(first)),
        lambda: look(copy.deepcopy(first)),
        lambda: [look(pickle.loads(pickle.dumps(first, kind))) for kind in range(2, pickle.HIGHEST_PROTOCOL + 1)],
        lambda: pickle.loads(pickle.dumps(first)) == first,
        lambda: pattern(first),
        lambda: look(cls(3)),
        lambda: look(cls()),
        lambda: look(cls(1, 2, 3, 4, 5, 6, 7, 8)),
        lambda: look(cls(a=1, no_such=2)),
        lambda: len(vars(first)),
        lambda: hasattr(first, "a") and setattr(first, "a", 8),
        lambda: hasattr(first, "a") and delattr(first, "a"),
        lambda: look(first),
        lambda: tell(lambda: first.b.append(1)) and look(make_values(cls)[0]),  # no list is shared
    ]


def test_what_is_no_field_cannot_be_set_where_nothing_can() -> None:
    """The library's frozen class with slots raises a TypeError of its own machinery here; ours says it plainly."""
    for cls in make_pair(SHAPES["plain"], OPTIONS["frozen slots"]):
        with pytest.raises((dataclasses.FrozenInstanceError, TypeError)):
            cls(1).new = 2  # type: ignore[attr-defined]
    for cls in make_pair(SHAPES["plain"], OPTIONS["frozen"]):
        with pytest.raises(dataclasses.FrozenInstanceError):
            cls(1).new = 2  # type: ignore[attr-defined]


BELOW = "\n".join(
    (
        "@decorate(**options)\nclass Base:\n 'Above.'\n a: int\n z: int = 2\n",
        "class Plain(Base):\n def __init__(self, a): super().__init__(a); object.__setattr__(self, 'more', 1)",
    )
)


@pytest.mark.parametrize("options", [name for name in OPTIONS if name != "kw_only"])
def test_classes_below_are_alike(options: str) -> None:
    library, ours = make_pair("b: int = 3", OPTIONS[options], BELOW)
    assert show_class(ours) == show_class(library)
    assert list(map(tell, list_actions(ours))) == list(map(tell, list_actions(library)))
    for cls in (library, ours):
        plain = sys.modules[cls.__module__].Plain  # type: ignore[attr-defined]
        assert (plain(5).a, plain(5).z, plain(5).more) == (5, 2, 1)
        assert plain(5) != cls(5)
        assert repr(plain(5)) == "Plain(a=5, z=2)" or options == "by identity"
        if "frozen" in options:
            with pytest.raises(dataclasses.FrozenInstanceError):
                plain(5).a = 6


def test_a_frozen_class_is_not_inherited_by_one_that_is_not() -> None:
    frozen = make_pair(SHAPES["plain"], OPTIONS["frozen"])[1]
    with pytest.raises(TypeError, match="cannot inherit non-frozen dataclass from a frozen one"):
        make_value_class(type("Below", (frozen,), {"__annotations__": {"c": "int"}}))


def test_a_ring_of_values_is_shown() -> None:
    shown = []
    for cls in make_pair("a: list", {}):
        ring = cls([])
        ring.a.append(ring)
        shown.append(repr(ring))
    assert shown == ["Shape(a=[...])"] * 2


def test_nothing_is_compiled_before_it_is_needed(monkeypatch: pytest.MonkeyPatch) -> None:
    compiled: list[type] = []
    compile_init = import_module("impose.value_classes")._compile_init
    monkeypatch.setattr("impose.value_classes._compile_init", lambda cls: compiled.append(cls) or compile_init(cls))
    cls: Any = make_pair(SHAPES["plain"], OPTIONS["frozen slots"])[1]
    assert compiled == []
    assert [cls(1).a, cls(2).a] == [1, 2]
    assert compiled == [cls]


def test_threads_may_make_the_first_value_together() -> None:
    cls: Any = make_pair(SHAPES["plain"], OPTIONS["frozen slots"])[1]
    start, made = threading.Barrier(4), []

    def make() -> None:
        start.wait(60)
        made.append(cls(1))

    threads = [threading.Thread(target=make) for _ in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert made == [cls(1)] * 4


def test_the_house_makes_its_dataclasses_here() -> None:
    """Each taken from the standard library costs every command a millisecond."""
    taken = [
        path.name
        for path in list_modules()
        if re.search(r"^from dataclasses import.*\bdataclass\b", path.read_text("utf-8"), re.M)
    ]
    assert taken == []


def test_every_value_class_of_the_house_takes_what_the_library_would_ask_for() -> None:
    """The signature is the library's for the same fields, whichever class it is."""
    seen = 0
    for path in list_modules():
        text = path.read_text("utf-8")
        if "from impose.value_classes import" not in text:
            continue
        module = import_module(".".join(path.relative_to(PACKAGE.parent).with_suffix("").parts))
        for cls in vars(module).values():
            if isinstance(cls, type) and cls.__module__ == module.__name__ and dataclasses.is_dataclass(cls):
                assert read_parameters(cls) == read_parameters(make_alike(cls)), cls
                seen += 1
    assert seen > 300


def make_alike(cls: Any) -> type:
    fields: list[Any] = []
    for kept in dataclasses.fields(cls):
        given = {"default": kept.default, "default_factory": kept.default_factory, "init": kept.init}
        fields.append((kept.name, kept.type, dataclasses.field(**given, kw_only=kept.kw_only)))
    return dataclasses.make_dataclass(cls.__name__, fields)


def read_parameters(cls: type) -> list[tuple[Any, ...]]:
    parameters = inspect.signature(cls).parameters.values()
    return [(taken.name, taken.kind, taken.annotation, taken.default is not taken.empty) for taken in parameters]
