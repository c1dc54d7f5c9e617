"""The rest of the brief, after the shots: the day, emergencies, and what is read at home."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np

from shotplan.judging.judged import Plan
from shotplan.model import say
from shotplan.model.rules import Reminder
from shotplan.output import answer, first
from shotplan.output.answer import KNOWN
from shotplan.output.brief import front as brief_front
from shotplan.output.brief import shots as brief_shots
from shotplan.output.brief import words as brief_words
from shotplan.output.brief.rows import Row, Section, grid_reference, listed
from shotplan.output.words import letter, plain
from shotplan.scene import eyesight, timeline
from shotplan.scene.watching import watchers
from shotplan.scene.wind_limits import gusts_of

GROUPS = {"tree": "trees", "wood": "woods", "building": "buildings", "pole": "poles"}


def sections(plan: Plan) -> tuple[Section, ...]:
    """The day and the emergencies, then the fine print."""
    rules = plan.outing.rules
    return (
        Section("Wind and light", tuple(_air(plan))),
        Section("The day, in order", tuple(_day(plan))),
        Section("If something happens", tuple(_emergencies(plan))),
        Section(
            f"What an observer must be told (published lists, read {brief_words.TOLD_READ_ON})",
            tuple(_told(plan)),
            fine=True,
        ),
        Section(
            f"Reminders of the rule pack {plain(rules.id)}: {plain(rules.title)}; texts read "
            f"{rules.read_on} where nothing else is said",
            tuple(Row("", f"{plain(r.text)} [{_source(r)}]") for r in rules.reminders),
            fine=True,
        ),
        Section("Cautions", tuple(Row("", line) for line in answer.cautions(plan)), fine=True),
    )


def _source(reminder: Reminder) -> str:
    how = "" if reminder.known == "read" else f"; {KNOWN[reminder.known]}"
    return f"{plain(reminder.source)}{how}"


# -- the day


def _air(plan: Plan) -> Iterator[Row]:
    weather = plan.outing.day.weather
    whose = (
        "forecast" if weather.measured_at == "forecast" else f"read at {plain(weather.measured_at)}"
    )
    sight = weather.visibility_m
    far = "" if sight is None else f", visibility {sight / 1000.0:g} km"
    yield Row(whose, f"{first.air(weather)}{far};", ("on the spot, in the hand",))
    zone = plan.outing.day.timezone
    suns = [
        f"{say.clock(s.scene.moments[0].astimezone(zone))} {brief_shots.sun(s)}"
        for s in (plan.shots[0], plan.shots[-1])
    ]
    yield Row("sun", "; ".join(dict.fromkeys(suns)))
    gusts = gusts_of(plan.shots[0].scene).words.replace("it", "the mean", 1)
    yield Row("gusts", f"the wind limits of the shots take them to be {gusts}")
    glare = [
        f"{letter(i)}: {f.of.told.wrong.replace('{thing}', plain(f.told.thing))}"
        for i, s in enumerate(plan.shots)
        if (f := s.asked("glare")) and int(f.verdict) > 0 and f.told.thing
    ]
    if glare:
        yield Row("glare", "; ".join(glare))


def _day(plan: Plan) -> Iterator[Row]:
    """Take-offs in their order, batteries, and what ends the day."""
    lines, zone = answer.day(plan), plan.outing.day.timezone
    if not lines:
        yield Row("timeline", "", ("take-offs", "batteries"))
        return
    light = timeline.light_of(plan.outing.day, plan.outing.rules, plan.outing.site.frame)
    told = [
        f"{say.clock(s.start.astimezone(zone))} {_slot(plan, s)}"
        f"{'' if timeline.fits(s, light) else ', outside the light'}"
        for s in plan.timeline
        if s.what in ("take", "battery change")
    ]
    yield Row("take-offs", "; ".join(told))
    reserve = f"{plan.outing.aircraft.reserve_fraction:.0%}"
    yield Row("in all", f"{lines[0]}; it is on the ground with {reserve} left")
    latest = [f"{letter(i)} {say.clock(at)}" for i, at in answer.last_take_offs(plan).items()]
    if light.ends is not None:
        ends = say.clock(light.ends.astimezone(zone))
        last = f"{', '.join(latest)}; " if latest else ""
        yield Row("last take-off", f"{last}the light ends {ends} ({light.why})")


def _slot(plan: Plan, slot: timeline.Slot) -> str:
    if slot.what == "battery change":
        return f"battery {slot.battery}"
    again = plan.shots[slot.shot].scene.shot.takes > 1
    return f"{letter(slot.shot)}{f', take {slot.take}' if again else ''}"


# -- emergencies


def _emergencies(plan: Plan) -> Iterator[Row]:
    site, rules = plan.outing.site, plan.outing.rules
    yield Row(
        "out of sight",
        "call lost; it stands; if nobody sees it in 5 s: home; look toward the launch",
    )
    height = site.return_height_m
    up = "height not said" if height is None else f"at {height:g} m on the display"
    yield Row(
        "link lost or flying off",
        f"hands on, {up} if it comes home; if it does not: note time, heading, battery, and tell "
        "the nearest airfield or the police;",
        ("phone",),
    )
    near = 0.0 if rules.people is None else rules.people.least_m
    keep = f"; never nearer than {near:g} m" if near else ""
    yield Row("people arrive", f"call people; it stands, then goes away from them and lands{keep}")
    yield Row(
        "other aircraft", "call aircraft; it goes straight down and lands; crewed ones come first"
    )
    yield Row(
        "somebody is hurt",
        "motors off, one helps, one calls and then stands where help can see them;",
        ("number", "who calls", "first aid is"),
    )
    launch = site.launch
    if launch is None:
        yield Row("we are at", "no launch is drawn;", ("place",))
    else:
        name = plain(launch.label)
        yield Row("we are at", f"{name}: {grid_reference(site, launch.xyz_m[:2])}")
    yield Row("nearest road", "", ("",))
    yield Row(
        "fire",
        "a battery that smokes or swells: leave it, stay upwind, keep others away; dry ground: "
        "water at hand before the first take;",
        ("extinguisher is",),
    )


# -- what an observer must be told


def _told(plan: Plan) -> Iterator[Row]:
    answers = _answers(plan)
    for number, item in enumerate(brief_words.TOLD, start=1):
        text, *blanks = answers[item.answer]
        yield Row(f"{number} {item.title}", f"[{item.source}]: {text}", tuple(blanks))


def _answers(plan: Plan) -> dict[str, tuple[str, ...]]:
    """For each key of `brief_words.TOLD` what is said of it, then captions of what is open."""
    pilots = [plain(p.name) for p in plan.outing.day.who("pilot")]
    reserve = f"{plan.outing.aircraft.reserve_fraction:.0%}"
    return {
        "conditions": ("see Wind and light; limits are at each shot",),
        "airspace": (_zones(plan), "looked up on", "at", "result"),
        "people": ("see When do we stop; anybody of the crew stops it",),
        "hazards": (
            f"{_hazards(plan)}; open:",
            "no metal or cables under the launch, compass right",
        ),
        "emergencies": ("see If something happens",),
        "contingency": ("see Where does it go if it is lost",),
        "roles": (
            ("see Who does what; in command: " + listed(pilots),)
            if len(pilots) == 1
            else ("see Who does what; open:", "in command")
        ),
        "wrong": ("see What do I watch for",),
        "talk": ("arm signals if it fails, and the take ends; open:", "by"),
        "scan": ("the spotter's: sky and aircraft by turns, by eye, not on a screen",),
        "calls": ("see What do I call",),
        "sight": (_in_sight(plan),),
        "authority": ("down, called by anybody, is obeyed; it gives way to everything crewed",),
        "kit": ("open:", "first aid", "extinguisher"),
        "far": _far(plan),
        "fitness": (
            "everybody asked before the first take; hours: see the reminders; open:",
            "asked",
        ),
        "one": (_one(plan),),
        "battery": (f"lands with {reserve} left; open:", "charged, voltage before each take"),
        "incident": ("in the USA within 10 days; open:", "who reports, to whom"),
    }


def _zones(plan: Plan) -> str:
    zones = plan.outing.site.zones
    drawn = listed(plain(z.name or z.id) for z in zones) if zones else "none"
    return f"keep-outs drawn: {drawn}; airspace is not looked up here, open:"


def _hazards(plan: Plan) -> str:
    """Kinds of obstacles with their greatest height, wires by name."""
    things = plan.outing.site.obstacles.things
    told = [
        f"wire {plain(t.label)} "
        + ("height not known" if math.isnan(t.height_m) else say.metres(t.height_m))
        for t in things
        if t.role == "wire"
    ]
    for role, many in GROUPS.items():
        tops = np.array([t.height_m for t in things if t.role == role])
        if len(tops):
            high = brief_front.highest(tops)
            told.append(
                f"{many} up to {'a height not known' if math.isnan(high) else say.metres(high)}"
            )
    looked = sorted({kind for area in plan.outing.site.surveyed for kind in area.looked_for})
    return f"{'; '.join(told) or 'none drawn'}; looked for: {', '.join(looked) or 'nothing'}"


def _in_sight(plan: Plan) -> str:
    size, visible = eyesight.range_m(plan.shots[0].scene)
    far = size if visible is None else min(size, visible)
    return (
        f"with bare eyes, so that you can tell which way it flies: to {far:.0f} m here (327 times "
        "its span + 20 m, EASA guidelines at second hand); a dot is not in sight; binoculars only "
        "in an emergency"
    )


def _far(plan: Plan) -> tuple[str, ...]:
    """The greatest planned distance from a pilot's eye."""
    away = [
        np.linalg.norm(s.scene.track.xyz_m[0] - w.eye_m, axis=1)
        for s in plan.shots
        for w in watchers(s.scene)
        if "pilot" in w.person.roles
    ]
    most = brief_front.highest(np.concatenate(away)) if away else math.nan
    if math.isnan(most):
        return "where the pilot is is not known; open:", "at most"
    return (f"planned {say.metres(most)} at most",)


def _one(plan: Plan) -> str:
    riding = [plain(p.name) for p in plan.outing.day.who("spotter") if "rider" in p.roles]
    if riding:
        return f"one aircraft; {listed(riding)} rides and watches: the pack may not let that count"
    return "one aircraft; nobody who watches rides or drives"
