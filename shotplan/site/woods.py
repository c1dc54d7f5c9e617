"""Solids that follow the ground: woods, cut open along the ride, and the cells of any area."""

from __future__ import annotations

from collections.abc import Iterable
from typing import NamedTuple

import numpy as np

from shotplan.kernels.solids import footprints
from shotplan.kernels.solids.footprints import Outline
from shotplan.model.arrays import Array
from shotplan.site.solids import (
    Ground,
    Growth,
    Solids,
    in_doubt,
    inside_points,
    underside_m,
    walls,
)

WOOD_CELL_M = 5.0
ZONE_CELL_M = 10.0
LEAST_M = 1e-6  # a smaller growth is none
LEVEL_M = 1e-9


class Cut(NamedTuple):
    """How the ride opens a wood: along `path_m (k, 2)`, `clear_m` wide, up to `overhead_m` (+inf:
    open to the sky)."""

    path_m: Array
    clear_m: float
    overhead_m: float


def wood(
    outline: Outline,
    height_m: float,
    base_m: float,
    cut: Cut | None,
    ground: Ground,
    growth: Growth,
) -> Solids:
    """Cells whose top and underside follow the ground, cut open along the ride."""
    whole = footprints.grown(outline, growth.plan_m) if growth.plan_m > LEAST_M else (outline,)
    top_m, under_m = height_m + growth.up_m, underside_m(base_m, growth)
    half_m = cut.clear_m / 2.0 - growth.cut_m if cut else 0.0
    roof_m = cut.overhead_m - growth.cut_m if cut else np.inf
    closed: list[tuple[Outline, ...]] = []
    beneath: list[tuple[Outline, ...]] = []
    for part in whole:
        if cut is None or half_m <= 0.0:
            closed.append((part,))
            continue
        outside, inside = footprints.split_by_path(part, cut.path_m, half_m)
        closed.append(outside)
        beneath.append(inside)
    solids = [following(_flat(closed), under_m, top_m, WOOD_CELL_M, ground)]
    if max(roof_m, under_m) < top_m:
        solids.append(following(_flat(beneath), max(roof_m, under_m), top_m, WOOD_CELL_M, ground))
    return Solids(
        prisms=tuple(p for s in solids for p in s.prisms),
        doubtful=tuple(d for s in solids for d in s.doubtful),
    )


def _flat(groups: list[tuple[Outline, ...]]) -> list[Outline]:
    return [outline for group in groups for outline in group]


def following(
    outlines: Iterable[Outline], bottom_m: float, top_m: float, cell_m: float, ground: Ground
) -> Solids:
    """Prisms between two heights above the ground, cell by cell: from the lowest ground in the
    cell to the highest. On level ground the outlines stay whole."""
    listed = list(outlines)
    if not listed:
        return Solids()
    level = _level_m(listed, ground)
    if level is not None:
        corners = np.concatenate([_triangles(o) for o in listed])
        return Solids(prisms=(walls(corners, 0.0, level + bottom_m, level + top_m),))
    pieces = [_triangles(c) for outline in listed for c in footprints.cells(outline, cell_m)]
    if not pieces:
        return Solids()
    corners = np.concatenate(pieces)
    owner = np.repeat(np.arange(len(pieces)), [len(p) for p in pieces])
    z = ground(_lattices(pieces))
    known = np.isfinite(z)
    lowest = np.where(known, z, np.inf).min(axis=1)[owner]
    highest = np.where(known, z, -np.inf).max(axis=1)[owner]
    some, doubt = np.any(known, axis=1)[owner], ~np.all(known, axis=1)[owner]
    return Solids(
        prisms=(walls(corners[some], 0.0, lowest[some] + bottom_m, highest[some] + top_m),),
        doubtful=(in_doubt(corners[doubt], 0.0),),
    )


def _level_m(outlines: list[Outline], ground: Ground) -> float | None:
    """The elevation of ground that is level under all of it, else None."""
    for points_of in (lambda o: o[0], inside_points):  # corners first: they mostly tell
        z = ground(np.concatenate([points_of(o) for o in outlines]))
        if not np.isfinite(z).all() or float(np.ptp(z)) > LEVEL_M:
            return None
    return float(z[0])


def _triangles(outline: Outline) -> Array:
    """Triangles of an outline; the common convex cells without asking for a triangulation."""
    ring = outline[0]
    if len(outline) > 1 or len(ring) > 4 or not _convex(ring.tolist()):
        return footprints.triangles(outline)
    return ring[[[0, 1, 2], [0, 2, 3]] if len(ring) == 4 else [[0, 1, 2]]]


def _convex(ring: list[list[float]]) -> bool:
    """Whether a ring of three or four points turns one way only."""
    turns = []
    for k, (x, y) in enumerate(ring):
        (px, py), (nx, ny) = ring[k - 1], ring[(k + 1) % len(ring)]
        turns.append((x - px) * (ny - y) - (y - py) * (nx - x))
    return min(turns) >= 0.0 or max(turns) <= 0.0


def _lattices(pieces: list[Array]) -> Array:
    """`(cells, 36, 2)` points over each cell's extent."""
    low = np.array([p.min(axis=(0, 1)) for p in pieces])
    high = np.array([p.max(axis=(0, 1)) for p in pieces])
    share = np.stack(np.meshgrid(*[np.linspace(0.0, 1.0, 6)] * 2), axis=-1).reshape(-1, 2)
    return np.asarray(low[:, None] + share * (high - low)[:, None])
