"""Wind over ground and edges (EN 1991-1-4:2005+A1:2010), wind along a track, Beaufort words.

Mean wind over even ground, the speed-up over cliffs, escarpments, hills and ridges.
Neglected: updraught, recirculation behind edges and in the lee, funnelling, thermal effects.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


class Roughness(NamedTuple):
    """A terrain category of EN 1991-1-4 Table 4.1: roughness length, least height, what it is."""

    z0_m: float
    least_m: float
    what: str


CATEGORIES: dict[str, Roughness] = {
    "0": Roughness(0.003, 1.0, "open sea or coast"),
    "I": Roughness(0.01, 1.0, "lakes, flat ground with hardly any plants"),
    "II": Roughness(0.05, 2.0, "low plants and single obstacles"),
    "III": Roughness(0.3, 5.0, "villages, suburbs, forest"),
    "IV": Roughness(1.0, 10.0, "towns"),
}


HIGHEST_M = 200.0  # above it the roughness factor does not reach (EN 1991-1-4 (4.4))


def terrain_factor(category: str) -> float:
    """`kr` (EN 1991-1-4 (4.5)): by (4.6) the spread of the gusts goes with it, not with height."""
    return float(0.19 * (CATEGORIES[category].z0_m / 0.05) ** 0.07)


def roughness_factor(z_m: Array, category: str) -> Array:
    """`cr(z) = kr ln(z/z0)`, below the least height as at it (EN 1991-1-4 (4.4), (4.5)).

    `z_m` above ground; beyond 200 m the formula does not reach: NaN.
    """
    c = CATEGORIES[category]
    z = np.maximum(np.asarray(z_m, dtype=float), c.least_m)
    return np.where(z <= HIGHEST_M, terrain_factor(category) * np.log(z / c.z0_m), np.nan)


def upwind_location(x_over_lu: Array, z_over_le: Array) -> Array:
    """Location factor s upwind of a crest (EN 1991-1-4 A.4 to A.6); 0 outside its range."""
    zeta = np.asarray(z_over_le, dtype=float)
    x = np.asarray(x_over_lu, dtype=float)
    a = 0.1552 * zeta**4 - 0.8575 * zeta**3 + 1.8133 * zeta**2 - 1.9115 * zeta + 1.0124
    b = 0.3542 * zeta**2 - 1.0577 * zeta + 2.6456
    valid = (x >= -1.5) & (x <= 0.0) & (zeta >= 0.0) & (zeta <= 2.0)
    return np.where(valid, np.maximum(a * np.exp(b * np.minimum(x, 0.0)), 0.0), 0.0)


def cliff_location(x_over_le: Array, z_over_le: Array) -> Array:
    """Location factor s downwind of a cliff or escarpment (EN 1991-1-4 A.7 to A.10).

    From 0.1 to 3.5 effective lengths; between the crest and 0.1 interpolated; 0 beyond.
    """
    x = np.asarray(x_over_le, dtype=float)
    zeta = np.asarray(z_over_le, dtype=float)

    def fitted(at: Array) -> Array:
        ell = np.log10(np.clip(zeta, 0.1, 2.0))
        a = -1.3420 * ell**3 - 0.8222 * ell**2 + 0.4609 * ell - 0.0791
        b = -1.0196 * ell**3 - 0.8910 * ell**2 + 0.5343 * ell - 0.1156
        c = 0.8030 * ell**3 + 0.4236 * ell**2 - 0.5738 * ell + 0.1606
        lg = np.log10(np.clip(at, 0.1, 3.5))
        return np.asarray(a * lg**2 + b * lg + c)

    crest = upwind_location(np.zeros_like(x), zeta)
    near = crest + (fitted(np.full_like(x, 0.1)) - crest) * np.clip(x, 0.0, 0.1) / 0.1
    s = np.where(x < 0.1, near, fitted(x))
    valid = (x >= 0.0) & (x <= 3.5) & (zeta <= 2.0) & (zeta >= 0.0)
    return np.where(valid, np.maximum(s, 0.0), 0.0)


def hill_location(x_over_ld: Array, z_over_le: Array) -> Array:
    """Location factor s downwind of a hill or ridge (EN 1991-1-4 A.11 to A.13)."""
    x = np.asarray(x_over_ld, dtype=float)
    zeta = np.asarray(z_over_le, dtype=float)
    a = 0.1552 * zeta**4 - 0.8575 * zeta**3 + 1.8133 * zeta**2 - 1.9115 * zeta + 1.0124
    b = -0.3056 * zeta**2 + 1.0212 * zeta - 1.7637
    valid = (x >= 0.0) & (x <= 2.0) & (zeta >= 0.0) & (zeta <= 2.0)
    return np.where(valid, np.maximum(a * np.exp(b * np.maximum(x, 0.0)), 0.0), 0.0)


class Crest(NamedTuple):
    """An edge met by the wind: height `rise_m` H over a slope `upwind_m` Lu long; beyond it the
    ground falls by `fall_m` over `downwind_m` Ld (a hill) or stays level (a cliff). Numbers, or
    arrays of one shape; NaN where there is no edge."""

    rise_m: Array | float
    upwind_m: Array | float
    fall_m: Array | float
    downwind_m: Array | float


STEEP = 0.3  # slope above which the effect of an edge grows no more (EN 1991-1-4 A.3)
GENTLE = 0.05  # slope under which it has none


def effective_length_m(crest: Crest) -> Array:
    """`Le`: Lu to a slope of 0.3, H/0.3 above (EN 1991-1-4 Table A.2); 1 where there is no edge."""
    rise, upwind = np.asarray(crest.rise_m, dtype=float), np.asarray(crest.upwind_m, dtype=float)
    return np.where((rise > 0.0) & (upwind > 0.0), np.maximum(upwind, rise / STEEP), 1.0)


def orography_factor(x_m: Array, z_m: Array, crest: Crest) -> Array:
    """`co` at `x_m` downwind of the crest (negative: before it), `z_m` above the ground there.

    EN 1991-1-4 A.1 to A.3: 1 where the slope Φ = H/Lu is under 0.05 or there is no edge,
    1 + 2 s Φ to 0.3, 1 + 0.6 s above. A downwind slope of 0.05 or more makes it a hill.
    All shapes broadcast.
    """
    x = np.asarray(x_m, dtype=float)
    z = np.asarray(z_m, dtype=float)
    rise, upwind, fall, downwind = (np.asarray(part, dtype=float) for part in crest)
    there = (rise > 0.0) & (upwind > 0.0)
    lu = np.where(there, upwind, 1.0)
    slope = np.where(there, rise, 0.0) / lu
    le = effective_length_m(crest)
    ld = np.where(downwind > 0.0, downwind, 1.0)
    hill = np.where(downwind > 0.0, fall, 0.0) / ld >= GENTLE
    zeta = z / le
    after = np.where(hill, hill_location(x / ld, zeta), cliff_location(x / le, zeta))
    s = np.where(x <= 0.0, upwind_location(x / lu, zeta), after)
    lift = np.where(slope <= STEEP, 2.0 * s * slope, 2.0 * STEEP * s)
    return np.where(slope >= GENTLE, 1.0 + lift, 1.0)


def airspeed_needed(ground_velocity_m_s: Array, wind_toward_m_s: Array) -> Array:
    """Speed through the air `(...)` to move with `ground_velocity_m_s (..., 3)` in a wind."""
    return np.asarray(np.linalg.norm(ground_velocity_m_s - wind_toward_m_s, axis=-1))


def ground_speed(track_rad: Array, airspeed_m_s: Array, wind_toward_m_s: Array) -> Array:
    """Speed made good along `track_rad` at an airspeed; NaN where the crosswind is too strong."""
    east, north = np.sin(track_rad), np.cos(track_rad)
    along = wind_toward_m_s[..., 0] * east + wind_toward_m_s[..., 1] * north
    across = wind_toward_m_s[..., 0] * north - wind_toward_m_s[..., 1] * east
    room = np.asarray(airspeed_m_s) ** 2 - across**2
    return np.where(room >= 0.0, np.sqrt(np.maximum(room, 0.0)) + along, np.nan)


# WMO Beaufort scale, 10-minute mean at 10 m: lower bound in m/s and what one sees.
BEAUFORT: tuple[tuple[float, str], ...] = (
    (0.0, "smoke rises straight"),
    (0.3, "smoke drifts"),
    (1.6, "leaves rustle"),
    (3.4, "twigs move all the time"),
    (5.5, "small branches move, dust lifts"),
    (8.0, "small trees in leaf sway"),
    (10.8, "large branches move, wires whistle"),
    (13.9, "whole trees move"),
    (17.2, "twigs break"),
    (20.8, "slates come off"),
    (24.5, "trees are uprooted"),
    (28.5, "widespread damage"),
    (32.7, "hurricane"),
)


def beaufort(wind_m_s: float) -> tuple[int, str]:
    """Beaufort number and what one sees, of a 10-minute mean at 10 m."""
    number = 0
    for index, (lower, _) in enumerate(BEAUFORT):
        if wind_m_s >= lower - 1e-9:
            number = index
    return number, BEAUFORT[number][1]
