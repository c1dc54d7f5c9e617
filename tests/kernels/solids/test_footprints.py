"""Outlines: distances, triangles, growing, cutting."""

from __future__ import annotations

import subprocess
import sys

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from shotplan.kernels.solids import footprints
from shotplan.kernels.solids.footprints import Array, Outline

SEEDS = st.integers(0, 2**31)
SQUARE = np.array([[0.0, 0.0], [20.0, 0.0], [20.0, 20.0], [0.0, 20.0]])
HOLE = np.array([[5.0, 5.0], [15.0, 5.0], [15.0, 15.0], [5.0, 15.0]])
FRAME: Outline = (SQUARE, HOLE)
U_SHAPE: Outline = (
    np.array([[0, 0], [30, 0], [30, 30], [20, 30], [20, 10], [10, 10], [10, 30], [0, 30]], float),
)


def star(rng: np.random.Generator) -> Outline:
    """A star-shaped pond about anywhere, sometimes with an island."""
    count = int(rng.integers(5, 30))
    angle = np.sort(rng.uniform(0.0, 2 * np.pi, count)) + np.arange(count) * 1e-6
    angle[:3] = 0.0, 2.0, 4.0  # so that the centre is always inside
    angle.sort()
    out = rng.uniform(12.0, 40.0, count)[:, None]
    ring = out * np.column_stack([np.cos(angle), np.sin(angle)])
    island = 4.0 * np.array([[1.0, 0.0], [-0.5, 0.8], [-0.5, -0.8]])
    centre = rng.uniform(-100.0, 100.0, 2)
    holes = (island + centre,) if rng.random() < 0.5 else ()
    return (ring + centre, *holes)


def area(outline: Outline) -> float:
    """Shoelace, holes taken off."""

    def shoelace(ring: Array) -> float:
        x, y = ring.T
        return 0.5 * abs(float(x @ np.roll(y, -1) - y @ np.roll(x, -1)))

    return shoelace(outline[0]) - sum(shoelace(hole) for hole in outline[1:])


def edge_distance(outline: Outline, xy: Array) -> Array:
    """To every edge of every ring, written out."""
    least = np.full(len(xy), np.inf)
    for ring in outline:
        for a, b in zip(ring, np.roll(ring, -1, axis=0), strict=True):
            share = np.clip((xy - a) @ (b - a) / ((b - a) @ (b - a)), 0.0, 1.0)
            off = np.linalg.norm(xy - a - share[:, None] * (b - a), axis=1)
            least = np.minimum(least, off)
    return least


def odd_crossings(outline: Outline, xy: Array) -> Array:
    """Inside by the even-odd rule over all rings."""
    inside = np.zeros(len(xy), dtype=bool)
    for ring in outline:
        for a, b in zip(ring, np.roll(ring, -1, axis=0), strict=True):
            spans = (a[1] > xy[:, 1]) != (b[1] > xy[:, 1])
            rise = b[1] - a[1] if b[1] != a[1] else 1.0
            at = a[0] + (xy[:, 1] - a[1]) * (b[0] - a[0]) / rise
            inside ^= spans & (xy[:, 0] < at)
    return inside


def test_inside_a_frame_worked_by_hand() -> None:
    xy = np.array([[2.0, 10.0], [10.0, 10.0], [-3.0, 24.0], [20.0, 7.0], [10.0, 5.0]])
    assert footprints.inside_m(FRAME, xy).tolist() == [2.0, -5.0, -5.0, 0.0, 0.0]
    assert footprints.inside_m(FRAME, xy.reshape(1, 5, 2)).shape == (1, 5)
    assert float(footprints.inside_m(FRAME, xy[0])) == 2.0
    assert footprints.within(FRAME, xy, 0.0).tolist() == [True, False, False, True, True]
    assert footprints.within(FRAME, xy[1], 5.0)


@settings(deadline=None, max_examples=40)
@given(SEEDS)
def test_inside_agrees_with_edges_and_crossings(seed: int) -> None:
    rng = np.random.default_rng(seed)
    outline = star(rng)
    xy = outline[0].mean(axis=0) + rng.uniform(-60.0, 60.0, (200, 2))
    away = edge_distance(outline, xy)
    want = np.where(odd_crossings(outline, xy), away, -away)
    inside = footprints.inside_m(outline, xy)
    np.testing.assert_allclose(inside, want, rtol=0, atol=1e-9)
    by = rng.uniform(0.0, 30.0)
    np.testing.assert_array_equal(footprints.within(outline, xy, by), inside >= -by)


def test_distance_to_a_point_a_line_and_a_line_that_stands_still() -> None:
    xy = np.array([[3.0, 4.0], [12.0, 0.0], [5.0, -2.0]])
    line = np.array([[0.0, 0.0], [10.0, 0.0]])
    assert footprints.distance_to_path_m(np.zeros((1, 2)), xy).tolist()[0] == 5.0
    assert footprints.distance_to_path_m(np.zeros((3, 2)), xy).tolist()[0] == 5.0
    assert footprints.distance_to_path_m(line, xy).tolist() == [4.0, 2.0, 2.0]
    assert footprints.distance_to_path_m(line, xy[:, None]).shape == (3, 1)


