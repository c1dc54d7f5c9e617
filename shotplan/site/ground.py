"""The site's frame and its terrain."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np

from shotplan.errors import BadInput, Problems
from shotplan.files.raster import RasterInfo, open_raster, read_window
from shotplan.kernels.ground import grid as posts
from shotplan.model.arrays import Array
from shotplan.model.frame import FIT_RESIDUAL_M, Frame
from shotplan.model.terrain import Terrain, Water
from shotplan.site.roles import Drawn
from shotplan.site.shapes import Shape, apart_m, centroid_deg, unturned

MARGIN_M = 2000.0  # ground beyond everything in the site, for sight and for the way home
FAR_M = 50_000.0
BEYOND_M = 5000.0  # of coarser ground, for the skyline and the sun
BEYOND_FIT_M = 1.0  # how well that must be laid into the frame
AROUND_M = 200.0  # of the site, where two rasters are compared
APART_M = 15.0  # two rasters farther apart than this count from different zeros
ERROR_CELLS = 0.2  # how far posts may be off, unless it is said, in cells
MOST_CELLS = 60_000_000


def frame_of(
    drawn: Sequence[Drawn], ride_deg: Array | None, where: str, problems: Problems
) -> Frame | None:
    """The frame about the boundary's centroid, else the ride's `(k, 2)`; far things are problems.

    None where there is neither, or where they are too far apart to be one site.
    """
    shapes = [d.shape for d in drawn if d.role == "boundary"]
    if ride_deg is not None:
        shapes.append(
            Shape(geometry="line" if len(ride_deg) > 1 else "point", parts=((unturned(ride_deg),),))
        )
    if not shapes:
        return None
    before = len(problems)
    centre = centroid_deg(shapes[0])
    of = ", in the ride or in the GeoJSON"
    _check_near("the ride", centroid_deg(shapes[-1]), centre, where, problems, of)
    of = "" if len(shapes) > 1 or ride_deg is None else ", here or in the ride"
    if len(problems) == before:
        middles = np.array([feature.shape.middle for feature in drawn]).reshape(-1, 2)
        for k in np.flatnonzero(apart_m(middles, centre) > FAR_M).tolist():
            _check_near("it", middles[k], centre, drawn[k].where, problems, of)
    if len(problems) > before:
        return None
    return Frame(lon_deg=float(centre[0] - 360.0 * (centre[0] >= 180.0)), lat_deg=float(centre[1]))


def _check_near(
    what: str, at: Array, centre: Array, where: str, problems: Problems, of: str = ""
) -> None:
    far_m = float(apart_m(at, centre))
    if far_m <= FAR_M:
        return
    turned = abs(at[0]) <= 90.0 and apart_m(at[::-1], centre) <= FAR_M
    turned = turned or (abs(centre[0]) <= 90.0 and apart_m(at, centre[::-1]) <= FAR_M)
    hint = (
        f"latitude and longitude look swapped{of} ({_order(where)})"
        if turned
        else "check that both belong to the same place"
    )
    problems.add(
        where,
        f"{what} lies {far_m / 1000.0:,.0f} km from the middle of the site "
        f"(longitude {centre[0]:.5f}, latitude {centre[1]:.5f}): {hint}",
    )


def _order(where: str) -> str:
    """Which is which in the file it stands in."""
    if ".geojson" in where.lower():
        return "GeoJSON wants longitude first"
    return "latitude is how far north, longitude how far east"


def terrain_of(
    *,
    frame: Frame,
    elevation_m: float | None,
    error_m: float | None,
    file: Path | None,
    beyond: Path | None,
    water: tuple[Water, ...],
    everything_m: Array,
    problems: Problems,
) -> Terrain | None:
    """Flat ground at `elevation_m`, or the raster's window around `everything_m (k, 2)` with the
    coarser ground `beyond` it, or, with neither, ground that is nowhere known. None after a
    problem."""
    if elevation_m is not None:
        return Terrain(
            grid=posts.flat(elevation_m),
            source=f"flat ground at {elevation_m:g} m, as given",
            cell_m=float("inf"),
            error_m=error_m or 0.0,
            water=water,
            assumptions=(f"the ground is taken as flat at {elevation_m:g} m, as given",),
        )
    if file is None:
        return _unknown("no terrain is given: every height above the ground is unknown", water)
    low, high = everything_m.min(axis=0), everything_m.max(axis=0)
    near = _read(file, frame, low - MARGIN_M, high + MARGIN_M, FIT_RESIDUAL_M, problems)
    wide = near
    if beyond is not None:
        wide = _read(beyond, frame, low - BEYOND_M, high + BEYOND_M, BEYOND_FIT_M, problems)
    if near is None or wide is None:
        return None
    near = replace(near, water=water, error_m=near.error_m if error_m is None else error_m)
    if near.shows:
        near = replace(near, assumptions=(*near.assumptions, near.shows))
    if beyond is None:
        return near
    before = len(problems)
    _check_beyond(near, wide, beyond.name, everything_m, problems)
    said = f"where {file.name} ends sight, wind and sun are asked of {beyond.name}, nothing else"
    return None if len(problems) > before else replace(
        near, beyond=wide, assumptions=(*near.assumptions, said, *wide.assumptions)
    )  # fmt: skip


def _unknown(why: str, water: tuple[Water, ...]) -> Terrain:
    return Terrain(
        grid=posts.flat(float("nan")), source="none", cell_m=float("nan"), water=water,
        assumptions=(why,),
    )  # fmt: skip


def _check_beyond(
    near: Terrain, wide: Terrain, name: str, everything_m: Array, problems: Problems
) -> None:
    """Coarser ground that misses the site, or counts its heights from another zero."""
    there = wide.ground_m(everything_m)
    if np.isnan(there).all():
        problems.add(
            name, "does not reach the site; wanted coarser terrain of the site and around it"
        )
        return
    low, high = everything_m.min(axis=0) - AROUND_M, everything_m.max(axis=0) + AROUND_M
    lattice = np.stack(np.meshgrid(*np.linspace(low, high, 40).T), axis=-1)
    off = near.ground_m(lattice) - wide.ground_m(lattice)
    if np.isfinite(off).any() and abs(middle := float(np.nanmedian(off))) > APART_M:
        problems.add(
            name,
            f"lies {abs(middle):.0f} m {'below' if middle > 0.0 else 'above'} {near.source} (in "
            "the middle of their differences): they count heights from different zeros; "
            "wanted both in one height system",
        )


def _read(
    file: Path, frame: Frame, low_m: Array, high_m: Array, within_m: float, problems: Problems
) -> Terrain | None:
    """A raster's window; unknown ground where it does not reach that far. None after a problem."""
    info = open_raster(file, file.name, problems)
    if info is None:
        return None
    try:
        return _window(frame, info, file.name, low_m, high_m, within_m, problems)
    except ValueError as error:
        problems.add(file.name, f"{error}; use a smaller site, or crop the ride")
    except BadInput as error:  # found damaged while it was read
        for problem in error.problems:
            problems.add(problem.where, problem.what)
    return None


