"""Nearest tree to many points: the cell grid against shapely's STRtree and scipy's cKDTree.

Run `python tests/benchmarks/bench_clearance.py`. Both find the pairs within reach (the STRtree by
`query(predicate="dwithin")`, the cKDTree by `sparse_distance_matrix`); numpy takes the level gap
and the height, and the least per point. How the grid and the STRtree grow is printed as well.
"""

from __future__ import annotations

import time
from collections.abc import Callable

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from shotplan.kernels.solids import columns, prisms
from shotplan.kernels.solids.columns import Array, Columns
from shotplan.kernels.solids.prisms import Prisms

SIDE_M = 1000.0
ROUNDS = 3


def forest(count: int, seed: int = 1) -> Columns:
    """Crowns and trunks over one square kilometre."""
    rng = np.random.default_rng(seed)
    bottom = np.where(rng.random(count) < 0.5, -np.inf, 2.0)
    return Columns(
        rng.uniform(0.0, SIDE_M, (count, 2)),
        rng.uniform(0.5, 3.0, count),
        bottom,
        rng.uniform(5.0, 20.0, count),
    )


def points(count: int, seed: int = 2) -> Array:
    """Anywhere over the same square, 1 to 25 m up."""
    rng = np.random.default_rng(seed)
    level = rng.uniform(0.0, SIDE_M, (count, 2))
    return np.column_stack([level, rng.uniform(1.0, 25.0, count)])


def walls_of(trees: Columns) -> Prisms:
    """Each tree as a triangle about as wide, grown by a metre."""
    about = np.array([[1.0, 0.0], [-0.5, 0.8], [-0.5, -0.8]])
    corners = trees.xy_m[:, None] + trees.radius_m[:, None, None] * about
    return Prisms(corners, np.ones(len(corners)), trees.bottom_m, trees.top_m)


def strtree_of(trees: Columns) -> shapely.STRtree:
    """A general-purpose index of the stems."""
    return shapely.STRtree(np.asarray(shapely.points(trees.xy_m)))


def by_strtree(
    tree: shapely.STRtree, trees: Columns, xyz_m: Array, enough_m: float, block: int = 100_000
) -> Array:
    """The same by that index: every stem within the reach and the widest crown's radius."""
    reach = enough_m + float(trees.radius_m.max())
    least = np.full(len(xyz_m), np.inf)
    for start in range(0, len(xyz_m), block):
        part = xyz_m[start : start + block]
        point, item = tree.query(shapely.points(part[:, :2]), predicate="dwithin", distance=reach)
        dx, dy = (part[point, :2] - trees.xy_m[item]).T
        found = of_pairs(trees, np.sqrt(dx * dx + dy * dy), part[point, 2], item)
        np.minimum.at(least, start + point, found)
    return np.where(least < enough_m, least, np.inf)


def of_pairs(trees: Columns, off_m: Array, z: Array, item: NDArray[np.intp]) -> Array:
    """Distance of points `off_m` from the stems of their items, level, and at the height `z`."""
    level = np.maximum(off_m - trees.radius_m[item], 0.0)
    upright = np.maximum(np.maximum(trees.bottom_m[item] - z, z - trees.top_m[item]), 0.0)
    return np.asarray(np.sqrt(level * level + upright * upright))


def by_kdtree(
    tree: cKDTree, trees: Columns, xyz_m: Array, enough_m: float, block: int = 100_000
) -> Array:
    """The same by scipy's tree."""
    reach = enough_m + float(trees.radius_m.max())
    least = np.full(len(xyz_m), np.inf)
    for start in range(0, len(xyz_m), block):
        part = xyz_m[start : start + block]
        other = cKDTree(part[:, :2])
        pairs = other.sparse_distance_matrix(tree, reach, output_type="ndarray")
        found = of_pairs(trees, pairs["v"], part[pairs["i"], 2], pairs["j"])
        np.minimum.at(least, start + pairs["i"], found)
    return np.where(least < enough_m, least, np.inf)


