"""What the map of a plan shows, sheet by sheet; the live map and the still picture draw it."""

from __future__ import annotations

from collections.abc import Iterator
from collections.abc import Set as AbstractSet

import numpy as np

from shotplan.judging.judged import Plan
from shotplan.model import say
from shotplan.model.arrays import Array
from shotplan.model.day import CrewRole
from shotplan.model.obstacles import Thing
from shotplan.model.site import PeopleArea, Site, Wildlife, Zone
from shotplan.outing import Outing
from shotplan.output import words
from shotplan.output.map import flights, overlays
from shotplan.output.map.shapes import (
    LINES,
    OTHERS,
    POINTED_AT,
    STANDS,
    Extent,
    Info,
    Shape,
    Sheet,
    simplified,
)  # fmt: skip
from shotplan.output.words import plain

TICK_M = 50.0
MOST_THINGS = 1500  # beyond that the nearest to the flights are drawn, and it says so
MOST_AROUND_M = 1000.0


def close(plan: Plan) -> Extent:
    """What is seen first: all flights, with a rim around them."""
    return around(_tracks(plan), 0.08, 12.0)


def whole(plan: Plan) -> Extent:
    """What is drawn: the boundary too, as far as `MOST_AROUND_M` around the flights."""
    near = around(_flown(plan), 0.0, MOST_AROUND_M)
    boundary = plan.outing.site.boundary
    points = [*_flown(plan), *([boundary[0]] if boundary else [])]
    most = around(points, 0.04, 15.0)
    return Extent(
        max(near.west_m, most.west_m),
        max(near.south_m, most.south_m),
        min(near.east_m, most.east_m),
        min(near.north_m, most.north_m),
    )


def _flown(plan: Plan) -> list[Array]:
    return [
        plan.outing.ride.xyz_m[0, :, :2],
        *_tracks(plan),
        *(p.xyz_m[None, :2] for p in plan.outing.site.places.values()),
    ]


def _tracks(plan: Plan) -> list[Array]:
    return [s.scene.track.xyz_m[0, :, :2] for s in plan.shots]


def around(points: list[Array], share: float, rim_m: float) -> Extent:
    """The box around all of the points, with a rim: a share of its size and some metres."""
    every = np.concatenate(points)
    low, high = every.min(axis=0), every.max(axis=0)
    rim = rim_m + share * float((high - low).max())
    return Extent(*(low - rim).tolist(), *(high + rim).tolist())


def sheets(plan: Plan, view: Extent, contours: tuple[Shape, ...]) -> tuple[Sheet, ...]:
    """Everything, from the ground up: what is drawn last lies on top."""
    site = plan.outing.site
    seen = close(plan)
    size = max(seen.east_m - seen.west_m, seen.north_m - seen.south_m) / 100.0
    water = tuple(
        Shape("area", "water", w.outline, info=Info("water", (("level", w.level_text),)))
        for w in site.terrain.water
    )
    return (
        Sheet("ground, heights, water", (*water, *contours)),
        Sheet("trees, buildings, wires", tuple(_things(plan, view))),
        Sheet("people, keep-outs, boundary", tuple(areas(site))),
        Sheet("the ride, launch, stands", (*ride_line(plan.outing), *_places(plan))),
        *overlays.below(plan),
        *(
            Sheet(
                f"{words.letter(i)}: {plain(s.scene.shot.name)}",
                tuple(shape._replace(of=i) for shape in flights.shapes(s, i, size)),
            )
            for i, s in enumerate(plan.shots)
        ),
        *overlays.above(plan),
    )


def left_out(plan: Plan) -> int:
    """How many obstacles are too many to draw."""
    return max(0, len(plan.outing.site.obstacles.things) - MOST_THINGS)


