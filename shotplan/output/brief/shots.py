"""One shot of the brief: three sentences in landmarks and seconds, its last calls, its limits."""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

import numpy as np

from shotplan.aids.last_call import LastCall, last_calls
from shotplan.judging.judged import Finding, Plan, ShotPlan
from shotplan.model import say
from shotplan.model.verdict import Verdict
from shotplan.output import answer, first, measures
from shotplan.output.brief import wind, wrong
from shotplan.output.brief.rows import Row, Section, on_ride, put, span
from shotplan.output.take_along.pieces import verdict
from shotplan.output.words import letter, named, plain
from shotplan.scene.wind_limits import wind_limits

MOST_AGAINST = 5  # of what is not go, told in the brief; the report has all


class Shot(NamedTuple):
    """`name` with its letter; `word` its verdict; `sentences` what happens."""

    name: str
    word: str
    sentences: tuple[str, ...]
    sections: tuple[Section, ...]


def shot(plan: Plan, index: int) -> Shot:
    """Everything about one shot."""
    one = plan.shots[index]
    return Shot(
        name=f"{letter(index)}  {plain(one.scene.shot.name)}",
        word=verdict(one.verdict),
        sentences=(_runs(plan, one), _flies(one), _tightest(plan, one)),
        sections=(
            *_mind(plan, index),
            Section(
                "Last calls: by here, unless what is ahead is plainly clear",
                tuple(_calls(plan, one, letter(index))),
            ),
            Section("Limits", tuple(_limits(plan, one, index))),
        ),
    )


def _mind(plan: Plan, index: int) -> tuple[Section, ...]:
    """What is not go, if anything; of one shot alone page one has told it."""
    against = wrong.against(plan, index)
    if not against or len(plan.shots) == 1:
        return ()
    refused = plan.shots[index].verdict == Verdict.NO_GO
    title = "Not flown as planned, because" if refused else "Mind"
    return (Section(title, tuple(Row("", line) for line in against[:MOST_AGAINST])),)


def _runs(plan: Plan, one: ShotPlan) -> str:
    takes = one.scene.shot.takes
    often = f", {takes} times" if takes > 1 else ""
    return (
        f"It is filmed from {on_ride(plan, one, one.ride_from_m)} to "
        f"{on_ride(plan, one, one.ride_to_m)}: {one.ride_to_m - one.ride_from_m:.0f} m in "
        f"{one.duration_s:.0f} s{often}."
    )


def _flies(one: ShotPlan) -> str:
    style = one.scene.shot.style
    return f"The aircraft flies {style.flies} ({plain(style.words())})."


def _tightest(plan: Plan, one: ShotPlan) -> str:
    found = _nearest(one)
    if found is None or found.at is None:
        return "Nothing is near it."
    what = found.of.told.name or named(plan.outing.site, found.thing) or "something"
    return (
        f"Tightest {found.at.time_s:.0f} s after it begins, the rider "
        f"{on_ride(plan, one, found.at.ride_m)}: {measures.amount(found.value, 'm')} from {what}, "
        f"{measures.amount(found.limit, 'm')} is wanted."
    )


def _nearest(one: ShotPlan) -> Finding | None:
    """What it may hit, worst first."""
    near = [f for f in one.findings if f.of.nature.hits == "bodies" and f.margin is not None]
    return min(near, key=lambda f: (-int(f.verdict), f.margin or 0.0), default=None)


# -- last calls


def _calls(plan: Plan, one: ShotPlan, name: str) -> Iterator[Row]:
    every = last_calls(one, plan.marks)
    early = [c for c in every if c.first]
    if early:
        looked = "; ".join(f"{_thing(plan, c)}, {on_ride(plan, one, c.tight_m)}" for c in early)
        yield Row("before", f"nobody calls in time for these, so somebody looks first: {looked}")
    for call in (c for c in every if not c.first):
        also = f" (and {len(call.also)} more)" if call.also else ""
        yield Row(
            call.code(name),
            f"{put(call.phrase)}: {plain(call.who)} calls stop; {call.seconds_before:.1f} s on is "
            f"{_thing(plan, call)}{also}",
        )
    if not every:
        yield Row("", "no drawn place is tight")


def _thing(plan: Plan, call: LastCall) -> str:
    return call.of.told.name or named(plan.outing.site, call.thing)


# -- limits


def _limits(plan: Plan, one: ShotPlan, index: int) -> Iterator[Row]:
    scene, rule = one.scene, plan.outing.rules.height
    found = _nearest(one)
    if found is not None and not found.of.told.name:
        name = named(plan.outing.site, found.thing)
        yield Row("nearest", f"{name}, {measures.distance(found, found.own)}")
    shows = span(scene.height_above_launch_m[0])
    ground = span(scene.height_m[0])
    how = "straight down" if rule.measured == "straight-down" else "to the nearest ground"
    display = (
        f"display {shows} (above the launch)"
        if scene.site.launch
        else "display: no launch is drawn"
    )
    yield Row("height", f"{display}; {ground} above the ground; at most {rule.limit_m:.0f} m {how}")
    yield _wind(plan, one)
    seen = one.asked("sight")
    if seen is not None and seen.value is not None:
        yield Row("seen", f"{measures.distance(seen)}, from the eye that counts")
    yield _leaves(plan, index)


def _wind(plan: Plan, one: ShotPlan) -> Row:
    found = wind.sides((wind_limits(one.scene),))
    now, least = wind.today(one.scene, plan), wind.worst_side(found)
    told = [f"not {s.words}" for s in dict.fromkeys(s for s in (now, least) if s)]
    return Row("wind", "; ".join(told))


def _leaves(plan: Plan, index: int) -> Row:
    """Last take-off, and what a take costs."""
    at = answer.last_take_offs(plan).get(index)
    told = [] if at is None else [f"by {say.clock(at)}"]
    power = plan.shots[index].asked("battery")
    if power is not None and power.value is not None:
        told.append(f"{measures.distance(power)} a take")
    blanks = () if told else ("by",)
    return Row("take-off", "; ".join(told), blanks)


def flown(plan: Plan) -> str:
    """`A go, B no-go: not flown as planned`."""
    not_so = " (not flown as planned)"
    told = [
        f"{letter(i)} {s.verdict.word}{not_so if s.verdict == Verdict.NO_GO else ''}"
        for i, s in enumerate(plan.shots)
    ]
    return ", ".join(told)


def sun(one: ShotPlan) -> str:
    """`sun in the WSW, 42° high`, at the first sample."""
    return first.sun(*(float(np.asarray(v).ravel()[0]) for v in one.scene.sun_rad))
