from __future__ import annotations

import math

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from shotplan.files.placed import degrees, rounded, sound


def test_what_steers_and_what_xml_lacks_becomes_a_dot() -> None:
    steering = "\x00\x1b\r\x85\u2028\u202e\ud800\ufffe\uffff"
    assert sound(f"a{steering}z") == f"a{'·' * 9}z"
    assert sound("Bø 'n' <b> & \"q\"\nnext 🐑") == "Bø 'n' <b> & \"q\"\nnext 🐑"


@given(st.text(st.characters(codec=None)))
def test_sound_text_is_utf_8_and_of_the_same_length(text: str) -> None:
    told = sound(text)
    assert len(told.encode("utf-8").decode("utf-8")) == len(text)
    # XML 1.0, production 2: Char (from memory)
    assert all(
        c in "\n" or " " <= c <= "\ud7ff" or "\ue000" <= c <= "\ufffd" or c >= "\U00010000"
        for c in told
    )
    assert sound(told) == told


def test_degrees_keep_a_centimetre_and_stay_below_180() -> None:
    assert degrees(np.array([[179.99999999, -54.123456789]])) == [(-180.0, -54.1234568)]
    assert degrees(np.array([[-180.0, 90.0]])) == [(-180.0, 90.0)]


def test_values_are_rounded_and_unknown_is_none() -> None:
    assert rounded(1.23456) == 1.235
    assert rounded([1.0, math.nan, -0.0001]) == [1.0, None, 0.0]
    assert math.copysign(1.0, rounded(-0.0001)) == 1.0  # type: ignore[arg-type]
    assert [rounded(v) for v in (math.nan, math.inf, None)] == [None] * 3
    assert rounded(7) == 7
    assert rounded("a\x07") == "a·"
