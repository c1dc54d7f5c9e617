"""Candidates ranked: each flown over the same disturbed rides and asked what may be hit or broken.

A search ranks, the plan proves: 60 rides, steps of 0.1 s, margins exact only where they are small.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from shotplan.advice.wanted import SIZE_OFF_MOST, Wanted
from shotplan.checks import CHECKS
from shotplan.flying import LEAD_IN_S, disturbed, flown_side_by_side, scene_of, stage_of, wind_of
from shotplan.judging.ask import parts
from shotplan.judging.verdicts import joined
from shotplan.kernels.light import camera, light
from shotplan.kernels.motion.following import NO_LIMITS
from shotplan.kernels.rides import by_place
from shotplan.model.arrays import Array
from shotplan.model.day import Stands
from shotplan.model.flight import Stage, Style
from shotplan.model.shot import Shot
from shotplan.model.verdict import Verdict
from shotplan.outing import Outing
from shotplan.ride.along import part
from shotplan.ride.disturb import Disturbed
from shotplan.scene.margin import Check, Margin
from shotplan.scene.picture import RIDER_M, to_rider_m
from shotplan.scene.scene import Scene

ENOUGH_M = 4.0  # a margin of the undisturbed ride beyond this is not told more exactly
ROWS = 240  # rides flown side by side: enough to be quick, few enough for two processes in 2 GB
SUBSTEP_S = 0.1
# Degrees between the rider's course and the way to the camera, and how little one sees of him:
# ahead, abeam, behind (common practice; the numbers are own).
ASPECT = ((0.0, 45.0, 90.0, 135.0, 180.0), (0.4, 0.1, 0.0, 0.4, 1.0))
FROM_ABOVE = 0.8  # straight down one sees the top of his helmet
# Degrees between the camera's axis and the sun, and how poor that light is: straight against it,
# three-quarter back, side, three-quarter front, flat from behind the camera (trade convention).
LIGHT = ((0.0, 30.0, 60.0, 90.0, 120.0, 150.0, 180.0), (1.0, 1.0, 0.3, 0.0, 0.0, 0.3, 0.5))


class Ranked(NamedTuple):
    """One candidate over the stretches s; see `StyleTable`. `broken (s, r)`."""

    verdict: NDArray[np.int8]
    margin_m: Array
    binding: NDArray[np.object_]
    thing: NDArray[np.object_]
    broken: NDArray[np.bool_]
    cost: Array


class Field(NamedTuple):
    """What all candidates share: the whole ride as one shot, undisturbed and with its disturbed
    rides, the stage, the stretches' edges; `stands` where people stand, `stands_on (s,)` which of
    them on each stretch: as for the site's own shot there, or the nearest one."""

    outing: Outing
    shot: Shot
    once: Disturbed
    many: Disturbed
    stage: Stage
    edges_m: Array
    stands: tuple[Stands, ...]
    stands_on: NDArray[np.intp]
    wanted: Wanted
    checks: tuple[Check, ...]

    @property
    def stretches(self) -> by_place.Stretches:
        """As places to judge at."""
        return by_place.Stretches(self.edges_m)


def field_of(outing: Outing, wanted: Wanted) -> Field:
    """The whole ride; people stand where they stand for the site's own shots."""
    length = float(outing.ride.along_m[0, -1])
    ridden = part(outing.ride, 0.0, length, LEAD_IN_S, outing.site.terrain.ground_m)
    count = max(1, round(length / wanted.stretch_m))
    edges = np.linspace(0.0, length, count + 1)
    first = outing.shots[0]
    own = [shot_at(outing, float(m)) for m in 0.5 * (edges[1:] + edges[:-1])]
    stands = tuple({tuple(sorted(s.stands.at.items())): s.stands for s in own}.values())
    return Field(
        outing=outing,
        shot=replace(first, name="", takes=1, from_m=0.0, to_m=length),
        once=disturbed(outing, ridden, 1),
        many=disturbed(outing, ridden, wanted.rides),
        stage=stage_of(outing.site, ridden),
        edges_m=edges,
        stands=stands,
        stands_on=np.array([stands.index(s.stands) for s in own]),
        wanted=wanted,
        checks=tuple(c for c in CHECKS if c.nature.searched != "never"),
    )


