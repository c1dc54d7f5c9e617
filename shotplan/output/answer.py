"""What a plan says, as plain data: the terminal and the pages lay the same words out their way."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime, tzinfo
from typing import NamedTuple

from shotplan.aids.last_call import last_calls
from shotplan.judging.judged import Plan
from shotplan.kernels.rides.shares import upper_bound
from shotplan.model import say
from shotplan.model.disturbance import explained
from shotplan.model.verdict import Verdict
from shotplan.output import credit, first
from shotplan.output.measures import at_most
from shotplan.output.words import ShotWords, called, letter, plain, shot_words
from shotplan.scene import timeline

KNOWN = {"read": "read", "secondary": "at second hand", "memory": "from memory, to be checked"}


class Reminding(NamedTuple):
    """A reminder of the rule pack, where it stands and how that is known."""

    text: str
    source: str
    known: str


class Answer(NamedTuple):
    """Everything said about a plan. `tally` how many shots have which word; `planned` for when and
    what wind; `proved` what the rides prove, and no more; `cautions` before flying; `read` what
    reading mended or left out; `credits` whose data its maps show."""

    site: str
    rules: str
    verdict: Verdict
    tally: str
    planned: str
    proved: str
    shots: tuple[ShotWords, ...]
    reminders: tuple[Reminding, ...]
    cautions: tuple[str, ...]
    read: tuple[str, ...]
    day: tuple[str, ...] = ()
    zone: str = ""
    credits: str = ""


def answer(plan: Plan) -> Answer:
    """Everything a plan says, in the order it is read."""
    rules = plan.outing.rules
    return Answer(
        site=plain(plan.outing.titled),
        rules=f"{plain(rules.id)}: {plain(rules.title)}, read {rules.read_on}",
        verdict=plan.verdict,
        tally=first.tally(s.verdict for s in plan.shots),
        planned=_planned(plan),
        proved=_proved(plan.outing.disturbance.rides, max(s.scene.shot.takes for s in plan.shots)),
        shots=tuple(shot_words(s, letter(i), plan.marks) for i, s in enumerate(plan.shots)),
        reminders=tuple(
            Reminding(plain(r.text), plain(r.source), KNOWN[r.known]) for r in rules.reminders
        ),
        cautions=tuple(plain(line) for line in plan.cautions),
        read=_read(plan),
        day=day(plan),
        zone=plain(str(plan.outing.day.timezone)),
        credits=credit.line(plan.outing.site),
    )


def _planned(plan: Plan) -> str:
    """`Sat 20 June 2026, 19:40 (Europe/Copenhagen); wind from SW, 4 m/s, gusts 7 m/s`."""
    day = plan.outing.day
    return f"{first.begins(day)} ({plain(str(day.timezone))}); {first.air(day.weather)}"


def _read(plan: Plan) -> tuple[str, ...]:
    lines = (*plan.outing.repairs, *plan.outing.site.remarks)
    return tuple(dict.fromkeys(plain(line) for line in lines))


def day(plan: Plan) -> tuple[str, ...]:
    """The timeline, a line a slot, in the site's local time; first how many batteries it takes."""
    if not plan.timeline:
        return ()
    outing = plan.outing
    light = timeline.light_of(outing.day, outing.rules, outing.site.frame)
    takes = [s for s in plan.timeline if s.what == "take"]
    within = sum(timeline.fits(s, light) for s in takes)
    counted = max(s.battery for s in takes)
    known = all(s.battery for s in takes)
    packs = f"{counted} batter{'y' if counted == 1 else 'ies'}" if known else "batteries not known"
    head = f"{len(takes)} take{'s' * (len(takes) != 1)}, {packs}; {within} within the light"
    slots = [s for s in plan.timeline if s.what != "last take-off"]
    told = [(s.start, _slot(s, light, outing.day.timezone)) for s in slots]
    told += _last_take_offs(plan)
    return (head, *(line for _, line in sorted(told, key=lambda t: t[0])))


