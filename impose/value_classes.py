"""Dataclasses that cost little to load.

A command loads two hundred classes of values. The standard library writes and compiles six methods of each while it is
loaded: 1.3 ms a class, a quarter of a small command. Here `__init__` is compiled when it is first looked up, and the
methods that compare, show and refuse changes are closures, which nobody compiles. Fields, their defaults, slots,
matching, `replace` and `asdict` are the standard library's own. `tests/test_value_classes.py` holds that the values are
alike.
"""

from __future__ import annotations

import dataclasses
import inspect
from collections.abc import Callable
from operator import attrgetter
from reprlib import recursive_repr
from typing import TYPE_CHECKING, Any

_OWN = {"__init__", "__repr__", "__eq__", "__hash__", "__setattr__", "__delattr__", "__getstate__", "__setstate__"}


def make_value_class(cls: type | None = None, /, **options: Any) -> Any:
    """`dataclasses.dataclass` for the options `frozen`, `slots` and `kw_only`.

    Whatever else is asked, inherited from a dataclass or written in the class by hand is left to the standard library.
    """
    if cls is None:
        return lambda given: make_value_class(given, **options)
    plain = options.keys() <= {"frozen", "slots", "kw_only"} and not _OWN & cls.__dict__.keys()
    # What is only handed to `__post_init__` is no field.
    plain = plain and not any("InitVar" in str(kind) for kind in inspect.get_annotations(cls).values())
    if not plain or any(map(dataclasses.is_dataclass, cls.__mro__)):
        return dataclasses.dataclass(cls, **options)
    return _make_light_class(cls, **options)


def _make_light_class(cls: type, *, frozen: bool = False, slots: bool = False, kw_only: bool = False) -> type:
    # Not frozen here, since that alone compiles two methods.
    made: Any = dataclasses.dataclass(cls, init=False, repr=False, eq=False, slots=slots, kw_only=kw_only)
    noted = made.__dataclass_params__
    noted.init = noted.repr = noted.eq = True
    noted.frozen = frozen
    made.__init__ = _LateInit(made)
    made.__repr__ = _show_fields
    made.__eq__ = _make_comparison(made)
    made.__hash__ = _make_hash(made) if frozen else None
    if frozen:
        made.__setattr__, made.__delattr__ = _make_refusals(made)
    if frozen and slots:  # as the standard library does, since a plain restore would set fields
        made.__getstate__, made.__setstate__ = _list_state, _restore_state
    return made  # type: ignore[no-any-return]


class _MadeAfresh:
    """What a signature shows in place of a default that is made for each value; shown as the standard library does."""

    def __repr__(self) -> str:
        return "<factory>"


_MADE_AFRESH = _MadeAfresh()


class _LateInit:
    """Stands for `__init__` until somebody looks it up, to call it or to read its signature."""

    def __init__(self, cls: type) -> None:
        self._cls = cls

    def __get__(self, value: object, owner: type) -> Any:
        method = self._cls.__init__ = _compile_init(self._cls)  # type: ignore[misc]
        return method.__get__(value, owner)


def _compile_init(cls: Any) -> Any:
    """`__init__` as the standard library writes it: the fields in their order, those with names only last."""
    known: dict[str, Any] = {"__set_field__": object.__setattr__, "__made_afresh__": _MADE_AFRESH}
    frozen = cls.__dataclass_params__.frozen
    set_field = "__set_field__(self, '{name}', {value})" if frozen else "self.{name} = {value}"
    by_place: list[str] = []
    by_name: list[str] = []
    body: list[str] = []
    for field in dataclasses.fields(cls):
        name, default, value = field.name, f"__default_{field.name}__", field.name
        made_afresh = field.default_factory is not dataclasses.MISSING
        known[default] = field.default_factory if made_afresh else field.default
        has_default = known[default] is not dataclasses.MISSING
        if field.init:
            given = "" if not has_default else "=__made_afresh__" if made_afresh else f"={default}"
            (by_name if field.kw_only else by_place).append(name + given)
            if made_afresh:
                value = f"{default}() if {name} is __made_afresh__ else {name}"
        elif made_afresh:
            value = f"{default}()"
        elif has_default and "__slots__" in cls.__dict__:
            value = default
        else:
            continue  # the class has it, or `__post_init__` sets it
        body.append(set_field.format(name=name, value=value))
    body.append("self.__post_init__()" if hasattr(cls, "__post_init__") else "pass")
    parameters = ", ".join(["self", *by_place, *(["*", *by_name] if by_name else [])])
    exec(f"def __init__({parameters}):\n " + "\n ".join(body), known)
    method = known["__init__"]
    method.__qualname__, method.__module__ = f"{cls.__qualname__}.__init__", cls.__module__
    method.__annotations__ = {field.name: field.type for field in dataclasses.fields(cls) if field.init}
    method.__annotations__["return"] = None
    return method


def _choose_values(names: list[str]) -> Callable[[Any], tuple[Any, ...]]:
    """What takes the values of these fields from an object."""
    return attrgetter(*names) if len(names) > 1 else lambda self: tuple(getattr(self, name) for name in names)


def _make_comparison(cls: Any) -> Callable[[Any, object], bool]:
    take_values = _choose_values([field.name for field in dataclasses.fields(cls) if field.compare])

    def compare_values(self: Any, other: object) -> bool:
        return take_values(self) == take_values(other) if other.__class__ is self.__class__ else NotImplemented

    return compare_values


def _make_hash(cls: Any) -> Callable[[Any], int]:
    fields = dataclasses.fields(cls)
    take_values = _choose_values([kept.name for kept in fields if (kept.compare if kept.hash is None else kept.hash)])
    return lambda self: hash(take_values(self))


@recursive_repr()
def _show_fields(self: Any) -> str:
    shown = ", ".join(f"{kept.name}={getattr(self, kept.name)!r}" for kept in dataclasses.fields(self) if kept.repr)
    return f"{self.__class__.__qualname__}({shown})"


def _make_refusals(cls: Any) -> tuple[Callable[[Any, str, Any], None], Callable[[Any, str], None]]:
    """Nobody sets or deletes a field; a class below, which is no dataclass, may have attributes of its own."""
    names = frozenset(field.name for field in dataclasses.fields(cls))

    def refuse_setting(self: Any, name: str, value: Any) -> None:
        if type(self) is cls or name in names:
            raise dataclasses.FrozenInstanceError(f"cannot assign to field {name!r}")
        super(cls, self).__setattr__(name, value)

    def refuse_deleting(self: Any, name: str) -> None:
        if type(self) is cls or name in names:
            raise dataclasses.FrozenInstanceError(f"cannot delete field {name!r}")
        super(cls, self).__delattr__(name)

    return refuse_setting, refuse_deleting


def _list_state(self: Any) -> list[Any]:
    return [getattr(self, field.name) for field in dataclasses.fields(self)]


def _restore_state(self: Any, state: list[Any]) -> None:
    for field, value in zip(dataclasses.fields(self), state, strict=True):
        object.__setattr__(self, field.name, value)


if TYPE_CHECKING:  # so that every type checker knows what it makes
    from dataclasses import dataclass as dataclass
else:
    dataclass = make_value_class
