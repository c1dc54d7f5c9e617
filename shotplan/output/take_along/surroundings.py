"""What any map program is shown around the shots: places, areas, and the obstacles near by."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from typing import Literal

import numpy as np

from shotplan.files.placed import Folder, Placed
from shotplan.judging.judged import Plan
from shotplan.model import say
from shotplan.model.arrays import Array
from shotplan.model.frame import Frame
from shotplan.model.obstacles import REACH_M, Thing
from shotplan.model.site import PeopleArea, Place, Wildlife, Zone
from shotplan.output import words
from shotplan.output.words import plain
from shotplan.scene import stands

MOST_THINGS = 200  # obstacles: the nearest to the flights, and it says so
CORNERS = 12  # of a round crown


def folders(plan: Plan) -> tuple[Folder, ...]:
    """Launch and stands, areas, obstacles as drawn; positions in degrees."""
    return (
        Folder("launch and stands", "", tuple(_places(plan))),
        Folder("boundary, keep-outs, people, wildlife", "", tuple(_areas(plan))),
        _obstacles(plan),
    )


def _places(plan: Plan) -> Iterator[Placed]:
    """Launch and stands with who stands there, then the other places."""
    found: dict[str, dict[str, list[str]]] = {}
    for i, shot in enumerate(plan.shots):
        for spot in stands.spots(shot.scene):
            who = found.setdefault(spot.place.id, {}).setdefault(plain(spot.who), [])
            who.append(words.letter(i))
    site = plan.outing.site
    for place in site.places.values():
        told = [f"{who} ({', '.join(shots)})" for who, shots in found.get(place.id, {}).items()]
        kind = "launch" if place.id == "launch" else "stand" if told else "place"
        yield _place(place, kind, told, site.frame)


def _place(place: Place, kind: str, told: Sequence[str], frame: Frame) -> Placed:
    z = float(place.xyz_m[2])
    ground = "elevation of the ground " + ("not known" if math.isnan(z) else say.metres(z))
    return Placed(
        kind=kind,
        name="launch" if kind == "launch" else plain(place.label),
        words="\n".join((*told, ground)),
        shape="point",
        parts=(frame.lonlat_deg(place.xyz_m[None, :2]),),
        z_m=(place.xyz_m[2:],),
        values={"id": plain(place.id), "elevation_m": z},
    )


def _areas(plan: Plan) -> Iterator[Placed]:
    site = plan.outing.site
    if site.boundary:
        rings = tuple(site.frame.lonlat_deg(ring) for ring in site.boundary)
        yield Placed("boundary", "boundary", "the aircraft stays inside", "area", rings)
    for zone in site.zones:
        yield _keep_out(zone, site.frame)
    for people in site.people:
        told = f"other people may be here; state: {words.state(people)}"
        yield from _spread("people", people, told, site.frame)
    for animals in site.wildlife:
        told = f"wildlife; {words.season(animals)}; stand off {animals.stand_off_m:.0f} m"
        yield from _spread("wildlife", animals, told, site.frame)


def _keep_out(zone: Zone, frame: Frame) -> Placed:
    low, high = zone.floor_m, zone.ceiling_m
    floor = f"from {say.metres(low)} above ground" if math.isfinite(low) else "from the ground"
    ceiling = f"up to {say.metres(high)} above ground" if math.isfinite(high) else "without top"
    told = "\n".join(line for line in (f"{floor}, {ceiling}", plain(zone.reason)) if line)
    return Placed(
        kind="keep-out",
        name=f"keep-out {plain(zone.name or zone.id)}",
        words=told,
        shape="area",
        parts=tuple(frame.lonlat_deg(ring) for ring in zone.outline),
        values={"id": plain(zone.id), "floor_m": low, "ceiling_m": high},
    )


def _spread(kind: str, area: PeopleArea | Wildlife, told: str, frame: Frame) -> Iterator[Placed]:
    """People or wildlife, a thing for each of their points, lines or areas."""
    for part in area.parts:
        line: Literal["point", "line"] = "point" if len(part) == 1 else "line"
        yield Placed(
            kind=kind,
            name=plain(area.name or area.id),
            words=told,
            shape="area" if area.geometry == "polygon" else line,
            parts=(frame.lonlat_deg(part),),
            values={"id": plain(area.id)},
        )


def _obstacles(plan: Plan) -> Folder:
    """As drawn, the nearest to the flights."""
    frame = plan.outing.site.frame
    flights = np.concatenate([s.scene.track.xyz_m[0, ::5, :2] for s in plan.shots])
    things = plan.outing.site.obstacles.things
    away = np.array([_away_m(thing, flights) for thing in things])
    order = [int(i) for i in np.argsort(away, kind="stable") if away[i] <= REACH_M]
    near = sorted(order[:MOST_THINGS])
    told = "as drawn; they may stand off from there and be higher"
    if len(near) < len(things):
        told += (
            f". Left out are {len(things) - len(near)} more: only the nearest {MOST_THINGS} within "
            f"{REACH_M:.0f} m of the flights are here"
        )
    return Folder("obstacles", told, tuple(_obstacle(things[i], frame) for i in near))


def _away_m(thing: Thing, flights: Array) -> float:
    """Level distance of the nearest corner and flight sample; 0 where the box around it holds
    one."""
    low, high = thing.where_m.min(axis=0), thing.where_m.max(axis=0)
    if ((flights >= low) & (flights <= high)).all(axis=1).any():
        return 0.0
    return min(float(np.linalg.norm(flights - corner, axis=1).min()) for corner in thing.where_m)


def _obstacle(thing: Thing, frame: Frame) -> Placed:
    known = not math.isnan(thing.height_m)
    told = [f"{thing.role}, {say.metres(thing.height_m)} high" if known else
            f"{thing.role}, height not known"]  # fmt: skip
    if thing.base_m > 0.0:
        told.append(f"open beneath {say.metres(thing.base_m)}")
    told.append(f"place known to one standard error of {say.metres(thing.error_m)}")
    told.append(f"seen on {say.day(thing.seen_on)}")
    round_ = thing.role in {"tree", "pole"}
    rings = (_circle(thing),) if round_ else (thing.where_m, *thing.holes)
    centre = thing.where_m[0] if round_ else None
    return Placed(
        kind=thing.role,
        name=plain(thing.label),
        words="\n".join(told),
        shape="line" if thing.role == "wire" else "area",
        parts=tuple(frame.lonlat_deg(ring) for ring in rings),
        z_m=tuple(np.full(len(ring), thing.height_m) for ring in rings),
        heights="above the ground",
        values={
            "id": plain(thing.id),
            "above_ground_m": thing.height_m,
            "base_m": thing.base_m,
            "radius_m": thing.radius_m if round_ else None,
            "error_m": thing.error_m,
        },
        centre=None if centre is None else frame.lonlat_deg(centre),
    )


def _circle(thing: Thing) -> Array:
    """A crown or pole in plan, `(CORNERS, 2)`."""
    turn = np.arange(CORNERS) * 2.0 * np.pi / CORNERS
    radius = max(thing.radius_m, 0.3)
    return np.asarray(thing.where_m[0] + radius * np.stack([np.cos(turn), np.sin(turn)], axis=-1))
