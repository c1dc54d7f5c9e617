"""The wind where it flies, on escarpments whose factor is known."""

from __future__ import annotations

import tempfile
from collections.abc import Callable
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from shotplan.checks import wind
from shotplan.errors import BadInput
from shotplan.flying import stage_scene
from shotplan.judging import judge as judging
from shotplan.judging.judged import Finding
from shotplan.kernels.motion.wind import beaufort
from shotplan.model.verdict import Verdict
from shotplan.outing import read
from shotplan.scene import local_wind, wind_limits
from shotplan.scene.margin import GoIf
from shotplan.scene.scene import Scene
from tests import worlds

Array = NDArray[np.float64]
Ground = Callable[[Array, Array], Array]
FEW = settings(max_examples=3)
RATING_M_S = 10.0  # of the bundled folding-light
OPEN_CR = 1.0067  # EN 1991-1-4 (4.4): cr(10) of category II
CHASE = {"name": "chase", "style": "follow-behind", "distance_m": 8.0, "height_m": 10.0}


def escarpment(toward_deg: float, rise_m: float = 50.0, length_m: float = 100.0) -> Ground:
    """Ground that climbs toward an azimuth and is level from the middle of the world on."""
    a = np.radians(toward_deg)

    def ground(x: Array, y: Array) -> Array:
        along = x * np.sin(a) + y * np.cos(a)
        return np.asarray(200.0 + rise_m * np.clip(1.0 + along / length_m, 0.0, 1.0))

    return ground


def sheer(x: Array, _y: Array) -> Array:
    """A plateau 150 m high that begins at a face one cell wide, over a floor in the west."""
    return np.clip(30.0 * x, 0.0, 150.0)


def seen(folder: Path, weather: dict[str, Any] | None, /, **world: Any) -> Scene:
    site = {"weather": weather, "shot": [CHASE], **world.pop("site", {})}
    return worlds.staged(folder, site=site, **world)


def judged(scene: Scene) -> Finding:
    return judging.find(wind.CHECK, scene)


def found(folder: Path, weather: dict[str, Any] | None, /, **world: Any) -> Finding:
    return judged(seen(folder, weather, **world))


def blow(mean: float, gust: float, from_deg: float) -> dict[str, Any]:
    return {"wind_m_s": mean, "gust_m_s": gust, "wind_from_deg": from_deg % 360.0}


def strongest(scene: Scene, from_deg: float) -> float:
    """The strongest gust where it flies."""
    weather = scene.day.weather
    mean, gust = weather.wind_m_s, weather.gust_m_s
    assert mean is not None
    assert gust is not None
    local = local_wind.local(scene, np.radians(from_deg))
    return float(local.gust_m_s(mean, gust).max())


def test_over_flat_ground_only_the_height_counts(tmp_path: Path) -> None:
    # EN 1991-1-4 (4.4), category II at 10 m and at 30 m: 1.0067 and 1.2154; the spread stays.
    for height, factor in ((10.0, 1.0), (30.0, 1.2154 / OPEN_CR)):
        shot = {**CHASE, "height_m": height}
        world: dict[str, Any] = {"site": {"shot": [shot]}, "ride": 0.0}
        result = found(tmp_path / f"{height}", blow(4.0, 6.0, 180.0), **world)
        assert result.value == pytest.approx(4.0 * factor + 2.0, abs=1e-3)
        assert (result.verdict, result.thing, result.limit) == (Verdict.GO, "rating", RATING_M_S)


@pytest.mark.parametrize("toward_deg", [0.0, 77.0, 225.0])
def test_the_factor_at_a_crest_is_the_published_one(tmp_path: Path, toward_deg: float) -> None:
    # EN 1991-1-4 Annex A.3: H 50, Lu 100, z 10 at the crest 1.5424, 20 m behind it 1.4907,
    # half way up 1.1491 (reference/physics.md section 2.2).
    scene = seen(tmp_path, blow(4.0, 6.0, 0.0), terrain=escarpment(toward_deg))
    a = np.radians(toward_deg)
    for x, co in ((0.0, 1.5424), (20.0, 1.4907), (-50.0, 1.1491)):
        at = x * np.array([np.sin(a), np.cos(a)])
        ground = scene.site.terrain.ground_m(at)
        air = local_wind.air(
            scene.site.terrain, np.append(at, ground + 10.0), np.array(10.0), a + np.pi, "II"
        )
        assert float(air.orography) == pytest.approx(co, abs=0.05)
        assert float(air.factor) == pytest.approx(co, abs=0.05)
        assert not air.lee


