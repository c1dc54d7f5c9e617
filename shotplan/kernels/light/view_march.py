"""What a camera sees of the ground: for every pixel how far ahead its ray first meets it.

The ground is marched outward from the eye in a fan of azimuths, one to a pixel's width at the
horizon. Along each the elevation of what stands highest so far never falls, so that the first hit
of all rays of that azimuth is one search in a sorted row; it is then brought onto the surface
along the pixel's own ray. A pinhole without roll, as in `camera`; the earth is taken as flat.

Places in the picture are columns and rows with fractions from its upper left corner: the middle of
the first pixel is 0.5, 0.5.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from shotplan.kernels.ground.posts import BLOCK, Grid, frame_xy, sample
from shotplan.kernels.light import camera
from shotplan.kernels.rides.runs import last_good

Array = NDArray[np.float64]
Bools = NDArray[np.bool_]
Index = NDArray[np.intp]

FIRST_M = 0.25  # the first step outward
GROWTH = 0.012  # of later ones, as a share of the way: under a pixel where one looks along
TURN = 8.0  # apart from any elevation, so that rows of the fan stay sorted one after another
MENDS = 2  # steps along the pixel's own ray onto the surface


class View(NamedTuple):
    """A camera at `eye_m (3,)` that points along an azimuth and an elevation; its picture is
    `cols` by `rows` pixels at `focal_px`."""

    eye_m: Array
    azimuth_rad: float
    elevation_rad: float
    focal_px: float
    cols: int
    rows: int


class Ground(NamedTuple):
    """`ahead_m (rows, cols)` along the camera's axis, +inf where no known ground is met; `unknown`
    where ground that is not known would be met before (`ahead_m` is then where that begins)."""

    ahead_m: Array
    unknown: Bools


def axes(view: View) -> Array:
    """`(3, 3)` unit vectors to the right, up and ahead in the frame, one to a row."""
    sin_a, cos_a = np.sin(view.azimuth_rad), np.cos(view.azimuth_rad)
    sin_e, cos_e = np.sin(view.elevation_rad), np.cos(view.elevation_rad)
    return np.array([
        [cos_a, -sin_a, 0.0],
        [-sin_e * sin_a, -sin_e * cos_a, cos_e],
        [cos_e * sin_a, cos_e * cos_a, sin_e],
    ])  # fmt: skip


def along(axes: Array, xyz_m: Array) -> Array:
    """Points `(..., 3)` along the rows of `axes (3, 3)`, a coordinate at a time: as a product of
    matrices it would wait for threads."""
    x, y, z = (xyz_m[..., k] for k in range(3))
    return by_coordinate(*(a * x + b * y + c * z for a, b, c in axes))


def by_coordinate(*parts: Array) -> Array:
    """Coordinates `(...)` as points `(..., k)` that lie in memory one coordinate after another:
    most of what is done to a picture is done to one coordinate of all its pixels."""
    return np.moveaxis(np.stack(parts), 0, -1)


def rays(view: View) -> Array:
    """`(rows, cols, 3)`: the way in the frame from the eye through each pixel, per metre ahead."""
    right = (np.arange(view.cols) + 0.5 - view.cols / 2.0) / view.focal_px
    up = (view.rows / 2.0 - np.arange(view.rows) - 0.5) / view.focal_px
    ways = zip(*axes(view), strict=True)
    return by_coordinate(*(right * r + up[:, None] * u + ahead for r, u, ahead in ways))


def placed(view: View, xyz_m: Array) -> tuple[Array, Array, Array]:
    """Column, row and metres ahead `(...)` of points `(..., 3)`; the first two +inf behind."""
    azimuth, elevation = np.asarray(view.azimuth_rad), np.asarray(view.elevation_rad)
    at = camera.place(azimuth, elevation, xyz_m - view.eye_m)
    return (
        np.asarray(view.cols / 2.0 + view.focal_px * at.right),
        np.asarray(view.rows / 2.0 - view.focal_px * np.where(at.ahead > 0.0, at.up, -np.inf)),
        at.ahead,
    )


class _Fan(NamedTuple):
    """`azimuth_rad (a,)` evenly spaced; `reach_m (k,)` outward, rising; `z_m (a, k)` the ground,
    NaN not known, and where the unknown part begins in which it is, `gap_m`; `highest (a * k,)` the
    elevation of what stands highest so far, spokes `TURN` apart."""

    azimuth_rad: Array
    reach_m: Array
    z_m: Array
    gap_m: Array
    highest: Array


class _Rays(NamedTuple):
    """`x`, `y`, `rise (n,)` in the frame per metre ahead, `level` of the first two; the same as
    angles, `turn_rad` off the view's azimuth."""

    x: Array
    y: Array
    rise: Array
    level: Array
    turn_rad: Array
    elevation_rad: Array


