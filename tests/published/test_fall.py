"""Falls against an exact integration of the same equation."""

from __future__ import annotations

import numpy as np
import pytest

from shotplan.kernels.fall import fall

# reference/physics.md section 7: ODE integrated by Runge-Kutta, rtol 1e-10.
ROWS = [
    # kg, Cd, A m2, height, vx -> way, speed, angle below level, seconds
    (90, 0.8, 0.36, 100, 28, 115.69, 44.38, 4.750),
    (0.9, 0.9, 0.03, 50, 10, 24.83, 21.21, 3.770),
    (0.249, 0.9, 0.015, 30, 8, 15.02, 15.97, 2.959),
    (0.9, 0.9, 0.03, 120, 15, 42.99, 22.92, 6.978),
    (4, 0.8, 0.1, 100, 18, 56.08, 26.98, 5.637),
]


@pytest.mark.parametrize("row", ROWS)
def test_rows_within_half_a_percent(row: tuple[float, ...]) -> None:
    mass, cd, area, height, vx, way, speed, seconds = row
    got = fall(np.array([[vx, 0.0, 0.0]]), np.array([float(height)]), mass, cd * area, np.zeros(3))
    assert got.offset_m[0, 0] == pytest.approx(way, rel=0.005)
    assert got.speed_m_s[0] == pytest.approx(speed, rel=0.005)
    assert got.time_s[0] == pytest.approx(seconds, rel=0.005)


def test_without_drag_it_is_a_parabola() -> None:
    got = fall(np.array([[10.0, 0.0, 0.0]]), np.array([50.0]), 1.0, 0.0, np.zeros(3))
    # x = v sqrt(2 h / g): 31.93 m (physics.md section 7).
    assert got.offset_m[0, 0] == pytest.approx(31.93, abs=0.01)


def test_a_wind_carries_it_and_rows_do_not_mix() -> None:
    v = np.array([[0.0, 0.0, 0.0], [8.0, 0.0, 0.0], [0.0, 0.0, 0.0]])
    h = np.array([30.0, 30.0, 0.0])
    both = fall(v, h, 0.249, 0.0135, np.array([0.0, 6.0, 0.0]))
    one = fall(v[1:2], h[1:2], 0.249, 0.0135, np.array([0.0, 6.0, 0.0]))
    assert both.offset_m[0, 1] > 3.0
    np.testing.assert_array_equal(both.offset_m[1], one.offset_m[0])
    np.testing.assert_array_equal(both.offset_m[2], [0.0, 0.0])
