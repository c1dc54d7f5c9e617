import math
from collections.abc import Callable
from dataclasses import fields, replace

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from shotplan.flight.follow import along_course, fly, fly_alike, look
from shotplan.model.aircraft import Aircraft
from shotplan.model.arrays import Array
from shotplan.model.flight import Stage, Style, Track, Wish
from shotplan.model.ride import STEP_S, Ride
from shotplan.styles.fly_by import FlyBy
from shotplan.styles.follow_behind import FollowBehind
from shotplan.styles.orbit import Orbit
from shotplan.styles.rise import Rise
from shotplan.styles.side_track import SideTrack
from shotplan.styles.top_down import TopDown

STILL = np.zeros(3)
BEHIND = FollowBehind(distance_m=8.0, height_m=4.0)
ROCK = Orbit(around="rock", radius_m=25.0, height_m=12.0, speed_m_s=4.0, direction="clockwise")

Make = Callable[..., Aircraft]


def side(name: str) -> SideTrack:
    return SideTrack(side=name, distance_m=12.0, height_m=6.0)


def there_and_back(lead: int = 20) -> Array:
    """`(1, n, 2)` north at 6 m/s, down to rest, and back south along the same line."""
    t = np.arange(400) * STEP_S
    speed = 6.0 * np.tanh((20.0 - t) / 2.0)
    return np.stack([0.0 * t, np.cumsum(speed) * STEP_S], axis=-1)[None]


def test_covers_the_filmed_samples(
    make_ride: Callable[..., Ride], make_aircraft: Make, level: Stage
) -> None:
    t = np.arange(120) * STEP_S
    ride = make_ride(np.stack([[0.0 * t, 6.0 * t], [0.0 * t, 5.0 * t]]).transpose(0, 2, 1))
    filming = np.zeros((2, 120), dtype=bool)
    filming[0, 20:80] = True
    filming[1, 20:95] = True
    ride = replace(ride, filming=filming)
    wish = side("left").place(ride, level)
    track = fly(wish, ride, make_aircraft(), STILL)
    assert track.xyz_m.shape == (2, 75, 3)
    np.testing.assert_array_equal(track.ride.t_s, ride.t_s[20:95])
    np.testing.assert_array_equal(track.ride.xyz_m, ride.xyz_m[:, 20:95])
    # What comes after the last filmed sample changes nothing.
    longer = fly(
        wish, replace(ride, filming=np.arange(120) >= 20 + np.zeros((2, 1))), make_aircraft(), STILL
    )
    np.testing.assert_allclose(longer.xyz_m[:, :75], track.xyz_m, atol=1e-9)


@pytest.mark.parametrize("delay", [0.5, 0.33])
def test_side_tracking_on_the_flat_runs_abeam_and_behind(
    north: Ride, make_aircraft: Make, level: Stage, delay: float
) -> None:
    track = fly(
        side("left").place(north, level), north, make_aircraft(response_delay_s=delay), STILL
    )
    rider_to_aircraft = track.xyz_m - track.ride.xyz_m
    expected = np.broadcast_to([-12.0, -6.0 * delay, 6.0], (1, 200, 3))
    np.testing.assert_allclose(rider_to_aircraft, expected, atol=1e-6)
    np.testing.assert_allclose(track.velocity_m_s[..., 1], 6.0)
    # The camera looks at the rider as he was, so straight across.
    np.testing.assert_allclose(track.camera_azimuth_rad, math.pi / 2, atol=1e-6)
    np.testing.assert_allclose(track.camera_elevation_rad, math.atan2(-5.0, 12.0), atol=1e-6)
    np.testing.assert_array_equal(track.heading_rad, track.camera_azimuth_rad)
    assert track.known.all()