def ground(grid: Grid, view: View, way: Array) -> Ground:
    """Where the rays `way (rows, cols, 3)` of a view (see `rays`) first meet the ground.

    A ray that comes out of a hole in the ground, or ends below the level beyond what is known, is
    unknown. Neglected: what is narrower than a step of the march, 1.2 % of the way there.
    """
    x, y, rise = (way[..., k].ravel() for k in range(3))
    level = np.hypot(x, y)
    turn = np.arctan2(x, y) - view.azimuth_rad
    turn = (turn + np.pi) % (2.0 * np.pi) - np.pi
    rays = _Rays(x, y, rise, level, turn, np.arctan2(rise, level))
    fan = _fan(grid, view, turn, float(rays.elevation_rad.max()))
    ahead, unknown = np.empty(x.size), np.empty(x.size, dtype=bool)
    for start in range(0, x.size, BLOCK):
        part = slice(start, start + BLOCK)
        ahead[part], unknown[part] = _met(grid, view, fan, _Rays(*(a[part] for a in rays)))
    shape = way.shape[:2]
    return Ground(ahead.reshape(shape), unknown.reshape(shape))


def _met(grid: Grid, view: View, fan: _Fan, rays: _Rays) -> tuple[Array, Bools]:
    """What `Ground` tells of some rays."""
    spoke, step, met = _first_over(fan, view, rays)
    z0, z1 = fan.z_m[spoke, step - 1], fan.z_m[spoke, step]
    r0, r1 = fan.reach_m[step - 1], fan.reach_m[step]
    hole = met & np.isnan(z0)
    slope = np.where(hole, 0.0, (z1 - z0) / (r1 - r0))
    ahead = _meeting(z0 - slope * r0 - view.eye_m[2], rays.rise, slope * rays.level)
    ahead = np.clip(ahead, *(r / np.maximum(rays.level, 1e-9) for r in (r0, r1)))
    straight = rays.level < 1e-9
    ahead[straight] = ((z0 - view.eye_m[2]) / rays.rise)[straight]
    solid = met & ~hole
    mine = _Rays(*(a[solid] for a in rays))
    ahead[solid] = _mended(grid, view, mine, ahead[solid], slope[solid], (r1 - r0)[solid])
    ahead[hole] = fan.gap_m[spoke, step - 1][hole] / np.maximum(rays.level[hole], 1e-9)
    ahead[~met] = np.inf
    return ahead, hole | (~met & (rays.rise < 0.0))


def _meeting(over_m: Array, rise: Array, fall: Array) -> Array:
    """Metres ahead where a ray that rises `rise` meets ground that is `over_m` above the eye there
    and rises `fall`; 0 where both run alike."""
    closing = rise - fall
    return np.where(closing == 0.0, 0.0, over_m / np.where(closing == 0.0, 1.0, closing))


def _fan(grid: Grid, view: View, turn: Array, highest_rad: float) -> _Fan:
    low, high = float(turn.min()), float(turn.max())
    count = int(np.ceil((high - low) * view.focal_px)) + 2
    azimuth = view.azimuth_rad + np.linspace(low, high, count)
    farthest = _farthest_m(grid, view.eye_m)
    if highest_rad < 0.0:  # by then the highest ray is below all ground
        drop = max(float(view.eye_m[2]) - float(grid.lowest[-1].min()), 0.0)
        farthest = min(farthest, drop / np.tan(-highest_rad) + FIRST_M)
    reach = _reaches(farthest)
    x = view.eye_m[0] + np.sin(azimuth)[:, None] * reach
    y = view.eye_m[1] + np.cos(azimuth)[:, None] * reach
    z = sample(grid, by_coordinate(x, y))
    gap = reach[np.maximum(last_good(~np.isnan(z)), 0)]
    up = np.arctan2(z - view.eye_m[2], reach)
    highest = np.maximum.accumulate(np.where(np.isnan(up), -2.0, up), axis=1)
    highest += TURN * np.arange(count)[:, None]
    return _Fan(azimuth, reach, z, gap, highest.ravel())


