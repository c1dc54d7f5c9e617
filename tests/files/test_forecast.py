"""Tables of hours as weather services and people write them."""

from __future__ import annotations

import csv
import io
import json
import re
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import pytest

from shotplan.errors import Problems
from shotplan.files.forecast import Forecast, read_forecast

EIGHT = datetime(2026, 6, 20, 20, 0, tzinfo=UTC)
CSV = """time_utc,wind (km/h),gusts_kn,wind dir,temp [°F],visib (km)
2026-06-20T20:00,18,20,WSW,50,10
2026-06-20 21:00,,15,270,NA,
"""
JSON = {
    "utc_offset_seconds": 3600,
    "hourly_units": {"wind_speed_10m": "km/h", "wind_gusts_10m": "m/s", "temperature_2m": "°C",
                     "wind_direction_10m": "°", "visibility": "m"},
    "hourly": {
        "time": ["2026-06-20T21:00", "2026-06-20T22:00"],
        "wind_speed_10m": [18.0, None],
        "wind_gusts_10m": [10.288888888888889, 7.716666666666667],
        "wind_direction_10m": [247.5, 270],
        "temperature_2m": [10.0, None],
        "visibility": [10000.0, None],
    },
}  # fmt: skip


def read(folder: Path, text: str, name: str = "f.csv") -> tuple[Forecast | None, list[str]]:
    (folder / name).write_text(text, encoding="utf-8")
    problems = Problems()
    found = read_forecast(folder / name, name, problems)
    return found, [str(p) for p in problems.found]


@pytest.mark.parametrize(
    "text", [CSV, CSV.replace(",", ";"), CSV.replace(",", "\t"), json.dumps(JSON)]
)
def test_the_same_hours_in_every_form(tmp_path: Path, text: str) -> None:
    found, said = read(tmp_path, text)
    assert said == []
    assert found is not None
    first, second = found.hours
    assert first.at == EIGHT
    # 18 km/h = 5 m/s; 20 kn · 1852 / 3600; 50 °F = 10 °C
    wanted = (5.0, 20 * 1852 / 3600, 247.5, 10.0, 10_000.0)
    assert first[1:] == pytest.approx(wanted)
    assert (second.wind_m_s, second.temperature_c, second.visibility_m) == (None, None, None)
    assert second.gust_m_s == pytest.approx(15 * 1852 / 3600)
    assert second.wind_from_deg == 270.0


def test_a_list_of_objects(tmp_path: Path) -> None:
    rows = [{"time": EIGHT.timestamp(), "wind_mph": 10, "gust_mph": None},
            {"time": EIGHT.timestamp() + 3600, "wind_mph": 20, "gust_mph": 10}]  # fmt: skip
    found, _ = read(tmp_path, json.dumps(rows), "f.json")
    assert found is not None
    assert [h.wind_m_s for h in found.hours] == pytest.approx([4.4704, 8.9408])
    assert [h.gust_m_s for h in found.hours] == [None, None]
    assert found.remarks == ("1 of its gusts are less than the wind and count as unknown",)


def test_the_hour_next_to_a_moment(tmp_path: Path) -> None:
    found, _ = read(tmp_path, CSV)
    assert found is not None
    first, second = found.hours
    assert found.near(EIGHT.replace(minute=29)) == first
    assert found.near(EIGHT.replace(minute=31)) == second
    assert found.near(EIGHT.replace(hour=18, minute=59)) is None
    assert found.near(EIGHT.replace(hour=22)) == second


REFUSED = [
    ("time_utc,wind\n2026-06-20T20:00,4\n", "f.csv: wind: does not say its unit"),
    ("time_utc,wind (furlongs)\n2026-06-20T20:00,4\n", "does not say its unit"),
    ("time_utc,temp\n2026-06-20T20:00,40\n", "write it behind, as temperature"),
    ("time,wind (kn)\n2026-06-20T20:00,4\n", "says no zone"),
    ("time_utc,wind (kn)\nsoon,4\n", "cannot be read as a time"),
    ("time_utc,wind (kn)\n2026-06-20T20:00,-9999\n", "cannot be: look at its unit"),
    ("time_utc,rain (mm)\n2026-06-20T20:00,4\n", "wanted one called wind"),
    ("wind (kn),gust (kn)\n1,4\n", "wanted one called time"),
    ("place,time_utc,wind_kn\na,2026-06-20T20:00,4\nb,2026-06-20T20:00,5\n", "says two things"),
    ("time_utc,wind_kn\n", "holds no hours"),
    ('{"a": 1', "is not JSON"),
    ('{"a": 1}', "holds no table"),
    ("[" * 100_000, "is not JSON"),
    ("<html>", "begins with <"),
    ("time_utc,wind_kn\n0001-01-01T00:00,1\n", "got the year 1; wanted 2000"),
    (
        '{"utc_offset_seconds": 99999, "h": {"time": ["2026-06-20T20:00"], "wind_kn": [1]}}',
        "no zone",
    ),
]


@pytest.mark.parametrize(("text", "match"), REFUSED, ids=range(len(REFUSED)))
def test_what_is_refused(tmp_path: Path, text: str, match: str) -> None:
    found, said = read(tmp_path, text)
    assert found is None
    assert any(match in one for one in said), said


@pytest.mark.real
def test_a_year_of_an_airport(real: Path, tmp_path: Path) -> None:
    text = (real / "ref" / "weather_JFK_LGA_2013.csv").read_text("utf-8")
    found, said = read(tmp_path, text)
    assert found is None  # mph and °F, and no head says so
    assert len(said) == 4
    head = re.sub("wind_speed", "wind_speed (mph)", text.splitlines()[0])
    head = head.replace("wind_gust", "wind_gust (mph)").replace("visib", "visib (mi)")
    head = re.sub(r"\btemp\b", "temp (F)", head)
    _, said = read(tmp_path, "\n".join([head, *text.splitlines()[1:]]))
    assert "says two things" in said[0]  # two airports
    one = [line for line in text.splitlines()[1:] if line.startswith("JFK")]
    found, said = read(tmp_path, "\n".join([head, *one]))
    assert said == []
    assert found is not None
    rows = list(csv.DictReader(io.StringIO("\n".join([text.splitlines()[0], *one]))))
    rows.sort(key=lambda r: r["time_hour"])
    wind = np.array([float(r["wind_speed"] or "nan") for r in rows]) * 0.44704
    got = np.array([np.nan if h.wind_m_s is None else h.wind_m_s for h in found.hours])
    np.testing.assert_allclose(got, wind, atol=1e-9)
    gusts = sum(bool(r["wind_gust"]) for r in rows)
    assert sum(h.gust_m_s is not None for h in found.hours) == gusts  # none made up
