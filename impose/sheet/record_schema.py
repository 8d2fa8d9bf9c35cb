"""The record's schema (JSON Schema, draft 7), which other programs and the tests hold a record against too.

What `record_reader` makes use of it reads and checks itself, with the place of each fault. The rest of a record goes
through the schema. Keys that it does not know are passed over, so that a record of a later minor version can be read.
"""

from __future__ import annotations

import json
from collections.abc import Callable
from functools import cache
from typing import Any

from impose.files import find_shipped_file


def find_fault(record: object) -> str | None:
    """The place of the first value that does not fit, such as `sheets[0].yield`, and why; None if all fit."""
    from fastjsonschema import JsonSchemaValueException

    try:
        _compile_schema()(record)
    except JsonSchemaValueException as fault:
        return str(fault.message).removeprefix("data.").removeprefix("data ")
    return None


@cache
def _compile_schema() -> Callable[[object], Any]:
    import fastjsonschema  # writes a function once, in 0.1 s: only for whoever reads a record

    schema = json.loads(find_shipped_file("schemas", "record.schema.json").read_text("utf-8"))
    checked: Callable[[object], Any] = fastjsonschema.compile(schema, use_default=False)
    return checked
