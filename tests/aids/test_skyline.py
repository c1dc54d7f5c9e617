from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest

from shotplan.aids import skyline
from shotplan.aids.skyline import Kind
from shotplan.flying import stage_scene
from shotplan.model.arrays import Array
from shotplan.outing import Outing, read
from shotplan.scene.eyesight import view
from tests import worlds


def around(folder: Path, **given: object) -> tuple[skyline.Around, Outing]:
    outing = read(worlds.write_site(folder, **given))  # type: ignore[arg-type]
    launch = outing.site.launch
    assert launch is not None
    eye = launch.xyz_m + np.array([0.0, 0.0, 1.6])
    azimuth = np.radians(np.arange(-60.0, 60.0, 0.25))
    elevation = np.radians(np.arange(30.0, -10.0, -0.25))
    return skyline.around(outing.site, eye, azimuth, elevation), outing


def at(found: skyline.Around, azimuth_deg: float, elevation_deg: float) -> Kind:
    a = int(np.argmin(np.abs(found.azimuth_rad - math.radians(azimuth_deg))))
    e = int(np.argmin(np.abs(found.elevation_rad - math.radians(elevation_deg))))
    return Kind(int(found.kind[e, a]))


def test_directions_by_the_compass() -> None:
    eye = np.array([1.0, 2.0, 3.0])
    ways = np.array([[0, 1, 0], [1, 0, 1], [0, -1, 0], [-1, 0, 0], [0, 2, math.nan]], dtype=float)
    azimuth, elevation = skyline.toward(eye, eye + ways)
    np.testing.assert_allclose(np.degrees(azimuth[:4]), [0, 90, 180, 270], atol=1e-9)
    np.testing.assert_allclose(np.degrees(elevation[:4]), [0, 45, 0, 0], atol=1e-9)
    assert np.isnan(azimuth[4])
    assert np.isnan(elevation[4])
    turned = skyline.nearest_turn(np.radians([10.0, 350.0]), math.radians(700.0))
    np.testing.assert_allclose(np.degrees(turned), [730.0, 710.0])


def test_each_kind_stands_where_it_was_drawn(tmp_path: Path) -> None:
    # the launch lies at 30 m east of the middle
    found, _ = around(
        tmp_path,
        ride=0.0,
        features=[
            worlds.tree("oak", east_m=30.0, north_m=60.0, height_m=12.0, radius_m=4.0),
            worlds.feature(
                "pond", "water", worlds.polygon(worlds.box(5.0, 60.0, 20.0, 120.0)),
                level_m=worlds.GROUND_M,
            ),
            worlds.feature(
                "hut", "building", worlds.polygon(worlds.box(60.0, 40.0, 70.0, 50.0)), height_m=5.0
            ),
        ],
    )  # fmt: skip
    assert at(found, 0.0, 6.0) == Kind.TREE
    assert at(found, 0.0, 20.0) == Kind.SKY
    assert at(found, -60.0, -5.0) == Kind.GROUND
    assert at(found, -12.0, -1.0) == Kind.WATER
    assert at(found, math.degrees(math.atan2(35.0, 45.0)), 2.0) == Kind.BUILDING
    assert np.isinf(found.known_m).all()


def test_what_hides_the_aircraft_is_seen_before_it(tmp_path: Path) -> None:
    """The second way: the rays that decide whether it is in sight."""
    folder = worlds.write_site(
        tmp_path,
        ride=0.0,
        features=[worlds.tree("oak", east_m=15.0, north_m=10.0, height_m=14.0, radius_m=4.0)],
    )
    outing = read(folder)
    scene = stage_scene(outing, outing.shots[0], outing.day.start).first
    launch = outing.site.launch
    assert launch is not None
    eye = launch.xyz_m + np.array([0.0, 0.0, 1.6])
    seen = view(scene, np.broadcast_to(eye, scene.track.xyz_m.shape))
    azimuth, elevation = skyline.toward(eye, scene.track.xyz_m[0])
    azimuth = skyline.nearest_turn(azimuth, math.radians(270.0))
    step = math.radians(0.1)
    cols = np.arange(azimuth.min() - 0.05, azimuth.max() + 0.05, step)
    rows = np.arange(elevation.max() + 0.05, elevation.min() - 0.05, -step)
    found = skyline.around(outing.site, eye, cols, rows)
    a = np.argmin(np.abs(cols[:, None] - azimuth), axis=0)
    e = np.argmin(np.abs(rows[:, None] - elevation), axis=0)
    before = found.away_m[e, a] < np.hypot(*(scene.track.xyz_m[0, :, :2] - eye[:2]).T)
    hidden = seen.cut_m[0] < seen.slant_m[0]
    assert 5 < hidden.sum() < len(hidden) - 5
    assert (before == hidden).mean() > 0.98  # a pixel's width at the edges


def test_a_wire_is_a_line_and_missing_ground_is_said(tmp_path: Path) -> None:
    def ground(east: Array, north: Array) -> Array:
        return np.where(north > 150.0, np.nan, 84.0 + 0.0 * east)

    found, _ = around(
        tmp_path,
        ride=0.0,
        terrain=ground,
        features=[
            worlds.feature(
                "wire", "wire", worlds.line([(-50.0, 60.0), (110.0, 60.0)]), height_m=9.0
            )
        ],
    )
    (line,) = found.wires
    shown = np.isfinite(line[:, 0])
    ahead = int(np.nanargmin(np.abs(line[:, 0])))
    assert shown.mean() > 0.5
    # 9 m up less the sag of a mid-span near there, from an eye at 1.6 m, 60 m away
    assert math.degrees(line[ahead, 1]) == pytest.approx(
        math.degrees(math.atan2(9.0 - 1.6 - 4.5, 60.0)), abs=1.0
    )
    north = int(np.argmin(np.abs(found.azimuth_rad)))
    # the last whole patch ends within a cell of 5 m before the posts that are missing
    assert 140.0 < found.known_m[north] < 153.0
