"""A cut through the air at the tightest place of a shot, looking along the ride.

The plane stands upright through the aircraft and what it comes nearest to (straight abeam where
that lies above or below it, or there is nothing). Things are cut as they are drawn and as they are
reckoned, grown by their errors; what is measured is measured to the latter.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from shotplan.judging.judged import Finding, ShotPlan
from shotplan.kernels.rides import by_place
from shotplan.model.arrays import Array, Bools

NEAR_M = 0.05  # between points that a slope is taken from
LEVEL = 0.3  # of the way to the nearest thing that must be level, or the cut is abeam
WIRE_M = 0.12  # how thick a wire is drawn
UNDER_M, OVER_M = 1.2, 2.5  # beyond what must be seen
REACH_M = 60.0
FAR_M = 100.0
TURNS_M = 12.0  # the plane goes through what is nearer than this


class Room(NamedTuple):
    """Free air on one side: `edge_m` right of the aircraft (left negative), `room_m` to there,
    `thing` its index."""

    edge_m: float
    room_m: float
    thing: int


class Section(NamedTuple):
    """The cut. `across_m (w,)` right of the aircraft and `elevation_m (h,)`, falling; `drawn`,
    `grown (h, w)` index of the thing there (-1 air), `ground_m (w,)`; where the aircraft and the
    rider are, how far the rides stray (`strays_m`: left, right, down, up; None not flown);
    `rooms` to the left and right at the aircraft's height, `sample`, and `found` what is tight."""

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
    found: Finding | None


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
    site = scene.site
    craft = np.array(scene.track.xyz_m[0, sample])
    right = _right(shot, sample)
    away = scene.track.ride.xyz_m[0, sample] - craft
    rider = (float(away[:2] @ right), float(craft[2] + away[2]))
    low, high = rider[1], max(float(craft[2]), rider[1] + 2.0)
    under = float(site.terrain.ground_m(craft[:2]))
    low = min(low, under) if np.isfinite(under) and under > craft[2] - REACH_M else low
    wide = _wide(shot, craft, rider[0], (low, high), cols / rows)
    metre = wide / cols
    middle = 0.5 * min(max(rider[0], -0.7 * wide), 0.7 * wide)
    across: Array = np.asarray(middle + (np.arange(cols) + 0.5 - 0.5 * cols) * metre, dtype=float)
    spare = max(rows * metre - (high - low) - UNDER_M, 0.0)
    top = high + min(spare, max(OVER_M, 0.6 * spare))
    elevation: Array = np.asarray(top - (np.arange(rows) + 0.5) * metre, dtype=float)
    xy = craft[:2] + across[:, None] * right
    points = np.empty((rows, cols, 3))
    points[..., :2], points[..., 2] = xy[None], elevation[:, None]
    solid = [_cut(shot, points, grown) for grown in (False, True)]
    rooms = _rooms(shot, craft, right, across)
    return Section(
        across, elevation, solid[0], solid[1], np.asarray(site.terrain.ground_m(xy)),
        float(craft[2]), rider, _strays(shot, sample), rooms, sample, found,
    )  # fmt: skip


def _right(shot: ShotPlan, sample: int) -> Array:
    """The level unit vector of the plane, toward the right of who rides there."""
    scene = shot.scene
    course = float(scene.track.ride.course_rad[0, sample])
    abeam = np.array([math.cos(course), -math.sin(course)])
    craft = np.array(scene.track.xyz_m[0, sample])
    steps = np.array([[d, 0.0, 0.0] for d in (-NEAR_M, NEAR_M)])
    points = craft + np.concatenate([steps, steps[:, [1, 0, 2]]])
    near = _near(shot, points)
    if not near.max() < TURNS_M:
        return abeam
    toward = np.array([near[0] - near[1], near[2] - near[3]]) / (2.0 * NEAR_M)
    level = float(np.hypot(*toward))
    if level < LEVEL:
        return abeam
    return np.asarray(toward / level * math.copysign(1.0, float(toward @ abeam)))


def _near(shot: ShotPlan, points: Array) -> Array:
    """How far points are from what is reckoned with, wires too."""
    obstacles = shot.scene.site.obstacles
    bodies = (obstacles.rest_grown, obstacles.wires_grown)
    return np.minimum(*(one.nearest(points).distance_m for one in bodies))


def _wide(
    shot: ShotPlan, craft: Array, rider: float, ends: tuple[float, float], aspect: float
) -> float:
    """How many metres across: aircraft, rider, the ground and what is nearest are all in it."""
    near = float(_near(shot, craft[None])[0])
    near = near if near < 1.5 * (ends[1] - ends[0]) + 6.0 else 0.0
    high = ends[1] - ends[0] + UNDER_M + OVER_M
    return max(high * aspect, 2.6 * near + 4.0, 1.35 * abs(rider) + 8.0, 14.0)


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


def _rooms(shot: ShotPlan, craft: Array, right: Array, across: Array) -> tuple[Room, ...]:
    """To what is reckoned with, straight left and right of the aircraft, as far as one sees."""
    found = []
    for side in (-1.0, 1.0):
        reach = float((across * side).max())
        out = np.arange(0.0, reach, 0.05)
        points = np.empty((1, len(out), 3))
        points[0, :, :2] = craft[:2] + side * out[:, None] * right
        points[0, :, 2] = craft[2]
        hit = _cut(shot, points, True)[0]
        met: Bools = hit >= 0
        if met.any():
            at = int(met.argmax())
            found.append(Room(float(side * out[at]), float(out[at]), int(hit[at])))
    return tuple(found)


def _strays(shot: ShotPlan, sample: int) -> tuple[float, float, float, float] | None:
    """How far 99 of 100 rides take it left, right, down and up of there."""
    ways = shot.corridor
    if ways is None:
        return None
    at = int(np.abs(ways.along_m - shot.scene.track.ride.along_m[0, sample]).argmin())
    left, right = (float(v) for v in ways.across_m[-1][:, at])
    down, up = (float(v) for v in ways.up_m[-1][:, at])
    return left, right, down, up
