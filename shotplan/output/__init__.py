"""Everything a plan is written out as.

To add a kind of file: write `output/<name>.py` with a function `output(plan) -> {name: bytes}`
(same plan, same bytes; no clock, no network; names from files are hostile until escaped; heavy
libraries are imported inside the function) and add a line for it to `OUTPUTS` below. `shotplan
plan` then writes it, and the tests over `OUTPUTS` take it in. What people hold that wants more than
one file is a sub-room.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Generator, Sequence
from contextlib import closing
from fnmatch import fnmatchcase
from functools import partial
from pathlib import Path
from typing import NamedTuple

from shotplan.errors import Problems
from shotplan.files.words import listed, shown
from shotplan.judging.judged import Plan
from shotplan.output import folder as folders
from shotplan.output import report
from shotplan.output.brief import files
from shotplan.output.card import card
from shotplan.output.frames import preview, storyboard
from shotplan.output.map import live as live_map
from shotplan.output.strip import profile, shot_strip
from shotplan.output.take_along import take_along
from shotplan.output.watch import watch
from shotplan.side_by_side import each


class Output(NamedTuple):
    """A kind of file: the word it is asked for by, the names it may write (`*` where there are as
    many as it takes), what makes it."""

    name: str
    files: tuple[str, ...]
    make: Callable[..., dict[str, bytes]]


REPORT = Output("report", ("report.json",), report.output)
# In the order in which they are made: the map first, then what takes longest.
OUTPUTS: tuple[Output, ...] = (
    REPORT,
    Output("map", ("map.html",), live_map.output),
    Output("storyboard", ("storyboard.png",), storyboard.output),
    Output("card", ("card.pdf", "card-*.png"), card.output),
    Output("watch", ("watch-*.png",), watch.output),
    Output("strip", ("strip-*.png",), shot_strip.output),
    Output("profile", ("profile.png",), profile.output),
    Output(
        "take-along",
        ("plan.kml", "plan.kmz", "plan.geojson", "plan.gpx", "plan.ics", "tracks.csv"),
        take_along.output,
    ),
)
PREVIEW = Output("preview", ("preview-*.gif",), preview.output)
BRIEF = Output("brief", files.FILES, files.output)
ALL = (*OUTPUTS, PREVIEW, BRIEF)  # of one plan: none of an older one stands beside any of them


class Failed(NamedTuple):
    """What could not be made, and what was raised instead."""

    output: Output
    error: Exception


Made = dict[str, bytes] | Failed


def everything(plan: Plan) -> dict[str, bytes]:
    """All files of a plan: name -> bytes."""
    return {name: data for output in OUTPUTS for name, data in output.make(plan).items()}


def names_of(outputs: Sequence[Output]) -> tuple[str, ...]:
    """Of the files they may write."""
    return tuple(name for output in outputs for name in output.files)


def put_each(
    plan: Plan, outputs: Sequence[Output], put: folders.Put, workers: int | None = None
) -> Generator[Made, None, None]:
    """Make them side by side and put each in place as its turn comes; one that fails leaves the
    others."""
    failed: list[Output] = []
    with closing(each(partial(_made, plan), outputs, workers=workers)) as made:
        for index, one in enumerate(made):
            if isinstance(one, Failed):
                failed.append(one.output)
            missing = names_of([*failed, *outputs[index + 1 :]])
            put({} if isinstance(one, Failed) else one, missing)
            yield one


def _made(plan: Plan, output: Output) -> Made:
    try:
        return output.make(plan)
    except Exception as error:
        return Failed(output, error)


def _files(plan: Plan, output: Output) -> dict[str, bytes]:
    return output.make(plan)


def _writes(output: Output, name: str) -> bool:
    return any(fnmatchcase(name, pattern) for pattern in output.files)


def write(
    plan: Plan, folder: str | Path, only: Collection[str] = (), *, force: bool = False
) -> tuple[str, ...]:
    """Write a plan into a folder, all its files or `only` those named; the names that were written.

    What an earlier run wrote there and is not written now is removed, so that a folder never holds
    two plans; a file of somebody else's raises `BadInput` unless `force`.
    """
    asked = [o for o in OUTPUTS if not only or any(_writes(o, name) for name in only)]
    drawn = {n: d for made in each(partial(_files, plan), asked) for n, d in made.items()}
    problems = Problems()
    for name in sorted(set(only) - set(drawn)):
        offered = listed(names_of(OUTPUTS), "and")
        problems.add("only", f"no output is named {shown(name)}; there are {offered}")
    problems.raise_if_any()
    wanted = {n: d for n, d in drawn.items() if not only or n in only}
    with folders.writing(Path(folder), names_of(ALL), force=force) as put:
        put(wanted)
    return tuple(wanted)
