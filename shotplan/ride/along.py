"""The rider every 0.1 s: place, speed, course; and the part of it a shot films.

DEFINITIONS "Ride": a last partial step dropped, straight on beyond the ends; course from 1 s before
to 1 s after, held while that is slower than 1 m/s (tried on recordings: half of both lets jitter
and stops swing a 12 m arm about).
"""

from __future__ import annotations

from collections.abc import Callable
from typing import NamedTuple

import numpy as np

from shotplan.kernels.rides.runs import held
from shotplan.model.arrays import Array, Bools
from shotplan.model.ride import STEP_S, Ride
from shotplan.ride.path import Path

HALF_STEPS = 10  # 1 s each way
SLOWEST_M_S = 1.0  # walking pace; slower than this the course is held
SLOPE_M = 10.0
LEVEL = 1e-6
AFTER_S = 1.5  # the course at the last sample looks 1 s ahead

Ground = Callable[[Array], Array]


class _Motion(NamedTuple):
    """`speed_m_s`, `course_rad (n,)`."""

    speed_m_s: Array
    course_rad: Array


def sampled(path: Path, ground_m: Ground) -> Ride:
    """One ride of one row, filming everywhere. A path shorter than 0.1 s has one sample only."""
    t = _times(int(np.floor(path.t_s[-1] / STEP_S + 1e-9)) + 1)
    xy = np.stack([np.interp(t, path.t_s, path.xy_m[:, axis]) for axis in (0, 1)], axis=-1)
    along_m = np.interp(t, path.t_s, path.along_m)
    return _ride(t, xy, along_m, np.ones(len(t), dtype=bool), ground_m(xy), _motion(xy))


def part(ride: Ride, from_m: float, to_m: float, lead_s: float, ground_m: Ground) -> Ride:
    """A shot's samples, from the first at `from_m` to the last at `to_m`, with `lead_s` before and
    1.5 s after: from the real ride where it goes on, else straight on. `t_s` is 0 and `filming`
    starts at the first sample. Row 0 only; empty parts raise `ValueError`.
    """
    along_m = ride.along_m[0]
    first = int(np.searchsorted(along_m, from_m - 1e-9, side="left"))
    last = int(np.searchsorted(along_m, to_m + 1e-9, side="right")) - 1
    if last < first:
        raise ValueError(f"the ride has no sample from {from_m:g} m to {to_m:g} m")
    lead = int(np.ceil(lead_s / STEP_S - 1e-9))
    after = round(AFTER_S / STEP_S)
    add_before = max(lead - first, 0)
    add_after = max(last + after - (len(along_m) - 1), 0)

    xy = _straight_on(ride.xyz_m[0, :, :2], add_before, add_after)
    motion = _motion(xy)
    whole_along_m = _straight_on(along_m[:, None], add_before, add_after)[:, 0]
    z = np.concatenate(
        [
            ground_m(xy[:add_before]),
            np.where(ride.ground_known[0], ride.xyz_m[0, :, 2], np.nan),
            ground_m(xy[len(xy) - add_after :]),
        ]
    )
    index = np.arange(len(xy)) - add_before
    filming = (index >= first) & (index <= last)
    whole = _ride(
        _times(len(xy)) - (first + add_before) * STEP_S, xy, whole_along_m, filming, z, motion
    )
    begin = first + add_before - lead
    return whole.samples(slice(begin, begin + lead + (last - first + 1) + after))


def downhill_rad(ride: Ride, ground_m: Ground) -> float:
    """Azimuth of the mean slope downward under the filmed samples of row 0.

    Central differences over 2 × 10 m; samples over unknown ground are left out. NaN where all
    are, or where the mean is level.
    """
    xy = ride.xyz_m[0, ride.filming[0], :2]
    step = np.array([[SLOPE_M, 0.0], [0.0, SLOPE_M]])
    rise = [(ground_m(xy + s) - ground_m(xy - s)) / (2.0 * SLOPE_M) for s in step]
    slope = np.stack(rise, axis=-1)
    slope = slope[np.isfinite(slope).all(axis=-1)]
    if not len(slope):
        return float("nan")
    east, north = -slope.mean(axis=0)
    if np.hypot(east, north) < LEVEL:
        return float("nan")
    return float(np.mod(np.arctan2(east, north), 2.0 * np.pi))


def _times(count: int) -> Array:
    return np.asarray(np.arange(count) * STEP_S, dtype=float)


def _straight_on(values: Array, before: int, after: int) -> Array:
    """`values (n, d)` with samples added at both ends that go on as the end steps went."""
    first_step = values[1] - values[0] if len(values) > 1 else np.zeros_like(values[0])
    last_step = values[-1] - values[-2] if len(values) > 1 else np.zeros_like(values[0])
    back = np.arange(-before, 0)[:, None]
    on = np.arange(1, after + 1)[:, None]
    return np.concatenate([values[0] + back * first_step, values, values[-1] + on * last_step])


def _motion(xy_m: Array) -> _Motion:
    padded = _straight_on(xy_m, HALF_STEPS, HALF_STEPS)
    moved = padded[2 * HALF_STEPS :] - padded[: -2 * HALF_STEPS]
    speed = np.linalg.norm(moved, axis=-1) / (2 * HALF_STEPS * STEP_S)
    course = np.mod(np.arctan2(moved[:, 0], moved[:, 1]), 2.0 * np.pi)
    return _Motion(speed, _held(course, speed >= SLOWEST_M_S))


def _held(values: Array, good: Bools) -> Array:
    """The last good value at each place, the first one before it; 0 where none is."""
    return held(values, good) if good.any() else np.zeros(values.shape)


def _ride(
    t_s: Array, xy_m: Array, along_m: Array, filming: Bools, z_m: Array, motion: _Motion
) -> Ride:
    known = np.isfinite(z_m)
    xyz = np.column_stack([xy_m, _held(z_m, known)])[None]
    return Ride(
        t_s=t_s,
        xyz_m=xyz,
        known_xyz_m=xyz,
        speed_m_s=motion.speed_m_s[None],
        course_rad=motion.course_rad[None],
        along_m=along_m[None],
        filming=filming[None],
        ground_known=known[None],
    )
