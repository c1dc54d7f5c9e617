"""How much light the sun gives, from which side it falls, how long its shadows are.

Azimuths clockwise from true north, elevations above the level, both in radians.
"""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Index = NDArray[np.intp]
Bools = NDArray[np.bool_]

SUN_RADIUS_DEG = 0.27  # of the disc as seen
UNDER_TREES_STOPS = 4.0  # a forest floor is 3 to 5 stops darker than the open (from memory)
GLARE_DEG = 25.0  # practice: keep the aircraft that far off the sun as seen (from memory)
DAZZLE_DEG = 20.0  # a low sun this near an eye's axis blinds it (a setting of ours)
RECEPTOR_LUX = 2.5  # of a flat receptor at EV 0, ISO 100: C = 250 lx (ISO 2720)

_LUX = (
    # Elevation of the sun's centre in degrees, light on level ground under a clear sky in lux.
    # Sunset about 400, end of civil twilight 3.4, full sun about 100,000 and the darker two
    # twilights are remembered, unchecked; from 5° on E = 127.5 klx exp(-0.21 / sin) sin
    # + 0.8 klx + 15.5 klx sqrt(sin), the lighting engineers' clear sky (also from memory).
    (-18.0, 0.0006),
    (-12.0, 0.008),
    (-6.0, 3.4),
    (-0.8333, 400.0),
    (5.0, 6_370.0),
    (10.0, 13_900.0),
    (20.0, 33_500.0),
    (30.0, 53_600.0),
    (45.0, 80_800.0),
    (60.0, 102_000.0),
    (90.0, 120_000.0),
)

SIDES = ("back", "three-quarter back", "side", "three-quarter front", "front")
_SIDE_EDGES_DEG = (45.0, 75.0, 105.0, 135.0)  # trade convention, no standard found


def lux(elevation_rad: Array) -> Array:
    """Light on level ground in the open `(...)`, by the sun's elevation: clear sky, no moon.

    Between the rows of the table the logarithm of the light is straight in the elevation; below
    its last row the light stays. Neglected: cloud (2 to 4 stops), haze, height above the sea.
    """
    degrees, light = np.array(_LUX).T
    return np.asarray(np.exp(np.interp(np.degrees(elevation_rad), degrees, np.log(light))))


def elevation_deg(light_lux: float) -> float:
    """The sun's elevation at which there is so much light in the open (the table the other way
    round, within its rows)."""
    degrees, light = np.array(_LUX).T
    return float(np.interp(np.log(max(light_lux, 1e-9)), np.log(light), degrees))


def darker(light_lux: Array, stops: Array | float) -> Array:
    """Light less so many stops, each of them half."""
    return np.asarray(light_lux * 2.0 ** (-np.asarray(stops, dtype=float)))


def exposure_value(light_lux: Array) -> Array:
    """EV at ISO 100 that light on the subject asks for: `E = 2.5 · 2^EV` lx (ISO 2720)."""
    return np.asarray(np.log2(np.asarray(light_lux, dtype=float) / RECEPTOR_LUX))


def camera_exposure_value(f_number: float, shutter_s: float, iso: float = 100.0) -> float:
    """EV at ISO 100 a camera is set to: `lg2(N²/t) - lg2(S/100)` (ISO 2720)."""
    return float(np.log2(f_number**2 / shutter_s) - np.log2(iso / 100.0))


def toward(azimuth_rad: Array, elevation_rad: Array) -> Array:
    """Unit vectors `(..., 3)` toward the sun, x east, y north, z up."""
    azimuth, elevation = np.asarray(azimuth_rad), np.asarray(elevation_rad)
    level = np.cos(elevation)
    return np.stack([level * np.sin(azimuth), level * np.cos(azimuth), np.sin(elevation)], axis=-1)


def angle_rad(one: Array, other: Array) -> Array:
    """Angle `(...)` between vectors `(..., 3)`; 0 where one of them has no length."""
    length = np.linalg.norm(one, axis=-1) * np.linalg.norm(other, axis=-1)
    dot = (one * other).sum(axis=-1)
    safe = np.where(length > 0.0, length, 1.0)
    return np.asarray(np.where(length > 0.0, np.arccos(np.clip(dot / safe, -1.0, 1.0)), 0.0))


def side(camera_to_rider_m: Array, toward_sun: Array) -> Index:
    """Index `(...)` into `SIDES`: from which side the light falls on the rider, by the angle
    between the camera's axis and the sun (0 is the sun straight in the lens)."""
    beta = np.degrees(angle_rad(camera_to_rider_m, toward_sun))
    return np.searchsorted(np.array(_SIDE_EDGES_DEG), beta, side="right")


def shadow_m(height_m: Array, elevation_rad: Array) -> Array:
    """Length of a shadow on level ground, `h / tan e`; +inf with the sun not above the level."""
    e = np.asarray(elevation_rad, dtype=float)
    up = e > 0.0
    return np.where(up, np.asarray(height_m) / np.tan(np.where(up, e, 1.0)), np.inf)


class Light(NamedTuple):
    """What the aircraft's eyes have to see by, each `(...)` over its samples: light where it
    flies, where the sun stands, whether there is water below."""

    lux: Any
    sun_azimuth_rad: Any
    sun_elevation_rad: Any
    over_water: Any


def dazzled(light: Light, axis_rad: Array) -> Bools:
    """Where a sun above the level stands within `DAZZLE_DEG` of a level axis."""
    low = light.sun_elevation_rad < np.radians(DAZZLE_DEG + 1.0)
    if not np.any(low):
        return np.zeros(np.broadcast_shapes(np.shape(low), np.shape(axis_rad)), dtype=bool)
    away = np.cos(light.sun_elevation_rad) * np.cos(light.sun_azimuth_rad - axis_rad)
    near = away > np.cos(np.radians(DAZZLE_DEG))
    return np.asarray(near & (light.sun_elevation_rad > np.radians(-SUN_RADIUS_DEG)))
