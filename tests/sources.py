"""The program's own source, read and parsed once for all tests of it."""

from __future__ import annotations

import ast
import functools
import gc
from pathlib import Path

PACKAGE = Path(__file__).resolve().parent.parent / "impose"


@functools.cache
def list_modules() -> tuple[Path, ...]:
    return tuple(sorted(PACKAGE.rglob("*.py")))


@functools.cache
def read_nodes(path: Path) -> list[ast.AST]:
    """Everything that a module is made of but contexts (load, store), itself first, each before what is in it."""
    watched = gc.isenabled()
    gc.disable()  # nothing of a tree is garbage: to look for some takes longer than to parse it
    try:
        nodes: list[ast.AST] = [ast.parse(path.read_text("utf-8"))]
        for node in nodes:
            for name in node._fields:
                value = getattr(node, name, None)
                if isinstance(value, list):
                    nodes += [part for part in value if isinstance(part, ast.AST)]
                elif isinstance(value, ast.AST) and not isinstance(value, ast.expr_context):
                    nodes.append(value)
        return nodes
    finally:
        if watched:
            gc.enable()


@functools.cache
def list_nodes(*kinds: type[ast.AST]) -> tuple[tuple[str, ast.AST], ...]:
    """Every node of the program that is of one of these kinds, with the file it stands in."""
    return tuple(
        (name, node)
        for path in list_modules()
        for name in (path.relative_to(PACKAGE).as_posix(),)
        for node in read_nodes(path)
        if isinstance(node, kinds)
    )
