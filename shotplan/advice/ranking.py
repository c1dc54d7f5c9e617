"""Candidates ranked: each flown over the same disturbed rides and asked what may be hit or broken.

A search ranks, the plan proves: 60 rides, steps of 0.1 s, margins exact only where they are small.
"""

from __future__ import annotations

from dataclasses import replace
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from shotplan import plan as planning
from shotplan.checks import CHECKS
from shotplan.kernels import by_place, camera, light
from shotplan.model.arrays import Array
from shotplan.model.flight import Stage, Style
from shotplan.model.judged import Check, Margin
from shotplan.model.judging import over_rides
from shotplan.model.scene import Scene
from shotplan.model.shot import Outing, Shot
from shotplan.model.verdict import Family
from shotplan.model.wanted import SIZE_OFF_MOST, Wanted
from shotplan.ride.along import part
from shotplan.ride.disturb import Disturbed

SEARCHED = (
    "clearance", "ground", "rider-gap", "height", "boundary", "keep-out", "people", "wildlife",
    "sight", "pace", "view",
)  # fmt: skip
ENOUGH_M = 6.0  # a margin of the undisturbed ride beyond this is not told more exactly
ROWS = 240  # rides flown side by side: enough to be quick, few enough for two processes in 2 GB
SUBSTEP_S = 0.1
RIDER_M = 1.8  # tall, as filmed
AIM_M = 1.0
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
    """What all candidates share: the whole ride as one shot, its disturbed rides, the stage, the
    stretches' edges."""

    outing: Outing
    shot: Shot
    many: Disturbed
    stage: Stage
    edges_m: Array
    wanted: Wanted
    checks: tuple[Check, ...]


def field_of(outing: Outing, wanted: Wanted) -> Field:
    """The whole ride, with the first shot's people where they stand."""
    along = outing.ride.along_m[0]
    length = float(along[-1])
    ground_m = outing.site.terrain.ground_m
    ridden = part(outing.ride, 0.0, length, planning.LEAD_IN_S, ground_m)
    count = max(1, round(length / wanted.stretch_m))
    first = outing.shots[0]
    return Field(
        outing=outing,
        shot=Shot(name="", style=first.style, from_m=0.0, to_m=length, stands=first.stands),
        many=planning.disturbed(outing, ridden, wanted.rides),
        stage=planning.stage_of(outing.site, ridden),
        edges_m=np.linspace(0.0, length, count + 1),
        wanted=wanted,
        checks=tuple(c for c in CHECKS if c.id in SEARCHED),
    )


def ranked(field: Field, styles: tuple[Style, ...]) -> list[Ranked]:
    """Some candidates, flown side by side, judged one by one."""
    return [rank(field, scene) for scene in scenes(field, styles)]


def scenes(field: Field, styles: tuple[Style, ...]) -> list[Scene]:
    """The candidates' flights over all rides of the field."""
    outing, many = field.outing, field.many
    wishes = [style.place(many.ride, field.stage) for style in styles]
    known_wind = outing.day.weather.wind_toward_m_s
    wind = np.zeros(3) if known_wind is None else known_wind
    tracks = planning.flown_side_by_side(wishes, many, outing.aircraft, wind, SUBSTEP_S)
    filmed = slice(many.ride.first, many.ride.first + tracks[0].xyz_m.shape[1])
    return [
        Scene(
            site=outing.site,
            day=outing.day,
            aircraft=outing.aircraft,
            rules=outing.rules,
            shot=replace(field.shot, style=style),
            track=track,
            stage=field.stage,
            wish=wish.samples(filmed),
            wind_m_s=known_wind,
            start=outing.day.start,
        )
        for style, wish, track in zip(styles, wishes, tracks, strict=True)
    ]


def rank(field: Field, scene: Scene) -> Ranked:
    """Every searched check by stretch, the undisturbed ride's margins and all rides' breaks."""
    ride = scene.track.ride
    metres = by_place.metres(ride.along_m[0, ride.filming[0]])
    cut = _Cut(np.searchsorted(metres, field.edges_m[:-1]).clip(0, len(metres) - 1))
    count, rides = len(field.edges_m) - 1, ride.rides
    found = Ranked(
        verdict=np.zeros(count, dtype=np.int8),
        margin_m=np.full(count, np.inf),
        binding=np.full(count, "", dtype=object),
        thing=np.full(count, "", dtype=object),
        broken=np.zeros((count, rides), dtype=bool),
        cost=picture_cost(scene, field.edges_m, field.wanted),
    )
    once, others = scene.rows(planning.FIRST, ENOUGH_M), scene.rows(slice(1, None), 0.0)
    for check in field.checks:
        asked = (once,) if check.rides == "first" or rides == 1 else (once, others)
        for margins in zip(*(check.margins(rows) for rows in asked), strict=True):
            found = _with(found, field, check, margins, asked, metres, cut)
    return found


