"""A small invented style table round a real reading of a small site: only the search is made up.

A straight ride of 400 m, 6 m/s, in stretches of 20 m; three styles in four groups; a tree tunnel
from 160 to 240 m where only follow-behind passes, and a gap from 300 to 340 m.
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np

from shotplan import plan as planning
from shotplan.advice.style_table import Candidate, Common, Easier, Leg, StyleTable
from shotplan.flying import stage_scene
from shotplan.kernels.rides import shares
from shotplan.model.flight import Style
from shotplan.model.verdict import Verdict
from shotplan.outing import Outing, read
from shotplan.styles.follow_behind import FollowBehind
from shotplan.styles.side_track import SideTrack
from shotplan.styles.top_down import TopDown
from tests.worlds import place, straight, tree, write_site

GO, CAUTION, UNKNOWN, NO_GO = Verdict


def _made(style: Style) -> Candidate:
    return Candidate(style, style.label(), style.group())


CANDIDATES = tuple(
    _made(style)
    for style in (
        SideTrack(side="left", distance_m=12.0, height_m=6.0),
        SideTrack(side="left", distance_m=20.0, height_m=10.0),
        SideTrack(side="right", distance_m=12.0, height_m=6.0),
        FollowBehind(distance_m=8.0, height_m=4.0),
        TopDown(height_m=30.0),
    )
)
FIRST: tuple[Style, ...] = (
    SideTrack(side="left", distance_m=30.0, height_m=20.0, height_over="launch"),
    FollowBehind(distance_m=20.0, height_m=15.0),
)


def made_outing(folder: Path, *, called: str = "the leaning larch", rides: int = 1) -> Outing:
    """The site, read from its files."""
    features = [
        tree("pine-1", east_m=14.0, north_m=-130.0),
        tree("larch", east_m=-9.0, north_m=-20.0, name=called),
        tree("pine-2", east_m=8.0, north_m=35.0),
        place("gate", east_m=4.0, north_m=150.0),
    ]
    ride = straight(0.0, 400.0)
    given = {"disturbance": {"rides": rides}}
    return read(write_site(folder, site=given, features=features, ride=ride))


def made_table(folder: Path, *, called: str = "the leaning larch", rides: int = 1) -> StyleTable:
    """The table; `rides` is what each leg was really flown with."""
    outing = made_outing(folder, called=called, rides=rides)
    edges = np.linspace(0.0, 400.0, 21)
    shape = (len(CANDIDATES), 20)
    verdict = np.full(shape, int(GO), dtype=np.int8)
    margin, cost = np.full(shape, 3.14), np.full(shape, 0.2)
    binding, thing = np.full(shape, "", dtype=object), np.full(shape, "", dtype=object)
    share = np.zeros(shape)

    def put(who: Any, part: slice, code: Verdict, check: str, what: str, left_m: float) -> None:
        verdict[who, part], margin[who, part] = int(code), left_m
        binding[who, part], thing[who, part] = check, what

    for who in (0, 1, 2):
        put(who, slice(0, 8), GO, "clearance", "pine-1", 3.14)
        put(who, slice(8, 12), NO_GO, "clearance", called, -1.2)
    put(0, slice(12, 20), CAUTION, "clearance", "pine-2", 0.6)
    share[0, 12:20] = 0.02
    put(1, slice(14, 20), UNKNOWN, "clearance", "unknown ground", np.nan)
    put(2, slice(12, 20), NO_GO, "people", "the shore path", -4.0)
    put(3, slice(0, 20), CAUTION, "view", "", 7.0)
    put(3, slice(8, 12), GO, "ground", "", 6.5)
    put(4, slice(0, 20), UNKNOWN, "height", "", np.nan)
    put(slice(None), slice(15, 17), NO_GO, "keep-out", "the hide", 2.0)
    cost[1] = 0.3
    parts = ((0, 0, 160), (3, 160, 240), (1, 240, 300), (0, 340, 400))
    legs = tuple(_leg(outing, *part) for part in parts)
    return StyleTable(
        outing=outing,
        candidates=CANDIDATES,
        edges_m=edges,
        edges_s=edges / 6.0,
        verdict=verdict,
        margin_m=margin,
        enough_m=6.0,
        binding=binding,
        thing=thing,
        share=share,
        cost=cost,
        rides=60,
        legs=legs,
        gaps=((300.0, 340.0),),
        common=(Common("wind", NO_GO, f"it cannot hold against 12 m/s at {called}", "wait"),),
        broken=7,
        flown=300,
        bound=shares.upper_bound(7, 300),
        word=CAUTION,
        notes=("made up for a test",),
    )


def _leg(outing: Outing, who: int, low: float, high: float) -> Leg:
    style, label, _ = CANDIDATES[who]
    name = f"{label}, {low:.0f} to {high:.0f} m"
    shot = replace(outing.shots[0], name=name, style=style, from_m=float(low), to_m=float(high))
    rides = outing.disturbance.rides
    plan = planning.judge(stage_scene(outing, shot, outing.day.start, rides))
    least, thing = min(
        (float(f.margins.min()), str(f.things[int(f.margins.argmin())]))
        for f in plan.findings
        if f.family == "harm" and f.unit == "m"
    )
    easier = tuple(
        Easier(style, style.label(), margin_m, thing, word)
        for style, margin_m, thing, word in zip(
            FIRST, (9.0, 4.4), ("pine-1", ""), (GO, CAUTION), strict=True
        )
    )
    return Leg(who, float(low), float(high), plan, least, thing, easier if who == 0 else (), 0.2)
