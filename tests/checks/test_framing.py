"""Framing: where the rider shows, how large, and what else is in the picture."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from shotplan.checks.framing import CHECK
from shotplan.flying import stage_scene
from shotplan.judging import judge as judging
from shotplan.judging.judged import Finding
from shotplan.model.verdict import Verdict
from shotplan.outing import read
from shotplan.scene.picture import picture_of
from shotplan.scene.scene import Scene
from tests import worlds

# Riding north at 6 m/s, the camera 12 m to the west and 6 m up, 3 m behind; the rider's middle is
# 1 m over the ground, so the camera looks 5 m down over 12 m: 13 m away, 22.6° down.
FOCAL_SHARE = 0.5 / np.tan(np.radians(71.6) / 2.0)  # of the frame's width, folding-light


def scene(folder: Path, clock: str = "14:00", **site: Any) -> Scene:
    start = datetime.fromisoformat(f"2026-06-20T{clock}:00+02:00")
    outing = read(worlds.write_site(folder, site={"start": start, **site}))
    return stage_scene(outing, outing.shots[0], start)


def found(staged: Scene) -> Finding:
    return judging.find(CHECK, staged)


def remark(finding: Finding, part: str) -> str:
    (text,) = [r.text for r in finding.remarks if part in r.text]
    return text


def shot(**says: Any) -> dict[str, Any]:
    return {"shot": [{**worlds.SIDE_TRACK, **says}]}


def test_the_rider_runs_ahead_of_the_aim_by_the_delay(tmp_path: Path) -> None:
    picture = picture_of(scene(tmp_path))
    # 3 m ahead of where the camera aims, 13 m away: 3/13 of the focal length, to the left (north
    # is on the left of a camera that looks east).
    middle = picture.place.right.size // 2
    assert picture.place.right[middle] == pytest.approx(-FOCAL_SHARE * 3.0 / 13.0, rel=1e-3)
    assert picture.place.up[middle] == pytest.approx(0.0, abs=1e-6)
    # Followed by sight: 0.4 m of error at hypot(13, 3) m.
    assert picture.doubt[middle] == pytest.approx(FOCAL_SHARE * 0.4 / np.hypot(13.0, 3.0), rel=1e-3)


def test_near_and_fast_he_leaves_the_frame(tmp_path: Path) -> None:
    assert found(scene(tmp_path / "a")).verdict == Verdict.GO
    fast: dict[str, Any] = {"ride": {"speed_m_s": 11.0}, "aircraft": {"class": "folding-light",
                                                      "max_speed_m_s": 14.0}}  # fmt: skip
    near = found(scene(tmp_path / "b", **fast, **shot(distance_m=4.0, height_m=3.0)))
    assert (near.verdict, near.thing) == (Verdict.CAUTION, "edge of the frame")
    assert near.value is not None
    # 5.5 m ahead at hypot(4, 2) m, and the error of 0.4 m at hypot(4, 2, 5.5) m.
    away = np.hypot(4.0, 2.0)
    wanted = FOCAL_SHARE * (5.5 / away + 0.4 / np.hypot(away, 5.5))
    assert near.value == pytest.approx(wanted, rel=0.01)
    # The advised distance cures it.
    least = float(near.advice.split("at least ")[1].split(" m")[0])
    far = found(scene(tmp_path / "c", **fast, **shot(distance_m=least, height_m=3.0)))
    assert far.verdict == Verdict.GO


def test_a_beacon_near_by_loses_him(tmp_path: Path) -> None:
    # 24 mm, receivers of 1.5 and 2.5 m: 30 % of the frame is 0.69 · 2.92 / 0.3 = 6.7 m away.
    beacon: dict[str, Any] = {"aircraft": {"class": "unsensed"}, "ride": {"speed_m_s": 2.0}}
    error = np.hypot(1.5, 2.5)
    for distance, verdict in ((6.0, Verdict.CAUTION), (8.0, Verdict.GO)):
        near = shot(distance_m=distance, height_m=1.5)
        got = found(scene(tmp_path / str(distance), **beacon, **near))
        assert got.verdict == verdict
        if verdict == Verdict.CAUTION:
            away = np.sqrt(6.0**2 + 0.5**2 + 1.2**2)
            assert got.value == pytest.approx(FOCAL_SHARE * error / away, rel=0.01)
            assert got.limit == 0.3


def test_the_camera_cannot_tilt_that_far(tmp_path: Path) -> None:
    staged = scene(tmp_path)
    camera = replace(staged.aircraft.camera, tilt_min_rad=np.radians(-5.0))
    stiff = replace(staged, aircraft=replace(staged.aircraft, camera=camera))
    got = found(stiff)
    # Needed 22.6° down, 17.6° more than it tilts: tan 17.6° · 0.69 · 16/9 of the frame's height.
    assert got.value == pytest.approx(
        FOCAL_SHARE * 16 / 9 * np.tan(np.radians(22.62 - 5.0)), rel=0.01
    )
    assert FOCAL_SHARE * 16 / 9 * np.tan(np.radians(17.62)) < 0.5
    assert got.verdict == Verdict.GO
    low = replace(camera, tilt_min_rad=np.radians(2.0))
    lost = found(replace(staged, aircraft=replace(staged.aircraft, camera=low)))
    assert (lost.verdict, lost.thing) == (Verdict.CAUTION, "tilt limit")
    assert "would have to tilt to -23° and ends at 2°" in lost.reason


@pytest.mark.parametrize(
    ("says", "words"),
    [
        ({"side": "left"}, "right to left all the way"),  # the camera looks east, he goes north
        ({"side": "right"}, "left to right all the way"),
        ({"side": None, "style": "follow-behind"}, "away all the way"),
    ],
)
def test_which_way_he_goes_in_the_picture(tmp_path: Path, says: dict[str, Any], words: str) -> None:
    given = {k: v for k, v in {**worlds.SIDE_TRACK, **says}.items() if v is not None}
    text = remark(found(scene(tmp_path, shot=[given])), "in the picture the rider goes")
    assert text.endswith(words)


def test_size_horizon_and_exposure(tmp_path: Path) -> None:
    got = found(scene(tmp_path))
    # 1.8 m upright, 22.6° from above, at 13 m: 0.69 · 16/9 · 1.8 · cos / 13 = 15 % of the height.
    assert "is 15% of the frame high: very long shot" in remark(got, "of the frame high")
    # Tilted 22.6° down with 22.1° of half a field: the horizon is just out of it.
    assert remark(got, "horizon").endswith("out of the frame all the way")
    low = found(scene(tmp_path / "low", **shot(height_m=3.0)))
    assert remark(low, "horizon").endswith("in the frame all the way")
    # Full sun: EV 15 and f/1.7 at 1/60 want 7.6 to 7.9 stops (ND128 to ND256).
    assert "EV 15." in remark(got, "EV")
    assert "1/60 s at 30 pictures a second, filter ND256" in remark(got, "EV")
    night = found(scene(tmp_path / "night", "23:00"))
    assert "no filter" in remark(night, "EV")


def test_panning_faster_than_seven_seconds_across(tmp_path: Path) -> None:
    mark = {"around": "rider", "radius_m": 12.0, "height_m": 5.0, "direction": "clockwise",
            "start_deg": 0, "aim": "rider", "name": "o", "style": "orbit"}  # fmt: skip
    slow, fast = (
        found(scene(tmp_path / str(v), shot=[{**mark, "speed_m_s": v}])) for v in (1.0, 5.0)
    )
    # ω = v/r: 1 m/s round 12 m is 4.8°/s, 5 m/s 23.9°/s; the limit is 71.6°/7 = 10.2°/s.
    assert not [r for r in slow.remarks if "pans faster" in r.text]
    assert "faster than 10.2°/s" in remark(fast, "pans faster")


def test_the_sun_in_the_picture_and_its_own_shadow(tmp_path: Path) -> None:
    # At 20:00 the sun is 8.5° high in 296°. From the east and low the camera looks into it.
    into = found(scene(tmp_path / "a", "20:00", **shot(side="right", height_m=1.5)))
    assert remark(into, "the sun is in the picture")
    assert not [r for r in into.remarks if "shadow" in r.text]
    # From the west it has the sun behind; its shadow falls 6 m / tan 8.5° = 40 m off: washed out
    # (the disc of the sun swallows it 106 spans, 38 m away). From 3 m up it is there, 20 m off.
    high = found(scene(tmp_path / "b", "20:00", **shot(height_m=6.0)))
    assert not [r for r in high.remarks if "shadow" in r.text]
    low = found(scene(tmp_path / "c", "20:00", **shot(height_m=3.0)))
    assert remark(low, "its own shadow lies in the picture")
