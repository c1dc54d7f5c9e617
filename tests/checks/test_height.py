"""The ceiling: both measures, what structures add, and how well the ground near a lip is known."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest

from shotplan import plan
from shotplan.checks.height import lip_doubt_m
from shotplan.judging.judged import Finding
from shotplan.model.verdict import Verdict
from shotplan.outing import read
from tests import worlds


def found(folder: Path, rules: str, height_m: float, **world: Any) -> Finding:
    shot = {**worlds.SIDE_TRACK, "distance_m": 20.0, "height_m": height_m}
    says = {"rules": rules, "shot": [shot], "ride": {"error_m": 0.0}, "map_error_m": 0.0}
    ride = worlds.straight(0.0, 30.0)
    outing = read(worlds.write_site(folder, site=says, ride=ride, **world))
    return plan.make(outing).shots[0].finding("height")


def mast(height_m: float, east_m: float, **says: Any) -> dict[str, Any]:
    at = worlds.point(east_m, 0.0)
    return worlds.feature(
        "mast", "pole", at, height_m=height_m, error_m=0.0, height_error_m=0.0, **says
    )


# The track runs at x = -20 from y = -15 to 15; the mast's face is 0.3 m from its middle.
@pytest.mark.parametrize(
    ("rules", "mast_m", "away_m", "height_m", "verdict"),
    [
        # 14 CFR 107.51(b): 400 ft (121.92 m) over the top within 400 ft of it
        ("us-part107", 30.0, 100.0, 151.8, Verdict.GO),
        ("us-part107", 30.0, 100.0, 152.1, Verdict.NO_GO),
        ("us-part107", 30.0, 124.0, 130.0, Verdict.NO_GO),
        # CARs 901.25(1): 30 m over it within 61 m
        ("ca-basic", 100.0, 50.0, 129.9, Verdict.GO),
        ("ca-basic", 100.0, 50.0, 130.1, Verdict.NO_GO),
        ("ca-basic", 100.0, 62.0, 125.0, Verdict.NO_GO),
        # 49 USC 44809: no such allowance; EU: only on request
        ("us-recreational", 30.0, 50.0, 125.0, Verdict.NO_GO),
        ("eu-open-a1", 130.0, 40.0, 125.0, Verdict.NO_GO),
        ("jp-basic", 140.0, 20.0, 169.9, Verdict.GO),
        ("jp-basic", 140.0, 20.0, 170.1, Verdict.NO_GO),
    ],
)
def test_near_a_structure_the_pack_may_allow_more(
    tmp_path: Path, rules: str, mast_m: float, away_m: float, height_m: float, verdict: Verdict
) -> None:
    pole = mast(mast_m, -20.0 + away_m)
    height = found(tmp_path, rules, height_m, features=[pole])
    assert height.verdict == verdict
    assert height.value == pytest.approx(height_m, abs=0.01)
    if verdict == Verdict.GO:
        assert height.thing == "mast"
        assert "above its top" in height.reason


def test_a_structure_on_request_is_told_and_not_counted(tmp_path: Path) -> None:
    height = found(tmp_path, "eu-open-a1", 100.0, features=[mast(130.0, 20.0)])
    (told,) = [r for r in height.remarks if "not counted here" in r.text]
    assert "within 50 m of mast it might go to 15 m above the top" in told.text
    assert height.verdict == Verdict.GO
    low = found(tmp_path / "low", "eu-open-a1", 100.0, features=[mast(104.0, 20.0)])
    assert not [r for r in low.remarks if "not counted here" in r.text]


def test_a_building_counts_and_a_tree_does_not(tmp_path: Path) -> None:
    ring = worlds.polygon(worlds.box(20.0, -5.0, 30.0, 5.0))
    house = worlds.feature("house", "building", ring, height_m=12.0, height_error_m=0.0)
    fir = worlds.tree("fir", east_m=20.0, north_m=0.0, height_m=40.0, height_error_m=0.0)
    assert found(tmp_path / "a", "us-part107", 133.0, features=[house]).verdict == Verdict.GO
    assert found(tmp_path / "b", "us-part107", 134.5, features=[house]).verdict == Verdict.NO_GO
    assert found(tmp_path / "c", "us-part107", 125.0, features=[fir]).verdict == Verdict.NO_GO


def test_a_structure_is_taken_lower_and_farther_by_its_errors(tmp_path: Path) -> None:
    def with_error(name: str, **says: float) -> Verdict:
        pole = {**mast(30.0, 100.0)}
        pole["properties"] = {**pole["properties"], **says}
        return found(tmp_path / name, "us-part107", 151.0, features=[pole]).verdict

    assert with_error("exact") == Verdict.GO
    assert with_error("lower", height_error_m=2.0) == Verdict.NO_GO
    assert with_error("farther", error_m=5.0) == Verdict.NO_GO


def test_a_face_is_no_structure(tmp_path: Path) -> None:
    def face(x: np.ndarray, _y: np.ndarray) -> np.ndarray:
        return np.clip(150.0 * (x + 2.0), 0.0, 150.0)

    height = found(tmp_path, "us-part107", 20.0, terrain=face, cell_m=1.0)
    assert height.verdict == Verdict.NO_GO
    assert height.value == pytest.approx(170.0, abs=0.1)


def slope(tangent: float) -> Any:
    """A plane that falls to the west."""
    return lambda x, _y: 100.0 + tangent * x


@pytest.mark.parametrize("tangent", [0.0, 0.5, 2.0])
def test_the_height_on_a_slope_is_known_to_half_a_cell(tmp_path: Path, tangent: float) -> None:
    # tan(slope) · cell / 2
    says = {"rules": "us-part107"}
    folder = worlds.write_site(tmp_path, site=says, terrain=slope(tangent), cell_m=5.0)
    terrain = read(folder).site.terrain
    doubt = lip_doubt_m(terrain, np.array([[3.0, 4.0], [-40.0, 11.0]]))
    # UTM's scale and convergence here are below 0.1 %
    np.testing.assert_allclose(doubt, tangent * 5.0 / 2.0, rtol=2e-3, atol=1e-9)


def test_within_the_doubt_of_a_steep_slope_is_a_caution_with_its_number(tmp_path: Path) -> None:
    # Slope 0.5, cell 5 m: 1.25 m. Side-tracking 20 m out over the slope: 10 m of drop.
    inside = found(tmp_path / "in", "us-part107", 110.0, terrain=slope(0.5), cell_m=5.0)
    assert inside.verdict == Verdict.GO
    near = found(tmp_path / "near", "us-part107", 111.2, terrain=slope(0.5), cell_m=5.0)
    assert near.verdict == Verdict.CAUTION
    assert "may be off by 1.2 m" in near.reason or "may be off by 1.3 m" in near.reason
    assert near.limit == pytest.approx(121.92 - 1.25, abs=0.02)
    (counted,) = [r for r in near.remarks if "of the shot the ground is so steep" in r.text]
    assert counted.text.startswith("on 100% of the shot")
    over = found(tmp_path / "over", "us-part107", 112.5, terrain=slope(0.5), cell_m=5.0)
    assert over.verdict == Verdict.NO_GO


def test_the_nearest_surface_has_no_such_doubt(tmp_path: Path) -> None:
    height = found(tmp_path, "eu-open-a1", 119.0, terrain=slope(0.5), cell_m=5.0)
    assert height.verdict == Verdict.GO
    assert not [r for r in height.remarks if "so steep" in r.text]


@pytest.mark.parametrize("rules", ["eu-open-a1", "us-part107", "nz-part101"])
def test_both_measures_are_said_under_every_pack(tmp_path: Path, rules: str) -> None:
    height = found(tmp_path, rules, 50.0, terrain=slope(0.5), cell_m=5.0)
    assert "60.0 m above the ground straight below, 53.7 m from the nearest surface" in (
        height.reason
    )


def test_unknown_ground_is_unknown_beside_a_structure_too(tmp_path: Path) -> None:
    def holed(x: np.ndarray, _y: np.ndarray) -> np.ndarray:
        return np.where(np.abs(x + 20.0) < 15.0, np.nan, 84.0)

    height = found(tmp_path, "us-part107", 50.0, terrain=holed, features=[mast(30.0, 30.0)])
    assert height.verdict == Verdict.UNKNOWN
