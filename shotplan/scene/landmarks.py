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

Side = Literal["left", "right", "on"]
Kind = Literal["tree", "pole", "building", "wood", "wire", "water", "people", "place"]
Part = Literal[
    "", "corner", "near corner", "far corner", "end", "near end", "far end", "mast", "near edge",
    "far edge",
]  # fmt: skip

REACH_M = 40.0  # farther off nobody judges what is abeam
ON_M = 0.5
WITHIN_M = 25.0
BEHIND_M = 1.0  # corners of a building so near in line: the farther one is behind the nearer
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


class _Mark(NamedTuple):
    """A landmark before its thing is known: on `leg` at `share`, `right_m` off."""

    leg: int
    share: float
    right_m: float
    part: Part


class _Seen(NamedTuple):
    """A pass of one of several points of a thing, from `foot_m (2,)` on the ride."""

    leg: int
    share: float
    right_m: float
    which: int
    foot_m: Array


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
            marks = _corners(thing.where_m, path)
        elif thing.paced and len(thing.where_m) > 1:
            marks = _ends(thing.where_m, path)
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


def say_place(marks: Iterable[Landmark], along_m: float, speed_m_s: float) -> str:
    """A place of the ride as somebody there can find it.

    Seconds are counted from a thing that was passed, metres are judged before one that is still
    to come; both are rounded to the earlier place, so that a call is never late for it.
    """
    mark = near(marks, along_m)
    if mark is None:
        return f"{along_m:.0f} m along the ride; no mark: tape one here"
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


def _named(id_: str, name: str) -> bool:
    """Whether people may know it by that: a name, or an id that is a word."""
    return bool(name) or not any(c.isdigit() for c in id_)


def _on_ride(
    ride: Ride, marks: Iterable[_Mark], label: str, named: bool, role: Kind
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
        mark = _Mark(int(leg), float(share), float(right), point.part)
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


def _across(ride: Ride, path: Array, line_m: Array) -> list[_Mark]:
    """Where the ride crosses a line; of crossings close together the first."""
    marks: list[_Mark] = []
    last_m = -math.inf
    for leg, share in zip(*passing.crossings(path, line_m), strict=True):
        start_m, end_m = ride.along_m[0, leg : leg + 2]
        at_m = float(start_m + share * (end_m - start_m))
        if at_m - last_m > SAME_M:
            marks.append(_Mark(int(leg), float(share), 0.0, ""))
        last_m = at_m
    return marks


def _edges(path: Array, outline: footprints.Outline) -> list[_Mark]:
    """The edges of an area where the ride goes in (near) and comes out (far)."""
    low, high = outline[0].min(axis=0), outline[0].max(axis=0)
    if (path.max(axis=0) < low).any() or (path.min(axis=0) > high).any():
        return []
    inside = footprints.inside_m(outline, path)
    legs = np.flatnonzero((inside[:-1] >= 0.0) != (inside[1:] >= 0.0))
    marks: list[_Mark] = []
    for leg in legs.tolist():
        share = float(inside[leg] / (inside[leg] - inside[leg + 1]))
        marks.append(_Mark(leg, share, 0.0, "far edge" if inside[leg] >= 0.0 else "near edge"))
    return marks


def _corners(ring_m: Array, path: Array) -> list[_Mark]:
    """First and last of the corners of a building that are seen from abeam, each time it is
    passed."""
    ring = np.concatenate([ring_m, ring_m[:1]])
    seen: list[_Seen] = []
    for corner, leg, share, right in zip(*passing.abeam(path, ring_m, REACH_M), strict=True):
        foot = path[leg] + share * (path[leg + 1] - path[leg])
        # The line of sight ends just short of the corner, and must not meet a wall before that.
        short = ring_m[corner] + 0.01 * (foot - ring_m[corner])
        if not len(passing.crossings(np.stack([foot, short]), ring, shallow=0.0)[0]):
            seen.append(_Seen(int(leg), float(share), float(right), int(corner), foot))

    def behind(s: _Seen, o: _Seen) -> bool:
        return abs(o.right_m) < abs(s.right_m) and np.hypot(*(o.foot_m - s.foot_m)) <= BEHIND_M

    front = [s for s in seen if not any(behind(s, other) for other in seen)]
    return _first_and_last(front, ("corner", "near corner", "far corner"))


def _ends(row_m: Array, path: Array) -> list[_Mark]:
    """Both ends of a row, each time it is passed."""
    passes = zip(*passing.abeam(path, row_m[[0, -1]], REACH_M), strict=True)
    seen = [
        _Seen(int(leg), float(share), float(right), int(end), path[leg])
        for end, leg, share, right in passes
    ]
    return _first_and_last(seen, ("end", "near end", "far end"))


def _first_and_last(seen: Sequence[_Seen], words: tuple[Part, Part, Part]) -> list[_Mark]:
    """Of passes the first and the last in the ride's order, until one of the points comes again;
    `words` for one alone, the first, the last."""
    groups: list[list[_Seen]] = []
    for one in sorted(seen, key=lambda s: (s.leg, s.share, abs(s.right_m), s.which)):
        if not groups or one.which in {other.which for other in groups[-1]}:
            groups.append([])
        groups[-1].append(one)
    alone, first, last = words
    marks: list[_Mark] = []
    for group in groups:
        ends = [(group[0], alone)] if len(group) == 1 else [(group[0], first), (group[-1], last)]
        marks += [_Mark(s.leg, s.share, s.right_m, part) for s, part in ends]
    return marks
