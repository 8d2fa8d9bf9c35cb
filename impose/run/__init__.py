"""The library door: from a batch to sheets, the whole job in two calls.

`plan` reads, prepares, sizes, nests and draws, and writes nothing; `produce` writes what was planned, reads it back
and delivers the folder whole; `quote` plans on each paper and compares; `check` only says what it finds; `write_guide`
makes a placement guide. All raise `impose.errors.Trouble` with everything that is wrong. The command line wraps these
very functions, so it can do nothing that a program cannot.
"""

import sys
from types import ModuleType
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from impose.run.check import CheckResult, check
    from impose.run.guide import write_guide
    from impose.run.options import Options
    from impose.run.plan import Plan, plan
    from impose.run.produce import produce
    from impose.run.progress import Progress
    from impose.run.quote import PaperOffer, Quote, quote

__all__ = [
    "CheckResult",
    "Options",
    "PaperOffer",
    "Plan",
    "Progress",
    "Quote",
    "check",
    "plan",
    "produce",
    "quote",
    "write_guide",
]

_MODULES = {
    "CheckResult": "check", "Options": "options", "PaperOffer": "quote", "Plan": "plan", "Progress": "progress",
    "Quote": "quote", "check": "check", "plan": "plan", "produce": "produce", "quote": "quote", "write_guide": "guide",
}  # fmt: skip


def _load_name(name: str) -> Any:
    from importlib import import_module

    return getattr(import_module(f"impose.run.{_MODULES[name]}"), name)


class _RunDoor(ModuleType):
    """This package with its names loaded when they are first asked for: most of its modules need only a part of it.

    Four functions are called as the modules that they are in. A property of the class goes before the attribute that
    Python sets for a module once it is imported.
    """


def _make_property(name: str) -> property:
    # Whoever imports the module of that name sets it here: what is asked for stays the function.
    return property(lambda module: _load_name(name), lambda module, value: None)


for _name in _MODULES:
    setattr(_RunDoor, _name, _make_property(_name))
sys.modules[__name__].__class__ = _RunDoor
