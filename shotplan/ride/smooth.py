"""The jitter of a receiver taken out of a recording (DEFINITIONS "Ride", second edition).

A fixed-interval smoother takes out what is independent from fix to fix; a stop is one point; what
is left between the fixes is a smooth curve. The slow drift of a receiver stays: it is `error_m`.
"""

from __future__ import annotations

import itertools

import numpy as np

from shotplan.kernels.motion import smoothing
from shotplan.model.arrays import Array, Bools
from shotplan.model.ride import STEP_S
from shotplan.ride.along import SLOWEST_M_S
from shotplan.ride.path import FASTEST_M_S, Path

STILL_S, STILL_M = 3.0, 2.0  # a stop: so long within so little
EASED_S = 10.0  # before and after a stop: so long he is led to its one point
CURVED_S = 5.0  # between fixes farther apart he is taken to go straight


def smooth(t_s: Array, xy_m: Array, remarks: list[str]) -> Path:
    """The path through fixes `t_s (k,)` (increasing), `xy_m (k, 2)`, a point every 0.1 s where he
    curves; t from 0. `remarks` is told what was taken out. A leg that nobody can ride is not
    smoothed over: it stays, to be refused."""
    far = np.linalg.norm(np.diff(xy_m, axis=0), axis=1) > FASTEST_M_S * np.diff(t_s)
    parts = [0, *(np.flatnonzero(far) + 1).tolist(), len(t_s)]
    longest = int(np.argmax(np.diff(parts)))
    pieces = [
        _piece(t_s[a:b], xy_m[a:b], remarks if k == longest else [])
        for k, (a, b) in enumerate(itertools.pairwise(parts))
    ]
    t, xy = (np.concatenate(rows) for rows in zip(*pieces, strict=True))
    return Path(t_s=t - t[0], xy_m=xy)


def _piece(t_s: Array, xy_m: Array, remarks: list[str]) -> tuple[Array, Array]:
    """One run of fixes without a jump."""
    if len(t_s) < 2:
        return t_s, xy_m
    noise = smoothing.likeliest(t_s, xy_m)
    if len(t_s) > 2:  # two fixes tell nothing and stay as they are
        remarks.append(
            f"smoothed: its fixes jitter by {noise.jitter_m:.2f} m each way, his acceleration is "
            f"white with {noise.density_m2_s3:.2g} m²/s³, as the recording itself makes likeliest"
        )
    found = smoothing.smoothed(t_s, xy_m, noise)
    places, standing = held_still(t_s, *found, remarks)
    if standing.any():  # once more, now that it is known where he stood
        led = _led_to(t_s, places - found.xy_m, standing)
        told = np.where(standing[:, None], places, xy_m + led)
        found = smoothing.smoothed(t_s, told, noise, standing)
    places = np.where(standing[:, None], places, found.xy_m)
    velocities = np.where(standing[:, None], 0.0, found.velocity_m_s)
    t = _times(t_s)
    return t, smoothing.hermite(t_s, places, velocities, t)


def _led_to(t_s: Array, moved_m: Array, standing: Bools) -> Array:
    """`(k, 2)` how far the fixes about a stop are moved with it: as far as its end was (`moved_m`),
    less and less over `EASED_S`. Else he would seem to turn aside on his last metre, and a course
    that is then held would be that."""
    found = np.zeros_like(moved_m)
    at = np.flatnonzero(standing)
    if not len(at):
        return found
    riding = np.flatnonzero(~standing)
    after = np.searchsorted(at, riding)
    for beside, there in ((after - 1, after > 0), (after, after < len(at))):
        stop, k = at[beside[there]], riding[there]
        share = np.maximum(1.0 - np.abs(t_s[k] - t_s[stop]) / EASED_S, 0.0)
        found[k] += share[:, None] * moved_m[stop]
    return found