def _window(
    frame: Frame,
    info: RasterInfo,
    name: str,
    low_m: Array,
    high_m: Array,
    within_m: float,
    problems: Problems,
) -> Terrain | None:
    affine = frame.in_turn(info.wkt, info.affine, info.cols)
    row0, row1, col0, col1 = frame.window(info.wkt, affine, low_m, high_m)
    row0, col0 = max(row0, 0), max(col0, 0)
    row1, col1 = min(row1, info.rows - 1), min(col1, info.cols - 1)
    rows, cols = row1 - row0 + 1, col1 - col0 + 1
    if rows < 2 or cols < 2:
        return _unknown(f"{name} does not reach the site: its ground is unknown", ())
    if rows * cols > MOST_CELLS:
        problems.add(
            name,
            f"the site's part of it has {rows * cols:,} posts; wanted at most {MOST_CELLS:,}: "
            "use a coarser grid, or crop the ride",
        )
        return None
    fit = frame.fit(info.wkt, affine, (row0, row1), (col0, col1), low_m, high_m, within_m)
    z = read_window(info, row0, row1, col0, col1)
    accuracy = f"accuracy {fit.accuracy_m:g} m" if np.isfinite(fit.accuracy_m) else (
        "accuracy not stated"
    )  # fmt: skip
    return Terrain(
        grid=posts.make(z, fit.to_grid, fit.to_frame),
        source=name,
        cell_m=fit.cell_m,
        error_m=ERROR_CELLS * fit.cell_m,
        assumptions=(
            f"terrain {name} laid into the site by {_named_steps(fit.operation)}, {accuracy}",
        ),
    )


def _named_steps(operation: str) -> str:
    """The operation without the steps that have no name of their own."""
    steps = operation.split(" + ")
    named = [s for s in steps if "unknown" not in s and "axis order change" not in s]
    return " + ".join(named) or operation
