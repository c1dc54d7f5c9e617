"""Outlines in plan: the only place that uses shapely.

An outline is a tuple of rings `(k, 2)` in frame metres: the outer one first, then holes; rings
are not closed (last point differs from the first).
"""

from __future__ import annotations

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

Array = NDArray[np.float64]
Outline = tuple[Array, ...]

QUARTER = 16  # edges to a quarter turn: an arc is short by at most 0.12 % of its radius
SLIVER_M2 = 1e-6  # smaller parts are rounding, and dropped


def inside_m(outline: Outline, xy_m: Array) -> Array:
    """Level distance inside the edge for `xy_m (..., 2)`: positive inside, negative outside.

    The edge includes that of holes; on it 0.
    """
    area = _polygon(outline)
    edge = area.boundary
    shapely.prepare(area)
    shapely.prepare(edge)
    distance = shapely.distance(edge, shapely.points(xy_m))
    inside = shapely.contains_xy(area, xy_m[..., 0], xy_m[..., 1])
    return np.asarray(np.where(inside, distance, 0.0 - distance))


def distance_to_path_m(path_m: Array, xy_m: Array) -> Array:
    """Level distance from `xy_m (..., 2)` to a point `(1, 2)` or line `(k, 2)`."""
    path = _path(path_m)
    shapely.prepare(path)
    return np.asarray(shapely.distance(path, shapely.points(xy_m)))


def triangles(outline: Outline) -> Array:
    """The outline as triangles `(m, 3, 2)` that cover it without overlap."""
    parts = shapely.get_parts(shapely.constrained_delaunay_triangles(_polygon(outline)))
    if not len(parts):
        return np.empty((0, 3, 2))
    return np.stack([shapely.get_coordinates(part)[:3] for part in parts])


def grown(outline: Outline, by_m: float) -> tuple[Outline, ...]:
    """The outline with its edge moved out by `by_m` (round corners; in when negative), in parts."""
    return _outlines(_polygon(outline).buffer(by_m, quad_segs=QUARTER))


def cells(outline: Outline, size_m: float) -> tuple[Outline, ...]:
    """The outline cut into pieces that each fit a `size_m` square of a fixed north-up raster.

    The raster has a corner in the frame's origin. Pieces come west to east, then south to north.
    """
    area = _polygon(outline)
    west, south, east, north = (bound / size_m for bound in area.bounds)
    x = np.arange(np.floor(west), np.ceil(east) + 1.0) * size_m
    y = np.arange(np.floor(south), np.ceil(north) + 1.0) * size_m
    strips = shapely.intersection(area, shapely.box(x[:-1], y[0], x[1:], y[-1]))
    pieces: list[Outline] = []
    for strip in strips[shapely.area(strips) > 0.0]:
        west, south, east, north = strip.bounds
        met = (y[1:] > south) & (y[:-1] < north)
        squares = shapely.box(west, y[:-1][met], east, y[1:][met])
        for piece in shapely.intersection(strip, squares):
            pieces.extend(_outlines(piece))
    return tuple(pieces)


def split_by_path(
    outline: Outline, path_m: Array, half_width_m: float
) -> tuple[tuple[Outline, ...], tuple[Outline, ...]]:
    """Parts outside and parts inside a strip `half_width_m` to each side of a path `(k, 2)`
    (square ends that reach half a width past the path's ends).

    Bends are round: but for the ends it holds what is within half a width of the path, no more.
    """
    area = _polygon(outline)
    strip = _path(path_m).buffer(half_width_m, quad_segs=QUARTER, cap_style="square")
    return _outlines(area.difference(strip)), _outlines(area.intersection(strip))


def centroid(outline: Outline) -> tuple[float, float]:
    """Centre of area, in the outline's own coordinates."""
    centre = _polygon(outline).centroid
    return float(centre.x), float(centre.y)


def _polygon(outline: Outline) -> shapely.Polygon:
    return shapely.Polygon(outline[0], outline[1:])


def _path(path_m: Array) -> shapely.Point | shapely.LineString:
    if (path_m == path_m[0]).all():
        return shapely.Point(path_m[0])
    return shapely.LineString(path_m)


def _outlines(shape: BaseGeometry) -> tuple[Outline, ...]:
    """The areas in a shape; its lines, points and slivers are left out."""
    parts = shapely.get_parts(shapely.get_parts(shape))  # a collection may hold a multi-polygon
    return tuple(
        tuple(
            np.asarray(ring.coords, dtype=float)[:-1, :2]
            for ring in (part.exterior, *part.interiors)
        )
        for part in parts
        if isinstance(part, shapely.Polygon) and part.area >= SLIVER_M2
    )