class _Cut(NamedTuple):
    """Where each stretch starts among the metres."""

    start: NDArray[np.intp]

    def any(self, flags: NDArray[np.bool_]) -> NDArray[np.bool_]:
        """`(r, s)` whether any of the metres `(r, k)` of a stretch."""
        return np.asarray(np.logical_or.reduceat(flags, self.start, axis=1))

    def least(self, values: Array) -> Array:
        """`(s,)` least of `(k,)`; NaN where one is, unless another is broken."""
        least = np.fmin.reduceat(values, self.start)
        unknown = np.logical_or.reduceat(np.isnan(values), self.start)
        return np.asarray(np.where(unknown & ~(least < 0.0), np.nan, least))


def _with(
    found: Ranked,
    field: Field,
    check: Check,
    margins: tuple[Margin, ...],
    asked: tuple[Scene, ...],
    metres: Array,
    cut: _Cut,
) -> Ranked:
    """What is known so far, and one margin more (of the undisturbed ride, then of the others)."""
    rows = [_by_place(m, scene, metres) for m, scene in zip(margins, asked, strict=True)]
    least, soft = (np.concatenate(r) for r in zip(*rows, strict=True))
    broken, softly = cut.any(least < 0.0), cut.any(soft < 0.0)
    unknown = cut.any(np.isnan(least)) & ~broken
    family: Family = margins[0].family or check.family
    code = over_rides(family, broken, unknown, softly, margins[0].share, proving=False)
    tight = cut.least(least[0].astype(float))
    in_metres = family == "harm" and (margins[0].unit or check.unit) == "m"
    worse = code > found.verdict
    if in_metres:
        worse |= (code == found.verdict) & ~(tight >= found.margin_m)
    counted = np.broadcast_to(broken.T, found.broken.shape) if family != "picture" else False
    unsure = np.isnan(tight) | np.isnan(found.margin_m)
    margin = np.where(unsure, np.nan, np.minimum(tight, found.margin_m))
    return Ranked(
        verdict=np.maximum(found.verdict, code),
        margin_m=margin if in_metres else found.margin_m,
        binding=np.where(worse, check.id, found.binding),
        thing=np.where(worse, _things(margins[0], asked[0], field.edges_m, worse), found.thing),
        broken=found.broken | counted,
        cost=found.cost,
    )


def _by_place(
    margin: Margin, scene: Scene, metres: Array
) -> tuple[NDArray[np.float32], NDArray[np.float32]]:
    """Hard and soft margins `(r, k)` by place, as the plan takes them."""
    ride, known = scene.track.ride, scene.track.known
    hard = np.where(known, np.broadcast_to(margin.margin, known.shape), np.nan)
    least = by_place.least_by_place(hard, ride.along_m, metres, ride.filming)
    if margin.soft is None:
        return least, np.full(least.shape, np.inf, dtype=np.float32)
    soft = np.array(np.broadcast_to(margin.soft, known.shape), dtype=float)
    return least, by_place.least_by_place(soft, ride.along_m, metres, ride.filming)


def _things(
    margin: Margin, scene: Scene, edges_m: Array, wanted: NDArray[np.bool_]
) -> NDArray[np.object_]:
    """`(s,)` what is nearest to the undisturbed flight on the stretches that are `wanted`."""
    ride = scene.track.ride
    hard = np.where(ride.filming[0], np.broadcast_to(margin.margin, ride.filming.shape)[0], np.inf)
    ends = np.searchsorted(ride.along_m[0], edges_m)
    found = np.full(len(edges_m) - 1, "", dtype=object)
    for s in np.flatnonzero(wanted):
        part = hard[ends[s] : max(ends[s + 1], ends[s] + 1)]
        if len(part) and not np.isnan(part).all():
            found[s] = margin.thing[ends[s] + int(np.nanargmin(part))]
    return found


def picture_cost(scene: Scene, edges_m: Array, wanted: Wanted) -> Array:
    """`(s,)` how far the picture is from the best there can be: the rider's size in the frame
    and the light on him, of the undisturbed ride."""
    track = scene.track
    cam, ride = scene.aircraft.camera, track.ride
    rider = ride.xyz_m[0] + np.array([0.0, 0.0, AIM_M])
    to_rider = rider - track.xyz_m[0]
    focal = camera.focal_px(cam.frame_width_px, cam.horizontal_fov_rad)
    share = camera.subject_px(focal, RIDER_M, to_rider) * cam.aspect / cam.frame_width_px
    off = np.log2(share / np.clip(share, wanted.size_least, wanted.size_most))
    size = wanted.size_weight * np.minimum(np.abs(off), SIZE_OFF_MOST)
    axis = light.toward(track.camera_azimuth_rad[0], track.camera_elevation_rad[0])
    sun_off = light.angle_rad(axis, scene.toward_sun)
    dull = np.interp(np.degrees(sun_off), *LIGHT) * (scene.sun_rad[1] > 0.0)
    cost = np.where(ride.filming[0], size + wanted.light_weight * dull, 0.0)
    ends = np.searchsorted(ride.along_m[0], edges_m).clip(0, len(cost) - 1)
    total = np.add.reduceat(cost, ends[:-1])
    return np.asarray(total / np.maximum(np.diff(ends), 1))
