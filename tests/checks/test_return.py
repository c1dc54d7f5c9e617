"""Left alone: flies home, hovers, lands, past trees whose answer is known beforehand."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from shotplan.checks.return_ import home, room
from shotplan.checks.return_.check import CHECK, CLEAR_CIRCLE_M
from shotplan.judging import judge as judging
from shotplan.judging.judged import Finding
from shotplan.model.verdict import Verdict
from shotplan.scene.scene import Scene
from tests import worlds

# The ride goes north through the middle, the camera 12 m to its left and 6 m up, the launch 30 m
# to its right: home is east, 42 m away at the middle.
HALF_SPAN_M = 0.18
LIMIT_M = HALF_SPAN_M + 2.0
GROUND_LIMIT_M = LIMIT_M + 0.5  # for low things nobody drew; flat ground has no error
EXACT = {"ride": {"error_m": 0.0}, "map_error_m": 0.0}
SURE = {"error_m": 0.0, "height_error_m": 0.0}


def scene(folder: Path, *, site: dict[str, Any] | None = None, **world: Any) -> Scene:
    said = {**EXACT, "return_height_m": 40.0, **(site or {})}
    world.setdefault("ride", worlds.straight(0.0, 40.0))
    return worlds.staged(folder, site=said, **world)


def found(staged: Scene) -> Finding:
    return judging.find(CHECK, staged)


def oak(east_m: float, north_m: float = 0.0, **says: Any) -> dict[str, Any]:
    given = {"height_m": 20.0, "radius_m": 3.0, **SURE, **says}
    return worlds.tree("oak", east_m=east_m, north_m=north_m, **given)


def test_over_open_ground_the_start_of_the_climb_is_nearest(tmp_path: Path) -> None:
    result = found(scene(tmp_path))
    assert result.verdict == Verdict.GO
    assert result.value == pytest.approx(6.0, abs=0.02)
    assert result.limit == pytest.approx(GROUND_LIMIT_M)


def test_a_tree_on_the_way_home_decides_the_height(tmp_path: Path) -> None:
    tree = [oak(9.0)]
    low = found(scene(tmp_path / "a", features=tree, site={"return_height_m": 15.0}))
    assert (low.verdict, low.thing, low.value) == (Verdict.NO_GO, "oak", 0.0)
    assert low.advice == "raise the return height to 22.5 m: oak decides it"
    cured = found(scene(tmp_path / "b", features=tree, site={"return_height_m": 22.5}))
    assert cured.verdict == Verdict.GO
    assert cured.value == pytest.approx(22.5 - 20.0, abs=0.01)
    assert cured.thing == "oak"
    again = found(scene(tmp_path / "c", features=tree, site={"return_height_m": 22.0}))
    assert again.verdict == Verdict.NO_GO
    assert again.value == pytest.approx(2.0, abs=0.01)


def test_without_a_return_height_it_says_the_least(tmp_path: Path) -> None:
    result = found(scene(tmp_path / "a", features=[oak(9.0)], site={"return_height_m": None}))
    assert result.verdict == Verdict.UNKNOWN
    (limit,) = result.go_if
    assert (limit.key, limit.bound) == ("return_height_m", "at-least")
    assert limit.value == pytest.approx(20.0 + LIMIT_M, abs=0.02)
    for value, verdict in ((limit.value, Verdict.GO), (limit.value - 0.05, Verdict.NO_GO)):
        site = {"return_height_m": value}
        staged = scene(tmp_path / str(value), features=[oak(9.0)], site=site)
        assert found(staged).verdict == verdict
    # With nothing in the way it must still not scrape over the launch.
    bare = found(scene(tmp_path / "b", site={"return_height_m": None}))
    assert bare.go_if[0].value == pytest.approx(GROUND_LIMIT_M, abs=0.02)
    low = found(scene(tmp_path / "c", site={"return_height_m": GROUND_LIMIT_M - 0.1}))
    assert low.verdict == Verdict.NO_GO
    assert "after take-off" in low.reason


def test_branches_over_the_flight_stop_the_climb(tmp_path: Path) -> None:
    # The crown begins 6 m above the flight, right over it; nothing on the way home.
    tree = [oak(-12.0, 5.0, base_m=12.0, height_m=18.0, trunk_radius_m=0.1)]
    site = {"shot": [{**worlds.SIDE_TRACK, "from_m": 21.0, "to_m": 32.0, "side": "left"}]}
    result = found(scene(tmp_path, features=tree, site=site))
    assert (result.verdict, result.thing, result.value) == (Verdict.NO_GO, "oak", 0.0)
    assert "climbing" in result.reason
    assert "no return height cures" in result.advice
    without = {**site, "return_height_m": None}
    unsaid = found(scene(tmp_path / "b", features=tree, site=without))
    assert unsaid.verdict == Verdict.NO_GO  # whatever the height


def test_a_higher_flight_goes_home_at_its_own_height(tmp_path: Path) -> None:
    site = {"return_height_m": 10.0, "shot": [{**worlds.SIDE_TRACK, "height_m": 25.0}]}
    result = found(scene(tmp_path, features=[oak(9.0)], site=site))
    assert result.verdict == Verdict.GO
    assert result.value == pytest.approx(5.0, abs=0.01)


def test_the_launch_needs_a_clear_circle(tmp_path: Path) -> None:
    circle = CLEAR_CIRCLE_M + HALF_SPAN_M
    for gap, verdict in ((circle - 0.1, Verdict.NO_GO), (circle + 0.1, Verdict.GO)):
        bush = oak(30.0 + 3.0 + gap, 0.0, height_m=4.0)
        result = found(scene(tmp_path / str(gap), features=[bush]))
        assert result.verdict == verdict
        assert result.value == pytest.approx(gap, abs=0.01)
        assert ("move the launch 0.1 m farther from oak" in result.advice) == (
            verdict == Verdict.NO_GO
        )


def test_nobody_flies_home_under_a_wire(tmp_path: Path) -> None:
    wire = worlds.feature(
        "line-1", "wire", worlds.line([(9.0, -300.0), (9.0, 300.0)]), height_m=30.0, sag_m=0.0,
        **SURE,
    )  # fmt: skip
    low = found(scene(tmp_path / "a", features=[wire], site={"return_height_m": 20.0}))
    assert (low.verdict, low.thing) == (Verdict.NO_GO, "line-1")
    assert low.value == pytest.approx(0.0, abs=1e-6)
    assert "32.5 m" in low.advice


def test_where_nobody_looked_on_the_way_it_is_unknown(tmp_path: Path) -> None:
    looked = worlds.feature(
        "strip", "surveyed", worlds.polygon(worlds.box(-40.0, -60.0, 10.0, 60.0))
    )
    result = found(scene(tmp_path / "a", features=[looked]))
    assert result.verdict == Verdict.UNKNOWN
    assert not result.go_if
    hit = found(scene(tmp_path / "b", features=[looked, oak(9.0, height_m=60.0)]))
    assert hit.verdict == Verdict.NO_GO


def test_missing_ground_on_the_way_is_unknown(tmp_path: Path) -> None:
    def ground(x: np.ndarray, _y: np.ndarray) -> np.ndarray:
        return np.where(np.abs(x - 10.0) < 6.0, np.nan, worlds.GROUND_M + 0.0 * x)

    assert found(scene(tmp_path, terrain=ground)).verdict == Verdict.UNKNOWN


def test_without_a_launch_it_is_unknown(tmp_path: Path) -> None:
    crew = [{"name": "Ada", "role": ["rider", "pilot"]}]
    result = found(scene(tmp_path, without=("launch",), site={"crew": crew}))
    assert result.verdict == Verdict.UNKNOWN
    assert "launch" in result.advice


def cliff(x: np.ndarray, _y: np.ndarray) -> np.ndarray:
    """A plateau at 100 m that ends at x = -2, over a floor at 0."""
    return np.clip(50.0 * (x + 4.0), 0.0, 100.0)


@pytest.mark.parametrize(
    ("rules", "height_m", "over"),
    [("us-part107", 15.0, False), ("us-part107", 40.0, True), ("eu-open-a1", 40.0, False)],
)
def test_the_way_home_keeps_the_ceiling_or_says_that_it_does_not(
    tmp_path: Path, rules: str, height_m: float, over: bool
) -> None:
    # Beyond the edge 40 m above the launch are 140 m above the ground straight below, but not
    # from the nearest surface.
    site = {"rules": rules, "return_height_m": height_m}
    result = found(scene(tmp_path, terrain=cliff, cell_m=1.0, site=site))
    assert result.verdict == (Verdict.CAUTION if over else Verdict.GO)
    assert any("over the ceiling" in r.text for r in result.remarks) == over


def lost(what: str, **says: Any) -> dict[str, Any]:
    return {"shot": [{**worlds.SIDE_TRACK, "link_lost": what, **says}]}


def test_hovering_is_go_where_it_stays_and_nobody_is_below(tmp_path: Path) -> None:
    # The second definition names where hovering is a caution: wind, water, people, the rider.
    result = found(scene(tmp_path, features=[oak(9.0)], site=lost("hover")))
    assert result.verdict == Verdict.GO
    (said,) = [r for r in result.remarks if "hovers where it is until the battery is low" in r.text]
    assert not said.caution
    assert "min" in said.advice


@pytest.mark.parametrize("way", ["hover", "land"])
def test_left_alone_in_more_wind_than_half_its_top_speed_is_a_caution(
    tmp_path: Path, way: str
) -> None:
    half = 0.5 * scene(tmp_path / "x").aircraft.max_speed_m_s
    for mean, word in ((half - 0.1, Verdict.GO), (half + 0.1, Verdict.CAUTION)):
        wind = {"wind_m_s": mean, "gust_m_s": mean + 1.0, "wind_from_deg": 90.0}
        site = {**lost(way), "weather": wind}
        result = found(scene(tmp_path / f"{mean}", site=site))
        assert result.verdict == word
    assert (result.told.thing, result.told.unit) == ("wind", "m/s")
    assert "it drifts away to the W" in result.reason
    assert f"{half:.1f} m/s of mean wind or less" in result.advice
    home_ = found(scene(tmp_path / "h", site={"weather": wind}))
    assert home_.verdict == Verdict.GO


@pytest.mark.parametrize("way", ["hover", "land"])
def test_left_alone_in_a_wind_nobody_knows_is_unknown(tmp_path: Path, way: str) -> None:
    nothing = {"weather": {"wind_m_s": None, "gust_m_s": None, "wind_from_deg": None}}
    staged = scene(tmp_path, site={**lost(way), **nothing})
    result = found(staged)
    assert result.verdict == Verdict.UNKNOWN
    (limit,) = result.go_if
    assert (limit.key, limit.value) == (
        "weather.wind_m_s",
        0.5 * staged.aircraft.max_speed_m_s,
    )


@pytest.mark.parametrize("way", ["hover", "land"])
def test_left_alone_above_the_rider_is_a_caution(tmp_path: Path, way: str) -> None:
    above = {"name": "above", "style": "top-down", "height_m": 8.0, "link_lost": way}
    slow = {"shot": [above], "ride": {"speed_m_s": 3.0, "error_m": 0.0}}  # it trails by 1.5 m
    result = found(scene(tmp_path / "a", site=slow))
    assert (result.verdict, result.told.thing) == (Verdict.CAUTION, "rider")
    assert "above the rider" in result.reason
    more = float(result.advice.split("fly ")[1].split(" m")[0])
    beside = {**worlds.SIDE_TRACK, "link_lost": way, "distance_m": 1.5 + more}
    cured = found(scene(tmp_path / "b", site={**slow, "shot": [beside]}))
    assert cured.verdict == Verdict.GO


def test_hovering_above_people_or_water_is_a_caution(tmp_path: Path) -> None:
    path = worlds.feature("path", "people", worlds.line([(-12.0, -80.0), (-12.0, 80.0)]))
    result = found(scene(tmp_path / "a", features=[path], site=lost("hover")))
    assert (result.verdict, result.told.thing) == (Verdict.CAUTION, "path")
    assert "until the battery is low and comes down: above where people may be" in result.reason
    aside = worlds.feature("path", "people", worlds.line([(-15.0, -80.0), (-15.0, 80.0)]))
    exact = {**lost("hover"), "map_error_m": 0.0}
    assert found(scene(tmp_path / "b", features=[aside], site=exact)).verdict == Verdict.GO
    pond = worlds.feature(
        "pond", "water", worlds.polygon(worlds.box(-20.0, -5.0, -8.0, 5.0)),
        level_m=worlds.GROUND_M + 0.1,
    )  # fmt: skip
    result = found(scene(tmp_path / "c", features=[pond], site=lost("hover")))
    assert result.verdict == Verdict.CAUTION
    assert "comes down on water" in result.reason


def test_landing_where_it_is_asks_what_is_below(tmp_path: Path) -> None:
    assert found(scene(tmp_path / "a", site=lost("land"))).verdict == Verdict.GO
    bush = oak(-12.0, 0.0, height_m=4.0)
    result = found(scene(tmp_path / "b", features=[bush], site=lost("land")))
    assert (result.verdict, result.thing) == (Verdict.NO_GO, "oak")
    path = worlds.feature("path", "people", worlds.line([(-12.0, -80.0), (-12.0, 80.0)]))
    result = found(scene(tmp_path / "c", features=[path], site=lost("land")))
    assert (result.verdict, result.thing) == (Verdict.NO_GO, "path")
    assert result.value == pytest.approx(0.0, abs=1e-6)
    pond = worlds.feature(
        "pond", "water", worlds.polygon(worlds.box(-20.0, -5.0, -8.0, 5.0)),
        level_m=worlds.GROUND_M + 0.1,
    )  # fmt: skip
    result = found(scene(tmp_path / "d", features=[pond], site=lost("land")))
    assert result.verdict == Verdict.CAUTION
    assert "water" in result.reason
    unlooked = {**lost("land"), "survey": {"looked_for": ["trees", "buildings", "wires"]}}
    assert found(scene(tmp_path / "e", site=unlooked)).verdict == Verdict.UNKNOWN


def test_room_is_measured_by_the_nose(tmp_path: Path) -> None:
    # Flying north with the nose to the rider, east: ahead is east, right is south.
    walls = [oak(-12.0 + 20.0 + 3.0), worlds.tree(
        "elm", east_m=-12.0 - 10.0 - 3.0, north_m=0.0, height_m=20.0, radius_m=3.0, **SURE
    )]  # fmt: skip
    staged = scene(tmp_path, features=walls)
    here = np.array([[-12.0, 0.0, worlds.GROUND_M + 6.0]])
    east = np.array([np.pi / 2.0])
    free = dict(zip(room.DIRECTIONS, room.free_m(staged.site, here, east)[0], strict=True))
    wanted = {"up": 50.0, "down": 6.0, "ahead": 20.0, "back": 10.0, "left": 50.0, "right": 50.0}
    assert free == pytest.approx(wanted, abs=1e-3)


def test_a_place_with_no_way_out_is_a_caution(tmp_path: Path) -> None:
    ring = [
        worlds.tree(
            f"t{k}", east_m=-12.0 + 8.0 * np.sin(a), north_m=8.0 * np.cos(a), height_m=30.0,
            radius_m=3.2, **SURE,
        )
        for k, a in enumerate(np.radians(np.arange(0.0, 360.0, 45.0)))
    ]  # fmt: skip
    roof = worlds.tree(
        "roof", east_m=-12.0, north_m=0.0, height_m=30.0, base_m=10.0, radius_m=9.0,
        trunk_radius_m=0.1, **SURE,
    )  # fmt: skip
    site = {"shot": [{**worlds.SIDE_TRACK, "from_m": 19.0, "to_m": 22.0, "link_lost": "hover"}]}
    result = found(scene(tmp_path, features=[*ring, roof], site=site))
    assert any("no way out" in r.text and r.caution for r in result.remarks)
    opened = found(scene(tmp_path / "b", features=ring, site=site))
    assert not any("no way out" in r.text for r in opened.remarks)


TREES = st.lists(
    st.tuples(st.floats(-8.0, 26.0), st.floats(-20.0, 20.0), st.floats(4.0, 30.0)),
    min_size=1, max_size=4,
)  # fmt: skip


@settings(max_examples=8)
@given(trees=TREES)
def test_the_least_height_is_clear_and_just_below_it_is_not(
    tmp_path_factory: pytest.TempPathFactory, trees: list[tuple[float, float, float]]
) -> None:
    drawn = [
        worlds.tree(f"t{k}", east_m=e, north_m=n, height_m=h, radius_m=2.0, **SURE)
        for k, (e, n, h) in enumerate(trees)
    ]
    staged = scene(tmp_path_factory.mktemp("least"), features=drawn)
    site = staged.site
    assert site.launch is not None
    launch, xyz = np.array(site.launch.xyz_m), np.array(staged.track.xyz_m[0, ::5])
    least = home.least_height(site, launch, xyz, LIMIT_M, LIMIT_M)
    assert least is not None
    everyone = np.concatenate([xyz, launch[None]])
    for height, clear in ((least.height_m, True), (least.height_m - 0.02, False)):
        start, end = home.level_legs(launch, everyone, height)
        spare = home.legs(site, start, end, LIMIT_M, LIMIT_M).spare_m
        assert bool((spare >= 0.0).all()) == clear


def test_over_a_coarse_raster_the_way_home_is_unknown_where_its_error_could_break_it(
    tmp_path: Path,
) -> None:
    # Posts 60 m apart: 12 m may be missing. 2.7 m are kept, and the 2 m of that that are sure.
    level = {"terrain": lambda x, _y: 300.0 + 0.0 * x, "cell_m": 60.0}
    for height_m, verdict in ((4.0, Verdict.NO_GO), (10.0, Verdict.UNKNOWN), (16.0, Verdict.GO)):
        site = {"return_height_m": 40.0, "shot": [{**worlds.SIDE_TRACK, "height_m": height_m}]}
        result = found(scene(tmp_path / str(height_m), site=site, **level))
        assert result.verdict == verdict
