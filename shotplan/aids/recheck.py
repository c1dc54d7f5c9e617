"""A plan asked again on the hill: what a measured wind, another hour, a paced distance make of it.

One table per shot, plain arrays, computed once; looking an entry up in it needs no more than
rounding to the worse side. It may only tighten: a shot's word is the worst of the plan's own and
of what the entries say, and where the table ends it is unknown. The same rule is written twice, in
`output/recheck.js` and, to test that, in `tests/output/recheck_twin.py`.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from typing import NamedTuple

import numpy as np

from shotplan.aids.recheck_wind import CAUTION, GO, NO_GO, UNKNOWN, Codes, Winds, winds
from shotplan.judging.judged import Plan, ShotPlan
from shotplan.kernels.light import light
from shotplan.kernels.rides import thinning
from shotplan.kernels.solids import footprints
from shotplan.model.arrays import Array, Bools
from shotplan.model.obstacles import Thing
from shotplan.model.ride import Ride
from shotplan.model.site import LEAST_HEIGHT_M
from shotplan.model.verdict import Verdict
from shotplan.scene import energy, sun, sunlight, timeline
from shotplan.scene.scene import Scene
from shotplan.scene.watching import watchers

STEP_MIN = 10
REACH_MIN = 180
OFFSETS_MIN = np.arange(-REACH_MIN, REACH_MIN + 1, STEP_MIN)
THIN = 10  # samples from one moving eye that is asked for the sun to the next
PACED_ERROR_M = 0.5  # of what is described from the ride (DEFINITIONS)
WORTH_M = 10.0  # what the flight keeps at least this much more than it needs from is not paced
MOST = 8  # things to pace for one shot: nobody paces more
ROLES = ("tree", "building", "pole")  # of a wood or a wire one cannot pace the place


class Pace(NamedTuple):
    """A thing worth pacing, from the ride line to the middle of its trunk or pole or its near
    wall: `thing` index into the site's, `at_m` along the ride, `drawn_m` how far off it is drawn;
    from `near_m` to `far_m` the plan has counted on it, beyond `least_m` or `most_m` the
    undisturbed flight no longer keeps clear of it."""

    thing: int
    at_m: float
    drawn_m: float
    near_m: float
    far_m: float
    least_m: float
    most_m: float


@dataclass(frozen=True, kw_only=True)
class Recheck:
    """One shot's table: the plan's own `verdict`; `winds`; `times (37,)` verdict codes were it
    begun `OFFSETS_MIN` from `start`, each the worst within a step of it; what to `pace`."""

    verdict: Verdict
    winds: Winds
    start: datetime
    times: Codes
    pace: tuple[Pace, ...]


def recheck(plan: Plan, shot: ShotPlan) -> Recheck:
    """The table of one shot of a plan."""
    scene = shot.scene
    return Recheck(
        verdict=shot.verdict,
        winds=winds(scene, plan.outing.disturbance, shot.rides),
        start=_start(scene),
        times=_times(scene),
        pace=_paces(scene, plan.outing.ride),
    )


def _start(scene: Scene) -> datetime:
    return scene.day.start if scene.start is None else scene.start


# -- another hour


def _times(scene: Scene) -> Codes:
    """At every offset; one step to either side counts, so that nothing between is spared."""
    wide = np.pad(_Hours(scene).codes(OFFSETS_MIN.tolist()), 1, mode="edge")
    return np.asarray(np.maximum.reduce([wide[:-2], wide[1:-1], wide[2:]]))


class _Hours:
    """A shot at other hours of its date: light, glare, what the eyes have to see by, and whether
    all takes end in the light."""

    def __init__(self, scene: Scene) -> None:
        self._scene = scene
        self._zone, self._frame = scene.day.timezone, scene.site.frame
        self._date = _start(scene).astimezone(self._zone).date()
        self._noon = sun.day_of(_start(scene), self._zone, *self._place).noon
        self._limits: dict[bool, sunlight.Limits] = {}
        self._flight = energy.likely(scene)
        self._ends = timeline.light_of(scene.day, scene.rules, self._frame)
        self._watchers = watchers(scene)

    @property
    def _place(self) -> tuple[float, float]:
        return self._frame.lon_deg, self._frame.lat_deg

    def codes(self, minutes: Sequence[int]) -> Codes:
        """Verdict codes, were it begun so many minutes later than planned."""
        starts = [_start(self._scene) + timedelta(minutes=m) for m in minutes]
        codes = np.full(len(starts), UNKNOWN, dtype=np.int8)  # another date: seasons, another sun
        here = [k for k, start in enumerate(starts) if self._on_its_date(start)]
        thens = [replace(self._scene, start=starts[k]) for k in here]
        for k, then, dazzled in zip(here, thens, self._dazzled(thens), strict=True):
            codes[k] = max(self._lit(then), dazzled, self._sensed(then), self._ended(starts[k]))
        return codes

    def _on_its_date(self, start: datetime) -> bool:
        ends = self._scene.track.ride.t_s[[0, -1]].tolist()
        moments = (start + timedelta(seconds=end) for end in ends)
        return all(at.astimezone(self._zone).date() == self._date for at in moments)

    def _ended(self, start: datetime) -> int:
        if self._flight is None:
            return GO
        clock = timeline.Clock(self._scene.day, start)
        clock.shot(0, self._scene.shot.takes, self._flight.shot_s, self._flight)
        takes = [timeline.fits(s, self._ends) for s in clock.slots if s.what == "take"]
        return GO if all(takes) else CAUTION

    def _lit(self, then: Scene) -> int:
        """The sun's height against what the pack asks, and the light against what eyes need."""
        at = _start(then) + timedelta(seconds=float(then.track.ride.t_s[0]))
        half = at < self._noon
        if half not in self._limits:
            self._limits[half] = sunlight.limits(then.rules.day, at, self._zone, self._frame)
        found, least = self._limits[half], math.degrees(float(then.sun_rad[1].min()))
        if found.none is not None and least < found.none.elevation_deg:
            return NO_GO
        if found.lamp is not None and least < found.lamp.elevation_deg:
            return CAUTION
        needs = max(then.aircraft.least_light_lux, default=0.0)
        return CAUTION if float(then.light_over_hills.lux.min()) < needs else GO

    def _dazzled(self, thens: Sequence[Scene]) -> Codes:
        """Of each hour whether who watches looks into the sun; hidden by hills for the whole shot
        or not."""
        up = np.array([float(then.sun_rad[1].max()) > 0.0 for then in thens], dtype=bool)
        if not self._watchers:
            return np.where(up, UNKNOWN, GO).astype(np.int8)
        codes = np.full(len(thens), GO, dtype=np.int8)
        for watcher in self._watchers:
            way = self._scene.track.xyz_m[0] - watcher.eye_m
            nowhere = np.isnan(way).any(axis=1)
            way = np.where(nowhere[:, None], 1.0, way)
            near = [
                nowhere | (np.degrees(light.angle_rad(way, then.toward_sun)) < light.GLARE_DEG)
                for then in thens
            ]
            glares = np.flatnonzero([some.any() for some in near])
            up = self._up(watcher.eye_m, [thens[k].toward_sun for k in glares.tolist()])
            worst = UNKNOWN if nowhere.any() else CAUTION
            codes[glares[up]] = np.maximum(codes[glares[up]], worst)
        return codes

    def _up(self, eye_m: Array, toward: Sequence[Array]) -> Bools:
        """Whether the sun may shine on an eye `(n, 3)`, of each way to it `(n, 3)`."""
        stands = bool((np.ptp(eye_m, axis=0) == 0.0).all())
        some = thinning.every(len(eye_m), len(eye_m) if stands else THIN)
        ways = np.array([way[some] for way in toward]).reshape(-1, 3)
        eyes = np.tile(eye_m[some], (len(toward), 1))
        found = sunlight.direct(self._scene.site, eyes, ways, things=False)
        return np.asarray((found.lit != 0.0).reshape(len(toward), len(some)).any(axis=1))

    def _sensed(self, then: Scene) -> int:
        """Where an eye that the plan counted on does not count: no-go where the undisturbed flight
        would run on into something, else unknown, for the rest was asked of a flight that
        senses."""
        lost, scene = then.blind[0] & ~self._scene.blind[0], self._scene
        if not lost.any():
            return GO
        start, end = then.track.xyz_m[0, lost], then.overrun_end_m[0, lost]
        keep, site = scene.keep_m, scene.site
        bodies = (site.obstacles.rest_grown, site.obstacles.wires_grown)
        near = any((b.least_along(start, end, keep)[0] < keep).any() for b in bodies)
        low = max((a.least_height_m for a in site.surveyed), default=LEAST_HEIGHT_M)
        ground = keep + site.terrain.most_error_m + max(low, LEAST_HEIGHT_M)
        near = near or bool((site.terrain.least_along(start, end, ground)[0] < ground).any())
        return NO_GO if near else UNKNOWN