def test_side_tracking_north_of_a_ride_north_leads_and_flies_backward(
    north: Ride, make_aircraft: Make, level: Stage
) -> None:
    track = fly(side("north").place(north, level), north, make_aircraft(), STILL)
    ahead = track.xyz_m[0, :, 1] - track.ride.xyz_m[0, :, 1]
    np.testing.assert_allclose(ahead, 12.0 - 3.0, atol=1e-6)
    np.testing.assert_allclose(np.abs(track.heading_rad), math.pi, atol=1e-6)
    np.testing.assert_allclose(track.velocity_m_s[0, :, 1], 6.0)


def test_the_light_one_side_tracks_blind_and_the_all_round_one_does_not(
    north: Ride, make_aircraft: Make, level: Stage
) -> None:
    wish = side("left").place(north, level)
    for senses, blind in (("folding-light", True), ("folding-all-round", False)):
        aircraft = make_aircraft(senses)
        track = fly(wish, north, aircraft, STILL)
        result = aircraft.blind(track.velocity_m_s, track.heading_rad)
        np.testing.assert_array_equal(result, blind)
    # Following behind, the light one sees where it goes.
    light = make_aircraft("folding-light")
    behind = fly(BEHIND.place(north, level), north, light, STILL)
    assert not light.blind(behind.velocity_m_s, behind.heading_rad).any()


def test_a_camera_that_turns_freely_leaves_the_nose_on_course(
    north: Ride, make_aircraft: Make, level: Stage
) -> None:
    aircraft = make_aircraft(camera_turns_freely=True)
    track = fly(side("left").place(north, level), north, aircraft, STILL)
    np.testing.assert_allclose(track.heading_rad, 0.0, atol=1e-6)
    np.testing.assert_allclose(track.camera_azimuth_rad, math.pi / 2, atol=1e-6)
    assert not aircraft.blind(track.velocity_m_s, track.heading_rad).any()


def test_a_braking_rider_lets_it_swing_to_the_front(
    make_ride: Callable[..., Ride], make_aircraft: Make, level: Stage
) -> None:
    b, w = 1.0, 0.9
    t = (np.arange(160) - 20) * STEP_S
    north = 9.0 * t - 0.5 * b * np.clip(t, 0.0, 9.0) ** 2 - np.maximum(t - 9.0, 0.0) * 9.0
    ride = make_ride(np.stack([0.0 * t, north], axis=-1)[None])
    track = fly(side("left").place(ride, level), ride, make_aircraft(), STILL)
    delayed = np.interp(track.ride.t_s - 0.5, t, north)
    ahead = track.xyz_m[0, :, 1] - delayed
    assert ahead.max() == pytest.approx(b / w**2, rel=0.02)  # DEFINITIONS "Following"
    assert ahead[0] == pytest.approx(0.0, abs=1e-6)


@pytest.mark.parametrize(("speed", "radius"), [(4.0, 12.0), (6.0, 25.0)])
def test_round_a_bend_following_behind_settles_where_the_law_says(
    make_ride: Callable[..., Ride], make_aircraft: Make, level: Stage, speed: float, radius: float
) -> None:
    t = np.arange(500) * STEP_S
    turn = speed / radius * t
    ride = make_ride(radius * np.stack([np.sin(turn), np.cos(turn)], axis=-1)[None])
    track = fly(BEHIND.place(ride, level), ride, make_aircraft(), STILL)
    s, w = 1j * speed / radius, 0.9
    gain = abs((w**2 + 2 * w * s) / (s**2 + 2 * w * s + w**2))  # DEFINITIONS "Following"
    settled = np.hypot(*track.xyz_m[0, -100:, :2].T)
    np.testing.assert_allclose(settled, gain * math.hypot(radius, 8.0), atol=0.05)


def test_an_orbit_round_a_place_keeps_its_radius_whatever_the_rider_does(
    make_ride: Callable[..., Ride], make_aircraft: Make, level: Stage
) -> None:
    ride = make_ride(there_and_back())
    track = fly(ROCK.place(ride, level), ride, make_aircraft(), np.array([2.0, 1.0, 0.0]))
    out = np.hypot(*(track.xyz_m[0, :, :2] - [40.0, 0.0]).T)
    assert np.abs(out - 25.0).max() < 0.1
    np.testing.assert_allclose(track.xyz_m[..., 2], 42.0)
    # No delay: the place's own middle is always in the middle of the picture.
    bearing = np.arctan2(*(np.array([40.0, 0.0]) - track.xyz_m[0, :, :2]).T)
    np.testing.assert_allclose(track.camera_azimuth_rad[0], bearing)


