"""The search for a style over a 2 km ride among 5,000 trees, and how it grows.

Run `python tests/benchmarks/bench_styles.py`. The aim: 120 candidates by 60 rides in 20 s on two
cores and 2 GB. The heavy part, distances to the trees, is measured beside the general-purpose
alternative in `bench_clearance.py`; here is the whole.
"""

from __future__ import annotations

import resource
import sys
import tempfile
import time
from dataclasses import replace
from pathlib import Path

import numpy as np

ROOT = Path(__file__).resolve().parent.parent.parent
sys.path.insert(0, str(ROOT))

from shotplan.advice import candidates as offered  # noqa: E402
from shotplan.advice.ranking import Field, field_of, ranked  # noqa: E402
from shotplan.advice.wanted import Wanted  # noqa: E402
from shotplan.advice.which_style import ranked_all  # noqa: E402
from shotplan.outing import Outing, read  # noqa: E402
from tests import worlds  # noqa: E402

MANY = Wanted(
    behind_m=(6.0, 9.0, 12.0, 15.0, 18.0, 24.0),
    side_m=(6.0, 9.0, 12.0, 15.0, 18.0, 25.0),
    heights_m=(2.5, 4.0, 6.0, 8.0, 10.0),
)


def wood(folder: Path, trees: int, length_m: float = 2000.0) -> Outing:
    """A winding ride over gentle hills, trees 8 m off it and more, everything looked for."""
    rng = np.random.default_rng(5)
    steps = int(length_m / 10.0)
    course = 1.2 + 0.8 * np.sin(np.arange(steps + 1) * 10.0 / 150.0)
    path = np.cumsum(np.stack([np.sin(course), np.cos(course)], axis=-1) * 10.0, axis=0)
    path -= path.mean(axis=0)
    ahead = np.gradient(path, axis=0)
    ahead /= np.linalg.norm(ahead, axis=1)[:, None]
    at = rng.integers(0, len(path), 3 * trees)
    off = rng.choice([-1.0, 1.0], len(at)) * rng.uniform(9.0, 90.0, len(at))
    spots = path[at] + off[:, None] * np.stack([ahead[at, 1], -ahead[at, 0]], axis=-1)
    line = np.concatenate([path[:-1] + f * np.diff(path, axis=0) for f in (0.0, 0.25, 0.5, 0.75)])
    clear = np.array([np.hypot(*(line - s).T).min() > 8.0 for s in spots])
    features = [
        worlds.tree(
            f"t{i}", east_m=float(x), north_m=float(y), height_m=float(rng.uniform(5.0, 18.0)),
            radius_m=float(rng.uniform(1.0, 3.0)),
        )
        for i, (x, y) in enumerate(spots[clear][:trees])
    ]  # fmt: skip
    half = float(np.abs(path).max()) + 150.0
    area = worlds.feature("area", "boundary", worlds.polygon(worlds.box(-half, -half, half, half)))
    worlds.write_terrain(
        folder / "hills.tif",
        lambda east, north: 100.0 + 8.0 * np.sin(east / 130.0) + 6.0 * np.cos(north / 90.0),
        half_m=half + 100.0,
    )
    worlds.write_site(
        folder / "site",
        site={
            "rules": "nz-part101",
            "crew": [{"name": "Ada", "role": ["rider", "pilot"]}],
            "terrain": "../hills.tif",
            "terrain_m": None,
            "ride": {"error_m": 0.5},
        },
        features=[area, *features],
        ride=path,
        terrain=None,
        without=["area"],
    )
    return read(folder / "site")


def search(outing: Outing, wanted: Wanted, count: int) -> tuple[float, Field, int]:
    """Seconds to rank the first `count` candidates on all cores."""
    began = time.perf_counter()
    field = field_of(outing, wanted)
    styles = offered.candidates(outing, wanted)[:count]
    ranked_all(field, styles)
    return time.perf_counter() - began, field, len(styles)


def main() -> None:
    """Print times, growth, and where the time goes."""
    with tempfile.TemporaryDirectory() as where:
        folder = Path(where)
        (folder / "a").mkdir()
        outing = wood(folder / "a", 5000)
        seconds, field, count = search(outing, MANY, 120)
        samples = count * int(np.prod(field.many.ride.speed_m_s.shape))
        peak = max(resource.getrusage(w).ru_maxrss for w in
                   (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN)) / 1e6  # fmt: skip
        print(f"{count} candidates x 60 rides, 2 km, 5,000 trees: {seconds:.1f} s, "
              f"{samples / 1e6:.1f} M samples, {peak:.2f} GB a process at most")  # fmt: skip
        for some in (30, 60):
            print(f"   {some} candidates: {search(outing, MANY, some)[0]:.1f} s")
        for rides in (15, 30):
            print(f"   {rides} rides: {search(outing, replace(MANY, rides=rides), 120)[0]:.1f} s")
        for trees in (500, 1500):
            (folder / str(trees)).mkdir()
            fewer = wood(folder / str(trees), trees)
            print(f"   {trees} trees: {search(fewer, MANY, 120)[0]:.1f} s")
        began = time.perf_counter()
        styles = offered.candidates(outing, MANY)
        ranked(field._replace(many=field.once), styles[::10])
        print(f"of it the undisturbed ride alone: "
              f"{10 * (time.perf_counter() - began) / 2:.1f} s on two cores")  # fmt: skip


if __name__ == "__main__":
    main()
