"""Falls against an exact integration of the same equation."""

from __future__ import annotations

import numpy as np
import pytest

from tests import worlds

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
    got = worlds.level_fall(
        np.array([[vx, 0.0, 0.0]]), np.array([float(height)]), mass, cd * area, np.zeros(3)
    )
    assert got.xyz_m[0, 0] == pytest.approx(way, rel=0.005)
    assert got.speed_m_s[0] == pytest.approx(speed, rel=0.005)
    assert got.time_s[0] == pytest.approx(seconds, rel=0.005)


def test_without_drag_it_is_a_parabola() -> None:
    got = worlds.level_fall(np.array([[10.0, 0.0, 0.0]]), np.array([50.0]), 1.0, 0.0, np.zeros(3))
    # x = v sqrt(2 h / g): 31.93 m (physics.md section 7).
    assert got.xyz_m[0, 0] == pytest.approx(31.93, abs=0.01)


def test_a_wind_carries_it_and_rows_do_not_mix() -> None:
    v = np.array([[0.0, 0.0, 0.0], [8.0, 0.0, 0.0], [0.0, 0.0, 0.0]])
    h = np.array([30.0, 30.0, 0.0])
    both = worlds.level_fall(v, h, 0.249, 0.0135, np.array([0.0, 6.0, 0.0]))
    one = worlds.level_fall(v[1:2], h[1:2], 0.249, 0.0135, np.array([0.0, 6.0, 0.0]))
    assert both.xyz_m[0, 1] > 3.0
    np.testing.assert_array_equal(both.xyz_m[1], one.xyz_m[0])
    np.testing.assert_array_equal(both.xyz_m[2], [0.0, 0.0, 0.0])


def test_agrees_with_a_general_solver_over_a_grid() -> None:
    # scipy's solve_ivp (RK45, tight tolerances) as a second way to the same equation, with wind.
    from scipy.integrate import solve_ivp

    wind = np.array([3.0, -2.0, 0.0])
    for mass, drag_area, height, vx, vz in (
        (0.249, 0.0135, 12.0, 6.0, 2.0),
        (0.249, 0.0135, 80.0, 12.0, -3.0),
        (0.9, 0.027, 35.0, 0.0, 0.0),
        (0.9, 0.027, 150.0, 15.0, 4.0),
    ):

        def rate(_t: float, y: np.ndarray, area: float = drag_area, kg: float = mass) -> np.ndarray:
            rel = y[3:] - wind
            pull = -0.5 * 1.225 * area / kg * np.linalg.norm(rel) * rel
            return np.concatenate([y[3:], pull + np.array([0.0, 0.0, -9.80665])])

        def ground(_t: float, y: np.ndarray) -> float:
            return float(y[2])

        ground.terminal = True  # type: ignore[attr-defined]
        start = np.array([0.0, 0.0, height, vx, 0.0, vz])
        wanted = solve_ivp(rate, (0.0, 120.0), start, events=ground, rtol=1e-9, atol=1e-9)
        got = worlds.level_fall(
            np.array([[vx, 0.0, vz]]), np.array([height]), mass, drag_area, wind
        )
        np.testing.assert_allclose(got.xyz_m[0, :2], wanted.y[:2, -1], atol=0.02)
        assert got.time_s[0] == pytest.approx(wanted.t[-1], abs=2e-3)
