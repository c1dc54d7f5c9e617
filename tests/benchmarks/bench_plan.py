"""How long a plan takes and how much room: until the word is said, until all is written, one shot
changed in a process that is warm; and how planning grows with samples, obstacles, terrain.

Run `python tests/benchmarks/bench_plan.py [FOLDER ...]`: the sites to plan, else the bundled ones
and the real rim where it is (`SHOTPLAN_REAL`). A whole plan has no general-purpose alternative, so
only times, room and growth are printed. Seconds of the processor unless it says otherwise.
"""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import NamedTuple

import numpy as np

ROOT = Path(__file__).resolve().parent.parent.parent
sys.path.insert(0, str(ROOT))

import shotplan as sp  # noqa: E402
from shotplan.files.bundled import bundled_sites  # noqa: E402
from tests import worlds  # noqa: E402

HEAD = "import sys; sys.path.insert(0, sys.argv.pop(1)); "
ANSWER = (
    "import shotplan as sp; plan = sp.make(sp.read(sys.argv[1])); print(plan); "
    "sp.write(plan, sys.argv[2], only=('report.json',))"
)
EVERYTHING = (
    "from shotplan.cli import main; sys.argv = ['shotplan', 'plan', sys.argv[1], '--out', "
    "sys.argv[2]]; main()"
)
TIMES = 3  # a warm question is asked; the quickest counts


class Spent(NamedTuple):
    """Of a process and those it started: seconds of the processor, seconds on the wall, most room
    of one process in MB."""

    seconds: float
    wall_s: float
    room_mb: float


def spent(code: str, folder: Path) -> Spent:
    """A process of its own that runs `code` on a site."""
    with tempfile.TemporaryDirectory() as out:
        begin = time.perf_counter()
        words = [sys.executable, "-c", HEAD + code, str(ROOT), str(folder), f"{out}/out"]
        child = subprocess.Popen(words, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
        _, status, used = os.wait4(child.pid, 0)
        wall = time.perf_counter() - begin
        child.returncode = os.waitstatus_to_exitcode(status)
        if child.returncode not in (0, 1, 3):  # the codes of an answer
            raise RuntimeError(f"the plan of {folder} ended with {child.returncode}")
        size = 1e6 if sys.platform == "darwin" else 1e3
        return Spent(used.ru_utime + used.ru_stime, wall, used.ru_maxrss / size)


def quickest(what: Callable[[], object]) -> float:
    """Seconds of the processor, the least of `TIMES`."""
    found = []
    for _ in range(TIMES):
        begin = time.process_time()
        what()
        found.append(time.process_time() - begin)
    return min(found)


def warm(folder: Path) -> tuple[float, float]:
    """Seconds for the first shot alone with another `[[shot]]`, in this process, which has flown it
    before: the undisturbed ride alone, and all the site asks for."""
    outing = sp.read(folder)
    one = replace(outing, shots=outing.shots[:1])
    sp.make(one, rides=1)

    def asked(rides: int | None) -> float:
        takes = one.shots[0].takes + 1
        return quickest(lambda: sp.make(one.with_shot(one.shots[0].name, takes=takes), rides=rides))

    return asked(1), asked(None)


def sites(given: list[str]) -> dict[str, Path]:
    """Those named; none named: those at hand."""
    if given:
        return {Path(name).name: Path(name) for name in given}
    rim = (ROOT / os.environ.get("SHOTPLAN_REAL", "../shared/real")).resolve() / "sites" / "rim"
    return {**bundled_sites(), **({"rim": rim} if rim.is_dir() else {})}


def table(folders: dict[str, Path]) -> None:
    """What a plan of each site takes."""
    print(
        "site        answer s  MB   everything s  wall s  MB   one shot warm s: 1 ride  all rides"
    )
    for name, folder in folders.items():
        answer, whole = spent(ANSWER, folder), spent(EVERYTHING, folder)
        once, many = warm(folder)
        print(
            f"{name:10} {answer.seconds:9.2f} {answer.room_mb:4.0f} {whole.seconds:13.2f} "
            f"{whole.wall_s:7.2f} {whole.room_mb:4.0f} {once:24.2f} {many:10.2f}",
            flush=True,
        )


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
    """Print the tables."""
    table(sites(sys.argv[1:]))
    print("ride m  trees  cell m   read s   plan s")
    for length, trees, cell in (
        (150.0, 100, 5.0), (300.0, 100, 5.0), (600.0, 100, 5.0),
        (300.0, 1000, 5.0), (300.0, 5000, 5.0),
        (300.0, 100, 2.0), (300.0, 100, 1.0),
    ):  # fmt: skip
        folder = world(length, trees, cell)
        begin = time.process_time()
        outing = sp.read(folder)
        done = time.process_time()
        sp.make(outing)
        print(f"{length:6.0f} {trees:6d} {cell:7.1f} {done - begin:8.2f} "
              f"{time.process_time() - done:8.2f}")  # fmt: skip


if __name__ == "__main__":
    main()
