"""Which follow style is safe on which stretch: candidates ranked, a route found, the route proved.

A search ranks, the plan proves: the candidates are compared by the undisturbed ride and by some
tens of disturbed ones; what the route over them proposes is then flown with all rides the site
asks for and judged by every check, and only that gives the word.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from shotplan import plan as planning
from shotplan.advice import candidates as offered
from shotplan.advice.ranking import ENOUGH_M, ROWS, Field, Ranked, field_of, ranked, shot_at
from shotplan.advice.side_by_side import each
from shotplan.advice.style_table import Candidate, Common, Easier, Leg, StyleTable
from shotplan.advice.wanted import Wanted
from shotplan.flying import stage_scene
from shotplan.judging.judge import over_rides
from shotplan.judging.judged import Finding, ShotPlan
from shotplan.kernels.rides import route as ways
from shotplan.kernels.rides import shares
from shotplan.kernels.rides.route import GAP
from shotplan.kernels.rides.runs import runs
from shotplan.model.arrays import Array
from shotplan.model.flight import Style
from shotplan.model.verdict import Verdict, worst
from shotplan.outing import Outing
from shotplan.styles.orbit import Orbit

ALIKE = ("wind", "battery", "light", "glare", "crew", "link", "return", "framing", "pace")
"""Checks whose answer hardly depends on the style: they do not send the search another way."""
HARMS = ("clearance", "ground", "rider-gap", "people")  # what it may hit, in metres
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
    made = tuple(Candidate(s, offered.label(s), offered.group(s)) for s in styles)
    table = _Table(
        verdict=np.stack([f.verdict for f in found]),
        margin_m=np.stack([f.margin_m for f in found]),
        cost=np.stack([f.cost for f in found]),
    )
    proved = _proved_route(field, made, table, progress)
    legs = [_leg(field, leg, table, progress) for leg in proved.legs]
    rides = field.many.ride.rides
    broken, flown = _broken_along(proved.legs)
    return StyleTable(
        outing=outing,
        candidates=made,
        edges_m=field.edges_m,
        edges_s=outing.ride.when_s(field.edges_m),
        verdict=table.verdict,
        margin_m=table.margin_m,
        enough_m=ENOUGH_M,
        binding=np.stack([f.binding for f in found]),
        thing=np.stack([f.thing for f in found]),
        share=np.stack([f.broken.mean(axis=1) for f in found]),
        cost=table.cost,
        rides=rides,
        legs=tuple(legs),
        gaps=tuple(_gaps(field.edges_m, proved.choice)),
        common=tuple(_common(proved.legs)),
        broken=int(broken.sum()),
        flown=flown,
        bound=shares.upper_bound(int(broken.sum()), flown) if flown > 1 else 1.0,
        word=_word(proved, flown),
        notes=proved.notes,
    )


def ranked_all(
    field: Field, styles: tuple[Style, ...], progress: Callable[[str], None] = lambda _: None
) -> list[Ranked]:
    """Every candidate in order, blocks of them on all cores."""
    found: list[Ranked] = []
    size = max(1, ROWS // field.many.ride.rides)
    blocks = [styles[i : i + size] for i in range(0, len(styles), size)]
    for block, answers in zip(blocks, each(lambda b: ranked(field, b), blocks), strict=True):
        progress(f"{offered.label(block[0])} and more")
        found += answers
    return found


def blocks_of(outing: Outing, wanted: Wanted) -> int:
    """How many steps `which_style` tells of while it ranks."""
    count = len(offered.candidates(outing, wanted))
    return -(-count // max(1, ROWS // wanted.rides))


class _Table(NamedTuple):
    """`(c, s)` what the route is sought by; `StyleTable`."""

    verdict: NDArray[np.int8]
    margin_m: Array
    cost: Array


class _Flown(NamedTuple):
    """One part of the route, flown with all rides."""

    candidate: int
    from_m: float
    to_m: float
    plan: ShotPlan


class _Proved(NamedTuple):
    """A route `choice (s,)` (-1 a gap) whose legs were flown."""

    choice: NDArray[np.intp]
    legs: tuple[_Flown, ...]
    notes: tuple[str, ...]


def _proved_route(
    field: Field,
    made: tuple[Candidate, ...],
    table: _Table,
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
        for low, high, candidate in _legs(choice):
            key = (low, high, candidate)
            if key not in known:
                progress(f"flying {made[candidate].label}")
                known[key] = _flown(field, made[candidate].style, candidate, low, high)
            legs.append(known[key])
            bad = _refused(known[key].plan, field.edges_m[low : high + 1])
            allowed[candidate, low:high] &= ~bad
            refused |= bool(bad.any())
        if not refused:
            return _Proved(choice, tuple(legs), ())
    note = f"after {ROUNDS} routes one part is still refused: see its word"
    return _Proved(choice, tuple(legs), (note,))


def _route(
    field: Field, made: tuple[Candidate, ...], table: _Table, allowed: NDArray[np.bool_]
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


def _flown(field: Field, style: Style, candidate: int, low: int, high: int) -> _Flown:
    """A leg as a shot of its own, judged by every check over all rides."""
    from_m, to_m = float(field.edges_m[low]), float(field.edges_m[high])
    if isinstance(style, Orbit):  # as it was ranked: where its circle had got to by then
        style = style.later(float(field.outing.ride.when_s(field.edges_m[low])))
    return _Flown(candidate, from_m, to_m, _judged(field, style, from_m, to_m))


def _judged(field: Field, style: Style, from_m: float, to_m: float) -> ShotPlan:
    outing = field.outing
    name = f"{offered.label(style)}, {from_m:.0f} to {to_m:.0f} m"
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
        if found.check in ALIKE or found.verdict != Verdict.NO_GO:
            continue
        metre = np.floor(plan.ride_from_m) + np.flatnonzero(found.metre_codes == no)
        here = np.searchsorted(edges_m, metre, side="right") - 1
        here = here[(here >= 0) & (here < len(bad))]
        bad[here if len(here) else slice(None)] = True
    return bad


def _common(legs: tuple[_Flown, ...]) -> Iterator[Common]:
    """What refuses, or is not known, whatever the style: the worst of the legs, each check once."""
    for check in ALIKE:
        found = [leg.plan.finding(check) for leg in legs]
        bad = [f for f in found if f.verdict >= Verdict.UNKNOWN]
        if bad:
            told = max(bad, key=lambda f: f.verdict)
            yield Common(check, told.verdict, told.reason, told.advice)


def _broken_along(legs: tuple[_Flown, ...]) -> tuple[NDArray[np.bool_], int]:
    """`(r,)` rides that break what may be hit anywhere along the route: a union, not a sum."""
    flown = [f for leg in legs for f in leg.plan.findings if _of_rides(f)]
    parts = [part for f in flown for part in f.parts if part.family == "harm"]
    if not parts:
        return np.zeros(1, dtype=bool), 1
    broken = np.stack([np.asarray((part.least < 0.0).any(axis=1)) for part in parts])
    return np.asarray(broken.any(axis=0)), broken.shape[1]


def _of_rides(found: Finding) -> bool:
    return found.family == "harm" and len(found.least) > 1


def _word(proved: _Proved, flown: int) -> Verdict:
    """The worst of the legs; and where the rides broken along all of them are too many together.

    Each check's own share counts, over the union of the legs.
    """
    if not proved.legs:
        return Verdict.NO_GO
    word = worst(leg.plan.verdict for leg in proved.legs)
    if flown < 2:
        return word
    for found in proved.legs[0].plan.findings:
        same = [leg.plan.finding(found.check) for leg in proved.legs]
        for index, part in enumerate(found.parts if _of_rides(found) else ()):
            least = np.concatenate([f.parts[index].least for f in same], axis=1)
            soft = np.concatenate([f.parts[index].least_soft for f in same], axis=1)
            broken, unknown, softly = (
                np.asarray(flags.any(axis=1))
                for flags in (least < 0.0, np.isnan(least), soft < 0.0)
            )
            code = over_rides(part.family, broken, unknown & ~broken, softly, part.share)
            word = worst((word, Verdict(int(code))))
    return word


def _leg(field: Field, leg: _Flown, table: _Table, progress: Callable[[str], None]) -> Leg:
    """A part of the route with its ladder."""
    style = leg.plan.scene.shot.style
    progress(f"easier than {offered.label(style)}")
    margin, thing = _harm_margin(leg.plan.findings)
    inside = slice(
        int(np.searchsorted(field.edges_m, leg.from_m - 1e-6)),
        int(np.searchsorted(field.edges_m, leg.to_m - 1e-6)),
    )
    return Leg(
        candidate=leg.candidate,
        from_m=leg.from_m,
        to_m=leg.to_m,
        plan=leg.plan,
        margin_m=margin,
        thing=thing,
        easier=tuple(_ladder(field, style, leg, max(margin, LEAST_MARGIN_M))),
        cost=float(table.cost[leg.candidate, inside].mean()),
    )


def _ladder(field: Field, style: Style, leg: _Flown, margin_m: float) -> list[Easier]:
    """Up to two versions with at least twice the margin, the second clearly more, none refused;
    the easiest first."""
    found: list[Easier] = []
    wanted_m = TWICE * margin_m
    for step in range(1, field.wanted.ladder_steps + 1):
        tried = (_easier(field, other, leg) for other in offered.easier(style, step))
        good = next(
            (e for e in tried if e.margin_m >= wanted_m and e.verdict != Verdict.NO_GO), None
        )
        if good is not None:
            found.append(good)
            wanted_m = RUNG * good.margin_m
        if len(found) == 2:
            break
    return found[::-1]


def _easier(field: Field, style: Style, leg: _Flown) -> Easier:
    """Another style over a leg, by the undisturbed ride and what it may hit."""
    shot = replace(field.shot, style=style, from_m=leg.from_m, to_m=leg.to_m)
    once = stage_scene(field.outing, shot, field.outing.day.start)
    judged = planning.findings(once, HARMS)
    margin, thing = _harm_margin(judged)
    word = worst(f.verdict for f in judged)
    return Easier(style, offered.label(style), margin, thing, word)


def _harm_margin(findings: tuple[Finding, ...]) -> tuple[float, str]:
    """Least margin in metres of the undisturbed ride to what it may hit, and to what; -inf where
    that is not known."""
    least, thing = np.inf, ""
    for found in findings:
        if found.check in HARMS and found.family == "harm" and found.unit == "m":
            margins = np.where(np.isnan(found.margins), -np.inf, found.margins)
            at = int(np.argmin(margins))
            if margins[at] < least:
                least, thing = float(margins[at]), str(found.things[at])
    return least, thing
