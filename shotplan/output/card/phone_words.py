"""What the card of one shot says, as plain data; `phone` lays it out."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import NamedTuple

import numpy as np

from shotplan.aids.last_call import last_calls
from shotplan.aids.pacing import worth_pacing
from shotplan.judging.judged import Plan, ShotPlan
from shotplan.model import say
from shotplan.model.arrays import Array
from shotplan.model.site import Site
from shotplan.model.verdict import Verdict
from shotplan.output import answer, credit, first, stop, words
from shotplan.output.card.words import INPUTS, Dial
from shotplan.output.reasons import reason
from shotplan.output.words import plain
from shotplan.scene.landmarks import say_place
from shotplan.scene.wind_limits import WindLimit, planned, wind_limits

SETTINGS = 6
MOST_CALLS = 3
COUNT = ("first", "second", "third", "fourth", "fifth", "sixth", "seventh", "eighth", "ninth")
NUMBERS = ("none", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine")


class Pair(NamedTuple):
    """A small label and the value that stands at the right edge of its column."""

    label: str
    value: str


class Called(NamedTuple):
    """What stands in a call's flag, what is said in bold, and what follows."""

    flag: str
    bold: str
    text: str


class PhoneCard(NamedTuple):
    """One shot. `why` only of what is no-go or unknown; `go_if` go and mind of the wind
    first."""

    letter: str
    name: str
    place: str
    verdict: Verdict
    dials: tuple[Dial, ...]
    span: str
    why: str
    wind_where: str
    go_if: tuple[Pair, ...]
    calls: tuple[Called, ...]
    alone: str
    never: str
    stop: tuple[str, ...]
    made: str
    credits: str


def phone_card(plan: Plan, index: int) -> PhoneCard:
    """Everything that is on it."""
    shot = plan.shots[index]
    flown = shot.verdict != Verdict.NO_GO
    alone, never = _alone(shot)
    return PhoneCard(
        letter=words.letter(index),
        name=plain(shot.scene.shot.name),
        place=_place(plan, index),
        verdict=shot.verdict,
        dials=tuple(_dials(shot))[:SETTINGS],
        span=_span(plan, shot),
        why=_why(shot) if shot.verdict >= Verdict.UNKNOWN else "",
        wind_where=_hand(shot)[0],
        go_if=tuple(_go_if(plan, index)) if flown else (),
        calls=tuple(_calls(plan, index)) if flown else (),
        alone=alone,
        never=never,
        stop=tuple(stop.stop(plan)[:3]),
        made=f"plan {plan.outing.fingerprint}, {first.begins(plan.outing.day)}",
        credits=credit.line(plan.outing.site),
    )


def _place(plan: Plan, index: int) -> str:
    """`Larrigan Cut, Sat 11 July 2026, 17:10, second of three`."""
    count = len(plan.shots)
    of = ""
    if 1 < count < len(NUMBERS):
        of = f", {COUNT[index]} of {NUMBERS[count]}"
    elif count > 1:
        of = f", {index + 1} of {count}"
    return f"{plain(plan.outing.titled)}, {first.begins(plan.outing.day)}{of}"


def _why(shot: ShotPlan) -> str:
    """What decides it, in the words of every sheet."""
    found = next(f for f in words.ranked(shot) if f.verdict == shot.verdict)
    return reason(found, shot.scene.site).removeprefix("not known: ")


# -- six settings


def _dials(shot: ShotPlan) -> Iterator[Dial]:
    """First how it is flown, then what the display reads."""
    scene = shot.scene
    for one in scene.shot.style.settings():
        if one.value is not None:
            yield Dial(_label(one.label), plain(one.told))
    yield Dial("display reads", display(scene.height_above_launch_m[0]))
    takes, high = scene.shot.takes, scene.site.return_height_m
    yield Dial("filmed for", f"{shot.duration_s:.0f} s" + (f", {takes}×" if takes > 1 else ""))
    yield Dial("return height", "____ m" if high is None else f"{high:g} m")
    yield Dial("of the ride", f"{shot.ride_from_m:.0f}–{shot.ride_to_m:.0f} m")
    yield Dial("rider goes", f"{float(np.median(scene.track.ride.speed_m_s[0])):.0f} m/s")
    yield Dial("voltage", "____")


def _label(label: str) -> str:
    return f"height {label}" if label == "over rider" else label


def display(values: Array) -> str:
    """`5.5–6.5 m`, to half metres: a display shows no more."""
    known = values[np.isfinite(values)]
    if not len(known):
        return "not known"
    low, high = (f"{round(2.0 * float(v)) / 2.0:g}" for v in (known.min(), known.max()))
    low, high = low.replace("-", "−"), high.replace("-", "−")
    gaps = "" if len(known) == len(values) else "?"
    dash = " to " if "−" in high else "–"
    return f"{low} m{gaps}" if low == high else f"{low}{dash}{high} m{gaps}"


# -- from, to


def _span(plan: Plan, shot: ShotPlan) -> str:
    """`15 m before the left-hand crowns, to 8 s after them`."""
    ends = [_point(plan, shot, at) for at in (shot.ride_from_m, shot.ride_to_m)]
    return f"{ends[0]}, to {ends[1]}"


