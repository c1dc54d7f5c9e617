"""The picture of the ground and of solids, against plain geometry and the exact rays."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from shotplan.kernels.ground import posts, rays
from shotplan.kernels.light import camera, shadows, view_march, z_buffer
from shotplan.kernels.light.view_march import View
from shotplan.kernels.solids import meshes
from shotplan.kernels.solids.columns import Columns
from shotplan.kernels.solids.prisms import Prisms

Array = np.ndarray
COLS, ROWS = 640, 360
FOCAL = camera.focal_px(COLS, np.radians(71.6))


def view(
    eye: tuple[float, float, float] = (0.0, 0.0, 10.0), azimuth: float = 0.0, tilt: float = 0.0
) -> View:
    return View(np.array(eye), np.radians(azimuth), np.radians(tilt), FOCAL, COLS, ROWS)


def hills(cell: float = 4.0, hole: bool = False) -> posts.Grid:
    y, x = np.mgrid[0:100, 0:110] * cell
    z = 50.0 + 14.0 * np.sin(x / 37.0) * np.cos(y / 45.0) + 0.05 * x
    if hole:
        z[56:64, 50:64] = np.nan
    to_grid = np.array([[50.0, 0, 1 / cell, 0, 0, 0], [55.0, 1 / cell, 0, 0, 0, 0]])
    to_frame = np.array([[-55.0 * cell, 0, cell, 0, 0, 0], [-50.0 * cell, cell, 0, 0, 0, 0]])
    return posts.make(z, to_grid, to_frame)


def column(x: float, y: float, radius: float, low: float, top: float) -> Columns:
    return Columns(np.array([[x, y]]), np.array([radius]), np.array([low]), np.array([top]))


def wall(a: tuple[float, float], b: tuple[float, float], low: float, top: float) -> Prisms:
    return Prisms(np.array([[a, b, b]]), np.array([0.1]), np.array([low]), np.array([top]))


@given(st.floats(-180, 180), st.floats(-90, 60))
def test_a_ray_goes_where_the_camera_kernel_says(azimuth: float, tilt: float) -> None:
    v = view(azimuth=azimuth, tilt=tilt)
    way = view_march.rays(v)
    col, row, ahead = view_march.placed(v, v.eye_m + 7.0 * way[40, 555])
    assert float(col) == pytest.approx(555.5, abs=1e-6)
    assert float(row) == pytest.approx(40.5, abs=1e-6)
    assert float(ahead) == pytest.approx(7.0)


@pytest.mark.parametrize("tilt", [-35.0, -12.0, 0.0, 9.0])
def test_flat_ground_ends_at_the_row_of_the_horizon(tilt: float) -> None:
    v = view(tilt=tilt)
    found = view_march.ground(posts.flat(0.0), v, view_march.rays(v))
    ground = np.isfinite(found.ahead_m)
    # The level lies f tan(tilt) below the middle; kernels/camera.horizon_px, no dip.
    horizon = ROWS / 2.0 - float(camera.horizon_px(FOCAL, np.array(np.radians(tilt))))
    first = np.clip(np.ceil(horizon - 0.5), 0, ROWS)
    assert ground[:, COLS // 2].argmax() == pytest.approx(first, abs=1) or ground.all()
    assert not (found.unknown & ground).any()


@given(st.floats(-180, 180), st.floats(-89.9, 20))
@settings(max_examples=8, deadline=None)
def test_the_ground_is_where_exact_rays_are_cut(azimuth: float, tilt: float) -> None:
    grid = hills()
    eye = (5.0, -8.0, float(posts.sample(grid, np.array([5.0, -8.0]))) + 6.0)
    v = view(eye, azimuth, tilt)
    way = view_march.rays(v)
    found = view_march.ground(grid, v, way)
    pick = np.random.default_rng(1).integers(0, COLS * ROWS, 400)
    ahead = found.ahead_m.ravel()[pick]
    start = np.tile(v.eye_m, (len(pick), 1))
    cut = rays.first_cut(grid, start, v.eye_m + 900.0 * way.reshape(-1, 3)[pick])
    both = np.isfinite(cut.at) & np.isfinite(ahead)
    off = np.abs(ahead[both] / (900.0 * cut.at[both]) - 1.0)
    # All but pixels right on the edge of a hill, where half a pixel is another slope.
    assert (off > 0.01).mean() < 0.02 if both.any() else True
    assert (np.isfinite(cut.at) != np.isfinite(ahead)).mean() < 0.02


def test_a_hole_in_the_ground_is_unknown_and_so_is_what_lies_beyond_its_edge() -> None:
    grid = hills(hole=True)
    v = view((16.0, -10.0, 90.0), 0.0, -35.0)
    way = view_march.rays(v)
    found = view_march.ground(grid, v, way)
    exact = rays.first_cut(
        grid, np.tile(v.eye_m, (ROWS, 1)), v.eye_m + 3000.0 * way[:, COLS // 2]
    )  # fmt: skip
    through = exact.unknown_at < exact.at
    down = way[:, COLS // 2, 2] < 0.0
    # A ray that passes high over the hole and lands on known ground shows that ground.
    landed = np.isfinite(exact.at)
    unknown = found.unknown[:, COLS // 2]
    assert unknown.any()
    # The last step before an edge counts as beyond it: a few rows, on the side of doubt.
    assert unknown[~through].sum() <= 4
    assert unknown[down & ~landed].all()


def test_straight_down_shows_the_ground_all_round() -> None:
    v = view((0.0, 0.0, 30.0), 20.0, -90.0)
    found = view_march.ground(posts.flat(4.0), v, view_march.rays(v))
    assert np.abs(found.ahead_m - 26.0).max() < 1e-4


def test_water_lies_level_inside_its_ring_and_not_in_a_hole_of_it() -> None:
    v = view((0.0, 0.0, 10.0), 0.0, -45.0)
    way = view_march.rays(v)
    ring = np.array([[-50.0, 1.0], [50.0, 1.0], [50.0, 60.0], [-50.0, 60.0]])
    hole = np.array([[-2.0, 8.0], [2.0, 8.0], [2.0, 12.0], [-2.0, 12.0]])
    ahead = view_march.sheet(v, way, (ring, hole), 0.0)
    at = v.eye_m + ahead[..., None] * way
    met = np.isfinite(ahead)
    assert at[met][:, 2] == pytest.approx(0.0, abs=1e-9)
    assert not met[ROWS // 2, COLS // 2]  # 10 m down and 10 m out: in the hole
    assert met[ROWS // 2, 20]


@given(st.integers(0, 1000))
def test_along_is_the_product_with_the_axes(seed: int) -> None:
    rng = np.random.default_rng(seed)
    axes, points = rng.normal(size=(3, 3)), rng.normal(size=(5, 7, 3))
    assert view_march.along(axes, points) == pytest.approx(points @ axes.T, abs=1e-12)
    parts = view_march.by_coordinate(*np.moveaxis(points, -1, 0))
    assert (parts == points).all()
    assert parts[..., 1].flags.c_contiguous


@given(st.integers(0, 1000), st.integers(1, 60))
def test_the_nearest_of_many_is_that_of_each_alone(seed: int, count: int) -> None:
    rng = np.random.default_rng(seed)
    screen, value = rng.uniform(-10.0, 40.0, (count, 3, 2)), rng.uniform(0.1, 1.0, (count, 3))
    best, item = z_buffer.highest(screen, value, 25, 30)
    alone = [z_buffer.highest(screen[[k]], value[[k]], 25, 30)[0] for k in range(count)]
    assert (best == np.max(alone, axis=0)).all()
    assert (item >= 0).tolist() == np.isfinite(best).tolist()
    rows, cols = np.nonzero(item >= 0)
    assert (np.array(alone)[item[rows, cols], rows, cols] == best[rows, cols]).all()
    assert (z_buffer.highest_value(screen, value, 25, 30) == best).all()


@pytest.mark.parametrize("away", [8.0, 25.0, 60.0])
def test_a_tree_spans_the_pixels_of_pinhole_optics(away: float) -> None:
    v = view((0.0, 0.0, 1.6))
    corners, _ = meshes.turned(column(0.0, away, 1.2, 0.0, 4.0), meshes.CYLINDER, 64)
    rows, cols = np.nonzero(z_buffer.nearest(v, corners).which >= 0)
    near = away - 1.2
    top = ROWS / 2.0 - FOCAL * (4.0 - 1.6) / near  # f h / d, at the front of the column
    foot = ROWS / 2.0 + FOCAL * 1.6 / near
    assert rows.min() == pytest.approx(max(top, 0.0), abs=1.0)
    assert rows.max() + 1 == pytest.approx(min(foot, ROWS), abs=1.0)
    # Seen from the side a column is as wide as its tangents: asin(r / d) to either side.
    half = FOCAL * np.tan(np.arcsin(1.2 / away))
    assert cols.min() == pytest.approx(COLS / 2.0 - half, abs=1.0)
    assert cols.max() + 1 == pytest.approx(COLS / 2.0 + half, abs=1.0)


def test_a_crown_touches_its_column_above_below_and_all_round() -> None:
    corners, _ = meshes.turned(column(3.0, -2.0, 2.5, 1.5, 9.0), meshes.crown(14), 48)
    out = np.hypot(corners[..., 0] - 3.0, corners[..., 1] + 2.0)
    assert corners[..., 2].min() == pytest.approx(1.5)
    assert corners[..., 2].max() == pytest.approx(9.0)
    assert out.max() == pytest.approx(2.5)


@pytest.mark.parametrize("outline", [meshes.CYLINDER, meshes.crown(6), meshes.SKITTLE])
def test_solids_are_closed_and_face_outward(outline: Array) -> None:
    corners, _ = meshes.turned(column(0.0, 0.0, 1.0, 0.0, 2.0), outline, 24)
    assert volume(corners) > 0.3
    # A closed surface has no net area in any direction.
    areas = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]).sum(axis=0)
    assert areas == pytest.approx(np.zeros(3), abs=1e-9)


def volume(corners: Array) -> float:
    """By the divergence theorem; positive where triangles face outward."""
    return float((np.cross(corners[:, 0], corners[:, 1]) * corners[:, 2]).sum() / 6.0)


def test_prisms_have_their_volume_whichever_way_they_turn() -> None:
    triangle = np.array([[0.0, 0.0], [4.0, 0.0], [0.0, 3.0]])
    for ring in (triangle, triangle[::-1]):
        made = Prisms(ring[None].copy(), np.zeros(1), np.array([1.0]), np.array([6.0]))
        assert volume(meshes.walled(made)[0]) == pytest.approx(6.0 * 5.0)
    line = np.array([[0.0, 0.0], [6.0, 0.0], [6.0, 0.0]])
    made = Prisms(line[None], np.array([2.0]), np.array([0.0]), np.array([1.0]))
    # A band of 6 by 4 m and two half discs, of four and of twice four chords: r² n/2 sin(180°/n).
    discs = 4.0 * (2.0 * np.sin(np.pi / 4.0) + 4.0 * np.sin(np.pi / 8.0))
    assert volume(meshes.walled(made)[0]) == pytest.approx(24.0 + discs)


def test_a_wall_two_prisms_share_is_only_drawn_where_one_is_higher() -> None:
    left, right = [[0.0, 0.0], [4.0, 0.0], [0.0, 4.0]], [[4.0, 0.0], [4.0, 4.0], [0.0, 4.0]]
    made = Prisms(np.array([left, right]), np.zeros(2), np.zeros(2), np.array([5.0, 7.0]))
    corners, owner = meshes.walled(made)
    upright = np.ptp(corners[..., 2], axis=1) > 0.0
    shared = upright & (np.abs(corners[..., 0] + corners[..., 1] - 4.0).max(axis=1) < 1e-9)
    assert set(owner[shared].tolist()) == {1}
    assert corners[shared][..., 2].min() == pytest.approx(5.0)


def test_a_wall_hides_what_is_behind_it_and_not_what_stands_over_it() -> None:
    v = view((0.0, 0.0, 2.0))
    screen, _ = meshes.walled(wall((-30.0, 10.0), (30.0, 10.0), 0.0, 3.0))
    tree, _ = meshes.turned(column(0.0, 30.0, 1.0, 0.0, 12.0), meshes.CYLINDER, 32)
    seen = z_buffer.nearest(v, np.concatenate([screen, tree]))
    rows = np.flatnonzero(seen.which[:, COLS // 2] >= len(screen))
    # The wall's near edge, 1 m over the eye at 9.9 m, hides the tree below that line.
    edge = ROWS / 2.0 - FOCAL * 1.0 / 9.9
    assert rows.max() + 1 == pytest.approx(edge, abs=1.0)
    assert rows.min() == pytest.approx(ROWS / 2.0 - FOCAL * 10.0 / 29.0, abs=1.0)


def test_what_reaches_behind_the_camera_is_cut_there() -> None:
    v = view((0.0, 0.0, 2.0))
    floor = np.array([[[-50.0, -50.0, 0.0], [50.0, -50.0, 0.0], [0.0, 400.0, 0.0]]])
    seen = z_buffer.nearest(v, floor)
    assert seen.ahead_m[ROWS - 1, COLS // 2] == pytest.approx(2.0 * FOCAL / (ROWS / 2.0 - 0.5))
    assert (seen.which[: ROWS // 2] == -1).all()


def test_triangles_that_share_an_edge_leave_no_gap() -> None:
    around = np.array([[40.3, 20.1], [300.7, 55.2], [280.4, 210.9], [60.8, 190.6]])
    screen = np.stack([around[[0, 1, 2]], around[[0, 2, 3]]])
    _, item = z_buffer.highest(screen, np.ones((2, 3)), 240, 320)
    one, other = (z_buffer.highest(s[None], np.ones((1, 3)), 240, 320)[1] for s in screen)
    assert ((item >= 0) == ((one >= 0) | (other >= 0))).all()
    assert not ((one >= 0) & (other >= 0)).any()
    inside = view_march.inside((around,), np.stack(np.meshgrid(
        np.arange(320) + 0.5, np.arange(240) + 0.5), axis=-1).reshape(-1, 2))  # fmt: skip
    assert (inside.reshape(240, 320) == (item >= 0)).all()


def test_a_wire_is_a_line_from_pole_to_pole() -> None:
    v = view((0.0, 0.0, 5.0))
    start, end = np.array([[-10.0, 20.0, 8.0]]), np.array([[10.0, 20.0, 8.0]])
    rows, cols = np.nonzero(z_buffer.strokes(v, start, end).which == 0)
    row = ROWS / 2.0 - FOCAL * 3.0 / 20.0
    assert np.abs(rows + 0.5 - row).max() <= 1.5
    assert cols.min() == pytest.approx(COLS / 2.0 - FOCAL * 0.5, abs=2.0)
    assert len(set(cols.tolist())) == cols.max() - cols.min() + 1


@pytest.mark.parametrize("elevation", [12.0, 35.0, 60.0])
@pytest.mark.parametrize("azimuth", [0.0, 70.0, 230.0])
def test_a_shadow_is_as_long_as_the_sun_is_low(elevation: float, azimuth: float) -> None:
    e, a = np.radians([elevation, azimuth])
    toward = np.array([np.cos(e) * np.sin(a), np.cos(e) * np.cos(a), np.sin(e)])
    corners, _ = meshes.turned(column(0.0, 0.0, 0.2, 0.0, 3.0), meshes.CYLINDER, 32)
    out = np.arange(0.5, 20.0, 0.02)
    points = np.column_stack([-out * np.sin(a), -out * np.cos(a), np.zeros_like(out)])
    still = np.full(len(out), 10.0)
    lit = shadows.lit(points, still, np.zeros(len(out)), toward, corners)
    # h / tan(e), from the column's far rim.
    assert out[lit < 0.5].max() == pytest.approx(3.0 / np.tan(e) + 0.2, abs=0.1)
    assert out[lit < 0.5].min() < 0.6
    assert lit[out > 3.0 / np.tan(e) + 0.4].min() > 0.999


def test_a_hill_throws_its_shade_as_far() -> None:
    z = np.zeros((120, 120))
    z[:, 58:60] = 20.0  # a ridge along the grid's columns, 2 m to a cell
    to_grid = np.array([[60.0, 0, 0.5, 0, 0, 0], [60.0, 0.5, 0, 0, 0, 0]])
    to_frame = np.array([[-120.0, 0, 2.0, 0, 0, 0], [-120.0, 2.0, 0, 0, 0, 0]])
    grid = posts.make(z, to_grid, to_frame)
    e = np.radians(30.0)
    hidden = shadows.by_ground(grid, np.zeros(2), 100.0, np.array([-np.cos(e), 0.0, np.sin(e)]))
    x = np.arange(2.0, 95.0)
    lit = shadows.lit_by_ground(hidden, np.column_stack([x, np.zeros_like(x), np.zeros_like(x)]))
    # The ridge's edge is at x = -2 m and 20 m high: 20 / tan(30 deg) = 34.6 m of shade.
    assert x[lit < 0.5].max() == pytest.approx(-2.0 + 20.0 / np.tan(e), abs=3.0)
    assert lit[x > 40.0].min() > 0.999
