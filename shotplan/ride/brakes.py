"""Where a rider braked on one recording and not on another: brakes that happen, and where."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from shotplan.model.arrays import Array
from shotplan.model.ride import STEP_S
from shotplan.ride.path import Path

HALF_S = 1.0  # speeds from so long before to so long after, as the course
HARD_M_S2 = 1.0  # what slows him less is no brake but a climb or a bend (common practice)
LOST_M_S = 2.0
SAME_M = 20.0  # brakes that begin nearer together than this are one place


class Brake(NamedTuple):
    """One brake of a recording: the metre at which it begins, and down to which share of the
    speed he had there."""

    at_m: float
    to: float


class Braked(NamedTuple):
    """A place at which he brakes on some rides: its metre, on which share of the recordings, and
    down to which share of his speed (the least of them)."""

    at_m: float
    share: float
    to: float


def brakes_of(path: Path) -> list[Brake]:
    """Every run of a recording in which he loses `LOST_M_S` or more at more than `HARD_M_S2`."""
    t = np.arange(HALF_S, path.t_s[-1] - HALF_S, STEP_S)
    ends = [np.interp(t + way, path.t_s, path.along_m) for way in (-HALF_S, 0.0, HALF_S)]
    speed = (ends[2] - ends[0]) / (2.0 * HALF_S)
    if len(t) < 3:
        return []
    slowing = np.gradient(speed, STEP_S) < -HARD_M_S2
    edges = np.flatnonzero(np.diff(np.concatenate([[False], slowing, [False]]).astype(int)))
    found = []
    for first, stop in edges.reshape(-1, 2):
        before, after = speed[first], speed[min(stop, len(speed) - 1)]
        if before - after >= LOST_M_S:
            found.append(Brake(float(ends[1][first]), float(max(after, 0.0) / before)))
    return found


def elsewhere(kept: Sequence[Brake], others: Sequence[Sequence[Brake]]) -> tuple[Braked, ...]:
    """Places at which `others` brake and the recording whose speeds are kept does not (there the
    ride brakes of itself), each with its share of all recordings."""
    own = np.array([brake.at_m for brake in kept])
    new = sorted(
        (brake, k)
        for k, brakes in enumerate(others)
        for brake in brakes
        if not (np.abs(own - brake.at_m) < SAME_M).any()
    )
    places: list[list[tuple[Brake, int]]] = []
    for brake, k in new:
        if places and brake.at_m - places[-1][0][0].at_m < SAME_M:
            places[-1].append((brake, k))
        else:
            places.append([(brake, k)])
    return tuple(
        Braked(
            at_m=float(np.mean([b.at_m for b, _ in place])),
            share=len({k for _, k in place}) / (1 + len(others)),
            to=min(b.to for b, _ in place),
        )
        for place in places
    )


def chosen(rng: np.random.Generator, braked: Sequence[Braked], rides: int) -> tuple[Array, Array]:
    """Metres `(rides, m)` at which each ride brakes of such places (+inf: it does not), none for
    row 0; and down to which share of the speed, `(rides, m)`."""
    at, share, to = np.array(braked, dtype=float).reshape(-1, 3).T
    does = rng.uniform(0.0, 1.0, (rides, len(braked))) < share
    does[0] = False
    return np.where(does, at, np.inf), np.broadcast_to(to, does.shape)
