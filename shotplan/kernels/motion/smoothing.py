"""A recorded track smoothed: constant velocity shaken by white acceleration, seen with jitter.

Per level axis the state is place and velocity; between fixes `dt` apart it moves by
F = [[1, dt], [0, 1]] with process noise Q = q [[dt³/3, dt²/2], [dt²/2, dt]] (Bar-Shalom, Li and
Kirubarajan 2001, section 6.2.2, from memory), and each fix shows the place with independent error
of standard deviation `jitter_m`. Filtered forward (Kalman), smoothed backward (Rauch, Tung and
Striebel 1965). The slow drift of a receiver looks like riding and is not touched.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

JITTER_M = (0.05, 3.0)
DENSITY_M2_S3 = (0.05, 10.0)
FIRST_M_S = 1000.0  # standard deviation of the first velocity: nothing is known of it
COARSE, FINE = 9, 7  # candidates each way, first over the whole ranges, then around the best
ROUNDS = 3  # of the finer search


class Noise(NamedTuple):
    """`jitter_m` of each fix and axis; `density_m2_s3` of the white acceleration."""

    jitter_m: float
    density_m2_s3: float


class Smoothed(NamedTuple):
    """`xy_m`, `velocity_m_s (k, 2)` at the fixes."""

    xy_m: Array
    velocity_m_s: Array


class _Filtered(NamedTuple):
    """Over fixes k and candidates g: mean `(k, g, 2 axes, 2)` and covariance `(k, g, 3)` (place,
    both, velocity) after each fix; the same foretold before it; log-likelihood `(g,)`."""

    mean: Array
    spread: Array
    told_mean: Array
    told_spread: Array
    log_likelihood: Array


def likeliest(t_s: Array, xy_m: Array) -> Noise:
    """The noise under which fixes `t_s (k,)` (increasing), `xy_m (k, 2)` are likeliest, both axes
    alike, within `JITTER_M` and `DENSITY_M2_S3`: a grid over their logarithms, made finer around
    the best. Fewer than three fixes tell nothing: the middle of the ranges."""
    low = np.log([JITTER_M[0], DENSITY_M2_S3[0]])
    high = np.log([JITTER_M[1], DENSITY_M2_S3[1]])
    best, half, count = 0.5 * (low + high), 0.5 * (high - low), COARSE
    for _ in range(ROUNDS if len(t_s) > 2 else 0):
        axes = [np.linspace(-h, h, count) for h in half]
        tried = np.stack(np.meshgrid(*axes, indexing="ij"), axis=-1).reshape(-1, 2) + best
        tried = np.unique(tried.clip(low, high), axis=0)
        found = _filtered(t_s, xy_m, np.exp(tried[:, 0]), np.exp(tried[:, 1]))
        best = tried[int(np.argmax(found.log_likelihood))]
        half, count = half * 2.0 / (count - 1), FINE
    return Noise(*(float(v) for v in np.exp(best)))


def log_likelihood(t_s: Array, xy_m: Array, noise: Noise) -> float:
    """Of the fixes under one noise, less what does not depend on it."""
    return float(_filtered(t_s, xy_m, *(np.array([v]) for v in noise)).log_likelihood[0])


def smoothed(t_s: Array, xy_m: Array, noise: Noise) -> Smoothed:
    """Place and velocity at every fix, given all of them."""
    found = _filtered(t_s, xy_m, *(np.array([v]) for v in noise))
    mean, spread = found.mean[:, 0].copy(), found.spread[:, 0].copy()
    for k in range(len(t_s) - 2, -1, -1):
        dt = t_s[k + 1] - t_s[k]
        before = _matrix(found.spread[k, 0])
        told = _matrix(found.told_spread[k + 1, 0])
        gain = before @ np.array([[1.0, 0.0], [dt, 1.0]]) @ np.linalg.inv(told)
        mean[k] += (mean[k + 1] - found.told_mean[k + 1, 0]) @ gain.T
        after = before + gain @ (_matrix(spread[k + 1]) - told) @ gain.T
        spread[k] = after[0, 0], after[0, 1], after[1, 1]
    return Smoothed(xy_m=mean[:, :, 0], velocity_m_s=mean[:, :, 1])


def hermite(t_s: Array, xy_m: Array, velocity_m_s: Array, at_s: Array) -> Array:
    """`(n, 2)` on the cubic through the places with the velocities, at times within them."""
    k = np.searchsorted(t_s, at_s, side="right").clip(1, len(t_s) - 1) - 1
    dt = t_s[k + 1] - t_s[k]
    u = ((at_s - t_s[k]) / dt)[:, None]
    dt = dt[:, None]
    return np.asarray(
        (1.0 + 2.0 * u) * (1.0 - u) ** 2 * xy_m[k]
        + u * (1.0 - u) ** 2 * dt * velocity_m_s[k]
        + u**2 * (3.0 - 2.0 * u) * xy_m[k + 1]
        + u**2 * (u - 1.0) * dt * velocity_m_s[k + 1]
    )


def _filtered(t_s: Array, xy_m: Array, jitter_m: Array, density_m2_s3: Array) -> _Filtered:
    """The filter of all candidates `(g,)` side by side; the covariance is the same on both axes."""
    count, tried = len(t_s), len(jitter_m)
    noise, q = jitter_m**2, density_m2_s3
    mean, told_mean = (np.zeros((count, tried, 2, 2)) for _ in range(2))
    spread, told_spread = (np.zeros((count, tried, 3)) for _ in range(2))
    mean[0, :, :, 0] = xy_m[0]
    spread[0] = np.stack([noise, np.zeros(tried), np.full(tried, FIRST_M_S**2)], axis=-1)
    total = np.zeros(tried)
    for k in range(1, count):
        dt = t_s[k] - t_s[k - 1]
        a, b, c = spread[k - 1].T
        place, both = a + 2.0 * dt * b + dt**2 * c + q * dt**3 / 3.0, b + dt * c + q * dt**2 / 2.0
        speed = c + q * dt
        told_spread[k] = np.stack([place, both, speed], axis=-1)
        told_mean[k] = mean[k - 1]
        told_mean[k, :, :, 0] += dt * mean[k - 1, :, :, 1]
        seen = place + noise
        miss = xy_m[k] - told_mean[k, :, :, 0]
        mean[k] = (
            told_mean[k]
            + miss[..., None] * (np.stack([place, both], axis=-1) / seen[:, None])[:, None, :]
        )
        spread[k] = np.stack(
            [place * noise / seen, both * noise / seen, speed - both**2 / seen], axis=-1
        )
        total -= np.log(seen) + 0.5 * (miss**2).sum(axis=-1) / seen
    return _Filtered(mean, spread, told_mean, told_spread, total)


def _matrix(spread: Array) -> Array:
    place, both, speed = spread
    return np.array([[place, both], [both, speed]])
