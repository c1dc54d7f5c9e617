"""What an eye at a fixed place sees all around: ground, and upright solids before and behind it.

By azimuth and elevation: along every azimuth the highest the ground has stood so far, and where
the solids on that bearing begin and end; then of every pixel what is nearest. For drawing: the
ground is looked at in steps that grow with the distance (1 %), so a ridge narrower than a step may
be missed; the earth's curve and refraction are left out. Whether something is seen is answered by
`rays`, exactly.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from shotplan.kernels.light.z_buffer import blocks
from shotplan.kernels.solids.columns import Columns, through_disc
from shotplan.kernels.solids.prisms import Prisms

Array = NDArray[np.float64]
Index = NDArray[np.intp]

LEAST_STEP_M = 0.5
STEP_SHARE = 0.01
SKY, GROUND = -2, -1  # in `Seen.which`


class Profile(NamedTuple):
    """The ground along azimuths: `highest_rad (a, k)` the highest elevation up to each of
    `distance_m (k,)`; `known_m (a,)` how far it is known from the eye on (+inf: all the way)."""

    distance_m: Array
    highest_rad: Array
    known_m: Array


class Spans(NamedTuple):
    """Solids as they stand on azimuths, `(m,)` each: `which` solid on which azimuth (`at`), how far
    off it begins, and from where to where it reaches up."""

    which: Index
    at: Index
    near_m: Array
    low_rad: Array
    high_rad: Array


class Seen(NamedTuple):
    """`(e, a)`: `which` solid, `GROUND` or `SKY`; `away_m` level distance (+inf sky)."""

    which: Index
    away_m: Array


def distances(reach_m: float) -> Array:
    """`(k,)` where the ground is looked at."""
    found = [LEAST_STEP_M]
    while found[-1] < reach_m:
        found.append(found[-1] + max(LEAST_STEP_M, STEP_SHARE * found[-1]))
    return np.array(found)


def profile(
    ground_m: Callable[[Array], Array], eye_m: Array, azimuth_rad: Array, reach_m: float
) -> Profile:
    """The ground around `eye_m (3,)` along `azimuth_rad (a,)`; ground that is not known is passed
    over."""
    away = distances(reach_m)
    points = eye_m[:2] + away[None, :, None] * _ways(azimuth_rad)[:, None]
    z = ground_m(points)
    unknown = np.isnan(z)
    first = np.where(unknown.any(axis=1), away[unknown.argmax(axis=1)], np.inf)
    risen = np.where(unknown, -np.pi / 2.0, np.arctan2(z - eye_m[2], away))
    return Profile(away, np.maximum.accumulate(risen, axis=1), first)


def column_spans(columns: Columns, eye_m: Array, azimuth_rad: Array) -> Spans:
    """Upright columns; one the eye stands inside of is left out."""

    def through(which: Index, way: Array) -> tuple[Array, Array]:
        start = eye_m[:2] - columns.xy_m[which]
        return through_disc(start, way, columns.radius_m[which])

    way = columns.xy_m - eye_m[:2]
    pairs = _pairs(way[:, None], columns.radius_m, azimuth_rad)
    return _spans(through, pairs, columns.bottom_m, columns.top_m, eye_m, azimuth_rad)


def prism_spans(prisms: Prisms, eye_m: Array, azimuth_rad: Array) -> Spans:
    """Prisms over rounded triangles."""

    def through(which: Index, way: Array) -> tuple[Array, Array]:
        corners = prisms.corners_m[which] - eye_m[:2]
        radius = prisms.radius_m[which]
        near, far = _through_convex(corners, way)
        if (radius > 0.0).any():
            for part_near, part_far in _rounded(corners, way, radius):
                met = part_near <= part_far
                near = np.where(met, np.minimum(near, part_near), near)
                far = np.where(met, np.maximum(far, part_far), far)
        return near, far

    pairs = _pairs(prisms.corners_m - eye_m[:2], prisms.radius_m, azimuth_rad)
    return _spans(through, pairs, prisms.bottom_m, prisms.top_m, eye_m, azimuth_rad)


def painted(ground: Profile, spans: Spans, elevation_rad: Array) -> Seen:
    """What is nearest at each of `elevation_rad (e,)` (falling) on each azimuth."""
    count = len(ground.highest_rad)
    away = np.full((len(elevation_rad), count), np.inf)
    for a, highest in enumerate(ground.highest_rad):
        k = np.searchsorted(highest, elevation_rad)
        met = k < len(highest)
        away[met, a] = ground.distance_m[k[met]]
    which = np.where(np.isfinite(away), GROUND, SKY).astype(np.intp)
    first = np.searchsorted(-elevation_rad, -spans.high_rad)
    last = np.searchsorted(-elevation_rad, -spans.low_rad, side="right")
    many = np.maximum(last - first, 0)
    best, item = away.ravel(), which.ravel()
    for part in blocks(many):
        each = many[part]
        row = np.arange(int(each.sum())) - np.repeat(np.cumsum(each) - each - first[part], each)
        pixel = row * count + np.repeat(spans.at[part], each)
        near = np.repeat(spans.near_m[part], each)
        np.minimum.at(best, pixel, near)
        won = np.flatnonzero(near == best[pixel])  # of equally near ones the last stays
        item[pixel[won]] = np.repeat(spans.which[part], each)[won]
    return Seen(which, away)


def _ways(azimuth_rad: Array) -> Array:
    return np.stack([np.sin(azimuth_rad), np.cos(azimuth_rad)], axis=-1)


def _pairs(corners_m: Array, radius_m: Array, azimuth_rad: Array) -> tuple[Index, Index]:
    """Which solids, of corners `(m, k, 2)` about the eye, may stand on which azimuths."""
    away = np.hypot(corners_m[..., 0], corners_m[..., 1]).min(axis=1)
    bearing = np.arctan2(corners_m[..., 0], corners_m[..., 1])
    off = bearing - bearing[:, :1]
    off = np.mod(off + np.pi, 2.0 * np.pi) - np.pi
    wide = np.arcsin(np.minimum(radius_m / np.maximum(away, 1e-9), 1.0)) + 1e-9
    low, high = off.min(axis=1) - wide, off.max(axis=1) + wide
    # about the eye itself, or all around it: no azimuth can be left out
    around = (high - low >= np.pi) | (away <= radius_m)
    to = np.mod(azimuth_rad[None] - bearing[:, :1] + np.pi, 2.0 * np.pi) - np.pi
    which, at = np.nonzero(around[:, None] | ((to >= low[:, None]) & (to <= high[:, None])))
    return which, at


def _spans(
    through: Callable[[Index, Array], tuple[Array, Array]],
    pairs: tuple[Index, Index],
    bottom_m: Array,
    top_m: Array,
    eye_m: Array,
    azimuth_rad: Array,
) -> Spans:
    """Of the pairs those that do stand ahead of the eye."""
    which, at = pairs
    near, far = through(which, _ways(azimuth_rad)[at])
    met = (near <= far) & (near > 0.0)
    which, at, near, far = which[met], at[met], near[met], far[met]
    over, under = top_m[which] - eye_m[2], bottom_m[which] - eye_m[2]
    high = np.arctan2(over, np.where(over > 0.0, near, far))
    low = np.arctan2(under, np.where(under < 0.0, near, far))
    return Spans(which, at, near, low, high)


def _through_convex(corners_m: Array, way: Array) -> tuple[Array, Array]:
    """From where to where along `way (m, 2)` from the origin one is inside convex `corners_m (m, k,
    2)`; the first greater: never. An area of nothing is never met."""
    turns = _cross(corners_m[:, 1] - corners_m[:, 0], corners_m[:, 2] - corners_m[:, 0])
    near, far = np.full(len(way), -np.inf), np.full(len(way), np.inf)
    for k in range(corners_m.shape[1]):
        corner = corners_m[:, k]
        side = np.sign(turns)[:, None] * (corners_m[:, (k + 1) % corners_m.shape[1]] - corner)
        # inside where side x (t * way - corner) >= 0
        slope, offset = _cross(side, way), _cross(side, corner)
        still = np.abs(slope) < 1e-12
        at = offset / np.where(still, 1.0, slope)
        near = np.where(~still & (slope > 0.0), np.maximum(near, at), near)
        far = np.where(~still & (slope < 0.0), np.minimum(far, at), far)
        near = np.where(still & (offset > 0.0), np.inf, near)
    return np.where(np.abs(turns) < 1e-9, np.inf, near), far


def _rounded(corners_m: Array, way: Array, radius_m: Array) -> Iterator[tuple[Array, Array]]:
    """Discs about the corners and bands along the sides of triangles."""
    for k in range(3):
        one, other = corners_m[:, k], corners_m[:, (k + 1) % 3]
        yield through_disc(-one, way, radius_m)
        along = other - one
        length = np.hypot(along[:, 0], along[:, 1])
        out = np.stack([along[:, 1], -along[:, 0]], axis=-1)
        out *= (radius_m / np.where(length > 0.0, length, 1.0))[:, None]
        yield _through_convex(
            np.stack([one + out, one - out, other - out, other + out], axis=1), way
        )


def _cross(one: Array, other: Array) -> Array:
    return np.asarray(one[..., 0] * other[..., 1] - one[..., 1] * other[..., 0])
