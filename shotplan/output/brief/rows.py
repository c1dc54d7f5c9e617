"""What a brief is made of: rows of words, places to fill by hand, and how a place is said."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable
from functools import partial
from typing import NamedTuple

import numpy as np

from shotplan.judging.judged import Plan, ShotPlan
from shotplan.kernels.solids import footprints
from shotplan.model import say
from shotplan.model.arrays import Array
from shotplan.model.site import Place, Site
from shotplan.output.words import plain
from shotplan.scene.landmarks import NO_MARK, WITHIN_M, Landmark, say_place
from shotplan.scene.landmarks import Kind as MarkKind


class Row(NamedTuple):
    """`label: text`, then a line to be filled by hand for each caption of `blanks`."""

    label: str
    text: str = ""
    blanks: tuple[str, ...] = ()


class Section(NamedTuple):
    """Rows under a title; `fine`: read at home, so set smaller."""

    title: str
    rows: tuple[Row, ...]
    fine: bool = False


def on_ride(plan: Plan, shot: ShotPlan, along_m: float) -> str:
    """A place of the ride, in landmarks and seconds."""
    ride = shot.scene.track.ride
    at = int(np.abs(ride.along_m[0] - along_m).argmin())
    return put(say_place(plan.marks, along_m, float(ride.speed_m_s[0, at])))


def put(phrase: str) -> str:
    """A phrase of `say_place` as it stands within a sentence."""
    return plain(phrase).replace(f"; {NO_MARK}", f" ({NO_MARK})")


def at_place(site: Site, place: Place) -> str:
    """`Gull Rock, the launch (9 m N of the cabin)`: a named place is itself something to point
    at."""
    name = plain(place.label)
    name += "" if place.id != "launch" or name == "launch" else ", the launch"
    near = beside(site, place.xyz_m[:2])
    return f"{name} ({near})" if near else name


def beside(site: Site, xy_m: Array) -> str:
    """`9 m NE of the cabin`: a place off the ride by the nearest thing to point at; "" where
    nothing is near."""
    found = [(*_way(region, np.asarray(xy_m, dtype=float)), mark) for region, mark in _marks(site)]
    within = [f for f in found if f[0] <= WITHIN_M]
    if not within:
        return ""
    away, azimuth, mark = min(within, key=lambda f: (f[0], f[2].called))
    name = plain(mark.called)
    return f"at {name}" if away < 1.0 else f"{away:.0f} m {say.compass(azimuth)} of {name}"


def reach_of(site: Site) -> Iterable[tuple[Callable[[Array], tuple[float, float]], Landmark]]:
    """Everything that one can stand beside and point at: how far a point `(2,)` is from it and on
    which azimuth, and what it is called."""
    for region, mark in _marks(site):
        yield partial(_way, region), mark


def _way(region: footprints.Region, xy_m: Array) -> tuple[float, float]:
    """Distance and azimuth from the nearest point of a region."""
    found = footprints.reach(region, xy_m[None])
    east, north = xy_m - found.at_m[0]
    return max(float(found.distance_m[0]), 0.0), math.atan2(east, north)


def _marks(site: Site) -> Iterable[tuple[footprints.Region, Landmark]]:
    """Everything that one can stand beside and point at."""
    for thing in site.obstacles.things:
        filled = thing.role in {"wood", "building"} and len(thing.where_m) > 2
        region = footprints.Region((thing.where_m,), filled and not thing.paced)
        yield region, _mark(thing.label, thing.role, thing.id, thing.name)
    for water in site.terrain.water:
        yield footprints.Region(water.outline[:1], True), _mark(water.id, "water", water.id, "")
    for area in site.people:
        region = footprints.Region(area.parts, area.geometry == "polygon")
        yield region, _mark(area.name or area.id, "people", area.id, area.name)


def _mark(label: str, role: MarkKind, id_: str, name: str) -> Landmark:
    return Landmark(label=label, role=role, part="", along_m=math.nan, time_s=math.nan, side="on",
                    away_m=0.0, named=bool(name) or not any(c.isdigit() for c in id_))  # fmt: skip


def grid_reference(site: Site, xy_m: Array) -> str:
    """Latitude and longitude in degrees, and UTM."""
    lon, lat = (float(v) for v in site.frame.lonlat_deg(np.asarray(xy_m, dtype=float)))
    degrees = (
        f"{abs(lat):.5f}° {'N' if lat >= 0 else 'S'}, {abs(lon):.5f}° {'E' if lon >= 0 else 'W'}"
    )
    utm = site.frame.utm(xy_m)
    return f"{degrees} (WGS 84){f'; UTM {utm}' if utm else ''}"


def span(values: Array) -> str:
    """`3.6 to 5.0 m`; what is not known says so."""
    known = values[np.isfinite(values)]
    if not len(known):
        return "not known"
    low, high = float(known.min()), float(known.max())
    gaps = "" if len(known) == len(values) else " (not known all the way)"
    if f"{low:.1f}" == f"{high:.1f}":
        return f"{say.metres(low)}{gaps}"
    return f"{low:.1f} to {say.metres(high)}{gaps}"


def listed(parts: Iterable[str]) -> str:
    """`a`, `a and b`, `a, b and c`."""
    every = list(parts)
    return " and ".join([", ".join(every[:-1]), every[-1]] if len(every) > 1 else every)