@FEW
@given(st.floats(0.0, 360.0))
def test_turning_the_escarpment_and_the_wind_changes_nothing(turn: float) -> None:
    with tempfile.TemporaryDirectory() as name:
        scenes = [
            seen(
                Path(name) / f"{k}", blow(5.0, 7.0, toward + 180.0),
                terrain=escarpment(toward), ride=worlds.straight(toward + 90.0, 60.0),
            )
            for k, toward in enumerate((0.0, turn))
        ]  # fmt: skip
    here, there = (strongest(s, d) for s, d in zip(scenes, (180.0, turn + 180.0), strict=True))
    assert here == pytest.approx(there, abs=0.1)
    assert judged(scenes[0]).verdict == judged(scenes[1]).verdict


def test_gust_at_the_crest_keeps_its_spread(tmp_path: Path) -> None:
    # EN 1991-1-4 (4.6): mean 5 gusting 7 at co 1.54 gusts 5 · 1.54 + 2, not 7 · 1.54.
    scene = seen(
        tmp_path, blow(5.0, 7.0, 180.0),
        terrain=escarpment(0.0), ride=worlds.straight(90.0, 60.0),
    )  # fmt: skip
    assert strongest(scene, 180.0) == pytest.approx(5.0 * 1.5424 + 2.0, abs=0.25)


def test_over_two_thirds_of_its_sink_an_updraught_is_a_caution_over_all_of_it_no_go(
    tmp_path: Path,
) -> None:
    # 1 in 2 (sine 0.447) at a crest that lifts the mean 1.54 times: 2.8 and 3.4 of 3 m/s of sink.
    for mean, verdict in ((2.5, Verdict.GO), (4.0, Verdict.CAUTION), (5.0, Verdict.NO_GO)):
        result = found(
            tmp_path / f"{mean}", blow(mean, mean + 1.0, 180.0),
            terrain=escarpment(0.0), ride=worlds.straight(90.0, 60.0),
        )  # fmt: skip
        assert result.verdict == verdict
        if verdict:
            assert result.told.thing == "updraught"
            assert "it sinks at 3.0 m/s" in result.reason
            assert result.told.value == pytest.approx(mean * 1.5424 * 0.4472, abs=0.1)
            assert "up the slope" in result.of.told.wrong_of(result.told.thing)


def wall(x: Array, _y: Array) -> Array:
    """A face of 40 m in the east, 20 m before which the ground is level."""
    return np.asarray(200.0 + np.clip(8.0 * (x - 20.0), 0.0, 40.0))


def test_in_front_of_a_wall_the_air_rises_though_the_ground_is_flat(tmp_path: Path) -> None:
    north = worlds.straight(0.0, 40.0)
    for east_m, rises in ((0.0, True), (-30.0, False)):  # 20 m and 50 m before a face of 40 m
        path = north + np.array([east_m, 0.0])
        scene = seen(tmp_path / f"{east_m}", blow(6.0, 7.0, 270.0), terrain=wall, ride=path)
        share = float(local_wind.local(scene, 1.5 * np.pi).air.updraught.max())
        assert share == pytest.approx(0.71 if rises else 0.0)
    scene = seen(tmp_path / "a", blow(6.0, 7.0, 270.0), terrain=wall, ride=north)
    result = judged(scene)
    assert (result.verdict, result.thing) == (Verdict.NO_GO, "updraught")
    assert result.value == pytest.approx(0.71 * 6.0, abs=0.3)
    away = found(tmp_path / "b", blow(6.0, 7.0, 90.0), terrain=wall, ride=north)
    assert away.thing != "updraught"  # off it, not up it


def test_above_its_rating_only_at_the_edge(tmp_path: Path) -> None:
    weather = blow(6.0, 9.0, 180.0)
    edge = found(tmp_path / "a", weather, terrain=escarpment(0.0), ride=worlds.straight(90.0, 60.0))
    assert (edge.verdict, edge.thing) == (Verdict.NO_GO, "rating")
    assert "above its rating of 10.0 m/s" in edge.reason
    assert found(tmp_path / "b", weather, ride=worlds.straight(90.0, 60.0)).verdict == Verdict.GO
    # The advice is true: at the wind it names it is no longer above its rating.
    mean, gust = (
        float(w.split(" m/s")[0]) for w in edge.advice.split("at most ")[1].split("gusts ")
    )
    world: dict[str, Any] = {"terrain": escarpment(0.0), "ride": worlds.straight(90.0, 60.0)}
    assert found(tmp_path / "c", blow(mean, gust, 180.0), **world).verdict < Verdict.NO_GO
    over = blow(mean + 0.15, gust + 0.25, 180.0)
    assert found(tmp_path / "d", over, **world).verdict == Verdict.NO_GO


