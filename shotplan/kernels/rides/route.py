"""The cheapest way along a ride cut into stretches: which candidate films which of them.

Dynamic programming over stretches (Bellman 1957; as a path through states, Viterbi 1967).
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Bools = NDArray[np.bool_]
Wholes = NDArray[np.int64]

GAP = -1
FAR = 2**61  # no way there; the dearest way there is stays below 2**60, so sums of two fit


class Route(NamedTuple):
    """`choice (s,)` the candidate on each stretch, `GAP` where none; `cost` of all of it."""

    choice: NDArray[np.intp]
    cost: float


class _Keys(NamedTuple):
    """Costs as whole numbers, so that ties are ties: of stretches `stay (c, s)` (`FAR` where not
    allowed), of changes `change (to, from)`, of a stretch of `gap`; each change counts one
    more, which is less than any difference of cost."""

    stay: Wholes
    change: Wholes
    gap: int


class _Ways(NamedTuple):
    """The cheapest ways to each end. State c is the gap. `last` the state after all stretches;
    `stays (c, s)` whether the run goes on there, else it started `least` stretches before;
    `source (c, s)` the state before a run that starts there; `before_gap (s,)`."""

    last: int
    stays: Bools
    source: NDArray[np.intp]
    before_gap: NDArray[np.intp]


def route(
    cost: Array,
    allowed: Bools,
    *,
    gap_cost: float,
    change_cost: float = 0.0,
    change_cost_pair: Array | None = None,
    least_stretches: int = 1,
) -> Route:
    """The cheapest choice of one candidate, or none, for every stretch.

    `cost (c, s)`, not negative, is not read where `allowed (c, s)` is False: no route leads there.
    A change costs `change_cost`, or `change_cost_pair[from, to] (c, c)`; one into a gap or out of
    it costs nothing beyond the gap, `gap_cost` a stretch. Give a gap that costs more than any
    stretch and the two changes around it, and it is used only where nothing else can be. A
    candidate stays for at least `least_stretches`, at the ends of the ride too; where that cannot
    be kept there is a gap. Of routes that cost the same, one with the fewest changes; of those,
    seen from the end of the ride, the lowest candidate in the longest run. Costs are told apart in
    steps of 2**-40 of the largest one, gap and changes included (at 400 stretches; coarser by the
    square of their number).
    """
    count = cost.shape[0]
    pair = change_cost_pair
    if pair is None:
        pair = np.full((count, count), float(change_cost))
    _check(cost, allowed, pair, gap_cost, least_stretches)
    if not cost.shape[1]:
        return Route(np.empty(0, dtype=np.intp), 0.0)
    ways = _forward(_keys(cost, allowed, pair, gap_cost), least_stretches)
    choice = _back(ways, least_stretches)
    return Route(choice, _cost_of(choice, cost, pair, gap_cost))


def _check(cost: Array, allowed: Bools, pair: Array, gap_cost: float, least: int) -> None:
    count = cost.shape[0]
    if allowed.shape != cost.shape or pair.shape != (count, count):
        raise ValueError(
            f"wanted cost and allowed (c, s), change_cost_pair (c, c); got {cost.shape}, "
            f"{allowed.shape}, {pair.shape}"
        )
    for name, values in (("cost", cost[allowed]), ("change", pair), ("gap", np.array(gap_cost))):
        if not (np.isfinite(values) & (values >= 0.0)).all():
            raise ValueError(f"wanted finite costs of 0 or more, got another in {name}")
    if least < 1:
        raise ValueError(f"wanted least_stretches of 1 or more, got {least}")


def _keys(cost: Array, allowed: Bools, pair: Array, gap_cost: float) -> _Keys:
    count = cost.shape[1]
    paid = np.where(allowed, cost, 0.0)
    largest = max(paid.max(initial=0.0), pair.max(initial=0.0), gap_cost) or 1.0
    more = count + 1  # than there can be changes
    finest = 2.0 ** (59 - (2 * count * more).bit_length()) / largest

    def whole(values: Array) -> Wholes:
        return np.asarray(np.rint(values * finest).astype(np.int64) * more)

    change = whole(pair.T) + 1
    np.fill_diagonal(change, FAR)
    return _Keys(np.where(allowed, whole(paid), FAR), change, int(whole(np.array(gap_cost))))


def _forward(keys: _Keys, least: int) -> _Ways:
    count, stretches = keys.stay.shape
    gap = count
    whole_runs = _runs(keys.stay, least)
    done = np.full(count + 1, FAR, dtype=np.int64)  # cheapest so far, by the state it ends in
    done[gap] = 0
    enter = np.zeros((count, stretches), dtype=np.int64)
    source = np.full((count, stretches), gap)
    stays = np.zeros((count, stretches), dtype=bool)
    before_gap = np.full(stretches, gap)
    for s in range(stretches):
        if s and count:
            changed = done[:gap] + keys.change
            source[:, s] = changed.argmin(axis=1)
            enter[:, s] = changed[np.arange(count), source[:, s]]
            source[enter[:, s] > done[gap] + 1, s] = gap
            enter[:, s] = np.minimum(enter[:, s], done[gap] + 1)
        ended = done + (np.arange(count + 1) != gap)
        before_gap[s] = ended.argmin()
        stay, fresh = done[:gap] + keys.stay[:, s], np.full(count, FAR)
        if s + 1 >= least:
            fresh = enter[:, s + 1 - least] + whole_runs[:, s + 1 - least]
        stays[:, s] = stay <= fresh
        done[:gap] = np.minimum(np.minimum(stay, fresh), FAR)
        done[gap] = ended[before_gap[s]] + keys.gap
    return _Ways(int(done.argmin()), stays, source, before_gap)


def _runs(stay: Wholes, least: int) -> Wholes:
    """`(c, s + 1 - least)` what the shortest run costs that starts at each stretch."""
    count, stretches = stay.shape
    if least > stretches:
        return np.empty((count, 0), dtype=np.int64)
    windows = np.lib.stride_tricks.sliding_window_view(stay, least, axis=1)
    barred = (windows == FAR).any(axis=2)
    paid = np.lib.stride_tricks.sliding_window_view(np.where(stay == FAR, 0, stay), least, axis=1)
    return np.asarray(np.where(barred, FAR, paid.sum(axis=2)))


def _back(ways: _Ways, least: int) -> NDArray[np.intp]:
    gap, stretches = ways.stays.shape
    choice = np.full(stretches, GAP)
    state, end = ways.last, stretches
    while end:
        start = end - 1
        if state == gap:
            state = int(ways.before_gap[start])
        elif ways.stays[state, start]:
            choice[start] = state
        else:
            start = end - least
            choice[start:end] = state
            state = int(ways.source[state, start])
        end = start
    return choice


def _cost_of(choice: NDArray[np.intp], cost: Array, pair: Array, gap_cost: float) -> float:
    flown = np.flatnonzero(choice != GAP)
    before, after = choice[:-1], choice[1:]
    changes = (before != GAP) & (after != GAP) & (before != after)
    return float(
        cost[choice[flown], flown].sum()
        + pair[before[changes], after[changes]].sum()
        + gap_cost * (len(choice) - len(flown))
    )
