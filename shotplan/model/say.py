"""Numbers as people read them, so that every sentence rounds alike."""

from __future__ import annotations

import math
from collections.abc import Sequence
from datetime import date, datetime

import numpy as np
from numpy.typing import NDArray

from shotplan.kernels.rides.runs import runs
from shotplan.model.arrays import Array
from shotplan.model.ride import STEP_S


def metres(value: float) -> str:
    """`1.6 m`, from 100 m on without decimals; what is not known says so."""
    if math.isnan(value):
        return "an unknown distance"
    if math.isinf(value):
        return "no distance"
    if abs(value) < 0.05:
        return "0.0 m"
    return f"{value:.0f} m" if abs(value) >= 100.0 else f"{value:.1f} m"


ONE_ERROR = "one standard error: two times in three it is nearer than that"


def span(values_m: Sequence[float]) -> str:
    """`0.5 m to 2.7 m`; one number where they read alike."""
    least, most = metres(min(values_m)), metres(max(values_m))
    return least if least == most else f"{least} to {most}"


def seconds(value: float) -> str:
    """`3.4 s`."""
    return f"{value:.1f} s"


def speed(value: float) -> str:
    """`6.0 m/s`."""
    return f"{value:.1f} m/s"


def day(on: date | str) -> str:
    """`2 June 2026`, of a date or as `on` says it; "" says that nobody said."""
    if isinstance(on, str):
        if not on:
            return "a day not given"
        on = date.fromisoformat(on)
    return f"{on.day} {on:%B %Y}"


def rounded_up(value: float, step: float = 0.5) -> float:
    """The next multiple of `step` that is not below `value`: advice errs to the safe side."""
    return math.ceil(value / step - 1e-9) * step


def rounded_down(value: float, step: float = 0.5) -> float:
    """The last multiple of `step` that is not above `value`."""
    return math.floor(value / step + 1e-9) * step


COMPASS = (
    *("N", "NNE", "NE", "ENE", "E", "ESE", "SE", "SSE"),
    *("S", "SSW", "SW", "WSW", "W", "WNW", "NW", "NNW"),
)  # clockwise, 22.5° apart
STEPS = tuple(base * 10.0**power for power in range(5) for base in (1.0, 2.0, 5.0))


def round_step(least: float, *, also: tuple[float, ...] = ()) -> float:
    """The first round number that is not below `least`: 1, 2, 5, 10, 20, ... and `also` these."""
    steps = sorted((*STEPS, *also))
    return next((s for s in steps if s >= least), steps[-1])


def sector(azimuth_rad: float, of: int) -> int:
    """Which of so many sides, clockwise from north, is the nearest."""
    return round(math.degrees(azimuth_rad) / (360.0 / of)) % of


def compass(azimuth_rad: float) -> str:
    """`WSW`: the nearest of sixteen points."""
    return COMPASS[sector(azimuth_rad, len(COMPASS))]


def place(ride_m: float, time_s: float) -> str:
    """`212 m along the ride, 28.7 s into the shot`."""
    return f"{ride_m:.0f} m along the ride, {time_s:.1f} s into the shot"


def clock(at: datetime) -> str:
    """`20:41`, in the moment's own zone."""
    return f"{at:%H:%M}"


def spans(
    moments: Sequence[datetime], flags: NDArray[np.bool_]
) -> tuple[tuple[datetime, datetime], ...]:
    """First and last moment of every run at which something holds."""
    return tuple((moments[a], moments[b - 1]) for a, b in runs(flags) if flags[a])


def _from_to(first_m: float, last_m: float) -> str:
    first, last = f"{first_m:.0f}", f"{last_m:.0f}"
    return f"at {first} m" if first == last else f"{first} to {last} m"


def stretches(along_m: Array, labels: Sequence[str], *, most: int = 6, least_s: float = 1.0) -> str:
    """`front 40 to 62 m, side 62 to 110 m`: runs of one label along the ride, "" left out; runs
    shorter than `least_s` join the one before; beyond `most` runs only how long each label is."""
    named = np.array(labels, dtype=object)
    for low, high in runs(named):
        if high - low < round(least_s / STEP_S) and low > 0:
            named[low:high] = named[low - 1]
    parts: list[tuple[str, int, int]] = []
    for low, high in runs(named):
        if parts and parts[-1][0] == named[low]:
            parts[-1] = (parts[-1][0], parts[-1][1], high)
        elif named[low]:
            parts.append((str(named[low]), low, high))
    if len(parts) == 1 and parts[0][1:] == (0, len(named)):
        return f"{parts[0][0]} all the way"
    if len(parts) <= most:
        return ", ".join(f"{n} {_from_to(along_m[a], along_m[b - 1])}" for n, a, b in parts)
    return ", ".join(
        f"{name} for {seconds(float((named == name).sum() * STEP_S))}"
        for name in dict.fromkeys(n for n, _, _ in parts)
    )
