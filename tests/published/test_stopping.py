"""Stopping and contingency distances against published worked examples."""

from __future__ import annotations

import numpy as np
import pytest

from shotplan.kernels.motion.sensing import contingency_m, overrun_m
from shotplan.units import GRAVITY_M_S2, MPH_M_S


def test_contingency_of_a_multirotor() -> None:
    # Published sizing of volumes (JARUS SORA 2.5 Annex A and a national guideline; rules.md
    # section 7): 10 m/s, 45° of tilt: 3 + 3 + 1 + 10 + 5.1 = 22.1 m.
    assert float(contingency_m(np.array(10.0), np.radians(45.0))) == pytest.approx(22.1, abs=0.01)


@pytest.mark.parametrize(
    ("speed", "tilt", "distance"),
    # Same formula, values computed in rules.md section 7.
    [(5, 30, 14.21), (8, 30, 20.65), (10, 30, 25.83), (10, 35, 24.28), (12, 30, 31.71),
     (15, 30, 41.86), (15, 45, 33.47)],
)  # fmt: skip
def test_contingency_rows(speed: float, tilt: float, distance: float) -> None:
    got = contingency_m(np.array(float(speed)), np.radians(tilt))
    assert float(got) == pytest.approx(distance, abs=0.01)


def test_a_bicycle_stops_as_the_handbook_says() -> None:
    # FHWA-HRT-04-103, Table 23: 20 mph, friction 0.25, 2.5 s to react: 38.7 m. The formula
    # there is V²/(254 f) + V/1.44, which rounds 2·g·3.6² to 254.
    speed = np.array(20.0 * MPH_M_S)
    assert float(overrun_m(speed, 2.5, 0.25 * GRAVITY_M_S2)) == pytest.approx(38.7, abs=0.05)


@pytest.mark.parametrize(
    ("speed", "react", "brake", "distance"),
    # v·t + v²/(2a), reference/physics.md section 3.2.
    [(10, 1.0, 5.0, 20.0), (15, 1.5, 4.0, 50.6), (8, 1.0, 3.0, 18.67)],
)
def test_overrun_rows(speed: float, react: float, brake: float, distance: float) -> None:
    got = overrun_m(np.array(float(speed)), react, brake)
    assert float(got) == pytest.approx(distance, abs=0.03)