def last_take_offs(plan: Plan) -> dict[int, datetime]:
    """Shot -> when it must take off at the latest, in the site's local time."""
    zone = plan.outing.day.timezone
    slots = (s for s in plan.timeline if s.what == "last take-off")
    return {s.shot: s.start.astimezone(zone) for s in slots}


def _last_take_offs(plan: Plan) -> Iterator[tuple[datetime, str]]:
    """Shots that share the minute of their last take-off in one line."""
    latest = last_take_offs(plan)
    for at in dict.fromkeys(map(say.clock, latest.values())):
        same = [i for i in sorted(latest) if say.clock(latest[i]) == at]
        who = ", ".join(map(letter, same))
        yield min(latest[i] for i in same), f"{at}  last take-off for {who}"


def _slot(slot: timeline.Slot, light: timeline.Light, zone: tzinfo) -> str:
    """`19:40 to 19:42  A, take 1, battery 1`."""
    start, end = (say.clock(at.astimezone(zone)) for at in (slot.start, slot.end))
    until = start if slot.start == slot.end else f"{start} to {end}"
    name = letter(slot.shot) if slot.shot >= 0 else ""
    battery = f", battery {slot.battery}" if slot.battery else ""
    late = "" if timeline.fits(slot, light) else ": outside the light"
    said = {
        "take": f"{name}, take {slot.take}{battery}{late}",
        "reset": f"back to the start of {name}",
        "wait": f"it waits in the air; back to the start of {name}",
        "battery change": f"change to battery {slot.battery}",
        "light ends": f"the light ends: {light.why}",
    }
    return f"{until}  {said[slot.what]}"


def cautions(plan: Plan) -> tuple[str, ...]:
    """The plan's own, then what reading mended or left out; each once."""
    return tuple(dict.fromkeys((*(plain(line) for line in plan.cautions), *_read(plan))))


def assumptions(plan: Plan) -> dict[str, tuple[str, ...]]:
    """Every assumption once, with the checks that rest on it, in the order met."""
    found: dict[str, list[str]] = {}
    for shot in plan.shots:
        for finding in shot.findings:
            for line in finding.assumptions:
                checks = found.setdefault(plain(line), [])
                if finding.check not in checks:
                    checks.append(finding.check)
    return {line: tuple(checks) for line, checks in found.items()}


def disturbed(plan: Plan) -> tuple[str, ...]:
    """How the rides differ, a line a setting with its source; nothing of one ride."""
    said = plan.outing.disturbance
    if said.rides == 1:
        return ()
    craft = plan.outing.aircraft
    by = (
        f"sight_sigma_m = {craft.sight_sigma_m:g} m: error of its place relative to the rider "
        "(the aircraft's)"
        if craft.follows_by == "sight"
        else f"position_sigma_m = {craft.position_sigma_m:g} m: error of its own place "
        "(the aircraft's), the rider's receiver adds its own"
    )
    return (*(plain(line) for line in explained(said)), f"follows by {craft.follows_by}; {by}")


def sources(plan: Plan) -> tuple[str, ...]:
    """`check: source` of every finding and its remarks, each once."""
    lines = [
        f"{found.check}: {plain(source)}"
        for shot in plan.shots
        for found in shot.findings
        for source in (found.source, *(r.source for r in found.remarks))
        if source
    ]
    return tuple(dict.fromkeys(lines))


def reckoned(plan: Plan) -> tuple[str, ...]:
    """Every last call with its formula."""
    return tuple(
        called(call, letter(i), site=plan.outing.site)
        for i, shot in enumerate(plan.shots)
        for call in last_calls(shot, plan.marks)
    )


def _proved(rides: int, takes: int) -> str:
    """What a check proves that no ride breaks: no more than that; `takes` of the shot that has
    most."""
    if rides == 1:
        return "Only the undisturbed ride was flown: nothing is known of how rides differ."
    return (
        f"Each shot is flown {rides} times in the computer, each ride a little different (pace, "
        f"braking, position, gusts). Where none of {rides} breaks something, "
        f"{at_most(upper_bound(0, rides), takes)} do, with 95 % confidence; no more is proved."
    )
