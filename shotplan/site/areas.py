"""Areas and points of a site: survey, keep-outs, people, wildlife, water, places."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from shotplan.kernels.solids.footprints import Outline, grown, triangles
from shotplan.kernels.solids.prisms import Prisms
from shotplan.model.arrays import Array
from shotplan.model.site import Kind, Origin, PeopleArea, Place, Surveyed, Wildlife, Zone
from shotplan.model.terrain import Water
from shotplan.site import solids, woods
from shotplan.site.errors import Errors
from shotplan.site.roles import (
    Drawn,
    KeepOut,
    People,
    PlacePoint,
    SurveyedArea,
    WaterArea,
    WildlifeArea,
)
from shotplan.site.solids import Ground
from shotplan.site.sources import imported


class Looked(NamedTuple):
    """What `[survey]` says, for areas that do not say it themselves."""

    looked_for: tuple[Kind, ...]
    least_height_m: float
    on: str


def error_m(drawn: Drawn, errors: Errors) -> float:
    """How well the place of a drawn area is known from the ride."""
    return errors.grown_by_m(drawn.says.error_m, drawn.shape.region)


def surveyed_of(
    drawn: Sequence[Drawn], default: Looked, errors: Errors, sources: tuple[Origin, ...] = ()
) -> tuple[Surveyed, ...]:
    """The surveyed areas; without one that somebody drew themselves (a public survey brings its
    own) the boundary, as far as `[survey]` looked for anything."""
    areas = []
    for feature in drawn:
        says = feature.says
        if not isinstance(says, SurveyedArea):
            continue
        kinds = default.looked_for if says.looked_for is None else says.looked_for
        least_m = default.least_height_m if says.least_height_m is None else says.least_height_m
        areas.append(
            Surveyed(
                id=feature.id,
                outline=feature.shape.parts[0],
                looked_for=frozenset(kinds),
                least_height_m=least_m,
                on=says.seen_on or default.on,
                error_m=error_m(feature, errors),
            )
        )
    boundary = next((d for d in drawn if d.role == "boundary"), None)
    own = [a for a in areas if not imported(a.id, sources)]
    if not own and boundary is not None and (default.looked_for or not areas):
        areas.append(
            Surveyed(
                id=boundary.id,
                outline=boundary.shape.parts[0],
                looked_for=frozenset(default.looked_for),
                least_height_m=default.least_height_m,
                on=default.on,
                error_m=error_m(boundary, errors),
            )
        )
    return tuple(areas)


def zones_of(drawn: Sequence[Drawn], errors: Errors, ground: Ground) -> tuple[Zone, ...]:
    """Keep-outs, their prisms grown by their error and following the ground between floor and
    ceiling."""
    zones = []
    for feature in drawn:
        says = feature.says
        if isinstance(says, KeepOut):
            floor = -np.inf if says.floor_m is None else says.floor_m
            ceiling = np.inf if says.ceiling_m is None else says.ceiling_m
            outline, by_m = feature.shape.parts[0], error_m(feature, errors)
            reach = grown(outline, by_m) if by_m > 0.0 else (outline,)
            zones.append(
                Zone(
                    id=feature.id,
                    name=says.name,
                    outline=outline,
                    prisms=_zone_prisms(reach, float(floor), float(ceiling), ground),
                    floor_m=float(floor),
                    ceiling_m=float(ceiling),
                    reason=says.reason,
                    error_m=by_m,
                )
            )
    return tuple(zones)


def _zone_prisms(
    outlines: Sequence[Outline], floor_m: float, ceiling_m: float, ground: Ground
) -> Prisms:
    """Where the ground is not known a keep-out has no floor and no ceiling."""
    if np.isinf(floor_m) and np.isinf(ceiling_m):
        corners = np.concatenate([triangles(outline) for outline in outlines])
        return solids.walls(corners, 0.0, floor_m, ceiling_m)
    found = woods.following(outlines, floor_m, ceiling_m, woods.ZONE_CELL_M, ground)
    return solids.joined_prisms([*found.prisms, *found.doubtful])


def people_of(drawn: Sequence[Drawn], errors: Errors) -> tuple[PeopleArea, ...]:
    """Where people who are not part of the shoot may be."""
    return tuple(
        PeopleArea(
            id=d.id,
            name=d.says.name,
            geometry=d.shape.geometry,
            parts=d.shape.outer,
            state=d.says.state,
            held_by=d.says.held_by,
            error_m=error_m(d, errors),
        )
        for d in drawn
        if isinstance(d.says, People)
    )


def wildlife_of(drawn: Sequence[Drawn], errors: Errors) -> tuple[Wildlife, ...]:
    """Where animals are not to be disturbed."""
    return tuple(
        Wildlife(
            id=d.id,
            name=d.says.name,
            geometry=d.shape.geometry,
            parts=d.shape.outer,
            season_from=d.says.from_,
            season_to=d.says.to,
            stand_off_m=d.says.stand_off_m,
            error_m=error_m(d, errors),
        )
        for d in drawn
        if isinstance(d.says, WildlifeArea)
    )


def water_of(drawn: Sequence[Drawn], map_error_m: float, ride_error_m: float) -> tuple[Water, ...]:
    """Sheets of water; without a level of its own (-inf) the surface is the terrain's. It is laid
    before anybody knows where leaves are over the ride: its error is that in the open."""
    return tuple(
        Water(
            id=d.id,
            outline=d.shape.parts[0],
            level_m=-np.inf if d.says.level_m is None else d.says.level_m,
            error_m=math.hypot(
                map_error_m if d.says.error_m is None else d.says.error_m, ride_error_m
            ),
        )
        for d in drawn
        if isinstance(d.says, WaterArea)
    )


def places_of(drawn: Sequence[Drawn], errors: Errors, ground: Ground) -> dict[str, Place]:
    """The named points, on the ground."""
    found = [d for d in drawn if isinstance(d.says, PlacePoint)]
    if not found:
        return {}
    xy: Array = np.array([d.shape.outer[0][0] for d in found])
    z = ground(xy)
    return {
        d.id: Place(
            id=d.id,
            name=d.says.name,
            xyz_m=np.append(xy[k], z[k]),
            height_m=d.says.height_m,
            error_m=error_m(d, errors),
        )
        for k, d in enumerate(found)
    }
