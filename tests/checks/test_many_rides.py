"""Checks asked of many rides at once say the same as when every margin is wanted exactly."""

from __future__ import annotations

import tempfile
from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np
import pytest

from shotplan.checks import CHECKS
from shotplan.flying import stage_scene
from shotplan.outing import read
from shotplan.scene.margin import Check
from shotplan.scene.scene import Scene
from tests import worlds

RIDES = 12


def hillside(x: np.ndarray, y: np.ndarray) -> np.ndarray:
    z = 200.0 + 0.15 * x + 7.0 * np.sin(y / 17.0)
    return np.where(np.hypot(x + 22.0, y - 35.0) < 8.0, np.nan, z)


@cache
def scene(world: int) -> Scene:
    """A side-track past a little of everything, holes in terrain and survey, twelve rides."""
    rng = np.random.default_rng(world)
    east, north = rng.uniform(-30.0, 5.0, 25), rng.uniform(-70.0, 70.0, 25)
    features = [
        worlds.tree(f"t{i}", east_m=e, north_m=n, height_m=h, radius_m=1.0 + i % 2)
        for i, (e, n, h) in enumerate(zip(east, north, rng.uniform(3, 15, 25), strict=True))
    ]
    features += [
        worlds.feature("wire", "wire", worlds.line([(-70.0, 40.0), (70.0, 55.0)]), height_m=9.0),
        worlds.feature("cable", "wire", worlds.line([(-45.0, -60.0), (-45.0, 0.0)])),
        worlds.feature("hut", "building", worlds.polygon(worlds.box(-16, 0, -10, 5)), height_m=4.0),
        worlds.feature("nest", "keep-out", worlds.polygon(worlds.box(-60, -60, -12, -30))),
        worlds.feature("path", "people", worlds.line([(-60.0, 10.0), (60.0, 20.0)])),
        worlds.feature("birds", "wildlife", worlds.polygon(worlds.box(-90, 20, -70, 40)),
                       stand_off_m=58.0),
        worlds.feature("seen", "surveyed", worlds.polygon(worlds.box(-90, -75, 90, 45)),
                       on="2026-06-01", looked_for=worlds.ALL_KINDS, least_height_m=1.5),
    ]  # fmt: skip
    with tempfile.TemporaryDirectory() as name:
        folder = worlds.write_site(
            Path(name),
            site={"survey": None, "disturbance": {"rides": RIDES}},
            features=features,
            ride=worlds.straight(0.0, 120.0),
            terrain=hillside,
        )
        outing = read(folder)
    return stage_scene(outing, outing.shots[0], outing.day.start, RIDES)


@pytest.mark.parametrize("world", range(3))
@pytest.mark.parametrize("check", [c for c in CHECKS if c.rides == "all"], ids=lambda c: c.id)
def test_broken_and_unknown_samples_are_those_found_one_by_one(check: Check, world: int) -> None:
    whole = scene(world).rows(slice(1, None))
    filming = whole.track.ride.filming
    pairs = zip(check.margins(whole), check.margins(replace(whole, enough_m=0.0)), strict=True)
    for exact, quick in pairs:
        for name in ("margin", "soft"):
            wanted, found = getattr(exact, name), getattr(quick, name)
            if wanted is None or found is None:
                assert wanted is None or not (np.asarray(wanted) < 0.0).any()
                continue
            wanted, found = (np.broadcast_to(a, filming.shape)[filming] for a in (wanted, found))
            np.testing.assert_array_equal(np.isnan(found), np.isnan(wanted))
            broken = wanted < 0.0
            np.testing.assert_array_equal(found < 0.0, broken)
            np.testing.assert_allclose(found[broken], wanted[broken], rtol=0, atol=1e-9)


def test_the_worlds_hold_what_the_comparison_is_about() -> None:
    found = set()
    for check in (c for c in CHECKS if c.rides == "all"):
        for world in range(3):
            margins = check.margins(scene(world).rows(slice(1, None)))
            found |= {(check.id, "broken") for m in margins if (m.margin < 0.0).any()}
            found |= {(check.id, "unknown") for m in margins if np.isnan(m.margin).any()}
    assert {("clearance", "broken"), ("clearance", "unknown"), ("ground", "broken")} <= found
    assert {("ground", "unknown"), ("keep-out", "broken"), ("wildlife", "broken")} <= found
