"""Pruned distances against the same distance asked of every segment."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from shotplan.kernels.ground import grid, slopes
from shotplan.kernels.rides.pruned import Array, Found, grouped, least_where_near
from shotplan.kernels.solids.segments import least_along


def swarm(rng: np.random.Generator, count: int, blind: float = 0.5) -> tuple[Array, Array]:
    """Samples of many rides along one path: some run on, some stand still, some share a place."""
    along = np.sort(rng.uniform(0.0, 200.0, count))
    start = np.column_stack([along, 10.0 * np.sin(along / 30.0), np.full(count, 12.0)])
    start += rng.normal(0.0, [2.0, 2.0, 0.7], (count, 3))
    start[rng.random(count) < 0.1] = start[0]
    way = rng.normal(0.0, 1.0, (count, 3)) * [1.0, 1.0, 0.2] + [2.0, 0.0, 0.0]
    runs_on = (rng.random(count) < blind)[:, None] * rng.uniform(0.0, 6.0, (count, 1))
    return start, start + way * runs_on


def balls(rng: np.random.Generator, count: int) -> tuple[Array, Array]:
    """Middles and radii of things about the path."""
    middle = np.column_stack(
        [rng.uniform(-10.0, 220.0, count), rng.uniform(-25.0, 25.0, count),
         rng.uniform(0.0, 20.0, count)]
    )  # fmt: skip
    return middle, rng.uniform(0.2, 3.0, count)


@settings(max_examples=40)
@given(st.integers(0, 2**32 - 1), st.integers(1, 400), st.floats(0.0, 12.0), st.booleans())
def test_nothing_nearer_than_enough_is_missed(
    seed: int, count: int, enough: float, points: bool
) -> None:
    rng = np.random.default_rng(seed)
    start, end = swarm(rng, count)
    end = start if points else end
    middle, radius = balls(rng, int(rng.integers(1, 60)))

    def distance(xyz: Array) -> Array:
        away = np.linalg.norm(xyz[:, None] - middle[None], axis=-1) - radius
        return np.asarray(away.min(axis=1))

    def least(a: Array, b: Array, _enough: Array | float) -> Found:
        return least_along(distance, a, b)

    wanted, _ = least_along(distance, start, end)
    found, share = least_where_near(least, grouped(start, end), enough)
    near = wanted < enough
    np.testing.assert_array_equal(found[near], wanted[near])
    assert (found[~near] >= enough).all()
    assert (found <= wanted + 1e-9).all()
    at = (start + share[:, None] * (end - start))[near]
    np.testing.assert_allclose(distance(at), wanted[near], rtol=0, atol=1e-9)
    sign, _ = least_where_near(least, grouped(start, end), 0.0, sign_only=True)
    np.testing.assert_array_equal(sign < 0.0, wanted < 0.0)


@settings(max_examples=20)
@given(st.integers(0, 2**32 - 1), st.integers(1, 200))
def test_what_is_not_wanted_is_left_out_and_what_is_not_known_is_asked(
    seed: int, count: int
) -> None:
    rng = np.random.default_rng(seed)
    start, _ = swarm(rng, count)
    unknown = rng.random(count) < 0.2
    start[unknown, int(rng.integers(3))] = np.nan
    wanted = np.flatnonzero(rng.random(count) < 0.7)
    asked: list[int] = []

    def least(a: Array, b: Array, enough: Array | float) -> Found:
        asked.append(int(np.isnan(a).any(axis=1).sum()))
        found = np.where(np.isnan(a).any(axis=1), np.nan, np.hypot(a[:, 1], a[:, 2]))
        return found, np.zeros(len(a))

    found, _ = least_where_near(least, grouped(start, start, wanted), 5.0)
    left_out = np.ones(count, dtype=bool)
    left_out[wanted] = False
    assert np.isposinf(found[left_out]).all()
    assert np.isnan(found[unknown & ~left_out]).all()
    assert sum(asked) == int((unknown & ~left_out).sum())


def test_many_that_keep_clear_are_settled_by_few() -> None:
    rng = np.random.default_rng(1)
    start, end = swarm(rng, 20_000)
    asked = []

    def least(a: Array, b: Array, enough: Array | float) -> Found:
        asked.append(len(a))
        return np.minimum(a[:, 2], b[:, 2]) + 40.0, np.zeros(len(a))

    found, _ = least_where_near(least, grouped(start, end), 5.0)
    assert (found >= 5.0).all()
    assert sum(asked) < 0.5 * len(start)


def test_segments_at_one_place_need_no_end_of_cutting() -> None:
    here = np.zeros((1000, 3))
    found, _ = least_where_near(
        lambda a, b, enough: (np.full(len(a), 2.005), np.zeros(len(a))), grouped(here, here), 2.0
    )
    assert found == pytest.approx(2.005)


def ground(rng: np.random.Generator, holes: bool) -> grid.Grid:
    """Hills of any steepness, a cliff, perhaps posts that are missing."""
    side, cell = 60, float(rng.uniform(1.0, 8.0))
    row, col = np.mgrid[0:side, 0:side].astype(float)
    z = rng.uniform(0.0, 15.0) * np.sin(row / rng.uniform(2.0, 15.0)) + rng.uniform(-1, 1) * col
    z += 30.0 * (col > rng.uniform(0.0, 1.5) * side)
    if holes:
        z[rng.random(z.shape) < 0.01] = np.nan
    to_grid = np.array([[side / 2, 0, -1 / cell, 0, 0, 0], [side / 2, 1 / cell, 0, 0, 0, 0]])
    half = side / 2 * cell
    to_frame = np.array([[-half, 0, cell, 0, 0, 0], [half, -cell, 0, 0, 0, 0]])
    return grid.make(z, to_grid, to_frame)


@settings(max_examples=30)
@given(st.integers(0, 2**32 - 1), st.booleans())
def test_the_quick_bound_is_never_above_the_distance_to_the_ground(seed: int, holes: bool) -> None:
    rng = np.random.default_rng(seed)
    posts = ground(rng, holes)
    start = np.column_stack([rng.uniform(-120.0, 120.0, (60, 2)), np.zeros(60)])
    level = grid.sample(posts, start[:, :2])
    start[:, 2] = np.where(np.isnan(level), 0.0, level) + rng.uniform(-3.0, 40.0, 60)
    end = start + rng.normal(0.0, [8.0, 8.0, 2.0], (60, 3)) * (rng.random(60) < 0.7)[:, None]
    enough = float(rng.uniform(1.0, 20.0))
    bound = slopes.at_least_m(slopes.slopes(posts), start, end, enough)
    distance, _ = least_along(lambda p: grid.nearest(posts, p).distance_m, start, end, 0.001)
    assert (bound <= distance + 2e-3).all()
    assert (bound <= enough + 1e-9).all()


def test_over_level_ground_the_quick_bound_is_the_height() -> None:
    flat = slopes.slopes(grid.flat(84.0))
    start = np.array([[0.0, 0.0, 90.0], [5.0, 5.0, 95.0]])
    found = slopes.at_least_m(flat, start, start + np.array([4.0, 0.0, -2.0]))
    np.testing.assert_allclose(found, [4.0, 9.0], atol=2.0 * slopes.SLIP_M)
