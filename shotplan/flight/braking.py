"""How near the aircraft comes to a rider who brakes, wherever on the ride he does."""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from shotplan.kernels.motion import following, sensing, setpoints
from shotplan.model.aircraft import Aircraft
from shotplan.model.arrays import Array
from shotplan.model.flight import Stage, Style, Track, Wish
from shotplan.model.ride import RIDER_BRAKES_M_S2, STEP_S, Ride

WATCH_S = 6.0  # after the rider has stopped
SETTLE_S = 10.0  # steady riding before it, in which a turning set point is settled behind
RIDER_M = 2.0  # the upright line that stands for the rider
CHUNK = 300  # events flown side by side


def least_gap_when_braking(
    style: Style,
    track: Track,
    stage: Stage,
    aircraft: Aircraft,
    wind_m_s: Array,
    brakes_m_s2: float = RIDER_BRAKES_M_S2,
    substep_s: float = 0.02,
) -> Array:
    """Least distance `(n,)` of aircraft and rider, should he brake at that sample of row 0.

    For every sample of `track` the rider comes along straight and evenly at that sample's speed,
    course and elevation, the aircraft settled behind its set point, and brakes to rest at
    `brakes_m_s2`. The distance is that of the aircraft's centre to an upright line from the
    rider's ground point to 2 m, the least from the first touch of the brake until 6 s after he
    stands. The ground under the set point stays what it is as he starts to brake. An aircraft that
    does not follow the rider flies on along `track`; beyond its end nothing is asked.
    `wind_m_s (3,)`.
    """
    gaps = []
    for start in range(0, track.ride.speed_m_s.shape[1], CHUNK):
        events = _events(track, start, aircraft.response_delay_s, brakes_m_s2)
        wish = style.place(events.ride, _held_ground(events, stage))
        if wish.follows_rider:
            flown = _following(wish, events, aircraft, wind_m_s, substep_s)
        else:
            flown = _as_planned(track, events)
        gap = sensing.upright_gap_m(flown, _aligned(events.ride.xyz_m, events, 0), RIDER_M)
        asked = np.arange(gap.shape[1]) * STEP_S <= events.lasts_s[:, None] + 1e-9
        gaps.append(np.where(asked, gap, np.inf).min(axis=1))
    return np.concatenate(gaps)


class _Events(NamedTuple):
    """Some samples, each a ride that ends in braking, all on the clock of the shot.

    Event i brakes at sample `before + i` of `ride` and is watched for `after` samples from there,
    as long as `lasts_s (r,)`. Of the `before` samples the earliest `lookback` are only looked back
    at; the others are there to settle in. `first` is event 0's sample in the track.
    """

    ride: Ride
    lasts_s: Array
    first: int
    before: int
    lookback: int
    after: int


def _events(track: Track, first: int, delay_s: float, brakes_m_s2: float) -> _Events:
    """Samples first.. of row 0, at most `CHUNK`, as rides that brake."""
    part = track.ride.samples(slice(first, first + CHUNK))
    speed, course = part.speed_m_s[0], part.course_rad[0]
    lasts = speed / brakes_m_s2 + WATCH_S
    lookback = math.ceil(delay_s / STEP_S) + 1
    before = lookback + math.ceil(SETTLE_S / STEP_S)
    after = math.ceil(lasts.max() / STEP_S) + 1
    count = len(speed)
    sample = np.arange(before + count + after + 1)
    since = (sample - before - np.arange(count)[:, None]) * STEP_S
    braking = np.clip(since, 0.0, (speed / brakes_m_s2)[:, None])
    gone = speed[:, None] * np.minimum(since, braking) - 0.5 * brakes_m_s2 * braking**2
    xyz = np.repeat(part.xyz_m[0][:, None], len(sample), axis=1)
    xyz[..., :2] += gone[..., None] * setpoints.unit(course)[:, None]
    everywhere = np.ones(since.shape, dtype=bool)
    ride = Ride(
        t_s=part.t_s[0] + (sample - before) * STEP_S,
        xyz_m=xyz,
        known_xyz_m=xyz,
        speed_m_s=speed[:, None] - brakes_m_s2 * braking,
        course_rad=np.repeat(course[:, None], len(sample), axis=1),
        along_m=part.along_m[0][:, None] + gone,
        filming=everywhere,
        ground_known=everywhere,
    )
    return _Events(ride, lasts, first, before, lookback, after)


def _aligned(values: Array, events: _Events, back: int) -> Array:
    """Each event's own window of `values (r, n, 3)`, from `back` samples before its braking."""
    rows = np.arange(len(values))[:, None]
    window = events.before - back + rows + np.arange(back + events.after)
    return np.asarray(values[rows, window])


def _held_ground(events: _Events, stage: Stage) -> Stage:
    """The stage with the ground under the set point held at what it is as the braking starts."""

    def ground_m(xy_m: Array) -> Array:
        if xy_m.ndim == 2:  # one line for every ride: it does not follow, and nothing is held
            return stage.ground_m(xy_m)
        rows = np.arange(len(xy_m))
        under = stage.ground_m(xy_m[rows, events.before + rows])
        return np.broadcast_to(under[:, None], xy_m.shape[:-1])

    return stage._replace(ground_m=ground_m)


def _following(
    wish: Wish, events: _Events, aircraft: Aircraft, wind_m_s: Array, substep_s: float
) -> Array:
    """The aircraft behind each event's set points, `(r, after, 3)`.

    Set points that keep their place beside the rider need no settling in.
    """
    beside_m = wish.camera_xyz_m - events.ride.xyz_m
    steady = float(np.ptp(beside_m, axis=1).max()) < 1e-6
    settle = 0 if steady else events.before - events.lookback
    flown = following.follow(
        _aligned(wish.camera_xyz_m, events, settle + events.lookback),
        events.lookback,
        STEP_S,
        aircraft.response_delay_s,
        aircraft.response_rad_s,
        aircraft.limits,
        wind_m_s,
        own_acceleration=False,
        substep_s=substep_s,
    )
    return flown.xyz_m[:, settle:]


def _as_planned(track: Track, events: _Events) -> Array:
    """The planned track from each event on, `(r, after, 3)`; infinitely far beyond its end."""
    count = track.xyz_m.shape[1]
    at = events.first + np.arange(len(events.lasts_s))[:, None] + np.arange(events.after)
    xyz = track.xyz_m[0][np.minimum(at, count - 1)]
    return np.where((at < count)[..., None], xyz, np.inf)