def test_downhill_never_swings_across_the_rider_and_left_does(
    make_ride: Callable[..., Ride], make_aircraft: Make, level: Stage
) -> None:
    ride = make_ride(there_and_back())
    assert np.ptp(ride.course_rad) > 3.0

    def west_of_him(style: Style) -> Array:
        track = fly(style.place(ride, level), ride, make_aircraft(), STILL)
        return track.ride.xyz_m[0, :, 0] - track.xyz_m[0, :, 0]

    np.testing.assert_allclose(west_of_him(side("downhill")), 12.0, atol=1e-6)
    left = west_of_him(side("left"))
    assert left[0] > 11.0
    assert left[-1] < -11.0


def test_wind_that_is_too_strong_carries_it_off(
    north: Ride, make_aircraft: Make, level: Stage
) -> None:
    wish = side("left").place(north, level)
    calm = fly(wish, north, make_aircraft(), STILL)
    breeze = fly(wish, north, make_aircraft(), np.array([0.0, -5.0, 0.0]))
    np.testing.assert_allclose(breeze.xyz_m, calm.xyz_m, atol=1e-9)  # within its airspeed
    gale = fly(wish, north, make_aircraft(), np.array([0.0, -9.0, 0.0]))
    # 12 through the air against 9 is 3 over the ground: in 20 s it loses (6 - 3)·20 m.
    assert calm.xyz_m[0, -1, 1] - gale.xyz_m[0, -1, 1] == pytest.approx(3.0 * 19.9, abs=0.2)


def test_unknown_ground_makes_the_track_unknown(
    north: Ride, make_aircraft: Make, level: Stage
) -> None:
    wish = side("left").place(north, level)
    ground_known = np.array(north.ground_known)
    ground_known[0, 30] = False
    known = np.array(wish.known)
    known[0, 40] = False
    track = fly(
        replace(wish, known=known),
        replace(north, ground_known=ground_known),
        make_aircraft(),
        STILL,
    )
    assert np.flatnonzero(~track.known[0]).tolist() == [10, 20]


def test_each_ride_may_answer_in_its_own_way(
    north: Ride, make_aircraft: Make, level: Stage
) -> None:
    rows = {f.name: getattr(north, f.name) for f in fields(north)}
    two = Ride(**{k: v if k == "t_s" else np.repeat(v, 2, axis=0) for k, v in rows.items()})
    track = fly(
        side("left").place(two, level),
        two,
        make_aircraft(),
        np.zeros((2, 3)),
        delay_s=np.array([0.5, 0.8]),
        response_rad_s=np.array([0.9, 1.2]),
    )
    behind = track.ride.xyz_m[:, :, 1] - track.xyz_m[:, :, 1]
    np.testing.assert_allclose(behind[0], 3.0, atol=1e-6)
    np.testing.assert_allclose(behind[1], 4.8, atol=1e-6)
    np.testing.assert_allclose(track.camera_azimuth_rad, math.pi / 2, atol=1e-6)


def test_straight_overhead_the_camera_keeps_its_azimuth() -> None:
    aircraft_to_aim = np.array([[[0, 0, -5], [0, 3, -5], [0, 0, -5], [1e-7, 0, -5], [4, 0, 0]]])
    azimuth, elevation = look(aircraft_to_aim.astype(float))
    np.testing.assert_allclose(azimuth, [[0.0, 0.0, 0.0, 0.0, math.pi / 2]])
    np.testing.assert_allclose(elevation[0, [0, 4]], [-math.pi / 2, 0.0])
    azimuth, _ = look(aircraft_to_aim[:, ::-1].astype(float))
    np.testing.assert_allclose(azimuth, [[math.pi / 2] * 3 + [0.0, 0.0]])


