"""What `impose stock` says to those who ask wrongly: every refusal names what would be right."""

from __future__ import annotations

import pytest


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["a4", "--set", ""], "0 to"),
        (["a4", "--set", "1000000000"], "0 to"),
        (["a4", "--set", "2.5"], "0 to"),
        (["roll-24in", "--set", "5"], "12.5m or 12500 mm"),
        (["roll-24in", "--set", "0.0000001m"], "12.5m or 12500 mm"),
        (["a4", "--because", "opened"], "nothing is changed"),
    ],
)
def test_what_cannot_be_counted_is_refused_and_makes_no_ledger(run, tmp_path, arguments, said):
    ledger = tmp_path / "ledger.db"
    code, out, err = run("stock", *arguments, "--ledger", ledger)
    assert (code, out) == (2, "")
    assert said in err
    assert not ledger.exists()


def test_a_paper_that_is_not_counted_is_not_said_of_all(run, tmp_path):
    ledger = tmp_path / "ledger.db"
    assert run("stock", "a4", "--set", "3", "--ledger", ledger)[0] == 0
    assert "a3 is not counted" in run("stock", "a3", "--ledger", ledger)[1]
