"""Distance from points to bilinear patches, exact whatever their shape.

A place on a patch is `a + u U + v V` in plan from the point (U one column, V one row, taken at
the patch's middle), with `h(u, v) = h0 + hu u + hv v + t uv` above it. For every number w,
`h² >= 2 w h - w²`, so

    q(w) = min over u, v of  |a + u U + v V|² + 2 w h(u, v) - w²                      (1)

never exceeds the squared distance. (1) is a quadratic over a rectangle, solved in closed form,
and its minimiser, with h there, gives a squared distance that is (h - w)² larger. So w is moved
until h = w; where the minimiser jumps past that (a twisted patch seen from afar) the rectangle is
cut into four. Neither bound can miss. Neglected: the bend of the frame's polynomial inside one
patch (less than 1e-4 m for cells of 30 m).
"""

from __future__ import annotations

import numpy as np

from shotplan.kernels.ground.posts import Array, Grid, Index, corners, frame_xy, steps

TOLERANCE_M = 1e-4  # how far above the least distance an answer may be
MOST_PIECES, MOST_TIMES, MOST_CUTS = 20_000, 4, 16  # of one `settle`: no more work than that
TRIES = 3  # values of w, after the first, before a patch is cut into four

# Rows of the state of `settle`, one column per piece: a, U, V, then h0, hu, hv, t of (1), the
# rectangle, the w to try next, the last two tried with what h - w they gave.
_AX, _AY, _UX, _UY, _VX, _VY = range(6)
_HEIGHT = slice(6, 10)
_U0, _U1, _V0, _V1 = range(10, 14)
_W, _LAST_W, _LAST_GAP, _OTHER_W, _OTHER_GAP = range(14, 19)


def pieces(grid: Grid, from_m: Array, row: Array, col: Array, i: Index, j: Index) -> Array:
    """Patches `i, j (m,)` as states `(19, m)` for `settle`, each seen from `from_m (3, m)`, which
    lies over `row`, `col`."""
    state = np.zeros((19, len(i)))
    middle = i.astype(np.float64) + 0.5, j.astype(np.float64) + 0.5
    x, y = frame_xy(grid, *middle)
    at = steps(grid, *middle)
    z00, z01, z10, z11 = corners(grid, i, j)
    state[_AX] = x - 0.5 * (at.row_x + at.col_x) - from_m[0]
    state[_AY] = y - 0.5 * (at.row_y + at.col_y) - from_m[1]
    state[_UX], state[_UY], state[_VX], state[_VY] = at.col_x, at.col_y, at.row_x, at.row_y
    state[_HEIGHT] = z00 - from_m[2], z01 - z00, z10 - z00, z00 - z01 - z10 + z11
    state[_U1], state[_V1] = 1.0, 1.0
    u = np.clip(col - j, 0.0, 1.0)
    v = np.clip(row - i, 0.0, 1.0)
    state[_W] = _height(state, u, v)
    return state


def _height(state: Array, u: Array, v: Array) -> Array:
    h0, hu, hv, t = state[_HEIGHT]
    return np.asarray(h0 + u * hu + v * (hv + u * t))


def flattened(state: Array) -> Array:
    """The same pieces at the height of their point: their distance is the level distance."""
    state[_HEIGHT] = 0.0
    state[_W] = 0.0
    return state


