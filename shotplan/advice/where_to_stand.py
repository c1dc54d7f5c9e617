"""Where to launch, and where the pilot and the spotter should stand.

Points over the site are ruled out, then ranked by a thinned flight, refined around the best, and
the few that lead are asked again with every sample of every shot: only those numbers are said.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from typing import NamedTuple

import numpy as np

from shotplan.advice import standing_field
from shotplan.advice import standing_ground as standing
from shotplan.advice import watching_flight as watching
from shotplan.advice.standing_field import Field, Points
from shotplan.advice.standing_ground import Ground
from shotplan.advice.vantage import ROLES, Role, Vantage, Vantages
from shotplan.advice.vantage_points import (
    ROUGH,
    Search,
    eyes_of,
    score_of,
    sees_launch,
    standing_as_said,
    terms_of,
    vantages,
)
from shotplan.errors import Problems
from shotplan.flying import stage_scene
from shotplan.model.arrays import Array, Bools
from shotplan.outing import Outing
from shotplan.scene import energy, timeline
from shotplan.scene.eyesight import ALONGSIDE_M, range_m
from shotplan.scene.scene import Scene

REFINED = 20  # of the best points, whose neighbours are tried too
LEADERS, LEADERS_APART_M = 12, 10.0  # asked again with every sample
MOST_ASKED = 400  # of the best points, about drops and faces around
PROPOSALS, APART_M = 3, 20.0
BESIDE_M = 2.5  # of the pilot, for who must be alongside


class _Ranked(NamedTuple):
    """Points, what is underfoot, which may be stood on, their rough score and share seen."""

    points: Points
    ground: Ground
    allowed: Bools
    score: Array
    seen: Array
    reasons: Mapping[str, Bools]

    def beside(self, other: _Ranked) -> _Ranked:
        """These points and others."""
        return _Ranked(
            self.points.beside(other.points),
            standing.beside(self.ground, other.ground),
            np.concatenate([self.allowed, other.allowed]),
            np.concatenate([self.score, other.score]),
            np.concatenate([self.seen, other.seen]),
            {k: np.concatenate([self.reasons[k], other.reasons[k]]) for k in self.reasons},
        )


def where_to_stand(outing: Outing, progress: Callable[[str], None] = lambda _: None) -> Vantages:
    """Up to three places for each role, and what those of the folder are worth. `progress` is told
    each shot and each role."""
    scenes = _flown(outing, progress)
    search = _search(Field(outing=outing, scenes=scenes))
    proposals: dict[Role, tuple[Vantage, ...]] = {}
    tried: dict[Role, int] = {}
    reasons: dict[Role, tuple[tuple[str, int], ...]] = {}
    rough: list[Array] = []
    for role in ROLES:
        progress(role)
        ranked, proposals[role] = _sought(search, role, proposals.get("pilot", ()))
        tried[role], reasons[role] = len(ranked.allowed), _counted(ranked)
        if role == "pilot":
            rough.append(np.column_stack([ranked.points.xyz_m[:, :2], ranked.seen])[ranked.allowed])
        _settle(search, role, proposals[role])
    return Vantages(
        outing=outing,
        proposals=proposals,
        now=tuple(standing_as_said(search)),
        tried=tried,
        ruled_out=reasons,
        limit_m=search.flight.limit_m,
        tracks=tuple(s.track.xyz_m[0, :, :2] for s in scenes),
        fall=search.field.fall,
        seen_from=np.concatenate(rough),
        notes=_notes(outing, scenes),
    )


def _flown(outing: Outing, progress: Callable[[str], None]) -> tuple[Scene, ...]:
    """Every shot's undisturbed ride, at its hour of the day."""
    problems = Problems()
    if not outing.shots:
        problems.add(
            "site.toml: [[shot]]", "there is none; add one: where to stand depends on the flight"
        )
    problems.raise_if_any()
    clock = timeline.Clock(outing.day)
    scenes = []
    for index, shot in enumerate(outing.shots):
        progress(shot.name)
        scene = stage_scene(outing, shot, outing.day.start).first
        lasts_s = float(np.ptp(scene.track.ride.t_s))
        start = clock.shot(index, shot.takes, lasts_s, energy.likely(scene))
        scenes.append(replace(scene, start=start))
    return tuple(scenes)


def _search(field: Field) -> Search:
    flight = watching.flight_of(field.scenes)
    return Search(field=field, flight=flight, rough=flight.thinned(ROUGH))


def _settle(search: Search, role: Role, found: tuple[Vantage, ...]) -> None:
    """Remember the first launch and what the first pilot sees: the others go by them."""
    if not found:
        return
    if role == "launch":
        search.launch_m = found[0].xyz_m
    elif role == "pilot":
        eye = eyes_of(found[0].xyz_m, search, role)
        search.pilot_sees = watching.seen_from(search.flight, eye).seen


# -- which points


def _sought(
    search: Search, role: Role, pilots: tuple[Vantage, ...]
) -> tuple[_Ranked, tuple[Vantage, ...]]:
    """A role's points and proposals; on steeper ground where level ground has too few."""
    beside = role == "spotter" and _alongside(search.field.outing)
    wanted = len(pilots) if beside else PROPOSALS
    least, *_ = standing.STEEP_DEG[role]
    for steep_deg in standing.STEEP_DEG[role]:
        if beside:
            ranked, proposals = _beside(search, pilots, steep_deg)
        else:
            ranked = _over_site(search, role, steep_deg)
            proposals = _apart(_leading(search, role, ranked, LEADERS_APART_M))
        if len(proposals) >= wanted:
            break
    return ranked, tuple(
        replace(p, against=(*p.against, standing.steeper(least)))
        if p.ground and p.ground.slope_deg > least
        else p
        for p in proposals
    )


