"""What is said of a shot and its findings, as plain data, and what things are called."""

from __future__ import annotations

import unicodedata
from collections.abc import Iterator, Mapping
from typing import Any, NamedTuple

from shotplan.aids.last_call import LastCall, last_calls
from shotplan.judging.judged import Finding, ShotPlan, Stretch
from shotplan.model.site import PeopleArea, Site, Wildlife
from shotplan.model.verdict import Verdict
from shotplan.outing import Outing
from shotplan.output import first
from shotplan.output.measures import amount, at_most, distance, whereabouts
from shotplan.scene.landmarks import Landmark
from shotplan.scene.margin import RemarkKind

_STEERING = {"Cc", "Cf", "Cs", "Zl", "Zp"}
_FAMILIES = ("harm", "rule", "picture")


class Note(NamedTuple):
    """A remark, its source ("" none) and kind."""

    text: str
    source: str
    kind: RemarkKind


class Row(NamedTuple):
    """One finding. `pin` marks it on the map ("" nowhere); `title` the check with its question;
    `distance` value against limit; `where` its place; `advice` what to wait for or to find out,
    `reckoned` what the check reckons would do, which nobody flew; `rides` how many of the disturbed
    rides break it; `seen` remarks that must not be overlooked; `notes` the others."""

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
    reckoned: str = ""


class ShotWords(NamedTuple):
    """One shot. `deciding` rows carry its verdict; `rest` the others, worst first; `why` what
    decides in a few words; `combined` cautions of several kinds; `change` the best change that was
    flown and its word, or what is in the way of all ("" nothing was sought); `calls` by where stop
    must have been called before each tight place."""

    letter: str
    name: str
    style: str
    part: str
    verdict: Verdict
    why: str
    combined: str
    change: str
    deciding: tuple[Row, ...]
    rest: tuple[Row, ...]
    stretches: tuple[str, ...]
    calls: tuple[str, ...] = ()

    @property
    def rows(self) -> tuple[Row, ...]:
        """All rows, what decides first."""
        return self.deciding + self.rest


def plain(text: str) -> str:
    """Text from a file made fit to print: control, format and direction characters and line ends
    become `·`, so that a name can neither colour a terminal nor turn a line around."""
    return "".join("·" if unicodedata.category(c) in _STEERING else c for c in text)


def all_plain(value: Any) -> Any:
    """The same lists and mappings with every text in them plain, keys included."""
    if isinstance(value, str):
        return plain(value)
    if isinstance(value, Mapping):
        return {all_plain(k): all_plain(v) for k, v in value.items()}
    return [all_plain(v) for v in value] if isinstance(value, list | tuple) else value


def made(outing: Outing) -> str:
    """What stands at the foot of every sheet: `Plan 7f3c, for Sat 20 June 2026, 19:40`."""
    return f"Plan {outing.fingerprint}, for {first.begins(outing.day)}"


def letter(index: int) -> str:
    """A, B, ... Z, AA, AB, ...: what a shot is called on the map."""
    head, tail = divmod(index, 26)
    return (letter(head - 1) if head else "") + "ABCDEFGHIJKLMNOPQRSTUVWXYZ"[tail]


def ranked(shot: ShotPlan) -> tuple[Finding, ...]:
    """Its findings, what decides first: the worst word, then harm before rule before picture,
    then the least margin (unknown before known)."""

    def key(found: Finding) -> tuple[int, int, float, str]:
        margin = found.told.margin
        margin = -1e9 if margin is None and found.verdict == Verdict.UNKNOWN else margin
        return (
            -int(found.verdict),
            _FAMILIES.index(found.family),
            float("inf") if margin is None else margin,
            found.check,
        )

    return tuple(sorted(shot.findings, key=key))


def pins(shot: ShotPlan, shot_letter: str) -> dict[str, str]:
    """Check -> pin (`A·1`, `A·2`) of the places worth a look: whatever is not `go`."""
    chosen = [f for f in ranked(shot) if f.told.at is not None and f.verdict != Verdict.GO]
    return {f.check: f"{shot_letter}·{i}" for i, f in enumerate(chosen, start=1)}


def stretch(part: Stretch, unit: str) -> str:
    """`40 to 62 m: go (clearance, 3.1 m to spare)`, the margin in its check's unit."""
    why = plain(part.binding)
    if why and part.margin is not None:
        left = amount(abs(part.margin), unit, 0.0)
        why += f", {left} {'to spare' if part.margin >= 0 else 'short'}"
    tail = f" ({why})" if why else ""
    return f"{part.from_m:.0f} to {part.to_m:.0f} m: {part.verdict.word}{tail}"


