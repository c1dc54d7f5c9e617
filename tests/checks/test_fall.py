"""Where it comes down if it stops flying: landings, who may be there, what is not known."""

from __future__ import annotations

import dataclasses
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from shotplan.checks.fall import CHECK
from shotplan.checks.fall import check as fall
from shotplan.flying import stage_scene
from shotplan.judging import judge as judging
from shotplan.judging.judged import Finding
from shotplan.kernels.motion.fall import fall_to_ground
from shotplan.kernels.solids.footprints import inside_m
from shotplan.model.rules import PeopleRule, Source
from shotplan.model.verdict import Verdict
from shotplan.outing import read
from shotplan.scene.falls import drag_area_m2, drop, toward
from shotplan.scene.scene import Scene
from tests import worlds

HALF_SPAN_M = 0.18
TRACK_X_M = -12.0  # the flight goes north there at 6 m/s, 6 m up
STILL = {"wind_m_s": 0.0, "gust_m_s": 0.0, "wind_from_deg": None}
EXACT = {"ride": {"error_m": 0.0}, "map_error_m": 0.0}
SOURCE = Source(document="Test act", clause="1", read_on="2026-01-01", known="read")
STRICT = PeopleRule(least_m=0.0, one_to_one=False, passing="no-go", source=SOURCE)
LENIENT = dataclasses.replace(STRICT, passing="caution")


def scene_of(folder: Path, people: PeopleRule | None = LENIENT, **world: Any) -> Scene:
    site = world.get("site", {})
    world["site"] = {**EXACT, **site, "weather": {**STILL, **site.get("weather", {})}}
    outing = read(worlds.write_site(folder, **world))
    outing = dataclasses.replace(outing, rules=dataclasses.replace(outing.rules, people=people))
    return stage_scene(outing, outing.shots[0], outing.day.start)


def asked(folder: Path, people: PeopleRule | None = LENIENT, **world: Any) -> Finding:
    scene = scene_of(folder, people, **world)
    return judging.find(CHECK, scene)


def path(*points_m: tuple[float, float], **says: Any) -> dict[str, Any]:
    where = worlds.point(*points_m[0]) if len(points_m) == 1 else worlds.line(list(points_m))
    return worlds.feature("path", "people", where, **says)


def way_m(height_m: float = 6.0, speed_m_s: float = 6.0, coefficient: float = 0.7) -> float:
    """How far it gets straight ahead over level ground in still air."""
    landed = worlds.level_fall(
        np.array([[speed_m_s, 0.0, 0.0]]), np.array([height_m]), 0.249,
        drag_area_m2(0.36, coefficient), np.zeros(3),
    )  # fmt: skip
    return float(landed.xyz_m[0, 0])


def test_a_wall_stops_it_and_what_is_not_known_is_nan() -> None:
    def cliff(xy: np.ndarray) -> np.ndarray:
        z = np.where(xy[:, 0] < 0.0, 0.0, 100.0)
        return np.where(xy[:, 1] > 50.0, np.nan, z)

    start = np.array([[-5.0, 0.0, 50.0], [5.0, 0.0, 150.0], [-5.0, 49.0, 50.0], [5.0, 0.0, 90.0]])
    flown = np.array([[10.0, 0, 0], [-10.0, 0, 0], [0, 10.0, 0], [0, 0, 0]])
    found = fall_to_ground(start, flown, 0.249, np.full(4, 0.0135), np.zeros(3), cliff)
    assert found.xyz_m[0, 0] == pytest.approx(0.0, abs=0.2)  # against the face, part way down
    assert 30.0 < found.xyz_m[0, 2] < 50.0
    assert found.xyz_m[1, 2] == pytest.approx(0.0, abs=1e-6)  # over the edge, down to the foot
    assert np.isnan(found.xyz_m[2]).all()
    assert np.isnan(found.time_s[2])
    assert found.time_s[3] == 0.0


def test_down_a_slope_it_flies_on_until_it_meets_the_ground() -> None:
    # Without drag: z = -g t²/2 from 10 m above a slope of -0.5, x = 8 t: g t²/2 - 4 t - 10 = 0.
    seconds = (4.0 + np.sqrt(16.0 + 20.0 * 9.80665)) / 9.80665
    found = fall_to_ground(
        np.array([[0.0, 0.0, 10.0]]), np.array([[8.0, 0.0, 0.0]]), 1.0, np.zeros(1), np.zeros(3),
        lambda xy: -0.5 * xy[:, 0],
    )  # fmt: skip
    assert found.time_s[0] == pytest.approx(seconds, abs=0.002)
    assert found.xyz_m[0] == pytest.approx([8.0 * seconds, 0.0, -4.0 * seconds], abs=0.02)