@settings(deadline=None, max_examples=40)
@given(SEEDS)
def test_triangles_cover_without_overlap(seed: int) -> None:
    outline = star(np.random.default_rng(seed))
    parts = footprints.triangles(outline)
    assert parts.shape[1:] == (3, 2)
    each = [area((part,)) for part in parts]
    assert sum(each) == pytest.approx(area(outline), rel=1e-9)
    middles = parts.mean(axis=1)[np.array(each) > 1e-6]
    assert (footprints.inside_m(outline, middles) > 0.0).all()


def test_grown_square_has_round_corners_and_a_smaller_hole() -> None:
    (big,) = footprints.grown(FRAME, 2.0)
    round_area = 20.0**2 + 4 * 20.0 * 2.0 + np.pi * 4.0 - 6.0**2
    assert area(big) == pytest.approx(round_area, abs=0.03)
    assert len(big) == 2
    corner = footprints.inside_m(big, np.array([-2.0, -2.0]) * np.sqrt(0.5))
    assert float(corner) == pytest.approx(0.0, abs=0.0013 * 2.0)
    assert len(footprints.grown(FRAME, 5.0)[0]) == 1


def test_shrunk_outline_falls_into_parts_or_to_nothing() -> None:
    assert len(footprints.grown(U_SHAPE, -4.0)) == 1
    bar = (np.array([[0, 0], [9, 0], [9, 4], [20, 4], [20, 0], [30, 0], [30, 9], [0, 9]], float),)
    assert len(footprints.grown(bar, -3.0)) == 2
    assert footprints.grown(FRAME, -3.0) == ()


@settings(deadline=None, max_examples=40)
@given(SEEDS, st.sampled_from([3.0, 7.5, 10.0, 100.0]))
def test_cells_fit_the_raster_and_lose_nothing(seed: int, size: float) -> None:
    outline = star(np.random.default_rng(seed))
    pieces = footprints.cells(outline, size)
    assert sum(area(piece) for piece in pieces) == pytest.approx(area(outline), abs=1e-3)
    for piece in pieces:
        low, high = piece[0].min(axis=0), piece[0].max(axis=0)
        square = np.floor((low + high) / 2.0 / size) * size
        assert (low >= square - 1e-9).all()
        assert (high <= square + size + 1e-9).all()


def test_cells_part_what_a_square_holds_twice() -> None:
    assert len(footprints.cells(U_SHAPE, 100.0)) == 1
    raised = (U_SHAPE[0] - [0.0, 15.0],)
    assert len(footprints.cells(raised, 100.0)) == 3
    assert len(footprints.cells((SQUARE,), 10.0)) == 4
    assert footprints.cells((SQUARE[:2].repeat(2, axis=0),), 10.0) == ()


def test_split_by_path_opens_a_strip_with_square_ends() -> None:
    path = np.array([[10.0, -5.0], [10.0, -2.0], [10.0, 8.0]])
    outside, inside = footprints.split_by_path((SQUARE,), path, 2.0)
    assert sum(map(area, inside)) == pytest.approx(4.0 * 10.0, abs=1e-9)
    assert sum(map(area, outside)) == pytest.approx(400.0 - 40.0, abs=1e-9)
    through = np.array([[10.0, -5.0], [10.0, 25.0]])
    outside, inside = footprints.split_by_path((SQUARE,), through, 2.0)
    assert (len(outside), len(inside)) == (2, 1)


def test_split_by_a_path_elsewhere_or_that_stands_still() -> None:
    aside = np.array([[50.0, 0.0], [50.0, 9.0]])
    outside, inside = footprints.split_by_path(FRAME, aside, 2.0)
    assert [area(part) for part in outside] == [300.0]
    assert inside == ()
    outside, inside = footprints.split_by_path((SQUARE,), np.full((4, 2), 10.0), 2.0)
    assert sum(map(area, inside)) == pytest.approx(16.0)
    assert len(outside[0]) == 2


@settings(deadline=None, max_examples=30)
@given(SEEDS, st.floats(0.5, 6.0))
def test_split_parts_add_up_and_keep_to_their_side(seed: int, half: float) -> None:
    rng = np.random.default_rng(seed)
    outline = star(rng)
    path = outline[0].mean(axis=0) + np.cumsum(rng.normal(0.0, 6.0, (20, 2)), axis=0)
    outside, inside = footprints.split_by_path(outline, path, half)
    total = sum(map(area, outside)) + sum(map(area, inside))
    assert total == pytest.approx(area(outline), abs=1e-3)
    for part in outside:
        assert (footprints.distance_to_path_m(path, part[0]) >= 0.98 * half).all()
    for part in inside:
        assert (footprints.distance_to_path_m(path, part[0]) <= np.sqrt(2.0) * half + 1e-6).all()


def test_rings_come_back_open() -> None:
    for outline in (*footprints.grown(FRAME, 1.0), *footprints.cells(FRAME, 7.0)):
        for ring in outline:
            assert ring.shape[1] == 2
            assert not np.array_equal(ring[0], ring[-1])
            assert shapely.Polygon(ring).is_valid


def test_the_package_itself_does_not_load_shapely() -> None:
    code = "import sys, shotplan; sys.exit('shapely' in sys.modules)"
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0
