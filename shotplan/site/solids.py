"""Solids of single things: what a tree, a building, a wood, a wire is made of.

Everything is built twice by the same lines: as drawn, and as grown by a `Growth`.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable
from itertools import pairwise
from typing import NamedTuple

import numpy as np

from shotplan.kernels.solids import footprints
from shotplan.kernels.solids.columns import Columns
from shotplan.kernels.solids.footprints import Outline
from shotplan.kernels.solids.prisms import Prisms
from shotplan.model.arrays import Array, Bools

Ground = Callable[[Array], Array]

STEP_M = 0.5  # how closely the ground under an outline is looked at
MOST_STEPS = 200
WIRE_PIECE_M = 1.0
RISE_M = 0.05  # a piece is level; it is no longer than its top rises by this
FINE_M, MOST_RINGS, RIM_POINTS = 0.25, 40, 72  # how closely the ground round a foot is looked at
WIRE_DOUBT_M = 30.0

BLOCK = 50_000  # places asked for their ground at once

Column = tuple[float, float, float, float, float]  # x, y, radius, bottom, top
Standing = tuple[float, float, bool]  # lowest and highest ground of one thing, all of it known


class Growth(NamedTuple):
    """`plan_m` outward; `up_m` tops upward and undersides downward; `cut_m`: how far the sides and
    roof of a cut close in; `foot_m`: how far from its drawn place a thing may stand on the map, so
    that its foot is the highest ground within, its underside counted from the lowest."""

    plan_m: float
    up_m: float
    cut_m: float
    foot_m: float = 0.0


AS_DRAWN = Growth(0.0, 0.0, 0.0)


class Solids(NamedTuple):
    """Pieces of one thing; `doubtful` where its height is not known."""

    columns: tuple[Column, ...] = ()
    prisms: tuple[Prisms, ...] = ()
    doubtful: tuple[Prisms, ...] = ()


def joined_columns(columns: Iterable[Column]) -> Columns:
    """Column rows as arrays."""
    rows = np.array(list(columns), dtype=float).reshape(-1, 5)
    return Columns(rows[:, :2].copy(), rows[:, 2].copy(), rows[:, 3].copy(), rows[:, 4].copy())


def joined_prisms(pieces: Iterable[Prisms]) -> Prisms:
    """Prisms one after the other."""
    listed = [Prisms(np.empty((0, 3, 2)), np.empty(0), np.empty(0), np.empty(0)), *pieces]
    return Prisms(*(np.concatenate(field) for field in zip(*listed, strict=True)))


def walls(
    corners_m: Array, radius_m: float, bottom_m: Array | float, top_m: Array | float
) -> Prisms:
    """Prisms over `corners_m (m, 3, 2)`; the other values one for all or `(m,)`."""
    count = len(corners_m)
    radius, bottom, top = (
        np.broadcast_to(np.asarray(v, dtype=float), (count,)).copy()
        for v in (radius_m, bottom_m, top_m)
    )
    return Prisms(np.asarray(corners_m, dtype=float), radius, bottom, top)


def in_doubt(corners_m: Array, radius_m: float) -> Prisms:
    """Footprints without a known height: from -inf to +inf."""
    return walls(corners_m, radius_m, -np.inf, np.inf)


def thick_line(path_m: Array) -> Array:
    """`(k - 1, 3, 2)` corners of the legs of a path `(k, 2)`, the second one repeated."""
    return np.stack([path_m[:-1], path_m[1:], path_m[1:]], axis=1)


def disc(xy_m: Array) -> Array:
    """`(1, 3, 2)` one point, three times."""
    return np.broadcast_to(xy_m, (1, 3, 2)).copy()


def resampled(path_m: Array, step_m: float) -> Array:
    """A path with points added so that no leg is longer than `step_m`."""
    legs = [
        a
        + np.linspace(0.0, 1.0, int(np.ceil(np.linalg.norm(b - a) / step_m)) + 1)[1:, None]
        * (b - a)
        for a, b in pairwise(path_m)
    ]
    return np.concatenate([path_m[:1], *legs])


def inside_points(outline: Outline) -> Array:
    """`(k, 2)` points that stand for the area: corners, edges and an inner raster."""
    ring = outline[0]
    low, high = ring.min(axis=0), ring.max(axis=0)
    step = max(STEP_M, float((high - low).max()) / MOST_STEPS)
    edges = [resampled(np.concatenate([r, r[:1]]), step) for r in outline]
    gx, gy = np.meshgrid(*(np.arange(a, b, step) for a, b in zip(low, high, strict=True)))
    raster = np.column_stack([gx.ravel(), gy.ravel()])
    within = raster[footprints.inside_m(outline, raster) > 0.0]
    return np.concatenate([*edges, within])


class Foot(NamedTuple):
    """Lowest and highest ground where a thing may stand; `whole`: all of it is known. NaN where
    its own place's is not."""

    low_m: Array
    high_m: Array
    whole: Bools