def best_of(run: Callable[[], Array]) -> tuple[float, Array]:
    """Least seconds of a few rounds, and the answer."""
    least = np.inf
    for _ in range(ROUNDS):
        began = time.perf_counter()
        answer = run()
        least = min(least, time.perf_counter() - began)
    return least, answer


def compare(trees: int, count: int, enough_m: float) -> None:
    """Both times with the index made anew and with it at hand, and their ratios."""
    wood, xyz = forest(trees), points(count)
    ours, mine = best_of(lambda: columns.nearest(columns.index(wood), xyz, enough_m).distance_m)
    theirs, other = best_of(lambda: by_strtree(strtree_of(wood), wood, xyz, enough_m))
    cells, tree = columns.index(wood), strtree_of(wood)
    ours_again, _ = best_of(lambda: columns.nearest(cells, xyz, enough_m).distance_m)
    theirs_again, _ = best_of(lambda: by_strtree(tree, wood, xyz, enough_m))
    if not np.allclose(mine, other, rtol=0.0, atol=1e-9):
        raise SystemExit("the two disagree")
    print(
        f"{count:>9,} points {trees:>7,} trees within {enough_m:>5.0f} m: "
        f"cells {ours:6.3f} s, STRtree {theirs:6.3f} s, ratio {theirs / ours:5.1f}; index at hand "
        f"{ours_again:6.3f} s, {theirs_again:6.3f} s, ratio {theirs_again / ours_again:5.1f}"
    )


def beside_kdtree(trees: int, count: int, enough_m: float) -> None:
    """Against the cKDTree, indices at hand: for the same answer, and for less than is asked, the
    nearest stem alone without crown and height."""
    wood, xyz = forest(trees), points(count)
    cells, tree = columns.index(wood), cKDTree(wood.xy_m)
    ours, mine = best_of(lambda: columns.nearest(cells, xyz, enough_m).distance_m)
    theirs, other = best_of(lambda: by_kdtree(tree, wood, xyz, enough_m))
    reach = enough_m + float(wood.radius_m.max())
    stems, _ = best_of(lambda: tree.query(xyz[:, :2], distance_upper_bound=reach)[0])
    if not np.allclose(mine, other, rtol=0.0, atol=1e-9):
        raise SystemExit("the two disagree")
    print(
        f"{count:>9,} points {trees:>7,} trees within {enough_m:>5.0f} m: cells {ours:6.3f} s, "
        f"cKDTree {theirs:6.3f} s, ratio {theirs / ours:5.1f}; the nearest stem alone "
        f"{stems:6.3f} s, ratio {stems / ours:5.1f}"
    )


def main() -> None:
    """Print the table."""
    print("the aim: 1,000,000 points, 10,000 trees, 10 m: at most 1 s and at least 8 times faster")
    compare(10_000, 1_000_000, 10.0)
    print("the aim: at least 2 times faster than the cKDTree")
    beside_kdtree(10_000, 1_000_000, 10.0)
    print("growth with points")
    for count in (1_000, 10_000, 100_000):
        compare(10_000, count, 10.0)
    print("growth with trees")
    for trees in (100, 1_000, 100_000):
        compare(trees, 100_000, 10.0)
    print("a long reach")
    for trees in (100, 1_000):
        compare(trees, 20_000, 200.0)
    few = points(20_000)
    few, high = points(20_000), points(20_000) + np.array([0.0, 0.0, 100.0])
    trees_in, walls_in = columns.index(forest(10_000)), prisms.index(walls_of(forest(10_000)))
    low_s, _ = best_of(lambda: columns.nearest(trees_in, few, 200.0).distance_m)
    high_s, _ = best_of(lambda: columns.nearest(trees_in, high, 200.0).distance_m)
    walls_s, _ = best_of(lambda: prisms.nearest(walls_in, few, 200.0).distance_m)
    print(f"   20,000 points  10,000 trees within   200 m, cells, index at hand: {low_s:.3f} s")
    print(f"   the same 100 m higher: {high_s:.3f} s; among as many prisms: {walls_s:.3f} s")


if __name__ == "__main__":
    main()
