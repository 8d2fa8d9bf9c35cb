"""Readable by everybody: contrast in light and dark, headings in order, pictures and tables named."""

from __future__ import annotations

import re
from itertools import pairwise

import pytest

from impose.errors import Finding, Severity
from impose.pages.proof.order_lots import HUES, format_ranges, group_findings
from impose.pages.proof.stylesheet import HUE_COLOURS, PROOF_STYLE
from impose.sheet.finding_causes import group_by_cause
from pages.proof.reading import Made, parsed


def luminance(colour: str) -> float:
    """WCAG 2.2, definition of relative luminance."""
    digits = colour.lstrip("#")
    digits = "".join(c * 2 for c in digits) if len(digits) == 3 else digits
    parts = [int(digits[i : i + 2], 16) / 255 for i in (0, 2, 4)]
    r, g, b = (p / 12.92 if p <= 0.04045 else ((p + 0.055) / 1.055) ** 2.4 for p in parts)
    return 0.2126 * r + 0.7152 * g + 0.0722 * b


def contrast(one: str, other: str) -> float:
    """WCAG 2.2, contrast ratio: 4.5 to 1 for text (1.4.3)."""
    high, low = sorted((luminance(one), luminance(other)), reverse=True)
    return (high + 0.05) / (low + 0.05)


def test_contrast_formula():
    """WCAG 2.2: black on white is 21 to 1; #767676 on white is the lightest grey of at least 4.5 to 1."""
    assert contrast("#000", "#fff") == pytest.approx(21)
    assert contrast("#767676", "#fff") >= 4.5 > contrast("#777777", "#fff")


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_words_stand_out(scheme):
    light, dark = re.findall(r":root\{(?:color-scheme:[a-z ]+;)?(--page:#[^}]+)\}", PROOF_STYLE)[:2]
    colours = dict(re.findall(r"--([a-z]+):(#[0-9a-f]+)", light if scheme == "light" else dark))
    assert {"page", "card", "text", "quiet", "link", "stop", "warn", "note", "good"} <= set(colours)
    for ground in ("page", "card"):
        for ink in ("text", "quiet", "link", "stop", "warn", "note", "good"):
            assert contrast(colours[ink], colours[ground]) >= 4.5, (scheme, ink, ground)


def test_name_tags_stand_out():
    assert len(set(HUE_COLOURS)) == HUES
    for colour in HUE_COLOURS:
        assert contrast(colour, "#fff") >= 4.5


def test_headings_and_names_for_those_who_listen(made: Made):
    root = parsed(made.proof)
    levels = [int(node.tag[1]) for node in root.all() if re.fullmatch(r"h[1-6]", node.tag)]
    assert levels[0] == 1
    assert all(after - before <= 1 for before, after in pairwise(levels))
    for drawing in root.all("svg"):
        if drawing.attributes.get("aria-hidden") != "true":
            ids = drawing.attributes["aria-labelledby"].split()
            assert [n.attributes["id"] for n in drawing.all() if n.attributes.get("id") in ids] == ids
            assert drawing.attributes["role"] == "img"
    for image in root.all("img"):
        assert image.attributes["alt"]
    switches = {node.attributes["id"] for node in root.all("input")}
    assert switches == {node.attributes["for"] for node in root.all("label")}
    for table in root.all("table"):
        assert table.all("caption")
        assert len({len(row.all("td")) + len(row.all("th")) for row in table.all("tr")}) == 1


def test_every_transfer_is_told_with_its_facts(made: Made):
    root = parsed(made.proof)
    rows = {int(node.attributes["id"][4:]): node.text for node in root.all("tr") if "id" in node.attributes}
    for sheet in made.record["sheets"]:
        for transfer in sheet["transfers"]:
            text = rows[transfer["row"]]
            for words in (transfer["id"], transfer["wearer"], transfer["garment"], f"sheet {sheet['sheet']}"):
                assert words in text
            assert f"{transfer['ppi']:.0f} ppi" in text
    text = root.all("header")[0].text
    assert made.record["code"] in text
    proven = made.record["fewest"]["proven"]
    assert ("possible" in text) == proven


def test_findings_are_told_with_place_reason_and_remedy(made: Made):
    root = parsed(made.proof)
    told = root.all("ul", class_="said")[0].text
    assert made.planned.findings
    causes = group_by_cause(made.planned.findings)
    for finding in (of[0] for of in causes):
        for words in (finding.what[1:], finding.why, finding.remedy):
            assert words in told
    for finding in made.planned.findings:
        if finding.row is not None:
            assert re.search(rf"rows? [0-9–, ]*{finding.row}", told)


def test_equal_findings_are_said_once_worst_first():
    note = Finding("a", "b", Severity.NOTE, "k", row=2)
    warn = Finding("c", "d", Severity.WARN, "k", row=9)
    said = group_findings([note, warn, Finding("a", "b", Severity.NOTE, "k", row=3)])
    assert [(one.first.what, one.row_numbers) for one in said] == [("c", [9]), ("a", [2, 3])]


def test_ranges():
    assert format_ranges([5, 1, 2, 3, 9, 2]) == "1–3, 5, 9"
    assert format_ranges([]) == ""
    assert format_ranges([5, 1, 2, 3, 9, 11, 12], most=2) == "1–3, 5 and 3 more"
    assert format_ranges([5, 1, 2, 3], most=2) == "1–3, 5"