@pytest.mark.parametrize(("from_deg", "east", "north"), [(270, 1, 0), (0, 0, -1), (225, 1, 1)])
def test_wind_blows_toward_the_other_side(
    tmp_path: Path, from_deg: float, east: int, north: int
) -> None:
    assert np.sign(np.round(toward(np.radians(from_deg))[:2], 9)).tolist() == [east, north]
    windy = {"weather": {"wind_m_s": 5.0, "gust_m_s": 9.0, "wind_from_deg": float(from_deg)}}
    scene = scene_of(tmp_path, site=windy)
    some = np.arange(5)
    still = drop(scene, some, [np.zeros(3)]).xyz_m.mean(axis=1)
    blown = drop(scene, some, [9.0 * toward(np.radians(from_deg))]).xyz_m.mean(axis=1)
    shift = (blown - still)[0, :2]
    assert np.sign(np.where(np.abs(shift) < 0.3 * np.abs(shift).max(), 0.0, shift)).tolist() == [
        east,
        north,
    ]


def test_the_footprint_fans_out_ahead_and_to_the_side(tmp_path: Path) -> None:
    # 30 degrees to the side of a way of some 6.4 m: sin 30 of it toward the path.
    # The path is nearer than the rider, 12 m away on the other side.
    side = way_m() * 0.5
    found = asked(
        tmp_path / "a", features=[path((TRACK_X_M - 10.0, -90.0), (TRACK_X_M - 10.0, 90.0))]
    )
    assert found.value == pytest.approx(10.0 - side - HALF_SPAN_M, abs=0.05)
    assert found.verdict == Verdict.GO
    # Straight ahead of the last sample, at y = 97 - what it flies in 0.1 s.
    scene = scene_of(tmp_path / "b", features=[path((TRACK_X_M, 111.0))])
    last = float(scene.track.xyz_m[0, -1, 1])
    ahead = judging.find(CHECK, scene)
    assert ahead.value == pytest.approx(111.0 - last - way_m() - HALF_SPAN_M, abs=0.05)
    assert ahead.at is not None
    assert ahead.at.sample == scene.track.xyz_m.shape[1] - 1


def test_over_a_cliff_it_falls_to_the_foot(tmp_path: Path) -> None:
    def cliff(x: np.ndarray, _y: np.ndarray) -> np.ndarray:
        return np.clip(80.0 * (x + 5.0) / 1.0, 0.0, 80.0)

    far = {"shot": [{**worlds.SIDE_TRACK, "distance_m": 40.0}]}
    scene = scene_of(tmp_path, terrain=cliff, cell_m=1.0, ride=worlds.straight(0.0, 40.0), site=far)
    landed = drop(scene, np.arange(scene.track.xyz_m.shape[1]), [np.zeros(3)])
    np.testing.assert_allclose(landed.xyz_m[..., 2], 0.0, atol=0.1)
    assert landed.time_s.min() > 4.0
    ahead = landed.xyz_m[0, :, 1].max() - scene.track.xyz_m[0, 0, 1]
    assert ahead == pytest.approx(way_m(height_m=86.0), abs=0.1)


@pytest.mark.parametrize(
    ("half_m", "people", "word"),
    [
        (100.0, STRICT, Verdict.NO_GO),
        (100.0, LENIENT, Verdict.CAUTION),
        (100.0, None, Verdict.CAUTION),
        (5.0, STRICT, Verdict.CAUTION),  # some 3.5 s
    ],
)
def test_a_short_while_is_a_caution_a_long_one_as_the_pack_says(
    tmp_path: Path, half_m: float, people: PeopleRule | None, word: Verdict
) -> None:
    along = path((TRACK_X_M, -half_m), (TRACK_X_M, half_m))
    found = asked(tmp_path, people, features=[along])
    assert (found.verdict, found.thing, found.family) == (word, "path", "harm")
    lasts = float(found.reason.split("; ")[1].split(" s")[0])
    # Its hull is from 87 % of the way at 30 degrees to all of it ahead; 2 m and half the span on.
    room = 2.0 * (2.0 + HALF_SPAN_M) + way_m() - way_m(coefficient=1.0) * np.cos(np.radians(30.0))
    wanted = min((2.0 * half_m + room) / 6.0, 200.0 / 6.0)
    assert lasts == pytest.approx(wanted, abs=1.5 if half_m == 100.0 else 0.3)
    assert f"{lasts:.1f} s" in found.advice


