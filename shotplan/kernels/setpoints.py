"""Geometry that every style shares: directions, and what a set point's height is measured from.

Azimuths clockwise from true north, x east, y north.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Literal, NamedTuple

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
HeightOver = Literal["rider", "higher-ground", "launch"]

OVER_WORDS: dict[HeightOver, str] = {
    "rider": "the rider",
    "higher-ground": "the higher ground of rider and aircraft",
    "launch": "the launch",
}
AIM_M = 1.0  # the camera aims this far above the ground under the rider


class SetPoints(NamedTuple):
    """`xyz_m (..., 3)`; `known (...)` False where the height rests on ground nobody knows."""

    xyz_m: Array
    known: NDArray[np.bool_]


def unit(azimuth_rad: Array) -> Array:
    """`(..., 2)` the level unit vector that points along `azimuth_rad (...)`."""
    return np.stack([np.sin(azimuth_rad), np.cos(azimuth_rad)], axis=-1)


def azimuth_rad(level_m: Array) -> Array:
    """The azimuth of `level_m (..., 2)`, -pi..pi (0 for a vector of no length)."""
    return np.arctan2(level_m[..., 0], level_m[..., 1])


def raised(
    xy_m: Array,
    height_m: float,
    over: HeightOver,
    centre_m: Array,
    ground_m: Callable[[Array], Array],
    launch_m: float,
) -> SetPoints:
    """Set points `height_m` above what `over` names, at `xy_m (..., 2)`.

    `centre_m (...)` is the elevation under what is filmed; `ground_m` gives the ground under a
    point, `launch_m` the launch's, NaN unknown. Over unknown ground the height is taken from
    `centre_m` and `known` is False, as it is where `centre_m` itself is NaN (z is NaN then).
    """
    if over == "higher-ground":
        reference = np.maximum(ground_m(xy_m), centre_m)
    elif over == "launch":
        reference = np.broadcast_to(launch_m, xy_m.shape[:-1])
    else:
        reference = np.broadcast_to(centre_m, xy_m.shape[:-1])
    known = ~np.isnan(reference)
    z = np.where(known, reference, centre_m) + height_m
    return SetPoints(np.concatenate([xy_m, z[..., None]], axis=-1), known)
