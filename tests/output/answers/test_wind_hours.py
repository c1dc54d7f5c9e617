"""The hours of a forecast beside the light of a day."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import numpy as np

from shotplan.files.forecast import Forecast, Hour
from shotplan.output.answers.wind_hours import both, calm

NOON = datetime(2026, 6, 20, 12, tzinfo=UTC)
HOUR = timedelta(hours=1)


def hour(after: float, wind: float | None, gust: float | None) -> Hour:
    return Hour(at=NOON + after * HOUR, wind_m_s=wind, gust_m_s=gust)


def test_calm_hours_are_those_whose_gust_is_known_and_within() -> None:
    hours = (hour(0, 3, 9), hour(1, 4, 10), hour(2, 5, 11), hour(3, 2, None), hour(4, 1, 2))
    assert calm(Forecast(hours), 10.0) == (
        (NOON, NOON + 2 * HOUR), (NOON + 4 * HOUR, NOON + 5 * HOUR),
    )  # fmt: skip


def test_an_hour_speaks_for_three_at_most() -> None:
    hours = (hour(0, 3, 9), hour(12, 3, 9))
    assert calm(Forecast(hours), 10.0)[0] == (NOON, NOON + 3 * HOUR)


def test_what_two_lists_share() -> None:
    """Against a count of minutes."""
    rng = np.random.default_rng(5)
    for _ in range(20):
        lists = []
        for _ in range(2):
            edges = np.unique(rng.integers(0, 300, 8))[: 2 * 3].tolist()
            lists.append([(NOON + a * HOUR / 60, NOON + b * HOUR / 60)
                          for a, b in zip(edges[::2], edges[1::2], strict=False)])  # fmt: skip
        shared = both(*lists)
        for minute in range(300):
            at = NOON + (minute + 0.5) * HOUR / 60
            inside = [any(a < at < b for a, b in spans) for spans in (*lists, shared)]
            assert inside[2] == (inside[0] and inside[1])
