"""A word that is never said says nothing: `go` can be reached, with all rides of the site."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest

from shotplan import plan
from shotplan.files.bundled import bundled_sites
from shotplan.judging.judged import ShotPlan
from shotplan.model.verdict import Verdict
from shotplan.outing import read
from tests.shared_plans import plan_of
from tests.worlds import Array, place, write_site


def against(shot: ShotPlan) -> dict[str, str]:
    """Check -> why, of all that is not go."""
    return {f.check: f.reason for f in shot.findings if f.verdict != Verdict.GO}


def good_enough(shot: ShotPlan) -> bool:
    """Go, or a caution with at most two reasons."""
    return shot.verdict <= Verdict.CAUTION and len(against(shot)) <= 2


@pytest.mark.parametrize("site", sorted(bundled_sites()))
def test_a_bundled_site_has_a_shot_to_fly(site: str) -> None:
    """As bundled: its own day, weather, aircraft and number of rides."""
    made = plan_of(site)
    why = {s.scene.shot.name: (str(s.verdict), against(s)) for s in made}
    assert any(good_enough(s) for s in made), why


CALM: dict[str, Any] = {"wind_m_s": 1.5, "gust_m_s": 3.0, "wind_from_deg": 200.0}
ROW = {"from_m": 20.0, "to_m": 180.0, "role": "tree", "height_m": 12.0, "radius_m": 1.5}


def meadow(east: Array, north: Array) -> Array:
    """Rolling ground: 2 m up and down over 150 m."""
    return np.asarray(84.0 + np.sin(east / 24.0) * np.cos(north / 24.0))


@pytest.mark.parametrize(
    "shot",
    [
        {"style": "side-track", "side": "left", "distance_m": 8.0, "height_m": 5.0},
        {"style": "follow-behind", "distance_m": 8.0, "height_m": 5.0},
    ],
    ids=lambda shot: str(shot["style"]),
)
def test_a_calm_day_a_fine_raster_and_paced_trees_give_go(
    tmp_path: Path, shot: dict[str, Any]
) -> None:
    """Trees paced along the right; open to the left. The pilot stands on the open side."""
    site = {
        "aircraft": {"class": "folding-light", "class_mark": "C0"},
        "weather": CALM, "ride": {"speed_m_s": 5.0}, "beside": [{**ROW, "right_m": 9.0}],
        "crew": [
            {"name": "Ada", "role": "rider"},
            {"name": "Bo", "role": "pilot", "stands": "knoll"},
        ],
        "shot": [{**shot, "name": "shot"}], "disturbance": {"rides": 300},
    }  # fmt: skip
    spots = [
        place("launch", east_m=-35.0, north_m=0.0), place("knoll", east_m=-35.0, north_m=2.0)
    ]  # fmt: skip
    folder = write_site(
        tmp_path, site=site, ride=0.0, terrain=meadow, cell_m=1.0, features=spots,
        without=["launch"],
    )  # fmt: skip
    (judged,) = plan.make(read(folder))
    assert against(judged) == {}
    assert judged.verdict is Verdict.GO
