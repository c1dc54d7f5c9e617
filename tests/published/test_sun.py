"""The sun against published positions and almanac times."""

from __future__ import annotations

import math
from datetime import UTC, date, datetime, time, timedelta, timezone

import numpy as np
import pytest

from shotplan.scene import sun


def test_sun_1_solar_position_algorithm_example() -> None:
    # NREL/TP-560-34302 Table A5.1: 2003-10-17 19:30:30 UTC, 39.742476 N 105.1786 W, 1830.14 m,
    # 820 mbar, 11 °C: zenith 50.11162°, azimuth 194.340241°. Tolerance 0.02°: a 25th of the disc.
    at = datetime(2003, 10, 17, 19, 30, 30, tzinfo=UTC)
    azimuth, elevation = sun.position([at], -105.1786, 39.742476, 1830.14, 820.0, 11.0)
    assert 90.0 - math.degrees(elevation[0]) == pytest.approx(50.11162, abs=0.02)
    assert math.degrees(azimuth[0]) == pytest.approx(194.340241, abs=0.02)


SPA_RISE_AND_SET = [
    # NREL/TP-560-34302 appendix A.2 as in pvlib's test_spa.py (SUN-3, SUN-4): longitude 0, UTC.
    (35.0, date(1994, 1, 2), "07:08:12", "16:59:55"),
    (-35.0, date(1996, 7, 5), "07:08:15", "17:01:04"),
    (-35.0, date(2004, 12, 4), "04:38:57", "19:02:02"),
]


@pytest.mark.parametrize(("lat", "on", "rise", "rest"), SPA_RISE_AND_SET)
def test_rise_and_set_to_a_few_seconds(lat: float, on: date, rise: str, rest: str) -> None:
    got = sun.day(on, UTC, 0.0, lat)
    for moment, text in ((got.sunrise, rise), (got.sunset, rest)):
        assert moment is not None
        wanted = datetime.combine(on, time.fromisoformat(text), tzinfo=UTC)
        # The convention is rounded to -0.8333°, and crossings are found to half a second.
        assert abs((moment - wanted).total_seconds()) <= 10.0


PLACES = [(78.2, 15.6), (55.0, 14.9), (46.0, 14.0), (0.0, -78.5), (-33.9, 18.4), (-64.8, -62.9)]


@pytest.mark.parametrize(("lat", "lon"), PLACES)
def test_positions_agree_with_the_solar_position_algorithm(lat: float, lon: float) -> None:
    # pvlib's implementation of NREL's algorithm (itself within 1e-6° of table A5.1), over 20
    # years and all hours. Tolerance 0.02°, a 25th of the sun's disc.
    import pandas as pd
    from pvlib import solarposition

    start = datetime(2010, 1, 3, 1, 17, tzinfo=UTC)
    moments = [start + timedelta(hours=k * 411.0) for k in range(426)]
    azimuth, elevation = sun.position(moments, lon, lat)
    wanted = solarposition.spa_python(pd.DatetimeIndex(moments), lat, lon, altitude=0.0)
    high = np.radians(wanted["elevation"].to_numpy())
    level = np.cos(high)
    np.testing.assert_allclose(np.degrees(elevation), np.degrees(high), atol=0.02)
    turn = np.degrees(azimuth) - wanted["azimuth"].to_numpy()
    turn = (turn + 180.0) % 360.0 - 180.0  # compared on the sky, where it shrinks at the zenith
    np.testing.assert_allclose(turn * level, 0.0, atol=0.02)


ALMANAC = [
    # US Naval Observatory tables as in pvlib's test_spa.py (SUN-5, SUN-6): local rise and set.
    (39.0, -105.0, -7, date(2015, 1, 2), "07:19", "16:49"),
    (39.0, -105.0, -7, date(2015, 4, 2), "05:43", "18:24"),
    (39.0, -105.0, -7, date(2015, 8, 2), "05:01", "19:10"),
    (39.0, -105.0, -7, date(2015, 12, 2), "07:01", "16:38"),
    (39.917, 116.383, 8, date(2015, 1, 2), "07:36", "17:00"),
    (39.917, 116.383, 8, date(2015, 4, 2), "05:58", "18:39"),
    (39.917, 116.383, 8, date(2015, 8, 2), "05:13", "19:28"),
    (39.917, 116.383, 8, date(2015, 12, 2), "07:17", "16:50"),
]


@pytest.mark.parametrize(("lat", "lon", "offset", "on", "rise", "rest"), ALMANAC)
def test_rise_and_set_to_the_minute(
    lat: float, lon: float, offset: int, on: date, rise: str, rest: str
) -> None:
    zone = timezone(timedelta(hours=offset))
    got = sun.day(on, zone, lon, lat)
    for moment, text in ((got.sunrise, rise), (got.sunset, rest)):
        assert moment is not None
        hour, minute = (int(part) for part in text.split(":"))
        wanted = datetime(on.year, on.month, on.day, hour, minute, tzinfo=zone)
        assert abs((moment - wanted).total_seconds()) <= 60.0


def test_midnight_sun_and_polar_night_have_no_rise() -> None:
    assert sun.day(date(2026, 6, 21), UTC, 20.0, 72.0).sunset is None
    assert sun.day(date(2026, 12, 21), UTC, 20.0, 72.0).sunrise is None


def test_meeus_example_declination_shows_in_the_noon_height() -> None:
    # Meeus, Astronomical Algorithms ex. 25.a: 1992-10-13 0h TD, declination -7.78507°. Seen from
    # the equator under the sun's own meridian the zenith distance equals the declination.
    at = datetime(1992, 10, 13, 0, 0, 0, tzinfo=UTC) - timedelta(seconds=59)
    best = min(
        90.0 - math.degrees(sun.position([at], float(lon), 0.0)[1][0])
        for lon in [x / 50 for x in range(8700, 9001)]
    )
    assert best == pytest.approx(7.78507, abs=0.01)


def test_a_moment_without_offset_is_refused() -> None:
    with pytest.raises(ValueError, match="without an offset"):
        sun.position([datetime(2026, 1, 1)], 0.0, 0.0)


def test_the_small_hours_belong_to_the_nearest_noon() -> None:
    zone = timezone(timedelta(hours=2))
    late = datetime(2026, 6, 21, 0, 30, tzinfo=zone)
    early = datetime(2026, 6, 21, 2, 0, tzinfo=zone)
    # Solar noon at 14° east in UTC+2 is about 13:05.
    assert sun.day_of(late, zone, 14.0, 46.0).noon.date() == date(2026, 6, 20)
    assert sun.day_of(early, zone, 14.0, 46.0).noon.date() == date(2026, 6, 21)


@pytest.mark.parametrize("degrees", [-6.0, 0.0, 6.0, 40.0])
def test_crossings_are_where_the_sun_is_that_high(degrees: float) -> None:
    noon = sun.day(date(2026, 4, 2), UTC, 14.0, 46.0).noon
    for moment in sun.crossings(noon, degrees, 14.0, 46.0):
        assert moment is not None
        elevation = math.degrees(sun.position([moment], 14.0, 46.0)[1][0])
        assert elevation == pytest.approx(degrees, abs=0.005)
    assert sun.crossings(noon, 60.0, 14.0, 46.0) == (None, None)
