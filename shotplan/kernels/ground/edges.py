"""Edges that the wind meets, found in profiles of the ground along it.

A profile is the ground's elevation at even steps downwind. An edge is a crest with a slope before
it: of all crests and all slope lengths the one with the greatest `climb² / length` is the
strongest, which is exactly the crest and the foot of a cliff, an escarpment or a hill with
straight slopes (EN 1991-1-4 Figure A.1). A slope that goes on climbing beyond the crest counts
only by how much steeper it is before it, so an even hillside has no edge at all.
"""

from __future__ import annotations

from bisect import bisect_right
from functools import cache
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from shotplan.kernels.motion.wind import GENTLE, STEEP, Crest
from shotplan.kernels.rides.runs import last_good

Array = NDArray[np.float64]
Bools = NDArray[np.bool_]
Index = NDArray[np.intp]

MOST = 5  # edges looked for in one profile
SAME = 0.3  # two crests nearer, or two feet nearer, than this share of a slope are one edge
NEAR = 1.5  # unknown ground within so many heights of an edge makes it unknown
# Turbulence reaches so many heights downwind of a drop, weaker ones farther, and one height above
# its brink (strong eddies to 10 to 15 heights and two above the ground: pilots' training on
# buildings and tree lines); flow parts from slopes steeper than 0.3 (EN 1991-1-4 A.3 bounds its
# formulas by that slope).
LEE_HEIGHTS = 10.0
FADING_HEIGHTS = 15.0
LEAST_DROP_M = 5.0
# Behind a brink that the wind meets it tumbles too, so many heights far and high (low confidence).
ONTO_HEIGHTS = 2.0
ONTO_TOP = 0.5
BRINK_M = 100.0  # an edge this near, ahead or behind, tells whether the wind blows off or onto it


class Edges(NamedTuple):
    """The strongest edges of each of k profiles, seen from the profile's own point.

    `crest_m` how far downwind the crest lies (negative upwind), `lip_m` its elevation, `shape` H,
    Lu, fall and Ld as the standard wants them, `doubt` True where missing ground is too near to
    trust it: all `(MOST, k)`, NaN where there are fewer. `missing_m (k,)` level distance to the
    nearest missing ground up- or downwind (+inf none). `step_m` of the profiles: how exactly the
    crests are known.
    """

    crest_m: Array
    lip_m: Array
    shape: Crest
    doubt: Bools
    missing_m: Array
    step_m: float


class Lee(NamedTuple):
    """Shelter of drops upwind: `top_m (k,)` elevation up to which the air tumbles (-inf none),
    `drop_m` the height of the drop that reaches highest, `away_m` how far upwind its brink is.
    `off_m (k,)` the greatest drop whose brink is within `BRINK_M`: the wind blows off it."""

    top_m: Array
    drop_m: Array
    away_m: Array
    off_m: Array


def lengths(steps: float, finer: float = 1.05) -> list[int]:
    """Slope lengths tried, in steps and up to `steps`: each longer than the one before by that
    ratio, at least by one."""
    powers = _powers(finer)
    return sorted({round(power) for power in powers[: bisect_right(powers, steps)]})


@cache
def _powers(ratio: float) -> tuple[float, ...]:
    return tuple(ratio**i for i in range(500))


def _longest(z: Array, step_m: float, slope: float) -> float:
    """Over how many steps the whole relief of the profiles could have a slope, at least one."""
    relief = np.nanmax(z, initial=-np.inf) - np.nanmin(z, initial=np.inf)
    return float(max(min(relief / (slope * step_m), z.shape[1] - 1), 1.0))


def _steep(z: Array, step_m: float) -> Index:
    """Lengths `(l,)`, in steps, of slopes that may be steep."""
    return np.array(lengths(_longest(z, step_m, STEEP), 1.15), dtype=np.intp)


def held(profile_m: Array) -> Array:
    """`(k, p)` with missing ground filled from upwind: what hides in a gap is taken as one step
    at its far side, which is the steepest it can be. Missing to the upwind end stays NaN."""
    at = np.maximum(last_good(~np.isnan(profile_m)), 0)
    return np.asarray(np.take_along_axis(profile_m, at, axis=1))


def find(profile_m: Array, step_m: float, middle: int) -> Edges:
    """Edges in profiles `(k, p)`, elevations `step_m` apart downwind, NaN missing; `middle` is
    the index of the point itself."""
    z = held(profile_m)
    climb, best = _climbs(z, step_m)
    parts = np.full((6, MOST, len(z)), np.nan)
    for j in range(MOST):
        crests, there = _next(climb, best)
        if not there.any():
            break
        parts[:, j, there] = _measured(z[there], crests[there], step_m, middle)
    crest, lip, rise, upwind, fall, downwind = parts
    gap = np.isnan(profile_m)
    offset = (np.arange(z.shape[1]) - middle) * step_m
    missing = np.where(gap, np.abs(offset), np.inf).min(axis=1)
    away = np.where(gap, np.abs(offset - crest[..., None]), np.inf).min(axis=2)
    shape = Crest(rise, upwind, fall, downwind)
    return Edges(crest, lip, shape, away < NEAR * rise, missing, step_m)


