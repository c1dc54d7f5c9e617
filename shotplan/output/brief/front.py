"""Page one of the brief: the five questions of somebody who watches."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np

from shotplan.judging.judged import Plan
from shotplan.model import say
from shotplan.model.arrays import Array
from shotplan.model.day import Person
from shotplan.model.verdict import Verdict
from shotplan.output import stop as stops
from shotplan.output.brief import words as brief_words
from shotplan.output.brief.rows import Row, Section, at_place, listed
from shotplan.output.brief.wrong import likeliest, said
from shotplan.output.calls import CALLS
from shotplan.output.words import letter, named, plain
from shotplan.scene.holding import CALLS as CALLED_FROM

STAYS = {
    "hover": "it stands where it is until the battery is low, then comes down there",
    "land": "it comes down where it is: nobody under it, keep away until the motors stop",
}
CLEAR_CIRCLE_M = 2.0  # beside half the span, where it comes down: as the check of the way home


def sections(plan: Plan) -> tuple[Section, ...]:
    """What goes wrong first, then the five questions in their order."""
    return (
        Section("Most likely to go wrong here", tuple(_first(plan))),
        Section("Where do I stand, and who does what?", tuple(_who(plan))),
        Section("What do I watch for?", tuple(_watch(plan))),
        Section("What do I call?", tuple(_calls())),
        Section("Where does it go if it is lost?", tuple(_lost(plan))),
        Section("When do we stop?", tuple(_stop(plan))),
    )


# -- where do I stand, who does what


def _who(plan: Plan) -> Iterator[Row]:
    day = plan.outing.day
    for person in day.crew:
        roles = [r for r in brief_words.ROLES if r in person.roles]
        does = "; ".join(brief_words.DUTIES[r] for r in roles)
        holds = [plain(a.name or a.id) for a in plan.outing.site.people if a.held_by == person.name]
        if holds:
            does += f"; holds {listed(holds)}"
        where, blanks = _stands(plan, person)
        yield Row(f"{plain(person.name)}, {' and '.join(roles)}", f"{where}{does}", blanks)
    for role in brief_words.ROLES:
        if not day.who(role):
            yield Row(f"{role}: nobody is named", brief_words.DUTIES[role], ("who", "stands at"))


def _stands(plan: Plan, person: Person) -> tuple[str, tuple[str, ...]]:
    """Where, shot by shot, with something to point at; a blank where it is not said."""
    site = plan.outing.site
    if "rider" in person.roles:
        return "on the ride; ", ()
    at: dict[str, list[str]] = {}
    for i, shot in enumerate(plan.shots):
        at.setdefault(shot.scene.shot.stands.place_of(person), []).append(letter(i))
    told, blanks = [], []
    for id_, shots in at.items():
        for_ = "" if len(at) == 1 else f"for {listed(shots)} "
        place = site.places.get(id_)
        if place is None:
            blanks.append(f"stands {for_}at")
            continue
        told.append(f"{for_}at {at_place(site, place)}")
    return (f"{'; '.join(told)}; " if told else ""), tuple(blanks)


# -- what do I watch for


def _first(plan: Plan) -> Iterator[Row]:
    for number, wrong in enumerate(likeliest(plan), start=1):
        refused = wrong.found.verdict == Verdict.NO_GO
        tail = "; not flown as planned" if refused else ""
        yield Row(f"{number}", f"{letter(wrong.shot)}: {said(plan, wrong)}{tail}")


def _watch(plan: Plan) -> Iterator[Row]:
    yield Row("first", "the three above; then whatever comes near that is not on the map")
    yield from _people(plan)
    blind = [_blind(plan, i) for i in range(len(plan.shots))]
    if any(blind):
        yield Row("its blind side", "; ".join(b for b in blind if b))
    wires = [t for t in plan.outing.site.obstacles.things if t.role == "wire"]
    if wires:
        names = listed(plain(t.label) for t in wires)
        yield Row("wires", f"{names}: never under, never near; it cannot be trusted to see them")


def _people(plan: Plan) -> Iterator[Row]:
    for area in plan.outing.site.people:
        name = plain(area.name or area.id)
        state = {
            "may-pass": "anybody may come at any time",
            "closed": "closed: nobody is to be there",
        }
        told = state.get(area.state, "")
        if area.state == "held":
            who = plain(area.held_by) or "nobody named"
            told = f"held by {who}, who calls people: {CALLED_FROM}"
        yield Row("people", f"{name}: {told}")
    if not plan.outing.site.people:
        yield Row("people", "nobody drew where others may come from; known to come from", ("",))


def _blind(plan: Plan, index: int) -> str:
    """How much of a shot it flies toward what it does not sense."""
    scene = plan.shots[index].scene
    filmed = scene.track.ride.filming[0]
    share = float(scene.blind[0][filmed].mean())
    if share < 0.05:
        return ""
    return f"{letter(index)} flies blind for {share * float(np.ptp(scene.track.ride.t_s)):.0f} s"


# -- what do I call


def _calls() -> Iterator[Row]:
    for call in (*CALLS, *brief_words.MORE):
        when = brief_words.WHEN.get(call.word, "")
        yield Row(call.word, f"{f'{when}. ' if when else ''}Pilot: {call.does}. Sign: {call.sign}")
    yield Row("", brief_words.SIGNALS, ("voice or radio, channel",))


# -- where does it go if it is lost


def _lost(plan: Plan) -> Iterator[Row]:
    ways: dict[str, list[str]] = {}
    for i, shot in enumerate(plan.shots):
        ways.setdefault(shot.scene.shot.link_lost, []).append(letter(i))
    for way, shots in ways.items():
        which = "" if len(ways) == 1 else f", {listed(shots)}"
        text, blanks = _home(plan) if way == "home" else (STAYS[way], ())
        yield Row(f"link lost{which}", text, blanks)
    broken = [
        f"{letter(i)} it meets {named(plan.outing.site, f.told.thing) or 'something'}"
        for i, s in enumerate(plan.shots)
        if (f := s.asked("return"))
        and f.verdict in (Verdict.NO_GO, Verdict.CAUTION)
        and f.told.thing
    ]
    if broken:
        yield Row("but", f"left alone on its way in {listed(broken)}")
    yield Row(
        "not seen",
        "call lost and say where you saw it last; keep looking there and toward the launch",
    )
    yield Row("rider lost", "what it does when it loses the rider (see its manual):", ("",))


def _home(plan: Plan) -> tuple[str, tuple[str, ...]]:
    site = plan.outing.site
    if site.launch is None:
        return "it flies home; where to is not known;", ("launch", "return height")
    circle = CLEAR_CIRCLE_M + plan.outing.aircraft.half_span_m
    height, blanks = "its return height", ["return height set to"]
    if site.return_height_m is not None:
        height, blanks = f"{site.return_height_m:g} m on the display", []
    return (
        f"it climbs to {height}, flies straight to {at_place(site, site.launch)}, comes down "
        f"there; keep {say.rounded_up(circle):g} m clear of that{';' if blanks else ''}",
        tuple(blanks),
    )


# -- when do we stop


def _stop(plan: Plan) -> Iterator[Row]:
    """The same three reasons as everywhere, with what this pack adds."""
    rules, told = plan.outing.rules, stops.stop(plan)
    also = ", or nearer than it is high" if rules.people and rules.people.one_to_one else ""
    yield Row("1 people", f"{told.people}{also}")
    eyes = "no pilot" if rules.sight.eyes == "pilot" else "neither pilot nor spotter"
    within = rules.sight.follow_within_m
    but = "" if within is None else f", unless it follows within {within:g} m of the pilot"
    yield Row("2 sight", f"{told.sight}: {eyes} does with bare eyes{but}")
    yield Row("3 wind", f"{told.wind} ({told.seen})")


def highest(values: Array) -> float:
    """The greatest that is known; NaN where nothing is."""
    known = values[np.isfinite(values)]
    return float(known.max()) if len(known) else math.nan
