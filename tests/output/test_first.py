from __future__ import annotations

import dataclasses
import math

import pytest

from shotplan.checks import CHECKS, pace
from shotplan.judging.judged import Stretch
from shotplan.model.day import Weather
from shotplan.model.verdict import Verdict
from shotplan.output import first
from tests.output.made_plan import made_plan

GO, CAUTION, UNKNOWN, NO_GO = Verdict


def part(verdict: Verdict, *stretches: tuple[float, float, Verdict]) -> str:
    """The better part of a shot from 200 to 300 m that has these stretches."""
    shot = dataclasses.replace(
        made_plan().shots[0],
        verdict=verdict,
        ride_from_m=stretches[0][0],
        ride_to_m=stretches[-1][1],
        stretches=tuple(Stretch(a, b, v, "", None) for a, b, v in stretches),
    )
    return first.better_part(shot)


def test_the_better_part_is_rounded_inward() -> None:
    assert part(NO_GO, (200.0, 229.6, NO_GO), (229.6, 302.4, GO), (302.4, 320.0, NO_GO)) == (
        "film only 230 to 302 m (from_m = 230, to_m = 302): that part is go; then plan again"
    )


def test_a_short_part_or_the_whole_is_no_advice() -> None:
    assert part(NO_GO, (200.0, 219.9, GO), (219.9, 300.0, NO_GO)) == ""
    assert part(CAUTION, (200.4, 299.6, GO)) == ""
    assert part(GO, (200.0, 300.0, GO)) == ""
    assert part(NO_GO, (200.0, 300.0, NO_GO)) == ""


def test_neighbours_make_one_part_with_the_worst_of_their_words() -> None:
    joined = part(NO_GO, (0.0, 30.0, GO), (30.0, 100.0, UNKNOWN), (100.0, 120.0, NO_GO))
    assert joined.startswith("film only 0 to 100 m (")
    assert "that part is unknown;" in joined


def test_a_better_word_is_worth_half_the_length() -> None:
    kept = part(NO_GO, (0.0, 60.0, GO), (60.0, 100.0, CAUTION), (100.0, 120.0, NO_GO))
    assert kept.startswith("film only 0 to 60 m (")
    assert "that part is go;" in kept


def test_a_tally_counts_the_worst_first() -> None:
    assert first.tally([CAUTION, NO_GO, GO, CAUTION]) == "1 no-go, 2 caution, 1 go"


# A wind is named by where it comes from: a west wind blows toward the east (FORMATS, metres).
@pytest.mark.parametrize(
    ("from_deg", "named", "to_deg"),
    [(270.0, "W", 90.0), (0.0, "N", 180.0), (359.0, "N", 179.0), (225.0, "SW", 45.0),
     (112.5, "ESE", 292.5)],
)  # fmt: skip
def test_the_arrow_points_where_the_wind_blows_to(
    from_deg: float, named: str, to_deg: float
) -> None:
    weather = Weather(wind_m_s=5.0, wind_from_rad=math.radians(from_deg))
    assert first.wind(weather) == f"wind from {named}, 5 m/s"
    assert first.blows_to_deg(weather) == pytest.approx(to_deg)
    toward = weather.wind_toward_m_s
    assert toward is not None
    assert math.degrees(math.atan2(toward[0], toward[1])) % 360.0 == pytest.approx(to_deg)


def test_what_is_not_known_of_the_wind_is_said_and_gets_no_arrow() -> None:
    assert first.air(Weather()) == "wind not known, gusts not known"
    assert first.wind(Weather(wind_m_s=0.0)) == "no wind"
    assert first.wind(Weather(wind_m_s=5.5)) == "wind 5.5 m/s, from where is not known"
    for weather in (Weather(), Weather(wind_m_s=5.0), Weather(wind_m_s=0.0, wind_from_rad=1.0)):
        assert first.blows_to_deg(weather) is None


def test_every_check_has_its_question() -> None:
    assert len({c.question for c in CHECKS}) == len(CHECKS)
    assert all(c.question.endswith("?") for c in CHECKS)
    assert pace.CHECK.titled == "pace (does it keep up?)"
