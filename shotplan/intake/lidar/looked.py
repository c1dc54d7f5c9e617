"""Where a scan looked: a strip without any return looks exactly like a clearing."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import shapely
from scipy import ndimage

from shotplan.intake.lidar import outlines
from shotplan.intake.lidar.cloud import COARSE_M, Cloud, summed

LEAST_REACH_M = 2.0
SPACINGS = 3.0  # in a random scatter a disc so wide is empty once in 10¹² times


class Looked(NamedTuple):
    """`areas`: where it looked, in metres east and south, never more; `not_m2`: how much near the
    ride it did not."""

    areas: tuple[shapely.Polygon, ...]
    not_m2: float


def looked(cloud: Cloud, per_m2: float) -> Looked:
    """Near the ride all but round voids: discs without any return, as wide as chance does not
    make them."""
    times = round(COARSE_M / cloud.grid.cell_m)
    some = summed(cloud.hits, times) > 0.0
    within = summed(cloud.within, times) > 0.0
    reach_m = max(LEAST_REACH_M, SPACINGS / np.sqrt(max(per_m2, 1e-6)))
    empty = ndimage.distance_transform_edt(np.pad(~some, 1, constant_values=True))[1:-1, 1:-1]
    core = empty * COARSE_M > reach_m
    void = core
    if core.any():
        void = ndimage.distance_transform_edt(~core) * COARSE_M <= reach_m + COARSE_M
    seen = within & ~(void & ~some)
    areas = outlines.inside_cells(seen, COARSE_M)
    missed = float((within & ~seen).sum()) * COARSE_M**2
    return Looked(tuple(areas), missed)
