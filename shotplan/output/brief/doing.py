"""What somebody of the crew watches for, calls and expects: each shot in a line."""

from __future__ import annotations

import math
import re
from collections.abc import Iterator, Sequence

import numpy as np

from shotplan.aids.last_call import LastCall, last_calls
from shotplan.aids.skyline import nearest_turn, toward
from shotplan.judging.judged import Plan, ShotPlan
from shotplan.kernels.rides.runs import stretches
from shotplan.model import say
from shotplan.model.arrays import Array
from shotplan.model.day import Person
from shotplan.model.ride import STEP_S
from shotplan.model.site import Place
from shotplan.model.verdict import Verdict
from shotplan.output import stop as stops
from shotplan.output.brief.rows import listed, on_ride, put
from shotplan.output.reasons import reason
from shotplan.output.words import letter, named, plain, ranked
from shotplan.scene.calling import callers
from shotplan.scene.eyesight import sees
from shotplan.scene.holding import PASSERS, call_distance_m
from shotplan.scene.landmarks import PACE_M, paces
from shotplan.scene.scene import Scene
from shotplan.units import KMH_M_S

STAYS = {
    "hover": "stands until its battery is low, then comes down there",
    "land": "comes down where it is: keep away until the motors stop",
}
CLEAR_CIRCLE_M = 2.0  # beside half the span, where it comes down: as the check of the way home
ASIDE_RAD = math.radians(8.0)  # less than a fist is neither left nor right
LOST_S = 1.0
LONG_S = 100.0
LEAST_KM_H = 4.0  # slower is standing


# -- watch for


def watches(plan: Plan, person: Person, shots: Sequence[int]) -> Iterator[tuple[str, str]]:
    """A line a shot, then what is always watched."""
    for i in shots:
        one = plan.shots[i]
        worst = next((f for f in ranked(one) if f.verdict != Verdict.GO), None)
        if "pilot" in person.roles and worst is not None:
            yield letter(i), f"{reason(worst, plan.outing.site)}."
            continue
        if in_sight(one.scene, person):
            yield letter(i), _passes(one.scene, person)
    unseen = [letter(i) for i in shots if not in_sight(plan.shots[i].scene, person)]
    if unseen and "pilot" not in person.roles:
        yield listed(unseen), "hardly seen from here."
    areas = [plain(a.name or a.id) for a in plan.outing.site.people if a.state != "closed"]
    yield "Always", f"{listed(areas[:3])}, both ways." if areas else "who comes near, both ways."


def in_sight(scene: Scene, person: Person) -> bool:
    """Whether somebody sees at least half of a flight, as far as it is known."""
    return bool(sees(scene, person).mean() >= 0.5)


def _passes(scene: Scene, person: Person) -> str:
    """`it comes from the left, 40 paces off at 12 s, 1 fist up; not seen 8 to 12 s.`"""
    place = scene.stand_of(person)
    if place is None or not np.isfinite(place.xyz_m).all():
        return f"it flies {scene.shot.style.flies}, {say.seconds(_lasts_s(scene))}."
    eye = place.xyz_m + np.array([0.0, 0.0, person.eye_m])
    azimuth, elevation = toward(eye, scene.track.xyz_m[0])
    slant = np.linalg.norm(scene.track.xyz_m[0] - eye, axis=1)
    i = int(np.argmin(slant))
    off = nearest_turn(azimuth, float(azimuth[i])) - azimuth[i]
    fists = round(math.degrees(float(elevation[i])) / 10.0)
    high = "at eye level" if fists == 0 else f"{abs(fists)} fist{'s' * (abs(fists) > 1)} "
    high += "" if fists == 0 else "up" if fists > 0 else "down"
    t = float(scene.track.ride.t_s[i])
    away = f"{paces(float(slant[i]))} paces off at {t:.0f} s"
    return f"{_comes(off, i)}, {away}, {high}{_gone(scene, person)}."


def _comes(off_rad: Array, nearest: int) -> str:
    """Which way, as seen from there."""
    begins, ends = float(off_rad[0]), float(off_rad[-1])
    if abs(begins) < ASIDE_RAD and abs(ends) < ASIDE_RAD:
        return "it comes at you" if nearest > len(off_rad) // 2 else "it goes away from you"
    if abs(begins) < ASIDE_RAD:
        return f"it goes to the {'right' if ends > 0.0 else 'left'}"
    return f"it comes from the {'right' if begins > 0.0 else 'left'}"


