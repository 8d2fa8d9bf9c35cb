"""Keys of a shop's own profiles, set and taken out: read back by tomllib (TOML 1.0, https://toml.io/en/v1.0.0)."""

from __future__ import annotations

import tomllib

import pytest

from impose.run.own_profiles import set_keys, set_top_keys, spell_text


@pytest.mark.parametrize("key", ["hoodie adult 2XL", "12", 'a "b" c', "press_rate", "ünï"])
def test_a_key_of_any_spelling_is_set_once_and_taken_out(key):
    text = "# my own\n"
    for value in ("1", "2.5"):
        text = set_keys(text, "[blanks]", {spell_text(key): value, "other": "7"})
        text = set_top_keys(text, {"markup": value})
    assert tomllib.loads(text) == {"markup": 2.5, "blanks": {key: 2.5, "other": 7}}
    text = set_top_keys(set_keys(text, "[blanks]", {spell_text(key): ""}), {"markup": ""})
    assert tomllib.loads(text) == {"blanks": {"other": 7}}
    assert "# my own" in text
