"""Returns of several tiles near a ride, read in pieces: counted by cell, and kept where they may be
something that stands there."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from shotplan.files.lidar import PIECE, LidarInfo, Piece, read_pieces
from shotplan.files.raster import HIGHEST_M, LOWEST_M
from shotplan.intake.lidar.system import Lies
from shotplan.model.arrays import Array, Bools
from shotplan.model.frame import System

GROUND = (2, 9)  # classes of the LAS specification: ground, water
NOISE = (7, 18)
FINE_M, COARSE_M = 0.5, 1.0
MOST_CELLS = 20_000_000
BESIDE_M = 6.0  # ground is taken from that much farther, so that it reaches to the edge


class Grid(NamedTuple):
    """Cells of a plane: the north-western corner in the system's units, metres of a unit east and
    north. Places in it are metres east of that corner and metres south of it."""

    west: float
    north: float
    unit_m: tuple[float, float]
    cell_m: float
    rows: int
    cols: int

    @property
    def affine(self) -> tuple[float, float, float, float, float, float]:
        """As rasters have it."""
        east, north = (self.cell_m / u for u in self.unit_m)
        return (east, 0.0, self.west, 0.0, -north, self.north)

    def metres(self, xy: Array) -> Array:
        """`(..., 2)` of the system -> metres east and south."""
        return np.asarray((xy - (self.west, self.north)) * (self.unit_m[0], -self.unit_m[1]))

    def back(self, xy_m: Array) -> Array:
        """The other way."""
        return np.asarray(xy_m / (self.unit_m[0], -self.unit_m[1]) + (self.west, self.north))

    def cells(self, xy_m: Array) -> tuple[NDArray[np.intp], Bools]:
        """Which cell `(n,)` each place is in, and whether there is one."""
        col = np.floor(xy_m[:, 0] / self.cell_m).astype(np.intp)
        row = np.floor(xy_m[:, 1] / self.cell_m).astype(np.intp)
        inside = (col >= 0) & (col < self.cols) & (row >= 0) & (row < self.rows)
        return np.where(inside, row * self.cols + col, 0), inside

    def coarser(self, times: int) -> Grid:
        """The same with cells that many times as wide; rows and columns must be multiples."""
        return self._replace(
            cell_m=self.cell_m * times, rows=self.rows // times, cols=self.cols // times
        )


@dataclass(kw_only=True)
class Cloud:
    """`ground_mm`, `ground_hits`, `hits (rows, cols)`: sums of elevations in whole millimetres and
    counts, the same whatever the pieces were. `within`: cells that near to the ride. `xyz_m (n, 3)`
    with `kind (n,)`: what is not ground there, as `Grid` counts."""

    grid: Grid
    within: Bools
    wide: Bools
    ground_mm: Array
    ground_hits: NDArray[np.int32]
    hits: NDArray[np.int32]
    xyz_m: NDArray[np.float32]
    kind: NDArray[np.uint8]
    at_zero: int = 0
    mad: int = 0  # returns with heights that no ground has
    first_s: float = np.inf
    last_s: float = -np.inf


def grid_about(ride_xy: Array, low: Array, high: Array, system: System, reach_m: float) -> Grid:
    """The part of `low` to `high (2,)` that may be within `reach_m` of a ride, all in the system's
    units. It may have no cells, or more than `MOST_CELLS` (of `COARSE_M`)."""
    unit = system.metres_per_unit(ride_xy.mean(axis=0))
    low = np.maximum(low, ride_xy.min(axis=0) - reach_m / unit)
    high = np.minimum(high, ride_xy.max(axis=0) + reach_m / unit)
    size_m = np.maximum(high - low, 0.0) * unit
    cell_m = FINE_M if np.prod(size_m / FINE_M) <= MOST_CELLS else COARSE_M
    step = 2.0 * COARSE_M / unit  # two of the coarse, four of the fine
    west, north = float(np.floor(low[0] / step[0])), float(np.ceil(high[1] / step[1]))
    steps = np.ceil([high[0] / step[0] - west, north - low[1] / step[1]]) * (high > low).all()
    cols, rows = (steps * round(2.0 * COARSE_M / cell_m)).astype(int).tolist()
    unit_m = (float(unit[0]), float(unit[1]))
    return Grid(west * float(step[0]), north * float(step[1]), unit_m, cell_m, rows, cols)


def away_m(grid: Grid, ride_xy: Array, reach_m: float) -> Array:
    """`(rows, cols)` how far each cell is from the ride, to half a cell; +inf beyond reach."""
    ride = grid.metres(ride_xy)
    pad = int(np.ceil(reach_m / grid.cell_m)) + 2
    legs = np.hypot(*np.diff(ride, axis=0).T)
    along = np.concatenate([[0.0], legs.cumsum()])
    every = np.linspace(0.0, along[-1], int(np.ceil(along[-1] / (0.5 * grid.cell_m))) + 1)
    dense = np.stack([np.interp(every, along, ride[:, k]) for k in (0, 1)], axis=-1)
    at = np.floor(dense / grid.cell_m).astype(int) + pad
    shape = (grid.rows + 2 * pad, grid.cols + 2 * pad)
    on = np.ones(shape, dtype=bool)
    inside = ((at >= 0) & (at < shape[::-1])).all(axis=1)
    if not inside.any():
        return np.full((grid.rows, grid.cols), np.inf)
    on[at[inside, 1], at[inside, 0]] = False
    away = ndimage.distance_transform_edt(on)[pad:-pad, pad:-pad] * grid.cell_m
    return np.where(away <= reach_m, away, np.inf)


def gather(
    scans: Sequence[tuple[LidarInfo, Lies]], grid: Grid, away: Array, within_m: float,
    size: int = PIECE, tell: Callable[[str], None] = lambda _: None,
) -> Cloud:  # fmt: skip
    """All returns of the tiles that are near enough. Raises `BadInput` where a tile is damaged."""
    shape = (grid.rows, grid.cols)
    cloud = Cloud(
        grid=grid,
        within=away <= within_m,
        wide=np.isfinite(away),
        ground_mm=np.zeros(shape),
        ground_hits=np.zeros(shape, dtype=np.int32),
        hits=np.zeros(shape, dtype=np.int32),
        xyz_m=np.empty((0, 3), dtype=np.float32),
        kind=np.empty(0, dtype=np.uint8),
    )
    kept: list[tuple[NDArray[np.float32], NDArray[np.uint8]]] = []
    for info, lies in scans:
        tell(info.path.name)
        if not _touches(info, lies, grid):
            continue
        kept += [_count(cloud, piece, lies) for piece in read_pieces(info, size)]
    if kept:
        cloud.xyz_m = np.concatenate([xyz for xyz, _ in kept])
        cloud.kind = np.concatenate([kind for _, kind in kept])
    return cloud


def _touches(info: LidarInfo, lies: Lies, grid: Grid) -> bool:
    corners = grid.metres(lies.scale * np.stack([info.low, info.high])[:, :2])
    low, high = corners.min(axis=0), corners.max(axis=0)
    size = grid.cell_m * np.array([grid.cols, grid.rows])
    return bool((high >= 0.0).all() and (low <= size).all())


def _count(cloud: Cloud, piece: Piece, lies: Lies) -> tuple[NDArray[np.float32], NDArray[np.uint8]]:
    """Count a piece; what of it is not ground."""
    xy = cloud.grid.metres(piece.xyz[:, :2] * lies.scale)
    cell, inside = cloud.grid.cells(xy)
    inside &= cloud.wide.ravel()[cell] & ~np.isin(piece.kind, NOISE)
    up = piece.xyz[:, 2] * lies.upright_m
    sound = (up >= LOWEST_M) & (up <= HIGHEST_M)
    cloud.mad += int((inside & ~sound).sum())
    inside &= sound
    xy, cell, kind = xy[inside], cell[inside], piece.kind[inside]
    z, gps = up[inside], piece.gps_s[inside]
    near = cloud.within.ravel()[cell]
    np.add.at(cloud.hits.ravel(), cell, 1)
    bare = np.isin(kind, GROUND)
    np.add.at(cloud.ground_hits.ravel(), cell[bare], 1)
    np.add.at(cloud.ground_mm.ravel(), cell[bare], np.rint(z[bare] * 1000.0))
    cloud.at_zero += int((np.abs(z[bare]) < 0.005).sum())
    times = gps[near & np.isfinite(gps)]
    cloud.first_s = min(cloud.first_s, float(times.min(initial=np.inf)))
    cloud.last_s = max(cloud.last_s, float(times.max(initial=-np.inf)))
    rest = near & ~bare
    return np.column_stack([xy[rest], z[rest]]).astype(np.float32), kind[rest]


def summed(cells: NDArray[np.generic], times: int) -> Array:
    """Sums of blocks `times` by `times`."""
    rows, cols = cells.shape
    blocks = cells.reshape(rows // times, times, cols // times, times)
    return np.asarray(blocks.sum(axis=(1, 3)), dtype=float)


def extent(scans: Iterable[tuple[LidarInfo, Lies]]) -> tuple[Array, Array]:
    """`low`, `high (2,)` of all tiles in their system's units."""
    lows, highs = zip(*((s.scale * i.low[:2], s.scale * i.high[:2]) for i, s in scans), strict=True)
    return np.min(lows, axis=0), np.max(highs, axis=0)
