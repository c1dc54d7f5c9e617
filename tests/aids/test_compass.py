from __future__ import annotations

import math
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from shotplan.aids.compass import WEAK_NT, Declination, declination, magnetic_rad


def moment(year: float) -> datetime:
    whole = int(year)
    days = (datetime(whole + 1, 1, 1) - datetime(whole, 1, 1)).days
    return datetime(whole, 1, 1, tzinfo=UTC) + timedelta(days=round((year - whole) * days))


@pytest.mark.real
def test_the_published_values_of_the_model(real: Path) -> None:
    # NOAA/NCEI and BGS, WMM2020 test values: decimal year, km, latitude, longitude, declination
    table = (real / "ref" / "WMM2020_TEST_VALUES.txt").read_text("utf-8").splitlines()
    rows = [[float(v) for v in row.split()] for row in table if row and not row.startswith("#")]
    weak = 0
    for year, high_km, lat, lon, expected, _, level_nt, _, _, _, _, drift, *_ in rows:
        found = declination(lon, lat, 1000.0 * high_km, moment(year))
        if level_nt < WEAK_NT:
            assert found is None
            weak += 1
            continue
        assert found is not None
        assert found.model == "WMM-2020"
        # printed to 0.01 degrees; we ask for whole days, and half a year may be half a day off
        atol = 0.0051 + abs(drift) * 0.5 / 365.0
        assert math.degrees(found.east_rad) == pytest.approx(expected, abs=atol)
    assert len(rows) == 100
    assert 0 < weak < 10


def test_west_is_negative_and_the_needle_then_reads_more() -> None:
    # eastern Canada: the needle points west of north (common knowledge of its map sheets)
    found = declination(-76.0, 45.0, 200.0, datetime(2026, 7, 11, tzinfo=UTC))
    assert found is not None
    assert -math.radians(16.0) < found.east_rad < -math.radians(9.0)
    assert magnetic_rad(0.0, found) == pytest.approx(-found.east_rad)
    assert magnetic_rad(math.radians(359.0), Declination(math.radians(-4.0), "")) == pytest.approx(
        math.radians(3.0)
    )


def test_a_day_no_model_reaches_is_not_known() -> None:
    assert declination(10.0, 50.0, 0.0, datetime(2009, 12, 31, tzinfo=UTC)) is None
    assert declination(10.0, 50.0, 0.0, datetime(2010, 1, 1, tzinfo=UTC)) is not None
    assert declination(10.0, 50.0, 0.0, datetime(2029, 12, 31, 23, 59, tzinfo=UTC)) is not None
    assert declination(10.0, 50.0, 0.0, datetime(2030, 1, 1, tzinfo=UTC)) is None


def test_an_unknown_elevation_changes_next_to_nothing() -> None:
    at = datetime(2026, 6, 1, tzinfo=UTC)
    unknown, known = (declination(12.6, 55.0, z, at) for z in (math.nan, 120.0))
    assert unknown is not None
    assert known is not None
    assert unknown.east_rad == pytest.approx(known.east_rad, abs=math.radians(0.01))
