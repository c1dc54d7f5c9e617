"""Page one of the brief: the five questions of somebody who watches."""

from __future__ import annotations

import math
from collections.abc import Iterator
from datetime import timedelta
from typing import NamedTuple

import numpy as np

from shotplan.kernels.wind import BEAUFORT, beaufort
from shotplan.model import say, timeline
from shotplan.model.arrays import Array
from shotplan.model.day import Person
from shotplan.model.holding import CALLS as CALLED_FROM
from shotplan.model.judged import Finding, Plan, ShotPlan
from shotplan.model.last_call import last_calls
from shotplan.model.verdict import Verdict
from shotplan.model.wind_limits import SIDES, WindLimit, wind_limits
from shotplan.output import brief_words, measures
from shotplan.output.brief_rows import (
    Row,
    Section,
    at_place,
    called,
    found_of,
    listed,
    on_ride,
    put,
)
from shotplan.output.questions import QUESTIONS
from shotplan.output.words import letter, plain

WORST = 3
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


class _Wrong(NamedTuple):
    """One way it may go wrong, in the order of `rank`."""

    rank: tuple[float, ...]
    shot: int
    found: Finding


def _first(plan: Plan) -> Iterator[Row]:
    for number, wrong in enumerate(_likeliest(plan), start=1):
        yield Row(f"{number}", _said(plan, wrong))


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


def _likeliest(plan: Plan) -> list[_Wrong]:
    """The worst of all findings, whatever is not go before what is; first each of another shot,
    then of another kind."""
    left = sorted(
        (w for i, s in enumerate(plan.shots) for f in s.findings if (w := _wrong(i, f, s.rides))),
        key=lambda w: w.rank,
    )
    chosen: list[_Wrong] = []
    while left and len(chosen) < WORST:
        checks, shots = {c.found.check for c in chosen}, {c.shot for c in chosen}
        bad = [w for w in left if w.found.verdict != Verdict.GO] or left
        other = [w for w in bad if w.shot not in shots]
        fresh = [w for w in bad if w.found.check not in checks]
        both = [w for w in other if w in fresh]
        best = next(iter(both if bad is left else other or fresh), None) or (fresh or bad)[0]
        chosen.append(best)
        left.remove(best)
    return chosen


def _wrong(shot: int, found: Finding, rides: int) -> _Wrong | None:
    """None for what is go with nothing near, or is go and no stray would change it."""
    if found.verdict == Verdict.GO and (
        found.margin is None or found.check not in brief_words.STRAYS
    ):
        return None
    family = ("harm", "rule", "picture").index(found.family)
    room = math.inf
    if found.margin is not None and found.limit:
        room = found.margin / abs(found.limit)
    if found.verdict == Verdict.UNKNOWN:
        room = -1.0
    rank = (-int(found.verdict), family, -found.rides_breaking / max(rides, 1), room, shot)
    return _Wrong(rank, shot, found)


def _said(plan: Plan, wrong: _Wrong) -> str:
    """`B: it hits the larch: 0.6 m, needs 2.2 m; 2 s after the gate; stop called by …`."""
    found, shot = wrong.found, plan.shots[wrong.shot]
    if found.verdict == Verdict.UNKNOWN:
        return f"{letter(wrong.shot)}: nobody knows: {QUESTIONS.get(found.check, found.check)}"
    thing = "the ground" if found.thing == "ground" else called(plan.outing.site, found.thing)
    words = brief_words.NEARLY if found.verdict == Verdict.CAUTION else brief_words.WRONG
    what = words.get(found.check, plain(found.check)).replace("{thing}", thing)
    if found.verdict == Verdict.GO:
        what += f" {brief_words.STRAYS[found.check]}"
    parts = [f"{what.strip().removesuffix(',')}: {measures.distance(found)}"]
    if found.at is not None:
        parts.append(on_ride(plan, shot, found.at.ride_m))
        if found.ride == 0 and found.family == "harm" and shot.scene.blind[0, found.at.sample]:
            parts.append("it senses nothing that way")
    if found.verdict == Verdict.NO_GO:
        parts.append("not flown as planned")
    elif mark := _call_for(plan, shot, found):
        parts.append(mark)
    return f"{letter(wrong.shot)}: {'; '.join(p for p in parts if p)}"


def _call_for(plan: Plan, shot: ShotPlan, found: Finding) -> str:
    """The last call that stops it before the place of a finding."""
    for call in last_calls(shot, plan.marks):
        same = call.check == found.check and call.thing == found.thing
        if same and found.at is not None and abs(call.tight_m - found.at.ride_m) < 10.0:
            return "" if call.before_start else f"call stop by: {put(call.phrase)}"
    return ""


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
    for call in brief_words.CALLS:
        yield Row(call.word, f"{call.when}. {call.does}. Arms: {call.arms}")
    yield Row("", brief_words.SIGNALS)
    yield Row("", "We talk by", ("voice or radio, channel",))


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
        f"{letter(i)} it meets {called(plan.outing.site, f.thing) or 'something'}"
        for i, s in enumerate(plan.shots)
        if (f := found_of(s, "return"))
        and f.verdict in (Verdict.NO_GO, Verdict.CAUTION)
        and f.thing
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
    height, blanks = "its return height", ("return height set to",)
    if site.return_height_m is not None:
        height, blanks = f"{site.return_height_m:g} m on the display", ()
    return (
        f"it climbs to {height}, flies straight to {at_place(site, site.launch)}, comes down "
        f"there; keep {say.rounded_up(circle):g} m clear of that{';' if blanks else ''}",
        blanks,
    )


