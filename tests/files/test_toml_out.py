"""Values written as TOML come back as they were, from one line."""

from __future__ import annotations

import tomllib

from hypothesis import given
from hypothesis import strategies as st

from shotplan.files import toml_out
from tests.output.hostile import EVERY


@given(st.text())
def test_any_text_comes_back_from_one_line(text: str) -> None:
    text = text.encode("utf-8", "ignore").decode("utf-8")
    written = toml_out.value({text: [text, {"a": 1.5}]})
    assert len(f"x{written}x".splitlines()) == 1
    assert tomllib.loads(f"a = {written}")["a"] == {text: [text, {"a": 1.5}]}


def test_what_steers_a_terminal_is_a_code_point() -> None:
    written = toml_out.value(EVERY)
    assert not set("\x1b\u202e\u2028") & set(written)
    assert tomllib.loads(f"a = {written}") == {"a": EVERY}


def test_flags_and_numbers_are_those_of_toml() -> None:
    assert [toml_out.value(v) for v in (True, 3, 2.5)] == ["true", "3", "2.5"]
