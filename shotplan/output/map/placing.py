"""Tags moved apart where they would lie on each other; `placing.js` does so on the live map."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from shotplan.model.arrays import Array

_AWAY_PX = (12.0, 26.0, 44.0, 66.0, 92.0, 125.0)
_DEGREES = (-90, -45, -135, 0, 180, 45, 135, 90, -68, -112, -22, -158, 22, 158, 68, 112)
_OVERLAP = 1000.0
_TURNS = tuple(math.radians(t) for t in _DEGREES)


def apart(
    points_px: Array,
    sizes_px: Array,
    close_by: Sequence[bool],
    lines_px: Array,
    view_px: tuple[float, float],
) -> list[tuple[float, float] | None]:
    """How far each tag's middle is moved from its point, `(k, 2)` in pixels, y down; the first
    choose first. They shun each other, the rim of the view, and the points of `lines_px (m, 2)`.
    One that must stay `close_by` and finds no room is left out (None)."""
    taken: list[Array] = []
    moved: list[tuple[float, float] | None] = []
    for point, size, close in zip(points_px, sizes_px, close_by, strict=True):
        tries = [
            (away, (away + size / 2.0) * np.array([math.cos(turn), math.sin(turn)]))
            for away in (_AWAY_PX[:2] if close else _AWAY_PX)
            for turn in _TURNS
        ]
        costs = [away + _cost(point + by, size, taken, lines_px, view_px) for away, by in tries]
        if close and min(costs) >= _OVERLAP:
            moved.append(None)
            continue
        best = tries[int(np.argmin(costs))][1]
        taken.append(np.concatenate([point + best - size / 2.0, point + best + size / 2.0]))
        moved.append((float(best[0]), float(best[1])))
    return moved


def _cost(
    middle: Array,
    size: Array,
    taken: Sequence[Array],
    lines_px: Array,
    view_px: tuple[float, float],
) -> float:
    low, high = middle - size / 2.0, middle + size / 2.0
    overlaps = sum(bool((low < t[2:]).all() and (high > t[:2]).all()) for t in taken)
    outside = bool((low < 0.0).any() or (high > np.array(view_px)).any())
    covered = int(((lines_px > low) & (lines_px < high)).all(axis=1).sum())
    return _OVERLAP * overlaps + 400.0 * outside + 20.0 * min(covered, 20)