def test_course_is_held_while_it_hardly_moves() -> None:
    velocity = np.zeros((2, 4, 3))
    velocity[0, :, 0] = [2.0, 0.4, 0.0, 0.0]
    velocity[0, :, 1] = [0.0, -0.1, -0.5, -0.6]
    camera = np.full((2, 4), 0.7)
    nose = along_course(velocity, camera)
    np.testing.assert_allclose(nose[0], [math.pi / 2] * 3 + [math.pi])
    np.testing.assert_array_equal(nose[1], 0.7)


STYLES: list[Style] = [
    side("left"),
    side("toward:rock"),
    side("downhill"),
    BEHIND,
    ROCK,
    replace(ROCK, around="rider", radius_m=10.0),
]


def mirrored(style: Style) -> Style:
    if isinstance(style, Orbit):
        return replace(style, direction="anticlockwise", start_deg=-style.start_deg)
    return replace(style, side="right") if style == side("left") else style


def world_seen(ride: Ride, stage: Stage, turn: float, mirror: bool) -> tuple[Array, Ride, Stage]:
    """The matrix, the ride and the stage: turned clockwise, then east and west change sides."""
    sign = -1.0 if mirror else 1.0
    c, s = math.cos(turn), math.sin(turn)
    world = np.diag([sign, 1.0, 1.0]) @ np.array([[c, s, 0.0], [-s, c, 0.0], [0.0, 0.0, 1.0]])
    return (
        world,
        replace(
            ride,
            xyz_m=ride.xyz_m @ world.T,
            known_xyz_m=ride.known_xyz_m @ world.T,
            course_rad=sign * (ride.course_rad + turn),
        ),
        stage._replace(
            places={k: v @ world.T for k, v in stage.places.items()},
            feet={k: v @ world.T for k, v in stage.feet.items()},
            downhill_rad=sign * (stage.downhill_rad + turn),
        ),
    )


