"""Solids as triangles to be looked at: upright columns, crowns, prisms, ribbons on the ground.

A mesh is `corners_m (m, 3, 3)`, seen from outside anticlockwise; which solid a triangle belongs to
comes along as an index.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from shotplan.kernels.solids.columns import Columns
from shotplan.kernels.solids.prisms import Prisms

Array = NDArray[np.float64]
Index = NDArray[np.intp]

ARC = 4  # pieces of each rounded corner
LOWEST_M = 200.0  # a solid without a lower end is drawn so far down

CYLINDER: Array = np.array([[0.0, 0.0], [1.0, 0.0], [1.0, 1.0], [0.0, 1.0]])
"""The outline of something turned on a lathe: `(k, 2)` share of the radius, share of the height."""

SKITTLE: Array = np.array([
    [0.0, 0.0], [0.55, 0.0], [0.8, 0.3], [1.0, 0.55], [0.95, 0.74], [0.4, 0.8], [0.36, 0.83],
    [0.52, 0.88], [0.52, 0.95], [0.34, 0.99], [0.0, 1.0],
])  # fmt: skip
"""A standing figure."""


def crown(bands: int) -> Array:
    """The outline of a crown rounded inside its column, which it touches on top, beneath and all
    round half-way up: a superellipse of degree 2.5."""
    angle = np.linspace(-0.5 * np.pi, 0.5 * np.pi, bands + 1)
    out = np.abs(np.cos(angle)) ** (2.0 / 2.5)
    up = np.sign(np.sin(angle)) * np.abs(np.sin(angle)) ** (2.0 / 2.5)
    out[[0, -1]] = 0.0
    return np.column_stack([out, 0.5 + 0.5 * up])


def turned(columns: Columns, outline: Array, sides: int) -> tuple[Array, Index]:
    """Columns as solids turned from an outline `(k, 2)`, with so many sides."""
    unit = _unit(outline, sides)
    bottom = np.maximum(columns.bottom_m, columns.top_m - LOWEST_M)
    scale = np.column_stack([columns.radius_m, columns.radius_m, columns.top_m - bottom])
    foot = np.column_stack([columns.xy_m, bottom])
    corners = foot[:, None, None] + scale[:, None, None] * unit
    owner = np.repeat(np.arange(len(columns.radius_m)), len(unit))
    return corners.reshape(-1, 3, 3), owner


def _unit(outline: Array, sides: int) -> Array:
    """Triangles `(m, 3, 3)` of a lathe of radius and height 1 on the origin."""
    turn = 2.0 * np.pi * np.arange(sides) / sides
    ring = np.column_stack([np.sin(turn), np.cos(turn), np.ones(sides)])
    levels = ring * np.column_stack([outline[:, 0], outline[:, 0], outline[:, 1]])[:, None]
    nxt = np.roll(levels, -1, axis=1)
    low, high, low_next, high_next = levels[:-1], levels[1:], nxt[:-1], nxt[1:]
    one, two = (
        np.stack([low, high, low_next], axis=2),
        np.stack([low_next, high, high_next], axis=2),
    )
    both = np.concatenate([one[outline[:-1, 0] > 0.0], two[outline[1:, 0] > 0.0]])
    return both.reshape(-1, 3, 3)


def walled(prisms: Prisms) -> tuple[Array, Index]:
    """Prisms as their walls, roofs and undersides. A wall that two prisms share is left out as far
    as both cover it."""
    found, owners = [], []
    bottom = np.maximum(prisms.bottom_m, prisms.top_m - LOWEST_M)
    for round_ in (False, True):
        mine = np.flatnonzero((prisms.radius_m > 0.0) == round_)
        if not len(mine):
            continue
        rings = _rounded(prisms, mine) if round_ else _turned_left(prisms.corners_m[mine])
        corners, owner = _prism(rings, bottom[mine], prisms.top_m[mine])
        found.append(corners)
        owners.append(mine[owner])
    if not found:
        return np.empty((0, 3, 3)), np.empty(0, dtype=np.intp)
    return np.concatenate(found), np.concatenate(owners)


def _turned_left(corners_m: Array) -> Array:
    side = corners_m[:, 1:] - corners_m[:, :1]
    turn = side[:, 0, 0] * side[:, 1, 1] - side[:, 0, 1] * side[:, 1, 0]
    return np.where((turn < 0.0)[:, None, None], corners_m[:, ::-1], corners_m)


def _prism(rings: Array, bottom: Array, top: Array) -> tuple[Array, Index]:
    """Rings `(m, k, 2)`, anticlockwise and convex, between two heights."""
    count, edges = rings.shape[:2]
    low, high = _lifted(rings, bottom), _lifted(rings, top)
    start, end = rings, np.roll(rings, -1, axis=1)
    foot = np.maximum(bottom[:, None], _covered(start, end, bottom, top))
    owner = np.repeat(np.arange(count), edges).reshape(count, edges)
    stands = foot < top[:, None]
    a, b = (np.concatenate([p, foot[..., None]], axis=-1)[stands] for p in (start, end))
    c, d = (_lifted(p, top)[stands] for p in (end, start))
    walls = np.concatenate([np.stack([a, b, c], axis=1), np.stack([a, c, d], axis=1)])
    fans = [
        np.stack([level[:, 0], level[:, k], level[:, k + 1]], axis=1)
        for level in (low[:, ::-1], high)
        for k in range(1, edges - 1)
    ]
    owners = [owner[stands]] * 2 + [np.arange(count)] * len(fans)
    return np.concatenate([walls, *fans]), np.concatenate(owners)


def _lifted(xy: Array, z: Array) -> Array:
    return np.concatenate([xy, np.broadcast_to(z[:, None, None], (*xy.shape[:2], 1))], axis=-1)


def _covered(start: Array, end: Array, bottom: Array, top: Array) -> Array:
    """`(m, k)` how high a neighbour's wall covers each wall from below; -inf none."""
    count, edges = start.shape[:2]
    here, there = (np.round(p.reshape(-1, 2), 3) for p in (start, end))
    own = np.concatenate([here, there], axis=1)
    keys, group = np.unique(
        np.concatenate([own, np.concatenate([there, here], axis=1)]), axis=0, return_inverse=True
    )
    group = group.reshape(-1)
    owner = np.repeat(np.arange(count), edges)
    by_key = np.full(len(keys), -1, dtype=np.intp)
    by_key[group[: len(own)]] = owner
    other = by_key[group[len(own) :]]
    fits = (other >= 0) & (other != owner)
    fits &= bottom[np.maximum(other, 0)] <= bottom[owner] + 0.5
    return np.where(fits, top[np.maximum(other, 0)], -np.inf).reshape(count, edges)