def test_wind_asks_only_the_wind(tmp_path: Path) -> None:
    """6 m/s due north against gusts of 8 m/s take 14 of 12 m/s: that is for pace to say."""
    for side in (0.0, 180.0):
        result = found(tmp_path / f"{side}", blow(6.0, 8.0, side), ride=0.0)
        assert (result.thing, result.verdict) == ("rating", Verdict.GO)
        assert result.value == pytest.approx(8.0, abs=0.05)
        assert result.limit == RATING_M_S


def test_the_limit_is_the_lesser_of_rating_and_airspeed(tmp_path: Path) -> None:
    slow = {"class": "folding-light", "max_speed_m_s": 7.5}
    result = found(tmp_path, blow(3.0, 8.0, 180.0), ride=0.0, site={"aircraft": slow})
    assert (result.thing, result.limit, result.verdict) == ("airspeed", 7.5, Verdict.NO_GO)
    assert result.value == pytest.approx(8.0, abs=0.05)
    assert "faster than it flies" in result.reason


def plateau(x: Array, _y: Array) -> Array:
    """20 m high in the east; it falls over a face one cell wide."""
    return np.asarray(200.0 + np.clip(4.0 * x, 0.0, 20.0))


LEE = {
    "in a light wind": (-50.0, 3.0, Verdict.GO),  # 1.2 m/s upright: it used to be a caution
    "over half of what it climbs": (-50.0, 4.5, Verdict.CAUTION),  # 1.8 of 3.0 m/s
    "over all of it": (-50.0, 8.0, Verdict.NO_GO),  # 3.2 of 3.0 m/s
    "12 heights behind it": (-240.0, 8.0, Verdict.CAUTION),
    "16 heights behind it": (-330.0, 8.0, Verdict.GO),
    "before it": (60.0, 8.0, Verdict.GO),
}


@pytest.mark.parametrize("name", LEE)
def test_the_lee_against_what_it_climbs_and_sinks(tmp_path: Path, name: str) -> None:
    east_m, gust, verdict = LEE[name]
    path = worlds.straight(0.0, 40.0) + np.array([east_m, 0.0])
    result = found(tmp_path, blow(2.0, gust, 90.0), terrain=plateau, ride=path)
    assert result.verdict == verdict
    assert (result.told.thing == "lee") is (verdict > Verdict.GO)
    if verdict:
        assert "it climbs and sinks at 3.0 m/s" in result.reason
        assert result.told.value == pytest.approx(0.4 * gust, abs=0.1)
        assert "tumbles" in result.reason
        assert "from another side" in result.advice
        assert "brink" not in result.advice  # how far off is flown, not said
        assert "tumbles" in result.of.told.wrong_of(result.told.thing)


@pytest.mark.parametrize(("height_m", "lee"), [(38.0, True), (42.0, False)])
def test_the_lee_ends_one_height_above_the_brink(
    tmp_path: Path, height_m: float, lee: bool
) -> None:
    path = worlds.straight(0.0, 40.0) + np.array([-50.0, 0.0])
    shot = {**CHASE, "height_m": height_m}
    weather = blow(2.0, 8.0, 90.0)
    result = found(tmp_path, weather, terrain=plateau, ride=path, site={"shot": [shot]})
    assert (result.told.thing == "lee") is lee


def test_the_advice_against_the_lee_is_true(tmp_path: Path) -> None:
    path = worlds.straight(0.0, 40.0) + np.array([-50.0, 0.0])
    told = found(tmp_path / "a", blow(2.0, 8.0, 90.0), terrain=plateau, ride=path)
    under = float(told.advice.split("gusts under ")[1].split(" m/s")[0])
    for gust, good in ((under - 0.05, True), (under + 0.2, False)):
        result = found(tmp_path / f"{good}", blow(2.0, gust, 90.0), terrain=plateau, ride=path)
        assert (result.verdict == Verdict.GO) is good


def test_a_gust_in_a_calm_tumbles_too(tmp_path: Path) -> None:
    path = worlds.straight(0.0, 40.0) + np.array([-50.0, 0.0])
    result = found(tmp_path, blow(0.0, 8.0, 90.0), terrain=plateau, ride=path)
    assert (result.verdict, result.thing) == (Verdict.NO_GO, "lee")


