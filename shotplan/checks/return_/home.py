"""The way home when it is left alone: straight legs, how near they come to things and ground."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from shotplan.kernels.solids.segments import least_along
from shotplan.model.arrays import Array, Bools
from shotplan.model.obstacles import REACH_M, Bodies
from shotplan.model.rules import HeightRule
from shotplan.model.site import Kind, Site
from shotplan.model.terrain import Terrain

GROUND = -1  # in `thing`: the ground decides
NOTHING = -2  # in `thing`: nothing within reach
STEP_M = 5.0  # how far apart a leg is asked whether somebody looked there and knows the ground
HIGHEST_M = 200.0  # no return height above this is tried
FEW = 6  # the least height is first looked for from every so manyth sample
PRECISE_M = 0.005  # how precisely the least one is found
OBSTACLES: tuple[Kind, ...] = ("trees", "buildings", "wires")


class Legs(NamedTuple):
    """How near straight legs come to anything, each `(m,)`. `distance_m` to what decides (+inf
    nothing), `limit_m` what is kept from it, `thing` its index, `GROUND` or `NOTHING`; `unknown`:
    sound as far as known, but not all is."""

    distance_m: Array
    limit_m: Array
    thing: NDArray[np.intp]
    unknown: Bools

    def of(self, which: NDArray[np.intp]) -> Legs:
        """Some of them, as often as asked."""
        return Legs(
            self.distance_m[which], self.limit_m[which], self.thing[which], self.unknown[which]
        )

    @property
    def spare_m(self) -> Array:
        """Distance less limit, whatever is not known."""
        return self.distance_m - self.limit_m

    @property
    def margin_m(self) -> Array:
        """The same, NaN where that is sound but something is not known."""
        return np.where((self.spare_m >= 0.0) & self.unknown, np.nan, self.spare_m)


def legs(
    site: Site,
    start_m: Array,
    end_m: Array,
    limit_m: float,
    ground_limit_m: float | None,
    unknown: bool = True,
) -> Legs:
    """Straight legs `(m, 3)` -> `(m, 3)` against everything grown, and against the ground where a
    `ground_limit_m` is given (to which the height of low things nobody drew is added). With
    `unknown` False nobody asks what is not known."""
    obstacles = site.obstacles
    bodies = (obstacles.rest_grown, obstacles.wires_grown)
    found = [_least(partial(_near_m, b), start_m, end_m, 0.001) for b in bodies]
    distance, at = found[0]
    wire_nearer = found[1][0] < distance
    distance, at = np.where(wire_nearer, found[1], found[0])
    places = start_m + at[:, None] * (end_m - start_m)
    owner = np.where(wire_nearer, *(b.nearest(places).thing for b in reversed(bodies)))
    thing = np.where(np.isinf(distance), NOTHING, owner)
    limit = np.full(len(start_m), limit_m)
    points = _points(start_m, end_m)
    if ground_limit_m is not None:
        terrain = site.terrain
        ground_limit = ground_limit_m + site.least_height_m(points[..., :2]).max(axis=1)
        ground, _ = _least(terrain.distance_m, start_m, end_m, 0.01)
        nearer = ground - ground_limit < distance - limit
        distance, limit = np.where(nearer, ground, distance), np.where(nearer, ground_limit, limit)
        thing = np.where(nearer, GROUND, thing)
    doubt = np.zeros(len(start_m), dtype=bool)
    if unknown:
        doubt = _in_doubt(site, start_m, end_m, points, limit_m, ground_limit_m is not None)
    return Legs(distance, limit, thing.astype(np.intp), doubt)


def _near_m(bodies: Bodies, xyz_m: Array) -> Array:
    return bodies.nearest(xyz_m).distance_m


def _least(
    distance: Callable[[Array], Array], start_m: Array, end_m: Array, tolerance_m: float
) -> tuple[Array, Array]:
    """`least_along`, long legs in parts: what is out of reach at the ends and in the middle of one
    must be far from all of it."""
    longest = float(np.linalg.norm(end_m - start_m, axis=1).max(initial=0.0))
    parts = max(int(np.ceil(longest / (2.0 * REACH_M))), 1)
    least, share = np.full(len(start_m), np.inf), np.zeros(len(start_m))
    for part in range(parts):
        low, high = (start_m + (part + k) / parts * (end_m - start_m) for k in (0, 1))
        value, at = least_along(distance, low, high, tolerance_m)
        better = value < least
        least, share = np.where(better, value, least), np.where(better, (part + at) / parts, share)
    return least, share


def _points(start_m: Array, end_m: Array) -> Array:
    """`(m, k, 3)` points of legs, at most `STEP_M` apart."""
    longest = float(np.linalg.norm(end_m - start_m, axis=1).max(initial=0.0))
    share = np.linspace(0.0, 1.0, int(np.ceil(longest / STEP_M)) + 2)
    return np.asarray(start_m[:, None] + share[:, None] * (end_m - start_m)[:, None])


def _in_doubt(
    site: Site, start_m: Array, end_m: Array, points: Array, limit_m: float, over_ground: bool
) -> Bools:
    """Legs where nobody looked, near something whose height is not known, or over missing
    ground that may be nearer than the ground that is known."""
    doubt = np.asarray(~site.looked(points[..., :2], OBSTACLES).all(axis=1))
    for bodies in (site.obstacles.rest_grown, site.obstacles.wires_grown):
        if len(bodies.doubtful_thing):
            near, _ = _least(bodies.doubt_m, start_m, end_m, 0.01)
            doubt |= near < limit_m
    if over_ground:
        ground = site.terrain.nearest(points.reshape(-1, 3))
        missing = (ground.missing_m < ground.distance_m) | np.isinf(ground.distance_m)
        doubt = doubt | missing.reshape(points.shape[:2]).any(axis=1)
    return doubt


class Least(NamedTuple):
    """The least return height that clears all, what decides it (index, `GROUND`, `NOTHING`) and
    from which sample."""

    height_m: float
    thing: int
    sample: int


def level_legs(launch_m: Array, xyz_m: Array, height_m: float) -> tuple[Array, Array]:
    """From over each of `xyz_m (n, 3)` to over the launch, level at the return height, or at its
    own height where that is higher."""
    level = np.maximum(xyz_m[:, 2], launch_m[2] + height_m)
    over = np.broadcast_to(launch_m, xyz_m.shape)
    return np.column_stack([xyz_m[:, :2], level]), np.column_stack([over[:, :2], level])


def least_height(
    site: Site, launch_m: Array, xyz_m: Array, limit_m: float, ground_limit_m: float
) -> Least | None:
    """The least return height at which every level flight home is clear, that from over the launch
    included, to 0.01 m and on the safe side; None where none up to `HIGHEST_M` is. What is not
    known is not asked. `sample` is one past the last where the launch itself decides."""
    xyz_m = np.concatenate([xyz_m, launch_m[None]])
    everyone = np.arange(len(xyz_m))

    def tried(height_m: float, which: NDArray[np.intp]) -> tuple[float, NDArray[np.intp], Least]:
        """The least to spare at a height, those that are not clear, and what decides."""
        start, end = level_legs(launch_m, xyz_m[which], height_m)
        found = legs(site, start, end, limit_m, ground_limit_m, False)
        k = int(np.argmin(found.spare_m))
        decides = Least(height_m, int(found.thing[k]), int(which[k]))
        return float(found.spare_m[k]), which[found.spare_m < 0.0], decides

    low, below, decides = 0.0, -limit_m, Least(0.0, NOTHING, len(xyz_m) - 1)
    open_ = np.unique(np.append(everyone[::FEW], everyone[-1]))  # the rest is asked at the end
    while len(open_):
        high = low + 1.0 if low else 10.0
        while (above := (still := tried(high, open_))[0]) < 0.0:
            if high >= HIGHEST_M:
                return None
            low, high = high, min(2.0 * high, HIGHEST_M)
            below, open_, decides = still
        # Over a top the room grows with the height: false position from either side in turn.
        nudge = 0.4 * PRECISE_M
        while high - low > PRECISE_M:
            share = min(max(below / (below - above), 0.05), 0.95)
            middle = min(max(low + share * (high - low) + nudge, low + 1e-3), high - 1e-3)
            spare, failing, worst = tried(middle, open_)
            if spare < 0.0:
                low, below, open_, decides, nudge = middle, spare, failing, worst, abs(nudge)
            else:
                high, above, nudge = middle, spare, -abs(nudge)
        low = high
        below, open_, _ = tried(low, everyone)
    return decides._replace(height_m=float(np.ceil(low * 100.0) / 100.0))


def over_ceiling_m(
    terrain: Terrain, rule: HeightRule, launch_m: Array, xyz_m: Array, height_m: float
) -> float:
    """How far above the pack's ceiling the way home leads at most (0 or less: it does not), by
    the pack's own measure; over unknown ground not counted."""
    start, end = level_legs(launch_m, xyz_m, height_m)
    share = np.linspace(0.0, 1.0, 50)[:, None]
    points = (start[:, None] + share * (end - start)[:, None]).reshape(-1, 3)
    over = points[:, 2] - terrain.ground_m(points[:, :2]) - rule.limit_m
    over = np.where(np.isnan(over), -np.inf, over)
    if rule.measured == "nearest-surface" and (over > 0.0).any():
        high = np.flatnonzero(over > 0.0)
        high = high[np.argsort(-over[high])][:500]
        over = terrain.distance_m(points[high]) - rule.limit_m
        over = np.where(np.isinf(over), -np.inf, over)
    return float(over.max())
