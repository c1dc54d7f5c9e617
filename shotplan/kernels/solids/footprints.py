"""Outlines in plan: the only place that uses shapely.

An outline is a tuple of rings `(k, 2)` in frame metres: the outer one first, then holes; rings
are not closed (last point differs from the first).
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

Array = NDArray[np.float64]
Outline = tuple[Array, ...]

QUARTER = 16  # edges to a quarter turn: an arc is short by at most 0.12 % of its radius
SLIVER_M2 = 1e-6  # smaller parts are rounding, and dropped
FINE_M = 0.01  # of the line a strip is laid along
MOST_POINTS = 2000  # of one `spread`; a larger area gets a wider step


class Region(NamedTuple):
    """Points `(1, 2)`, lines `(k, 2)` or, if `filled`, outer rings `(k, 2)` of areas."""

    parts: tuple[Array, ...]
    filled: bool


class Reach(NamedTuple):
    """`distance_m (...)` level, negative inside what is filled; `at_m (..., 2)` the nearest point
    of the region (of its edge, when inside)."""

    distance_m: Array
    at_m: Array


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


def within(outline: Outline, xy_m: Array, by_m: float) -> NDArray[np.bool_]:
    """Where `xy_m (..., 2)` is inside, or outside by no more than that: `inside_m >= -by_m`."""
    area = _polygon(outline)
    edge = area.boundary
    shapely.prepare(area)
    shapely.prepare(edge)
    found = np.array(shapely.contains_xy(area, xy_m[..., 0], xy_m[..., 1]))
    left = ~found
    found[left] = shapely.distance(edge, shapely.points(xy_m[left])) <= by_m
    return found


def distance_to_path_m(path_m: Array, xy_m: Array) -> Array:
    """Level distance from `xy_m (..., 2)` to a point `(1, 2)` or line `(k, 2)`."""
    path = _path(path_m)
    shapely.prepare(path)
    return np.asarray(shapely.distance(path, shapely.points(xy_m)))


def reach(region: Region, xy_m: Array) -> Reach:
    """How far `xy_m (..., 2)` is from a region, and where the region is nearest."""
    shape = _edges(region)
    points = shapely.points(xy_m)
    shapely.prepare(shape)
    at = shapely.get_coordinates(shapely.shortest_line(shape, points))[::2].reshape(xy_m.shape)
    away = np.hypot(xy_m[..., 0] - at[..., 0], xy_m[..., 1] - at[..., 1])
    if region.filled:
        inside = shapely.contains_xy(_whole(region), xy_m[..., 0], xy_m[..., 1])
        away = np.where(inside, -away, away)
    return Reach(np.asarray(away), at)


def hulls_to_m(points_m: Array, region: Region, enough_m: float = np.inf) -> Array:
    """Level distance `(n,)` from the convex hulls of `points_m (n, k, 2)` to a region: 0 where
    they meet; exact below `enough_m`, at least that elsewhere. Points that are not known (NaN) are
    left out; NaN where a hull has none."""
    known = np.asarray(np.isfinite(points_m).all(axis=2))
    shape = _whole(region)
    low, high = (
        every(points_m, axis=1, initial=far, where=known[..., None])
        for every, far in ((np.min, np.inf), (np.max, -np.inf))
    )
    beside = np.maximum(low - shape.bounds[2:], shape.bounds[:2] - high)
    bound = np.hypot(*np.maximum(beside, 0.0).T)
    distance = np.where(known.any(axis=1), bound, np.nan)
    some = np.flatnonzero(bound < enough_m)
    shapely.prepare(shape)
    distance[some] = shapely.distance(_hulls(points_m[some], known[some]), shape)
    return distance


def swept(points_m: Array, by_m: float) -> tuple[Array, ...]:
    """What the convex hulls of `points_m (n, k, 2)` cover while one follows the other, grown by
    `by_m`: outer rings without holes (a ring round a hole is cut in two). For drawing: corners
    are rounded to 0.2 m. Points that are not known (NaN) are left out."""
    pairs = np.concatenate([points_m[:-1], points_m[1:]], axis=1) if len(points_m) > 1 else points_m
    known = np.asarray(np.isfinite(pairs).all(axis=2))
    some = np.asarray(known.any(axis=1))
    if not some.any():
        return ()
    union = shapely.union_all(shapely.buffer(_hulls(pairs[some], known[some]), by_m, quad_segs=4))
    rings: list[Array] = []
    waiting = list(_outlines(union.simplify(0.2)))
    while waiting:
        outline = waiting.pop()
        if len(outline) == 1:
            rings.append(outline[0])
            continue
        area, middle = _polygon(outline), float(outline[1][:, 0].mean())
        west, south, east, north = area.bounds
        for low, high in ((west, middle), (middle, east)):
            half = area.intersection(shapely.box(low, south, high, north))
            waiting.extend(_outlines(half))
    return tuple(rings)


def spread(region: Region, step_m: float) -> Array:
    """Points `(m, 2)` over a region, none of it farther than about `step_m` from one: corners,
    along lines and edges, and a raster inside what is filled. At most some `MOST_POINTS`."""
    shape = _whole(region)
    west, south, east, north = shape.bounds
    size = shape.length + (shape.area / step_m if region.filled else 0.0)
    step = step_m * max(1.0, size / step_m / MOST_POINTS)
    edges = _edges(region)
    found = [shapely.get_coordinates(shapely.segmentize(edges, step))]
    if region.filled:
        x, y = np.meshgrid(np.arange(west, east, step), np.arange(south, north, step))
        inside = shapely.contains_xy(shape, x, y)
        found.append(np.column_stack([x[inside], y[inside]]))
    return np.concatenate(found)


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

    Bends are round: but for the ends it holds what is within half a width of the path, no more (to
    1 cm: points that add less are left out, a smoothed recording has ten a second).
    """
    area = _polygon(outline)
    strip = (
        _path(path_m).simplify(FINE_M).buffer(half_width_m, quad_segs=QUARTER, cap_style="square")
    )
    return _outlines(area.difference(strip)), _outlines(area.intersection(strip))


def _polygon(outline: Outline) -> shapely.Polygon:
    return shapely.Polygon(outline[0], outline[1:])


def _path(path_m: Array) -> shapely.Point | shapely.LineString:
    if (path_m == path_m[0]).all():
        return shapely.Point(path_m[0])
    return shapely.LineString(path_m)


def _whole(region: Region) -> BaseGeometry:
    """A region as one shape."""
    if region.filled:
        return shapely.union_all([shapely.Polygon(part) for part in region.parts])
    return shapely.union_all([_path(part) for part in region.parts])


def _edges(region: Region) -> BaseGeometry:
    whole = _whole(region)
    return whole.boundary if region.filled else whole


def _hulls(points_m: Array, known: NDArray[np.bool_]) -> NDArray[np.object_]:
    """Convex hulls of `points_m (n, k, 2)`, each of its `known (n, k)` points (one at least)."""
    row = np.broadcast_to(np.arange(len(points_m))[:, None], known.shape)[known]
    points = np.asarray(shapely.points(points_m[known]))
    return np.asarray(shapely.convex_hull(shapely.multipoints(points, indices=row)))


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