def shot_at(outing: Outing, at_m: float) -> Shot:
    """The site's own shot of a place of the ride, or the one whose part is nearest to it."""
    return min(outing.shots, key=lambda s: max(s.from_m - at_m, at_m - s.to_m, 0.0))


def ranked(field: Field, styles: tuple[Style, ...]) -> list[Ranked]:
    """Some candidates, flown side by side, judged one by one: the undisturbed ride first. Those
    that pass nowhere are not flown again."""
    found = [_undisturbed(field, s) for s in _scenes(field, field.once, styles, ENOUGH_M)]
    left = [i for i, one in enumerate(found) if not one.broken[:, 0].all()]
    if field.many.ride.rides > 1 and left:
        again = _scenes(field, field.many, tuple(styles[i] for i in left), 0.0)
        for i, scene in zip(left, again, strict=True):
            found[i] = _disturbed(field, scene.rows(slice(1, None), 0.0), found[i])
    return found


def _scenes(
    field: Field, many: Disturbed, styles: tuple[Style, ...], enough_m: float
) -> list[Scene]:
    """The candidates' flights over these rides; over the undisturbed one also without limits."""
    outing, stage = field.outing, field.stage
    wishes = [style.place(many.ride, stage) for style in styles]
    craft, count, free = outing.aircraft, len(styles), many is field.once
    tracks = flown_side_by_side(
        wishes * (1 + free), many, craft, wind_of(outing), SUBSTEP_S,
        [craft.limits] * count + [NO_LIMITS] * (count * free),
    )  # fmt: skip
    return [
        replace(
            scene_of(outing, replace(field.shot, style=style), many.ride, stage, wishes[i], track),
            enough_m=enough_m,
            free=tracks[count + i] if free else None,
        )
        for i, (style, track) in enumerate(zip(styles, tracks, strict=False))
    ]


def _undisturbed(field: Field, scene: Scene) -> Ranked:
    """Every searched check of the undisturbed ride, by stretch."""
    count = len(field.edges_m) - 1
    verdict = np.zeros(count, dtype=np.int8)
    margin = np.full(count, np.inf)
    binding, thing = (np.full(count, "", dtype=object) for _ in range(2))
    for check, one, here in _asked(field, scene):
        samples, placed = parts(check, one, scene, field.stretches)
        tight, code = placed.least[0], np.where(here, placed.codes(), 0).astype(np.int8)
        in_metres = placed.family == "harm" and (one.unit or check.unit) == "m"
        worse = (code > verdict) | (in_metres & (code == verdict) & ~(tight >= margin))
        binding = np.where(worse, check.id, binding)
        thing = np.where(worse, _things(field, scene, one, samples.least[0], worse), thing)
        verdict = np.maximum(verdict, code)
        if in_metres:
            unsure = np.isnan(tight) | np.isnan(margin)
            margin = np.where(unsure, np.nan, np.minimum(tight, margin))
    broken = np.zeros((count, field.many.ride.rides), dtype=bool)
    broken[:, 0] = verdict == int(Verdict.NO_GO)
    cost = picture_cost(scene, field.edges_m, field.wanted)
    return Ranked(verdict, margin, binding, thing, broken, cost)


def _asked(field: Field, scene: Scene) -> Iterator[tuple[Check, Margin, NDArray[np.bool_]]]:
    """Every searched check's margins, and on which stretches `(s,)` they count: some are
    asked for each way people stand along the ride."""
    everywhere = np.ones(len(field.edges_m) - 1, dtype=bool)
    for check in field.checks:
        if check.nature.searched == "once":
            yield from ((check, margin, everywhere) for margin in check.margins(scene))
            continue
        for index, stands in enumerate(field.stands):
            placed = replace(scene, shot=replace(scene.shot, stands=stands))
            here = field.stands_on == index
            yield from ((check, margin, here) for margin in check.margins(placed))


