"""What somebody who stands at a place sees all around them: ground, water, and what stands on it.

Things are as drawn, without their errors: upright solids as they are reckoned with, so that where
the aircraft is hidden by one, one is seen before it. A wire is a line.
"""

from __future__ import annotations

from enum import IntEnum
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from shotplan.kernels.ground.posts import sample
from shotplan.kernels.light import skyline as kernel
from shotplan.kernels.light.view_march import inside
from shotplan.model.arrays import Array
from shotplan.model.site import Site

REACH_M = 5000.0  # how far the ground is followed
NEAR_M = 0.5  # of the eye, level: a wire nearer than this is over it


class Kind(IntEnum):
    """What is seen in a direction."""

    SKY = 0
    GROUND = 1
    WATER = 2
    TREE = 3
    WOOD = 4
    BUILDING = 5
    POLE = 6


_KINDS = {"tree": Kind.TREE, "wood": Kind.WOOD, "building": Kind.BUILDING}


class Around(NamedTuple):
    """Seen from `eye_m (3,)`, over `azimuth_rad (a,)` and `elevation_rad (e,)` (falling).

    `kind (e, a)` a `Kind`; `thing (e, a)` index into the obstacles' things (-1 none); `away_m (e,
    a)` level distance (+inf sky); `ground_rad (a,)` how high the known ground stands; `known_m
    (a,)` how far it is known (+inf: as far as is looked); `wires` lines `(k, 2)` of azimuth and
    elevation, NaN where hidden.
    """

    eye_m: Array
    azimuth_rad: Array
    elevation_rad: Array
    kind: NDArray[np.int8]
    thing: NDArray[np.intp]
    away_m: Array
    ground_rad: Array
    known_m: Array
    wires: tuple[Array, ...]


def toward(eye_m: Array, xyz_m: Array) -> tuple[Array, Array]:
    """Azimuth and elevation `(...)` of points `(..., 3)` from an eye `(3,)`; NaN where unknown."""
    way = xyz_m - eye_m
    level = np.hypot(way[..., 0], way[..., 1])
    azimuth = np.arctan2(way[..., 0], way[..., 1]) + 0.0 * way[..., 2]
    return np.mod(azimuth, 2.0 * np.pi), np.arctan2(way[..., 2], level)


def nearest_turn(azimuth_rad: Array, about_rad: float) -> Array:
    """The same azimuths within half a turn of one."""
    return about_rad + np.mod(azimuth_rad - about_rad + np.pi, 2.0 * np.pi) - np.pi


def around(site: Site, eye_m: Array, azimuth_rad: Array, elevation_rad: Array) -> Around:
    """What is seen from a known eye `(3,)`; azimuths rise, and may go past a full turn."""
    bodies = site.obstacles.rest_drawn
    ground = kernel.profile(lambda xy: _ground_m(site, xy), eye_m, azimuth_rad, REACH_M)
    parts = (
        kernel.column_spans(bodies.columns, eye_m, azimuth_rad),
        kernel.prism_spans(bodies.prisms, eye_m, azimuth_rad),
    )
    parts = (parts[0], parts[1]._replace(which=parts[1].which + len(bodies.columns.top_m)))
    spans = kernel.Spans(*(np.concatenate(fields) for fields in zip(*parts, strict=True)))
    seen = kernel.painted(ground, spans, elevation_rad)
    owner = np.concatenate([bodies.column_thing, bodies.prism_thing])
    solid = seen.which >= 0
    thing = np.full(seen.which.shape, -1, dtype=np.intp)
    thing[solid] = owner[seen.which[solid]]
    roles = [_KINDS.get(t.role, Kind.POLE) for t in site.obstacles.things]
    kind = np.where(seen.which == kernel.SKY, Kind.SKY, Kind.GROUND).astype(np.int8)
    kind[solid] = np.array(roles, dtype=np.int8)[thing[solid]]
    kind[_wet(site, eye_m, azimuth_rad, seen, kind)] = Kind.WATER
    found = Around(
        eye_m, azimuth_rad, elevation_rad, kind, thing, seen.away_m, ground.highest_rad[:, -1],
        ground.known_m, (),
    )  # fmt: skip
    return found._replace(wires=_wires(site, found))


def _ground_m(site: Site, xy_m: Array) -> Array:
    """Ground or water, as the terrain has it."""
    z = sample(site.terrain.grid, xy_m)
    if site.terrain.beyond is not None:
        z = np.where(np.isnan(z), sample(site.terrain.beyond.grid, xy_m), z)
    for water in site.terrain.water:
        if np.isfinite(water.level_m):
            over = inside(water.outline, xy_m.reshape(-1, 2)).reshape(z.shape)
            z = np.where(over, np.fmax(z, water.level_m), z)
    return z


def _wet(
    site: Site, eye_m: Array, azimuth_rad: Array, seen: kernel.Seen, kind: NDArray[np.int8]
) -> NDArray[np.bool_]:
    """Where the ground that is seen is a sheet of water."""
    ground = np.asarray(kind == Kind.GROUND)
    rows, cols = np.nonzero(ground)
    ways = np.stack([np.sin(azimuth_rad), np.cos(azimuth_rad)], axis=-1)[cols]
    xy = eye_m[:2] + seen.away_m[rows, cols, None] * ways
    wet = np.zeros(len(xy), dtype=bool)
    for water in site.terrain.water:
        wet |= inside(water.outline, xy)
    ground[rows, cols] = wet
    return ground


def _wires(site: Site, found: Around) -> tuple[Array, ...]:
    """Every wire's line, thing by thing."""
    bodies, lines = site.obstacles.wires_drawn, []
    for thing in np.unique(bodies.prism_thing):
        mine = bodies.prism_thing == thing
        corners, top = bodies.prisms.corners_m[mine], bodies.prisms.top_m[mine]
        middle = np.column_stack([corners[:, :2].mean(axis=1), top])
        azimuth, elevation = toward(found.eye_m, middle)
        azimuth = nearest_turn(azimuth, float(found.azimuth_rad.mean()))
        level = np.hypot(*(middle[:, :2] - found.eye_m[:2]).T)
        a = np.searchsorted(found.azimuth_rad, azimuth)
        e = np.searchsorted(-found.elevation_rad, -elevation)
        out = (a == 0) | (a == len(found.azimuth_rad)) | (e == 0) | (e == len(found.elevation_rad))
        a, e = (
            np.minimum(a, len(found.azimuth_rad) - 1),
            np.minimum(e, len(found.elevation_rad) - 1),
        )
        hidden = out | (level < NEAR_M) | (found.away_m[e, a] < level)
        line = np.column_stack([azimuth, elevation])
        line[hidden] = np.nan
        # a line that goes round behind the eye is cut where it leaves one edge for the other
        line[1:][np.abs(np.diff(azimuth)) > np.pi] = np.nan
        lines.append(line)
    return tuple(lines)
