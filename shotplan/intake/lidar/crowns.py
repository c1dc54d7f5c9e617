"""Tops and crowns in a raster of heights above the ground.

A top is the highest cell within half a crown's width, as wide as crowns of its height mostly are
(Popescu and Wynne 2004, Photogrammetric Engineering & Remote Sensing 70(5): the fit for all trees,
2.51503 + 0.00901 h² in metres; quoted from memory). Crowns are what flows down from the tops.
These trees are names for bodies, no census: in a closed stand such tops miss half the stems.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

from shotplan.model.arrays import Array, Bools

WIDTH_M, WIDTH_PER_M = 2.51503, 0.00901
FITTED_TO_M = 50.0  # above that the fit says nothing
SMOOTH_CELLS = 0.7
CLOSED_FROM_M = 2.0  # leaves from that height up make a canopy
CLOSED_SHARE, ABOUT_CELLS = 0.7, 9  # of the cells about
LEAST_WOOD_M2 = 150.0
LABELS = NDArray[np.intp]
EIGHT = np.ones((3, 3), dtype=bool)


def crown_width_m(height_m: Array) -> Array:
    """How wide the crown of a tree of that height mostly is."""
    return np.asarray(WIDTH_M + WIDTH_PER_M * np.minimum(height_m, FITTED_TO_M) ** 2)


def tops(height_m: Array, cell_m: float, least_m: float) -> Bools:
    """Cells that are the highest within half a crown's width; `height_m (rows, cols)`, 0: none."""
    smooth = ndimage.gaussian_filter(height_m, SMOOTH_CELLS)
    highest = (smooth == ndimage.maximum_filter(smooth, size=3)) & (height_m >= least_m)
    row, col = np.nonzero(highest)
    reach = 0.5 * crown_width_m(height_m[row, col]) / cell_m
    most = int(np.ceil(reach.max(initial=1.0)))
    padded = np.pad(smooth, most)
    own, top = smooth[row, col], np.ones(len(row), dtype=bool)
    for south in range(-most, most + 1):
        for east in range(-most, most + 1):
            near = np.flatnonzero(top & (reach >= np.hypot(south, east)))
            other = padded[row[near] + most + south, col[near] + most + east]
            # Of two that are as high the first one counts.
            first = (south, east) < (0, 0)
            top[near] = (other < own[near]) | ((other == own[near]) & (not first))
    found = np.zeros(height_m.shape, dtype=bool)
    found[row[top], col[top]] = True
    return found


def crowns(height_m: Array, top: Bools, least_share: float = 0.3) -> LABELS:
    """`(rows, cols)` number of the top (from 1) that each cell belongs to, 0 none: cells that flow
    down from it, that hang together with it and are at least that share of its height."""
    marks, count = ndimage.label(top, EIGHT)
    marks = marks.astype(np.int32)
    high = height_m > 0.0
    marks[~high] = -1
    down = (65_535 - np.minimum(height_m * 100.0, 65_000.0)).astype(np.uint16)
    flows = ndimage.watershed_ift(down, marks, structure=np.ones((3, 3), dtype=int))
    flows = np.where(high, np.maximum(flows, 0), 0).astype(np.intp)
    tallest = np.append(
        0.0, np.atleast_1d(ndimage.maximum(height_m, marks, np.arange(1, count + 1)))
    )
    flows[height_m < least_share * tallest[flows]] = 0
    pieces = joined(flows)
    own = np.unique(pieces[top])
    return np.where(np.isin(pieces, own), flows, 0)


def joined(labels: LABELS, step_m: Array | None = None, least_m: float = 0.0) -> LABELS:
    """Neighbours (sides and corners) of the same label as pieces from 1; with `step_m` also of
    one label only where those values differ by no more than `least_m`."""
    index = np.arange(labels.size).reshape(labels.shape)
    one, other = [], []
    for a, b in (
        (np.s_[:, :-1], np.s_[:, 1:]), (np.s_[:-1, :], np.s_[1:, :]),
        (np.s_[:-1, :-1], np.s_[1:, 1:]), (np.s_[:-1, 1:], np.s_[1:, :-1]),
    ):  # fmt: skip
        same = (labels[a] == labels[b]) & (labels[a] > 0)
        if step_m is not None:
            same &= np.abs(step_m[a] - step_m[b]) <= least_m
        one.append(index[a][same])
        other.append(index[b][same])
    from_, to = np.concatenate(one), np.concatenate(other)
    links = coo_array((np.ones(len(from_), dtype=bool), (from_, to)), shape=(labels.size,) * 2)
    _, piece = connected_components(links, directed=False)
    some = labels.ravel() > 0
    found = np.zeros(labels.size, dtype=np.intp)
    found[some] = np.unique(piece[some], return_inverse=True)[1] + 1
    return found.reshape(labels.shape)


def closed_canopy(height_m: Array, cell_m: float) -> Bools:
    """Where crowns close: most cells about have leaves, over enough of an area."""
    padded = np.pad(height_m, ABOUT_CELLS, mode="edge")  # a wood goes on beyond the edge
    leaves = ndimage.binary_closing(padded >= CLOSED_FROM_M, EIGHT)
    cover = ndimage.uniform_filter(leaves.astype(float), ABOUT_CELLS)
    across = np.hypot(*np.mgrid[-2:3, -2:3]) < 2.5
    closed = ndimage.binary_opening(leaves & (cover >= CLOSED_SHARE), across)
    closed = ndimage.binary_dilation(closed, EIGHT) & leaves
    closed = closed[ABOUT_CELLS:-ABOUT_CELLS, ABOUT_CELLS:-ABOUT_CELLS]
    label, count = ndimage.label(closed, EIGHT)
    area = np.bincount(label.ravel(), minlength=count + 1) * cell_m**2
    area[0] = 0.0
    return np.asarray(area[label] >= LEAST_WOOD_M2)


def bands(height_m: Array, area: Bools, step_m: float, about: int, least_cells: int) -> LABELS:
    """`(rows, cols)` pieces of an area (from 1) that are about as high, so that one high tree does
    not raise a whole wood; smaller ones go to the nearest of the others."""
    top = ndimage.maximum_filter(np.where(area, height_m, 0.0), about)
    band = np.rint(ndimage.median_filter(top, about) / step_m).astype(np.intp) + 1
    pieces = joined(np.where(area, band, 0))
    whole = joined(area.astype(np.intp))
    size = np.bincount(pieces.ravel())
    large = (size[pieces] >= least_cells) & area
    if not large.any():
        return whole
    nearest = ndimage.distance_transform_edt(~large, return_indices=True)[1]
    moved = pieces[tuple(nearest)]
    # Only within what hangs together; what is small as a whole stays as it is.
    same = whole[tuple(nearest)] == whole
    return joined(np.where(area, np.where(large | ~same, _once(whole, pieces, large), moved), 0))


def _once(whole: LABELS, pieces: LABELS, large: Bools) -> LABELS:
    """Pieces where they are large; else one label for all of a whole."""
    return np.where(large, pieces, whole + pieces.max() + 1)
