"""Numbers as people read them, so that every sentence rounds alike."""

from __future__ import annotations

import math


def metres(value: float) -> str:
    """`1.6 m`, from 100 m on without decimals; what is not known says so."""
    if math.isnan(value):
        return "an unknown distance"
    if math.isinf(value):
        return "no distance"
    return f"{value:.0f} m" if abs(value) >= 100.0 else f"{value:.1f} m"


def seconds(value: float) -> str:
    """`3.4 s`."""
    return f"{value:.1f} s"


def speed(value: float) -> str:
    """`6.0 m/s`."""
    return f"{value:.1f} m/s"


def rounded_up(value: float, step: float = 0.5) -> float:
    """The next multiple of `step` that is not below `value`: advice errs to the safe side."""
    return math.ceil(value / step - 1e-9) * step


def rounded_down(value: float, step: float = 0.5) -> float:
    """The last multiple of `step` that is not above `value`."""
    return math.floor(value / step + 1e-9) * step


def place(ride_m: float, time_s: float) -> str:
    """`212 m along the ride, 28.7 s into the shot`."""
    return f"{ride_m:.0f} m along the ride, {time_s:.1f} s into the shot"