# -- when do we stop


def _stop(plan: Plan) -> Iterator[Row]:
    rules = plan.outing.rules
    near = plan.outing.site.keep_clear_m if rules.people is None else rules.people.least_m
    keep = f"nearer than {near:g} m, measured level, to it" if near > 0.0 else "under it or near it"
    also = ", or nearer than it is high" if rules.people and rules.people.one_to_one else ""
    yield Row("people", f"anybody who is not of the crew comes {keep}{also}")
    eyes = "no pilot" if rules.sight.eyes == "pilot" else "neither pilot nor spotter"
    within = rules.sight.follow_within_m
    but = "" if within is None else f", unless it follows within {within:g} m of the pilot"
    yield Row("sight", f"{eyes} sees it with bare eyes{but}")
    yield wind_row(plan)
    yield light_row(plan)
    craft = plan.outing.aircraft
    yield Row("battery", f"{craft.reserve_fraction:.0%} left: by then it is on the ground")
    yield Row(
        "marks",
        "the rider passes a last-call mark (each shot lists its own) and what is ahead is not "
        "plainly clear",
    )


class Side(NamedTuple):
    """The least wind over all shots from one side: in the hand, at 10 m, its Beaufort number."""

    name: str
    hand_m_s: float
    mean_m_s: float
    force: int

    @property
    def words(self) -> str:
        """`from N over 2.7 m/s in the hand (force 3: twigs move all the time)`."""
        if math.isnan(self.mean_m_s):
            return f"from {self.name}: not known"
        most = self.mean_m_s if math.isnan(self.hand_m_s) else self.hand_m_s
        at = "10 m up" if math.isnan(self.hand_m_s) else "in the hand"
        seen = f" (force {self.force}: {BEAUFORT[self.force][1]})"
        return f"from {self.name} over {say.rounded_down(max(most, 0.0), 0.1):.1f} m/s {at}{seen}"


def sides(limits: tuple[tuple[WindLimit, ...], ...]) -> tuple[Side, ...]:
    """The least over shots from each of eight sides; NaN where one is not known."""
    found = []
    for name, *each in zip(SIDES, *limits, strict=True):
        hand, mean = (
            float(np.min([getattr(one, key) for one in each])) for key in ("hand_m_s", "mean_m_s")
        )
        force = beaufort(max(mean, 0.0))[0] if math.isfinite(mean) else -1
        found.append(Side(name, hand, mean, force))
    return tuple(found)


def today(found: tuple[Side, ...], plan: Plan) -> Side | None:
    """The side the forecast wind is from."""
    blows = plan.outing.day.weather.wind_from_rad
    return None if blows is None else found[round(math.degrees(blows) / 45.0) % len(found)]


def worst_side(found: tuple[Side, ...]) -> Side:
    """The side from which least is borne; one that is not known first."""
    return min(found, key=lambda s: -1.0 if math.isnan(s.mean_m_s) else s.mean_m_s)


def wind_row(plan: Plan) -> Row:
    """The largest wind for the shots that may be flown (all of them, where none may)."""
    flown = [s for s in plan.shots if s.verdict != Verdict.NO_GO] or list(plan.shots)
    found = sides(tuple(wind_limits(s.scene) for s in flown))
    now, least = today(found, plan), worst_side(found)
    told = [now.words] if now else []
    if now is None or now.name != least.name:
        told.append(least.words + (", the worst side" if now else ""))
    return Row("wind", "; ".join(told))


def light_row(plan: Plan) -> Row:
    """The last take-off of all, and the end of the light."""
    zone = plan.outing.day.timezone
    latest = [s.start for s in plan.timeline if s.what == "last take-off"]
    light = timeline.light_of(plan.outing.day, plan.outing.rules, plan.outing.site.frame)
    if light.ends is None:
        return Row("light", "it does not end that day")
    last = min(latest, default=light.ends - timedelta(seconds=timeline.SPARE_S))
    ends = say.clock(light.ends.astimezone(zone))
    return Row(
        "light",
        f"last take-off {say.clock(last.astimezone(zone))}; the light ends {ends} ({light.why})",
    )


def highest(values: Array) -> float:
    """The greatest that is known; NaN where nothing is."""
    known = values[np.isfinite(values)]
    return float(known.max()) if len(known) else math.nan
