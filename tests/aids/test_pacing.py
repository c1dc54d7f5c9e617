from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest

from shotplan import plan
from shotplan.aids import pacing
from shotplan.aids.pacing import ROUND_M, worth_pacing
from shotplan.judging.judged import Plan
from shotplan.model.verdict import Verdict
from shotplan.outing import read
from tests import asked, worlds

RIGHT = {"side": "right", "distance_m": 8.0, "name": "along", "style": "side-track"}


def made(folder: Path, *features: dict[str, Any], **site: Any) -> Plan:
    shot = {**RIGHT, "height_m": 5.0, **site.pop("shot", {})}
    folder = worlds.write_site(folder, features=features, site={"shot": [shot], **site})
    return plan.make(read(folder))


def oak(east_m: float, **says: Any) -> dict[str, Any]:
    return worlds.tree("oak", east_m=east_m, north_m=0.0, height_m=12.0, radius_m=2.0, **says)


def clearance(folder: Path, right_m: float) -> Verdict:
    """The word where the same tree was paced so far off."""
    beside = {"at_m": 100.0, "right_m": right_m, "role": "tree", "height_m": 12.0, "radius_m": 2.0}
    with asked.only("clearance"):
        found = made(folder, beside=[beside])
    return found.shots[0].finding("clearance").verdict


def test_paced_as_far_as_it_says_the_shot_keeps_its_limit_and_nearer_it_does_not(
    tmp_path: Path,
) -> None:
    (found,) = worth_pacing(made(tmp_path / "drawn", oak(13.0)).shots)
    assert (found.thing.id, found.side, found.bound, found.shots) == (
        "oak",
        "right",
        "at-least",
        (0,),
    )
    assert found.drawn_m == pytest.approx(13.0, abs=0.01)
    assert found.along_m == pytest.approx(100.0, abs=0.7)
    assert found.spare_m == pytest.approx(13.0 - found.wanted_m, abs=0.01)
    assert clearance(tmp_path / "paced", found.wanted_m) < Verdict.NO_GO
    assert clearance(tmp_path / "nearer", found.wanted_m - ROUND_M - 0.25) == Verdict.NO_GO


def test_between_rider_and_aircraft_it_must_not_be_farther(tmp_path: Path) -> None:
    plan_ = made(tmp_path / "drawn", oak(9.0), shot={"distance_m": 14.0})
    (found,) = worth_pacing(plan_.shots)
    assert found.bound == "at-most"
    assert 6.0 < found.wanted_m < 10.0
    assert found.spare_m == pytest.approx(found.wanted_m - 9.0, abs=0.01)


def test_what_was_paced_is_far_or_high_above_is_not_worth_it(tmp_path: Path) -> None:
    assert worth_pacing(made(tmp_path / "far", oak(40.0)).shots) == ()
    assert worth_pacing(made(tmp_path / "high", oak(13.0), shot={"height_m": 40.0}).shots) == ()
    beside = {"at_m": 100.0, "right_m": 11.0, "role": "tree", "height_m": 12.0, "radius_m": 2.0}
    assert worth_pacing(made(tmp_path / "paced", beside=[beside]).shots) == ()


def test_a_building_is_paced_to_its_near_wall_and_few_are_told_in_order(tmp_path: Path) -> None:
    hut = worlds.feature(
        "hut", "building", worlds.polygon(worlds.box(11.0, 40.0, 20.0, 48.0)), height_m=9.0
    )
    trees = [
        worlds.tree(f"tree-{k}", east_m=12.0, north_m=-60.0 + 25.0 * k, height_m=12.0, radius_m=2.0)
        for k in range(4)
    ]
    plan_ = made(tmp_path, hut, *trees)
    found = worth_pacing(plan_.shots, most=9)
    assert [p.thing.id for p in found] == ["tree-0", "tree-1", "tree-2", "tree-3", "hut"]
    assert found[-1].drawn_m == pytest.approx(11.0, abs=0.01)
    few = worth_pacing(plan_.shots, most=2)
    assert len(few) == 2
    assert few[0].along_m < few[1].along_m


def test_every_shift_of_a_thing_is_asked_as_if_it_were_the_only_one(tmp_path: Path) -> None:
    (shot,) = made(tmp_path, oak(11.0), worlds.tree("elm", east_m=12.5, north_m=30.0))
    shifts = np.arange(-6.0, 6.0, 0.25)
    out, things = np.array([1.0, 0.0]), shot.scene.site.obstacles.things
    for k in range(len(things)):
        together = pacing._clear(shot, k, things[k], out, shifts, 0.3)
        each = [pacing._clear(shot, k, things[k], out, shifts[i : i + 1], 0.3)[0]
                for i in range(len(shifts))]  # fmt: skip
        assert together.tolist() == each
        assert 0 < together.sum() < len(shifts)
