"""Where a compass needle points: declination of the earth's field. The only pygeomag.

The World Magnetic Model, degree 12, as pygeomag carries it (five-year models from 2010 to the end
of 2029, no network). Neglected: rock, iron, wires and the phone's own case, which turn a needle
more than the model is off (its own error is about half a degree away from the magnetic poles).
"""

from __future__ import annotations

from datetime import date, datetime
from functools import cache
from typing import Any, NamedTuple

import numpy as np

FIRST_YEAR, LAST_YEAR = 2010, 2029  # of the models carried
WEAK_NT = 2000.0  # of the level part of the field: below it a needle is no use (the model's own)


class Declination(NamedTuple):
    """`east_rad` from true to magnetic north, east positive; `model` its name."""

    east_rad: float
    model: str


def declination(
    lon_deg: float, lat_deg: float, elevation_m: float, at: datetime
) -> Declination | None:
    """The declination at a place on a day; None where no model reaches that day, or the level part
    of the field is so weak there that a needle says nothing."""
    if not FIRST_YEAR <= at.year <= LAST_YEAR:
        return None
    model = _model(at.year - at.year % 5)
    high_km = elevation_m / 1000.0 if np.isfinite(elevation_m) else 0.0
    found = model.calculate(glat=lat_deg, glon=lon_deg, alt=high_km, time=_years(at))
    if found.h < WEAK_NT:
        return None
    return Declination(float(np.radians(found.d)), str(model.model))


def magnetic_rad(true_rad: float, found: Declination) -> float:
    """A true azimuth as a compass shows it, 0 to 2 pi."""
    return float(np.mod(true_rad - found.east_rad, 2.0 * np.pi))


def _years(at: datetime) -> float:
    """The moment's day as a year with its fraction."""
    first, last = date(at.year, 1, 1), date(at.year + 1, 1, 1)
    return at.year + (at.date() - first).days / (last - first).days


@cache
def _model(first_year: int) -> Any:
    from pygeomag import GeoMag

    return GeoMag(base_year=first_year)
