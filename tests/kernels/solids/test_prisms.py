"""Nearest prism and first cut, against shapely's distances in plan."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from shotplan.kernels.solids import prisms
from shotplan.kernels.solids.prisms import Array, Prisms

SEEDS = st.integers(0, 2**31)


def village(rng: np.random.Generator, count: int, wide_m: float = 120.0) -> Prisms:
    """Triangles of either turn, thick lines with each corner repeated, discs, needles."""
    corners = rng.uniform(-wide_m, wide_m, (count, 1, 2)) + rng.normal(0.0, 8.0, (count, 3, 2))
    kind = rng.integers(0, 6, count)
    for k, (to, of) in enumerate(((1, 0), (2, 1), (0, 2))):
        corners[kind == k, to] = corners[kind == k, of]
    corners[kind == 3] = corners[kind == 3][:, :1]
    needle = kind == 4
    corners[needle, 2] = 0.3 * corners[needle, 0] + 0.7 * corners[needle, 1]
    return Prisms(
        corners,
        np.where(rng.random(count) < 0.4, 0.0, rng.uniform(0.0, 3.0, count)),
        np.where(rng.random(count) < 0.3, -np.inf, rng.uniform(0.0, 6.0, count)),
        np.where(rng.random(count) < 0.1, np.inf, rng.uniform(6.0, 25.0, count)),
    )


def somewhere(rng: np.random.Generator, count: int, wide_m: float = 150.0) -> Array:
    return np.column_stack(
        [rng.uniform(-wide_m, wide_m, (count, 2)), rng.uniform(-20.0, 60.0, count)]
    )


def outline(corners: Array) -> shapely.Geometry:
    """The triangle, or the line or point that it shrinks to."""
    line = shapely.LineString([*corners, corners[0]])
    area = shapely.Polygon(corners)
    return area if area.area > 1e-6 else line if line.length > 0.0 else shapely.Point(corners[0])


def every_plan_distance(p: Prisms, xy: Array) -> Array:
    shapes = np.array([outline(c) for c in p.corners_m])
    between = shapely.distance(np.asarray(shapely.points(xy))[:, None], shapes[None])
    return np.asarray(np.clip(between - p.radius_m, 0.0, None))


def every_distance(p: Prisms, xyz: Array) -> Array:
    """`(n, m)` by the definition."""
    z = xyz[:, None, 2]
    upright = np.clip(np.where(z < p.bottom_m, p.bottom_m - z, z - p.top_m), 0.0, None)
    return np.asarray(np.hypot(every_plan_distance(p, xyz[:, :2]), upright))


def distance(p: Prisms, xyz: Array, enough_m: float = np.inf) -> Array:
    return prisms.nearest(prisms.index(p), xyz, enough_m).distance_m


def one(corners: list[list[float]], radius: float, bottom: float, top: float) -> Prisms:
    return Prisms(np.array([corners]), np.array([radius]), np.array([bottom]), np.array([top]))


@settings(deadline=None, max_examples=60)
@given(SEEDS, st.integers(1, 120), st.sampled_from([0.5, 10.0, 40.0, 200.0, 1e4, np.inf]))
def test_agrees_with_all_pairs(seed: int, count: int, enough: float) -> None:
    rng = np.random.default_rng(seed)
    p, xyz = village(rng, count), somewhere(rng, 100)
    every = every_distance(p, xyz)
    least = every.min(axis=1)
    got = prisms.nearest(prisms.index(p), xyz, enough)
    near = least < enough
    np.testing.assert_allclose(got.distance_m[near], least[near], rtol=0, atol=1e-6)
    assert np.isinf(got.distance_m[~near]).all()
    assert (got.which[~near] == -1).all()
    owned = every[np.flatnonzero(near), got.which[near]]
    np.testing.assert_allclose(owned, got.distance_m[near], rtol=0, atol=1e-6)


@settings(deadline=None, max_examples=40)
@given(SEEDS, st.integers(1, 40))
def test_plan_distance_agrees_with_shapely(seed: int, count: int) -> None:
    rng = np.random.default_rng(seed)
    p, xyz = village(rng, count), somewhere(rng, 50)
    want = every_plan_distance(p, xyz[:, :2])
    np.testing.assert_allclose(prisms.plan_distance(p, xyz[:, :2]), want, rtol=0, atol=1e-6)


def test_a_point_in_line_with_a_wall_is_not_inside_it() -> None:
    wall = one([[0.0, 0.0], [10.0, 0.0], [10.0, 0.0]], 0.5, -np.inf, 3.0)
    xyz = np.array([[14.0, 0.0, 1.0], [-2.0, 0.0, 1.0], [5.0, 0.4, 1.0], [5.0, 2.0, 1.0]])
    np.testing.assert_allclose(distance(wall, xyz), [3.5, 1.5, 0.0, 1.5], rtol=0, atol=1e-12)


def test_reach_is_cut_exactly_at_enough() -> None:
    house = one([[0.0, 0.0], [8.0, 0.0], [0.0, 8.0]], 1.0, 0.0, 5.0)
    xyz = np.array([[-9.0, 1.0, 2.0], [np.nextafter(-9.0, 0.0), 1.0, 2.0]])
    got = prisms.nearest(prisms.index(house), xyz, 8.0)
    assert np.isinf(got.distance_m[0])
    assert got.distance_m[1] < 8.0
    assert got.which.tolist() == [-1, 0]


def test_no_prisms_and_no_points() -> None:
    none = Prisms(np.empty((0, 3, 2)), np.empty(0), np.empty(0), np.empty(0))
    got = prisms.nearest(prisms.index(none), np.zeros((3, 3)))
    assert np.isinf(got.distance_m).all()
    assert got.which.tolist() == [-1, -1, -1]
    assert prisms.plan_distance(none, np.zeros((4, 2))).shape == (4, 0)
    assert np.isinf(prisms.first_cut(none, np.zeros((2, 3)), np.ones((2, 3)))[0]).all()
    some = prisms.index(village(np.random.default_rng(0), 4))
    assert prisms.nearest(some, np.empty((0, 3))).distance_m.shape == (0,)


def test_lowest_index_wins_a_tie() -> None:
    house = one([[0.0, 0.0], [8.0, 0.0], [0.0, 8.0]], 1.0, 0.0, 5.0)
    twice = Prisms(*(np.concatenate([a, a]) for a in house))
    xyz = np.array([[1.0, 1.0, 1.0], [30.0, 2.0, 20.0]])
    assert prisms.nearest(prisms.index(twice), xyz).which.tolist() == [0, 0]
    at, which = prisms.first_cut(twice, np.array([[-9.0, 1.0, 2.0]]), np.array([[9.0, 1.0, 2.0]]))
    assert at[0] == pytest.approx(8.0 / 18.0)
    assert which.tolist() == [0]


@settings(deadline=None, max_examples=15)
@given(SEEDS)
def test_a_value_does_not_depend_on_its_neighbours(seed: int) -> None:
    rng = np.random.default_rng(seed)
    p, xyz = village(rng, 60), somewhere(rng, 40)
    order = rng.permutation(40)
    whole = prisms.nearest(prisms.index(p), xyz, 60.0)
    shuffled = prisms.nearest(prisms.index(p), xyz[order], 60.0)
    alone = [prisms.nearest(prisms.index(p), row[None], 60.0) for row in xyz[:8]]
    np.testing.assert_array_equal(shuffled.distance_m, whole.distance_m[order])
    np.testing.assert_array_equal(shuffled.which, whole.which[order])
    np.testing.assert_array_equal([a.distance_m[0] for a in alone], whole.distance_m[:8])
    np.testing.assert_array_equal([a.which[0] for a in alone], whole.which[:8])


@settings(deadline=None, max_examples=40)
@given(SEEDS, st.floats(0.0, 5.0), st.floats(0.0, 5.0))
def test_growing_never_grows_a_distance(seed: int, wider: float, taller: float) -> None:
    rng = np.random.default_rng(seed)
    p, xyz = village(rng, 60), somewhere(rng, 80)
    big = p._replace(radius_m=p.radius_m + wider, top_m=p.top_m + taller)
    assert (distance(big, xyz, 90.0) <= distance(p, xyz, 90.0)).all()


@settings(deadline=None, max_examples=40)
@given(SEEDS, st.floats(-np.pi, np.pi), st.booleans())
def test_turning_and_mirroring_the_world_changes_nothing(
    seed: int, turn: float, mirror: bool
) -> None:
    rng = np.random.default_rng(seed)
    p, xyz = village(rng, 60), somewhere(rng, 80)
    flip = np.diag([-1.0 if mirror else 1.0, 1.0])
    way = flip @ np.array([[np.cos(turn), np.sin(turn)], [-np.sin(turn), np.cos(turn)]])
    turned = np.column_stack([xyz[:, :2] @ way, xyz[:, 2]])
    turned_p = p._replace(corners_m=p.corners_m @ way)
    np.testing.assert_allclose(distance(turned_p, turned), distance(p, xyz), rtol=0, atol=1e-6)


@settings(deadline=None, max_examples=25)
@given(SEEDS, st.integers(1, 30))
def test_first_cut_is_where_a_ray_first_comes_inside(seed: int, count: int) -> None:
    rng = np.random.default_rng(seed)
    p = village(rng, count, 40.0)
    start, end = somewhere(rng, 40, 60.0), somewhere(rng, 40, 60.0)
    start[:5, 0], end[:5, 2] = end[:5, 0], start[:5, 2]  # due north, level
    end[5:10, :2] = start[5:10, :2]  # straight up or down
    end[10:12] = start[10:12]
    at, which = prisms.first_cut(p, start, end)
    share = np.linspace(0.0, 1.0, 101)
    thick = Prisms(*(a[p.radius_m > 0.0] for a in p))  # samples never lie on a line itself
    for ray in range(len(start)):
        points = start[ray] + share[:, None] * (end - start)[ray]
        inside = (every_distance(p, points) == 0.0).any(axis=1)
        assert not inside[share < at[ray] - 1e-7].any()
        if np.isinf(at[ray]):
            assert which[ray] == -1
            assert not (every_distance(thick, points) == 0.0).any()
        else:
            hit = start[ray] + at[ray] * (end - start)[ray]
            assert every_distance(p, hit[None])[0, which[ray]] < 1e-6


@pytest.mark.parametrize("radius", [0.0, 0.5])
def test_a_ray_is_cut_by_a_wall_however_thin(radius: float) -> None:
    wall = one([[0.0, 0.0], [10.0, 0.0], [10.0, 0.0]], radius, -np.inf, 3.0)
    start = np.array([[5.0, -10.0, 1.0], [5.0, -10.0, 4.0], [13.0, -10.0, 1.0], [-8.0, 0.0, 2.0]])
    end = np.array([[5.0, 10.0, 1.0], [5.0, 10.0, 4.0], [13.0, 10.0, 1.0], [12.0, 0.0, 2.0]])
    at, which = prisms.first_cut(wall, start, end)
    want = [(10.0 - radius) / 20.0, np.inf, np.inf, (8.0 - radius) / 20.0]
    np.testing.assert_allclose(at, want, rtol=0, atol=1e-12)
    assert which.tolist() == [0, -1, -1, 0]


def test_a_ray_is_cut_by_a_roof_from_above_and_by_a_round_corner() -> None:
    house = one([[0.0, 0.0], [8.0, 0.0], [0.0, 8.0]], 1.0, 0.0, 5.0)
    start = np.array([[2.0, 2.0, 15.0], [-5.0, -5.0, 1.0], [2.0, 2.0, 2.0]])
    end = np.array([[2.0, 2.0, 0.0], [5.0, 5.0, 1.0], [50.0, 2.0, 2.0]])
    corner = (5.0 - np.sqrt(0.5)) / 10.0
    want = [10.0 / 15.0, corner, 0.0]
    np.testing.assert_allclose(prisms.first_cut(house, start, end)[0], want, rtol=0, atol=1e-12)
