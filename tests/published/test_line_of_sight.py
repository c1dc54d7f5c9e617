"""The ground against published and reproduced values: what a wall hides, how near a cliff is."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from shotplan.kernels.ground import grid as posts

Array = NDArray[np.float64]


def laid(z_m: Array, cell_m: float) -> posts.Grid:
    """Square cells, columns running east from x = 0, rows south from y = half the height."""
    half_m = (z_m.shape[0] - 1) / 2 * cell_m
    to_grid = np.array([[half_m / cell_m, 0, -1 / cell_m, 0, 0, 0], [0, 1 / cell_m, 0, 0, 0, 0]])
    to_frame = np.array([[0.0, 0, cell_m, 0, 0, 0], [half_m, -cell_m, 0, 0, 0, 0]])
    return posts.make(z_m, to_grid, to_frame)


def walled(cell_m: float) -> posts.Grid:
    """Level ground with a wall of 10 m, one post thick, 100 m east of the eye."""
    z = np.zeros((9, int(700 / cell_m) + 1))
    z[:, int(100 / cell_m)] = 10.0
    return laid(z, cell_m)


@pytest.mark.parametrize("cell_m", [1.0, 10.0])
@pytest.mark.parametrize(
    ("away_m", "least_visible_m"),
    # reference/physics.md section 9: wall 10 m at 100 m, eye 2 m, least visible height above the
    # ground; run with gdal_viewshed 3.6.2, equal to 2 + 0.08 d.
    [(200.0, 18.00), (300.0, 26.00), (600.0, 50.00)],
)
def test_what_a_wall_hides(cell_m: float, away_m: float, least_visible_m: float) -> None:
    grid = walled(cell_m)
    heights = least_visible_m + np.array([-5.0, -0.01, 0.01, 5.0])
    start = np.tile([0.0, 0.0, 2.0], (4, 1))
    end = np.column_stack([np.full(4, away_m), np.zeros(4), heights])
    cut = posts.first_cut(grid, start, end)
    assert np.isfinite(cut.at).tolist() == [True, True, False, False]
    # Just too low a ray is cut at the wall's top.
    assert cut.at[1] * away_m == pytest.approx(100.0, abs=0.02)


@pytest.mark.parametrize(("up_m", "visible_to_m"), [(20.0, 225.0), (30.0, 350.0)])
def test_how_far_a_target_is_seen_over_the_wall(up_m: float, visible_to_m: float) -> None:
    # reference/physics.md section 9: the same wall, target 20 m visible to 225 m, 30 m to 350 m.
    away = visible_to_m + np.array([-0.1, 0.1])
    end = np.column_stack([away, np.zeros(2), np.full(2, up_m)])
    cut = posts.first_cut(walled(1.0), np.tile([0.0, 0.0, 2.0], (2, 1)), end)
    assert np.isfinite(cut.at).tolist() == [False, True]


@pytest.mark.parametrize(
    ("cliff_m", "up_m", "out_m", "straight_down_m", "nearest_m"),
    # reference/rules.md section 0.1, check values: vertical face, flat foot.
    [
        (150.0, 30.0, 0.01, 180.0, 30.00),
        (150.0, 30.0, 50.0, 180.0, 58.31),
        (150.0, 30.0, 100.0, 180.0, 104.40),
        (150.0, 30.0, 116.19, 180.0, 120.00),
        (150.0, 30.0, 120.0, 180.0, 123.69),
        (60.0, 50.0, 20.0, 110.0, 53.85),
        (100.0, 20.0, 60.0, 120.0, 63.25),
    ],
)
def test_the_nearest_rock_beyond_a_cliff_edge(
    cliff_m: float, up_m: float, out_m: float, straight_down_m: float, nearest_m: float
) -> None:
    cell_m, lip_m = 0.25, 20.0
    z = np.zeros((160, 641))
    z[:, int(lip_m / cell_m) + 1 :] = -cliff_m  # a face one cell wide, from the lip outward
    grid = laid(z, cell_m)
    here = np.array([[lip_m + out_m, 0.0, up_m]])
    # 0.1 m: the table's face is vertical, ours leans by one cell.
    assert posts.nearest(grid, here).distance_m == pytest.approx([nearest_m], abs=0.1)
    beyond = np.array([[lip_m + max(out_m, cell_m), 0.0]])
    assert up_m - posts.sample(grid, beyond) == pytest.approx([straight_down_m], abs=1e-9)
