"""Power and air density against their papers and the standard atmosphere."""

from __future__ import annotations

import numpy as np
import pytest

from shotplan.kernels.motion import power


def test_zeng_power_curve() -> None:
    # Zeng, Xu and Zhang 2019, IEEE TWC 18(4), Table I and eq. (12); values recomputed
    # (reference/physics.md section 3.4). The tolerance covers the rounding of v0 = 4.03 m/s.
    speeds = np.array([0.0, 5.0, 10.0, 15.0, 20.0, 25.0, 30.0])
    wanted = [168.484, 143.608, 126.029, 138.543, 178.296, 248.952, 356.284]
    np.testing.assert_allclose(power.level_flight_w(speeds, power.PAPER), wanted, atol=0.05)
    assert power.PAPER.blade_w == pytest.approx(79.8563, abs=1e-4)
    assert power.PAPER.induced_w == pytest.approx(88.6279, abs=1e-4)


def test_zeng_best_speeds() -> None:
    # Same source: endurance speed 10.21 m/s (126.00 W), range speed 18.30 m/s (8.829 J/m);
    # the paper's own figures read 10.2 and 18.3.
    v = np.arange(0.5, 30.0, 0.01)
    p = power.level_flight_w(v, power.PAPER)
    assert v[p.argmin()] == pytest.approx(10.21, abs=0.05)
    assert p.min() == pytest.approx(126.00, abs=0.05)
    assert v[(p / v).argmin()] == pytest.approx(18.30, abs=0.05)
    assert (p / v).min() == pytest.approx(8.829, abs=0.005)


def test_scaled_aircraft_hovers_at_its_own_power() -> None:
    mine = power.scaled(38.0, 0.249, 4 * np.pi * 0.06**2, power.SEA_LEVEL_KG_M3)
    assert float(power.level_flight_w(np.array(0.0), mine)) == pytest.approx(38.0, abs=1e-9)
    # Momentum theory: 0.249 kg on four rotors of 0.12 m: v0 = 4.69 m/s (physics.md 3.4).
    assert mine.induced_m_s == pytest.approx(4.69, abs=0.01)


@pytest.mark.parametrize(
    ("height", "density"),
    # ICAO Doc 7488 standard atmosphere, geopotential height.
    [
        (0, 1.22500),
        (500, 1.16727),
        (1000, 1.11164),
        (2000, 1.00649),
        (3000, 0.90912),
        (4000, 0.81913),
    ],
)
def test_standard_atmosphere(height: float, density: float) -> None:
    assert power.air_density_kg_m3(height) == pytest.approx(density, abs=2e-5)


def test_hover_power_grows_in_thin_air() -> None:
    # Hover power goes as density to the -1/2: x 1.1032 at 2,000 m (physics.md 2.6).
    thin = power.scaled(38.0, 0.249, 0.045, power.air_density_kg_m3(2000.0))
    assert float(power.level_flight_w(np.array(0.0), thin)) / 38.0 == pytest.approx(
        1.1032, abs=1e-3
    )


@pytest.mark.parametrize(("span", "rotor"), [(0.36, 0.12), (0.55, 0.19)])
def test_disc_area_from_the_span(span: float, rotor: float) -> None:
    # Four rotors of 0.12 m at 0.249 kg, of 0.19 m at 0.9 kg (physics.md 3.4; the spans beside them
    # are common practice): an estimate, good to a tenth.
    assert power.disc_area_m2(span) == pytest.approx(np.pi * rotor**2, rel=0.1)


def test_ideal_hover_power_by_momentum_theory() -> None:
    # (mg)^1.5 / sqrt(2 rho A): 0.249 kg on four rotors of 0.12 m 11.46 W (physics.md 3.4).
    weight = 0.249 * 9.80665
    ideal = weight**1.5 / (2.0 * power.SEA_LEVEL_KG_M3 * power.disc_area_m2(0.36)) ** 0.5
    assert ideal == pytest.approx(11.46, abs=0.02)
