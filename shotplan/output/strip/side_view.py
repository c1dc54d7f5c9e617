"""A shot from the side, as numbers: what `profile` draws.

Where the flight follows the rider it goes by metres of the ride; where it keeps its own clock (an
orbit, a hold, a rise, a fly-by) by seconds, because there a metre of the ride says little.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from shotplan.judging.judged import ShotPlan
from shotplan.kernels.solids import columns
from shotplan.kernels.solids import prisms as walls
from shotplan.model.arrays import Array, Bools
from shotplan.model.obstacles import Bodies, Role, Thing

POINTS = 240  # of one shot that are drawn
NEAR_M = 20.0  # what stands abeam as near as this to the aircraft's way is drawn
STILL_M_S = 0.5  # slower than this nothing is abeam: all around counts
BLOCK = 1000  # pieces looked at together
ROUNDS = 12  # of climbing to the ceiling measured to the nearest surface


class Standing(NamedTuple):
    """Something beside the way. `bottom_m`, `top_m (m,)` elevations where it stands abeam, NaN
    elsewhere; `top_m` +inf where its height is not known. `nearest` of the `m` places, there it is
    `away_m` off (level), `right_m` (left negative) to the side."""

    label: str
    role: Role
    bottom_m: Array
    top_m: Array
    nearest: int
    away_m: float
    right_m: float


class SideView(NamedTuple):
    """One shot at `m` of its samples. `x` metres of the ride, or seconds where `by_time`, never
    falling; `sample` which ones. Elevations: `ground_m` under the aircraft (NaN not known),
    `rider_m`, `flown_m`, and the ceilings `straight_m` (straight down) and `nearest_m` (from the
    nearest ground). `code` the word's. Where samples are left out, the highest ground and the worst
    word stand for them."""

    by_time: bool
    x: Array
    sample: NDArray[np.intp]
    ground_m: Array
    rider_m: Array
    flown_m: Array
    straight_m: Array
    nearest_m: Array
    code: NDArray[np.int8]
    standing: tuple[Standing, ...]


def side_view(shot: ShotPlan) -> SideView:
    """The undisturbed flight of a shot, from the side."""
    scene = shot.scene
    ride = scene.track.ride
    by_time = scene.wish is not None and not scene.wish.follows_rider
    along = ride.t_s - ride.t_s[0] if by_time else ride.along_m[0]
    kept = _kept(np.asarray(along))
    ground = np.maximum.reduceat(scene.ground_m[0], kept)  # NaN wins
    return SideView(
        by_time=by_time,
        x=np.asarray(along)[kept],
        sample=kept,
        ground_m=ground,
        rider_m=ride.xyz_m[0, kept, 2],
        flown_m=scene.track.xyz_m[0, kept, 2],
        straight_m=scene.ground_m[0, kept] + scene.rules.height.limit_m,
        nearest_m=ceiling_m(shot, kept),
        code=np.maximum.reduceat(shot.sample_verdict, kept),
        standing=_standing(shot, kept),
    )


def _kept(along: Array) -> NDArray[np.intp]:
    """The first sample of each of `POINTS` parts of the way, and the last one."""
    span = float(along[-1] - along[0])
    part = np.floor((along - along[0]) / max(span, 1e-9) * POINTS)
    first = np.concatenate([[True], np.diff(part) > 0.0])
    first[-1] = True
    return np.flatnonzero(first)


def ceiling_m(shot: ShotPlan, samples: NDArray[np.intp]) -> Array:
    """Elevation at which the aircraft would be as far from the nearest ground as the pack allows,
    straight above `samples`; it climbs by what is left, which never takes it too far."""
    terrain, limit = shot.scene.site.terrain, shot.scene.rules.height.limit_m
    xyz = np.array(shot.scene.track.xyz_m[0, samples])
    for _ in range(ROUNDS):
        away = terrain.distance_m(xyz)
        xyz[:, 2] += np.where(np.isfinite(away), limit - away, np.nan)
    return np.asarray(xyz[:, 2])


class _Way(NamedTuple):
    """The way seen from above: places `(m, 2)`, unit vectors ahead and to the right `(m, 2)`, half
    of the gap to its neighbours `(m,)`, where it stands still `(m,)`."""

    xy_m: Array
    ahead: Array
    right: Array
    half_m: Array
    still: Bools


def _way(shot: ShotPlan, kept: NDArray[np.intp]) -> _Way:
    track = shot.scene.track
    xy, velocity = track.xyz_m[0, kept, :2], track.velocity_m_s[0, kept, :2]
    speed = np.hypot(velocity[:, 0], velocity[:, 1])
    still = speed < STILL_M_S
    nose = track.heading_rad[0, kept]
    facing = np.stack([np.sin(nose), np.cos(nose)], axis=-1)
    ahead = np.where(still[:, None], facing, velocity / np.maximum(speed, 1e-9)[:, None])
    steps = np.hypot(*np.diff(xy, axis=0).T)
    half = 0.5 * np.maximum(np.append(steps, 0.0), np.append(0.0, steps))
    return _Way(xy, ahead, np.stack([ahead[:, 1], -ahead[:, 0]], axis=-1), half, still)


def _standing(shot: ShotPlan, kept: NDArray[np.intp]) -> tuple[Standing, ...]:
    """Everything abeam within reach, the nearest first."""
    obstacles, way = shot.scene.site.obstacles, _way(shot, kept)
    found: list[Standing] = []
    for bodies in (obstacles.rest_drawn, obstacles.wires_drawn):
        pieces, owner = _pieces(bodies)
        near = np.flatnonzero(_reachable(pieces, way))
        for thing in np.unique(owner[near]).tolist():
            own = near[owner[near] == thing]
            one = walls.Prisms(*(part[own] for part in pieces))
            seen = _seen(obstacles.things[thing], one, way)
            if seen is not None:
                found.append(seen)
    return tuple(sorted(found, key=lambda s: (s.away_m, s.label)))


def _pieces(bodies: Bodies) -> tuple[walls.Prisms, NDArray[np.intp]]:
    """Columns and footprints alike as rounded triangles; those of unknown height have no top."""
    posts, solid, doubtful = bodies.columns, bodies.prisms, bodies.doubtful
    discs = np.repeat(posts.xy_m[:, None], 3, axis=1)
    none = np.zeros(len(doubtful.radius_m))
    parts = (
        walls.Prisms(discs, posts.radius_m, posts.bottom_m, posts.top_m),
        solid,
        walls.Prisms(doubtful.corners_m, none, none - np.inf, none + np.inf),
    )
    owner = (bodies.column_thing, bodies.prism_thing, bodies.doubtful_thing)
    return walls.Prisms(*(np.concatenate(c) for c in zip(*parts, strict=True))), np.concatenate(
        owner
    )


def _reachable(pieces: walls.Prisms, way: _Way) -> Bools:
    """Pieces the circle round which comes so near to a place of the way that they may be abeam."""
    middle = pieces.corners_m.mean(axis=1)
    wide = np.linalg.norm(pieces.corners_m - middle[:, None], axis=-1).max(axis=1, initial=0.0)
    reach = NEAR_M + wide + 2.0 * pieces.radius_m + float(way.half_m.max(initial=0.0))
    return np.asarray(columns.to_places_m(way.xy_m, middle) <= reach)


def _seen(thing: Thing, pieces: walls.Prisms, way: _Way) -> Standing | None:
    """A thing where it stands abeam; None where it nowhere does."""
    bottom = np.full(len(way.xy_m), np.inf)
    top = np.full(len(way.xy_m), -np.inf)
    away, right = np.full(len(way.xy_m), np.inf), np.zeros(len(way.xy_m))
    for start in range(0, len(pieces.top_m), BLOCK):
        some = walls.Prisms(*(column[start : start + BLOCK] for column in pieces))
        left_m, right_m = _across(some, way)
        distance = walls.plan_distance(some, way.xy_m)
        off = np.maximum(np.maximum(left_m, -right_m), 0.0)
        abeam = np.where(way.still[:, None], distance <= NEAR_M, off <= NEAR_M)
        bottom = np.minimum(bottom, np.where(abeam, some.bottom_m, np.inf).min(axis=1))
        top = np.maximum(top, np.where(abeam, some.top_m, -np.inf).max(axis=1))
        distance = np.where(abeam, distance, np.inf)
        nearest = distance.argmin(axis=1)
        row = np.arange(len(nearest))
        nearer = distance[row, nearest] < away
        middle = pieces.corners_m[start + nearest].mean(axis=1) - way.xy_m
        right = np.where(nearer, (middle * way.right).sum(axis=1), right)
        away = np.where(nearer, distance[row, nearest], away)
    there = np.isfinite(away)
    if not there.any():
        return None
    at = int(away.argmin())
    return Standing(
        thing.label,
        thing.role,
        np.where(there, bottom, np.nan),
        np.where(there, top, np.nan),
        at,
        float(away[at]),
        float(right[at]),
    )


def _across(pieces: walls.Prisms, way: _Way) -> tuple[Array, Array]:
    """`(m, pieces)` how far to the right each piece begins and ends, straight abeam (half a gap
    ahead and behind counts); +inf, -inf where it is not abeam."""
    away = pieces.corners_m[None] - way.xy_m[:, None, None]
    ahead = (away * way.ahead[:, None, None]).sum(axis=-1)
    right = (away * way.right[:, None, None]).sum(axis=-1)
    room = (way.half_m[:, None] + pieces.radius_m)[..., None]
    step, aside = np.roll(ahead, -1, axis=-1) - ahead, np.roll(right, -1, axis=-1) - right
    level = np.abs(step) < 1e-9
    over = np.where(level, 1.0, step)
    ends = np.stack([(-room - ahead) / over, (room - ahead) / over]).clip(0.0, 1.0)
    ends = np.where(level, np.array([0.0, 1.0])[:, None, None, None], ends)
    touches = np.where(level, np.abs(ahead) <= room, np.abs(ends[1] - ends[0]) > 0.0)
    touches |= np.abs(ahead) <= room
    at = right + ends * aside
    low = np.where(touches, at.min(axis=0), np.inf).min(axis=-1) - pieces.radius_m
    high = np.where(touches, at.max(axis=0), -np.inf).max(axis=-1) + pieces.radius_m
    return low, high