def areas(site: Site) -> Iterator[Shape]:
    """What is drawn on the ground: survey, boundary, people, wildlife, keep-outs."""
    for area in site.surveyed:
        rows = (
            ("looked for", ", ".join(sorted(area.looked_for))),
            ("lower than this may be missing", say.metres(area.least_height_m)),
            ("on", say.day(area.on)),
        )
        yield from _edge("surveyed", area.outline, Info("surveyed area", rows))
    if site.boundary:
        yield from _edge("boundary", site.boundary, Info("boundary"))
    for people in site.people:
        yield from _spread("people", people)
    for wildlife in site.wildlife:
        yield from _spread("wildlife", wildlife)
    for zone in site.zones:
        yield Shape("area", "keep-out", zone.outline, info=_zone_info(zone))


def _edge(look: str, outline: tuple[Array, ...], info: Info) -> Iterator[Shape]:
    for ring in outline:
        yield Shape("line", look, (np.concatenate([ring, ring[:1]]),), info=info)


def _zone_info(zone: Zone) -> Info:
    rows = []
    if plain(zone.reason):
        rows.append(("reason", plain(zone.reason)))
    if np.isfinite(zone.floor_m):
        rows.append(("from", f"{say.metres(zone.floor_m)} above ground"))
    if np.isfinite(zone.ceiling_m):
        rows.append(("up to", f"{say.metres(zone.ceiling_m)} above ground"))
    return Info(f"keep-out {plain(zone.name or zone.id)}", tuple(rows), plain(zone.name))


def _spread(look: str, area: PeopleArea | Wildlife) -> Iterator[Shape]:
    """People or wildlife: a point, a line or an area."""
    name = plain(area.name or area.id)
    if isinstance(area, PeopleArea):
        state = words.state(area)
        said = f"{plain(area.name)}, {state}" if plain(area.name) else f"people {state}"
        info = Info(f"other people: {name}", (("state", state),), said, LINES)
    else:
        rows = (("season", words.season(area)), ("stand off", say.metres(area.stand_off_m)))
        info = Info(f"wildlife: {name}", rows, plain(area.name))
    if area.geometry == "polygon":
        for ring in area.parts:
            yield Shape("area", look, (ring,), info=info)
        return
    for part in area.parts:
        if len(part) == 1:
            yield Shape("circle", look, (part,), radius_m=3.0, info=info)
        else:
            yield Shape("line", look, (part,), info=info)


def _things(plan: Plan, view: Extent) -> Iterator[Shape]:
    inside = [t for t in plan.outing.site.obstacles.things if view.holds((t.where_m,))]
    if len(inside) > MOST_THINGS:
        tracks = np.concatenate([s.scene.track.xyz_m[0, ::20, :2] for s in plan.shots])
        away = [
            float(np.linalg.norm(tracks - t.where_m.mean(axis=0), axis=1).min()) for t in inside
        ]
        nearest = np.argsort(away, kind="stable")[:MOST_THINGS]
        inside = [inside[i] for i in sorted(nearest.tolist())]
    order = {"wood": 0, "building": 1, "tree": 2, "pole": 3, "wire": 4}
    inside.sort(key=lambda t: order[t.role])
    pointed = {mark.label for mark in plan.marks if mark.named}
    for thing in inside:
        yield from solid(thing, pointed)
    for thing in inside:
        if thing.error_m > 0.0:
            yield from _doubt(thing)


def solid(thing: Thing, pointed: AbstractSet[str] = frozenset()) -> Iterator[Shape]:
    """An obstacle as drawn; those `pointed` at along the ride are named before others."""
    info = _thing_info(thing, _rank(thing, pointed))
    if thing.role in {"tree", "pole"}:
        radius = max(thing.radius_m, 0.3)
        yield Shape("circle", thing.role, (thing.where_m[:1],), radius_m=radius, info=info)
    elif thing.role == "wire":
        yield Shape("line", "wire", (thing.where_m,), info=info)
    else:
        yield Shape("area", thing.role, (thing.where_m, *thing.holes), info=info)