@pytest.mark.parametrize("style", STYLES, ids=str)
@settings(
    deadline=None, max_examples=10, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(turn=st.floats(-math.pi, math.pi), mirror=st.booleans())
def test_turning_and_mirroring_the_world_turns_and_mirrors_the_track(
    make_ride: Callable[..., Ride],
    make_aircraft: Make,
    level: Stage,
    style: Style,
    turn: float,
    mirror: bool,
) -> None:
    t = np.arange(100) * STEP_S
    ride = make_ride(np.stack([4.0 * t + np.sin(t), 5.0 * np.cos(0.8 * t)], axis=-1)[None])
    world, ride_there, stage_there = world_seen(ride, level, turn, mirror)
    style_there = mirrored(style) if mirror else style
    if isinstance(style_there, Orbit):
        sign = -1.0 if mirror else 1.0
        start = style_there.start_deg + sign * math.degrees(turn)
        style_there = replace(style_there, start_deg=start)
    wind = np.array([3.0, -1.0, 0.0])
    here = fly(style.place(ride, level), ride, make_aircraft(), wind)
    wish_there = style_there.place(ride_there, stage_there)
    there = fly(wish_there, ride_there, make_aircraft(), world @ wind)
    np.testing.assert_allclose(there.xyz_m, here.xyz_m @ world.T, atol=1e-6)
    np.testing.assert_allclose(there.velocity_m_s, here.velocity_m_s @ world.T, atol=1e-6)
    sign = -1.0 if mirror else 1.0
    off = there.camera_azimuth_rad - sign * (here.camera_azimuth_rad + turn)
    np.testing.assert_allclose(np.cos(off), 1.0, atol=1e-9)
    np.testing.assert_allclose(there.camera_elevation_rad, here.camera_elevation_rad, atol=1e-6)


def test_row_0_does_not_depend_on_the_others(
    make_ride: Callable[..., Ride], make_aircraft: Make, level: Stage
) -> None:
    t = np.arange(100) * STEP_S
    rows = np.stack([np.stack([a * t, np.sin(a * t)], axis=-1) for a in (4.0, 5.0, 6.0)])
    together = make_ride(rows)
    alone = make_ride(rows[:1])

    def flown(ride: Ride) -> Track:
        wish: Wish = side("left").place(ride, level)
        return fly(wish, ride, make_aircraft(), np.array([1.0, 2.0, 0.0]))

    a, b = flown(together), flown(alone)
    for f in fields(Track):
        if f.name != "ride":
            np.testing.assert_array_equal(getattr(a, f.name)[0], getattr(b, f.name)[0])


def test_held_straight_down_the_picture_turns_with_the_delay(
    make_ride: Callable[..., Ride], make_aircraft: Make, level: Stage
) -> None:
    # A circle of 30 m at 6 m/s, past north: the course turns by 0.2 rad/s, so by 0.1 in 0.5 s.
    turn = 0.2 * np.arange(420) * STEP_S
    ride = make_ride(30.0 * np.stack([np.sin(turn), np.cos(turn)], axis=-1)[None])
    wish = TopDown(height_m=12.0).place(ride, level)
    track = fly(wish, ride, make_aircraft(), STILL)
    behind = ride.course_rad[:, ride.first :] - track.camera_azimuth_rad
    inner = slice(None), slice(0, -1)
    np.testing.assert_allclose(np.mod(behind[inner] + 1.0, 2 * math.pi), 1.1, atol=1e-3)
    np.testing.assert_array_equal(track.camera_elevation_rad, -math.pi / 2)
    np.testing.assert_array_equal(track.heading_rad, track.camera_azimuth_rad)


def test_wishes_that_aim_and_that_look_down_are_flown_side_by_side(
    north: Ride, make_aircraft: Make, level: Stage
) -> None:
    wishes = [s.place(north, level) for s in (TopDown(height_m=12.0), BEHIND)]
    together = fly_alike(wishes, north, make_aircraft(), STILL)
    for mine, wish in zip(together, wishes, strict=True):
        alone = fly(wish, north, make_aircraft(), STILL)
        for name in ("xyz_m", "heading_rad", "camera_azimuth_rad", "camera_elevation_rad"):
            np.testing.assert_array_equal(getattr(mine, name), getattr(alone, name))


def test_a_rise_is_flown_as_wished(north: Ride, make_aircraft: Make, level: Stage) -> None:
    wish = Rise(at="rock", height_m=2.0, to_height_m=20.0, speed_m_s=2.0).place(north, level)
    track = fly(wish, north, make_aircraft(), STILL)
    np.testing.assert_allclose(track.xyz_m, wish.camera_xyz_m[:, north.first :], atol=0.1)
    np.testing.assert_allclose(track.xyz_m[..., :2], wish.camera_xyz_m[:, 20:, :2], atol=1e-9)
    # Faster than it climbs: 4 m/s is all it has.
    fast = Rise(at="rock", height_m=2.0, to_height_m=90.0, speed_m_s=6.0).place(north, level)
    up = fly(fast, north, make_aircraft(), STILL)
    assert up.velocity_m_s[..., 2].max() <= 4.0


def test_a_fly_by_meets_the_rider_abeam_without_delay(
    north: Ride, make_aircraft: Make, level: Stage
) -> None:
    style = FlyBy(side="left", distance_m=12.0, height_m=6.0, speed_m_s=9.0, direction="against")
    track = fly(style.place(north, level), north, make_aircraft(), STILL)
    # 200 samples are filmed: half way between number 99 and 100 it is abeam.
    off = (track.xyz_m - track.ride.xyz_m)[0, 99:101].mean(axis=0)
    np.testing.assert_allclose(off, [-12.0, 0.0, 6.0], atol=1e-6)
    np.testing.assert_allclose(
        track.velocity_m_s[0], np.tile([0.0, -9.0, 0.0], (200, 1)), atol=1e-6
    )
