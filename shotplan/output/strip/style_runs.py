"""A style table in runs: neighbouring stretches of one word told as one."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from shotplan.advice.style_table import StyleTable
from shotplan.kernels.rides import runs
from shotplan.model.verdict import Verdict

Indices = NDArray[np.intp]
PASSES = (Verdict.GO, Verdict.CAUTION)


class Run(NamedTuple):
    """Stretches `first` to `past` (one behind the last) of one word, flown as `candidate`.
    `binding` the check that decides, `things` what is nearest (each once, in the ride's order);
    `margin_m` the least margin (NaN not known), `share` the greatest share of rides that break
    anything on a stretch of it."""

    first: int
    past: int
    verdict: Verdict
    candidate: int
    binding: str
    things: tuple[str, ...]
    margin_m: float
    share: float


def ordered_groups(table: StyleTable) -> tuple[str, ...]:
    """Style and side, best first: by the metres that are go, then caution, then unknown, then by
    the picture."""

    def key(group: str) -> tuple[float, ...]:
        best, every = table.best_of(group), np.arange(len(table.edges_m) - 1)
        codes, long_m = table.verdict[best, every], np.diff(table.edges_m)
        metres = [float(long_m[codes == int(v)].sum()) for v in Verdict if v != Verdict.NO_GO]
        return (*(-m for m in metres), float(table.cost[best, every].mean()))

    return tuple(sorted(table.groups(), key=key))


def of_group(table: StyleTable, group: str) -> tuple[Run, ...]:
    """Runs of a group's best word; where it passes, one candidate keeps that word all along."""
    own = np.array([i for i, c in enumerate(table.candidates) if c.group == group])
    best = table.best_of(group)
    found, first = [], 0
    while first < len(best):
        past, able = _extent(table, own, best, first)
        verdict = Verdict(int(table.verdict[best[first], first]))
        part = slice(first, past)
        if verdict in PASSES:
            chosen = int(able[np.argmin(table.cost[able, part].mean(axis=1))])
            found.append(_run(table, [chosen] * (past - first), part))
        else:
            found.append(_run(table, best[part].tolist(), part))
        first = past
    return tuple(found)


def of_candidate(table: StyleTable, candidate: int) -> tuple[Run, ...]:
    """Runs of one word and one check that decides."""
    codes, binding = table.verdict[candidate], table.binding[candidate]
    told = [f"{c} {'' if c == Verdict.GO else b}" for c, b in zip(codes, binding, strict=True)]
    same = runs.runs(np.array(told))
    return tuple(_run(table, [candidate] * (b - a), slice(a, b)) for a, b in same)


def _extent(table: StyleTable, own: Indices, best: Indices, first: int) -> tuple[int, Indices]:
    """One past the last stretch of the run that starts at `first`, and who has its word there."""
    code = table.verdict[best[first], first]
    binding = table.binding[best[first], first]
    passes = code <= int(Verdict.CAUTION)
    able = own[table.verdict[own, first] == code]
    past = first + 1
    while past < len(best) and table.verdict[best[past], past] == code:
        still = able[table.verdict[able, past] == code]
        if passes and not len(still):
            break
        if code != int(Verdict.GO) and table.binding[best[past], past] != binding:
            break
        able = still if passes else able
        past += 1
    return past, able


def _run(table: StyleTable, chosen: Sequence[int], part: slice) -> Run:
    """`chosen` candidate on each stretch of `part`."""
    who, every = np.asarray(chosen), np.arange(part.start, part.stop)
    margins = table.margin_m[who, every]
    unknown = bool(np.isnan(margins).any())
    tight = int(np.argmin(np.where(np.isnan(margins), -np.inf, margins)))
    verdict = Verdict(int(table.verdict[who[tight], every[tight]]))
    things = [str(t) for t in table.thing[who, every] if t]
    nearest = str(table.thing[who[tight], every[tight]])
    return Run(
        first=part.start,
        past=part.stop,
        verdict=verdict,
        candidate=int(who[0]),
        binding=str(table.binding[who[tight], every[tight]]),
        things=(nearest,) * bool(nearest)
        if verdict == Verdict.GO
        else tuple(dict.fromkeys(things)),
        margin_m=float("nan") if unknown else float(margins[tight]),
        share=float(table.share[who, every].max()),
    )


def spans(table: StyleTable) -> Iterator[tuple[int, float, float]]:
    """The route in order: `(leg, from, to)`, -1 for a gap."""
    legs = [(i, leg.from_m, leg.to_m) for i, leg in enumerate(table.legs)]
    gaps = [(-1, low, high) for low, high in table.gaps]
    yield from sorted((*legs, *gaps), key=lambda s: (s[1], s[2]))