def test_wind_onto_a_brink_is_a_remark_with_the_number(tmp_path: Path) -> None:
    """Low over the edge of a plateau of 20 m: to 40 m behind it, 10 m up."""
    shot = {**CHASE, "height_m": 6.0}
    for east_m, near in ((20.0, True), (80.0, False)):
        path = worlds.straight(0.0, 40.0) + np.array([east_m, 0.0])
        result = found(
            tmp_path / f"{east_m}", blow(1.0, 5.0, 270.0),
            terrain=plateau, ride=path, site={"shot": [shot]},
        )  # fmt: skip
        assert result.verdict == Verdict.GO
        said = [r.text for r in result.remarks if "that the wind meets" in r.text]
        assert bool(said) is near
        if near:
            assert "to 40.0 m behind it and 10.0 m above" in said[0]
            assert "by up to 2." in said[0]


def test_without_a_gust_the_usual_one_is_said(tmp_path: Path) -> None:
    """max(1.7 · mean, mean + 3 m/s), the middle of what comes over such a mean."""
    for mean, usual in ((3.0, "6.0"), (6.0, "10.2")):
        weather = {"wind_m_s": mean, "wind_from_deg": 180.0, "gust_m_s": None}
        result = found(tmp_path / f"{mean}", weather, ride=90.0)
        assert result.verdict == Verdict.UNKNOWN
        assert f"it is {usual} m/s in the middle, one hour in twenty over 2.2" in result.reason
        (table,) = (r.text for r in result.remarks if r.text.startswith("largest mean wind"))
        assert "gusts 1.7 times it, at least 3 m/s over it" in table


def test_each_reason_has_its_own_words() -> None:
    """`the wind is more than it bears` was said of turbulence, too."""
    said = [wind.CHECK.told.wrong_of(thing) for thing in ("rating", "updraught", "lee")]
    assert len(set(said)) == 3
    assert wind.CHECK.told.wrong_of("airspeed") == said[0]
    assert all(word in text for word, text in zip(("gusts", "slope", "tumbles"), said, strict=True))
    assert not any("bears" in text for text in said[1:])


def test_out_over_the_drop_the_lip_counts(tmp_path: Path) -> None:
    # 12 m out from a sheer face, 10 m above its lip: about what blows over the lip itself, and
    # never less than the open wind so high above the floor (category II at 160 m: 1.533).
    path = worlds.straight(0.0, 40.0) + np.array([12.0, 0.0])
    shot = {**worlds.SIDE_TRACK, "distance_m": 24.0, "height_m": 10.0}
    scene = seen(tmp_path, blow(2.0, 3.0, 270.0), terrain=sheer, ride=path, site={"shot": [shot]})
    assert scene.height_m[0].min() > 155.0
    local = local_wind.local(scene, 1.5 * np.pi)
    open_wind = 0.19 * np.log(160.0 / 0.05) / OPEN_CR
    assert float(local.mean.min()) == pytest.approx(open_wind, abs=0.1)
    assert float(local.mean.max()) < 1.75


@pytest.mark.parametrize("terrain", [worlds.GROUND_M, escarpment(0.0), sheer])
def test_a_calm_is_go(tmp_path: Path, terrain: float | Ground) -> None:
    for weather in (blow(0.0, 0.0, 0.0), {"wind_m_s": 0.0, "gust_m_s": 1.0, "wind_from_deg": None}):
        assert found(tmp_path, weather, terrain=terrain, ride=90.0).verdict == Verdict.GO


@FEW
@given(st.floats(0.0, 360.0), st.floats(0.0, 6.0), st.floats(1.0, 2.0))
def test_more_wind_never_improves(from_deg: float, mean: float, ratio: float) -> None:
    with tempfile.TemporaryDirectory() as name:
        verdicts = [
            found(
                Path(name) / f"{k}", blow(w, w * ratio, from_deg), terrain=escarpment(0.0),
                ride=worlds.straight(90.0, 30.0),
            ).verdict
            for k, w in enumerate((mean, mean + 1.0, mean + 6.0))
        ]  # fmt: skip
    assert verdicts == sorted(verdicts)


