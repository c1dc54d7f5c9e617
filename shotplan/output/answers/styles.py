"""A style table in words and as plain data; the picture is in `style_strip`."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from typing import Any, NamedTuple

import numpy as np

from shotplan.advice.style_table import Candidate, Leg, StyleTable
from shotplan.checks import CHECKS
from shotplan.model import say
from shotplan.model.verdict import Verdict
from shotplan.output import measures, reasons, words
from shotplan.output.answers import no_way
from shotplan.output.strip import style_runs
from shotplan.output.strip.style_runs import Run
from shotplan.output.words import plain
from shotplan.scene.landmarks import Landmark, landmarks, say_place

NOTES = (
    "go, caution, unknown and no-go are what README.md says they are; none of them says that a "
    "flight is allowed or without danger",
    "the table ranks, it does not prove: only what is recommended was flown with all rides and "
    "asked every check",
    "walk the ride, look for wires, fly the easy version first",
)


class Line(NamedTuple):
    """A label, a word (None: none) and what is told, which may have several lines."""

    label: str
    verdict: Verdict | None
    text: str


class Section(NamedTuple):
    """Lines under a title."""

    title: str
    lines: tuple[Line, ...]


class Said(NamedTuple):
    """The recommended route with its word, then everything else."""

    site: str
    verdict: Verdict
    sections: tuple[Section, ...]


def said(table: StyleTable, *, every: bool = False) -> Said:
    """All of it in the order it is read; with `every`, each candidate in the place of the best of
    its group."""
    marks = landmarks(table.outing.site, table.outing.ride)
    return Said(
        plain(table.outing.titled),
        table.word,
        tuple(s for s in (*_route(table, marks), _common(table), *_table(table, every)) if s.lines),
    )


def _route(table: StyleTable, marks: tuple[Landmark, ...]) -> Iterator[Section]:
    """The legs and gaps in order, then what flying all of them gave; where the whole is no-go,
    first what forbids it, and the way is not recommended but what is left once that has changed."""
    forbids = no_way.forbids(table)
    if forbids:
        rows = (Line(f.of.id, Verdict.NO_GO, f.text) for f in forbids)
        yield Section(no_way.TITLE, tuple(rows))
    if not table.legs:
        return
    lines = []
    for leg, from_m, to_m in style_runs.spans(table):
        if leg < 0:
            lines.append(Line("-", None, _gap(table, marks, from_m, to_m)))
        else:
            one = table.legs[leg]
            word = no_way.else_(one.plan) if forbids else one.plan.verdict
            lines.append(Line(str(leg + 1), word, _leg(table, marks, one)))
    notes = [Line("", None, plain(note)) for note in table.notes]
    if forbids:
        union = Line("all", None, f"but for what stands above: {_union(table)}")
        yield Section(no_way.LEFT, (*lines, union, *notes))
    else:
        yield Section("Recommended", (*lines, Line("all", table.word, _union(table)), *notes))


def _leg(table: StyleTable, marks: tuple[Landmark, ...], leg: Leg) -> str:
    found = words.ranked(leg.plan)[0]
    told = [
        f"{_part(leg.from_m, leg.to_m)}, {_seconds(table, leg.from_m, leg.to_m)}: "
        f"{_called(table.candidates[leg.candidate])}",
        _ends(table, marks, leg.from_m, leg.to_m),
        f"tightest, undisturbed: {_spare(leg.margin_m, leg.thing)}",
    ]
    if found.verdict != Verdict.GO:
        others = sum(f.verdict == found.verdict for f in leg.plan.findings) - 1
        more = f" (and {others} more)" if others else ""
        told.append(f"{found.of.titled} is {found.verdict.word}{more}: {plain(found.reason)}")
    if leg.easier:
        steps = [f"{plain(e.label)} ({_spare(e.margin_m, e.thing)})" for e in leg.easier]
        told.append(f"fly first: {'; then '.join(steps)}")
    else:
        told.append("no easier version with twice the margin was found to fly first")
    return "\n".join(told)


def _gap(table: StyleTable, marks: tuple[Landmark, ...], from_m: float, to_m: float) -> str:
    before = "before it" if from_m > 0.0 else "until then"
    return (
        f"from {from_m:.0f} to {to_m:.0f} m nothing passes: land or hold {before}\n"
        f"{_ends(table, marks, from_m, to_m)}"
    )


def _ends(table: StyleTable, marks: tuple[Landmark, ...], from_m: float, to_m: float) -> str:
    """`from 2 s after the cairn to the end of the ride`."""
    ride = table.outing.ride
    ends = []
    for at in (from_m, to_m):
        if at <= 0.0 or at >= float(table.edges_m[-1]):
            ends.append(f"the {'start' if at <= 0.0 else 'end'} of the ride")
        else:
            speed = float(np.interp(at, ride.along_m[0], ride.speed_m_s[0]))
            ends.append(plain(say_place(marks, at, speed)))
    return f"from {ends[0]}\nto {ends[1]}"


def _union(table: StyleTable) -> str:
    """What flying the whole way proved, and no more."""
    if table.flown <= 1:
        return "only the undisturbed ride was flown: nothing is known of how rides differ"
    most = measures.at_most(table.bound, table.legs[0].plan.scene.shot.takes)
    count = f"{table.broken} of {table.flown} rides break" if table.broken else (
        f"none of {table.flown} rides breaks"
    )  # fmt: skip
    return f"{count} something along the way: {most}, with 95 % confidence"


def _common(table: StyleTable) -> Section:
    lines = []
    for one in table.common:
        if one.verdict == Verdict.NO_GO == table.word:
            continue  # told first
        change = f"\nChange: {plain(one.advice)}" if one.advice else ""
        lines.append(Line(one.check, one.verdict, f"{plain(one.reason)}{change}"))
    return Section("Whatever the style", tuple(lines))


def _table(table: StyleTable, every: bool) -> Iterator[Section]:
    """A section a group, or a candidate, best first."""
    for group in style_runs.ordered_groups(table):
        if not every:
            yield _rows(table, group, style_runs.of_group(table, group), numbered=True)
            continue
        for index, candidate in enumerate(table.candidates):
            if candidate.group == group:
                runs = style_runs.of_candidate(table, index)
                yield _rows(table, candidate.label, runs, numbered=False)


def _rows(table: StyleTable, title: str, runs: Iterable[Run], *, numbered: bool) -> Section:
    return Section(
        plain(title),
        tuple(
            Line(
                _part(float(table.edges_m[r.first]), float(table.edges_m[r.past])),
                r.verdict,
                _run(table, r, numbered),
            )
            for r in runs
        ),
    )


def _run(table: StyleTable, run: Run, numbered: bool) -> str:
    """`12 m, 6 m up; 3.1 m to spare (pine-1)`, `too near: pine-1, the wood and 3 more`."""
    told = []
    if numbered and run.verdict in style_runs.PASSES:
        told.append(plain(table.candidates[run.candidate].style.numbers()))
    if run.verdict == Verdict.GO:
        told.append(_spare(run.margin_m, run.things[0] if run.things else "", table.enough_m))
    else:
        check = next(c for c in CHECKS if c.id == run.binding)
        told.append(reasons.decides(check, run.things, table.outing.site))
    if run.share > 0.0 and run.verdict != Verdict.NO_GO:
        told.append(f"up to {round(run.share * table.rides)} of {table.rides} rides break it")
    return "; ".join(t for t in told if t)


def _spare(margin_m: float, thing: str, enough_m: float = math.inf) -> str:
    """`3.1 m to spare (pine-1)`; a margin is what is left beyond what is kept."""
    if math.isnan(margin_m) or margin_m == -math.inf:
        return "margin not known"
    if margin_m == math.inf:
        return "nothing near"
    beside = f" ({plain(thing)})" if thing else ""
    if margin_m >= enough_m:
        return f"{enough_m:g} m or more to spare{beside}"
    if margin_m < 0.0:
        return f"{say.metres(-margin_m)} short{beside}"
    return f"{say.metres(margin_m)} to spare{beside}"


def _called(candidate: Candidate) -> str:
    return plain(candidate.style.words())


def _part(from_m: float, to_m: float) -> str:
    return f"{from_m:.0f} to {to_m:.0f} m"


def _seconds(table: StyleTable, from_m: float, to_m: float) -> str:
    low, high = np.interp([from_m, to_m], table.edges_m, table.edges_s)
    return f"{low:.0f} to {high:.0f} s"


def data(table: StyleTable) -> dict[str, Any]:
    """The same for machines: everything the table holds, null where not known."""
    return {
        "format": 1,
        "site": table.outing.site.name,
        "verdict": table.word.word,
        "rides_ranked": table.rides,
        "rides_flown": table.flown,
        "rides_breaking": table.broken,
        "share_bound": table.bound if table.flown > 1 else None,
        "enough_m": table.enough_m,
        "edges_m": table.edges_m.tolist(),
        "edges_s": table.edges_s.tolist(),
        "route": [_leg_data(table, leg) for leg in table.legs],
        "gaps": [{"from_m": low, "to_m": high} for low, high in table.gaps],
        "forbids": [f.data for f in no_way.forbids(table)],
        "common": [
            {"check": c.check, "verdict": c.verdict.word, "reason": c.reason, "advice": c.advice}
            for c in table.common
        ],
        "candidates": [_candidate_data(table, i) for i in range(len(table.candidates))],
        "notes": list(table.notes),
    }


def _leg_data(table: StyleTable, leg: Leg) -> dict[str, Any]:
    candidate = table.candidates[leg.candidate]
    return {
        "from_m": leg.from_m,
        "to_m": leg.to_m,
        "candidate": leg.candidate,
        "label": candidate.label,
        "shot": candidate.style.keys(),
        "verdict": leg.plan.verdict.word,
        "margin_m": _known(leg.margin_m),
        "thing": leg.thing,
        "cost": _known(leg.cost),
        "rides": leg.plan.rides,
        "findings": [
            {
                "check": f.check,
                "verdict": f.verdict.word,
                "margin": None if f.margin is None else _known(f.margin),
                "thing": f.thing,
                "rides_breaking": f.rides_breaking,
                "reason": f.reason,
            }
            for f in words.ranked(leg.plan)
        ],
        "fly_first": [
            {
                "label": e.label,
                "shot": e.style.keys(),
                "margin_m": _known(e.margin_m),
                "thing": e.thing,
                "verdict": e.verdict.word,
            }
            for e in leg.easier
        ],
    }


def _candidate_data(table: StyleTable, index: int) -> dict[str, Any]:
    candidate = table.candidates[index]
    return {
        "label": candidate.label,
        "group": candidate.group,
        "shot": candidate.style.keys(),
        "verdict": [Verdict(int(v)).word for v in table.verdict[index]],
        "margin_m": [_known(v) for v in table.margin_m[index]],
        "binding": [str(v) for v in table.binding[index]],
        "thing": [str(v) for v in table.thing[index]],
        "share": [float(v) for v in table.share[index]],
        "cost": [_known(v) for v in table.cost[index]],
    }


def _known(value: float) -> float | None:
    return float(value) if math.isfinite(value) else None
