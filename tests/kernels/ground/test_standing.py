from __future__ import annotations

import numpy as np
import pytest

from shotplan.kernels.ground import standing


def around(ground: object, radii: np.ndarray, at: tuple[float, float] = (0.0, 0.0)) -> np.ndarray:
    points = standing.rays(np.array(at), radii)
    return np.asarray(ground(points[..., 0], points[..., 1]))  # type: ignore[operator]


def test_rays_go_all_round_clockwise_from_north() -> None:
    points = standing.rays(np.array([10.0, 20.0]), np.array([1.0, 2.0]))
    assert points.shape == (standing.BEARINGS, 2, 2)
    np.testing.assert_allclose(points[0], [[10.0, 21.0], [10.0, 22.0]])
    np.testing.assert_allclose(points[standing.BEARINGS // 4], [[11.0, 20.0], [12.0, 20.0]])
    np.testing.assert_allclose(np.hypot(*(points[:, 1] - [10.0, 20.0]).T), 2.0)


@pytest.mark.parametrize("edge_m", [0.6, 3.1, 4.9, 7.6])
def test_the_drop_is_as_far_as_its_edge(edge_m: float) -> None:
    radii = np.arange(0.25, 20.0, 0.25)
    z = around(lambda x, _y: np.where(x > edge_m, 40.0, 50.0), radii)
    assert standing.drop_m(50.0, z, radii, 3.0) == pytest.approx(edge_m, abs=0.25)
    assert standing.drop_m(50.0, z, radii, 10.0) == np.inf
    assert standing.drop_m(42.0, z, radii, 3.0) == np.inf


def test_a_slope_is_a_drop_where_it_has_fallen_that_far() -> None:
    radii = np.arange(0.25, 20.0, 0.25)
    z = around(lambda x, _y: 50.0 - 0.5 * x, radii)
    assert standing.drop_m(50.0, z, radii, 3.0) == pytest.approx(6.25)


@pytest.mark.parametrize(("foot_m", "high_m"), [(12.0, 30.0), (40.0, 30.0), (3.0, 60.0)])
def test_a_face_is_as_far_as_its_foot_and_as_high_as_its_lip(foot_m: float, high_m: float) -> None:
    radii = np.arange(0.0, 101.0, 1.0)
    z = around(lambda x, _y: np.clip(10.0 * (x - foot_m), 0.0, high_m), radii)
    foot, high = standing.face(z, radii)
    assert foot == pytest.approx(foot_m, abs=1.0)
    assert high == pytest.approx(high_m, abs=0.5)


def test_a_hillside_is_no_face() -> None:
    radii = np.arange(0.0, 101.0, 1.0)
    z = around(lambda x, _y: 0.9 * x, radii)
    assert standing.face(z, radii) == (np.inf, 0.0)


def test_missing_ground_ends_a_face() -> None:
    radii = np.arange(0.0, 11.0, 1.0)
    z = np.broadcast_to(np.where(radii == 5.0, np.nan, 2.0 * radii), (3, len(radii)))
    assert standing.face(z, radii) == (0.0, 8.0)
