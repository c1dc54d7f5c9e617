"""The sun at a site: direct sun and shade by hand, the pack's limits, what the eyes get."""

from __future__ import annotations

import math
from datetime import UTC, datetime, timedelta, timezone
from pathlib import Path
from typing import Any, Literal

import numpy as np
import pytest

from shotplan.kernels.light import light
from shotplan.model.frame import Frame
from shotplan.model.rules import DayRule, Source
from shotplan.model.site import Site
from shotplan.outing import read
from shotplan.scene import sun, sunlight
from shotplan.scene.scene import Scene
from tests import worlds

Need = Literal["any", "light", "no"]
FRAME = Frame(lon_deg=14.0, lat_deg=46.0)
ZONE = timezone(timedelta(hours=2))
SOURCE = Source(document="a book", clause="1", read_on="2026-11-25", known="memory")


def site(folder: Path, **world: Any) -> Site:
    return read(worlds.write_site(folder, **world)).site


def lit(place: Site, points: list[tuple[float, float]], azimuth: float, high: float) -> Any:
    xyz = np.array([(x, y, worlds.GROUND_M + 1.0) for x, y in points])
    toward = light.toward(np.array(np.radians(azimuth)), np.array(np.radians(high)))
    return sunlight.direct(place, xyz, np.broadcast_to(toward, xyz.shape))


def test_the_shadow_of_a_tree_is_as_long_as_the_sun_is_low(tmp_path: Path) -> None:
    # A tree of 10 m, 2 m wide to each side. The sun is in the south, its lower limb 10° high: the
    # shadow of the top passes 1 m over the ground 9 m / tan 10° = 51.04 m north of its far edge.
    oak = worlds.tree("oak", east_m=0.0, north_m=0.0)
    place = site(tmp_path, features=[oak])
    far = 2.0 + 9.0 / math.tan(math.radians(10.0))
    spots = [(0.0, far - 0.1), (0.0, far + 0.1), (2.1, 20.0), (1.9, 20.0), (0.0, -20.0)]
    found = lit(place, spots, 180.0, 10.0 + light.SUN_RADIUS_DEG)
    assert found.lit.tolist() == [0.0, 1.0, 1.0, 0.0, 1.0]
    assert found.by.tolist() == ["oak", "", "", "oak", ""]
    assert np.isposinf(found.known_m).all()  # flat ground is known as far as one likes


def test_a_hill_is_the_real_horizon(tmp_path: Path) -> None:
    # A ridge 34 m over the rider's eye line, 100 m to the west: 18.8° high.
    def ground(x: np.ndarray, _y: np.ndarray) -> np.ndarray:
        return worlds.GROUND_M + np.where(x < -99.0, 35.0, 0.0)

    place = site(tmp_path, terrain=ground, cell_m=2.0)
    edge = math.degrees(math.atan2(34.0, 100.0))
    below, above = (
        lit(place, [(0.0, 0.0)], 270.0, edge + light.SUN_RADIUS_DEG + by) for by in (-0.4, 0.4)
    )
    assert (below.lit.tolist(), below.by.tolist()) == ([0.0], ["ground"])
    assert (above.lit.tolist(), above.by.tolist()) == ([1.0], [""])
    # The raster ends 400 m out, where the ray is some 140 m up: hills beyond are not known.
    assert above.known_m[0] == pytest.approx(400.0, abs=5.0)
    # A ray 500 m over its start by then is free whatever comes.
    assert np.isposinf(lit(place, [(0.0, 0.0)], 90.0, 60.0).known_m).all()


def test_under_the_horizon_nobody_is_in_the_sun_and_nowhere_is_not_known(tmp_path: Path) -> None:
    place = site(tmp_path)
    assert lit(place, [(0.0, 0.0)], 90.0, 0.2).by.tolist() == ["horizon"]
    toward = light.toward(np.array(0.0), np.array(0.5))[None]
    assert np.isnan(sunlight.direct(place, np.full((1, 3), np.nan), toward).lit).all()


@pytest.mark.parametrize(
    ("night", "twilight", "none", "lamp"),
    [
        ("any", "any", None, None),
        ("light", "any", None, -6.0),
        ("light", "light", None, -0.8333),
        ("no", "any", -6.0, None),
        ("no", "light", -6.0, -0.8333),
        ("no", "no", -0.8333, None),
    ],
)
def test_what_a_pack_asks_of_the_sun(
    night: Need, twilight: Need, none: float | None, lamp: float | None
) -> None:
    rule = DayRule(night=night, twilight=twilight, twilight_is="sun-6-deg", source=SOURCE)
    noon = datetime(2026, 6, 20, 12, tzinfo=ZONE)
    got = sunlight.limits(rule, noon, ZONE, FRAME)
    assert [limit and limit.elevation_deg for limit in got] == [none, lamp]


