"""Which way the aircraft cannot see, and how far it runs on when everything freezes."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from shotplan.kernels.light.light import Light, dazzled
from shotplan.units import GRAVITY_M_S2

Array = NDArray[np.float64]


class Sector(NamedTuple):
    """One sensed sector: `looks` around | below | above; for around `from_rad`..`to_rad` clockwise
    from the nose; `range_m`; `works_to_m_s`."""

    looks: str
    from_rad: float
    to_rad: float
    range_m: float
    works_to_m_s: float

    @property
    def width_rad(self) -> float:
        """How wide it looks around; a sector across the tail too."""
        width = self.to_rad - self.from_rad
        return width if width >= 0.0 else width % (2.0 * np.pi)


SLOW_M_S = 0.5  # below this no motion direction counts (DEFINITIONS "Blind and overrun")


def overrun_m(speed_m_s: Array, reaction_s: float, brake_m_s2: float) -> Array:
    """How far it flies straight on when everything freezes: v·t + v²/(2b)."""
    return speed_m_s * reaction_s + speed_m_s**2 / (2.0 * brake_m_s2)


def blind(
    velocity_m_s: Array,
    heading_rad: Array,
    sectors: tuple[Sector, ...],
    reaction_s: float,
    brake_m_s2: float,
    light: Light | None = None,
    least_lux: tuple[float, ...] = (),
) -> NDArray[np.bool_]:
    """True where `velocity_m_s (..., 3)`, seen from a nose at `heading_rad (...)`, lies in no
    working sector: one that covers the direction, works at that speed, sees at least as far
    as the overrun, and counts in the `light` there (None: enough for all, no sun in the eyes;
    `least_lux` per sector). Slower than `SLOW_M_S` is never blind."""
    speed = np.linalg.norm(velocity_m_s, axis=-1)
    level = np.hypot(velocity_m_s[..., 0], velocity_m_s[..., 1])
    climb = velocity_m_s[..., 2]
    course = np.arctan2(velocity_m_s[..., 0], velocity_m_s[..., 1])
    needed = overrun_m(speed, reaction_s, brake_m_s2)
    seen = np.zeros(speed.shape, dtype=bool)
    eps = 1e-9
    for index, s in enumerate(sectors):
        if s.looks == "below":
            covers = climb < -level
        elif s.looks == "above":
            covers = climb > level
        else:
            turn = np.mod(course - heading_rad - s.from_rad + eps, 2 * np.pi)
            covers = (np.abs(climb) <= level) & (
                (turn <= s.width_rad + 2 * eps) | (s.width_rad >= 2 * np.pi)
            )
        if light is not None:
            needs = least_lux[index] if index < len(least_lux) else 0.0
            covers &= counts(s, needs, light, heading_rad, course)
        seen |= covers & (speed <= s.works_to_m_s) & (s.range_m >= needed)
    return np.asarray((speed > SLOW_M_S) & ~seen, dtype=bool)


def counts(
    sector: Sector, least_lux: float, light: Light, heading_rad: Array, course_rad: Array
) -> NDArray[np.bool_]:
    """Where a sector counts in a light: at least `least_lux`; looking around, no low sun near its
    axis (one wider than a half turn has several eyes, of which the one that looks along
    `course_rad` matters); looking below, no water under it."""
    enough = np.asarray(light.lux >= least_lux)
    if sector.looks == "below":
        return np.asarray(enough & ~np.asarray(light.over_water, dtype=bool))
    if sector.looks == "above":
        return enough
    return np.asarray(enough & ~dazzled(light, _axis(sector, heading_rad, course_rad)))


def sun_in_eyes(
    sectors: tuple[Sector, ...], light: Light, heading_rad: Array, course_rad: Array
) -> NDArray[np.bool_]:
    """Where the low sun stands in any of the eyes that look around."""
    found = np.zeros(np.shape(heading_rad), dtype=bool)
    for s in sectors:
        if s.looks == "around":
            found |= dazzled(light, _axis(s, heading_rad, course_rad))
    return found


def _axis(sector: Sector, heading_rad: Array, course_rad: Array) -> Array:
    """Where the eye looks that matters; of several in a wide sector the one along the course."""
    if sector.width_rad > np.pi:
        return course_rad
    return np.asarray(heading_rad + sector.from_rad + sector.width_rad / 2.0)


def contingency_m(speed_m_s: Array, max_tilt_rad: float) -> Array:
    """Published lateral contingency distance: 3 + 3 + 1 + v·1 s + v²/(2·g·tan θ).

    Position error, position holding, map error, reaction, stopping at the steepest tilt
    (sizing of volumes for multirotors: JARUS SORA 2.5 Annex A, at second hand).
    """
    stop = speed_m_s**2 / (2.0 * GRAVITY_M_S2 * np.tan(max_tilt_rad))
    return np.asarray(3.0 + 3.0 + 1.0 + speed_m_s * 1.0 + stop)


def upright_gap_m(xyz_m: Array, foot_m: Array, tall_m: float = 2.0) -> Array:
    """Distance from points `(..., 3)` to upright lines from `foot_m (..., 3)` up by `tall_m`."""
    level = np.hypot(xyz_m[..., 0] - foot_m[..., 0], xyz_m[..., 1] - foot_m[..., 1])
    over = xyz_m[..., 2] - foot_m[..., 2]
    return np.asarray(np.hypot(level, np.maximum(np.maximum(over - tall_m, -over), 0.0)))
