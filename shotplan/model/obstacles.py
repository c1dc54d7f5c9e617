"""What stands on a site, as drawn and as grown by its errors."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import Literal, NamedTuple

import numpy as np
from numpy.typing import NDArray

from shotplan.kernels.solids import columns as upright
from shotplan.kernels.solids import footprints
from shotplan.kernels.solids import prisms as walls
from shotplan.kernels.solids.segments import least_along
from shotplan.model.arrays import Array, Bools

Role = Literal["tree", "wood", "building", "pole", "wire"]
LEAVES_WITHIN_M = (4.0, 6.0, 8.0, 10.0)
REACH_M = 200.0  # farther than this nothing is looked for (DEFINITIONS "Distance")


class NearThing(NamedTuple):
    """`distance_m (n,)` +inf: nothing within reach; `thing (n,)` index into things, or -1."""

    distance_m: Array
    thing: NDArray[np.intp]


@dataclass(frozen=True, kw_only=True)
class Thing:
    """One obstacle as a person knows it. `where (k, 2)`: its point, its line or its outer ring."""

    id: str
    name: str
    role: Role
    where_m: Array
    height_m: float
    base_m: float = 0.0
    radius_m: float = 0.0
    trunk_radius_m: float = 0.0
    error_m: float = 0.0  # as grown in plan: hypot of its own and the ride's
    height_error_m: float = 0.0
    paced: bool = False  # described from the ride
    seen_on: str = ""
    holes: tuple[Array, ...] = ()

    @property
    def label(self) -> str:
        """What to call it: its name, else its id."""
        return self.name or self.id


@dataclass(frozen=True, kw_only=True)
class Bodies:
    """Obstacles as solids, each piece with the index of the thing it belongs to.

    `doubtful` are footprints of things whose height is not known; their radius holds how near in
    plan one may come before the distance itself is unknown.
    """

    columns: upright.Columns
    column_thing: NDArray[np.intp]
    prisms: walls.Prisms
    prism_thing: NDArray[np.intp]
    doubtful: walls.Prisms
    doubtful_thing: NDArray[np.intp]

    @cached_property
    def _column_index(self) -> upright.ColumnIndex:
        return upright.index(self.columns)

    @cached_property
    def _prism_index(self) -> walls.PrismIndex:
        return walls.index(self.prisms)

    @cached_property
    def _doubtful_index(self) -> walls.PrismIndex:
        return walls.index(self.doubtful)

    def nearest(self, xyz_m: Array, enough_m: float = REACH_M) -> NearThing:
        """Nearest thing to each of `xyz_m (n, 3)`; exact below `enough_m`."""
        col = upright.nearest(self._column_index, xyz_m, enough_m)
        pri = walls.nearest(self._prism_index, xyz_m, enough_m)
        col_thing = _owner(self.column_thing, col.which)
        pri_thing = _owner(self.prism_thing, pri.which)
        nearer = pri.distance_m < col.distance_m
        return NearThing(
            np.where(nearer, pri.distance_m, col.distance_m),
            np.where(nearer, pri_thing, col_thing),
        )

    def doubt_m(self, xyz_m: Array, enough_m: float = REACH_M) -> Array:
        """Level distance of `xyz_m (n, 3)` to the nearest footprint whose height is not known
        (+inf none)."""
        return self.nearest_doubt(xyz_m, enough_m).distance_m

    def nearest_doubt(self, xyz_m: Array, enough_m: float = REACH_M) -> NearThing:
        """The same with whose footprint it is."""
        if not len(self.doubtful_thing):
            none = np.full(len(xyz_m), -1, dtype=np.intp)
            return NearThing(np.full(len(xyz_m), np.inf), none)
        flat = np.array(xyz_m, dtype=float)
        flat[:, 2] = 0.0
        found = walls.nearest(self._doubtful_index, flat, enough_m)
        return NearThing(found.distance_m, _owner(self.doubtful_thing, found.which))

    def alone(self, k: int) -> Bodies:
        """One thing, what is known of it."""
        posts, walls_ = (
            np.flatnonzero(self.column_thing == k),
            np.flatnonzero(self.prism_thing == k),
        )
        return replace(
            NO_BODIES,
            columns=upright.Columns(*(part[posts] for part in self.columns)),
            column_thing=self.column_thing[posts],
            prisms=walls.Prisms(*(part[walls_] for part in self.prisms)),
            prism_thing=self.prism_thing[walls_],
        )

    def less_doubt(self, less_m: float) -> Bodies:
        """With footprints of unknown height that reach `less_m` less far."""
        radius = np.maximum(self.doubtful.radius_m - less_m, 0.0)
        return replace(self, doubtful=self.doubtful._replace(radius_m=radius))

    def least_along(
        self, start_m: Array, end_m: Array, enough_m: Array | float = np.inf
    ) -> tuple[Array, Array]:
        """Least distance `(n,)` on segments `(n, 3)` and its share of the way; exact below
        `enough_m` (of all or each)."""
        reach = _reach_m(start_m, end_m, enough_m)
        return least_along(
            lambda p: _within(self.nearest(p, reach).distance_m, reach),
            start_m,
            end_m,
            enough_m=enough_m,
        )

    def least_doubt_along(
        self, start_m: Array, end_m: Array, enough_m: Array | float = np.inf
    ) -> tuple[Array, Array]:
        """The same for the level distance to footprints whose height is not known."""
        reach = _reach_m(start_m, end_m, enough_m)
        return least_along(
            lambda p: _within(self.doubt_m(p, reach), reach), start_m, end_m, enough_m=enough_m
        )

    def first_cut(self, start_m: Array, end_m: Array) -> tuple[Array, NDArray[np.intp]]:
        """Fraction `(n,)` of rays first cut (+inf never) and by which thing (-1 none)."""
        c_at, c_which = upright.first_cut(self.columns, start_m, end_m)
        p_at, p_which = walls.first_cut(self.prisms, start_m, end_m)
        nearer = p_at < c_at
        thing = np.where(
            nearer, _owner(self.prism_thing, p_which), _owner(self.column_thing, c_which)
        )
        return np.minimum(c_at, p_at), thing


def _reach_m(start_m: Array, end_m: Array, enough_m: Array | float) -> float:
    """How far to look from any place on segments so that nothing nearer than enough is missed."""
    if np.isinf(enough_m).any() or not len(start_m):
        return REACH_M
    way = end_m - start_m
    wanted = np.asarray(enough_m) + np.sqrt((way * way).sum(axis=1))
    return float(np.fmin(np.fmax.reduce(wanted), REACH_M))


def _within(distance_m: Array, reach_m: float) -> Array:
    """Where nothing was found within a shortened reach, that reach: it is at least as far."""
    return distance_m if reach_m >= REACH_M else np.minimum(distance_m, reach_m)


def _owner(thing: NDArray[np.intp], which: NDArray[np.intp]) -> NDArray[np.intp]:
    if not len(thing):
        return np.full(which.shape, -1, dtype=np.intp)
    return np.where(which >= 0, thing[np.maximum(which, 0)], -1)


NO_PRISMS = walls.Prisms(np.empty((0, 3, 2)), np.empty(0), np.empty(0), np.empty(0))
NO_BODIES = Bodies(
    columns=upright.Columns(np.empty((0, 2)), np.empty(0), np.empty(0), np.empty(0)),
    column_thing=np.empty(0, dtype=np.intp),
    prisms=NO_PRISMS,
    prism_thing=np.empty(0, dtype=np.intp),
    doubtful=NO_PRISMS,
    doubtful_thing=np.empty(0, dtype=np.intp),
)


@dataclass(frozen=True, kw_only=True)
class Obstacles:
    """All of them: `rest` is everything but wires; `opaque` what cuts a line of sight, as drawn;
    `beneath` the room below the crowns of woods that are open there, less what is cut open."""

    things: tuple[Thing, ...]
    rest_grown: Bodies
    rest_drawn: Bodies
    wires_grown: Bodies
    wires_drawn: Bodies
    opaque: Bodies
    beneath: Bodies = field(default_factory=lambda: NO_BODIES)
    assumptions: tuple[str, ...] = ()

    @property
    def wires(self) -> bool:
        """Whether there is any."""
        wires = self.wires_grown
        return bool(len(wires.prism_thing) or len(wires.doubtful_thing))

    @cached_property
    def extents_m(self) -> tuple[Array, Array, Array]:
        """Of each thing a point `(k, 2)`, how far from it in plan it reaches as grown `(k,)` and
        the elevation of its top `(k,)`: -inf where nothing of it is known (and for wires)."""
        middle = np.array([t.where_m[0] for t in self.things]).reshape(-1, 2)
        reach, top = np.full(len(middle), -np.inf), np.full(len(middle), -np.inf)
        posts, pieces = self.rest_grown.columns, self.rest_grown.prisms
        for owner, corners, solid in (
            (self.rest_grown.column_thing, posts.xy_m[:, None], posts),
            (self.rest_grown.prism_thing, pieces.corners_m, pieces),
        ):
            off = np.hypot(*(corners - middle[owner, None]).transpose(2, 0, 1)).max(axis=1)
            np.maximum.at(reach, owner, off + solid.radius_m)
            np.maximum.at(top, owner, solid.top_m)
        return middle, reach, top

    def top_m(self, thing: Thing) -> float:
        """Elevation of the highest point of a thing as grown; +inf where nothing of it is known."""
        k = next(k for k, other in enumerate(self.things) if other is thing)
        bodies = self.wires_grown if thing.role == "wire" else self.rest_grown
        columns = bodies.columns.top_m[bodies.column_thing == k]
        tops = np.concatenate([columns, bodies.prisms.top_m[bodies.prism_thing == k]])
        return float(tops.max()) if len(tops) else np.inf

    @cached_property
    def canopy(self) -> Bodies:
        """What takes the light away: crowns and whole woods (the cut along the ride too), each
        from its top down. A wood is as high all over as at its highest tree."""
        columns, prisms = self.opaque.columns, self.opaque.prisms
        trees = [i for i, k in enumerate(self.opaque.column_thing) if self.things[k].role == "tree"]
        pieces: list[Array] = []
        tops: list[float] = []
        owners: list[int] = []
        for k, thing in enumerate(self.things):
            mine = self.opaque.prism_thing == k
            if thing.role == "wood" and mine.any():
                corners = footprints.triangles((thing.where_m, *thing.holes))
                pieces += list(corners)
                tops += [float(prisms.top_m[mine].max())] * len(corners)
                owners += [k] * len(corners)
        count = len(pieces)
        return Bodies(
            columns=upright.Columns(
                columns.xy_m[trees],
                columns.radius_m[trees],
                np.full(len(trees), -np.inf),
                columns.top_m[trees],
            ),
            column_thing=self.opaque.column_thing[trees],
            prisms=walls.Prisms(
                np.array(pieces, dtype=float).reshape(count, 3, 2),
                np.zeros(count),
                np.full(count, -np.inf),
                np.array(tops, dtype=float),
            ),
            prism_thing=np.array(owners, dtype=np.intp),
            doubtful=NO_PRISMS,
            doubtful_thing=np.empty(0, dtype=np.intp),
        )

    def under_trees(self, xyz_m: Array) -> Bools:
        """Where `xyz_m (..., 3)` is under or inside a crown or a wood, in plan and below its
        top."""
        points = np.array(xyz_m, dtype=float).reshape(-1, 3)
        known = np.isfinite(points).all(axis=1)
        points[~known] = 0.0
        under = (self.canopy.nearest(points, 0.1).distance_m == 0.0) & known
        return np.asarray(under.reshape(np.shape(xyz_m)[:-1]))

    def leaves_over(self, xyz_m: Array) -> Bools:
        """Where leaves close at least half of the sky over `xyz_m (n, 3)`: they stand within 10 m
        in at least four of eight directions. A coarse measure of ours, for satellite receivers."""
        over = self.under_trees(xyz_m)
        azimuth = np.arange(8) * np.pi / 4.0
        ways = np.stack([np.sin(azimuth), np.cos(azimuth), np.zeros(8)], axis=-1)
        closed = np.zeros((8, len(xyz_m)), dtype=bool)
        for reach in LEAVES_WITHIN_M:
            closed |= self.under_trees(xyz_m + reach * ways[:, None])
        return np.asarray(over | (closed.sum(axis=0) >= len(ways) // 2))
