"""What a rider or a spotter can point at along the ride, and how a place is said by it.

Trees, poles, places, corners of buildings and ends of rows are passed abeam; wires and paths are
crossed; woods, waters and people's areas have an edge where the ride goes in and one where it
comes out. A ride there and back passes each of them twice.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import Literal, NamedTuple

import numpy as np

from shotplan.kernels.solids import footprints, passing
from shotplan.model import say
from shotplan.model.arrays import Array
from shotplan.model.ride import Ride
from shotplan.model.site import Site
from shotplan.scene.corners import REACH_M, Mark, Part, corners, ends_of

Side = Literal["left", "right", "on"]
Kind = Literal["tree", "pole", "building", "wood", "wire", "water", "people", "place"]

ON_M = 0.5
WITHIN_M = 25.0
PACE_M = 0.75  # 40 paces are 30 m
PACED_M = 150.0  # farther past a mark nobody paces
NO_MARK = "no mark: tape one here"
SAME_M = 5.0  # crossings of one thing nearer than this are one
# How much a mark is worth, in metres along the ride (own settings): abeam is judged to about 10°,
# and a tree that only has a number is as good as none.
AWAY_SHARE = 0.2
UNNAMED_M = 10.0
SLOWEST_M_S = 0.5  # a rider slower than this does not count seconds
SAID_S = 0.5  # seconds are counted to halves
JUST_M = 0.05  # what rounding may hide


@dataclass(frozen=True, kw_only=True)
class Landmark:
    """Something to point at, `along_m` of the ride and `time_s` on row 0's clock.

    `label` as the file has it (not escaped), `part` of it that is meant ("" the whole); `away_m`
    level distance to its middle, corner or end (0 where the ride crosses it); `named` when people
    may know it by its label.
    """

    label: str
    role: Kind
    part: Part
    along_m: float
    time_s: float
    side: Side
    away_m: float
    named: bool

    @property
    def called(self) -> str:
        """`the bent pine`, `Gull Rock`, `tree-07`, `the wire line-1`, `the near corner of ...`."""
        plain = not any(c.isdigit() for c in self.label)
        if plain and self.label[:1].islower() and not self.label.startswith("the "):
            whole = f"the {self.label}"
        elif self.named or self.role in self.label.lower():
            whole = self.label
        else:
            whole = f"the {self.role} {self.label}"
        return f"the {self.part} of {whole}" if self.part else whole


class _Point(NamedTuple):
    """A point to pass abeam."""

    label: str
    named: bool
    role: Kind
    part: Part
    xy_m: Array


def landmarks(site: Site, ride: Ride) -> tuple[Landmark, ...]:
    """All along row 0 of a ride, in its order."""
    path = np.array(ride.xyz_m[0, :, :2])
    if len(path) < 2:
        return ()
    found = [*_passed(site, ride, path), *_crossed(site, ride, path)]
    for thing in site.obstacles.things:
        if thing.role == "building" and len(thing.where_m) > 1 and not thing.paced:
            marks = corners(thing.where_m, path)
        elif thing.paced and len(thing.where_m) > 1:
            marks = ends_of(thing.where_m, path)
        else:
            continue
        found += _on_ride(ride, marks, thing.label, _named(thing.id, thing.name), thing.role)
    return tuple(sorted(found, key=lambda m: (m.along_m, m.away_m, m.label, m.part)))


def near(marks: Iterable[Landmark], along_m: float) -> Landmark | None:
    """The landmark to say a place of the ride by: the nearest along it, where one farther to the
    side or without a name must be that much nearer to win; None where none is within reach."""
    within = [m for m in marks if abs(m.along_m - along_m) <= WITHIN_M]

    def worth(mark: Landmark) -> tuple[float, float, str]:
        off = abs(mark.along_m - along_m) + AWAY_SHARE * mark.away_m
        return off + (0.0 if mark.named else UNNAMED_M), mark.along_m, mark.called

    return min(within, key=worth, default=None)


def paces(metres: float) -> int:
    """So many paces."""
    return round(metres / PACE_M)


def say_place(
    marks: Iterable[Landmark], along_m: float, speed_m_s: float, *, tape: bool = False
) -> str:
    """A place of the ride as somebody there can find it; with `tape`, how to mark it where nothing
    is near.

    Seconds are counted from a thing that was passed, metres are judged before one that is still
    to come; both are rounded to the earlier place, so that a call is never late for it.
    """
    every = tuple(marks)
    mark = near(every, along_m)
    if mark is None:
        return _far(every, along_m) + (f"; {NO_MARK}" if tape else "")
    past_m = along_m - mark.along_m
    at = "" if mark.side == "on" else f" ({mark.side}, {mark.away_m:.0f} m)"
    if past_m < -JUST_M:
        return f"{math.ceil(-past_m - JUST_M):d} m before {mark.called}{at}"
    past_s = say.rounded_down((past_m + JUST_M) / max(speed_m_s, SLOWEST_M_S), SAID_S)
    if past_s <= 0.0:
        return f"{'at' if mark.side == 'on' else 'level with'} {mark.called}"
    if speed_m_s < SLOWEST_M_S:
        return f"{math.floor(past_m + JUST_M):d} m after {mark.called}{at}"
    return f"{past_s:g} s after {mark.called}{at}"


def _far(marks: Sequence[Landmark], along_m: float) -> str:
    """A place with nothing near: paces past the last mark, else metres of the ride."""
    passed = [m for m in marks if m.named and 0.0 <= along_m - m.along_m <= PACED_M]
    if not passed:
        return f"{along_m:.0f} m along the ride"
    last = max(passed, key=lambda m: (m.along_m, -m.away_m, m.called))
    return f"{math.floor((along_m - last.along_m) / PACE_M):d} paces past {last.called}"


def _named(id_: str, name: str) -> bool:
    """Whether people may know it by that: a name, or an id that is a word."""
    return bool(name) or not any(c.isdigit() for c in id_)


def _on_ride(
    ride: Ride, marks: Iterable[Mark], label: str, named: bool, role: Kind
) -> Iterator[Landmark]:
    """Put marks on the ride's clock and metres."""
    along, t = ride.along_m[0], ride.t_s
    for m in marks:
        off = abs(m.right_m)
        side: Side = "on" if off <= ON_M else ("right" if m.right_m > 0.0 else "left")
        yield Landmark(
            label=label,
            role=role,
            part=m.part,
            along_m=float(along[m.leg] + m.share * (along[m.leg + 1] - along[m.leg])),
            time_s=float(t[m.leg] + m.share * (t[m.leg + 1] - t[m.leg])),
            side=side,
            away_m=0.0 if side == "on" else off,
            named=named,
        )