def test_the_advice_in_metres_is_enough(tmp_path: Path) -> None:
    def flown(distance_m: float) -> Finding:
        shot = {"shot": [{**worlds.SIDE_TRACK, "distance_m": distance_m}]}
        along = path((-7.0, -120.0), (-7.0, 120.0))
        return asked(tmp_path / f"{distance_m}", features=[along], site=shot)

    near = flown(11.0)
    assert near.verdict == Verdict.CAUTION
    more = float(near.advice.split("at least ")[1].split(" m")[0])
    assert flown(11.0 + more).verdict == Verdict.GO


def test_where_the_crew_stands_is_a_caution_however_long(tmp_path: Path) -> None:
    stand = worlds.place("stand", east_m=TRACK_X_M, north_m=0.0)
    crew = {"crew": [{"name": "Bo", "role": "pilot", "stands": "stand"}]}
    found = asked(tmp_path, STRICT, features=[stand], site=crew)
    assert (found.verdict, found.thing) == (Verdict.CAUTION, "stand")
    assert "on Bo at stand" in found.reason
    assert "let Bo stand at least" in found.advice


def test_closed_and_well_held_paths_are_empty(tmp_path: Path) -> None:
    ends = ((TRACK_X_M - 60.0, 0.0), (TRACK_X_M + 60.0, 0.0))
    post = worlds.place("post", east_m=40.0, north_m=-60.0)
    site = {"crew": [*worlds.SITE["crew"], {"name": "Cy", "role": "spotter", "stands": "post"}]}
    wall = worlds.box(10.0, -60.0, 12.0, 60.0)
    house = worlds.feature("house", "building", worlds.polygon(wall), height_m=5.0)
    held = path(*ends, state="held", held_by="Cy")
    words = [
        asked(tmp_path / "a", features=[path(*ends, state="closed")]).verdict,
        asked(tmp_path / "b", features=[held, post], site=site).verdict,
        asked(tmp_path / "c", features=[held, post, house], site=site).verdict,
    ]
    assert words == [Verdict.GO, Verdict.GO, Verdict.CAUTION]


def test_nobody_near_but_the_rider_is_go_and_the_energy_is_said(tmp_path: Path) -> None:
    found = asked(
        tmp_path, STRICT, without=["launch"], site={"crew": [{"name": "Ada", "role": "rider"}]}
    )
    assert (found.verdict, found.thing) == (Verdict.GO, "rider")
    (remark,) = found.remarks
    joules = float(remark.text.split("with ")[1].split(" J")[0])
    landed = worlds.level_fall(
        np.array([[6.0, 0.0, 0.0]]), np.array([6.0]), 0.249, drag_area_m2(0.36, 0.7), np.zeros(3)
    )
    assert joules == pytest.approx(0.5 * 0.249 * float(landed.speed_m_s[0]) ** 2, abs=0.6)
    assert "the energy of landing, the most that may reach a head" in remark.text
    assert not remark.caution


def test_it_is_drawn_and_an_orbit_leaves_its_middle_free(tmp_path: Path) -> None:
    orbit = {
        "name": "round", "style": "orbit", "around": "mark", "radius_m": 25.0, "height_m": 8.0,
        "speed_m_s": 6.0, "direction": "clockwise", "start_deg": 180, "aim": "centre",
    }  # fmt: skip
    mark = worlds.place("mark", east_m=0.0, north_m=0.0)
    scene = scene_of(tmp_path, features=[mark], site={"shot": [orbit]})
    found = judging.find(CHECK, scene)
    landed = drop(scene, np.arange(scene.track.xyz_m.shape[1]), [np.zeros(3)]).xyz_m[..., :2]
    rings = [d.outline for d in found.drawings]
    assert rings
    assert all(inside_m((r,), np.zeros((1, 2)))[0] < -10.0 for r in rings)
    inside = np.max([inside_m((r,), landed.reshape(-1, 2)) for r in rings], axis=0)
    assert inside.min() > -0.25  # corners are rounded to 0.2 m


