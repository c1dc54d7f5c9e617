"""Rasters of what stands: heights above the ground, or a surface less the ground under it.

The same trees and woods as of a laser scan, each covering its cells whole. Cells wider than
`SINGLE_M` cannot show a single tree: they make woods, and nothing counts as looked for.
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import NamedTuple

import numpy as np
from scipy import ndimage

from shotplan.errors import BadInput, Problems
from shotplan.files.raster import RasterInfo, open_raster, read_window
from shotplan.files.words import printable
from shotplan.intake.found import Found
from shotplan.intake.lidar import cloud, drawn, outlines, said
from shotplan.intake.lidar.cloud import Grid
from shotplan.intake.lidar.standing import Body, On, Returns, all_woods, standing
from shotplan.intake.lidar.system import apart_m
from shotplan.model.arrays import Array, Bools
from shotplan.model.frame import System, system

SOURCE = "canopy"
LEAST_HEIGHT_M = 0.5
ERROR_M, HEIGHT_ERROR = 1.0, 0.1  # own setting: such rasters are smoothed, and say no error
SINGLE_M = 2.5
WORK_M = 1.0  # finer cells are taken together, the highest counts
HIGHEST_TREE_M = 120.0  # general knowledge: no tree is higher
APART_M = 5.0  # a surface that far under its ground counts from another zero
EDGE = 0.01  # of a cell
LEAVES = 5  # class of the LAS specification: high vegetation


class _Heights(NamedTuple):
    """`over_m (rows, cols)` above the ground, NaN unknown; `within`: cells near the ride."""

    grid: Grid
    system: System
    over_m: Array
    within: Bools


def read_canopy(
    path: Path,
    ride_lonlat_deg: Array,
    problems: Problems,
    *,
    within_m: float = 60.0,
    terrain: Path | None = None,
) -> Found | None:
    """What stands within `within_m` of a ride `(k, 2)`, longitude and latitude; None where the
    raster cannot be used (problems say why). `terrain`: the ground, where the raster holds
    elevations of a surface."""
    where = printable(path.name)
    info = open_raster(path, where, problems)
    under = open_raster(terrain, printable(terrain.name), problems) if terrain else None
    if info is None or (terrain and under is None):
        return None
    try:
        read = _near(info, ride_lonlat_deg, within_m, where, problems)
        if read is not None and under is not None:
            read = _less_ground(read, under)
    except BadInput as error:
        for problem in error.problems:
            problems.add(problem.where, problem.what)
        return None
    if read is None or not _are_heights(read, where, terrain, problems):
        return None
    return _found(_coarsened(read))


def _near(
    info: RasterInfo, ride_lonlat_deg: Array, within_m: float, where: str, problems: Problems
) -> _Heights | None:
    """The part of the raster near the ride."""
    its, (a, b, west, d, e, north) = system(info.wkt), info.affine
    try:
        ride = its.from_lonlat(ride_lonlat_deg)
        unit = its.metres_per_unit(ride.mean(axis=0))
    except RuntimeError:
        problems.add(where, f"lies in {printable(its.name)}, which does not reach to the ride")
        return None
    cell = np.array([a, -e]) * unit
    if b or d or not (cell > 0.0).all() or abs(cell[0] / cell[1] - 1.0) > 0.02:
        problems.add(
            where, "has cells that are not square or not north up; wanted square cells of a grid "
            "in metres: turn it into one, for example with: rio warp --dst-crs EPSG:25832"
        )  # fmt: skip
        return None
    low, high = ride.min(axis=0) - within_m / unit, ride.max(axis=0) + within_m / unit
    col0, row0 = (int(v) for v in np.floor([(low[0] - west) / a, (high[1] - north) / e]))
    col1, row1 = (int(v) for v in np.floor([(high[0] - west) / a, (low[1] - north) / e]))
    col0, row0 = max(col0, 0), max(row0, 0)
    col1, row1 = min(col1, info.cols - 1), min(row1, info.rows - 1)
    rows, cols = row1 - row0 + 1, col1 - col0 + 1
    if min(rows, cols) > 0 and rows * cols > cloud.MOST_CELLS:
        problems.add(where, f"the ride's part of it has {rows * cols:,} cells; wanted at most "
                     f"{cloud.MOST_CELLS:,}: crop the ride")  # fmt: skip
        return None
    if min(rows, cols) > 0:
        unit_m = (float(cell[0] / a), float(-cell[0] / e))
        grid = Grid(west + col0 * a, north + row0 * e, unit_m, float(cell[0]), rows, cols)
        within = np.asarray(np.isfinite(cloud.away_m(grid, ride, within_m)))
        over = read_window(info, row0, row1, col0, col1)
        if np.isfinite(over[within]).any():
            return _Heights(grid, its, over, within)
    middle = its.lonlat_deg(np.array([west + 0.5 * a * info.cols, north + 0.5 * e * info.rows]))
    far_m = apart_m(np.stack([middle, ride_lonlat_deg.mean(axis=0)]))
    problems.add(where, f"holds nothing within {within_m:g} m of the ride: its middle lies "
                 f"{far_m / 1000.0:,.1f} km from the ride's")  # fmt: skip
    return None


def _less_ground(read: _Heights, under: RasterInfo) -> _Heights:
    """The surface less the ground, which is read straight between its posts."""
    rows, cols = read.over_m.shape
    row, col = np.mgrid[:rows, :cols] + 0.5
    places = read.grid.back(np.stack([col, row], axis=-1) * read.grid.cell_m)
    its, (a, b, west, d, e, north) = system(under.wkt), under.affine
    x, y = np.moveaxis(its.from_lonlat(read.system.lonlat_deg(places)) - (west, north), -1, 0)
    at = np.stack([a * y - d * x, e * x - b * y]) / (a * e - b * d) - 0.5
    (row0, col0), (row1, col1) = (np.floor(at.min(axis=(1, 2))), np.ceil(at.max(axis=(1, 2))))
    ground = read_window(under, int(row0), int(row1), int(col0), int(col1))
    at -= np.array([row0, col0])[:, None, None]
    z = ndimage.map_coordinates(ground, at, order=1, mode="nearest")
    return read._replace(over_m=read.over_m - z)


def _are_heights(read: _Heights, where: str, terrain: Path | None, problems: Problems) -> bool:
    """Whether values can be heights of what stands on the ground."""
    values = read.over_m[read.within & np.isfinite(read.over_m)]
    if not len(values):
        problems.add(where, "and the terrain do not overlap near the ride")
        return False
    low, high = (float(v) for v in np.quantile(values, [0.01, 0.99]))
    if terrain is not None and (low < -APART_M or low > HIGHEST_TREE_M):
        problems.add(where, f"differs from the terrain by {low:.0f} to {high:.0f} m: they count "
                     "heights from different zeros")  # fmt: skip
        return False
    if terrain is None and (high > HIGHEST_TREE_M or low < -APART_M):
        problems.add(where, f"holds values from {low:.0f} to {high:.0f} m near the ride; "
                     "wanted heights above the ground. Of elevations of a surface give the "
                     "terrain as well")  # fmt: skip
        return False
    return True


def _coarsened(read: _Heights) -> _Heights:
    """Cells of about `WORK_M`, where they are finer; the highest of those taken together."""
    times = int(WORK_M / read.grid.cell_m + 1e-6)
    if times < 2:
        return read
    pad = [(0, -n % times) for n in read.over_m.shape]
    over = np.pad(np.where(np.isnan(read.over_m), -np.inf, read.over_m), pad,
                  constant_values=-np.inf)  # fmt: skip
    rows, cols = (n // times for n in over.shape)
    top = over.reshape(rows, times, cols, times).max(axis=(1, 3))
    near = np.pad(read.within, pad).reshape(rows, times, cols, times).max(axis=(1, 3))
    grid = read.grid._replace(cell_m=read.grid.cell_m * times, rows=rows, cols=cols)
    return read._replace(grid=grid, over_m=np.where(np.isinf(top), np.nan, top), within=near)


def _bodies(read: _Heights) -> Sequence[Body]:
    """Every cell higher than `LEAST_HEIGHT_M` stands in some body, with all its corners."""
    with np.errstate(invalid="ignore"):
        row, col = np.nonzero((read.over_m > LEAST_HEIGHT_M) & read.within)
    over = np.repeat(read.over_m[row, col], 4)
    corners = np.array([(e, s) for e in (EDGE, 1.0 - EDGE) for s in (EDGE, 1.0 - EDGE)])
    xy = (np.column_stack([col, row])[:, None] + corners).reshape(-1, 2) * read.grid.cell_m
    xyz = np.column_stack([xy, over]).astype(np.float32)
    returns = Returns(
        xyz, over, np.full(len(over), LEAVES, dtype=np.uint8),
        np.repeat(row * read.grid.cols + col, 4), read.over_m.shape, read.grid.cell_m,
    )  # fmt: skip

    def level(places: Array) -> Array:
        return np.zeros(len(places))

    on = On(level, level, 0.0)
    return all_woods(returns, on) if read.grid.cell_m > SINGLE_M else standing(returns, on).bodies


def _found(read: _Heights) -> Found:
    bodies, cell_m = _bodies(read), read.grid.cell_m
    seen = read.within & np.isfinite(read.over_m)
    how = drawn.How(
        SOURCE, None, ERROR_M, LEAST_HEIGHT_M, read.grid, read.system, HEIGHT_ERROR
    )  # fmt: skip
    single = cell_m <= SINGLE_M
    areas = outlines.inside_cells(seen, cell_m) if single else []
    missed = float((read.within & ~seen).sum()) * cell_m**2
    sentences = [
        f"{said.counted(bodies)} found in cells of {cell_m:.3g} m",
        ""
        if single
        else f"cells of {cell_m:.3g} m are too coarse to show a single tree: nothing "
        "counts as surveyed, look there yourself",
        f"{missed:,.0f} m² near the ride has no value: not surveyed" if missed >= 1.0 else "",
        "when it was measured is not said: ask the publisher",
        "such a raster shows no wires, and posts and thin trees are lost in it",
    ]
    return Found(
        source=SOURCE,
        features=(*drawn.features(bodies, how), *drawn.surveyed(areas, ("trees",), how)),
        said=tuple(s for s in sentences if s),
    )
