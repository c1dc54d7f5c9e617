"""One ride into many: another speed, sudden brakes, errors of place, gusts, another response.

Seeded: the same settings and seed give the same rides. Row 0 stays the undisturbed ride.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import NamedTuple

import numpy as np

from shotplan.kernels.rides.runs import held
from shotplan.model.arrays import Array
from shotplan.model.disturbance import Disturbance, Spread
from shotplan.model.ride import STEP_S, Ride
from shotplan.ride.along import AFTER_S, HALF_STEPS, SLOWEST_M_S
from shotplan.ride.brakes import Braked, chosen

SLOW_M_S = 0.1  # a standing rider brakes from this speed, so that nothing is divided by nought
FACTOR_MOST = 1.5  # no ride is faster or slower than this many times


class Disturbed(NamedTuple):
    """`ride` of r rows; `own_error_m (r,n,3)` of the aircraft's own place (for what does not
    follow the rider); `push_m_s2 (r,n,3)` of gusts; `delay`, `response (r,)` factors of the
    aircraft's own. Row 0 is undisturbed."""

    ride: Ride
    own_error_m: Array
    push_m_s2: Array
    delay: Array
    response: Array


def disturb(
    ride: Ride, said: Disturbance, spread: Spread, braked: Sequence[Braked] = ()
) -> Disturbed:
    """`said.rows` rides out of `ride` (one row, lead-in and a little after it included); `braked`:
    where some of them brake as on other recordings.

    All begin to be filmed at the same place and the same moment; then each has a clock of its own,
    so compare them by place. A ride that ends earlier goes straight on, unfilmed.
    """
    rng = [np.random.default_rng(s) for s in np.random.SeedSequence(said.seed).spawn(6)]
    rides = said.rows
    factor = _factors(rng[0], said.speed_sigma, rides)
    low, high = ride.along_m[0, ride.filming[0]][[0, -1]]
    known = [b for b in braked if low <= b.at_m <= high]
    brakes = _with(_brakes(rng[1], said, ride, rides), *chosen(rng[5], known, rides))
    at = _warped(ride, factor, brakes, said)
    many = _ridden(ride, at)
    error, own = _errors(rng[2], at, spread, ride.first)
    many = replace(many, known_xyz_m=many.xyz_m + error)
    push = _gauss_markov(rng[3], at.shape, 2, spread.push_s) @ spread.push_m_s2.T
    push[0] = 0.0
    delay, response = (_factors(rng[4], spread.response, rides) for _ in range(2))
    level = np.zeros((*at.shape, 1))
    return Disturbed(many, own, np.concatenate([push, level], axis=-1), delay, response)


def _factors(rng: np.random.Generator, sigma: float, rides: int) -> Array:
    """Log-normal factors `(r,)`, the first 1."""
    drawn = np.exp(sigma * rng.standard_normal(rides))
    drawn[0] = 1.0
    return np.asarray(np.clip(drawn, 1.0 / FACTOR_MOST, FACTOR_MOST))


class _Brakes(NamedTuple):
    """Unplanned brakes `(r, m)` in order: the metre of the ride (+inf: no more), and down to
    which share of the speed."""

    at_m: Array
    to: Array


def _brakes(rng: np.random.Generator, said: Disturbance, ride: Ride, rides: int) -> _Brakes:
    """At random places of the filmed part, as many per kilometre as said, none for row 0."""
    along = ride.along_m[0, ride.filming[0]]
    low, high = float(along[0]), float(along[-1])
    count = rng.poisson(said.brakes_per_km * (high - low) / 1000.0, rides)
    count[0] = 0
    most = int(count.max()) + 1  # the last one never comes
    at = rng.uniform(low, high, (rides, most))
    at = np.sort(np.where(np.arange(most) < count[:, None], at, np.inf), axis=1)
    return _Brakes(at, rng.uniform(0.0, 1.0, (rides, most)))


