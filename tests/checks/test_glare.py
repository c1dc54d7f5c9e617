"""Glare: angles that can be worked out, and what takes the sun away."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from shotplan.checks.glare import CHECK
from shotplan.flying import stage_scene
from shotplan.judging import judge as judging
from shotplan.judging.judged import Finding
from shotplan.model.verdict import Verdict
from shotplan.outing import read
from shotplan.scene.scene import Scene
from tests import worlds

# At 20:00 on 20 June in 46° north the sun is 8.5° high in azimuth 296°.
EVENING = "20:00"


def scene(folder: Path, clock: str, bearing_deg: float | None, **world: Any) -> Scene:
    """A short ride about the middle; the pilot stands 60 m away and looks along a bearing."""
    start = datetime.fromisoformat(f"2026-06-20T{clock}:00+02:00")
    site: dict[str, Any] = {"start": start, **world.pop("site", {})}
    features = list(world.pop("features", ()))
    if bearing_deg is not None:
        azimuth = np.radians(bearing_deg)
        features.append(
            worlds.place("stand", east_m=-12.0 - 60.0 * np.sin(azimuth),
                         north_m=-60.0 * np.cos(azimuth))
        )  # fmt: skip
        site.setdefault("crew", [{"name": "Bo", "role": "pilot", "stands": "stand"}])
    folder = worlds.write_site(
        folder, site=site, features=features, ride=worlds.straight(0.0, 12.0), **world
    )
    outing = read(folder)
    return stage_scene(outing, outing.shots[0], start)


def found(staged: Scene) -> Finding:
    return judging.find(CHECK, staged)


@pytest.mark.parametrize(
    ("off_deg", "verdict"),
    [(0.0, Verdict.CAUTION), (20.0, Verdict.CAUTION), (35.0, Verdict.GO), (180.0, Verdict.GO)],
)
def test_within_25_degrees_is_a_caution(tmp_path: Path, off_deg: float, verdict: Verdict) -> None:
    bare = scene(tmp_path / "a", EVENING, 0.0)
    sun_deg = float(np.degrees(bare.sun_rad[0][0]))
    got = found(scene(tmp_path / "b", EVENING, sun_deg + off_deg))
    assert got.verdict == verdict
    assert got.thing == "Bo"
    # The stand looks at the middle of 12 m of track from 60 m: at most 6° to each side of it; the
    # aircraft is 4.2° high, the sun 8.5°, which add up when it is behind.
    assert got.value == pytest.approx(off_deg, abs=14.0)
    said = [r.text for r in got.remarks]
    if off_deg == 35.0:
        assert ["within 50°" in text and "within 25°" not in text for text in said] == [True]
    if off_deg == 180.0:
        assert said == []


def test_the_angle_is_the_one_on_the_sky(tmp_path: Path) -> None:
    staged = scene(tmp_path, EVENING, 280.0)
    eye = np.array([-12.0 - 60.0 * np.sin(np.radians(280.0)), -60.0 * np.cos(np.radians(280.0))])
    way = staged.track.xyz_m[0] - np.array([*eye, worlds.GROUND_M + 1.6])
    azimuth, elevation = staged.sun_rad
    level = np.arctan2(way[:, 0], way[:, 1]) - azimuth
    high = np.arctan2(way[:, 2], np.hypot(way[:, 0], way[:, 1]))
    # Spherical law of cosines.
    wanted = np.arccos(
        np.sin(high) * np.sin(elevation) + np.cos(high) * np.cos(elevation) * np.cos(level)
    )
    np.testing.assert_allclose(found(staged).values, np.degrees(wanted), atol=0.01)


def test_no_sun_no_glare(tmp_path: Path) -> None:
    night = found(scene(tmp_path / "a", "22:30", 296.0))
    assert (night.verdict, night.value) == (Verdict.GO, None)

    def ridge(x: np.ndarray, _y: np.ndarray) -> np.ndarray:
        return worlds.GROUND_M + np.where(x < -120.0, 80.0, 0.0)

    hidden = found(scene(tmp_path / "b", EVENING, 296.0, terrain=ridge, cell_m=4.0))
    assert (hidden.verdict, hidden.value) == (Verdict.GO, None)
    assert "not up where they look" in hidden.reason


def test_who_is_not_named_or_stands_nowhere_is_unknown_by_day_only(tmp_path: Path) -> None:
    nobody = {"crew": None}
    assert found(scene(tmp_path / "a", EVENING, None, site=nobody)).verdict == Verdict.UNKNOWN
    assert found(scene(tmp_path / "b", "23:00", None, site=nobody)).verdict == Verdict.GO
    lost = {"crew": [{"name": "Bo", "role": "pilot"}]}
    unknown = found(scene(tmp_path / "c", EVENING, None, site=lost))
    assert unknown.verdict == Verdict.UNKNOWN
    assert "give Bo a place to stand" in unknown.advice


def test_every_watcher_counts_and_a_rider_looks_along(tmp_path: Path) -> None:
    # The spotter looks into the sun, the pilot has it behind.
    crew = [
        {"name": "Bo", "role": "pilot", "stands": "launch"},
        {"name": "Cy", "role": "spotter", "stands": "stand"},
    ]
    got = found(scene(tmp_path / "a", EVENING, 296.0, site={"crew": crew}))
    assert (got.verdict, got.thing) == (Verdict.CAUTION, "Cy")
    alone = [{"name": "Ada", "role": ["rider", "pilot"]}]
    # The camera is 12 m to the west and 6 m up: 20° high, 26° from the sun's azimuth.
    riding = found(scene(tmp_path / "b", EVENING, None, site={"crew": alone}))
    assert riding.thing == "Ada"
    assert riding.value == pytest.approx(35.0, abs=6.0)
