"""What a shot's frames have in common: what stands there, as triangles and lines, built once."""

from __future__ import annotations

from dataclasses import dataclass
from enum import IntEnum
from functools import cached_property
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from shotplan.kernels.ground import posts
from shotplan.kernels.light import shadows
from shotplan.kernels.solids import meshes
from shotplan.kernels.solids.columns import Columns
from shotplan.model.arrays import Array
from shotplan.scene.picture import RIDER_M, Picture, picture_of
from shotplan.scene.scene import Scene

GIRTH_M = 0.32
TRACK_M = 0.9  # wide the ride is drawn on the ground
LIFT_M = 0.04
SHADE_M = 300.0  # about the ride the ground's shade is looked up

Codes = NDArray[np.int8]


class Kind(IntEnum):
    """What a pixel shows."""

    SKY = 0
    UNKNOWN = 1
    GROUND = 2
    WATER = 3
    TRACK = 4
    TREE = 5
    TRUNK = 6
    WOOD = 7
    BUILDING = 8
    POLE = 9
    WIRE = 10
    RIDER = 11
    CREW = 12


class Solids(NamedTuple):
    """Triangles `corners_m (m, 3, 3)`, what each is and whose (index into things, -1 nobody's)."""

    corners_m: Array
    kind: Codes
    thing: NDArray[np.intp]


@dataclass(frozen=True, kw_only=True)
class Setting:
    """A scene made ready to be looked at; what does not move is built once. `path_m (k, 3)` is the
    whole ride on the ground."""

    scene: Scene
    path_m: Array

    @cached_property
    def picture(self) -> Picture:
        """Where the camera points."""
        return picture_of(self.scene)

    @cached_property
    def standing(self) -> Solids:
        """Woods, buildings, rows: what is not upright columns."""
        bodies = self.scene.site.obstacles.rest_drawn
        corners, which = meshes.walled(bodies.prisms)
        thing = bodies.prism_thing[which]
        named = {"tree": Kind.WOOD, "wood": Kind.WOOD, "pole": Kind.POLE}
        roles = [named.get(t.role, Kind.BUILDING) for t in self.scene.site.obstacles.things]
        kind = np.array(roles, dtype=np.int8)[thing] if len(thing) else np.empty(0, dtype=np.int8)
        return Solids(corners, kind, thing)

    @cached_property
    def column_kind(self) -> Codes:
        """Of each column: a tree's highest is its crown."""
        bodies, things = self.scene.site.obstacles.rest_drawn, self.scene.site.obstacles.things
        kinds = np.empty(len(bodies.column_thing), dtype=np.int8)
        named = {"building": Kind.BUILDING, "pole": Kind.POLE, "wire": Kind.POLE}
        for i, k in enumerate(bodies.column_thing):
            tops = bodies.columns.top_m[bodies.column_thing == k]
            crown = bodies.columns.top_m[i] == tops.max()
            tree = Kind.TREE if crown else Kind.TRUNK
            kinds[i] = named.get(things[k].role, tree)
        return kinds

    @cached_property
    def crew(self) -> Solids:
        """Who stands where for this shot, riders left out."""
        scene = self.scene
        stands = [scene.stand_of(p) for p in scene.day.crew if "rider" not in p.roles]
        return figures([s.xyz_m for s in stands if s is not None], Kind.CREW)

    @cached_property
    def track(self) -> Array:
        """The ride as a band of triangles."""
        known = self.path_m[np.isfinite(self.path_m).all(axis=1)]
        moved = np.concatenate([[True], np.abs(np.diff(known[:, :2], axis=0)).sum(axis=1) > 1e-6])
        path = known[moved]
        if len(path) < 2:
            return np.empty((0, 3, 3))
        return meshes.ribbon(path, TRACK_M, LIFT_M)

    @cached_property
    def wires(self) -> tuple[Array, Array, NDArray[np.intp]]:
        """Their tops, from `(m, 3)` to `(m, 3)`, and whose."""
        bodies = self.scene.site.obstacles.wires_drawn
        prisms, top = bodies.prisms, bodies.prisms.top_m[:, None]
        ends = [np.concatenate([prisms.corners_m[:, k], top], axis=1) for k in (0, 1)]
        return ends[0], ends[1], bodies.prism_thing

    @cached_property
    def gradient(self) -> tuple[posts.Grid, posts.Grid]:
        """How the ground rises eastward and northward, at its posts."""
        grid = self.scene.site.terrain.grid
        by_row, by_col = np.gradient(grid.z_m)
        (_, row_x, row_y, *_), (_, col_x, col_y, *_) = grid.to_grid
        east, north = by_row * row_x + by_col * col_x, by_row * row_y + by_col * col_y
        return grid._replace(z_m=east), grid._replace(z_m=north)

    @cached_property
    def hidden(self) -> shadows.Hidden:
        """The ground's own shade, with the sun as it is half-way through the shot."""
        track = self.scene.track
        ride = track.ride.xyz_m[0, :, :2]
        middle = 0.5 * (ride.min(axis=0) + ride.max(axis=0))
        half = SHADE_M + 0.5 * float(np.ptp(ride, axis=0).max())
        toward = self.scene.toward_sun[len(ride) // 2]
        return shadows.by_ground(self.scene.site.terrain.grid, middle, half, toward)


def figures(feet_m: list[Array], kind: Kind) -> Solids:
    """People who stand at points `(3,)`; those at unknown ones are left out."""
    feet = np.array(feet_m, dtype=float).reshape(-1, 3)
    feet = feet[np.isfinite(feet).all(axis=1)]
    girth = np.full(len(feet), GIRTH_M)
    columns = Columns(feet[:, :2], girth, feet[:, 2], feet[:, 2] + RIDER_M)
    corners, _ = meshes.turned(columns, meshes.SKITTLE, 20)
    count = len(corners)
    return Solids(corners, np.full(count, kind, dtype=np.int8), np.full(count, -1, dtype=np.intp))
