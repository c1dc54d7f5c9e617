"""Writes what the documents show of a run: `python -m tests.make_docs` after a change.

The table between the two `law-table` marks of DEVELOPERS.md is one cliff-top flight under every
rule pack. `tests/stories/test_law_table.py` holds the committed text to what this writes.
"""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np

from shotplan import rules
from shotplan.checks import CHECKS
from shotplan.flying import stage_scene
from shotplan.judging import judge as judging
from shotplan.judging.judged import Finding
from shotplan.model.day import Person
from shotplan.model.rules import Rules
from shotplan.model.site import Place
from shotplan.outing import read
from shotplan.scene.scene import Scene

ROOT = Path(__file__).resolve().parent.parent
DOCUMENT = ROOT / "DEVELOPERS.md"
OPEN, CLOSE = "<!-- law-table -->", "<!-- /law-table -->"
FLIGHT: dict[str, Any] = {"distance_m": 30.0, "height_m": 54.0}
HOUR = 22  # in June at 55° north: the sun is just down
COLUMNS = (  # title, check, who steers
    ("height", "height", "rider"),
    ("people on the path", "people", "rider"),
    ("the rider steers", "crew", "rider"),
    ("pilot under the thorn, observer at the lookout", "sight", "pilot"),
    ("sun just down", "light", "rider"),
)
INTRODUCTION = """The bundled site's shot from the sea side, flown {height_m:.0f} m above the rider
and {distance_m:.0f} m out, over a face about 70 m high, soon after sunset: the same flight for
every pack, each column one check of it. `python -m tests.make_docs` writes this from a run.
"""


@cache
def scenes() -> dict[str, Scene]:
    """The flight, once with the rider as pilot and once with a pilot who stands under the
    thorn beside the track."""
    outing = read(ROOT / "sites" / "hvinhylde")
    rider, pilot, spotter = outing.day.crew
    steering = replace(rider, roles=frozenset({"rider", "pilot"}))
    shot = outing.shots[0]
    style: Any = shot.style
    shot = replace(shot, style=replace(style, **FLIGHT), to_m=170.0)
    start = outing.day.start.replace(hour=HOUR, minute=10)
    scene = stage_scene(outing, shot, start)
    thorn = next(t for t in outing.site.obstacles.things if t.id == "beside-1").where_m[0]
    ground = float(outing.site.terrain.ground_m(thorn))
    hidden = Place(id="thorn", name="the thorn", xyz_m=np.array([*thorn, ground]))
    site = replace(outing.site, places={**outing.site.places, "thorn": hidden})
    under = _crewed(scene, rider, replace(pilot, stands="thorn"), spotter)
    return {"rider": _crewed(scene, steering, spotter), "pilot": replace(under, site=site)}


def _crewed(scene: Scene, *crew: Person) -> Scene:
    return replace(scene, day=replace(scene.day, crew=crew))


@cache
def findings() -> dict[str, tuple[Finding, ...]]:
    """Pack id -> what each column's check finds under it."""
    by_id = {check.id: check for check in CHECKS}

    def one(pack: Rules, check: str, who: str) -> Finding:
        scene = scenes()[who]
        home = replace(scene.site, country=pack.countries[0])
        scene = replace(scene, rules=pack, site=home)
        asked = by_id[check]
        return judging.find(asked, scene)

    return {
        name: tuple(one(pack, check, who) for _, check, who in COLUMNS)
        for name, pack in rules.packs().items()
    }


def law_table() -> str:
    """The table, in Markdown."""
    heads = ["rule pack", *(title for title, _, _ in COLUMNS)]
    lines = ["| " + " | ".join(heads) + " |", "|" + "---|" * len(heads)]
    for name, found in findings().items():
        lines.append("| " + " | ".join([f"`{name}`", *map(cell, found)]) + " |")
    return INTRODUCTION.format(**FLIGHT) + "\n" + "\n".join(lines) + "\n"


def cell(found: Finding) -> str:
    """`no-go: 130 m, at most 122 m`; the word alone where the number says little."""
    if found.value is None or found.limit is None or found.check not in ("height", "people"):
        return found.verdict.word
    side = "at most" if found.check == "height" else "at least"
    return f"{found.verdict.word}: {found.value:.0f} m, {side} {found.limit:.0f} m"


def written(text: str) -> str:
    """A document with the table as it is now between its marks."""
    before, _, rest = text.partition(OPEN)
    _, _, after = rest.partition(CLOSE)
    return f"{before}{OPEN}\n\n{law_table()}\n{CLOSE}{after}"


if __name__ == "__main__":
    DOCUMENT.write_text(written(DOCUMENT.read_text("utf-8")), "utf-8")