def _gone(scene: Scene, person: Person) -> str:
    """For how long it is not seen."""
    t = scene.track.ride.t_s
    lost = [(a, b) for a, b in stretches(~sees(scene, person)) if (b - a) * STEP_S >= LOST_S]
    if not lost:
        return ""
    if len(lost) > 1:
        whole = sum(b - a for a, b in lost) * STEP_S
        return f"; not seen for {whole:.0f} s"
    low, high = lost[0]
    return f"; not seen {t[low]:.0f} to {t[high - 1] + STEP_S:.0f} s"


def rides(plan: Plan) -> Iterator[tuple[str, str]]:
    """How the rider is to ride."""
    every = pace([plan.shots[i] for i in stops.told(plan)])
    yield "Same line, same pace:", f"{every}. Brake late and gently."
    if len(plan.outing.day.crew) > 1:
        yield "Start", "only when you hear “go on”. There is no arm sign for it."
    else:
        yield "Start", "only when you have looked at the places below."


def pace(shots: Sequence[ShotPlan]) -> str:
    """`20 to 26 km/h`."""
    tracks = [s.scene.track.ride for s in shots]
    speeds = np.concatenate([t.speed_m_s[0][t.filming[0]] for t in tracks]) / KMH_M_S
    moving = speeds[speeds >= LEAST_KM_H]
    if not len(moving):
        return "standing"
    low, high = (round(float(v)) for v in np.percentile(moving, [5.0, 95.0]))
    return f"{low} km/h" if low == high else f"{low} to {high} km/h"


# -- call


def calls(plan: Plan, person: Person, shots: Sequence[int]) -> Iterator[tuple[str, str, str]]:
    """Theirs: code, what to look at, what is said. What is looked at before the take is the
    pilot's, else the first caller's."""
    looks = _looks_first(plan)
    for i in shots:
        for call in last_calls(plan.shots[i], plan.marks):
            code, thing = call.code(letter(i)), _thing(plan, call)
            if call.first and person == looks:
                where = on_ride(plan, plan.shots[i], call.tight_m)
                yield code, f"look at {thing}, {where}", "before"
            elif not call.first and call.caller.person == person:
                radio = ", by radio" if call.unheard_m else ""
                yield code, f"rider {_where(call)}, unless clear of {thing}{radio}", "“Stop!”"
    if "rider" not in person.roles and any(
        a.held_by == person.name for a in plan.outing.site.people
    ):
        slow, *_, fast = (paces(call_distance_m(speed)) for _, speed in PASSERS)
        yield "any", f"walker {slow} paces off the track (bike {fast})", "“People!”"


def _where(call: LastCall) -> str:
    """Its place as on every sheet, without how far aside the mark stands."""
    return re.sub(r" \((left|right), \d+ m\)", "", put(call.phrase))


def _looks_first(plan: Plan) -> Person | None:
    """Who looks before the take: who steers."""
    pilots = plan.outing.day.who("pilot")
    return pilots[0] if pilots else callers(plan.outing.day)[0].person


def _thing(plan: Plan, call: LastCall) -> str:
    return call.of.told.name or named(plan.outing.site, call.thing)


# -- by itself, a walker


def alone(plan: Plan, shots: Sequence[int]) -> str:
    """Where it goes when the link is lost."""
    ways: dict[str, list[str]] = {}
    for i in shots:
        ways.setdefault(plan.shots[i].scene.shot.link_lost, []).append(letter(i))
    told = []
    for way, which in ways.items():
        does = STAYS.get(way) or _home(plan)
        told.append(f"in {listed(which)} it {does}" if len(ways) > 1 else f"it {does}")
    return f"Link lost: {'; '.join(told)}."


def _home(plan: Plan) -> str:
    site = plan.outing.site
    height = site.return_height_m
    up = "____ m" if height is None else f"{height:g} m"
    clear = math.ceil((CLEAR_CIRCLE_M + plan.outing.aircraft.half_span_m) / PACE_M)
    where = "____________" if site.launch is None else _launch(site.launch)
    return f"climbs to {up}, flies to {where}, lands; keep {clear} paces off"


def _launch(place: Place) -> str:
    name = plain(place.label)
    return "the launch" if name == "launch" else f"{name}, the launch"


def lasts(plan: Plan) -> str:
    """How long a walker would wait."""
    longest = max((_lasts_s(s.scene) for s in plan.shots), default=0.0)
    return "two minutes" if longest <= LONG_S else "a few minutes"


def _lasts_s(scene: Scene) -> float:
    return float(np.ptp(scene.track.ride.t_s))
