import math
from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from shotplan.flight.braking import WATCH_S, least_gap_when_braking
from shotplan.flight.follow import fly
from shotplan.model.aircraft import Aircraft
from shotplan.model.arrays import Array
from shotplan.model.flight import Stage, Style, Track
from shotplan.model.ride import RIDER_BRAKES_M_S2, STEP_S, Ride
from shotplan.styles.fly_by import FlyBy
from shotplan.styles.follow_behind import FollowBehind
from shotplan.styles.hold import Hold
from shotplan.styles.lead import Lead
from shotplan.styles.orbit import Orbit
from shotplan.styles.pull_back import PullBack
from shotplan.styles.rise import Rise
from shotplan.styles.side_track import SideTrack
from shotplan.styles.top_down import TopDown

STILL = np.zeros(3)
BEHIND = FollowBehind(distance_m=8.0, height_m=4.0)
ROUND_HIM = Orbit(around="rider", radius_m=10.0, height_m=5.0, speed_m_s=4.0, direction="clockwise")
ROCK = replace(ROUND_HIM, around="rock", radius_m=30.0)

Make = Callable[..., Aircraft]


def flown(style: Style, ride: Ride, aircraft: Aircraft, stage: Stage) -> Track:
    return fly(style.place(ride, stage), ride, aircraft, STILL)


def winding(make_ride: Callable[..., Ride]) -> Ride:
    """A ride that turns and changes its speed between 2 and 10 m/s."""
    t = np.arange(420) * STEP_S
    speed, course = 6.0 + 4.0 * np.sin(0.3 * t), 0.8 * np.sin(0.25 * t)
    steps = speed[:, None] * np.stack([np.sin(course), np.cos(course)], axis=-1) * STEP_S
    return make_ride(np.cumsum(steps, axis=0)[None])


def braked_ride(make_ride: Callable[..., Ride], speed: float) -> tuple[Ride, int]:
    """One long straight ride north that really brakes to rest, and the sample it begins at."""
    steady, lasts = 12.0, speed / RIDER_BRAKES_M_S2 + WATCH_S
    t = np.arange(int((steady + lasts) / STEP_S) + 1) * STEP_S - steady
    braking = np.clip(t, 0.0, speed / RIDER_BRAKES_M_S2)
    gone = speed * np.minimum(t, braking) - 0.5 * RIDER_BRAKES_M_S2 * braking**2
    ride = make_ride(np.stack([0.0 * t, gone], axis=-1)[None])
    ride = replace(ride, course_rad=np.zeros_like(ride.course_rad))
    return ride, int(steady / STEP_S) - ride.first


def upright(aircraft_m: Array, foot_m: Array) -> Array:
    """Distance to a line of 41 points from the ground to 2 m: a second, plain way."""
    points = foot_m[:, None] + np.linspace([0, 0, 0], [0, 0, 2], 41)
    return np.asarray(np.linalg.norm(aircraft_m[:, None] - points, axis=-1).min(axis=1))


@pytest.mark.parametrize("speed", [3.0, 6.0, 9.0])
@pytest.mark.parametrize(
    "style", [BEHIND, SideTrack(side="left", distance_m=6.0, height_m=1.5)], ids=str
)
def test_is_what_a_ride_that_brakes_gives(
    make_ride: Callable[..., Ride], make_aircraft: Make, level: Stage, style: Style, speed: float
) -> None:
    ride, start = braked_ride(make_ride, speed)
    aircraft = make_aircraft()
    track = flown(style, ride, aircraft, level)
    expected = upright(track.xyz_m[0, start:], track.ride.xyz_m[0, start:]).min()
    gap = least_gap_when_braking(style, track, level, aircraft, STILL)
    assert gap.shape == (track.xyz_m.shape[1],)
    np.testing.assert_allclose(gap[: start - 5], expected, atol=0.01)


def test_following_too_close_behind_a_fast_rider_runs_into_him(
    make_ride: Callable[..., Ride], make_aircraft: Make, level: Stage
) -> None:
    # b/w² = 3.4/0.81 = 4.2 m at most, cut by the 4 m/s² it can brake with itself.
    ride, _ = braked_ride(make_ride, 9.0)
    aircraft = make_aircraft()
    gaps = []
    for distance in (3.0, 6.0, 9.0):
        style = FollowBehind(distance_m=distance, height_m=1.5)
        track = flown(style, ride, aircraft, level)
        gaps.append(float(least_gap_when_braking(style, track, level, aircraft, STILL)[0]))
    assert gaps[0] < 1.0
    assert gaps[0] < gaps[1] < gaps[2]
    assert gaps[2] > 4.0


def test_a_standing_rider_is_as_near_as_he_is(
    make_ride: Callable[..., Ride], make_aircraft: Make, level: Stage
) -> None:
    ride = make_ride(np.zeros((1, 60, 2)))
    track = flown(BEHIND, ride, make_aircraft(), level)
    gap = least_gap_when_braking(BEHIND, track, level, make_aircraft(), STILL)
    np.testing.assert_allclose(gap, math.hypot(8.0, 4.0 - 2.0))


