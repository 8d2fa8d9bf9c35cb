"""What file names say. The examples follow the documented form; what other programs append was collected by use."""

from __future__ import annotations

import contextlib

import pytest
from hypothesis import given
from hypothesis import strategies as st

from each_case import try_each
from impose.desk.inbox_rules import (
    NamedSpec,
    is_temporary_name,
    make_safe_name,
    parse_share,
    parse_size,
    parse_span,
    read_file_name,
)
from impose.errors import Trouble


@try_each(
    "name, spec",
    [
        ("owl (12 copies, 90 mm).png", NamedSpec(12, 90.0)),
        ("owl (90 mm, 12 copies).PNG", NamedSpec(12, 90.0)),
        ("owl (1 copy).png", NamedSpec(1)),
        ("owl (90mm).png", NamedSpec(None, 90.0)),
        ("owl (90 mm wide).png", NamedSpec(None, 90.0)),
        ("owl (12 cm high; 3 copies).png", NamedSpec(3, None, 120.0)),
        ("owl (90 x 120 mm).png", NamedSpec(None, 90.0, 120.0)),
        ("owl (3.5in x 4in).png", NamedSpec(None, 88.9, 101.6)),
        ("owl (3 1⁄2 in).png", NamedSpec(None, 88.9)),
        ("owl (90,5 mm).png", NamedSpec(None, 90.5)),
        ("owl(2 copies).png", NamedSpec(2)),
        ("a (b) owl (2 copies).png", NamedSpec(2)),
        # what browsers, phones and file managers append to a second copy: part of the name
        ("owl (1).png", NamedSpec()),
        ("owl (12 copies, 90 mm) (1).png", NamedSpec(12, 90.0)),
        ("owl (12 copies, 90 mm) - Copy.png", NamedSpec(12, 90.0)),
        ("owl (90 mm) again (2 copies).png", NamedSpec(2, 90.0)),
        ("owl (copy).png", NamedSpec()),
        ("owl (another copy).png", NamedSpec()),
        ("owl (3rd copy).png", NamedSpec()),
        ("owl - Copy (2).png", NamedSpec()),
        ("owl (final, really).png", NamedSpec()),
        ("owl.png", NamedSpec()),
    ],
)
def test_what_a_name_says(name, spec):
    found = read_file_name(name)
    assert found.copies == spec.copies
    assert found.width_mm == pytest.approx(spec.width_mm)
    assert found.height_mm == pytest.approx(spec.height_mm)


@pytest.mark.parametrize(
    "name",
    [
        "owl (0 copies).png",
        "owl (100001 copies).png",
        "owl (1.5 copies).png",
        "owl (2 copies, 3 copies).png",
        "owl (2 copies, 90).png",
        "owl (0 mm).png",
        "owl (12 copies, 9 parsecs).png",
    ],
)
def test_half_understood_is_refused_with_the_form_to_write(name):
    with pytest.raises(Trouble) as refused:
        read_file_name(name)
    assert "owl" in str(refused.value)


@given(st.text(max_size=200))
def test_any_name_is_read_or_refused_and_can_be_made_safe(name):
    with contextlib.suppress(Trouble):
        read_file_name(name)
    safe = make_safe_name(name)
    # Windows naming rules (Microsoft, "Naming Files, Paths, and Namespaces"): reserved characters, final dot or space.
    assert safe
    assert not set(safe) & set('<>:"/\\|?*')
    assert all(ord(c) >= 32 for c in safe)
    assert not safe.endswith((".", " "))
    assert len(safe.encode()) <= 81
    assert not is_temporary_name(safe) or safe.casefold().endswith((".tmp", ".part", "~")) or is_temporary_name(name)


@pytest.mark.parametrize("name", ["con.png", "AUX", "lpt1.x", "nul"])
def test_names_that_windows_reserves_are_changed(name):
    assert make_safe_name(name).split(".")[0].casefold() not in {"con", "aux", "lpt1", "nul"}


def test_spans_shares_and_sizes():
    assert [parse_span(text) for text in ("90", "90s", "30m", "1.5 h", "7d")] == [90, 90, 1800, 5400, 604800]
    assert [parse_share(text) for text in ("85%", "0.85", "100%")] == [0.85, 0.85, 1.0]
    assert [parse_size(text) for text in ("500MB", "20 gb", "1.5TB")] == [5e8, 2e10, 1.5e12]
    for parse, text in ((parse_span, "soon"), (parse_span, "-1m"), (parse_share, "0%"), (parse_size, "12")):
        with pytest.raises(ValueError, match="not a"):
            parse(text)
