"""Fly the shots of an outing and judge them."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import replace

import numpy as np

from shotplan import __version__
from shotplan.checks import CHECKS
from shotplan.flying import stage_scene
from shotplan.judging import combined
from shotplan.judging import judge as judging
from shotplan.judging.corridor import corridor
from shotplan.judging.judged import Finding, Plan, ShotPlan
from shotplan.model.verdict import worst
from shotplan.outing import Outing
from shotplan.scene import energy, timeline
from shotplan.scene.landmarks import landmarks
from shotplan.scene.margin import Check
from shotplan.scene.scene import Scene

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
) -> Plan:
    """Fly and judge every shot of an outing: over `rides` rides, the undisturbed one among them
    (None: as many as the site asks for). `progress` is told each shot's name as it starts."""
    if rides is not None:
        if rides < 1:
            raise ValueError(f"rides is {rides}; wanted at least 1, the undisturbed one")
        outing = replace(outing, disturbance=replace(outing.disturbance, rides=rides))
    shots: list[ShotPlan] = []
    clock = timeline.Clock(outing.day)
    light = timeline.light_of(outing.day, outing.rules, outing.site.frame)
    for index, shot in enumerate(outing.shots):
        progress(shot.name)
        scene = stage_scene(outing, shot, outing.day.start, outing.disturbance.rides)
        once = scene.first
        flight, lasts_s = energy.likely(once), float(np.ptp(once.track.ride.t_s))
        start = clock.shot(index, shot.takes, lasts_s, flight)
        clock.note_last_take_off(index, timeline.last_take_off(light, lasts_s, flight))
        shots.append(judge(replace(scene, start=start)))
    return Plan(
        outing=outing,
        shots=tuple(shots),
        verdict=worst(s.verdict for s in shots),
        version=__version__,
        cautions=CAUTIONS,
        timeline=clock.day(light),
        marks=landmarks(outing.site, outing.ride),
    )


def findings(scene: Scene, checks: Iterable[Check] = CHECKS) -> tuple[Finding, ...]:
    """What the checks say of a scene."""
    return tuple(judging.find(check, scene) for check in checks)


def judge(scene: Scene) -> ShotPlan:
    """Ask every check, merge what they say along the ride."""
    once = scene.first
    found = findings(scene)
    sample_verdict, sample_binding = judging.merge_samples(found, once.track.ride.along_m[0])
    return ShotPlan(
        scene=once,
        verdict=worst(f.verdict for f in found),
        findings=found,
        stretches=judging.stretches(once, found),
        sample_verdict=sample_verdict,
        sample_binding=sample_binding,
        rides=scene.track.ride.rides,
        ride_from_m=scene.shot.from_m,
        ride_to_m=scene.shot.to_m,
        duration_s=float(np.ptp(once.track.ride.t_s)),
        corridor=corridor(scene.track, by_clock=not (scene.wish and scene.wish.follows_rider)),
        combined=combined.sentence((f.of.group, f.verdict) for f in found),
    )
