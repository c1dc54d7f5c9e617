"""Clearance: wires are trusted to no sensor, crowns hide trunks, and what is only a caution never
hides what is nearer to its limit."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest

from shotplan.checks import clearance
from shotplan.judging import judge as judging
from shotplan.judging.judged import Also, Finding
from shotplan.model.verdict import Verdict
from shotplan.scene.scene import Scene
from tests import worlds

ALL_ROUND = {"aircraft": {"class": "folding-all-round"}}
EXACT = {"ride": {"error_m": 0.0}, "map_error_m": 0.0}
FOLLOW = {
    "name": "behind",
    "style": "follow-behind",
    "distance_m": 8.0,
    "height_m": 4.0,
    "from_m": 20.0,
    "to_m": 180.0,
}
TRACK_M = -12.0  # where the side-track of `worlds` flies, east


def asked(folder: Path, **world: Any) -> tuple[Scene, Finding]:
    scene = worlds.staged(folder, **world)
    return scene, judging.find(clearance.CHECK, scene)


def wire(name: str, path: list[tuple[float, float]], **says: Any) -> dict[str, Any]:
    sound = {"error_m": 0.0, "height_error_m": 0.0, "sag_m": 0.0, **says}
    return worlds.feature(name, "wire", worlds.line(path), **sound)


def only(found: Finding, limit_m: float) -> Also:
    (one,) = (a for a in found.also if a.limit is not None and abs(a.limit - limit_m) < 1e-6)
    return one


def test_to_a_wire_the_whole_overrun_counts_though_it_senses_all_round(tmp_path: Path) -> None:
    # Following north past the end of a wire that hangs across the course at y = 90: the aircraft
    # senses all round, yet from the last sample it would run on for v·t + v²/(2b), DEFINITIONS.
    across = [(-40.0, 130.0), (40.0, 130.0)]
    site = {**EXACT, **ALL_ROUND, "shot": [{**FOLLOW}]}
    scene, found = asked(tmp_path, features=[wire("line-1", across, height_m=6.0)], site=site)
    assert not scene.blind.any()
    craft = scene.aircraft
    v = scene.speed_m_s[0]
    runs_on = v * craft.reaction_s + v * v / (2.0 * craft.brake_m_s2)
    y = scene.track.xyz_m[0, :, 1]
    expected = np.min(np.maximum(130.0 - (y + runs_on), 0.0))  # level, below the wire: a curtain
    assert expected < np.min(np.abs(130.0 - y)) - 3.0
    assert found.thing == "line-1"
    assert found.value == pytest.approx(expected, abs=0.05)


def test_near_a_wire_of_unknown_height_is_a_caution_measured_level(tmp_path: Path) -> None:
    # A pack of what is not known: the finding is unknown, and the caution is told beside it.
    beside = [(TRACK_M - 25.0, -300.0), (TRACK_M - 25.0, 300.0)]
    features = [worlds.feature("cable", "wire", worlds.line(beside), error_m=0.0)]
    _, found = asked(tmp_path, features=features, site={**EXACT, **ALL_ROUND})
    assert found.verdict == Verdict.UNKNOWN
    near = only(found, 30.0)
    assert (near.verdict, near.thing) == (Verdict.CAUTION, "cable")
    assert near.value == pytest.approx(25.0, abs=0.05)
    assert "level" in near.reason


def test_a_wire_within_30_m_does_not_hide_a_nearer_tree(tmp_path: Path) -> None:
    oak = worlds.tree(
        "oak", east_m=TRACK_M - 7.0, north_m=10.0, height_m=12.0, radius_m=2.0, error_m=0.0,
        height_error_m=0.0,
    )  # fmt: skip
    along = [(TRACK_M - 20.0, -300.0), (TRACK_M - 20.0, 300.0)]
    features = [oak, wire("line-1", along, height_m=9.0)]
    scene, found = asked(tmp_path, features=features, site={**EXACT, **ALL_ROUND})
    assert found.verdict == Verdict.CAUTION
    # The numbers stay those of the limit at its tightest place: the oak's edge is 5 m away.
    assert found.thing == "oak"
    assert found.value == pytest.approx(5.0, abs=0.01)
    assert found.limit == pytest.approx(scene.keep_m)
    assert found.margin == pytest.approx(5.0 - scene.keep_m, abs=0.01)
    near = only(found, 30.0)
    assert (near.verdict, near.thing) == (Verdict.CAUTION, "line-1")
    assert near.value == pytest.approx(20.0, abs=0.05)
    assert near.margin == pytest.approx(-10.0, abs=0.05)
    assert near.at is not None
    assert "line-1" in found.reason
    assert found.advice
    # Nor in what is kept sample by sample: the track's own columns say the nearest thing.
    nearest = int(np.argmin(found.values))
    assert found.things[nearest] == "oak"
    assert found.thing_at(0) == "line-1"  # what makes that sample a caution


def test_under_the_crowns_of_a_wood_open_beneath_is_a_caution(tmp_path: Path) -> None:
    wood = worlds.feature(
        "wood", "wood", worlds.polygon(worlds.box(-60.0, -40.0, -2.0, 40.0)), height_m=30.0,
        base_m=20.0, error_m=0.0, height_error_m=0.0,
    )  # fmt: skip
    _, found = asked(tmp_path / "a", features=[wood], site={**EXACT, **ALL_ROUND})
    assert found.verdict == Verdict.CAUTION
    assert found.value == pytest.approx(14.0, abs=0.01)  # 6 m up, crowns from 20 m on
    under = only(found, 20.0)
    assert (under.thing, under.verdict) == ("wood", Verdict.CAUTION)
    assert under.value == pytest.approx(6.0, abs=0.01)
    assert "trunks" in found.reason
    assert "draw each" in found.advice
    # Where the ride cuts it open wide enough no trunk stands in the way.
    cut = {**EXACT, **ALL_ROUND, "ride": {"error_m": 0.0, "clear_m": 40.0, "overhead_m": 20.0}}
    _, clear = asked(tmp_path / "b", features=[wood], site=cut)
    assert clear.verdict == Verdict.GO
    assert not clear.also


def test_the_contingency_distance_is_a_remark(tmp_path: Path) -> None:
    # A side-track flies blind 9 m from an oak: the published distance is wider, the limit kept.
    oak = worlds.tree(
        "oak", east_m=TRACK_M - 11.0, north_m=10.0, height_m=12.0, radius_m=2.0, error_m=0.0
    )
    scene, found = asked(tmp_path, features=[oak], site=EXACT)
    assert scene.blind.any()
    assert any("published contingency distance" in r.text for r in found.remarks)
    assert found.verdict == Verdict.GO  # every metre of it is
    assert not found.also


def test_what_to_leave_out_stays_on_the_ride(tmp_path: Path) -> None:
    hedge = [
        worlds.tree(f"t{y}", east_m=TRACK_M, north_m=float(y), height_m=9.0, radius_m=1.0)
        for y in range(-100, 21, 3)
    ]
    site = {"shot": [{**worlds.SIDE_TRACK, "from_m": 0.0, "to_m": 200.0}]}
    _, found = asked(tmp_path / "a", features=hedge, site=site)
    assert "leave out 0 to 1" in found.advice
    _, whole = asked(
        tmp_path / "b", features=hedge, site={"shot": [{**worlds.SIDE_TRACK, "from_m": 0.0,
                                                       "to_m": 100.0}]}
    )  # fmt: skip
    assert "leave this shot out" in whole.advice
    assert "-5" not in found.advice + whole.advice


def test_errors_are_called_what_they_are(tmp_path: Path) -> None:
    oak = worlds.tree("oak", east_m=TRACK_M - 20.0, north_m=10.0, height_m=12.0, radius_m=2.0)
    _, found = asked(tmp_path, features=[oak])
    (parts,) = (r.text for r in found.remarks if r.kind == "limit")
    assert "one standard error" in parts
    assert "may be off" not in parts
