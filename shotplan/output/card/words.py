"""What the hill card says of a plan, as plain data; `card` lays it out."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import NamedTuple

import numpy as np

from shotplan.aids.last_call import last_calls
from shotplan.aids.pacing import Pace, worth_pacing
from shotplan.judging.judged import Plan, ShotPlan
from shotplan.kernels.motion.wind import BEAUFORT
from shotplan.model import say
from shotplan.model.arrays import Array
from shotplan.model.day import Person
from shotplan.model.verdict import Verdict
from shotplan.output import answer, credit, first, measures, words
from shotplan.output.words import plain
from shotplan.scene.margin import GoIf
from shotplan.scene.wind_limits import SIDES, gusts_of, wind_limits

SMALL_M = 10.0  # display readings below it have a decimal
INPUTS = {
    "weather.gust_m_s": "gusts",
    "weather.wind_m_s": "mean wind",
    "weather.visibility_m": "visibility",
    "weather.temperature_c": "temperature",
    "return_height_m": "return height",
    "aircraft.class_mark": "class mark",
}


class Dial(NamedTuple):
    """One setting."""

    label: str
    value: str


class ShotCard(NamedTuple):
    """One shot: its `style` in words and who stands elsewhere for it, `dials` to set, `why` what
    decides its word, `near` what it comes nearest to, `go_if` the limits still open, `first` what
    must be looked at before it starts, `calls` by where stop must be called."""

    letter: str
    name: str
    verdict: Verdict
    style: str
    dials: tuple[Dial, ...]
    why: str
    near: tuple[str, ...]
    go_if: tuple[str, ...]
    first: str
    calls: tuple[str, ...]


class Wind(NamedTuple):
    """The largest wind for go, from each of `SIDES`: `cells` of each shot (letter, cells), the one
    planned for (-1 not known), `title`, and what one sees of the forces in it."""

    title: str
    rows: tuple[tuple[str, tuple[str, ...]], ...]
    planned: int
    forces: str


class Card(NamedTuple):
    """The whole card; `alone` what it does when left alone."""

    site: str
    when: str
    crew: str
    air: str
    notes: tuple[str, ...]
    shots: tuple[ShotCard, ...]
    wind: Wind
    made: str
    credits: str
    alone: str
    pace: tuple[tuple[str, tuple[int, ...]], ...]


def card(plan: Plan) -> Card:
    """Everything that is on it."""
    day = plan.outing.day
    return Card(
        site=plain(plan.outing.titled),
        when=first.begins(day),
        crew=_crew(plan),
        air=f"planned for {first.air(day.weather)}",
        notes=_notes(plan),
        shots=tuple(_shot(plan, shot, i) for i, shot in enumerate(plan.shots)),
        wind=_wind(plan),
        made=words.made(plan.outing),
        credits=credit.line(plan.outing.site),
        alone=_alone(plan),
        pace=tuple((_paced(p), p.shots) for p in worth_pacing(plan.shots)),
    )


# -- who


def _crew(plan: Plan) -> str:
    """`Ilse pilot at the launch, Tove spotter at the lookout, Runa rides`."""
    site = plan.outing.site

    def one(person: Person) -> str:
        roles = [r for r in ("pilot", "spotter") if r in person.roles]
        if "rider" in person.roles:
            return f"{plain(person.name)} rides" + (f" and is {' and '.join(roles)}" * bool(roles))
        place = site.places.get(person.stands)
        at = f" at {plain(place.label)}" if place is not None else " at ____________"
        return f"{plain(person.name)} {' and '.join(roles)}{at}"

    return ", ".join(one(p) for p in plan.outing.day.crew) or "nobody is named"


def _notes(plan: Plan) -> tuple[str, ...]:
    """What the card and the watchers' pictures cannot say."""
    pilots = plan.outing.day.who("pilot")
    if not pilots:
        return ("Pilot: not named. ______________________",)
    riding = " and ".join(plain(p.name) for p in pilots if "rider" in p.roles)
    seen = "no place to stand, so no picture of what is seen from it."
    return (f"{riding} rides and steers: {seen}",) if riding else ()


# -- one shot


def _shot(plan: Plan, shot: ShotPlan, index: int) -> ShotCard:
    scene = shot.scene
    calls, latest = last_calls(shot, plan.marks), answer.last_take_offs(plan).get(index)
    leaves = "__:__" if latest is None else say.clock(latest)
    return ShotCard(
        letter=words.letter(index),
        name=plain(scene.shot.name),
        verdict=shot.verdict,
        style="; ".join((plain(scene.shot.style.words()), *_elsewhere(shot))),
        dials=(*_dials(shot), Dial("take off by", leaves)),
        why=_why(shot),
        near=tuple(_near(shot)),
        go_if=tuple(dict.fromkeys(_open(g) for f in words.ranked(shot) for g in f.go_if)),
        first=", ".join(dict.fromkeys(_called(shot, c.thing) for c in calls if c.first)),
        calls=tuple(
            f"{c.code(words.letter(index))} {plain(c.phrase)}, for {_called(shot, c.thing)}"
            for c in calls
            if not c.first
        ),
    )


def _elsewhere(shot: ShotPlan) -> Iterator[str]:
    """Who stands elsewhere than on other shots."""
    scene = shot.scene
    for person in scene.day.crew:
        place = scene.stand_of(person)
        if "rider" not in person.roles and place is not None and place.id != person.stands:
            yield f"{plain(person.name)} stands at {plain(place.label)}"


def _called(shot: ShotPlan, thing: str) -> str:
    """A thing by its name, where it has one."""
    return "the ground under it" if thing == "ground" else words.named(shot.scene.site, thing)


