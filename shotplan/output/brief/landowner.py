"""One page for whoever owns or looks after the ground: where, when, how high, who, what for.

It asks; it says nothing of what was computed about the flights, and carries none of those words.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import replace
from datetime import timedelta
from typing import NamedTuple

from shotplan.judging.judged import Plan, ShotPlan
from shotplan.model import say
from shotplan.model.verdict import Verdict
from shotplan.output import credit, first
from shotplan.output.brief import brief
from shotplan.output.brief.front import highest
from shotplan.output.brief.rows import Row, Section, at_place, grid_reference, listed
from shotplan.output.map import drawing, ground, still
from shotplan.output.map.shapes import Shape, Sheet, simplified
from shotplan.output.words import plain
from shotplan.scene.eyesight import counted

WAY = "home-worst"  # the look of all flights: one dark dashed line
CAPTION = (
    "Dashed line: where the aircraft flies. Brown line with arrows: where we ride. Dark diamond: "
    "where it takes off and lands."
)
NOTE = (
    "Heights are planned; on the day they may differ by a few metres. Nothing here says that the "
    "flight is permitted: that is for you and for the authority of the place to say."
)


class Page(NamedTuple):
    """What the page says."""

    site: str
    when: str
    asks: str
    sections: tuple[Section, ...]
    caption: str
    note: str
    made: str
    credits: str


def page(plan: Plan) -> Page:
    """Everything the page says of the shots that are flown; what nobody told is a blank."""
    plan = _flown(plan)
    day = plan.outing.day
    start = day.start.astimezone(day.timezone)
    return Page(
        site=plain(plan.outing.titled),
        when=f"{start:%a} {start.day} {start:%B %Y}",
        asks="We would like to film our own riding here with a small camera aircraft.",
        sections=(
            Section("Where and when", tuple(_where(plan))),
            Section("How high, how long, what", tuple(_how(plan))),
            Section("Who, and what for", tuple(_who(plan))),
            Section("Other people, animals and things", tuple(_others(plan))),
            Section("Contacts", tuple(_contacts())),
        ),
        caption=CAPTION,
        note=NOTE,
        made=f"plan {plan.outing.fingerprint}, shotplan {plain(plan.version)}",
        credits=credit.line(plan.outing.site),
    )


def _flown(plan: Plan) -> Plan:
    """The plan without the shots that are not flown as they are."""
    kept = [i for i, s in enumerate(plan.shots) if s.verdict != Verdict.NO_GO]
    return replace(
        plan,
        shots=tuple(plan.shots[i] for i in kept),
        timeline=tuple(slot for slot in plan.timeline if slot.shot in kept),
    )


def _where(plan: Plan) -> Iterator[Row]:
    site = plan.outing.site
    country = f", {plain(site.country)}" if site.country else ""
    yield Row("place", f"{plain(site.name)}{country}")
    if site.launch is not None:
        at = grid_reference(site, site.launch.xyz_m[:2])
        yield Row("take-off and landing", f"{at_place(site, site.launch)}; {at}")
    else:
        yield Row("take-off and landing", "", ("",))
    yield Row("nearest road", "", ("",))
    slots = [s for s in plan.timeline if s.what == "take"]
    zone = plan.outing.day.timezone
    if slots:
        begin = min(s.start for s in slots).astimezone(zone)
        end = max(s.end for s in slots).astimezone(zone)
        yield Row(
            "from, to",
            f"{first.moment(begin)} to {say.clock(end)} ({plain(str(zone))}); another day:",
            ("",),
        )
    else:
        yield Row("from, to", first.begins(plan.outing.day), ("to",))


def _how(plan: Plan) -> Iterator[Row]:
    over = max((highest(s.scene.height_m[0]) for s in plan.shots), default=math.nan)
    told = "not known" if math.isnan(over) else f"up to {math.ceil(over)} m above the ground below"
    home = plan.outing.site.return_height_m
    back = "" if home is None else f"; up to {home:g} m above take-off if it comes home by itself"
    yield Row("height", f"{told}{back}")
    aloft = sum((s.end - s.start for s in plan.timeline if s.what == "take"), timedelta())
    takes = sum(s.scene.shot.takes for s in plan.shots)
    minutes = math.ceil(aloft / timedelta(minutes=1))
    lasts = f", in the air for {minutes} min in all" if minutes else ""
    watched = ", each watched by eye all the way" if all(map(_watched, plan.shots)) else ""
    if takes:
        yield Row("flights", f"{takes}{lasts}{watched}")
    else:
        yield Row("flights", "none of those planned so far; those we change:", ("",))
    craft = plan.outing.aircraft
    yield Row(
        "aircraft",
        f"{craft.mass_kg * 1000.0:.0f} g, {craft.span_m * 100.0:.0f} cm across, electric, with a "
        "camera that films the rider;",
        ("make, marks on it",),
    )


def _watched(shot: ShotPlan) -> bool:
    """Whether somebody whose eyes count, and who does not ride, has it in view all the time."""
    seen = shot.asked("sight")
    eyes = [person for person, _ in counted(shot.scene)]
    stand = bool(eyes) and not any("rider" in person.roles for person in eyes)
    if not stand or seen is None or seen.verdict != Verdict.GO:
        return False
    unseen = seen.limits == shot.scene.rules.sight.follow_within_m  # within it nobody need look
    return not (unseen.any() or seen.things.any())


def _who(plan: Plan) -> Iterator[Row]:
    crew = plan.outing.day.crew
    told = listed(f"{plain(p.name)} ({' and '.join(sorted(p.roles))})" for p in crew)
    yield Row("crew", told, () if crew else ("",))
    yield Row("what for", "our own film of our riding; shown at:", ("",))
    yield Row("insurance, registration", "", ("",))


def _others(plan: Plan) -> Iterator[Row]:
    site = plan.outing.site
    states = {"may-pass": "open while we film", "closed": "closed while we film"}
    for area in site.people:
        name, state = plain(area.name or area.id), states.get(area.state, "")
        if area.state == "held":
            who = plain(area.held_by) or "somebody of the crew"
            state = f"{who} stands there, asks people to wait a moment, and calls us"
        yield Row(name, state)
    for animals in site.wildlife:
        name = plain(animals.name or animals.id)
        yield Row(name, f"wildlife; we stand off {animals.stand_off_m:g} m where it is the season")
    for zone in site.zones:
        reason = f" ({plain(zone.reason)})" if zone.reason else ""
        yield Row(plain(zone.name or zone.id), f"kept out of{reason}")
    yield Row(
        "we stop",
        "as soon as anybody who is not of the crew, or an animal, comes near; and when asked",
    )
    yield Row("anything we should know", "(animals, work, events, places to leave alone):", ("",))


def _contacts() -> Iterator[Row]:
    yield Row("on the day", "", ("name", "phone"))
    yield Row("before and after", "", ("name", "e-mail"))
    yield Row("agreed by", "", ("name", "date", "signed"))


def picture(plan: Plan) -> bytes:
    """The map with one line for all flights, as a PNG without a name from a file."""
    site, flown = plan.outing.site, _flown(plan)
    seen, whole = brief.view(flown if flown.shots else plan), drawing.whole(plan)
    water = (Shape("area", "water", w.outline) for w in site.terrain.water)
    solids = (
        s for t in site.obstacles.things if seen.holds((t.where_m,)) for s in drawing.solid(t)
    )
    areas = (s for s in drawing.areas(site) if s.look != "surveyed")
    ways = (
        Shape("line", WAY, (simplified(s.scene.track.xyz_m[0, :, :2], 0.1),)) for s in flown.shots
    )
    launch = () if site.launch is None else (site.launch,)
    marks = (Shape("mark", "launch", (p.xyz_m[None, :2],), tag="take-off") for p in launch)
    contours = ground.contours(site.terrain, whole)
    shapes = (*water, *contours, *solids, *areas, *drawing.ride_line(plan.outing), *ways, *marks)
    relief = ground.relief(site.terrain, site.frame, seen)
    return still.png(relief, (Sheet("all", shapes),), seen, credited=credit.line(site))
