"""The published schemas, made strict: a key that a schema does not name is a fault, so that none goes undocumented."""

from __future__ import annotations

import json
from collections.abc import Callable
from functools import cache
from pathlib import Path
from typing import Any

import fastjsonschema

SHARED = Path(__file__).resolve().parent.parent / "shared"


def load(name: str) -> dict[str, Any]:
    """A schema as it is published."""
    return json.loads((SHARED / f"{name}.schema.json").read_text("utf-8"))


@cache
def strict(name: str) -> Callable[[object], Any]:
    """A function that raises `fastjsonschema.JsonSchemaValueException` for what does not fit, or is not documented."""
    return fastjsonschema.compile(_close(load(name)), use_default=False)


def _close(value: Any) -> Any:
    if isinstance(value, dict):
        closed = {key: _close(one) for key, one in value.items()}
        if value.get("type") in ("object", ["object", "null"]) and "properties" in value:
            closed.setdefault("additionalProperties", False)
        return closed
    return [_close(one) for one in value] if isinstance(value, list) else value
