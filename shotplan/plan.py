"""Fly the shots of an outing and judge them."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import replace
from datetime import datetime
from functools import partial

import numpy as np

from shotplan import __version__
from shotplan.checks import CHECKS
from shotplan.flying import undisturbed, with_others
from shotplan.judging import combined, marks
from shotplan.judging import judge as judging
from shotplan.judging.corridor import corridor
from shotplan.judging.judged import Finding, Plan, ShotPlan
from shotplan.model.verdict import worst
from shotplan.outing import Outing
from shotplan.scene import energy, timeline
from shotplan.scene.landmarks import landmarks
from shotplan.scene.margin import Check
from shotplan.scene.scene import Scene
from shotplan.side_by_side import each

CAUTIONS = (
    "This was computed from what the site folder says; what nobody drew, measured or looked for "
    "is not in it.",
    "Walk the ride first, look for wires, and fly the easy version before the tight one.",
    "The rules of the place and the people who license flying there have the last word; the "
    "tool does not say that a flight is allowed or without danger.",
    "Stop as soon as anybody who is not part of the shoot comes near.",
)


def make(
    outing: Outing,
    progress: Callable[[str], None] = lambda _: None,
    *,
    rides: int | None = None,
    shot: str | None = None,
    workers: int | None = None,
) -> Plan:
    """Fly and judge every shot of an outing: over `rides` disturbed rides beside the
    undisturbed one (1: that alone; None: as many as the site asks for), by so many `workers`
    (None: see `side_by_side`), with the same answer; or one `shot` alone, at the hour the whole day
    gives it. `progress` is told each shot's name as its turn comes."""
    if rides is not None:
        if rides < 1:
            raise ValueError(f"rides is {rides}; wanted at least 1, the undisturbed one alone")
        outing = replace(outing, disturbance=replace(outing.disturbance, rides=rides))
    ask = partial(each, shared=shared(outing), workers=workers)
    flights = list(ask(partial(undisturbed, outing), outing.shots))
    clock, begun = _laid(outing, flights)
    if shot is not None:
        index = [s.name for s in outing.shots].index(shot)
        outing, flights = replace(outing, shots=(outing.shots[index],)), [flights[index]]
        clock, begun = _laid(outing, flights, begun[index])
    answers = ask(partial(_judged, outing), tuple(zip(flights, begun, strict=True)))
    shots = []
    for wanted in outing.shots:
        progress(wanted.name)
        shots.append(next(answers))
    return Plan(
        outing=outing,
        shots=tuple(shots),
        verdict=worst(s.verdict for s in shots),
        version=__version__,
        cautions=CAUTIONS,
        timeline=clock.day(_light(outing)),
        marks=landmarks(outing.site, outing.ride),
    )


def _laid(
    outing: Outing, flights: Sequence[Scene], start: datetime | None = None
) -> tuple[timeline.Clock, list[datetime]]:
    """The day's clock with the shots on it from `start` (None: the day's) on, and when the first
    take of each begins."""
    clock, light, begun = timeline.Clock(outing.day, start), _light(outing), []
    for index, flight in enumerate(flights):
        likely, lasts_s = energy.likely(flight.first), float(np.ptp(flight.first.track.ride.t_s))
        begun.append(clock.shot(index, flight.shot.takes, lasts_s, likely))
        clock.note_last_take_off(index, timeline.last_take_off(light, lasts_s, likely))
    return clock, begun


def _light(outing: Outing) -> timeline.Light:
    return timeline.light_of(outing.day, outing.rules, outing.site.frame)


def _judged(outing: Outing, asked: tuple[Scene, datetime]) -> ShotPlan:
    flight, start = asked
    return judge(with_others(outing, flight, start, outing.disturbance.rides))


def shared(outing: Outing) -> dict[str, object]:
    """What every shot's scene holds, by name."""
    parts = {name: getattr(outing, name) for name in ("site", "day", "aircraft", "rules", "ride")}
    shots = {f"shot {i}": shot for i, shot in enumerate(outing.shots)}
    return {**parts, "terrain": outing.site.terrain, **shots}


def begins(outing: Outing, flights: Sequence[Scene]) -> list[datetime]:
    """When the first take of each of its undisturbed `flights` begins."""
    return _laid(outing, flights)[1]


def findings(
    scene: Scene, checks: Iterable[Check] = CHECKS, progress: Callable[[str], None] = lambda _: None
) -> tuple[Finding, ...]:
    """What the checks say of a scene; `progress` is told each check's id before it is asked."""
    found = []
    for check in checks:
        progress(check.id)
        found.append(judging.find(check, scene))
    return tuple(found)


def judge(scene: Scene, progress: Callable[[str], None] = lambda _: None) -> ShotPlan:
    """Ask every check, merge what they say along the ride, and count where nobody can call."""
    once = scene.first
    found = findings(scene, progress=progress)
    sample_verdict, sample_binding = judging.merge_samples(found, once.track.ride.along_m[0])
    shot = ShotPlan(
        scene=once,
        verdict=worst(f.verdict for f in found),
        findings=found,
        stretches=judging.stretches(once, found),
        sample_verdict=sample_verdict,
        sample_binding=sample_binding,
        rides=max(scene.track.ride.rides - 1, 1),
        ride_from_m=scene.shot.from_m,
        ride_to_m=scene.shot.to_m,
        duration_s=float(np.ptp(once.track.ride.t_s)),
        corridor=corridor(scene.track, by_clock=not (scene.wish and scene.wish.follows_rider)),
    )
    found = marks.counted(shot)
    return replace(
        shot,
        verdict=worst(f.verdict for f in found),
        findings=found,
        combined=combined.sentence((f.of.group, f.verdict) for f in found),
    )
