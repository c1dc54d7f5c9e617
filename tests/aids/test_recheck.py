"""The table of the hill: what it rests on, and that it errs to the stricter side."""

from __future__ import annotations

import itertools
import math
from dataclasses import replace
from datetime import datetime, timedelta
from pathlib import Path

import numpy as np
import pytest

from shotplan import plan
from shotplan.aids import recheck as asked
from shotplan.aids import recheck_wind
from shotplan.aids.recheck import OFFSETS_MIN, Recheck
from shotplan.aids.recheck_wind import CAUTION, GO, NO_GO, SIDES, UNKNOWN
from shotplan.checks import CHECKS
from shotplan.flying import stage_scene
from shotplan.judging.judged import Plan
from shotplan.model.day import Weather
from shotplan.outing import read
from shotplan.scene.margin import Check
from tests.worlds import SIDE_TRACK, box, feature, polygon, staged, straight, tree, write_site

EVENING = datetime.fromisoformat("2026-06-20T20:30:00+02:00")
TREE = tree("larch", east_m=-19.0, north_m=0.0, height_m=5.0, radius_m=1.0, error_m=3.0)


@pytest.fixture(scope="module")
def planned(tmp_path_factory: pytest.TempPathFactory) -> Plan:
    """A side-track 12 m left of a rider who rides north, a tree 7 m beyond it."""
    folder = tmp_path_factory.mktemp("planned")
    given = {"start": EVENING}
    return plan.make(
        read(write_site(folder, site=given, features=[TREE], ride=straight(0.0, 90.0)))
    )


@pytest.fixture(scope="module")
def table(planned: Plan) -> Recheck:
    """Its table."""
    return asked.recheck(planned, planned.shots[0])


def test_more_wind_is_never_better(table: Recheck) -> None:
    for codes in (table.winds.open, table.winds.hand):
        assert codes.shape == (16, 15, 22)
        assert (np.diff(codes.astype(int), axis=1) >= 0).all()
        assert (np.diff(codes.astype(int), axis=2) >= 0).all()
        assert codes.min() == GO
        assert codes.max() == NO_GO


def test_above_its_rating_it_is_no_go_from_everywhere(table: Recheck, planned: Plan) -> None:
    rated = planned.outing.aircraft.max_wind_m_s
    assert rated == 10.0
    assert (table.winds.open[:, :, 10:] == NO_GO).all()  # 10 m/s between two sides is more
    assert (table.winds.open[:, 2, 4] == GO).all()


def test_a_reading_in_the_hand_stands_for_more_wind(table: Recheck) -> None:
    assert (table.winds.hand >= table.winds.open).all()
    assert (table.winds.hand > table.winds.open).any()


def test_where_the_wind_is_not_no_go_the_flight_is_the_planned_one(
    planned: Plan, table: Recheck
) -> None:
    """What the table rests on: with no airspeed cut the wind does not move the undisturbed
    flight, nor what braking does to it."""
    rng = np.random.default_rng(7)
    shot = planned.shots[0].scene
    left = np.argwhere(table.winds.open[:, :, :11] < NO_GO)
    for sector, i, _ in left[rng.choice(len(left), 6, replace=False)]:
        from_rad = math.radians(22.5 * sector + rng.uniform(-11.25, 11.25))
        weather = replace(planned.outing.day.weather, wind_m_s=float(i), wind_from_rad=from_rad)
        outing = replace(planned.outing, day=replace(planned.outing.day, weather=weather))
        flown = stage_scene(outing, shot.shot, outing.day.start)
        np.testing.assert_allclose(flown.track.xyz_m, shot.track.xyz_m, atol=1e-9)
        assert flown.braking_gap_m is not None
        assert shot.braking_gap_m is not None
        np.testing.assert_allclose(flown.braking_gap_m, shot.braking_gap_m, atol=1e-9)


def test_a_flight_cut_in_the_plan_is_unknown_in_any_wind(planned: Plan) -> None:
    shot = planned.shots[0]
    slow = replace(shot.scene.aircraft, max_speed_m_s=5.0)
    codes = recheck_wind.winds(
        replace(shot.scene, aircraft=slow), planned.outing.disturbance, 1
    ).open
    assert (codes >= UNKNOWN).all()


def test_the_checks_themselves_say_no_worse(planned: Plan, table: Recheck) -> None:
    """Drawn entries, each asked of every check that the wind changes, of the whole flight."""
    rng = np.random.default_rng(8)
    scene, rated = planned.shots[0].scene, planned.outing.aircraft.max_wind_m_s
    for place, codes in (("forecast", table.winds.open), ("launch", table.winds.hand)):
        for _ in range(30):
            mean = rng.uniform(0.0, rated)
            gust = rng.uniform(mean, 1.2 * rated)
            from_deg = rng.uniform(0.0, 360.0)
            weather = replace(
                scene.day.weather,
                wind_m_s=mean,
                gust_m_s=gust,
                wind_from_rad=math.radians(from_deg),
                measured_at=place,
                measured_height_m=10.0 if place == "forecast" else 2.0,
            )
            real = max(
                recheck_wind.word(check, scene.in_weather(weather))
                for check in CHECKS
                if check.wind != "none"
            )
            said = codes[round(from_deg / 22.5) % 16, math.ceil(mean), math.ceil(gust)]
            assert said >= real, (place, mean, gust, from_deg)