def test_nobody_looked_or_ground_not_known_is_unknown(tmp_path: Path) -> None:
    blank = {"survey": {"looked_for": ["trees"]}}
    found = asked(tmp_path / "a", site=blank)
    assert found.verdict == Verdict.UNKNOWN
    assert "nobody looked for people" in found.reason

    def torn(x: np.ndarray, y: np.ndarray) -> np.ndarray:
        return np.where((y > 105.0) | (x < -80.0), np.nan, 84.0)

    # The flight ends at y = 97: from there it falls past y = 103, where the last posts are.
    found = asked(tmp_path / "b", terrain=torn)
    assert found.verdict == Verdict.UNKNOWN
    assert "the ground it would fall on is not known" in found.reason
    scene = scene_of(tmp_path / "b", terrain=torn)
    hit = asked(
        tmp_path / "c", STRICT, terrain=torn, features=[path((TRACK_X_M, -90.0), (TRACK_X_M, 60.0))]
    )
    assert hit.verdict == Verdict.NO_GO
    assert np.isfinite(scene.height_m).all()


def test_falls_between_two_that_are_asked_are_never_spared(tmp_path: Path) -> None:
    """Falls asked a second apart answer for all between: each one asked by itself is the check."""
    square = [(-60.0, -60.0), (60.0, -60.0), (60.0, 20.0), (-60.0, 20.0)]
    looked = {"looked_for": ["people", "wildlife"], "on": "2026-06-02"}
    half = worlds.feature("half", "surveyed", worlds.polygon(square), **looked)
    scene = scene_of(
        tmp_path,
        site={"survey": {"looked_for": []}},
        features=[half, path((TRACK_X_M - 3.0, -40.0), (TRACK_X_M - 3.0, 5.0))],
    )
    n, every = scene.blind.shape[1], 10
    still = [np.zeros(3)]
    each = fall._landed(scene, drop(scene, np.arange(n), still))
    some = fall.between(scene, drop(scene, np.arange(0, n, every), still), every * 0.1)
    assert 0 < each.unlooked.sum() < n
    assert (each.rooms_m < 0.0).any()
    for i in range((len(some.drop.xyz_m) - 1) * every):
        beside = slice(i // every, i // every + 2)
        assert (some.rooms_m[:, beside].min(axis=1) <= each.rooms_m[:, i] + 1e-6).all()
        assert some.unlooked[beside].any() or not each.unlooked[i]
    assert not some.unlooked.all()


NO_WEATHER = {"weather": {"wind_m_s": None, "wind_from_deg": None, "gust_m_s": None}}
ASIDE = ((-18.5, -60.0), (-18.5, 60.0))


@pytest.mark.parametrize(
    "lacks",
    [
        {"gust_m_s": None, "wind_m_s": 2.0, "wind_from_deg": 100.0},
        {"gust_m_s": None, "wind_m_s": None, "wind_from_deg": None},
    ],
)
def test_go_if_the_gust_is_right_on_both_sides(tmp_path: Path, lacks: dict[str, Any]) -> None:
    world: dict[str, Any] = {"features": [path(*ASIDE)], "without": ["launch"]}
    crew = {"crew": [{"name": "Ada", "role": "rider"}]}
    found = asked(tmp_path / "a", site={**crew, "weather": lacks}, **world)
    assert found.verdict == Verdict.UNKNOWN
    (limit,) = found.go_if
    assert (limit.key, limit.bound) == ("weather.gust_m_s", "at-most")
    assert limit.text in found.advice
    given = {key.split(".")[1]: value for key, value in limit.given}
    for gust, word in ((limit.value, Verdict.GO), (limit.value + 0.2, Verdict.CAUTION)):
        weather = {**lacks, **given, "wind_m_s": 0.0, "gust_m_s": gust}
        site = {**crew, "weather": weather}
        assert asked(tmp_path / f"{gust}", site=site, **world).verdict == word


def test_no_wind_needed_where_nobody_can_be_reached(tmp_path: Path) -> None:
    found = asked(tmp_path / "a", site=NO_WEATHER, features=[path((-80.0, 0.0))])
    assert found.verdict == Verdict.GO
    known = {"weather": {"gust_m_s": 12.0, "wind_m_s": 6.0, "wind_from_deg": None}}
    near = asked(tmp_path / "b", site=known, features=[path(*ASIDE)])
    assert near.verdict == Verdict.UNKNOWN
    assert near.reason.startswith("without wind_from it is not known")


def test_a_gust_carries_it_onto_a_path(tmp_path: Path) -> None:
    words = []
    for from_deg in (90.0, 270.0):
        weather = {"weather": {"wind_m_s": 5.0, "gust_m_s": 10.0, "wind_from_deg": from_deg}}
        found = asked(tmp_path / f"{from_deg}", site=weather, features=[path(*ASIDE)])
        words.append(found.verdict)
    assert words == [Verdict.CAUTION, Verdict.GO]
