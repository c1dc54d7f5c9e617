"""Radio line of sight: free space, first Fresnel zone, one knife edge, foliage (ITU-R P series)."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

LIGHT_M_S = 299_792_458.0


def free_space_db(distance_m: Array, frequency_mhz: float) -> Array:
    """Free-space loss `20 lg(4 π d f / c)` (ITU-R P.525)."""
    return np.asarray(20.0 * np.log10(4.0 * np.pi * distance_m * frequency_mhz * 1e6 / LIGHT_M_S))


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
    """`ν = h sqrt(2/λ (1/d1 + 1/d2))`: h the edge's height above the straight line."""
    wave = LIGHT_M_S / (frequency_mhz * 1e6)
    return np.asarray(above_m * np.sqrt(2.0 / wave * (1.0 / d1_m + 1.0 / d2_m)))


def foliage_db(depth_m: Array, frequency_mhz: float) -> Array:
    """Loss through leaves (Weissberger's modified exponential decay, to 400 m of depth)."""
    d = np.minimum(np.asarray(depth_m, dtype=float), 400.0)
    f = (frequency_mhz / 1000.0) ** 0.284
    return np.asarray(np.where(d > 14.0, 1.33 * f * np.maximum(d, 1e-9) ** 0.588, 0.45 * f * d))
