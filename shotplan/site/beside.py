"""Obstacles described from the ride, as one paces them, put onto the ground."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from shotplan.errors import Problems
from shotplan.model.arrays import Array
from shotplan.model.obstacles import Thing
from shotplan.model.ride import Ride
from shotplan.site import solids
from shotplan.site.solids import Ground, Growth, Solids
from shotplan.site.tables import BesideTable

ROW_STEP_M = 1.0


class Abeam(NamedTuple):
    """Where and which way: `xy_m (k, 2)` on the ride, `course_rad (k,)` there."""

    xy_m: Array
    course_rad: Array


def abeam(ride: Ride, along_m: Array) -> Abeam:
    """The ride at `along_m (k,)`, the first time it gets there."""
    along, first = np.unique(ride.along_m[0], return_index=True)
    xyz, course = ride.xyz_m[0, first], np.unwrap(ride.course_rad[0])[first]
    xy = np.stack([np.interp(along_m, along, xyz[:, axis]) for axis in (0, 1)], axis=-1)
    return Abeam(xy, np.interp(along_m, along, course))


def offset(ride: Ride, along_m: Array, right_m: float) -> Array:
    """`(k, 2)` points `right_m` to the right of the course (left when negative)."""
    at = abeam(ride, along_m)
    right = np.stack([np.cos(at.course_rad), -np.sin(at.course_rad)], axis=-1)
    return np.asarray(at.xy_m + right_m * right)


class Placed(NamedTuple):
    """A paced obstacle as a thing and as its recipe of solids."""

    thing: Thing
    table: BesideTable
    path_m: Array


def place(
    table: BesideTable, index: int, ride: Ride, where: str, problems: Problems
) -> Placed | None:
    """Put one `[[beside]]` onto the ground; None where it lies beyond the ride."""
    length_m = float(ride.along_m[0, -1]) + 0.1 * float(ride.speed_m_s[0, -1])
    far_m = table.at_m if table.at_m is not None else table.to_m
    if far_m is None or far_m > length_m + 0.05:
        problems.add(where, f"it is at {far_m or 0.0:g} m; the ride is {length_m:.0f} m long")
        return None
    a_row = table.at_m is None
    radius_m = table.drawn_radius_m
    near_m = (table.left_m if table.left_m is not None else table.right_m) or 0.0
    # A row is a wall: paced to its near face, as a building is; else to the middle of the trunk.
    off_m = near_m + radius_m if a_row or table.role == "building" else near_m
    side = -1.0 if table.left_m is not None else 1.0
    if a_row:
        start = table.from_m or 0.0
        count = max(int(np.ceil((far_m - start) / ROW_STEP_M)), 1)
        along = np.linspace(start, far_m, count + 1)
    else:
        along = np.array([far_m])
    path = offset(ride, along, side * off_m)
    thing = Thing(
        id=table.id or f"beside-{index}",
        name=table.name,
        role=table.role,
        where_m=path,
        height_m=table.height_m,
        base_m=table.base_m,
        radius_m=radius_m,
        trunk_radius_m=table.trunk_radius_m if table.role == "tree" and not a_row else 0.0,
        error_m=table.error_m,
        height_error_m=table.height_error_m,
        paced=True,
        seen_on=table.on.isoformat() if table.on else "",
    )
    return Placed(thing, table, path)


def solid(placed: Placed, ground: Ground, growth: Growth) -> Solids:
    """What it is made of."""
    thing, path = placed.thing, placed.path_m
    if placed.table.at_m is None:
        hangs = thing.role == "wire"
        return solids.row(path, thing.radius_m, thing.height_m, ground, growth, hangs)
    if thing.role == "building":
        return solids.round_building(path[0], thing.radius_m, thing.height_m, ground, growth)
    return solids.tree(
        path[0],
        ground,
        thing.height_m,
        thing.base_m,
        thing.radius_m,
        thing.trunk_radius_m,
        growth,
    )
