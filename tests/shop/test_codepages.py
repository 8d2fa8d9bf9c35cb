"""Batch files in the code page of a system. Bytes are Python's own tables, which are those that Unicode publishes."""

from __future__ import annotations

from pathlib import Path

import pytest

from impose.errors import Severity, Trouble
from impose.orders.batch_reader import read_batch
from impose.orders.cells import CellError, read_copies
from impose.orders.code_pages import CodePageReading, read_page
from impose.profiles.profiles import Profiles

# Names of people as they are written in their countries (from memory, common knowledge).
CENTRAL = ("Dvořák", "Jiří", "Świątek", "Žižka", "Čapek", "Ćosić Đorđe", "Wałęsa", "Růžička", "Paweł",
           "Gyöngyösi Erdős", "Łukasz", "Żółć")  # fmt: skip
WESTERN = ("Hélène", "Søren", "Ærø", "François", "Lefèvre", "Müller", "Conceição", "Núñez", "Groß", "Zoë", "Håkon",
           "Þórður", "Benoît", "Agnès", "Lætitia")  # fmt: skip
EITHER = (("Kamiński", "cp1250"), ("Szűcs", "cp1250"), ("Němec", "cp1250"), ("João", "cp1252"), ("Åsa", "cp1252"))


@pytest.mark.parametrize(("names", "page"), [(CENTRAL, "cp1250"), (WESTERN, "cp1252")])
def test_names_are_read_as_their_people_write_them(names, page):
    for name in names:
        found = read_page(name.encode(page))
        assert isinstance(found, CodePageReading), name
        assert found.text == name


def test_a_file_of_one_country_is_read_without_a_doubt():
    for names, page in (
        (("Świątek", "Żółć"), "cp1250"),
        (("Groß", "Müller"), "cp1252"),
        (("Núñez", "Peña, ¡olé!"), "cp1252"),
    ):
        found = read_page("\n".join(names).encode(page))
        assert isinstance(found, CodePageReading)
        assert found.text == "\n".join(names)
        assert found.sure


@pytest.mark.parametrize(("name", "page"), EITHER)
def test_a_name_that_two_countries_could_have_is_not_guessed(name, page):
    found = read_page(name.encode(page))
    assert not isinstance(found, CodePageReading)
    assert name in [one.text for one in found]
    assert len(found) == 2


@pytest.mark.parametrize(
    ("names", "page"), [(("Łukasz Wróbel", "Žižka"), "cp1250"), (("Groß", "Håkon", "Søren", "François"), "cp1252")]
)
def test_a_team_of_several_countries_is_read_with_a_warning(names, page):
    """Ł is no letter of Czech, ž none of Polish; £ and pound signs begin no name."""
    found = read_page("\n".join(names).encode(page))
    assert isinstance(found, CodePageReading)
    assert found.text == "\n".join(names)
    assert not found.sure


def test_a_note_or_a_warning_says_how_it_was_read(desk: Path, profiles: Profiles):
    path = desk / "orders.csv"
    for name, severity in (("Jürgen Groß", Severity.NOTE), ("Hélène", Severity.WARN)):
        path.write_bytes(f"art,width,wearer\nart/owl.png,5cm,{name}\n".encode("latin-1"))
        batch = read_batch(path, profiles)
        assert batch.rows[0].wearer == name
        (told,) = [one for one in batch.findings if one.kind == "encoding"]
        assert told.severity is severity
        assert name.split()[0] in told.what
        assert "CSV UTF-8" in told.remedy


def test_a_damaged_utf_8_file_is_no_code_page(desk: Path, profiles: Profiles):
    path = desk / "orders.csv"
    path.write_bytes("art,width,wearer\nart/owl.png,5cm,Jürgen Weiß Zoë\n".encode() + b"art/owl.png,5cm,Mel\xe9\n")
    with pytest.raises(Trouble) as caught:
        read_batch(path, profiles)
    assert caught.value.findings[0].row == 3


@pytest.mark.parametrize(("text", "copies"), [("2,0", 2), ("2.00", 2), ("12", 12)])
def test_copies_as_spreadsheets_write_them(text, copies):
    assert read_copies(text) == copies


@pytest.mark.parametrize("text", ["2,000", "2.000", "2,5", "2.01", "1.0e2", "0,0", "3,"])
def test_copies_that_could_be_something_else_are_refused(text):
    with pytest.raises(CellError):
        read_copies(text)


def test_headings_in_another_language_name_the_way_out(desk: Path, profiles: Profiles):
    path = desk / "orders.csv"
    for first in ("Bestellung;Motiv;Größe;Anzahl", "order;Motiv;width;Anzahl"):
        path.write_text(f"{first}\n1;art/owl.png;5cm;2\n", "utf-8")
        with pytest.raises(Trouble) as caught:
            read_batch(path, profiles)
        said = str(caught.value)
        assert "give a column map" in said
        assert "“Motiv”" in said
        assert "“Anzahl”" in said
