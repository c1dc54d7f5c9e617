"""View: what hides the rider, where, for how long."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest

from shotplan.checks.view import CHECK
from shotplan.judging import judge as judging
from shotplan.judging.judged import Finding
from shotplan.model.verdict import Verdict
from tests import worlds

# Riding north at 6 m/s, the camera 12 m to the west and 6 m up, 3 m behind.


def found(folder: Path, **world: Any) -> Finding:
    staged = worlds.staged(folder, **world)
    return judging.find(CHECK, staged)


def test_nothing_between_is_go(tmp_path: Path) -> None:
    got = found(tmp_path)
    assert (got.verdict, got.value, got.limit) == (Verdict.GO, 0.0, 1.0)
    assert got.reason == "nothing stands between the camera and the rider"


def wall(length_m: float, height_m: float = 8.0) -> dict[str, Any]:
    ring = worlds.box(-6.5, -length_m / 2, -6.0, length_m / 2)
    return worlds.feature("wall", "building", worlds.polygon(ring), height_m=height_m)


@pytest.mark.parametrize(("length_m", "verdict"), [(5.0, Verdict.GO), (12.0, Verdict.CAUTION)])
def test_a_wall_hides_him_for_as_long_as_it_is(
    tmp_path: Path, length_m: float, verdict: Verdict
) -> None:
    got = found(tmp_path, features=[wall(length_m)])
    # The line of sight moves at 6 m/s; it leans 3 m in 12 m, so it crosses 0.5 m of wall
    # 0.125 m longer.
    assert got.value == pytest.approx((length_m + 0.125) / 6.0, abs=0.11)
    assert (got.verdict, got.thing) == (verdict, "wall")
    (said,) = [r.text for r in got.remarks]
    assert said.startswith("rider hidden: ")
    assert said.endswith("(wall)")
    if verdict == Verdict.CAUTION:
        assert "loses him there" in got.reason


def test_a_low_wall_hides_nothing(tmp_path: Path) -> None:
    # The line of sight falls from 6 m to 1 m: half-way, over the wall, it is 3.4 to 3.6 m up.
    assert found(tmp_path, features=[wall(12.0, 3.3)]).value == 0.0


def test_a_pole_hides_nothing_and_a_crown_does(tmp_path: Path) -> None:
    pole = worlds.feature("pole", "pole", worlds.point(-6.0, 0.0), height_m=9.0, radius_m=3.5)
    assert found(tmp_path / "a", features=[pole]).value == 0.0
    oak = worlds.tree("oak", east_m=-6.0, north_m=0.0, radius_m=3.5)
    assert found(tmp_path / "b", features=[oak]).thing == "oak"


def test_the_ground_hides_and_unknown_ground_is_unknown(tmp_path: Path) -> None:
    def bank(x: np.ndarray, y: np.ndarray) -> np.ndarray:
        return worlds.GROUND_M + np.where((np.abs(x + 6.0) < 1.5) & (np.abs(y) < 20), 8.0, 0.0)

    hidden = found(tmp_path / "a", terrain=bank, cell_m=1.0)
    assert (hidden.verdict, hidden.thing) == (Verdict.CAUTION, "ground")

    def hole(x: np.ndarray, y: np.ndarray) -> np.ndarray:
        gap = (np.abs(x + 6.0) < 1.5) & (np.abs(y) < 20)
        return np.where(gap, np.nan, worlds.GROUND_M)

    unknown = found(tmp_path / "b", terrain=hole, cell_m=1.0)
    assert unknown.verdict == Verdict.UNKNOWN
    assert "unknown ground lies between" in unknown.reason


def test_who_is_not_followed_is_not_lost_but_out_of_the_picture(tmp_path: Path) -> None:
    mark = worlds.place("mark", east_m=-20.0, north_m=0.0)
    orbit = {
        "name": "o", "style": "orbit", "around": "mark", "radius_m": 14.0, "height_m": 5.0,
        "speed_m_s": 3.0, "direction": "clockwise", "start_deg": 270, "aim": "rider",
    }  # fmt: skip
    ring = worlds.box(-22.0, -60.0, -14.0, 60.0)
    barn = worlds.feature("barn", "building", worlds.polygon(ring), height_m=12.0)
    got = found(tmp_path, features=[mark, barn], site={"shot": [orbit]})
    assert got.verdict == Verdict.CAUTION
    assert "it flies on as planned" in got.reason