def _over_site(search: Search, role: Role, steep_deg: float) -> _Ranked:
    """A raster, refined around the best of it."""
    points, step, ground = search.raster
    first = _ranked(search, role, points, ground, steep_deg)
    best = np.argsort(-first.score, kind="stable")[:REFINED]
    best = best[first.allowed[best]]
    more = standing_field.around(search.field, points.xyz_m[best, :2], step / 2.0)
    more_ground = standing.ground_of(search.field, more)
    return first.beside(_ranked(search, role, more, more_ground, steep_deg))


def _beside(
    search: Search, pilots: tuple[Vantage, ...], steep_deg: float
) -> tuple[_Ranked, tuple[Vantage, ...]]:
    """For a spotter who must be there: points beside each pilot, and the best of each."""
    field = search.field
    nowhere = standing_field.points_of(field, np.empty((0, 2)))
    every = _ranked(search, "spotter", nowhere, standing.ground_of(field, nowhere), steep_deg)
    best: list[Vantage] = []
    for pilot in pilots:
        _settle(search, "pilot", (pilot,))
        points = standing_field.points_of(field, standing_field.ring(pilot.xyz_m[:2], BESIDE_M))
        ground = standing.ground_of(field, points)
        ranked = _ranked(search, "spotter", points, ground, steep_deg)
        every = every.beside(ranked)
        found = sorted(_leading(search, "spotter", ranked, 0.0), key=lambda v: -v.score)
        best += [replace(v, beside=pilot.number) for v in found[:1]]
    _settle(search, "pilot", pilots)
    return every, tuple(replace(v, number=i) for i, v in enumerate(best, start=1))


def _alongside(outing: Outing) -> bool:
    """Whether the pack counts an observer beside the pilot only."""
    crew = outing.rules.crew
    return crew is not None and crew.observer in ("alongside", "co-located")


def _ranked(
    search: Search, role: Role, points: Points, ground: Ground, steep_deg: float
) -> _Ranked:
    """Rule out, then score by the thinned flight."""
    reasons = standing.ruled_out(search.field, role, points, ground, steep_deg)
    allowed = ~np.logical_or.reduce(list(reasons.values()))
    if role == "pilot" and search.launch_m is not None:
        hidden = allowed.copy()
        hidden[allowed] = ~sees_launch(search, points.xyz_m[allowed])
        reasons["the launch is not seen from there"] = hidden
        allowed &= ~hidden
    score, share = np.full(len(allowed), -np.inf), np.zeros(len(allowed))
    some = np.flatnonzero(allowed)
    if len(some):
        there, under = points.of(some), standing.part_of(ground, some)
        seen, sun = search.roughly(eyes_of(there.xyz_m, search, role))
        terms = terms_of(search, role, there, under, search.rough, seen, sun)
        score[some], share[some] = score_of(role, terms), seen.seen.mean(axis=1)
    return _Ranked(points, ground, allowed, score, share, reasons)


# -- the few that lead


def _leading(search: Search, role: Role, ranked: _Ranked, apart_m: float) -> list[Vantage]:
    """The best points some way apart against which the crew check holds nothing, at length."""
    chosen: list[int] = []
    for k in np.argsort(-ranked.score, kind="stable")[:MOST_ASKED]:
        if not ranked.allowed[k] or len(chosen) == LEADERS:
            break
        here = ranked.points.xyz_m[k]
        away = [np.hypot(*(here - ranked.points.xyz_m[c])[:2]) for c in chosen]
        if min(away, default=np.inf) < apart_m:
            continue
        if not any(h.known for h in search.hazards(here)):
            chosen.append(int(k))
    return vantages(search, role, ranked.points, ranked.ground, np.array(chosen, dtype=int))


def _apart(found: list[Vantage]) -> tuple[Vantage, ...]:
    """The best, each some way from the others, numbered."""
    chosen: list[Vantage] = []
    for one in sorted(found, key=lambda v: -v.score):
        if len(chosen) < PROPOSALS and all(_away_m(one, c) >= APART_M for c in chosen):
            chosen.append(one)
    return tuple(replace(v, number=i) for i, v in enumerate(chosen, start=1))


def _away_m(one: Vantage, other: Vantage) -> float:
    return float(np.hypot(*(one.xyz_m - other.xyz_m)[:2]))


def _counted(ranked: _Ranked) -> tuple[tuple[str, int], ...]:
    """How many points each reason left out, the first reason that holds for each; most first."""
    left = np.ones(len(ranked.allowed), dtype=bool)
    counts = []
    for reason, where in ranked.reasons.items():
        counts.append((reason, int((left & where).sum())))
        left &= ~where
    return tuple(sorted(((r, c) for r, c in counts if c), key=lambda rc: -rc[1]))


def _notes(outing: Outing, scenes: tuple[Scene, ...]) -> tuple[str, ...]:
    """What the answer rests on, and what of it is not known."""
    rules, weather = outing.rules, outing.day.weather
    said = []
    if range_m(scenes[0])[1] is None:
        said.append("the visibility is not known: it is taken as far as an aircraft its size")
    if weather.wind_toward_m_s is None:
        said.append("the wind is not known: upwind and downwind count for nothing")
    if rules.sight.eyes == "pilot" or (rules.crew and rules.crew.observer == "none"):
        said.append(
            f"by {rules.id} only the pilot's own sight counts; a spotter helps all the same"
        )
    if _alongside(outing):
        said.append(
            f"by {rules.id} a spotter stands within {ALONGSIDE_M:.0f} m of the pilot: each of "
            "these does"
        )
    return tuple(said)
