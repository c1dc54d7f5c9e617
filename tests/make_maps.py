"""Renders the bundled sites into maps/: `python -m tests.make_maps` after a change (some minutes;
names of sites after it make only theirs).

Each site is planned as a person plans it, with all its rides. Beside the pictures lies made.json:
what they were made from, and the numbers that are drawn for the undisturbed ride.
`tests/test_maps.py` holds maps/ to that.
"""

from __future__ import annotations

import hashlib
import json
import sys
from collections.abc import Callable, Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np

from shotplan import plan as planning
from shotplan.files.bundled import bundled_sites
from shotplan.judging.judged import Plan
from shotplan.outing import Outing, read
from shotplan.output import first
from shotplan.output.frames import storyboard
from shotplan.output.map import drawing, ground, still
from shotplan.output.strip import profile, shot_strip, verdict_strip
from shotplan.output.strip.side_view import SideView, side_view

MAPS = Path(__file__).resolve().parent.parent / "maps"
MADE = "made.json"
POINTS = 12  # of a line that are kept as numbers


def still_map(plan: Plan) -> dict[str, bytes]:
    """The map as one picture."""
    site, weather = plan.outing.site, plan.outing.day.weather
    close = drawing.close(plan)
    relief = ground.relief(site.terrain, site.frame, close)
    lines = ground.contours(site.terrain, close)
    sheets = drawing.sheets(plan, drawing.whole(plan), lines)
    return {"map.png": still.png(relief, sheets, close, *first.barb(weather))}


# A picture of a plan is in maps/ once it is named here.
PICTURES: tuple[Callable[[Plan], Mapping[str, bytes]], ...] = (
    still_map,
    shot_strip.output,
    profile.output,
    storyboard.output,
)


def once(outing: Outing) -> Plan:
    """The plan of the undisturbed ride alone."""
    return planning.make(replace(outing, disturbance=replace(outing.disturbance, rides=1)))


def drawn(plan: Plan) -> dict[str, Any]:
    """The numbers that pictures of a plan draw: words, places, heights."""
    return {
        "marks": [[m.called, round(m.along_m, 1)] for m in plan.marks],
        "shots": [
            {
                "name": shot.scene.shot.name,
                "strip": [
                    [row.label, [[c.from_m, c.to_m, c.verdict.word] for c in row.cells]]
                    for row in verdict_strip.rows(shot)
                ],
                "profile": _side(side_view(shot)),
                "track": _thinned(shot.scene.track.xyz_m[0]),
            }
            for shot in plan.shots
        ],
    }


def _side(view: SideView) -> dict[str, Any]:
    return {
        "by_time": view.by_time,
        "ends": [round(float(view.x[0]), 1), round(float(view.x[-1]), 1)],
        **{
            key: _thinned(getattr(view, key))
            for key in ("ground_m", "rider_m", "flown_m", "straight_m", "nearest_m")
        },
        "standing": [[s.label, s.role, round(s.away_m, 1)] for s in view.standing],
    }


def _thinned(line: Any) -> list[Any]:
    """Some of its points, to a centimetre; None where not known."""
    points = np.asarray(line)[np.linspace(0, len(line) - 1, POINTS).astype(int)]
    made: list[Any] = np.round(points, 2).tolist()
    return [None if one != one else one for one in made]


def main(names: list[str]) -> None:
    """Make the pictures of all sites, or of those named."""
    for name, folder in bundled_sites().items():
        if names and name not in names:
            continue
        outing = read(folder)
        plan = planning.make(outing)
        files = {file: data for picture in PICTURES for file, data in picture(plan).items()}
        made = {
            "inputs": dict(plan.outing.inputs),
            "rides": outing.disturbance.rides,
            "files": {file: hashlib.sha256(data).hexdigest() for file, data in files.items()},
            "drawn": drawn(once(outing)),
        }
        place = MAPS / name
        place.mkdir(parents=True, exist_ok=True)
        for old in place.iterdir():
            old.unlink()
        for file, data in files.items():
            (place / file).write_bytes(data)
        (place / MADE).write_text(json.dumps(made, indent=1, ensure_ascii=False) + "\n", "utf-8")
        print(name, {file: f"{len(data) / 1000:.0f} kB" for file, data in files.items()})


if __name__ == "__main__":
    main(sys.argv[1:])
