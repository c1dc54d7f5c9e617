"""The ground: height under a point, nearest point of it, first cut of a ray, against sampling."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from shotplan.kernels.ground import closest, slopes
from shotplan.kernels.ground import grid as posts
from shotplan.kernels.ground.posts import BLOCK, level_at, rows_cols

Array = NDArray[np.float64]
CELL_M = 5.0
SIDE = 14


def laid(
    z_m: Array, cell_m: float = CELL_M, turn_rad: float = 0.0, shift_m: tuple[float, float] = (0, 0)
) -> posts.Grid:
    """A grid of square cells about `shift_m`, rows running south before it is turned left."""
    c, s = np.cos(turn_rad), np.sin(turn_rad)
    per_row_col = cell_m * np.array([[s, c], [-c, s]])
    middle = (np.array(z_m.shape) - 1.0) / 2.0
    origin = np.asarray(shift_m) - per_row_col @ middle
    back = np.linalg.inv(per_row_col)
    still = np.zeros((2, 3))
    to_frame = np.column_stack([origin, per_row_col, still])
    return posts.make(z_m, np.column_stack([-back @ origin, back, still]), to_frame)


def bent(z_m: Array) -> posts.Grid:
    """Cells of 20 by 30 m whose columns draw together northward, as meridians do (more so)."""
    to_frame = np.array(
        [[-400.0, 0.3, 20.0, 1e-5, 3e-4, 0.0], [600.0, -30.0, 0.2, 0.0, 1e-5, -2e-4]]
    )
    row, col = (a.ravel() for a in np.meshgrid(*[np.linspace(0, n - 1, 15) for n in z_m.shape]))
    x, y = to_frame @ posts.monomials(row, col).T
    scale = 600.0
    back, *_ = np.linalg.lstsq(
        posts.monomials(x / scale, y / scale), np.stack([row, col], axis=-1), rcond=None
    )
    powers = np.array([1.0, scale, scale, scale**2, scale**2, scale**2])
    return posts.make(z_m, back.T / powers, to_frame)


def rough(seed: int, height_m: float, cliff_m: float = 0.0, side: int = SIDE) -> Array:
    """Random posts; west of the middle `cliff_m` higher than east, in a face one cell wide."""
    z = np.random.default_rng(seed).normal(size=(side, side)) * height_m
    return np.asarray(z - cliff_m * (np.arange(side) > side // 2))


def by_sampling(grid: posts.Grid, xyz_m: Array) -> Array:
    """Distance to the surface by dense sampling, then zooming in on the 100 nearest samples."""
    rows, cols = grid.z_m.shape
    v, u = np.meshgrid(
        np.linspace(0, rows - 1, (rows - 1) * 16 + 1),
        np.linspace(0, cols - 1, (cols - 1) * 16 + 1),
        indexing="ij",
    )
    least = []
    for point in xyz_m:
        away = _away(grid, point, v, u).ravel()
        best = np.argsort(away)[:100]
        row, col, step = v.ravel()[best], u.ravel()[best], 1.0 / 16
        for _ in range(24):
            steps = np.linspace(-step, step, 7)
            near_v = np.clip(row[:, None, None] + steps[:, None], 0, rows - 1)
            near_u = np.clip(col[:, None, None] + steps, 0, cols - 1)
            near_v, near_u = np.broadcast_arrays(near_v, near_u)
            near = _away(grid, point, near_v, near_u).reshape(len(row), -1)
            at = near.argmin(axis=1)[:, None]
            row = np.take_along_axis(near_v.reshape(len(row), -1), at, 1)[:, 0]
            col = np.take_along_axis(near_u.reshape(len(col), -1), at, 1)[:, 0]
            step *= 0.7
        least.append(min(away[best[0]], near.min()))
    return np.array(least)


def _away(grid: posts.Grid, point: Array, row: Array, col: Array) -> Array:
    xy = posts.monomials(row, col) @ grid.to_frame.T
    z = posts.sample(grid, xy)
    away = np.sqrt(((xy - point[:2]) ** 2).sum(axis=-1) + (z - point[2]) ** 2)
    return np.asarray(np.nan_to_num(away, nan=np.inf))


# The surface


def test_sample_is_bilinear_between_posts() -> None:
    grid = laid(np.array([[0.0, 10.0], [20.0, 50.0]]), cell_m=10.0)
    north_west, east, middle = [-5.0, 5.0], [5.0, 2.5], [0.0, 0.0]
    xy = np.array([north_west, east, middle])
    assert posts.sample(grid, xy) == pytest.approx([0.0, 20.0, 20.0], abs=1e-12)
    assert posts.sample(grid, xy.reshape(3, 1, 2)).shape == (3, 1)


def test_many_points_are_sampled_as_each_alone() -> None:
    grid = bent(rough(3, 9.0))
    xy = np.random.default_rng(4).uniform(-500.0, 500.0, (3, BLOCK, 2))
    once = level_at(grid, *rows_cols(grid, xy[..., 0], xy[..., 1]))
    assert np.array_equal(posts.sample(grid, xy), once, equal_nan=True)
    assert np.isfinite(once).any()


def test_sample_is_unknown_outside_and_where_one_of_four_posts_is_missing() -> None:
    z = np.zeros((4, 4))
    z[1, 1] = np.nan
    grid = laid(z, cell_m=1.0)
    xy = np.array([[-1.4, 1.4], [0.6, -0.4], [1.4, -1.4], [1.5 + 1e-6, 0.0], [np.nan, 0.0]])
    assert np.isnan(posts.sample(grid, xy)).tolist() == [True, False, False, True, True]


def test_the_outermost_posts_belong_to_the_surface() -> None:
    grid = laid(rough(3, 2.0))
    end = (SIDE - 1) / 2 * CELL_M
    corners = np.array([[-end, end], [end, end], [-end, -end], [end, -end]])
    wanted = [grid.z_m[0, 0], grid.z_m[0, -1], grid.z_m[-1, 0], grid.z_m[-1, -1]]
    assert posts.sample(grid, corners) == pytest.approx(wanted, abs=1e-9)


@pytest.mark.parametrize("shape", [(2, 2), (5, 4), (9, 17)])
def test_pyramids_hold_the_known_patches_of_their_squares(shape: tuple[int, int]) -> None:
    z = np.random.default_rng(0).normal(size=shape)
    z[-1, 0] = np.nan
    grid = laid(z)
    assert grid.missing[-1].shape == (1, 1)
    assert grid.missing[-1].all()
    for level, (low, high, missing) in enumerate(
        zip(grid.lowest, grid.highest, grid.missing, strict=True)
    ):
        size = 2**level
        for i, j in np.ndindex(low.shape):
            patches = [
                z[a : a + 2, b : b + 2]
                for a in range(i * size, min((i + 1) * size, shape[0] - 1))
                for b in range(j * size, min((j + 1) * size, shape[1] - 1))
            ]
            known = [p for p in patches if not np.isnan(p).any()]
            assert missing[i, j] == (len(known) < len(patches))
            assert low[i, j] == min((p.min() for p in known), default=np.inf)
            assert high[i, j] == max((p.max() for p in known), default=-np.inf)


def test_one_row_of_posts_is_no_surface() -> None:
    with pytest.raises(ValueError, match="at least 2 rows"):
        posts.make(np.zeros((1, 5)), np.zeros((2, 6)), np.zeros((2, 6)))


def test_flat_ground_is_exact() -> None:
    grid = posts.flat(84.0)
    xyz = np.array([[0.0, 0.0, 90.0], [1234.5, -987.6, 84.25], [-31000.0, 70.0, 40.0]])
    assert posts.sample(grid, xyz[:, :2]).tolist() == [84.0, 84.0, 84.0]
    found = posts.nearest(grid, xyz)
    assert found.distance_m == pytest.approx([6.0, 0.25, 44.0], abs=1e-6)
    assert found.missing_m == pytest.approx([1e5, 1e5 - 1234.5, 69000.0], abs=1e-3)
    off = xyz + np.array([30.0, 40.0, -6.0])
    cut = posts.first_cut(grid, xyz, off)
    assert cut.at[0] == pytest.approx(1.0)  # it ends on the ground
    assert cut.at[1] == pytest.approx(0.25 / 6.0, abs=1e-6)
    assert cut.at[2] == 0.0
    assert np.isinf(cut.unknown_at).all()


# The nearest point


@pytest.mark.parametrize(
    ("seed", "height_m", "cliff_m"),
    [(1, 0.3, 0.0), (2, 1.0, 95.0), (3, 3.0, 0.0), (4, 8.0, 95.0), (5, 0.0, 95.0)],
)
def test_nearest_against_sampling(seed: int, height_m: float, cliff_m: float) -> None:
    grid = laid(rough(seed, height_m, cliff_m), turn_rad=0.7 * seed)
    rng = np.random.default_rng(seed)
    xyz = rng.uniform(-40.0, 40.0, (15, 3))
    xyz[:, 2] = rng.uniform(-cliff_m - 30.0, 80.0, 15)
    found = posts.nearest(grid, xyz).distance_m
    assert found == pytest.approx(by_sampling(grid, xyz), abs=1e-3)


def test_nearest_and_first_cut_on_a_bent_grid() -> None:
    grid = bent(rough(6, 6.0, 95.0, side=40))
    xyz = np.random.default_rng(6).uniform(-300.0, 300.0, (12, 3))
    xyz[:, 2] = np.linspace(-100.0, 150.0, 12)
    assert posts.nearest(grid, xyz).distance_m == pytest.approx(by_sampling(grid, xyz), abs=2e-3)
    cut = posts.first_cut(grid, xyz[6:], xyz[5::-1])
    hit = np.isfinite(cut.at)
    assert hit.sum() > 3
    at = xyz[6:] + cut.at.clip(0, 1)[:, None] * (xyz[5::-1] - xyz[6:])
    off = at[:, 2] - posts.sample(grid, at[:, :2])
    assert np.abs(off[hit & (cut.at > 0)]) == pytest.approx(0.0, abs=0.01)


def test_nearest_on_a_twisted_patch_with_two_feet() -> None:
    # A saddle over one cell: seen from above its middle both high corners are equally near, and
    # the middle, where every slope points, is the farthest of the stationary points.
    grid = laid(np.array([[4.0, 0.0], [0.0, 4.0]]), cell_m=2.0)
    found = posts.nearest(grid, np.array([[0.0, 0.0, 30.0], [0.01, -0.01, 30.0]])).distance_m
    corner = np.sqrt(2 * 0.99**2 + 26.0**2)
    assert found == pytest.approx([np.sqrt(2.0 + 26.0**2), corner], abs=1e-3)


def test_nearest_on_a_slope_is_its_perpendicular() -> None:
    col = np.arange(60) * CELL_M
    grid = laid(np.tile(-0.75 * col, (60, 1)), turn_rad=1.0)
    at = np.array([[3.0, -4.0]])
    xyz = np.column_stack([at, posts.sample(grid, at) + 50.0])
    assert posts.nearest(grid, xyz).distance_m == pytest.approx([50.0 * 0.8], abs=1e-3)


def test_enough_caps_and_does_not_change_what_is_nearer() -> None:
    grid = laid(rough(7, 2.0, 95.0))
    xyz = np.random.default_rng(7).uniform(-35.0, 35.0, (300, 3))
    free = posts.nearest(grid, xyz).distance_m
    capped = posts.nearest(grid, xyz, enough_m=12.0).distance_m
    assert 50 < (free < 12.0).sum() < 250
    assert capped == pytest.approx(np.minimum(free, 12.0), abs=2e-4)


def test_a_point_does_not_depend_on_its_neighbours() -> None:
    z = rough(8, 3.0, 95.0)
    z[3, 4] = np.nan
    grid = laid(z, turn_rad=0.4)
    xyz = np.random.default_rng(8).uniform(-40.0, 40.0, (200, 3))
    order = np.random.default_rng(9).permutation(200)
    together, shuffled = posts.nearest(grid, xyz), posts.nearest(grid, xyz[order])
    assert (together.distance_m[order] == shuffled.distance_m).all()
    assert (together.missing_m[order] == shuffled.missing_m).all()
    ends = xyz[::-1]
    cut, other = posts.first_cut(grid, xyz, ends), posts.first_cut(grid, xyz[order], ends[order])
    assert (cut.at[order] == other.at).all()
    assert (cut.unknown_at[order] == other.unknown_at).all()


def test_missing_ground_against_sampling() -> None:
    z = rough(11, 1.0)
    z[[2, 9, 10], [3, 11, 11]] = np.nan
    grid = laid(z, turn_rad=0.9)
    rng = np.random.default_rng(11)
    xyz = rng.uniform(-40.0, 40.0, (80, 3))
    found = posts.nearest(grid, xyz)
    fine = np.stack(np.meshgrid(*[np.arange(-45.0, 45.0, 0.25)] * 2), axis=-1).reshape(-1, 2)
    unknown = fine[np.isnan(posts.sample(grid, fine))]
    known = fine[~np.isnan(posts.sample(grid, fine))]
    level = np.sqrt(((xyz[:, None, :2] - unknown) ** 2).sum(axis=-1)).min(axis=1)
    over = np.isnan(posts.sample(grid, xyz[:, :2]))
    assert 10 < over.sum() < 70
    assert (found.missing_m[over] == 0.0).all()
    matters = ~over & (found.missing_m < found.distance_m)
    assert matters.sum() > 5
    assert found.missing_m[matters] == pytest.approx(level[matters], abs=0.36)
    assert (level[~over & ~matters] >= found.distance_m[~over & ~matters] - 1e-3).all()
    # Clearly farther than the surface where it is, so that no rounding makes one of the other.
    clear = ~over & (level > found.distance_m + 1.0)
    assert clear.any()
    assert (found.missing_m[clear] >= found.distance_m[clear] + 0.6).all()
    solid = np.column_stack([known, posts.sample(grid, known)])
    sampled = np.sqrt(((xyz[:, None] - solid) ** 2).sum(axis=-1)).min(axis=1)
    assert (found.distance_m <= sampled + 1e-3).all()
    assert (found.distance_m >= sampled - 0.7).all()


def test_missing_ground_is_exact_to_a_straight_edge() -> None:
    z = np.zeros((40, 40))
    z[:, 30:] = np.nan
    grid = laid(z, turn_rad=0.5)
    east = np.array([np.cos(0.5), np.sin(0.5)])
    edge_m = (29 - 19.5) * CELL_M
    xyz = np.array([[*(east * (edge_m - away)), 60.0] for away in (0.5, 7.0, 31.0, -4.0)])
    found = posts.nearest(grid, xyz)
    assert found.missing_m == pytest.approx([0.5, 7.0, 31.0, 0.0], abs=1e-2)
    assert found.distance_m == pytest.approx([60.0, 60.0, 60.0, np.hypot(60.0, 4.0)], abs=1e-3)


def test_where_nobody_knows_how_far_is_enough_the_missing_is_not_known_either() -> None:
    """And the points beside it are answered as alone (an invalid cast would be an error here)."""
    z = rough(3, 1.0)
    z[4, 4] = np.nan
    grid = laid(z)
    xyz = np.array([[1.0, 2.0, 9.0], [-9.0, 4.0, 7.0], [12.0, -8.0, 5.0]])
    enough = np.array([40.0, np.nan, 40.0])
    found = closest.missing_m(grid, xyz, enough)
    assert np.isnan(found).tolist() == [False, True, False]
    alone = [closest.missing_m(grid, xyz[[k]], enough[[k]])[0] for k in (0, 2)]
    assert found[[0, 2]].tolist() == alone


def test_far_over_unknown_ground_the_known_is_still_found() -> None:
    z = np.full((120, 120), np.nan)
    z[:8, :8] = np.random.default_rng(0).normal(size=(8, 8))
    grid = laid(z)
    xyz = np.array([[200.0, -200.0, 10.0], [280.0, 290.0, 400.0]])
    solid = np.stack(np.meshgrid(*[np.linspace(0.0, 7.0 - 1e-9, 281)] * 2), axis=-1).reshape(-1, 2)
    xy = posts.monomials(solid[:, 0], solid[:, 1]) @ grid.to_frame.T
    solid = np.column_stack([xy, posts.sample(grid, xy)])
    away = np.sqrt(((xyz[:, None] - solid[np.isfinite(solid[:, 2])]) ** 2).sum(-1)).min(axis=1)
    found = posts.nearest(grid, xyz)
    assert found.distance_m == pytest.approx(away, abs=0.1)
    assert found.missing_m.tolist() == [0.0, 0.0]


def test_nothing_known_and_nowhere() -> None:
    nothing = laid(np.full((5, 5), np.nan))
    found = posts.nearest(nothing, np.array([[0.0, 0.0, 5.0]]))
    assert found.distance_m.tolist() == [np.inf]
    assert found.missing_m.tolist() == [0.0]
    nowhere = np.array([[np.nan, 0.0, 5.0], [np.inf, np.inf, np.inf]])
    found = posts.nearest(laid(rough(1, 1.0)), nowhere)
    assert found.distance_m.tolist() == [np.inf, np.inf]
    assert found.missing_m.tolist() == [0.0, 0.0]
    assert posts.nearest(nothing, np.empty((0, 3))).distance_m.shape == (0,)


@settings(max_examples=15, deadline=None)
@given(
    seed=st.integers(0, 10_000),
    turn_rad=st.floats(-3.1, 3.1),
    shift=st.tuples(st.floats(-5000.0, 5000.0), st.floats(-5000.0, 5000.0)),
    cliff_m=st.sampled_from([0.0, 95.0]),
)
def test_shifting_and_turning_the_world_changes_nothing(
    seed: int, turn_rad: float, shift: tuple[float, float], cliff_m: float
) -> None:
    z = rough(seed, 2.0, cliff_m)
    z[4, 5] = np.nan
    rng = np.random.default_rng(seed)
    here = rng.uniform(-40.0, 40.0, (40, 3))
    there = rng.uniform(-40.0, 40.0, (40, 3))
    c, s = np.cos(turn_rad), np.sin(turn_rad)
    turn = np.array([[c, s, 0.0], [-s, c, 0.0], [0.0, 0.0, 1.0]])
    away = np.array([*shift, 0.0])
    one, two = laid(z), laid(z, turn_rad=turn_rad, shift_m=shift)
    first, second = posts.nearest(one, here), posts.nearest(two, here @ turn + away)
    assert first.distance_m == pytest.approx(second.distance_m, abs=1e-3)
    matters = first.missing_m < first.distance_m - 1e-3
    assert first.missing_m[matters] == pytest.approx(second.missing_m[matters], abs=1e-2)
    cut = posts.first_cut(one, here, there)
    turned = posts.first_cut(two, here @ turn + away, there @ turn + away)
    assert cut.at == pytest.approx(turned.at, abs=1e-5)


@settings(max_examples=15, deadline=None)
@given(
    seed=st.integers(0, 10_000),
    holes=st.lists(
        st.tuples(st.integers(0, SIDE - 1), st.integers(0, SIDE - 1)), min_size=1, max_size=30
    ),
)
def test_dropping_posts_never_adds_knowledge(seed: int, holes: list[tuple[int, int]]) -> None:
    z = rough(seed, 2.0, 30.0)
    rng = np.random.default_rng(seed)
    xyz, ends = rng.uniform(-40.0, 40.0, (30, 3)), rng.uniform(-40.0, 40.0, (30, 3))
    full = laid(z)
    z[tuple(np.array(holes).T)] = np.nan
    less = laid(z)
    before, after = posts.nearest(full, xyz), posts.nearest(less, xyz)
    assert (after.distance_m >= before.distance_m - 2e-4).all()
    known = after.missing_m >= after.distance_m
    assert after.distance_m[known] == pytest.approx(before.distance_m[known], abs=2e-4)
    cut, cut_less = posts.first_cut(full, xyz, ends), posts.first_cut(less, xyz, ends)
    assert (cut_less.at >= cut.at - 1e-12).all()
    assert (cut_less.unknown_at <= cut.unknown_at + 1e-12).all()


# The first cut


@pytest.mark.parametrize(("seed", "height_m"), [(1, 0.3), (2, 1.0), (3, 3.0), (4, 10.0)])
def test_first_cut_against_sampling(seed: int, height_m: float) -> None:
    z = rough(seed, height_m, 12.0)
    if seed % 2:
        z[[2, 7, 7], [9, 3, 4]] = np.nan
    grid = laid(z, turn_rad=0.3 * seed)
    rng = np.random.default_rng(seed)
    start, end = rng.uniform(-34.0, 34.0, (120, 3)), rng.uniform(-45.0, 45.0, (120, 3))
    start[:, 2] = np.nan_to_num(posts.sample(grid, start[:, :2])) + rng.uniform(0.0, 5.0, 120)
    end[:, 2] = rng.uniform(-15.0, 10.0, 120)
    cut = posts.first_cut(grid, start, end)
    t = np.linspace(0.0, 1.0, 20_001)
    for k in range(len(start)):
        ray = start[k] + t[:, None] * (end[k] - start[k])
        ground = posts.sample(grid, ray[:, :2])
        below, unknown = ray[:, 2] < ground - 1e-6, np.isnan(ground)
        for found, hits in ((cut.at[k], below), (cut.unknown_at[k], unknown)):
            first = t[hits.argmax()] if hits.any() else np.inf
            assert found <= first + 1e-9
            # Sampling may step over a dip; where it says none, a cut must at least be shallow.
            if np.isfinite(first):
                assert first - found < 1.01 * t[1]
            elif np.isfinite(found):
                at = start[k] + found * (end[k] - start[k])
                assert abs(at[2] - posts.sample(grid, at[:2])) < 1e-3


def test_rays_that_touch_the_ground() -> None:
    grid = laid(np.zeros((30, 30)) + np.where(np.arange(30) == 15, 3.0, 0.0), turn_rad=0.2)
    east = np.array([np.cos(0.2), np.sin(0.2), 0.0])

    def point(along_m: float, up_m: float) -> Array:
        return np.asarray(east * along_m + np.array([0.0, 0.0, up_m]))

    cases = [
        (point(-60.0, 0.0), point(-30.0, 5.0), np.inf),  # starts on the ground, leaves it
        (point(-60.0, 1e-9), point(-30.0, 0.5), np.inf),
        (point(-60.0, -1e-9), point(-30.0, 0.5), np.inf),  # below by rounding only
        (point(-60.0, -0.01), point(-30.0, 5.0), 0.0),  # truly below
        (point(-60.0, 2.0), point(-30.0, 0.0), 1.0),  # ends on the ground
        (point(-60.0, 2.0), point(-30.0, -2.0), 0.5),  # ends below it
        (point(-60.0, 1.0), point(60.0, 1.0), None),  # through the ridge
        (point(-60.0, 3.1), point(60.0, 3.1), np.inf),  # over the ridge
        (point(-60.0, 0.5), point(-60.0, 0.5), np.inf),  # no length
        (point(-60.0, 0.0), point(-60.0, 0.0), np.inf),
        (point(-60.0, -0.5), point(-60.0, -0.5), 0.0),
        (point(-60.0, 9.0), point(-60.0, -1.0), 0.9),  # straight down
    ]
    start, end = np.array([c[0] for c in cases]), np.array([c[1] for c in cases])
    at = posts.first_cut(grid, start, end).at
    foot_m = (15 - 14.5) * CELL_M - CELL_M + 1.0 / 3.0 * CELL_M  # a third up the ridge's near side
    wanted = [(60.0 + foot_m) / 120.0 if c[2] is None else c[2] for c in cases]
    assert at == pytest.approx(wanted, abs=1e-6)


def test_unknown_crossings() -> None:
    z = np.zeros((30, 30))
    z[:, 20] = np.nan
    grid = laid(z, cell_m=1.0)
    start = np.array([[-10.0, 0.3, 2.0]] * 4 + [[np.nan, 0.0, 0.0], [5.5, 0.0, 3.0]])
    end = np.array(
        [
            [3.0, 0.3, 2.0],  # stops short of it
            [14.0, 0.3, 2.0],  # crosses from 19 to 21
            [-10.0, 40.3, 2.0],  # leaves the grid
            [10.0, 0.3, -2.0],  # cut before and behind
            [0.0, 0.0, 0.0],
            [5.5, 0.0, 3.0],
        ]
    )
    cut = posts.first_cut(grid, start, end)
    missing_m = (19 - 14.5) + 10.0
    assert cut.unknown_at == pytest.approx(
        [np.inf, missing_m / 24.0, 14.2 / 40.0, missing_m / 20.0, 0.0, 0.0], abs=1e-9
    )
    assert cut.at == pytest.approx([np.inf, np.inf, np.inf, 0.5, np.inf, np.inf], abs=1e-6)


def test_the_nearest_point_is_where_the_distance_says() -> None:
    for grid in (laid(rough(5, 4.0, 15.0), turn_rad=0.3), bent(rough(5, 8.0, 20.0))):
        across = 25.0
        rng = np.random.default_rng(5)
        points = rng.uniform(-across, across, (300, 3))
        foot = closest.feet_m(grid, points)
        ground = posts.sample(grid, foot)
        away = np.linalg.norm(np.column_stack([foot, ground]) - points, axis=1)
        known = ~np.isnan(ground)
        assert known.mean() > 0.95  # a foot on the outermost line may lie a hair beyond it
        np.testing.assert_allclose(away[known], posts.nearest(grid, points).distance_m[known],
                                   atol=2e-3)  # fmt: skip


def test_over_level_ground_the_nearest_point_is_straight_below() -> None:
    points = np.array([[3.0, -4.0, 9.0], [np.nan, 0.0, 1.0]])
    np.testing.assert_array_equal(closest.feet_m(posts.flat(2.0), points), points[:, :2])


def test_the_steepest_within_a_disc_is_what_dense_sampling_finds() -> None:
    grid = laid(rough(3, 3.0, 12.0), turn_rad=0.2)
    places = np.random.default_rng(3).uniform(-20.0, 20.0, (40, 2))
    found = slopes.steepest_within(grid, places, CELL_M)
    step, (x, y) = 1e-4, np.meshgrid(*[np.linspace(-CELL_M, CELL_M, 161)] * 2)
    disc = np.stack([x, y], axis=-1)[np.hypot(x, y) <= CELL_M]
    for place, steep in zip(places, found, strict=True):
        at = place + disc
        within = np.mod(np.stack(rows_cols(grid, *at.T)), 1.0)
        at = at[(np.abs(within - 0.5) < 0.499).all(axis=0)]  # on a crease it has no slope
        east, north = (
            (posts.sample(grid, at + off) - posts.sample(grid, at - off)) / (2.0 * step)
            for off in (np.array([step, 0.0]), np.array([0.0, step]))
        )
        rise = np.hypot(east, north).max()
        assert rise * 0.999 <= steep <= rise * 1.03


def test_of_missing_ground_no_slope_is_known() -> None:
    z = rough(3, 3.0)
    z[:] = np.nan
    assert np.isnan(slopes.steepest_within(laid(z), np.zeros((2, 2)), CELL_M)).all()


def test_the_steepest_of_many_discs_is_that_of_each_alone() -> None:
    z = rough(3, 3.0, 12.0)
    z[2, 3] = np.nan
    grid = laid(z, turn_rad=0.2)
    places = np.random.default_rng(4).uniform(-45.0, 45.0, (200, 2))  # some beyond the grid
    places[7] = np.nan
    for radius in (0.4 * CELL_M, CELL_M, 2.6 * CELL_M):
        alone = [slopes.steepest_within(grid, place[None], radius)[0] for place in places]
        np.testing.assert_array_equal(slopes.steepest_within(grid, places, radius), alone)
