"""Where it comes down when it stops flying: point mass, quadratic drag, wind."""

from __future__ import annotations

from collections.abc import Callable
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from shotplan.units import GRAVITY_M_S2

Array = NDArray[np.float64]

LONGEST_S = 600.0


class Impact(NamedTuple):
    """`xyz_m (n, 3)` where it comes down, `speed_m_s`, `time_s (n,)`; NaN where the ground is not
    known somewhere on the way."""

    xyz_m: Array
    speed_m_s: Array
    time_s: Array


def fall_to_ground(
    xyz_m: Array,
    velocity_m_s: Array,
    mass_kg: float,
    drag_area_m2: Array,
    wind_toward_m_s: Array,
    ground_m: Callable[[Array], Array],
    density_kg_m3: float = 1.225,
    step_s: float = 0.02,
) -> Impact:
    """Fall from `xyz_m (n, 3)` with `velocity_m_s (n, 3)` through a wind `(3,)` or `(n, 3)` to
    the first ground met on the way: `ground_m(xy (k, 2)) -> (k,)` elevations, NaN unknown.

    `m v' = m g - ½ ρ C_d A |v_rel| v_rel`, fourth-order Runge-Kutta; `drag_area_m2 (n,)` is C_d·A.
    What starts on or below the ground has landed. The last step is cut where it meets the ground,
    taken straight between the ends of the step. Neglected: lift, spin, what still turns.
    """
    v, p = np.array(velocity_m_s, dtype=float), np.array(xyz_m, dtype=float)
    wind = np.broadcast_to(np.asarray(wind_toward_m_s, dtype=float), v.shape)
    drag = (0.5 * density_kg_m3 / mass_kg) * np.asarray(drag_area_m2, dtype=float)[:, None]
    gap = p[:, 2] - ground_m(p[:, :2])
    unknown = np.isnan(gap)
    speed, time = np.linalg.norm(v, axis=1), np.zeros(len(v))
    falling, elapsed = gap > 0.0, 0.0
    while falling.any() and elapsed < LONGEST_S:
        on = np.flatnonzero(falling)
        way, new_v = _step(v[on], wind[on], drag[on], step_s)
        new_p = p[on] + way
        new_gap = new_p[:, 2] - ground_m(new_p[:, :2])
        lost = np.isnan(new_gap)
        unknown[on[lost]] = True
        landed = new_gap <= 0.0
        at = on[landed]
        share = gap[at] / (gap[at] - new_gap[landed])
        new_p[landed] = p[at] + share[:, None] * way[landed]
        speed[at] = np.linalg.norm(v[at] + share[:, None] * (new_v[landed] - v[at]), axis=1)
        time[at] = elapsed + share * step_s
        falling[on[landed | lost]] = False
        v[on], p[on], gap[on] = new_v, new_p, new_gap
        elapsed += step_s
    unknown |= falling
    for part in (p, speed, time):
        part[unknown] = np.nan
    return Impact(p, speed, time)


def _step(v: Array, wind: Array, drag: Array, h: float) -> tuple[Array, Array]:
    """The way `(k, 3)` of one step of `h` seconds and the velocity after it."""
    down = np.array([0.0, 0.0, -GRAVITY_M_S2])

    def accelerate(velocity: Array) -> Array:
        rel = velocity - wind
        speed = np.sqrt(np.einsum("ij,ij->i", rel, rel))[:, None]
        return np.asarray(down - drag * speed * rel)

    k1 = accelerate(v)
    k2 = accelerate(v + 0.5 * h * k1)
    k3 = accelerate(v + 0.5 * h * k2)
    k4 = accelerate(v + h * k3)
    way = h * v + h * h / 6.0 * (k1 + k2 + k3)
    return way, v + h / 6.0 * (k1 + 2.0 * k2 + 2.0 * k3 + k4)