def _rounded(prisms: Prisms, mine: Index) -> Array:
    """`(m, k, 2)` outlines of triangles grown by their radius: arcs about the corners."""
    corners = _turned_left(prisms.corners_m[mine])
    side = np.roll(corners, -1, axis=1) - corners
    none = (side == 0.0).all(axis=2)
    normal = np.arctan2(-side[..., 0], side[..., 1])  # outward of a side that turns left
    for k in (0, 1, 2):
        before = np.where(none[:, k - 1], normal[:, k - 2] + np.pi, normal[:, k - 1])
        normal[:, k] = np.where(none[:, k], before + np.pi / 2.0, normal[:, k])
    normal[none.all(axis=1)] = 2.0 * np.pi * np.arange(3) / 3.0
    before = np.roll(normal, 1, axis=1)
    sweep = (normal - before) % (2.0 * np.pi)
    angle = before[..., None] + sweep[..., None] * np.linspace(0.0, 1.0, ARC + 1)
    out = np.stack([np.cos(angle), np.sin(angle)], axis=-1)
    ring = corners[:, :, None] + prisms.radius_m[mine][:, None, None, None] * out
    return np.asarray(ring.reshape(len(mine), -1, 2))


def ribbon(path_m: Array, width_m: float, lift_m: float) -> Array:
    """Triangles `(m, 3, 3)` of a band along a path `(k, 3)`, lifted off the ground."""
    ahead = np.gradient(path_m[:, :2], axis=0)
    length = np.maximum(np.hypot(ahead[:, 0], ahead[:, 1]), 1e-9)
    half = 0.5 * width_m * np.column_stack([-ahead[:, 1], ahead[:, 0]]) / length[:, None]
    left, right = path_m.copy(), path_m.copy()
    left[:, :2] += half
    right[:, :2] -= half
    for edge in (left, right):
        edge[:, 2] += lift_m
    one = np.stack([left[:-1], right[:-1], right[1:]], axis=1)
    two = np.stack([left[:-1], right[1:], left[1:]], axis=1)
    return np.concatenate([one, two])
