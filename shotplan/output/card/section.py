"""A cut through the air at the tightest place of a shot.

It stands upright through the aircraft and the rider, so both are at their level distance and on
the ground that is there. Beyond the aircraft it goes on straight, or bends there toward what is
nearest where that lies off to the other side. Things are cut as they are drawn and as they are
reckoned, grown by their errors; what is measured is measured to the latter.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from shotplan.judging.judged import Finding, ShotPlan
from shotplan.kernels.rides import by_place
from shotplan.model import say
from shotplan.model.arrays import Array, Bools

NEAR_M = 0.05  # between points that a slope is taken from
LEVEL = 0.3  # of the way to the nearest thing that must be level, or it is over or under
STRAIGHT_M = 0.5  # level to the rider: nearer than this the cut is abeam
ACUTE = 0.25  # cosine: what is nearer to the rider's direction than this is on his side
FORE = 0.3  # sine of the angle off the ride within which it is ahead or behind
WIRE_M = 0.12  # how thick a wire is drawn
UNDER_M, OVER_M = 1.2, 2.5  # beyond what must be seen
REACH_M = 60.0
LEAST_M = 14.0  # across
FAR_M = 100.0
TURNS_M = 12.0  # the cut bends toward what is nearer than this
BESIDE_M = 4.0  # drawn beyond rider and thing
SECTORS = (
    *("ahead", "ahead right", "right", "behind right"),
    *("behind", "behind left", "left", "ahead left"),
)


class Room(NamedTuple):
    """Free air on one side: `edge_m` right of the aircraft (left negative), `room_m` to there,
    `thing` its index."""

    edge_m: float
    room_m: float
    thing: int


class Legs(NamedTuple):
    """The two halves of the cut, as level unit vectors from the aircraft: drawn to the left and
    to the right; `rider` 1 where he is on the right one, else -1; `bent` not one plane."""

    left: Array
    right: Array
    rider: float
    bent: bool

    def xy_m(self, craft: Array, across_m: Array) -> Array:
        """`(w, 2)` under the points so far across."""
        on = np.where(across_m[:, None] < 0.0, self.left, self.right)
        return np.asarray(craft[:2] + np.abs(across_m)[:, None] * on)


class Nearest(NamedTuple):
    """What it is nearest to there: `thing` (id or "ground"), how far, and on which side of the
    aircraft as it rides along ("" under or over it)."""

    thing: str
    metres: float
    side: str


class Section(NamedTuple):
    """The cut. `across_m (w,)` from the aircraft, negative to the left of the drawing, and
    `elevation_m (h,)`, falling; `drawn`, `grown (h, w)` index of the thing there (-1 air),
    `ground_m (w,)`; where the aircraft and the rider are, how far the rides stray in it
    (`strays_m`: left, right, down, up; None not flown); `rooms` to the left and right at the
    aircraft's height, `sample`, `legs`, `sides` of both in words (left, right), and `nearest`."""

    across_m: Array
    elevation_m: Array
    drawn: NDArray[np.intp]
    grown: NDArray[np.intp]
    ground_m: Array
    craft_m: float
    rider_m: tuple[float, float]
    strays_m: tuple[float, float, float, float] | None
    rooms: tuple[Room, ...]
    sample: int
    legs: Legs
    sides: tuple[str, str]
    nearest: Nearest | None


