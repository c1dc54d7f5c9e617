"""Left alone where it is, hovering or landing: whom it then comes down on, and whether it stays
there in the wind."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from shotplan.checks.return_ import said
from shotplan.kernels.solids.footprints import distance_to_path_m, inside_m
from shotplan.model.arrays import Array, Bools
from shotplan.model.site import PeopleArea
from shotplan.scene.margin import Margin, Remark, even
from shotplan.scene.scene import Scene

ROOM_M = 2.0  # beside half the span, level: what flies nearer than this to somebody is above them
WIND_SHARE = 0.5  # of its top speed: in more wind it is not sure to stay where it is left alone


def holds_m_s(scene: Scene) -> float:
    """The most mean wind in which it stays where it is left alone; +inf where it flies home."""
    if scene.shot.link_lost == "home":
        return math.inf
    return WIND_SHARE * scene.aircraft.max_speed_m_s


def margins(scene: Scene) -> tuple[Margin, Margin]:
    """A caution where it is above somebody, and in a wind of more than half its top speed."""
    return _above(scene), _blown(scene)


def _above(scene: Scene) -> Margin:
    """Level distance to the rider and to where other people may be (row 0)."""
    here = np.array(scene.track.xyz_m[0, :, :2])
    away = np.hypot(*(here - scene.track.ride.xyz_m[0, :, :2]).T)
    thing, label = np.full(len(here), "rider", dtype=object), {"rider": "the rider"}
    for area in scene.site.people:
        if area.state == "closed":
            continue
        level = level_m(area, here) - area.error_m
        thing[level < away], label[area.id] = area.id, said.people(area)
        away = np.minimum(away, level)
    room = ROOM_M + scene.aircraft.half_span_m
    return Margin(
        margin=np.full(len(here), np.inf),
        soft=away - room,
        value=away,
        limit=np.full(len(here), room),
        thing=thing,
        why=said.above(scene, [label[t] for t in thing], away, room),
        source=said.ALONE_SOURCE,
    )


def _blown(scene: Scene) -> Margin:
    """What it has left over the mean wind, against what it needs to stay."""
    most, holds, blow = scene.aircraft.max_speed_m_s, holds_m_s(scene), scene.wind_m_s
    mean = math.nan if blow is None else float(np.hypot(blow[0], blow[1]))
    margin = even(
        scene,
        math.nan if blow is None else math.inf,
        said.blown(scene, holds),
        value=most - mean,
        limit=most - holds,
        thing="wind",
        soft=math.inf if blow is None else holds - mean,
        source=said.ALONE_SOURCE,
    )
    return replace(margin, unit="m/s")


def level_m(area: PeopleArea, xy_m: Array) -> Array:
    """Level distance `(m,)` to where people may be, 0 inside."""
    if area.geometry == "polygon":
        away = [np.maximum(-inside_m((ring,), xy_m), 0.0) for ring in area.parts]
    else:
        away = [distance_to_path_m(part, xy_m) for part in area.parts]
    return np.asarray(np.min(away, axis=0))


def wet(scene: Scene, xy_m: Array) -> tuple[Remark, ...]:
    """Where it comes down on water (drawn with a level)."""
    flags: Bools = np.zeros(len(xy_m), dtype=bool)
    for water in scene.site.terrain.water:
        flags |= inside_m(water.outline, xy_m) >= 0.0
    return said.wet(flags)
