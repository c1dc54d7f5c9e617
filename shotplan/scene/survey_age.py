"""How long ago somebody looked: what has grown or was put up since is not drawn."""

from __future__ import annotations

from datetime import date

import numpy as np

from shotplan.model import say
from shotplan.model.site import Kind
from shotplan.scene.margin import Remark
from shotplan.scene.scene import Scene

KINDS: tuple[Kind, ...] = ("trees", "buildings", "wires")
GROWTH_M = 1.0  # a year, of young trees
SOURCE = (
    "own setting: 12 months; young conifers, willows and birches grow 0.5 to 1 m a year, memory"
)
UNDATED = date.min


def old_survey(scene: Scene) -> tuple[Remark, ...]:
    """A caution where the flight passes places where somebody looked more than 12 months ago."""
    on = (scene.start or scene.day.start).astimezone(scene.day.timezone).date()
    looked = {kind: _last_looked(scene, kind) for kind in KINDS}
    undated = [kind for kind, day in looked.items() if day == UNDATED]
    dated = {kind: day for kind, day in looked.items() if day and day > UNDATED}
    found = []
    if undated:
        what = f"no date says when somebody looked for {', '.join(undated)}"
        found.append(Remark(f"{what}: give the day as `on` in [survey]"))
    first = min(dated.values(), default=on)
    if first < _a_year_before(on):
        old = ", ".join(kind for kind, day in dated.items() if day == first)
        years = (on - first).days / 365.25
        short = (
            f"nobody looked for {old} since {say.day(first)}, {years:.1f} years before the flight"
        )
        found.append(
            Remark(
                f"{short}: young trees grow up to {GROWTH_M:g} m a year, {GROWTH_M * years:.1f} m "
                "since then, and what was put up since is not drawn",
                caution=True,
                source=SOURCE,
                advice="look again, mend the heights and what is new, and give that day as `on`",
                short=short,
            )
        )
    return tuple(found)


def _a_year_before(on: date) -> date:
    return on.replace(year=on.year - 1, day=28 if (on.month, on.day) == (2, 29) else on.day)


def _last_looked(scene: Scene, kind: Kind) -> date | None:
    """Of the places flown over where somebody looked for a kind, the day of the one that was last
    looked at the longest ago; None nowhere."""
    xy = np.array(scene.track.xyz_m[0, :, :2])
    newest = np.zeros(len(xy), dtype=int)
    for area in scene.site.surveyed:
        if kind in area.looked_for:
            day = date.fromisoformat(area.on) if area.on else UNDATED
            newest = np.where(area.inside_m(xy) >= 0.0, np.maximum(newest, day.toordinal()), newest)
    seen = newest[newest > 0]
    return date.fromordinal(int(seen.min())) if len(seen) else None