# -- paced distances


def _paces(scene: Scene, ride: Ride) -> tuple[Pace, ...]:
    """The tightest things beside the flight, in the order in which one walks past them."""
    found = [
        _pace(scene, ride, index, scene.site.obstacles.things[index], margin)
        for margin, index in _tightest(scene)
    ]
    return tuple(sorted(found, key=lambda p: (p.at_m, p.thing)))


def _tightest(scene: Scene) -> list[tuple[float, int]]:
    """Margin and index of the things with the least below `WORTH_M`. They are asked in the order
    of a bound, until nothing that is left can be tighter than those found."""
    obstacles, found = scene.site.obstacles, list[tuple[float, int]]()
    bound = _bound_m(scene)
    mine = [k for k, t in enumerate(obstacles.things) if t.role in ROLES and bound[k] < WORTH_M]
    for least, index in sorted((float(bound[k]), k) for k in mine):
        if len(found) == MOST and found[-1] <= (least, index):
            break
        margin = _margin_m(scene, index)
        if margin < WORTH_M:
            found = sorted([*found, (margin, index)])[:MOST]
    return found


def _bound_m(scene: Scene) -> Array:
    """`(k,)` what the flight keeps more than it needs from each thing is no less: by the level way
    from a point of it to some of the samples, and how far below them its top is."""
    (middle, reach, top), track = scene.site.obstacles.extents_m, scene.track.xyz_m[0]
    steps = np.linalg.norm(np.diff(track, axis=0), axis=1)
    spare = THIN // 2 * float(steps.max(initial=0.0)) + float(scene.overrun_m[0].max())
    near = np.full(len(middle), np.inf)
    for x, y, z in track[thinning.every(len(track), THIN)] - np.array([0.0, 0.0, spare]):
        level = np.maximum(np.hypot(middle[:, 0] - x, middle[:, 1] - y) - reach - spare, 0.0)
        np.minimum(near, np.hypot(level, np.maximum(z - top, 0.0)), out=near)
    return near - scene.keep_m


