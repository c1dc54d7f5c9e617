"""How well places are known: the map's error, and the ride's where it passes them."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

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


class Off(NamedTuple):
    """Standard error of a ride's line along each axis, in the open and under leaves."""

    open_m: float
    leaves_m: float


def ride_error(ride: Ride, off: Off, standing: Obstacles) -> RideError:
    """In the open, and under the leaves of what stands there as drawn."""
    xyz = np.array(ride.xyz_m[0])
    error = np.full(len(xyz), off.open_m)
    if off.leaves_m != off.open_m:
        error[standing.leaves_over(xyz)] = off.leaves_m
    return RideError(xyz[:, :2], error)


class Errors(NamedTuple):
    """The site's `map_error_m` and the ride's own, standard errors along each axis."""

    map_m: float
    ride: RideError

    def grown_by_m(self, said_m: float | None, region: Region) -> float:
        """`e` of DEFINITIONS "Error": how well a thing's place is known from the ride."""
        own_m = self.map_m if said_m is None else said_m
        return float(np.hypot(own_m, self.ride.near_m(region)))
