"""Lengths of shadows: `h / tan e`."""

from __future__ import annotations

import numpy as np
import pytest

from shotplan.kernels.light import light

ROWS = [
    # physics reference 4.5 (computed): elevation of the sun, a rider of 1.8 m, a tree of 20 m.
    (5.0, 20.57, 228.6),
    (10.0, 10.21, 113.4),
    (20.0, 4.95, 54.95),
    (30.0, 3.12, 34.64),
    (45.0, 1.80, 20.0),
]


@pytest.mark.parametrize(("degrees", "rider_m", "tree_m"), ROWS)
def test_shadow_rows(degrees: float, rider_m: float, tree_m: float) -> None:
    elevation = np.array(np.radians(degrees))
    # Tolerances: half the last digit printed.
    assert float(light.shadow_m(np.array(1.8), elevation)) == pytest.approx(rider_m, abs=0.005)
    assert float(light.shadow_m(np.array(20.0), elevation)) == pytest.approx(tree_m, abs=0.05)


def test_a_sun_at_or_under_the_level_throws_no_shadow_that_ends() -> None:
    assert np.isposinf(light.shadow_m(np.array(1.8), np.radians(np.array([0.0, -3.0])))).all()
