"""What a plan says, as plain data: the terminal and the pages lay the same words out their way."""

from __future__ import annotations

import unicodedata
from datetime import datetime, tzinfo
from typing import NamedTuple

from shotplan.aids.last_call import LastCall, last_calls
from shotplan.judging.judged import Finding, Plan, ShotPlan, Stretch
from shotplan.kernels.rides.shares import upper_bound
from shotplan.model.disturbance import explained
from shotplan.model.site import Site
from shotplan.model.verdict import Verdict
from shotplan.output import first
from shotplan.output.measures import amount, distance, whereabouts
from shotplan.scene import timeline
from shotplan.scene.landmarks import Landmark
from shotplan.scene.margin import Remark, RemarkKind

KNOWN = {"read": "read", "secondary": "at second hand", "memory": "from memory, to be checked"}
_STEERING = {"Cc", "Cf", "Cs", "Zl", "Zp"}
_FAMILIES = ("harm", "rule", "picture")


class Note(NamedTuple):
    """A remark, its source ("" none) and kind."""

    text: str
    source: str
    kind: RemarkKind


class Row(NamedTuple):
    """One finding. `pin` marks it on the map ("" nowhere); `title` the check with its question;
    `distance` value against limit; `where` its place; `rides` how many of the disturbed rides
    break it; `seen` remarks that must not be overlooked; `notes` the others."""

    pin: str
    check: str
    title: str
    verdict: Verdict
    distance: str
    where: str
    reason: str
    advice: str
    rides: str
    seen: tuple[str, ...]
    notes: tuple[Note, ...]


class ShotWords(NamedTuple):
    """One shot. `deciding` rows carry its verdict; `rest` the others, worst first; `why` what
    decides in a few words; `combined` cautions of several kinds, `cut` a part of it that is
    better ("" none); `calls` by where stop must have been called before each tight place."""

    letter: str
    name: str
    style: str
    part: str
    verdict: Verdict
    why: str
    combined: str
    cut: str
    deciding: tuple[Row, ...]
    rest: tuple[Row, ...]
    stretches: tuple[str, ...]
    calls: tuple[str, ...] = ()

    @property
    def rows(self) -> tuple[Row, ...]:
        """All rows, what decides first."""
        return self.deciding + self.rest

    @property
    def change(self) -> str:
        """What to do about it before anything else; "" where nothing is to be done."""
        return self.cut or next((r.advice for r in self.deciding if r.advice), "")


class Reminding(NamedTuple):
    """A reminder of the rule pack, where it stands and how that is known."""

    text: str
    source: str
    known: str


class Answer(NamedTuple):
    """Everything said about a plan. `tally` how many shots have which word; `planned` for when and
    what wind; `proved` what the rides prove, and no more; `cautions` before flying; `read` what
    reading mended or left out."""

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


def plain(text: str) -> str:
    """Text from a file made fit to print: control, format and direction characters and line ends
    become `·`, so that a name can neither colour a terminal nor turn a line around."""
    return "".join("·" if unicodedata.category(c) in _STEERING else c for c in text)


def letter(index: int) -> str:
    """A, B, ... Z, AA, AB, ...: what a shot is called on the map."""
    head, tail = divmod(index, 26)
    return (letter(head - 1) if head else "") + "ABCDEFGHIJKLMNOPQRSTUVWXYZ"[tail]


def ranked(shot: ShotPlan) -> tuple[Finding, ...]:
    """Its findings, what decides first: the worst word, then harm before rule before picture,
    then the least margin (unknown before known)."""

    def key(found: Finding) -> tuple[int, int, float, str]:
        margin = -1e9 if found.margin is None and found.verdict == Verdict.UNKNOWN else found.margin
        return (
            -int(found.verdict),
            _FAMILIES.index(found.family),
            float("inf") if margin is None else margin,
            found.check,
        )

    return tuple(sorted(shot.findings, key=key))


