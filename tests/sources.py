"""The program's own source, read and parsed once for all tests of it."""

from __future__ import annotations

import ast
import functools
from pathlib import Path

PACKAGE = Path(__file__).resolve().parent.parent / "impose"


@functools.cache
def list_modules() -> tuple[Path, ...]:
    return tuple(sorted(PACKAGE.rglob("*.py")))


@functools.cache
def read_nodes(path: Path) -> list[ast.AST]:
    """Everything that a module is made of, the module itself first, each before what is in it."""
    return list(ast.walk(ast.parse(path.read_text("utf-8"))))
