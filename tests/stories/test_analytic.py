"""Whole plans on sites whose answer is known beforehand."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest

from shotplan import plan
from shotplan.judging.judged import Finding, Plan, ShotPlan
from shotplan.model.verdict import Verdict
from shotplan.outing import read
from tests import asked, worlds

HALF_SPAN_M = 0.18
KEEP_CLEAR_M = 2.0
LIMIT_M = HALF_SPAN_M + KEEP_CLEAR_M
EXACT = {"ride": {"error_m": 0.0}, "map_error_m": 0.0}


def made(folder: Path, **world: Any) -> Plan:
    return plan.make(read(worlds.write_site(folder, **world)))


def only(planned: Plan) -> ShotPlan:
    (shot,) = planned.shots
    return shot


def finding(check: str, folder: Path, **world: Any) -> Finding:
    """What one check says of the only shot; the others are not asked."""
    with asked.only(check):
        return only(made(folder, **world)).finding(check)


def shot(**says: Any) -> dict[str, Any]:
    return {"shot": [{**worlds.SIDE_TRACK, **says}]}


def test_side_track_runs_abeam_and_one_delay_behind(tmp_path: Path) -> None:
    scene = only(made(tmp_path)).scene
    rider, aircraft = scene.track.ride.xyz_m[0], scene.track.xyz_m[0]
    # Ride due north, camera to the left: 12.0 m west, v·delay = 6 m/s · 0.5 s behind.
    np.testing.assert_allclose(aircraft[:, 0] - rider[:, 0], -12.0, atol=1e-6)
    np.testing.assert_allclose(aircraft[:, 1] - rider[:, 1], -3.0, atol=1e-6)
    np.testing.assert_allclose(aircraft[:, 2] - rider[:, 2], 6.0, atol=1e-6)


def test_a_tree_five_metres_off_is_five_metres_away_and_its_trunk_is_solid(tmp_path: Path) -> None:
    # Track at x = -12, 6 m up. Crown edge 5 m beyond it; with base_m 8 only the trunk is level
    # with the aircraft, whose edge is 1.7 m farther.
    for base, value in ((None, 5.0), (8.0, np.hypot(5.0, 2.0))):
        says = {} if base is None else {"base_m": base, "trunk_radius_m": 0.3}
        oak = worlds.tree(
            "oak", east_m=-19.0, north_m=10.0, height_m=12.0, radius_m=2.0, height_error_m=0.0,
            error_m=0.0, **says,
        )  # fmt: skip
        folder = tmp_path / str(base)
        found = only(
            made(folder, features=[oak], site={**EXACT, "aircraft": {"class": "folding-all-round"}})
        ).finding("clearance")
        assert found.value == pytest.approx(value, abs=0.01)
        assert found.thing == "oak"
    trunk = worlds.tree(
        "oak", east_m=-14.5, north_m=10.0, height_m=12.0, radius_m=2.0, base_m=11.0,
        trunk_radius_m=0.5, error_m=0.0, height_error_m=0.0,
    )  # fmt: skip
    found = only(
        made(
            tmp_path / "trunk", features=[trunk],
            site={**EXACT, "aircraft": {"class": "folding-all-round"}},
        )
    ).finding("clearance")  # fmt: skip
    assert found.value == pytest.approx(2.0, abs=0.01)  # below the crown only the trunk counts
    assert found.verdict == Verdict.NO_GO


def cliff(x: np.ndarray, _y: np.ndarray) -> np.ndarray:
    """A plateau at 150 m that ends in a sheer face one cell wide at x = -1, over a floor at 0."""
    return np.clip(150.0 * (x + 2.0) / 1.0, 0.0, 150.0)


@pytest.mark.parametrize(
    ("rules", "verdict"), [("eu-open-a1", Verdict.GO), ("us-part107", Verdict.NO_GO)]
)
def test_height_over_a_cliff_is_a_matter_of_law(
    tmp_path: Path, rules: str, verdict: Verdict
) -> None:
    # reference/rules.md 0.1: Hc 150, z 30, x 50 -> 180 m straight down, 58.31 m to the surface.
    planned = made(
        tmp_path,
        terrain=cliff,
        cell_m=1.0,
        site={"rules": rules, **shot(distance_m=50.0, height_m=30.0)},
        ride=worlds.straight(0.0, 60.0),
    )
    found = only(planned).finding("height")
    spot = found.at
    assert spot is not None
    assert spot.height_m == pytest.approx(180.0, abs=0.1)
    assert spot.surface_m == pytest.approx(np.hypot(49.0, 30.0), abs=1.0)
    assert found.verdict == verdict


@pytest.mark.parametrize(("extra_m", "verdict"), [(-0.5, Verdict.GO), (0.5, Verdict.NO_GO)])
def test_sight_ends_where_the_formula_says(
    tmp_path: Path, extra_m: float, verdict: Verdict
) -> None:
    far = 327.0 * 0.36 + 20.0
    eye_to_track = np.sqrt((far + extra_m) ** 2 - (6.0 - 1.6) ** 2)
    # The pilot stands abeam of the middle of a short ride, the aircraft passes at that distance.
    stand = worlds.place("stand", east_m=-12.0 + eye_to_track, north_m=0.0)
    planned = made(
        tmp_path,
        features=[stand],
        ride=worlds.straight(0.0, 12.0),
        site={"crew": [{"name": "Bo", "role": "pilot", "stands": "stand"}]},
    )
    found = only(planned).finding("sight")
    row = only(planned).scene.track.xyz_m[0]
    best = int(np.abs(row[:, 1]).argmin())
    assert found.values[best] == pytest.approx(far + extra_m, abs=0.02)
    assert (found.margins[best] >= 0) == (extra_m < 0)
    if verdict == Verdict.NO_GO:
        assert found.verdict in (Verdict.NO_GO, Verdict.CAUTION)


@pytest.mark.parametrize(("away_m", "least_m"), [(200.0, 18.0), (300.0, 26.0), (600.0, 50.0)])
def test_behind_a_wall_the_aircraft_is_seen_from_a_known_height(
    tmp_path: Path, away_m: float, least_m: float
) -> None:
    # Eye 2 m, wall 10 m high at 100 m: 2 + 0.08 d (reference/physics.md section 9).
    wall = worlds.feature(
        "wall", "building", worlds.polygon(worlds.box(-300.0, 100.0, 300.0, 100.05)), height_m=10.0
    )
    eye = worlds.place("eye", east_m=0.0, north_m=0.0)
    for height, free in ((least_m - 0.3, False), (least_m + 0.3, True)):
        planned = made(
            tmp_path / f"{away_m}-{height}",
            features=[wall, eye],
            ride=np.array([(-20.0, away_m + 12.0), (20.0, away_m + 12.0)]),
            site={
                "crew": [{"name": "Bo", "role": "pilot", "stands": "eye", "eye_m": 2.0}],
                "rules": "us-part107",
                **shot(side="right", distance_m=12.0, height_m=height),
            },
        )
        found = only(planned).finding("sight")
        assert {bool(t) for t in found.things} == {not free}
        assert (found.verdict == Verdict.NO_GO) == (not free)


def test_side_tracking_is_blind_unless_it_senses_all_round(tmp_path: Path) -> None:
    blind = only(made(tmp_path / "a")).scene.blind
    assert blind.all()
    seeing = only(made(tmp_path / "b", site={"aircraft": {"class": "folding-all-round"}}))
    assert not seeing.scene.blind.any()


def test_an_empty_map_is_not_a_clear_one(tmp_path: Path) -> None:
    unlooked = finding("clearance", tmp_path / "a", site={"survey": None})
    assert unlooked.verdict == Verdict.UNKNOWN
    assert np.isnan(unlooked.margins).all()
    assert finding("clearance", tmp_path / "b").verdict == Verdict.GO
    half = {"survey": {"looked_for": ["trees", "buildings"]}}
    assert finding("clearance", tmp_path / "c", site=half).verdict == Verdict.UNKNOWN


def test_a_hit_stays_a_hit_where_nobody_looked(tmp_path: Path) -> None:
    oak = worlds.tree("oak", east_m=-12.0, north_m=0.0)
    found = finding("clearance", tmp_path, features=[oak], site={"survey": None})
    assert found.verdict == Verdict.NO_GO
    assert found.value == 0.0


def test_flying_under_a_wire_is_never_clear(tmp_path: Path) -> None:
    wire = worlds.feature(
        "line-1", "wire", worlds.line([(-40.0, 0.0), (40.0, 0.0)]), height_m=21.0, sag_m=0.0
    )
    found = finding("clearance", tmp_path, features=[wire])
    assert found.verdict == Verdict.NO_GO
    assert found.value == 0.0
    assert found.thing == "line-1"


def test_near_a_wire_is_a_caution_whatever_the_margin(tmp_path: Path) -> None:
    wire = worlds.feature(
        "line-1", "wire", worlds.line([(-32.0, -300.0), (-32.0, 300.0)]), height_m=8.0
    )
    planned = made(tmp_path, features=[wire], site={"aircraft": {"class": "folding-all-round"}})
    found = only(planned).finding("clearance")
    assert found.verdict == Verdict.CAUTION
    assert found.margins.min() > 0.0
    assert "network operators' advice" in found.source


def test_a_wire_of_unknown_height_makes_clearance_unknown_near_it(tmp_path: Path) -> None:
    wire = worlds.feature("line-1", "wire", worlds.line([(-40.0, -300.0), (-40.0, 300.0)]))
    near = finding("clearance", tmp_path / "a", features=[wire])
    assert near.verdict == Verdict.UNKNOWN
    wire = worlds.feature("line-1", "wire", worlds.line([(-90.0, -300.0), (-90.0, 300.0)]))
    site = {"aircraft": {"class": "folding-all-round"}}
    far = only(made(tmp_path / "b", features=[wire], site=site))
    assert far.finding("clearance").verdict == Verdict.GO


def slope(x: np.ndarray, _y: np.ndarray) -> np.ndarray:
    """A hillside that falls to the west by 1 in 5."""
    return 300.0 + 0.2 * x


def test_downhill_never_swings_across_the_rider(tmp_path: Path) -> None:
    planned = made(
        tmp_path,
        terrain=slope,
        ride=worlds.straight(0.0, 80.0),
        site={"ride": {"there_and_back": True}, **shot(side="downhill", height_m=10.0)},
    )
    scene = only(planned).scene
    assert (scene.track.xyz_m[0, :, 0] - scene.track.ride.xyz_m[0, :, 0] < -11.0).all()


def test_ride_outside_the_terrain_is_unknown(tmp_path: Path) -> None:
    planned = made(
        tmp_path, ride=worlds.straight(0.0, 200.0) + np.array([0.0, 420.0]), terrain=slope
    )
    assert only(planned).finding("ground").verdict == Verdict.UNKNOWN
    assert planned.verdict == Verdict.UNKNOWN


def test_the_rider_as_pilot_is_a_moving_eye(tmp_path: Path) -> None:
    crew = [{"name": "Ada", "role": ["rider", "pilot"]}]
    found = only(made(tmp_path, site={"crew": crew})).finding("sight")
    wanted = np.sqrt(12.0**2 + 3.0**2 + (6.0 - 1.6) ** 2)
    np.testing.assert_allclose(found.values, wanted, atol=1e-3)


def test_advice_to_raise_it_really_clears_the_tree(tmp_path: Path) -> None:
    oak = worlds.tree("oak", east_m=-13.0, north_m=0.0, height_m=9.0)
    found = finding("clearance", tmp_path / "a", features=[oak])
    assert found.verdict == Verdict.NO_GO
    raised = float(found.advice.split("raise it to ")[1].split(" m")[0])
    again = made(tmp_path / "b", features=[oak], site=shot(height_m=raised))
    assert only(again).finding("clearance").margins.min() >= 0.0
    lower = made(tmp_path / "c", features=[oak], site=shot(height_m=raised - 1.0))
    assert only(lower).finding("clearance").margins.min() < 0.0


def test_strong_wind_blows_it_away(tmp_path: Path) -> None:
    windy = {"weather": {"wind_m_s": 13.0, "gust_m_s": 15.0}}
    found = finding("pace", tmp_path, site=windy)
    # Second edition: that is for the wind check to say; it does not keep up, a picture.
    assert (found.verdict, found.family) == (Verdict.CAUTION, "picture")
    assert finding("wind", tmp_path / "w", site=windy).verdict == Verdict.NO_GO
    brisk = {"weather": {"wind_m_s": 8.0, "wind_from_deg": 0.0, "gust_m_s": 8.0}}
    found = finding("pace", tmp_path / "b", site=brisk)
    assert (found.verdict, found.family, found.thing) == (Verdict.CAUTION, "picture", "airspeed")
    assert found.value == pytest.approx((6.0 + 8.0 - 12.0) * 200.0 / 6.0, abs=0.3)


def test_leaving_the_boundary_and_entering_a_keep_out(tmp_path: Path) -> None:
    ring = worlds.box(-30.0, -20.0, 30.0, 20.0)
    zone = worlds.feature("nest", "keep-out", worlds.polygon(ring), floor_m=10.0, reason="nesting")
    # Exact: else the zone is grown and the boundary shrunk by their error.
    low = finding("keep-out", tmp_path / "a", features=[zone], site=EXACT)
    assert low.value == pytest.approx(10.0 - 6.0 - HALF_SPAN_M, abs=0.01)
    assert low.verdict == Verdict.GO
    high = only(made(tmp_path / "b", features=[zone], site=EXACT | shot(height_m=12.0)))
    assert high.finding("keep-out").verdict == Verdict.NO_GO
    far = only(made(tmp_path / "c", site=EXACT | shot(distance_m=501.0, height_m=12.0)))
    assert far.finding("boundary").verdict == Verdict.NO_GO
    assert far.finding("boundary").value == pytest.approx(-1.0 - HALF_SPAN_M, abs=0.05)


def test_run_twice_it_is_the_same(tmp_path: Path) -> None:
    oak = worlds.tree("oak", east_m=-15.0, north_m=0.0)
    folder = worlds.write_site(tmp_path, features=[oak])
    first, second = (only(plan.make(read(folder))) for _ in range(2))
    for a, b in zip(first.findings, second.findings, strict=True):
        assert a.reason == b.reason
        np.testing.assert_array_equal(a.margins, b.margins)