def _with(brakes: _Brakes, at_m: Array, to: Array) -> _Brakes:
    """Brakes and others `(r, m)` of the same rides, in order."""
    at, down = np.hstack([at_m, brakes.at_m]), np.hstack([to, brakes.to])
    order = np.argsort(at, axis=1, kind="stable")
    return _Brakes(*(np.take_along_axis(v, order, axis=1) for v in (at, down)))


_CRUISE, _BRAKE, _PAUSE, _RESUME = range(4)


def _warped(ride: Ride, factor: Array, brakes: _Brakes, said: Disturbance) -> Array:
    """`(r, n)` the sample (fractional) of the undisturbed ride at which each ride is.

    Before the first filmed sample each keeps its own steady factor; until all have ended and a
    second more.
    """
    first, last = ride.first, int(np.flatnonzero(ride.filming[0])[-1])
    count = ride.speed_m_s.shape[1]
    rides = len(factor)
    index, speed = np.arange(count, dtype=float), ride.speed_m_s[0]
    at = np.interp(brakes.at_m, ride.along_m[0], index)
    at[np.isinf(brakes.at_m)] = np.inf
    sample = np.full(rides, float(first))
    share = np.ones(rides)
    phase = np.full(rides, _CRUISE)
    until, down_to = np.zeros(rides), np.zeros(rides)
    upcoming, next_at = np.zeros(rides, dtype=np.intp), at[:, 0].copy()
    path = [first + (np.arange(-first, 0)[:, None]) * factor]
    after = last + AFTER_S / STEP_S
    t, found = 0.0, list[Array]()
    while len(found) < count - first or sample.min() < after + 1.0:
        found.append(sample)
        before = share
        due = sample >= next_at
        b = np.flatnonzero(due | (phase != _CRUISE))  # all others ride on as they did
        if len(b):
            share = share.copy()
            own = np.maximum(factor[b] * np.interp(sample[b], index, speed), SLOW_M_S)
            new = due[b] & ((phase[b] == _CRUISE) | (phase[b] == _RESUME))
            down_to[b] = np.where(new, brakes.to[b, upcoming[b]], down_to[b])
            now = np.where(new, _BRAKE, phase[b])
            upcoming[b] += due[b]
            next_at[b] = at[b, upcoming[b]]
            slower = np.maximum(share[b] - said.brake_m_s2 / own * STEP_S, down_to[b])
            faster = np.minimum(share[b] + said.resume_m_s2 / own * STEP_S, 1.0)
            to = np.where(now == _BRAKE, np.minimum(slower, share[b]), share[b])
            share[b] = np.where(now == _RESUME, faster, to)
            stopped = (now == _BRAKE) & (share[b] <= down_to[b])
            until[b] = np.where(stopped, t + said.pause_s, until[b])
            done = (now == _PAUSE) & (t >= until[b])
            now = np.where(stopped, _PAUSE, np.where(done, _RESUME, now))
            phase[b] = np.where((now == _RESUME) & (share[b] >= 1.0), _CRUISE, now)
        sample = sample + factor * 0.5 * (before + share)
        t += STEP_S
    return np.ascontiguousarray(np.concatenate([path[0], np.array(found)]).T)


def _ridden(ride: Ride, at: Array) -> Ride:
    """The rides: where `at (r, n)` says, straight on beyond the ends; row 0 as it was."""
    first, last = ride.first, int(np.flatnonzero(ride.filming[0])[-1])
    count, length = at.shape[1], ride.speed_m_s.shape[1]
    xyz, along = _at(ride.xyz_m[0], at), _at(ride.along_m[0][:, None], at)[..., 0]
    level = ride.xyz_m[0, :, :2]
    before, after = (_at(level, more) for more in _around(at))
    speed, course = _motion(np.concatenate([before, xyz[..., :2], after], axis=1))
    xyz[0, :length], along[0, :length] = ride.xyz_m[0], ride.along_m[0]
    speed[0, :length], course[0, :length] = ride.speed_m_s[0], ride.course_rad[0]
    low, high = (np.clip(f(at), 0, length - 1).astype(np.intp) for f in (np.floor, np.ceil))
    known = ride.ground_known[0]
    filming = (np.arange(count) >= first) & (at <= last + 1e-6)
    return Ride(
        t_s=np.asarray(float(ride.t_s[0]) + np.arange(count) * STEP_S, dtype=float),
        xyz_m=xyz,
        known_xyz_m=xyz,
        speed_m_s=speed,
        course_rad=course,
        along_m=along,
        filming=filming,
        ground_known=known[low] & known[high],
    )


