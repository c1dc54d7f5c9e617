"""The ground as a grid of posts: height under a point, nearest point of it, first cut of a ray.

This is the door; the work is in `posts` (what the surface is), `closest` (how near it is) and
`rays` (what hides behind it).
"""

from __future__ import annotations

from shotplan.kernels.ground.closest import Nearest, nearest
from shotplan.kernels.ground.posts import Grid, flat, make, monomials, sample
from shotplan.kernels.ground.rays import Cut, first_cut

__all__ = [
    "Cut",
    "Grid",
    "Nearest",
    "first_cut",
    "flat",
    "make",
    "monomials",
    "nearest",
    "sample",
]
