"""Whether a file of ours was written by a newer program: told by the number at the end of its `format`."""

from __future__ import annotations


def is_newer(written: object, ours: str) -> bool:
    """Whether a `format` as in `impose-press/2` is ours with a higher number."""
    (name, _, version), (own_name, _, own) = str(written).rpartition("/"), ours.rpartition("/")
    number = version.isascii() and version.isdigit() and len(version) < 10
    return name == own_name and number and int(version) > int(own)
