"""Where places to stand are sought: the outing as flown, points over it, ways on foot to them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from shotplan.kernels.ground import walking
from shotplan.kernels.solids import footprints
from shotplan.model.arrays import Array, Bools
from shotplan.model.site import Place
from shotplan.outing import Outing
from shotplan.scene import falls
from shotplan.scene.scene import Scene

MOST_POINTS, LEAST_STEP_M = 1000, 4.0
AROUND_M = 150.0  # of the flight and the ride, where no boundary is drawn
MOST_AROUND_M = 400.0  # of them, however far the boundary is
WALK_DEG = 35.0  # steeper nobody walks
WALK_STEP_M = 5.0
MOST_NODES = 40_000  # of the ground walked over
GUST_SIDES = 8


class Points(NamedTuple):
    """Points tried: `xyz_m (k,3)` on the ground (z NaN unknown), the place each is (None none)."""

    xyz_m: Array
    place: tuple[Place | None, ...]

    def of(self, which: NDArray[np.intp]) -> Points:
        """Some of them."""
        return Points(self.xyz_m[which], tuple(self.place[i] for i in which))

    def beside(self, other: Points) -> Points:
        """These and others."""
        return Points(np.concatenate([self.xyz_m, other.xyz_m]), (*self.place, *other.place))


@dataclass(frozen=True, kw_only=True)
class Field:
    """The outing and its shots as flown, with all that is asked of many points kept."""

    outing: Outing
    scenes: tuple[Scene, ...]

    @cached_property
    def fall(self) -> tuple[Array, ...]:
        """Rings round all ground the aircraft may come down on: still air and the gust as given."""
        wind = falls.gust_toward_m_s(self.scenes[0])
        return self._fall([np.zeros(3), *([wind] if wind is not None else [])])

    @cached_property
    def may_fall(self) -> tuple[Array, ...]:
        """The same in a gust that is not known, tried from all sides; empty where it is known."""
        weather, craft = self.outing.day.weather, self.outing.aircraft
        if falls.gust_toward_m_s(self.scenes[0]) is not None:
            return ()
        gust = craft.max_wind_m_s if weather.gust_m_s is None else weather.gust_m_s
        side = weather.wind_from_rad
        sides = np.arange(GUST_SIDES) * 2.0 * np.pi / GUST_SIDES if side is None else [side]
        return self._fall([gust * falls.toward(float(s)) for s in sides])

    def _fall(self, winds: Sequence[Array]) -> tuple[Array, ...]:
        rings: list[Array] = []
        for scene in self.scenes:
            every = np.arange(scene.track.xyz_m.shape[1])
            landed = falls.drop(scene, every, winds).xyz_m[..., :2]
            rings += footprints.swept(landed, scene.aircraft.half_span_m)
        return tuple(rings)

    @cached_property
    def flown_m(self) -> Array:
        """`(m,2)` the ride and all flights."""
        tracks = [s.track.xyz_m[0, :, :2] for s in self.scenes]
        return np.concatenate([self.outing.ride.xyz_m[0, :, :2], *tracks])

    @cached_property
    def box_m(self) -> tuple[Array, Array]:
        """South-west and north-east corner of where points are tried."""
        low, high = self.flown_m.min(axis=0), self.flown_m.max(axis=0)
        outline = self.outing.site.boundary
        if outline is None:
            return low - AROUND_M, high + AROUND_M
        edge = outline[0]
        return (
            np.maximum(edge.min(axis=0), low - MOST_AROUND_M),
            np.minimum(edge.max(axis=0), high + MOST_AROUND_M),
        )

    @cached_property
    def walk(self) -> walking.Walk:
        """Ways on foot from the ride, over all of the box."""
        low, high = self.box_m
        step = max(WALK_STEP_M, float(np.sqrt(np.prod(high - low + 1.0) / MOST_NODES)))
        terrain = self.outing.site.terrain
        xy = walking.nodes(low, high, step)
        z = np.where(terrain.over_water(xy), np.nan, terrain.ground_m(xy))
        ride = self.outing.ride.xyz_m[0]
        return walking.walk_m(xy, z, terrain.ground_m, ride, np.tan(np.radians(WALK_DEG)))


def points_of(field: Field, xy_m: Array, places: Sequence[Place | None] = ()) -> Points:
    """Points on the ground at `xy_m (k,2)`."""
    z = field.outing.site.terrain.ground_m(xy_m)
    return Points(np.column_stack([xy_m, z]), tuple(places) or (None,) * len(xy_m))


def raster(field: Field) -> tuple[Points, float]:
    """An even raster inside the boundary (else around ride and flights), about `MOST_POINTS` at
    most, and its step; then the places of the folder."""
    low, high = field.box_m
    step = max(LEAST_STEP_M, float(np.sqrt(np.prod(high - low + 1.0) / (4 * MOST_POINTS))))
    while True:
        xy = walking.nodes(low, high, step).reshape(-1, 2)
        xy = xy[inside(field, xy)]
        if len(xy) <= MOST_POINTS:
            break
        step *= max(1.05, float(np.sqrt(len(xy) / MOST_POINTS)))
    places = tuple(field.outing.site.places.values())
    there = np.array([p.xyz_m[:2] for p in places], dtype=float).reshape(-1, 2)
    return points_of(field, np.concatenate([xy, there]), (*[None] * len(xy), *places)), step


def around(field: Field, xy_m: Array, step_m: float) -> Points:
    """The eight neighbours, at a step, of `xy_m (k,2)`; each once."""
    near = np.array([(i, j) for i in (-1, 0, 1) for j in (-1, 0, 1) if (i, j) != (0, 0)])
    xy = (xy_m[:, None] + step_m * near[None]).reshape(-1, 2)
    return points_of(field, np.unique(np.round(xy, 2), axis=0).reshape(-1, 2))


def ring(xy_m: Array, radius_m: float) -> Array:
    """Eight points `(8,2)` around one."""
    turn = np.arange(8) * np.pi / 4.0
    return np.asarray(xy_m + radius_m * np.stack([np.sin(turn), np.cos(turn)], axis=-1))


def inside(field: Field, xy_m: Array) -> Bools:
    """Where `xy_m (k,2)` is inside the boundary; everywhere where none is drawn."""
    outline = field.outing.site.boundary
    if outline is None:
        return np.ones(len(xy_m), dtype=bool)
    return np.asarray(footprints.inside_m(outline, xy_m) >= 0.0)