def pins(shot: ShotPlan, shot_letter: str) -> dict[str, str]:
    """Check -> pin (`A1`, `A2`) of the places worth a look: whatever is not `go`."""
    chosen = [f for f in ranked(shot) if f.at is not None and f.verdict != Verdict.GO]
    return {f.check: f"{shot_letter}{i}" for i, f in enumerate(chosen, start=1)}


def stretch(part: Stretch, unit: str) -> str:
    """`40 to 62 m: go (clearance, 3.1 m to spare)`, the margin in its check's unit."""
    why = plain(part.binding)
    if why and part.margin is not None:
        left = amount(abs(part.margin), unit, 0.0)
        why += f", {left} {'to spare' if part.margin >= 0 else 'short'}"
    tail = f" ({why})" if why else ""
    return f"{part.from_m:.0f} to {part.to_m:.0f} m: {part.verdict.word}{tail}"


def answer(plan: Plan) -> Answer:
    """Everything a plan says, in the order it is read."""
    rules = plan.outing.rules
    return Answer(
        site=plain(plan.outing.site.name),
        rules=f"{plain(rules.id)}: {plain(rules.title)}, read {rules.read_on}",
        verdict=plan.verdict,
        tally=first.tally(s.verdict for s in plan.shots),
        planned=_planned(plan),
        proved=_proved(plan.outing.disturbance.rides),
        shots=tuple(_shot(s, letter(i), plan.marks) for i, s in enumerate(plan.shots)),
        reminders=tuple(
            Reminding(plain(r.text), plain(r.source), KNOWN[r.known]) for r in rules.reminders
        ),
        cautions=tuple(plain(line) for line in plan.cautions),
        read=_read(plan),
        day=day(plan),
        zone=plain(str(plan.outing.day.timezone)),
    )


def _planned(plan: Plan) -> str:
    """`Sat 20 June 2026, 19:40 (Europe/Copenhagen); wind from SW, 4 m/s, gusts 7 m/s`."""
    day = plan.outing.day
    zone = plain(str(day.timezone))
    return f"{first.moment(day.start.astimezone(day.timezone))} ({zone}); {first.air(day.weather)}"


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
    told += _last_take_offs(plan, outing.day.timezone)
    return (head, *(line for _, line in sorted(told, key=lambda t: t[0])))


def _last_take_offs(plan: Plan, zone: tzinfo) -> list[tuple[datetime, str]]:
    """Shots that share the minute of their last take-off in one line."""
    found: dict[str, list[timeline.Slot]] = {}
    for slot in plan.timeline:
        if slot.what == "last take-off":
            found.setdefault(f"{slot.start.astimezone(zone):%H:%M}", []).append(slot)
    return [
        (
            min(s.start for s in slots),
            f"{at}  last take-off for {', '.join(map(letter, sorted(s.shot for s in slots)))}",
        )
        for at, slots in found.items()
    ]


def _slot(slot: timeline.Slot, light: timeline.Light, zone: tzinfo) -> str:
    """`19:40 to 19:42  A, take 1, battery 1`."""
    start, end = (f"{at.astimezone(zone):%H:%M}" for at in (slot.start, slot.end))
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


def _shot(shot: ShotPlan, shot_letter: str, marks: tuple[Landmark, ...]) -> ShotWords:
    at, order = pins(shot, shot_letter), ranked(shot)
    site = shot.scene.site
    launch = site.launch is not None
    rows = [_row(f, at.get(f.check, ""), shot.rides, launch=launch) for f in order]
    decides = [r for r in rows if r.verdict == shot.verdict and shot.verdict != Verdict.GO]
    units = {f.check: f.unit for f in shot.findings}
    return ShotWords(
        letter=shot_letter,
        name=plain(shot.scene.shot.name),
        style=plain(shot.scene.shot.style.words()),
        part=f"{shot.ride_from_m:.0f} to {shot.ride_to_m:.0f} m of the ride, "
        f"{shot.duration_s:.0f} s, {_flown(shot.rides)}",
        verdict=shot.verdict,
        why=_why(order, len(decides), site),
        combined=plain(shot.combined),
        cut=first.better_part(shot),
        deciding=tuple(decides),
        rest=tuple(r for r in rows if r not in decides),
        stretches=tuple(stretch(s, units.get(s.binding, "")) for s in shot.stretches),
        calls=tuple(called(c, site=site, how=False) for c in last_calls(shot, marks)),
    )