@pytest.mark.parametrize("check", CHECKS, ids=lambda check: str(check.id))
def test_a_check_says_how_the_wind_is_to_be_asked(planned: Plan, check: Check) -> None:
    """What changes with the mean, or with the gust alone, and says otherwise, would be left out."""
    scene = planned.shots[0].scene
    if check.id == "return":  # on its way home the wind is nothing to it
        scene = replace(scene, shot=replace(scene.shot, link_lost="hover"))
    winds = ((2.0, 4.0), (2.0, 8.0), (6.0, 8.0))
    told = []
    for mean, gust in winds:
        weather = Weather(wind_m_s=mean, gust_m_s=gust, wind_from_rad=math.pi, temperature_c=15.0)
        found = check.margins(scene.in_weather(weather))
        told.append([a for m in found for a in (m.margin, m.soft) if a is not None])
    same = [
        all(np.array_equal(a, b, equal_nan=True) for a, b in zip(one, two, strict=True))
        for one, two in itertools.pairwise(told)
    ]
    expected = {"none": [True, True], "mean": [True, False], "gust": [False, False]}
    if check.wind in expected:
        assert same == expected[check.wind]
    else:
        assert not all(same)


def test_the_disturbed_rides_were_pushed_only_so_hard(planned: Plan) -> None:
    """The plan has 4 m/s of gust on 2 m/s from west-south-west."""
    shot, said = planned.shots[0], planned.outing.disturbance
    assert np.isinf(recheck_wind.winds(shot.scene, said, 1).push_m_s).all()
    push = recheck_wind.winds(shot.scene, said, 300).push_m_s
    assert (push[:, 0] < push[:, 1]).all()
    assert push[SIDES.index("WSW"), 0] >= 2.0  # its own 2 m/s
    across = push[SIDES.index("NNW"), 0]
    assert 1.4 < across < 1.7  # 1.1 · 2 m/s · 0.75, less for the sector


def test_the_table_of_hours_ends_with_the_light(table: Recheck, planned: Plan) -> None:
    codes = dict(zip(OFFSETS_MIN.tolist(), table.times.tolist(), strict=True))
    assert table.start == planned.outing.day.start
    assert codes[-120] <= CAUTION  # in the sun
    assert codes[120] >= CAUTION  # 22:30 in Slovenia in June is after twilight
    alone = asked._Hours(planned.shots[0].scene)
    for k in range(1, len(OFFSETS_MIN) - 1):
        worst = alone.codes(OFFSETS_MIN[k - 1 : k + 2].tolist()).max()
        assert table.times[k] == worst


def test_the_next_date_is_unknown(planned: Plan) -> None:
    scene = planned.shots[0].scene
    late = replace(scene, start=EVENING + timedelta(hours=3))
    assert asked._Hours(late).codes([40])[0] == UNKNOWN


def test_what_is_worth_pacing(table: Recheck, planned: Plan) -> None:
    """Crown 1 m, 7 m beyond the aircraft, which keeps 0.18 + 2 m; it flies blind to the side but
    not toward it. The error, hypot(3, 0.5), shrinks to 0.5 m when it is paced."""
    (pace,) = table.pace
    error = math.hypot(3.0, 0.5)
    assert pace.drawn_m == pytest.approx(19.0, abs=0.01)
    assert pace.at_m == pytest.approx(45.0, abs=0.6)
    assert pace.near_m == pytest.approx(19.0 - error + 0.5, abs=0.01)
    assert pace.far_m == pytest.approx(19.0 + error - 0.5, abs=0.01)
    spare = 19.0 - 12.0 - 1.0 - 2.18 - 0.5
    assert pace.least_m == pytest.approx(19.0 - spare, abs=0.15)
    assert math.isinf(pace.most_m)  # farther off is farther from the flight


def test_without_a_launch_nothing_is_read_in_the_hand(planned: Plan) -> None:
    scene = planned.shots[0].scene
    site = replace(scene.site, places={})
    codes = recheck_wind.winds(replace(scene, site=site), planned.outing.disturbance, 1)
    assert (codes.hand == UNKNOWN).all()
    assert (codes.open >= UNKNOWN).all()  # nor is the way home known


def test_a_place_is_needed_only_for_what_it_decides(tmp_path: Path) -> None:
    """Nobody in a crew, no obstacles: still a table."""
    bare = plan.make(read(write_site(tmp_path, site={"crew": None}, ride=straight(0.0, 60.0))))
    found = asked.recheck(bare, bare.shots[0])
    assert found.pace == ()
    assert found.verdict == bare.shots[0].verdict


def test_left_alone_it_must_stay_in_the_wind_of_the_hill(planned: Plan) -> None:
    shot = planned.shots[0].scene
    hovers = replace(shot, shot=replace(shot.shot, link_lost="hover"))
    codes = recheck_wind.winds(hovers, planned.outing.disturbance, 1).open
    over = math.ceil(0.5 * shot.aircraft.max_speed_m_s)
    assert (codes[:, over:] >= CAUTION).all()


@pytest.mark.parametrize("height_m", [4.0, 15.0])
def test_the_tightest_are_those_that_asking_all_would_find(tmp_path: Path, height_m: float) -> None:
    rng = np.random.default_rng(2)
    trees = [
        tree(f"t{k}", east_m=float(e), north_m=float(n), height_m=float(h))
        for k, (e, n, h) in enumerate(rng.uniform((-60, -110, 3), (40, 110, 15), (90, 3)))
    ]
    hut = feature("hut", "building", polygon(box(9.0, 10.0, 30.0, 60.0)), height_m=9.0)
    scene = staged(
        tmp_path, features=[*trees, hut], site={"shot": [{**SIDE_TRACK, "height_m": height_m}]}
    )
    margins = [asked._margin_m(scene, k) for k in range(len(trees) + 1)]
    assert (asked._bound_m(scene) <= np.array(margins) + 1e-9)[
        np.array(margins) < asked.WORTH_M
    ].all()
    slowly = sorted((m, k) for k, m in enumerate(margins) if m < asked.WORTH_M)
    assert len(slowly) > asked.MOST
    assert asked._tightest(scene) == slowly[: asked.MOST]
