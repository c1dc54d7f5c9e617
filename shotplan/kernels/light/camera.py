"""What a camera sees: focal length in pixels, place in the frame, size, panning, exposure aids.

A pinhole without roll. Tangents are shares of the focal length: right and up positive.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Index = NDArray[np.intp]

EARTH_M = 6_371_000.0
SECONDS_ACROSS = 7.0  # a background that crosses the frame faster smears (rule of the trade)

SIZES = ("extreme long", "very long", "long", "medium", "medium close-up", "close-up")
# Share of the frame's height: taxonomy of aerial shots, ICIP 2018 (from memory).
_SIZE_EDGES = (0.05, 0.20, 0.40, 0.60, 0.75)

FILTERS = (2, 4, 8, 16, 32, 64, 128, 256, 512, 1000)  # neutral density, factors sold


class InFrame(NamedTuple):
    """Tangents `right`, `up (...)` from the axis; `ahead (...)` metres along it. Not ahead of the
    camera: both +inf."""

    right: Array
    up: Array
    ahead: Array


def focal_px(width_px: float, horizontal_fov_rad: float) -> float:
    """Focal length in pixels: `W / (2 tan(FOV / 2))`."""
    return float(width_px / (2.0 * np.tan(horizontal_fov_rad / 2.0)))


def place(azimuth_rad: Array, elevation_rad: Array, camera_to_m: Array) -> InFrame:
    """Where `camera_to_m (..., 3)` shows in the picture of a camera that points along an azimuth
    and an elevation `(...)`."""
    x, y, z = camera_to_m[..., 0], camera_to_m[..., 1], camera_to_m[..., 2]
    level = x * np.sin(azimuth_rad) + y * np.cos(azimuth_rad)
    right = x * np.cos(azimuth_rad) - y * np.sin(azimuth_rad)
    ahead = level * np.cos(elevation_rad) + z * np.sin(elevation_rad)
    up = z * np.cos(elevation_rad) - level * np.sin(elevation_rad)
    seen = ahead > 0.0
    depth = np.where(seen, ahead, 1.0)
    return InFrame(np.where(seen, right / depth, np.inf), np.where(seen, up / depth, np.inf), ahead)


def elevation_rad(camera_to_m: Array) -> Array:
    """Elevation `(...)` of what is at `camera_to_m (..., 3)`; below the level it is negative."""
    level = np.hypot(camera_to_m[..., 0], camera_to_m[..., 1])
    return np.asarray(np.arctan2(camera_to_m[..., 2], level))


def subject_px(focal_px: float, height_m: float, camera_to_m: Array) -> Array:
    """Pixels `(...)` an upright subject stands high: `f_px h cos(elevation) / distance`."""
    distance = np.maximum(np.linalg.norm(camera_to_m, axis=-1), 1e-9)
    return np.asarray(focal_px * height_m * np.cos(elevation_rad(camera_to_m)) / distance)


def size(share: Array) -> Index:
    """Index `(...)` into `SIZES` of a subject's share of the frame's height."""
    return np.searchsorted(np.array(_SIZE_EDGES), share, side="right")


def dip_rad(height_m: Array) -> Array:
    """How far below the level the sea's horizon lies: `acos(R / (R + h))`, no refraction."""
    return np.asarray(np.arccos(EARTH_M / (EARTH_M + np.maximum(height_m, 0.0))))


def horizon_px(focal_px: float, elevation_rad: Array, dip_rad: Array | float = 0.0) -> Array:
    """Rows above the middle at which the horizon shows: `f_px tan(tilt down - dip)`."""
    return np.asarray(focal_px * np.tan(-np.asarray(elevation_rad) - dip_rad))


def pan_rad_s(azimuth_rad: Array, step_s: float, span: int) -> Array:
    """How fast the camera pans `(n,)`, over `span` samples about each (fewer at the ends)."""
    turned = np.unwrap(azimuth_rad)
    at = np.arange(len(turned))
    low, high = np.maximum(at - span // 2, 0), np.minimum(at + span // 2, len(turned) - 1)
    return np.asarray(np.abs(turned[high] - turned[low]) / (np.maximum(high - low, 1) * step_s))


def turned_rad(wanted_rad: Array, most_rad: float) -> Array:
    """Where a camera points `(n,)` that turns after `wanted_rad (n,)` (unwrapped) by at most
    `most_rad` a sample, from pointing right at the first."""
    at, found = float(wanted_rad[0]), np.empty(len(wanted_rad))
    for i, wanted in enumerate(wanted_rad.tolist()):
        at += min(max(wanted - at, -most_rad), most_rad)
        found[i] = at
    return found


def pan_limit_rad_s(horizontal_fov_rad: float) -> float:
    """The seven-second rule: nothing crosses the whole frame faster (ω = FOV / 7)."""
    return horizontal_fov_rad / SECONDS_ACROSS


def shutter_s(fps: float) -> float:
    """Exposure of a half-open shutter (the 180° rule): `1 / (2 fps)`."""
    return 1.0 / (2.0 * fps)


def filter_for(stops: float) -> int:
    """The neutral-density factor nearest to so many stops; 1 where none is wanted."""
    if stops < 0.5:
        return 1
    return min(FILTERS, key=lambda factor: abs(float(np.log2(factor)) - stops))


def shift(focal_px: float, error_m: Array | float, distance_m: Array, width_px: float) -> Array:
    """How far an error of place moves the subject, as a share of the frame's width:
    `f_px δ / (d W)`."""
    return np.asarray(focal_px * error_m / (np.maximum(distance_m, 1e-9) * width_px))
