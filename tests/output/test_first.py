from __future__ import annotations

import math

import pytest

from shotplan.checks import CHECKS, pace
from shotplan.model.day import Weather
from shotplan.model.verdict import Verdict
from shotplan.output import first

GO, CAUTION, UNKNOWN, NO_GO = Verdict


def test_a_tally_counts_the_worst_first() -> None:
    assert first.tally([CAUTION, NO_GO, GO, CAUTION]) == "1 no-go, 2 caution, 1 go"


# A wind is named by where it comes from: a west wind blows toward the east (FORMATS, metres).
@pytest.mark.parametrize(
    ("from_deg", "named", "to_deg"),
    [(270.0, "W", 90.0), (0.0, "N", 180.0), (359.0, "N", 179.0), (225.0, "SW", 45.0),
     (112.5, "ESE", 292.5)],
)  # fmt: skip
def test_the_barb_points_where_the_wind_comes_from(
    from_deg: float, named: str, to_deg: float
) -> None:
    weather = Weather(wind_m_s=5.0, wind_from_rad=math.radians(from_deg))
    assert first.wind(weather) == f"wind from {named}, 5 m/s"
    air = first.barb(weather)
    assert air.says == first.wind(weather)
    assert air.from_deg == pytest.approx(from_deg)
    assert air.speed_m_s == 5.0
    toward = weather.wind_toward_m_s
    assert toward is not None
    assert math.degrees(math.atan2(toward[0], toward[1])) % 360.0 == pytest.approx(to_deg)


def test_what_is_not_known_of_the_wind_is_said_and_gets_no_barb() -> None:
    assert first.air(Weather()) == "wind not known, gusts not known"
    assert first.wind(Weather(wind_m_s=0.0)) == "no wind"
    assert first.wind(Weather(wind_m_s=5.5)) == "wind 5.5 m/s, from where is not known"
    for weather in (Weather(), Weather(wind_m_s=5.0), Weather(wind_m_s=0.0, wind_from_rad=1.0)):
        assert first.from_deg(weather) is None


def test_every_check_has_its_question() -> None:
    assert len({c.question for c in CHECKS}) == len(CHECKS)
    assert all(c.question.endswith("?") for c in CHECKS)
    assert pace.CHECK.titled == "pace (does it keep up?)"
