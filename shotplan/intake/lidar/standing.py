"""Bodies in which every return stands: roofs, closed woods, single trees, and what is left over.

What a body is made of is what a site makes of it: a tree is a cylinder over the ground under its
trunk, a wood follows the ground, a building is flat at its ridge, over the highest ground under it.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Literal, NamedTuple

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy import ndimage

from shotplan.intake.lidar import crowns, outlines
from shotplan.model.arrays import Array, Bools

ROOFS = (6, 17)  # classes of the LAS specification: building, bridge deck
ROOF_STEP_M = 2.0  # a roof that steps by more is two
LEAST_ROOF_CELLS, LEAST_ROOF_M2 = 12, 4.0
TREE_FROM_M = 3.0
WOOD_STEP_M, WOOD_ABOUT, LEAST_BAND_CELLS = 4.0, 7, 80
REST_STEP_M, REST_ABOUT, LEAST_REST_CELLS = 2.0, 3, 6
WIDE = 2.5  # a circle so many times as large as its cells stands for too little
SMALL_M, THIN_M, POLE_FROM_M, LEAST_RADIUS_M = 1.5, 0.5, 2.5, 0.28
CROWN_FROM, CROWN_RETURNS, LEAST_BASE_M = 10.0, 20, 2.0
UP_M = 0.02  # what rounding may take away
ASKED_M = 0.71  # a wood asks its ground at points of which one is so near

Role = Literal["tree", "wood", "building", "pole"]


class Returns(NamedTuple):
    """What may stand there: `xyz_m (n, 3)` metres east, south and up, `over_m (n,)` above the
    ground there, `kind (n,)` classes of the LAS specification, `cell (n,)` of the raster `shape`
    with cells `cell_m` wide."""

    xyz_m: NDArray[np.float32]
    over_m: Array
    kind: NDArray[np.uint8]
    cell: NDArray[np.intp]
    shape: tuple[int, int]
    cell_m: float

    def only(self, which: Bools) -> Returns:
        """Some of them."""
        return self._replace(
            xyz_m=self.xyz_m[which], over_m=self.over_m[which], kind=self.kind[which],
            cell=self.cell[which],
        )  # fmt: skip

    def highest(self) -> Array:
        """`(rows, cols)` the greatest height in each cell, 0 where there is none."""
        top = np.zeros(self.shape)
        np.maximum.at(top.ravel(), self.cell, self.over_m)
        return top


class Body(NamedTuple):
    """One thing; `shape` a point or an outline, metres east and south."""

    role: Role
    shape: shapely.Point | shapely.Polygon
    height_m: float
    radius_m: float = 0.0
    base_m: float = 0.0


class Stands(NamedTuple):
    """`outside`: how many of the returns stand in none of the bodies."""

    bodies: tuple[Body, ...]
    outside: int


class On(NamedTuple):
    """What they stand on: places `(n, 2)` -> the ground there `(n,)`, with guesses where it is not
    known, and with NaN there; `per_m2`: how many returns there are on a square metre."""

    under: Callable[[Array], Array]
    surely: Callable[[Array], Array]
    per_m2: float


def standing(returns: Returns, on: On) -> Stands:
    """Bodies for all returns."""
    bodies: list[Body] = []
    rest = returns
    for find in (_roofs, _woods, _trees, _left):
        found, held = find(rest, on)
        bodies += found
        rest = rest.only(~held)
    return Stands(tuple(bodies), len(rest.over_m))


def all_woods(returns: Returns, on: On) -> tuple[Body, ...]:
    """The same of cells too wide to show single trees: nothing but woods."""
    height = returns.highest()
    pieces = crowns.bands(height, height > 0.0, WOOD_STEP_M, REST_ABOUT, LEAST_REST_CELLS)
    return tuple(_as_woods(returns, pieces, pieces.ravel()[returns.cell], on))


Found = tuple[list[Body], Bools]  # bodies, and which of the returns stand in them


def _up(height_m: float, by_m: float = UP_M) -> float:
    """A height that does not lose anything when it is written with one hundredth."""
    return float(np.ceil((max(height_m, 0.1) + by_m) * 100.0) / 100.0)


def _groups(owner: NDArray[np.intp], count: int) -> Iterator[tuple[int, NDArray[np.intp]]]:
    """Owner (from 1) and which are its."""
    order = np.argsort(owner, kind="stable")
    ends = np.searchsorted(owner[order], np.arange(1, count + 2))
    for label in range(1, count + 1):
        mine = order[ends[label - 1] : ends[label]]
        if len(mine):
            yield label, mine


def _roofs(returns: Returns, on: On) -> Found:
    mine = np.isin(returns.kind, ROOFS)
    held = np.zeros(len(mine), dtype=bool)
    if not mine.any():
        return [], held
    roof = returns.only(mine)
    pieces = _roof_pieces(roof)
    owner = pieces.ravel()[roof.cell]
    fine_m = max(0.5 * returns.cell_m, min(returns.cell_m, 1.5 / np.sqrt(max(on.per_m2, 0.1))))
    bodies, shapes = [], []
    for _, which in _groups(owner, int(pieces.max())):
        outline = outlines.roof(roof.xyz_m[which, :2].astype(float), fine_m)
        if outline.area < LEAST_ROOF_M2:
            continue
        corners = shapely.get_coordinates(outline)
        sure = on.surely(corners)
        foot = float(np.nanmax(sure if np.isfinite(sure).any() else on.under(corners)))
        ridge = float(roof.xyz_m[which, 2].max())
        shapes.append((outline.buffer(-UP_M), _up(ridge - foot) + foot))
        bodies.append(Body("building", outline, _up(ridge - foot)))
    if shapes:
        held = _inside(returns, shapes)
    return bodies, held


def _roof_pieces(roof: Returns) -> NDArray[np.intp]:
    """Cells of roofs that hang together without a step; small pieces go to the next large one."""
    top = np.full(roof.shape, -np.inf)
    np.maximum.at(top.ravel(), roof.cell, roof.xyz_m[:, 2].astype(float))
    has = np.isfinite(top)
    gaps = ndimage.binary_closing(has, crowns.EIGHT) & ~has
    top[gaps] = ndimage.maximum_filter(top, 3)[gaps]
    has |= gaps
    whole = crowns.joined(has.astype(np.intp))
    pieces = crowns.joined(whole, np.where(has, top, 0.0), ROOF_STEP_M)
    large = (np.bincount(pieces.ravel())[pieces] >= LEAST_ROOF_CELLS) & has
    if not large.any():
        return whole
    nearest = tuple(ndimage.distance_transform_edt(~large, return_indices=True)[1])
    same = (whole[nearest] == whole) & has
    own = np.where(large, pieces, np.where(same, pieces[nearest], pieces.max() + whole))
    return np.unique(np.where(has, own, 0), return_inverse=True)[1].reshape(roof.shape)


def _inside(returns: Returns, shapes: list[tuple[shapely.Polygon, float]]) -> Bools:
    """Which returns stand in prisms: outline and elevation of the top."""
    near = np.zeros(returns.shape, dtype=bool)
    for outline, _ in shapes:
        west, north, east, south = np.array(outline.bounds) / returns.cell_m
        near[max(int(north) - 1, 0) : int(south) + 2, max(int(west) - 1, 0) : int(east) + 2] = True
    some = np.flatnonzero(near.ravel()[returns.cell])
    x, y, z = returns.xyz_m[some].astype(float).T
    held = np.zeros(len(returns.cell), dtype=bool)
    for outline, top in shapes:
        west, north, east, south = outline.bounds
        here = (x >= west) & (x <= east) & (y >= north) & (y <= south) & (z <= top)
        shapely.prepare(outline)
        here[here] = shapely.contains_xy(outline, x[here], y[here])
        held[some[here]] = True
    return held


def _woods(returns: Returns, on: On) -> Found:
    area = crowns.closed_canopy(returns.highest(), returns.cell_m)
    pieces = crowns.bands(returns.highest(), area, WOOD_STEP_M, WOOD_ABOUT, LEAST_BAND_CELLS)
    owner = pieces.ravel()[returns.cell]
    return _as_woods(returns, pieces, owner, on), owner > 0


def _as_woods(
    returns: Returns, pieces: NDArray[np.intp], owner: NDArray[np.intp], on: On
) -> list[Body]:
    """An outline round the cells of each piece, as high as its highest return is over the lowest
    ground that a wood may ask for it."""
    drawn = outlines.of_cells(pieces, returns.cell_m)
    tops = np.zeros(pieces.max() + 1)
    mine = np.flatnonzero(owner > 0)
    xy = returns.xyz_m[mine, :2].astype(float)
    low = np.full(len(mine), np.inf)
    for turn in np.arange(8) * np.pi / 4.0:
        off = ASKED_M * np.array([np.cos(turn), np.sin(turn)])
        low = np.minimum(low, on.under(xy + off))
    over = np.maximum(returns.xyz_m[mine, 2] - low, returns.over_m[mine])
    np.maximum.at(tops, owner[mine], over)
    return [
        Body("wood", outline, _up(float(tops[label])))
        for label, outline in drawn.items()
        if tops[label] > 0.0
    ]


def _trees(returns: Returns, on: On) -> Found:
    height = returns.highest()
    top = crowns.tops(height, returns.cell_m, TREE_FROM_M)
    if not top.any():
        return [], np.zeros(len(returns.cell), dtype=bool)
    pieces = crowns.crowns(height, top)
    owner = pieces.ravel()[returns.cell]
    mine = np.flatnonzero(owner > 0)
    labels, index = np.unique(owner[mine], return_inverse=True)
    area = np.bincount(pieces.ravel(), minlength=labels.max() + 1)[labels] * returns.cell_m**2
    tallest = ndimage.maximum(returns.over_m[mine], index, np.arange(len(labels)))
    found = outlines.circles(returns.xyz_m[mine, :2].astype(float), index, len(labels))
    fits = np.pi * found.radius_m**2 <= WIDE * area
    fits |= found.radius_m <= 0.5 * crowns.crown_width_m(np.asarray(tallest)) + 0.5
    over = returns.xyz_m[mine, 2] - on.under(found.xy_m)[index]
    stands = fits[index] & (over >= 0.0)  # downhill of a trunk the ground may lie lower than its
    held = np.zeros(len(returns.cell), dtype=bool)
    held[mine[stands]] = True
    index, over = index[stands], over[stands]
    bodies = [
        _upright(found.xy_m[label - 1], found.radius_m[label - 1], over[which], on.per_m2)
        for label, which in _groups(index + 1, len(labels))
    ]
    return bodies, held


def _upright(xy_m: Array, radius_m: float, over_m: Array, per_m2: float) -> Body:
    """A pole or a tree; `over_m (k,)`: its returns over the ground under its foot."""
    high = float(over_m.max())
    if radius_m <= THIN_M and high >= POLE_FROM_M:
        return Body("pole", shapely.Point(xy_m), _up(high), _up(max(radius_m, LEAST_RADIUS_M)))
    base_m = 0.0
    if per_m2 >= CROWN_FROM and len(over_m) >= CROWN_RETURNS:
        lowest = float(np.floor(10.0 * over_m.min()) / 10.0)
        base_m = lowest if lowest >= LEAST_BASE_M else 0.0
    radius = _up(max(radius_m, LEAST_RADIUS_M))
    return Body("tree", shapely.Point(xy_m), _up(high), radius, base_m)


def _left(returns: Returns, on: On) -> Found:
    """Hedges, bushes, posts: what is in no crown and under no roof."""
    held = np.ones(len(returns.cell), dtype=bool)
    if not len(held):
        return [], held
    height = returns.highest()
    area = height > 0.0
    pieces = crowns.bands(height, area, REST_STEP_M, REST_ABOUT, LEAST_REST_CELLS)
    owner = pieces.ravel()[returns.cell]
    count = int(pieces.max())
    cells = np.bincount(pieces.ravel(), minlength=count + 1)[1:]
    found = outlines.circles(returns.xyz_m[:, :2].astype(float), owner - 1, count)
    wide = np.pi * found.radius_m**2 > WIDE * cells * returns.cell_m**2
    wide &= found.radius_m > SMALL_M
    over = returns.xyz_m[:, 2] - on.under(found.xy_m)[owner - 1]
    wide |= np.asarray(ndimage.minimum(over, owner, np.arange(1, count + 1))) < 0.0
    bodies = []
    for label, which in _groups(owner, count):
        if wide[label - 1]:
            continue
        xy, radius = found.xy_m[label - 1], float(found.radius_m[label - 1])
        bodies.append(_upright(xy, radius, over[which], 0.0))
    large = np.where(np.append(False, wide)[pieces], pieces, 0)
    return bodies + _as_woods(returns, large, np.where(wide[owner - 1], owner, 0), on), held
