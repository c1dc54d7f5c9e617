"""Stand here: how one gets to a place on foot, where it is on any map, what is before and
behind."""

from __future__ import annotations

import math
import re
from collections.abc import Iterator
from typing import NamedTuple

import numpy as np

from shotplan.aids.compass import declination, magnetic_rad
from shotplan.judging.judged import Plan
from shotplan.kernels.ground import standing
from shotplan.kernels.rides.runs import stretches
from shotplan.model.arrays import Array
from shotplan.model.site import Place, Site
from shotplan.output.brief.rows import reach_of
from shotplan.output.words import plain
from shotplan.scene.landmarks import paces
from shotplan.scene.stands import FALL_M

STRAIGHT_M = 60.0  # so far one walks straight by the compass
STEEPEST = 0.6  # rise over run nobody is sent up or down
BESIDE_M = 80.0  # from the ride, to be found along it
ON_TRACK_M = 4.0
PASS_M = 2.0  # passes of the ride as near as that are as good
FROM_M = 150.0  # from something to point at to the launch
BEFORE_M, BEHIND_M = 150.0, 60.0
EDGE_M = 15.0  # a drop nearer than this is said


class Stand(NamedTuple):
    """`title` the place, `way` how to get there, `view` what is before and behind, `degrees` and
    `grid` where it is on a map ("" not known)."""

    title: str
    way: str
    view: str
    degrees: str
    grid: str


def stand(plan: Plan, place: Place, shots: str, toward_m: Array) -> Stand:
    """A place where somebody stands in `shots` ("" all), who looks toward a point `(2,)`."""
    name = plain(place.label)
    title = f"{name}, the launch" if place.id == "launch" and name != "launch" else name
    xy = np.asarray(place.xyz_m[:2], dtype=float)
    return Stand(
        f"{shots}: {title}" if shots else title,
        way(plan, place),
        _view(plan, xy, toward_m),
        degrees(plan.outing.site, xy),
        grid(plan.outing.site, xy),
    )


def degrees(site: Site, xy_m: Array) -> str:
    """`49.63730 N 86.14603 W`."""
    lon, lat = (float(v) for v in site.frame.lonlat_deg(xy_m))
    return f"{abs(lat):.5f} {'N' if lat >= 0 else 'S'} {abs(lon):.5f} {'E' if lon >= 0 else 'W'}"


def grid(site: Site, xy_m: Array) -> str:
    """`16U 561661 5498656`: zone and band, east, north of the universal transverse Mercator
    grid."""
    return re.sub(r" [EN]\b|\N{NO-BREAK SPACE}", "", site.frame.utm(xy_m))


def needle(plan: Plan, azimuth_rad: float) -> str:
    """`compass 68°`, the declination applied."""
    frame, day = plan.outing.site.frame, plan.outing.day
    found = declination(frame.lon_deg, frame.lat_deg, math.nan, day.start)
    true = math.degrees(azimuth_rad) % 360.0
    if found is None:
        return f"{round(true) % 360}° from true north"
    return f"compass {round(math.degrees(magnetic_rad(azimuth_rad, found))) % 360}°"


def needle_off(plan: Plan) -> str:
    """How the needle lies, said once."""
    frame = plan.outing.site.frame
    found = declination(frame.lon_deg, frame.lat_deg, math.nan, plan.outing.day.start)
    if found is None:
        return "How the needle lies is not known."
    off = math.degrees(found.east_rad)
    return f"Needle {abs(off):.0f}° {'east' if off >= 0.0 else 'west'}, applied."


# -- the way there


def way(plan: Plan, place: Place) -> str:
    """From the launch, straight where that is near and not steep, else along the ride; to the
    launch itself from what one can point at."""
    site, launch = plan.outing.site, plan.outing.site.launch
    to = np.asarray(place.xyz_m[:2], dtype=float)
    if launch is None or place.id == launch.id:
        return _from_mark(plan, place)
    start = np.asarray(launch.xyz_m[:2], dtype=float)
    name = plain(launch.label)
    begin = "From the launch" if name == "launch" else f"From the launch ({name})"
    line, far = to - start, float(np.hypot(*(to - start)))
    if far < 1.0:
        return "At the launch."
    bearing = needle(plan, math.atan2(line[0], line[1]))
    walks = _walkable(site, start, to)
    if far <= STRAIGHT_M and walks:
        return f"{begin} {bearing}, {paces(far)} paces."
    told = _along(plan, start, to)
    if told:
        return f"{begin} {told}. Straight: {bearing}."
    tail = "" if walks else ", not straight: it is steep between"
    return f"{begin} {bearing}, {paces(far)} paces{tail}."