def tightest(shot: ShotPlan) -> tuple[int, Finding | None]:
    """The sample of the undisturbed flight where some ride has least room to anything, and whose
    finding that is."""
    ride = shot.scene.track.ride
    metres = by_place.metres(ride.along_m[0])
    best: tuple[tuple[float, ...], int, Finding | None] = ((math.inf,), ride.t_s.size // 2, None)
    for found in shot.findings:
        if found.of.nature.hits == "bodies" and found.unit == "m" and found.of.nature.placed:
            known = np.where(np.isnan(found.least), np.inf, found.least)
            least, usual = known.min(axis=0), np.minimum(known, FAR_M).mean(axis=0)
            order = np.lexsort((np.round(usual, 2), least))
            key = float(least[order[0]]), float(usual[order[0]])
            alike = order[(least[order] == key[0]) & (usual[order] < key[1] + 0.02)]
            at = int(np.sort(alike)[len(alike) // 2])
            if key < best[0]:
                best = key, int(np.abs(ride.along_m[0] - metres[at]).argmin()), found
    return best[1], best[2]


def section(shot: ShotPlan, shape: tuple[int, int]) -> Section:
    """The cut, in `(rows, cols)` points."""
    sample, found = tightest(shot)
    scene, (rows, cols) = shot.scene, shape
    terrain = scene.site.terrain
    craft = np.array(scene.track.xyz_m[0, sample])
    away = scene.track.ride.xyz_m[0, sample] - craft
    near_m, toward = _toward(shot, craft)
    legs = _legs(shot, sample, toward if near_m < TURNS_M else None)
    rider = (legs.rider * float(np.hypot(*away[:2])), float(craft[2] + away[2]))
    low, high = rider[1], max(float(craft[2]), rider[1] + 2.0)
    under = float(terrain.ground_m(craft[:2]))
    low = min(low, under) if np.isfinite(under) and under > craft[2] - REACH_M else low
    beyond = near_m * float(np.hypot(*toward[:2])) if near_m < TURNS_M else 0.0
    ends = sorted((rider[0] + legs.rider * BESIDE_M, -legs.rider * (beyond + BESIDE_M)))
    wide = max((high - low + UNDER_M + OVER_M) * cols / rows, ends[1] - ends[0], LEAST_M)
    metre = wide / cols
    middle = 0.5 * (ends[0] + ends[1])
    across: Array = np.asarray(middle + (np.arange(cols) + 0.5 - 0.5 * cols) * metre, dtype=float)
    spare = max(rows * metre - (high - low) - UNDER_M, 0.0)
    top = high + min(spare, max(OVER_M, 0.6 * spare))
    elevation: Array = np.asarray(top - (np.arange(rows) + 0.5) * metre, dtype=float)
    xy = legs.xy_m(craft, across)
    points = np.empty((rows, cols, 3))
    points[..., :2], points[..., 2] = xy[None], elevation[:, None]
    solid = [_cut(shot, points, grown) for grown in (False, True)]
    course = float(scene.track.ride.course_rad[0, sample])
    sides = (_side(legs.left, course), _side(legs.right, course))
    return Section(
        across, elevation, solid[0], solid[1], np.asarray(terrain.ground_m(xy)), float(craft[2]),
        rider, _strays(shot, sample, legs), _rooms(shot, craft, legs, across), sample, legs, sides,
        _nearest(shot, sample, found, near_m, _side(toward, course)),
    )  # fmt: skip


def _legs(shot: ShotPlan, sample: int, toward: Array | None) -> Legs:
    """Through the rider, and on: straight, or `toward` what is nearest where that is not on his
    side. Left is left of who rides; of rider and thing ahead or behind, left is chosen by the
    other, else he is drawn riding to the right."""
    ride = shot.scene.track.ride
    course = float(ride.course_rad[0, sample])
    ahead = np.array([math.sin(course), math.cos(course)])
    abeam = np.array([ahead[1], -ahead[0]])
    away = np.array(ride.xyz_m[0, sample, :2] - shot.scene.track.xyz_m[0, sample, :2])
    far = float(np.hypot(*away))
    one = away / far if far >= STRAIGHT_M else abeam
    other = -one
    if toward is not None and float(np.hypot(*toward[:2])) >= LEVEL:
        level = toward[:2] / float(np.hypot(*toward[:2]))
        other = level if float(level @ one) < ACUTE else other
    bent = float(one @ other) > -0.985
    aside = float(one @ abeam)
    if abs(aside) < FORE:
        by = -float(other @ abeam)
        aside = by if bent and abs(by) > FORE else float(one @ ahead)
    if aside >= 0.0:
        return Legs(other, one, 1.0, bent)
    return Legs(one, other, -1.0, bent)


def _toward(shot: ShotPlan, craft: Array) -> tuple[float, Array]:
    """How far the nearest thing is that is reckoned with, and the unit vector to it."""
    steps = NEAR_M * np.concatenate([-np.eye(3), np.eye(3), np.zeros((1, 3))])
    near = _near(shot, craft + steps)
    if not np.isfinite(near).all():
        return math.inf, np.zeros(3)
    toward = near[:3] - near[3:6]
    long = float(np.linalg.norm(toward))
    return float(near[6]), np.asarray(toward / long if long > 0.0 else toward)


def _side(toward: Array, course: float) -> str:
    """`ahead left`, as one rides; "" over or under."""
    if float(np.hypot(*toward[:2])) < LEVEL:
        return ""
    return SECTORS[say.sector(math.atan2(toward[0], toward[1]) - course, len(SECTORS))]


def _nearest(
    shot: ShotPlan, sample: int, found: Finding | None, near_m: float, side: str
) -> Nearest | None:
    """By what is found, unless something stands nearer that is not judged in metres."""
    craft = shot.scene.track.xyz_m[0, sample]
    obstacles = shot.scene.site.obstacles
    bodies = (obstacles.rest_grown, obstacles.wires_grown)
    each = [one.nearest(craft[None]) for one in bodies]
    thing = min(((float(n.distance_m[0]), int(n.thing[0])) for n in each), key=lambda n: n[0])[1]
    stands = obstacles.things[thing].id if thing >= 0 else ""
    value = math.nan if found is None else float(found.values[sample])
    if found is not None and math.isfinite(value) and not (stands and near_m < value):
        named = str(found.things[sample]) or found.check
        return Nearest(named, value, side if named == stands else "")
    return Nearest(stands, near_m, side) if stands and math.isfinite(near_m) else None


def _near(shot: ShotPlan, points: Array) -> Array:
    """How far points are from what is reckoned with, wires too."""
    obstacles = shot.scene.site.obstacles
    bodies = (obstacles.rest_grown, obstacles.wires_grown)
    return np.minimum(*(one.nearest(points).distance_m for one in bodies))


def _cut(shot: ShotPlan, points: Array, grown: bool) -> NDArray[np.intp]:
    """Whose solid each point lies in; -1 air. What has no known height reaches all the way up."""
    obstacles = shot.scene.site.obstacles
    rest = obstacles.rest_grown if grown else obstacles.rest_drawn
    wires = obstacles.wires_grown if grown else obstacles.wires_drawn
    flat = points.reshape(-1, 3)
    found = np.full(len(flat), -1, dtype=np.intp)
    for bodies, thick in ((rest, 1e-6), (wires, WIRE_M)):
        near = bodies.nearest(flat, enough_m=thick + 0.01)
        found = np.where((near.distance_m <= thick) & (near.thing >= 0), near.thing, found)
        doubt = bodies.nearest_doubt(flat, enough_m=thick + 0.01)
        found = np.where((doubt.distance_m <= thick) & (doubt.thing >= 0), doubt.thing, found)
    return np.asarray(found.reshape(points.shape[:2]))


def _rooms(shot: ShotPlan, craft: Array, legs: Legs, across: Array) -> tuple[Room, ...]:
    """To what is reckoned with, straight left and right of the aircraft, as far as one sees."""
    found = []
    for side in (-1.0, 1.0):
        reach = float((across * side).max())
        out = np.arange(0.001, reach, 0.05)
        points = np.empty((1, len(out), 3))
        points[0, :, :2] = legs.xy_m(craft, side * out)
        points[0, :, 2] = craft[2]
        hit = _cut(shot, points, True)[0]
        met: Bools = hit >= 0
        if met.any():
            at = int(met.argmax())
            found.append(Room(float(side * out[at]), float(out[at]), int(hit[at])))
    return tuple(found)


def _strays(shot: ShotPlan, sample: int, legs: Legs) -> tuple[float, float, float, float] | None:
    """How far 99 of 100 rides take it aside along both halves, and down and up of there."""
    ways = shot.corridor
    if ways is None:
        return None
    ride = shot.scene.track.ride
    at = int(np.abs(ways.along_m - ride.along_m[0, sample]).argmin())
    port, board = (float(v) for v in ways.across_m[-1][:, at])
    down, up = (float(v) for v in ways.up_m[-1][:, at])
    course = float(ride.course_rad[0, sample])
    abeam = np.array([math.cos(course), -math.sin(course)])
    left, right = (
        max(part * (board if part > 0.0 else port), 0.0)
        for part in (float(legs.left @ abeam), float(legs.right @ abeam))
    )
    return -left, right, down, up
