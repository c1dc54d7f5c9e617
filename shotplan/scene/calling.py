"""Who can call stop: whoever sees the aircraft at that moment and is heard, in the order of who is
free; how long it then takes; and what is said where nobody can.

A voice is heard to 100 m (own setting: a shout of about 88 dB at 1 m is 48 dB there, as loud as a
light wind at the ear; both from memory). Farther off a radio has to carry it.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from shotplan.model import say
from shotplan.model.arrays import Array, Bools
from shotplan.model.day import Day, Person
from shotplan.model.ride import HANDS_ON_S, RIDER_BRAKES_M_S2
from shotplan.scene.eyesight import apart_m, sees
from shotplan.scene.margin import Remark
from shotplan.scene.scene import Scene

SPOTTER_S = 2.75  # spotter, voice, pilot: the middle of 2.5 to 3 s
PILOT_S = 1.0  # hands on, watching
HEARD_M = 100.0
MOST_TOLD = 3


class Caller(NamedTuple):
    """Somebody who may call stop (None: nobody is named who steers), and what it takes until hands
    act: `fixed_s`, after the rider has braked to a stop if he steers (`rides`). `steers`: no voice
    is needed."""

    person: Person | None
    fixed_s: float
    rides: bool
    steers: bool

    @property
    def who(self) -> str:
        """As it is said."""
        if self.person is None:
            return "whoever steers"
        tail = ", who rides and steers" if self.rides else ", who steers"
        return f"{self.person.name}{tail if self.steers else ''}"

    @property
    def words(self) -> str:
        """What the time is made of."""
        brakes = (
            f"to stop at {RIDER_BRAKES_M_S2} m/s² and {HANDS_ON_S:.0f} s to take the control in "
            "hand (own assumption)"
        )
        if self.person is None:
            return f"{brakes}; nobody is named as pilot, so the slower way is taken"
        if self.steers:
            return brakes if self.rides else "with the hands on the control, watching it"
        if self.rides:
            return f"{brakes}, after {SPOTTER_S - PILOT_S:g} s for the voice"
        return "from the eye over voice to the pilot's hands (2.5 to 3 s)"

    def seconds(self, rider_m_s: Array) -> Array:
        """At the rider's speed as stop is called."""
        return rider_m_s / RIDER_BRAKES_M_S2 * self.rides + self.fixed_s


def callers(day: Day) -> tuple[Caller, ...]:
    """Everybody who may call, in the order of who is free: spotters, who steers, who rides. Where
    more than one may steer, or nobody is named, the slower way is taken."""
    pilots = day.who("pilot")
    riding = [p for p in pilots if "rider" in p.roles]
    if not pilots:
        return (Caller(None, HANDS_ON_S, True, True),)
    rides = bool(riding)
    voice_s = SPOTTER_S - PILOT_S + HANDS_ON_S if rides else SPOTTER_S
    still = [p for p in pilots if p not in riding]
    watching = [p for p in day.who("spotter") if not p.roles & {"rider", "pilot"}]
    others = [p for p in day.who("rider") if p not in riding]
    return (
        *(Caller(p, voice_s, rides, False) for p in watching),
        *(Caller(p, voice_s if rides else PILOT_S, rides, not rides) for p in still),
        *(Caller(p, HANDS_ON_S, True, True) for p in riding),
        *(Caller(p, voice_s, rides, False) for p in others),
    )


def alone(day: Day) -> bool:
    """Whether nobody but riders could call, and they steer: nobody stops it in time for them."""
    every = callers(day)
    return all(c.person is not None and c.steers and c.rides for c in every)


def seen(scene: Scene, caller: Caller) -> Bools:
    """Samples `(n,)` of the undisturbed flight at which a caller sees it; of nobody not known."""
    if caller.person is None:
        return np.zeros(scene.track.ride.t_s.size, dtype=bool)
    said, key = vars(scene).setdefault("said", {}), ("seen by", caller.person)
    if key not in said:
        said[key] = sees(scene, caller.person)
    return np.asarray(said[key])


def unheard_m(scene: Scene, caller: Caller, sample: int) -> float:
    """How far off whoever steers is, where a voice does not carry so far; 0 where it does."""
    if caller.person is None or caller.steers:
        return 0.0
    away = [
        float(apart_m(scene, caller.person, p)[0, sample])
        for p in scene.day.who("pilot")
        if p != caller.person
    ]
    far = max(away, default=0.0)
    return far if far > HEARD_M else 0.0


class Silent(NamedTuple):
    """A tight place before which nobody calls: `thing` by its name; the metre of the ride and the
    second at which stop must have been called; `by_radio` who sees it and is `away_m` from whoever
    steers ("" nobody sees it)."""

    thing: str
    ride_m: float
    time_s: float
    by_radio: str = ""
    away_m: float = math.nan


def remarks(silent: Sequence[Silent]) -> tuple[Remark, ...]:
    """What is said of them: at least a caution."""
    found = []
    unseen = [s for s in silent if not s.by_radio]
    if unseen:
        text = f"nobody sees it when stop must be called for {_places(unseen)}"
        cure = (
            "let 1 of the crew stand where it is seen then, and within "
            f"{HEARD_M:.0f} m of whoever steers; else look at that place before each take"
        )
        found.append(Remark(text, True, "", cure))
    for who in dict.fromkeys(s.by_radio for s in silent if s.by_radio):
        mine = [s for s in silent if s.by_radio == who]
        far = max(s.away_m for s in mine)
        text = (
            f"only {who} sees it when stop must be called for {_places(mine)}, and is "
            f"{say.metres(far)} from whoever steers: a voice carries {HEARD_M:.0f} m"
        )
        cure = (
            f"take radios and try them, or let {who} stand within {HEARD_M:.0f} m of whoever steers"
        )
        found.append(Remark(text, True, "", cure))
    return tuple(found)


def _places(silent: Sequence[Silent]) -> str:
    """`the bent thorn (rider at 112 m, 18.2 s)`."""
    told = [f"{s.thing} (rider at {s.ride_m:.0f} m, {s.time_s:.1f} s)" for s in silent]
    more = f" and {len(told) - MOST_TOLD} more" if len(told) > MOST_TOLD else ""
    return ", ".join(told[:MOST_TOLD]) + more
