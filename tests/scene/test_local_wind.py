"""What is read at a place, and what the ground makes of a wind there, are the same."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from shotplan.model.arrays import Array
from shotplan.scene import local_wind
from tests import worlds


def ridges(x: Array, y: Array) -> Array:
    """Ground with edges and drops on every side."""
    steep = np.clip(x / 20.0, -1.0, 1.0) + np.clip((y - 30.0) / 8.0, -1.0, 1.0)
    return np.asarray(250.0 + 30.0 * steep + 8.0 * np.sin(x / 40.0))


def test_read_from_many_sides_at_once_as_from_each_alone(tmp_path: Path) -> None:
    spot = worlds.place("spot", east_m=25.0, north_m=40.0)
    site = worlds.staged(tmp_path, terrain=ridges, features=[spot]).site
    sides = [2.0 * np.pi * k / 16 for k in range(16)]
    many = local_wind.at_place(site, "spot", 2.0, sides, "II")
    there = site.places["spot"].xyz_m + np.array([0.0, 0.0, 2.0])
    for k, side in enumerate(sides):
        air = local_wind.air(site.terrain, there, np.array(2.0), side, "II")
        assert many.factor[k] == air.factor
        assert many.lee[k] == air.lee
    assert np.ptp(many.factor) > 0.3
    assert 0 < many.lee.sum() < 16