def test_a_reading_at_the_edge_already_holds_the_edge(tmp_path: Path) -> None:
    brow = worlds.place("brow", east_m=0.0, north_m=5.0)
    world: dict[str, Any] = {
        "terrain": escarpment(0.0), "ride": worlds.straight(90.0, 60.0), "features": [brow],
    }  # fmt: skip
    forecast = seen(tmp_path / "a", blow(5.0, 7.0, 180.0), **world)
    there = local_wind.at_place(forecast.site, "brow", 2.0, (np.pi,), "II")
    # 2 m up (category II: 0.7009) at the crest, where the factor is about 1.58.
    assert float(there.factor[0]) == pytest.approx(0.7009 / OPEN_CR * 1.58, abs=0.04)
    in_hand = 5.0 * float(there.factor[0])
    reading = blow(in_hand, in_hand + 2.0, 180.0) | {"measured_at": "brow"}
    by_forecast, by_hand = judged(forecast), found(tmp_path / "b", reading, **world)
    np.testing.assert_allclose(by_hand.values, by_forecast.values, atol=1e-9)
    assert by_hand.verdict == by_forecast.verdict
    assert any("2.0 m up at brow" in remark.text for remark in by_hand.remarks)


def test_a_reading_in_the_lee_is_not_trusted(tmp_path: Path) -> None:
    foot = worlds.place("foot", east_m=-40.0, north_m=0.0)
    weather = blow(1.0, 1.5, 90.0) | {"measured_at": "foot"}
    path = worlds.straight(0.0, 40.0) + np.array([100.0, 0.0])
    result = found(tmp_path, weather, terrain=sheer, ride=path, features=[foot])
    assert result.verdict == Verdict.CAUTION
    assert "lee" in result.reason


def test_rough_ground_slows_the_mean_and_widens_the_gusts(tmp_path: Path) -> None:
    weather = {**blow(4.0, 6.0, 90.0), "roughness": "III"}
    # EN 1991-1-4 Table 4.1, category III at 10 m: cr 0.7553, kr 0.2154 against 0.19.
    wanted = 4.0 * 0.7553 / OPEN_CR + 2.0 * 0.2154 / 0.19
    assert strongest(seen(tmp_path, weather), 90.0) == pytest.approx(wanted, abs=2e-3)


def test_an_unknown_roughness_is_refused(tmp_path: Path) -> None:
    with pytest.raises(BadInput, match="roughness") as caught:
        seen(tmp_path, {"roughness": "V"})
    assert '"II"' in str(caught.value)


def hole(x_m: float, y_m: float, radius_m: float) -> Ground:
    def ground(x: Array, y: Array) -> Array:
        whole = escarpment(0.0)(x, y)
        return np.where(np.hypot(x - x_m, y - y_m) < radius_m, np.nan, whole)

    return ground


def test_missing_ground_near_along_the_wind_is_unknown(tmp_path: Path) -> None:
    path = worlds.straight(90.0, 30.0)
    weather = blow(3.0, 4.0, 180.0)
    near = found(tmp_path / "a", weather, terrain=hole(0.0, -40.0, 15.0), ride=path)
    assert near.verdict == Verdict.UNKNOWN
    assert "600 m upwind" in near.advice
    aside = found(tmp_path / "b", weather, terrain=hole(150.0, 0.0, 15.0), ride=path)
    assert aside.verdict < Verdict.UNKNOWN
    assert found(tmp_path / "c", weather, terrain=None, ride=path).verdict == Verdict.UNKNOWN


BARE: dict[str, dict[str, Any] | None] = {
    "nothing": None,
    "no gust": {"gust_m_s": None},
    "no side": {"wind_from_deg": None},
    "no mean": {"wind_m_s": None},
    "a calm without gusts": {"wind_m_s": 0.0, "gust_m_s": None, "wind_from_deg": None},
    "a reading without gusts": {"gust_m_s": None, "measured_at": "launch"},
}


@pytest.mark.parametrize("terrain", [worlds.GROUND_M, escarpment(0.0, 30.0, 300.0)])
@pytest.mark.parametrize("name", BARE)
def test_just_inside_the_limit_it_is_go_and_just_outside_it_is_not(
    tmp_path: Path, name: str, terrain: float | Ground
) -> None:
    ride = worlds.straight(90.0, 60.0)
    bare = found(tmp_path / "bare", BARE[name], terrain=terrain, ride=ride)
    assert bare.verdict == Verdict.UNKNOWN
    (limit,) = bare.go_if
    assert limit.key == "weather.gust_m_s"
    assert limit.value > 1.0
    usual: dict[str, Any] = dict.fromkeys(worlds.SITE["weather"])
    base = usual if BARE[name] is None else BARE[name]
    for more, good in ((0.0, True), (0.05, False)):
        weather = {**(base or {}), **filled(limit, limit.value + more)}
        inside = found(tmp_path / f"{more}", weather, terrain=terrain, ride=ride)
        assert (inside.verdict == Verdict.GO) is good, (limit, inside.reason)


