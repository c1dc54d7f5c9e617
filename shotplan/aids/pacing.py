"""What is worth pacing on arrival: obstacles whose error on the map decides a shot.

A thing that was drawn on a map is grown by one standard error; paced from the track it is
trusted to 0.5 m. So for each there is a distance from the track from which on, measured, the shot
keeps its limit: the thing as drawn, grown by 0.5 m only, is moved straight away from the track
until every sample of the undisturbed flight, with its overrun where it is blind, clears it; what
the disturbed rides need more than the undisturbed one is added.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import replace
from typing import Literal, NamedTuple

import numpy as np

from shotplan.judging.judged import Finding, ShotPlan
from shotplan.kernels.rides import by_place
from shotplan.kernels.solids import prisms
from shotplan.model import say
from shotplan.model.arrays import Array, Bools
from shotplan.model.obstacles import Bodies, Thing

PACED_M = 0.5  # how well a paced thing is trusted (DEFINITIONS "Error")
NEAR_M = 5.0  # to spare, undisturbed: where there is more, gusts do not make a thing decide
MOST = 4  # of them are worth the time: own choice
FARTHEST_M = 12.0  # a thing is not looked for farther off than this from where it was drawn
STEP_M = 0.25
ROUND_M = 0.5  # how precisely one paces

Bound = Literal["at-least", "at-most"]


class Pace(NamedTuple):
    """One thing to pace. `along_m` where the ride passes it, `side` of it; `drawn_m` from the
    track as drawn (to the middle of a trunk or pole, to the near face of a building), `wanted_m`
    and its `bound`; `shots` by index."""

    thing: Thing
    along_m: float
    side: Literal["left", "right"]
    drawn_m: float
    wanted_m: float
    bound: Bound
    shots: tuple[int, ...]

    @property
    def spare_m(self) -> float:
        """What is left as drawn; negative: as drawn it does not do."""
        off = self.drawn_m - self.wanted_m
        return off if self.bound == "at-least" else -off


def worth_pacing(shots: Iterable[ShotPlan], most: int = MOST) -> tuple[Pace, ...]:
    """The tightest few, in the order in which one comes to them along the ride."""
    found: dict[tuple[str, Bound], Pace] = {}
    for index, shot in enumerate(shots):
        for pace in _of_shot(shot, index):
            key = (pace.thing.id, pace.bound)
            other = found.get(key)
            if other is None:
                found[key] = pace
                continue
            worse = min(other, pace, key=lambda p: p.spare_m)
            found[key] = worse._replace(shots=(*other.shots, index))
    tight = sorted(found.values(), key=lambda p: (p.spare_m, p.along_m))[:most]
    return tuple(sorted(tight, key=lambda p: (p.along_m, p.thing.id)))


def _of_shot(shot: ShotPlan, index: int) -> Iterator[Pace]:
    clearance = shot.asked("clearance")
    if clearance is None:
        return
    known = np.isfinite(clearance.margins)
    nearest = set(clearance.things[known].tolist())
    for k, thing in enumerate(shot.scene.site.obstacles.things):
        if thing.id not in nearest or thing.paced or thing.role in ("wire", "wood"):
            continue
        if thing.error_m <= PACED_M + 0.1:
            continue
        mine = (clearance.things == thing.id) & known
        row = float(np.nanmin(np.where(mine, clearance.margins, np.nan)))
        more = _more_m(shot, clearance, mine, row) if row < NEAR_M else 0.0
        if row - more < thing.error_m - PACED_M and (pace := _pace(shot, index, k, more)):
            yield pace


def _more_m(shot: ShotPlan, found: Finding, mine: Bools, row_m: float) -> float:
    """How much more than the undisturbed ride the allowed share of rides needs where a thing is
    the nearest: nothing where they keep the limit (margins that are kept are not exact). What is
    not known is passed over."""
    along = shot.scene.track.ride.along_m[0]
    metres = by_place.metres(along)
    near = np.zeros(len(metres), dtype=bool)
    near[np.clip(np.searchsorted(metres, along[mine]), 0, len(metres) - 1)] = True
    share = found.parts[0].share if found.parts else 0.0
    rides = found.parts[0].least if found.parts else found.least
    least = np.nan_to_num(rides[:, near].astype(float), nan=np.inf).min(axis=1)
    others = least[1:] if len(least) > 1 else least
    worse = float(np.sort(others)[int(share * len(others))])
    return row_m - worse if worse < min(row_m, 0.0) else 0.0


class _Stand(NamedTuple):
    """Where a thing stands as drawn: abeam of sample `at` of the ride, `drawn_m` off along `out
    (2,)`."""

    at: int
    drawn_m: float
    out: Array


def _pace(shot: ShotPlan, index: int, k: int, more_m: float) -> Pace | None:
    """The distance a thing must have; None where moving it changes nothing, or cures nothing."""
    scene = shot.scene
    thing, ride = scene.site.obstacles.things[k], scene.track.ride
    stand = _stand(scene.site.obstacles.rest_drawn, k, thing, np.array(ride.xyz_m[0, :, :2]))
    if stand is None:
        return None
    inward = -np.arange(0.0, min(stand.drawn_m, FARTHEST_M), STEP_M)[::-1]
    shifts = np.concatenate([inward, np.arange(STEP_M, FARTHEST_M + 1e-9, STEP_M)])
    good = _clear(shot, k, thing, stand.out, shifts, more_m)
    if good.all() or not (good[0] or good[-1]):
        return None
    wanted_m, bound = _bound(stand.drawn_m + shifts, good, stand.drawn_m)
    course = float(ride.course_rad[0, stand.at])
    right = float(stand.out @ np.array([np.cos(course), -np.sin(course)]))
    side: Literal["left", "right"] = "right" if right > 0.0 else "left"
    along = float(ride.along_m[0, stand.at])
    return Pace(thing, along, side, stand.drawn_m, wanted_m, bound, (index,))


def _bound(off_m: Array, good: Bools, drawn_m: float) -> tuple[float, Bound]:
    """Of the distances `off_m` (rising) from the track at which it is clear: from the nearer of
    the ends that is."""
    bad = np.flatnonzero(~good)
    found: list[tuple[float, float, Bound]] = []
    if good[-1]:
        least = float(off_m[bad[-1] + 1])
        found.append((least - drawn_m, say.rounded_up(least, ROUND_M), "at-least"))
    if good[0]:
        most = float(off_m[bad[0] - 1])
        found.append((drawn_m - most, say.rounded_down(most, ROUND_M), "at-most"))
    _, wanted, bound = min(found)
    return wanted, bound


def _stand(bodies: Bodies, k: int, thing: Thing, path_m: Array) -> _Stand | None:
    """None where the ride leads through it."""
    middle = thing.where_m.mean(axis=0)
    if len(thing.where_m) == 1:
        away = np.hypot(*(path_m - middle).T)
    else:
        mine = bodies.prism_thing == k
        walls = prisms.Prisms(*(field[mine] for field in bodies.prisms))
        away = prisms.plan_distance(walls, path_m).min(axis=1, initial=np.inf)
    at = int(np.argmin(away))
    out = middle - path_m[at]
    length = float(np.hypot(*out))
    if not 0.0 < away[at] < np.inf or length == 0.0:
        return None
    return _Stand(at, float(away[at]), out / length)


def _clear(
    shot: ShotPlan, k: int, thing: Thing, out: Array, shifts_m: Array, more_m: float
) -> Bools:
    """Whether the flight clears a thing that stands each of `shifts_m` farther off than drawn."""
    scene = shot.scene
    top_m = scene.site.obstacles.top_m(thing)
    part = _paced(scene.site.obstacles.rest_drawn, k, top_m, thing.height_error_m)
    limit = scene.keep_m + more_m
    start, end = np.array(scene.track.xyz_m[0]), scene.overrun_end_m[0]
    reach = limit + FARTHEST_M + float(scene.overrun_m[0].max()) + 1.0
    near = np.isfinite(part.nearest(start, reach).distance_m)
    moved = np.append(out, 0.0) * shifts_m[:, None, None]
    start, end = (start[near] - moved).reshape(-1, 3), (end[near] - moved).reshape(-1, 3)
    least, _ = part.least_along(start, end, limit + 0.01)
    return np.asarray((least.reshape(len(shifts_m), -1) >= limit).all(axis=1))


def _paced(bodies: Bodies, k: int, top_m: float, down_m: float) -> Bodies:
    """One thing alone, grown as if it had been paced; as high as it may be where it is drawn."""
    alone = bodies.alone(k)
    posts, walls = alone.columns, alone.prisms
    return replace(
        alone,
        columns=posts._replace(
            radius_m=posts.radius_m + PACED_M,
            bottom_m=posts.bottom_m - down_m,
            top_m=np.full_like(posts.top_m, top_m),
        ),
        prisms=walls._replace(
            radius_m=walls.radius_m + PACED_M, top_m=np.full_like(walls.top_m, top_m)
        ),
    )