def _points(site: Site) -> Iterator[_Point]:
    """Everything that is a point, and the masts of wires: each bend of one hangs on one."""
    for thing in site.obstacles.things:
        named = _named(thing.id, thing.name)
        if len(thing.where_m) == 1:
            yield _Point(thing.label, named, thing.role, "", thing.where_m[0])
        elif thing.role == "wire" and not thing.paced:
            for mast in thing.where_m[1:-1]:
                yield _Point(thing.label, named, thing.role, "mast", mast)
    for place in site.places.values():
        yield _Point(place.label, _named(place.id, place.name), "place", "", place.xyz_m[:2])
    for area in site.people:
        if area.geometry == "point":
            named = _named(area.id, area.name)
            for part in area.parts:
                yield _Point(area.name or area.id, named, "people", "", part[0])


def _passed(site: Site, ride: Ride, path: Array) -> Iterator[Landmark]:
    """Points abeam."""
    points = list(_points(site))
    xy = np.array([p.xy_m for p in points], dtype=float).reshape(len(points), 2)
    for which, leg, share, right in zip(*passing.abeam(path, xy, REACH_M), strict=True):
        point = points[int(which)]
        mark = Mark(int(leg), float(share), float(right), point.part)
        yield from _on_ride(ride, [mark], point.label, point.named, point.role)


def _crossed(site: Site, ride: Ride, path: Array) -> Iterator[Landmark]:
    """Lines that the ride crosses, areas that it enters and leaves."""
    for thing in site.obstacles.things:
        named = _named(thing.id, thing.name)
        if thing.role == "wire" or (thing.paced and len(thing.where_m) > 1):
            across = _across(ride, path, thing.where_m)
            yield from _on_ride(ride, across, thing.label, named, thing.role)
        elif thing.role == "wood" and not thing.paced:
            edges = _edges(path, (thing.where_m, *thing.holes))
            yield from _on_ride(ride, edges, thing.label, named, "wood")
    for water in site.terrain.water:
        edges = _edges(path, water.outline)
        yield from _on_ride(ride, edges, water.id, _named(water.id, ""), "water")
    for area in site.people:
        for part in area.parts if area.geometry != "point" else ():
            line = area.geometry == "line"
            marks = _across(ride, path, part) if line else _edges(path, (part,))
            named = _named(area.id, area.name)
            yield from _on_ride(ride, marks, area.name or area.id, named, "people")


def _across(ride: Ride, path: Array, line_m: Array) -> list[Mark]:
    """Where the ride crosses a line; of crossings close together the first."""
    marks: list[Mark] = []
    last_m = -math.inf
    for leg, share in zip(*passing.crossings(path, line_m), strict=True):
        start_m, end_m = ride.along_m[0, leg : leg + 2]
        at_m = float(start_m + share * (end_m - start_m))
        if at_m - last_m > SAME_M:
            marks.append(Mark(int(leg), float(share), 0.0, ""))
        last_m = at_m
    return marks


def _edges(path: Array, outline: footprints.Outline) -> list[Mark]:
    """The edges of an area where the ride goes in (near) and comes out (far)."""
    low, high = outline[0].min(axis=0), outline[0].max(axis=0)
    if (path.max(axis=0) < low).any() or (path.min(axis=0) > high).any():
        return []
    inside = footprints.inside_m(outline, path)
    legs = np.flatnonzero((inside[:-1] >= 0.0) != (inside[1:] >= 0.0))
    marks: list[Mark] = []
    for leg in legs.tolist():
        share = float(inside[leg] / (inside[leg] - inside[leg + 1]))
        marks.append(Mark(leg, share, 0.0, "far edge" if inside[leg] >= 0.0 else "near edge"))
    return marks
