"""What a place is worth in a role: its terms, its score, and everything about it at length."""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from shotplan.advice import standing_field as where
from shotplan.advice import standing_ground as standing
from shotplan.advice import watching_flight as watching
from shotplan.advice.standing_field import Field, Points
from shotplan.advice.standing_ground import Ground
from shotplan.advice.vantage import CROWDED, DOUBT, WEIGHTS, Role, Vantage
from shotplan.model.arrays import Array, Bools
from shotplan.model.day import Person
from shotplan.model.site import Place
from shotplan.scene.eyesight import EYE_M

ROUGH = 64  # samples of the flight by which points are ranked
WALK_WORTH_M, NEAR_LAUNCH_M, FAR_FROM_LAUNCH_M = 300.0, 10.0, 100.0
OPEN_ENOUGH_M = 20.0
OVER_LAUNCH_M = 1.0  # the pilot must see it that high over the launch

Key = tuple[float, ...]  # a point


@dataclass(kw_only=True)
class Search:
    """What all roles are sought with; `launch_m (3,)` and `pilot_sees (n,)` of the first proposals,
    once they are found (None before, or without one)."""

    field: Field
    flight: watching.Flight
    rough: watching.Flight
    launch_m: Array | None = None
    pilot_sees: Bools | None = None
    _hazards: dict[Key, tuple[standing.Hazard, ...]] = dataclasses.field(default_factory=dict)
    _rough: dict[Key, tuple[Any, ...]] = dataclasses.field(default_factory=dict)

    @cached_property
    def raster(self) -> tuple[Points, float, Ground]:
        """The points all roles start from, their step, what is underfoot."""
        points, step = where.raster(self.field)
        return points, step, standing.ground_of(self.field, points)

    def hazards(self, point_m: Array) -> tuple[standing.Hazard, ...]:
        """`standing_ground.hazards`, asked once a point."""
        key = tuple(point_m.tolist())
        if key not in self._hazards:
            self._hazards[key] = standing.hazards(self.field, point_m)
        return self._hazards[key]

    def roughly(self, eyes_m: Array) -> tuple[watching.Seen, watching.SunShares]:
        """What eyes `(k,3)` (at least one) have of the thinned flight, asked once an eye."""
        keys = [tuple(e) for e in eyes_m.tolist()]
        new = [i for i, key in enumerate(keys) if key not in self._rough]
        if new:
            seen = watching.seen_from(self.rough, eyes_m[new])
            sun = watching.sun_shares(self.rough, eyes_m[new])
            found = zip(*seen, *sun, strict=True)
            self._rough |= {keys[i]: row for i, row in zip(new, found, strict=True)}
        columns = [np.stack(c) for c in zip(*(self._rough[k] for k in keys), strict=True)]
        return watching.Seen(*columns[:3]), watching.SunShares(*columns[3:])

    def eye_m(self, role: Role) -> float:
        """How high the eyes of a role's first person are; at the launch the pilot's."""
        who = self.field.outing.day.who("pilot" if role == "launch" else role)
        return who[0].eye_m if who else EYE_M


def eyes_of(xyz_m: Array, search: Search, role: Role) -> Array:
    """Eyes `(k,3)` over feet `(k,3)` or `(3,)`."""
    return np.asarray(np.atleast_2d(xyz_m) + np.array([0.0, 0.0, search.eye_m(role)]))


def sees_launch(search: Search, xyz_m: Array) -> Bools:
    """Whether the pilot standing at `xyz_m (k,3)` sees the aircraft just over launch 1."""
    if search.launch_m is None:
        return np.zeros(len(xyz_m), dtype=bool)
    end = search.launch_m + np.array([0.0, 0.0, OVER_LAUNCH_M])
    eyes = eyes_of(xyz_m, search, "pilot")
    return watching.free_ways(search.field.outing.site, eyes, np.broadcast_to(end, eyes.shape))[0]


# -- what they are worth


def terms_of(
    search: Search,
    role: Role,
    points: Points,
    ground: Ground,
    flight: watching.Flight,
    seen: watching.Seen,
    sun: watching.SunShares,
) -> dict[str, Array]:
    """Each criterion of a role from 0 to 1, `(k,)`."""
    eyes = eyes_of(points.xyz_m, search, role)
    launch = search.launch_m
    apart = (
        np.full(len(eyes), FAR_FROM_LAUNCH_M)
        if launch is None
        else np.hypot(*(points.xyz_m[:, :2] - launch[:2]).T)
    )
    every = {
        "seen": seen.seen.mean(axis=1),
        "level": 1.0 - ground.slope_deg / standing.STEEP_DEG[role][-1],
        "open": ground.obstacle_m / OPEN_ENOUGH_M,
        "wind": watching.wind_worth(flight, eyes),
        "sun": 1.0 - sun.glare - 0.5 * sun.near,
        "walk": 1.0 - ground.walk_m / WALK_WORTH_M,
        "near": 1.0 - seen.slant_m.max(axis=1) / flight.limit_m,
        "launch": (FAR_FROM_LAUNCH_M - apart) / (FAR_FROM_LAUNCH_M - NEAR_LAUNCH_M),
        "together": seen_together(search, flight, seen.seen).mean(axis=1),
    }
    return {name: np.clip(every[name], 0.0, 1.0) for name in WEIGHTS[role]}


