"""Nearest column and first cut, against all pairs written out."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from shotplan.kernels.solids import cells, columns
from shotplan.kernels.solids.columns import Array, Columns

SEEDS = st.integers(0, 2**31)


def forest(rng: np.random.Generator, count: int, wide_m: float = 120.0) -> Columns:
    """Trunks down to anywhere, crowns, and some without a top."""
    bottom = np.where(rng.random(count) < 0.3, -np.inf, rng.uniform(0.0, 6.0, count))
    top = np.where(rng.random(count) < 0.1, np.inf, rng.uniform(6.0, 25.0, count))
    xy = rng.uniform(-wide_m, wide_m, (count, 2))
    return Columns(xy, rng.uniform(0.0, 4.0, count), bottom, top)


def somewhere(rng: np.random.Generator, count: int, wide_m: float = 150.0) -> Array:
    return np.column_stack(
        [rng.uniform(-wide_m, wide_m, (count, 2)), rng.uniform(-20.0, 60.0, count)]
    )


def every_distance(c: Columns, xyz: Array) -> Array:
    """`(n, m)` by the definition."""
    between = np.linalg.norm(xyz[:, None, :2] - c.xy_m[None], axis=-1)
    level = np.clip(between - c.radius_m, 0.0, None)
    z = xyz[:, None, 2]
    upright = np.clip(np.where(z < c.bottom_m, c.bottom_m - z, z - c.top_m), 0.0, None)
    return np.asarray(np.hypot(level, upright))


def distance(c: Columns, xyz: Array, enough_m: float = np.inf) -> Array:
    return columns.nearest(columns.index(c), xyz, enough_m).distance_m


@settings(deadline=None, max_examples=60)
@given(SEEDS, st.integers(1, 300), st.sampled_from([0.5, 6.25, 10.0, 40.0, 200.0, 1e4, np.inf]))
def test_agrees_with_all_pairs(seed: int, count: int, enough: float) -> None:
    rng = np.random.default_rng(seed)
    c, xyz = forest(rng, count), somewhere(rng, 200)
    every = every_distance(c, xyz)
    got = columns.nearest(columns.index(c), xyz, enough)
    near = every.min(axis=1) < enough
    np.testing.assert_allclose(got.distance_m[near], every.min(axis=1)[near], rtol=0, atol=1e-9)
    assert np.isinf(got.distance_m[~near]).all()
    assert (got.which[~near] == -1).all()
    owned = every[np.flatnonzero(near), got.which[near]]
    np.testing.assert_allclose(owned, got.distance_m[near], rtol=0, atol=1e-9)


@settings(deadline=None, max_examples=30)
@given(SEEDS, st.integers(1, 400))
def test_turn_by_turn_is_pair_by_pair(seed: int, count: int) -> None:
    rng = np.random.default_rng(seed)
    c = forest(rng, count, wide_m=60.0)
    c.xy_m[::7] = c.xy_m[0]  # as near as each other: the lowest is told
    index, xyz = columns.index(c), somewhere(rng, 500, wide_m=80.0)
    answers = []
    for many in (0, 10**9):
        with pytest.MonkeyPatch.context() as patch:
            patch.setattr(cells, "MANY", many)
            answers.append(columns.nearest(index, xyz, 40.0))
    np.testing.assert_array_equal(answers[0].distance_m, answers[1].distance_m)
    np.testing.assert_array_equal(answers[0].which, answers[1].which)


def test_reach_is_cut_exactly_at_enough() -> None:
    c = Columns(np.zeros((1, 2)), np.array([2.0]), np.array([-np.inf]), np.array([10.0]))
    xyz = np.array([[10.0, 0.0, 5.0], [np.nextafter(10.0, 0.0), 0.0, 5.0]])
    got = columns.nearest(columns.index(c), xyz, 8.0)
    assert np.isinf(got.distance_m[0])
    assert got.distance_m[1] < 8.0
    assert got.which.tolist() == [-1, 0]


def test_zero_inside_and_straight_up_from_the_top() -> None:
    c = Columns(np.array([[3.0, 4.0]]), np.array([2.0]), np.array([1.0]), np.array([10.0]))
    xyz = np.array([[3.0, 4.0, 5.0], [4.0, 5.0, 10.0], [3.5, 4.0, 17.0], [3.0, 4.0, -1.0]])
    assert distance(c, xyz).tolist() == [0.0, 0.0, 7.0, 2.0]


def test_no_columns() -> None:
    none = Columns(np.empty((0, 2)), np.empty(0), np.empty(0), np.empty(0))
    got = columns.nearest(columns.index(none), np.zeros((3, 3)))
    assert np.isinf(got.distance_m).all()
    assert got.which.tolist() == [-1, -1, -1]
    at, which = columns.first_cut(none, np.zeros((2, 3)), np.ones((2, 3)))
    assert np.isinf(at).all()
    assert which.tolist() == [-1, -1]


def test_no_points() -> None:
    c = forest(np.random.default_rng(0), 5)
    assert columns.nearest(columns.index(c), np.empty((0, 3))).distance_m.shape == (0,)
    assert columns.first_cut(c, np.empty((0, 3)), np.empty((0, 3)))[0].shape == (0,)


@pytest.mark.parametrize("far_m", [1e3, 1e5])
def test_far_away_is_still_exact(far_m: float) -> None:
    c = forest(np.random.default_rng(3), 50)
    xyz = np.array([[far_m, -far_m, 10.0], [0.0, 0.0, far_m], [0.0, far_m, -far_m]])
    np.testing.assert_allclose(distance(c, xyz), every_distance(c, xyz).min(axis=1), rtol=1e-12)


def test_few_columns_over_a_wide_country_take_little_room() -> None:
    xy = np.array([[-2e5, 0.0], [2e5, 1e5], [0.0, 3e5]])
    c = Columns(xy, np.ones(3), np.full(3, -np.inf), np.full(3, 10.0))
    sorted_in = columns.index(c)
    got = columns.nearest(sorted_in, np.array([[2e5 - 5.0, 1e5, 0.0]]))
    assert got.distance_m[0] == pytest.approx(4.0, abs=1e-9)
    assert max(len(level.first) for level in sorted_in.cells.levels.values()) < 3e6


def test_lowest_index_wins_a_tie() -> None:
    c = Columns(np.zeros((4, 2)), np.ones(4), np.zeros(4), np.full(4, 9.0))
    xyz = np.array([[0.0, 0.0, 1.0], [5.0, 0.0, 1.0], [40.0, 0.0, 30.0]])
    assert columns.nearest(columns.index(c), xyz).which.tolist() == [0, 0, 0]
    start, end = np.array([[5.0, 0.0, 1.0]]), np.array([[-5.0, 0.0, 1.0]])
    assert columns.first_cut(c, start, end)[1].tolist() == [0]


@settings(deadline=None, max_examples=15)
@given(SEEDS)
def test_a_value_does_not_depend_on_its_neighbours(seed: int) -> None:
    rng = np.random.default_rng(seed)
    c, xyz = forest(rng, 80), somewhere(rng, 60)
    sorted_in, order = columns.index(c), rng.permutation(60)
    whole = columns.nearest(sorted_in, xyz, 60.0)
    shuffled = columns.nearest(sorted_in, xyz[order], 60.0)
    alone = [columns.nearest(columns.index(c), row[None], 60.0) for row in xyz[:8]]
    np.testing.assert_array_equal(shuffled.distance_m, whole.distance_m[order])
    np.testing.assert_array_equal(shuffled.which, whole.which[order])
    np.testing.assert_array_equal([a.distance_m[0] for a in alone], whole.distance_m[:8])
    np.testing.assert_array_equal([a.which[0] for a in alone], whole.which[:8])


def test_pieces_join_without_a_seam(monkeypatch: pytest.MonkeyPatch) -> None:
    rng = np.random.default_rng(8)
    c, xyz = forest(rng, 200), somewhere(rng, 500)
    whole = columns.nearest(columns.index(c), xyz)
    monkeypatch.setattr(cells, "PAIRS", 7)
    monkeypatch.setattr(cells, "POINTS", 33)
    pieces = columns.nearest(columns.index(c), xyz)
    np.testing.assert_array_equal(pieces.distance_m, whole.distance_m)
    np.testing.assert_array_equal(pieces.which, whole.which)


@settings(deadline=None, max_examples=40)
@given(SEEDS, st.floats(0.0, 5.0), st.floats(0.0, 5.0))
def test_growing_never_grows_a_distance(seed: int, wider: float, taller: float) -> None:
    rng = np.random.default_rng(seed)
    c, xyz = forest(rng, 60), somewhere(rng, 100)
    big = c._replace(radius_m=c.radius_m + wider, top_m=c.top_m + taller)
    assert (distance(big, xyz, 90.0) <= distance(c, xyz, 90.0)).all()


@settings(deadline=None, max_examples=40)
@given(SEEDS, st.floats(-np.pi, np.pi), st.booleans())
def test_turning_and_mirroring_the_world_changes_nothing(
    seed: int, turn: float, mirror: bool
) -> None:
    rng = np.random.default_rng(seed)
    c, xyz = forest(rng, 60), somewhere(rng, 100)
    flip = np.diag([-1.0 if mirror else 1.0, 1.0])
    way = flip @ np.array([[np.cos(turn), np.sin(turn)], [-np.sin(turn), np.cos(turn)]])
    turned = np.column_stack([xyz[:, :2] @ way, xyz[:, 2]])
    turned_c = c._replace(xy_m=c.xy_m @ way)
    np.testing.assert_allclose(distance(turned_c, turned), distance(c, xyz), rtol=0, atol=1e-9)


@settings(deadline=None, max_examples=60)
@given(SEEDS, st.integers(1, 40))
def test_first_cut_is_where_a_ray_first_comes_inside(seed: int, count: int) -> None:
    rng = np.random.default_rng(seed)
    c = forest(rng, count, 40.0)
    start, end = somewhere(rng, 40, 60.0), somewhere(rng, 40, 60.0)
    start[:5, 0], end[:5, 2] = end[:5, 0], start[:5, 2]  # due north, level
    end[5:10, :2] = start[5:10, :2]  # straight up or down
    end[10:12] = start[10:12]
    at, which = columns.first_cut(c, start, end)
    share = np.linspace(0.0, 1.0, 201)
    for ray in range(len(start)):
        points = start[ray] + share[:, None] * (end - start)[ray]
        inside = every_distance(c, points).min(axis=1) == 0.0
        assert not inside[share < at[ray] - 1e-9].any()
        if np.isinf(at[ray]):
            assert which[ray] == -1
        else:
            hit = start[ray] + at[ray] * (end - start)[ray]
            assert every_distance(c, hit[None])[0, which[ray]] < 1e-9


def test_first_cut_worked_by_hand() -> None:
    c = Columns(
        np.array([[10.0, 0.0], [4.0, 0.0]]), np.ones(2), np.array([0.0, 5.0]), np.array([4.0, 9.0])
    )
    start = np.array([[0.0, 0.0, 2.0], [0.0, 0.0, 2.0], [10.0, 0.0, 8.0], [10.0, 0.5, 1.0]])
    end = np.array([[20.0, 0.0, 2.0], [0.0, 20.0, 2.0], [10.0, 0.0, 0.0], [99.0, 0.5, 1.0]])
    at, which = columns.first_cut(c, start, end)
    np.testing.assert_allclose(at, [0.45, np.inf, 0.5, 0.0], rtol=0, atol=1e-12)
    assert which.tolist() == [0, -1, 0, 0]


@given(SEEDS, st.integers(1, 50))
def test_to_the_nearest_of_places(seed: int, count: int) -> None:
    rng = np.random.default_rng(seed)
    places, xy = rng.uniform(-9.0, 9.0, (count, 2)), rng.uniform(-900.0, 900.0, (20, 2))
    every = np.linalg.norm(xy[:, None] - places, axis=-1)
    found = columns.to_places_m(places, xy)
    np.testing.assert_allclose(found, every.min(axis=1), rtol=1e-12, atol=1e-9)
    assert np.isinf(columns.to_places_m(np.empty((0, 2)), xy)).all()
