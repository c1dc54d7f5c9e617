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
SURE_M = 0.02  # of a place that is known
BLOCK = 1000  # fixes: a longer recording's likelihood is taken in blocks side by side


class Noise(NamedTuple):
    """`jitter_m` of each fix and axis; `density_m2_s3` of the white acceleration."""

    jitter_m: float
    density_m2_s3: float


class Smoothed(NamedTuple):
    """`xy_m`, `velocity_m_s (k, 2)` at the fixes."""

    xy_m: Array
    velocity_m_s: Array


class _Filtered(NamedTuple):
    """Over fixes k, candidates g and blocks b: mean `(k, g, b, 2 axes, 2)` and covariance
    `(k, g, b, 3)` (place, both, velocity) after each fix; the same foretold before it;
    log-likelihood `(g,)` of all blocks."""

    mean: Array
    spread: Array
    told_mean: Array
    told_spread: Array
    log_likelihood: Array


def likeliest(t_s: Array, xy_m: Array) -> Noise:
    """The noise under which fixes `t_s (k,)` (increasing), `xy_m (k, 2)` are likeliest, both axes
    alike, within `JITTER_M` and `DENSITY_M2_S3`: a grid over their logarithms, made finer around
    the best. Fewer than three fixes tell nothing: the middle of the ranges. A recording of 2000
    fixes or more is cut into blocks of about `BLOCK`, each begun anew (a few fixes at its end may
    be left over): that tells all but what the joints would."""
    low = np.log([JITTER_M[0], DENSITY_M2_S3[0]])
    high = np.log([JITTER_M[1], DENSITY_M2_S3[1]])
    blocks = max(1, len(t_s) // BLOCK)
    size = len(t_s) // blocks
    t = t_s[: blocks * size].reshape(blocks, size).T
    xy = xy_m[: blocks * size].reshape(blocks, size, 2).swapaxes(0, 1)
    best, half, count = 0.5 * (low + high), 0.5 * (high - low), COARSE
    for _ in range(ROUNDS if len(t_s) > 2 else 0):
        axes = [np.linspace(-h, h, count) for h in half]
        tried = np.stack(np.meshgrid(*axes, indexing="ij"), axis=-1).reshape(-1, 2) + best
        tried = np.unique(tried.clip(low, high), axis=0)
        found = _filtered(t, xy, np.exp(tried[:, 0]), np.exp(tried[:, 1]))
        best = tried[int(np.argmax(found.log_likelihood))]
        half, count = half * 2.0 / (count - 1), FINE
    return Noise(*(float(v) for v in np.exp(best)))


def log_likelihood(t_s: Array, xy_m: Array, noise: Noise) -> float:
    """Of the fixes under one noise, less what does not depend on it."""
    return float(_alone(t_s, xy_m, noise).log_likelihood[0])


def smoothed(
    t_s: Array, xy_m: Array, noise: Noise, certain: NDArray[np.bool_] | None = None
) -> Smoothed:
    """Place and velocity at every fix, given all of them; where `certain (k,)` the fix jitters by
    no more than `SURE_M`."""
    found = _alone(t_s, xy_m, noise, certain)
    mean, told = found.mean[:, 0, 0].copy(), found.told_mean[:, 0, 0]
    gains = _gains(t_s, found.spread[:-1, 0, 0], found.told_spread[1:, 0, 0])
    for k in range(len(t_s) - 2, -1, -1):
        mean[k] += (mean[k + 1] - told[k + 1]) @ gains[k]
    return Smoothed(xy_m=mean[:, :, 0], velocity_m_s=mean[:, :, 1])


def _gains(t_s: Array, spread: Array, told: Array) -> Array:
    """`(k - 1, 2, 2)`, transposed, of the backward pass: covariance after a fix, moved on by F,
    over what it foretold of the next."""
    a, b, c = spread.T
    dt = np.diff(t_s)
    moved = np.array([[a + dt * b, b], [b + dt * c, c]])
    place, both, speed = told.T
    inverse = np.array([[speed, -both], [-both, place]]) / (place * speed - both**2)
    return np.asarray(np.einsum("ijk,jlk->kli", moved, inverse))


def _alone(
    t_s: Array, xy_m: Array, noise: Noise, certain: NDArray[np.bool_] | None = None
) -> _Filtered:
    """One block, one candidate."""
    jitter, density = (np.array([v]) for v in noise)
    return _filtered(t_s[:, None], xy_m[:, None], jitter, density, certain)


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


def _filtered(
    t_s: Array,
    xy_m: Array,
    jitter_m: Array,
    density_m2_s3: Array,
    certain: NDArray[np.bool_] | None = None,
) -> _Filtered:
    """The filter of all candidates `(g,)` and blocks of fixes `t_s (k, b)`, `xy_m (k, b, 2)` side
    by side; the covariance is the same on both axes."""
    usual, q = jitter_m[:, None] ** 2, density_m2_s3[:, None]
    sure = np.zeros(len(t_s), dtype=bool) if certain is None else certain
    noise = np.full_like(usual, SURE_M**2) if sure[0] else usual
    shape = (len(t_s), len(jitter_m), t_s.shape[1])
    mean, told_mean = (np.zeros((*shape, 2, 2)) for _ in range(2))
    spread, told_spread = (np.zeros((*shape, 3)) for _ in range(2))
    mean[0, ..., 0] = xy_m[0]
    spread[0, ..., 0], spread[0, ..., 2] = noise, FIRST_M_S**2
    total = np.zeros(shape[1:])
    for k in range(1, len(t_s)):
        dt = t_s[k] - t_s[k - 1]
        a, b, c = np.moveaxis(spread[k - 1], -1, 0)
        place, both = a + 2.0 * dt * b + dt**2 * c + q * dt**3 / 3.0, b + dt * c + q * dt**2 / 2.0
        speed = c + q * dt
        told_spread[k, ..., 0], told_spread[k, ..., 1], told_spread[k, ..., 2] = place, both, speed
        told_mean[k] = mean[k - 1]
        told_mean[k, ..., 0] += dt[:, None] * mean[k - 1, ..., 1]
        noise = np.full_like(usual, SURE_M**2) if sure[k] else usual
        seen = place + noise
        miss = xy_m[k] - told_mean[k, ..., 0]
        share = (told_spread[k, ..., :2] / seen[..., None])[..., None, :]
        mean[k] = told_mean[k] + miss[..., None] * share
        spread[k, ..., 0], spread[k, ..., 1] = place * noise / seen, both * noise / seen
        spread[k, ..., 2] = speed - both**2 / seen
        total -= np.log(seen) + 0.5 * (miss**2).sum(axis=-1) / seen
    return _Filtered(mean, spread, told_mean, told_spread, total.sum(axis=-1))