def _from_mark(plan: Plan, place: Place) -> str:
    """`From the cairn: compass 130°, 62 paces.`"""
    xy = np.asarray(place.xyz_m[:2], dtype=float)
    near = [
        (float(np.hypot(*(xy - p.xyz_m[:2]))), plain(p.label), xy - p.xyz_m[:2])
        for p in plan.outing.site.places.values()
        if p.id != place.id
    ]
    near += [n[:3] for n in _things(plan.outing.site, xy) if n[3] in ("tree", "building", "pole")]
    near = [n for n in near if 1.0 < n[0] <= FROM_M and _walkable(plan.outing.site, xy - n[2], xy)]
    if not near:
        return "" if place.id != "launch" else "Where it takes off and lands."
    far, name, line = min(near, key=lambda n: (n[0], n[1]))
    return f"From {name}: {needle(plan, math.atan2(line[0], line[1]))}, {paces(far)} paces."


def _along(plan: Plan, start_m: Array, to_m: Array) -> str:
    """`353 paces along the track, then 23 left`; "" where the ride is far from either."""
    ride = plan.outing.ride
    path, along = ride.xyz_m[0, :, :2], ride.along_m[0]
    course = np.gradient(path, axis=0)
    away = [np.hypot(*(path - end).T) for end in (start_m, to_m)]
    if max(float(a.min()) for a in away) > BESIDE_M:
        return ""
    last = int(np.argmin(away[1]))
    near = away[0] <= away[0].min() + PASS_M
    feet = [low + int(np.argmin(away[0][low:high])) for low, high in stretches(near)]
    first = min(feet, key=lambda k: abs(float(along[k] - along[last])))
    onto, off = path[first] - start_m, to_m - path[last]
    told = []
    if float(np.hypot(*onto)) > ON_TRACK_M:
        bearing = needle(plan, math.atan2(onto[0], onto[1]))
        told.append(f"{bearing}, {paces(float(np.hypot(*onto)))} paces to the track")
    walk, back = abs(float(along[last] - along[first])), along[last] < along[first]
    if walk > ON_TRACK_M:
        told.append(f"{paces(walk)} paces {'back ' if back else ''}along the track")
    aside = float(np.hypot(*off))
    if aside > 1.0:
        right = course[last, 0] * off[1] - course[last, 1] * off[0] < 0.0
        told.append(f"{paces(aside)} {'right' if bool(right) != bool(back) else 'left'}")
    return ", then ".join(told)


def _walkable(site: Site, start_m: Array, to_m: Array) -> bool:
    """Whether the straight line is nowhere steep; over ground nobody knows it is not."""
    count = max(2, math.ceil(float(np.hypot(*(to_m - start_m))) / 2.0) + 1)
    share = np.linspace(0.0, 1.0, count)[:, None]
    line = start_m + share * (to_m - start_m)
    rise = np.abs(np.diff(site.terrain.ground_m(line)))
    step = float(np.hypot(*(to_m - start_m))) / (count - 1)
    return bool((rise <= STEEPEST * max(step, 1e-9)).all())


# -- what is before and behind


def _things(site: Site, xy_m: Array) -> Iterator[tuple[float, str, Array, str]]:
    """Distance, name, role and the line from the nearest point of everything one can point at."""
    for region, mark in reach_of(site):
        if mark.named:
            away, azimuth = region(xy_m)
            line = away * np.array([math.sin(azimuth), math.cos(azimuth)])
            yield away, plain(mark.called), line, mark.role


def _view(plan: Plan, xy_m: Array, toward_m: Array) -> str:
    site, line = plan.outing.site, toward_m - xy_m
    facing = math.atan2(line[0], line[1])
    places = [
        (float(np.hypot(*(xy_m - p.xyz_m[:2]))), plain(p.label), xy_m - p.xyz_m[:2])
        for p in site.places.values()
    ]
    before, behind = [], []
    things = [n[:3] for n in _things(site, xy_m)]
    for away, name, back in sorted([*places, *things], key=lambda n: (n[0], n[1])):
        if away < 1.0:
            continue
        turn = math.degrees(math.atan2(-back[0], -back[1]) - facing)
        off = abs((turn + 180.0) % 360.0 - 180.0)
        if off <= 35.0 and away <= BEFORE_M:
            before.append(name)
        elif off >= 120.0 and away <= BEHIND_M:
            behind.append(f"{name}, {paces(away)} paces")
    face = needle(plan, facing)
    told = f"You face {before[0]}, {face}." if before else f"You face {face}."
    if behind:
        told += f" Behind you: {'; '.join(behind[:2])}."
    drop = _drop_m(site, xy_m)
    return told + (f" Keep off the drop, {paces(drop)} paces." if drop < EDGE_M else "")


def _drop_m(site: Site, xy_m: Array) -> float:
    radii = np.arange(0.5, EDGE_M + 1.0, 0.5)
    around = site.terrain.ground_m(standing.rays(xy_m, radii))
    here = float(site.terrain.ground_m(xy_m[None])[0])
    return math.inf if math.isnan(here) else standing.drop_m(here, around, radii, FALL_M)