def _margin_m(scene: Scene, index: int) -> float:
    """What the flight keeps more than it needs from one thing alone, as grown."""
    start, end = scene.track.xyz_m[0], scene.overrun_end_m[0]
    alone = scene.site.obstacles.rest_grown.alone(index)
    distance, _ = alone.least_along(start, end, scene.keep_m + WORTH_M)
    return float(distance.min()) - scene.keep_m


def _pace(scene: Scene, ride: Ride, index: int, thing: Thing, margin_m: float) -> Pace:
    """A thing nearer or farther than drawn is that much nearer the flight at most; where all of
    the flight lies on its other side it is no nearer."""
    line = ride.xyz_m[0, :, :2]
    if thing.role == "building":
        away = np.maximum(-footprints.inside_m((thing.where_m,), line), 0.0)
    else:
        away = footprints.distance_to_path_m(thing.where_m, line)
    at = int(away.argmin())
    drawn = float(away[at])
    counted = max(thing.error_m - PACED_ERROR_M, PACED_ERROR_M)
    sound = max(margin_m + thing.error_m - PACED_ERROR_M, 0.0)
    out = thing.where_m.mean(axis=0) - line[at]
    out /= max(float(np.hypot(*out)), 1e-9)
    corners = thing.where_m @ out
    reach = thing.radius_m + scene.keep_m
    flown = np.concatenate([scene.track.xyz_m[0, :, :2], scene.overrun_end_m[0, :, :2]]) @ out
    beyond = drawn > 0.0 and bool((flown > corners.min() - reach).any())
    before = drawn == 0.0 or bool((flown < corners.max() + reach).any())
    return Pace(
        thing=index,
        at_m=float(ride.along_m[0, at]),
        drawn_m=drawn,
        near_m=max(drawn - counted, 0.0),
        far_m=drawn + counted,
        least_m=max(drawn - sound, 0.0) if before else 0.0,
        most_m=drawn + sound if beyond else math.inf,
    )