def feet(ground: Ground, xy_m: Array, within_m: float) -> Foot:
    """The ground within `within_m` of each of `xy_m (k, 2)`, fields `(k,)`."""
    z = ground(xy_m[:, None] + _disc(within_m))
    here, known = np.isfinite(z[:, 0]), np.isfinite(z)
    low = np.where(known, z, np.inf).min(axis=1)
    high = np.where(known, z, -np.inf).max(axis=1)
    whole = np.asarray(known.all(axis=1))
    return Foot(np.where(here, low, np.nan), np.where(here, high, np.nan), whole)


def feet_each(ground: Ground, xy_m: Array, within_m: Array) -> list[Standing]:
    """The ground under each of `xy_m (k, 2)` within its own `within_m (k,)`, many at a time."""
    found = Foot(*(np.empty(len(xy_m), dtype=kind) for kind in (float, float, bool)))
    for radius in np.unique(within_m).tolist():
        alike = np.flatnonzero(within_m == radius)
        step = max(BLOCK // len(_disc(radius)), 1)
        for start in range(0, len(alike), step):
            some = alike[start : start + step]
            for all_, of_some in zip(found, feet(ground, xy_m[some], radius), strict=True):
                all_[some] = of_some
    return list(zip(*(field.tolist() for field in found), strict=True))


def _disc(radius_m: float) -> Array:
    """`(m, 2)` points that stand for a disc about the origin, its middle first and its rim."""
    rings = min(int(np.ceil(radius_m / FINE_M)), MOST_RINGS)
    points = [np.zeros((1, 2))]
    for ring in range(1, rings + 1):
        count = RIM_POINTS if ring == rings else int(np.ceil(2.0 * np.pi * ring))
        turn = np.arange(count) * 2.0 * np.pi / count
        points.append(radius_m * ring / rings * np.column_stack([np.sin(turn), np.cos(turn)]))
    return np.concatenate(points)


def column(xy_m: Array, radius_m: float, bottom_m: float, top_m: float) -> Column:
    """One column row."""
    return (float(xy_m[0]), float(xy_m[1]), radius_m, bottom_m, top_m)


def tree(
    xy_m: Array,
    ground: Ground,
    height_m: float,
    base_m: float,
    radius_m: float,
    trunk_radius_m: float,
    growth: Growth,
) -> Solids:
    """A crown on a trunk; with `base_m` 0 a crown down to the ground (also a pole)."""
    (foot,) = feet_each(ground, xy_m[None], np.array([growth.foot_m]))
    return upright(xy_m, height_m, base_m, radius_m, trunk_radius_m, growth, foot)


def upright(
    xy_m: Array,
    height_m: float,
    base_m: float,
    radius_m: float,
    trunk_radius_m: float,
    growth: Growth,
    foot: Standing,
) -> Solids:
    """The same on ground that was looked at."""
    radius = radius_m + growth.plan_m
    low, high, whole = foot
    doubtful = () if whole else (in_doubt(disc(xy_m), radius),)
    if not math.isfinite(low):
        return Solids(doubtful=doubtful)
    under_m = underside_m(base_m, growth)
    x, y = xy_m.tolist()
    crown = (x, y, radius, low + under_m, high + height_m + growth.up_m)
    if under_m <= 0.0:
        return Solids(columns=(crown,), doubtful=doubtful)
    trunk = (x, y, trunk_radius_m + growth.plan_m, low, low + under_m)
    return Solids(columns=(crown, trunk), doubtful=doubtful)


def underside_m(base_m: float, growth: Growth) -> float:
    """How high over its foot something hangs, at least."""
    return max(base_m - growth.up_m, 0.0)


def round_building(
    xy_m: Array, radius_m: float, height_m: float, ground: Ground, growth: Growth
) -> Solids:
    """A building known by its near wall only: a column over the highest ground under it."""
    z = ground(xy_m + _disc(radius_m + growth.foot_m))
    radius = radius_m + growth.plan_m
    doubtful = () if np.isfinite(z).all() else (in_doubt(disc(xy_m), radius),)
    if not np.isfinite(z).any():
        return Solids(doubtful=doubtful)
    top = float(np.nanmax(z)) + height_m + growth.up_m
    return Solids(columns=(column(xy_m, radius, float(np.nanmin(z)), top),), doubtful=doubtful)


def building(outline: Outline, height_m: float, ground: Ground, growth: Growth) -> Solids:
    """A prism from the lowest ground under it to `height_m` above the highest."""
    corners = footprints.triangles(outline)
    may_stand = footprints.grown(outline, growth.foot_m) if growth.foot_m > 0.0 else (outline,)
    z = ground(np.concatenate([inside_points(part) for part in may_stand]))
    doubtful = () if np.isfinite(z).all() else (in_doubt(corners, growth.plan_m),)
    if not np.isfinite(z).any():
        return Solids(doubtful=doubtful)
    top = float(np.nanmax(z)) + height_m + growth.up_m
    return Solids(
        prisms=(walls(corners, growth.plan_m, float(np.nanmin(z)), top),), doubtful=doubtful
    )


def wire(
    path_m: Array, height_m: Array, sag_m: float | None, ground: Ground, growth: Growth
) -> Solids:
    """A curtain under every span; spans without known supports are doubtful within 30 m.

    `height_m (k,)` above the ground at the vertices of `path_m (k, 2)`, NaN not known. Without a
    measured `sag_m` straight: with a curtain below it a guess would only lower its top.
    """
    foot = feet(ground, path_m, growth.foot_m)
    support = foot.high_m + height_m
    prisms, doubtful = [], []
    spans = (path_m, support, foot.whole)
    for (a, za, one), (b, zb, other) in pairwise(zip(*spans, strict=True)):
        whole = one and other
        span_m = float(np.linalg.norm(b - a))
        if span_m == 0.0:
            continue
        if not (whole and np.isfinite(za + zb)):
            line = thick_line(np.stack([a, b]))
            doubtful.append(in_doubt(line, WIRE_DOUBT_M + growth.plan_m))
        if not np.isfinite(za + zb):
            continue
        sag = sag_m or 0.0
        steepest_m = abs(zb - za) + 4.0 * sag  # rise over the whole span at the steeper end's slope
        count = max(span_m / WIRE_PIECE_M, steepest_m / RISE_M)
        share = np.linspace(0.0, 1.0, int(np.ceil(count)) + 1)
        z = za + share * (zb - za) - 4.0 * sag * share * (1.0 - share)
        top = np.maximum(z[:-1], z[1:]) + growth.up_m
        pieces = thick_line(a + share[:, None] * (b - a))
        prisms.append(walls(pieces, growth.plan_m, -np.inf, top))
    return Solids(prisms=tuple(prisms), doubtful=tuple(doubtful))


def row(
    path_m: Array, radius_m: float, height_m: float, ground: Ground, growth: Growth, hangs: bool
) -> Solids:
    """A wall along a path, piece by piece; `hangs`: a wire, whose curtain has no lower end."""
    rise = np.abs(np.diff(ground(path_m)))
    parts = max(int(np.ceil(np.nanmax(rise, initial=0.0) / RISE_M)), 1)
    path_m = np.column_stack(
        [np.interp(np.arange(len(path_m) * parts - parts + 1) / parts, np.arange(len(path_m)), v)
         for v in path_m.T]
    )  # fmt: skip
    foot = feet(ground, path_m, growth.foot_m)
    corners = thick_line(path_m)
    radius = radius_m + growth.plan_m
    low = np.minimum(foot.low_m[:-1], foot.low_m[1:])
    high = np.maximum(foot.high_m[:-1], foot.high_m[1:])
    known, whole = np.isfinite(low), foot.whole[:-1] & foot.whole[1:]
    bottom = np.full(low.shape, -np.inf) if hangs else low
    top = high + height_m + growth.up_m
    return Solids(
        prisms=(walls(corners[known], radius, bottom[known], top[known]),),
        doubtful=(in_doubt(corners[~whole], radius + (WIRE_DOUBT_M if hangs else 0.0)),),
    )
