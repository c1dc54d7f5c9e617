"""Every style flown and judged on a small world: all checks speak, and what they advise is so."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest

from shotplan import plan
from shotplan.checks import CHECKS
from shotplan.judging.judged import Finding, ShotPlan
from shotplan.model.verdict import Verdict
from shotplan.outing import read
from shotplan.styles import STYLES
from tests import asked, worlds

MARKER = worlds.place("marker", east_m=-20.0, north_m=0.0)
KEYS: dict[str, dict[str, Any]] = {
    "follow-behind": {"distance_m": 10.0, "height_m": 5.0},
    "lead": {"distance_m": 10.0, "height_m": 5.0},
    "side-track": {"side": "left", "distance_m": 12.0, "height_m": 6.0},
    "pull-back": {"side": "behind", "distance_m": 8.0, "to_distance_m": 20.0, "height_m": 5.0},
    "orbit": {"around": "marker", "radius_m": 8.0, "height_m": 8.0, "speed_m_s": 3.0,
              "direction": "clockwise"},
    "top-down": {"height_m": 14.0},
    "fly-by": {"side": "left", "distance_m": 12.0, "height_m": 6.0, "speed_m_s": 8.0,
               "direction": "against"},
    "hold": {"at": "marker", "height_m": 6.0},
    "rise": {"at": "marker", "height_m": 4.0, "to_height_m": 20.0, "speed_m_s": 2.0},
}  # fmt: skip
KEYS |= {s.name: worlds.keys_of(s, "marker") for s in STYLES if s.name not in KEYS}


def planned(
    folder: Path, style: str, features: Any = (), site: Any = None, **keys: Any
) -> ShotPlan:
    """One shot of a straight ride north at 6 m/s, 100 m long."""
    folder = worlds.write_site(
        folder,
        features=[MARKER, *features],
        ride=worlds.straight(0.0, 100.0),
        site={**(site or {}), "shot": [{"name": "it", "style": style, **KEYS[style], **keys}]},
    )
    (shot,) = plan.make(read(folder)).shots
    return shot


def test_every_style_is_flown_here() -> None:
    assert set(KEYS) == {style.name for style in STYLES}


@pytest.mark.parametrize("style", KEYS)
def test_every_check_has_an_answer(tmp_path: Path, style: str) -> None:
    shot = planned(tmp_path, style)
    assert [f.check for f in shot.findings] == [check.id for check in CHECKS]
    track = shot.scene.track
    for array in (track.xyz_m, track.heading_rad, track.camera_elevation_rad, track.asked_m_s2):
        assert np.isfinite(array).all()
    # Nothing stands there and everything is known.
    assert {f.check: f.verdict for f in shot.findings if f.verdict >= Verdict.UNKNOWN} == {}
    for found in shot.findings:
        assert found.reason
        assert found.advice


def test_top_down_holds_its_nose_and_sees_him_from_above(tmp_path: Path) -> None:
    shot = planned(tmp_path, "top-down")
    track = shot.scene.track
    # On a straight ride it is over where he was 0.5 s ago: an aiming camera would have no azimuth.
    off = np.broadcast_to([0.0, -3.0, 14.0], track.xyz_m[0].shape)
    np.testing.assert_allclose(track.xyz_m[0] - track.ride.xyz_m[0], off, atol=1e-6)
    np.testing.assert_allclose(np.cos(track.heading_rad), 1.0)
    said = " ".join(r.text for r in shot.finding("framing").remarks)
    # 1.8 m at 13 m, of 2 · 13 m · tan(fov / 2) · 9 / 16.
    camera = shot.scene.aircraft.camera
    share = 1.8 / (2.0 * 13.0 * np.tan(camera.horizontal_fov_rad / 2.0) / camera.aspect)
    assert f"is {share:.0%} of the frame high" in said
    assert "the rider goes up all the way" in said
    # He is 3 m up in a picture that is 13 m away.
    up = 3.0 / (2.0 * 13.0 * np.tan(camera.horizontal_fov_rad / 2.0) / camera.aspect)
    assert shot.finding("framing").value == pytest.approx(up, rel=0.01)


@asked.only("framing")
def test_a_camera_that_cannot_look_straight_down_wants_another_style(tmp_path: Path) -> None:
    stiff = {"aircraft": {"camera": {"tilt_min_deg": -40.0}}}
    found = planned(tmp_path, "top-down", site=stiff).finding("framing")
    assert found.verdict == Verdict.CAUTION
    assert "looks straight down and ends at -40°" in found.reason
    assert "another style" in found.advice


@asked.only("pace")
def test_a_fly_by_too_fast_is_told_how_fast_it_may(tmp_path: Path) -> None:
    north = {"weather": {"wind_m_s": 5.0, "wind_from_deg": 180.0, "gust_m_s": 5.0}}
    fast = planned(tmp_path / "a", "fly-by", site=north).finding("pace")
    assert (fast.verdict, fast.thing) == (Verdict.CAUTION, "airspeed")
    made = planned(tmp_path / "c", "fly-by", site=north)
    assert fast.value == pytest.approx((8.0 + 5.0 - 12.0) * made.duration_s, abs=0.2)
    assert "ride at most" not in fast.advice
    speed = float(fast.advice.split("speed_m_s = ")[1].split("`")[0])
    assert speed == pytest.approx(7.0, abs=0.11)
    again = planned(tmp_path / "b", "fly-by", site=north, speed_m_s=speed)
    assert again.finding("pace").margins.min() >= 0.0


@asked.only("pace")
def test_a_rise_too_fast_is_told_how_fast_it_may(tmp_path: Path) -> None:
    fast = planned(tmp_path / "a", "rise", speed_m_s=6.0).finding("pace")
    assert (fast.verdict, fast.thing) == (Verdict.CAUTION, "climb")
    speed = float(fast.advice.split("speed_m_s = ")[1].split("`")[0])
    again = planned(tmp_path / "b", "rise", speed_m_s=speed)
    assert again.finding("pace").margins.min() >= 0.0


@asked.only("pace")
def test_beside_a_pull_back_no_side_of_the_world_is_advised(tmp_path: Path) -> None:
    # The end of a pull-back of 60 m in 16 s moves at 3.75 m/s against a ride of 9 m/s.
    fast = {"ride": {"speed_m_s": 12.5}, "weather": {"wind_m_s": 0.0, "gust_m_s": 0.0}}
    found = planned(tmp_path, "pull-back", site=fast, side="left").finding("pace")
    assert found.verdict == Verdict.CAUTION
    assert "north" not in found.advice


def tight(shot: ShotPlan) -> Finding:
    found = shot.finding("clearance")
    assert found.verdict == Verdict.NO_GO
    return found


@asked.only("clearance")
def test_a_tree_where_it_stands_wants_another_place_or_more_height(tmp_path: Path) -> None:
    oak = worlds.tree("oak", east_m=-22.0, north_m=0.0, height_m=9.0)
    found = tight(planned(tmp_path / "a", "hold", [oak]))
    assert "leave out" not in found.advice
    assert "another place (`at`)" in found.advice
    height = float(found.advice.split("raise it to ")[1].split(" m")[0])
    again = planned(tmp_path / "b", "hold", [oak], height_m=height)
    assert again.finding("clearance").margins.min() >= 0.0


@asked.only("clearance")
def test_a_pull_back_is_raised_at_both_ends(tmp_path: Path) -> None:
    oak = worlds.tree("oak", east_m=0.0, north_m=20.0, height_m=11.0)
    found = tight(planned(tmp_path / "a", "pull-back", [oak]))
    assert "distance_m" not in found.advice
    more = float(found.advice.split("raise it by ")[1].split(" m")[0])
    # From 5 m over the ground at 8 m along the line of sight (4 / 8) to 11 m at 20 m.
    again = planned(
        tmp_path / "b", "pull-back", [oak], height_m=5.0 + more, to_height_m=11.0 + more
    )
    assert again.finding("clearance").margins.min() >= 0.0


@asked.only("clearance")
@pytest.mark.parametrize(("north_m", "nearer"), [(0.0, True), (40.0, False)])
def test_a_fly_by_is_brought_nearer_only_where_it_passes_him(
    tmp_path: Path, north_m: float, nearer: bool
) -> None:
    oak = worlds.tree("oak", east_m=-16.0, north_m=north_m)
    sensed = {"aircraft": {"class": "folding-all-round"}}
    found = tight(planned(tmp_path / "a", "fly-by", [oak], sensed))
    assert ("distance_m = " in found.advice) == nearer
    if nearer:
        out = float(found.advice.split("distance_m = ")[1].split("`")[0])
        again = planned(tmp_path / "b", "fly-by", [oak], sensed, distance_m=out)
        assert again.finding("clearance").margins.min() >= 0.0
