"""What must hold for every world: turn it, mirror it, know less of it, let things grow."""

from __future__ import annotations

import tempfile
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from shotplan import plan
from shotplan.judging.judged import ShotPlan
from shotplan.model.verdict import Verdict
from shotplan.outing import read
from tests import worlds

FEW = settings(max_examples=4)
BASE = np.array([[-40.0, -40.0], [0.0, -40.0], [30.0, -10.0]])
TREES = (("oak", -16.0, -24.0, 9.0, 2.0), ("ash", 28.0, -30.0, 7.0, 1.5))
WIRE = np.array([[-80.0, 30.0], [70.0, 45.0]])
CREW = [
    {"name": "Ada", "role": "rider"},
    {"name": "Bo", "role": "pilot", "stands": "stand"},
]


def turned(points: Any, azimuth_deg: float, mirror: bool) -> np.ndarray:
    """Points mirrored in the north axis, then turned clockwise about the middle."""
    p = np.array(points, dtype=float)
    if mirror:
        p = p * np.array([-1.0, 1.0])
    a = np.radians(azimuth_deg)
    return np.asarray(p @ np.array([[np.cos(a), -np.sin(a)], [np.sin(a), np.cos(a)]]))


def planned(azimuth_deg: float = 0.0, mirror: bool = False, **says: Any) -> ShotPlan:
    def at(p: Any) -> np.ndarray:
        return turned(p, azimuth_deg, mirror)

    wind = -says.pop("wind_from_deg", 250.0) if mirror else says.pop("wind_from_deg", 250.0)
    features = [
        worlds.tree(n, east_m=at((e, o))[0], north_m=at((e, o))[1], height_m=h, radius_m=r,
                    **says.get("tree", {}))
        for n, e, o, h, r in TREES
    ]  # fmt: skip
    features.append(worlds.feature("line-1", "wire", worlds.line(at(WIRE)), height_m=9.0))
    stand = at((10.0, -70.0))
    features.append(worlds.place("stand", east_m=stand[0], north_m=stand[1]))
    launch = at((40.0, -60.0))
    features.append(worlds.place("launch", east_m=launch[0], north_m=launch[1]))
    features += says.get("more", [])
    shot = {**worlds.SIDE_TRACK, "side": "right" if mirror else "left"}
    site = {
        "crew": CREW,
        "shot": [shot],
        "weather": {"wind_from_deg": (wind + azimuth_deg) % 360.0},
        **says.get("site", {}),
    }
    with tempfile.TemporaryDirectory() as name:
        folder = worlds.write_site(
            Path(name), ride=at(BASE), features=features, site=site,
            terrain=says.get("terrain", worlds.GROUND_M), without=("launch",),
        )  # fmt: skip
        return plan.make(read(folder)).shots[0]


@cache
def base() -> ShotPlan:
    """The world that all are held against."""
    return planned()


@FEW
@given(st.floats(0.0, 360.0), st.booleans())
def test_turning_and_mirroring_the_world_changes_no_margin(azimuth: float, mirror: bool) -> None:
    here, there = base(), planned(azimuth, mirror)
    for a, b in zip(here.findings, there.findings, strict=True):
        if a.check in ("glare", "framing"):  # the sun does not turn with the world
            continue
        assert (a.check, a.verdict) == (b.check, b.verdict)
        if a.check != "boundary":  # the boundary square is not turned either
            np.testing.assert_allclose(a.margins, b.margins, atol=0.02, equal_nan=True)
    np.testing.assert_allclose(
        turned(here.scene.track.xyz_m[0, :, :2], azimuth, mirror),
        there.scene.track.xyz_m[0, :, :2],
        atol=0.01,
    )


@FEW
@given(st.floats(-60.0, 60.0), st.floats(5.0, 200.0))
def test_shrinking_the_surveyed_area_never_improves_a_verdict(x: float, half: float) -> None:
    whole = base()
    ring = worlds.box(x - half, -half, x + half, half)
    area = worlds.feature("seen", "surveyed", worlds.polygon(ring), looked_for=worlds.ALL_KINDS)
    less = planned(more=[area])
    for a, b in zip(whole.findings, less.findings, strict=True):
        assert b.verdict >= a.verdict, a.check
        known = ~np.isnan(b.margins)
        assert (b.margins[known] <= a.margins[known] + 0.01).all()


def hills(hole: tuple[float, float, float] | None) -> Any:
    def ground(x: np.ndarray, y: np.ndarray) -> np.ndarray:
        z = 200.0 + 6.0 * np.sin(x / 25.0) * np.cos(y / 31.0) + 12.0 / (1 + np.exp((x - 30) / 3.0))
        if hole is not None:
            z = np.where(np.hypot(x - hole[0], y - hole[1]) < hole[2], np.nan, z)
        return z

    return ground


@cache
def hilly() -> ShotPlan:
    return planned(terrain=hills(None))


@FEW
@given(st.floats(-80.0, 60.0), st.floats(-80.0, 40.0), st.floats(3.0, 60.0))
def test_removing_terrain_never_improves_a_verdict(x: float, y: float, radius: float) -> None:
    whole, less = hilly(), planned(terrain=hills((x, y, radius)))
    for a, b in zip(whole.findings, less.findings, strict=True):
        # Where the ground is gone every check is unknown (DEFINITIONS "Ride"), a former no-go
        # too; what less knowledge may never do is lead toward go.
        assert b.verdict >= a.verdict or b.verdict == Verdict.UNKNOWN, (a.check, a.reason)


@FEW
@given(st.floats(0.0, 4.0), st.floats(0.0, 5.0), st.floats(0.0, 4.0))
def test_growing_a_tree_or_its_error_never_grows_a_margin(
    wider: float, taller: float, doubt: float
) -> None:
    small = base()
    grown = [
        worlds.tree(f"{n}-g", east_m=e, north_m=o, height_m=h + taller, radius_m=r + wider,
                    error_m=1.0 + doubt)
        for n, e, o, h, r in TREES
    ]  # fmt: skip
    # The same trees again, grown: their union with the small ones is the grown ones.
    large = planned(more=grown)
    for a, b in zip(small.findings, large.findings, strict=True):
        assert b.verdict >= a.verdict, a.check
        if a.check != "sight":
            known = ~np.isnan(a.margins)
            assert (b.margins[known] <= a.margins[known] + 0.01).all()
