"""A thousand disturbed rides of a 600 m shot past 5,000 trees: where the time goes, how it grows.

Run `python tests/benchmarks/bench_rides.py`. Times are of the processor. For the heavy part, how
near trees come, the general-purpose alternative asks shapely's STRtree about the same samples
(`query(predicate="dwithin")` within the limit; the whole overrun as a line), which tells how far
the trees are in plan only; for the ground, numpy asks every sample and overrun by halving, without
bounds over groups (a tenth of the rides: it is slow).
"""

from __future__ import annotations

import sys
import tempfile
import time
from collections.abc import Callable
from functools import partial
from pathlib import Path
from typing import Any

import numpy as np
import shapely

ROOT = Path(__file__).resolve().parent.parent.parent
sys.path.insert(0, str(ROOT))

from shotplan.checks import CHECKS  # noqa: E402
from shotplan.flying import LEAD_IN_S, MANY_SUBSTEP_S, disturbed, flown, stage_of, stage_scene  # noqa: E402
from shotplan.judging import judge as judging  # noqa: E402
from shotplan.kernels.solids.footprints import distance_to_path_m  # noqa: E402
from shotplan.model.arrays import Array  # noqa: E402
from shotplan.outing import Outing, read  # noqa: E402
from shotplan.ride.along import part  # noqa: E402
from shotplan.scene.scene import Scene  # noqa: E402
from tests import worlds  # noqa: E402

TREES = 5000
LANE_M = 26.0  # kept free of trees to each side of the ride
CHECKED = tuple(c for c in CHECKS if c.rides == "all")


def outing(ride_m: Array) -> Outing:
    """A ride `(k, 2)` through a hilly wood in which a lane is cut for it and the aircraft."""
    rng = np.random.default_rng(1)
    where = rng.uniform(-380.0, 380.0, (3 * TREES, 2))
    where = where[distance_to_path_m(ride_m, where) > LANE_M][:TREES]
    features = [
        worlds.tree(f"t{i}", east_m=float(e), north_m=float(n)) for i, (e, n) in enumerate(where)
    ]
    features.append(worlds.feature("path", "people", worlds.line([(-60.0, 10.0), (200.0, 20.0)])))
    with tempfile.TemporaryDirectory() as name:
        folder = worlds.write_site(
            Path(name),
            features=features,
            ride=ride_m,
            terrain=lambda x, y: 200.0 + 8.0 * np.sin(x / 40.0) * np.cos(y / 55.0),
        )
        return read(folder)


def timed(what: Callable[[], Any]) -> tuple[float, Any]:
    """Seconds of the processor, and the result."""
    before = time.process_time()
    result = what()
    return time.process_time() - before, result


def judged(made: Outing, rides: int) -> tuple[dict[str, float], Scene]:
    """Seconds by step, and the scene."""
    shot, site = made.shots[0], made.site
    ridden = part(made.ride, shot.from_m, shot.to_m, LEAD_IN_S, site.terrain.ground_m)
    stage, wind = stage_of(site, ridden), made.day.weather.wind_toward_m_s
    assert wind is not None
    seconds: dict[str, float] = {}
    seconds["disturb"], many = timed(lambda: disturbed(made, ridden, rides))
    seconds["place"], wish = timed(lambda: shot.style.place(many.ride, stage))
    seconds["fly"], _ = timed(lambda: flown(wish, many, made.aircraft, wind, MANY_SUBSTEP_S))
    scene = stage_scene(made, shot, made.day.start, rides)
    seconds["where blind"], _ = timed(
        lambda: [s.overrun_end_m for s in (scene.first, *scene.others)]
    )
    for check in CHECKED:
        seconds[check.id], _ = timed(partial(judging.find, check, scene))
    return seconds, scene


def by_strtree(made: Outing, scene: Scene, limit_m: float) -> int:
    """How many samples come nearer than the limit, and their growth, to a crown, in plan."""
    columns = made.site.obstacles.rest_grown.columns
    tree = shapely.STRtree(np.asarray(shapely.points(columns.xy_m)))
    on = scene.track.ride.filming
    start, end = scene.track.xyz_m[on][:, :2], scene.overrun_end_m[on][:, :2]
    reach, hit = limit_m + float(columns.radius_m.max()), 0
    for first in range(0, len(start), 100_000):
        block = slice(first, first + 100_000)
        ways = shapely.linestrings(np.stack([start[block], end[block]], axis=1))
        hit += len(np.unique(tree.query(ways, predicate="dwithin", distance=reach)[0]))
    return hit


def main() -> None:
    """Print where the time goes, growth and ratios."""
    made = outing(worlds.straight(20.0, 600.0))
    judged(made, 10)
    total = 0.0
    for rides in (125, 250, 500, 1000):
        seconds, scene = judged(made, rides)
        count, total = int(scene.track.ride.filming.sum()), sum(seconds.values())
        print(f"{rides:5d} rides of 600 m, {count:9,} samples: {total:6.2f} s in all")
        print("      " + ", ".join(f"{name} {s:.2f}" for name, s in seconds.items()))
    limit = made.aircraft.half_span_m + made.site.keep_clear_m
    tree_s, hit = timed(lambda: by_strtree(made, scene, limit))
    ours_s = seconds["clearance"]
    print(f"clearance: STRtree {tree_s:.2f} s ({hit} samples near in plan), {tree_s / ours_s:.1f} "
          f"times ours ({ours_s:.2f} s, in three dimensions, wires and survey too)")  # fmt: skip
    check = next(c for c in CHECKED if c.id == "ground")
    each_s, _ = timed(lambda: check.margins(scene.rows(slice(1, 101))))
    print(f"ground: each sample asked {each_s / 100.0 * rides:.1f} s, "
          f"{each_s / 100.0 * rides / seconds['ground']:.1f} times ours")  # fmt: skip
    long = outing(np.array([[-250.0, -300], [-250, 300], [0, 300], [0, -300], [150, -300.0]]))
    seconds, scene = judged(long, 60)
    search = sum(seconds[c.id] for c in CHECKED) + seconds["where blind"]
    print(f"   60 rides of 2 km, {int(scene.track.ride.filming.sum()):9,} samples: "
          f"judged in {search:.2f} s, row 0 exactly")  # fmt: skip
    others = scene.rows(slice(1, None), 0.0)
    quick, _ = timed(lambda: [c.margins(others) for c in CHECKED])
    print(f"   their margins alone, as a search asks: {quick:.2f} s")


if __name__ == "__main__":
    main()
