"""Several recordings of one ride made one: a mean line, ridden as the middle one of them rode.

They are laid along one another by dynamic time warping over the level distance (symmetric steps,
Sakoe and Chiba 1978; free ends, Smith and Waterman 1981). Then each place of the template is met
with the nearest of every recording there and replaced by their mean, twice (barycentre averaging:
Petitjean et al. 2011). Times, stops and brakes are those of the recording with the median duration:
a mean of speeds would brake nowhere.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from shotplan.model.arrays import Array
from shotplan.ride.brakes import Brake, Braked, brakes_of, elsewhere
from shotplan.ride.path import Path, crop

NEAR_M = 30.0  # recordings of one way lie nearer together than this
APART_M = 12.0  # root of the mean square; two receivers under leaves: 6 m each way, each
LEAST_SHARE = 0.5  # of the template that every recording has to follow
COARSE_M, MOST_STEPS = 5.0, 1500
FINE_M = 1.0
NEAREST_M = 10.0
HELD = 0.1  # how a metre along counts beside a metre across, so that no hairpin is cut
ROUND_M = 11  # steps of a metre over which the way to the mean is evened
COMMON = 0.4  # of a receiver's error: what another recording repeats, see `error_m`


class Together(NamedTuple):
    """`path` the mean line with the times of recording `kept`; `spread_m` how far they lie apart
    across it, one standard deviation; `shared_m` from where to where of recording `kept`;
    `braked` where others braked."""

    path: Path
    kept: int
    spread_m: float
    shared_m: tuple[float, float]
    braked: tuple[Braked, ...]


def error_m(receiver_m: float, spread_m: float, independent: int) -> float:
    """Standard error each way of a mean of so many independent recordings.

    What a receiver's error has of its own from day to day falls with the root of their number. The
    rest does not: walls and crowns throw the same satellites back, and a map lies off the
    satellites' frame as a whole (ETRS89 by 0.7 m from ITRF now). It is taken as `COMMON` of
    `receiver_m`, so 1 m in the open (own setting). Where they lie farther apart than such a
    receiver's do, their spread is taken instead.
    """
    common = COMMON * receiver_m
    own = max(np.sqrt(receiver_m**2 - common**2), spread_m)
    return float(np.hypot(common, own / np.sqrt(independent)))


def independent(spans_s: Sequence[tuple[float, float] | None]) -> int:
    """How many recordings count for themselves: of those whose times overlap (several receivers on
    one ride, copies of one file) one does, of those without times one in all."""
    known = sorted(span for span in spans_s if span is not None)
    count, end = int(None in spans_s), -np.inf
    for first, last in known:
        count += first > end
        end = max(end, last)
    return max(count - (None in spans_s and bool(known)), 1)


def mean_of(paths: Sequence[Path], timed: Sequence[bool]) -> Together | int:
    """The recordings as one; the index of one that runs elsewhere where they cannot be."""
    lengths = [path.length_m for path in paths]
    first = int(np.argsort(lengths)[len(lengths) // 2])
    template = _even(paths[first], FINE_M)
    step = max(COARSE_M, max(lengths) / MOST_STEPS)
    progress = []
    for k, path in enumerate(paths):
        found = _followed(template, path, step)
        if found is None or np.isfinite(found).mean() < LEAST_SHARE:
            return k
        progress.append(found)
    shared = np.isfinite(np.array(progress)).all(axis=0)
    if shared.mean() < LEAST_SHARE:
        return int(np.argmin([np.isfinite(p).mean() for p in progress]))
    template = template[shared]
    at = np.array(progress)[:, shared]
    for within_m in (max(NEAREST_M, 2.0 * step), NEAREST_M):
        feet = np.array([_foot(template, p, a, within_m) for p, a in zip(paths, at, strict=True)])
        template, at = feet[..., :2].mean(axis=0), feet[..., 2]
    far = _far(feet[..., :2])
    return _ridden(paths, timed, feet, template) if far is None else far


def _far(feet_m: Array) -> int | None:
    """The one of `feet_m (r, k, 2)` that runs beside the others (the other leg of a hairpin),
    counted from the one that is nearest to all."""
    apart = np.sum((feet_m[:, None] - feet_m[None]) ** 2, axis=-1).mean(axis=-1)
    from_middle = apart[np.argmin(apart.sum(axis=1))]
    worst = int(np.argmax(from_middle))
    return worst if from_middle[worst] > APART_M**2 else None


def _ridden(
    paths: Sequence[Path], timed: Sequence[bool], feet: Array, mean_xy_m: Array
) -> Together:
    """The middle one of the timed recordings, moved onto the mean; `feet (r, k, 3)`."""
    at = np.maximum.accumulate(feet[..., 2], axis=1)
    lasts = [float(np.interp(a[-1], p.along_m, p.t_s) - np.interp(a[0], p.along_m, p.t_s))
             for p, a in zip(paths, at, strict=True)]  # fmt: skip
    able = [k for k, yes in enumerate(timed) if yes] or list(range(len(paths)))
    kept = sorted(able, key=lambda k: lasts[k])[(len(able) - 1) // 2]
    own = paths[kept]
    pad = np.pad(mean_xy_m - feet[kept, :, :2], ((ROUND_M // 2,) * 2, (0, 0)), mode="edge")
    moved = np.stack([np.convolve(c, np.ones(ROUND_M) / ROUND_M, "valid") for c in pad.T], axis=-1)
    low, high = float(at[kept, 0]), float(at[kept, -1])
    cut = crop(Path(t_s=own.t_s, xy_m=own.xy_m), low, high)
    shift = np.stack([np.interp(cut.along_m + low, at[kept], c) for c in moved.T], axis=-1)
    path = Path(t_s=cut.t_s, xy_m=cut.xy_m + shift)
    apart = np.sum((feet[..., :2] - mean_xy_m) ** 2, axis=(0, 2)) / (len(paths) - 1)
    brakes = [_on_mean(brakes_of(p), a, cut, path, at[kept], low) if yes else []
              for p, a, yes in zip(paths, at, timed, strict=True)]  # fmt: skip
    others = [b for k, b in enumerate(brakes) if k != kept and timed[k]]
    spread = float(np.sqrt(apart.mean()))
    return Together(path, kept, spread, (low, high), elsewhere(brakes[kept], others))


def _on_mean(
    brakes: Sequence[Brake], at: Array, cut: Path, path: Path, kept_at: Array, low_m: float
) -> list[Brake]:
    """Brakes at metres of their own recording at metres of the mean line."""
    inside = [b for b in brakes if at[0] <= b.at_m <= at[-1]]
    own = np.interp([b.at_m for b in inside], at, kept_at) - low_m
    return [Brake(float(m), b.to) for m, b in zip(np.interp(own, cut.along_m, path.along_m),
                                                  inside, strict=True)]  # fmt: skip


def _even(path: Path, step_m: float) -> Array:
    """`(k, 2)` a point every `step_m` along, the last one too."""
    at = np.append(np.arange(0.0, path.length_m, step_m), path.length_m)
    return np.stack([np.interp(at, path.along_m, c) for c in path.xy_m.T], axis=-1)


def _followed(template_xy_m: Array, path: Path, step_m: float) -> Array | None:
    """How far along `path` each point of the template is met, `(k,)`, NaN where it is not; None
    where the two have nothing in common."""
    every = round(step_m / FINE_M)
    pairs = _warped(template_xy_m[::every], _even(path, step_m), max(NEAR_M, step_m))
    if len(pairs) < 2:
        return None
    i, where = np.unique(pairs[:, 0], return_index=True)
    met = np.add.reduceat(pairs[:, 1], where) / np.diff(np.append(where, len(pairs)))
    index = np.arange(len(template_xy_m))
    found = np.interp(index, i * every, np.minimum(met * step_m, path.length_m))
    inside = (index >= i[0] * every) & (index <= i[-1] * every)
    return np.asarray(np.where(inside, found, np.nan))


def _warped(one: Array, other: Array, near_m: float) -> Array:
    """Pairs of indexes `(p, 2)`, neither running backward, of the best common way of two lines.

    A pair earns 1 where both are at one place, 0 at `near_m`, down to -3; a step of both at once
    counts double, as in the symmetric warp.
    """
    earns = np.empty((len(one), len(other)))
    for row, xy in zip(earns, one, strict=True):
        row[:] = np.maximum(1.0 - ((other - xy) ** 2).sum(axis=1) / near_m**2, -3.0)
    score = np.zeros((len(one) + 1, len(other) + 1))
    for i, earned in enumerate(earns):
        best = np.maximum(score[i, :-1] + 2.0 * earned, score[i, 1:] + earned)
        total = np.cumsum(earned)
        kept = np.maximum.accumulate(np.maximum(best, 0.0) - total) + total
        score[i + 1, 1:] = kept
    i, j = (int(v) for v in np.unravel_index(np.argmax(score), score.shape))
    pairs = []
    while i > 0 and j > 0 and score[i, j] > 1e-9:
        pairs.append((i - 1, j - 1))
        earned = earns[i - 1, j - 1]
        ways = (score[i - 1, j - 1] + 2.0 * earned, score[i - 1, j] + earned,
                score[i, j - 1] + earned)  # fmt: skip
        way = int(np.argmax(ways))
        i, j = i - (way != 2), j - (way != 1)
    return np.array(pairs[::-1], dtype=float).reshape(-1, 2)


def _foot(template_xy_m: Array, path: Path, at_m: Array, within_m: float) -> Array:
    """`(k, 3)` x, y and how far along `path` its place next to each point of the template, within
    so much of where it is expected to be, `at_m (k,)`."""
    step = within_m / 40.0  # so that the next round finds it within `NEAREST_M`
    ways = np.arange(-within_m, within_m + step, step)
    found = np.empty((len(at_m), 3))
    for some in np.array_split(np.arange(len(at_m)), max(len(at_m) // 5000, 1)):
        at = np.clip(at_m[some, None] + ways, 0.0, path.length_m)
        xy = np.stack([np.interp(at, path.along_m, c) for c in path.xy_m.T], axis=-1)
        away = ((xy - template_xy_m[some, None]) ** 2).sum(axis=-1) + HELD * ways**2
        best = np.argmin(away, axis=1)
        rows = np.arange(len(some))
        found[some] = np.column_stack([xy[rows, best], at[rows, best]])
    return found
