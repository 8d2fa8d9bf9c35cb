"""What is never changed once it is made is a `FrozenStruct`; what changes is a `ChangingStruct`.

The standard library compiles six methods of each dataclass whenever its module is loaded, a millisecond each, and a
command loads two hundred. A struct of msgspec takes a thirtieth of that, and so do most of its uses. A dataclass is
left where fields get their values late, and where no command loads it.
"""

from __future__ import annotations

from inspect import Parameter, Signature
from typing import TYPE_CHECKING, Any, dataclass_transform

from msgspec import NODEFAULT, Struct, StructMeta, field
from msgspec.structs import force_setattr as set_field

if TYPE_CHECKING:
    # As it is typed there, names and types of what is replaced are held against the fields.
    from dataclasses import replace
else:
    from msgspec.structs import replace

__all__ = [
    "ChangingStruct",
    "FrozenStruct",
    "describe_value",
    "field",
    "list_names",
    "replace",
    "set_field",
    "unfold_value",
]


class _Made:
    """A default that is made anew each time, as signatures show it."""

    def __repr__(self) -> str:
        return "<factory>"


class _StructClass(StructMeta):
    """Shows a signature without looking for what annotations name: much of it is imported for type checkers alone."""

    @property
    def __signature__(self) -> Signature:
        texts = {name: text for base in reversed(self.__mro__) for name, text in _list_annotations(base)}
        names, defaults = self.__struct_fields__, self.__struct_defaults__
        filled = [NODEFAULT] * (len(names) - len(defaults)) + [*defaults]
        kind = Parameter.POSITIONAL_OR_KEYWORD
        return Signature(
            [
                Parameter(name, kind, default=_show_default(default), annotation=texts[name])
                for name, default in zip(names, filled, strict=True)
            ]
        )


def _list_annotations(base: type) -> list[tuple[str, Any]]:
    return list(vars(base).get("__annotations__", {}).items())


def _show_default(default: Any) -> Any:
    if default is NODEFAULT:
        return Parameter.empty
    return _Made() if hasattr(default, "factory") else default


@dataclass_transform(frozen_default=True, field_specifiers=(field,))
class FrozenStruct(Struct, frozen=True, metaclass=_StructClass):
    """What has fields and is never changed: compared, hashed, shown and copied by its fields."""


@dataclass_transform(field_specifiers=(field,))
class ChangingStruct(Struct, metaclass=_StructClass):
    """What has fields that change: compared and shown by them, so that it has no hash."""


def list_names(value: FrozenStruct | type[FrozenStruct]) -> tuple[str, ...]:
    """The names of its fields, in their order."""
    return value.__struct_fields__


def describe_value(value: FrozenStruct, hidden: str) -> str:
    """A value as it is shown by itself, without a field of bytes that nobody could read."""
    shown = [f"{name}={getattr(value, name)!r}" for name in list_names(value) if name != hidden]
    return f"{type(value).__qualname__}({', '.join(shown)})"


def unfold_value(value: Any) -> Any:
    """A value as a dictionary of its fields, and so the values in it and in its sequences and dictionaries."""
    if isinstance(value, FrozenStruct):
        return {name: unfold_value(getattr(value, name)) for name in list_names(value)}
    if isinstance(value, tuple | list):
        parts = map(unfold_value, value)
        return type(value)(*parts) if hasattr(value, "_fields") else type(value)(parts)
    if isinstance(value, dict):
        return {name: unfold_value(part) for name, part in value.items()}
    return value
