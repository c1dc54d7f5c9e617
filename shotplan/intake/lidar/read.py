"""Scans of several tiles -> what stands near a ride, the ground under it, and where it looked."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import NamedTuple

import numpy as np

from shotplan.errors import BadInput, Problems
from shotplan.files.lidar import PIECE, LidarInfo, open_lidar
from shotplan.files.raster_out import write_elevations
from shotplan.files.words import printable
from shotplan.intake.found import Found
from shotplan.intake.lidar import cloud as clouds
from shotplan.intake.lidar import drawn, said, system
from shotplan.intake.lidar.cloud import COARSE_M, MOST_CELLS, Cloud, Grid
from shotplan.intake.lidar.ground import Ground, density, ground_of
from shotplan.intake.lidar.looked import looked
from shotplan.intake.lidar.standing import On, Returns, standing
from shotplan.intake.lidar.system import Lies
from shotplan.model.arrays import Array

SOURCE, TERRAIN = "lidar", "lidar-terrain.tif"
LOOKED_FOR = ("trees", "buildings")
TERRAIN_ERROR_M = 0.2
GPS_BEGAN = datetime(1980, 1, 6, tzinfo=UTC)
FIRST_SCANNED = date(1990, 1, 1)
Scans = list[tuple[LidarInfo, Lies]]


class Settings(NamedTuple):
    """What may be set: how far from the ride (metres), how low a thing may be to be drawn, how
    well bodies hold the returns, how well the ground is known; how many returns at a time."""

    within_m: float = 60.0
    least_height_m: float = 0.5
    error_m: float = 0.3
    terrain_error_m: float = TERRAIN_ERROR_M
    piece: int = PIECE


def read_lidar(
    paths: Sequence[Path],
    ride_lonlat_deg: Array,
    problems: Problems,
    *,
    within_m: float = 60.0,
    crs: str = "",
    progress: Callable[[str], None] | None = None,
    settings: Settings | None = None,
    today: date | None = None,
) -> Found | None:
    """What stands within `within_m` of a ride `(k, 2)`, longitude and latitude; None where the
    tiles cannot be used (problems say all of it).

    `crs`: what the files do not say of themselves (`EPSG:2994`, `heights in feet`, or both with a
    comma). `progress` is told each tile's name as it is begun and then "what stands there".
    """
    told = settings or Settings()
    if settings is None:
        told = told._replace(within_m=within_m)
    tell = progress or (lambda _: None)
    scans = _scans(paths, crs, problems)
    if scans is None:
        return None
    grid_away = _grid(scans, ride_lonlat_deg, told.within_m, problems)
    if grid_away is None:
        return None
    grid, away = grid_away
    try:
        cloud = clouds.gather(scans, grid, away, told.within_m, told.piece, tell)
    except BadInput as error:
        for problem in error.problems:
            problems.add(problem.where, problem.what)
        return None
    if not _sound(cloud, ", ".join(printable(p.name) for p in paths), problems):
        return None
    tell("what stands there")
    return _found(scans, cloud, told, today or datetime.now(UTC).date())


def _scans(paths: Sequence[Path], crs: str, problems: Problems) -> Scans | None:
    """The tiles and how they lie; all that is wrong with all of them."""
    before = len(problems)
    what = system.told(crs, problems)
    scans: Scans = []
    for path in paths:
        where = printable(path.name)
        info = open_lidar(path, where, problems)
        lies = info and system.where_it_lies(info, what, where, problems)
        if info and lies:
            scans.append((info, lies))
    if not paths:
        problems.add("lidar", "no file is given; wanted LAS or LAZ tiles")
    if len(problems) > before:
        return None
    system.check_one_system(scans, problems)
    return None if len(problems) > before else scans


def _grid(
    scans: Scans, ride_lonlat_deg: Array, within_m: float, problems: Problems
) -> tuple[Grid, Array] | None:
    """Cells near the ride and how far each is from it; a problem where the tiles are elsewhere."""
    names = ", ".join(printable(info.path.name) for info, _ in scans)
    its, low_high = scans[0][1].system, clouds.extent(scans)
    try:
        ride = its.from_lonlat(ride_lonlat_deg)
        reach_m = within_m + clouds.BESIDE_M
        grid = clouds.grid_about(ride, *low_high, its, reach_m)
    except RuntimeError:
        problems.add(names, f"lies in {printable(its.name)}, which does not reach to the ride")
        return None
    if grid.rows * grid.cols > MOST_CELLS:
        problems.add(
            names,
            f"the ride's part of it is {grid.rows * COARSE_M / 1000.0:.1f} by "
            f"{grid.cols * COARSE_M / 1000.0:.1f} km; wanted at most {MOST_CELLS / 1e6:.0f} km²: "
            "crop the ride",
        )
        return None
    if grid.rows > 0 and grid.cols > 0:
        away = clouds.away_m(grid, ride, reach_m)
        if (away <= within_m).any():
            return grid, away
    middle = its.lonlat_deg(0.5 * (low_high[0] + low_high[1]))
    far_m = system.apart_m(np.stack([middle, ride_lonlat_deg.mean(axis=0)]))
    problems.add(
        names,
        f"does not come within {within_m:g} m of the ride: its middle lies {far_m / 1000.0:,.1f} "
        "km from the ride's. Give the tiles of the place",
    )
    return None


def _sound(cloud: Cloud, names: str, problems: Problems) -> bool:
    """Whether there is ground, and heights are elevations."""
    bare = int(cloud.ground_hits.sum())
    returns = int(cloud.hits.sum())
    if cloud.mad > 0.01 * (returns + cloud.mad):
        problems.add(
            names,
            f"has {cloud.mad:,} returns near the ride at heights that no ground has (in metres, "
            "-500 to 9000): it is damaged, or its heights are in another unit",
        )
    elif not returns:
        problems.add(names, "has no return near the ride: give the tiles of the place")
    elif not bare:
        problems.add(
            names,
            "has no return that is classified as ground (class 2) or water (9) near the ride: take "
            "the publisher's classified tiles, or have its ground classified first",
        )
    elif bare > 10 and cloud.at_zero >= 0.99 * bare:
        problems.add(
            names,
            "has all its ground at 0: its heights are above the ground already, and how the ground "
            "lies is lost. Wanted elevations: take the tiles before their heights were taken off",
        )
    else:
        return True
    return False


def _found(scans: Scans, cloud: Cloud, told: Settings, today: date) -> Found:
    per_m2 = density(cloud)
    ground = ground_of(cloud, per_m2)
    returns = _returns(cloud, ground, told.least_height_m - told.terrain_error_m)
    stands = standing(returns, On(ground.under, ground.surely, per_m2))
    seen = looked(cloud, per_m2)
    scanned = _days(cloud, today)
    its, on = scans[0][1].system, scanned[0] if scanned else None
    how = drawn.How(SOURCE, on, told.error_m, told.least_height_m, cloud.grid, its)
    written = max((i.written for i, _ in scans if i.written), default=None)
    sentences = (
        f"{per_m2:.1f} returns on a square metre; the ground in cells of {ground.grid.cell_m:g} m",
        said.bodies(stands.bodies, stands.outside, len(returns.over_m), told.least_height_m),
        said.ground(ground),
        said.voids(seen.not_m2),
        said.when(said.Days(scanned, written, today)),
        said.BLIND,
    )
    return Found(
        source=SOURCE,
        features=(
            *drawn.features(stands.bodies, how),
            *drawn.surveyed(seen.areas, LOOKED_FOR, how),
        ),
        files={TERRAIN: write_elevations(ground.z_m, its.wkt, ground.grid.affine)},
        keys={"terrain": TERRAIN, "terrain_error_m": told.terrain_error_m},
        on=on,
        said=tuple(s for s in sentences if s),
    )


def _returns(cloud: Cloud, ground: Ground, least_m: float) -> Returns:
    """What is not ground and stands higher than that."""
    times = round(COARSE_M / ground.grid.cell_m)
    grid = ground.grid.coarser(times)
    xyz, kind = cloud.xyz_m, cloud.kind
    over = np.concatenate(
        [np.empty(0)]
        + [
            part[:, 2] - ground.under(part[:, :2].astype(float))
            for part in np.array_split(xyz, max(len(xyz) // PIECE, 1))
        ]
    )
    high = over > least_m
    xyz, kind, over = xyz[high], kind[high], over[high]
    cell, _ = grid.cells(xyz[:, :2].astype(float))
    return Returns(xyz, over, kind, cell, (grid.rows, grid.cols), grid.cell_m)


def _days(cloud: Cloud, today: date) -> tuple[date, date] | None:
    """First and last day of the scan; None where it does not say, or says what cannot be."""
    if not np.isfinite(cloud.first_s):
        return None
    first, last = ((GPS_BEGAN + timedelta(seconds=s)).date() for s in (cloud.first_s, cloud.last_s))
    return (first, last) if first >= FIRST_SCANNED and last <= today else None
