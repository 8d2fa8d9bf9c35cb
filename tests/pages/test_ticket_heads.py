"""The two lines that head a ticket: whose and which, then what; each level, parted by a rule from the drawings."""

from __future__ import annotations

import pypdfium2
import pytest

from pages.proof.test_marks_drawn import read_characters
from pages.test_tickets import LINES, Made, make


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Made:
    return make(tmp_path_factory.mktemp("heads"), LINES[2:])


def test_the_words_of_each_line_stand_level_and_clear_of_the_rule_and_of_each_other(made: Made) -> None:
    document, heads = pypdfium2.PdfDocument(made.folder / "tickets.pdf"), 0
    for page, drawn_page in enumerate(made.pages):
        letters = [letter for letter in read_characters(document[page], drawn_page.height) if letter[0].strip()]
        for top in (0.0, drawn_page.height / 2):
            rules = [a[1] - top for a, b in drawn_page.lines if a[1] == b[1] and abs(a[0] - b[0]) > 150 and a[1] > top]
            rule = min(rules, default=0.0)
            lines: dict[float, str] = {}
            for sign, _, y, _ in letters:
                if 0 <= y - top < rule:
                    lines[round(y - top, 1)] = lines.get(round(y - top, 1), "") + sign
            said = "".join(lines.values())
            if rule > 30 or "PLAINPAPER" not in said or "ticket" not in said:
                continue
            heads += 1
            last = max(lines)
            assert f"batch{made.record['code']}" in lines[last]
            assert any(garment in lines[last] for garment in ("adultM", "adultL", "adultS", "(notnamed)")), "level"
            assert all(y < last - 5.6 for y in lines if y != last), (
                "the second line's letters of 4.6 mm lie below the first"
            )
            assert max(y for y in lines if y != last) - min(lines) < 1.5, (
                "the first line's sizes differ, its level hardly"
            )
            assert 1.0 < rule - last < 3.0, "what hangs below a line does not touch the rule"
    assert heads == 5