def called(call: LastCall, *, site: Site | None = None, how: bool = True) -> str:
    """`clearance, thorn-01 at 306 m: Tove calls stop at the latest 5 m before …`; of a `site`,
    things by their names; with `how`, the formula with its numbers."""
    thing = call.thing if site is None else named(site, call.thing)
    thing = f", {thing}" if thing and thing != call.check else ""
    tight = f"{call.check}{thing} at {call.tight_m:.0f} m"
    if call.before_start:
        return plain(f"{tight}: {call.phrase}")
    reckoned = f" ({call.how})" if how else ""
    return plain(
        f"{tight}: {call.who} calls stop at the latest {call.phrase}, "
        f"{call.seconds_before:.1f} s before it{reckoned}"
    )


def reckoned(plan: Plan) -> tuple[str, ...]:
    """Every last call with its formula."""
    return tuple(
        f"{letter(i)}: {called(call, site=plan.outing.site)}"
        for i, shot in enumerate(plan.shots)
        for call in last_calls(shot, plan.marks)
    )


def named(site: Site, thing: str) -> str:
    """What people call the thing of a finding: its name, else its id as it is."""
    names = {p.id: p.name for p in site.places.values()}
    for things in (site.zones, site.people, site.wildlife, site.obstacles.things):
        names |= {one.id: one.name for one in things}
    return plain(names.get(thing) or thing)


def _flown(rides: int) -> str:
    return "undisturbed ride only" if rides == 1 else f"{rides} disturbed rides"


def _proved(rides: int) -> str:
    """What a check proves that no ride breaks: no more than that."""
    if rides == 1:
        return "Only the undisturbed ride was flown: nothing is known of how rides differ."
    return (
        f"Each shot is flown {rides} times in the computer, each ride a little different (pace, "
        f"braking, position, gusts). Where none of {rides} breaks something, fewer than "
        f"{upper_bound(0, rides):.1%} of such rides do, with 95 % confidence; no more is proved."
    )


def _why(order: tuple[Finding, ...], decides: int, site: Site) -> str:
    """`clearance: thorn-01, and 1 more`: what decides, in a few words; "" where all is go."""
    if not decides:
        return ""
    found = order[0]
    thing = named(site, found.thing)
    told = thing if thing not in ("", found.check) and found.unit == "m" else distance(found)
    if found.value is None:
        told = f"{thing} not known".strip()
    more = f", and {decides - 1} more" if decides > 1 else ""
    return f"{found.check}: {told}{more}"


def _row(found: Finding, pin: str, rides: int, *, launch: bool) -> Row:
    broken = ""
    if rides > 1 and found.rides_breaking and found.share_bound is not None:
        broken = f"{found.rides_breaking} of {rides} rides break it"
        if found.rides_breaking < rides:
            broken += f": with 95 % confidence at most {found.share_bound:.1%} of all such rides"
    told = [r for r in found.remarks if r.text not in found.reason]
    limits = [limit.text for limit in found.go_if if limit.text not in found.advice]
    return Row(
        pin=pin,
        check=found.check,
        title=found.of.titled,
        verdict=found.verdict,
        distance=distance(found),
        where=whereabouts(found, launch=launch),
        reason=plain(found.reason),
        advice=plain(found.advice),
        rides=broken,
        seen=tuple(plain(t) for t in (*(_shouted(r) for r in told if _is_seen(r)), *limits)),
        notes=tuple(Note(plain(r.text), plain(r.source), r.kind) for r in told if not _is_seen(r)),
    )


def _is_seen(remark: Remark) -> bool:
    return remark.caution or remark.kind == "also"


def _shouted(remark: Remark) -> str:
    return f"{remark.text}; {remark.advice}" if remark.advice else remark.text
