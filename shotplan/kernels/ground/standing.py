"""What the ground around a place to stand does: drops and faces."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from shotplan.kernels.rides.runs import stretches

Array = NDArray[np.float64]

BEARINGS = 72
STEEP = 1.0  # rise over run from which ground is a face: 45°


def rays(xy_m: Array, radii_m: Array) -> Array:
    """Points `(b, k, 2)` around `xy_m (2,)` at `radii_m (k,)` on all bearings."""
    azimuth = np.arange(BEARINGS) * (2.0 * np.pi / BEARINGS)
    way = np.stack([np.sin(azimuth), np.cos(azimuth)], axis=-1)
    return np.asarray(xy_m + radii_m[None, :, None] * way[:, None, :])


def drop_m(here_m: float, around_m: Array, radii_m: Array, fall_m: float) -> float:
    """Level distance from a place at elevation `here_m` to the nearest ground more than `fall_m`
    lower; `around_m (b, k)` elevations along `rays` at `radii_m (k,)`. +inf none; missing ground
    (NaN) is passed over."""
    low = (around_m < here_m - fall_m).any(axis=0)
    return float(radii_m[np.argmax(low)]) if low.any() else np.inf


def face(around_m: Array, radii_m: Array) -> tuple[float, float]:
    """The face that stands most above its distance: how far its foot is, how high it is (+inf and
    0 without one). A face is a run of steps along one of `rays` that all rise at least 45°;
    `radii_m (k,)` evenly spaced. Missing ground (NaN) ends a face."""
    step = np.diff(radii_m)
    steep = np.diff(around_m, axis=1) >= STEEP * step
    worst = (np.inf, 0.0)
    for line, rising in zip(around_m, steep, strict=True):
        for low, high in stretches(rising):
            found = float(radii_m[low]), float(line[high] - line[low])
            if found[0] - found[1] < worst[0] - worst[1]:
                worst = found
    return worst