def filled(limit: GoIf, value: float) -> dict[str, Any]:
    return {key.split(".")[1]: given for key, given in (*limit.given, (limit.key, value))}


def test_a_mean_above_its_rating_is_broken_whatever_is_not_said(tmp_path: Path) -> None:
    for lacking in ({"gust_m_s": None}, {"wind_from_deg": None}):
        weather = {**blow(11.0, 14.0, 180.0), **lacking}
        result = found(tmp_path / str(len(lacking)), weather, ride=90.0)
        assert result.verdict == Verdict.NO_GO
        assert result.go_if == ()


@cache
def on_the_escarpment() -> Scene:
    with tempfile.TemporaryDirectory() as name:
        return seen(
            Path(name), blow(4.0, 6.0, 180.0), terrain=escarpment(0.0),
            ride=worlds.straight(90.0, 60.0),
        )  # fmt: skip


def test_the_largest_wind_of_each_side_is_where_go_ends(tmp_path: Path) -> None:
    limits = wind_limits.wind_limits(on_the_escarpment())
    assert [limit.side for limit in limits] == list(wind_limits.SIDES)
    for limit in limits[::4]:
        side = float(np.degrees(limit.from_rad))
        for share, good in ((0.99, True), (1.02, False)):
            mean = limit.mean_m_s * share
            result = found(
                tmp_path / f"{limit.side}-{share}", blow(mean, 1.5 * mean, side),
                terrain=escarpment(0.0), ride=worlds.straight(90.0, 60.0),
            )  # fmt: skip
            assert (result.verdict == Verdict.GO) is good, (limit, share, result.reason)
        assert limit.force == beaufort(limit.mean_m_s)[0]
    by_side = {limit.side: limit for limit in limits}
    assert by_side["S"].by == "updraught"
    assert by_side["S"].no_go_m_s > by_side["S"].mean_m_s
    # The launch stands 30 m right of a ride to the east: on the slope, 15 m below the crest.
    assert by_side["S"].hand_m_s < by_side["S"].mean_m_s


def test_the_limits_are_printed_at_10_m_in_the_hand_and_in_beaufort_words() -> None:
    result = judged(on_the_escarpment())
    (table,) = (r.text for r in result.remarks if r.text.startswith("largest mean wind"))
    for limit in wind_limits.wind_limits(on_the_escarpment()):
        mean, hand = (np.floor(10.0 * v) / 10.0 for v in (limit.mean_m_s, limit.hand_m_s))
        assert f"{limit.side} {mean:.1f}/{hand:.1f} (force {limit.force}" in table
        assert f"force {limit.force}: {beaufort(limit.mean_m_s)[1]}" in table


def test_what_is_not_modelled_is_said() -> None:
    said = " ".join(judged(on_the_escarpment()).assumptions)
    for word in ("updraught", "lee", "thermals", "funnelling", "roughness is category II"):
        assert word in said


@pytest.mark.real
def test_the_rim_in_a_wind_from_the_valley(real: Path) -> None:
    import shutil

    with tempfile.TemporaryDirectory() as name:
        folder = Path(name) / "rim"
        shutil.copytree(real / "sites" / "rim", folder)
        text = (folder / "site.toml").read_text("utf-8")
        for old, new in (
            ("wind_m_s = 4.0", "wind_m_s = 9.0"),
            ("wind_from_deg = 200", "wind_from_deg = 136"),
            ("gust_m_s = 7.0", "gust_m_s = 12.0"),
        ):
            assert old in text
            text = text.replace(old, new)
        (folder / "site.toml").chmod(0o644)
        (folder / "site.toml").write_text(text, "utf-8")
        outing = read(folder)
        for shot in outing.shots[:3]:
            scene = stage_scene(outing, shot, outing.day.start)
            local = local_wind.local(scene, np.radians(136.0))
            assert float(local.air.orography.max()) > 1.2
            result = judged(scene)
            # The valley's wind up the face lifts it too: whichever is tighter, both refuse it.
            refused = {result.thing: result.reason} | {
                one.thing: one.reason for one in result.also if one.verdict == Verdict.NO_GO
            }
            assert result.verdict == Verdict.NO_GO
            assert "above its rating of 10.0 m/s" in refused["rating"]
            assert "updraught" in refused
