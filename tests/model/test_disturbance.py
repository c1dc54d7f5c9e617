"""Every spread: its default, its source, and what it comes to for an aircraft on a day."""

from __future__ import annotations

import math
from dataclasses import fields, replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from shotplan import aircraft
from shotplan.errors import Problems
from shotplan.model.aircraft import Aircraft
from shotplan.model.arrays import Array
from shotplan.model.day import Weather
from shotplan.model.disturbance import ACROSS, SOURCES, Disturbance, Spread, explained, spread_of
from shotplan.site.day import disturbance_of
from shotplan.site.tables import DisturbanceTable

OPEN = np.zeros(4, dtype=bool)
HALF = np.array([False, False, True, True])
WESTERLY = Weather(wind_m_s=4.0, wind_from_rad=math.radians(270.0), gust_m_s=10.0)


@pytest.fixture(scope="module")
def craft() -> Aircraft:
    problems = Problems()
    made = aircraft.load({"class": "folding-light"}, Path(), "test", problems)
    assert made is not None
    assert not problems.found
    return made


def spread(
    craft: Aircraft, said: dict[str, Any] | None = None, weather: Weather = WESTERLY,
    leaves: Array | None = None, own_leaves: Array | None = None, **other: Any,
) -> Spread:  # fmt: skip
    rider, own = (OPEN if some is None else some.astype(bool) for some in (leaves, own_leaves))
    return spread_of(Disturbance(**(said or {})), replace(craft, **other), weather, rider, own)


def test_every_setting_has_a_source_and_is_explained() -> None:
    names = [f.name for f in fields(Disturbance)]
    assert list(SOURCES) == names
    lines = explained(Disturbance())
    assert len(lines) == len(names)
    for name, line in zip(names, lines, strict=True):
        unit, what, source = SOURCES[name]
        assert line.startswith(f"{name} = ")
        assert what in line
        assert source
        assert line.endswith(f"({source})")
        assert unit in line


def test_the_file_may_set_every_one_of_them() -> None:
    names = [f.name for f in fields(Disturbance)]
    assert [f.name for f in fields(DisturbanceTable)] == names
    assert disturbance_of(None) == disturbance_of(DisturbanceTable()) == Disturbance()
    for name in names:
        said: dict[str, Any] = {name: 7 if name in ("rides", "seed") else 0.625}
        made = disturbance_of(DisturbanceTable(**said))
        assert made == replace(Disturbance(), **said)
        assert f"{name} = {said[name]}" in "\n".join(explained(made))


def test_nought_may_be_said_and_takes_a_spread_away() -> None:
    none = disturbance_of(DisturbanceTable(speed_sigma=0.0, gust_sigmas=0.0, receiver_open_m=0.0))
    assert (none.speed_sigma, none.gust_sigmas, none.receiver_open_m) == (0.0, 0.0, 0.0)


def test_by_sight_the_error_is_the_aircrafts_own_relative_to_the_rider(craft: Aircraft) -> None:
    made = spread(craft, leaves=HALF, follows_by="sight", sight_sigma_m=0.4)
    np.testing.assert_array_equal(made.follow_m, 0.4)  # leaves do not matter to eyes
    assert made.follow_s == Disturbance().sight_s


def test_by_beacon_both_receivers_err(craft: Aircraft) -> None:
    made = spread(craft, leaves=HALF, own_leaves=HALF, follows_by="beacon", position_sigma_m=1.5)
    # Independent errors add in squares (textbook); 2.5 m open, 6 m under leaves
    # (Tomaštík et al. 2017, Forestry 90:187).
    own = np.array([1.5, 1.5, 1.5 * 6.0 / 2.5, 1.5 * 6.0 / 2.5])
    np.testing.assert_allclose(made.follow_m, np.hypot([2.5, 2.5, 6.0, 6.0], own))
    np.testing.assert_allclose(made.own_m, own)
    assert made.follow_s == made.own_s == Disturbance().receiver_s


