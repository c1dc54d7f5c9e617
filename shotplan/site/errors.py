"""How well places are known: the map's error, and the ride's where it passes them."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import NamedTuple

import numpy as np

from shotplan.kernels.solids import columns
from shotplan.kernels.solids.footprints import Region, reach
from shotplan.model.arrays import Array
from shotplan.model.obstacles import Obstacles
from shotplan.model.ride import Ride

NEAREST_M = 1e-6  # places of the ride this much farther are as near


class RideError(NamedTuple):
    """Standard error of the ride's line against the map along each axis, `error_m (n,)` at its
    places `xy_m (n, 2)`."""

    xy_m: Array
    error_m: Array

    def near_m(self, region: Region) -> float:
        """At the place of the ride that is nearest to a region; the greatest of several (all
        inside it)."""
        if np.ptp(self.error_m) == 0.0:
            return float(self.error_m[0])
        away = np.maximum(reach(region, self.xy_m).distance_m, 0.0)
        return float(self.error_m[away <= away.min() + NEAREST_M].max())

    def near_each_m(self, regions: Sequence[Region]) -> Array:
        """The same of many regions; those of a single point are asked together."""
        if np.ptp(self.error_m) == 0.0:
            return np.full(len(regions), self.error_m[0])
        points = [k for k, r in enumerate(regions) if len(r.parts) == len(r.parts[0]) == 1]
        found = np.empty(len(regions))
        for k in set(range(len(regions))).difference(points):
            found[k] = self.near_m(regions[k])
        if points:
            found[points] = self._near_points_m(np.array([regions[k].parts[0][0] for k in points]))
        return found

    def _near_points_m(self, xy_m: Array) -> Array:
        """By the distance to the nearest place of the ride with each of its errors, in turn."""
        levels = np.unique(self.error_m)
        away = np.stack([columns.to_places_m(self.xy_m[self.error_m == e], xy_m) for e in levels])
        near = away <= away.min(axis=0) + NEAREST_M
        return np.asarray(np.where(near, levels[:, None], -np.inf).max(axis=0))


class Off(NamedTuple):
    """Standard error of a ride's line along each axis, in the open and under leaves."""

    open_m: float
    leaves_m: float


def ride_error(ride: Ride, off: Off, standing: Callable[[], Obstacles]) -> RideError:
    """In the open, and under the leaves of what stands there as drawn."""
    xyz = np.array(ride.xyz_m[0])
    error = np.full(len(xyz), off.open_m)
    if off.leaves_m != off.open_m:
        error[standing().leaves_over(xyz)] = off.leaves_m
    return RideError(xyz[:, :2], error)


class Errors(NamedTuple):
    """The site's `map_error_m` and the ride's own, standard errors along each axis."""

    map_m: float
    ride: RideError

    def grown_by_m(self, said_m: float | None, region: Region) -> float:
        """`e` of DEFINITIONS "Error": how well a thing's place is known from the ride."""
        return self.grown_by_each_m([(said_m, region)])[0]

    def grown_by_each_m(self, said: Sequence[tuple[float | None, Region]]) -> list[float]:
        """The same of many things."""
        own = np.array([self.map_m if own_m is None else own_m for own_m, _ in said])
        found: list[float] = np.hypot(own, self.ride.near_each_m([r for _, r in said])).tolist()
        return found