def _point(plan: Plan, shot: ShotPlan, along_m: float) -> str:
    """A place of the ride by what one passes; nobody tapes a mark for an end."""
    ride = shot.scene.track.ride
    at = int(np.abs(ride.along_m[0] - along_m).argmin())
    told = say_place(plan.marks, along_m, float(ride.speed_m_s[0, at]))
    return plain(told.partition(";")[0])


# -- go if


def _hand(shot: ShotPlan) -> tuple[str, bool]:
    """Where the wind is measured."""
    hand = all(math.isfinite(one.hand_m_s) for one in wind_limits(shot.scene))
    return ("in the hand at the launch" if hand else "10 m up in the open"), hand


def _go_if(plan: Plan, index: int) -> Iterator[Pair]:
    """Pairs, two to a row: go and mind of the wind first."""
    shot, ends = plan.shots[index], stop.wind_m_s(plan)
    for label, limit in _winds(shot):
        go, mind = (_most(limit, m, ends) for m in (limit.mean_m_s, limit.no_go_m_s))
        yield Pair(f"{label}, go", go)
        if mind != go:
            yield Pair("mind", mind)
    latest = answer.last_take_offs(plan).get(index)
    yield Pair("take off by", "__:__" if latest is None else say.clock(latest))
    yield Pair("battery", f"down at {100.0 * shot.scene.aircraft.reserve_fraction:.0f} %")
    for pace in worth_pacing(plan.shots):
        if index in pace.shots:
            more = "or more" if pace.bound == "at-least" else "at most"
            label = f"track to {plain(pace.thing.label)}"
            yield Pair(label, f"{pace.wanted_m:g} m {more}")
    for area in shot.scene.site.people:
        if area.state == "held":
            yield Pair(plain(area.name or area.id), f"{plain(area.held_by)} holds")
    for one in dict.fromkeys(g for f in words.ranked(shot) for g in f.go_if):
        if one.bound != "is" and not one.key.startswith("weather.wind"):
            side = "to" if one.bound == "at-most" else "from"
            yield Pair(INPUTS.get(one.key, "setting"), f"{side} {one.value:g} {one.unit}")


def _winds(shot: ShotPlan) -> Iterator[tuple[str, WindLimit]]:
    """From the side that is planned for, and from those that bear less."""
    limits = wind_limits(shot.scene)
    known = [one for one in limits if math.isfinite(one.mean_m_s)]
    if not known:
        return
    worst = min(known, key=lambda one: one.mean_m_s)
    now = planned(shot.scene)
    if now is not None:
        yield f"wind {now.side}", now
        if not worst.mean_m_s < now.mean_m_s - 0.1:
            return
    same = [one for one in known if one.mean_m_s < worst.mean_m_s + 0.1]
    yield f"from {', '.join(one.side for one in same[:3])}", worst


def _most(limit: WindLimit, mean_m_s: float, ends_m_s: float) -> str:
    """`to 4.4`, as it is felt where it is measured; never over what stops everybody."""
    if math.isnan(mean_m_s):
        return "not known"
    value = _felt(limit, mean_m_s)
    low = say.rounded_down(max(value if math.isnan(ends_m_s) else min(value, ends_m_s), 0.0), 0.1)
    return f"to {low:.1f}" if low > 0.0 else "never"


def _felt(limit: WindLimit, mean_m_s: float) -> float:
    """A mean as it is felt in the hand, where that is known."""
    factor = limit.hand_m_s / limit.mean_m_s if limit.mean_m_s > 0.0 else math.nan
    return mean_m_s * (factor if math.isfinite(factor) else 1.0)


# -- calls, left alone, stop


def _calls(plan: Plan, index: int) -> Iterator[Called]:
    """What to look at before the take, then the last calls in their order."""
    shot, letter = plan.shots[index], words.letter(index)
    site = shot.scene.site
    every = last_calls(shot, plan.marks)
    early = dict.fromkeys(_thing(site, c.thing) for c in every if c.first)
    if early:
        yield Called("look", "before the take:", ", ".join(early))
    calls = [c for c in every if not c.first]
    for call in calls[:MOST_CALLS]:
        where = plain(call.phrase).partition(";")[0]
        told = f"rider {where}, for {_thing(site, call.thing)}: “Stop!”"
        yield Called(call.code(letter), f"{plain(call.who)}:", told)
    left = len(calls) - MOST_CALLS
    if left > 0:
        yield Called("", "", f"and {left} more, on the map")


def _thing(site: Site, thing: str) -> str:
    return "the ground under it" if thing == "ground" else words.named(site, thing)


def _alone(shot: ShotPlan) -> tuple[str, str]:
    """What it does when the link is lost, and what must not be asked of it."""
    height = shot.scene.site.return_height_m
    high = "____ m" if height is None else f"{height:g} m"
    ways = {
        "home": f"It climbs to {high} above the launch and flies home.",
        "hover": "It stands where it is until the battery is low, then comes down there.",
        "land": "It comes straight down where it is.",
    }
    found = shot.asked("return")
    never = ""
    if found is not None and found.verdict != Verdict.GO:
        never = reason(found, shot.scene.site)
        never = f"{found.verdict.word}: {never}"
    return ways[shot.scene.shot.link_lost], never