def _reaches(farthest_m: float) -> Array:
    """0, even steps, then ever longer ones."""
    even = np.arange(0.0, FIRST_M / GROWTH, FIRST_M)
    if farthest_m <= even[-1]:
        return np.arange(0.0, farthest_m + 2.0 * FIRST_M, FIRST_M)
    count = int(np.ceil(np.log(farthest_m / even[-1]) / np.log1p(GROWTH))) + 1
    return np.concatenate([even, even[-1] * (1.0 + GROWTH) ** np.arange(1, count + 1)])


def _farthest_m(grid: Grid, eye_m: Array) -> float:
    rows, cols = (np.array([0.0, 0.0, n - 1.0, n - 1.0]) for n in grid.z_m.shape)
    x, y = frame_xy(grid, rows, np.roll(cols, 1))
    return float(np.hypot(x - eye_m[0], y - eye_m[1]).max())


def _first_over(fan: _Fan, view: View, rays: _Rays) -> tuple[Index, Index, Bools]:
    """Of each ray its spoke, the first step at which the ground there stands as high (at least 1),
    and whether there is any."""
    spacing = fan.azimuth_rad[1] - fan.azimuth_rad[0]
    first = fan.azimuth_rad[0] - view.azimuth_rad
    spoke = np.rint((rays.turn_rad - first) / spacing).astype(np.intp)
    spoke = np.clip(spoke, 0, len(fan.azimuth_rad) - 1)
    found = np.searchsorted(fan.highest, rays.elevation_rad + TURN * spoke)
    step = found - spoke * fan.reach_m.size
    return spoke, np.clip(step, 1, fan.reach_m.size - 1), np.asarray(step < fan.reach_m.size)


def _mended(
    grid: Grid, view: View, rays: _Rays, ahead: Array, slope: Array, step_m: Array
) -> Array:
    """Metres ahead brought onto the surface along the pixel's own ray; never farther than a step
    off, and only where it comes nearer."""
    closing = rays.rise - slope * rays.level
    safe = np.where(np.abs(closing) > 1e-6, closing, -1e-6)
    most = step_m / np.maximum(rays.level, 1e-3)
    low, high = np.maximum(ahead - most, 0.0), np.maximum(ahead + most, 0.0)
    best, off = ahead, np.full(len(ahead), np.inf)
    trial = ahead
    for again in reversed(range(MENDS + 1)):
        x, y, z = (eye + trial * way for eye, way in zip(view.eye_m, rays[:3], strict=True))
        gap = z - sample(grid, by_coordinate(x, y))
        nearer = np.abs(gap) < off
        best, off = np.where(nearer, trial, best), np.where(nearer, np.abs(gap), off)
        if again:
            trial = np.clip(np.where(nearer, trial - gap / safe, trial), low, high)
    return best


def sheet(view: View, way: Array, rings: tuple[Array, ...], level_m: float) -> Array:
    """`ahead_m (rows, cols)` where rays meet a level sheet inside rings `(k, 2)` (the first is the
    outer one, the others holes); +inf where not."""
    rise = way[..., 2]
    ahead = np.full(rise.shape, np.inf)
    down = (level_m - view.eye_m[2]) * rise > 0.0
    ahead[down] = (level_m - view.eye_m[2]) / rise[down]
    at = view.eye_m[:2] + ahead[down][:, None] * way[down][:, :2]
    ahead[down] = np.where(inside(rings, at), ahead[down], np.inf)
    return ahead


def inside(rings: tuple[Array, ...], xy_m: Array) -> Bools:
    """Whether points `(n, 2)` lie inside an odd number of rings `(k, 2)`."""
    x, y = xy_m[:, 0], xy_m[:, 1]
    odd = np.zeros(len(xy_m), dtype=bool)
    for ring in rings:
        for (ax, ay), (bx, by) in zip(ring, np.roll(ring, -1, axis=0), strict=True):
            if ay == by:
                continue
            crosses = (ay > y) != (by > y)
            odd ^= crosses & (x < ax + (y - ay) * ((bx - ax) / (by - ay)))
    return odd