def seen_together(search: Search, flight: watching.Flight, seen: Bools) -> Bools:
    """`(k,n)` what is seen from there or by pilot 1."""
    pilot = search.pilot_sees
    return seen if pilot is None else np.asarray(seen | pilot[:, flight.sample])


def score_of(role: Role, terms: Mapping[str, Array]) -> Array:
    """The weighted sum `(k,)`."""
    return np.asarray(sum(WEIGHTS[role][name] * terms[name] for name in WEIGHTS[role]))


def vantages(
    search: Search, role: Role, points: Points, ground: Ground, which: NDArray[np.intp]
) -> list[Vantage]:
    """Some of the points at length, by every sample of the flight."""
    if not len(which):
        return []
    points, ground = points.of(which), standing.part_of(ground, which)
    eyes = eyes_of(points.xyz_m, search, role)
    seen = watching.seen_from(search.flight, eyes)
    sun = watching.sun_shares(search.flight, eyes)
    terms = terms_of(search, role, points, ground, search.flight, seen, sun)
    watched = watching.watched(search.flight, seen, sun, eyes)
    joined = seen_together(search, search.flight, seen.seen).mean(axis=1)
    found = []
    for k, here in enumerate(points.xyz_m):
        under = standing.underfoot(search.field, points, ground, k, sky=role == "launch")
        mine = {name: float(values[k]) for name, values in terms.items()}
        if role == "launch":
            mine["open"] = 0.5 * (mine["open"] + under.sky)
        unsure = [h.text for h in search.hazards(here) if not h.known]
        doubts = standing.doubts(k, ground, unsure)
        place, launch = points.place[k], search.launch_m
        found.append(
            Vantage(
                role=role,
                number=0,
                watched=watched[k],
                xyz_m=here,
                ground=under,
                place=place.label if place else "",
                terms=mine,
                score=sum(WEIGHTS[role][n] * v for n, v in mine.items())
                - DOUBT * len(doubts)
                - crowded(role, under.obstacle_m),
                doubts=doubts,
                launch_m=np.nan if launch is None else float(np.hypot(*(here - launch)[:2])),
                together=float(joined[k]) if role == "spotter" else np.nan,
            )
        )
    return found


def crowded(role: Role, obstacle_m: float) -> float:
    """What a place loses for what stands nearer than one wants it there."""
    return CROWDED * float(np.clip(1.0 - obstacle_m / standing.CLEAR_M[role], 0.0, 1.0))


# -- where they stand now


def standing_as_said(search: Search) -> list[Vantage]:
    """The launch of the folder, and everybody who steers or watches, where they stand."""
    outing = search.field.outing
    every = tuple(range(len(outing.shots)))
    found = []
    if outing.site.launch is not None:
        found.append(standing_now(search, "launch", outing.site.launch, (), every))
    for role in ("pilot", "spotter"):
        there: dict[str, tuple[list[str], set[int]]] = {}
        for person in outing.day.who(role):
            if "rider" in person.roles:
                found.append(riding_now(search, role, person))
                continue
            for index, shot in enumerate(outing.shots):
                place = shot.stands.place_of(person)
                if place:
                    names, shots = there.setdefault(place, ([], set()))
                    names.extend([person.name] if person.name not in names else [])
                    shots.add(index)
        found += [
            standing_now(search, role, outing.site.places[i], tuple(names), tuple(sorted(shots)))
            for i, (names, shots) in there.items()
        ]
    return found


def standing_now(
    search: Search, role: Role, place: Place, who: tuple[str, ...], shots: tuple[int, ...]
) -> Vantage:
    """A place of the folder as somebody stands there now, with all that speaks against it."""
    points = where.points_of(search.field, place.xyz_m[None, :2], (place,))
    ground = standing.ground_of(search.field, points)
    reasons = standing.ruled_out(search.field, role, points, ground, standing.STEEP_DEG[role][0])
    against = [reason for reason, holds in reasons.items() if holds[0]]
    (found,) = vantages(search, role, points, ground, np.arange(1))
    more = [h.text for h in search.hazards(points.xyz_m[0]) if h.known]
    return replace(found, who=who, shots=shots, against=(*against, *more))


def riding_now(search: Search, role: Role, person: Person) -> Vantage:
    """Somebody who rides and steers or watches: only what they see is asked."""
    up = np.array([0.0, 0.0, person.eye_m])
    eye = np.concatenate([s.track.ride.xyz_m[0] + up for s in search.field.scenes])
    return Vantage(
        role=role,
        number=0,
        watched=watching.watched_riding(search.flight, eye),
        xyz_m=np.full(3, np.nan),
        ground=None,
        who=(person.name,),
        shots=tuple(range(len(search.field.scenes))),
        terms={},
        score=np.nan,
        launch_m=np.nan,
        together=np.nan,
    )