def test_half_an_hour_of_twilight_is_half_an_hour_whatever_the_sun_does() -> None:
    rule = DayRule(night="no", twilight="any", twilight_is="fixed-30-min", source=SOURCE)
    at = datetime(2026, 12, 20, 17, tzinfo=ZONE)
    limit = sunlight.limits(rule, at, ZONE, FRAME).none
    day = sun.day(at.date(), ZONE, FRAME.lon_deg, FRAME.lat_deg)
    assert limit is not None
    assert day.sunset is not None
    assert limit.evening == day.sunset + timedelta(minutes=30)
    # In the latitude of 46° the December sun sinks some 5 to 6° in that time.
    assert -6.5 < limit.elevation_deg < -4.5
    _, there = sun.position([day.sunset + timedelta(minutes=30)], FRAME.lon_deg, FRAME.lat_deg)
    assert limit.elevation_deg == pytest.approx(math.degrees(there[0]))


def test_no_pack_rule_no_limit() -> None:
    at = datetime(2026, 6, 20, 12, tzinfo=UTC)
    assert sunlight.limits(None, at, UTC, FRAME) == (None, None)


def test_golden_hours_are_where_the_sun_is_low() -> None:
    day = sun.day(datetime(2026, 6, 20).date(), ZONE, FRAME.lon_deg, FRAME.lat_deg)
    (a, b), (c, d) = sunlight.golden(day, FRAME)
    _, high = sun.position([a, b, c, d], FRAME.lon_deg, FRAME.lat_deg)
    np.testing.assert_allclose(np.degrees(high), [0.0, 6.0, 6.0, 0.0], atol=0.01)
    north = Frame(lon_deg=20.0, lat_deg=72.0)
    dark = sun.day(datetime(2026, 12, 21).date(), UTC, 20.0, 72.0)
    assert sunlight.golden(dark, north) == ()


def staged(folder: Path, start: str, **world: Any) -> Scene:
    given = {"start": datetime.fromisoformat(start), **world.pop("site", {})}
    return worlds.staged(folder, site=given, **world)


def test_by_day_it_sees_as_it_always_did_and_by_night_nothing(tmp_path: Path) -> None:
    behind = {"shot": [{**worlds.SIDE_TRACK, "style": "follow-behind", "side": None}]}
    behind["shot"][0].pop("side")
    day = staged(tmp_path / "a", "2026-06-20T14:00:00+02:00", site=behind)
    night = staged(tmp_path / "b", "2026-06-20T23:30:00+02:00", site=behind)
    assert not day.blind.any()
    assert night.blind.all()
    assert float(night.lux.max()) < 3.4
    assert (night.overrun_m > 0.0).all()


def test_under_trees_it_gets_too_dark_earlier(tmp_path: Path) -> None:
    # At 20:55 on 20 June in 46° north the sun is about 0.3° high: 500 lx in the open, 30 lx in a
    # wood; its eyes need 300.
    behind = {"shot": [{"name": "b", "style": "follow-behind", "distance_m": 8.0, "height_m": 4.0}]}
    ring = worlds.box(-30.0, -40.0, 30.0, 40.0)
    wood = worlds.feature("wood", "wood", worlds.polygon(ring), height_m=20.0)
    cut = {"ride": {"clear_m": 6.0}}
    at = "2026-06-20T20:50:00+02:00"
    open_sky = staged(tmp_path / "a", at, site=behind)
    within = staged(tmp_path / "b", at, site={**behind, **cut}, features=[wood])
    assert float(open_sky.lux.min()) > 400.0
    assert not open_sky.blind.any()
    under = within.under_trees[0]
    north = within.track.ride.xyz_m[0, :, 1]
    # The rider or, 8 m and a delay behind him, the aircraft is in it.
    assert under[np.abs(north) < 39.5].all()
    assert not under[north < -41.0].any()
    np.testing.assert_array_equal(within.blind[0], under)


def test_over_water_the_eye_that_looks_down_does_not_count(tmp_path: Path) -> None:
    ring = worlds.polygon(worlds.box(-20.0, -50.05, 0.0, 50.05))
    pond, exact = worlds.feature("pond", "water", ring, error_m=0.0), {"ride": {"error_m": 0.0}}
    scene = staged(tmp_path, "2026-06-20T14:00:00+02:00", site=exact, features=[pond])
    north = scene.track.xyz_m[0, :, 1]
    np.testing.assert_array_equal(scene.light.over_water[0], np.abs(north) < 50.05)


@pytest.mark.parametrize(("hill", "blind"), [(False, True), (True, False)])
def test_a_low_sun_ahead_blinds_unless_a_hill_hides_it(
    tmp_path: Path, hill: bool, blind: bool
) -> None:
    # Riding west-north-west at 20:30: the sun is some 4° high in azimuth 300°.
    def ground(x: np.ndarray, _y: np.ndarray) -> np.ndarray:
        return worlds.GROUND_M + np.where(x < -300.0, 90.0 if hill else 0.0, 0.0)

    behind = {"shot": [{"name": "b", "style": "follow-behind", "distance_m": 8.0, "height_m": 4.0}]}
    scene = staged(tmp_path, "2026-06-20T20:30:00+02:00", site=behind, terrain=ground, ride=300.0)
    azimuth, elevation = (float(np.degrees(v[0])) for v in scene.sun_rad)
    assert azimuth == pytest.approx(300.0, abs=5.0)
    assert 2.0 < elevation < 6.0
    assert bool(scene.blind.all()) is blind
    assert bool(scene.blind.any()) is blind
