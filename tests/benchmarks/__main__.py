"""Every benchmark, one after another: `python tests/benchmarks`."""

from __future__ import annotations

import runpy
from pathlib import Path

for script in sorted(Path(__file__).parent.glob("bench_*.py")):
    print(f"== {script.stem}", flush=True)
    runpy.run_path(str(script), run_name="__main__")
