"""The ceiling: both measures, that nothing drawn raises it, and how well the ground near a lip is
known."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from shotplan import plan
from shotplan.checks.height import CHECK, lip_doubt_m
from shotplan.judging.judged import Finding
from shotplan.model.verdict import Verdict
from shotplan.outing import read
from shotplan.rules import packs
from tests import asked, worlds


def found(folder: Path, rules: str, height_m: float, **world: Any) -> Finding:
    shot = {**worlds.SIDE_TRACK, "distance_m": 20.0, "height_m": height_m}
    says = {"rules": rules, "shot": [shot], "ride": {"error_m": 0.0}, "map_error_m": 0.0}
    ride = worlds.straight(0.0, 30.0)
    outing = read(worlds.write_site(folder, site=says, ride=ride, **world))
    with asked.only("height"):
        return plan.make(outing).shots[0].finding("height")


def mast(height_m: float, east_m: float, **says: Any) -> dict[str, Any]:
    at = worlds.point(east_m, 0.0)
    return worlds.feature(
        "mast", "pole", at, height_m=height_m, error_m=0.0, height_error_m=0.0, **says
    )


STRUCTURE = "is for you to find out"


def told(height: Finding) -> list[str]:
    return [r.text for r in height.remarks if STRUCTURE in r.text]


# The track runs at x = -20 from y = -15 to 15; the mast's face is 0.3 m from its middle.
@pytest.mark.parametrize(
    ("rules", "mast_m", "away_m", "height_m", "allows"),
    [
        # 14 CFR 107.51(b): 400 ft (121.92 m) over the top within 400 ft of it
        ("us-part107", 30.0, 100.0, 130.0, "to 122 m above the top within 122 m of a structure"),
        # CARs 901.25(1): 30 m over it within 61 m
        ("ca-basic", 100.0, 50.0, 125.0, "to 30 m above the top within 61 m of a structure"),
        ("jp-basic", 140.0, 20.0, 160.0, "to 30 m above the top within 30 m of a structure"),
        ("eu-open-a1", 130.0, 40.0, 125.0, "within 50 m of a structure when whoever is respons"),
        # 49 USC 44809: no such allowance
        ("us-recreational", 30.0, 50.0, 125.0, ""),
    ],
)
def test_nothing_drawn_raises_a_ceiling_and_a_structure_is_told(
    tmp_path: Path, rules: str, mast_m: float, away_m: float, height_m: float, allows: str
) -> None:
    height = found(tmp_path, rules, height_m, features=[mast(mast_m, -20.0 + away_m)])
    assert height.verdict == Verdict.NO_GO
    assert height.value == pytest.approx(height_m, abs=0.01)
    assert height.limit == packs()[rules].height.limit_m
    said = told(height)
    assert len(said) == bool(allows)
    assert not allows or (allows in said[0] and "whether mast counts is for you" in said[0])


def test_four_low_posts_at_a_cliff_raise_no_ceiling(tmp_path: Path) -> None:
    # The way runs beyond the lip: 20 m over the rider, 130 m over the foot.
    def face(x: np.ndarray, _y: np.ndarray) -> np.ndarray:
        return np.clip(110.0 + 110.0 * (x + 10.0), 0.0, 110.0)

    posts = [
        worlds.feature(f"post-{k}", "pole", worlds.point(-6.0, 5.0 * k - 8.0), height_m=1.2)
        for k in range(4)
    ]
    height = found(tmp_path, "us-part107", 20.0, features=posts, terrain=face, cell_m=1.0)
    assert height.verdict == Verdict.NO_GO
    (said,) = told(height)
    assert "whether post-0, post-1, post-2 and 1 more count is for you to find out" in said


def test_what_is_far_or_too_low_is_not_told(tmp_path: Path) -> None:
    low = found(tmp_path / "low", "eu-open-a1", 100.0, features=[mast(104.0, 20.0)])
    far = found(tmp_path / "far", "us-part107", 100.0, features=[mast(30.0, 104.0)])
    assert (told(low), told(far)) == ([], [])
    near = found(tmp_path / "near", "eu-open-a1", 100.0, features=[mast(130.0, 20.0)])
    assert near.verdict == Verdict.GO
    assert len(told(near)) == 1


def test_a_building_may_count_and_a_tree_never(tmp_path: Path) -> None:
    ring = worlds.polygon(worlds.box(20.0, -5.0, 30.0, 5.0))
    house = worlds.feature("house", "building", ring, height_m=12.0, height_error_m=0.0)
    fir = worlds.tree("fir", east_m=20.0, north_m=0.0, height_m=40.0, height_error_m=0.0)
    for name, thing, says in (("a", house, 1), ("b", fir, 0)):
        height = found(tmp_path / name, "us-part107", 125.0, features=[thing])
        assert (height.verdict, len(told(height))) == (Verdict.NO_GO, says)


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
    assert near.limit == pytest.approx(121.92)
    assert near.told.limit == pytest.approx(121.92 - 1.25, abs=0.02)
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


@pytest.mark.parametrize("limit_m", [6.0, 10.0, 20.0])
def test_of_many_rides_the_nearest_surface_is_sought_only_where_it_decides(
    tmp_path: Path, limit_m: float
) -> None:
    # Over a lip, part of the foot unknown: straight down it is too high long before it is too far.
    def lip(x: np.ndarray, y: np.ndarray) -> np.ndarray:
        z = np.where(x > -12.0, 60.0, 20.0) + 2.0 * np.sin(y / 9.0)
        return np.where(np.hypot(x + 30.0, y) < 14.0, np.nan, z)

    says = {"rules": "eu-open-a1"}
    ride = worlds.straight(0.0, 90.0)
    scene = worlds.staged(tmp_path, rides=12, site=says, ride=ride, terrain=lip, cell_m=2.0)
    height = replace(scene.rules.height, limit_m=limit_m)
    whole = replace(scene, rules=replace(scene.rules, height=height)).rows(slice(1, None))
    filming = whole.track.ride.filming
    (exact,), (quick,) = (CHECK.margins(s) for s in (whole, replace(whole, enough_m=0.0)))
    # Second way: every sample asked for itself.
    near = scene.site.terrain.nearest(whole.track.xyz_m.reshape(-1, 3))
    room = (limit_m - near.distance_m).reshape(filming.shape)
    room[(room < 0.0) & (near.missing_m < near.distance_m).reshape(filming.shape)] = np.nan
    np.testing.assert_allclose(exact.margin, room, rtol=0, atol=1e-9)
    wanted, found = room[filming], quick.margin[filming]
    np.testing.assert_array_equal(np.isnan(found), np.isnan(wanted))
    np.testing.assert_array_equal(found < 0.0, wanted < 0.0)
    np.testing.assert_allclose(found[wanted < 0.0], wanted[wanted < 0.0], rtol=0, atol=1e-9)
    assert limit_m > 6.0 or ((wanted < 0.0).any() and np.isnan(wanted).any())