def _times(t_s: Array) -> Array:
    """Every fix, and between those at most `CURVED_S` apart every 0.1 s counted from the first."""
    grid = t_s[0] + STEP_S * np.arange(1, int((t_s[-1] - t_s[0]) / STEP_S) + 1)
    leg = np.searchsorted(t_s, grid, side="right").clip(1, len(t_s) - 1) - 1
    near = np.abs(grid - t_s[leg]) < 1e-6
    near |= np.abs(grid - t_s[leg + 1]) < 1e-6
    curved = (np.diff(t_s) <= CURVED_S)[leg]
    return np.sort(np.concatenate([t_s, grid[curved & ~near]]))


def held_still(
    t_s: Array, xy_m: Array, velocity_m_s: Array, remarks: list[str]
) -> tuple[Array, Bools]:
    """`xy_m (k, 2)` with every stop made one point, and which fixes `(k,)` stand.

    A stop is a run of fixes of at least `STILL_S` that stays within `STILL_M`, first of its first
    fix, then of its middle; fixes at its ends that lie half as far or more from the middle, or are
    faster than walking pace, belong to riding in and out. Stops one after the other
    are one, as long as all of it lies within `STILL_M` of its middle: a receiver drifts meanwhile.
    """
    xy, standing = np.array(xy_m), np.zeros(len(t_s), dtype=bool)
    slow = np.hypot(*velocity_m_s.T) < SLOWEST_M_S
    stops, start = list[slice](), 0
    while start < len(t_s):
        run = _standing(t_s, xy_m, slow, start, _left(xy_m, start, xy_m[start]))
        if run is None:
            start += 1
            continue
        start = max(run.stop, start + 1)
        both = slice(stops[-1].start, run.stop) if stops else run
        if _within(xy_m[both]):
            stops[-1:] = [both]
        else:
            stops.append(run)
    for run in _apart(t_s, slow, stops):
        xy[run], standing[run] = np.median(xy_m[run], axis=0), True
    if stops:
        held_s = sum(float(t_s[run.stop - 1] - t_s[run.start]) for run in stops)
        times = "stop" if len(stops) == 1 else "stops"
        remarks.append(f"{len(stops)} {times} held still ({held_s:.0f} s)")
    return xy, standing


def _standing(t_s: Array, xy_m: Array, slow: Bools, start: int, end: int) -> slice | None:
    """The fixes of `start` to `end` that stand, if they do so for long enough."""
    if t_s[end - 1] - t_s[start] < STILL_S:
        return None
    middle = np.median(xy_m[start:end], axis=0)
    end = _left(xy_m, start, middle)
    near_m = np.hypot(*(xy_m[start:end] - middle).T)
    near = start + np.flatnonzero((near_m < STILL_M / 2) & slow[start:end])
    if not len(near) or t_s[near[-1]] - t_s[near[0]] < STILL_S:
        return None
    return slice(int(near[0]), int(near[-1]) + 1)


def _apart(t_s: Array, slow: Bools, stops: list[slice]) -> list[slice]:
    """Stops between which nobody rode, only the receiver drifted, with `EASED_S` between them: from
    one fix to the next the drift would seem a ride."""
    ends = [[run.start, run.stop] for run in stops]
    for one, other in itertools.pairwise(ends):
        last, first = one[1] - 1, other[0]
        if slow[last : first + 1].all() and t_s[first] - t_s[last] < EASED_S:
            middle = 0.5 * (t_s[last] + t_s[first])
            one[1] = min(one[1], int(np.searchsorted(t_s, middle - EASED_S / 2.0)) + 1)
            other[0] = max(other[0], int(np.searchsorted(t_s, middle + EASED_S / 2.0)))
    return [slice(start, stop) for start, stop in ends if stop > start]


def _within(xy_m: Array) -> bool:
    """Whether fixes lie within `STILL_M` of their middle."""
    return bool((np.hypot(*(xy_m - np.median(xy_m, axis=0)).T) <= STILL_M).all())


def _left(xy_m: Array, start: int, middle_m: Array) -> int:
    """The first fix from `start` on that lies beyond `STILL_M` of a point; their number if none."""
    size = 16
    while start < len(xy_m):
        away = np.hypot(*(xy_m[start : start + size] - middle_m).T) > STILL_M
        if away.any():
            return start + int(np.argmax(away))
        start, size = start + size, 2 * size
    return len(xy_m)