def _ahead(z: Array, n: int) -> Array:
    """How much higher the ground is `n` steps downwind; level beyond the profile's end."""
    last = z.shape[1] - 1
    return np.asarray(z[:, np.minimum(np.arange(last + 1) + n, last)] - z)


def _climbs(z: Array, step_m: float) -> tuple[Array, Index]:
    """What each post `(k, p)` climbs as a crest, 0 where it is none, and over how many steps:
    of all lengths the one with the greatest `climb² / length`. The posts stand upwind to downwind
    in memory, so that all of one length is one block."""
    size = z.shape[1]
    posts = np.ascontiguousarray(np.pad(z, ((0, 0), (0, size)), mode="edge").T)
    score, climbs = np.zeros((2, *posts[:size].shape))
    best = np.ones(score.shape, dtype=np.intp)
    for n in lengths(_longest(z, step_m, GENTLE)):
        here = posts[n:size]
        ahead = np.maximum(posts[2 * n : size + n] - here, 0.0)
        climb = (here - posts[: size - n] - ahead).ravel()
        some = np.flatnonzero(climb >= GENTLE * n * step_m)
        climb, at = climb[some], some + n * len(z)
        new = climb * climb / n
        better = new > score.ravel()[at]
        at = at[better]
        score.ravel()[at], climbs.ravel()[at], best.ravel()[at] = new[better], climb[better], n
    return np.ascontiguousarray(climbs.T), np.ascontiguousarray(best.T)


def _next(climb: Array, best: Index) -> tuple[Index, Bools]:
    """The strongest crest left in each profile and whether there is one; it and its like are
    struck out of `climb`: crests close by, climbs from the same foot, what on its own slope is no
    steeper, and the level beyond it, whose climb is for the most part this one."""
    crest = (climb * climb / best).argmax(axis=1)[:, None]
    length = np.take_along_axis(best, crest, axis=1)
    top = np.take_along_axis(climb, crest, axis=1)
    column = np.arange(climb.shape[1])
    foot = column - best
    near = np.abs(column - crest) <= SAME * best
    same = np.abs(foot - (crest - length)) <= SAME * np.minimum(best, length)
    beyond = (column >= crest) & (foot < crest) & (climb <= top / (1.0 - SAME))
    gentler = (column > crest - length) & (column < crest) & (climb * length <= top * best)
    climb[near | same | beyond | gentler] = 0.0
    return crest[:, 0], top[:, 0] > 0.0


def _measured(z: Array, crest: Index, step_m: float, middle: int) -> tuple[Array, ...]:
    """Crest, lip, H, Lu, fall, Ld of one edge per profile."""
    size, rows = z.shape[1], np.arange(len(z))
    steps = np.arange(1, size)
    length = np.asarray(steps * step_m, dtype=float)
    at = crest[:, None]
    lip = z[rows, crest]
    before = np.take_along_axis(z, np.maximum(at - steps, 0), axis=1)
    ahead = np.take_along_axis(z, np.minimum(at + steps, size - 1), axis=1) - lip[:, None]
    rise = np.where(at >= steps, lip[:, None] - before, 0.0)
    n = _steepest(rise - np.maximum(ahead, 0.0), length)
    m = _steepest(-ahead, length)
    beyond = ahead[rows, n]
    hill = beyond <= -GENTLE * length[n]
    climb = rise[rows, n] - np.maximum(beyond, 0.0)
    fall, downwind = np.where(hill, -ahead[rows, m], 0.0), np.where(hill, length[m], 0.0)
    parts = (crest - middle) * step_m, lip, climb, length[n], fall, downwind
    return tuple(np.asarray(part, dtype=float) for part in parts)


def _steepest(climb_m: Array, length_m: Array) -> Index:
    """`(k,)` index of the greatest `climb² / length` of climbs `(k, q)`; NaN never."""
    known = np.where(np.isnan(climb_m), 0.0, np.maximum(climb_m, 0.0))
    return np.asarray((known * known / length_m).argmax(axis=1))


def _highest(row: Index, top_m: Array) -> tuple[Index, tuple[Index, Index]]:
    """Of tops `(m, l)` of posts in `row (m,)`, by slope length (-inf none): the rows that have
    any, and where each one's highest is; of equals the shortest's, farthest upwind."""
    length = top_m.argmax(axis=1)
    most = top_m[np.arange(len(row)), length]
    order = np.lexsort((length, -most, row))
    order = order[most[order] > -np.inf]
    rows, first = np.unique(row[order], return_index=True)
    post = order[first]
    return rows, (post, length[post])


