"""The ground of a scan: means of its returns by cell, a membrane between those that are near."""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage
from scipy.signal import fftconvolve
from scipy.sparse import coo_array, diags_array
from scipy.sparse.linalg import cg

from shotplan.intake.lidar.cloud import COARSE_M, FINE_M, Cloud, Grid, summed
from shotplan.model.arrays import Array, Bools

FINE_FROM = 10.0  # returns on a square metre from which cells are fine
KNOWN_M = 5.0  # ground farther than this from a return of it is unknown
SPAN_M = 10.0  # so far there must be ground on the other side as well
ALMOST_M = 1e-3  # how well the membrane is at rest
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
    spanned_m = SPAN_M - grid.cell_m
    blank = ~has & (gap <= spanned_m)
    filled[blank] = _stretched(filled, has, blank)
    reach_m = KNOWN_M - np.sqrt(0.5) * grid.cell_m  # a return lies anywhere in its cell
    known = has | ((gap <= reach_m) & _between(has, round(spanned_m / grid.cell_m)))
    within = summed(cloud.within, times) > 0.0
    return Ground(grid, np.where(known, filled, np.nan), filled, gap, within)


def _stretched(first_m: Array, has: Bools, blank: Bools) -> Array:
    """`(m,)` a membrane over the blank cells, held by those that have ground: even on even slopes,
    nowhere higher or lower than what holds it. It begins from `first_m`."""
    count = int(blank.sum())
    number = np.full(blank.shape, -1)
    number[blank] = np.arange(count)
    held, from_, to = np.zeros(count), [], []
    arms = np.zeros(count)
    for south, east in ((1, 0), (-1, 0), (0, 1), (0, -1)):
        firm, soft = (_next(c, south, east)[blank] for c in (has, blank))
        held += np.where(firm, _next(first_m, south, east)[blank], 0.0)
        arms += firm | soft
        from_.append(number[blank][soft])
        to.append(_next(number, south, east)[blank][soft])
    rows, cols = np.concatenate(from_), np.concatenate(to)
    links = coo_array((np.full(len(rows), -1.0), (rows, cols)), shape=(count, count)).tocsr()
    whole = links + diags_array(arms).tocsr()
    found, _ = cg(whole, held, x0=first_m[blank], rtol=0.0, atol=ALMOST_M, maxiter=500)
    return np.asarray(np.round(found, 3))


def _next(cells: NDArray[Any], south: int, east: int) -> NDArray[Any]:
    """What each cell's neighbour holds; 0 beyond the edge."""
    rows, cols = cells.shape
    padded = np.pad(cells, 1)
    found: NDArray[Any] = padded[1 + south : 1 + south + rows, 1 + east : 1 + east + cols]
    return found


def _between(has: Bools, reach: int) -> Bools:
    """Cells that have ground round them within `reach` cells: there is no half of the compass (of
    eight) without it. Beyond the last return a slope may go on as it likes."""
    south, east = np.mgrid[-reach : reach + 1, -reach : reach + 1]
    disc = np.hypot(south, east) <= reach
    round_it = np.ones(has.shape, dtype=bool)
    for turn in np.arange(8) * np.pi / 4.0:
        half = disc & (np.cos(turn) * east + np.sin(turn) * south > 0.5)
        # Convolution turns a kernel round.
        count = fftconvolve(has.astype(np.float32), half[::-1, ::-1].astype(np.float32), "same")
        round_it &= count > 0.5
    return round_it
