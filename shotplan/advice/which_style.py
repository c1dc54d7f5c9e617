"""Which follow style is safe on which stretch: candidates ranked, a route found, the route proved.

A search ranks, the plan proves: the candidates are compared by the undisturbed ride and by some
tens of disturbed ones; what the route over them proposes is then flown with all rides the site
asks for and judged by every check, and only that gives the word.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace
from functools import partial
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from shotplan import plan as planning
from shotplan.advice import candidates as offered
from shotplan.advice.ranking import ENOUGH_M, ROWS, Field, Ranked, field_of, ranked, shot_at
from shotplan.advice.style_table import Candidate, Common, Easier, Leg, StyleTable
from shotplan.advice.wanted import Wanted
from shotplan.checks import CHECKS
from shotplan.flying import stage_scene
from shotplan.judging.judged import Finding, ShotPlan
from shotplan.judging.verdicts import joined
from shotplan.kernels.rides import route as ways
from shotplan.kernels.rides import shares
from shotplan.kernels.rides.route import GAP
from shotplan.kernels.rides.runs import runs
from shotplan.model.arrays import Array, Bools
from shotplan.model.flight import Style
from shotplan.model.shot import Shot
from shotplan.model.verdict import Verdict, worst
from shotplan.outing import Outing
from shotplan.side_by_side import each

HARMS = tuple(c for c in CHECKS if c.nature.hits != "nothing")  # what it may hit, in metres
ROUNDS = 6  # a route that does not hold is sought anew so many times
TWICE = 2.0  # an easier version keeps so many times the margin
RUNG = 1.3  # and the easier of the two so many times the margin of the other
LEAST_MARGIN_M = 0.5  # of a margin to double: twice nearly nothing is nearly nothing


def which_style(
    outing: Outing, wanted: Wanted = Wanted(), progress: Callable[[str], None] = lambda _: None
) -> StyleTable:
    """Rank the candidates along the whole ride, propose a route, fly it with all rides."""
    styles = offered.candidates(outing, wanted)
    field = field_of(outing, wanted)
    found = ranked_all(field, styles, progress)
    progress("the route")
    made = tuple(Candidate(s, s.label(), s.group()) for s in styles)
    table = Ranked(*(np.stack(rows) for rows in zip(*found, strict=True)))
    proved = _proved_route(field, made, table, progress)
    legs = [_leg(field, leg, table, progress) for leg in proved.legs]
    rides = field.wanted.rides
    broken = _broken_along(proved.legs)
    count, flown = int(broken.sum()), len(broken)
    return StyleTable(
        outing=outing,
        candidates=made,
        edges_m=field.edges_m,
        edges_s=outing.ride.when_s(field.edges_m),
        verdict=table.verdict,
        margin_m=table.margin_m,
        enough_m=ENOUGH_M,
        binding=table.binding,
        thing=table.thing,
        share=table.broken[:, :, 1 if rides > 1 else 0 :].mean(axis=2),
        cost=table.cost,
        rides=rides,
        legs=tuple(legs),
        gaps=tuple(_gaps(field.edges_m, proved.choice)),
        common=tuple(_common(proved.legs)),
        broken=count,
        flown=flown,
        bound=shares.upper_bound(count, flown) if flown > 1 else 1.0,
        word=_word(proved.legs, flown),
        notes=proved.notes,
    )


def ranked_all(
    field: Field, styles: tuple[Style, ...], progress: Callable[[str], None] = lambda _: None
) -> list[Ranked]:
    """Every candidate in order, blocks of them on all cores."""
    found: list[Ranked] = []
    size = max(1, ROWS // field.wanted.rides)
    blocks = [styles[i : i + size] for i in range(0, len(styles), size)]
    for block, answers in zip(blocks, each(partial(ranked, field), blocks), strict=True):
        progress(f"{block[0].label()} and more")
        found += answers
    return found


def blocks_of(outing: Outing, wanted: Wanted) -> int:
    """How many steps `which_style` tells of while it ranks."""
    count = len(offered.candidates(outing, wanted))
    return -(-count // max(1, ROWS // wanted.rides))


class _Flown(NamedTuple):
    """One part of the route, from one stretch to another (not included), flown with all rides."""

    low: int
    high: int
    candidate: int
    plan: ShotPlan


class _Proved(NamedTuple):
    """A route `choice (s,)` (-1 a gap) whose legs were flown."""

    choice: NDArray[np.intp]
    legs: tuple[_Flown, ...]
    notes: tuple[str, ...]


def _proved_route(
    field: Field,
    made: tuple[Candidate, ...],
    table: Ranked,
    progress: Callable[[str], None],
) -> _Proved:
    """The cheapest route whose legs are nowhere refused when flown with all rides.

    A leg that is refused somewhere may not be flown there, and the route is sought anew.
    """
    allowed = table.verdict != int(Verdict.NO_GO)
    known: dict[tuple[int, int, int], _Flown] = {}
    for _ in range(ROUNDS):
        choice = _route(field, made, table, allowed)
        legs, refused = [], False
        for key in _legs(choice):
            low, high, candidate = key
            if key not in known:
                progress(f"flying {made[candidate].label}")
                known[key] = _Flown(*key, _flown(field, made[candidate].style, low, high))
            legs.append(known[key])
            bad = _refused(known[key].plan, field.edges_m[low : high + 1])
            allowed[candidate, low:high] &= ~bad
            refused |= bool(bad.any())
        if not refused:
            return _Proved(choice, tuple(legs), ())
    note = f"after {ROUNDS} routes one part is still refused: see its word"
    return _Proved(choice, tuple(legs), (note,))


def _route(
    field: Field, made: tuple[Candidate, ...], table: Ranked, allowed: NDArray[np.bool_]
) -> NDArray[np.intp]:
    wanted = field.wanted
    cost = table.cost + wanted.caution_weight * (table.verdict == int(Verdict.CAUTION))
    cost += wanted.unknown_weight * (table.verdict == int(Verdict.UNKNOWN))
    groups = np.array([c.group for c in made])
    change = np.where(
        groups[:, None] == groups, wanted.change_numbers_weight, wanted.change_style_weight
    )
    np.fill_diagonal(change, 0.0)
    least = min(max(1, round(wanted.least_run_m / wanted.stretch_m)), cost.shape[1])
    found = ways.route(
        cost, allowed, change_cost_pair=change, gap_cost=wanted.gap_weight, least_stretches=least
    )
    return np.asarray(found.choice)


def _legs(choice: NDArray[np.intp]) -> Iterator[tuple[int, int, int]]:
    """`(first stretch, one past the last, candidate)` of each run that is not a gap."""
    return ((low, high, int(choice[low])) for low, high in runs(choice) if choice[low] != GAP)


def _gaps(edges_m: Array, choice: NDArray[np.intp]) -> Iterator[tuple[float, float]]:
    here = ((low, high) for low, high in runs(choice) if choice[low] == GAP)
    return ((float(edges_m[low]), float(edges_m[high])) for low, high in here)


def _flown(field: Field, style: Style, low: int, high: int) -> ShotPlan:
    """A leg as a shot of its own, judged by every check over all rides."""
    outing, (from_m, to_m) = field.outing, field.edges_m[[low, high]].tolist()
    style = style.later(float(outing.ride.when_s(from_m)))  # where it had got to as it was ranked
    name = f"{style.label()}, {from_m:.0f} to {to_m:.0f} m"
    own = shot_at(outing, 0.5 * (from_m + to_m))
    shot = replace(own, name=name, style=style, from_m=from_m, to_m=to_m, takes=field.shot.takes)
    rides = outing.disturbance.rides
    return planning.judge(stage_scene(outing, shot, outing.day.start, rides))


def _refused(plan: ShotPlan, edges_m: Array) -> NDArray[np.bool_]:
    """`(s,)` stretches where a check that depends on the style refuses; all of them where it
    refuses only as a whole."""
    no = int(Verdict.NO_GO)
    bad = np.zeros(len(edges_m) - 1, dtype=bool)
    for found in plan.findings:
        if not found.of.nature.by_style or found.verdict != Verdict.NO_GO:
            continue
        metre = np.floor(plan.ride_from_m) + np.flatnonzero(found.metre_codes == no)
        here = np.searchsorted(edges_m, metre, side="right") - 1
        here = here[(here >= 0) & (here < len(bad))]
        bad[here if len(here) else slice(None)] = True
    return bad


def _common(legs: tuple[_Flown, ...]) -> Iterator[Common]:
    """What refuses, or is not known, whatever the style: the worst of the legs, each check once."""
    for found in zip(*(leg.plan.findings for leg in legs), strict=True):
        told = max(found, key=lambda f: f.verdict)
        if told.verdict >= Verdict.UNKNOWN and not told.of.nature.by_style:
            yield Common(told.check, told.verdict, told.reason, told.advice)


def _broken_along(legs: tuple[_Flown, ...]) -> Bools:
    """`(r,)` disturbed rides that break what may be hit anywhere along the route: a union, not a
    sum."""
    flown = [f for leg in legs for f in leg.plan.findings if _of_rides(f)]
    broken = [part.broken[1:] for f in flown for part in f.parts if part.family == "harm"]
    return np.asarray(np.any(broken, axis=0)) if broken else np.zeros(1, dtype=bool)


def _of_rides(found: Finding) -> bool:
    return found.family == "harm" and len(found.least) > 1


def _word(legs: tuple[_Flown, ...], flown: int) -> Verdict:
    """The worst of the legs; and where the rides broken along all of them are too many together.

    Each check's own share counts, over the union of the legs.
    """
    words = [leg.plan.verdict for leg in legs] or [Verdict.NO_GO]
    for found in filter(_of_rides, legs[0].plan.findings if flown > 1 else ()):
        same = zip(*(leg.plan.finding(found.check).parts for leg in legs), strict=False)
        words += [joined(parts, axis=1).verdict for parts in same]
    return worst(words)


def _leg(field: Field, leg: _Flown, table: Ranked, progress: Callable[[str], None]) -> Leg:
    """A part of the route with its ladder."""
    shot = leg.plan.scene.shot
    progress(f"easier than {shot.style.label()}")
    margin, thing = _harm_margin(leg.plan.findings)
    return Leg(
        candidate=leg.candidate,
        from_m=shot.from_m,
        to_m=shot.to_m,
        plan=leg.plan,
        margin_m=margin,
        thing=thing,
        easier=tuple(_ladder(field, shot, max(margin, LEAST_MARGIN_M))),
        cost=float(table.cost[leg.candidate, leg.low : leg.high].mean()),
    )


def _ladder(field: Field, leg: Shot, margin_m: float) -> list[Easier]:
    """Up to two versions with at least twice the margin, the second clearly more, none refused;
    the easiest first."""
    found: list[Easier] = []
    wanted_m = TWICE * margin_m
    for step in range(1, field.wanted.ladder_steps + 1):
        tried = (_easier(field, other, leg) for other in leg.style.easier(step))
        good = next(
            (e for e in tried if e.margin_m >= wanted_m and e.verdict != Verdict.NO_GO), None
        )
        if good is not None:
            found.append(good)
            wanted_m = RUNG * good.margin_m
        if len(found) == 2:
            break
    return found[::-1]


def _easier(field: Field, style: Style, leg: Shot) -> Easier:
    """Another style over a leg, by the undisturbed ride and what it may hit."""
    shot = replace(field.shot, style=style, from_m=leg.from_m, to_m=leg.to_m)
    once = stage_scene(field.outing, shot, field.outing.day.start)
    judged = planning.findings(once, HARMS)
    margin, thing = _harm_margin(judged)
    word = worst(f.verdict for f in judged)
    return Easier(style, style.label(), margin, thing, word)


def _harm_margin(findings: tuple[Finding, ...]) -> tuple[float, str]:
    """Least margin in metres of the undisturbed ride to what it may hit, and to what; -inf where
    that is not known."""
    least, thing = np.inf, ""
    for found in findings:
        if found.of.nature.hits != "nothing" and found.family == "harm" and found.unit == "m":
            margins = np.where(np.isnan(found.margins), -np.inf, found.margins)
            at = int(np.argmin(margins))
            if margins[at] < least:
                least, thing = float(margins[at]), str(found.things[at])
    return least, thing