STYLES: list[Style] = [
    BEHIND,
    SideTrack(side="left", distance_m=5.0, height_m=2.0),
    SideTrack(side="north", distance_m=5.0, height_m=2.0),
    SideTrack(side="toward:rock", distance_m=5.0, height_m=2.0),
    ROUND_HIM,
    ROCK,
    Lead(distance_m=8.0, height_m=4.0),
    TopDown(height_m=8.0),
    PullBack(side="behind", distance_m=6.0, to_distance_m=20.0, height_m=3.0),
    PullBack(side="left", distance_m=20.0, to_distance_m=6.0, height_m=3.0),
    FlyBy(side="left", distance_m=8.0, height_m=3.0, speed_m_s=8.0, direction="against"),
    Hold(at="rock", height_m=4.0),
    Rise(at="rock", height_m=4.0, to_height_m=12.0, speed_m_s=1.0),
]


@pytest.mark.parametrize("style", STYLES, ids=str)
def test_never_more_than_the_gap_at_that_moment_of_steady_riding(
    north: Ride, make_aircraft: Make, level: Stage, style: Style
) -> None:
    aircraft = make_aircraft()
    track = flown(style, north, aircraft, level)
    now = upright(track.xyz_m[0], track.ride.xyz_m[0])
    gap = least_gap_when_braking(style, track, level, aircraft, STILL)
    late = slice(120, None)  # settled in the flight itself too
    assert (gap[late] <= now[late] + 0.05).all()
    assert (gap > 0.0).all()


@pytest.mark.parametrize("style", STYLES, ids=str)
def test_how_samples_are_grouped_does_not_show(
    make_ride: Callable[..., Ride],
    make_aircraft: Make,
    level: Stage,
    style: Style,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    ride, aircraft = winding(make_ride), make_aircraft()
    track = flown(style, ride, aircraft, level)
    whole = least_gap_when_braking(style, track, level, aircraft, STILL)
    monkeypatch.setattr("shotplan.flight.braking.CHUNK", 37)
    parts = least_gap_when_braking(style, track, level, aircraft, STILL)
    np.testing.assert_allclose(parts, whole, atol=1e-6)


@pytest.mark.parametrize("style", STYLES, ids=str)
def test_a_coarse_step_is_near_enough_for_a_search(
    make_ride: Callable[..., Ride], make_aircraft: Make, level: Stage, style: Style
) -> None:
    ride, aircraft = winding(make_ride), make_aircraft()
    track = flown(style, ride, aircraft, level)
    fine = least_gap_when_braking(style, track, level, aircraft, STILL)
    coarse = least_gap_when_braking(style, track, level, aircraft, STILL, substep_s=0.05)
    np.testing.assert_allclose(coarse, fine, atol=0.02)


def test_round_a_place_it_flies_on_as_planned(
    north: Ride, make_aircraft: Make, level: Stage
) -> None:
    aircraft = make_aircraft()
    track = flown(ROCK, north, aircraft, level)
    gap = least_gap_when_braking(ROCK, track, level, aircraft, STILL)
    for sample in (0, 77, 150, 199):
        t = np.arange(int((6.0 / RIDER_BRAKES_M_S2 + WATCH_S) / STEP_S) + 1) * STEP_S
        braking = np.minimum(t, 6.0 / RIDER_BRAKES_M_S2)
        rider = track.ride.xyz_m[0, sample] + np.stack(
            [0.0 * t, 6.0 * braking - 0.5 * RIDER_BRAKES_M_S2 * braking**2, 0.0 * t], axis=-1
        )
        aircraft_m = track.xyz_m[0, sample : sample + len(t)]
        expected = upright(aircraft_m, rider[: len(aircraft_m)]).min()
        assert gap[sample] == pytest.approx(expected, abs=0.01)


def test_the_ground_under_the_set_point_is_that_where_braking_starts(
    north: Ride, make_aircraft: Make, level: Stage
) -> None:
    # Ground to the left lies 7 m higher, but for a hole nobody knows far ahead.
    def ground(xy: Array) -> Array:
        return np.where(xy[..., 1] > 1000.0, np.nan, np.where(xy[..., 0] < -3.0, 37.0, 30.0))

    stage = level._replace(ground_m=ground)
    style = SideTrack(side="left", distance_m=6.0, height_m=2.0, height_over="higher-ground")
    track = flown(style, north, make_aircraft(), stage)
    gap = least_gap_when_braking(style, track, stage, make_aircraft(), STILL)
    np.testing.assert_allclose(gap, gap[0])
    assert math.hypot(6.0, 7.0) - 1e-9 <= gap[0] < math.hypot(6.0, 7.0) + 0.5


def test_only_row_0_is_asked(
    make_ride: Callable[..., Ride], make_aircraft: Make, level: Stage
) -> None:
    t = np.arange(90) * STEP_S
    rows = np.stack([np.stack([0.0 * t, v * t], axis=-1) for v in (5.0, 9.0)])
    style, aircraft = STYLES[1], make_aircraft()
    both = flown(style, make_ride(rows), aircraft, level)
    alone = flown(style, make_ride(rows[:1]), aircraft, level)
    np.testing.assert_array_equal(
        least_gap_when_braking(style, both, level, aircraft, STILL),
        least_gap_when_braking(style, alone, level, aircraft, STILL),
    )
