"""One screen of a plan: each shot's word, what decides, where it is good; the day; then the changes
that work and what to open. Everything else is behind `--explain` and in the report."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from typing import NamedTuple

import numpy as np

from shotplan.aids.last_call import last_calls
from shotplan.judging.judged import Finding, Plan, ShotPlan
from shotplan.model import say
from shotplan.model.verdict import Verdict
from shotplan.output import answer, first, stop
from shotplan.output.answers.missing import missing
from shotplan.output.reasons import reason
from shotplan.output.words import letter, named, plain, ranked
from shotplan.scene import sunlight, wind_limits

MOST_REASONS = 2
MOST_MISSING = 3
SHADED = 0.5  # of the points of a shot
POINTS = 24  # of a shot that are asked for the sun


class Line(NamedTuple):
    """`text` after a `label` in the margin (a shot's letter, or what the line is about), and a word
    at the right edge (`leads`: what a change leads to); what does not fit is continued under the
    text, `indent` in."""

    text: str
    label: str = ""
    word: Verdict | None = None
    leads: bool = False
    indent: int = 3
    strong: bool = False


BLANK = Line("")


def screen(plan: Plan, folder: str, files: Sequence[str]) -> tuple[Line, ...]:
    """The lines of a plan of the site in `folder`, of which these `files` are made."""
    return (*answered(plan), *what_next(plan, folder, files))


def answered(plan: Plan) -> tuple[Line, ...]:
    """What is known as soon as it is judged."""
    day, rides = plan.outing.day, plan.outing.disturbance.rides
    site = plain(plan.outing.titled)
    begins = day.start.astimezone(day.timezone)
    when = f"{begins:%a} {begins.day} {begins:%b %Y, %H:%M}"
    flown = f"Each shot flown {rides} times." if rides > 1 else "Flown once: nothing is proved."
    return (
        Line(site, word=plan.verdict, indent=0, strong=True),
        Line(f"{when}. {first.air_short(day.weather)}. {flown}", indent=0),
        *(Line(f"Look first: {plain(doubt)}.", indent=0) for doubt in [plan.outing.doubt] if doubt),
        *(line for i, shot in enumerate(plan.shots) for line in (BLANK, *_shot(shot, i))),
        BLANK,
        *_day(plan),
    )


def what_next(plan: Plan, folder: str, files: Sequence[str]) -> tuple[Line, ...]:
    """What follows from it: the changes that work, what to open, what to ask."""
    mends = tuple(_mends(plan, folder))
    return (*mends, BLANK, *_next(folder, files, plan.outing.fingerprint))


def _shot(shot: ShotPlan, index: int) -> Iterator[Line]:
    yield Line(plain(shot.name), letter(index), shot.verdict, strong=True)
    for text in reasons(shot):
        yield Line(text)
    good = first.good_part(shot)
    if good:
        yield Line(good)


def _mends(plan: Plan, folder: str) -> Iterator[Line]:
    """Of each shot the first change that works, else what is in the way of all that was tried; and
    how to make them."""
    sought = {
        i: s.mended
        for i, s in enumerate(plan)
        if s.mended and (s.mended.changes or s.verdict > Verdict.CAUTION)
    }
    if not sought:
        return
    yield BLANK
    yield Line("What works, each flown as often:", indent=0, strong=True)
    for index, found in sought.items():
        if found.changes:
            best = found.changes[0]
            text = plain(best.text).removesuffix(f": {best.verdict.word}")
            yield Line(text, letter(index), best.verdict, leads=True)
        else:
            yield Line(plain(found.in_the_way), letter(index))
    if any(found.changes for found in sought.values()):
        yield Line(f"shotplan plan {plain(folder)} --write   puts them into site.mended.toml")


def reasons(shot: ShotPlan) -> Iterator[str]:
    """The one or two things that decide, and how many more there are."""
    deciding = [f for f in ranked(shot) if f.verdict == shot.verdict != Verdict.GO]
    if not deciding:
        return
    told = list(dict.fromkeys(_sentence(f, shot) for f in deciding))
    yield from told[: MOST_REASONS - 1]
    if len(told) > MOST_REASONS:
        more = len(told) - MOST_REASONS
        yield f"{told[MOST_REASONS - 1]} And {more} more."
    else:
        yield from told[MOST_REASONS - 1 : MOST_REASONS]


def _sentence(found: Finding, shot: ShotPlan) -> str:
    said = reason(found, shot.scene.site)
    return f"{said[0].upper()}{said[1:]}" + "." * (not said.endswith("?"))


# -- the day


def _day(plan: Plan) -> Iterator[Line]:
    rows = (("light", _light(plan)), ("wind", _wind(plan)), ("people", _people(plan)),
            ("calls", _calls(plan)), ("looked for", _looked(plan)),
            ("not given", _not_given(plan)))  # fmt: skip
    for label, text in rows:
        if text:
            yield Line(text, label, indent=12)


def _light(plan: Plan) -> str:
    """The sun's height, what the hour costs, the last take-off."""
    if not plan.shots:
        return ""
    _, up = plan.shots[0].scene.sun_rad
    degrees = math.degrees(float(up[0]))
    said = f"sun {degrees:.0f}° high" if degrees > 0.0 else "the sun is down"
    shaded = [letter(i) for i, shot in enumerate(plan.shots) if _shaded(shot)]
    if shaded and degrees > 0.0:
        said += f", {_all(shaded, plan)} in the shade"
    latest = answer.last_take_offs(plan).values()
    return said + (f"; last take-off {say.clock(min(latest))}" if latest else "")


def _shaded(shot: ShotPlan) -> bool:
    """Whether the rider is in the shade for most of it."""
    ride = shot.scene.track.ride
    at = np.unique(np.linspace(0, ride.t_s.size - 1, POINTS).astype(int))
    lit = sunlight.direct(shot.scene.site, ride.xyz_m[0, at], shot.scene.toward_sun[at]).lit
    return bool(np.nanmean(np.append(lit == 0.0, np.nan)) > SHADED)


def _wind(plan: Plan) -> str:
    """The wind that stops the flown shots, as on every sheet; and which of them no longer stand
    where the wind turns a little."""
    if not plan.shots:
        return ""
    said = f"stop {stop.stop(plan).wind}"
    turns: dict[str, list[str]] = {}
    for index, shot in enumerate(plan.shots):
        if shot.verdict != Verdict.NO_GO:
            for side in wind_limits.turned(shot.scene):
                turns.setdefault(side.side, []).append(letter(index))
    if not turns:
        return said
    told = "; ".join(f"from {side} {', '.join(them)}" for side, them in turns.items())
    return f"{said}. Should the forecast wind turn, no-go: {told}"


def _people(plan: Plan) -> str:
    site = plan.outing.site
    open_ = [named(site, p.id) for p in site.people if p.state == "may-pass"]
    if not open_:
        return ""
    return f"{' and '.join(open_[:2])} may be used: stop when anybody comes near"


def _calls(plan: Plan) -> str:
    """How many last calls each shot that is flown has, and whose."""
    told = []
    for index, shot in enumerate(plan.shots):
        calls = last_calls(shot, plan.marks) if shot.verdict != Verdict.NO_GO else ()
        calls = tuple(c for c in calls if not c.first)
        if calls:
            who = " and ".join(dict.fromkeys(plain(c.who) for c in calls))
            told.append(f"{letter(index)}: {len(calls)} by {who}")
    return "; ".join(told)


def _looked(plan: Plan) -> str:
    """For what somebody looked, and when."""
    areas = plan.outing.site.surveyed
    if not areas:
        return "nothing: nobody looked"
    kinds = sorted(frozenset.union(*(a.looked_for for a in areas)))
    days = map(say.day, sorted({a.on for a in areas}))
    return ", ".join(kinds or ["nothing"]) + f", on {' and '.join(days)}"


def _not_given(plan: Plan) -> str:
    """What nobody gave that leaves most open."""
    found = [" ".join((m.what, *m.things)).removeprefix("no ") for m in missing(plan.outing)]
    more = len(found) - MOST_MISSING
    rest = f" and {more} more (shotplan survey)" if more > 0 else ""
    return plain(f"{', '.join(found[:MOST_MISSING])}{rest}")


def _all(letters: Sequence[str], plan: Plan) -> str:
    return "all" if len(letters) == len(plan.shots) > 1 else ", ".join(letters)


# -- what to do next

_OPEN = (
    ("map.html", "everything, on the phone too"),
    ("card-*.png", "a shot each for the hill, on the phone"),
)


def _next(folder: str, files: Sequence[str], fingerprint: str) -> Iterator[Line]:
    at = plain(folder)
    told = [(name, what) for name, what in _OPEN if name in files]
    for index, (name, what) in enumerate(told):
        yield Line(f"{name:<12}{what}", "open" * (index == 0), indent=12)
    yield Line(f"shotplan brief {at}   a page for everybody who stands there", "then", indent=12)
    yield Line(f"shotplan plan {at} --explain", "why", indent=12)
    yield Line(f"Plan {fingerprint}. Computed from what the folder says: no permission.", indent=12)
