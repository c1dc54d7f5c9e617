"""How the aircraft follows its set point: delay, response, limits.

`a = w²(p* - p) + 2w(v* - v)` with p* the set point `delay_s` ago and v* its central difference
over 0.1 s; see DEFINITIONS "Following". Differences reach half a sample to each side (0.1 s in
all), second ones a whole sample. Midpoint rule; level acceleration and level airspeed are cut along
their own direction, vertical speed to climb and sink. No ride depends on another.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

BLOCK = 16_000  # rides times samples whose set points are laid out at once: they stay in cache
FEW = 100  # rides for which it is quicker to cut all than to look whether one must be


class Limits(NamedTuple):
    """What the aircraft can do, SI; scalars, or `(r,)` where rides differ in it."""

    airspeed_m_s: float | Array
    climb_m_s: float | Array
    sink_m_s: float | Array
    acceleration_m_s2: float | Array


NO_LIMITS = Limits(1e9, 1e9, 1e9, 1e9)  # finite, so that shares of them are numbers


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
    Returns arrays over samples first..n-1.
    """
    rides, samples, _ = wish_xyz_m.shape
    if samples < 2:
        raise ValueError(f"wish_xyz_m: wanted at least 2 samples, got {samples}")
    substeps = max(1, math.ceil(step_s / substep_s - 1e-9))
    ago = np.broadcast_to(np.asarray(delay_s, dtype=float) / step_s, (rides,))
    w = np.broadcast_to(np.asarray(response_rad_s, dtype=float), (rides,)).copy()
    air = np.broadcast_to(np.asarray(wind_m_s, dtype=float), (rides, 3)).T[:2].copy()
    path = np.ascontiguousarray(wish_xyz_m.transpose(1, 2, 0))
    out = Flown(*(np.empty((rides, samples - first, k)) for k in (3, 3, 1, 3)))
    state = None
    for block in _blocks(path, first, step_s, ago, w, 2 * substeps, own_acceleration, push_m_s2):
        if state is None:
            state = block.place, block.velocity[0].copy()
            _limit(state[1], limits, air, np.empty_like(air))
        size = len(block.velocity)
        place, moving, asked = (np.empty((size, k, rides)) for k in (3, 3, 1))
        rows = Flown(place, moving, asked, block.velocity)
        state = _fly_block(block.pull, *state, w, limits, air, step_s / substeps, rows)
        for whole, part in zip(out, rows, strict=True):
            whole[:, block.start : block.start + size] = part.transpose(2, 0, 1)
    return out._replace(asked_m_s2=out.asked_m_s2[..., 0])


class _Block(NamedTuple):
    """Some samples, from `start` flown ones on: `place (3, r)` of the delayed set point at the
    first, its `velocity (size, 3, r)`, and `pull (size, halves, 3, r)`: the law without the
    aircraft's own state, every half substep."""

    start: int
    place: Array
    velocity: Array
    pull: Array


