"""Where a path in plan passes points abeam, and where it crosses lines."""

from __future__ import annotations

import itertools
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Index = NDArray[np.intp]

RISE_M = 1.0  # two passes of one point are two where the distance rises so much between them
OFF_ABEAM = 0.5  # at a bend: no more than 30° ahead or astern of abeam
PAST_END_M = 1.0  # so far beyond the path's ends still counts as abeam of them
SHALLOW = 0.25  # sine of the angle (15°) under which a path goes along a line, not across it
STRIDE = 10  # vertices of the path looked at together to see whether a point is in reach


class Passes(NamedTuple):
    """Where points are abeam: `point (m,)` which one, on `leg (m,)` of the path at `share (m,)` of
    it, `right_m (m,)` off to the right (negative left). By point, each in the path's order."""

    point: Index
    leg: Index
    share: Array
    right_m: Array


class _Legs(NamedTuple):
    """Legs with a length: `which (l,)` of the path, from `start_m (l, 2)` on, `toward (l, 2)` unit
    vectors, `length_m (l,)`."""

    which: Index
    start_m: Array
    toward: Array
    length_m: Array


def _legs(path_m: Array) -> _Legs:
    way = np.diff(path_m, axis=0)
    length = np.hypot(way[:, 0], way[:, 1])
    moved = np.flatnonzero(length > 0.0)
    return _Legs(moved, path_m[moved], way[moved] / length[moved, None], length[moved])


def abeam(path_m: Array, points_m: Array, within_m: float) -> Passes:
    """Each time the path `(n, 2)` passes one of `points_m (p, 2)` abeam, nearer than `within_m`.

    That is where the distance has a local minimum, unless the point is then ahead or astern (the
    path turns back short of it, begins beyond it or ends before it). Minima of one point between
    which the distance rises by less than `RISE_M` are one pass: a wavering recording, a circle
    about it.
    """
    legs = _legs(path_m)
    found: list[tuple[int, int, float, float]] = []
    for p in _in_reach(path_m, points_m, within_m) if len(legs.which) else ():
        found += [(int(p), *one) for one in _passes(legs, points_m[p], within_m)]
    point, leg, share, right = zip(*found, strict=True) if found else ((), (), (), ())
    return Passes(
        np.array(point, dtype=np.intp),
        np.array(leg, dtype=np.intp),
        np.array(share, dtype=float),
        np.array(right, dtype=float),
    )


def _in_reach(path_m: Array, points_m: Array, within_m: float) -> Index:
    """The points that may be within reach; none that is, is left out."""
    block = np.arange(len(path_m)) // STRIDE * STRIDE
    slack = float(np.linalg.norm(path_m - path_m[block], axis=1).max(initial=0.0))
    slack += float(np.linalg.norm(np.diff(path_m, axis=0), axis=1).max(initial=0.0))
    near = np.zeros(len(points_m), dtype=bool)
    for node in path_m[::STRIDE]:
        off = points_m - node
        near |= np.hypot(off[:, 0], off[:, 1]) <= within_m + slack
    return np.flatnonzero(near)


def _passes(legs: _Legs, point_m: Array, within_m: float) -> list[tuple[int, float, float]]:
    """Leg, share and offset to the right of every pass of one point."""
    to_point = point_m - legs.start_m
    ahead = (to_point * legs.toward).sum(axis=1)
    gone = np.clip(ahead, 0.0, legs.length_m)
    right = to_point[:, 0] * legs.toward[:, 1] - to_point[:, 1] * legs.toward[:, 0]
    away = np.hypot(ahead - gone, right)
    seen = (away <= within_m) & _is_abeam(ahead, away, legs.length_m)
    start = np.hypot(to_point[:, 0], to_point[:, 1])
    kept: list[int] = []
    for i in sorted(np.flatnonzero(seen).tolist(), key=lambda k: (away[k], k)):
        if all(start[min(i, j) + 1 : max(i, j) + 1].max() - away[i] >= RISE_M for j in kept):
            kept.append(i)
    side = np.where(right < 0.0, -away, away)
    return [
        (int(legs.which[i]), float(gone[i] / legs.length_m[i]), float(side[i]))
        for i in sorted(kept)
    ]


def _is_abeam(ahead: Array, away: Array, length: Array) -> NDArray[np.bool_]:
    """Legs on which a point comes abeam: along them or, for a point outside a bend, at their end;
    at the path's own ends as good as."""
    slack = OFF_ABEAM * away
    past, next_ahead = ahead - length, np.append(ahead[1:], 0.0)
    at_end = (past >= 0.0) & (next_ahead <= 0.0) & (past <= slack) & (next_ahead >= -slack)
    at_end[-1] = 0.0 <= past[-1] <= PAST_END_M
    at_end[0] |= 0.0 >= ahead[0] >= -PAST_END_M
    return np.asarray(((ahead > 0.0) & (past < 0.0)) | at_end)


def crossings(path_m: Array, line_m: Array, shallow: float = SHALLOW) -> tuple[Index, Array]:
    """Where the path `(n, 2)` crosses a line `(k, 2)`: the leg and the share of it, in order.

    Legs that meet the line under an angle with a sine of at most `shallow` go along it and do not
    count; a crossing at a vertex may be found on both sides of it.
    """
    legs = _legs(path_m)
    leg: list[Array] = []
    share: list[Array] = []
    for a, b in itertools.pairwise(line_m):
        edge, off = b - a, a - legs.start_m
        length = float(np.hypot(*edge))
        turn = legs.toward[:, 0] * edge[1] - legs.toward[:, 1] * edge[0]
        across = np.abs(turn) > shallow * length
        turn = np.where(across, turn, 1.0)
        gone = (off[:, 0] * edge[1] - off[:, 1] * edge[0]) / turn
        at = (off[:, 0] * legs.toward[:, 1] - off[:, 1] * legs.toward[:, 0]) / turn
        hit = across & (gone >= 0.0) & (gone <= legs.length_m) & (at >= 0.0) & (at <= 1.0)
        leg.append(legs.which[hit])
        share.append(gone[hit] / legs.length_m[hit])
    if not leg:
        return np.empty(0, dtype=np.intp), np.empty(0)
    legs_hit, shares = np.concatenate(leg).astype(np.intp), np.concatenate(share)
    order = np.lexsort((shares, legs_hit))
    return legs_hit[order], shares[order]
