"""Outlines in plan: the only place that uses shapely.

An outline is a tuple of rings `(k, 2)` in frame metres: the outer one first, then holes; rings
are not closed (last point differs from the first).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Outline = tuple[Array, ...]


def inside_m(outline: Outline, xy_m: Array) -> Array:
    """Level distance inside the edge for `xy_m (..., 2)`: positive inside, negative outside."""
    raise NotImplementedError


def distance_to_path_m(path_m: Array, xy_m: Array) -> Array:
    """Level distance from `xy_m (..., 2)` to a point `(1, 2)` or line `(k, 2)`."""
    raise NotImplementedError


def triangles(outline: Outline) -> Array:
    """The outline as triangles `(m, 3, 2)` that cover it without overlap."""
    raise NotImplementedError


def grown(outline: Outline, by_m: float) -> tuple[Outline, ...]:
    """The outline with its edge moved out by `by_m` (round corners; in when negative), in parts."""
    raise NotImplementedError


def cells(outline: Outline, size_m: float) -> tuple[Outline, ...]:
    """The outline cut into pieces that each fit a `size_m` square of a fixed north-up raster."""
    raise NotImplementedError


def split_by_path(
    outline: Outline, path_m: Array, half_width_m: float
) -> tuple[tuple[Outline, ...], tuple[Outline, ...]]:
    """Parts outside and parts inside a strip `half_width_m` to each side of a path `(k, 2)`
    (square ends that reach half a width past the path's ends)."""
    raise NotImplementedError


def centroid(outline: Outline) -> tuple[float, float]:
    """Centre of area, in the outline's own coordinates."""
    raise NotImplementedError
