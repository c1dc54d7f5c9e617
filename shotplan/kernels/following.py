"""How the aircraft follows its set point: delay, response, limits.

`a = w²(p* - p) + 2w(v* - v)` with p* the set point `delay_s` ago and v* its central difference
over 0.1 s; see DEFINITIONS "Following".
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


class Limits(NamedTuple):
    """What the aircraft can do, SI."""

    airspeed_m_s: float
    climb_m_s: float
    sink_m_s: float
    acceleration_m_s2: float


class Flown(NamedTuple):
    """`xyz_m`, `velocity_m_s (r, n, 3)`; `asked_m_s2 (r, n)`: the level acceleration the law asked
    for before it was cut; `setpoint_velocity_m_s (r, n, 3)`: v* (the delayed set point's)."""

    xyz_m: Array
    velocity_m_s: Array
    asked_m_s2: Array
    setpoint_velocity_m_s: Array


def follow(
    wish_xyz_m: Array,
    first: int,
    step_s: float,
    delay_s: float | Array,
    response_rad_s: float | Array,
    limits: Limits,
    wind_m_s: Array,
    own_acceleration: bool,
    substep_s: float = 0.02,
) -> Flown:
    """Fly after `wish_xyz_m (r, n, 3)`, sampled every `step_s`, from sample `first` to the end.

    The samples before `first` (the lead-in) are only looked back at. It starts at `first` against
    the delayed set point: same place, same velocity. `delay_s`, `response_rad_s`: scalar or `(r,)`.
    `wind_m_s`: `(3,)` the vector the air moves toward, or `(r, 3)`. `own_acceleration` adds the
    set point's own acceleration (a wish that does not depend on the rider; delay 0 then).
    Midpoint rule in steps of `substep_s`. Returns arrays over samples first..n-1.
    """
    raise NotImplementedError
