"""Link: free range, a ridge, a wall, a wood whose losses are known beforehand."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from shotplan.checks import link
from shotplan.flying import stage_scene
from shotplan.judging import judge as judging
from shotplan.judging.judged import Finding
from shotplan.kernels.light import radio
from shotplan.model.verdict import Verdict
from shotplan.outing import read
from shotplan.scene.scene import Scene
from tests import worlds

RANGE_M = 2000.0
FAR_M = 400.0
WEST_M = -200.0  # where the pilot stands


def scene(
    folder: Path, *, height_m: float = 40.0, range_m: float | None = RANGE_M, **world: Any
) -> Scene:
    """A short ride to the north, the camera beside it `FAR_M` east of the pilot."""
    site = {
        "aircraft": {"class": "folding-light", "link_range_m": range_m},
        "crew": [{"name": "Bo", "role": "pilot", "stands": "stand"}],
        "shot": [{**worlds.SIDE_TRACK, "height_m": height_m}],
        **world.pop("site", {}),
    }
    features = [worlds.place("stand", east_m=WEST_M, north_m=0.0), *world.pop("features", ())]
    ride = np.array([(WEST_M + FAR_M + 12.0, north) for north in (-6.0, 6.0)])
    outing = read(
        worlds.write_site(folder, site=site, features=features, ride=ride, cell_m=1.0, **world)
    )
    staged = stage_scene(outing, outing.shots[0], outing.day.start)
    # The bundled classes name a range; an aircraft whose maker does not is flown without.
    return replace(staged, aircraft=replace(staged.aircraft, link_range_m=range_m))


def found(staged: Scene) -> Finding:
    return judging.find(link.CHECK, staged)


def free_db(staged: Scene) -> np.ndarray:
    hands = np.array([WEST_M, 0.0, worlds.GROUND_M + link.HAND_M])
    slant = np.linalg.norm(staged.track.xyz_m[0] - hands, axis=1)
    return np.asarray(20.0 * np.log10(RANGE_M / slant))


def test_with_nothing_in_the_way_only_the_distance_counts(tmp_path: Path) -> None:
    staged = scene(tmp_path)
    result = found(staged)
    asked = slice(None, None, 5)
    np.testing.assert_allclose(result.values[asked], free_db(staged)[asked], atol=1e-6)
    assert result.verdict == Verdict.GO
    assert "nothing in the way" in result.reason


@pytest.mark.parametrize(
    ("range_m", "verdict"), [(300.0, Verdict.NO_GO), (700.0, Verdict.CAUTION), (900.0, Verdict.GO)]
)
def test_six_decibels_are_half_the_range(tmp_path: Path, range_m: float, verdict: Verdict) -> None:
    # At 402 m: under its range it is lost, under twice that only a caution.
    assert found(scene(tmp_path, range_m=range_m)).verdict == verdict


def ridge(top_m: float) -> Any:
    """Flat ground with a ridge 3 m wide, 100 m east of the pilot."""

    def ground(x: np.ndarray, _y: np.ndarray) -> np.ndarray:
        return worlds.GROUND_M + np.where(np.abs(x - WEST_M - 100.0) < 1.5, top_m, 0.0)

    return ground


def test_a_ridge_two_metres_over_the_line_costs_what_the_reference_says(tmp_path: Path) -> None:
    # Ridge 2 m above the line, 100 m and 300 m away, 2.4 GHz: 13.4 dB (physics.md section 8).
    # The line from 1.2 m to 40 m passes 10.9 m high there.
    staged = scene(tmp_path, terrain=ridge(1.2 + 0.25 * 38.8 + 2.0))
    result = found(staged)
    loss = free_db(staged)[::5] - result.values[::5]
    np.testing.assert_allclose(loss, 13.4, atol=0.5)  # its crest is 3 m wide
    assert result.thing == "ground"
    assert any("usual way to lose" in r.text for r in result.remarks)


def test_flying_as_much_higher_as_it_says_keeps_six_decibels(tmp_path: Path) -> None:
    low = {"terrain": ridge(14.0), "range_m": 1200.0}
    result = found(scene(tmp_path / "a", height_m=20.0, **low))
    assert result.verdict in (Verdict.NO_GO, Verdict.CAUTION)
    more = float(result.advice.split("fly ")[1].split(" m higher")[0])
    assert found(scene(tmp_path / "b", height_m=20.0 + more, **low)).verdict == Verdict.GO
    assert found(scene(tmp_path / "c", height_m=18.0 + more, **low)).verdict != Verdict.GO


def test_a_wood_costs_by_its_depth(tmp_path: Path) -> None:
    wood = worlds.feature(
        "grove",
        "wood",
        worlds.polygon(worlds.box(WEST_M + 150.0, -200.0, WEST_M + 200.0, 200.0)),
        height_m=30.0,
    )
    staged = scene(tmp_path, features=[wood])
    result = found(staged)
    # 50 m level, on a line that climbs 38.8 m in 400 m.
    depth = 50.0 * np.hypot(400.0, 38.8) / 400.0
    loss = free_db(staged)[::5] - result.values[::5]
    np.testing.assert_allclose(loss, radio.foliage_db(np.array(depth), 2400.0), atol=0.3)
    assert result.thing == "grove"
    assert "50 m of leaves" in result.reason


def test_under_the_crown_nothing_is_lost(tmp_path: Path) -> None:
    oak = worlds.tree(
        "oak", east_m=WEST_M + 50.0, north_m=0.0, height_m=30.0, radius_m=8.0, base_m=12.0,
        trunk_radius_m=0.3,
    )  # fmt: skip
    staged = scene(tmp_path, features=[oak])
    # The trunk alone, 0.6 m of it at most.
    loss = free_db(staged)[::5] - found(staged).values[::5]
    assert loss.max() <= float(radio.foliage_db(np.array(1.2), 2400.0))


def test_a_wall_is_a_knife_edge_however_thin(tmp_path: Path) -> None:
    top = 1.2 + 0.25 * 38.8 + 2.0
    wall = worlds.feature(
        "barn",
        "building",
        worlds.polygon(worlds.box(WEST_M + 100.0, -300.0, WEST_M + 100.1, 300.0)),
        height_m=top,
    )
    staged = scene(tmp_path, features=[wall])
    result = found(staged)
    loss = free_db(staged)[::5] - result.values[::5]
    np.testing.assert_allclose(loss, 13.4, atol=0.1)  # physics.md section 8
    assert result.thing == "barn"
    assert "barn" in result.reason


def test_a_rating_that_is_not_known_is_unknown_with_a_limit_that_holds(tmp_path: Path) -> None:
    result = found(scene(tmp_path / "a", range_m=None, terrain=ridge(12.0)))
    assert result.verdict == Verdict.UNKNOWN
    (limit,) = result.go_if
    assert (limit.key, limit.bound) == ("aircraft.link_range_m", "at-least")
    just = found(scene(tmp_path / "b", range_m=limit.value, terrain=ridge(12.0)))
    assert just.verdict == Verdict.GO
    short = found(scene(tmp_path / "c", range_m=limit.value - 0.5, terrain=ridge(12.0)))
    assert short.verdict == Verdict.CAUTION


def test_nobody_at_the_control_or_nobody_knows_where_is_unknown(tmp_path: Path) -> None:
    for name, crew in (
        ("a", [{"name": "Ada", "role": "rider"}]),
        ("b", [{"name": "Bo", "role": "pilot"}]),
    ):
        result = found(scene(tmp_path / name, site={"crew": crew}))
        assert result.verdict == Verdict.UNKNOWN
        assert "pilot" in result.advice


def test_the_rider_as_pilot_carries_the_control_along(tmp_path: Path) -> None:
    crew = [{"name": "Ada", "role": ["rider", "pilot"]}]
    staged = scene(tmp_path, height_m=6.0, site={"crew": crew})
    # 12 m beside, one delay (3 m) behind, 6 m up less the hand.
    slant = np.sqrt(12.0**2 + 3.0**2 + (6.0 - link.HAND_M) ** 2)
    np.testing.assert_allclose(
        found(staged).values[::5], 20.0 * np.log10(RANGE_M / slant), atol=0.01
    )


def test_missing_ground_under_the_path_is_unknown(tmp_path: Path) -> None:
    def ground(x: np.ndarray, _y: np.ndarray) -> np.ndarray:
        return np.where(np.abs(x) < 30.0, np.nan, worlds.GROUND_M + 0.0 * x)

    staged = scene(tmp_path, terrain=ground)
    assert found(staged).verdict == Verdict.UNKNOWN
    assert not found(scene(tmp_path / "b", terrain=ground, range_m=None)).go_if
