"""Who is under it beside other people: the rider on his way, the crew, animals; and how hard."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from shotplan.checks.fall import CHECK
from shotplan.judging import judge as judging
from shotplan.judging.judged import Finding
from shotplan.model.verdict import Verdict
from shotplan.scene import falls
from shotplan.scene.scene import Scene
from tests import worlds

HALF_SPAN_M = 0.18
ROOM_M = 2.0
STILL = {"wind_m_s": 0.0, "gust_m_s": 0.0, "wind_from_deg": None}
HEAVY = {"class": "folding-all-round"}  # 0.9 kg
ALONE = {"crew": [{"name": "Ada", "role": "rider"}]}
ABOVE = {"name": "above", "style": "top-down", "height_m": 8.0}
CHASE = {"name": "chase", "style": "follow-behind", "distance_m": 8.0, "height_m": 5.0}


def scene_of(folder: Path, shot: dict[str, Any], **world: Any) -> Scene:
    said = {"ride": {"error_m": 0.0}, "map_error_m": 0.0, "weather": STILL, "shot": [shot]}
    return worlds.staged(folder, **{**world, "site": worlds.laid_over(said, world.get("site", {}))})


def asked(folder: Path, shot: dict[str, Any], **world: Any) -> Finding:
    return judging.find(CHECK, scene_of(folder, shot, **world))


@pytest.mark.parametrize("height_m", [4.0, 8.0, 40.0])
def test_right_above_the_rider_is_never_go(tmp_path: Path, height_m: float) -> None:
    found = asked(tmp_path, {**ABOVE, "height_m": height_m})
    assert (found.verdict, found.thing) == (Verdict.CAUTION, "rider")
    assert "it may come down" in found.reason
    assert " s of each take could end there" in found.reason
    assert " J; " in found.reason
    assert "at whatever height it flies" in found.advice


def test_a_chase_8_m_behind_may_be_go(tmp_path: Path) -> None:
    found = asked(tmp_path, CHASE)
    assert (found.verdict, found.thing) == (Verdict.GO, "rider")


def cases(scene: Scene, i: int) -> list[float]:
    """A second way, case by case: how far from the rider each fall from sample i lands (scipy's
    RK45 through the standard air of the place), he being anywhere between riding on evenly and
    braking at 3.4 m/s², straight north."""
    craft, track = scene.aircraft, scene.track
    speed = float(track.ride.speed_m_s[0, i])
    kelvin, pascal = 14.0 + 273.15, 101325.0 * (1.0 - 0.0065 * worlds.GROUND_M / 288.15) ** 5.25588
    air = pascal / (287.053 * kelvin)

    def ground(_t: float, y: np.ndarray) -> float:
        return float(y[2] - worlds.GROUND_M)

    ground.terminal = True  # type: ignore[attr-defined]
    away = []
    for turn in np.radians([-30.0, 0.0, 30.0]):
        for coefficient in (0.7, 1.0):
            area = falls.drag_area_m2(craft.span_m, coefficient)
            east, north, up = track.velocity_m_s[0, i]
            turned = (
                east * np.cos(turn) - north * np.sin(turn),
                east * np.sin(turn) + north * np.cos(turn),
                up,
            )

            def rate(_t: float, y: np.ndarray, area: float = area) -> np.ndarray:
                pull = -0.5 * air * area / craft.mass_kg * np.linalg.norm(y[3:]) * y[3:]
                return np.concatenate([y[3:], pull + np.array([0.0, 0.0, -9.80665])])

            start = np.concatenate([track.xyz_m[0, i], turned])
            landed = solve_ivp(rate, (0.0, 60.0), start, events=ground, rtol=1e-9, atol=1e-9)
            x, y = landed.y[:2, -1]
            after = float(landed.t[-1])
            stops = min(after, speed / 3.4)
            rider_x, rider_y = track.ride.xyz_m[0, i, :2]
            near, far = rider_y + speed * stops - 1.7 * stops**2, rider_y + speed * after
            away.append(float(np.hypot(x - rider_x, max(near - y, y - far, 0.0))))
    return away


@pytest.mark.parametrize(
    "shot", [CHASE, {**CHASE, "distance_m": 5.0, "height_m": 20.0}, worlds.SIDE_TRACK]
)
def test_as_near_to_the_rider_as_the_nearest_of_the_cases(
    tmp_path: Path, shot: dict[str, Any]
) -> None:
    scene = scene_of(tmp_path, shot, site=ALONE, without=["launch"])
    i = scene.track.xyz_m.shape[1] // 2
    (margin,) = CHECK.margins(scene.first)
    assert margin.value[i] == pytest.approx(min(cases(scene, i)) - HALF_SPAN_M, abs=0.1)


@pytest.mark.parametrize(
    ("height_m", "word"), [(4.0, Verdict.CAUTION), (6.5, Verdict.CAUTION), (12.0, Verdict.NO_GO)]
)
def test_from_80_j_on_it_is_no_go(tmp_path: Path, height_m: float, word: Verdict) -> None:
    # 0.9 kg at 6 m/s has 16.2 J, and falling 6.5 m gives 57.4 J at most; from rest it has 80 J
    # after 11.0 m (second round of sources, November 2026, 10.7).
    found = asked(tmp_path, {**ABOVE, "height_m": height_m}, site={"aircraft": HEAVY})
    assert found.verdict == word
    joules = float(found.reason.split("and with ")[1].split(" J")[0])
    assert 0.9 * 9.80665 * height_m * 0.75 < joules <= 0.9 * 9.80665 * height_m + 16.2 + 0.5
    assert (joules >= 80.0) == (word == Verdict.NO_GO)
    assert ("80 J is the limit for a head" in found.reason) == (word == Verdict.NO_GO)


def test_as_hard_on_the_crew_and_on_people_is_no_go_on_animals_a_caution(tmp_path: Path) -> None:
    shot = {**worlds.SIDE_TRACK, "distance_m": 30.0, "height_m": 15.0}
    stand = worlds.place("stand", east_m=-30.0, north_m=0.0)
    crew = {"crew": [{"name": "Bo", "role": "pilot", "stands": "stand"}], "aircraft": HEAVY}
    found = asked(tmp_path / "a", shot, site=crew, features=[stand])
    assert (found.verdict, found.thing) == (Verdict.NO_GO, "stand")
    bench = worlds.feature("bench", "people", worlds.point(-30.0, 0.0))
    found = asked(tmp_path / "b", shot, site={"aircraft": HEAVY}, features=[bench])
    assert (found.verdict, found.thing) == (Verdict.NO_GO, "bench")
    nest = worlds.feature("nest", "wildlife", worlds.point(-30.0, 0.0), stand_off_m=5.0)
    found = asked(tmp_path / "c", shot, site={"aircraft": HEAVY}, features=[nest])
    assert (found.verdict, found.thing) == (Verdict.CAUTION, "nest")
    assert "farther from nest" in found.advice
    season = {"from": "08-01", "to": "12-31"}
    nest = worlds.feature("nest", "wildlife", worlds.point(-30.0, 0.0), **season)
    found = asked(tmp_path / "d", shot, site={"aircraft": HEAVY}, features=[nest])
    assert (found.verdict, found.thing) == (Verdict.GO, "rider")


def test_the_metres_off_the_rider_are_enough(tmp_path: Path) -> None:
    near = {**worlds.SIDE_TRACK, "distance_m": 4.0, "height_m": 8.0}
    found = asked(tmp_path / "a", near)
    assert (found.verdict, found.thing) == (Verdict.CAUTION, "rider")
    more = float(found.advice.split("at least ")[1].split(" m")[0])
    assert asked(tmp_path / "b", {**near, "distance_m": 4.0 + more}).verdict == Verdict.GO


def test_it_falls_through_the_air_of_the_place(tmp_path: Path) -> None:
    # ICAO standard atmosphere (Doc 7488): 0.9093 kg/m³ at 3000 m (268.66 K), 1.2250 at sea level.
    cold = {"weather": {**STILL, "temperature_c": -4.49}}
    high = scene_of(tmp_path / "a", ABOVE, terrain=3000.0, site=cold)
    assert falls.air_kg_m3(high) == pytest.approx(0.9093, abs=1e-3)
    low = scene_of(tmp_path / "b", ABOVE, terrain=0.0)
    some = np.arange(3)
    speeds = [falls.drop(s, some, [np.zeros(3)]).speed_m_s for s in (low, high)]
    assert (speeds[1] > speeds[0]).all()
    said = " ".join(judging.find(CHECK, high).assumptions)
    assert "0.909 kg/m³ (ICAO standard atmosphere" in said


def test_where_nobody_looked_for_animals_is_unknown(tmp_path: Path) -> None:
    site = {"survey": {"looked_for": ["trees", "buildings", "wires", "people"]}}
    found = asked(tmp_path, CHASE, site=site)
    assert found.verdict == Verdict.UNKNOWN
    assert "nobody looked for wildlife" in found.reason