def _disturbed(field: Field, scene: Scene, once: Ranked) -> Ranked:
    """What the disturbed rides add where the undisturbed one passes: what may be hit. Where it
    breaks nothing else is asked: it may not be flown there."""
    verdict, binding, broken = once.verdict, once.binding, once.broken.copy()
    others = _where_it_passes(scene, field.stretches, ~broken[:, 0])
    sound = np.full((1, len(field.stretches)), np.inf)
    for check in field.checks:
        if check.rides == "first" or check.family != "harm":
            continue
        for one in check.margins(others):
            placed = parts(check, one, others, field.stretches)[1]
            undisturbed = placed._replace(least=sound, least_soft=sound)
            code = joined((undisturbed, placed), axis=0).codes(proving=False)
            binding = np.where(code > verdict, check.id, binding)
            verdict = np.maximum(verdict, code)
            broken[:, 1:] |= (placed.least < 0.0).T
    return once._replace(verdict=verdict, binding=binding, broken=broken)


def _where_it_passes(
    scene: Scene, stretches: by_place.Stretches, passes: NDArray[np.bool_]
) -> Scene:
    """The rides, filmed only where the undisturbed one passes."""
    ride = scene.track.ride
    low, high = stretches.reach(ride.along_m)
    asked = ride.filming & (passes[low] | passes[high])
    return replace(scene, track=replace(scene.track, ride=replace(ride, filming=asked)))


def _things(
    field: Field, scene: Scene, margin: Margin, hard: Array, wanted: NDArray[np.bool_]
) -> NDArray[np.object_]:
    """`(s,)` what is nearest to the undisturbed flight on the stretches that are `wanted`."""
    ends = np.searchsorted(scene.track.ride.along_m[0], field.edges_m)
    found = np.full(len(wanted), "", dtype=object)
    for s in np.flatnonzero(wanted):
        part = hard[ends[s] : max(ends[s + 1], ends[s] + 1)]
        if len(part) and not np.isnan(part).all():
            found[s] = margin.thing[ends[s] + int(np.nanargmin(part))]
    return found


def picture_cost(scene: Scene, edges_m: Array, wanted: Wanted) -> Array:
    """`(s,)` how far the picture is from the best there can be: the rider's size in the frame,
    the light on him and how much of him one sees, of the undisturbed ride."""
    track = scene.track
    cam, ride = scene.aircraft.camera, track.ride
    to_rider = to_rider_m(scene)
    focal = camera.focal_px(cam.frame_width_px, cam.horizontal_fov_rad)
    share = camera.subject_px(focal, RIDER_M, to_rider) * cam.aspect / cam.frame_width_px
    off = np.log2(share / np.clip(share, wanted.size_least, wanted.size_most))
    size = wanted.size_weight * np.minimum(np.abs(off), SIZE_OFF_MOST)
    axis = light.toward(track.camera_azimuth_rad[0], track.camera_elevation_rad[0])
    sun_off = light.angle_rad(axis, scene.toward_sun)
    dull = np.interp(np.degrees(sun_off), *LIGHT) * (scene.sun_rad[1] > 0.0)
    cost = size + wanted.light_weight * dull + wanted.aspect_weight * _hidden_self(scene, to_rider)
    cost = np.where(ride.filming[0], cost, 0.0)
    ends = np.searchsorted(ride.along_m[0], edges_m).clip(0, len(cost) - 1)
    total = np.add.reduceat(cost, ends[:-1])
    return np.asarray(total / np.maximum(np.diff(ends), 1))


def _hidden_self(scene: Scene, to_rider_m: Array) -> Array:
    """`(n,)` how little one sees of the rider, 0 from abeam to 1 from straight behind."""
    to_camera = np.arctan2(-to_rider_m[:, 0], -to_rider_m[:, 1])
    off = np.mod(to_camera - scene.track.ride.course_rad[0] + np.pi, 2.0 * np.pi) - np.pi
    level = np.interp(np.degrees(np.abs(off)), *ASPECT)
    steep = np.sin(camera.elevation_rad(to_rider_m)) ** 2
    return np.asarray(level * (1.0 - steep) + FROM_ABOVE * steep)
