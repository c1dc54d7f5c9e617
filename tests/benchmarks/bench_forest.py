"""A forest: a ride that winds through a clearing among 1,449 trees, nine shots, everything written;
and the reading of 50,000 trees.

Run `python tests/benchmarks/bench_forest.py [TREES ...]`. There is no general-purpose alternative
to a whole plan, so only times and growth are printed; the reading is measured beside the plainest
one there is, `json.load` and one `pyproj` transformation of all points.
"""

from __future__ import annotations

import json
import sys
import tempfile
import time
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

ROOT = Path(__file__).resolve().parent.parent.parent
sys.path.insert(0, str(ROOT))

from shotplan import plan  # noqa: E402
from shotplan.outing import read  # noqa: E402
from shotplan.output import everything  # noqa: E402
from tests import worlds  # noqa: E402

TREES, MANY = 1_449, 50_000
CLEAR_M = 4.0  # no stem nearer the ride than this
GLADE_M = 65.0  # nor nearer its middle than this
Array = NDArray[np.float64]

SHOTS: tuple[dict[str, Any], ...] = (
    {"name": "behind", "style": "follow-behind", "distance_m": 8.0, "height_m": 4.0},
    {"name": "behind, higher", "style": "follow-behind", "distance_m": 12.0, "height_m": 12.0},
    {"name": "behind, over the crowns", "style": "follow-behind", "distance_m": 15.0,
     "height_m": 30.0},
    {"name": "before him", "style": "lead", "distance_m": 10.0, "height_m": 5.0},
    {"name": "beside, over the crowns", "style": "side-track", "side": "right",
     "distance_m": 12.0, "height_m": 30.0},
    {"name": "from above", "style": "top-down", "height_m": 40.0},
    {"name": "beside, left", "style": "side-track", "side": "left", "distance_m": 8.0,
     "height_m": 5.0, "from_m": 255.0, "to_m": 345.0},
    {"name": "beside, right", "style": "side-track", "side": "right", "distance_m": 14.0,
     "height_m": 8.0, "from_m": 260.0, "to_m": 340.0},
    {"name": "round the stump", "style": "orbit", "around": "stump", "radius_m": 18.0,
     "height_m": 10.0, "speed_m_s": 4.0, "direction": "clockwise", "start_deg": 180.0,
     "aim": "rider", "from_m": 260.0, "to_m": 340.0},
)  # fmt: skip


def path_m(length_m: float = 600.0) -> Array:
    """`(k, 2)` a winding line about the middle, a point every 5 m."""
    course = 1.1 + 0.9 * np.sin(np.arange(0.0, length_m, 5.0) / 55.0)
    steps = 5.0 * np.stack([np.sin(course), np.cos(course)], axis=-1)
    path: Array = np.concatenate([np.zeros((1, 2)), np.cumsum(steps, axis=0)])
    path -= path[len(path) // 2].copy()
    return path


def stems_m(count: int, path: Array, seed: int = 7) -> Array:
    """`(count, 2)` stems at random, off the ride and its glade."""
    rng = np.random.default_rng(seed)
    half = np.abs(path).max(axis=0) + 60.0
    found = np.empty((0, 2))
    while len(found) < count:
        spots = rng.uniform(-half, half, (2 * count, 2))
        from_ride = np.full(len(spots), np.inf)
        for vertex in path:
            np.minimum(from_ride, np.hypot(*(spots - vertex).T), out=from_ride)
        clear = (from_ride > CLEAR_M) & (np.hypot(*spots.T) > GLADE_M)
        found = np.concatenate([found, spots[clear]])
    return np.asarray(found[:count])


def forest(folder: Path, trees: int = TREES, shots: int = len(SHOTS)) -> Path:
    """The site "Ferndrift", written."""
    rng = np.random.default_rng(3)
    path = path_m()
    features = [
        worlds.tree(
            f"tree-{i:05d}", east_m=float(x), north_m=float(y),
            height_m=round(float(rng.uniform(8.0, 22.0)), 1),
            radius_m=round(float(rng.uniform(1.0, 3.0)), 1),
            base_m=round(float(rng.uniform(0.0, 5.0)), 1),
        )
        for i, (x, y) in enumerate(stems_m(trees, path))
    ]  # fmt: skip
    features.append(worlds.place("stump", east_m=4.0, north_m=-3.0))
    return worlds.write_site(
        folder,
        site={
            "name": "Ferndrift",
            "map_error_m": 1.0,
            "ride": {"speed_m_s": 5.0, "error_m": 5.0},
            "crew": [
                {"name": "Ada", "role": "rider"},
                {"name": "Bo", "role": "pilot", "stands": "launch"},
                {"name": "Cy", "role": "spotter", "stands": "stump"},
            ],
            "disturbance": {"rides": None},
            "shot": list(SHOTS[:shots]),
        },
        features=features,
        ride=path,
        terrain=lambda east, north: 200.0 + 6.0 * np.sin(east / 90.0) + 5.0 * np.cos(north / 70.0),
    )


def timed(folder: Path) -> tuple[float, float, float, float]:
    """Processor seconds to read, to make and to draw a plan, and the map in megabytes."""
    began = time.process_time()
    outing = read(folder)
    known = time.process_time()
    made = plan.make(outing)
    done = time.process_time()
    files = everything(made)
    drawn = time.process_time() - done
    return known - began, done - known, drawn, len(files["map.html"]) / 1e6


def plainly(folder: Path) -> float:
    """Processor seconds of the plainest reading there is: nothing is checked."""
    began = time.process_time()
    features = json.loads((folder / "ground.geojson").read_text(encoding="utf-8"))["features"]
    points = [f["geometry"]["coordinates"] for f in features if f["geometry"]["type"] == "Point"]
    worlds.FRAME.xy_m(np.array(points))
    return time.process_time() - began


def main(wanted: list[int]) -> None:
    """Print the tables."""
    with tempfile.TemporaryDirectory() as where:
        print(f"trees, {len(SHOTS)} shots: read s, plan s, files s, map.html MB")
        for trees in wanted or [TREES // 4, TREES]:
            read_s, plan_s, files_s, map_mb = timed(forest(Path(where) / str(trees), trees))
            print(f"{trees:7,d} {read_s:7.2f} {plan_s:7.2f} {files_s:7.2f} {map_mb:7.2f}")
        folder = forest(Path(where) / "many", MANY)
        plain = plainly(folder)
        began = time.process_time()
        read(folder)
        ours = time.process_time() - began
        print(f"reading {MANY:,} trees: {ours:.2f} s, unchecked {plain:.2f} s")


if __name__ == "__main__":
    main([int(a) for a in sys.argv[1:]])
