"""Rides of known truth and what a receiver writes down of them."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
STEP_S = 0.01
STOPS_S = (50.0, 70.0)  # 20 s on the spot
PACE_M_S, BRAKES_M_S2, STARTS_M_S2 = 5.0, 2.5, 1.5


class Truth(NamedTuple):
    """Where he really was: `t_s (n,)` every 0.01 s, `xy_m (n, 2)`."""

    t_s: Array
    xy_m: Array


def ridden(seed: int, lasts_s: float = 120.0, stop: bool = True) -> Truth:
    """5 m/s with bends of radii from about 9 m up, a stop of 20 s in the middle."""
    rng = np.random.default_rng(seed)
    t = np.arange(0.0, lasts_s + STEP_S / 2, STEP_S)
    speed = np.full(len(t), PACE_M_S)
    if stop:
        before, after = np.maximum(STOPS_S[0] - t, 0.0), np.maximum(t - STOPS_S[1], 0.0)
        speed = np.minimum(speed, BRAKES_M_S2 * before + STARTS_M_S2 * after)
    along = np.cumsum(speed) * STEP_S
    waves = zip(
        rng.uniform(0.01, 0.04, 3),
        rng.uniform(40.0, 120.0, 3),
        rng.uniform(0.0, 6.3, 3),
        strict=True,
    )
    bend = np.sum([a * np.sin(2.0 * np.pi * along / length + p) for a, length, p in waves], axis=0)
    course = np.cumsum(bend * speed) * STEP_S
    steps = np.column_stack([np.sin(course), np.cos(course)]) * speed[:, None] * STEP_S
    return Truth(t, np.cumsum(steps, axis=0) - steps[0])


def recorded(
    truth: Truth, seed: int, jitter_m: float, drift_m: float = 2.0, every_s: float = 1.0
) -> tuple[Array, Array]:
    """`t_s (k,)`, `xy_m (k, 2)`: a fix every second, jittered each on its own (`jitter_m` each
    axis) over a drift of a second-order Gauss-Markov process (30 s, `drift_m` each axis):
    receivers filter what they write."""
    step = round(every_s / STEP_S)
    t, xy = truth.t_s[::step], truth.xy_m[::step]
    xy = xy + drift(t, drift_m, 30.0, np.random.default_rng(1000 + seed))
    return t, xy + jitter_m * np.random.default_rng(2000 + seed).normal(size=xy.shape)


def drift(t_s: Array, sigma_m: float, lasts_s: float, rng: np.random.Generator) -> Array:
    """`(k, 2)` critically damped second-order Gauss-Markov: two first-order lags in a row."""
    fine = np.arange(-10.0 * lasts_s, t_s[-1] + 1.0, 0.1)
    keep = np.exp(-0.1 / lasts_s)
    states = np.zeros((2, 2))
    found = np.empty((len(fine), 2))
    white = rng.normal(size=(len(fine), 2)) * np.sqrt(1.0 - keep**2)
    for k, shake in enumerate(white):
        states[0] = keep * states[0] + shake
        states[1] = keep * states[1] + (1.0 - keep) * states[0]
        found[k] = states[1]
    found *= sigma_m * np.sqrt(2.0)  # the second lag halves the variance
    return np.column_stack([np.interp(t_s, fine, found[:, i]) for i in (0, 1)])
