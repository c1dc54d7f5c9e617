"""Ground so rough that hardly a patch can be left out: bounded work, and never too far."""

from __future__ import annotations

import numpy as np
import pytest

from shotplan.kernels.ground import closest, grid, patches

CELL_M = 0.1


def rough(noise_m: float) -> grid.Grid:
    """40 by 40 posts of 0.1 m about the middle, each at any height up to `noise_m`."""
    z = noise_m * np.random.default_rng(1).random((40, 40))
    to_grid = np.array([[20, 0, -1 / CELL_M, 0, 0, 0], [20, 1 / CELL_M, 0, 0, 0, 0]])
    to_frame = np.array([[-2, 0, CELL_M, 0, 0, 0], [2, -CELL_M, 0, 0, 0, 0]])
    return grid.make(z, to_grid, to_frame)


@pytest.mark.parametrize("noise_m", [3.0, 1000.0])
def test_no_more_pieces_than_said_and_never_too_far(
    noise_m: float, monkeypatch: pytest.MonkeyPatch
) -> None:
    ground, rng = rough(noise_m), np.random.default_rng(2)
    seen: list[int] = []
    least = patches._least

    def counted(state: np.ndarray) -> object:
        seen.append(state.shape[1])
        assert sum(seen) < 20_000_000
        return least(state)

    monkeypatch.setattr(patches, "_least", counted)
    points = np.column_stack([rng.uniform(-3, 3, (40, 2)), noise_m * rng.uniform(0, 1.2, 40)])
    found = closest.nearest(ground, points, missing_too=False).distance_m
    # The second way: a million places on the surface, each as far as it is.
    at = rng.uniform(0.0, 38.999, (1_000_000, 2))
    (i, j), (v, u) = at.astype(int).T, (at % 1.0).T
    z = ground.z_m
    height = (z[i, j] * (1 - u) + z[i, j + 1] * u) * (1 - v) + (
        z[i + 1, j] * (1 - u) + z[i + 1, j + 1] * u
    ) * v
    x, y = -2.0 + CELL_M * at[:, 1], 2.0 - CELL_M * at[:, 0]
    for point, far in zip(points, found, strict=True):
        there = np.sqrt((x - point[0]) ** 2 + (y - point[1]) ** 2 + (height - point[2]) ** 2).min()
        assert far <= there + 1e-3
        assert noise_m > 100.0 or far > there - 0.15  # places lie 0.12 m apart in height
