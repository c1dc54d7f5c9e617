"""Regions: how far points and hulls are from them, what is swept, points spread over them."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from shotplan.kernels.solids.footprints import Region, hulls_to_m, inside_m, reach, spread, swept

SQUARE = Region((np.array([[0.0, 0.0], [10.0, 0.0], [10.0, 10.0], [0.0, 10.0]]),), True)
LINE = Region((np.array([[0.0, 0.0], [10.0, 0.0]]), np.array([[0.0, 30.0]])), False)


def test_reach_is_negative_inside_and_says_where() -> None:
    found = reach(SQUARE, np.array([[[5.0, 2.0], [5.0, -3.0]], [[14.0, 13.0], [10.0, 5.0]]]))
    np.testing.assert_allclose(found.distance_m, [[-2.0, 3.0], [5.0, 0.0]])
    np.testing.assert_allclose(found.at_m, [[[5.0, 0.0], [5.0, 0.0]], [[10.0, 10.0], [10.0, 5.0]]])
    found = reach(LINE, np.array([[5.0, 4.0], [3.0, 26.0]]))
    np.testing.assert_allclose(found.distance_m, [4.0, 5.0])


def test_hulls_touch_at_nought_and_leave_out_what_is_not_known() -> None:
    nan = np.nan
    hulls = np.array(
        [
            [[20.0, 0.0], [20.0, 10.0], [15.0, 5.0]],
            [[-5.0, 5.0], [15.0, 5.0], [5.0, 40.0]],
            [[20.0, 5.0], [nan, nan], [nan, 0.0]],
            [[nan, nan], [nan, nan], [nan, nan]],
        ]
    )
    np.testing.assert_allclose(hulls_to_m(hulls, SQUARE), [5.0, 0.0, 10.0, nan])
    np.testing.assert_allclose(hulls_to_m(hulls, SQUARE, 0.0), [5.0, 0.0, 10.0, nan])


@settings(max_examples=30, deadline=None)
@given(st.integers(0, 10_000))
def test_hulls_are_as_near_as_the_nearest_of_many_points_in_them(seed: int) -> None:
    random = np.random.default_rng(seed)
    corners = random.uniform(-30.0, 30.0, (1, 5, 2))
    shares = random.dirichlet(np.full(5, 0.3), 4000)
    least = np.maximum(reach(SQUARE, shares @ corners[0]).distance_m, 0.0).min()
    found = hulls_to_m(corners, SQUARE)[0]
    assert found <= least + 1e-9
    assert found == pytest.approx(least, abs=2.0)
    enough = random.uniform(0.0, 20.0)
    quick = hulls_to_m(corners, SQUARE, enough)[0]
    assert quick == found if found < enough else enough <= quick <= found + 1e-9


def test_what_is_swept_round_a_ring_leaves_the_middle_free() -> None:
    turn = np.linspace(0.0, 2.0 * np.pi, 60)
    ring = 20.0 * np.stack([np.cos(turn), np.sin(turn)], axis=1)
    points = ring[:, None] + np.array([[1.0, 0.0], [0.0, 1.0], [-1.0, -1.0]])
    points[30, 0] = np.nan
    rings = swept(points, 0.5)
    middle, on = np.zeros((1, 2)), np.array([[20.0, 0.0], [0.0, -20.0], [14.0, 14.0]])
    assert len(rings) == 2
    assert all(inside_m((r,), middle)[0] < -15.0 for r in rings)
    assert (np.max([inside_m((r,), on) for r in rings], axis=0) > 0.1).all()
    assert swept(np.full((3, 2, 2), np.nan), 0.5) == ()


@pytest.mark.parametrize("region", [SQUARE, LINE])
def test_spread_leaves_no_gap(region: Region) -> None:
    points = spread(region, 1.0)
    assert (np.abs(reach(region, points).distance_m) <= (5.0 if region.filled else 1e-9)).all()
    x = np.random.default_rng(1).uniform(0.0, 10.0, (200, 2))
    tried = x if region.filled else x * [1.0, 0.0]
    gap = np.hypot(*np.moveaxis(tried[:, None] - points[None], -1, 0)).min(axis=1)
    assert gap.max() <= 1.0
    large = Region((SQUARE.parts[0] * 1000.0,), True)
    assert len(spread(large, 1.0)) < 6000
