"""The ground of a site: terrain posts and water, in the frame."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property

import numpy as np

from shotplan.kernels.ground import closest, slopes
from shotplan.kernels.ground import grid as posts
from shotplan.kernels.solids import footprints, prisms
from shotplan.kernels.solids.segments import least_along
from shotplan.model.arrays import Array, Bools

SURE_M = 2.0  # more of its error than that leaves unknown, never broken
COARSE_M = 10.0  # own setting: a lip a few metres high is lost between posts farther apart


@dataclass(frozen=True, kw_only=True)
class Water:
    """A sheet of water: outline in frame metres, level as elevation (-inf: lies on the terrain);
    `error_m`: how much farther it may reach."""

    id: str
    outline: footprints.Outline
    level_m: float
    error_m: float = 0.0

    @cached_property
    def reach(self) -> tuple[footprints.Outline, ...]:
        """Where it may be: the outline grown by its error."""
        if self.error_m == 0.0:
            return (self.outline,)
        return footprints.grown(self.outline, self.error_m)

    def over(self, xy_m: Array) -> Bools:
        """Where `xy_m (..., 2)` may lie over it."""
        return footprints.within(self.outline, xy_m, self.error_m)

    @property
    def level_text(self) -> str:
        """Its level as people read it."""
        return f"{self.level_m:.1f} m" if np.isfinite(self.level_m) else "the ground's own"


@dataclass(frozen=True, kw_only=True)
class Terrain:
    """Ground elevation: NaN is unknown. `error_m` is how far its posts may be off (0 on flat).
    `beyond` is coarser ground for what looks and blows from farther away than it reaches."""

    grid: posts.Grid
    source: str
    cell_m: float
    error_m: float = 1.0
    water: tuple[Water, ...] = ()
    assumptions: tuple[str, ...] = field(default=())
    beyond: Terrain | None = None

    @property
    def shows(self) -> str:
        """What is to be said of posts so far apart that they cannot show a lip ("" nothing)."""
        if not (np.isfinite(self.cell_m) and self.cell_m > COARSE_M):
            return ""
        return (
            f"{self.source} has one post every {self.cell_m:.0f} m: it cannot show a lip, a wall "
            "or a gully, and between posts the ground may stand many metres higher than it says. "
            "Near it and near slopes whether it keeps clear of the ground is unknown; give a "
            "raster with posts 5 m apart or less"
        )

    @property
    def low_and_high_m(self) -> tuple[float, float] | None:
        """The lowest and highest elevation of the ground; None where some of it is missing."""
        low, high = float(self.grid.z_m.min()), float(self.grid.z_m.max())
        return (low, high) if np.isfinite(low) else None

    @cached_property
    def most_error_m(self) -> float:
        """The greatest `error_at_m` anywhere."""
        if not np.isfinite(self.cell_m):
            return self.error_m
        rise = self._slopes.steepest[0]
        most = np.array(np.max(rise, initial=0.0, where=np.isfinite(rise)))
        return float(self._with_slope_m(most))

    def error_at_m(self, xyz_m: Array) -> Array:
        """How far the surface may be off where it is nearest to `xyz_m (n, 3)`: its posts, and what
        the steepest slope within a cell of there falls over half a cell."""
        if not np.isfinite(self.cell_m):
            return np.full(len(xyz_m), self.error_m)
        foot = closest.feet_m(self.grid, xyz_m)
        if self._levelled:
            over = self.ground_m(xyz_m[:, :2]) > posts.sample(self.grid, xyz_m[:, :2])
            foot = np.where(over[:, None], xyz_m[:, :2], foot)
        steep = slopes.steepest_within(self.grid, foot, self.cell_m)
        return self._with_slope_m(np.where(np.isnan(steep), 0.0, steep))

    def most_error_near_m(self, xyz_m: Array, away_m: Array) -> Array:
        """A quick bound above that, where the surface is `away_m (n,)` from `xyz_m (n, 3)`."""
        if not np.isfinite(self.cell_m):
            return np.full(len(xyz_m), self.error_m)
        rise = slopes.steepest_near(self._slopes, xyz_m, np.abs(away_m) + self.cell_m)
        return np.minimum(self._with_slope_m(rise), self.most_error_m)

    def _with_slope_m(self, rise: Array) -> Array:
        return np.hypot(self.error_m, 0.5 * self.cell_m * np.sin(np.arctan(rise)))

    @cached_property
    def _levelled(self) -> tuple[Water, ...]:
        """Water with a level of its own."""
        return tuple(w for w in self.water if np.isfinite(w.level_m))

    @cached_property
    def _sheets(self) -> prisms.Prisms:
        pieces = [
            (t, w.level_m)
            for w in self._levelled
            for outline in w.reach
            for t in footprints.triangles(outline)
        ]
        count = len(pieces)
        level = np.array([p[1] for p in pieces], dtype=float).reshape(count)
        corners = np.array([p[0] for p in pieces], dtype=float).reshape(count, 3, 2)
        return prisms.Prisms(corners, np.zeros(count), np.full(count, -np.inf), level)

    @cached_property
    def _sheet_index(self) -> prisms.PrismIndex:
        return prisms.index(self._sheets)

    def ground_m(self, xy_m: Array) -> Array:
        """Elevation of ground or water under `xy_m (..., 2)`; NaN unknown."""
        z = posts.sample(self.grid, xy_m)
        for w in self._levelled:
            under = z < w.level_m
            z[under] = np.where(w.over(xy_m[under]), w.level_m, z[under])
        return z

    def wide_ground_m(self, xy_m: Array) -> Array:
        """The same; where it ends, of the coarser ground beyond. Never to fly over."""
        z = self.ground_m(xy_m)
        if self.beyond is None:
            return z
        blank = np.isnan(z)
        z[blank] = self.beyond.ground_m(xy_m[blank])
        return z

    def standing_m(self, foot_m: Array) -> Array:
        """A place `(3,)` with its elevation, where that is missing of the ground beyond."""
        if self.beyond is None or not np.isnan(foot_m[2]):
            return foot_m
        return np.append(foot_m[:2], self.beyond.ground_m(foot_m[None, :2]))

    def first_cut(self, start_m: Array, end_m: Array) -> posts.Cut:
        """Where straight rays `(n, 3)` are first cut or leave what is known; the part of a ray
        that leaves the terrain, to where it last comes back, is followed over the ground beyond."""
        cut = posts.first_cut(self.grid, start_m, end_m)
        if self.beyond is None:
            return cut
        leaves = np.flatnonzero(cut.unknown_at < np.minimum(cut.at, 1.0 + 1e-12))
        back = 1.0 - posts.first_cut(self.grid, end_m[leaves], start_m[leaves]).unknown_at
        at, way = cut.unknown_at[leaves], end_m[leaves] - start_m[leaves]
        low, high = (start_m[leaves] + t[:, None] * way for t in (at, np.maximum(back, at)))
        more = posts.first_cut(self.beyond.grid, low, high)
        found = [np.array(part) for part in cut]
        length = np.maximum(back - at, 0.0)
        with np.errstate(invalid="ignore"):
            shares = [np.where(np.isinf(part), np.inf, at + part * length) for part in more]
        found[0][leaves] = np.minimum(cut.at[leaves], shares[0])
        found[1][leaves] = shares[1]
        return posts.Cut(*found)

    def over_water(self, xy_m: Array) -> Bools:
        """Where `xy_m (..., 2)` lies over a sheet of water."""
        over = np.zeros(xy_m.shape[:-1], dtype=bool)
        for w in self.water:
            over |= w.over(xy_m)
        return over

    def nearest(self, xyz_m: Array, enough_m: float = np.inf) -> posts.Nearest:
        """Distance from `xyz_m (n, 3)` to the surface, negative below it; and to missing ground."""
        found = posts.nearest(self.grid, xyz_m, enough_m)
        return posts.Nearest(self._signed_m(found.distance_m, xyz_m, enough_m), found.missing_m)

    def distance_m(self, xyz_m: Array, enough_m: float = np.inf) -> Array:
        """The same distance alone, without asking what is missing; exact below `enough_m`, at
        least that elsewhere."""
        found = posts.nearest(self.grid, xyz_m, enough_m, missing_too=False)
        signed = self._signed_m(found.distance_m, xyz_m, enough_m)
        deep = np.flatnonzero(signed <= -enough_m)
        if len(deep):
            signed[deep] = self.distance_m(xyz_m[deep])
        return signed

    def least_along(
        self, start_m: Array, end_m: Array, enough_m: Array | float = np.inf
    ) -> tuple[Array, Array]:
        """The least of it on segments `(n, 3)` and its share of the way; exact (1 cm) below
        `enough_m` (of all or each)."""
        way = end_m - start_m
        wanted = np.asarray(enough_m) + np.sqrt((way * way).sum(axis=1))
        reach = float(np.fmax.reduce(wanted, initial=0.0))
        return least_along(lambda p: self.distance_m(p, reach), start_m, end_m, 0.01, enough_m)

    def at_least_along(self, start_m: Array, end_m: Array, enough_m: Array | float) -> Array:
        """A quick bound `(n,)` below that, no more than `enough_m`; -inf where it says nothing."""
        bound = slopes.at_least_m(self._slopes, start_m, end_m, enough_m)
        if self._levelled:
            way = 0.5 * (end_m - start_m)
            half = np.sqrt((way * way).sum(axis=1))
            reach = float(np.fmax.reduce(np.asarray(enough_m) + half, initial=0.0))
            sheet = prisms.nearest(self._sheet_index, start_m + way, min(reach, 1e4)).distance_m
            bound = np.minimum(bound, sheet - half)
        return bound

    def missing_m(self, xyz_m: Array, enough_m: Array) -> Array:
        """Level distance from finite `xyz_m (n, 3)` to missing ground; exact below `enough_m (n,)`,
        at least that elsewhere."""
        return closest.missing_m(self.grid, xyz_m, enough_m)

    @cached_property
    def _slopes(self) -> slopes.Slopes:
        return slopes.slopes(self.grid)

    def _signed_m(self, distance: Array, xyz_m: Array, enough_m: float) -> Array:
        """Water counted in, negative below the surface."""
        if self._levelled:
            sheet = prisms.nearest(self._sheet_index, xyz_m, min(enough_m, 1e4)).distance_m
            distance = np.minimum(distance, sheet)
        below = xyz_m[:, 2] < self.ground_m(xyz_m[:, :2])
        # Under water the sheet's prism holds the point, so its depth is measured from the level.
        if self._levelled and below.any():
            depth = self.ground_m(xyz_m[:, :2]) - xyz_m[:, 2]
            distance = np.where(below & (distance == 0.0), depth, distance)
        return np.where(below, -distance, distance)
