"""Everything a plan is written out as.

To add a kind of file: write `output/<name>.py` with a function `output(plan) -> {name: bytes}`
(same plan, same bytes; no clock, no network; names from files are hostile until escaped; heavy
libraries are imported inside the function) and add its `output` to `OUTPUTS` below. `shotplan
plan` then writes it, and the tests over `OUTPUTS` take it in. What people hold that wants more than
one file is a sub-room.
"""

from __future__ import annotations

from collections.abc import Callable, Collection
from pathlib import Path

from shotplan.errors import Problems
from shotplan.files.words import listed, shown
from shotplan.judging.judged import Plan
from shotplan.output import folder as folders
from shotplan.output import report
from shotplan.output.card import card
from shotplan.output.frames import storyboard
from shotplan.output.map import live as live_map
from shotplan.output.strip import profile, verdict_strip
from shotplan.output.take_along import take_along
from shotplan.output.watch import watch

OUTPUTS: tuple[Callable[[Plan], dict[str, bytes]], ...] = (
    report.output,
    live_map.output,
    take_along.output,
    storyboard.output,
    card.output,
    watch.output,
    verdict_strip.output,
    profile.output,
)


def everything(plan: Plan) -> dict[str, bytes]:
    """All files of a plan: name -> bytes."""
    return {name: data for output in OUTPUTS for name, data in output(plan).items()}


def write(
    plan: Plan, folder: str | Path, only: Collection[str] = (), *, force: bool = False
) -> tuple[str, ...]:
    """Write a plan into a folder, all its files or `only` those named; the names that were written.

    What an earlier run wrote there and is not written now is removed, so that a folder never holds
    two plans; a file of somebody else's raises `BadInput` unless `force`.
    """
    files: dict[str, bytes] = {}
    for output in OUTPUTS:
        if not only or set(only) - set(files):
            files |= output(plan)
    problems = Problems()
    for name in sorted(set(only) - set(files)):
        problems.add("only", f"no output is named {shown(name)}; there are {listed(files, 'and')}")
    problems.raise_if_any()
    folders.write(
        Path(folder), {n: d for n, d in files.items() if not only or n in only}, force=force
    )
    return tuple(n for n in files if not only or n in only)