def _blocks(
    path: Array,
    first: int,
    step_s: float,
    ago: Array,
    w: Array,
    halves: int,
    own_acceleration: bool,
    push_m_s2: Array | None,
) -> Iterator[_Block]:
    """What is flown after, laid out for a block of samples at a time."""
    shares = _shares(ago, step_s, halves)
    law = w * w * shares.place + 2.0 * w * shares.velocity
    if own_acceleration:
        law += shares.acceleration
    most = int(np.clip(BLOCK // len(ago), 16, 256))
    for start in range(first, len(path), most):
        size = min(most, len(path) - start)
        spot, steps = _delayed(path, ago, start, size)
        place = _summed(steps[:4], shares.place[:1], spot[:1])[0, 0]
        velocity = _summed(steps, shares.velocity[:1], np.zeros_like(spot))[:, 0]
        steady = w * w * spot
        if push_m_s2 is not None:
            steady += push_m_s2[:, start : start + size].transpose(1, 2, 0)
        yield _Block(start - first, place, velocity, _summed(steps, law, steady))


class _Shares(NamedTuple):
    """How much of the path's four steps, from one sample before to three after the one before the
    delayed set point, is in the way from that one to the set point, in its velocity, and in its
    acceleration: `(halves, 4, r)` each, every half substep."""

    place: Array
    velocity: Array
    acceleration: Array


def _shares(ago: Array, step_s: float, halves: int) -> _Shares:
    at = np.ceil(ago) - ago + np.arange(halves)[:, None] / halves

    def way(to: Array) -> Array:
        """Of each step as much as is before `to`, counted from the end of the first."""
        parts = (
            np.minimum(to, 0.0),
            np.clip(to, 0.0, 1.0),
            np.clip(to - 1.0, 0.0, 1.0),
            np.maximum(to - 2.0, 0.0),
        )
        return np.stack(parts, axis=1)

    return _Shares(
        way(at),
        (way(at + 0.5) - way(at - 0.5)) / step_s,
        (way(at + 1.0) - 2.0 * way(at) + way(at - 1.0)) / step_s**2,
    )


def _delayed(path: Array, ago: Array, start: int, size: int) -> tuple[Array, Array]:
    """Of `path (n, 3, r)`, straight on beyond its ends, from sample `start`: the samples just
    before the delayed set point `(size, 3, r)`, and the steps `(size + 3, 3, r)` around."""
    last = len(path) - 1
    at = np.arange(start - 1, start + size + 3)[:, None] - np.ceil(ago).astype(np.intp)
    on = np.clip(at, 0, last)[:, None, :]
    spot = np.take_along_axis(path, on, axis=0)
    beyond = at[:, None, :] - on
    if beyond.any():
        spot += np.minimum(beyond, 0) * (path[1] - path[0])
        spot += np.maximum(beyond, 0) * (path[last] - path[last - 1])
    return spot[1:-3], np.diff(spot, axis=0)


def _summed(steps: Array, shares: Array, start: Array) -> Array:
    """`(size, halves, 3, r)`: `start (size, 3, r)` and, every half substep, its shares of the
    steps around each sample."""
    size = len(start)
    found = np.empty((size, len(shares), *start.shape[1:]))
    part = np.empty_like(start)
    for half, of in enumerate(shares):
        total = found[:, half]
        total[:] = start
        for place, share in enumerate(of):
            if share.any():
                np.multiply(steps[place : place + size], share, out=part)
                total += part
    return found


def _between(path: Array, at: Array) -> Array:
    """`(q, 3, r)`: `path (n, 3, r)` at fractional samples `at (q, r)`, straight on beyond."""
    index = np.clip(np.floor(at), 0, len(path) - 2).astype(np.intp)
    part = (at - index)[:, None, :]
    low = np.take_along_axis(path, index[:, None, :], axis=0)
    high = np.take_along_axis(path, index[:, None, :] + 1, axis=0)
    return low + part * (high - low)


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

    The place moves by the mean of the velocities before and after, so it keeps to the limits as
    they do. The state is changed in place.
    """
    stiffness, damping = w * w, 2.0 * w
    half = 0.5 * h
    a, after, hold, more = (np.empty_like(xyz) for _ in range(4))
    level, spare = a[:2], np.empty_like(air)
    for sample, pulls in enumerate(pull):
        out.xyz_m[sample] = xyz
        out.velocity_m_s[sample] = velocity
        for substep in range(0, len(pulls), 2):
            np.multiply(stiffness, xyz, out=hold)
            hold += np.multiply(damping, velocity, out=more)
            np.subtract(pulls[substep], hold, out=a)
            if substep == 0:
                np.hypot(a[0], a[1], out=out.asked_m_s2[sample, 0])
            _cut(level, limits.acceleration_m_s2, spare)
            # At the half step place and velocity have moved by half·velocity and half·a.
            np.multiply(stiffness, velocity, out=more)
            more += np.multiply(damping, a, out=after)
            more *= half
            hold += more
            np.subtract(pulls[substep + 1], hold, out=a)
            _cut(level, limits.acceleration_m_s2, spare)
            np.multiply(h, a, out=after)
            after += velocity
            _limit(after, limits, air, spare)
            np.add(velocity, after, out=more)
            more *= half
            xyz += more
            velocity, after = after, velocity
    return xyz, velocity


def _limit(velocity: Array, limits: Limits, air: Array, spare: Array) -> None:
    """Cut `velocity (3, r)` in place: level airspeed, climb and sink."""
    level, climb = velocity[:2], velocity[2]
    level -= air
    _cut(level, limits.airspeed_m_s, spare)
    level += air
    np.minimum(climb, limits.climb_m_s, out=climb)
    np.maximum(climb, -limits.sink_m_s, out=climb)


def _cut(level: Array, most: float | Array, spare: Array) -> None:
    """Shorten `level (2, r)` in place to at most `most`, along its own direction; `spare (2, r)` is
    overwritten."""
    if level.shape[1] < FEW:
        level *= most / np.maximum(np.hypot(level[0], level[1]), most)
        return
    squares = np.multiply(level, level, out=spare)
    length = np.add(squares[0], squares[1], out=squares[0])
    if not (length <= most * most).all():
        level *= most / np.maximum(np.sqrt(length), most)
