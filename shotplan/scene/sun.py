"""Where the sun stands, when it rises and sets. The only ephem.

Azimuths clockwise from true north. Elevation is the sun's centre, without refraction unless a
pressure is given; sunrise and sunset are the upper limb at the level horizon with 34' of
refraction (the almanac's convention, -0.833°).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta, tzinfo
from functools import lru_cache

import ephem
import numpy as np

from shotplan.model.arrays import Array

RISE_DEG = -0.8333
CIVIL_DEG = -6.0


def position(
    at: Sequence[datetime],
    lon_deg: float,
    lat_deg: float,
    elevation_m: float = 0.0,
    pressure_hpa: float = 0.0,
    temperature_c: float = 15.0,
) -> tuple[Array, Array]:
    """Azimuth and elevation in radians `(k,)` at moments that know their offset.

    Topocentric; with `pressure_hpa` the elevation is apparent (refracted).
    """
    observer = _observer(lon_deg, lat_deg, elevation_m)
    observer.pressure = pressure_hpa
    observer.temp = temperature_c
    azimuth, elevation = np.empty(len(at)), np.empty(len(at))
    for index, moment in enumerate(at):
        observer.date = _utc(moment)
        sun = ephem.Sun(observer)
        azimuth[index], elevation[index] = float(sun.az), float(sun.alt)
    return azimuth, elevation


@dataclass(frozen=True, kw_only=True)
class SunDay:
    """One day's moments in the site's zone; None where the sun does not do that."""

    dawn: datetime | None
    sunrise: datetime | None
    noon: datetime
    sunset: datetime | None
    dusk: datetime | None


@lru_cache(maxsize=64)
def day(on: date, zone: tzinfo, lon_deg: float, lat_deg: float) -> SunDay:
    """Sunrise, sunset and the sun at -6° (civil twilight) on a local date."""
    start = datetime(on.year, on.month, on.day, tzinfo=zone)
    observer = _observer(lon_deg, lat_deg, 0.0)
    observer.date = _utc(start)
    noon = _local(observer.next_transit(ephem.Sun()), zone)
    rise, rest = crossings(noon, RISE_DEG, lon_deg, lat_deg)
    dawn, dusk = crossings(noon, CIVIL_DEG, lon_deg, lat_deg)
    return SunDay(dawn=dawn, sunrise=rise, noon=noon, sunset=rest, dusk=dusk)


def day_of(at: datetime, zone: tzinfo, lon_deg: float, lat_deg: float) -> SunDay:
    """The day whose noon is nearest to a moment: a night's small hours belong to the sunset before
    or to the sunrise after, whichever noon is nearer."""
    on = at.astimezone(zone).date()
    near = [day(on + timedelta(days=d), zone, lon_deg, lat_deg) for d in (-1, 0, 1)]
    return min(near, key=lambda d: abs((d.noon - at).total_seconds()))


@lru_cache(maxsize=64)
def crossings(
    noon: datetime, degrees: float, lon_deg: float, lat_deg: float
) -> tuple[datetime | None, datetime | None]:
    """When the sun's centre passes an elevation before and after a noon, within half a day; None
    where it does not, in the noon's own zone."""
    found: list[datetime | None] = []
    for sign in (-1, 1):
        low, high = 0.0, 12 * 3600.0
        if _elevation_deg(noon, lon_deg, lat_deg) < degrees:
            return None, None
        if _elevation_deg(noon + sign * timedelta(seconds=high), lon_deg, lat_deg) > degrees:
            found.append(None)
            continue
        while high - low > 0.5:
            mid = 0.5 * (low + high)
            moment = noon + sign * timedelta(seconds=mid)
            above = _elevation_deg(moment, lon_deg, lat_deg) > degrees
            low, high = (mid, high) if above else (low, mid)
        found.append((noon + sign * timedelta(seconds=low)).astimezone(noon.tzinfo))
    return found[0], found[1]


def _elevation_deg(at: datetime, lon_deg: float, lat_deg: float) -> float:
    return math.degrees(float(position([at], lon_deg, lat_deg)[1][0]))


def _observer(lon_deg: float, lat_deg: float, elevation_m: float) -> ephem.Observer:
    observer = ephem.Observer()
    observer.lon, observer.lat = math.radians(lon_deg), math.radians(lat_deg)
    observer.elevation = elevation_m
    observer.pressure = 0.0
    return observer


def _utc(at: datetime) -> datetime:
    if at.tzinfo is None:
        raise ValueError(f"a moment without an offset: {at}; wanted one that knows its zone")
    return at.astimezone(UTC).replace(tzinfo=None)


def _local(at: ephem.Date, zone: tzinfo) -> datetime:
    moment: datetime = ephem.Date(at).datetime()
    return moment.replace(tzinfo=UTC).astimezone(zone)
