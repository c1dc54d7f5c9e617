"""Radio line of sight: free space, first Fresnel zone, one knife edge, foliage (ITU-R P series)."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

LIGHT_M_S = 299_792_458.0


def fresnel_radius_m(d1_m: Array, d2_m: Array, frequency_mhz: float) -> Array:
    """Radius of the first Fresnel ellipsoid `sqrt(λ d1 d2 / (d1 + d2))` (ITU-R P.526 §2)."""
    wave = LIGHT_M_S / (frequency_mhz * 1e6)
    return np.asarray(np.sqrt(wave * d1_m * d2_m / (d1_m + d2_m)))


def knife_edge_db(nu: Array) -> Array:
    """Loss over one knife edge `J(ν)` (ITU-R P.526 §4.1); 0 for ν <= -0.78."""
    v = np.maximum(np.asarray(nu, dtype=float), -0.78)
    loss = 6.9 + 20.0 * np.log10(np.sqrt((v - 0.1) ** 2 + 1.0) + v - 0.1)
    return np.where(np.asarray(nu) > -0.78, np.maximum(loss, 0.0), 0.0)


def edge_parameter(above_m: Array, d1_m: Array, d2_m: Array, frequency_mhz: float) -> Array:
    """`ν = h sqrt(2/λ (1/d1 + 1/d2))`, which is √2 h over the first Fresnel radius there: h the
    edge's height above the straight line."""
    return np.asarray(np.sqrt(2.0) * above_m / fresnel_radius_m(d1_m, d2_m, frequency_mhz))


def foliage_db(depth_m: Array, frequency_mhz: float) -> Array:
    """Loss through leaves (Weissberger's modified exponential decay, to 400 m of depth)."""
    d = np.minimum(np.asarray(depth_m, dtype=float), 400.0)
    f = (frequency_mhz / 1000.0) ** 0.284
    return np.asarray(np.where(d > 14.0, 1.33 * f * np.maximum(d, 1e-9) ** 0.588, 0.45 * f * d))


class Edge(NamedTuple):
    """The knife edge of each path that weighs most: `loss_db (n,)`, `which (n,)` its point of the
    profile (-1 no loss), `unknown (n,)` where part of the profile is not known."""

    loss_db: Array
    which: NDArray[np.intp]
    unknown: NDArray[np.bool_]


def worst_edge(above_m: Array, d1_m: Array, d2_m: Array, frequency_mhz: float) -> Edge:
    """Every point of profiles `(n, k)` taken as a knife edge by itself; the worst one counts.

    `above_m` height over the straight line (negative: clear, NaN not known, -inf nothing there),
    `d1_m`, `d2_m` distances to both ends. Several edges in a row cost more than the worst of them:
    neglected.
    """
    with np.errstate(invalid="ignore"):
        nu = edge_parameter(above_m, d1_m, d2_m, frequency_mhz)
    unknown = np.isnan(above_m)
    nu = np.where(unknown, -np.inf, nu)
    which = nu.argmax(axis=1)
    worst = np.take_along_axis(nu, which[:, None], axis=1)[:, 0]
    loss = knife_edge_db(worst)
    return Edge(loss, np.where(loss > 0.0, which, -1), np.asarray(unknown.any(axis=1)))


def spare_db(range_m: float, distance_m: Array, loss_db: Array) -> Array:
    """Decibels to spare at a distance, of a link that just holds at `range_m` in the open:
    `20 lg(range / distance) - loss` (free space goes with the distance squared, ITU-R P.525)."""
    return np.asarray(20.0 * np.log10(range_m / np.maximum(distance_m, 1e-3)) - loss_db)


def edge_limit(loss_db: float) -> float:
    """The greatest ν whose knife edge costs no more than `loss_db` (-0.78 for no loss at all)."""
    low, high = -0.78, 1e4
    if loss_db <= 0.0:
        return low
    for _ in range(80):
        middle = 0.5 * (low + high)
        low, high = (
            (middle, high) if float(knife_edge_db(np.array(middle))) <= loss_db else (low, middle)
        )
    return low
