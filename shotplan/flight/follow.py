"""Where the aircraft flies, and where its nose and camera point, when it follows a wish."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from shotplan.kernels.motion import following, setpoints
from shotplan.kernels.motion.sensing import SLOW_M_S
from shotplan.kernels.rides.runs import held
from shotplan.model.aircraft import Aircraft
from shotplan.model.arrays import Array
from shotplan.model.flight import Track, Wish
from shotplan.model.ride import STEP_S, Ride

OVERHEAD_M = 1e-6  # nearer in plan than this a camera's azimuth means nothing


def fly(
    wish: Wish,
    ride: Ride,
    aircraft: Aircraft,
    wind_m_s: Array,
    substep_s: float = 0.02,
    *,
    delay_s: Array | None = None,
    response_rad_s: Array | None = None,
    push_m_s2: Array | None = None,
) -> Track:
    """Fly after `wish` from the ride's first filmed sample to the last that any ride films.

    `ride` and `wish` cover the same samples, lead-in included; the track covers the filmed ones.
    `wind_m_s (3,)` or `(r, 3)` is the vector the air moves toward. `delay_s`, `response_rad_s
    (r,)` where rides differ in them (default: the aircraft's); `push_m_s2 (r, n, 3)` what gusts
    add, over the samples of the wish. The nose points where the camera points in azimuth, or along
    the flight's own course where the camera turns freely; held straight down, the camera's picture
    is turned with the delay too. How fast nose and camera can turn is not modelled: the pace check
    compares it.
    """
    return fly_alike(
        (wish,), ride, aircraft, wind_m_s, substep_s,
        delay_s=delay_s, response_rad_s=response_rad_s, push_m_s2=push_m_s2,
    )[0]  # fmt: skip


def fly_alike(
    wishes: Sequence[Wish],
    ride: Ride,
    aircraft: Aircraft,
    wind_m_s: Array,
    substep_s: float = 0.02,
    *,
    delay_s: Array | None = None,
    response_rad_s: Array | None = None,
    push_m_s2: Array | None = None,
    limits: Sequence[following.Limits] | None = None,
) -> list[Track]:
    """`fly` after several wishes over the same rides, all of which follow the rider or none: the
    same as one by one, only quicker. `limits`: one for each wish, where not the aircraft's own."""
    follows = wishes[0].follows_rider
    if any(w.follows_rider != follows for w in wishes):
        raise ValueError("wanted wishes that all follow the rider, or none")
    times, rides = len(wishes), ride.rides
    first, end = ride.first, ride.filmed.stop
    delay = np.full(rides, aircraft.response_delay_s) if delay_s is None else delay_s
    response = aircraft.response_rad_s if response_rad_s is None else response_rad_s
    level = np.ndim(wind_m_s) == 1
    flown = following.follow(
        # Differences at the last sample look one ahead.
        np.concatenate([w.camera_xyz_m[:, : end + 2] for w in wishes]),
        first,
        STEP_S,
        np.tile(delay, times) if follows else 0.0,
        np.tile(np.broadcast_to(response, (rides,)), times),
        aircraft.limits if limits is None else _each(limits, rides),
        wind_m_s if level else np.tile(wind_m_s, (times, 1)),
        own_acceleration=not follows,
        substep_s=substep_s,
        push_m_s2=None if push_m_s2 is None else np.concatenate([push_m_s2] * times),
    )
    part = ride.samples(slice(first, end))
    free = aircraft.camera_turns_freely
    tracks = []
    for index, wish in enumerate(wishes):
        rows = slice(index * rides, (index + 1) * rides)
        own = following.Flown(*(a[rows, : end - first] for a in flown))
        tracks.append(_track(wish, part, own, first, delay, free))
    return tracks


def _each(limits: Sequence[following.Limits], rides: int) -> following.Limits:
    """Limits of all rides after one wish, then of all after the next."""
    return following.Limits(*(np.repeat(v, rides) for v in np.array(limits, dtype=float).T))


def _track(
    wish: Wish, part: Ride, own: following.Flown, first: int, delay_s: Array, free: bool
) -> Track:
    """What was flown after one wish over a part of the ride, from its sample `first` on; `free`:
    the camera turns freely."""
    azimuth, elevation = _pointed(wish, own.xyz_m, first, delay_s)
    known = wish.known[:, first : first + own.xyz_m.shape[1]]
    return Track(
        ride=part,
        xyz_m=own.xyz_m,
        velocity_m_s=own.velocity_m_s,
        heading_rad=along_course(own.velocity_m_s, azimuth) if free else azimuth,
        camera_azimuth_rad=azimuth,
        camera_elevation_rad=elevation,
        asked_m_s2=own.asked_m_s2,
        setpoint_velocity_m_s=own.setpoint_velocity_m_s,
        known=part.ground_known & known,
    )


def _pointed(wish: Wish, xyz_m: Array, first: int, delay_s: float | Array) -> tuple[Array, Array]:
    """Azimuth and elevation `(r, n)` of the camera at `xyz_m (r, n, 3)`, from sample `first` on."""
    end = first + xyz_m.shape[1]
    ago = np.asarray(delay_s) / STEP_S
    aim = wish.aim_xyz_m[:, first:end]
    if wish.aim_follows_rider:
        aim = following.as_it_was(wish.aim_xyz_m[:, :end], first, ago)
    azimuth, elevation = look(aim - xyz_m)
    if wish.down_toward_rad is None:
        return azimuth, elevation
    toward = np.unwrap(wish.down_toward_rad[:, :end], axis=1)
    toward = following.as_it_was(toward[..., None], first, ago)[..., 0]
    aims = np.isnan(toward)
    return np.where(aims, azimuth, toward), np.where(aims, elevation, -np.pi / 2.0)


def look(aircraft_to_aim_m: Array) -> tuple[Array, Array]:
    """Azimuth and elevation `(r, n)` along `aircraft_to_aim_m (r, n, 3)`.

    Straight overhead the azimuth is held from before (from after, at the start).
    """
    level = np.hypot(aircraft_to_aim_m[..., 0], aircraft_to_aim_m[..., 1])
    azimuth = setpoints.azimuth_rad(aircraft_to_aim_m)
    return held(azimuth, level >= OVERHEAD_M), np.arctan2(aircraft_to_aim_m[..., 2], level)


def along_course(velocity_m_s: Array, otherwise_rad: Array) -> Array:
    """The nose `(r, n)` of an aircraft that flies along its own course over the ground.

    Held while it is slower than 0.5 m/s; `otherwise_rad` for a ride on which it never is faster.
    """
    fast = np.hypot(velocity_m_s[..., 0], velocity_m_s[..., 1]) > SLOW_M_S
    course = held(setpoints.azimuth_rad(velocity_m_s), fast)
    return np.where(fast.any(axis=1, keepdims=True), course, otherwise_rad)
