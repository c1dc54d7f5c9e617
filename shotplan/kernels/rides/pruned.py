"""The least of a distance on many segments that lie near each other, exact only where it is small.

A distance to a fixed set changes by no more than the way moved. Two segments whose starts and
whose ends are at most r apart are at most r apart at every share of the way, so that their least
distances differ by r at most: what holds for one in the middle of a group holds, less the group's
radius, for all of it. Where that does not reach what is enough, the group is cut into smaller ones,
and where that no longer pays each segment is asked itself. Nothing near can be missed.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Index = NDArray[np.intp]
Found = tuple[Array, Array]
Least = Callable[[Array, Array, Array | float], Found]
"""Segments `(k, 3)` to `(k, 3)` and what is enough (each or all): their least distance `(k,)`,
exact below that and at least that elsewhere, and at which share of the way."""
Bound = Callable[[Array, Array, Array | float], Array]
"""The same, only quicker: a bound `(k,)` below their least distance, -inf: not known."""

FIRST_SIZE_M = 3.0  # of the cells that sort segments into groups
SMALLER = 3.0  # times, from one round to the next
FEW = 4.0  # segments to a group: with fewer it is quicker to ask each
MANY = 8.0  # segments to a group for which, where a quick bound fails, the distance is asked
SLACK_M = 0.02  # by so much the distances asked may be too large


class Groups(NamedTuple):
    """Segments `start_m (m, 3)` to `end_m (m, 3)`, some of them in groups.

    `member (k,)` are their indices, group after group, group g from `first[g]` to `first[g + 1]`;
    `middle_start_m`, `middle_end_m (g, 3)` a segment from which no member is farther than
    `radius_m (g,)`, none of their starts farther from its start than `start_radius_m (g,)`.
    `alone` are wanted too but stand in no group (not finite).
    """

    start_m: Array
    end_m: Array
    member: Index
    first: Index
    middle_start_m: Array
    middle_end_m: Array
    radius_m: Array
    start_radius_m: Array
    size_m: float
    alone: Index

    @property
    def starts(self) -> Groups:
        """The same groups of their starts alone."""
        return self._replace(
            end_m=self.start_m, middle_end_m=self.middle_start_m, radius_m=self.start_radius_m
        )


def grouped(
    start_m: Array, end_m: Array, which: Index | None = None, size_m: float = FIRST_SIZE_M
) -> Groups:
    """Segments (those of `which`, default all) in groups: alike in start and in way to `size_m`.

    Starts and ends may be the same array: points.
    """
    which = np.arange(len(start_m)) if which is None else which
    axes = list(start_m[which].T)
    if end_m is not start_m:
        axes += list(end_m[which].T)
    good = np.isfinite(sum(axes))
    alone = which[~good]
    if len(alone):
        which, axes = which[good], [a[good] for a in axes]
    cells = axes[:3] + [e - s for s, e in zip(axes[:3], axes[3:], strict=False)]
    order, first = _sorted(cells, size_m)
    axes = [a[order] for a in axes]
    begin, number = first[:-1], np.diff(first)
    middles, squares = [], []
    for a in axes if len(which) else ():
        middle = 0.5 * (np.minimum.reduceat(a, begin) + np.maximum.reduceat(a, begin))
        off = a - np.repeat(middle, number)
        middles.append(middle)
        squares.append(off * off)
    if not middles:
        none, no = np.empty((0, 3)), np.empty(0)
        return Groups(start_m, end_m, which, first, none, none, no, no, size_m, alone)
    radii = [
        np.sqrt(np.maximum.reduceat(sum(squares[k : k + 3]), begin))
        for k in range(0, len(squares), 3)
    ]
    low, high = np.stack(middles[:3], axis=1), np.stack(middles[-3:], axis=1)
    radius = np.maximum.reduce(radii)
    return Groups(start_m, end_m, which[order], first, low, high, radius, radii[0], size_m, alone)


def _sorted(axes: list[Array], size_m: float) -> tuple[Index, Index]:
    """The order that brings members of the same cell together, and where each cell begins."""
    if not len(axes[0]):
        return np.empty(0, dtype=np.intp), np.zeros(1, dtype=np.intp)
    key = np.zeros(len(axes[0]), dtype=np.int64)
    total = 1
    for axis in axes:
        low, high = float(axis.min()), float(axis.max())
        count = min(int((high - low) / size_m) + 1, 2 ** (62 // len(axes)))
        place = (axis - low) * (1.0 / max(size_m, (high - low) / count))
        key = key * count + np.minimum(place.astype(np.int64), count - 1)
        total *= count
    order = np.argsort(key)
    new = np.flatnonzero(np.diff(key[order])) + 1
    return order, np.concatenate([[0], new, [len(key)]]).astype(np.intp)


def least_where_near(
    least: Least,
    groups: Groups,
    enough_m: float,
    bound: Bound | None = None,
    sign_only: bool = False,
) -> Found:
    """Least distance `(m,)` on the segments of `groups` and its share of the way `(m,)`.

    Exact below `enough_m`, at least `enough_m` elsewhere (then the share says nothing); +inf for
    those nobody wants. `bound`: something quicker than `least`, tried first. `sign_only`: where it
    is negative, anything negative will do.
    """
    value, share = np.full(len(groups.start_m), np.inf), np.zeros(len(groups.start_m))
    now, alone = groups, [groups.alone]
    while len(now.member):
        lower, upper = _of_groups(least, now, enough_m, bound, sign_only)
        clear = lower >= enough_m
        settled = (clear | (upper < 0.0)) if sign_only else clear
        number = np.diff(now.first)
        shown = np.where(clear, lower, upper) if sign_only else lower
        done = np.repeat(settled, number)
        value[now.member[done]] = np.repeat(shown[settled], number[settled])
        left = now.member[~done]
        finer = grouped(now.start_m, now.end_m, left, now.size_m / SMALLER)
        if len(finer.radius_m) * FEW > len(left) or finer.size_m < SLACK_M:
            alone.append(left)
            break
        now = finer
    one = np.concatenate(alone)
    if bound is not None and len(one):
        low = bound(groups.start_m[one], groups.end_m[one], enough_m)
        clear = low >= enough_m
        value[one[clear]] = low[clear]
        one = one[~clear]
    if len(one):
        value[one], share[one] = least(groups.start_m[one], groups.end_m[one], enough_m)
    return value, share


def _of_groups(
    least: Least, groups: Groups, enough_m: float, bound: Bound | None, both: bool
) -> Found:
    """What no member is less and, if `both`, what none is more than."""
    start, end, radius = groups.middle_start_m, groups.middle_end_m, groups.radius_m
    spare = radius + SLACK_M
    lower = np.full(len(radius), -np.inf)
    if bound is not None:
        lower = bound(start, end, enough_m + spare) - spare
    upper = np.full(len(radius), np.inf)
    many = np.diff(groups.first) >= (MANY if bound is not None else 0.0)
    left = np.flatnonzero(~(lower >= enough_m) & many)
    if len(left):
        spare = spare[left]
        found = least(start[left], end[left], enough_m + spare)[0]
        lower[left] = np.maximum(lower[left], found - spare)
        if both:
            upper[left] = found + spare
    return lower, upper
