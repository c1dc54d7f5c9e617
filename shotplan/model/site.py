"""What does not change between days: the place."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from typing import Literal

import numpy as np

from shotplan.kernels.solids import footprints, prisms
from shotplan.model.arrays import Array, Bools
from shotplan.model.frame import Frame
from shotplan.model.obstacles import Obstacles
from shotplan.model.terrain import Terrain

Kind = Literal["trees", "buildings", "wires", "people", "wildlife"]
LEAST_HEIGHT_M = 0.5  # lower things are nowhere drawn, unless somebody says so
KINDS: tuple[Kind, ...] = ("trees", "buildings", "wires", "people", "wildlife")


@dataclass(frozen=True, kw_only=True)
class Surveyed:
    """An area where somebody looked, and for what."""

    id: str
    outline: footprints.Outline
    looked_for: frozenset[Kind]
    least_height_m: float = LEAST_HEIGHT_M
    on: str = ""
    error_m: float = 0.0

    def inside_m(self, xy_m: Array) -> Array:
        """How deep `xy_m (..., 2)` are inside wherever it may be drawn, negative outside."""
        return footprints.inside_m(self.outline, xy_m) - self.error_m


@dataclass(frozen=True, kw_only=True)
class Place:
    """A named point: launch, lookouts, focus points. `xyz_m (3,)` on the ground (z NaN unknown)."""

    id: str
    name: str
    xyz_m: Array
    height_m: float = 0.0
    error_m: float = 0.0

    @property
    def label(self) -> str:
        """What to call it: its name, else its id."""
        return self.name or self.id


@dataclass(frozen=True, kw_only=True)
class Zone:
    """A keep-out. `prisms`, grown by `error_m`, follow the ground between floor and ceiling (±inf
    where not given)."""

    id: str
    name: str
    outline: footprints.Outline
    prisms: prisms.Prisms
    floor_m: float
    ceiling_m: float
    reason: str = ""
    error_m: float = 0.0


@dataclass(frozen=True, kw_only=True)
class PeopleArea:
    """Where people who are not part of the shoot may be. `parts`: points, lines or outer rings."""

    id: str
    name: str
    geometry: Literal["point", "line", "polygon"]
    parts: tuple[Array, ...]
    state: Literal["may-pass", "held", "closed"] = "may-pass"
    held_by: str = ""
    error_m: float = 0.0


@dataclass(frozen=True, kw_only=True)
class Wildlife:
    """Where animals are not to be disturbed; season as MM-DD ("" all year)."""

    id: str
    name: str
    geometry: Literal["point", "line", "polygon"]
    parts: tuple[Array, ...]
    season_from: str = ""
    season_to: str = ""
    stand_off_m: float = 100.0
    error_m: float = 0.0


@dataclass(frozen=True, kw_only=True)
class Origin:
    """A public survey some of the site was made from: the word its ids begin with (`lidar`:
    `lidar-tree-0012`), whom to credit, the day it was looked at, the day it was read, its file."""

    source: str
    credit: str = ""
    on: date | None = None
    read: date | None = None
    file: str = ""


@dataclass(frozen=True, kw_only=True)
class Site:
    """The place: frame, ground, obstacles, areas, points, and the crew's own margins on it.

    Every `error_m` is one standard error of a place, along each axis: hypot of the map's and the
    ride's own (`ride_error_m` in the open, `ride_leaves_error_m` under leaves)."""

    name: str
    frame: Frame
    terrain: Terrain
    obstacles: Obstacles
    places: Mapping[str, Place]
    boundary: footprints.Outline | None = None
    boundary_error_m: float = 0.0
    surveyed: tuple[Surveyed, ...] = ()
    zones: tuple[Zone, ...] = ()
    people: tuple[PeopleArea, ...] = ()
    wildlife: tuple[Wildlife, ...] = ()
    country: str = ""
    keep_clear_m: float = 2.0
    map_error_m: float = 1.0
    ride_error_m: float = 2.5
    ride_leaves_error_m: float = 2.5
    return_height_m: float | None = None
    remarks: tuple[str, ...] = field(default=())
    sources: tuple[Origin, ...] = ()

    @property
    def credits(self) -> tuple[str, ...]:
        """Whom every map of it credits, each once."""
        return tuple(dict.fromkeys(s.credit for s in self.sources if s.credit.strip()))

    @property
    def launch(self) -> Place | None:
        """The place with id `launch`."""
        return self.places.get("launch")

    def looked(self, xy_m: Array, kinds: tuple[Kind, ...]) -> Bools:
        """True at `xy_m (..., 2)` where somebody looked for all of `kinds` (in any area)."""
        return np.asarray(self.looked_m(xy_m, kinds) >= 0.0)

    def looked_m(self, xy_m: Array, kinds: tuple[Kind, ...]) -> Array:
        """How deep `xy_m (..., 2)` are inside the areas where somebody looked for all of `kinds`,
        negative outside (-inf: nobody looked anywhere for one of them)."""
        shape = xy_m.shape[:-1]
        wanted = [[s for s in self.surveyed if kind in s.looked_for] for kind in kinds]
        if not all(wanted):
            return np.full(shape, -np.inf)
        asked = {s.id: s for areas in wanted for s in areas}
        inside = {i: s.inside_m(xy_m) for i, s in asked.items()}
        depth = [np.maximum.reduce([inside[s.id] for s in areas]) for areas in wanted]
        return np.asarray(np.minimum.reduce(depth)) if depth else np.full(shape, np.inf)

    def least_height_m(self, xy_m: Array) -> Array:
        """How much lower things may be missing at `xy_m (..., 2)`: the ground counts as that much
        higher. Per kind the least over the areas that looked for it there, then the greatest over
        the kinds; the default 0.5 m where nobody looked for any."""
        shape = xy_m.shape[:-1]
        if all(area.least_height_m == LEAST_HEIGHT_M for area in self.surveyed):
            return np.full(shape, LEAST_HEIGHT_M)
        least = {kind: np.full(shape, np.inf) for kind in KINDS}
        for area in self.surveyed:
            there = np.where(area.inside_m(xy_m) >= 0.0, area.least_height_m, np.inf)
            for kind in area.looked_for:
                least[kind] = np.minimum(least[kind], there)
        looked = [np.where(np.isinf(of_kind), -np.inf, of_kind) for of_kind in least.values()]
        greatest = np.maximum.reduce(looked)
        return np.where(np.isinf(greatest), LEAST_HEIGHT_M, greatest)