def lee(profile_m: Array, step_m: float, middle: int, heights: float = LEE_HEIGHTS) -> Lee:
    """Drops whose brink lies upwind of the profiles' points and whose tumbling air may reach them,
    and drops close by.

    A drop falls at least 5 m at a slope of 0.3 or more, and steeply from its brink on; it counts
    to so many heights from its brink and up to one height above it. `profile_m (k, p)` as for
    `find`.
    """
    z = held(profile_m)
    count, size = z.shape
    n, away = _steep(z, step_m), (middle - np.arange(size)) * step_m
    row, at = np.nonzero((-_ahead(z, 1) >= STEEP * step_m) & (away >= -BRINK_M))
    here, back = z[row, at][:, None], away[at][:, None]
    fall = here - z[row[:, None], np.minimum(at[:, None] + n, size - 1)]
    steep = (fall >= LEAST_DROP_M) & (fall >= STEEP * n * step_m)
    top, far = np.full(count, -np.inf), np.full(count, np.inf)
    drop, off = np.zeros((2, count))
    np.maximum.at(off, row, np.where(steep & (back <= BRINK_M), fall, 0.0).max(axis=1))
    high = np.where(steep & (back >= 0.0) & (back <= heights * fall), here + fall, -np.inf)
    rows, best = _highest(row, high)
    top[rows], drop[rows], far[rows] = high[best], fall[best], away[at[best[0]]]
    return Lee(top, drop, far, off)


class Rising(NamedTuple):
    """Ground that climbs before the wind. Of each of l lengths of slope the steepest climb that is
    near: `slope`, and `top_m` elevation up to which it lifts the air, `(l, k)` (0, -inf none)."""

    slope: Array
    top_m: Array


def rising(profile_m: Array, step_m: float, middle: int, within_m: float) -> Rising:
    """Slopes that lift the wind at the profiles' points, or `within_m` of them along it.

    Of a climb counts what lies downwind of the point, or just behind it (twice `within_m`: air
    that rises does not stop at the brink), where it is no farther before that part than it is
    high; up to one height above its top, the whole slope's: there an ideal ridge
    leaves a quarter of the updraught. A climb's first and last steps are at least half as steep as
    all of it: level ground before a wall or behind it is no part of it.
    """
    z = held(profile_m)
    last = z.shape[1] - 1
    n = np.array(lengths(_longest(z, step_m, GENTLE), 1.15), dtype=np.intp)[:, None]
    offset, first = (np.arange(last + 1) - middle) * step_m, _ahead(z, 1)
    column = np.flatnonzero(offset >= -2.1 * within_m)
    end = np.minimum(column + n, last)
    climb = z[:, end] - z[:, None, column]
    near = offset[column] - within_m <= climb
    steep = np.minimum(first[:, None, column], first[:, end - 1]) >= 0.5 * climb / n
    rise = np.where(near & steep & (climb > 0.0), climb, 0.0)
    most, top = rise.max(axis=2), end[np.arange(len(n)), rise.argmax(axis=2)]
    reach = np.full(most.shape, -np.inf)
    some = np.nonzero(most > 0.0)
    at = some[0], top[some]
    reach[some] = z[at] + np.maximum(most[some], _height(z, *at, step_m))
    return Rising((most / (n[:, 0] * step_m)).T, reach.T)


def _behind(z: Array, row: Index, at: Index, n: Index) -> Array:
    """`(m, l)` how much lower the ground was `n (l,)` steps upwind of posts `at (m,)` in `row`;
    level beyond the profile's start."""
    return np.asarray(z[row, at][:, None] - z[row[:, None], np.maximum(at[:, None] - n, 0)])


def _height(z: Array, row: Index, at: Index, step_m: float) -> Array:
    """`(m,)` the greatest rise at a slope of 0.3 or more that ends at each post (0 none)."""
    n = _steep(z, step_m)
    rise = _behind(z, row, at, n)
    return np.asarray(np.where(rise >= STEEP * n * step_m, rise, 0.0).max(axis=1))


class Onto(NamedTuple):
    """Air that tumbles close behind a brink that the wind meets: `top_m (k,)` the elevation up to
    which it does (-inf none), `rise_m` the height of that brink."""

    top_m: Array
    rise_m: Array


def onto(profile_m: Array, step_m: float, middle: int) -> Onto:
    """Brinks of at least 5 m at a slope of 0.3 or more that lie upwind of the profiles' points, at
    most two heights away."""
    z = held(profile_m)
    count, size = z.shape
    n, away = _steep(z, step_m), (middle - np.arange(size)) * step_m
    before = z - z[:, np.maximum(np.arange(size) - 1, 0)]
    brink = (before >= STEEP * step_m) & (_ahead(z, 1) < STEEP * step_m)
    row, at = np.nonzero(brink & (away >= 0.0))
    rise = _behind(z, row, at, n)
    steep = (rise >= LEAST_DROP_M) & (rise >= STEEP * n * step_m)
    near = steep & (away[at][:, None] <= ONTO_HEIGHTS * rise)
    high = np.where(near, z[row, at][:, None] + ONTO_TOP * rise, -np.inf)
    top, face = np.full(count, -np.inf), np.zeros(count)
    rows, best = _highest(row, high)
    top[rows], face[rows] = high[best], rise[best]
    return Onto(top, face)
