"""Which of many triangles shows in each pixel: rows of pixels between two edges, the nearest kept.

All triangles are taken at once, in blocks of pixels. A pixel belongs to a triangle that holds its
middle; triangles that share an edge leave no gap and no overlap.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from shotplan.kernels.light.view_march import View, along, axes, by_coordinate

Array = NDArray[np.float64]
Index = NDArray[np.intp]

NEAR_M = 0.05  # nothing nearer ahead of the eye is drawn
BLOCK = 1_000_000  # pixels at a time
THICK_M = 60.0


class Seen(NamedTuple):
    """`ahead_m (rows, cols)` of the nearest triangle, +inf none; `which` its index, -1 none."""

    ahead_m: Array
    which: Index


def nearest(view: View, corners_m: Array) -> Seen:
    """The nearest of triangles `corners_m (m, 3, 3)` in each pixel of a view (both sides show)."""
    corners, which = _clipped(*_in_view(view, along(axes(view), corners_m - view.eye_m)))
    ahead = corners[..., 2]
    screen = by_coordinate(
        view.cols / 2.0 + view.focal_px * corners[..., 0] / ahead,
        view.rows / 2.0 - view.focal_px * corners[..., 1] / ahead,
    )
    value, item = highest(screen, 1.0 / ahead, view.rows, view.cols)
    met = item >= 0
    found = np.where(met, which[np.maximum(item, 0)] if len(which) else -1, -1)
    return Seen(np.where(met, 1.0 / np.where(met, value, 1.0), np.inf), found)


def _in_view(view: View, corners: Array) -> tuple[Array, Index]:
    """Triangles that are not wholly beside, above, below or behind the picture."""
    right, up, ahead = (corners[..., k] for k in range(3))
    wide, high = view.cols / 2.0 / view.focal_px, view.rows / 2.0 / view.focal_px
    out = (ahead < NEAR_M).all(axis=1)
    for side, edge in ((right, wide), (-right, wide), (up, high), (-up, high)):
        out |= (side > edge * ahead).all(axis=1)
    kept = np.flatnonzero(~out)
    return corners[kept], kept


def _clipped(corners: Array, which: Index) -> tuple[Array, Index]:
    """Triangles cut off at `NEAR_M` ahead: one or two of each that reaches nearer."""
    front = corners[..., 2] >= NEAR_M
    count = front.sum(axis=1)
    whole = count == 3
    parts, owners = [corners[whole]], [which[whole]]
    for wanted in (1, 2):
        mine = np.flatnonzero(count == wanted)
        alone = front[mine] if wanted == 1 else ~front[mine]
        turn = (alone.argmax(axis=1)[:, None] + np.arange(3)) % 3
        a, b, c = (corners[mine[:, None], turn][:, k] for k in range(3))
        ab, ac = _at_near(a, b), _at_near(a, c)
        pieces = [(a, ab, ac)] if wanted == 1 else [(ab, b, c), (ab, c, ac)]
        parts += [np.stack(piece, axis=1) for piece in pieces]
        owners += [which[mine]] * len(pieces)
    return np.concatenate(parts), np.concatenate(owners)


def _at_near(a: Array, b: Array) -> Array:
    share = (NEAR_M - a[:, 2]) / (b[:, 2] - a[:, 2])
    cut = a + share[:, None] * (b - a)
    cut[:, 2] = NEAR_M
    return np.asarray(cut)


def highest(screen: Array, value: Array, rows: int, cols: int) -> tuple[Array, Index]:
    """The greatest value in each pixel of triangles `screen (m, 3, 2)` (column, row) whose corners
    have `value (m, 3)`, linear between them; -inf none. And whose it is, -1 none."""
    best, item = np.full(rows * cols, -np.inf), np.full(rows * cols, -1, dtype=np.intp)
    for pixel, here, owner, count in _filled(screen, value, rows, cols):
        np.maximum.at(best, pixel, here)
        won = np.flatnonzero(here == best[pixel])
        item[pixel[won]] = np.repeat(owner, count)[won]
    return best.reshape(rows, cols), item.reshape(rows, cols)


def highest_value(screen: Array, value: Array, rows: int, cols: int) -> Array:
    """The first that `highest` tells."""
    best = np.full(rows * cols, -np.inf)
    for pixel, here, _, _ in _filled(screen, value, rows, cols):
        np.maximum.at(best, pixel, here)
    return best.reshape(rows, cols)


def _filled(
    screen: Array, value: Array, rows: int, cols: int
) -> Iterator[tuple[Index, Array, Index, Index]]:
    """In blocks: pixels that lie in triangles with the value there, and run by run of them whose
    they are and how many."""
    a, b, c = _planes(screen, value)
    tri, row = _rows(screen, rows)
    left, right = _between(screen, tri, np.asarray(row + 0.5, dtype=np.float64))
    first = np.clip(np.ceil(left - 0.5), 0, cols).astype(np.intp)
    count = np.maximum(np.clip(np.ceil(right - 0.5), 0, cols).astype(np.intp) - first, 0)
    down = c[tri] * (row + 0.5)
    for part in blocks(count):
        many, owner = count[part], tri[part]
        col = np.arange(int(many.sum())) - np.repeat(np.cumsum(many) - many - first[part], many)
        here = np.repeat(a[owner], many) + np.repeat(b[owner], many) * (col + 0.5)
        here += np.repeat(down[part], many)
        yield np.repeat(row[part] * cols, many) + col, here, owner, many


def _planes(screen: Array, value: Array) -> Array:
    """`(3, m)`: the value at a place is a + b · column + c · row."""
    one, two = screen[:, 1] - screen[:, 0], screen[:, 2] - screen[:, 0]
    rise_one, rise_two = value[:, 1] - value[:, 0], value[:, 2] - value[:, 0]
    area = one[:, 0] * two[:, 1] - one[:, 1] * two[:, 0]
    over = np.where(area == 0.0, 0.0, 1.0 / np.where(area == 0.0, 1.0, area))
    b = (rise_one * two[:, 1] - rise_two * one[:, 1]) * over
    c = (rise_two * one[:, 0] - rise_one * two[:, 0]) * over
    return np.stack([value[:, 0] - b * screen[:, 0, 0] - c * screen[:, 0, 1], b, c])


def _rows(screen: Array, rows: int) -> tuple[Index, Index]:
    """Triangle and row of every pair of them that meet."""
    low = np.clip(np.ceil(screen[..., 1].min(axis=1) - 0.5), 0, rows).astype(np.intp)
    high = np.clip(np.ceil(screen[..., 1].max(axis=1) - 0.5), 0, rows).astype(np.intp)
    count = np.maximum(high - low, 0)
    tri = np.repeat(np.arange(len(screen)), count)
    return tri, np.arange(len(tri)) - np.repeat(np.cumsum(count) - count - low, count)


def _between(screen: Array, tri: Index, y: Array) -> tuple[Array, Array]:
    """The columns between which rows `y` cross their triangles."""
    left, right = np.full(len(tri), np.inf), np.full(len(tri), -np.inf)
    at_x, at_y = np.moveaxis(screen, -1, 0)
    for k, after in ((0, 1), (1, 2), (2, 0)):
        fall = at_y[:, after] - at_y[:, k]
        lean = (at_x[:, after] - at_x[:, k]) / np.where(fall == 0.0, 1.0, fall)
        ay = at_y[:, k][tri]
        crosses = (ay < y) != (at_y[:, after][tri] < y)
        x = at_x[:, k][tri] + (y - ay) * lean[tri]
        left = np.where(crosses, np.minimum(left, x), left)
        right = np.where(crosses, np.maximum(right, x), right)
    return np.where(np.isfinite(left), left, 0.0), np.where(np.isfinite(right), right, 0.0)


def blocks(count: Index) -> list[slice]:
    """Runs of spans, of so many pixels each, with about `BLOCK` pixels together."""
    if not len(count):
        return []
    block = np.cumsum(count) // BLOCK
    edges = np.flatnonzero(np.diff(block)) + 1
    ends = [0, *edges.tolist(), len(count)]
    return [slice(a, b) for a, b in pairwise(ends)]


def strokes(view: View, start_m: Array, end_m: Array) -> Seen:
    """The nearest of thin lines `(m, 3)` -> `(m, 3)` in each pixel: two pixels thick up to
    `THICK_M` ahead, one beyond."""
    value = np.full(view.rows * view.cols, -np.inf)
    item = np.full(view.rows * view.cols, -1, dtype=np.intp)
    a, b = (along(axes(view), p - view.eye_m) for p in (start_m, end_m))
    swap = a[:, 2] > b[:, 2]
    a, b = np.where(swap[:, None], b, a), np.where(swap[:, None], a, b)
    kept = np.flatnonzero(b[:, 2] > NEAR_M)
    a, b = a[kept], b[kept]
    behind = a[:, 2] < NEAR_M
    a[behind] = _at_near(a[behind], b[behind])
    ends = [
        np.column_stack([
            view.cols / 2.0 + view.focal_px * p[:, 0] / p[:, 2],
            view.rows / 2.0 - view.focal_px * p[:, 1] / p[:, 2],
            1.0 / p[:, 2],
        ])
        for p in (a, b)
    ]  # fmt: skip
    size = np.array([view.cols, view.rows])
    beside = (np.maximum(ends[0], ends[1])[:, :2] < 0.0).any(axis=1)
    beside |= (np.minimum(ends[0], ends[1])[:, :2] > size).any(axis=1)
    kept, (one, two) = kept[~beside], (p[~beside] for p in ends)
    count = np.ceil(np.abs(two - one)[:, :2].max(axis=1, initial=0.0)).astype(np.intp) + 1
    count = np.minimum(count, 4 * (view.rows + view.cols))
    owner = np.repeat(np.arange(len(count)), count)
    step = np.arange(len(owner)) - np.repeat(np.cumsum(count) - count, count)
    at = one[owner] + (step / count[owner])[:, None] * (two - one)[owner]
    for dx in (-1, 0):
        for dy in (-1, 0):
            col, row = (np.rint(at[:, k]).astype(np.intp) + d for k, d in ((0, dx), (1, dy)))
            on = (col >= 0) & (col < view.cols) & (row >= 0) & (row < view.rows)
            on &= (at[:, 2] > 1.0 / THICK_M) | (dx + dy == 0)
            pixel = row[on] * view.cols + col[on]
            np.maximum.at(value, pixel, at[on, 2])
            won = at[on, 2] == value[pixel]
            item[pixel[won]] = kept[owner[on][won]]
    shape = (view.rows, view.cols)
    met = (item >= 0).reshape(shape)
    value = value.reshape(shape)
    return Seen(np.where(met, 1.0 / np.where(met, value, 1.0), np.inf), item.reshape(shape))
