"""Somebody of the crew holds a path: how far out they see who comes, and whether that is enough.

People who come along must be seen, called to the pilot, and the aircraft gone before they are
near: 30 m of room, and the way they make in the 10.25 s that seeing, calling and clearing take.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from shotplan.kernels.ground import grid
from shotplan.kernels.solids import footprints
from shotplan.model import say
from shotplan.model.arrays import Array, Bools
from shotplan.model.day import Person
from shotplan.model.site import PeopleArea, Wildlife
from shotplan.scene.scene import Scene
from shotplan.units import KMH_M_S

ROOM_M = 30.0
CALL_AND_CLEAR_S = 10.25
CALL_SOURCE = (
    "own setting: 30 m of room and 10.25 s to see, call and clear; a bicycle at 22 km/h is the "
    "85th percentile of FHWA-HRT-04-103 (at second hand), walking 1.2 m/s and running 3 m/s are "
    "from memory"
)
PASSERS = (  # who comes, how it is said, at what speed
    ("walkers", 1.2),
    ("runners", 3.0),
    ("bicycles", 22.0 * KMH_M_S),
)
STEP_M = 2.5  # between the points of a path that must be seen
BODY_M = 1.0  # of a person, seen above the ground
BEYOND_M = 5.0  # a path that ends: somebody must have looked this far past its end


def call_distance_m(speed_m_s: float) -> float:
    """How far before the danger somebody coming at a speed must be seen."""
    return ROOM_M + speed_m_s * CALL_AND_CLEAR_S


CALLS = (
    " and ".join(
        ", ".join(f"{who} {call_distance_m(speed):.0f} m" for who, speed in PASSERS).rsplit(", ", 1)
    )
    + " before the stretch flown over"
)


@dataclass(frozen=True, kw_only=True)
class Held:
    """Whether a held area is held: `against` whom, and `why` not against the rest, or anybody (""
    it does against all)."""

    against: tuple[str, ...]
    why: str

    @property
    def holds(self) -> bool:
        """Whether it holds at least against people on foot."""
        return bool(self.against)

    @property
    def holds_all(self) -> bool:
        """Whether it holds against everybody who may come."""
        return len(self.against) == len(PASSERS)


def region(area: PeopleArea | Wildlife) -> footprints.Region:
    """An area as the kernels take it."""
    return footprints.Region(area.parts, area.geometry == "polygon")


def called(area: PeopleArea | Wildlife) -> str:
    """What to call it: its name, else its id."""
    return area.name or area.id


def held(scene: Scene, area: PeopleArea, danger_xy_m: Array) -> Held:
    """How well the one who holds an area holds it, `danger_xy_m (k, 2)` being the points of it
    that the aircraft comes too near to (k at least 1).

    Everybody must be seen, from their place and past ground, crowns, woods and buildings, over
    all of the area within the call distance of the danger (straight, not along the path).
    """
    person, eye, why = _holder(scene, area)
    if person is None or eye is None:
        return Held(against=(), why=why)
    most = call_distance_m(max(speed for _, speed in PASSERS))
    points = footprints.spread(region(area), STEP_M)
    away = _nearest_m(points, danger_xy_m)
    near = away <= most
    seen, looked = _seen(scene, eye, points[near]), _looked(scene, area, points[near])
    lost = ~(seen & looked)
    if not lost.any():
        return Held(against=tuple(who for who, _ in PASSERS), why="")
    first = int(np.argmin(np.where(lost, away[near], np.inf)))
    sees = float(away[near][first])
    cause = "something hides it" if not seen[first] else "nobody looked for people beyond"
    against = tuple(who for who, speed in PASSERS if sees >= call_distance_m(speed))
    return Held(
        against=against,
        why=f"{person.name} sees only {say.metres(sees)} of it before the flight ({cause})",
    )


def _holder(scene: Scene, area: PeopleArea) -> tuple[Person | None, Array | None, str]:
    """Who holds it, where their eye is `(3,)`, or why they do not count."""
    person = next((p for p in scene.day.crew if p.name == area.held_by), None)
    if person is None:
        return None, None, "who holds it is not of the crew"
    if "rider" in person.roles:
        return None, None, f"{person.name} rides, and cannot hold it"
    place = scene.stand_of(person)
    if place is None:
        return None, None, f"where {person.name} stands is not said"
    eye = place.xyz_m + np.array([0.0, 0.0, person.eye_m])
    if not np.isfinite(eye).all():
        return None, None, f"the ground where {person.name} stands is not known"
    return person, eye, ""


def _nearest_m(points_m: Array, danger_m: Array) -> Array:
    """Level distance `(m,)` from points to the nearest of the danger's."""
    least = np.full(len(points_m), np.inf)
    for part in np.array_split(danger_m, max(1, len(danger_m) // 200)):
        way = points_m[:, None] - part[None]
        least = np.minimum(least, np.hypot(way[..., 0], way[..., 1]).min(axis=1))
    return least


def _seen(scene: Scene, eye_m: Array, xy_m: Array) -> Bools:
    """Where a person is seen from an eye; over unknown ground never."""
    terrain = scene.site.terrain
    end = np.column_stack([xy_m, terrain.ground_m(xy_m) + BODY_M])
    start = np.broadcast_to(eye_m, end.shape).copy()
    ground = grid.first_cut(terrain.grid, start, end)
    known = np.isfinite(end[:, 2])
    seen = known & np.isinf(ground.at) & np.isinf(ground.unknown_at)
    cut, _ = scene.site.obstacles.opaque.first_cut(start[known], end[known])
    seen[known] &= np.isinf(cut)
    return seen


def _looked(scene: Scene, area: PeopleArea, xy_m: Array) -> Bools:
    """Where people were looked for; at the end of a path also a little past it."""
    looked = scene.site.looked(xy_m, ("people",))
    if area.geometry != "line":
        return looked
    for part in area.parts:
        for end, before in ((part[0], part[1]), (part[-1], part[-2])):
            way = (end - before) / max(float(np.hypot(*(end - before))), 1e-9)
            if not scene.site.looked((end + BEYOND_M * way)[None], ("people",))[0]:
                looked &= np.hypot(*(xy_m - end).T) > 1e-6
    return looked
