"""Last-call marks: by where somebody must have called stop, so that the aircraft stands before a
tight place.

    mark = t_brake - t_hands          t_brake: what is left of its way to the tight place is v²/(2b)

`v` is the aircraft's own speed as it begins to brake, `b` its braking; the way is that of its own
track, undisturbed. `t_hands` is what people need: 2.75 s from a spotter's eye to the pilot's hands
(2.5 to 3 s: a setting derived from 2.5 s to perceive and brake in road design), 1 s where the
pilot watches it himself, and where the rider steers what he needs to brake to a stop and then to
take the control in hand. That the aircraft, which follows him, slows down too is left out. The mark
is said as a place of the rider, because that is what everybody sees.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from shotplan.aids.tight import Tight, tight_places
from shotplan.judging.judged import ShotPlan
from shotplan.model import say
from shotplan.model.arrays import Array
from shotplan.model.day import Day
from shotplan.model.ride import HANDS_ON_S, RIDER_BRAKES_M_S2
from shotplan.scene.landmarks import Landmark, landmarks, say_place
from shotplan.scene.margin import Check

SPOTTER_S = 2.75  # spotter, voice, pilot: the middle of 2.5 to 3 s
PILOT_S = 1.0  # hands on, watching
MERGE_M = 10.0


@dataclass(frozen=True, kw_only=True)
class LastCall:
    """One tight place and its mark.

    The rider is at `tight_m`, `tight_s` when the aircraft reaches the tight place of a check `of`
    `thing`, and at `mark_m`, `mark_s` when stop must have been called, `seconds_before` that.
    `who` calls; `phrase` says where; `how` is the formula with its numbers. `before_start`: the
    mark lies before the first filmed sample. `also`: what else is tight within 10 m of it.
    """

    of: Check
    thing: str
    tight_m: float
    tight_s: float
    mark_m: float
    mark_s: float
    seconds_before: float
    who: str
    phrase: str
    how: str
    before_start: bool
    also: tuple[str, ...] = ()

    @property
    def check(self) -> str:
        """The id of the check."""
        return self.of.id


class Hands(NamedTuple):
    """Who calls stop, and what it takes until hands act: `fixed_s`, after the rider has braked to
    a stop if he steers (`rides`)."""

    who: str
    fixed_s: float
    rides: bool
    words: str

    def seconds(self, rider_m_s: Array) -> Array:
        """At the rider's speed as stop is called."""
        return rider_m_s / RIDER_BRAKES_M_S2 * self.rides + self.fixed_s


class _Brake(NamedTuple):
    """When the aircraft must begin to brake, and how fast it then is."""

    time_s: float
    speed_m_s: float


class _Mark(NamedTuple):
    """When and where stop is called at the latest, and how fast the rider then is."""

    time_s: float
    along_m: float
    rider_m_s: float


def last_calls(shot: ShotPlan, marks: Iterable[Landmark] | None = None) -> tuple[LastCall, ...]:
    """The marks of a shot in the order in which they are passed, one for tight places that lie
    within 10 m of each other: the earliest decides.

    A place is tight where a finding of harm or rule is not go, and where a margin of harm in
    metres has its least below 5 m. What is the same all along the shot (a crew that does not fit,
    one margin all the way) is no place, unless it is harm in metres and not go; the way home is
    none either.
    `marks` to say places by; those along the shot where not given.
    """
    hands = hands_of(shot.scene.day)
    ride = shot.scene.track.ride
    known = tuple(landmarks(shot.scene.site, ride) if marks is None else marks)
    calls = [(place, _mark(shot, place, hands)) for place in tight_places(shot)]
    calls.sort(key=lambda c: (ride.along_m[0, c[0].sample], c[1][1].time_s))
    groups: list[list[tuple[Tight, tuple[_Brake, _Mark]]]] = []
    for call in calls:
        last = groups[-1][-1][0].sample if groups else None
        gap = math.inf if last is None else np.ptp(ride.along_m[0, [last, call[0].sample]])
        if gap > MERGE_M:
            groups.append([])
        groups[-1].append(call)
    made = [_call(shot, group, hands, known) for group in groups]
    return tuple(sorted(made, key=lambda call: (call.mark_s, call.tight_s)))


def hands_of(day: Day) -> Hands:
    """Who must call stop, and how long it then takes. Where more than one may steer, or nobody is
    named, the slower is taken."""
    pilots = day.who("pilot")
    riding = [p.name for p in pilots if "rider" in p.roles]
    if riding or not pilots:
        who = f"{_either(riding)}, who rides and steers" if riding else "whoever steers"
        nobody = "" if riding else "; nobody is named as pilot, so the slower way is taken"
        words = (
            f"to stop at {RIDER_BRAKES_M_S2} m/s² and {HANDS_ON_S:.0f} s to take the control in "
            f"hand (own assumption){nobody}"
        )
        return Hands(who, HANDS_ON_S, True, words)
    watching = [p.name for p in day.who("spotter") if not p.roles & {"rider", "pilot"}]
    if watching:
        words = "from the spotter's eye over voice to the pilot's hands (2.5 to 3 s)"
        return Hands(_either(watching), SPOTTER_S, False, words)
    who = f"{_either([p.name for p in pilots])}, who steers"
    return Hands(who, PILOT_S, False, "with the hands on the control, watching it")


