"""From a tight place back to its mark: when stop must have been called, and who calls it.

    mark = t_brake - t_hands          t_brake: what is left of its way to the tight place is v²/(2b)

`v` is the aircraft's own speed as it begins to brake, `b` its braking; the way is that of its own
track, undisturbed. `t_hands` is what people need (`scene/calling.py`). That the aircraft, which
follows the rider, slows down with him is left out.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import NamedTuple

import numpy as np

from shotplan.judging.judged import Finding, ShotPlan, remarked
from shotplan.judging.tight import Tight, tight_places
from shotplan.model.arrays import Array
from shotplan.model.verdict import Verdict, worst
from shotplan.scene.calling import Caller, Silent, alone, callers, remarks, seen, unheard_m
from shotplan.scene.margin import Remark
from shotplan.scene.scene import Scene


class Brake(NamedTuple):
    """When the aircraft must begin to brake, and how fast it then is."""

    time_s: float
    speed_m_s: float


class Mark(NamedTuple):
    """When and where stop is called at the latest, how fast the rider then is, and by whom.
    `sees`: the caller does, then; `unheard_m`: so far off is whoever steers, too far for a voice
    (0 near enough)."""

    place: Tight
    brake: Brake
    caller: Caller
    time_s: float
    along_m: float
    rider_m_s: float
    sees: bool
    unheard_m: float


def marks(scene: Scene, findings: Sequence[Finding]) -> list[Mark]:
    """One for each tight place: of those who see the aircraft when they would have to call, the
    first who is heard; else the first who has a radio; else nobody, said of the first."""
    people = callers(scene.day)
    found = []
    for place in tight_places(scene, findings):
        brake = _brake(scene, place.sample)
        each = [_mark(scene, place, brake, caller) for caller in people]
        found.append(min(each, key=lambda m: (not m.sees, m.unheard_m > 0.0)))
    return found


def too_early(scene: Scene, mark: Mark) -> bool:
    """Whether it lies before the first sample."""
    return mark.time_s < float(scene.track.ride.t_s[0])


def counted(shot: ShotPlan) -> tuple[Finding, ...]:
    """The findings, with what nobody can call added to the one that counts it. The person alone has
    nobody who calls, which that finding says by itself."""
    scene = shot.scene
    if alone(scene.day) or not scene.day.who("pilot"):
        return shot.findings
    silent = [_silent(scene, m) for m in marks(scene, shot.findings)
              if not too_early(scene, m) and not (m.sees and m.unheard_m == 0.0)]  # fmt: skip
    if not silent:
        return shot.findings
    told = remarks(silent)
    return tuple(_warned(f, told) if f.of.callers else f for f in shot.findings)


def _silent(scene: Scene, mark: Mark) -> Silent:
    thing, told = mark.place.thing, mark.place.finding.of.told.name
    names = {t.id: t.label for t in scene.site.obstacles.things}
    called = told or names.get(thing) or thing or mark.place.finding.check
    caller = mark.caller.person
    by = caller.name if caller is not None and mark.sees else ""
    return Silent(called, mark.along_m, mark.time_s, by, mark.unheard_m)


def _warned(found: Finding, told: Sequence[Remark]) -> Finding:
    """A finding with more cautions."""
    more = [remarked(r, r.advice) for r in told]
    also = tuple(sorted((*found.also, *more), key=lambda one: -int(one.verdict)))
    kept = replace(found, remarks=(*found.remarks, *told), also=also)
    if found.verdict > Verdict.CAUTION or found.by_limit == Verdict.CAUTION:
        return kept
    deciding = [one for one in also if one.verdict == Verdict.CAUTION]
    reason, advice = (
        "; ".join(dict.fromkeys(texts))
        for texts in zip(*((one.reason, one.advice) for one in deciding), strict=True)
    )
    return replace(
        kept, verdict=worst((found.verdict, Verdict.CAUTION)), reason=reason, advice=advice
    )


def _mark(scene: Scene, place: Tight, brake: Brake, caller: Caller) -> Mark:
    ride = scene.track.ride
    t, rider = ride.t_s, ride.speed_m_s[0]
    slack = brake.time_s - t - caller.seconds(rider)
    if slack[0] < 0.0:  # before the first sample he comes along straight and evenly
        time = float(t[0] + slack[0])
        along = float(ride.along_m[0, 0] + rider[0] * slack[0])
        return Mark(place, brake, caller, time, along, float(rider[0]), False, 0.0)
    time = _runs_out(t, slack)
    along, speed = (float(np.interp(time, t, row)) for row in (ride.along_m[0], rider))
    at = min(int(np.searchsorted(t, time)), t.size - 1)
    sees = bool(seen(scene, caller)[at])
    return Mark(place, brake, caller, time, along, speed, sees, unheard_m(scene, caller, at))


def _brake(scene: Scene, sample: int) -> Brake:
    """The latest moment from which row 0's aircraft can still stand before `sample`, by the length
    of its own track; it came straight and evenly before the first one."""
    t = scene.track.ride.t_s[: sample + 1]
    speed = scene.speed_m_s[0, : sample + 1]
    steps = np.linalg.norm(np.diff(scene.track.xyz_m[0, : sample + 1], axis=0), axis=1)
    left_m = steps.sum() - np.concatenate([[0.0], np.cumsum(steps)])
    slack = left_m - speed**2 / (2.0 * scene.aircraft.brake_m_s2)
    if not (slack >= 0.0).any():
        return Brake(float(t[0] + slack[0] / speed[0]), float(speed[0]))
    time = _runs_out(t, slack)
    return Brake(time, float(np.interp(time, t, speed)))


def _runs_out(t_s: Array, slack: Array) -> float:
    """The last moment at which `slack (n,)` is not negative; it is so somewhere."""
    last = int(np.flatnonzero(slack >= 0.0)[-1])
    if last == len(slack) - 1:
        return float(t_s[last])
    share = slack[last] / (slack[last] - slack[last + 1])
    return float(t_s[last] + share * (t_s[last + 1] - t_s[last]))
