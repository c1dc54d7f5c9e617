"""What the sun does at a site: day, twilight and night by the pack, direct sun and shade."""

from __future__ import annotations

import math
from datetime import datetime, timedelta, tzinfo
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from shotplan.kernels.ground import grid
from shotplan.kernels.light import light
from shotplan.model.arrays import Array
from shotplan.model.frame import Frame
from shotplan.model.rules import DayRule
from shotplan.model.site import Site
from shotplan.scene import sun

GOLDEN_DEG = (0.0, 6.0)  # no standard: the plainer of two conventions, a setting of ours
FIXED_TWILIGHT = timedelta(minutes=30)
REACH_M = 5000.0  # how far a ray toward the sun is followed
FREE_M = 500.0  # a ray that high over its start where the known ground ends is taken as free


class Limit(NamedTuple):
    """The sun's elevation under which the pack asks for something, and the moments that day at
    which it is passed (None: it is not)."""

    elevation_deg: float
    morning: datetime | None
    evening: datetime | None


class Limits(NamedTuple):
    """Below `none` flying is not allowed, below `lamp` only with a light on the aircraft; None
    where the pack sets no such limit."""

    none: Limit | None
    lamp: Limit | None


def limits(rule: DayRule | None, at: datetime, zone: tzinfo, frame: Frame) -> Limits:
    """What the pack asks of the sun on the day a moment belongs to."""
    if rule is None:
        return Limits(None, None)
    day = sun.day_of(at, zone, frame.lon_deg, frame.lat_deg)
    edge = Limit(sun.RISE_DEG, day.sunrise, day.sunset)
    after = _twilight_end(rule, day, at, frame)
    found: dict[str, Limit] = {}
    for need, limit in ((rule.night, after), (rule.twilight, edge)):
        if need != "any":  # the twilight's limit comes last: it is met first
            found[need] = limit
    return Limits(found.get("no"), found.get("light"))


def _twilight_end(rule: DayRule, day: sun.SunDay, at: datetime, frame: Frame) -> Limit:
    """Where twilight turns into night: the sun at -6°, or a fixed half hour from sunrise and
    sunset, whatever the sun then is at."""
    if rule.twilight_is == "sun-6-deg":
        return Limit(sun.CIVIL_DEG, day.dawn, day.dusk)
    if day.sunrise is None or day.sunset is None:
        return Limit(sun.RISE_DEG, day.sunrise, day.sunset)
    morning, evening = day.sunrise - FIXED_TWILIGHT, day.sunset + FIXED_TWILIGHT
    nearer = morning if at < day.noon else evening
    _, elevation = sun.position([nearer], frame.lon_deg, frame.lat_deg)
    return Limit(math.degrees(float(elevation[0])), morning, evening)


def golden(day: sun.SunDay, frame: Frame) -> tuple[tuple[datetime, datetime], ...]:
    """When the sun is between `GOLDEN_DEG` on a day; one span where it never gets above them."""
    low, high = (
        sun.crossings(day.noon, degrees, frame.lon_deg, frame.lat_deg) for degrees in GOLDEN_DEG
    )
    if low[0] is None or low[1] is None:
        return ()
    if high[0] is None or high[1] is None:
        return ((low[0], low[1]),)
    return ((low[0], high[0]), (high[1], low[1]))


class Direct(NamedTuple):
    """`lit (n,)` 1 in direct sun, 0 in the shade or with the sun down, NaN where the point itself
    is not known; `by (n,)` what shades: "" nothing, "ground", "horizon" (the sun is down) or the
    thing's id; `known_m (n,)` how far the ground toward the sun is known where that is not far
    enough to be sure of the sun (+inf: sure)."""

    lit: Array
    by: NDArray[np.object_]
    known_m: Array


def direct(site: Site, xyz_m: Array, toward_sun: Array, *, things: bool = True) -> Direct:
    """Whether the whole disc of the sun shines on points `(n, 3)`, each with its own sun `(n, 3)`.

    Rays go to `REACH_M` over the known ground and, with `things`, against crowns, woods and
    buildings as drawn. Where the known ground ends before that nothing beyond shades; one is sure
    of it only for a ray that is `FREE_M` above its start by then. Neglected: refraction, and the
    earth's curve (1.7 m at 5 km).
    """
    lower_limb = math.radians(light.SUN_RADIUS_DEG)
    elevation = np.arcsin(np.clip(toward_sun[:, 2], -1.0, 1.0)) - lower_limb
    azimuth = np.arctan2(toward_sun[:, 0], toward_sun[:, 1])
    up = elevation > 0.0
    ray = REACH_M * light.toward(azimuth, elevation)
    lit, by = np.zeros(len(xyz_m)), np.full(len(xyz_m), "horizon", dtype=object)
    known_m = np.full(len(xyz_m), np.inf)
    start = np.array(xyz_m, dtype=float)[up]
    end = start + ray[up]
    cut = grid.first_cut(site.terrain.grid, start, end)
    far, which = np.full(len(start), np.inf), np.full(len(start), -1)
    if things:
        known = np.isfinite(start).all(axis=1)
        far[known], which[known] = site.obstacles.opaque.first_cut(start[known], end[known])
    shaded = np.isfinite(np.minimum(cut.at, far))
    somewhere = np.isfinite(start).all(axis=1)
    lit[up] = np.where(shaded, 0.0, np.where(somewhere, 1.0, np.nan))
    doubt = (
        ~shaded & somewhere & np.isfinite(cut.unknown_at) & (cut.unknown_at < FREE_M / ray[up, 2])
    )
    reach = np.hypot(ray[up, 0], ray[up, 1])
    known_m[up] = np.where(doubt, np.where(doubt, cut.unknown_at, 0.0) * reach, np.inf)
    names = [site.obstacles.things[k].id if k >= 0 else "" for k in which]
    by[up] = np.where(cut.at < far, "ground", np.array(names, dtype=object))
    return Direct(lit, by, known_m)
