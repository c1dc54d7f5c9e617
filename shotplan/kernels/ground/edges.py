"""Edges that the wind meets, found in profiles of the ground along it.

A profile is the ground's elevation at even steps downwind. An edge is a crest with a slope before
it: of all crests and all slope lengths the one with the greatest `climb² / length` is the
strongest, which is exactly the crest and the foot of a cliff, an escarpment or a hill with
straight slopes (EN 1991-1-4 Figure A.1). A slope that goes on climbing beyond the crest counts
only by how much steeper it is before it, so an even hillside has no edge at all.
"""

from __future__ import annotations

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
# Turbulence reaches so many heights downwind of a drop, and so many above its foot: common
# practice, from memory; flow parts from slopes steeper than 0.3 (EN 1991-1-4 A.3 bounds its
# formulas by that slope).
LEE_HEIGHTS = 10.0
LEE_TOP = 2.0
LEAST_DROP_M = 5.0
BRINK_M = 100.0  # an edge this near, ahead or behind, tells whether the wind blows off or onto it


class Edges(NamedTuple):
    """The strongest edges of each of k profiles, seen from the profile's own point.

    `crest_m` how far downwind the crest lies (negative upwind), `lip_m` its elevation, `face` the
    slope before it (rise over length, as it is), `shape` H, Lu, fall and Ld as the standard wants
    them, `doubt` True where missing ground is too near to trust it: all `(MOST, k)`, NaN where
    there are fewer. `missing_m (k,)` level distance to the nearest missing ground up- or downwind
    (+inf none). `step_m` of the profiles: how exactly the crests are known.
    """

    crest_m: Array
    lip_m: Array
    face: Array
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
    return sorted({round(finer**i) for i in range(500) if finer**i <= steps})


def _longest(z: Array, step_m: float, slope: float) -> float:
    """Over how many steps the whole relief of the profiles could have a slope at all."""
    relief = np.nanmax(z, initial=-np.inf) - np.nanmin(z, initial=np.inf)
    return float(min(max(relief, 0.0) / (slope * step_m), z.shape[1] - 1))


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
    parts = [_measured(z, *_next(climb, best), step_m, middle) for _ in range(MOST)]
    crest, lip, face, rise, upwind, fall, downwind = (
        np.stack([part[i] for part in parts]) for i in range(7)
    )
    gap = np.isnan(profile_m)
    offset = (np.arange(z.shape[1]) - middle) * step_m
    missing = np.where(gap, np.abs(offset), np.inf).min(axis=1)
    away = np.where(gap, np.abs(offset - crest[..., None]), np.inf).min(axis=2)
    shape = Crest(rise, upwind, fall, downwind)
    return Edges(crest, lip, face, shape, away < NEAR * rise, missing, step_m)


def _ahead(z: Array, n: int) -> Array:
    """How much higher the ground is `n` steps downwind; level beyond the profile's end."""
    last = z.shape[1] - 1
    return np.asarray(z[:, np.minimum(np.arange(last + 1) + n, last)] - z)


def _climbs(z: Array, step_m: float) -> tuple[Array, Index]:
    """What each post `(k, p)` climbs as a crest, 0 where it is none, and over how many steps:
    of all lengths the one with the greatest `climb² / length`."""
    score, climbs = np.zeros(z.shape), np.zeros(z.shape)
    best = np.ones(z.shape, dtype=np.intp)
    for n in lengths(_longest(z, step_m, GENTLE)):
        climb = np.zeros(z.shape)
        climb[:, n:] = z[:, n:] - z[:, :-n] - np.maximum(_ahead(z, n), 0.0)[:, n:]
        better = (climb >= GENTLE * n * step_m) & (climb * climb / n > score)
        score = np.where(better, climb * climb / n, score)
        climbs, best = np.where(better, climb, climbs), np.where(better, n, best)
    return climbs, best


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


def _measured(
    z: Array, crest: Index, there: Bools, step_m: float, middle: int
) -> tuple[Array, ...]:
    """Crest, lip, face, H, Lu, fall, Ld of one edge per profile; NaN where there is none."""
    size = z.shape[1]
    steps = np.arange(1, size)
    length = np.asarray(steps * step_m, dtype=float)
    at = crest[:, None]
    lip = np.take_along_axis(z, at, axis=1)
    before = np.take_along_axis(z, np.maximum(at - steps, 0), axis=1)
    ahead = np.take_along_axis(z, np.minimum(at + steps, size - 1), axis=1) - lip
    rise = np.where(at >= steps, lip - before, 0.0)
    n = _steepest(rise - np.maximum(ahead, 0.0), length)
    m = _steepest(-ahead, length)

    def of(row: Array, index: Index) -> Array:
        return np.asarray(np.take_along_axis(row, index, axis=1)[:, 0])

    hill = of(ahead, n) <= -GENTLE * length[n[:, 0]]
    fall = np.where(hill, of(-ahead, m), 0.0)
    upwind = length[n[:, 0]]
    climb = of(rise, n) - np.maximum(of(ahead, n), 0.0)
    parts = (
        (crest - middle) * step_m,
        lip[:, 0],
        of(rise, n) / upwind,
        climb,
        upwind,
        fall,
        np.where(hill, length[m[:, 0]], 0.0),
    )
    return tuple(np.where(there, part, np.nan) for part in parts)


def _steepest(climb_m: Array, length_m: Array) -> Index:
    """`(k, 1)` index of the greatest `climb² / length` of climbs `(k, q)`; NaN never."""
    known = np.where(np.isnan(climb_m), 0.0, np.maximum(climb_m, 0.0))
    return np.asarray((known * known / length_m).argmax(axis=1)[:, None])


def lee(profile_m: Array, step_m: float, middle: int) -> Lee:
    """Drops upwind whose tumbling air may reach the profiles' points, and drops close by.

    A drop falls at least 5 m at a slope of 0.3 or more; it counts to 10 heights from its brink
    and up to two heights above its foot. `profile_m (k, p)` as for `find`.
    """
    z = held(profile_m)
    count, size = z.shape
    offset = (np.arange(size) - middle) * step_m
    top = np.full(count, -np.inf)
    drop, away, off = np.zeros(count), np.full(count, np.inf), np.zeros(count)
    rows = np.arange(count)
    for n in lengths(_longest(z, step_m, STEEP), 1.15):
        fall = -_ahead(z, n)
        steep = (fall >= LEAST_DROP_M) & (fall >= STEEP * n * step_m)
        off = np.maximum(off, np.where(steep & (np.abs(offset) <= BRINK_M), fall, 0.0).max(axis=1))
        upwind = (offset < 0.0) & (offset + n * step_m <= step_m)
        reaches = steep & upwind & (-offset <= LEE_HEIGHTS * fall)
        high = np.where(reaches, z + (LEE_TOP - 1.0) * fall, -np.inf)
        at = high.argmax(axis=1)
        better = high[rows, at] > top
        top = np.where(better, high[rows, at], top)
        drop, away = np.where(better, fall[rows, at], drop), np.where(better, -offset[at], away)
    return Lee(top, drop, away, off)


def slope(profile_m: Array, step_m: float, middle: int) -> Array:
    """`(k,)` slope of the ground under the points along the wind, over two steps to each side."""
    before, after = profile_m[:, max(middle - 2, 0)], profile_m[:, middle + 2]
    return np.asarray((after - before) / (4.0 * step_m))