def settle(state: Array, point: Index, reach: Array, foot_m: Array | None = None) -> None:
    """Lower `reach (n,)` to the least distance to the pieces, each of its `point (m,)`; the level
    way `(n, 2)` there into `foot_m`, where a piece has it. Ground so rough that the pieces do not
    stop growing in number (metres up and down within a cell of decimetres) gets, for what is left,
    the bound below the distance: never too far."""
    tries, most, cuts = 0, MOST_TIMES * len(point) + MOST_PIECES, 0
    while len(point):
        u, v, way = _least(state)
        level2 = way[0] ** 2 + way[1] ** 2
        w = state[_W]
        h = _height(state, u, v)
        away = np.sqrt(level2 + h * h)
        np.minimum.at(reach, point, away)
        if foot_m is not None:
            best = away <= reach[point] + TOLERANCE_M
            foot_m[point[best]] = way[:, best].T
        bound2 = level2 + w * (2.0 * h - w)
        spare = reach[point] - TOLERANCE_M
        keep = (spare > 0.0) & (bound2 < spare * spare)
        state, point, u, v, h = state[:, keep], point[keep], u[keep], v[keep], h[keep]
        if tries < TRIES:
            _next_w(state, h, tries)
            tries += 1
        elif 4 * len(point) > most or cuts == MOST_CUTS:
            np.minimum.at(reach, point, np.sqrt(np.maximum(bound2[keep], 0.0)))
            return
        else:
            cuts += 1
            tries, point, state = 0, np.tile(point, 4), _quartered(state, u, v)


def _least(state: Array) -> tuple[Array, Array, Array]:
    """Where (1) is least on each rectangle: u, v, and the level way `(2, m)` there."""
    ax, ay, ux, uy, vx, vy, _, hu, hv, t, u0, u1, v0, v1, w = state[: _W + 1]
    gu, gv = ax * ux + ay * uy + w * hu, ax * vx + ay * vy + w * hv
    guu, gvv, guv = ux * ux + uy * uy, vx * vx + vy * vy, ux * vx + uy * vy + w * t
    det = guu * gvv - guv * guv
    convex = det > 0.0
    det = np.where(convex, det, 1.0)
    u, v = (gv * guv - gu * gvv) / det, (gu * guv - gv * guu) / det
    inside = convex & (u >= u0) & (u <= u1) & (v >= v0) & (v <= v1)
    best = np.where(inside, -np.inf, np.inf)
    for edge in (u0, u1):
        along = np.minimum(np.maximum(-(gv + guv * edge) / gvv, v0), v1)
        value = edge * (2.0 * gu + guu * edge) + along * (2.0 * (gv + guv * edge) + gvv * along)
        better = value < best
        best, u, v = (
            np.where(better, value, best),
            np.where(better, edge, u),
            np.where(better, along, v),
        )
    for edge in (v0, v1):
        along = np.minimum(np.maximum(-(gu + guv * edge) / guu, u0), u1)
        value = edge * (2.0 * gv + gvv * edge) + along * (2.0 * (gu + guv * edge) + guu * along)
        better = value < best
        best, u, v = (
            np.where(better, value, best),
            np.where(better, along, u),
            np.where(better, edge, v),
        )
    return u, v, np.stack([ax + u * ux + v * vx, ay + u * uy + v * vy])


def _next_w(state: Array, h: Array, tries: int) -> None:
    """Move w towards where h(w) = w, by false position (Illinois): h never rises with w, so that
    the first w and its h already enclose it."""
    w, last_w, last_gap, other_w, other_gap = state[_W:].copy()
    gap = h - w
    if tries == 0:
        state[_W] = h
    else:
        across = (gap * last_gap < 0.0) | (tries == 1)
        other_w = np.where(across, last_w, other_w)
        other_gap = np.where(across, last_gap, 0.5 * other_gap)
        state[_W] = w - gap * (w - other_w) / (gap - other_gap)
    state[_LAST_W:] = w, gap, other_w, other_gap


def _quartered(state: Array, u: Array, v: Array) -> Array:
    """The pieces in four, each to be tried first with h where the whole was least."""
    middle_u, middle_v = 0.5 * (state[_U0] + state[_U1]), 0.5 * (state[_V0] + state[_V1])
    parts = []
    for cut_u in (_U1, _U0):
        for cut_v in (_V1, _V0):
            part = state.copy()
            part[cut_u], part[cut_v] = middle_u, middle_v
            near_u = np.clip(u, part[_U0], part[_U1])
            part[_W] = _height(part, near_u, np.clip(v, part[_V0], part[_V1]))
            parts.append(part)
    return np.concatenate(parts, axis=1)
