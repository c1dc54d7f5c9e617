"""Clear of the ground: what the terrain may be off there, and rasters too coarse to say."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from shotplan import plan
from shotplan.judging.judged import Finding
from shotplan.model.verdict import Verdict
from shotplan.outing import read
from tests import asked
from tests.worlds import SIDE_TRACK, write_site

Array = NDArray[np.float64]
KEPT_M = 0.18 + 2.0 + 0.5  # half span, own margin, low things nobody drew


def hillside(east: Array, _north: Array) -> Array:
    """Falls to the west by 1 in 2."""
    return 300.0 + 0.5 * east


def found(folder: Path, **world: Any) -> Finding:
    height_m = world.pop("height_m", 6.0)
    site = {"shot": [{**SIDE_TRACK, "side": "right", "height_m": height_m}]}
    site.update(world.pop("site", {}))
    outing = read(write_site(folder, site=site, **world))
    with asked.only("ground"):
        (shot,) = plan.make(outing).shots
    return shot.finding("ground")


def off_m(cell_m: float, rise: float, posts_m: float | None = None) -> float:
    """DEFINITIONS: hypot(terrain_error_m, half a cell times the sine of the slope)."""
    return float(np.hypot(0.2 * cell_m if posts_m is None else posts_m,
                          0.5 * cell_m * np.sin(np.arctan(rise))))  # fmt: skip


@pytest.mark.parametrize("cell_m", [1.0, 5.0])
def test_the_terrain_error_follows_cell_and_slope(tmp_path: Path, cell_m: float) -> None:
    # 12 m to the right of the ride the ground is 6 m higher: 18 m up keeps it 12 m over that.
    one = found(tmp_path, terrain=hillside, cell_m=cell_m, height_m=18.0)
    assert one.verdict == Verdict.GO
    assert one.limit == pytest.approx(KEPT_M + off_m(cell_m, 0.5), abs=0.01)


def test_terrain_error_m_is_a_key_of_the_site(tmp_path: Path) -> None:
    said = found(tmp_path, terrain=hillside, height_m=18.0, site={"terrain_error_m": 0.4})
    assert said.limit == pytest.approx(KEPT_M + off_m(5.0, 0.5, 0.4), abs=0.01)


def test_flat_ground_is_off_by_nothing_unless_somebody_says_so(tmp_path: Path) -> None:
    assert found(tmp_path / "a").limit == pytest.approx(KEPT_M)
    said = found(tmp_path / "b", site={"terrain_error_m": 0.4})
    assert said.limit == pytest.approx(KEPT_M + 0.4)


def test_a_metre_raster_lets_it_fly_lower_than_a_five_metre_one(tmp_path: Path) -> None:
    # 2.9 m over level ground: 2.68 m and 0.2 m are kept on posts 1 m apart, 1 m on those of 5 m.
    level = {"terrain": lambda x, _y: 300.0 + 0.0 * x, "height_m": 2.9}
    assert found(tmp_path / "fine", cell_m=1.0, **level).verdict == Verdict.GO
    assert found(tmp_path / "five", cell_m=5.0, **level).verdict == Verdict.NO_GO


def test_the_steepest_within_a_cell_of_the_nearest_point_counts(tmp_path: Path) -> None:
    """Level under the flight, a bank of 1 in 1 that begins 13 m beside it."""

    def bank(x: Array, _y: Array) -> Array:
        return 300.0 + np.clip(x - 25.0, 0.0, 20.0)

    near = found(tmp_path / "near", terrain=bank, height_m=9.0, cell_m=5.0)
    assert near.limit == pytest.approx(KEPT_M + 1.0, abs=0.01)  # more than a cell off
    outing_side = {"shot": [{**SIDE_TRACK, "side": "right", "distance_m": 22.0, "height_m": 3.5}]}
    beside = found(tmp_path / "beside", terrain=bank, cell_m=5.0, site=outing_side)
    assert beside.limit == pytest.approx(KEPT_M + off_m(5.0, 1.0), abs=0.05)


def test_a_coarse_raster_leaves_it_unknown_and_says_what_would_be_go(tmp_path: Path) -> None:
    """Posts 60 m apart: 12 m and more may be missing. Over 2 m of it nobody can say."""
    level = {"terrain": lambda x, _y: 300.0 + 0.0 * x, "cell_m": 60.0}
    one = found(tmp_path / "a", height_m=8.0, **level)
    assert one.verdict == Verdict.UNKNOWN
    assert one.limit == pytest.approx(KEPT_M + 12.0, abs=0.01)
    assert "the raster is too coarse to say" in one.reason
    assert "nowhere stands 5.3 m higher than it says" in one.advice
    assert "60.0 m apart" in one.advice
    low = found(tmp_path / "b", height_m=KEPT_M + 1.9, **level)
    assert low.verdict == Verdict.NO_GO
    assert found(tmp_path / "c", height_m=KEPT_M + 12.1, **level).verdict == Verdict.GO
    told = found(tmp_path / "d", height_m=8.0, site={"terrain_error_m": 5.2}, **level)
    assert told.verdict == Verdict.GO


def test_disturbed_rides_over_a_coarse_raster_are_unknown_too(tmp_path: Path) -> None:
    level = {"terrain": lambda x, _y: 300.0 + 0.0 * x, "cell_m": 60.0}
    one = found(tmp_path, height_m=8.0, site={"disturbance": {"rides": 60}}, **level)
    assert (one.verdict, one.rides_breaking) == (Verdict.UNKNOWN, 0)


def test_the_parts_of_the_limit_stand_beside_the_height(tmp_path: Path) -> None:
    one = found(tmp_path, terrain=hillside, height_m=8.0)
    assert one.verdict == Verdict.NO_GO
    assert "0.18 m half span, 2.00 m your own margin, 1.50 m that the terrain may be off" in (
        one.reason
    )


def test_the_text_says_when_the_distance_is_from_the_overrun(tmp_path: Path) -> None:
    """Ridden up a slope to the east, the camera flies ahead of it backward, blind that way."""
    lead = {"name": "a", "style": "lead", "distance_m": 8.0, "height_m": 9.0}
    up = {"terrain": hillside, "ride": 90.0}
    blind = found(tmp_path / "a", site={"shot": [lead], "aircraft": {"class": "unsensed"}}, **up)
    assert "from where it would run on to" in blind.reason
    assert "does not sense" in blind.reason
    seen = found(
        tmp_path / "b", site={"shot": [lead], "aircraft": {"class": "folding-all-round"}}, **up
    )
    assert "run on" not in seen.reason
