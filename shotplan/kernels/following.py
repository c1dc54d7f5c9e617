"""How the aircraft follows its set point: delay, response, limits.

`a = w²(p* - p) + 2w(v* - v)` with p* the set point `delay_s` ago and v* its central difference
over 0.1 s; see DEFINITIONS "Following".
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

BLOCK = 64  # samples whose set points are laid out at once: bounds memory, keeps them in cache


class Limits(NamedTuple):
    """What the aircraft can do, SI."""

    airspeed_m_s: float
    climb_m_s: float
    sink_m_s: float
    acceleration_m_s2: float


class Flown(NamedTuple):
    """`xyz_m`, `velocity_m_s (r, n, 3)`; `asked_m_s2 (r, n)`: the level acceleration the law asked
    for before it was cut; `setpoint_velocity_m_s (r, n, 3)`: v* (the delayed set point's)."""

    xyz_m: Array
    velocity_m_s: Array
    asked_m_s2: Array
    setpoint_velocity_m_s: Array


def as_it_was(xyz_m: Array, first: int, ago: float | Array) -> Array:
    """`xyz_m (r, n, 3)` as it was `ago` samples earlier (fractional; scalar or `(r,)`).

    Returns `(r, n - first, 3)`, over samples first..n-1. Straight between samples, and straight
    on before the first and after the last.
    """
    rides, count, _ = xyz_m.shape
    steps = np.broadcast_to(np.asarray(ago, dtype=float), (rides,))
    path = xyz_m.transpose(1, 2, 0)
    return _between(path, np.arange(first, count)[:, None] - steps).transpose(2, 0, 1)


def follow(
    wish_xyz_m: Array,
    first: int,
    step_s: float,
    delay_s: float | Array,
    response_rad_s: float | Array,
    limits: Limits,
    wind_m_s: Array,
    own_acceleration: bool,
    substep_s: float = 0.02,
    push_m_s2: Array | None = None,
) -> Flown:
    """Fly after `wish_xyz_m (r, n, 3)`, sampled every `step_s`, from sample `first` to the end.

    The samples before `first` (the lead-in) are only looked back at; before them the wish is taken
    to go straight on. It starts at `first` against the delayed set point: same place, same
    velocity (within the limits). `delay_s`, `response_rad_s`: scalar or `(r,)`. `wind_m_s`: `(3,)`
    the vector the air moves toward, or `(r, 3)`. `own_acceleration` adds the set point's own
    acceleration, its second central difference (a wish that does not depend on the rider; delay 0
    then). `push_m_s2 (r, n, 3)`: what gusts add, at the same samples, held from one to the next.
    Differences reach half a `step_s` to each side (0.1 s in all), the second one a whole
    step. Midpoint rule in steps of `substep_s`; level acceleration and level airspeed are cut along
    their own direction, vertical speed to climb and sink. Returns arrays over samples first..n-1;
    no ride depends on another.
    """
    rides, samples, _ = wish_xyz_m.shape
    if samples < 2:
        raise ValueError(f"wish_xyz_m: wanted at least 2 samples, got {samples}")
    substeps = max(1, math.ceil(step_s / substep_s - 1e-9))
    ago = np.broadcast_to(np.asarray(delay_s, dtype=float) / step_s, (rides,))
    w = np.broadcast_to(np.asarray(response_rad_s, dtype=float), (rides,)).copy()
    air = np.broadcast_to(np.asarray(wind_m_s, dtype=float), (rides, 3)).T[:2].copy()
    path = np.ascontiguousarray(wish_xyz_m.transpose(1, 2, 0))
    count = samples - first
    out = Flown(*(np.empty((count, k, rides)) for k in (3, 3, 1, 3)))
    for start in range(0, count, BLOCK):
        size = min(BLOCK, count - start)
        plan = _setpoints(path, ago, first + start, size, step_s, substeps)
        pull = w * w * plan.place + 2.0 * w * plan.velocity
        if own_acceleration:
            pull += plan.acceleration
        if push_m_s2 is not None:
            pull += _held(push_m_s2, first + start, size, substeps)
        if start == 0:
            state = plan.place[0].copy(), plan.velocity[0].copy()
            _limit(state[1], limits, air)
        rows = Flown(*(a[start : start + size] for a in out))
        rows.setpoint_velocity_m_s[:] = plan.velocity[: -1 : 2 * substeps]
        state = _fly_block(pull, *state, w, limits, air, step_s / substeps, rows)
    xyz, velocity = (np.ascontiguousarray(a.transpose(2, 0, 1)) for a in out[:2])
    asked, setpoint = (a.transpose(2, 0, 1) for a in out[2:])  # seldom asked for: left as they are
    return Flown(xyz, velocity, asked[..., 0], setpoint)


class _Plan(NamedTuple):
    """Set points every half substep, `(q, 3, r)` each."""

    place: Array
    velocity: Array
    acceleration: Array


def _between(path: Array, at: Array) -> Array:
    """`(q, 3, r)`: `path (n, 3, r)` at fractional samples `at (q, r)`, straight on beyond."""
    index = np.clip(np.floor(at), 0, len(path) - 2).astype(np.intp)
    part = (at - index)[:, None, :]
    low = np.take_along_axis(path, index[:, None, :], axis=0)
    high = np.take_along_axis(path, index[:, None, :] + 1, axis=0)
    return low + part * (high - low)


def _setpoints(
    path: Array, ago: Array, start: int, size: int, step_s: float, substeps: int
) -> _Plan:
    """The delayed set points from sample `start` over `size` steps, both ends included."""
    halves = 2 * substeps
    grid = start - 1 + np.arange((size + 2) * halves + 1) / halves
    wide = _between(path, grid[:, None] - ago)
    place = wide[halves:-halves]
    velocity = (wide[3 * substeps : -substeps] - wide[substeps : -3 * substeps]) / step_s
    acceleration = (wide[2 * halves :] - 2.0 * place + wide[: -2 * halves]) / step_s**2
    return _Plan(place, velocity, acceleration)


def _held(push_m_s2: Array, start: int, size: int, substeps: int) -> Array:
    """`(q, 3, r)` the push every half substep from sample `start` over `size` steps."""
    last = push_m_s2.shape[1] - 1
    sample = np.repeat(np.arange(start, start + size), 2 * substeps)
    return push_m_s2[:, np.minimum(np.append(sample, start + size), last)].transpose(1, 2, 0)


def _fly_block(
    pull: Array,
    xyz: Array,
    velocity: Array,
    w: Array,
    limits: Limits,
    air: Array,
    h: float,
    out: Flown,
) -> tuple[Array, Array]:
    """Integrate one block of samples into `out`; returns the state at its end.

    `pull (q, 3, r)` is the law without the aircraft's own state, every half substep. The place
    moves by the mean of the velocities before and after, so it keeps to the limits as they do.
    """
    stiffness, damping = w * w, 2.0 * w
    half = 0.5 * h
    size = len(out.xyz_m)
    pulls = iter(pull)
    for sample in range(size):
        out.xyz_m[sample] = xyz
        out.velocity_m_s[sample] = velocity
        for substep in range((len(pull) - 1) // (2 * size)):
            hold = stiffness * xyz + damping * velocity
            a = next(pulls) - hold
            if substep == 0:
                out.asked_m_s2[sample, 0] = np.hypot(a[0], a[1])
            _cut(a[:2], limits.acceleration_m_s2)
            # At the half step place and velocity have moved by half·velocity and half·a.
            hold += half * (stiffness * velocity + damping * a)
            a = next(pulls) - hold
            _cut(a[:2], limits.acceleration_m_s2)
            after = velocity + h * a
            _limit(after, limits, air)
            xyz = xyz + half * (velocity + after)
            velocity = after
    return xyz, velocity


def _limit(velocity: Array, limits: Limits, air: Array) -> None:
    """Cut `velocity (3, r)` in place: level airspeed, climb and sink."""
    level, climb = velocity[:2], velocity[2]
    level -= air
    _cut(level, limits.airspeed_m_s)
    level += air
    np.minimum(climb, limits.climb_m_s, out=climb)
    np.maximum(climb, -limits.sink_m_s, out=climb)


def _cut(level: Array, most: float) -> None:
    """Shorten `level (2, r)` in place to at most `most`, along its own direction."""
    level *= most / np.maximum(np.hypot(level[0], level[1]), most)
