"""Upright prisms over rounded triangles (walls, roofs, woods, wire curtains, zones).

A footprint is a triangle grown by a radius: a corner repeated makes a thick line, three times a
disc. Every piece is convex.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from shotplan.kernels.columns import Near

Array = NDArray[np.float64]
Index = NDArray[np.intp]


class Prisms(NamedTuple):
    """`corners_m (m, 3, 2)`, `radius_m (m,)`, `bottom_m (m,)` (may be -inf), `top_m (m,)`."""

    corners_m: Array
    radius_m: Array
    bottom_m: Array
    top_m: Array


class PrismIndex(NamedTuple):
    """Prisms sorted into a cell grid; made once per site by `index`."""

    prisms: Prisms


def index(prisms: Prisms) -> PrismIndex:
    """Prepare prisms for `nearest`."""
    raise NotImplementedError


def nearest(index: PrismIndex, xyz_m: Array, enough_m: float = 200.0) -> Near:
    """Nearest prism to each of `xyz_m (n, 3)`; exact below `enough_m`, +inf beyond it."""
    raise NotImplementedError


def plan_distance(prisms: Prisms, xy_m: Array) -> Array:
    """Level distance `(n, m)` from `xy_m (n, 2)` to every footprint, 0 inside (small sets only)."""
    raise NotImplementedError


def first_cut(prisms: Prisms, start_m: Array, end_m: Array) -> tuple[Array, Index]:
    """Fraction `(n,)` at which rays `(n, 3)` -> `(n, 3)` first enter a prism (0 when they start
    inside one, +inf never), and which `(n,)` (-1 none)."""
    raise NotImplementedError
