"""Which style is safe where, on the bundled forest: the search must find what practitioners know.

Beside the rider between two rows of trees there is no room, behind him there is; a beacon under
leaves is too far off for either; on a cliff-top without trees the open side is free (all three:
common practice).
"""

from __future__ import annotations

import shutil
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from shotplan import plan as planning
from shotplan.advice.ranking import field_of, ranked
from shotplan.advice.style_table import StyleTable
from shotplan.advice.wanted import Wanted
from shotplan.advice.which_style import which_style
from shotplan.files.bundled import bundled_sites
from shotplan.flying import stage_scene
from shotplan.model.verdict import Verdict
from shotplan.outing import Outing, read
from shotplan.styles.follow_behind import FollowBehind
from shotplan.styles.side_track import SideTrack

TUNNEL_M = (310.0, 420.0)  # well inside the paced rows
WANTED = Wanted(
    styles=("side-track", "follow-behind"), sides=("left", "right"), rides=40,
    side_m=(9.0, 12.0), behind_m=(9.0, 12.0), heights_m=(4.0, 6.0), ladder_steps=3,
)  # fmt: skip


@pytest.fixture(scope="module")
def forest(tmp_path_factory: pytest.TempPathFactory) -> Outing:
    folder = tmp_path_factory.mktemp("forest") / "site"
    shutil.copytree(bundled_sites()["larrigan"], folder)
    outing = read(Path(folder))
    return replace(outing, disturbance=replace(outing.disturbance, rides=300))


@pytest.fixture(scope="module")
def table(forest: Outing) -> StyleTable:
    return which_style(forest, WANTED)


def _inside(table: StyleTable) -> slice:
    low, high = np.searchsorted(table.edges_m, TUNNEL_M)
    return slice(int(low), int(high))


def test_beside_him_between_the_trees_nothing_passes(table: StyleTable) -> None:
    rows = [i for i, c in enumerate(table.candidates) if isinstance(c.style, SideTrack)]
    assert (table.verdict[rows][:, _inside(table)] == int(Verdict.NO_GO)).all()


def test_behind_him_there_is_a_height_that_passes(table: StyleTable) -> None:
    rows = [i for i, c in enumerate(table.candidates) if isinstance(c.style, FollowBehind)]
    passing = (table.verdict[rows][:, _inside(table)] <= int(Verdict.CAUTION)).all(axis=1)
    assert passing.any()


def test_the_recommendation_changes_style_before_and_after(table: StyleTable) -> None:
    kinds = [type(table.candidates[c].style) if c >= 0 else None for c in table.choice()]
    inside = _inside(table)
    assert set(kinds[inside]) == {FollowBehind}
    assert SideTrack in kinds[: inside.start]
    assert SideTrack in kinds[inside.stop :]


def test_every_leg_was_flown_with_all_rides_and_none_is_refused_for_its_style(
    table: StyleTable,
) -> None:
    assert table.flown == 300
    for leg in table.legs:
        assert leg.plan.rides == 300
        for check in ("clearance", "ground", "rider-gap", "people", "height", "sight"):
            assert leg.plan.finding(check).verdict != Verdict.NO_GO


def test_the_ladder_keeps_twice_the_margin(table: StyleTable) -> None:
    rungs = [(leg, easier) for leg in table.legs for easier in leg.easier]
    assert rungs
    for leg, easier in rungs:
        assert easier.margin_m >= 2.0 * leg.margin_m


def test_by_beacon_under_leaves_nothing_passes_and_it_says_why(forest: Outing) -> None:
    beacon = replace(forest, aircraft=replace(forest.aircraft, follows_by="beacon"))
    field = field_of(beacon, WANTED)
    behind = FollowBehind(distance_m=9.0, height_m=6.0)
    (found,) = ranked(field, (behind,))
    low, high = np.searchsorted(field.edges_m, TUNNEL_M)
    assert (found.verdict[low:high] == int(Verdict.NO_GO)).all()
    shot = replace(forest.shots[0], style=behind, from_m=TUNNEL_M[0], to_m=TUNNEL_M[1])
    plan = planning.judge(stage_scene(beacon, shot, forest.day.start, 60))
    clearance = plan.finding("clearance")
    assert clearance.verdict == Verdict.NO_GO
    assert "crowns" in clearance.reason or "wood" in clearance.reason
    assert "both receivers together are off by 2.9 to 7.0 m each way" in clearance.reason


def test_on_the_cliff_top_the_open_side_passes(tmp_path: Path) -> None:
    shutil.copytree(bundled_sites()["hvinhylde"], tmp_path / "site")
    outing = read(tmp_path / "site")
    field = field_of(outing, WANTED)
    (left,) = ranked(field, (SideTrack(side="left", distance_m=25.0, height_m=10.0),))
    # 110 to 200 m runs along the edge, the sea to the left.
    low, high = np.searchsorted(field.edges_m, (140.0, 200.0))
    assert (left.verdict[low:high] <= int(Verdict.CAUTION)).all()