def _either(names: Sequence[str]) -> str:
    return " or ".join(names)


# -- from a tight place back to its mark


def _mark(shot: ShotPlan, place: Tight, hands: Hands) -> tuple[_Brake, _Mark]:
    ride = shot.scene.track.ride
    brake = _brake(shot, place.sample)
    t, rider = ride.t_s, ride.speed_m_s[0]
    slack = brake.time_s - t - hands.seconds(rider)
    if slack[0] < 0.0:  # before the first sample he comes along straight and evenly
        time = float(t[0] + slack[0])
        along = float(ride.along_m[0, 0] + rider[0] * slack[0])
        return brake, _Mark(time, along, float(rider[0]))
    time = _runs_out(t, slack)
    along, speed = (float(np.interp(time, t, row)) for row in (ride.along_m[0], rider))
    return brake, _Mark(time, along, speed)


def _brake(shot: ShotPlan, sample: int) -> _Brake:
    """The latest moment from which row 0's aircraft can still stand before `sample`, by the length
    of its own track; it came straight and evenly before the first one."""
    scene = shot.scene
    t = scene.track.ride.t_s[: sample + 1]
    speed = scene.speed_m_s[0, : sample + 1]
    steps = np.linalg.norm(np.diff(scene.track.xyz_m[0, : sample + 1], axis=0), axis=1)
    left_m = steps.sum() - np.concatenate([[0.0], np.cumsum(steps)])
    slack = left_m - speed**2 / (2.0 * scene.aircraft.brake_m_s2)
    if not (slack >= 0.0).any():
        return _Brake(float(t[0] + slack[0] / speed[0]), float(speed[0]))
    time = _runs_out(t, slack)
    return _Brake(time, float(np.interp(time, t, speed)))


def _runs_out(t_s: Array, slack: Array) -> float:
    """The last moment at which `slack (n,)` is not negative; it is so somewhere."""
    last = int(np.flatnonzero(slack >= 0.0)[-1])
    if last == len(slack) - 1:
        return float(t_s[last])
    share = slack[last] / (slack[last] - slack[last + 1])
    return float(t_s[last] + share * (t_s[last + 1] - t_s[last]))


# -- words


def _call(
    shot: ShotPlan,
    group: Sequence[tuple[Tight, tuple[_Brake, _Mark]]],
    hands: Hands,
    known: Sequence[Landmark],
) -> LastCall:
    """The earliest mark of a group."""
    place, (brake, mark) = min(group, key=lambda c: (c[1][1].time_s, c[0].sample))
    ride, aircraft = shot.scene.track.ride, shot.scene.aircraft
    early = mark.time_s < float(ride.t_s[0])
    begin_m = float(ride.along_m[0, 0]) - mark.along_m
    others = dict.fromkeys(other.words for other, _ in group)
    tight_s = float(ride.t_s[place.sample])
    stops_m = brake.speed_m_s**2 / (2.0 * aircraft.brake_m_s2)
    human_s = float(hands.seconds(np.array(mark.rider_m_s)))
    rider = f"{say.speed(mark.rider_m_s)}: " if hands.rides else ""
    return LastCall(
        of=place.finding.of,
        thing=place.thing,
        tight_m=float(ride.along_m[0, place.sample]),
        tight_s=tight_s,
        mark_m=mark.along_m,
        mark_s=mark.time_s,
        seconds_before=tight_s - mark.time_s,
        who=hands.who,
        phrase=_too_early(place, begin_m)
        if early
        else say_place(known, mark.along_m, mark.rider_m_s),
        how=(
            f"{rider}{human_s:.2f} s {hands.words}; then the aircraft brakes from "
            f"{say.speed(brake.speed_m_s)} at {aircraft.brake_m_s2:g} m/s², which takes "
            f"{say.metres(stops_m)} and {say.seconds(brake.speed_m_s / aircraft.brake_m_s2)}"
        ),
        before_start=early,
        also=tuple(words for words in others if words != place.words),
    )


def _too_early(place: Tight, begin_m: float) -> str:
    """What to say of a mark that lies before the shot."""
    cure = f"; begin it {math.ceil(begin_m):d} m earlier or slower" if begin_m > 0.0 else ""
    return (
        "before it starts: do not begin this take unless somebody has looked at the tight place "
        f"first, {place.words}: once it runs, a call of stop comes too late for it{cure}"
    )
