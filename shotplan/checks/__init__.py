"""The questions asked of every scene, one file each, named like its id.

To add one: write `checks/<id>.py` with a `CHECK = Check(...)` whose `margins(scene)` returns
signed margins (positive is safe, NaN unknown, +inf does not apply), and add it to `CHECKS` below.
What is said of it and who else asks it are fields of `Check`; map, stretches, report, brief, card
and terminal follow from these and the margins; nothing else needs an edit.
The file says what is measured, what is kept, and, through `scene.telling.told`, what is said; one
that wants more room is a folder with `CHECK` in its `check.py`.
"""

from __future__ import annotations

from shotplan.checks import (
    battery,
    boundary,
    clearance,
    crew,
    fall,
    framing,
    glare,
    ground,
    height,
    keep_out,
    light,
    link,
    pace,
    people,
    return_,
    rider_gap,
    sight,
    view,
    wildlife,
    wind,
)
from shotplan.scene.margin import Check

CHECKS: tuple[Check, ...] = (
    clearance.CHECK,
    ground.CHECK,
    rider_gap.CHECK,
    height.CHECK,
    boundary.CHECK,
    keep_out.CHECK,
    sight.CHECK,
    crew.CHECK,
    pace.CHECK,
    people.CHECK,
    wildlife.CHECK,
    wind.CHECK,
    fall.CHECK,
    battery.CHECK,
    return_.CHECK,
    link.CHECK,
    light.CHECK,
    glare.CHECK,
    view.CHECK,
    framing.CHECK,
)
