"""Winds from the forecast's own side, and from those it may turn to."""

from __future__ import annotations

import math
from pathlib import Path
from typing import Any

import pytest

from shotplan.model.arrays import Array
from shotplan.scene.wind_limits import SIDES, planned, turned, wind_limits
from tests.worlds import staged

SOUTH = SIDES.index("S")


def wall(east: Array, north: Array) -> Array:
    """Ground that rises to the north: a wind from the south is lifted."""
    return 84.0 + 0.4 * north + 0.0 * east


def under(tmp_path: Path, **weather: Any) -> Any:
    return staged(tmp_path, site={"weather": {"gust_m_s": 8.0, **weather}}, terrain=wall)


def test_from_a_side_it_is_that_sides_limit(tmp_path: Path) -> None:
    scene = under(tmp_path, wind_m_s=4.0, wind_from_deg=180.0)
    now, side = planned(scene), wind_limits(scene)[SOUTH]
    assert now is not None
    assert now.side == "S"
    assert now.no_go_m_s == pytest.approx(side.no_go_m_s)
    assert now.mean_m_s == pytest.approx(side.mean_m_s)


def test_between_two_sides_it_is_its_own(tmp_path: Path) -> None:
    now = planned(under(tmp_path, wind_m_s=4.0, wind_from_deg=202.5))
    assert now is not None
    assert now.side == "SSW"
    assert now.from_rad == pytest.approx(math.radians(202.5))
    assert planned(under(tmp_path, wind_m_s=4.0, wind_from_deg=None)) is None


def test_a_side_that_bears_less_than_the_forecast_is_named_within_45_degrees(
    tmp_path: Path,
) -> None:
    scene = under(tmp_path, wind_m_s=4.0, wind_from_deg=225.0)
    south = wind_limits(scene)[SOUTH].no_go_m_s
    assert math.isfinite(south)
    for mean, named in ((0.9 * south, False), (1.1 * south, True)):
        stronger = under(tmp_path, wind_m_s=mean, gust_m_s=2.0 * mean, wind_from_deg=200.0)
        assert ("S" in [one.side for one in turned(stronger)]) == named
    far = under(tmp_path, wind_m_s=1.1 * south, gust_m_s=2.2 * south, wind_from_deg=270.0)
    assert "S" not in [one.side for one in turned(far)]
