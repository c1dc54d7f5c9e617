"""Radio line of sight against ITU-R recommendations."""

from __future__ import annotations

import numpy as np
import pytest

from shotplan.kernels.light import radio


@pytest.mark.parametrize(
    ("mhz", "metres", "radius"),
    # ITU-R P.526 §2 (exact form), mid-path; reference/rules.md section 8, physics.md section 8.
    [
        (2400, 50, 1.250),
        (2400, 100, 1.767),
        (2400, 200, 2.499),
        (2400, 500, 3.951),
        (2400, 1000, 5.588),
        (5800, 1000, 3.60),
        (5800, 500, 2.54),
    ],
)
def test_first_fresnel_radius(mhz: float, metres: float, radius: float) -> None:
    half = np.array(metres / 2.0)
    assert float(radio.fresnel_radius_m(half, half, mhz)) == pytest.approx(radius, abs=6e-3)


@pytest.mark.parametrize(
    ("nu", "loss"),
    # ITU-R P.526 §4.1 J(ν) (formula from memory, high confidence); physics.md section 8.
    [
        (-0.78, 0.0),
        (-0.5, 1.96),
        (0.0, 6.03),
        (0.5, 10.29),
        (1.0, 13.93),
        (2.0, 19.04),
        (2.4, 20.54),
        (3.0, 22.42),
    ],
)
def test_knife_edge(nu: float, loss: float) -> None:
    assert float(radio.knife_edge_db(np.array(nu))) == pytest.approx(loss, abs=0.01)


@pytest.mark.parametrize(("mhz", "nu", "loss"), [(2400, 0.924, 13.4), (5800, 1.437, 16.5)])
def test_ridge_two_metres_above_the_line(mhz: float, nu: float, loss: float) -> None:
    # physics.md section 8: ridge 2 m above the line, 100 m and 300 m away.
    got = radio.edge_parameter(np.array(2.0), np.array(100.0), np.array(300.0), mhz)
    assert float(got) == pytest.approx(nu, abs=2e-3)
    assert float(radio.knife_edge_db(got)) == pytest.approx(loss, abs=0.05)


# 2.4 GHz, 5.8 GHz: ITU-R P.525, exact form 20 lg(4 pi d f / c); physics.md section 8.
@pytest.mark.parametrize(("at_500_m", "at_1000_m"), [(94.03, 100.05), (101.70, 107.72)])
def test_free_space(at_500_m: float, at_1000_m: float) -> None:
    spare = radio.spare_db(1000.0, np.array([500.0]), np.zeros(1))
    assert float(spare[0]) == pytest.approx(at_1000_m - at_500_m, abs=0.01)


def test_foliage() -> None:
    # Weissberger: 2.4 GHz through 20 m of leaves 9.9 dB (physics.md section 8, high confidence).
    assert float(radio.foliage_db(np.array(20.0), 2400)) == pytest.approx(9.9, abs=0.05)
    ends = radio.foliage_db(np.array([14.0, 14.0 + 1e-9]), 2400)
    assert abs(ends[0] - ends[1]) < 0.4


@pytest.mark.parametrize(("mhz", "loss"), [(2400, 13.4), (5800, 16.5)])
def test_the_ridge_is_the_worst_edge_of_its_profile(mhz: float, loss: float) -> None:
    # The same ridge (physics.md section 8) in a profile that is well clear elsewhere.
    d1 = np.linspace(1.0, 399.0, 399)[None]
    above = np.where(np.abs(d1 - 100.0) < 0.5, 2.0, -50.0)
    edge = radio.worst_edge(above, d1, 400.0 - d1, mhz)
    assert float(edge.loss_db[0]) == pytest.approx(loss, abs=0.05)
    assert d1[0, edge.which[0]] == 100.0
    assert not edge.unknown[0]


def test_a_profile_that_is_clear_or_not_known() -> None:
    d1 = np.array([[10.0, 20.0, 30.0]])
    clear = radio.worst_edge(np.full((1, 3), -np.inf), d1, 40.0 - d1, 2400)
    assert (clear.loss_db[0], clear.which[0], clear.unknown[0]) == (0.0, -1, False)
    gap = radio.worst_edge(np.array([[-9.0, np.nan, -9.0]]), d1, 40.0 - d1, 2400)
    assert gap.unknown[0]


@pytest.mark.parametrize("loss", [0.5, 6.0, 13.4, 20.0])
def test_the_edge_that_may_be_is_the_one_that_costs_so_much(loss: float) -> None:
    nu = radio.edge_limit(loss)
    assert float(radio.knife_edge_db(np.array(nu))) == pytest.approx(loss, abs=1e-6)
    assert radio.edge_limit(-1.0) == -0.78


def test_half_the_range_is_six_decibels() -> None:
    # Free space goes with the distance squared (ITU-R P.525): 20 lg 2 = 6.02 dB.
    spare = radio.spare_db(1000.0, np.array([500.0, 1000.0, 2000.0]), np.zeros(3))
    np.testing.assert_allclose(spare, [6.0206, 0.0, -6.0206], atol=1e-4)
