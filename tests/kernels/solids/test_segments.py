"""The least along segments, against dense sampling and closed forms."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from shotplan.kernels.solids.segments import INSIDE_TOLERANCE_M, least_along

Array = NDArray[np.float64]


class Counted:
    """A distance that counts its evaluations."""

    def __init__(self, distance: Callable[[Array], Array]) -> None:
        self.distance, self.count = distance, 0

    def __call__(self, xyz_m: Array) -> Array:
        self.count += len(xyz_m)
        return self.distance(xyz_m)


def to_points(points_m: Array, radius_m: float = 0.0) -> Callable[[Array], Array]:
    """Distance to the nearest of balls, negative inside when there is one ball only."""

    def distance(xyz_m: Array) -> Array:
        away = np.sqrt(((xyz_m[:, None] - points_m) ** 2).sum(axis=-1)).min(axis=1)
        return np.asarray(away - radius_m)

    return distance


def above(level_m: float) -> Callable[[Array], Array]:
    """Signed distance to level ground."""
    return lambda xyz_m: np.asarray(xyz_m[:, 2] - level_m)


def sampled(distance: Callable[[Array], Array], start: Array, end: Array) -> Array:
    t = np.linspace(0.0, 1.0, 2001)[:, None]
    return np.array([distance(a + t * (b - a)).min() for a, b in zip(start, end, strict=True)])


@settings(max_examples=25, deadline=None)
@given(seed=st.integers(0, 100_000), radius_m=st.sampled_from([0.0, 0.7]))
def test_against_sampling(seed: int, radius_m: float) -> None:
    rng = np.random.default_rng(seed)
    distance = to_points(rng.uniform(-20.0, 20.0, (rng.integers(1, 40), 3)), radius_m)
    start, end = rng.uniform(-25.0, 25.0, (12, 3)), rng.uniform(-25.0, 25.0, (12, 3))
    least, at = least_along(distance, start, end)
    wanted = sampled(distance, start, end)
    tolerance = np.where(wanted < 0.0, INSIDE_TOLERANCE_M, 0.001)
    assert (least <= wanted + tolerance).all()
    # Sampled every 4 cm at most, so it can be this much too high; and what is said is there.
    assert (least >= wanted - 0.022).all()
    assert least == pytest.approx(distance(start + at[:, None] * (end - start)), abs=1e-9)


def test_the_nearest_approach_to_a_point_is_where_it_is_abeam() -> None:
    start, end = np.array([[0.0, 3.0, 4.0]]), np.array([[10.0, 3.0, 4.0]])
    least, at = least_along(to_points(np.array([[7.3, 0.0, 0.0]])), start, end)
    assert least == pytest.approx([5.0], abs=0.001)
    assert at == pytest.approx([0.73], abs=0.01)


def test_level_over_the_ground_is_settled_after_a_few_evaluations() -> None:
    distance = Counted(above(0.0))
    start = np.tile([0.0, 0.0, 8.0], (100, 1))
    end = start + np.column_stack([np.linspace(1.0, 30.0, 100), np.zeros((100, 2))])
    least, at = least_along(distance, start, end)
    assert least.tolist() == [8.0] * 100
    assert at.tolist() == [0.0] * 100
    # Lipschitz bounds alone: one evaluation per 2 mm, some 800,000.
    assert distance.count < 100 * 200


def test_no_length_costs_one_evaluation() -> None:
    distance = Counted(above(0.0))
    here = np.random.default_rng(0).uniform(1.0, 9.0, (50, 3))
    least, at = least_along(distance, here, here)
    assert distance.count == 50
    assert (least == here[:, 2]).all()
    assert (at == 0.0).all()


def test_below_ground_is_negative_and_kept() -> None:
    start, end = np.array([[0.0, 0.0, 4.0]] * 2), np.array([[9.0, 0.0, -3.0], [9.0, 0.0, 0.5]])
    least, at = least_along(above(0.0), start, end)
    assert least == pytest.approx([-3.0, 0.5], abs=1e-12)
    assert at.tolist() == [1.0, 1.0]


def test_through_the_inside_of_a_ball() -> None:
    distance = Counted(to_points(np.zeros((1, 3)), radius_m=6.0))
    start, end = np.array([[-20.0, 1.0, 0.0]]), np.array([[11.0, 1.0, 0.0]])
    least, _ = least_along(distance, start, end)
    assert least == pytest.approx([-5.0], abs=INSIDE_TOLERANCE_M)
    assert distance.count < 200


def test_inside_a_set_without_depth_costs_little() -> None:
    distance = Counted(lambda xyz_m: np.maximum(np.abs(xyz_m[:, 0]) - 50.0, 0.0))
    start, end = np.array([[-20.0, 0.0, 0.0], [49.0, 0, 0]]), np.array([[20.0, 0, 0], [60.0, 0, 0]])
    least, at = least_along(distance, start, end)
    assert least.tolist() == [0.0, 0.0]
    assert at.tolist() == [0.0, 0.0]
    assert distance.count < 20


def test_nothing_in_reach_stays_nothing() -> None:
    ball = to_points(np.array([[0.0, 0.0, 0.0]]))

    def short_sighted(xyz_m: Array) -> Array:
        away = ball(xyz_m)
        return np.where(away < 10.0, away, np.inf)

    start = np.array([[-30.0, 40.0, 0.0], [-30.0, 2.0, 0.0], [-9.0, 3.0, 0.0]])
    end = np.array([[30.0, 40.0, 0.0], [30.0, 2.0, 0.0], [31.0, 3.0, 0.0]])
    least, at = least_along(short_sighted, start, end)
    assert least == pytest.approx([np.inf, 2.0, 3.0], abs=0.001)
    assert at[0] == 0.0


def test_a_segment_does_not_depend_on_its_neighbours() -> None:
    rng = np.random.default_rng(4)
    distance = to_points(rng.uniform(-20.0, 20.0, (30, 3)))
    start, end = rng.uniform(-25.0, 25.0, (40, 3)), rng.uniform(-25.0, 25.0, (40, 3))
    least, at = least_along(distance, start, end)
    order = rng.permutation(40)
    other, other_at = least_along(distance, start[order], end[order])
    assert (other == least[order]).all()
    assert (other_at == at[order]).all()


def test_no_segments() -> None:
    least, at = least_along(above(0.0), np.empty((0, 3)), np.empty((0, 3)))
    assert least.shape == at.shape == (0,)


@pytest.mark.parametrize("count", [2, 40, 400])
def test_many_segments_get_what_each_gets_alone(count: int) -> None:
    # Alone nothing is asked ahead, beside few others it is, beside many it is not.
    rng = np.random.default_rng(count)
    distance = to_points(rng.uniform(-20.0, 20.0, (12, 3)))
    start, end = rng.uniform(-30.0, 30.0, (2, count, 3))
    enough = np.where(rng.random(count) < 0.5, np.inf, 6.0)
    least, share = least_along(distance, start, end, 0.01, enough)
    alone = [
        least_along(distance, start[i : i + 1], end[i : i + 1], 0.01, enough[i])
        for i in range(count)
    ]
    np.testing.assert_array_equal(least, [one[0][0] for one in alone])
    np.testing.assert_array_equal(share, [one[1][0] for one in alone])
