"""Where a scan's numbers lie: its coordinate system and the unit of its heights, or why not."""

from __future__ import annotations

import math
from collections.abc import Iterable
from typing import NamedTuple

import numpy as np

from shotplan.errors import Problems
from shotplan.files.lidar import LidarInfo, Stated
from shotplan.files.words import printable, shown
from shotplan.model.arrays import Array
from shotplan.model.frame import Frame, System, system

HEIGHTS = "heights in "
UNITS_M = {"metres": 1.0, "feet": 0.3048, "us feet": 1200.0 / 3937.0}
APART_M = 50.0  # two statements of one file farther apart than this contradict each other
SAME_M = 0.1  # two tiles nearer than this lie in one system, however it is written
OPTION = "--lidar-crs"


class Lies(NamedTuple):
    """`scale`: from the file's numbers to the system's units; `upright_m`: metres of a unit of
    height."""

    system: System
    scale: float
    upright_m: float

    def lonlat_deg(self, info: LidarInfo) -> Array:
        """`(2,)` the middle of a scan."""
        return self.system.lonlat_deg(self.scale * 0.5 * (info.low + info.high)[:2])


class Told(NamedTuple):
    """What a person says of the scans: a system (None: nothing), a unit of height (NaN)."""

    system: System | None
    upright_m: float


def told(crs: str, problems: Problems) -> Told:
    """`EPSG:2994`, `EPSG:2994, heights in feet` or `heights in feet`."""
    name, _, unit = crs.partition(HEIGHTS)
    name, unit = name.strip(" ,"), unit.strip().casefold()
    upright_m = UNITS_M.get(unit, math.nan)
    if unit and math.isnan(upright_m):
        problems.add(OPTION, f"got heights in {shown(unit)}; wanted metres, feet or US feet")
    if not name:
        return Told(None, upright_m)
    try:
        found = system(name)
    except ValueError:
        problems.add(OPTION, f"got {shown(name)}; wanted a coordinate system, such as EPSG:25832")
        return Told(None, upright_m)
    return Told(found, upright_m)


def where_it_lies(info: LidarInfo, said: Told, where: str, problems: Problems) -> Lies | None:
    """The system that is told, else the file's own; None where there is none, where the file
    contradicts itself, or where its heights are in nobody knows what."""
    stated = [(_read(one), one.unit_m) for one in info.systems]
    found = [_lies(s, unit_m) for s, unit_m in stated if s is not None]
    if said.system is not None:
        found = [_lies(said.system, math.nan)]
    if not found:
        problems.add(
            where,
            "says no coordinate system (CRS), and none is guessed: find out from who published it "
            f"and give it, for example with {OPTION} EPSG:25832",
        )
        return None
    try:
        places = np.array([one.lonlat_deg(info) for one in found])
    except RuntimeError:
        name = printable(found[0].system.name)
        problems.add(where, f"does not lie where {name} is used; {OPTION} says which it is")
        return None
    apart = apart_m(places)
    if apart > APART_M:
        names = " and ".join(printable(one.system.name) for one in found)
        problems.add(
            where,
            f"says two coordinate systems, {names}, whose places are {apart:,.0f} m apart: find "
            f"out which is right and give it with {OPTION}",
        )
        return None
    return _with_heights(found[0], info, said, where, problems)


def apart_m(lonlat_deg: Array) -> float:
    """How far places `(k, 2)` are from the first of them, at most."""
    lon, lat = lonlat_deg[0].tolist()
    xy = Frame(lon_deg=lon, lat_deg=lat).xy_m(lonlat_deg)
    return float(np.hypot(*xy.T).max())


def check_one_system(lies: Iterable[tuple[LidarInfo, Lies]], problems: Problems) -> None:
    """Tiles of one place lie in one system."""
    listed = list(lies)
    first = listed[0][1]
    for info, other in listed[1:]:
        if other.system.wkt == first.system.wkt:
            continue
        middle = other.scale * 0.5 * (info.low + info.high)[:2]
        try:
            places = np.array([s.lonlat_deg(middle) for s in (other.system, first.system)])
            same = apart_m(places) <= SAME_M
        except RuntimeError:
            same = False
        if not same:
            problems.add(
                printable(info.path.name),
                f"lies in {printable(other.system.name)}, {printable(listed[0][0].path.name)} in "
                f"{printable(first.system.name)}: give tiles of one coordinate system",
            )


def _read(stated: Stated) -> System | None:
    try:
        return system(stated.wkt)
    except ValueError:
        return None


def _lies(found: System, unit_m: float) -> Lies:
    """Numbers in another unit than the system's own, where a file says so."""
    scale = unit_m / found.unit_m if math.isfinite(unit_m) and math.isfinite(found.unit_m) else 1.0
    return Lies(found, 1.0 if abs(scale - 1.0) < 1e-7 else scale, math.nan)


def _with_heights(
    lies: Lies, info: LidarInfo, said: Told, where: str, problems: Problems
) -> Lies | None:
    unit_m = lies.system.unit_m * lies.scale
    stated = (said.upright_m, lies.system.upright_unit_m, info.upright_unit_m)
    known = next((u for u in stated if math.isfinite(u)), math.nan)
    if math.isnan(known) and (math.isnan(unit_m) or unit_m == 1.0):
        known = 1.0
    if math.isnan(known):
        problems.add(
            where,
            "lies in a grid of feet and does not say the unit of its heights: find out which it "
            f'is and give it with {OPTION} "heights in feet" (or US feet, or metres)',
        )
        return None
    return lies._replace(upright_m=known)
