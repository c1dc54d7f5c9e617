"""The ground of a scan: means of its returns by cell, straight between them where they are near."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from scipy import ndimage
from scipy.interpolate import LinearNDInterpolator

from shotplan.intake.lidar.cloud import COARSE_M, FINE_M, Cloud, Grid, summed
from shotplan.model.arrays import Array, Bools

FINE_FROM = 10.0  # returns on a square metre from which cells are fine
KNOWN_M = 5.0  # ground farther than this from a return of it is unknown
BLOCK_M = 5.0  # the density is that of squares so wide


class Ground(NamedTuple):
    """`z_m (rows, cols)` with NaN where it is unknown; `filled_m` with a guess there, only ever
    to tell what stands on it; `gap_m` how far a cell is from the next return of the ground."""

    grid: Grid
    z_m: Array
    filled_m: Array
    gap_m: Array
    within: Bools

    def under(self, xy_m: Array) -> Array:
        """`(n,)` the ground under places, straight between posts as a site reads it, guesses
        too."""
        return self._read(self.filled_m, xy_m)

    def surely(self, xy_m: Array) -> Array:
        """The same, NaN where it is not known."""
        return self._read(self.z_m, xy_m)

    def _read(self, z_m: Array, xy_m: Array) -> Array:
        col, row = (xy_m[:, k] / self.grid.cell_m - 0.5 for k in (0, 1))
        return np.asarray(
            ndimage.map_coordinates(z_m, [row, col], order=1, mode="nearest"), dtype=float
        )


def density(cloud: Cloud) -> float:
    """Returns on a square metre: the mean of squares that lie near the ride and have any."""
    times = round(BLOCK_M / cloud.grid.cell_m)
    rows, cols = (n // times * times for n in cloud.hits.shape)
    whole = summed(cloud.within[:rows, :cols], times) == times * times
    hits = summed(cloud.hits[:rows, :cols], times)
    some = hits[whole & (hits > 0.0)]
    if len(some):
        return float(some.mean()) / BLOCK_M**2
    area = float((cloud.hits > 0).sum()) * cloud.grid.cell_m**2
    return float(cloud.hits.sum()) / area if area else 0.0


def ground_of(cloud: Cloud, per_m2: float) -> Ground:
    """Cells of half a metre from `FINE_FROM` returns on a square metre, else of one metre."""
    fine = cloud.grid.cell_m == FINE_M
    times = round(COARSE_M / FINE_M) if fine and per_m2 < FINE_FROM else 1
    grid = cloud.grid.coarser(times)
    hits = summed(cloud.ground_hits, times)
    has = hits > 0.0
    sums = summed(cloud.ground_mm, times)
    mean = np.divide(sums, 1000.0 * hits, out=np.zeros(hits.shape), where=has)
    gap, nearest = ndimage.distance_transform_edt(~has, return_indices=True)
    gap *= grid.cell_m
    filled = mean[tuple(nearest)]
    reach_m = KNOWN_M - np.sqrt(0.5) * grid.cell_m  # a return lies anywhere in its cell
    blank = ~has & (gap <= reach_m)
    between = _between(mean, has, blank)
    known = has.copy()
    known[blank] = np.isfinite(between)
    filled[blank] = np.where(np.isfinite(between), between, filled[blank])
    within = summed(cloud.within, times) > 0.0
    return Ground(grid, np.where(known, filled, np.nan), filled, gap, within)


def _between(mean: Array, has: Bools, blank: Bools) -> Array:
    """Straight between the cells round the blank ones (Delaunay); NaN outside them all."""
    edge = has & ndimage.binary_dilation(~has, np.ones((3, 3), dtype=bool))
    where = np.argwhere(edge)
    if not blank.any():
        return np.empty(0)
    if len(where) < 3 or np.ptp(where, axis=0).min() == 0:
        return np.full(int(blank.sum()), np.nan)
    return np.asarray(LinearNDInterpolator(where, mean[edge])(np.argwhere(blank)))
