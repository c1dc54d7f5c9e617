"""For how many shots a change was found, whether each holds, and what looking for them costs.

    python tests/benchmarks/bench_mend.py SITE ...

prints, per site, the processor's time against that of the plan alone, and per shot that is not go
its best change, each laid over the site's text and planned anew with another seed.
"""

from __future__ import annotations

import shutil
import sys
import tempfile
import time
from pathlib import Path

from shotplan import plan as planning
from shotplan.advice import mend
from shotplan.model.verdict import Verdict
from shotplan.outing import read
from tests.advice.test_mend import laid


def main(folders: list[Path]) -> None:
    wanted = found = held = flown = 0
    for site in folders:
        with tempfile.TemporaryDirectory() as name:
            folder = shutil.copytree(site, Path(name) / "site")
            began = time.process_time()
            plan = planning.make(read(folder), workers=1)
            alone = time.process_time() - began
            began = time.process_time()
            plan = mend.mended(plan, workers=1)
            more = time.process_time() - began
            print(f"{site.name}: {more / alone:.1f} times the plan's {alone:.1f} s")
            for shot in plan:
                if shot.verdict == Verdict.GO or shot.mended is None:
                    continue
                changes = shot.mended.changes
                refused = shot.verdict > Verdict.CAUTION
                wanted, found = wanted + refused, found + (refused and bool(changes))
                print(f"  {shot.name}, {shot.verdict}: {shot.mended.in_the_way}")
                for one in changes:
                    again = laid(folder, shot.name, one.keys)[shot.name].verdict
                    held, flown = held + (again <= one.verdict), flown + 1
                    print(f"    {one.text}; with another seed {again}")
    print(
        f"{found} of {wanted} shots that are no-go or unknown have a change; {held} of {flown} hold"
    )


if __name__ == "__main__":
    main([Path(folder) for folder in sys.argv[1:]])