def _at(values: Array, at: Array) -> Array:
    """`values (n, d)` at fractional samples `at (r, n')`, straight on beyond the ends."""
    low = np.clip(np.floor(at), 0, len(values) - 2).astype(np.intp)
    part = at - low
    found = np.empty((*at.shape, values.shape[1]))
    for axis, value in enumerate(values.T):
        found[..., axis] = value[low] + part * np.diff(value)[low]
    return found


def _around(at: Array) -> tuple[Array, Array]:
    """One second before the first and after the last sample, at the pace of the ends."""
    steps = np.arange(1, HALF_STEPS + 1)
    before = at[:, :1] - steps[::-1] * (at[:, 1:2] - at[:, :1])
    return before, at[:, -1:] + steps * (at[:, -1:] - at[:, -2:-1])


def _motion(xy_m: Array) -> tuple[Array, Array]:
    """Speed and course `(r, n)` from 1 s before to 1 s after, the course held
    while slower than 1 m/s, of `xy_m (r, n + 2 s, 2)`."""
    moved = xy_m[:, 2 * HALF_STEPS :] - xy_m[:, : -2 * HALF_STEPS]
    speed = np.hypot(moved[..., 0], moved[..., 1]) / (2 * HALF_STEPS * STEP_S)
    course = np.mod(np.arctan2(moved[..., 0], moved[..., 1]), 2.0 * np.pi)
    return speed, held(course, speed >= SLOWEST_M_S)


def _errors(rng: np.random.Generator, at: Array, spread: Spread, first: int) -> tuple[Array, Array]:
    """`(r,n,3)` how far the rider is from where the aircraft believes him, and how far it is
    itself from where it believes to be; each as large as it is at that place of the ride. That of
    the height drifts like a receiver's, whatever it follows by.

    Held through the lead-in: the flight begins settled, not with the rate of a random step.
    """
    found = []
    for sigma, lasts_s in ((spread.follow_m, spread.follow_s), (spread.own_m, spread.own_s)):
        there = np.interp(at, np.arange(len(sigma)), sigma)
        level = _gauss_markov(rng, at.shape, 2, lasts_s) * there[..., None]
        upright = _gauss_markov(rng, at.shape, 1, spread.own_s) * spread.height_m
        series = np.concatenate([level, upright], axis=-1)
        series[:, : first + 1] = series[:, first + 1, None]
        series[0] = 0.0
        found.append(series)
    return found[0], found[1]


def _gauss_markov(
    rng: np.random.Generator, shape: tuple[int, ...], kinds: int, lasts_s: float
) -> Array:
    """`(r, n, kinds)` independent series of unit spread whose memory fades over `lasts_s`.

    First-order Gauss-Markov, exact from sample to sample, steady from the start. Where `lasts_s`
    is 0 every sample is drawn anew.
    """
    rides, count = shape
    keep = float(np.exp(-STEP_S / lasts_s)) if lasts_s > 0.0 else 0.0
    fresh = float(np.sqrt(1.0 - keep * keep))
    drawn = rng.standard_normal((count, rides, kinds))
    for i in range(1, count):
        drawn[i] = keep * drawn[i - 1] + fresh * drawn[i]
    return np.ascontiguousarray(drawn.transpose(1, 0, 2))
