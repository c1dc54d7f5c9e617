"""The whole plan of the bundled site, and how planning grows with samples, obstacles, terrain.

Run `python tests/benchmarks/bench_plan.py`. There is no general-purpose alternative to a whole
plan, so only times and growth are printed.
"""

from __future__ import annotations

import sys
import tempfile
import time
from pathlib import Path

import numpy as np

ROOT = Path(__file__).resolve().parent.parent.parent
sys.path.insert(0, str(ROOT))

from shotplan import plan  # noqa: E402
from shotplan.files.bundled import bundled_sites  # noqa: E402
from shotplan.outing import read as read_outing  # noqa: E402
from shotplan.output import everything  # noqa: E402
from tests import worlds  # noqa: E402


def timed(folder: Path, draw: bool = False) -> tuple[float, float, float]:
    """Seconds to read, to make and (when asked) to draw a plan."""
    begin = time.perf_counter()
    outing = read_outing(folder)
    read = time.perf_counter()
    made = plan.make(outing)
    done = time.perf_counter()
    if draw:
        everything(made)
    return read - begin, done - read, time.perf_counter() - done


def world(length_m: float, trees: int, cell_m: float) -> Path:
    """A hilly site with one side-track along a straight ride among random trees."""
    rng = np.random.default_rng(1)
    folder = Path(tempfile.mkdtemp())
    where = rng.uniform(-350.0, 350.0, (trees, 2))
    features = [
        worlds.tree(f"t{i}", east_m=float(e), north_m=float(n)) for i, (e, n) in enumerate(where)
    ]
    return worlds.write_site(
        folder,
        features=features,
        ride=worlds.straight(20.0, length_m),
        terrain=lambda x, y: 200.0 + 8.0 * np.sin(x / 40.0) * np.cos(y / 55.0),
        cell_m=cell_m,
    )


def main() -> None:
    """Print the table."""
    for name, folder in bundled_sites().items():
        read, made, drawn = timed(folder, draw=True)
        print(f"{name}: read {read:.2f} s, plan {made:.2f} s, draw {drawn:.2f} s")
    print("ride m  trees  cell m   read s   plan s")
    for length, trees, cell in (
        (150.0, 100, 5.0), (300.0, 100, 5.0), (600.0, 100, 5.0),
        (300.0, 1000, 5.0), (300.0, 5000, 5.0),
        (300.0, 100, 2.0), (300.0, 100, 1.0),
    ):  # fmt: skip
        read, made, _ = timed(world(length, trees, cell))
        print(f"{length:6.0f} {trees:6d} {cell:7.1f} {read:8.2f} {made:8.2f}")


if __name__ == "__main__":
    main()
