"""When to go: hours that can be worked out from the sun, and windows that the checks confirm."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date, datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from shotplan.advice import when
from shotplan.checks import glare, light
from shotplan.flying import stage_scene
from shotplan.judging import judge as judging
from shotplan.model.verdict import Verdict
from shotplan.outing import Outing, read
from shotplan.scene.lightday import LightDay, Span
from tests import worlds

MIDSUMMER = date(2026, 6, 20)
ZONE = {"timezone": "Europe/Ljubljana"}


@pytest.fixture(scope="module")
def outing(tmp_path_factory: pytest.TempPathFactory) -> Outing:
    """The pilot looks west over the ride, 30 m off: into the evening sun."""
    stand = worlds.place("stand", east_m=30.0, north_m=0.0)
    crew = [{"name": "Bo", "role": "pilot", "stands": "stand"}]
    folder = tmp_path_factory.mktemp("when")
    site = {**ZONE, "crew": crew}
    return read(worlds.write_site(folder, site=site, features=[stand]))


@pytest.fixture(scope="module")
def day(outing: Outing) -> LightDay:
    (found,) = when.light_of(outing, MIDSUMMER, 1)
    return found


def covers(found: Sequence[Span], at: datetime) -> bool:
    return any(low <= at <= high for low, high in found)


def test_windows_are_what_the_checks_say(outing: Outing, day: LightDay) -> None:
    (shot,) = day.shots
    staged = stage_scene(outing, outing.shots[0], outing.day.start)
    edges = {at for span in shot.windows for at in span}
    step = day.moments[1] - day.moments[0]
    for at in day.moments[::6]:
        if any(abs(at - edge) <= step for edge in edges):
            continue  # near an edge the still sun of the advice and the moving one may differ
        then = replace(staged, start=at)
        verdicts = [judging.find(c, then).verdict for c in (light.CHECK, glare.CHECK)]
        assert covers(shot.windows, at) is (max(verdicts) == Verdict.GO), at


def test_the_evening_sun_shines_in_the_eyes_of_who_looks_west(day: LightDay) -> None:
    (shot,) = day.shots
    seconds = dict(zip(day.moments, shot.glare_s["Bo"], strict=True))
    evening = datetime(2026, 6, 20, 20, tzinfo=ZoneInfo("Europe/Ljubljana"))
    assert seconds[evening] > 5.0
    assert seconds[evening - timedelta(hours=12)] == 0.0
    assert shot.glare_s["Bo"].max() <= shot.lasts_s + 0.5


def test_light_goes_round_from_back_to_front(day: LightDay) -> None:
    # Filmed from the west: in the morning the camera looks east, into the sun.
    sides = [part.side for part in day.shots[0].mostly]
    assert sides[0] in ("back", "three-quarter back")
    assert sides[-1] in ("front", "three-quarter front")
    total = day.shots[0].sides.sum(axis=1)
    np.testing.assert_allclose(total[day.elevation_rad > 0.0], 1.0)
    assert (total[day.elevation_rad <= 0.0] == 0.0).all()


def test_on_open_ground_the_ride_is_sunny_while_the_sun_is_up(day: LightDay) -> None:
    ((low, high),) = day.sunny
    assert day.sun.sunrise is not None
    assert day.sun.sunset is not None
    assert timedelta(0) <= low - day.sun.sunrise <= timedelta(minutes=25)
    assert timedelta(0) <= day.sun.sunset - high <= timedelta(minutes=25)
    assert np.isposinf(day.doubt_m)


def test_a_ridge_takes_the_evening(tmp_path: Path) -> None:
    def ground(x: np.ndarray, _y: np.ndarray) -> np.ndarray:
        return worlds.GROUND_M + np.where(x < -150.0, 60.0, 0.0)

    folder = worlds.write_site(tmp_path, site=ZONE, terrain=ground, cell_m=5.0)
    (day,) = when.light_of(read(folder), MIDSUMMER, 1)
    ((_, high),) = day.sunny
    index = day.moments.index(high)
    # 59 m over the rider's eye line in the west, 150 m off and more aslant: gone by 21.5° at most.
    assert 15.0 < np.degrees(day.elevation_rad[index]) < 25.0
    assert day.doubt_m == pytest.approx(400.0, abs=60.0)


def test_no_side_of_the_light_is_said_without_sun_on_the_ride(tmp_path: Path) -> None:
    """A ridge 200 m high to the west: the sun goes behind it long before it sets."""

    def ground(x: np.ndarray, _y: np.ndarray) -> np.ndarray:
        return np.where(x < -150.0, 284.0, 84.0) + 0.0 * x

    folder = worlds.write_site(tmp_path, site=ZONE, terrain=ground)
    (found,) = when.light_of(read(folder), MIDSUMMER, 1)
    (shot,) = found.shots
    up = found.elevation_rad > 0.0
    shaded = up & (shot.sunny <= 0.5)
    assert shaded.sum() > 6  # more than an hour
    for at, dark in zip(found.moments, shaded, strict=True):
        assert not (dark and covers([part.span for part in shot.mostly], at)), at
    assert shot.mostly


def test_a_day_is_as_long_as_the_clock_makes_it(outing: Outing) -> None:
    # Summer time begins on 29 March 2026 and ends on 25 October in the European Union.
    lengths = [
        (found.moments[-1] - found.moments[0].astimezone(found.moments[-1].tzinfo), found)
        for on in (date(2026, 3, 29), date(2026, 10, 25), date(2026, 6, 20))
        for found in when.light_of(outing, on, 1)
    ]
    hours = [len(found.moments) / 6 for _, found in lengths]
    assert [round(h) for h in hours] == [23, 25, 24]


def test_polar_night_has_no_window_and_says_nothing_is_up(outing: Outing) -> None:
    frame = replace(outing.site.frame, lat_deg=72.0)
    north = replace(outing, site=replace(outing.site, frame=frame))
    (dark,) = when.light_of(north, date(2026, 12, 21), 1)
    assert dark.sun.sunrise is None
    assert dark.shots[0].windows == ()
    assert dark.shots[0].mostly == ()
    assert dark.golden == ()
    (bright,) = when.light_of(north, date(2026, 6, 21), 1)
    assert bright.sun.sunset is None
    assert len(bright.shots[0].windows) >= 1


def test_several_days_come_in_order_with_a_coarser_step(outing: Outing) -> None:
    told: list[str] = []
    days = when.light_of(outing, MIDSUMMER, 9, told.append)
    assert [d.on for d in days] == [MIDSUMMER + timedelta(days=k) for k in range(9)]
    assert days[0].moments[1] - days[0].moments[0] == timedelta(minutes=30)
    assert told == ["along", *(d.on.isoformat() for d in days)]
