"""Everything that stands on the site, as drawn and as grown by its errors."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import replace
from functools import partial
from typing import Any, NamedTuple

import numpy as np

from shotplan.kernels.solids.footprints import Region
from shotplan.model.arrays import Array
from shotplan.model.obstacles import Bodies, Obstacles, Thing
from shotplan.site import beside, solids, woods
from shotplan.site.errors import Errors
from shotplan.site.roles import Building, Common, Drawn, Pole, Tree, Wire, Wood
from shotplan.site.solids import AS_DRAWN, Ground, Growth, Solids
from shotplan.site.woods import Cut

PACED_M = 0.5  # how well the sides and the roof of a cut are known (DEFINITIONS "Error")
LOCAL_WIRE_M = 10.4  # DEFINITIONS "Obstacles"


class Made(NamedTuple):
    """A thing (its `error_m` for now its own: nothing but its place on the map, or abeam of the
    ride), how to build it for a growth, and its outline in plan (None: described from the ride).
    One that `stands` on a point is built for a growth and the ground there."""

    thing: Thing
    build: Callable[..., Solids]
    opaque: bool
    region: Region | None = None
    beneath: Callable[[Growth], Solids] | None = None  # the room under its crowns
    stands: bool = False


class Standing(NamedTuple):
    """Everything that stands on a site: how it is made, its solids as drawn, and what is taken for
    granted of it."""

    made: tuple[Made, ...]
    plain: list[Solids]
    assumptions: tuple[str, ...]
    ground: Ground

    def as_drawn(self) -> Obstacles:
        """Without any error: what leaves there are over the ride."""
        return self._obstacles([m.thing for m in self.made], self.plain)

    def grown(self, errors: Errors) -> Obstacles:
        """As drawn, and grown by the errors."""
        drawn = [(m.thing.error_m, m.region) for m in self.made if m.region is not None]
        by_m = iter(errors.grown_by_each_m(drawn))
        things = [
            m.thing if m.region is None else replace(m.thing, error_m=next(by_m)) for m in self.made
        ]
        growths = [
            Growth(thing.error_m, thing.height_error_m, PACED_M, own.thing.error_m)
            for thing, own in zip(things, self.made, strict=True)
        ]
        return self._obstacles(things, _built(self.made, growths, self.ground))

    def _obstacles(self, things: Sequence[Thing], grown: list[Solids]) -> Obstacles:
        rest = [k for k, thing in enumerate(things) if thing.role != "wire"]
        wires = [k for k, thing in enumerate(things) if thing.role == "wire"]
        rooms = {
            k: made.beneath(Growth(things[k].error_m, 0.0, PACED_M))
            for k, made in enumerate(self.made)
            if made.beneath
        }
        return Obstacles(
            things=tuple(things),
            rest_grown=_bodies(grown, rest),
            rest_drawn=_bodies(self.plain, rest),
            wires_grown=_bodies(grown, wires),
            wires_drawn=_bodies(self.plain, wires),
            opaque=_bodies(self.plain, [k for k, m in enumerate(self.made) if m.opaque]),
            beneath=_bodies(rooms, list(rooms)),
            assumptions=self.assumptions,
        )


def standing(
    drawn: Sequence[Drawn],
    paced: Iterable[beside.Placed],
    map_error_m: float,
    cut: Cut | None,
    ground: Ground,
) -> Standing:
    """What stands there. `drawn` in frame metres."""
    said: list[str] = []
    made = [_upright(d, map_error_m) for d in drawn if isinstance(d.says, Tree | Pole)]
    for feature in drawn:
        if isinstance(feature.says, Building):
            made.append(_building(feature, map_error_m, ground))
        elif isinstance(feature.says, Wood):
            made.append(_wood(feature, map_error_m, cut, ground, said))
        elif isinstance(feature.says, Wire):
            made.append(_wire(feature, map_error_m, ground, said))
    for found in paced:
        build = partial(beside.solid, found, ground)
        made.append(Made(found.thing, build, found.thing.role in ("tree", "building")))
    plain = _built(made, [AS_DRAWN] * len(made), ground)
    return Standing(tuple(made), plain, tuple(said), ground)


def _built(made: Sequence[Made], growths: Sequence[Growth], ground: Ground) -> list[Solids]:
    """Everything for its growth; the ground under all that stands on a point is asked together."""
    alone = [(m, growth) for m, growth in zip(made, growths, strict=True) if m.stands]
    where = np.array([m.thing.where_m[0] for m, _ in alone]).reshape(-1, 2)
    within = np.array([growth.foot_m for _, growth in alone])
    feet = iter(solids.feet_each(ground, where, within))
    return [
        m.build(growth, next(feet)) if m.stands else m.build(growth)
        for m, growth in zip(made, growths, strict=True)
    ]


def _bodies(parts: Sequence[Solids] | Mapping[int, Solids], which: list[int]) -> Bodies:
    def owners(counts: list[int]) -> np.ndarray[tuple[int], np.dtype[np.intp]]:
        return np.repeat(np.array(which, dtype=np.intp), counts)

    chosen = [parts[k] for k in which]
    return Bodies(
        columns=solids.joined_columns(c for s in chosen for c in s.columns),
        column_thing=owners([len(s.columns) for s in chosen]),
        prisms=solids.joined_prisms(p for s in chosen for p in s.prisms),
        prism_thing=owners([sum(len(p.top_m) for p in s.prisms) for s in chosen]),
        doubtful=solids.joined_prisms(d for s in chosen for d in s.doubtful),
        doubtful_thing=owners([sum(len(d.top_m) for d in s.doubtful) for s in chosen]),
    )


def _common(feature: Drawn, map_error_m: float) -> dict[str, Any]:
    """What every drawn thing says of itself."""
    says: Common = feature.says
    return {
        "id": feature.id,
        "name": says.name,
        "error_m": map_error_m if says.error_m is None else says.error_m,
        "height_error_m": says.height_error_m,
        "seen_on": says.seen_on,
    }


def _upright(feature: Drawn, map_error_m: float) -> Made:
    """A tree or a pole."""
    says: Tree | Pole = feature.says
    xy = feature.shape.outer[0][0]
    a_tree = isinstance(says, Tree)
    base_m, trunk_m = (says.base_m, says.trunk_radius_m) if isinstance(says, Tree) else (0.0, 0.0)
    thing = Thing(
        role="tree" if a_tree else "pole",
        where_m=xy[None],
        height_m=says.height_m,
        base_m=base_m,
        radius_m=says.radius_m,
        trunk_radius_m=trunk_m,
        **_common(feature, map_error_m),
    )
    build = partial(solids.upright, xy, says.height_m, base_m, says.radius_m, trunk_m)
    return Made(thing, build, a_tree, feature.shape.region, stands=True)


def _building(feature: Drawn, map_error_m: float, ground: Ground) -> Made:
    says: Building = feature.says
    outline = feature.shape.parts[0]
    thing = Thing(
        role="building",
        where_m=outline[0],
        holes=outline[1:],
        height_m=says.height_m,
        **_common(feature, map_error_m),
    )
    return Made(
        thing, partial(solids.building, outline, says.height_m, ground), True, feature.shape.region
    )


def _wood(
    feature: Drawn, map_error_m: float, cut: Cut | None, ground: Ground, assumptions: list[str]
) -> Made:
    says: Wood = feature.says
    outline = feature.shape.parts[0]
    thing = Thing(
        role="wood",
        where_m=outline[0],
        holes=outline[1:],
        height_m=says.height_m,
        base_m=says.base_m,
        **_common(feature, map_error_m),
    )
    if says.base_m > 0.0:
        assumptions.append(
            f"{thing.label}: taken as open below {says.base_m:g} m; where its trunks stand is "
            "not known"
        )
    if cut is not None:
        roof = "to the sky" if np.isinf(cut.overhead_m) else f"up to {cut.overhead_m:g} m"
        assumptions.append(
            f"{thing.label}: taken as open {cut.clear_m:g} m wide along the ride, {roof}, "
            f"known to {PACED_M:g} m"
        )
    build = partial(woods.wood, outline, says.height_m, says.base_m, cut, ground)
    open_cut = cut._replace(overhead_m=np.inf) if cut else None
    beneath = partial(woods.wood, outline, says.base_m, 0.0, open_cut, ground)
    return Made(thing, build, True, feature.shape.region, beneath if says.base_m > 0.0 else None)


def _wire(feature: Drawn, map_error_m: float, ground: Ground, assumptions: list[str]) -> Made:
    says: Wire = feature.says
    path: Array = feature.shape.outer[0]
    label = says.name or feature.id
    given = says.height_m
    if given is None and says.kind == "local":
        given = LOCAL_WIRE_M
        assumptions.append(f"{label}: its height is not given, taken as {given:g} m (a local line)")
    if given is None:
        assumptions.append(
            f"{label}: its height is not given; within {solids.WIRE_DOUBT_M:g} m of it clearance "
            "is unknown"
        )
    elif says.sag_m is None:
        assumptions.append(f"{label}: its sag is not given, taken as straight between its supports")
    height = np.broadcast_to(
        np.asarray(np.nan if given is None else given, dtype=float), (len(path),)
    )
    thing = Thing(
        role="wire",
        where_m=path,
        height_m=float(np.max(height)),
        **_common(feature, map_error_m),
    )
    build = partial(solids.wire, path, height, says.sag_m, ground)
    return Made(thing, build, False, feature.shape.region)
