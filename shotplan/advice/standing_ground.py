"""Where somebody can stand at all: points tried, what is underfoot there, what rules them out."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from shotplan.advice.standing_field import Field, Points, inside, ring
from shotplan.advice.vantage import Role, Underfoot
from shotplan.checks.fall.said import ROOM_M
from shotplan.kernels.ground import standing
from shotplan.kernels.light import light
from shotplan.kernels.solids import footprints
from shotplan.model.arrays import Array, Bools
from shotplan.model.site import Place
from shotplan.scene import stands
from shotplan.scene.holding import called, in_season, region

LEVEL_M = 5.0  # slope is measured over twice that
STEEP_DEG: Mapping[Role, tuple[float, ...]] = {  # the first that leaves enough places
    "launch": (10.0, 15.0, 20.0, 25.0),
    "pilot": (25.0, 35.0),
    "spotter": (25.0, 35.0),
}
CLEAR_M = {"launch": 5.0, "pilot": 1.0, "spotter": 1.0}  # of trees, buildings and poles
LINE_M = {"launch": 5.0, "pilot": stands.LINE_M, "spotter": stands.LINE_M}  # of the ride
PEOPLE_M = {"launch": 5.0, "pilot": 2.0, "spotter": 2.0}  # of where other people may be
BODY_M = 1.0
HEAD_M = 1.6
FALL_M = ROOM_M + 0.3  # the rings of the fall may be short by that much
SKY_DEG = (15.0, 30.0, 45.0, 60.0, 75.0)
SKY_M = 100.0


class Ground(NamedTuple):
    """What is underfoot at k points, as in `Underfoot`; `thing`, `area` are indexes, -1 none."""

    slope_deg: Array
    edge: Bools
    obstacle_m: Array
    thing: NDArray[np.intp]
    fall_m: Array
    may_fall_m: Array
    people_m: Array
    area: NDArray[np.intp]
    ride_m: Array
    walk_m: Array


def ground_of(field: Field, points: Points) -> Ground:
    """Everything underfoot, for all points at once."""
    site, xyz = field.outing.site, points.xyz_m
    xy = xyz[:, :2]
    here = np.nan_to_num(xyz)
    near = site.obstacles.rest_grown.nearest(here + np.array([0.0, 0.0, BODY_M]))
    people = np.full((len(site.people) + 1, len(xy)), np.inf)
    for index, area in enumerate(site.people):
        if area.state != "closed":
            people[index] = footprints.reach(region(area), xy).distance_m - area.error_m
    least = people.argmin(axis=0)
    nearest = people[least, np.arange(len(xy))]
    return Ground(
        slope_deg=_slope_deg(field, xy),
        edge=_edge(field, xyz),
        obstacle_m=near.distance_m,
        thing=near.thing,
        fall_m=_off(field.fall, xy),
        may_fall_m=_off(field.may_fall, xy),
        people_m=nearest,
        area=np.where(np.isinf(nearest), -1, least),
        ride_m=footprints.distance_to_path_m(field.outing.ride.xyz_m[0, :, :2], xy),
        walk_m=field.walk.at(xy),
    )


def _off(rings: Sequence[Array], xy_m: Array) -> Array:
    """Level distance `(k,)` to the nearest of some areas, negative inside; +inf none."""
    away = [-footprints.inside_m((ring,), xy_m) for ring in rings]
    return np.asarray(np.minimum.reduce(away)) if away else np.full(len(xy_m), np.inf)


def _slope_deg(field: Field, xy_m: Array) -> Array:
    """Of the plane through eight points 5 m off; NaN where one is not known."""
    way = ring(np.zeros(2), LEVEL_M)
    z = field.outing.site.terrain.ground_m(xy_m[:, None] + way[None])
    rise = z @ way / (way[:, 0] ** 2).sum()
    return np.asarray(np.degrees(np.arctan(np.hypot(rise[:, 0], rise[:, 1]))))


def _edge(field: Field, xyz_m: Array) -> Bools:
    """Where ground within 5 m is more than 3 m lower, or not known."""
    radii = np.arange(1.0, stands.DROP_M + 0.1, 1.0)
    near = standing.rays(np.zeros(2), radii)[::3].reshape(-1, 2)
    z = field.outing.site.terrain.ground_m(xyz_m[:, None, :2] + near[None])
    return np.asarray(~(z >= xyz_m[:, None, 2] - stands.FALL_M).all(axis=1))


def part_of(ground: Ground, which: NDArray[np.intp]) -> Ground:
    """Some of the points."""
    return Ground._make(a[which] for a in ground)


def beside(one: Ground, other: Ground) -> Ground:
    """The points of both."""
    return Ground._make(np.concatenate(both) for both in zip(one, other, strict=True))


def ruled_out(
    field: Field, role: Role, points: Points, ground: Ground, steep_deg: float
) -> dict[str, Bools]:
    """Why points are no place for a role: reason -> where `(k,)`."""
    site, xyz = field.outing.site, points.xyz_m
    xy = xyz[:, :2]
    head = xyz + np.array([0.0, 0.0, HEAD_M])
    unknown = np.isnan(xyz[:, 2]) | np.isnan(ground.slope_deg)
    with np.errstate(invalid="ignore"):
        steep = ground.slope_deg > steep_deg
    return {
        "the ground there is not known": unknown,
        "outside the boundary": ~inside(field, xy),
        "in water": site.terrain.over_water(xy),
        steeper(steep_deg): steep,
        f"a drop within {stands.DROP_M:.0f} m": ground.edge & ~unknown,
        f"trees, buildings or poles within {CLEAR_M[role]:.0f} m, or overhead": (
            (ground.obstacle_m < CLEAR_M[role]) | site.obstacles.under_trees(head)
        ),
        "nearer to wires than they are high": _under_wires(field, xyz),
        f"within {LINE_M[role]:.0f} m of the ride": ground.ride_m < LINE_M[role],
        "where other people may be": ground.people_m < PEOPLE_M[role],
        "in a keep-out": _kept_out(field, xy),
        "where wildlife is": _wildlife(field, role, xy),
        f"within {FALL_M:.1f} m of where it may come down": ground.fall_m < FALL_M,
        "no way there on foot": np.isinf(ground.walk_m),
    }


def steeper(steep_deg: float) -> str:
    """How it is said that ground is too steep."""
    return f"steeper than {steep_deg:.0f}°"


def _under_wires(field: Field, xyz_m: Array) -> Bools:
    obstacles = field.outing.site.obstacles
    here = np.nan_to_num(xyz_m)
    near = obstacles.wires_grown.nearest(here)
    heights = np.array([t.height_m for t in obstacles.things] + [0.0])
    high = np.nan_to_num(heights, nan=stands.KNOWN_M)[near.thing]
    return np.asarray((near.distance_m < high) | (obstacles.wires_grown.doubt_m(here) <= 0.0))


def _kept_out(field: Field, xy_m: Array) -> Bools:
    """Where a keep-out reaches down to people."""
    out = np.zeros(len(xy_m), dtype=bool)
    for zone in field.outing.site.zones:
        if not zone.floor_m > HEAD_M:
            out |= footprints.inside_m(zone.outline, xy_m) >= -zone.error_m
    return out


def _wildlife(field: Field, role: Role, xy_m: Array) -> Bools:
    """Inside an area in season; for the launch within its stand-off too."""
    day = field.outing.day
    on = day.start.astimezone(day.timezone).date()
    out = np.zeros(len(xy_m), dtype=bool)
    for area in field.outing.site.wildlife:
        if in_season(area, on):
            least = area.stand_off_m if role == "launch" else 0.0
            out |= footprints.reach(region(area), xy_m).distance_m <= least + area.error_m
    return out


class Hazard(NamedTuple):
    """What the crew check holds against a point, or (not `known`) cannot know there."""

    text: str
    known: bool


def hazards(field: Field, point: Array) -> tuple[Hazard, ...]:
    """Those of one point `(3,)`: drops, faces, wires, the ride line."""
    spot = stands.Spot("the place", Place(id="", name="", xyz_m=point))
    said = []
    for hazard in stands.HAZARDS:
        found = hazard(field.scenes[0], spot)
        known = not np.isnan(found.value_m)
        if not known or found.value_m < found.limit_m:
            said.append(Hazard(found.words.reason, known))
    return tuple(said)


def doubts(index: int, ground: Ground, unsure: Sequence[str]) -> tuple[str, ...]:
    """What is not known about one point, a line each."""
    said = list(unsure)
    if ground.may_fall_m[index] < FALL_M <= ground.fall_m[index]:
        said.append("the gust is not known: one could make it come down there")
    return tuple(said)


def underfoot(field: Field, points: Points, ground: Ground, index: int, *, sky: bool) -> Underfoot:
    """One of the points at length."""
    site, ride = field.outing.site, field.outing.ride
    here = points.xyz_m[index]
    radii = np.arange(0.25, 4.0 * stands.DROP_M + 0.1, 0.25)
    rim = site.terrain.ground_m(standing.rays(here[:2], radii))
    drop = standing.drop_m(float(here[2]), rim, radii, stands.FALL_M)
    way = here[:2] - ride.xyz_m[0, :, :2]
    at = int(np.hypot(way[:, 0], way[:, 1]).argmin())
    course = float(ride.course_rad[0, at])
    thing, area = int(ground.thing[index]), int(ground.area[index])
    return Underfoot(
        slope_deg=float(ground.slope_deg[index]),
        drop_m=drop,
        obstacle_m=float(ground.obstacle_m[index]),
        obstacle=site.obstacles.things[thing].label if thing >= 0 else "",
        fall_m=float(ground.fall_m[index]),
        people_m=float(ground.people_m[index]),
        people=called(site.people[area]) if area >= 0 else "",
        ride_m=float(ground.ride_m[index]),
        at_m=float(ride.along_m[0, at]),
        right_m=float(way[at] @ np.array([np.cos(course), -np.sin(course)])),
        walk_m=float(ground.walk_m[index]),
        sky=_sky(field, here) if sky else np.nan,
    )


def _sky(field: Field, here_m: Array) -> float:
    """Share of the sky from 15° up that neither ground nor things (as drawn) close, within 100 m;
    what is not known closes it (NaN: the place itself is not)."""
    if not np.isfinite(here_m).all():
        return np.nan
    azimuth, elevation = np.meshgrid(np.arange(24) * np.pi / 12.0, np.radians(SKY_DEG))
    ways = light.toward(azimuth.ravel(), elevation.ravel())
    start = np.broadcast_to(here_m + np.array([0.0, 0.0, BODY_M]), ways.shape)
    end = start + SKY_M * ways
    site = field.outing.site
    ground = site.terrain.first_cut(start, end)
    things, _ = site.obstacles.opaque.first_cut(start, end)
    free = np.isinf(np.minimum(ground.at, things)) & np.isinf(ground.unknown_at)
    weight = np.cos(elevation.ravel())
    return float((free * weight).sum() / weight.sum())