def test_the_aircrafts_own_receiver_errs_by_where_the_aircraft_is(craft: Aircraft) -> None:
    rider = spread(craft, leaves=HALF, follows_by="beacon", position_sigma_m=1.5)
    np.testing.assert_array_equal(rider.own_m, 1.5)
    np.testing.assert_allclose(rider.follow_m, np.hypot([2.5, 2.5, 6.0, 6.0], 1.5))
    own = spread(craft, own_leaves=HALF, position_sigma_m=1.5)
    np.testing.assert_allclose(own.own_m, [1.5, 1.5, 3.6, 3.6])


def test_a_perfect_receiver_is_no_division_by_nought(craft: Aircraft) -> None:
    said = {"receiver_open_m": 0.0, "receiver_leaves_m": 0.0}
    made = spread(craft, said, leaves=HALF, follows_by="beacon", position_sigma_m=1.5)
    np.testing.assert_array_equal(made.follow_m, 1.5)
    np.testing.assert_array_equal(made.own_m, 1.5)


def test_defaults_are_the_published_ones() -> None:
    it = Disturbance()
    # SAE 2020-01-0876, abstract: the rear brake alone gives 0.25 to 0.37 g.
    assert 0.25 * 9.80665 <= it.brake_m_s2 <= 0.37 * 9.80665
    # Tomaštík et al. 2017, Forestry 90:187: open 1.90 to 2.36 m, leaves 4.96 to 11.45 m.
    assert it.receiver_open_m == pytest.approx(2.5, abs=0.2)
    assert 4.96 <= it.receiver_leaves_m <= 11.45
    # 299 clean rides prove under 1 % (Clopper and Pearson 1934).
    assert it.rides >= 299


def test_gusts_push_along_the_wind_and_less_across(craft: Aircraft) -> None:
    made = spread(craft, {"gust_sigmas": 3.0}, max_tilt_rad=math.radians(30), max_speed_m_s=12.0)
    sigma = (10.0 - 4.0) / 3.0
    # A level thrust of g·tan(tilt) holds the greatest airspeed (textbook); evenly in between.
    hold = 9.80665 * math.tan(math.radians(30)) / 12.0
    cov = made.push_m_s2 @ made.push_m_s2.T
    np.testing.assert_allclose(np.sqrt(np.diag(cov)), [sigma * hold, ACROSS * sigma * hold])
    np.testing.assert_allclose(cov[0, 1], 0.0, atol=1e-12)
    northwest = replace(WESTERLY, wind_from_rad=math.radians(315.0))
    cov = (m := spread(craft, weather=northwest).push_m_s2) @ m.T
    assert cov[0, 0] == pytest.approx(cov[1, 1])
    assert cov[0, 1] < 0.0  # toward the south-east: east and south together


def test_without_a_direction_gusts_push_alike_all_round(craft: Aircraft) -> None:
    calm = Weather(wind_m_s=0.0, gust_m_s=6.0)
    nowhere = Weather(wind_m_s=4.0, gust_m_s=10.0)
    for weather in (calm, nowhere):
        push = spread(craft, weather=weather).push_m_s2
        np.testing.assert_allclose(push @ push.T, push[0, 0] ** 2 * np.eye(2))
        assert push[0, 0] > 0.0


@pytest.mark.parametrize(
    "weather",
    [
        Weather(),
        Weather(wind_m_s=4.0, wind_from_rad=0.0),
        Weather(gust_m_s=9.0),
        Weather(wind_m_s=9.0, wind_from_rad=0.0, gust_m_s=6.0),
        Weather(wind_m_s=6.0, wind_from_rad=0.0, gust_m_s=6.0),
    ],
)
def test_no_gust_known_or_none_over_the_mean_pushes_nothing(
    craft: Aircraft, weather: Weather
) -> None:
    np.testing.assert_array_equal(spread(craft, weather=weather).push_m_s2, 0.0)


def test_gusts_may_be_taken_away(craft: Aircraft) -> None:
    np.testing.assert_array_equal(spread(craft, {"gust_sigmas": 0.0}).push_m_s2, 0.0)