def shot_words(shot: ShotPlan, shot_letter: str, marks: tuple[Landmark, ...]) -> ShotWords:
    """Everything said about one shot."""
    at, order = pins(shot, shot_letter), ranked(shot)
    site = shot.scene.site
    launch = site.launch is not None
    takes = shot.scene.shot.takes
    rows = [_row(f, at.get(f.check, ""), shot.rides, takes, launch=launch) for f in order]
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
        change=flown_change(shot),
        deciding=tuple(decides),
        rest=tuple(r for r in rows if r not in decides),
        stretches=tuple(stretch(s, units.get(s.binding, "")) for s in shot.stretches),
        calls=tuple(called(c, shot_letter, site=site, how=False) for c in last_calls(shot, marks)),
    )


def called(call: LastCall, shot_letter: str, *, site: Site | None = None, how: bool = True) -> str:
    """`A!1 clearance, thorn-01 at 306 m: Tove calls stop at the latest 5 m before …`; of a `site`,
    things by their names; with `how`, the formula with its numbers."""
    thing = call.thing if site is None else named(site, call.thing)
    thing = f", {thing}" if thing and thing != call.check else ""
    tight = f"{call.code(shot_letter)} {call.check}{thing} at {call.tight_m:.0f} m"
    if call.before_start:
        return plain(f"{tight}: {call.phrase}")
    reckoned = f" ({call.how})" if how else ""
    late = f"{call.phrase}, {call.seconds_before:.1f} s before it{reckoned}"
    if call.first:
        return plain(f"{tight}: look at it before each take; nobody calls in time, {late}")
    radio = f", by radio ({call.unheard_m:.0f} m)" if call.unheard_m else ""
    return plain(f"{tight}: {call.who} calls stop{radio} at the latest {late}")


def named(site: Site, thing: str) -> str:
    """What people call the thing of a finding: its name, else its id as it is."""
    names = {p.id: p.name for p in site.places.values()}
    for things in (site.zones, site.people, site.wildlife, site.obstacles.things):
        names |= {one.id: one.name for one in things}
    return plain(names.get(thing) or thing)


def season(animals: Wildlife) -> str:
    """When they are there."""
    if not animals.season_from:
        return "all year"
    return plain(f"{animals.season_from} to {animals.season_to}")


def state(people: PeopleArea) -> str:
    """`held by Tove`."""
    held = f" by {plain(people.held_by)}" if people.held_by else ""
    return people.state.replace("-", " ") + held


def to_do(found: Finding) -> str:
    """What to wait for, or to find out where it is not known; "" where it would have to be flown
    otherwise, which is not said unless it was."""
    return plain(found.advice) if found.of.waits or found.verdict == Verdict.UNKNOWN else ""


def flown_change(shot: ShotPlan) -> str:
    """The best change that was flown, or what is in the way of all; "" where nobody looked."""
    if shot.mended is None:
        return ""
    texts = [change.text for change in shot.mended.changes]
    return plain(next(iter(texts), shot.mended.in_the_way))


def _flown(rides: int) -> str:
    return "undisturbed ride only" if rides == 1 else f"{rides} disturbed rides"


def _why(order: tuple[Finding, ...], decides: int, site: Site) -> str:
    """`clearance: thorn-01, and 1 more`: what decides, in a few words; "" where all is go."""
    if not decides:
        return ""
    found = order[0]
    thing = named(site, found.told.thing)
    told = thing if thing not in ("", found.check) and found.told.unit == "m" else distance(found)
    if found.told.value is None and not found.told.short:
        told = f"{thing} not known".strip()
    more = f", and {decides - 1} more" if decides > 1 else ""
    return f"{found.check}: {told}{more}"


def _row(found: Finding, pin: str, rides: int, takes: int, *, launch: bool) -> Row:
    broken = ""
    if rides > 1 and found.rides_breaking and found.share_bound is not None:
        broken = f"{found.rides_breaking} of {rides} rides break it"
        if found.rides_breaking < rides:
            broken += f": with 95 % confidence {at_most(found.share_bound, takes)}"
    told = [r for r in found.remarks if not r.caution and r.text not in found.reason]
    limits = [limit.text for limit in found.go_if if limit.text not in found.advice]
    return Row(
        pin=pin,
        check=found.check,
        title=found.of.titled,
        verdict=found.verdict,
        distance=distance(found),
        where=whereabouts(found, launch=launch),
        reason=plain(found.reason),
        advice=to_do(found),
        rides=broken,
        seen=tuple(plain(t) for t in (*_tightest(found), *_also(found), *limits)),
        notes=tuple(Note(plain(r.text), plain(r.source), r.kind) for r in told),
        reckoned="" if to_do(found) else plain(found.advice),
    )


def _tightest(found: Finding) -> Iterator[str]:
    """What is nearest to the limit itself, where the word rests on something else."""
    if found.told is not found.own and found.value is not None:
        thing = f"{found.thing}, " if found.thing not in ("", found.check) else ""
        yield f"nearest to the limit itself: {thing}{distance(found, found.own)}"


def _also(found: Finding) -> Iterator[str]:
    """What else of it is not go and is not said yet."""
    for one in found.also:
        if one.reason not in found.reason:
            number = "" if one.value is None else f"{distance(found, one)}: "
            yield f"also {one.verdict.word}: {number}{one.reason}; {one.advice}"
