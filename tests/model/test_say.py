"""Numbers as people read them."""

from __future__ import annotations

import datetime as dt
import math

import pytest

from shotplan.model import say


@pytest.mark.parametrize(
    ("value", "told"),
    [
        (1.64, "1.6 m"),
        (-0.04, "0.0 m"),  # never less than nothing by a rounding
        (-0.06, "-0.1 m"),
        (99.94, "99.9 m"),
        (132.4, "132 m"),
        (math.nan, "an unknown distance"),
        (math.inf, "no distance"),
    ],
)
def test_metres(value: float, told: str) -> None:
    assert say.metres(value) == told


def test_a_day_is_told_one_way() -> None:
    assert say.day("2026-06-02") == say.day(dt.date(2026, 6, 2)) == "2 June 2026"
    assert say.day("") == "a day not given"
