"""How soon the draw page has the word after a change, against planning the whole folder once.

    python tests/benchmarks/bench_draw.py SITE ...

prints per site the time on the clock and the processor's from the change to the word, of a shot's
number and of a thing's, as the page's own process takes it (the middle of several); beside it what
`plan.make` takes for the same shot, and how busy the machine was.
"""

from __future__ import annotations

import os
import shutil
import statistics
import sys
import tempfile
import time
from pathlib import Path
from typing import Any

from shotplan.desk import draft, folder
from shotplan.desk.bench import Bench
from shotplan.outing import read
from shotplan.plan import make

TIMES = 7


def timed(ask: Any) -> tuple[float, float]:
    """Seconds on the clock and of the processor, the middle of several."""
    found = []
    for k in range(TIMES):
        clock, work = time.perf_counter(), time.process_time()
        ask(k)
        found.append((time.perf_counter() - clock, time.process_time() - work))
    clocks, works = zip(*found, strict=True)
    return statistics.median(clocks), statistics.median(works)


def bench(site: Path, drafts: Path) -> None:
    """All rows of one site, a copy of somebody's."""
    desk, texts = Bench(site, drafts), folder.load(site)
    opened, outing = draft.opened(texts), read(site)
    shots = opened["shot"]
    number = next(k for k in ("distance_m", "radius_m", "height_m") if k in shots[0])
    tall = next(t for t in opened["features"] if t["properties"].get("height_m"))

    def shot(k: int) -> None:
        changed = {**shots[0], number: shots[0][number] + 0.5 * (k + 1)}
        desk.ask("word", texts, {"shot": [changed, *shots[1:]]}, 0, print)

    def thing(k: int) -> None:
        says = {**tall["properties"], "height_m": 5.0 + k}
        changes = {"features": {tall["id"]: {**tall, "properties": says}}}
        desk.ask("word", texts, changes, 0, print)

    def alone(_: int) -> None:
        make(outing, rides=1, shot=outing.shots[0].name, workers=1)

    desk.ask("word", texts, {}, 0, print)
    rows = {"a shot's number": shot, "a thing's height": thing, "plan.make, read before": alone}
    for what, ask in rows.items():
        clock, work = timed(ask)
        print(f"{site.name}: {what}: {clock:.2f} s, processor {work:.2f} s")


def main(sites: list[Path]) -> None:
    print(f"load of the machine {os.getloadavg()[0]:.1f} on {os.cpu_count()} cores")
    for site in sites:
        with tempfile.TemporaryDirectory() as name:
            drafts = Path(name) / "drafts"
            drafts.mkdir()
            bench(Path(shutil.copytree(site, Path(name) / site.name)), drafts)


if __name__ == "__main__":
    main([Path(site) for site in sys.argv[1:]])