def _rank(thing: Thing, pointed: AbstractSet[str]) -> int:
    if thing.role == "wire":
        return LINES
    return POINTED_AT if thing.label in pointed else OTHERS


def _doubt(thing: Thing) -> Iterator[Shape]:
    """How far it may stand from where it is drawn: circles only, the rest is told in words."""
    if thing.role in {"tree", "pole"}:
        radius = thing.radius_m + thing.error_m
        yield Shape("circle", "grown", (thing.where_m[:1],), radius_m=radius)


def _thing_info(thing: Thing, rank: int) -> Info:
    height = "not known" if np.isnan(thing.height_m) else say.metres(thing.height_m)
    rows = [("height", height)]
    if thing.base_m > 0.0:
        rows.append(("open beneath", say.metres(thing.base_m)))
    if thing.role == "tree":
        rows.append(("crown", f"{say.metres(thing.radius_m)} to each side"))
    rows += [
        (
            "place known to one standard error of",
            f"{say.metres(thing.error_m)}{', paced' if thing.paced else ''}",
        ),
        ("may be higher by", say.metres(thing.height_error_m)),
        ("seen on", say.day(thing.seen_on)),
    ]
    name = plain(thing.label)
    title = name if thing.role in name.lower() else f"{thing.role} {name}"
    return Info(title, tuple(rows), plain(thing.name), rank)


def ride_line(outing: Outing) -> Iterator[Shape]:
    """The ride, with a mark each 50 m in its direction."""
    ride = outing.ride
    path, along = ride.xyz_m[0, :, :2], ride.along_m[0]
    length = float(along[-1])
    rows = (("length", say.metres(length)), ("from", plain(outing.ride_source)))
    line = simplified(path, flights.OFF_M)
    yield Shape("line", "ride", (line,), info=Info("the ride", rows))
    written = TICK_M * say.round_step(length / (12.0 * TICK_M))
    size = max(1.5, float(np.ptp(path, axis=0).max()) / 90.0)
    written_at = []
    for at in np.arange(TICK_M, length, TICK_M):
        i = int(np.searchsorted(along, at))
        tip, course = path[i], float(ride.course_rad[0, i])
        wings = [
            tip - size * np.array([np.sin(course + w), np.cos(course + w)]) for w in (-0.7, 0.7)
        ]
        yield Shape("line", "tick", (np.stack([wings[0], tip, wings[1]]),))
        if at % written == 0:
            written_at.append(Shape("mark", "metre", (tip[None],), tag=f"{at:.0f}"))
    yield from written_at


def _places(plan: Plan) -> Iterator[Shape]:
    for place in plan.outing.site.places.values():
        standing = _standing(plan, place.id)
        name = plain(place.label)
        people = "; ".join(f"{who}, {' and '.join(roles)}{s}" for who, roles, s in standing)
        rows = (("place", name), ("elevation", say.metres(float(place.xyz_m[2]))))
        called = "launch" if place.id == "launch" else plain(place.name)
        said = f"{called}: {people}" if called and people else called or people or name
        look = "launch" if place.id == "launch" else "stand" if people else "place"
        rank = STANDS if people or look == "launch" else OTHERS
        info = Info(said, rows, said, rank)
        tag = "launch" if look == "launch" else ""
        yield Shape("mark", look, (place.xyz_m[None, :2],), tag=tag, info=info)


def _standing(plan: Plan, place: str) -> list[tuple[str, list[CrewRole], str]]:
    """Name, roles and ` (A, D)`, "" for all shots, of everybody who stands at a place."""
    found = []
    for person in plan.outing.day.crew:
        here = [
            words.letter(i)
            for i, shot in enumerate(plan.shots)
            if shot.scene.shot.stands.place_of(person) == place
        ]
        if here and "rider" not in person.roles:
            shots = "" if len(here) == len(plan.shots) else f" ({', '.join(here)})"
            found.append((plain(person.name), sorted(person.roles), shots))
    return found