def _dials(shot: ShotPlan) -> Iterator[Dial]:
    """What is set before it flies: first what the display will show."""
    scene, style = shot.scene, shot.scene.shot.style
    yield Dial("display reads", _range(scene.height_above_launch_m[0]))
    for one in style.settings():
        if one.value is not None:
            yield Dial(one.label, plain(one.told))
    takes = f", {scene.shot.takes}×" if scene.shot.takes > 1 else ""
    yield Dial("of the ride", f"{shot.ride_from_m:.0f} to {shot.ride_to_m:.0f} m{takes}")
    if takes:
        yield Dial("each take", "voltage")


def _range(values: Array) -> str:
    """`4 to 9 m`; decimals where it is low."""
    known = values[np.isfinite(values)]
    if not len(known):
        return "not known"
    ends = (float(known.min()), float(known.max()))
    low, high = (f"{v:.1f}" if abs(v) < SMALL_M else f"{v:.0f}" for v in ends)
    gaps = "" if len(known) == len(values) else "?"
    return f"{low} m{gaps}" if low == high else f"{low} to {high} m{gaps}"


def _why(shot: ShotPlan) -> str:
    """What decides the word."""
    deciding = [f for f in words.ranked(shot) if f.verdict == shot.verdict]
    if shot.verdict == Verdict.GO or not deciding:
        return ""
    found, others = deciding[0], [f.check for f in deciding[1:]]
    one = found.told
    thing = _called(shot, one.thing) if one.thing not in ("", found.check) else ""
    distance = "" if one.value is None and not one.short else measures.distance(found)
    told = ", ".join(t for t in (found.check, distance, thing) if t)
    return told + (f"; also {', '.join(others)}" if others else "")


def _near(shot: ShotPlan) -> Iterator[str]:
    """The two things it comes nearest to the limit of."""
    known = [
        f
        for f in shot.findings
        if f.of.nature.hits != "nothing"
        and f.at is not None
        and f.margin is not None
        and f.value is not None
    ]
    for found in sorted(known, key=lambda f: (f.margin or 0.0, f.check))[:2]:
        named = found.thing and not found.of.told.name
        what = _called(shot, found.thing) if named else found.check
        away = "inside" if (found.value or 0.0) < 0.0 else measures.distance(found, found.own)
        away = away if found.limit else away.partition(",")[0]
        where = f", at {found.at.ride_m:.0f} m" if found.at is not None else ""
        yield f"{what} {away}{where}"


def _open(limit: GoIf) -> str:
    """`gusts at most 8.1 m/s`."""
    name = INPUTS.get(limit.key, limit.key)
    if limit.bound == "is":
        return plain(f"{name} {limit.word or 'none'}")
    side = "at most" if limit.bound == "at-most" else "at least"
    given = "".join(f", {INPUTS.get(k, k)} {v}" for k, v in limit.given)
    return plain(f"{name} {side} {limit.value:g} {limit.unit}{given}")


def _alone(plan: Plan) -> str:
    """What it does when the link is lost, and how its way home was judged where that is not go."""
    height = plan.outing.site.return_height_m
    high = "____ m" if height is None else f"{height:g} m"
    ways = {
        "home": f"climbs to {high} above launch and flies home",
        "hover": "stays in the air until its battery is low, then comes down there",
        "land": "comes straight down where it is",
    }
    told: dict[str, list[str]] = {}
    rated = []
    for index, shot in enumerate(plan.shots):
        told.setdefault(ways[shot.scene.shot.link_lost], []).append(words.letter(index))
        found = shot.asked("return")
        if found is not None and found.verdict != Verdict.GO:
            rated.append(f"{words.letter(index)} {found.verdict.word}")
    said = [f"{', '.join(who)}: {way}" if len(told) > 1 else way for way, who in told.items()]
    doubt = f" (that way: {', '.join(rated)})" if rated else ""
    return "; ".join(said) + doubt


# -- wind, pacing


def _wind(plan: Plan) -> Wind:
    rows, forces, hands = [], set(), []
    for index, shot in enumerate(plan.shots):
        cells = []
        for limit in wind_limits(shot.scene):
            if math.isnan(limit.mean_m_s):
                cells.append("?")
                continue
            hand = limit.mean_m_s if math.isnan(limit.hand_m_s) else limit.hand_m_s
            hands.append(not math.isnan(limit.hand_m_s))
            forces.add(limit.force)
            low = say.rounded_down(hand, 0.1)
            cells.append(f"{low:.1f} F{limit.force}" if low > 0.0 else "none")
        rows.append((words.letter(index), tuple(cells)))
    where = "in the hand at the launch" if all(hands) else "10 m up in the open"
    gusts = gusts_of(plan.shots[0].scene).words if plan.shots else "what is usual"
    planned = plan.outing.day.weather.wind_from_rad
    said = "; ".join(f"F{force} {BEAUFORT[force][1]}" for force in sorted(forces))
    return Wind(
        f"go up to this mean, m/s {where}; gusts to {gusts}",
        tuple(rows),
        -1 if planned is None else say.sector(planned, len(SIDES)),
        said,
    )


def _paced(one: Pace) -> str:
    """`thorn-01, right at 322 m: must be at least 17.5 m (drawn 12.8)`."""
    bound = one.bound.replace("-", " ")
    return plain(
        f"{one.thing.label}, {one.side} at {one.along_m:.0f} m: must be {bound} {one.wanted_m:g} m "
        f"(drawn {one.drawn_m:.1f})"
    )
