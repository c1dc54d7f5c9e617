"""Which way the aircraft cannot see, and how far it runs on when everything freezes."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

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
) -> NDArray[np.bool_]:
    """True where `velocity_m_s (..., 3)`, seen from a nose at `heading_rad (...)`, lies in no
    working sector: one that covers the direction, works at that speed and sees at least as far
    as the overrun. Slower than `SLOW_M_S` is never blind."""
    speed = np.linalg.norm(velocity_m_s, axis=-1)
    level = np.hypot(velocity_m_s[..., 0], velocity_m_s[..., 1])
    upward = np.arctan2(velocity_m_s[..., 2], level)
    course = np.arctan2(velocity_m_s[..., 0], velocity_m_s[..., 1])
    needed = overrun_m(speed, reaction_s, brake_m_s2)
    seen = np.zeros(speed.shape, dtype=bool)
    eps = 1e-9
    for s in sectors:
        if s.looks == "below":
            covers = upward < -np.pi / 4
        elif s.looks == "above":
            covers = upward > np.pi / 4
        else:
            width = s.to_rad - s.from_rad
            width = width if width >= 0.0 else width % (2 * np.pi)  # across the tail
            turn = np.mod(course - heading_rad - s.from_rad + eps, 2 * np.pi)
            covers = (np.abs(upward) <= np.pi / 4) & (
                (turn <= width + 2 * eps) | (width >= 2 * np.pi)
            )
        seen |= covers & (speed <= s.works_to_m_s) & (s.range_m >= needed)
    return np.asarray((speed > SLOW_M_S) & ~seen, dtype=bool)


def contingency_m(speed_m_s: Array, max_tilt_rad: float) -> Array:
    """Published lateral contingency distance: 3 + 3 + 1 + v·1 s + v²/(2·g·tan θ).

    Position error, position holding, map error, reaction, stopping at the steepest tilt
    (sizing of volumes for multirotors, reference/rules.md section 7).
    """
    stop = speed_m_s**2 / (2.0 * GRAVITY_M_S2 * np.tan(max_tilt_rad))
    return np.asarray(3.0 + 3.0 + 1.0 + speed_m_s * 1.0 + stop)


def upright_gap_m(xyz_m: Array, foot_m: Array, tall_m: float = 2.0) -> Array:
    """Distance from points `(..., 3)` to upright lines from `foot_m (..., 3)` up by `tall_m`."""
    level = np.hypot(xyz_m[..., 0] - foot_m[..., 0], xyz_m[..., 1] - foot_m[..., 1])
    over = xyz_m[..., 2] - foot_m[..., 2]
    return np.asarray(np.hypot(level, np.maximum(np.maximum(over - tall_m, -over), 0.0)))
