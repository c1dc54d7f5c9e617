"""Where it comes down when it stops flying: point mass, quadratic drag, wind."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from shotplan.units import GRAVITY_M_S2

Array = NDArray[np.float64]


class Landing(NamedTuple):
    """`offset_m (n, 2)` level way from the failure; `speed_m_s`, `time_s (n,)` on landing."""

    offset_m: Array
    speed_m_s: Array
    time_s: Array


def fall(
    velocity_m_s: Array,
    height_m: Array,
    mass_kg: float,
    drag_area_m2: float,
    wind_toward_m_s: Array,
    density_kg_m3: float = 1.225,
    step_s: float = 0.02,
) -> Landing:
    """Fall from `height_m (n,)` with `velocity_m_s (n, 3)` through a wind `(3,)` or `(n, 3)`.

    `m v' = m g - ½ ρ C_d A |v_rel| v_rel`, fourth-order Runge-Kutta; `drag_area_m2` is C_d·A.
    Heights of 0 or less land at once. The last step is cut where it meets the ground.
    """
    v = np.array(velocity_m_s, dtype=float)
    height = np.array(height_m, dtype=float)
    p = np.zeros_like(v)
    down = np.array([0.0, 0.0, -GRAVITY_M_S2])
    drag = 0.5 * density_kg_m3 * drag_area_m2 / mass_kg
    offset = np.zeros((len(v), 2))
    speed = np.linalg.norm(v, axis=1)
    time = np.zeros(len(v))
    falling = height > 0.0

    def accelerate(velocity: Array, wind: Array) -> Array:
        rel = velocity - wind
        return np.asarray(down - drag * np.linalg.norm(rel, axis=1, keepdims=True) * rel)

    wind_all = np.broadcast_to(wind_toward_m_s, v.shape)
    elapsed = 0.0
    while falling.any() and elapsed < 600.0:
        on = np.flatnonzero(falling)
        a, w, h = v[on], wind_all[on], step_s
        k1 = accelerate(a, w)
        k2 = accelerate(a + 0.5 * h * k1, w)
        k3 = accelerate(a + 0.5 * h * k2, w)
        k4 = accelerate(a + h * k3, w)
        new_v = a + h / 6.0 * (k1 + 2 * k2 + 2 * k3 + k4)
        new_p = p[on] + h * a + h * h / 6.0 * (k1 + k2 + k3)
        landed = new_p[:, 2] <= -height[on]
        if landed.any():
            at = on[landed]
            part = (height[at] + p[at, 2]) / (p[at, 2] - new_p[landed, 2])
            offset[at] = p[at, :2] + part[:, None] * (new_p[landed, :2] - p[at, :2])
            speed[at] = np.linalg.norm(v[at] + part[:, None] * (new_v[landed] - v[at]), axis=1)
            time[at] = elapsed + part * h
            falling[at] = False
        v[on], p[on] = new_v, new_p
        elapsed += h
    return Landing(offset, speed, time)
