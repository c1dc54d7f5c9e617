"""Plans of the bundled sites, made once a session: `plan_of("dunnaby", rides=1)`.

A plan is flown by whoever asks first, and lies pickled in the session's temporary folder for the
other processes; whoever comes while it is being made waits for it. Nothing outlives the session,
so that a plan is always of the code that is tested. A plan is frozen: nobody can spoil it for the
next. A test that asks whether the same is planned twice makes its own.
"""

from __future__ import annotations

import fcntl
import pickle
from functools import cache
from pathlib import Path

from shotplan.checks import CHECKS
from shotplan.files.bundled import bundled_sites
from shotplan.judging.judged import Plan
from shotplan.outing import Outing, read
from shotplan.plan import make

_place: list[Path] = []


def kept_in(folder: Path) -> None:
    """Where plans lie, the same for every process of a session (`tests/conftest.py`)."""
    _place[:] = [folder]


@cache
def outing_of(site: str) -> Outing:
    """A bundled site, read."""
    return read(bundled_sites()[site])


@cache
def plan_of(site: str, rides: int | None = None) -> Plan:
    """A bundled site planned as it stands, over so many rides (None: as many as it asks for)."""
    (folder,) = _place
    name = f"plan-of-{site}-{rides or 'all'}"
    with (folder / f"{name}.lock").open("w") as lock:
        fcntl.flock(lock, fcntl.LOCK_EX)
        made = folder / f"{name}.pickle"
        if not made.exists():
            plan = make(outing_of(site), rides=rides)
            assert all(len(shot.findings) == len(CHECKS) for shot in plan)
            made.write_bytes(pickle.dumps(plan, pickle.HIGHEST_PROTOCOL))
        return pickle.loads(made.read_bytes())  # type: ignore[no-any-return]
