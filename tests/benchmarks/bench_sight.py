"""How fast the ground answers: `python tests/benchmarks/bench_sight.py`.

Rays of up to 500 m from an eye 1.6 m above the ground to aircraft 5 to 80 m above it, over hills
with a cliff, and the nearest ground to the same aircraft. The alternative is what one would write
without pyramids: numpy, every ray sampled bilinearly twice per cell, all at once.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from functools import partial
from typing import Any

import numpy as np
from numpy.typing import NDArray

from shotplan.kernels.ground import grid as posts

Array = NDArray[np.float64]
CELL_M = 5.0


def hills(side: int) -> posts.Grid:
    """`side` by `side` posts with a winding cliff of 95 m, one cell wide."""
    row, col = np.mgrid[0:side, 0:side].astype(float)
    z = 20.0 * np.sin(row / 23.0) + 15.0 * np.cos(col / 31.0 + row / 50.0)
    z += 0.3 * np.random.default_rng(0).normal(size=z.shape)
    z -= 95.0 * (col > side / 2 + 10.0 * np.sin(row / 30.0))
    half_m = (side - 1) / 2 * CELL_M
    per, middle = 1.0 / CELL_M, (side - 1) / 2
    to_grid = np.array([[middle, 0, -per, 0, 0, 0], [middle, per, 0, 0, 0, 0]])
    to_frame = np.array([[-half_m, 0, CELL_M, 0, 0, 0], [half_m, -CELL_M, 0, 0, 0, 0]])
    return posts.make(z, to_grid, to_frame)


def rays(grid: posts.Grid, count: int, seed: int = 1) -> tuple[Array, Array]:
    """Eyes and aircraft anywhere over the grid."""
    rng = np.random.default_rng(seed)
    reach_m = (grid.z_m.shape[0] - 1) / 2 * CELL_M - 360.0
    start = np.append(rng.uniform(-reach_m, reach_m, (count, 2)), np.zeros((count, 1)), axis=1)
    end = start + np.append(rng.uniform(-350.0, 350.0, (count, 2)), np.zeros((count, 1)), axis=1)
    start[:, 2] = posts.sample(grid, start[:, :2]) + 1.6
    end[:, 2] = posts.sample(grid, end[:, :2]) + rng.uniform(5.0, 80.0, count)
    return start, end


def by_sampling(grid: posts.Grid, start: Array, end: Array) -> Array:
    """First fraction at which a sample of the ray is below the ground, +inf none."""
    longest_m = np.sqrt(((end - start)[:, :2] ** 2).sum(axis=1)).max()
    t = np.linspace(0.0, 1.0, int(np.ceil(2.0 * longest_m / CELL_M)) + 1)
    found = np.full(len(start), np.inf)
    for first in range(0, len(start), 2000):
        block = slice(first, first + 2000)
        ray = start[block, None] + t[:, None] * (end - start)[block, None]
        below = ray[..., 2] < posts.sample(grid, ray[..., :2]) - 1e-6
        found[block] = np.where(below.any(axis=1), t[below.argmax(axis=1)], np.inf)
    return found


def timed(what: Callable[[], Any]) -> tuple[float, Any]:
    """The better of two runs in seconds, and the result."""
    best_s = np.inf
    for _ in range(2):
        before = time.perf_counter()
        result = what()
        best_s = min(best_s, time.perf_counter() - before)
    return best_s, result


def main() -> None:
    """Print times, growth and ratios."""
    grid = hills(2000)
    print("first cut of rays over 2000 x 2000 posts")
    before_s = None
    for count in (12_500, 25_000, 50_000, 100_000):
        start, end = rays(grid, count)
        ours_s, cut = timed(partial(posts.first_cut, grid, start, end))
        growth = "" if before_s is None else f", {ours_s / before_s:.2f} times for twice as many"
        print(f"  {count:7,} rays  {ours_s:6.2f} s{growth}")
        before_s = ours_s
    theirs_s, sampled = timed(partial(by_sampling, grid, start, end))
    missed = np.isfinite(cut.at) & ~np.isfinite(sampled)
    print(
        f"  dense numpy sampling of the same: {theirs_s:.2f} s, {theirs_s / ours_s:.1f} times ours"
    )
    print(f"  cut, but stepped over by sampling: {missed.mean():.3%} of the rays")

    print("25,000 rays over ever more posts")
    for side in (250, 500, 1000, 2000):
        grid = hills(side)
        start, end = rays(grid, 25_000)
        ours_s, _ = timed(partial(posts.first_cut, grid, start, end))
        print(f"  {side:4} x {side:4}  {ours_s:6.2f} s")

    print("nearest ground to 50,000 aircraft, 5 to 80 m up, over 400 x 400 posts")
    grid = hills(400)
    _, here = rays(grid, 50_000)
    all_s, _ = timed(partial(posts.nearest, grid, here))
    near_s, _ = timed(partial(posts.nearest, grid, here, enough_m=10.0))
    print(f"  {all_s:.2f} s; where 10 m is enough {near_s:.2f} s")


if __name__ == "__main__":
    main()
