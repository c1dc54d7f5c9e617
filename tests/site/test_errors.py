"""Errors of many things asked together are those of each asked alone."""

from __future__ import annotations

import numpy as np
import pytest

from shotplan.kernels.solids.footprints import Region
from shotplan.site.errors import Errors, RideError

RNG = np.random.default_rng(4)


@pytest.mark.parametrize("levels", [(0.5,), (3.0, 6.0), (1.0, 2.0, 4.0)])
def test_many_together_are_as_each_alone(levels: tuple[float, ...]) -> None:
    steps = RNG.normal(size=(400, 2)) + 0.4
    ride = RideError(np.cumsum(steps, axis=0), RNG.choice(levels, len(steps)))
    spots = RNG.uniform(-50.0, 250.0, (300, 1, 2))
    spots[:20, 0] = ride.xy_m[:20]  # on the ride itself
    spots[20:40, 0] = 0.5 * (ride.xy_m[20:40] + ride.xy_m[21:41])  # as near to two places of it
    some = [
        Region((RNG.uniform(0.0, 100.0, (2, 2)),), filled=False),
        Region((np.array([(0.0, 0.0), (60.0, 0.0), (60.0, 60.0)]),), filled=True),
        Region((spots[50], spots[51]), filled=False),
    ]
    regions = [*(Region((spot,), filled=False) for spot in spots), *some]
    said = [None if k % 3 else 0.25 * k for k in range(len(regions))]
    errors = Errors(1.0, ride)
    each = [errors.grown_by_m(own, region) for own, region in zip(said, regions, strict=True)]
    slowly = [
        float(np.hypot(1.0 if own is None else own, ride.near_m(region)))
        for own, region in zip(said, regions, strict=True)
    ]
    together = errors.grown_by_each_m(list(zip(said, regions, strict=True)))
    assert together == each == slowly
