"""What every check must keep to, also those not yet written."""

from __future__ import annotations

import tempfile
from dataclasses import replace
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from shotplan import plan
from shotplan.checks import CHECKS
from shotplan.judging.judged import Plan
from shotplan.model.verdict import Verdict
from shotplan.outing import read
from shotplan.scene.margin import Check
from shotplan.scene.scene import Scene
from tests import worlds


def hillside(x: np.ndarray, y: np.ndarray) -> np.ndarray:
    z = 200.0 + 0.2 * x + 5.0 * np.sin(y / 17.0)
    return np.where(np.hypot(x + 20.0, y - 35.0) < 8.0, np.nan, z)


@cache
def full() -> Plan:
    """A site with something of everything near the track, and a hole in its terrain."""
    features = [
        worlds.tree("oak", east_m=-18.0, north_m=-20.0, base_m=2.0, trunk_radius_m=0.3),
        worlds.feature("wire", "wire", worlds.line([(-70.0, 40.0), (70.0, 55.0)]), height_m=9.0),
        worlds.feature("hut", "building", worlds.polygon(worlds.box(10, 0, 16, 5)), height_m=4.0),
        worlds.feature("nest", "keep-out", worlds.polygon(worlds.box(-60, -60, -40, -30))),
        worlds.feature("path", "people", worlds.line([(-60.0, 10.0), (60.0, 20.0)])),
    ]
    with tempfile.TemporaryDirectory() as name:
        folder = worlds.write_site(
            Path(name), features=features, ride=worlds.straight(0.0, 90.0), terrain=hillside
        )
        return plan.make(read(folder))


def shuffled(scene: Scene, order: np.ndarray) -> Scene:
    """The same scene with its samples in another order."""
    ride = scene.track.ride
    moved = replace(
        ride,
        t_s=ride.t_s[order],
        **{
            name: getattr(ride, name)[:, order]
            for name in ("xyz_m", "known_xyz_m", "speed_m_s", "course_rad", "along_m", "filming",
                         "ground_known")
        },
    )  # fmt: skip
    names = (
        "xyz_m", "velocity_m_s", "heading_rad", "camera_azimuth_rad", "camera_elevation_rad",
        "asked_m_s2", "setpoint_velocity_m_s", "known",
    )  # fmt: skip
    parts: dict[str, Any] = {name: getattr(scene.track, name)[:, order] for name in names}
    gap = scene.braking_gap_m
    wish = scene.wish
    assert wish is not None
    return replace(
        scene,
        track=replace(scene.track, ride=moved, **parts),
        wish=replace(
            wish,
            camera_xyz_m=wish.camera_xyz_m[:, order],
            aim_xyz_m=wish.aim_xyz_m[:, order],
            known=wish.known[:, order],
        ),
        braking_gap_m=None if gap is None else gap[:, order],
    )


@pytest.mark.parametrize("check", [c for c in CHECKS if c.pointwise], ids=lambda c: c.id)
@settings(max_examples=5)
@given(seed=st.integers(0, 2**32 - 1))
def test_a_value_never_depends_on_what_stands_beside_it(check: Check, seed: int) -> None:
    scene = full().shots[0].scene
    order = np.random.default_rng(seed).permutation(scene.track.ride.t_s.size)
    for here, there in zip(
        check.margins(scene), check.margins(shuffled(scene, order)), strict=True
    ):
        shape = scene.blind.shape
        wanted = np.broadcast_to(here.margin, shape)[:, order]
        np.testing.assert_array_equal(np.broadcast_to(there.margin, shape), wanted)


@pytest.mark.parametrize("check", CHECKS, ids=lambda c: c.id)
def test_margins_have_the_shapes_the_judge_expects(check: Check) -> None:
    scene = full().shots[0].scene
    shape = scene.blind.shape
    for margin in check.margins(scene):
        assert np.broadcast_shapes(np.shape(margin.margin), shape) == shape
        assert margin.value.shape == margin.limit.shape == margin.thing.shape == shape[1:]
        assert not np.isneginf(margin.margin).any()


@pytest.mark.parametrize("check", CHECKS, ids=lambda c: c.id)
def test_every_finding_says_why_and_names_a_number(check: Check) -> None:
    (shot,) = full().shots
    found = shot.finding(check.id)
    assert found.reason
    if found.verdict != Verdict.GO:
        assert any(letter.isdigit() for letter in found.advice), found.advice


def test_there_is_exactly_one_finding_per_check() -> None:
    (shot,) = full().shots
    assert [f.check for f in shot.findings] == [c.id for c in CHECKS]
    assert shot.verdict == max(f.verdict for f in shot.findings)


@pytest.mark.parametrize("check", CHECKS, ids=lambda c: c.id)
def test_at_least_binds_and_at_most_binds_give_the_margin(check: Check) -> None:
    found = full().shots[0].finding(check.id)
    if found.value is None or found.limit is None or found.margin is None:
        return
    wanted = found.value - found.limit
    sign = 1.0 if check.binds == "at-least" else -1.0
    assert found.margin == pytest.approx(sign * wanted, abs=1e-9)


def test_the_datum_step_and_its_accuracy_stand_under_all_that_rests_on_terrain() -> None:
    """Height and sight too, not only ground."""
    planned = full()
    (laid, *_) = planned.outing.site.terrain.assumptions
    assert "by UTM zone 33N, accuracy" in laid
    (shot,) = planned.shots
    under = {f.check for f in shot.findings if laid in f.assumptions}
    asked = {f.check for f in shot.findings if f.at is not None}
    assert {"ground", "height", "sight", "clearance", "rider-gap", "view", "return"} <= under
    assert under == {c.id for c in CHECKS if c.on_terrain} & asked
