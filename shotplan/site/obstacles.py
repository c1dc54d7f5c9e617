"""Everything that stands on the site, as drawn and as grown by its errors."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from functools import partial
from typing import NamedTuple

import numpy as np

from shotplan.model.arrays import Array
from shotplan.model.obstacles import Bodies, Obstacles, Thing
from shotplan.site import beside, solids, woods
from shotplan.site.roles import Building, Drawn, Pole, Tree, Wire, Wood
from shotplan.site.solids import AS_DRAWN, Ground, Growth, Solids
from shotplan.site.woods import Cut

PACED_M = 0.5  # how well the sides and the roof of a cut are known (DEFINITIONS "Error")
LOCAL_WIRE_M = 10.4  # DEFINITIONS "Obstacles"


class Made(NamedTuple):
    """A thing and how to build it for a growth."""

    thing: Thing
    build: Callable[[Growth], Solids]
    opaque: bool
    beneath: Callable[[Growth], Solids] | None = None  # the room under its crowns


class Errors(NamedTuple):
    """The site's `map_error_m` and the ride's own, standard errors."""

    map_m: float
    ride_m: float

    def grown_by_m(self, own_m: float | None) -> float:
        """`e` of DEFINITIONS "Error"."""
        return float(np.hypot(self.map_m if own_m is None else own_m, self.ride_m))


def obstacles_of(
    drawn: Sequence[Drawn],
    paced: Iterable[beside.Placed],
    errors: Errors,
    cut: Cut | None,
    ground: Ground,
) -> Obstacles:
    """All obstacles of a site. `drawn` in frame metres."""
    assumptions: list[str] = []
    made = _points([d for d in drawn if isinstance(d.says, Tree | Pole)], errors, ground)
    for feature in drawn:
        if isinstance(feature.says, Building):
            made.append(_building(feature, errors, ground))
        elif isinstance(feature.says, Wood):
            made.append(_wood(feature, errors, cut, ground, assumptions))
        elif isinstance(feature.says, Wire):
            made.append(_wire(feature, errors, ground, assumptions))
    for found in paced:
        build = partial(beside.solid, found, ground)
        made.append(Made(found.thing, build, found.thing.role in ("tree", "building")))
    grown = [m.build(Growth(m.thing.error_m, m.thing.height_error_m, PACED_M)) for m in made]
    plain = [m.build(AS_DRAWN) for m in made]
    rest = [k for k, m in enumerate(made) if m.thing.role != "wire"]
    wires = [k for k, m in enumerate(made) if m.thing.role == "wire"]
    open_below = [k for k, m in enumerate(made) if m.beneath]
    rooms = [
        m.beneath(Growth(m.thing.error_m, 0.0, PACED_M)) if m.beneath else Solids() for m in made
    ]
    return Obstacles(
        things=tuple(m.thing for m in made),
        rest_grown=_bodies(grown, rest),
        rest_drawn=_bodies(plain, rest),
        wires_grown=_bodies(grown, wires),
        wires_drawn=_bodies(plain, wires),
        opaque=_bodies(plain, [k for k, m in enumerate(made) if m.opaque]),
        beneath=_bodies(rooms, open_below),
        assumptions=tuple(assumptions),
    )


def _bodies(parts: list[Solids], which: list[int]) -> Bodies:
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


def _points(features: list[Drawn], errors: Errors, ground: Ground) -> list[Made]:
    """Trees and poles; their ground is looked up in one go."""
    if not features:
        return []
    places = np.array([f.shape.outer[0][0] for f in features])
    made = []
    for feature, xy, z in zip(features, places, ground(places), strict=True):
        says = feature.says
        base_m, trunk_m = (
            (says.base_m, says.trunk_radius_m) if isinstance(says, Tree) else (0.0, 0.0)
        )
        thing = Thing(
            id=feature.id,
            name=says.name,
            role="tree" if isinstance(says, Tree) else "pole",
            where_m=xy[None],
            height_m=says.height_m,
            base_m=base_m,
            radius_m=says.radius_m,
            trunk_radius_m=trunk_m,
            error_m=errors.grown_by_m(says.error_m),
            height_error_m=says.height_error_m,
            seen_on=says.seen_on,
        )
        build = partial(solids.tree, xy, float(z), says.height_m, base_m, says.radius_m, trunk_m)
        made.append(Made(thing, build, thing.role == "tree"))
    return made


def _building(feature: Drawn, errors: Errors, ground: Ground) -> Made:
    says: Building = feature.says
    outline = feature.shape.parts[0]
    thing = Thing(
        id=feature.id,
        name=says.name,
        role="building",
        where_m=outline[0],
        holes=outline[1:],
        height_m=says.height_m,
        error_m=errors.grown_by_m(says.error_m),
        height_error_m=says.height_error_m,
        seen_on=says.seen_on,
    )
    return Made(thing, partial(solids.building, outline, says.height_m, ground), True)


def _wood(
    feature: Drawn, errors: Errors, cut: Cut | None, ground: Ground, assumptions: list[str]
) -> Made:
    says: Wood = feature.says
    outline = feature.shape.parts[0]
    thing = Thing(
        id=feature.id,
        name=says.name,
        role="wood",
        where_m=outline[0],
        holes=outline[1:],
        height_m=says.height_m,
        base_m=says.base_m,
        error_m=errors.grown_by_m(says.error_m),
        height_error_m=says.height_error_m,
        seen_on=says.seen_on,
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
    return Made(thing, build, True, beneath if says.base_m > 0.0 else None)


def _wire(feature: Drawn, errors: Errors, ground: Ground, assumptions: list[str]) -> Made:
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
        assumptions.append(
            f"{label}: its sag is not given, taken as {100 * solids.DEFAULT_SAG:g} % of each span"
        )
    height = np.broadcast_to(
        np.asarray(np.nan if given is None else given, dtype=float), (len(path),)
    )
    thing = Thing(
        id=feature.id,
        name=says.name,
        role="wire",
        where_m=path,
        height_m=float(np.max(height)),
        error_m=errors.grown_by_m(says.error_m),
        height_error_m=says.height_error_m,
        seen_on=says.seen_on,
    )
    return Made(thing, partial(solids.wire, path, height, says.sag_m, ground), False)
