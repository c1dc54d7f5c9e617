"""Orbits against reference/physics.md 3.1: a = v²/r, yaw v/r, lap 2πr/v."""

import math

import numpy as np
import pytest

from shotplan.kernels.motion.following import Limits, follow
from shotplan.model.arrays import Array
from shotplan.model.flight import Stage, Wish
from shotplan.model.ride import STEP_S, Ride
from shotplan.styles.orbit import Orbit

STRONG = Limits(20.0, 4.0, 3.0, 8.0)
ORIGIN = np.zeros(3)


def straight_ride(speed_m_s: float, samples: int, lead: int = 20) -> Ride:
    """North from the origin; 2 s of lead-in."""
    t = (np.arange(samples, dtype=float) - lead) * STEP_S
    xyz = np.stack([0.0 * t, speed_m_s * t, 0.0 * t], axis=-1)[None]
    everywhere = np.ones((1, samples), dtype=bool)
    return Ride(
        t_s=t,
        xyz_m=xyz,
        known_xyz_m=xyz,
        speed_m_s=speed_m_s * everywhere,
        course_rad=np.zeros((1, samples)),
        along_m=speed_m_s * (t - t[0])[None],
        filming=t[None] >= 0.0,
        ground_known=everywhere,
    )


def wish_of(style: Orbit, ride: Ride) -> Wish:
    feet = {"rock": ORIGIN}
    return style.place(ride, Stage(lambda xy: np.zeros(xy.shape[:-1]), feet, feet, 0.0, math.nan))


def orbit(speed: float, radius: float) -> Orbit:
    return Orbit(
        around="rock", radius_m=radius, height_m=10.0, speed_m_s=speed, direction="clockwise"
    )


def flown(speed: float, radius: float) -> tuple[Array, Array]:
    """Place and velocity `(n, 3)` over 30 s, short of the last moment: the wish ends there."""
    wish = wish_of(orbit(speed, radius), straight_ride(5.0, 322))
    track = follow(wish.camera_xyz_m, 20, STEP_S, 0.0, 0.9, STRONG, ORIGIN, True)
    return track.xyz_m[0, :-1], track.velocity_m_s[0, :-1]


# reference/physics.md 3.1, computed there: speed, radius, acceleration, yaw rate, lap.
TABLE = [
    (5.0, 20.0, 1.250, 14.32, 25.13),
    (5.0, 10.0, 2.500, 28.65, 12.57),
    (8.0, 15.0, 4.267, 30.56, 11.78),
    (10.0, 20.0, 5.000, 28.65, 12.57),
    (10.0, 30.0, 3.333, 19.10, 18.85),
]


@pytest.mark.parametrize(("speed", "radius", "acceleration", "yaw_deg_s", "lap_s"), TABLE)
def test_orbit_table(
    speed: float, radius: float, acceleration: float, yaw_deg_s: float, lap_s: float
) -> None:
    xyz, velocity = flown(speed, radius)
    assert np.abs(np.hypot(xyz[:, 0], xyz[:, 1]) - radius).max() < 0.1
    # The camera looks at the middle, so it turns as the bearing does.
    bearing = np.unwrap(np.arctan2(-xyz[:, 0], -xyz[:, 1]))
    rate = np.diff(bearing) / STEP_S
    np.testing.assert_allclose(np.degrees(rate), yaw_deg_s, atol=0.1)
    lap = np.interp(bearing[0] + 2 * math.pi, bearing, np.arange(len(bearing)) * STEP_S)
    assert lap == pytest.approx(lap_s, abs=0.02)
    gained = np.hypot(*(np.diff(velocity[:, :2], axis=0) / STEP_S).T)
    np.testing.assert_allclose(gained, acceleration, rtol=0.01)


def test_an_orbit_too_tight_for_it_shrinks_to_what_it_can_turn() -> None:
    # 5 m/s² for 10 m/s on 20 m (same table): with 4 m/s² it keeps the pace of the turn,
    # 0.5 rad/s, and after some swings the radius that needs no more: a/ω² = 16 m.
    wish = wish_of(orbit(10.0, 20.0), straight_ride(5.0, 1821))
    weak = STRONG._replace(acceleration_m_s2=4.0)
    track = follow(wish.camera_xyz_m, 20, STEP_S, 0.0, 0.9, weak, ORIGIN, True)
    settled = np.hypot(*track.xyz_m[0, -100:-1, :2].T)
    np.testing.assert_allclose(settled, 16.0, atol=0.05)
    assert (track.asked_m_s2[0, -100:-1] > 4.0).all()


def test_round_a_moving_rider_speeds_add_and_subtract() -> None:
    # reference/physics.md 3.1: rider 5 m/s, radius 15 m, lap 30 s: 3.14 m/s relative to him, peak
    # 8.14 m/s over the ground (and 5 - 3.14 = 1.86 at least).
    relative = 2 * math.pi * 15.0 / 30.0
    style = Orbit(
        around="rider", radius_m=15.0, height_m=10.0, speed_m_s=relative, direction="clockwise"
    )
    wish = wish_of(style, straight_ride(5.0, 921))
    over_ground = np.diff(wish.camera_xyz_m[0, :, :2], axis=0) / STEP_S
    speed = np.hypot(*over_ground.T)
    assert relative == pytest.approx(3.14, abs=0.005)
    assert speed.max() == pytest.approx(8.14, abs=0.01)
    assert speed.min() == pytest.approx(1.86, abs=0.01)
    # Followed, the circle is as much wider as the law's gain at one turn in 30 s says.
    track = follow(wish.camera_xyz_m, 20, STEP_S, 0.5, 0.9, STRONG, ORIGIN, False)
    s, w = 2j * math.pi / 30.0, 0.9
    gain = abs((w**2 + 2 * w * s) / (s**2 + 2 * w * s + w**2))
    rider = straight_ride(5.0, 921).xyz_m[0, 20:]
    out = track.xyz_m[0] - rider + [0.0, 5.0 * 0.5, 0.0]
    np.testing.assert_allclose(np.hypot(*out[-300:, :2].T), 15.0 * gain, atol=0.02)
