"""Geometry that styles share: directions, what is aimed at, what a height is measured from.

Azimuths clockwise from true north, x east, y north.
"""

from __future__ import annotations

import math
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
ABEAM = {"left": -math.pi / 2.0, "right": math.pi / 2.0}  # from the course


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


def aim_at(rider_m: Array) -> Array:
    """`(..., 3)` what the camera aims at, over the rider's ground point `rider_m (..., 3)`."""
    return np.asarray(rider_m + np.array([0.0, 0.0, AIM_M]))


def at_place(foot_m: Array, rider_m: Array) -> SetPoints:
    """A place's foot `(3,)` for every sample of `rider_m (..., 3)`; its elevation is the rider's
    where it is not known."""
    known = not math.isnan(foot_m[2])
    xyz = np.where(np.isnan(foot_m), rider_m, foot_m)
    return SetPoints(xyz, np.full(xyz.shape[:-1], known))


def raised(
    xy_m: Array,
    height_m: float | Array,
    over: HeightOver,
    centre_m: Array,
    ground_m: Callable[[Array], Array],
    launch_m: float,
) -> SetPoints:
    """Set points `height_m` (one, or `(n,)`) above what `over` names, at `xy_m (..., 2)`.

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
