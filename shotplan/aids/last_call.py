"""Last calls: by where somebody must have called stop, so that the aircraft stands before a tight
place, said as a place of the rider, because that is what everybody sees.

When, and who calls, is `judging/marks.py`; here it is numbered and put into words. A place to which
no call comes in time, or of which nobody would call, is looked at before the take. The person alone
has only such, and few.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from shotplan.judging.judged import ShotPlan
from shotplan.judging.marks import Mark, marks, too_early
from shotplan.judging.tight import Tight
from shotplan.model import say
from shotplan.scene.calling import Caller, alone
from shotplan.scene.landmarks import Landmark, landmarks, say_place
from shotplan.scene.margin import Check

MERGE_M = 10.0
MOST_ALONE = 3  # looks before a take that somebody alone is asked for


@dataclass(frozen=True, kw_only=True)
class LastCall:
    """One tight place and its mark, `number` of the shot.

    The rider is at `tight_m`, `tight_s` when the aircraft reaches the tight place of a check `of`
    `thing`, and at `mark_m`, `mark_s` when stop must have been called, `seconds_before` that.
    `caller` calls, said as `who` ("nobody" where none sees it then), over a radio where whoever
    steers is `unheard_m` off; `phrase` says where; `how` is the formula with its numbers.
    `before_start`: the mark lies before the first filmed sample. `first`: nobody calls in time, so
    it is looked at before the take. `also`: what else is tight within 10 m of it.
    """

    of: Check
    thing: str
    tight_m: float
    tight_s: float
    mark_m: float
    mark_s: float
    seconds_before: float
    caller: Caller
    who: str
    phrase: str
    how: str
    before_start: bool
    first: bool
    unheard_m: float = 0.0
    number: int = 0
    also: tuple[str, ...] = ()

    @property
    def check(self) -> str:
        """The id of the check."""
        return self.of.id

    def code(self, letter: str) -> str:
        """`A!1`: the same on every sheet."""
        return f"{letter}!{self.number}"


def last_calls(shot: ShotPlan, known: Iterable[Landmark] | None = None) -> tuple[LastCall, ...]:
    """The marks of a shot in the order in which they are passed, one for tight places that lie
    within 10 m of each other: the earliest decides.

    A place is tight where a finding of harm or rule is not go, and where a margin of harm in
    metres has its least below 5 m. What is the same all along the shot (a crew that does not fit,
    one margin all the way) is no place, unless it is harm in metres and not go; the way home is
    none either. `known` to say places by; those along the shot where not given.
    """
    ride = shot.scene.track.ride
    by = tuple(landmarks(shot.scene.site, ride) if known is None else known)
    found = marks(shot.scene, shot.findings)
    found.sort(key=lambda m: (ride.along_m[0, m.place.sample], m.time_s))
    groups: list[list[Mark]] = []
    for mark in found:
        last = groups[-1][-1].place.sample if groups else None
        gap = math.inf if last is None else np.ptp(ride.along_m[0, [last, mark.place.sample]])
        if gap > MERGE_M:
            groups.append([])
        groups[-1].append(mark)
    if alone(shot.scene.day) and len(groups) > MOST_ALONE:
        groups = sorted(groups, key=lambda group: min(_room(m.place) for m in group))[:MOST_ALONE]
    made = [_call(shot, group, by) for group in groups]
    made.sort(key=lambda call: (call.mark_s, call.tight_s))
    return tuple(replace(call, number=i) for i, call in enumerate(made, start=1))


def _room(place: Tight) -> tuple[int, float]:
    """What is worst first, then what is tightest."""
    found = place.finding
    margin = float(found.margins[place.sample])
    return -int(found.sample_codes[place.sample]), -math.inf if math.isnan(margin) else margin


# -- words


def _call(shot: ShotPlan, group: Sequence[Mark], known: Sequence[Landmark]) -> LastCall:
    """The earliest mark of a group."""
    mark = min(group, key=lambda m: (m.time_s, m.place.sample))
    place, ride = mark.place, shot.scene.track.ride
    early = too_early(shot.scene, mark)
    begin_m = float(ride.along_m[0, 0]) - mark.along_m
    others = dict.fromkeys(other.place.words for other in group)
    tight_s = float(ride.t_s[place.sample])
    nobody = mark.caller.person is not None and not (early or mark.sees)
    first = early or nobody or alone(shot.scene.day)
    return LastCall(
        of=place.finding.of,
        thing=place.thing,
        tight_m=float(ride.along_m[0, place.sample]),
        tight_s=tight_s,
        mark_m=mark.along_m,
        mark_s=mark.time_s,
        seconds_before=tight_s - mark.time_s,
        caller=mark.caller,
        who="nobody" if nobody else mark.caller.who,
        phrase=_too_early(place, begin_m)
        if early
        else say_place(known, mark.along_m, mark.rider_m_s, tape=not first),
        how=_how(shot, mark),
        before_start=early,
        first=first,
        unheard_m=0.0 if first else mark.unheard_m,
        also=tuple(words for words in others if words != place.words),
    )


def _how(shot: ShotPlan, mark: Mark) -> str:
    """The formula with its numbers."""
    speed, brakes = mark.brake.speed_m_s, shot.scene.aircraft.brake_m_s2
    human_s = float(mark.caller.seconds(np.array(mark.rider_m_s)))
    rider = f"{say.speed(mark.rider_m_s)}: " if mark.caller.rides else ""
    return (
        f"{rider}{human_s:.2f} s {mark.caller.words}; then the aircraft brakes from "
        f"{say.speed(speed)} at {brakes:g} m/s², which takes "
        f"{say.metres(speed**2 / (2.0 * brakes))} and {say.seconds(speed / brakes)}"
    )


def _too_early(place: Tight, begin_m: float) -> str:
    """What to say of a mark that lies before the shot."""
    cure = f"; begin it {math.ceil(begin_m):d} m earlier or slower" if begin_m > 0.0 else ""
    return (
        "before it starts: do not begin this take unless somebody has looked at the tight place "
        f"first, {place.words}: once it runs, a call of stop comes too late for it{cure}"
    )
